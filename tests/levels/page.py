"""docs/levels.md, written from the room's own data and from the worked readings of this folder.

Write it anew with `.venv/bin/python -m tests.levels.page`; a test holds it to what would be written now.
"""

from collections.abc import Iterator
from functools import partial
from pathlib import Path

from hourmark.formulary import Sourced
from hourmark.levels import (
    Body,
    Observation,
    about,
    constants,
    disagreements,
    distances,
    expected_hcg,
    falls_below,
    hcg_level,
    limits,
    observations,
    parameter_sets,
    scaled,
)
from tests.levels.people import leg, recombinant, sample, urinary
from tests.levels.worked import WORKED, Worked

PAGE = Path("docs/levels.md")

HEAD = """# Levels

`hourmark levels` reads the results of a blood sample, and strips, against what that dose, route and hour should show. It reports; the
prescriber decides. It never says that an injection was missed: it says what a level shows, inside the hours in which it shows anything.

```
$ .venv/bin/hourmark levels --injection "triptorelin acetate, 0.2 mg, subcutaneous, 17 h" --result "LH 12 IU/L"
```

LH 12 units/L at 17 h is *read with care*: the limit of 15 units/L holds from 8 h to 14 h only.

What is entered: what really went in (the dose given, not the dose ordered), by which route, and either the hours from the injection to the
sample or both clock times with their zone. Units are those that laboratories print: LH and hCG in units/L, IU/L or mIU/mL, which are
the same number; progesterone in ng/mL, mcg/L or ug/L, the same number, or in nmol/L. A unit that is unknown here is refused; a result that no
assay gives, and a sample drawn before the injection, are asked about; nothing is computed from a guess.

A level of what was ordered, and of which nobody knows whether, when or how much of it went in, is *read with care* and asked about: that nobody
reported it is not read as none. A case reads so by itself; the command is told it, and takes everything else that it is told for all that went in:

```
$ .venv/bin/hourmark levels --injection "triptorelin acetate, 0.2 mg, subcutaneous, 12 h" --not-known "hCG, whether" --result "hCG 3 IU/L"
```

hCG 3 units/L is *read with care*: it is not known whether or when the hCG went in. `--not-known` is "medicine, what": the medicine is `hCG`, `agonist` or a
generic name, which stands for its kind; what is not known is `whether` (or when), `how much` or `what`. It is given one time for each kind. It may
stand beside `--injection`, and then speaks of another injection of that kind, or alone. With nothing known to have gone in, no number is read: what
answers for the unknown is asked about (`injection-not-known`, which stops nothing: exit 0), and what answers for neither is noted as it stands.

Each injection is judged alone: LH answers for an agonist, hCG for hCG, progesterone for the ovary. Where sources disagree, every
side is shown; nothing is averaged. Curves and limits are to read results with. No dose is ever derived from them.

This page is written from the program's own data and from its tests, which hold it to them."""


def page() -> str:
    """The whole page."""
    parts = [HEAD, *_limits(), *_curves(), *_table(), *_observed(), *_disagreements(), *_worked()]
    return "\n".join(parts) + "\n"


def _cell(text: object) -> str:
    return str(text).replace("|", "\\|")


def _row(*cells: object) -> str:
    return f"| {' | '.join(_cell(cell) for cell in cells)} |"


def _head(*names: str) -> list[str]:
    return [_row(*names), "|" + "---|" * len(names)]


def _fact(name: str, fact: Sourced[object]) -> str:
    return _row(name, fact.text, fact.why or "", fact.cite())


def _limits() -> Iterator[str]:
    yield "\n## Limits and hours\n"
    yield "Published or derived figures, and no clinic's rule.\n"
    yield from _head("name", "value", "why", "source")
    yield from (_fact(name, fact) for name, fact in limits().items())


def _curves() -> Iterator[str]:
    yield "\n## Curves\n"
    yield (
        "hCG after a dose D: C(t) = D / (V/F) x ka / (ka - ke) x (exp(-ke t) - exp(-ka t)), one compartment with first-order absorption. "
        "LH after one\nagonist injection: base + rate x t x exp(-t / time). Progesterone after hCG: top x exp(-displacement x exp(-rate t)). "
        "The band around a curve\nholds the middle 95 of 100 people. Recombinant hCG has two sets because papers differ; both are shown.\n"
    )
    yield from _head("constant", "value", "why", "source")
    yield from (_fact(name, fact) for name, fact in constants().items())


_HOURS = (1, 2, 4, 8, 10, 12, 24, 36, 48, 84, 120, 168, 240, 336)


def _table() -> Iterator[str]:
    yield "\n## Expected levels\n"
    yield "The middle of each curve in units/L, for a body of 65 kg.\n"
    names = (
        "250 mcg, half-life 29 h",
        "250 mcg, half-life 38.5 h",
        "10,000 units, muscle",
        "10,000 units, skin",
        "5,000 units, muscle",
    )
    yield from _head("hours", *names)
    for hours in _HOURS:
        after = f"{hours} h"
        legs = (
            urinary("10,000 units", after),
            urinary("10,000 units", after, "subcutaneous"),
            urinary("5,000 units", after),
        )
        levels = [one.median for one in expected_hcg([recombinant(after)], Body())]
        levels += [expected_hcg([one], Body())[0].median for one in legs]
        yield _row(hours, *(f"{level:.1f}" for level in levels))
    first, second, muscle, skin = (scaled(one, None) for one in parameter_sets())
    cases = ((6500, first), (6500, second), (10_000, muscle), (10_000, skin), (5_000, muscle))
    for limit in (25, 5):
        days = (falls_below(partial(hcg_level, dose, *one), limit) for dose, one in cases)
        yield _row(f"stays below {limit} from", *(f"{hour / 24:.1f} days" for hour in days if hour is not None))


def _observed() -> Iterator[str]:
    yield "\n## What was published, and how far each curve is from it\n"
    yield (
        "*Held* marks what a curve has to meet within a quarter, at every hour of the span; *at least* is held as that. The others are shown with their distance: (curve - "
        "seen) / seen,\nwhere it is farthest.\n"
    )
    yield from _head("analyte", "who", "hours", "seen", "spread", "curve", "distance", "held", "source")
    for one in observations():
        rows = list(distances(one))
        for near in rows:
            span = about(near.least) if near.least == near.most else f"{about(near.least)} to {about(near.most)}"
            yield _observation(one, f"{span}, {near.about}", near.percent)
        if not rows:
            yield _observation(one, "none", "")


def _observation(one: Observation, curve: str, off: str) -> str:
    hours = f"{one.hours} to {one.until}" if one.until is not None else str(one.hours)
    seen = f"{one.statistic} {one.level.text}"
    held = "held" if one.compared else ""
    return _row(one.analyte, one.about, hours, seen, one.spread or "", curve, off, held, one.level.cite())


def _disagreements() -> Iterator[str]:
    yield "\n## Where sources disagree\n"
    yield from _head("question", "one says", "source")
    for one in disagreements():
        for place, side in enumerate(one.sides):
            yield _row("" if place else one.about, side.value, side.cite())


def _worked() -> Iterator[str]:
    yield "\n## Worked readings\n"
    yield from _head(
        "", "injections, time to the sample", "results", "also known", "each injection's answer", "findings", "source"
    )
    for one in WORKED:
        found = sample(
            one.results, *map(leg, one.injections), bmi=one.bmi, before=one.before, unreported=one.unreported
        )
        says = "; ".join(str(answer.says) for answer in found.legs)
        codes = ", ".join(sorted({f"`{finding.code}`" for finding in found.findings}))
        yield _row(one.id, "; ".join(one.injections), one.results, _also(one), says, codes, one.source)


def _also(one: Worked) -> str:
    known = [f"body-mass index {one.bmi}"] * bool(one.bmi) + [f"before: {one.before}"] * bool(one.before)
    known += [f"{name} ordered, and not reported" for name in one.unreported]
    return ", ".join(known)


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
