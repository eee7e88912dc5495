"""The recheck: from the printed words of a draft back to dose and slot, by code that shares nothing with the plan.

It knows only `finding`. It computes with decimals and `zoneinfo`, and whatever it cannot read is a stop, not a pass.
"""

from hourmark.recheck.recheck import Facts, Ordered, TheatreSlot, recheck

__all__ = ["Facts", "Ordered", "TheatreSlot", "recheck"]
