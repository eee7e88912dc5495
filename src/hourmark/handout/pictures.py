"""The pictures of a page: from a planned fill or a step to what is drawn, and the steps said beside them."""

import re
from dataclasses import dataclass, replace
from fractions import Fraction
from string import ascii_uppercase

from hourmark.dose import Fill, How
from hourmark.dose.steps import Step, steps
from hourmark.formulary import Barrel, barrels
from hourmark.handout.content import LARGE, Picture, StepRow, Text, line
from hourmark.handout.language import Language, Speaker
from hourmark.handout.scene import NeedleSeen, Scene, SyringeSeen
from hourmark.order import Case
from hourmark.plan import PlannedInjection


@dataclass(frozen=True, slots=True)
class SaidStep:
    """A step of the page's own language, its words in every language of the page, and the same step in each of them."""

    step: Step
    do: Text
    see: Text
    warn: Text | None
    each: tuple[Step, ...]


def said_steps(one: PlannedInjection, part: str, speaker: Speaker) -> tuple[SaidStep, ...]:
    """The steps of one part, "ready" or "give", said in every language of the page."""
    by_language = [[step for step in _steps_in(one, spoken) if step.part == part] for spoken in speaker.languages]
    return tuple(_said(same) for same in zip(*by_language, strict=True))


def _steps_in(one: PlannedInjection, spoken: Language) -> tuple[Step, ...]:
    assert one.taking is not None
    assert one.timed is not None
    return steps(replace(one.taking, minute=spoken.clock_time(one.timed.patient)), spoken.code)


def _said(same: tuple[Step, ...]) -> SaidStep:
    first = same[0]
    return SaidStep(
        first,
        Text(tuple(line(_enlarged(step.do, step)) for step in same)),
        Text(tuple(line(_enlarged(step.see, step)) for step in same)),
        Text(tuple(line(_enlarged(step.warn or "", step)) for step in same)) if first.warn else None,
        same,
    )


_READ_ON_THE_WAY = ("mark", "water", "volume", "minute")
"""The figures of a step at which somebody stops: a mark, an amount of water, everything, a clock time."""


def _enlarged(words: str, step: Step) -> str:
    for name in _READ_ON_THE_WAY:
        if figure := step.figures.get(name):
            words = words.replace(figure, f"{LARGE}{figure}{LARGE}")
    return words


def step_rows(one: PlannedInjection, case: Case, part: str, speaker: Speaker) -> tuple[StepRow, ...]:
    """The steps of one part as they are printed: numbered from 1, their pictures lettered from A."""
    return tuple(
        _row(number, said, _scene(said.step, one, case), speaker)
        for number, said in enumerate(said_steps(one, part, speaker), 1)
    )


def _row(number: int, said: SaidStep, scene: Scene, speaker: Speaker) -> StepRow:
    return StepRow(
        number=number,
        do=numbered(said.do, number, speaker, check=said.step.check),
        see=said.see,
        warn=said.warn,
        check=said.step.check,
        picture=Picture(scene, speaker.first.word("alt.step", text=said.step.do)),
        letter=speaker.say("step.picture", letter=letter(number)),
        digits=_digits(said.step),
    )


def _digits(step: Step) -> str:
    """The step's figure in digits and in signs that every language writes alike."""
    for name, sign in (("seconds", "s"), ("pumps", "×")):
        if name in step.figures:
            return f"{step.figures[name]} {sign}"
    needles = dict.fromkeys((needle.gauge, needle.length_mm) for needle in step.shown.needles)
    if step.code in _NEEDLE_STEPS:
        return ", ".join(f"{gauge} G {length} mm" for gauge, length in needles)
    return ""


_NEEDLE_STEPS = ("needles-check", "mixing-needle", "drawing-needle", "needle-change", "needle-changed-check")
"""Steps at which a needle is chosen."""


def numbered(text: Text, number: int, speaker: Speaker, *, check: bool) -> Text:
    """What is done in a step, with its number before it, and that it is a check where it is one."""
    key = "step.check" if check else "step.do"
    return Text(
        tuple(
            (*line(spoken.word(key, text="", number=number)), *words)
            for spoken, words in zip(speaker.languages, text.lines, strict=True)
        )
    )


def letter(number: int) -> str:
    """The letter of the picture beside a step: A to Z, then AA, AB and so on."""
    letters = ""
    while number:
        number, place = divmod(number - 1, len(ascii_uppercase))
        letters = ascii_uppercase[place] + letters
    return letters


def _scene(step: Step, one: PlannedInjection, case: Case) -> Scene:
    assert one.taking is not None
    assert one.timed is not None
    needles = tuple(NeedleSeen(needle.gauge, Fraction(needle.length_mm)) for needle in step.shown.needles)
    angle = one.taking.technique.angle
    wall = one.timed.patient.wall
    return Scene(
        picture=step.picture,
        barrel=step.shown.barrel,
        at=step.shown.at,
        needle=needles[0] if needles else None,
        needles=needles,
        clock=(wall.hour, wall.minute) if step.picture == "clock" else None,
        angle=int(angle) if angle and re.fullmatch(r"\d+", angle) else None,
        view=step.view,
        left_handed=(case.left_handed and step.mirrored) != step.shown.other_side,
    )


_DEVICE_MM, _SYRINGE_MM = 38, 130
"""How wide a prefilled syringe or a bottle, and a syringe with its scale, is drawn on the front of the page (our own layout)."""


def device_picture(fill: Fill, speaker: Speaker) -> Picture:
    """The syringe or bottle of one fill, for the front of the page: not to scale, with the stopper where it must stop."""
    spoken = speaker.first
    if fill.how in (How.SYRINGE, How.SPRAY):
        name, alt = ("prefilled-syringe", "prefilled") if fill.how is How.SYRINGE else ("nasal-bottle", "nasal")
        return Picture(Scene(name), spoken.word(f"alt.{alt}"), size=_DEVICE_MM)
    barrel = barrels()[fill.device]
    assert fill.volume is not None
    alt = (
        spoken.word("alt.syringe", mark=mark_words(fill, barrel, spoken))
        if fill.how is How.MARK
        else spoken.word("alt.everything", volume=fill.volume)
    )
    caption = speaker.say("size.not-true" if fill.how is How.MARK else "size.about")
    return Picture(SyringeSeen(barrel, fill.volume), alt, caption, _SYRINGE_MM)


def mark_words(fill: Fill, barrel: Barrel, spoken: Language) -> str:
    """A mark as the barrel has it: "mark 80" or "0.8 mL"."""
    return spoken.part("mark-u100" if barrel.on_u100 else "mark-ml", mark=fill.mark)
