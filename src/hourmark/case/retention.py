"""What may be erased: the record of a case that was closed, once the clinic's signed rule says that it has been kept long enough."""

import datetime as dt
from typing import Any

from hourmark.case import events as e
from hourmark.case.asked import Refused, refused
from hourmark.case.day import RulesState
from hourmark.case.streams import case_stream, pages_stream


def kept_until(last_at: e.Instant, keep_years: int) -> e.Instant:
    """Until when a record is kept, whose last entry is of `last_at`: the same day so many years on; 29 February becomes 1 March."""
    last = dt.datetime.fromisoformat(last_at)
    try:
        kept = last.replace(year=last.year + keep_years)
    except ValueError:
        kept = last.replace(year=last.year + keep_years, month=3, day=1)
    return f"{kept:%Y-%m-%dT%H:%M:%SZ}"


def keep_years(rules: RulesState) -> int | Refused:
    """For how many years the clinic's lead signed that a record is kept; refused where nobody has signed it."""
    signed: Any = rules.clinic.get("rules") or {}
    years = signed.get("keep_years")
    if years is None:
        return refused(
            "retention-unsigned",
            "No signed rule says how long a closed case is kept, so nothing may be erased.",
            "Have the clinic's lead sign clinic.rules.keep_years, by the law that holds for the clinic.",
            "erasure by a signed rule only",
        )
    return int(years)


def streams_of(case: str) -> tuple[str, str]:
    """The streams that are erased with a case: its own, and its pages."""
    return case_stream(case), pages_stream(case)
