"""What holds for every page alike: who may come, what an act writes, and what becomes of a form that is late, doubled or changed."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

from django.test import Client

from hourmark.case.asked import Asked, Role
from hourmark.case.calls import TryCall
from hourmark.desk import Command, Desk, Done
from hourmark.ledger import Entry
from tests.web.conftest import NOW, STAFF
from tests.web.seen import Page, look, read, text_of

SignIn = Callable[[str], Client]

LOGIN = "/accounts/login/?next="


@dataclass(frozen=True)
class Act:
    """One form, filled in rightly: who sends it, from which page, what they type, and what is then on the record.

    `to` is where it is sent, if not to the page it stands on; `other` are other words for the same form.
    """

    who: str
    page: str
    typed: Mapping[str, str]
    writes: tuple[str, ...]
    to: str = ""
    leads_to: str = "/"
    other: Mapping[str, str] = field(default_factory=dict)

    @property
    def address(self) -> str:
        return self.to or self.page

    def form(self, client: Client) -> dict[str, str]:
        """The form as it stands on the page, filled in."""
        return look(client, self.page).form(self.to) | dict(self.typed)


def heads(site: Desk) -> dict[str, int]:
    """How long every stream is."""
    return {head.stream: head.seq for head in site.store.heads()}


def entries_since(site: Desk, before: Mapping[str, int]) -> list[Entry]:
    return [
        entry for head in site.store.heads() for entry in site.store.read(head.stream)[before.get(head.stream, 0) :]
    ]


def written(site: Desk, before: Mapping[str, int]) -> list[str]:
    """What was written since, each entry as its stream and its kind."""
    return [f"{entry.stream} {entry.read_header().kind}" for entry in entries_since(site, before)]


def acts_since(site: Desk, before: Mapping[str, int]) -> int:
    """How many acts were written since."""
    return len({entry.read_header().act for entry in entries_since(site, before)})


def by(username: str, at: str = NOW) -> Asked:
    """A member of staff, asking."""
    name, role = STAFF[username]
    return Asked(name, Role(role), at)


def do(site: Desk, command: Command, username: str, at: str = NOW) -> None:
    """Somebody does something that does not go through the page under test."""
    answer = site.perform(command, by(username, at), f"beside-{sum(heads(site).values())}-{username}")
    assert isinstance(answer, Done), answer


def does_it(sign_in: SignIn, site: Desk, act: Act) -> Client:
    """The form does what it says: one act with these entries, by the one who sent it, and then the next page says so."""
    client = sign_in(act.who)
    form = act.form(client)
    before = heads(site)
    answer = client.post(act.address, form)
    assert (answer.status_code, answer.get("Location")) == (302, act.leads_to), text_of(answer)
    assert sorted(written(site, before)) == sorted(act.writes)
    assert acts_since(site, before) == 1
    assert {entry.read_header().actor for entry in entries_since(site, before)} == {STAFF[act.who][0]}
    said = [one for one in look(client, act.leads_to).elements if one.has_class("said")]
    assert len(said) == 1
    return client


def is_done_once(sign_in: SignIn, site: Desk, act: Act) -> None:
    """The same form sent twice: one act, and the second time the first answer."""
    client = sign_in(act.who)
    form = act.form(client)
    before = heads(site)
    first, second = client.post(act.address, form), client.post(act.address, form)
    assert sorted(written(site, before)) == sorted(act.writes)
    assert (
        (second.status_code, second.get("Location"))
        == (first.status_code, first.get("Location"))
        == (302, act.leads_to)
    )
    said = [one.text for one in look(client, act.leads_to).elements if one.has_class("said")]
    assert len(said) == 2
    assert said[0] == said[1]


def refuses_a_used_key(sign_in: SignIn, site: Desk, act: Act) -> None:
    """The same form sent once more with other words: nothing more is written, and it is said."""
    client = sign_in(act.who)
    form = act.form(client)
    assert client.post(act.address, form).status_code == 302
    before = heads(site)
    answer = client.post(act.address, form | dict(act.other))
    assert answer.status_code == 422
    assert "form-used" in read(answer).summary()
    assert written(site, before) == []


def refuses_what_is_stale(sign_in: SignIn, site: Desk, act: Act, meanwhile: Callable[[], None], told: str) -> None:
    """A form opened before somebody else changed the same thing: nothing is written, it is said what happened, what was typed stays."""
    client = sign_in(act.who)
    form = act.form(client)
    meanwhile()
    before = heads(site)
    answer = client.post(act.address, form)
    assert answer.status_code == 422
    assert written(site, before) == []
    page = read(answer)
    assert "Somebody else was faster" in page.summary()
    assert told in page.summary()
    keeps(page, act.typed)
    again = client.post(act.address, page.form(act.to) | dict(act.typed))
    assert (again.status_code, again.get("Location")) == (302, act.leads_to), text_of(again)
    assert acts_since(site, before) == 1


def keeps(page: Page, typed: Mapping[str, str]) -> None:
    """What was typed stands in the fields."""
    assert {name: page.shown(name) for name in typed} == dict(typed)


def somebody_rings(site: Desk, case: str) -> Callable[[], None]:
    """A colleague records a try of a call: the case has changed, and nothing that a form rests on."""
    return lambda: do(site, TryCall(case, "+1 555 0199", False, "engaged"), "ortiz")


RANG = "L. Ortiz: +1 555 0199: not reached, engaged"
"""What is said of it."""


def refuses(sign_in: SignIn, site: Desk, act: Act, **change: str) -> Page:
    """The form with something else typed is refused, and nothing is written; the page as it comes back, with what was typed on it."""
    client = sign_in(act.who)
    form = act.form(client) | {name.replace("__", "."): value for name, value in change.items()}
    before = heads(site)
    answer = client.post(act.address, form)
    assert answer.status_code == 422, (answer.status_code, answer.get("Location"))
    assert written(site, before) == []
    return read(answer)


def marks(sign_in: SignIn, site: Desk, act: Act, name: str, value: str, says: str) -> None:
    """One field filled in wrongly: its error stands beside it and at the top, and everything that was typed stays."""
    typed = replace(act, typed={**act.typed, name: value})
    page = refuses(sign_in, site, typed)
    assert name in page.marked()
    assert says in page.wrong_at(name)
    assert says in page.summary()
    assert page.texts("title")[0].startswith("Error: ")
    leads_to_the_fields(page)
    keeps(page, typed.typed)


def leads_to_the_fields(page: Page) -> None:
    """What is said at the top takes the focus, and each of it leads to the field that it is about."""
    (top,) = [one for one in page.elements if "autofocus" in one.attributes]
    assert top.has_class("summary")
    assert top.attributes["tabindex"] == "-1"
    links = [one.attributes["href"].removeprefix("#") for one in page.elements if one.has_class("to-field")]
    assert set(page.marked()) <= set(links)
    for name in links:
        page.by_id(name)


def hides_from_strangers(sign_in: SignIn, site: Desk, path: str, *methods: str) -> None:
    """Another clinic is told of this address just what it is told of a case that nobody has."""
    client = sign_in("stranger")
    for method in methods:
        before = heads(site)
        theirs, nobodys = (client.generic(method, one) for one in (path, path.replace("/K-", "/Q-")))
        assert theirs.status_code == nobodys.status_code == 404
        assert theirs.content == nobodys.content
        assert dict(theirs.items()) == dict(nobodys.items())
        assert heads(site) == before


def sends_to_sign_in(client: Client, path: str, *methods: str) -> None:
    """Who has not signed in is sent to do so, and comes back here."""
    for method in methods:
        answer = client.generic(method, path)
        assert (answer.status_code, answer["Location"]) == (302, LOGIN + path)


def is_not_for(sign_in: SignIn, site: Desk, username: str, path: str, *methods: str) -> None:
    """A colleague of another role is told whose it is; nothing is written, not even that they looked."""
    client = sign_in(username)
    for method in methods:
        before = heads(site)
        answer = client.generic(method, path)
        assert answer.status_code == 403
        assert f"This is not for the role of {STAFF[username][1]}" in text_of(answer)
        assert heads(site) == before


def knows_only(client: Client, path: str, *methods: str) -> None:
    """Every other way to ask is refused, and the right ones are named."""
    for method in {"GET", "POST", "PUT", "DELETE", "PATCH"} - set(methods):
        answer = client.generic(method, path)
        assert answer.status_code == 405
        assert sorted(answer["Allow"].split(", ")) == sorted(methods)
