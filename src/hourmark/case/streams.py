"""The names of a clinic's streams, and an event on one of them."""

from dataclasses import dataclass

from hourmark.case.events import Event

ROLL = "roll"
"""Which cases are open."""

RULES = "rules"
"""The clinic's signed rules."""


def on(stream: str, *events: Event) -> tuple["On", ...]:
    """Each of the events on one stream."""
    return tuple(On(stream, event) for event in events)


@dataclass(frozen=True, slots=True)
class On:
    """An event, and the stream that it belongs to."""

    stream: str
    event: Event


def case_stream(case: str) -> str:
    """The stream of one case."""
    return f"case/{case}"


def pages_stream(case: str) -> str:
    """The stream of the very pages that one case's sheets were."""
    return f"pages/{case}"


def day_stream(day: str) -> str:
    """The stream of one theatre day, such as "2026-11-20"."""
    return f"day/{day}"


def day_of(at: str) -> str:
    """The day of a clock time such as "2026-11-20 08:00"."""
    return at[: len("2026-11-20")]
