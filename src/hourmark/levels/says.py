"""What may be said of any result."""

from enum import StrEnum


class Says(StrEnum):
    """What a result says of an injection, and no more than that."""

    EXPECTED = "as expected"
    HIGH = "higher than expected"
    LOW = "lower than expected"
    NONE = "no effective dose is seen"
    FAILED = "the pattern of too small a surge"
    SUPPORTS = "supports that it worked"
    AGAINST = "does not support that it worked"
    CARE = "read with care"
    EARLY = "too early to judge"
    LATE = "too late to judge"
    SILENT = "says nothing of this injection"
