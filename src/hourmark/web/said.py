"""How pages say things: instants on the clinic's clock, states in words."""

import re
import secrets
from typing import Any

from django import template

from hourmark.case import events as e
from hourmark.case.shapes import Recorded, kind_of
from hourmark.clock import elapsed, moment_from_utc, parse_zone, said

register = template.Library()


@register.simple_tag(takes_context=True)
def clock(context: dict[str, Any], at: str | None, how: str = "short", zone: str = "") -> str:
    """An instant on the clinic's clock, or on that of another zone.

    "Wed 18 Nov 21:00", its "day", its "hour" with the word where it happens twice, the "time" alone, that word alone ("which"), or all of
    it in full "words".
    """
    if not at:
        return ""
    here = moment_from_utc(at, parse_zone(zone) if zone else context["work"].zone)
    day, time = f"{here.wall:%a} {here.wall.day} {here.wall:%b}", f"{here.wall:%H:%M}"
    which = here.which.upper() if here.which is not None else ""
    hour = f"{time} {which}".strip()
    return {
        "words": said(here),
        "day": day,
        "time": time,
        "which": which,
        "hour": hour,
    }.get(how, f"{day} {hour}")


class _Drawn(template.Node):
    """What stands within, drawn and kept."""

    def __init__(self, within: template.base.NodeList) -> None:
        self.within = within

    def render(self, context: template.Context) -> str:
        """Nothing at its own place."""
        context["drawn"] = self.within.render(context)
        return ""


@register.simple_tag(takes_context=True)
def until(context: dict[str, Any], at: str) -> str:
    """How far away an instant is: "in 1 h 20 min", "now", "12 min ago"."""
    now = context["work"].now
    span = elapsed(*sorted((now, at)))
    if at >= now:
        return f"in {span}" if span.minutes else "now"
    return f"{span} ago"


@register.filter
def words(text: str) -> list[str]:
    """The words between commas."""
    return text.split(",")


_NUMBER = re.compile(r"\+?[0-9][0-9 ()./-]{3,}")


@register.filter
def tel(number: str) -> str:
    """A number as a telephone takes it; nothing for words that are no number, or more than one."""
    if not _NUMBER.fullmatch(number.strip()):
        return ""
    # The 0 in "+44 (0)20" is left out by whoever dials the country's code.
    dialled = number.replace("(0)", "") if number.strip().startswith("+") else number
    return "".join(one for one in dialled if one.isdigit() or one == "+")


@register.tag
def drawn_first(parser: template.base.Parser, _: template.base.Token) -> template.Node:
    """Draws what is within, to be shown as `drawn` further down: what stands above it can then tell which fields it has."""
    nodelist = parser.parse(("enddrawn",))
    parser.delete_first_token()
    return _Drawn(nodelist)


@register.simple_tag
def new_key() -> str:
    """A key for one form: two forms of a page that shared one would be taken for each other."""
    return secrets.token_urlsafe(24)


@register.simple_tag(takes_context=True)
def shown(context: dict[str, Any], name: str) -> str:
    """Notes that a field stands on the page."""
    context["work"].shown.add(name)
    return ""


@register.simple_tag(takes_context=True)
def unshown(context: dict[str, Any], begins: str = "", *but: str) -> list[tuple[str, str]]:
    """What has no field of its own on the page, each with its words: it is shown as well, or it would be lost with the next record."""
    beside = ("csrfmiddlewaretoken", "key", "seen", *but)
    names = [name for name, value in context["fields"].items() if name.startswith(begins) and value]
    left = [name for name in names if name not in context["work"].shown and not name.startswith(beside)]
    return [(name, name.removeprefix(begins).replace("_", " ").replace(".", ", ")) for name in left]


@register.filter
def item(table: Any, key: str) -> Any:
    """A value out of a table by its name; nothing where there is none."""
    return table.get(key, "") if hasattr(table, "get") else ""


@register.filter
def at_field(findings: Any, field: str) -> list[Any]:
    """The findings that belong to one field of a form."""
    return [one for one in findings if one.where == field]


@register.filter
def told(record: Recorded) -> str:
    """What happened, in a few words that name no mark: a colleague who reads them can still check the plan blind."""
    match record.event:
        case e.CaseOpened():
            return "the case was opened"
        case e.DetailsChanged(why=why):
            return f"the details changed: {why}"
        case e.CaseClosed(why):
            return f"the case was closed: {why}"
        case e.SlotGiven(slot, why=why):
            return f"slot {slot['id']}, {slot['at']}: {why}"
        case e.SlotTaken(slot=name, why=why):
            return f"slot {name} was taken away: {why}"
        case e.OrderSigned(version):
            return f"order {version} was signed"
        case e.OrderTelephoned(version):
            return f"order {version} was taken by telephone"
        case e.OrderCountersigned(version, by):
            return f"order {version} was countersigned by {by}"
        case e.OrderWithdrawn(version, why=why):
            return f"order {version} was withdrawn: {why}"
        case e.KitRead(version, how=how):
            return f"kit {version} was read: {how}"
        case e.CartonChecked(product, readers):
            return f"the carton of {product} was read by {readers[0]} and {readers[1]}"
        case e.PlanOpened():
            return "the plan was opened"
        case e.SecondChecked(differences=differences):
            return f"second check: {'; '.join(differences) or 'the same'}"
        case e.CallTried(number, reached, result):
            return f"{number}: {'reached' if reached else 'not reached'}, {result}"
        case e.ReadBack(on_the_line, fields=fields):
            wrong = [one.name for one in fields if not one.agreed]
            return f"read back by {on_the_line}: {'wrong: ' + ', '.join(wrong) if wrong else 'all of it rightly'}"
        case e.CallNoted(caller):
            return f"call noted: {caller}"
        case e.UnreachedTold(whom, reply):
            return f"not reached: {whom} was told; reply: {reply}"
        case e.PermissionsSet(may_be_told, voicemail, message, how):
            asked = {"voicemail": voicemail, "mail": message}
            yes = [name for name, given in asked.items() if given]
            return f"she allows: {', '.join(yes) or 'neither voicemail nor mail'}; may be told: {may_be_told or 'nobody'} ({how})"
        case e.MailAsked(version):
            return f"sheet {version} goes by mail"
        case e.SheetIssued(version):
            return f"sheet {version} was released"
        case e.SheetVoided(version, why=why):
            return f"sheet {version} is void: {why}"
        case e.Confirmed(injection, reported, amount=amount, doubts=doubts):
            return f"{injection} reported for {reported}, amount: {amount}{'; to ask: ' + ', '.join(doubts) if doubts else ''}"
        case e.ConfirmationWithdrawn(why=why):
            return f"a report was withdrawn: {why}"
        case e.Escalated(told=whom, about=about, reply=reply):
            return f"{whom} was told: {about}; reply: {reply}"
        case e.EscalationOwed(injection=injection, tell=tell):
            return f"{injection} is silent: {tell} is to be told"
        case e.LinkGiven(number=number, kind=kind):
            return f"link {number} was made: {kind}"
        case e.LinkRevoked(number, why):
            return f"link {number} was revoked: {why}"
        case e.BoxesRead(differs=differs):
            return f"on her phone the boxes {'differ: ' + ', '.join(differs) if differs else 'are as on her page'}"
        case e.HelpAsked(where=where, about=about):
            return f"on her phone she asked for a call, {where}: {about}"
        case e.HelpGiven(how=how):
            return f"she was answered: {how}"
        case e.ResultEntered(drawn, results=results, how=how):
            return f"results of {drawn}: {', '.join(results)} ({how})"
        case e.ResultWithdrawn(why=why):
            return f"a result was withdrawn: {why}"
        case e.IncidentNoted(happened=happened, settled=settled):
            return f"{'settled' if settled else 'open'}: {happened}"
        case other:
            return kind_of(other).replace("-", " ")


@register.filter
def fill_name(place: int, begins: str) -> str:
    """The field of one fill of an injection."""
    return f"{begins}.fills[{place}]"
