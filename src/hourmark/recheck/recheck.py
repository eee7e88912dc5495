"""Working back: from water, marks and vials to the dose, and from the printed clock to the slot."""

import datetime as dt
import re
from collections.abc import Callable, Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import ROUND_CEILING, Decimal, localcontext
from itertools import takewhile

from hourmark.finding import Finding, Level
from hourmark.recheck.grammar import GRAMMARS, ROUTES, Grammar, compiled
from hourmark.recheck.words import (
    Illegible,
    dose,
    instant,
    millilitres,
    number,
    ordered_dose,
    same_clock,
    same_dose,
    span,
    strength,
    wall_instant,
    zone,
)

_DIGITS = 28
_SOURCE = "recheck: other code, from the printed words alone"
_BESIDE = "= "
"""Begins a line in English that stands beside its translation."""


@dataclass(frozen=True, slots=True)
class Ordered:
    """What the order says of one medicine, in the order's own words, and one of three timings.

    lead: "36 h" before the slot. clock: "2026-11-18 21:30" on the patient's wall. after: the place in the order (from 0) of the
    medicine it follows, and the span between. technique: the figures of the label read or the signed rule, by name.
    """

    drug: str
    dose: str
    route: str
    lead: str | None = None
    clock: str | None = None
    after: tuple[int, str] | None = None
    technique: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class TheatreSlot:
    """The slot as theatre wrote it: "2026-11-20 09:00" in the clinic's zone, "first" or "second" where that hour repeats."""

    at: str
    which: str | None
    zone: str


@dataclass(frozen=True, slots=True)
class Facts:
    """What a page must work back to, in the file's own words.

    The ordered medicines, where the patient is, the slot if any; at home: syringes by id, needles as gauge and length, words on the
    boxes; signed: the spans for laying out and mixing, the largest gap; the clinic's numbers. None or an empty tuple where the
    file has none.
    """

    ordered: tuple[Ordered, ...]
    zone: str
    slot: TheatreSlot | None
    syringes: tuple[str, ...] = ()
    needles: tuple[tuple[str, str], ...] = ()
    words: tuple[str, ...] = ()
    lay_out: str | None = None
    mixing: str | None = None
    largest_gap: str | None = None
    phones: tuple[str, ...] = ()


def recheck(page: str, facts: Facts, language: str = "en") -> tuple[Finding, ...]:
    """Every disagreement between a page's printed words and the facts; none when all of it works back.

    Where the English stands beside a translation, both are read. What cannot be read is a disagreement.
    """
    lines = [re.sub(r"^(?:[!-]|->) ", "", text.strip()) for text in page.splitlines()]
    beside = [text.removeprefix(_BESIDE) for text in lines if text.startswith(_BESIDE)]
    own = [text for text in lines if text and not text.startswith(_BESIDE)]
    found = _in_language(own, facts, language)
    return found if not beside else (*found, *_in_language(beside, facts, "en"))


def _in_language(lines: Sequence[str], facts: Facts, language: str) -> tuple[Finding, ...]:
    with localcontext() as context:
        context.prec = _DIGITS
        try:
            return tuple(_all(lines, facts, GRAMMARS[language]))
        except (Illegible, ArithmeticError, ValueError, KeyError) as error:
            return (_stop("recheck-illegible", f"The printed words cannot be worked back: {error}.", "page"),)


def _all(lines: Sequence[str], facts: Facts, grammar: Grammar) -> Iterator[Finding]:
    medicines, ordered = _medicines(lines, grammar), facts.ordered
    if len(medicines) != len(ordered):
        yield _stop("recheck-count", f"{len(medicines)} medicines are printed, {len(ordered)} ordered.", "page")
        return
    slot = _slot(lines, grammar)
    wanted = wall_instant(facts.slot.at, facts.slot.which, facts.slot.zone) if facts.slot else None
    if slot != wanted:
        yield _stop("recheck-slot", f"The printed slot is {slot}, the theatre's {wanted}.", "page")
    yield from _around(lines, facts, grammar)
    yield from _ticked(lines, medicines, grammar)
    given_at: dict[int, dt.datetime] = {}
    for printed in medicines:
        place = _place(printed, ordered, given_at)
        if place is None:
            yield _stop(
                "recheck-medicine", f"{printed.ordered} of {printed.drug} is printed, but not ordered so.", printed.drug
            )
            continue
        given_at[place] = instant(printed.one("when")[1], printed.zone, grammar)
        yield from _dose_and_route(printed, ordered[place], facts.syringes)
        yield from _minute(printed, ordered[place], given_at[place], slot)
        yield from _times(printed, facts, given_at[place])
        yield from _after_the_first(printed, ordered[place])
        yield from _figures(printed, ordered[place], facts)
        if printed.zone != facts.zone:
            yield _stop(
                "recheck-zone", f"The printed zone is {printed.zone}; she will be in {facts.zone}.", printed.drug
            )
    yield from _together(lines, facts, list(given_at.values()), grammar)
    for place, one in enumerate(ordered):
        if one.after is not None and {place, one.after[0]} <= given_at.keys():
            yield from _repeat(one, given_at[place] - given_at[one.after[0]])


_READ_OFF = ("says", "water-says", "largest", "boxed-needles", "sprays")


def _ticked(lines: Sequence[str], medicines: Sequence["_Printed"], grammar: Grammar) -> Iterator[Finding]:
    """What is read off the boxes first is what the steps have read off them, all of it and nothing else.

    The walk-through on a phone has no such list: there the steps are what is read off. On paper an item may be parted by a page's end.
    """
    front = list(takewhile(lambda line: grammar.read("ready", line) is None, lines))
    if not any(grammar.read("first", line) for line in front):
        return
    patterns = [compiled(grammar.steps[name]) for name in _READ_OFF]

    def read_off(texts: Iterable[str]) -> set[str]:
        return {text for text in texts if any(pattern.fullmatch(text) for pattern in patterns)}

    listed = {line.removeprefix("- ") for line in front}
    later = read_off(line for one in medicines for line in one.ready)
    wrong = read_off(listed) - later
    wrong |= {text for text in later if not _stands(text, listed)}
    if wrong:
        yield _stop(
            "recheck-steps",
            f"The list of what to read off the boxes and the steps differ in {sorted(wrong)}.",
            "page",
        )


def _stands(text: str, lines: Container[str]) -> bool:
    """Whether a text is one of the lines, or two of them."""
    words = text.split(" ")
    parted = ((" ".join(words[:place]), " ".join(words[place:])) for place in range(1, len(words)))
    return text in lines or any(first in lines and rest in lines for first, rest in parted)


def _place(printed: "_Printed", ordered: Sequence[Ordered], taken: Container[int]) -> int | None:
    """The first medicine of the order, not yet taken, that reads as printed."""
    amount = dose(printed.ordered, printed.grammar)
    return next(
        (
            place
            for place, one in enumerate(ordered)
            if place not in taken and one.drug == printed.drug and ordered_dose(one.dose, printed.grammar) == amount
        ),
        None,
    )


@dataclass(frozen=True, slots=True)
class _Printed:
    """One medicine's lines: those of the front and of its preparation, then the steps of getting ready and of giving."""

    drug: str
    ordered: str
    words: str
    zone: str
    lines: tuple[str, ...]
    ready: tuple[str, ...]
    give: tuple[str, ...]
    several: bool
    """Whether it is one of several medicines."""
    grammar: Grammar

    def every(self, name: str) -> list[re.Match[str]]:
        """Every line of that name."""
        return [match for line in self.lines if (match := self.grammar.read(name, line))]

    def one(self, name: str) -> re.Match[str]:
        """The one line of that name."""
        found = self.every(name)
        if len(found) != 1:
            raise Illegible(f'{len(found)} lines read as "{name}"')
        return found[0]

    def step(self, name: str, lines: Sequence[str]) -> list[re.Match[str]]:
        """Every step, or what is then seen, of that name."""
        pattern = compiled(self.grammar.steps[name])
        return [match for line in lines if (match := pattern.fullmatch(line))]

    def strength(self) -> tuple[Decimal, str, str]:
        """Amount, kind, and what it is in."""
        read = self.one("strength")
        return strength(read["strength"], read["each"], self.grammar)


_STEP = re.compile(r"(\d+)\. (?:[A-Z]+: (?=[A-ZÁÉÍÓÚ]))?(.+)")


def _medicines(lines: Sequence[str], grammar: Grammar) -> list[_Printed]:
    fronts, readies, gives = _sections(lines, grammar).values()
    if not len(fronts) == len(readies) == len(gives):
        raise Illegible(f"{len(fronts)} medicines, {len(readies)} got ready, {len(gives)} given")
    return [
        _medicine(place, len(fronts), parts, grammar)
        for place, parts in enumerate(zip(fronts, readies, gives, strict=True), 1)
    ]


_Section = tuple[re.Match[str], list[str]]


def _sections(lines: Sequence[str], grammar: Grammar) -> dict[str, list[_Section]]:
    """The headings by name, each with the lines down to the next heading of any medicine, in order of their places."""
    found: dict[str, list[_Section]] = {"medicine": [], "ready": [], "give": []}
    inside: list[str] | None = None
    for line in lines:
        name, heading = _heading(line, grammar)
        if heading is None:
            if inside is not None:
                inside.append(line)
        elif name == "end":
            inside = None
        else:
            inside = []
            found[name].append((heading, inside))
    return {name: sorted(sections, key=lambda one: int(one[0]["place"])) for name, sections in found.items()}


def _heading(line: str, grammar: Grammar) -> tuple[str, re.Match[str] | None]:
    for name in ("medicine", "ready", "give", "end"):
        if heading := grammar.read(name, line):
            return name, heading
    return "", None


def _medicine(place: int, count: int, parts: tuple[_Section, ...], grammar: Grammar) -> _Printed:
    drugs = {heading["drug"] for heading, _ in parts}
    if len(drugs) != 1 or {(heading["place"], heading["count"]) for heading, _ in parts} != {(str(place), str(count))}:
        raise Illegible(f"medicine {place} of {count} is not the same in its headings")
    (_, front), (ready_heading, ready), (give_heading, give) = parts
    start = next((at for at, line in enumerate(ready) if _STEP.fullmatch(line)), len(ready))
    lines = (*front, *ready[:start])
    given = [match for line in lines if (match := grammar.read("dose", line))]
    zones = [match[1] for line in lines if (match := grammar.read("zone", line))]
    if len(given) != 1 or len(zones) != 1:
        raise Illegible("a medicine has not one dose and one zone")
    return _Printed(
        drugs.pop(),
        given[0]["dose"],
        given[0]["words"],
        zones[0],
        lines,
        _numbered(ready[start:], int(ready_heading["steps"])),
        _numbered(give, int(give_heading["steps"])),
        count > 1,
        grammar,
    )


def _numbered(lines: Sequence[str], count: int) -> tuple[str, ...]:
    """The steps without their numbers, and what is seen after each; they run from 1 to as many as the heading says."""
    read: list[str] = []
    expected = 1
    for line in lines:
        step = _STEP.fullmatch(line)
        if step and int(step[1]) == expected:
            expected += 1
            read.append(step[2])
        elif step:
            raise Illegible(f"step {step[1]} stands where step {expected} belongs")
        else:
            read.append(line)
    if expected != count + 1:
        raise Illegible(f"{expected - 1} steps are printed, and {count} announced")
    return tuple(read)


def _slot(lines: Sequence[str], grammar: Grammar) -> dt.datetime | None:
    said = [match[1] for line in lines if (match := grammar.read("slot", line))]
    zones = [match[1] for line in lines if (match := grammar.read("slot-zone", line))]
    if not said and not zones:
        return None
    if len(said) != 1 or len(zones) != 1:
        raise Illegible("the slot is not printed one time with its zone")
    return instant(said[0], zones[0], grammar)


def _around(lines: Sequence[str], facts: Facts, grammar: Grammar) -> Iterator[Finding]:
    """The number to call is one of the clinic's."""
    numbers = [match[1] for line in lines if (match := grammar.read("number", line))]
    if len(numbers) != 1:
        raise Illegible("the number to call is not printed one time")
    for said in re.split(grammar.lines["or"], numbers[0]):
        if said not in facts.phones and not re.fullmatch(grammar.lines["number-open"], said):
            yield _stop("recheck-number", f"{said} is not a number of this clinic.", "page")


def _together(
    lines: Sequence[str], facts: Facts, given_at: Sequence[dt.datetime], grammar: Grammar
) -> Iterator[Finding]:
    """The largest gap is printed where several fall on one minute, as ordered, and nowhere else."""
    said = [span(match[1]) for line in lines if (match := grammar.read("together", line))]
    several = facts.largest_gap is not None and len(set(given_at)) < len(given_at)
    if said != ([span(facts.largest_gap or "")] if several else []):
        yield _stop("recheck-steps", f"{said} apart is printed, {facts.largest_gap} ordered.", "page")


def _dose_and_route(printed: _Printed, order: Ordered, at_home: Sequence[str]) -> Iterator[Finding]:
    route = printed.one("route")[1]
    if ROUTES.get(route, route) != order.route:
        yield _stop("recheck-route", f"The printed route is {route}, the ordered one {order.route}.", printed.drug)
    if not same_dose(printed.words, printed.ordered, printed.grammar):
        yield _stop("recheck-dose", f'"{printed.words}" is not {printed.ordered}.', printed.drug)
    wanted, kind = ordered_dose(order.dose, printed.grammar)
    given, given_kind = _given(printed)
    _at_home(printed, at_home)
    _fewest_vials(printed, wanted)
    if (given, given_kind) != (wanted, kind):
        yield _stop(
            "recheck-dose",
            f"Worked back, the printed water and marks give {given}, not {wanted} ({kind}).",
            printed.drug,
        )
    for said in printed.every("in-all"):
        if said["dose"] != printed.ordered or int(said["fills"]) != len(_parts(printed)):
            yield _stop("recheck-dose", f'"{said[0]}" is not the printed dose in its parts.', printed.drug)
    yield from _stays(printed)
    yield from _steps(printed)
    yield from _place_on_the_body(printed, order.route)


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
        local = at.astimezone(zone(printed.zone))
        if f"{local:%Y-%m-%d %H:%M}" != order.clock:
            yield _stop(
                "recheck-minute",
                f"The printed clock is {local:%Y-%m-%d %H:%M}, the ordered one {order.clock}.",
                printed.drug,
            )


_NIGHT_ENDS = 6
"""A time before this hour is said with the night it belongs to."""


def _times(printed: _Printed, facts: Facts, at: dt.datetime) -> Iterator[Finding]:
    """When to lay out and to begin, and the minute before which nothing is injected."""
    for name, before in (("lay-out", facts.lay_out), ("mix", facts.mixing)):
        for said in printed.every(name):
            local = (at - span(before or "0 min")).astimezone(zone(printed.zone))
            days = printed.grammar.days
            day, evening = days[local.weekday()], days[local.weekday() - 1]
            night = (evening, day) if local.hour < _NIGHT_ENDS else (None, None)
            right = said["day"] == day and same_clock(said["at"], local, printed.grammar)
            if before is None or not right or (said["evening"], said["morning"]) != night:
                yield _stop("recheck-minute", f'"{said[0]}" is not {before} before the minute.', printed.drug)
    local = at.astimezone(zone(printed.zone))
    waits = [found[1] for name in ("wait", "clock-seen") for found in printed.step(name, printed.give)]
    if len(waits) != 2 or not all(same_clock(said, local, printed.grammar) for said in waits):
        yield _stop("recheck-minute", f"The steps wait for {waits}, not for the printed minute.", printed.drug)


def _after_the_first(printed: _Printed, order: Ordered) -> Iterator[Finding]:
    """A repeat says how long after the actual first it is; nothing else does."""
    said = [span(found[1]) for found in printed.every("provisional")]
    if said != ([span(order.after[1])] if order.after is not None else []):
        yield _stop("recheck-minute", f"{said} after the first is printed, {order.after} ordered.", printed.drug)


def _repeat(order: Ordered, gap: dt.timedelta) -> Iterator[Finding]:
    assert order.after is not None
    if gap != span(order.after[1]):
        yield _stop("recheck-minute", f"The repeat is printed {gap} after the first, not {order.after[1]}.", order.drug)


def _fewest_vials(printed: _Printed, wanted: Decimal) -> None:
    """A powder takes as few vials as hold the dose."""
    amount, _, each = printed.strength()
    if each == "vial" and number(printed.one("vials")[1]) != (wanted / amount).to_integral_value(ROUND_CEILING):
        raise Illegible(f"{printed.one('vials')[1]} vials of {amount} for {wanted}")


def _given(printed: _Printed) -> tuple[Decimal, str]:
    amount, kind, each = printed.strength()
    if each == "syringe":
        syringes = printed.every("prefilled")
        if not all(millilitres(one[1]) for one in syringes):
            raise Illegible("a prefilled syringe of nothing")
        return amount * len(syringes), kind
    if each == "spray":
        return amount * number(printed.one("sprays")[1]), kind
    volumes = _read_off(printed)
    if each == "mL":
        return amount * sum(volumes), kind
    vials = number(printed.one("vials")[1])
    in_vials = millilitres(printed.one("water")["water"]) * vials
    if everything := printed.every("everything"):
        if sum(volumes) + millilitres(everything[0][1]) != in_vials:
            raise Illegible("everything is not what was mixed")
        return amount * vials, kind
    if sum(volumes) > in_vials:
        raise Illegible("more is drawn than was mixed")
    return amount * vials * sum(volumes) / in_vials, kind


def _stays(printed: _Printed) -> Iterator[Finding]:
    """What is said to stay in the vials of a mixed powder is what is left of the mix."""
    water = printed.every("water")
    if not water:
        return
    said = printed.every("left")
    in_vials = millilitres(water[0]["water"]) * number(printed.one("vials")[1])
    left = Decimal(0) if printed.every("everything") else in_vials - sum(_read_off(printed))
    if sum(millilitres(one[1]) for one in said) != left:
        yield _stop(
            "recheck-left", f"Worked back, {left} mL stays in the vial, which is not what is printed.", printed.drug
        )


def _steps(printed: _Printed) -> Iterator[Finding]:
    """The steps say the same strength, water, marks, rest and sprays as the lines above them, as often and in the same order."""
    for name, hands, wanted in _REPEATED:
        said = [_first_group(found) for found in printed.step(name, hands(printed))]
        if said != wanted(printed):
            yield _stop("recheck-steps", f"The steps say {said}, the lines above them {wanted(printed)}.", printed.drug)


def _ready(printed: _Printed) -> tuple[str, ...]:
    return printed.ready


def _give(printed: _Printed) -> tuple[str, ...]:
    return printed.give


def _read_off_the_box(printed: _Printed) -> str:
    return f"{printed.drug}, {printed.one('strength')['strength']}"


def _one_of(printed: _Printed, amounts: list[str]) -> list[str]:
    """What each syringe that is taken from a box may hold: any of what was drawn up of that medicine."""
    if not printed.several:
        return []
    return [printed.grammar.lines["or"].join(dict.fromkeys(amounts))] * len(amounts)


def _to_inject(printed: _Printed) -> list[str]:
    """For each change of needles the one that was read off its pack to inject with; where none is named, what the change says."""
    boxed = [found[1] for found in printed.step("needle-boxed", printed.ready)]
    changes = [found[1] for found in printed.step("needle-on", printed.ready)]
    return boxed * len(changes) if len(boxed) == 1 else changes


def _kept_on_boxes(printed: _Printed) -> list[str]:
    """Where other medicines lie on the same table, every filled syringe is taken from its own box."""
    return [printed.drug for _ in printed.every("barrel")] if printed.several else []


def _first_group(found: re.Match[str]) -> str:
    if "drug" in found.groupdict():
        return f"{found['drug']}, {found['strength']}"
    return found[1]


def _largest(barrel: re.Match[str]) -> str:
    return barrel["largest"] or f"{_capacity(barrel)} mL"


def _capacity(barrel: re.Match[str]) -> str:
    groups = barrel.groupdict()
    return str(groups.get("capacity") or groups["capacity_ml"])


def _marks(printed: _Printed) -> list[str]:
    """The printed marks as the steps say them: with their word on a unit barrel, with their unit elsewhere."""
    word = printed.grammar.mark
    return [f"{word} {found['mark']}" if found["mark"] else f"{found['plain']} mL" for found in printed.every("mark")]


_REPEATED: tuple[tuple[str, Callable[[_Printed], tuple[str, ...]], Callable[[_Printed], list[str]]], ...] = (
    ("says", _ready, lambda one: [_read_off_the_box(one)]),
    ("water-says", _ready, lambda one: [found["kind"] for found in one.every("water")]),
    ("largest", _ready, lambda one: [_largest(found) for found in one.every("barrel")[:1]]),
    ("pull-water", _ready, lambda one: [found["water"] for found in one.every("water")]),
    ("water-seen", _ready, lambda one: [found["water"] for found in one.every("water")]),
    ("in-check", _ready, lambda one: [found["water"] for found in one.every("water")]),
    ("past", _ready, lambda one: _marks(one)),
    ("past-again", _ready, lambda one: _marks(one)),
    ("needle-on", _ready, lambda one: _to_inject(one)),
    ("needle-seen", _ready, lambda one: _to_inject(one)),
    ("into-vial", _ready, lambda one: [one.drug for _ in one.every("barrel")]),
    ("push-to", _ready, lambda one: _marks(one)),
    ("it-is", _ready, lambda one: _marks(one)),
    ("on-box", _ready, _kept_on_boxes),
    ("stays", _ready, lambda one: [found[1] for found in one.every("left")]),
    ("sprays", _ready, lambda one: [found[1] for found in one.every("sprays")]),
    ("from-box", _give, _kept_on_boxes),
    ("it-is", _give, lambda one: _one_of(one, _marks(one))),
    ("whole-is", _give, lambda one: _one_of(one, [found[1] for found in one.every("everything")])),
    ("prefilled-says", _give, lambda one: [_read_off_the_box(one) for _ in one.every("prefilled")]),
)
"""What the steps repeat of the lines above them: how it reads there, and what it must then be."""


def _place_on_the_body(printed: _Printed, route: str) -> Iterator[Finding]:
    """Each fill goes where the route says, and nowhere else."""
    fills = len(_parts(printed))
    sprays = sum(int(one[1]) for one in printed.every("sprays"))
    wanted = {
        "skin": fills if route == "subcutaneous" else 0,
        "muscle": fills if route == "intramuscular" else 0,
        "nose": sprays if route == "nasal" else 0,
    }
    said = {name: len(printed.step(name, printed.give)) for name in wanted}
    if said != wanted:
        yield _stop("recheck-route", f"The steps give it {said}, the route asks {wanted}.", printed.drug)


def _parts(printed: _Printed) -> list[re.Match[str]]:
    """The syringes that are filled or come filled, one line each."""
    return [*printed.every("barrel"), *printed.every("prefilled")]


_A_NUMBER = re.compile(r"\d[\d,]*(?:\.\d+)?")

_AMOUNTS = ("strength", "box", "vials", "water", "barrel", "mark", "everything", "prefilled", "sprays", "left")


def _figures(printed: _Printed, order: Ordered, facts: Facts) -> Iterator[Finding]:
    """Every number in a step stands also above the steps, on a box or needle at home, or in what was signed."""
    hands = (*printed.ready, *printed.give)
    known = {one for name in _AMOUNTS for line in printed.every(name) for one in _A_NUMBER.findall(line[0])}
    known |= {one for syringe in facts.syringes for one in _A_NUMBER.findall(syringe.partition("-")[2])}
    marks = {found["mark"] for found in printed.every("mark")}
    parts = len(_parts(printed))
    parts += sum(int(one[1]) for one in printed.every("sprays"))
    known |= {str(part) for part in range(1, parts + 1)}
    for line in hands:
        rest = line
        for pattern in (*_timed(printed.grammar), printed.grammar.needle):
            rest = compiled(pattern).sub("", rest)
        if strange := [one for one in _A_NUMBER.findall(rest) if one not in known]:
            yield _stop(
                "recheck-steps", f'"{line}" says {", ".join(strange)}, which stands nowhere else.', printed.drug
            )
        if strange := [
            one for one in compiled(rf"\b{printed.grammar.mark} ([\d.]*\d)").findall(line) if one not in marks
        ]:
            yield _stop("recheck-steps", f'"{line}" says mark {strange[0]}, which is not printed above.', printed.drug)
        for needle in re.findall(printed.grammar.needle, line):
            if needle not in facts.needles:
                yield _stop("recheck-steps", f'"{line}" names a needle that is not at home.', printed.drug)
    for name, pattern in printed.grammar.technique.items():
        for found in (match for line in hands if (match := compiled(pattern).search(line))):
            if _A_NUMBER.findall(found[1]) != _A_NUMBER.findall(order.technique.get(name, "")):
                yield _stop("recheck-steps", f'"{found[0]}" is neither signed nor on the label.', printed.drug)
    for said in printed.every("words"):
        if said[1] not in facts.words:
            yield _stop("recheck-medicine", f'"{said[1]}" is not what was read off a box.', printed.drug)


def _timed(grammar: Grammar) -> Iterator[str]:
    """What holds numbers that are compared elsewhere: clock times and the figures of the technique."""
    yield grammar.clock
    yield from grammar.technique.values()


def _at_home(printed: _Printed, at_home: Sequence[str]) -> None:
    """Every printed barrel is one of those at home, and no more of them are filled than the volume needs."""
    barrels = printed.every("barrel")
    for barrel in barrels:
        unit, step = ("u100", barrel["marks"]) if barrel["largest"] else ("mL", barrel["step"])
        name = f"{unit}-{_capacity(barrel)}mL-{step}" if barrel["largest"] else f"{unit}-{_capacity(barrel)}-{step}"
        if name not in at_home:
            raise Illegible(f"a {barrel[0]} is not at home")
    everything = [millilitres(one[1]) for one in printed.every("everything")]
    volume = sum(_read_off(printed) + everything)
    if barrels and len(barrels) != (volume / number(_capacity(barrels[0]))).to_integral_value(ROUND_CEILING):
        raise Illegible(f"{len(barrels)} fills for {volume} mL")


def _read_off(printed: _Printed) -> list[Decimal]:
    """The volume of every fill to a mark; the two printed forms of a U-100 mark must agree."""
    barrels, marks = printed.every("barrel"), printed.every("mark")
    if printed.every("everything") and len(barrels) == len(marks) + 1:
        barrels = barrels[:-1]
    if len(barrels) != len(marks):
        raise Illegible(f"{len(barrels)} syringes, {len(marks)} marks")
    return [_fill(barrel, mark) for barrel, mark in zip(barrels, marks, strict=True)]


def _fill(barrel: re.Match[str], mark: re.Match[str]) -> Decimal:
    capacity = number(_capacity(barrel))
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
        "the printed words alone must give the ordered dose and minute",
        _SOURCE,
    )
