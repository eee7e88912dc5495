"""Plans are made one time each. What a plan is follows from its night alone, and the tests ask for the same ones over and over."""

from collections.abc import Callable, Iterator
from typing import Any

import pytest

from hourmark.exchange import night_from_table, plan_checked
from hourmark.exchange.prints import released_pages
from hourmark.handout import patient_sheet


def once(make: Callable[..., Any]) -> Callable[..., Any]:
    """The same, but made anew only from what it was never given before."""
    known: dict[object, tuple[object, Any]] = {}

    def remembered(*given: object, **named: object) -> Any:
        name = (*map(_name, given), *((word, _name(one)) for word, one in sorted(named.items())))
        if name not in known:
            # What was given is kept, so that nothing else ever stands at its place in memory.
            known[name] = given, make(*given, **named)
        return known[name][1]

    return remembered


def _name(given: object) -> object:
    """Tables, lists and words by what they say; plans and pages, which come out of here themselves, by which they are."""
    said = given is None or isinstance(given, dict | list | str | int) or type(given).__module__ == "datetime"
    return repr(given) if said or type(given).__name__ == "Released" else id(given)


_MADE_ONCE = {
    "hourmark.desk.made.night_from_table": once(night_from_table),
    "hourmark.desk.made.plan_checked": once(plan_checked),
    "hourmark.desk.made.patient_sheet": once(patient_sheet),
    "hourmark.exchange.prints.released_pages": once(released_pages),
}


@pytest.fixture(autouse=True, scope="module")
def _each_plan_is_made_one_time() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        for place, made in _MADE_ONCE.items():
            patch.setattr(place, made)
        yield
