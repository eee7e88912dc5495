"""What a browser makes of a page: its forms, its fields, what stands beside a field and at the top."""

from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any

from django.http import HttpResponse
from django.test import Client

Attributes = dict[str, str]

_EMPTY = ("input", "meta", "link", "br", "img", "option", "hr")
"""Elements without an end of their own, or whose end may be left out."""

_NOT_SENT = ("submit", "button", "reset")


@dataclass
class Element:
    """One element: its name, its attributes, the text within, and the elements that it stands in."""

    name: str
    attributes: Attributes
    within: tuple["Element", ...]
    text: str = ""

    def has_class(self, name: str) -> bool:
        return name in self.attributes.get("class", "").split()


@dataclass
class Form:
    """One form: where it sends to, where a button of its own sends it instead, and its controls as they stand."""

    action: str
    method: str
    fields: dict[str, str] = field(default_factory=dict)
    elsewhere: list[str] = field(default_factory=list)


class Page(HTMLParser):
    """A page, read as a browser would."""

    def __init__(self, source: str) -> None:
        super().__init__()
        self.source = source
        self.elements: list[Element] = []
        self.forms: list[Form] = []
        self._open: list[Element] = []
        self._form: Form | None = None
        self._select: str | None = None
        self.feed(source)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        element = Element(tag, {name: value or "" for name, value in attrs}, tuple(self._open))
        self.elements.append(element)
        if tag not in _EMPTY:
            self._open.append(element)
        self._note(element)

    def handle_endtag(self, tag: str) -> None:
        if tag == "textarea" and self._form is not None:
            area = self._open[-1]
            self._form.fields[area.attributes["name"]] = area.text.removeprefix("\n")
        if tag == "form":
            self._form = None
        if tag not in _EMPTY:
            while self._open and self._open.pop().name != tag:
                pass

    def handle_data(self, data: str) -> None:
        for element in self._open:
            element.text += data

    def _note(self, element: Element) -> None:
        given = element.attributes
        match element.name:
            case "form":
                self._form = Form(given.get("action", ""), given.get("method", "get"))
                self.forms.append(self._form)
            case "button" if self._form is not None and "formaction" in given:
                self._form.elsewhere.append(given["formaction"])
            case "input" | "select" if self._form is not None and given.get("name") and _is_sent(given):
                self._form.fields[given["name"]] = given.get("value", "")
                self._select = given["name"]
            case "option" if self._form is not None and self._select is not None and "selected" in given:
                self._form.fields[self._select] = given.get("value", "")

    def form(self, action: str = "") -> dict[str, str]:
        """What a browser would send of the form that goes to this address; without one, of that which comes back here."""
        posts = [form for form in self.forms if form.method == "post"]
        (found,) = [form for form in posts if form.action == action or (action and action in form.elsewhere)]
        return {name: value for name, value in found.fields.items() if name != "csrfmiddlewaretoken"}

    def shown(self, name: str) -> str:
        """What stands in a field now."""
        return next(form.fields[name] for form in self.forms if name in form.fields)

    def control(self, name: str) -> Attributes:
        """The attributes of a field."""
        return next(one.attributes for one in self.elements if one.attributes.get("name") == name)

    def label(self, name: str) -> str:
        """The words of a field's label."""
        wanted = self.control(name)["id"]
        return next(one.text for one in self.elements if one.name == "label" and one.attributes.get("for") == wanted)

    def by_id(self, name: str) -> Element:
        """The element with this id, which no other has."""
        (found,) = [one for one in self.elements if one.attributes.get("id") == name]
        return found

    def wrong_at(self, name: str) -> str:
        """The error that a field is marked with, in the words that a screen reader finds by the field."""
        given = self.control(name)
        assert given.get("aria-invalid") == "true", f"{name} is not marked as wrong"
        said = [self.by_id(one) for one in given["aria-describedby"].split()]
        return " ".join(one.text for one in said if one.has_class("wrong"))

    def marked(self) -> list[str]:
        """The fields that are marked as wrong."""
        return [one.attributes["name"] for one in self.elements if one.attributes.get("aria-invalid") == "true"]

    def summary(self) -> str:
        """What is said at the top of a page that was refused."""
        return " ".join(one.text for one in self.elements if one.has_class("summary") and "role" in one.attributes)

    def texts(self, name: str) -> list[str]:
        """The text of every element of this name."""
        return [" ".join(one.text.split()) for one in self.elements if one.name == name]

    def links(self) -> list[str]:
        """Where the page leads."""
        return [one.attributes["href"] for one in self.elements if one.name == "a" and "href" in one.attributes]

    def main(self) -> str:
        """The words of the page itself, without what stands on every page."""
        return " ".join(self.by_id("main").text.split())


def _is_sent(given: Attributes) -> bool:
    kind = given.get("type", "text")
    return kind not in _NOT_SENT and (kind not in ("checkbox", "radio") or "checked" in given)


def text_of(response: Any) -> str:
    """The source of a page."""
    content: bytes = response.content
    return content.decode()


def read(response: Any) -> Page:
    """The page in a response."""
    return Page(text_of(response))


def look(client: Client, path: str) -> Page:
    """The page under an address."""
    response: HttpResponse = client.get(path)  # type: ignore[assignment]
    assert response.status_code == 200, (path, response.status_code)
    return read(response)
