"""Why a change to a figure may go unnoticed without harm: the first row whose two patterns match is the reason."""

import re

REASONS = (
    (r"proposals\.toml:", r".*", "shown only: a proposal rules nothing until a clinic signs its own"),
    (r"needles\.toml:.*\.colour", r".*", "shown only: the colour of a hub is a hint, nothing is computed from it"),
    (
        r"syringes\.toml:.*\.numbered",
        r".*",
        "used for the staff's list of misreadings only; marks are computed from the lines",
    ),
    (r".*\.(source|section|why|second)$", r".*", "shown only"),
)
NONE = "no reason yet"


def reason(place: str, change: str) -> str:
    """The reason written down for a survivor, or that there is none yet."""
    return next((why for where, what, why in REASONS if re.search(where, place) and re.search(what, change)), NONE)
