"""No answer proposes a drug, dose, route or lead that is not in the signed order: the whole text of any answer is searched.

Amounts of a drug may stand in an answer where it repeats the order, the kit, the caller, or says what went in, what is held or what is
left; in whatever tells somebody to do something, only the order's own.
"""

import json
import re
from typing import Any

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from hourmark.cli.trouble import show, trouble_json
from hourmark.dose import Vial
from hourmark.formulary import drugs
from hourmark.incident import Answer, AnswerForm, Kind, questions
from hourmark.order import ROUTES, After, Lead
from tests.exchange.nights import NASAL, POWDER, PREFILLED, SOLUTION, WHOLE
from tests.incident.trouble import REPEAT, TWO, call, plan, with_window
from tests.laws.strategies import law

BASES = {
    "powder": POWDER,
    "solution": SOLUTION,
    "whole": WHOLE,
    "prefilled": PREFILLED,
    "nasal": NASAL,
    "two": TWO,
    "repeat": REPEAT,
    "wide": with_window("33 h", "39 h"),
}
AMOUNT = re.compile(r"\d[\d,]*(?:\.\d+)? (?:units?|mg|mcg)\b")
ANY_AMOUNT = re.compile(r"\d[\d,]*(?:\.\d+)? (?:units?|mg|mcg|mL|%)")

POOL: dict[AnswerForm, tuple[str, ...]] = {
    AnswerForm.YES_NO: ("yes", "no", "not known", "perhaps"),
    AnswerForm.INJECTION: ("first", "agonist", "repeat", "nobody"),
    AnswerForm.TIME: (
        "2026-11-18 21:00",
        "2026-11-18 17:10",
        "2026-11-19 01:00",
        "2026-11-18 20:30 to 2026-11-18 22:10",
        "2026-11-17 21:00",
        "2026-11-19 23:00",
        "not known",
        "at nine",
    ),
    AnswerForm.TIMES: ("2026-11-20 12:30", "2026-11-20 08:00, 2026-11-20 13:00, 2026-11-21 09:00", "2026-11-18 09:00"),
    AnswerForm.VOLUME: ("0 mL", "0.1 mL", "0.3 mL", "0.5 to 0.9 mL", "1 mL", "10 mL", "50 mL", "not known", "0.30 mL"),
    AnswerForm.LOSS: ("none", "a third to a half", "0.05 mL", "10 %", "all", "5 mL", "some"),
    AnswerForm.MARK: ("30", "5 to 10", "80", "300", "not known"),
    AnswerForm.BARREL: ("mL-3-0.1", "u100-0.5mL-1", "mL-10-0.2", "a big one"),
    AnswerForm.STRENGTH: ("5,000 units", "10,000 units", "250 mcg", "5 mg/mL", "0.5 mg/mL", "5000 IU"),
    AnswerForm.ROUTE: (*ROUTES, "arm"),
    AnswerForm.COUNT: ("0", "1", "2", "1 to 3", "many"),
    AnswerForm.TEXT: (
        *("ganirelix", "triptorelin acetate", "chorionic gonadotropin", "leuprolide acetate"),
        *("on the heater", "not known"),
    ),
}


@st.composite
def calls(draw: st.DrawFn) -> tuple[Kind, str, dict[str, str], str]:
    """Any kind, night and set of answers, sensible or not, at any moment of the night or the morning after."""
    kind = draw(st.sampled_from(list(Kind)))
    base = draw(st.sampled_from(sorted(BASES)))
    asked = [one for one in questions(kind) if draw(st.integers(0, 9)) < (9 if one.needed else 3)]
    said = {one.key: draw(st.sampled_from(POOL[one.form])) for one in asked if one.key != "symptoms"}
    now = draw(st.sampled_from(["2026-11-18 18:00", "2026-11-18 21:40", "2026-11-19 02:00", "2026-11-19 08:00"]))
    return kind, base, said, now


def texts(thing: Any) -> str:
    return json.dumps(thing, ensure_ascii=False)


def without_citations(answer: dict[str, Any]) -> dict[str, Any]:
    """The answer without the names of sources, the caller's words, and how an answer that cannot be read is to be written."""
    findings = [
        {key: words for key, words in one.items() if key != "source"}
        for one in answer["findings"]
        if one["code"] != "trouble-unreadable"
    ]
    return {key: value for key, value in answer.items() if key not in ("said", "questions")} | {"findings": findings}


def told_to_do(answer: dict[str, Any]) -> str:
    """Everything in an answer that somebody could act on."""
    told = [answer["first"], [one["do"] for one in answer["findings"] if one["code"] != "trouble-unreadable"]]
    return texts([told, answer["proposals"], answer["common_starts"], [leg["starts"] for leg in answer["legs"]]])


def allowed(base: str, said: dict[str, str], found: Answer) -> set[str]:
    """The amounts of a drug that may stand somewhere: ordered, at home, said, and what was found of what went in or is left."""
    words = [BASES[base], *said.values()]
    for leg in found.legs:
        instead = leg.another.amount if leg.another is not None else None
        ranges = (leg.given, leg.holds, leg.left.dose, instead)
        words += [str(end) for one in ranges if one is not None for end in (one.least, one.most)]
        words += [step.result for step in leg.working]
    words += [str(box.product.content) for box in plan(BASES[base]).case.kit.products]
    words += [str(one.source.concentration) for one in plan(BASES[base]).injections if isinstance(one.source, Vial)]
    words += [one.do for one in found.findings if one.code == "trouble-unreadable"]
    return {match for text in words for match in AMOUNT.findall(text)} | {"0 units", "0 mg", "0 mcg"}


@law(1200)
@given(calls())
def test_nothing_outside_the_signed_order_is_proposed(call_of: tuple[Kind, str, dict[str, str], str]) -> None:
    kind, base, said, now = call_of
    found = call(kind, said, base=BASES[base], now=now)
    answer = trouble_json(found)
    order = plan(BASES[base]).case.order

    assert found.said == tuple(({"symptoms": "no"} | said).items())
    whole = texts(without_citations(answer))
    assert set(AMOUNT.findall(whole)) <= allowed(base, said, found), whole

    doing = told_to_do(answer)
    assert not ANY_AMOUNT.findall(doing), doing
    names = {one.drug.name for one in order.injections}
    for name in drugs():
        if name not in names and not any(name in words.lower() for words in (*said.values(), BASES[base])):
            assert name not in whole.lower(), name
    for name in drugs():
        assert name in names or name not in doing.lower() or "ganirelix" in name, (name, doing)
    routes = {one.route for one in order.injections}
    for route in ROUTES:
        if route not in routes and route not in said.values():
            assert route not in whole.replace("nasal spray", ""), route

    injections = {one.id: one for one in order.injections}
    for leg in found.legs:
        timing = injections[leg.injection.id].timing
        assert leg.injection == injections[leg.injection.id]
        if leg.slots is None:
            continue
        assert isinstance(timing, Lead)
        assert timing.window is not None
        assert leg.lead is not None
        first, last = leg.lead.at
        for start in (leg.slots.earliest, leg.slots.latest, *(one.at for one in leg.slots.open)):
            if start is not None:
                assert timing.window[0] <= start - last <= start - first <= timing.window[1]
        assert (leg.slots.restored[0] - first, leg.slots.restored[1] - last) == (timing.lead, timing.lead)
    for one in found.proposals:
        later = injections[one.injection.id].timing
        assert isinstance(later, After)
        given_leg = found.legs[0]
        assert given_leg.lead is not None
        assert [end - start for end, start in zip(one.at, given_leg.lead.at, strict=True)] == [later.gap, later.gap]


@law(60)
@given(calls())
def test_the_words_for_people_say_no_more(call_of: tuple[Kind, str, dict[str, str], str]) -> None:
    kind, base, said, now = call_of
    found = call(kind, said, base=BASES[base], now=now)
    shown = shown_text(found)
    uncited = "\n".join(line for line in shown.splitlines() if not line.startswith("  Source:"))
    assert set(AMOUNT.findall(uncited)) <= allowed(base, said, found)
    assert "For staff only; the prescriber decides." in shown
    for key, words in said.items():
        assert f"  {key} = {words}" in shown


def shown_text(found: Answer) -> str:
    import click

    @click.command()
    def printed() -> None:
        show(found)

    result = CliRunner().invoke(printed, [])
    assert result.exception is None, result.exception
    return result.output


@pytest.mark.parametrize("kind", list(Kind))
def test_danger_comes_before_any_number(kind: Kind) -> None:
    """A sign of danger, beside answers that could all be computed: the emergency services, and nothing else."""
    said = {one.key: POOL[one.form][0] for one in questions(kind)} | {"symptoms": "yes"}
    found = call(kind, said, base=TWO)
    assert found.emergency
    assert [one.code for one in found.findings] == ["trouble-danger"]
    assert (found.legs, found.proposals, found.spare, found.working) == ((), (), (), ())
    assert found.said == tuple(said.items())
    assert found.first[0].startswith("Emergency services now")
    assert not ANY_AMOUNT.findall(texts([list(found.first), [one.do for one in found.findings]]))
