"""Reading the printed words: numbers, amounts, clock times, zones. Everything unclear raises Illegible."""

import datetime as dt
import re
from decimal import Decimal
from importlib.resources import files
from zoneinfo import ZoneInfo

from hourmark.recheck.grammar import EACH, Grammar


class Illegible(Exception):
    """Printed words that cannot be read, or that contradict each other."""


def number(text: str) -> Decimal:
    """A printed number, commas removed."""
    if not re.fullmatch(r"\d{1,3}(,\d{3})*(\.\d*[1-9])?|0\.\d*[1-9]", text):
        raise Illegible(f'"{text}" is not a number printed as it should be')
    return Decimal(text.replace(",", ""))


def dose(text: str, grammar: Grammar) -> tuple[Decimal, str]:
    """A printed dose in micrograms or units, with its kind "mass" or "units"."""
    amount, _, unit = text.partition(" ")
    unit = grammar.units.get(unit, unit)
    if unit not in ("units", "mg", "mcg"):
        raise Illegible(f'"{text}" is not a dose')
    value = number(amount)
    if unit == "units":
        return value, "units"
    return (value * 1000 if unit == "mg" else value), "mass"


def ordered_dose(text: str, grammar: Grammar) -> tuple[Decimal, str]:
    """A dose as an order may word it in English, with or without commas and with the longer unit names."""
    value, _, unit = text.partition(" ")
    unit = {"microgram": "mcg", "micrograms": "mcg", "unit": "units"}.get(unit, unit)
    plain = {plain: said for said, plain in grammar.units.items()}
    return dose(f"{Decimal(value.replace(',', '')):,f} {plain.get(unit, unit)}", grammar)


def span(text: str) -> dt.timedelta:
    """Elapsed time as an order words it: "36 h", "35 h 30 min", "35.5 h", "20 min"."""
    words = text.split()
    if not words or len(words) % 2:
        raise Illegible(f'"{text}" is no span')
    total = Decimal(0)
    for value, unit in zip(words[::2], words[1::2], strict=True):
        if unit not in ("h", "hour", "hours", "min"):
            raise Illegible(f'"{text}" is no span')
        total += Decimal(value.replace(",", "")) * (1 if unit == "min" else 60)
    return dt.timedelta(minutes=float(total))


def wall_instant(text: str, which: str | None, zone_name: str) -> dt.datetime:
    """The instant, in UTC, of a wall time such as "2026-11-20 09:00"."""
    local = dt.datetime.strptime(text, "%Y-%m-%d %H:%M")
    return local.replace(tzinfo=zone(zone_name), fold=int(which == "second")).astimezone(dt.UTC)


def millilitres(text: str) -> Decimal:
    """A printed volume in mL."""
    match = re.fullmatch(r"([\d.,]+) mL", text)
    if match is None:
        raise Illegible(f'"{text}" is not a volume')
    return number(match[1])


def strength(printed: str, each: str | None, grammar: Grammar) -> tuple[Decimal, str, str]:
    """A printed strength: amount, kind, and what it is in: "vial", "syringe", "spray" or "mL"."""
    if each is not None:
        return (*dose(printed, grammar), EACH.get(each, each))
    if printed.endswith("/mL"):
        return (*dose(printed.removesuffix("/mL"), grammar), "mL")
    raise Illegible(f'"{printed}" is not a strength')


def zone(name: str) -> ZoneInfo:
    """The zone of that name from the time-zone data package, never the operating system's copy."""
    try:
        with files("tzdata").joinpath("zoneinfo", *name.split("/")).open("rb") as file:
            return ZoneInfo.from_file(file, key=name)
    except (OSError, ValueError) as error:
        raise Illegible(f'"{name}" is not a zone') from error


def instant(said: str, zone_name: str, grammar: Grammar) -> dt.datetime:
    """The instant, in UTC, of a clock time as it is read out; every redundant word must agree with the others."""
    match = re.fullmatch(grammar.said, said)
    if match is None:
        raise Illegible(f'"{said}" is not a time as it is read out')
    local = (
        _midnight(match["end"], match["start"], grammar)
        if match["start"]
        else _date(match["date"], grammar) + _clock(match["twelve"], match["clock"], grammar)
    )
    if match["day"] and grammar.days[local.weekday()] != match["day"]:
        raise Illegible(f"{match['date']} is a {grammar.days[local.weekday()]}, not a {match['day']}")
    _night(local, match["evening"], match["morning"], grammar)
    if match["city"] != zone_name.rpartition("/")[2].replace("_", " "):
        raise Illegible(f'"{match["city"]}" is not the place of {zone_name}')
    here = zone(zone_name)
    first, second = (local.replace(tzinfo=here, fold=fold).astimezone(dt.UTC) for fold in (0, 1))
    if first.astimezone(here).replace(tzinfo=None) != local:
        raise Illegible(f"{local:%H:%M} does not exist on that day in {zone_name}")
    if (first != second) != bool(match["first"] or match["second"]):
        raise Illegible(
            f"{local:%H:%M} in {zone_name}: FIRST or SECOND belongs to a time that happens twice, and to no other"
        )
    return second if match["second"] else first


def same_clock(text: str, local: dt.datetime, grammar: Grammar) -> bool:
    """Whether a printed clock time is that of a zoned time, FIRST or SECOND included."""
    match = re.fullmatch(grammar.clock, text)
    if match is None:
        raise Illegible(f'"{text}" is not a clock time')
    clock = _clock(match["twelve"], match["clock"], grammar)
    which = "second" if match["second"] else "first" if match["first"] else None
    twice = local.replace(fold=0).utcoffset() != local.replace(fold=1).utcoffset()
    wanted = ("second" if local.fold else "first") if twice else None
    return dt.timedelta(hours=local.hour, minutes=local.minute) == clock and which == wanted


def _date(text: str, grammar: Grammar) -> dt.datetime:
    day, month, year = text.replace(" de ", " ").split()
    if month not in grammar.months:
        raise Illegible(f'"{month}" is not a month')
    return dt.datetime(int(year), grammar.months.index(month) + 1, int(day))


def _clock(twelve: str, clock: str, grammar: Grammar) -> dt.timedelta:
    hour, minute = int(clock[:2]), clock[3:]
    am, pm, noon, midnight = grammar.halves
    half = {("12", "00"): noon, ("00", "00"): midnight}.get((clock[:2], minute), am if hour < 12 else pm)
    if twelve != f"{hour % 12 or 12}:{minute} {half}":
        raise Illegible(f"{twelve} is not {clock}")
    return dt.timedelta(hours=hour, minutes=int(minute))


def _midnight(end: str, start: str, grammar: Grammar) -> dt.datetime:
    before, after = (_date(text.partition(" ")[2], grammar) for text in (end, start))
    if after - before != dt.timedelta(days=1):
        raise Illegible(f"{end} and {start} do not meet at midnight")
    for text, day in ((end, before), (start, after)):
        if text.partition(" ")[0] != grammar.days[day.weekday()]:
            raise Illegible(f"{text} is a {grammar.days[day.weekday()]}")
    return after


def _night(local: dt.datetime, evening: str | None, morning: str | None, grammar: Grammar) -> None:
    at_night = local.hour >= 18 or local.hour < 6
    if at_night != (evening is not None):
        raise Illegible(f"{local:%H:%M} and the name of a night do not go together")
    if evening is not None:
        first = local if local.hour >= 18 else local - dt.timedelta(days=1)
        if [evening, morning] != [grammar.days[first.weekday()], grammar.days[(first.weekday() + 1) % 7]]:
            raise Illegible(f"{local:%H:%M} is not in the night of {evening} into {morning}")


_ENGLISH_ORDER = re.compile(r"( and |,)")


_UNIT_WORDS = {
    "en": {"mg": "milligram", "mcg": "microgram", "units": "unit"},
    "es": {"mg": "miligramo", "mcg": "microgramo", "units": "unidad"},
}
_PLURALS = {"unidad": "unidades"}


def same_dose(words: str, printed: str, grammar: Grammar) -> bool:
    """Whether a dose in words is the printed one, its unit included. Digits after the point are read one by one."""
    from num2words import num2words

    language = grammar.words_language
    amount, _, unit = printed.partition(" ")
    one = _UNIT_WORDS[language][grammar.units.get(unit, unit)]
    whole, _, part = amount.replace(",", "").partition(".")
    said = num2words(int(whole), lang=language)
    if part:
        said += f" {'punto' if language == 'es' else 'point'} " + " ".join(
            num2words(int(digit), lang=language) for digit in part
        )
    return _levelled(words) == _levelled(f"{said} {one if amount == '1' else _PLURALS.get(one, f'{one}s')}")


def _levelled(words: str) -> str:
    """Number words without what differs by habit or gender: "and", commas, "quinientas" for "quinientos", "una" for "uno"."""
    plain = _ENGLISH_ORDER.sub(lambda found: " " if "and" in found[0] else "", words)
    plain = re.sub(r"(c?ientas)\b", lambda found: found[0][:-2] + "os", plain)
    return re.sub(r"\b(veinti)?(una|ún|un)\b", lambda found: f"{found[1] or ''}uno", plain)
