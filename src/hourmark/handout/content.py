"""Content: a page for the patient as data. Blocks of text, pictures and steps, before anybody asks how they are printed."""

from dataclasses import dataclass, field
from typing import Literal, TypeAlias

from hourmark.handout.scene import Seen


@dataclass(frozen=True, slots=True)
class Run:
    """A piece of a line; `large` is for what is acted on: a clock time, a mark, an amount, a telephone number."""

    text: str
    large: bool = False


Line: TypeAlias = tuple[Run, ...]


LARGE = "\ue000"
"""Stands before and after what is printed large. A private character: nothing that people enter can hold it."""


def line(words: str) -> Line:
    """A line from words in which what stands between two LARGE characters is printed large."""
    return tuple(Run(piece, place % 2 == 1) for place, piece in enumerate(words.split(LARGE)) if piece)


def plain(said: Line) -> str:
    """A line's words alone."""
    return "".join(run.text for run in said)


@dataclass(frozen=True, slots=True)
class Text:
    """The same line in every language of the page: first the page's own, then the English beside it where that is needed."""

    lines: tuple[Line, ...]

    def __str__(self) -> str:
        """The words in the page's own language."""
        return plain(self.lines[0])


OWN_SIZE: Literal["own"] = "own"
"""A picture printed at the size in which it was drawn, for what is laid on the paper."""


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture: what is seen in it, the same in words, a caption, and its width in mm: as wide as there is room, or its own."""

    seen: Seen
    alt: str
    caption: Text | None = None
    size: float | Literal["room", "own"] = "room"


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading; level 1 is the title of the page."""

    level: Literal[1, 2, 3]
    text: Text


Weight: TypeAlias = Literal["plain", "small", "sign"]


@dataclass(frozen=True, slots=True)
class Paragraph:
    """One paragraph; small is for the small print, sign for the mark of a draft."""

    text: Text
    weight: Weight = "plain"


@dataclass(frozen=True, slots=True)
class Points:
    """A list; `ticked` gives each a box to tick."""

    items: tuple[Text, ...]
    ticked: bool = False


@dataclass(frozen=True, slots=True)
class Cautions:
    """What must not be overlooked, in one frame with a sign."""

    items: tuple[Text, ...]


@dataclass(frozen=True, slots=True)
class StepRow:
    """One step: what to do, what is then seen, a warning directly before it, and its picture with the letter it goes by.

    `digits` is the step's figure for whoever sees the picture alone: "60 s", "20 G 38 mm", "7 ×"; "" where there is none.
    """

    number: int
    do: Text
    see: Text
    warn: Text | None
    check: bool
    picture: Picture
    letter: Text
    digits: str


@dataclass(frozen=True, slots=True)
class Steps:
    """Steps in their order, each whole on one page."""

    rows: tuple[StepRow, ...]


@dataclass(frozen=True, slots=True)
class Card:
    """What belongs together and is never parted by the end of a page."""

    blocks: "tuple[Block, ...]"


@dataclass(frozen=True, slots=True)
class Columns:
    """Two groups side by side."""

    left: "tuple[Block, ...]"
    right: "tuple[Block, ...]"


@dataclass(frozen=True, slots=True)
class NewPage:
    """What follows begins on a new page."""


Block: TypeAlias = "Heading | Paragraph | Cautions | Points | Picture | Steps | Card | Columns | NewPage"


@dataclass(frozen=True, slots=True)
class Glance:
    """One medicine in pictures and digits alone: its place, the words on its box, date and clock, the clock's face, its syringes.

    `water` is what is added to the powder, "" for none.
    """

    place: str
    box: str
    water: str
    date: str
    clock: str
    face: Picture
    devices: tuple[tuple[str, Picture], ...]


@dataclass(frozen=True, slots=True)
class Hands:
    """The steps of one medicine's getting ready or giving, in the order of the page; `clock` is when it is given, "" while it is got ready."""

    place: str
    box: str
    clock: str
    ready: bool
    rows: tuple[StepRow, ...]


@dataclass(frozen=True, slots=True)
class Released:
    """Who released a page, and when on the clinic's clock; who checked it, None where nobody did."""

    by: str
    at: str
    checked_by: str | None


@dataclass(frozen=True, slots=True)
class Sheet:
    """A patient's page: the case, the language it is in, its title, check word and version, and its blocks in reading order.

    `draft` stands across every page until a release exists, and is None from then on; `foot` stands under every page, with places {page} and {pages}.
    `glances` and `hands` are the same in pictures and digits, `numbers` whom to call.
    """

    case: str
    language: str
    title: str
    draft: Text | None
    check_word: str
    foot: str
    version: int | None = None
    blocks: tuple[Block, ...] = field(default_factory=tuple)
    glances: tuple[Glance, ...] = ()
    hands: tuple[Hands, ...] = ()
    numbers: str = ""
