"""From parsed TOML to the night file's keys: strict, with every problem found in one run and none corrected."""

import dataclasses
import datetime as dt
import difflib
import re
from collections.abc import Callable, Iterator
from enum import StrEnum
from fractions import Fraction
from functools import cache, partial
from typing import Any, TypeVar, get_args, get_origin

from cattrs import BaseValidationError, Converter, ForbiddenExtraKeysError, IterableValidationNote
from cattrs.errors import AttributeValidationNote, ClassValidationError, IterableValidationError
from cattrs.gen import make_dict_structure_fn

from hourmark.case.asked import Role
from hourmark.clock import Span, WallTime, Which, Zone, parse_span, parse_wall, parse_zone
from hourmark.exchange import keys
from hourmark.finding import Unreadable
from hourmark.formulary import Barrel, Product, barrel, drug, facts, gauges, product
from hourmark.order import ROUTES, Cycle, Day, Purpose
from hourmark.order.clinic import SlotKind
from hourmark.quantity import Dose, Share, Volume, parse_dose, parse_percent, parse_volume

T = TypeVar("T")
Path = tuple[str | int, ...]

_ID = re.compile(r"[A-Za-z0-9](?:[A-Za-z0-9-]{0,30}[A-Za-z0-9])?")
_MOST_TEXT = 200
_MOST_COUNT = 999
_MOST_YEARS = 150


@dataclasses.dataclass(frozen=True, slots=True)
class Problem:
    """One thing that cannot be read: the path of its key, a code, what is wrong, what to write."""

    path: Path
    code: str
    what: str
    do: str


def structure(table: dict[str, Any], into: type[T]) -> T | list[Problem]:
    """The table as `into`, or every problem in it."""
    try:
        return _converter().structure(table, into)
    except BaseValidationError as group:
        return list(_problems(group, ()))
    except Unreadable as error:
        return [Problem((), "file-value", error.what, error.do)]


def _problems(error: Exception, path: Path) -> Iterator[Problem]:
    match error:
        case ClassValidationError() | IterableValidationError():
            noted, bare = error.group_exceptions()
            for inner, note in noted:
                yield from _problems(inner, (*path, _step(note)))
            for inner in bare:
                yield from _problems(inner, path)
        case ForbiddenExtraKeysError():
            for extra in sorted(error.extra_fields):
                yield _unknown_key(extra, error.cl, path)
        case Unreadable():
            yield Problem(path, "file-value", error.what, error.do)
        case KeyError() if path:
            yield Problem(
                path,
                "file-key-missing",
                f'"{path[-1]}" is missing.',
                f"Add {path[-1]} = ... to this table; see docs/night-file.md.",
            )
        case _:
            yield Problem(path, "file-value", f"This cannot be read: {error}.", "See docs/night-file.md.")


def _step(note: AttributeValidationNote | IterableValidationNote) -> str | int:
    return note.name if isinstance(note, AttributeValidationNote) else int(note.index)


def _unknown_key(extra: str, cl: type[Any] | None, path: Path) -> Problem:
    known = [field.name for field in dataclasses.fields(cl)] if cl else []
    near = difflib.get_close_matches(extra, known, n=1, cutoff=0.5)
    hint = f'Did you mean "{near[0]}"?' if near else f"Known here: {', '.join(known)}."
    return Problem((*path, extra), "file-key-unknown", f'"{extra[:40]}" is not a key of this table.', hint)


@cache
def _converter() -> Converter:
    converter = Converter(detailed_validation=True, forbid_extra_keys=True)
    converter.register_structure_hook_factory(dataclasses.is_dataclass, partial(_table_hook, converter))
    converter.register_structure_hook_factory(_is_list, partial(_list_hook, converter))
    converter.register_structure_hook_factory(_is_pair, partial(_pair_hook, converter))
    converter.register_structure_hook_factory(_is_choice, _choice_hook)
    leaves: dict[Any, Callable[[Any], Any]] = {
        Volume: _some_volume,
        Share: parse_percent,
        Span: parse_span,
        WallTime: _wall,
        Zone: parse_zone,
        Product: product,
        Barrel: barrel,
        dt.date: _date,
        bool: _yes_or_no,
        keys.Id: _id,
        keys.Text: _text,
        keys.DiluentKind: _diluent_kind,
        keys.Route: _route,
        keys.Millimetres: _millimetres,
        keys.ScaleLength: _scale_length,
        keys.Gauge: _gauge,
        keys.Count: _count,
        keys.Seconds: _seconds,
        keys.Years: _years,
        keys.BodyMass: _body_mass,
        keys.BodyWeight: _body_weight,
        keys.Estradiol: _estradiol,
        keys.Luteinising: _luteinising,
        keys.HourOfDay: _hour,
        keys.PhoneNumber: _phone,
    }
    for words in (Purpose, Cycle, SlotKind, Day, Role):
        converter.register_structure_hook(words, _choice_hook(words))
    for kind, read in leaves.items():
        converter.register_structure_hook(kind, _leaf(read))
    converter.register_structure_hook_func(lambda kind: kind == Dose, _leaf(parse_dose))
    converter.register_structure_hook_func(lambda kind: kind == keys.DrugName, _leaf(_drug))
    return converter


def _leaf(read: Callable[[Any], T]) -> Callable[[Any, Any], T]:
    return lambda value, _kind: read(value)


def _table_hook(converter: Converter, cl: type[Any]) -> Callable[[Any, Any], Any]:
    inner = make_dict_structure_fn(cl, converter, _cattrs_forbid_extra_keys=True, _cattrs_detailed_validation=True)

    def read(value: Any, kind: Any) -> Any:
        if not isinstance(value, dict):
            raise Unreadable(f"{_shown(value)} is not a table.", "Write a table with the keys in docs/night-file.md.")
        return inner(value, kind)

    return read


def _is_list(kind: Any) -> bool:
    return get_origin(kind) is tuple and get_args(kind)[-1:] == (...,)


def _list_hook(converter: Converter, kind: Any) -> Callable[[Any, Any], Any]:
    items: Any = list[get_args(kind)[0]]  # type: ignore[misc]
    read_items = converter.get_structure_hook(items)

    def read(value: Any, _kind: Any) -> Any:
        if not isinstance(value, list):
            raise Unreadable(
                f"{_shown(value)} is not a list.", "Write a list in square brackets, or [[tables]] in double ones."
            )
        return tuple(read_items(value, items))

    return read


def _is_pair(kind: Any) -> bool:
    return (
        get_origin(kind) is tuple and len(get_args(kind)) == 2 and ... not in get_args(kind) and kind != keys.DrugName
    )


def _pair_hook(converter: Converter, kind: Any) -> Callable[[Any, Any], Any]:
    items: Any = list[get_args(kind)[0]]  # type: ignore[misc]
    read_items = converter.get_structure_hook(items)

    def read(value: Any, _kind: Any) -> Any:
        if not isinstance(value, list) or len(value) != 2:
            raise Unreadable(
                f"{_shown(value)} is not a pair.", 'Write two values in square brackets, for example ["35 h", "37 h"].'
            )
        first, second = read_items(value, items)
        if not isinstance(first, str) and second < first:
            raise Unreadable(f"{_shown(value)} has the larger value first.", "Write the smaller value first.")
        return first, second

    return read


def _is_choice(kind: Any) -> bool:
    return (isinstance(kind, type) and issubclass(kind, StrEnum)) or str(get_origin(kind)) == "typing.Literal"


def _choice_hook(kind: Any) -> Callable[[Any, Any], Any]:
    items: tuple[Any, ...] = get_args(kind) or tuple(kind)
    choices = {str(item): item for item in items}
    by_value = {item if not isinstance(item, StrEnum) else str(item): item for item in items}

    def read(value: Any, _kind: Any) -> Any:
        if type(value) in (str, int) and value in by_value:
            return by_value[value]
        near = difflib.get_close_matches(str(value), choices, n=1)
        known = ", ".join(f'"{choice}"' if isinstance(item, str) else choice for choice, item in choices.items())
        raise Unreadable(
            f"{_shown(value)} is not one of the words for this key.",
            f'Did you mean "{near[0]}"?' if near else f"Write {known}.",
        )

    return read


def _shown(value: Any) -> str:
    text = (
        "true"
        if value is True
        else "false"
        if value is False
        else f'"{value}"'
        if isinstance(value, str)
        else str(value)
    )
    return text if len(text) <= 60 else text[:57] + "..."


def _id(value: Any) -> keys.Id:
    if isinstance(value, str) and _ID.fullmatch(value):
        return keys.Id(value)
    raise Unreadable(
        f"{_shown(value)} is not an id.",
        'Write letters, digits and hyphens in quotes, at most 32, for example "K-101".',
    )


def _text(value: Any) -> keys.Text:
    if not isinstance(value, str):
        raise Unreadable(f"{_shown(value)} is not text.", "Write it in quotes.")
    if not value.strip() or len(value) > _MOST_TEXT or not value.isprintable():
        raise Unreadable(
            f"{_shown(value)} is blank, too long, or not one line.",
            f"Write one line of at most {_MOST_TEXT} characters.",
        )
    return keys.Text(value)


def _wall(value: Any) -> WallTime:
    if isinstance(value, str):
        for which in get_args(Which):
            if value.endswith(f" {which}"):
                return parse_wall(value.removesuffix(f" {which}"), which)
    return parse_wall(value)


def _date(value: Any) -> dt.date:
    if type(value) is dt.date:
        return value
    try:
        if re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", value):
            return dt.date.fromisoformat(value)
        raise ValueError
    except (TypeError, ValueError):
        raise Unreadable(f"{_shown(value)} is not a date.", 'Write it as "2027-03-31".') from None


def _some_volume(value: Any) -> Volume:
    volume = parse_volume(value)
    if not volume:
        raise Unreadable(f"{_shown(value)} is no volume at all.", 'Write what is there, for example "1 mL".')
    return volume


def _yes_or_no(value: Any) -> bool:
    if isinstance(value, bool):
        return value
    raise Unreadable(f"{_shown(value)} is neither true nor false.", "Write true or false, without quotes.")


def _drug(value: Any) -> keys.DrugName:
    return drug(value), value


def _diluent_kind(value: Any) -> keys.DiluentKind:
    kinds = sorted({path.rpartition(".")[0] for path in facts("diluents")})
    if value in kinds:
        return keys.DiluentKind(value)
    raise Unreadable(f"{_shown(value)} is not a diluent known here.", f"Write one of: {', '.join(kinds)}.")


_ABBREVIATED = {
    "sc": "subcutaneous",
    "sq": "subcutaneous",
    "subcut": "subcutaneous",
    "im": "intramuscular",
    "in": "nasal",
}


def _route(value: Any) -> keys.Route:
    if value in ROUTES:
        return keys.Route(value)
    full = _ABBREVIATED.get(str(value).lower())
    raise Unreadable(
        f"{_shown(value)} is not a route in full.",
        f'Write "{full}".' if full else f"Write one of: {', '.join(ROUTES)}.",
    )


def _millimetres(value: Any) -> keys.Millimetres:
    match = re.fullmatch(r"([1-9][0-9]?) mm", value) if isinstance(value, str) else None
    if match:
        return keys.Millimetres(int(match[1]))
    raise Unreadable(f"{_shown(value)} is not a needle length.", 'Write whole millimetres, for example "13 mm".')


def _scale_length(value: Any) -> keys.ScaleLength:
    match = re.fullmatch(r"([1-9][0-9]{0,2}(?:\.[1-9])?) mm", value) if isinstance(value, str) else None
    if match:
        return keys.ScaleLength(Fraction(match[1]))
    raise Unreadable(
        f"{_shown(value)} is not the length of a scale.",
        'Write millimetres, to a tenth if need be, for example "57 mm" or "57.5 mm".',
    )


def _gauge(value: Any) -> keys.Gauge:
    if type(value) is int and value in gauges():
        return keys.Gauge(value)
    known = list(gauges())
    raise Unreadable(
        f"{_shown(value)} is not a needle gauge known here.", f"Write a whole number from {known[0]} to {known[-1]}."
    )


def _seconds(value: Any) -> keys.Seconds:
    if type(value) is int and 1 <= value <= _MOST_COUNT:
        return keys.Seconds(value)
    raise Unreadable(
        f"{_shown(value)} is not a number of seconds.", f"Write a whole number from 1 to {_MOST_COUNT}, without quotes."
    )


def _years(value: Any) -> keys.Years:
    if type(value) is int and 1 <= value <= _MOST_YEARS:
        return keys.Years(value)
    raise Unreadable(
        f"{_shown(value)} is not a number of years.", f"Write a whole number from 1 to {_MOST_YEARS}, without quotes."
    )


def _count(value: Any) -> keys.Count:
    if type(value) is int and 0 <= value <= _MOST_COUNT:
        return keys.Count(value)
    raise Unreadable(
        f"{_shown(value)} is not a count.", f"Write a whole number from 0 to {_MOST_COUNT}, without quotes."
    )


def _body_mass(value: Any) -> keys.BodyMass:
    return keys.BodyMass(_laboratory(value, {"": Fraction(1)}, '"23.1"'))


def _body_weight(value: Any) -> keys.BodyWeight:
    _laboratory(value, {"kg": Fraction(1)}, '"65 kg"')
    return keys.BodyWeight(value)


def _estradiol(value: Any) -> keys.Estradiol:
    _thousands(value)
    per_picogram = facts("limits")["pmol-per-pg-estradiol"].value
    return keys.Estradiol(
        _laboratory(value, {"pg/mL": Fraction(1), "pmol/L": 1 / per_picogram}, '"2,100 pg/mL" or "7,700 pmol/L"')
    )


def _luteinising(value: Any) -> keys.Luteinising:
    return keys.Luteinising(_laboratory(value, {"units/L": Fraction(1)}, '"1.8 units/L"'))


def _laboratory(value: Any, units: dict[str, Fraction], example: str) -> Fraction:
    """A measured value; unlike a dose it may end in a zero after the point (Joint Commission do-not-use list, exception)."""
    number, _, unit = value.partition(" ") if isinstance(value, str) else ("", "", "")
    if unit not in units or not re.fullmatch(r"(0|[1-9][0-9]{0,2}(,[0-9]{3})+|[1-9][0-9]{0,8})(\.[0-9]{1,6})?", number):
        raise Unreadable(f"{_shown(value)} is not a value for this key.", f"Write it as {example}.")
    return Fraction(number.replace(",", "")) * units[unit]


def _thousands(value: Any) -> None:
    """Estradiol runs into the thousands: three decimals may be thousands. Raises Unreadable."""
    found = re.fullmatch(r"([1-9][0-9]{0,2})\.([0-9]{3}) (\S+)", value) if isinstance(value, str) else None
    if found is not None:
        raise Unreadable(
            f"{_shown(value)} can be read with a decimal point, or as {found[1]},{found[2]}: many countries write a point between thousands.",
            f'Ask which is meant; then write "{found[1]},{found[2]} {found[3]}", or the value with one or two decimals.',
        )


def _hour(value: Any) -> keys.HourOfDay:
    if isinstance(value, str) and re.fullmatch(r"([01][0-9]|2[0-3]):[0-5][0-9]", value):
        return keys.HourOfDay(dt.time.fromisoformat(value))
    raise Unreadable(f"{_shown(value)} is not a clock time.", 'Write the 24-hour clock, for example "18:00".')


def _phone(value: Any) -> keys.PhoneNumber:
    if isinstance(value, str) and re.fullmatch(r"\+[0-9](?:[ -]?[0-9]){5,14}", value):
        return keys.PhoneNumber(value)
    raise Unreadable(
        f"{_shown(value)} is not a telephone number.", 'Write it with its country code, for example "+1 555 0100".'
    )
