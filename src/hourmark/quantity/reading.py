"""Reading amounts from text: number, space, unit; everything that is misread in practice is refused with what to write."""

from fractions import Fraction

from hourmark.finding import Unreadable
from hourmark.quantity.amounts import Concentration, Dose, Mass, Share, Units, Volume
from hourmark.quantity.numbers import parse_number

_UNITS = {"unit": "units", "units": "units", "mL": "mL", "ml": "mL", "mg": "mg"} | dict.fromkeys(
    ("mcg", "microgram", "micrograms"), "mcg"
)
_WRITE_INSTEAD = {
    **dict.fromkeys(
        ("U", "u", "IU", "iu", "I.U.", "UI", "IE", "USP units", "international units", "Units", "UNITS"), "units"
    ),
    **dict.fromkeys(("cc", "CC", "cm3", "ML", "Ml", "millilitre", "milliliter", "millilitres", "milliliters"), "mL"),
    **dict.fromkeys(("ug", "\N{MICRO SIGN}g", "\N{GREEK SMALL LETTER MU}g", "MCG", "Mcg"), "mcg"),
    **dict.fromkeys(("MG", "Mg", "milligram", "milligrams"), "mg"),
}
_MARKS = ("mark", "marks", "line", "lines")


def parse_amount(text: object) -> Volume | Dose:
    """A volume, mass or number of international units, such as "0.5 mL", "4 mg", "250 mcg" or "2,500 units".

    Raises Unreadable for a wrong number, a missing unit, or a unit that is misread in practice (U, IU, cc, ug).
    """
    value, unit = _split(text)
    match unit:
        case "mL":
            return Volume(value)
        case "mg":
            return Mass(value * 1000, "mg")
        case "mcg":
            return Mass(value, "mcg")
        case _:
            return Units(value)


def parse_volume(text: object) -> Volume:
    """A volume such as "0.5 mL". Raises Unreadable for anything else."""
    amount = parse_amount(text)
    if not isinstance(amount, Volume):
        raise Unreadable(f'"{text}" is a dose where a volume belongs.', 'Write a volume, for example "1 mL".')
    return amount


def parse_dose(text: object) -> Dose:
    """A dose such as "4 mg", "250 mcg" or "2,500 units".

    Raises Unreadable for anything else; a volume alone is never a dose, because it says nothing without a concentration.
    """
    amount = parse_amount(text)
    if isinstance(amount, Volume):
        raise Unreadable(
            f'"{text}" is a volume; a volume alone is not a dose.',
            'Write the dose of the drug, for example "2,500 units" or "4 mg"; ask the prescriber if the order gives only mL.',
        )
    if not amount:
        raise Unreadable(f'"{text}" is no dose at all.', "Write the dose in the order.")
    return amount


def parse_concentration(text: object) -> Concentration:
    """A concentration such as "5 mg/mL" or "1,000 units/mL". Raises Unreadable for anything else."""
    if not isinstance(text, str) or text.count("/") != 1:
        raise Unreadable(f"{text!r} is not a concentration.", 'Write dose per mL, for example "5 mg/mL".')
    dose, per = text.split("/")
    if per not in ("mL", "ml"):
        raise Unreadable(f'"{text}" is not per mL.', 'Write dose per mL, for example "5 mg/mL" (not per 0.2 mL).')
    return Concentration(parse_dose(dose))


def parse_percent(text: object) -> Share:
    """A share such as "10 %". Raises Unreadable for anything else."""
    if not isinstance(text, str) or not text.endswith(" %"):
        raise Unreadable(f"{text!r} is not a percentage.", 'Write number, space, sign, for example "10 %".')
    return Share(parse_number(text[:-2]) / 100)


def _split(text: object) -> tuple[Fraction, str]:
    if not isinstance(text, str):
        raise Unreadable(f"{text!r} is not text.", 'Write number, space and unit in quotes, for example "0.5 mL".')
    if not text.strip():
        raise Unreadable("The amount is blank.", 'Write number, space and unit, for example "0.5 mL".')
    number, space, unit = text.partition(" ")
    if not space:
        raise Unreadable(*_no_space(text))
    value = parse_number(number)
    if unit not in _UNITS:
        raise Unreadable(*_wrong_unit(number, unit))
    return value, _UNITS[unit]


def _no_space(text: str) -> tuple[str, str]:
    digits = len(text) - len(text.lstrip("0123456789.,"))
    number, unit = text[:digits], text[digits:]
    if not unit:
        return f'"{text[:40]}" has no unit.', 'Write number, space and unit, for example "0.5 mL" or "2,500 units".'
    better = _WRITE_INSTEAD.get(unit, unit if unit in _UNITS else None)
    if number and better:
        parse_number(number)  # a number that cannot be read itself is not repeated as what to write
        return f'"{text[:40]}" runs number and unit together.', f'Write "{number} {better}".'
    return f'"{text[:40]}" is not an amount.', 'Write number, space and unit, for example "0.5 mL".'


def _wrong_unit(number: str, unit: str) -> tuple[str, str]:
    if unit in _WRITE_INSTEAD:
        better = _WRITE_INSTEAD[unit]
        return f'"{unit}" is misread in practice.', f'Write "{number} {better}".'
    if unit in ("L", "l"):
        return f'"{unit}" is not a unit for an injection.', "Write the volume in mL."
    if unit in _MARKS:
        return "Lines on a barrel are not a dose.", 'Write the dose, for example "2,500 units", or the volume in mL.'
    if unit.rstrip(".") in _UNITS:
        return f'"{unit}" ends in a full stop, which is read as a digit.', f'Write "{number} {unit.rstrip(".")}".'
    return (
        f'"{unit[:40]}" is not a unit known here.',
        "Write one of: units, mg, mcg, microgram(s), mL; with one space after the number.",
    )
