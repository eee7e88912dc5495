"""What each reader makes of texts, and how numbers and moments are worded: one line for each, so that a changed word is seen."""

import re
from collections.abc import Callable, Iterable
from fractions import Fraction
from pathlib import Path
from typing import Any

from hourmark.clock import (
    Moment,
    moment,
    needless_which,
    parse_span,
    parse_wall,
    parse_zone,
    said,
    shift_proposals,
    time_data,
)
from hourmark.clock.moment import clock_change_between
from hourmark.clock.words import clock_words
from hourmark.finding import Finding, Unreadable
from hourmark.quantity import parse_amount, parse_concentration, parse_dose, parse_number, parse_volume
from hourmark.quantity.numbers import number_text, rounded_text
from hourmark.quantity.reading import parse_percent
from hourmark.quantity.words import dose_words

LONG = "1234567890" * 6
NUMBERS = (
    "0", "1", "0.5", "12", "999", "1000", "1,000", "10,000", "1,234,567", "2,500.25", "0.005", "123456789012", "1234567890123",
    "0.12345678901", "0.123456789012", "0.1234567890123", "", " ", "1 ", ".5", ".50", ".", "5.", "0,5", "0,50", "1,5", "12,50", "1,00", "1,0000",
    "10,00", "1.000,5", "1.2.3", "1,2,3", "1.000.000", "12,", "012", "00", "007.5", "0.50", "1.0", "10.00", "10,000.0", "-1", "+1", "−1", "–1", "1e3",
    "1/2", "½", "one", "0x10", "\N{ARABIC-INDIC DIGIT ONE}", "0.0", "1_000", LONG, f"{LONG}.5", f"0{LONG}", f"-{LONG}", f".{LONG}", f"{LONG},1", f"x{LONG}", None, 5, 0.5, True,
)  # fmt: skip
AMOUNTS = (
    "0.5 mL", "0.5 ml", "4 mg", "250 mcg", "1 microgram", "2 micrograms", "1 unit", "2,500 units", "0 mL", "0 units", "0 mg", "5,000 U", "5,000 IU", "1 cc",
    "5,000 iu", "5,000 I.U.", "5 UI", "5 IE", "5 USP units", "5 international units", "5 Units", "5 UNITS", "1 CC", "1 cm3", "1 ML", "1 Ml", "1 millilitre",
    "1 milliliters", "250 ug", "250 µg", "250 MCG", "4 MG", "4 Mg", "4 milligrams", "1 L", "1 l", "20 marks", "1 mark", "3 lines", "1 line", "4 mg.", "5 units.",
    "1  mL", "1 mL ", " 1 mL", "1mL", "4mg", "5000U", "1,000units", "5.units", "units", "mL", "5", "5,000", "", "   ", "x", "4 tablets", f"4 {'tablet' * 10}",
    f"{LONG}mg", f"{LONG}", f"{LONG}tablets", ".5 mL", "1.0 mg", "1 mg/mL", "abc mg", None, 5,
)  # fmt: skip
CONCENTRATIONS = ("5 mg/mL", "1,000 units/mL", "5 mg/ml", "5 mg/0.2 mL", "5 mg/L", "5 mg", "5/mL", "1 mL/mL", "0 mg/mL", "5 mg/mL/mL", "", None, 5)  # fmt: skip
PERCENTS = ("10 %", "0.5 %", "0 %", "10%", "10", "10  %", "x %", "1.0 %", "", None, 10)
SPANS = (
    "36 h", "35 h 30 min", "35.5 h", "20 min", "1 min", "0 h", "0 min", "2,400 h", "2,401 h", "2,400 h 1 min", "144,000 min", "144,001 min", "35.25 h", "35.51 h",
    "35 h 60 min", "35 h 59 min", "35.5 h 30 min", "35.5 h 0 min", "1.5 min", "36", "36h", "36 hours", "36 h 30", "30 min 36 h", "-36 h", "1 h 0 min", "0 h 5 min",
    "", f"{LONG} h", f"{LONG}", f"1.5 h 3 min{LONG}", "0.01 h", "0.1 h", None, 36,
)  # fmt: skip
WALLS = (
    "2026-11-02 10:00", "2026-11-02 00:00", "2026-11-02 23:59", "2026-11-02 24:00", "2026-02-29 10:00", "2028-02-29 10:00", "2026-13-01 10:00", "2026-11-02 10:60",
    "1999-12-31 23:59", "2000-01-01 00:00", "2099-12-31 23:59", "2100-01-01 00:00", "2026-11-02T10:00", "02.11.2026 10:00", "2026-11-02 9:00", "2026-11-02 10:00 pm",
    "2026-11-02", "", LONG, None, 20261102,
)  # fmt: skip
ZONES = (
    "America/New_York", "Europe/London", "Asia/Kathmandu", "Australia/Lord_Howe", "America/Argentina/Buenos_Aires", "New York", "america/new_york",
    "America/New York", "Europe/Londn", "Europe/Lodnon", "EST", "UTC", "Etc/UTC", "+02:00", "US/Eastern", "Pacific/Aukland", "zzz", f"Europe/{LONG}", "", None, 1,
)  # fmt: skip
VALUES = (
    "0", "1", "1/2", "1/3", "2/3", "-1/3", "-5/2", "1/8", "1/7", "1/70", "1/700", "1/7000", "1/70000", "99999/10", "12345/7", "123456/7", "1234567/7", "999995/100",
    "1999/200", "1/4096", "1/8192", "1000", "-1000", "100000/3", "1/1024000000000", "10/3", "100/3", "1000/3", "1/30", "1/300",
)  # fmt: skip
MOMENTS = (
    ("2026-11-18 21:00", "America/Chicago"), ("2026-11-18 18:00", "America/Chicago"), ("2026-11-18 17:59", "America/Chicago"), ("2026-11-19 05:59", "America/Chicago"),
    ("2026-11-19 06:00", "America/Chicago"), ("2026-11-19 00:00", "America/Chicago"), ("2026-11-19 00:01", "America/Chicago"), ("2026-11-19 12:00", "America/Chicago"),
    ("2026-11-19 12:01", "America/Chicago"), ("2026-11-19 11:59", "America/Chicago"), ("2026-11-19 13:00", "America/Chicago"), ("2027-01-01 00:00", "Europe/London"),
    ("2027-03-01 00:00", "Asia/Kathmandu"), ("2026-11-18 00:30", "America/St_Johns"), ("2026-06-01 09:05", "Australia/Lord_Howe"),
)  # fmt: skip
CHANGING = (
    ("2026-11-01 01:30", "America/New_York"), ("2026-11-01 02:00", "America/New_York"), ("2026-03-08 02:30", "America/New_York"), ("2026-03-08 02:00", "America/New_York"),
    ("2026-03-08 03:00", "America/New_York"), ("2026-10-25 02:30", "Europe/Berlin"), ("2026-03-29 02:59", "Europe/Berlin"), ("2026-04-05 01:45", "Australia/Lord_Howe"),
    ("2026-10-04 02:15", "Australia/Lord_Howe"), ("2026-10-25 00:30", "Atlantic/Azores"), ("2026-11-18 21:00", "America/Chicago"),
)  # fmt: skip


def _told(read: Callable[[Any], object], given: object) -> str:
    try:
        made = read(given)
    except Unreadable as refused:
        return f"{given!r}: refused. {refused.what} {refused.do}"
    return f"{given!r}: {made!r}"


def _findings(found: Iterable[Finding]) -> str:
    return "; ".join(repr(one) for one in found) or "nothing to say"


def _at(text: str, zone: str, which: Any = None) -> Moment:
    found = moment(parse_wall(text, which), parse_zone(zone))
    assert isinstance(found, Moment)
    return found


def _spoken(text: str, zone: str) -> str:
    at = _at(text, zone)
    later = _at("2026-12-15 12:00", zone)
    return (
        f"{text} {zone}: {said(at)} | {clock_words(at)} | {at.utc} | {at.local} | {at.offset} | {at.which} |"
        f" {_findings(shift_proposals(at, 'somewhere'))} | {clock_change_between(at, later)} | {later - at}"
    )


def _change(text: str, zone: str) -> str:
    lines = []
    for which in (None, "first", "second"):
        wall = parse_wall(text, which)
        found = moment(wall, parse_zone(zone), "somewhere")
        if isinstance(found, Finding):
            lines.append(f"{wall} {zone}: {found!r}")
            continue
        lines.append(
            f"{wall} {zone}: {said(found)} | {clock_words(found)} | {found.utc} | {found.local} | {found.which} |"
            f" {_findings(needless_which(wall, found, 'somewhere'))} | {_findings(shift_proposals(found, 'somewhere'))}"
        )
    return "\n".join(lines)


def _dose_in_words(text: str) -> str:
    return dose_words(parse_dose(text))


def steady(text: str) -> str:
    """Without the release of the time data and without Python's own words, which other releases change."""
    return re.sub(
        r"(does not exist: |is not TOML: )[^\"\n]+?\.(?=[ \"\n])", r"\1(why).", text.replace(time_data(), "(release)")
    )


READERS: dict[str, tuple[Callable[[Any], object], tuple[object, ...]]] = {
    "numbers": (parse_number, NUMBERS),
    "amounts": (parse_amount, AMOUNTS),
    "doses": (parse_dose, AMOUNTS),
    "volumes": (parse_volume, AMOUNTS),
    "concentrations": (parse_concentration, CONCENTRATIONS),
    "percentages": (parse_percent, PERCENTS),
    "spans": (parse_span, SPANS),
    "clock times": (parse_wall, WALLS),
    "zones": (parse_zone, ZONES),
    "doses in words": (_dose_in_words, ("4 mg", "0.5 mg", "250 mcg", "1,000 units", "10,000 units", "1 units", "0.25 mg", "1 mg", "1,500 mcg")),
}  # fmt: skip


def _written_numbers() -> str:
    return "\n".join(
        f"{value}: {number_text(Fraction(value))} | "
        + " | ".join(rounded_text(Fraction(value), places) for places in range(4))
        for value in VALUES
    )


def readings() -> dict[str, Callable[[Path], str]]:
    """Each reader with its texts, and the wordings."""

    def lines(made: Callable[[], str]) -> Callable[[Path], str]:
        return lambda _: steady(made() + "\n")

    def reader(name: str) -> Callable[[], str]:
        read, texts = READERS[name]
        return lambda: "\n".join(_told(read, text) for text in texts)

    return {
        **{name: lines(reader(name)) for name in READERS},
        "numbers written": lines(_written_numbers),
        "moments": lines(lambda: "\n".join(_spoken(*one) for one in MOMENTS)),
        "clock changes": lines(lambda: "\n".join(_change(*one) for one in CHANGING)),
    }
