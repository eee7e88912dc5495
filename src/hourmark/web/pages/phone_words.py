"""Words on her phone: phrases in her language, and texts of her page with what is acted on in large type."""

import re
from typing import Any

from django import template
from django.template import Context
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from hourmark.handout.content import Line, Text
from hourmark.handout.language import Language, language
from hourmark.handout.walk import WalkThrough

register = template.Library()

_VIEW = re.compile(r'viewBox="0 0 (\d+)(?:\.\d+)? (\d+)(?:\.\d+)?"')

LANGUAGES = ("en", "es")
"""Every language that has words: all are said where nobody knows yet which is hers."""


def words_of(code: object) -> Language:
    """The language of that code; English for one without words."""
    return language(str(code)) if code in LANGUAGES else language(LANGUAGES[0])


@register.simple_tag(takes_context=True)
def phrase(context: Context, key: str, **figures: Any) -> str:
    """A phrase of her phone, or of her page where the name says of which table, in her language."""
    return phrase_in(context["words"], key, **figures)


@register.simple_tag
def phrase_in(said_in: Language, key: str, **figures: Any) -> str:
    """A phrase in one language."""
    return said_in.word(key if "." in key else f"phone.{key}", **figures).replace("\ue000", "")


@register.simple_tag(takes_context=True)
def spoken(context: Context, text: Text) -> SafeString:
    """A text in her language, with the English beside it where nobody has signed the translation."""
    first, *beside = text.lines
    said = format_html('<span lang="{}">{}</span>', context["words"].code, _runs(first))
    return said + format_html_join("", '<span class="beside" lang="en">{}</span>', ((_runs(one),) for one in beside))


@register.simple_tag
def picture_size(walk: WalkThrough, key: str) -> SafeString:
    """The width and the height of a picture of her page: so much room is kept for it before it is there."""
    found = _VIEW.search(walk.picture(key).still)
    return format_html('width="{}" height="{}"', *found.groups()) if found is not None else SafeString("")


def _runs(said: Line) -> SafeString:
    return format_html_join("", "{}", ((_run(run.text, run.large),) for run in said))


def _run(words: str, large: bool) -> SafeString:
    return format_html("<strong>{}</strong>", words) if large else format_html("{}", words)
