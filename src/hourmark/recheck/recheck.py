"""Working back: from water, marks and vials to the dose, and from the printed clock to the slot."""

import datetime as dt
import re
from collections.abc import Callable, Container, Iterator, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal, localcontext

from hourmark.finding import Finding, Level
from hourmark.recheck.words import (
    Illegible,
    dose,
    instant,
    millilitres,
    number,
    ordered_dose,
    span,
    strength,
    wall_instant,
    zone,
)

_DIGITS = 28
_LEFT = r"What stays in the vial: about (.+ mL)\. That is right\. Do not inject it\."
_WATER = r"Water: (.+ mL) of [a-z ]+ into (?:the vial|each vial)\. Not more\."
_EVERYTHING = r"Draw up everything that is .+, about (.+ mL)\. Inject all of it\."
_SOURCE = "recheck: other code, from the printed words alone"


@dataclass(frozen=True, slots=True)
class Ordered:
    """What the order says of one medicine, in the order's own words, and one of three timings.

    lead: "36 h" before the slot. clock: "2026-11-18 21:30" on the patient's wall. after: the place in the order (from 0) of the
    medicine it follows, and the span between.
    """

    drug: str
    dose: str
    route: str
    lead: str | None = None
    clock: str | None = None
    after: tuple[int, str] | None = None


@dataclass(frozen=True, slots=True)
class TheatreSlot:
    """The slot as theatre wrote it: "2026-11-20 09:00" in the clinic's zone, "first" or "second" where that hour repeats."""

    at: str
    which: str | None
    zone: str


@dataclass(frozen=True, slots=True)
class Facts:
    """What a page must work back to: the ordered medicines, where the patient is, the slot if any, the syringes at home by id."""

    ordered: tuple[Ordered, ...]
    zone: str
    slot: TheatreSlot | None
    syringes: tuple[str, ...] = ()


def recheck(page: str, facts: Facts) -> tuple[Finding, ...]:
    """Every disagreement between a draft's printed words and the facts; none when all of it works back.

    What cannot be read is a disagreement.
    """
    with localcontext() as context:
        context.prec = _DIGITS
        try:
            return tuple(_all(page, facts))
        except (Illegible, ArithmeticError, ValueError, KeyError) as error:
            return (_stop("recheck-illegible", f"The printed words cannot be worked back: {error}.", "page"),)


def _all(page: str, facts: Facts) -> Iterator[Finding]:
    medicines, ordered = _medicines(page), facts.ordered
    if len(medicines) != len(ordered):
        yield _stop("recheck-count", f"{len(medicines)} medicines are printed, {len(ordered)} ordered.", "page")
        return
    slot = _slot(page)
    wanted = wall_instant(facts.slot.at, facts.slot.which, facts.slot.zone) if facts.slot else None
    if slot != wanted:
        yield _stop("recheck-slot", f"The printed slot is {slot}, the theatre's {wanted}.", "page")
    given_at: dict[int, dt.datetime] = {}
    for printed in medicines:
        place = _place(printed, ordered, given_at)
        if place is None:
            yield _stop(
                "recheck-medicine", f"{printed.ordered} of {printed.drug} is printed, but not ordered so.", printed.drug
            )
            continue
        given_at[place] = instant(printed.one("When: "), printed.one("Zone: "))
        yield from _dose_and_route(printed, ordered[place], facts.syringes)
        yield from _minute(printed, ordered[place], given_at[place], slot)
        if printed.one("Zone: ") != facts.zone:
            yield _stop(
                "recheck-zone",
                f"The printed zone is {printed.one('Zone: ')}; she will be in {facts.zone}.",
                printed.drug,
            )
    for place, one in enumerate(ordered):
        if one.after is not None and {place, one.after[0]} <= given_at.keys():
            yield from _repeat(one, given_at[place] - given_at[one.after[0]])


def _place(printed: "_Printed", ordered: Sequence[Ordered], taken: Container[int]) -> int | None:
    """The first medicine of the order, not yet taken, that reads as printed."""
    return next(
        (
            place
            for place, one in enumerate(ordered)
            if place not in taken and one.drug == printed.drug and ordered_dose(one.dose) == dose(printed.ordered)
        ),
        None,
    )


@dataclass(frozen=True, slots=True)
class _Printed:
    drug: str
    ordered: str
    lines: tuple[str, ...]
    ready: tuple[str, ...]

    def one(self, start: str) -> str:
        """What follows a line's opening words; exactly one such line."""
        found = [line.removeprefix(start) for line in self.lines if line.startswith(start)]
        if len(found) != 1:
            raise Illegible(f'{len(found)} lines begin with "{start}"')
        return found[0]

    def every(self, pattern: str) -> list[re.Match[str]]:
        """Every line that reads so."""
        return [match for line in self.lines if (match := re.fullmatch(pattern, line))]


def _medicines(page: str) -> list[_Printed]:
    blocks = re.split(r"^MEDICINE \d+ of \d+: ", page, flags=re.MULTILINE)[1:]
    printed = []
    for block in blocks:
        paragraphs = [tuple(line.strip() for line in part.splitlines()) for part in block.split("\n\n")]
        lines = paragraphs[0]
        given = [line for line in lines if line.startswith("Dose: ")]
        match = re.fullmatch(r"Dose: (.+?) \(.+\)", given[0]) if len(given) == 1 else None
        if match is None:
            raise Illegible("a medicine has no dose")
        ready = [part for part in paragraphs[1:] if part and part[0].startswith("GET READY ")]
        if len(ready) != 1:
            raise Illegible("a medicine is not got ready once")
        printed.append(_Printed(lines[0], match[1], lines, ready[0]))
    return printed


def _slot(page: str) -> dt.datetime | None:
    said = re.findall(r"^Planned \w+: (.+)$", page, flags=re.MULTILINE)
    zones = re.findall(r"^Clinic's zone: (.+)$", page, flags=re.MULTILINE)
    if not said and not zones:
        return None
    if len(said) != 1 or len(zones) != 1:
        raise Illegible("the slot is not printed once with its zone")
    return instant(said[0], zones[0])


def _dose_and_route(printed: _Printed, order: Ordered, at_home: Sequence[str]) -> Iterator[Finding]:
    route = printed.one("Route: ").partition(" (")[0]
    if route != order.route:
        yield _stop("recheck-route", f"The printed route is {route}, the ordered one {order.route}.", printed.drug)
    wanted, kind = ordered_dose(order.dose)
    given, given_kind = _given(printed)
    _at_home(printed, at_home)
    _fewest_vials(printed, wanted)
    if (given, given_kind) != (wanted, kind):
        yield _stop(
            "recheck-dose",
            f"Worked back, the printed water and marks give {given}, not {wanted} ({kind}).",
            printed.drug,
        )
    yield from _stays(printed)
    yield from _steps(printed)


def _minute(printed: _Printed, order: Ordered, at: dt.datetime, slot: dt.datetime | None) -> Iterator[Finding]:
    if order.lead is not None:
        if slot is None:
            raise Illegible("an ordered lead without a printed slot")
        if slot - at != span(order.lead):
            yield _stop(
                "recheck-minute",
                f"Worked back, the printed clock is {slot - at} before the slot, not {order.lead}.",
                printed.drug,
            )
    if order.clock is not None:
        local = at.astimezone(zone(printed.one("Zone: ")))
        if f"{local:%Y-%m-%d %H:%M}" != order.clock:
            yield _stop(
                "recheck-minute",
                f"The printed clock is {local:%Y-%m-%d %H:%M}, the ordered one {order.clock}.",
                printed.drug,
            )


def _repeat(order: Ordered, gap: dt.timedelta) -> Iterator[Finding]:
    assert order.after is not None
    if gap != span(order.after[1]):
        yield _stop(
            "recheck-minute",
            f"The repeat is printed {gap} after the first, not {order.after[1]}.",
            order.drug,
        )


def _fewest_vials(printed: _Printed, wanted: Decimal) -> None:
    """A powder takes as few vials as hold the dose."""
    amount, _, each = strength(printed.one("Strength: "))
    if each == "vial" and number(printed.one("Vials: ")) != (wanted / amount).to_integral_value(ROUND_CEILING):
        raise Illegible(f"{printed.one('Vials: ')} vials of {amount} for {wanted}")


def _given(printed: _Printed) -> tuple[Decimal, str]:
    amount, kind, each = strength(printed.one("Strength: "))
    if each == "syringe":
        syringes = printed.every(r"Prefilled syringe(?: \d+ of \d+)?: inject all of it \((.+)\)\.")
        if not all(millilitres(one[1]) for one in syringes):
            raise Illegible("a prefilled syringe of nothing")
        return amount * len(syringes), kind
    if each == "spray":
        return amount * number(printed.one("Sprays: ")), kind
    volumes = _read_off(printed)
    if each == "mL":
        return amount * sum(volumes), kind
    vials = number(printed.one("Vials: "))
    water = printed.every(_WATER)
    if len(water) != 1:
        raise Illegible("the water is not printed once")
    in_vials = millilitres(water[0][1]) * vials
    if everything := printed.every(_EVERYTHING):
        if sum(volumes) + millilitres(everything[0][1]) != in_vials:
            raise Illegible("everything is not what was mixed")
        return amount * vials, kind
    if sum(volumes) > in_vials:
        raise Illegible("more is drawn than was mixed")
    return amount * vials * sum(volumes) / in_vials, kind


def _stays(printed: _Printed) -> Iterator[Finding]:
    """What is said to stay in the vials of a mixed powder is what is left of the mix."""
    water = printed.every(_WATER)
    if not water:
        return
    said = printed.every(_LEFT)
    all_in = printed.every(_EVERYTHING)
    left = Decimal(0) if all_in else millilitres(water[0][1]) * number(printed.one("Vials: ")) - sum(_read_off(printed))
    if sum(millilitres(one[1]) for one in said) != left:
        yield _stop(
            "recheck-left", f"Worked back, {left} mL stays in the vial, which is not what is printed.", printed.drug
        )


def _steps(printed: _Printed) -> Iterator[Finding]:
    """The steps say the same strength, water, marks, rest and sprays as the lines above them, as often and in the same order."""
    text = "\n".join(printed.ready)
    for pattern, wanted in _STEPS:
        said = [found for found in re.findall(pattern, text) if "water vial" not in found]
        if pattern.startswith("It must say"):
            said = said[:1]
        if said != wanted(printed):
            yield _stop("recheck-steps", f"The steps say {said}, the lines above them {wanted(printed)}.", printed.drug)


def _bare(printed_strength: str) -> str:
    return re.sub(r" in each (?:vial|syringe|spray)$", "", printed_strength)


def _largest(barrel: re.Match[str]) -> str:
    return barrel["largest"] or f"{barrel['capacity']} mL"


def _marks(printed: _Printed) -> list[str]:
    return [
        f"mark {found['mark']}" if found["mark"] else f"{found['plain']} mL" for found in printed.every(_MARK.pattern)
    ]


_BARREL = re.compile(
    r"Syringe(?: \d+ of \d+)?: (?P<capacity>[\d.]+) mL "
    r"(?:U-100 syringe, lines every (?P<marks>[\d.]+) marks?, largest number (?P<largest>\d+)"
    r"|syringe, lines every (?P<step>[\d.]+) mL) \(new\)"
)
_MARK = re.compile(r"Stop at: (?:mark (?P<mark>[\d.]+) \((?P<volume>[\d.]+) mL\)|(?P<plain>[\d.]+) mL)")


_STEPS: tuple[tuple[str, Callable[[_Printed], list[str]]], ...] = (
    (r"It must say: (.+)\. ->", lambda one: [f"{one.drug}, {_bare(one.one('Strength: '))}"]),
    (r"Largest number: (.+)\. Lines", lambda one: [_largest(found) for found in one.every(_BARREL.pattern)[:1]]),
    (r"Pull (.+ mL) of water", lambda one: [found[1] for found in one.every(_WATER)]),
    (r"Push slowly until the top ring of the stopper is at (.+)\. ->", lambda one: _marks(one)),
    (r"nearest the needle\. -> It is (.+?)\. If", lambda one: _marks(one)),
    (r"About (.+ mL) stays in it", lambda one: [found[1] for found in one.every(_LEFT)]),
    (
        r"sprays you will take: (\d+)\.",
        lambda one: [line.removeprefix("Sprays: ") for line in one.lines if line.startswith("Sprays: ")],
    ),
)
"""What the steps repeat of the lines above them: how it reads there, and what it must then be."""


def _at_home(printed: _Printed, at_home: Sequence[str]) -> None:
    """Every printed barrel is one of those at home, and no more of them are filled than the volume needs."""
    barrels = printed.every(_BARREL.pattern)
    for barrel in barrels:
        unit, step = ("u100", barrel["marks"]) if barrel["largest"] else ("mL", barrel["step"])
        name = f"{unit}-{barrel['capacity']}mL-{step}" if barrel["largest"] else f"{unit}-{barrel['capacity']}-{step}"
        if name not in at_home:
            raise Illegible(f"a {barrel[0]} is not at home")
    everything = [millilitres(one[1]) for one in printed.every(_EVERYTHING)]
    volume = sum(_read_off(printed) + everything)
    if barrels and len(barrels) != (volume / number(barrels[0]["capacity"])).to_integral_value(ROUND_CEILING):
        raise Illegible(f"{len(barrels)} fills for {volume} mL")


def _read_off(printed: _Printed) -> list[Decimal]:
    """The volume of every fill to a mark; the two printed forms of a U-100 mark must agree."""
    barrels, marks = printed.every(_BARREL.pattern), printed.every(_MARK.pattern)
    if printed.every(_EVERYTHING) and len(barrels) == len(marks) + 1:
        barrels = barrels[:-1]
    if len(barrels) != len(marks):
        raise Illegible(f"{len(barrels)} syringes, {len(marks)} marks")
    return [_fill(barrel, mark) for barrel, mark in zip(barrels, marks, strict=True)]


def _fill(barrel: re.Match[str], mark: re.Match[str]) -> Decimal:
    capacity = number(barrel["capacity"])
    on_units = barrel["largest"] is not None
    if on_units != (mark["mark"] is not None):
        raise Illegible("a mark is read on a barrel with another scale")
    if on_units and number(barrel["largest"]) != capacity * 100:
        raise Illegible(f"a {capacity} mL U-100 barrel does not end at {barrel['largest']}")
    volume = number(mark["mark"]) / 100 if on_units else number(mark["plain"])
    if on_units and number(mark["mark"]) % number(barrel["marks"]):
        raise Illegible(f"mark {mark['mark']} is on no line")
    if on_units and volume != number(mark["volume"]):
        raise Illegible(f"mark {mark['mark']} is not {mark['volume']} mL")
    if barrel["step"] is not None and volume % number(barrel["step"]):
        raise Illegible(f"{volume} mL is on no line")
    if volume > capacity or volume <= 0:
        raise Illegible(f"{volume} mL does not go into a {capacity} mL barrel")
    return volume


def _stop(code: str, what: str, where: str) -> Finding:
    return Finding(
        code,
        Level.STOP,
        what,
        "Release nothing and inject nothing from this plan. This is a fault in the program: tell whoever keeps hourmark; plan by hand with a second person.",
        where,
        "two independent computations agree",
        _SOURCE,
    )
