"""The walk-through: the page step by step for a telephone, as data. Made with the page, from the same plan, and never made again."""

import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache, partial
from typing import Any, Literal, TypeAlias

from cattrs import Converter

from hourmark.clock import Moment
from hourmark.dose import Drawn, How
from hourmark.dose.steps import phrases
from hourmark.formulary import barrels
from hourmark.handout.content import LARGE, Block, Card, Line, Paragraph, Run, Sheet, Text, line
from hourmark.handout.drawing import drawn_as_svg
from hourmark.handout.drawing.motion import moving, rests
from hourmark.handout.language import Language, Speaker, language
from hourmark.handout.pictures import SaidStep, numbered, said_steps, step_rows
from hourmark.handout.scene import Scene, Seen
from hourmark.handout.sheet import READ_OFF_THE_BOXES, Leg, PageMaker, speaker_of
from hourmark.handout.show import ShowBarrel, show_barrel
from hourmark.handout.text import SEEN, WARNING, said_lines
from hourmark.ledger import canonical
from hourmark.plan import CasePlan, NightPlan, PlannedInjection
from hourmark.plan.languages import ENGLISH

SCHEMA = 1
"""The shape in which a walk-through is written today."""

Part: TypeAlias = Literal["ready", "give"]


@dataclass(frozen=True, slots=True)
class WalkPicture:
    """One picture as SVG: still, and in motion; `rests` says why it never moves where `moving` is None.

    The picture in motion runs one time, without a script, and ends as the still. Steps that show the same share one picture.
    """

    key: str
    still: str
    moving: str | None
    rests: str | None


@dataclass(frozen=True, slots=True)
class Stuck:
    """What is said to somebody who is stuck at a step: what it should look like, and what not to do."""

    look: Text
    never: Text


@dataclass(frozen=True, slots=True)
class BoxQuestion:
    """One thing read off the boxes before anything is opened: the question, and the very words that must be there.

    `step` is the number of the step that says the same; `picture` the key of its picture, `alt` the same in words.
    """

    code: str
    step: int
    ask: Text
    expected: Text
    picture: str
    alt: str


@dataclass(frozen=True, slots=True)
class WalkStep:
    """One step: its number within its part, as on the page; what to do, what is then seen, and a warning that stands before it.

    check: a place where people fail. box: a box question asks the same. picture: the key of its picture, alt: the same in words.
    seconds: how long it lasts, by the label or the clinic's signed technique; None where nobody signed it and where nothing lasts.
    waits: it ends at the minute of the injection.
    """

    number: int
    part: Part
    code: str
    do: Text
    see: Text
    warn: Text | None
    check: bool
    box: bool
    picture: str
    alt: str
    seconds: int | None
    waits: bool
    stuck: Stuck


@dataclass(frozen=True, slots=True)
class WalkInjection:
    """One medicine: its place among all, its words as on the page, the questions about its boxes, its steps, and its barrel.

    at, lay_out_at and mix_at are instants in UTC, None where no rule gives them; zone is the zone of the clock by which she goes.
    said: the minute as read out; clock: its clock time alone; clinic_clock: the same on the clinic's clock, where that differs.
    provisional: said where the minute hangs on another's actual time. take: what is taken, as on the page. about: what is said over the steps of getting
    ready. show: the barrel on which she shows her mark; None where nothing is measured to a mark.
    """

    id: str
    place: str
    heading: Text
    medicine: str
    dose: Text
    route: Text
    at: str
    zone: str
    said: Text
    clock: Text
    clinic_clock: Text | None
    provisional: Text | None
    lay_out_at: str | None
    mix_at: str | None
    water: tuple[Text, ...]
    take: tuple[Text, ...]
    about: tuple[Text, ...]
    boxes: tuple[BoxQuestion, ...]
    steps: tuple[WalkStep, ...]
    show: ShowBarrel | None


@dataclass(frozen=True, slots=True)
class WalkLeg:
    """What hands do next: one part of one injection's steps. Medicines of one minute are all got ready before the first is given."""

    injection: str
    part: Part
    heading: Text


@dataclass(frozen=True, slots=True)
class WalkThrough:
    """The walk-through of one case's page; every text as on the page, in its language, with the English beside it where nobody signed it.

    draft: the mark of a draft; None once the page is released. standing: whether the page counts, and what it replaces. who: who injects
    how many. call: the number answered at the minute. red_flags: what keeps from injecting. unsure: what is done when late, wrong or unsure. first: said before
    the box questions. drying_seconds: the clinic's signed time; None where none is signed. small: where the page comes from.
    """

    schema: int
    case: str
    language: str
    title: str
    draft: Text | None
    version: int | None
    check_word: str
    standing: tuple[Text, ...]
    who: tuple[Text, ...]
    call: Text
    emergency: Text
    red_flags: Text
    unsure: Text
    first: Text
    laid_out: tuple[Text, ...]
    stop: Text
    visit: tuple[Text, ...]
    drying_seconds: int | None
    injections: tuple[WalkInjection, ...]
    legs: tuple[WalkLeg, ...]
    small: tuple[Text, ...]
    pictures: tuple[WalkPicture, ...]

    def injection(self, id_: str) -> WalkInjection:
        """The injection of that id. Raises KeyError."""
        return {one.id: one for one in self.injections}[id_]

    def picture(self, key: str) -> WalkPicture:
        """The picture of that key. Raises KeyError."""
        return {one.key: one for one in self.pictures}[key]

    def steps(self, leg: WalkLeg) -> tuple[WalkStep, ...]:
        """The steps of one leg, in order."""
        return tuple(step for step in self.injection(leg.injection).steps if step.part == leg.part)


def walk_bytes(walk: WalkThrough) -> bytes:
    """The walk-through as canonical bytes, in UTF-8: the same data give the same bytes."""
    return canonical(_listed(_converter().unstructure(walk)))


def walk_from(stored: bytes) -> WalkThrough:
    """The walk-through of stored bytes. Raises ValueError for one of a shape that this version does not know."""
    table = json.loads(stored.decode())
    if table.get("schema") != SCHEMA:
        raise ValueError(f"Shape {table.get('schema')} of a walk-through is not known here: a newer version wrote it.")
    walk: WalkThrough = _converter().structure(table, WalkThrough)
    return walk


def _listed(value: Any) -> Any:
    """With lists for tuples, which is what JSON gives back."""
    if isinstance(value, dict):
        return {key: _listed(inner) for key, inner in value.items()}
    return [_listed(inner) for inner in value] if isinstance(value, (list, tuple)) else value


@cache
def _converter() -> Converter:
    converter = Converter(detailed_validation=False, forbid_extra_keys=True)
    converter.register_unstructure_hook(
        Text, lambda text: [[[run.text, run.large] for run in said] for said in text.lines]
    )
    converter.register_structure_hook(
        Text, lambda lines, _: Text(tuple(tuple(Run(words, large) for words, large in said) for said in lines))
    )
    return converter


def walk_words(walk: WalkThrough) -> str:
    """The walk-through as plain text in the order and the form of the page, so that it can be checked back like the page."""
    codes = (walk.language, ENGLISH) if len(walk.call.lines) > 1 else (walk.language,)
    return "\n".join(_words(walk, Speaker(tuple(map(language, codes))))) + "\n"


def _words(walk: WalkThrough, speaker: Speaker) -> Iterator[str]:
    yield walk.title
    for text in (*walk.standing, *walk.who, walk.call):
        yield from said_lines(text)
    for one in walk.injections:
        yield ""
        yield from said_lines(one.heading)
        yield from said_lines(one.said)
        if one.provisional is not None:
            yield from said_lines(one.provisional, WARNING)
        clock = (one.clinic_clock,) if one.clinic_clock is not None else ()
        for text in (*clock, one.dose, one.route, *one.water, *one.take):
            yield from said_lines(text)
    for text in (walk.emergency, walk.red_flags, walk.unsure):
        yield from said_lines(text, WARNING)
    for text in (*walk.laid_out, walk.stop, *walk.visit):
        yield from said_lines(text)
    for leg in walk.legs:
        yield ""
        yield from said_lines(leg.heading)
        for text in walk.injection(leg.injection).about if leg.part == "ready" else ():
            yield from said_lines(text)
        for step in walk.steps(leg):
            yield from _step_words(step, speaker)
    yield ""
    for text in (speaker.say("small.heading"), *walk.small):
        yield from said_lines(text)


def _step_words(step: WalkStep, speaker: Speaker) -> Iterator[str]:
    if step.warn is not None:
        yield from said_lines(step.warn, WARNING)
    yield from said_lines(numbered(step.do, step.number, speaker, check=step.check))
    yield from said_lines(step.see, SEEN)


def walk_through(case: CasePlan, night: NightPlan, sheet: Sheet) -> WalkThrough:
    """The walk-through of a page, from the plan of which the page was made. Raises ValueError for a refused case: it has no steps."""
    if case.refused:
        raise ValueError(f"Case {case.case.id} is refused: there is nothing to walk through.")
    speaker = speaker_of(case, night, sheet.language)
    page, pictures = PageMaker(case, night, speaker, sheet.version), _Pictures()
    legs = tuple(page.legs())
    injections = tuple(_injection(one, place, page, legs, pictures) for place, one in enumerate(page.ones, 1))
    emergency, red_flags, unsure = page.cautions()
    drying = (one.taking.technique.drying for one in page.ones if one.taking is not None)
    return WalkThrough(
        schema=SCHEMA,
        case=case.case.id,
        language=sheet.language,
        title=sheet.title,
        draft=sheet.draft,
        version=sheet.version,
        check_word=sheet.check_word,
        standing=tuple(_weighing(sheet.blocks, "sign")),
        who=tuple(page.who()),
        call=page.number(),
        emergency=emergency,
        red_flags=red_flags,
        unsure=unsure,
        first=speaker.say("first.lead"),
        laid_out=page.laid_out(),
        stop=page.stop(),
        visit=tuple(page.visit()),
        drying_seconds=next((seconds for seconds in drying if seconds is not None), None),
        injections=injections,
        legs=tuple(WalkLeg(leg.one.injection.id, "ready" if leg.ready else "give", leg.heading) for leg in legs),
        small=tuple(_weighing(sheet.blocks, "small")),
        pictures=pictures.drawn(),
    )


def _weighing(blocks: tuple[Block, ...], weight: str) -> Iterator[Text]:
    """The paragraphs of one weight, those of cards as well."""
    for block in blocks:
        match block:
            case Paragraph(text) if block.weight == weight:
                yield text
            case Card(inner):
                yield from _weighing(inner, weight)


@dataclass(slots=True)
class _Pictures:
    """Every picture that a step shows, one time, each under a short key."""

    keys: dict[tuple[str, str | None, str | None], str] = field(default_factory=dict)

    def key(self, scene: Seen) -> str:
        assert isinstance(scene, Scene)
        film = moving(scene)
        drawn = (
            drawn_as_svg(scene).text,
            film.text if film is not None else None,
            None if film is not None else rests(scene),
        )
        return self.keys.setdefault(drawn, f"p{len(self.keys)}")

    def drawn(self) -> tuple[WalkPicture, ...]:
        return tuple(WalkPicture(key, *drawn) for drawn, key in self.keys.items())


def _injection(
    one: PlannedInjection, place: int, page: PageMaker, legs: tuple[Leg, ...], pictures: _Pictures
) -> WalkInjection:
    assert one.timed is not None
    assert one.drawn is not None
    at = one.timed.patient
    ready = tuple(_steps(one, "ready", page, pictures))
    return WalkInjection(
        id=one.injection.id,
        place=f"{place}/{page.count}",
        heading=page.heading(one, place),
        medicine=one.injection.drug.name,
        dose=page.dose(one),
        route=page.route(one),
        at=at.utc,
        zone=at.zone.name,
        said=page.when(one),
        clock=page.speaker.each(partial(_clock, at)),
        clinic_clock=page.clinic_clock(one),
        provisional=page.provisional(one),
        lay_out_at=one.times.lay_out.utc if one.times.lay_out is not None else None,
        mix_at=one.times.mix_at.utc if one.times.mix_at is not None else None,
        water=tuple(page.water(one)),
        take=(
            *page.several(one),
            *(text for number, fill in enumerate(one.drawn.fills, 1) for text in page.take(one, fill, number)),
        ),
        about=next(leg.about for leg in legs if leg.one is one and leg.ready),
        boxes=tuple(_questions(one, ready, page)),
        steps=(*ready, *_steps(one, "give", page, pictures)),
        show=_show(one.drawn),
    )


def _clock(at: Moment, spoken: Language) -> Line:
    return line(f"{LARGE}{spoken.clock_time(at)}{LARGE}")


def _steps(one: PlannedInjection, part: Part, page: PageMaker, pictures: _Pictures) -> Iterator[WalkStep]:
    said_and_drawn = zip(
        said_steps(one, part, page.speaker), step_rows(one, page.plan.case, part, page.speaker), strict=True
    )
    for said, row in said_and_drawn:
        seconds = said.step.figures.get("seconds")
        yield WalkStep(
            number=row.number,
            part=part,
            code=said.step.code,
            do=said.do,
            see=said.see,
            warn=said.warn,
            check=row.check,
            box=said.step.code in READ_OFF_THE_BOXES,
            picture=pictures.key(row.picture.seen),
            alt=row.picture.alt,
            seconds=int(seconds) if seconds is not None else None,
            waits="minute" in said.step.figures,
            stuck=Stuck(_phrase(said, "look", page.speaker), _phrase(said, "never", page.speaker)),
        )


def _questions(one: PlannedInjection, ready: tuple[WalkStep, ...], page: PageMaker) -> Iterator[BoxQuestion]:
    for said, step in zip(said_steps(one, "ready", page.speaker), ready, strict=True):
        if step.box:
            ask, expected = _phrase(said, "ask", page.speaker), _phrase(said, "expected", page.speaker)
            yield BoxQuestion(step.code, step.number, ask, expected, step.picture, step.alt)


def _phrase(said: SaidStep, name: str, speaker: Speaker) -> Text:
    """A phrase of the step that the page does not print, in every language of the page."""
    return Text(
        tuple(
            line(phrases(spoken.code)[step.code][name].format(**step.figures))
            for spoken, step in zip(speaker.languages, said.each, strict=True)
        )
    )


def _show(drawn: Drawn) -> ShowBarrel | None:
    """The barrel on which she shows her mark; fills of one dose are all drawn with one kind."""
    measured = [fill for fill in drawn.fills if fill.how is How.MARK]
    if not measured:
        return None
    stops = [fill.volume for fill in measured if fill.volume is not None]
    return show_barrel(barrels()[measured[0].device], stops)
