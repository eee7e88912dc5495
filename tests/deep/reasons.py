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
    (
        r"products/.*:labelled-as$",
        r"^dropped$",
        "the same salt or base: without it the drug's own name counts; only the source named in one stop would be missing",
    ),
    (
        r"products/cetrorelix.*:(allergens|diluent|technique-bubbles)$",
        r".*",
        "no trigger: the order of an antagonist is refused before its vial is looked at",
    ),
    (r"diluents\.toml:bacteriostatic saline", r".*", "no product listed is mixed with it; its row waits for one"),
    (r".*\.(source|section|why|second)$", r".*", "shown only"),
)
NONE = "no reason yet"


def reason(place: str, change: str) -> str:
    """The reason written down for a survivor, or that there is none yet."""
    return next((why for where, what, why in REASONS if re.search(where, place) and re.search(what, change)), NONE)


CODE_REASONS: tuple[tuple[str, str, str], ...] = (
    (r"parse_zone__", r"n=1, cutoff", "the nearest name alone is used, however many are asked for"),
    (r"_Sceneǁgives__", r"concentration=", "with a powder and its water told, no concentration is looked at"),
    (r"case\.x__choice__", r'return None, "XXXX"', "who chose is looked at only where something was chosen"),
)
"""Function, change, and why the change means the same or only shows."""


def code_reason(name: str, change: str) -> str:
    """The reason written down for a surviving change of the code, or that there is none yet."""
    return next((why for where, what, why in CODE_REASONS if re.search(where, name) and re.search(what, change)), NONE)
