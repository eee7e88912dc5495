"""The one way in which a value becomes bytes: what is stored, what is hashed, and what is compared."""

import json
from typing import TypeAlias

Value: TypeAlias = "str | int | bool | list[Value] | dict[str, Value] | None"


LARGEST = 2**53 - 1
"""The largest whole number that RFC 8785 lets everybody write alike."""

_WRITER = json.JSONEncoder(ensure_ascii=False, allow_nan=False, separators=(",", ":"), sort_keys=True)


def canonical(value: Value) -> bytes:
    """JSON in UTF-8 without spaces, keys in order: the subset of RFC 8785 that has whole numbers and ASCII keys only.

    Raises TypeError for a float, a tuple, a key that is not an ASCII text, or anything else that JSON has no one way to write,
    and UnicodeEncodeError for half a surrogate pair.
    """
    _check(value)
    return written(value)


def written(value: Value) -> bytes:
    """The same for a value that is known to have canonical bytes."""
    return _WRITER.encode(value).encode()


def _check(value: object) -> None:
    kind = type(value)
    if kind is dict:
        for key, inner in value.items():  # type: ignore[attr-defined]
            if type(key) is not str or not key.isascii():
                raise TypeError(f"{key!r} is no key of canonical bytes.")
            _check(inner)
    elif kind is list:
        for inner in value:  # type: ignore[attr-defined]
            _check(inner)
    elif kind is int and abs(value) > LARGEST:  # type: ignore[arg-type]
        raise TypeError(f"{value} is beyond what everybody writes alike.")
    elif value is not None and kind not in (str, int, bool):
        raise TypeError(f"{value!r} has no canonical bytes.")
