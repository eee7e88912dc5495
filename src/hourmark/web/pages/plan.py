"""The plan: minutes, marks, what else would be possible, what could go wrong, and where every number comes from. For staff."""

from typing import Any
from urllib.parse import quote

from django.http import HttpResponse

from hourmark.case.state import CaseState
from hourmark.desk.made import Planned, plan_of
from hourmark.exchange.answers import case_json
from hourmark.finding import Level, stops
from hourmark.handout.content import Picture, StepRow, Steps
from hourmark.handout.drawing import drawn_as_svg
from hourmark.plan import MixRow
from hourmark.web.work import Work, case_page


@case_page("GET", shows_plan=True)
def plan(work: Work, state: CaseState) -> HttpResponse:
    """The page. Whoever opens it is on the record, and cannot check this case blind until it changes."""
    made = plan_of(state, work.states.rules(), work.now)
    planned, findings = (made, made.findings) if isinstance(made, Planned) else (None, made)
    return work.page(
        "plan",
        state=state,
        planned=planned,
        plan_findings=findings,
        stopped=stops(findings),
        plan_json=_in_full(planned) if planned else None,
        drawings=_drawings(planned) if planned and not planned.case.refused else [],
        blocks=planned.made.blocks if planned else (),
    )


def _in_full(planned: Planned) -> dict[str, Any]:
    """The plan's own answers, and beside each mix that cannot be given why not."""
    answers = case_json(planned.case)
    for one, injection in zip(answers["injections"], planned.case.injections, strict=True):
        for row, mix in zip(one["mixes"], injection.mixes, strict=True):
            row["why_not"] = _why_not(mix)
    return answers


def _why_not(row: MixRow) -> str:
    """Why a mix cannot be given with a syringe, the rule before the mark; empty where it can."""
    if not row.part_allowed:
        return "a part of it needs a signed rule"
    stopped = [one for one in row.drawn.findings if one.level is Level.STOP]
    if not stopped:
        return ""
    return "between lines" if stopped[0].code == "mark-between" else stopped[0].what


def _drawings(planned: Planned) -> list[dict[str, str]]:
    """The syringes of the front page, each at its mark."""
    return [
        {"alt": picture.alt, "source": as_source(picture)}
        for glance in planned.sheet.glances
        for _, picture in glance.devices
    ]


def as_source(picture: Picture) -> str:
    """A drawing as the source of an image, so that it needs no style of the page."""
    return f"data:image/svg+xml,{quote(drawn_as_svg(picture.seen).text)}"


def steps_of(planned: Planned) -> list[StepRow]:
    """The steps of the page, in order."""
    rows: list[StepRow] = []
    for block in planned.sheet.blocks:
        if isinstance(block, Steps):
            rows += block.rows
    return rows
