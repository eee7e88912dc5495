"""The kit as read off the boxes, and the cartons that two people read."""

from dataclasses import replace

import pytest

from hourmark.case import events as e
from hourmark.case import sheets
from hourmark.case.kits import CheckCarton, ReadKit
from tests.case.world import (
    CARTONS,
    CASE,
    NURSE,
    READ,
    SECOND,
    at_stage,
    carton_checks,
    kinds,
    kit,
    plan_case,
    release_case,
    written,
)

OTHER_LOT = kit() | {"products": [box | {"lot": "Z999"} for box in kit()["products"]]}
HCG = "hcg-10000-units"


def test_a_kit_is_on_the_record_with_how_it_was_read() -> None:
    world = at_stage("opened")
    entries = world.do(ReadKit(CASE, kit(), "a photograph of the table"), NURSE, READ)
    assert kinds(entries) == ["case/K-103 kit-read"]
    assert written(entries, e.KitRead) == e.KitRead(1, kit(), "a photograph of the table")


def test_the_same_kit_read_again_is_no_change() -> None:
    assert at_stage("planned").codes(ReadKit(CASE, kit(), "seen again"), SECOND) == ["nothing-changed"]


def test_a_kit_read_anew_has_the_next_number_and_its_cartons_are_read_anew() -> None:
    world = at_stage("planned")
    assert [one.event.product for one in world.case().cartons] == ["leuprolide-5mg-per-ml-vial", HCG]
    assert written(world.do(ReadKit(CASE, OTHER_LOT, "seen"), NURSE), e.KitRead).version == 2
    assert world.case().cartons == ()
    assert world.case().kit == e.KitRead(2, OTHER_LOT, "seen")


@pytest.mark.parametrize(
    ("change", "where", "code"),
    [
        ({"products": [{"product": "hcg-9000-units", "strength": "9,000 units"}]}, "products[1].product", "file-value"),
        ({"products": [{"product": HCG}]}, "products[1].strength", "file-key-missing"),
        ({"syringes": [{"syringe": "u100-1mL-1", "count": "four"}]}, "syringes[1].count", "file-value"),
        ({"pens": 2}, "pens", "file-key-unknown"),
    ],
)
def test_a_kit_that_cannot_be_read_is_refused_where_it_cannot(change: dict[str, object], where: str, code: str) -> None:
    refused = at_stage("opened").refused(ReadKit(CASE, kit() | change, "seen"), NURSE)
    assert [(finding.where, finding.code) for finding in refused.findings] == [(where, code)]


def test_a_carton_check_names_both_who_read_the_box() -> None:
    world = at_stage("planned")
    command = CheckCarton(CASE, HCG, (NURSE.name, SECOND.name), "10,000 units", "none", "intramuscular")
    entries = world.do(command, SECOND)
    assert kinds(entries) == ["case/K-103 carton-checked"]
    assert written(entries, e.CartonChecked) == e.CartonChecked(
        HCG, (NURSE.name, SECOND.name), "10,000 units", "none", "intramuscular"
    )


@pytest.mark.parametrize(
    "readers",
    [
        (NURSE.name, NURSE.name),
        (NURSE.name, f" {NURSE.name.upper()} "),
        (NURSE.name, "A.  Kowal"),
        (NURSE.name, " "),
        ("", SECOND.name),
        (SECOND.name, "A. Visitor"),
    ],
    ids=[
        "twice",
        "twice in other letters",
        "twice with other spaces",
        "nobody else",
        "nobody first",
        "without whoever records it",
    ],
)
def test_two_people_read_a_box_and_one_of_them_records_it(readers: tuple[str, str]) -> None:
    command = CheckCarton(CASE, HCG, readers, "10,000 units", "none", "intramuscular")
    assert at_stage("planned").codes(command, NURSE) == ["carton-readers"]


@pytest.mark.parametrize("name", ["a. kowal", "A.  Kowal", " A. KOWAL"])
def test_whoever_records_a_carton_check_is_a_reader_however_her_name_is_written(name: str) -> None:
    command = CheckCarton(CASE, HCG, (name, SECOND.name), "10,000 units", "none", "intramuscular")
    assert kinds(at_stage("planned").do(command, NURSE)) == ["case/K-103 carton-checked"]


def test_only_a_box_of_the_kit_is_checked() -> None:
    elsewhere = CheckCarton(CASE, "hcg-5000-units-saline", (NURSE.name, SECOND.name), "a", "b", "c")
    assert at_stage("planned").codes(elsewhere, NURSE) == ["carton-not-there"]
    assert at_stage("opened").codes(carton_checks()[0], NURSE) == ["carton-not-there"]


@pytest.mark.parametrize("field", ["strength", "volume", "route"])
def test_what_was_read_off_a_box_is_said(field: str) -> None:
    command = replace(CheckCarton(CASE, HCG, (NURSE.name, SECOND.name), "a", "b", "c"), **{field: " "})  # type: ignore[arg-type]
    refused = at_stage("planned").refused(command, NURSE)
    assert [(one.code, one.where) for one in refused.findings] == [("field-blank", field)]


# Figures of the vial of K-104 were not read in their source; those of K-103 were (`hourmark sources --audit`).


def test_a_figure_that_nobody_read_in_its_source_keeps_the_sheet_back_until_the_carton_was_read() -> None:
    world = at_stage("opened", "K-104")
    plan_case(world, "K-104", cartons=False)
    leuprolide, hcg = carton_checks("K-104")
    world.do(leuprolide, NURSE, CARTONS)
    assert world.codes(sheets.Release("K-104"), NURSE, CARTONS)[0] == "rests-on-unread"
    world.do(hcg, NURSE, CARTONS)
    assert "rests-on-unread" not in world.codes(sheets.Release("K-104"), NURSE, CARTONS)
    release_case(world, "K-104")
    assert world.case("K-104").sheet is not None


def test_a_kit_read_anew_keeps_the_sheet_back_again() -> None:
    world = at_stage("planned", "K-104")
    assert world.planned("K-104").made.blocks == ()
    other = kit("K-104") | {"products": [box | {"lot": "Z1"} for box in kit("K-104")["products"]]}
    world.do(ReadKit("K-104", other, "seen"), NURSE)
    assert [finding.code for finding in world.planned("K-104").made.blocks] == ["rests-on-unread"]
