"""The walk-through says what the page says: the same minutes, doses, marks and steps, and nothing that the page must not say.

Outside figures are read against: AMA and NIH as cited in CORR 2014 (reading at grade 6 or lower), by the automated readability index (Smith
and Senter 1967) and the Coleman-Liau index (1975); Szigriszt-Pazos 1993 on the INFLESZ scale (2008, from memory); U-100 means 100 marks to the
millilitre (ISO 8537); the IANA time data through the standard library's zoneinfo.
"""

import datetime as dt
import json
import re
import tomllib
from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from hourmark.dose import How
from hourmark.dose.steps import phrases
from hourmark.exchange import read_night
from hourmark.exchange.checked import page_rechecked
from hourmark.exchange.prints import PageRefused, released_pages
from hourmark.formulary import Barrel, barrels
from hourmark.handout import Released, patient_sheet
from hourmark.handout.content import Heading, Sheet, Steps, Text, plain
from hourmark.handout.drawing import drawn_as_svg
from hourmark.handout.scene import Scene
from hourmark.handout.show import practice_mark, show_barrel
from hourmark.handout.walk import WalkInjection, WalkThrough, walk_bytes, walk_from, walk_through, walk_words
from hourmark.ledger import canonical
from hourmark.order import Night
from hourmark.order.technique import UNSIGNED_TECHNIQUE
from hourmark.plan import CasePlan, NightPlan, plan_night
from hourmark.quantity import Volume
from tests.exchange.nights import SOLUTION
from tests.handout.paper import ROOT, case_of, planned
from tests.handout.test_drawing import BARRELS, marks
from tests.handout.test_pdf import AT
from tests.handout.test_words import measured_words, spanish_syllables

ORDINARY = [case.case.id for case in planned("ordinary-night").cases]
NIGHTS = ("ordinary-night", "clocks-go-back", "travellers", "refusals")
TWO = Released("A. Kowal", "2026-11-18 16:20", "L. Ortiz")


@cache
def walk(case_id: str, language: str = "en", night: str = "ordinary-night") -> WalkThrough:
    case, plan = case_of(night, case_id)
    return walk_through(case, plan, patient_sheet(case, plan, language, version=1, released=TWO))


def walks(language: str) -> Iterator[tuple[CasePlan, NightPlan, Sheet, WalkThrough]]:
    for name in NIGHTS:
        plan = planned(name)
        for case in plan.cases:
            if not case.refused:
                sheet = patient_sheet(case, plan, language)
                yield case, plan, sheet, walk_through(case, plan, sheet)


def texts(thing: Any) -> Iterator[Text]:
    """Every text of a walk-through, wherever it stands."""
    if isinstance(thing, Text):
        yield thing
    elif isinstance(thing, tuple):
        for inner in thing:
            yield from texts(inner)
    elif hasattr(thing, "__slots__"):
        for name in thing.__slots__:
            yield from texts(getattr(thing, name))


def words(thing: Any) -> str:
    return "\n".join(plain(said) for text in texts(thing) for said in text.lines)


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("case_id", ORDINARY)
def test_minute_dose_and_mark_are_those_of_the_plan(case_id: str, language: str) -> None:
    case, _ = case_of("ordinary-night", case_id)
    found = walk(case_id, language)
    assert {one.id for one in found.injections} == {one.injection.id for one in case.injections}
    for planned_one in case.injections:
        one = found.injection(planned_one.injection.id)
        assert planned_one.timed is not None
        assert planned_one.drawn is not None
        assert planned_one.box is not None
        at = planned_one.timed.patient
        assert (one.at, one.zone) == (at.utc, at.zone.name)
        assert f"({at.wall:%H:%M})" in str(one.said)
        assert f"({at.wall:%H:%M})" in str(one.clock)
        assert str(planned_one.injection.dose).split()[0] in str(one.dose)
        assert one.medicine == planned_one.injection.drug.name
        for fill in planned_one.drawn.fills:
            assert any(str(fill.mark or fill.sprays or fill.volume) in str(text) for text in one.take)
        assert bool(one.water) == (planned_one.diluent is not None)
        measured = [fill for fill in planned_one.drawn.fills if fill.how is How.MARK]
        if not measured:
            assert one.show is None
            continue
        assert one.show is not None
        assert one.show.barrel == measured[0].device
        assert [(stop.mark, stop.volume) for stop in one.show.stops] == [(str(f.mark), str(f.volume)) for f in measured]


@pytest.mark.parametrize("language", ["en", "es"])
def test_the_steps_are_the_pages_in_its_order_with_its_numbers_words_and_pictures(language: str) -> None:
    seen = 0
    for _, _, sheet, found in walks(language):
        parts = [block for block in sheet.blocks if isinstance(block, Steps)]
        headings = [
            next(one.text for one in reversed(sheet.blocks[:place]) if isinstance(one, Heading))
            for place, block in enumerate(sheet.blocks)
            if isinstance(block, Steps)
        ]
        assert [leg.heading for leg in found.legs] == headings
        for leg, part in zip(found.legs, parts, strict=True):
            steps = found.steps(leg)
            assert len(steps) == len(part.rows)
            for step, row in zip(steps, part.rows, strict=True):
                seen += 1
                assert (step.number, step.check, step.see, step.warn, step.alt) == (
                    row.number, row.check, row.see, row.warn, row.picture.alt
                )  # fmt: skip
                for said, printed in zip(step.do.lines, row.do.lines, strict=True):
                    assert printed[-len(said) :] == said
                    assert plain(printed).startswith(f"{step.number}. ")
                drawing = found.picture(step.picture)
                assert isinstance(row.picture.seen, Scene)
                assert drawing.still == drawn_as_svg(row.picture.seen).text
                assert (drawing.moving is None) != (drawing.rests is None)
    assert seen > 300


def test_medicines_of_one_minute_are_all_got_ready_before_the_first_is_given() -> None:
    assert [(leg.injection, leg.part) for leg in walk("K-103").legs] == [
        ("agonist", "ready"), ("hcg", "ready"), ("agonist", "give"), ("hcg", "give"),
    ]  # fmt: skip
    apart = walk("K-105").legs
    assert [leg.part for leg in apart] == ["ready", "give", "ready", "give"]


def test_the_four_things_are_asked_before_anything_is_opened() -> None:
    powder = walk("K-104").injection("hcg")
    assert [question.code for question in powder.boxes] == [
        "medicine-check", "water-check", "syringe-check", "needles-check",
    ]  # fmt: skip
    assert [str(question.expected) for question in powder.boxes] == [
        "chorionic gonadotropin, 10,000 units",
        "bacteriostatic water",
        "Largest number: 1 mL. Lines: every 0.01 mL.",
        "20 gauge, 38 mm to mix; 20 gauge, 38 mm to draw up; 30 gauge, 13 mm to inject",
    ]
    (prefilled,) = walk("K-108").injections[0].boxes
    assert (prefilled.code, str(prefilled.expected)) == ("medicine-check", "choriogonadotropin alfa, 250 mcg")
    assert [str(question.expected) for question in walk("K-107").injections[0].boxes] == ["nafarelin, 200 mcg", "2"]


@pytest.mark.parametrize("language", ["en", "es"])
def test_every_box_question_holds_its_expected_words_and_is_a_step(language: str) -> None:
    for case, _, _, found in walks(language):
        for one in found.injections:
            (box,) = [this.box for this in case.injections if this.injection.id == one.id]
            assert box is not None
            assert one.boxes
            assert [question.step for question in one.boxes] == list(range(1, len(one.boxes) + 1))
            assert [step.code for step in one.steps if step.box] == [question.code for question in one.boxes]
            assert box.strength.split()[0] in str(one.boxes[0].expected)
            for question in one.boxes:
                for ask, expected in zip(question.ask.lines, question.expected.lines, strict=True):
                    assert plain(expected) in plain(ask)
                    assert plain(ask).endswith("?")


def test_what_lasts_lasts_as_signed_and_what_nobody_signed_has_no_seconds() -> None:
    """The demo clinic has signed 60 seconds to dissolve, 10 to wait and 30 to dry; the label of the nasal spray read here gives none."""
    found = walk("K-103")
    assert {(step.code, step.seconds) for one in found.injections for step in one.steps if step.seconds} == {
        ("dissolve", 60), ("skin-dry", 30), ("wait", 10),
    }  # fmt: skip
    assert found.drying_seconds == 30
    case, plan = case_of("ordinary-night", "K-103")
    bare = replace(
        case,
        injections=tuple(
            replace(one, taking=replace(one.taking, technique=UNSIGNED_TECHNIQUE)) if one.taking else one
            for one in case.injections
        ),
    )
    unsigned = walk_through(bare, plan, patient_sheet(bare, plan))
    assert not [step for one in unsigned.injections for step in one.steps if step.seconds is not None]
    assert unsigned.drying_seconds is None
    codes = {step.code for one in unsigned.injections for step in one.steps}
    assert {"dissolve-unsigned", "wait-unsigned", "skin-unsigned"} <= codes


def test_only_the_step_that_waits_for_the_clock_waits() -> None:
    for case_id in ORDINARY:
        for one in walk(case_id).injections:
            waiting = [step for step in one.steps if step.waits]
            assert len(waiting) == 1
            assert (waiting[0].part, waiting[0].number) == ("give", 1)
            assert str(one.clock) in str(waiting[0].do)


@pytest.mark.parametrize("language", ["en", "es"])
def test_no_misstep_no_tolerance_and_no_other_case_in_it(language: str) -> None:
    ids = {case.case.id for name in NIGHTS for case in planned(name).cases}
    for case, _, _, found in walks(language):
        said = words(found) + found.title + " ".join(step.alt for one in found.injections for step in one.steps)
        stored = walk_bytes(found).decode()
        for other in ids - {case.case.id}:
            assert not re.search(rf"\b{re.escape(other)}\b", stored)
        assert "%" not in said
        keys = set(re.findall(r'"([a-z_]+)":', stored))
        assert not {key for key in keys if re.search("misstep|toleran|share|given", key)}
        ordered = {str(one.injection.dose) for one in case.injections}
        strengths = {one.box.strength for one in case.injections if one.box}
        for one in case.injections:
            for misstep in one.missteps:
                assert misstep.how not in stored
                given = str(misstep.given)
                if given not in ordered | strengths and misstep.given.value:
                    assert not re.search(rf"(?<![\d.,]){re.escape(given)}\b(?!/)", said), (case.case.id, misstep.code)


def test_the_barrel_has_its_printed_lines_and_nothing_about_other_places() -> None:
    show = walk("K-103").injection("agonist").show
    assert show is not None
    table: Any = json.loads(walk_bytes(walk("K-103")))["injections"][0]["show"]
    assert set(table) == {"barrel", "capacity", "step", "scale", "needle_fixed", "lines", "stops"}
    assert set(table["lines"][0]) == {"mark", "volume", "numbered"}
    assert (show.scale, show.capacity, show.step, show.needle_fixed) == ("marks", "1 mL", "0.01 mL", True)
    assert [line.mark for line in show.lines] == [str(number) for number in range(1, 101)]
    assert [line.mark for line in show.lines if line.numbered] == [str(number) for number in range(10, 101, 10)]
    for line in show.lines:
        assert Decimal(line.volume.removesuffix(" mL")) * 100 == Decimal(line.mark)
    millilitres = show_barrel(barrels()["mL-3-0.1"], [])
    assert (millilitres.scale, millilitres.stops) == ("mL", ())
    assert [line.mark for line in millilitres.lines if line.numbered] == ["0.5", "1", "1.5", "2", "2.5", "3"]


def test_several_fills_have_a_stop_each(tmp_path: Path) -> None:
    path = tmp_path / "night.toml"
    path.write_text(SOLUTION.replace('dose = "4 mg"', 'dose = "8 mg"'), encoding="utf-8")
    night = read_night(path)
    assert isinstance(night, Night)
    plan = plan_night(night)
    (case,) = plan.cases
    assert not case.refused
    (one,) = walk_through(case, plan, patient_sheet(case, plan)).injections
    assert one.show is not None
    # 8 mg of 5 mg/mL are 1.6 mL; a barrel of 1 mL takes it in two times 0.8 mL
    assert [(stop.mark, stop.volume) for stop in one.show.stops] == [("80", "0.8 mL"), ("80", "0.8 mL")]
    assert "in 2 injections" in str(one.take[0])


@pytest.mark.parametrize("code", ["en", "es"])
def test_every_step_has_words_for_who_is_stuck_without_a_figure(code: str) -> None:
    for step, entry in phrases(code).items():
        for name in ("look", "never"):
            assert entry[name].endswith("."), step
            assert not re.search(r"[0-9{}*]", entry[name]), step
            assert not re.search(
                r"\b(repeat\w*|again|doses?|units?|double|repit\w+|otra vez|dosis|unidad\w*|doble)\b",
                entry[name], re.IGNORECASE,
            ), step  # fmt: skip
        assert re.search(r"\b(Do not|do not|No|no)\b", entry["never"]), step
    for one in walk("K-103", code).injections:
        for at in one.steps:
            assert str(at.stuck.look) == phrases(code)[at.code]["look"]
            assert str(at.stuck.never) == phrases(code)[at.code]["never"]


def test_only_what_is_read_off_a_box_is_asked() -> None:
    for code in ("en", "es"):
        asked = {step for step, entry in phrases(code).items() if "ask" in entry}
        assert asked == {"medicine-check", "water-check", "syringe-check", "needles-check", "sprays-check"}
        assert asked == {step for step, entry in phrases(code).items() if "expected" in entry}


def stuck_words(code: str) -> str:
    return "\n".join(f"{entry['look']}\n{entry['never']}" for entry in phrases(code).values())


def test_the_words_for_who_is_stuck_are_grade_6_or_lower_by_two_formulas() -> None:
    said, sentences = measured_words(stuck_words("en"))
    letters = sum(map(len, said))
    assert 4.71 * letters / len(said) + 0.5 * len(said) / sentences - 21.43 <= 6
    assert 5.88 * letters / len(said) - 29.6 * sentences / len(said) - 15.8 <= 6
    assert max(len(one.split()) for one in re.split(r"(?<=[.:])\s", stuck_words("en"))) <= 15


def test_the_spanish_words_for_who_is_stuck_are_fairly_easy_or_better() -> None:
    said, sentences = measured_words(stuck_words("es"))
    syllables = sum(map(spanish_syllables, said))
    assert 206.835 - 62.3 * syllables / len(said) - len(said) / sentences >= 65


@pytest.mark.parametrize("case_id", ORDINARY)
def test_the_english_walk_through_reads_like_the_page(case_id: str) -> None:
    found = walk(case_id)
    said = [*(step for one in found.injections for step in one.steps), found.red_flags, found.unsure, found.emergency]
    counted, sentences = measured_words(words(tuple(said)))
    letters = sum(map(len, counted))
    assert 4.71 * letters / len(counted) + 0.5 * len(counted) / sentences - 21.43 <= 6
    assert 5.88 * letters / len(counted) - 29.6 * sentences / len(counted) - 15.8 <= 6


@pytest.mark.parametrize("language", ["en", "es"])
def test_nothing_is_left_to_fill_in(language: str) -> None:
    for _, _, _, found in walks(language):
        assert not re.search(r"[{}]|\bNone\b|\*\*|[\ue000-\uf8ff]", words(found))
        assert all(text.lines and all(map(plain, text.lines)) for text in texts(found))


def test_what_is_acted_on_is_large() -> None:
    agonist = walk("K-103").injection("agonist")
    push = next(step for step in agonist.steps if step.code == "push-to-mark")
    assert [run.text for run in push.do.lines[0] if run.large] == ["mark 80"]
    assert [run.text for run in agonist.clock.lines[0] if run.large] == ["9:00 pm (21:00)"]
    assert [run.text for run in agonist.dose.lines[0] if run.large] == ["4 mg"]


def test_before_it_begins_it_says_what_keeps_from_injecting_and_whom_to_ring() -> None:
    found = walk("K-103")
    assert "do not inject yet" in str(found.red_flags)
    for sign in ("strong lower belly pain", "fast weight gain", "vomiting", "trouble breathing"):
        assert sign in str(found.red_flags)
    assert str(found.emergency) == "Severe symptoms: emergency services first."
    assert "do not repeat and do not add a dose" in str(found.unsure)
    assert "+1 555 0101" in str(found.call)
    assert "do not spray yet" in str(walk("K-107").red_flags)
    assert "the one you inject" in str(walk("K-109").red_flags)
    assert str(found.stop) == "Take no more of these, by the order: ganirelix, menotropins"
    assert any("sharps box" in str(thing) for thing in found.laid_out)
    assert any("signed by Dr. L. Aumont" in str(line) for line in found.small)
    assert any("Source: " in str(line) for line in found.small)
    assert any("No food after" in str(line) for line in found.visit)


def test_a_draft_says_so_and_a_released_one_which_version_it_is() -> None:
    case, plan = case_of("ordinary-night", "K-103")
    sheet = patient_sheet(case, plan)
    draft = walk_through(case, plan, sheet)
    assert str(draft.draft) == "DRAFT, NOT RELEASED"
    assert (draft.version, draft.check_word) == (None, sheet.check_word)
    assert str(draft.standing[0]).startswith("Do not use this page yet.")
    found = walk("K-103")
    assert (found.draft, found.version) == (None, 1)
    assert [str(line) for line in found.standing] == ["Your clinic has released this page: version 1."]
    assert replace(found, draft=draft.draft, standing=(), small=()) == replace(
        draft, version=1, check_word=found.check_word, standing=(), small=()
    )


def test_a_refused_case_has_nothing_to_walk_through() -> None:
    plan = planned("refusals")
    case = next(one for one in plan.cases if one.refused)
    with pytest.raises(ValueError, match="nothing to walk through"):
        walk_through(case, plan, patient_sheet(case, plan))


def test_a_translation_that_nobody_signed_has_the_english_beside_it() -> None:
    case, plan = case_of("ordinary-night", "K-103")
    english = [plain(text.lines[0]) for text in texts(walk("K-103", "en").injections)]
    assert [plain(text.lines[1]) for text in texts(walk("K-103", "es").injections)] == english
    rules = plan.night.clinic.rules
    assert rules is not None
    signed = replace(
        plan, night=replace(plan.night, clinic=replace(plan.night.clinic, rules=replace(rules, languages=("es",))))
    )
    alone = walk_through(case, signed, patient_sheet(case, signed, "es"))
    assert {len(text.lines) for text in texts(alone)} == {1}
    assert {len(text.lines) for text in texts(walk("K-103", "es").injections)} == {2}


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("case_id", ORDINARY)
def test_its_bytes_are_canonical_and_give_it_back(case_id: str, language: str) -> None:
    found = walk(case_id, language)
    stored = walk_bytes(found)
    assert walk_from(stored) == found
    assert walk_bytes(walk_from(stored)) == stored
    assert canonical(json.loads(stored)) == stored
    assert len({picture.key for picture in found.pictures}) == len(found.pictures)
    assert {step.picture for one in found.injections for step in one.steps} == {one.key for one in found.pictures}
    assert len({picture.still for picture in found.pictures}) == len(found.pictures)
    assert len(stored) < 1_500_000


def test_a_walk_through_of_another_shape_is_refused() -> None:
    newer = json.loads(walk_bytes(walk("K-108"))) | {"schema": 2}
    with pytest.raises(ValueError, match="a newer version"):
        walk_from(canonical(newer))


def test_a_released_page_has_its_walk_through_beside_it() -> None:
    case, plan = case_of("ordinary-night", "K-103")
    sheet = patient_sheet(case, plan, version=1, released=TWO)
    pages = released_pages(case, plan, sheet, AT)
    assert pages["walk.json"] == walk_bytes(walk_through(case, plan, sheet))
    assert walk_from(pages["walk.json"]).check_word == sheet.check_word


# Worked back from its words alone, with the night file beside it: no code of the plan


FILE = tomllib.loads((ROOT / "examples/ordinary-night.toml").read_text(encoding="utf-8"))
MONTHS = {"en": "January February March April May June July August September October November December",
          "es": "enero febrero marzo abril mayo junio julio agosto septiembre octubre noviembre diciembre"}  # fmt: skip
SAID = {
    "en": r"When: \w+ (\d+) (\w+) (\d{4}), .*\((\d\d):(\d\d)\)",
    "es": r"Cuándo: \w+ (\d+) de (\w+) de (\d{4}), .*\((\d\d):(\d\d)\)",
}


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("case_id", ORDINARY)
def test_minute_and_dose_work_back_to_the_order(case_id: str, language: str) -> None:
    (case,) = [one for one in FILE["cases"] if one["id"] == case_id]
    stored: Any = json.loads(walk_bytes(walk(case_id, language)))
    ordered = {one["id"]: one for one in case["order"]["injections"]}
    assert {one["id"] for one in stored["injections"]} == set(ordered)
    for one in stored["injections"]:
        order = ordered[one["id"]]
        at = minute_of(first_line(one["said"]), language, one["zone"])
        assert at == dt.datetime.fromisoformat(one["at"])
        assert at == due(case, order)
        amount, unit = worked_back(one)
        number, _, ordered_unit = order["dose"].replace(",", "").partition(" ")
        assert (amount, unit) == (Decimal(number), ordered_unit)
        assert first_line(one["dose"]).split(" (")[0].replace(",", "").replace("unidades", "units").endswith(
            f"{number} {ordered_unit}"
        )  # fmt: skip


def first_line(text: list[list[list[Any]]]) -> str:
    return "".join(words for words, _ in text[0])


def minute_of(said: str, language: str, zone: str) -> dt.datetime:
    found = re.match(SAID[language], said)
    assert found is not None, said
    day, month, year, hour, minute = found.groups()
    wall = dt.datetime(int(year), MONTHS[language].split().index(month) + 1, int(day), int(hour), int(minute))
    return wall.replace(tzinfo=ZoneInfo(zone)).astimezone(dt.UTC)


def due(case: dict[str, Any], order: dict[str, Any]) -> dt.datetime:
    if "at" in order:
        return dt.datetime.fromisoformat(order["at"]).replace(tzinfo=ZoneInfo(case["zone"])).astimezone(dt.UTC)
    (slot,) = [one for one in FILE["slots"] if one["id"] == case["slot"]]
    needle_in = dt.datetime.fromisoformat(slot["at"]).replace(tzinfo=ZoneInfo(FILE["clinic"]["zone"]))
    return needle_in.astimezone(dt.UTC) - dt.timedelta(hours=float(order["lead"].removesuffix(" h")))


def worked_back(one: dict[str, Any]) -> tuple[Decimal, str]:
    """What is given by the words of the boxes, the water and the marks alone."""
    label = first_line(one["boxes"][0]["expected"]).rpartition(", ")
    strength = re.search(r"([\d,.]+) (\w+)(/mL)?$", first_line(one["boxes"][0]["expected"]))
    assert strength is not None, label
    amount, unit = Decimal(strength[1].replace(",", "")), strength[2].replace("unidades", "units")
    taken = " ".join(map(first_line, one["take"]))
    if sprays := re.search(r"(?:Sprays|Rociadas): (\d+)", taken):
        return amount * int(sprays[1]), unit
    if whole := re.findall(r"inject all of it \(|inyecte todo \(", taken):
        return amount * len(whole), unit
    if "everything" in taken or "todo lo que hay" in taken:
        return amount, unit
    drawn = [
        Decimal(mark) / 100 if mark else Decimal(volume)
        for mark, volume in re.findall(
            r"(?:Draw up to|Llene hasta): (?:mar(?:k|ca) ([\d.]+) \([\d.]+ mL\)|([\d.]+) mL)", taken
        )
    ]
    assert drawn
    if strength[3]:
        return amount * sum(drawn), unit
    added = re.search(r": ([\d.]+) mL", first_line(one["water"][0]))
    assert added is not None
    return amount * sum(drawn) / Decimal(added[1]), unit


@pytest.mark.parametrize("language", ["en", "es"])
def test_as_stored_it_is_rechecked_like_the_page(language: str) -> None:
    for case, plan, sheet, found in walks(language):
        assert page_rechecked(sheet, walk_words(walk_from(walk_bytes(found))), case, plan) == ()


WRONG = {
    "another mark": ("mark 80", "mark 81"),
    "another dose": ("Dose: 4 mg", "Dose: 5 mg"),
    "another minute": ("9:00 pm (21:00), the night", "9:30 pm (21:30), the night"),
    "another water": ("Add: 2 mL", "Add: 3 mL"),
    "another wait": ("Count slowly to 10", "Count slowly to 11"),
    "a step less": ("9. Push the plunger slowly all the way.\n", ""),
}


@pytest.mark.parametrize(("old", "new"), WRONG.values(), ids=WRONG)
def test_a_walk_through_that_says_another_thing_is_noticed(old: str, new: str) -> None:
    case, plan = case_of("ordinary-night", "K-103")
    said = walk_words(walk("K-103"))
    assert old in said
    assert page_rechecked(patient_sheet(case, plan), said.replace(old, new, 1), case, plan)


def test_a_walk_through_that_does_not_work_back_is_not_released(monkeypatch: pytest.MonkeyPatch) -> None:
    def wrong(stored: bytes) -> WalkThrough:
        return walk_from(stored.replace(b"mark 80", b"mark 81"))

    monkeypatch.setattr("hourmark.handout.walk.walk_from", wrong)
    case, plan = case_of("ordinary-night", "K-103")
    with pytest.raises(PageRefused):
        released_pages(case, plan, patient_sheet(case, plan, version=1, released=TWO), AT)


# A mark to practise with


@pytest.mark.parametrize("barrel", BARRELS, ids=lambda barrel: barrel.id)
def test_a_mark_to_practise_with_is_a_printed_line_in_the_middle_and_never_near_hers(barrel: Barrel) -> None:
    for hers in marks(barrel):
        found = {practice_mark(barrel, f"seed {number}", [hers]) for number in range(20)}
        assert None not in found
        assert len(found) > 2
        for line in found:
            assert line is not None
            assert barrel.has_line(line)
            assert barrel.capacity.value <= 4 * line.value <= 3 * barrel.capacity.value
            away = abs(line.value - hers.value)
            assert away > barrel.step.value
            if line.value % barrel.numbered.value == 0:
                assert away > barrel.numbered.value


def test_a_mark_to_practise_with_hangs_on_the_seed_alone() -> None:
    barrel = barrels()["u100-1mL-1"]
    hers = [barrel.volume_at(barrel.mark(Volume(barrel.step.value * 20)))]
    assert practice_mark(barrel, "a", hers) == practice_mark(barrel, "a", list(hers))
    assert len({practice_mark(barrel, str(number), hers) for number in range(40)}) > 10
    every = [barrel.step * place for place in range(1, 101)]
    assert practice_mark(barrel, "a", every) is None
    assert practice_mark(barrel, "a") is not None


def test_what_she_injects_and_what_she_practises_are_never_the_same_line() -> None:
    for one in (one for case_id in ORDINARY for one in walk(case_id).injections if one.show):
        _never_hers(one)


def _never_hers(one: WalkInjection) -> None:
    assert one.show is not None
    barrel = barrels()[one.show.barrel]
    hers = [stop.volume for stop in one.show.stops]
    volumes = [line for line in (barrel.step * place for place in range(1, 101)) if str(line) in hers]
    assert volumes
    for number in range(50):
        assert str(practice_mark(barrel, str(number), volumes)) not in hers
