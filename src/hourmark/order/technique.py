"""Technique: how hands move where labels are silent or differ."""

from dataclasses import dataclass
from typing import Literal, TypeAlias

Bubbles: TypeAlias = Literal["push out", "leave in"]
Skin: TypeAlias = Literal["wipe", "soap and water"]


@dataclass(frozen=True, slots=True)
class Technique:
    """How hands move where labels are silent or differ; None where neither the label read nor a signed rule says.

    dissolve, wait, drying and tilt in seconds; pumps as a count; site and angle in words.
    """

    bubbles: Bubbles | None = None
    dissolve: int | None = None
    wait: int | None = None
    skin: Skin | None = None
    drying: int | None = None
    site: str | None = None
    angle: str | None = None
    pumps: int | None = None
    tilt: int | None = None


UNSIGNED_TECHNIQUE = Technique()
"""Nothing signed."""
