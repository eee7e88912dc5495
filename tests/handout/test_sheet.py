"""What a patient's page says and in which order; what it never says."""

import re
from dataclasses import replace

import pytest

from hourmark.handout import Sheet, patient_sheet, sheet_text
from hourmark.handout.content import Heading, Picture, StepRow, Steps
from hourmark.handout.scene import Scene, SyringeSeen
from tests.handout.paper import case_of, planned

ORDINARY = [case.case.id for case in planned("ordinary-night").cases]


def front(text: str) -> str:
    """Everything before the first step is got ready."""
    return text.partition("\nGet ready")[0]


@pytest.mark.parametrize("case_id", ORDINARY)
def test_the_front_says_when_how_much_what_to_lay_out_stop_read_and_whom_to_call(case_id: str) -> None:
    case, plan = case_of("ordinary-night", case_id)
    said = front(sheet_text(patient_sheet(case, plan)))
    for one in case.injections:
        assert one.timed is not None
        assert one.drawn is not None
        assert f"{one.timed.patient.wall:%H:%M})" in said
        assert one.injection.drug.name in said
        assert str(one.injection.dose) in said
        for fill in one.drawn.fills:
            assert str(fill.mark or fill.volume or fill.sprays) in said
    for words in ("Lay out", "First read the boxes", "What to stop", "at that hour: +1 555 0101"):
        assert words in said
    assert (
        said.index("When:") < said.index("Dose:") < said.index("Severe symptoms") < said.index("First read the boxes")
    )
    assert "emergency services first" in said
    assert "do not repeat and do not add a dose" in said
    assert "the night of Wednesday into Thursday, Chicago time" in said


def rows_of(sheet: Sheet) -> list[StepRow]:
    return [row for block in sheet.blocks if isinstance(block, Steps) for row in block.rows]


@pytest.mark.parametrize("case_id", ORDINARY)
def test_every_step_is_numbered_announced_and_has_its_own_lettered_picture(case_id: str) -> None:
    case, plan = case_of("ordinary-night", case_id)
    sheet = patient_sheet(case, plan)
    assert len(rows_of(sheet)) == sum(len(one.steps) for one in case.injections)
    for place, block in enumerate(sheet.blocks):
        if not isinstance(block, Steps):
            continue
        heading = next(one for one in reversed(sheet.blocks[:place]) if isinstance(one, Heading))
        assert f"in {len(block.rows)} steps" in str(heading.text)
        assert [row.number for row in block.rows] == list(range(1, len(block.rows) + 1))
        letters = [str(row.letter) for row in block.rows]
        assert letters[0] == "A"
        assert len(set(letters)) == len(letters)
        assert all(isinstance(row.picture.seen, Scene) and row.picture.alt for row in block.rows)


def test_what_a_picture_shows_is_what_its_step_says() -> None:
    case, plan = case_of("ordinary-night", "K-104")
    for row in rows_of(patient_sheet(case, plan)):
        scene = row.picture.seen
        assert isinstance(scene, Scene)
        if scene.picture in ("read-mark", "push-to-mark", "read-water"):
            assert scene.barrel is not None
            assert scene.at is not None
            assert str(scene.at) in str(row.do) + str(row.see)
        if scene.picture in ("needle-a-on", "needle-on", "needle-change"):
            assert scene.needle is not None
            assert f"{scene.needle.gauge} gauge, {scene.needle.length} mm" in str(row.do)
        if scene.picture == "clock":
            assert scene.clock == (21, 30)


def test_left_handed_turns_hands_and_nothing_else() -> None:
    case, plan = case_of("ordinary-night", "K-103")
    left = replace(case, case=replace(case.case, left_handed=True))
    pairs = list(zip(rows_of(patient_sheet(case, plan)), rows_of(patient_sheet(left, plan)), strict=True))
    turned = [(a, b) for a, b in pairs if a != b]
    assert 20 < len(turned) < len(pairs)
    for before, after in turned:
        assert isinstance(after.picture.seen, Scene)
        assert replace(after.picture.seen, left_handed=False) == before.picture.seen
        assert (before.do, before.see, before.warn) == (after.do, after.see, after.warn)


def test_the_front_shows_the_very_syringe_at_its_mark() -> None:
    case, plan = case_of("ordinary-night", "K-103")
    shown: list[SyringeSeen] = []

    def look(blocks: tuple[object, ...]) -> None:
        for block in blocks:
            if isinstance(block, Picture) and isinstance(block.seen, SyringeSeen):
                shown.append(block.seen)
            look(getattr(block, "blocks", ()))

    look(patient_sheet(case, plan).blocks)
    assert [(seen.barrel.id, str(seen.at)) for seen in shown] == [("u100-1mL-1", "0.8 mL"), ("u100-1mL-1", "0.2 mL")]


@pytest.mark.parametrize("name", ["ordinary-night", "clocks-go-back", "travellers", "refusals"])
@pytest.mark.parametrize("language", ["en", "es"])
def test_no_misstep_no_tolerance_and_no_other_case_in_anything_for_a_patient(name: str, language: str) -> None:
    plan = planned(name)
    ids = {case.case.id for case in plan.cases}
    for case in plan.cases:
        sheet = patient_sheet(case, plan, language)
        text = sheet_text(sheet) + sheet.foot + " ".join(row.picture.alt for row in rows_of(sheet))
        assert not [other for other in ids - {case.case.id} if re.search(rf"\b{re.escape(other)}\b", text)]
        assert "%" not in text.replace("print again at 100 %", "").replace("otra vez al 100 %", "")
        for one in case.injections:
            for misstep in one.missteps:
                assert misstep.how not in text
            ordered = {str(one.injection.dose) for one in case.injections}
            strengths = {one.box.strength for one in case.injections if one.box}
            for misstep in one.missteps:
                given = str(misstep.given)
                if given not in ordered | strengths and misstep.given.value:
                    assert not re.search(rf"(?<![\d.,]){re.escape(given)}\b(?!/)", text), (case.case.id, misstep.code)


@pytest.mark.parametrize("language", ["en", "es"])
def test_a_refused_case_gets_no_instruction(language: str) -> None:
    plan = planned("refusals")
    refused = [case for case in plan.cases if case.refused]
    assert len(refused) > 20
    for case in refused:
        sheet = patient_sheet(case, plan, language)
        assert not rows_of(sheet)
        assert not sheet.glances
        text = sheet_text(sheet)
        assert {"en": "No instruction can be drafted", "es": "Todavía no se puede preparar"}[language] in text
        assert not re.search(r"\d(?: mL| mg| units| unidades)|mark \d|\d:\d\d", text)


def test_a_helper_is_addressed_and_sees_the_place_from_outside() -> None:
    case, plan = case_of("ordinary-night", "K-109")
    text = sheet_text(patient_sheet(case, plan))
    assert "Her sister gives 1 medicine and follows the steps." in text
    assert "You take" not in text
    views = {row.picture.seen.view for row in rows_of(patient_sheet(case, plan)) if isinstance(row.picture.seen, Scene)}
    assert views == {"own", "helper"}
    assert "You take 1 medicine." in sheet_text(patient_sheet(*case_of("ordinary-night", "K-101")))


def test_the_small_print_says_who_signed_when_what_version_and_whose_figures() -> None:
    case, plan = case_of("ordinary-night", "K-103")
    sheet = patient_sheet(case, plan)
    text = sheet_text(sheet)
    small = text.partition("Where this comes from")[2]
    assert "signed by Dr. L. Aumont at 2026-11-18 13:15 (America/Chicago)" in small
    assert f"Check words of this version: {sheet.check_word}." in small
    assert "time data 2026f" in small
    assert "Wording of Thursday 26 November 2026" in small
    assert small.count("Source: ") == 3
    assert "Follow the prescriber, the product label and local policy." in small
    assert sheet.check_word in sheet.foot
    assert "{page}" in sheet.foot


def test_everything_is_marked_as_a_draft() -> None:
    for case in planned("ordinary-night").cases:
        text = sheet_text(patient_sheet(case, planned("ordinary-night")))
        assert text.startswith("DRAFT, NOT RELEASED\n")
        assert text.rstrip().endswith("DRAFT, NOT RELEASED")
