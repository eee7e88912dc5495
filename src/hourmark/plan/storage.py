"""Until when an opened, mixed or unrefrigerated product may be used: the earliest of every limit that applies."""

import datetime as dt
from dataclasses import dataclass

from hourmark.clock import Moment, Span
from hourmark.formulary import facts

_DAY = Span(24 * 60)


@dataclass(frozen=True, slots=True)
class Keep:
    """The end of use: the hard stop, the last date to print (a day earlier, to be safe), and which limit set it.

    Labels count "N days" without saying whether the day of opening is day 0 or day 1. The hard stop is N x 24 h later;
    the printed date is the day of opening + N - 1 (derived: the stricter reading is printed). A carton's expiry date is
    usable to its end; a hard stop of None means that the date alone limits.
    """

    hard_stop: Moment | None
    last_date: dt.date
    limit: str


def keep_until(
    *,
    opened: Moment | None = None,
    in_use_days: int | None = None,
    out_of_fridge: Moment | None = None,
    room_days: int | None = None,
    expiry: dt.date | None = None,
) -> Keep | None:
    """The earliest of: in-use days from opening (28 when the label is silent), days out of the refrigerator, the carton's expiry.

    Days are whole 24-hour spans. None when nothing limits.
    """
    keeps = []
    if opened is not None:
        default = facts("limits")["multi-dose-days"]
        days = in_use_days if in_use_days is not None else int(default.value)
        why = f"{days} days after opening" + ("" if in_use_days is not None else f", {default.cite()}")
        keeps.append(_days_from(opened, days, why))
    if out_of_fridge is not None and room_days is not None:
        keeps.append(
            _days_from(out_of_fridge, room_days, f"{room_days} days out of the refrigerator, even if put back")
        )
    if expiry is not None:
        keeps.append(Keep(None, expiry, "expiry on the carton"))
    return min(keeps, key=_end, default=None)


def _days_from(start: Moment, days: int, limit: str) -> Keep:
    hard_stop = start.after(Span(_DAY.minutes * days))
    counted = start.wall.date() + dt.timedelta(days=days - 1)
    return Keep(hard_stop, min(counted, hard_stop.wall.date() - dt.timedelta(days=1)), limit)


def _end(keep: Keep) -> tuple[dt.date, str]:
    """Earlier ends first; a date alone ends with its day, before any hard stop on the next."""
    return keep.last_date, keep.hard_stop.utc if keep.hard_stop else ""
