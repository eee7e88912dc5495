"""hourmark draw: the shape of its answer, and the worked cases of its promise."""

from typing import Any

import pytest

from tests.cli.running import answer, codes, run

KEYS = [
    "volume",
    "fills",
    "given",
    "share",
    "tolerance",
    "vials",
    "left",
    "missteps",
    "missteps_left_out",
    "findings",
]
FILL_KEYS = ["how", "syringe", "volume", "mark", "sprays"]


def _draw(
    strength: str, dose: str, *syringes: str, diluent: str | None = None, more: tuple[str, ...] = ()
) -> tuple[int, dict[str, Any]]:
    by = "--product" if "-" in strength else "--label"
    args = ["draw", by, strength, "--dose", dose, *more]
    if diluent is not None:
        args += ["--diluent", diluent]
    for syringe in syringes:
        args += ["--syringe", syringe]
    status, found = answer(*args)
    assert list(found) == KEYS
    for fill in found["fills"] or []:
        assert list(fill) == FILL_KEYS
    if status == 1:
        assert found["fills"] == []
        assert found["given"] is found["share"] is found["tolerance"] is None
    return status, found


def _marks(found: dict[str, Any]) -> list[tuple[str, str, str | None]]:
    return [(fill["syringe"], fill["volume"], fill["mark"]) for fill in found["fills"]]


def test_a_whole_vial() -> None:
    status, found = _draw("5,000 units", "5,000 units", "mL-3-0.1", diluent="1 mL")
    assert status == 0
    assert found["fills"] == [{"how": "all", "syringe": "mL-3-0.1", "volume": "1 mL", "mark": None, "sprays": None}]
    assert found["tolerance"] is None
    assert (found["given"], found["share"], found["vials"]) == ("5,000 units", "100 %", 1)


def test_two_equal_fills() -> None:
    status, found = _draw("5 mg/mL", "4 mg", "u100-0.5mL-1")
    assert status == 0
    assert found["volume"] == "0.8 mL"
    assert _marks(found) == [("u100-0.5mL-1", "0.4 mL", "40")] * 2
    assert [fill["how"] for fill in found["fills"]] == ["mark", "mark"]
    assert (found["given"], found["share"]) == ("4 mg", "100 %")


def test_between_lines_is_refused_with_both_neighbours_and_what_works() -> None:
    status, found = _draw("5 mg/mL", "1.25 mg", "u100-1mL-2")
    assert status == 1
    assert found["volume"] == "0.25 mL"
    stop = found["findings"][0]
    assert (stop["code"], stop["level"]) == ("mark-between", "stop")
    assert "24 (0.24 mL) = 1.2 mg (-4 %)" in stop["what"]
    assert "26 (0.26 mL) = 1.3 mg (+4 %)" in stop["what"]
    assert "u100-1mL-1" in stop["do"]
    assert "mL-1-0.01" in stop["do"]


@pytest.mark.parametrize(
    ("dose", "syringe", "mark"),
    [
        ("1,000 units", "u100-1mL-1", "20"),
        ("1,000 units", "mL-1-0.01", "0.2"),
        ("1,500 units", "u100-1mL-1", "30"),
        ("1,500 units", "mL-1-0.01", "0.3"),
    ],
)
def test_a_part_of_a_vial(dose: str, syringe: str, mark: str) -> None:
    status, found = _draw("10,000 units", dose, syringe, diluent="2 mL")
    assert status == 0
    assert [fill["mark"] for fill in found["fills"]] == [mark]
    assert found["given"] == dose
    assert found["left"] == ("1.8 mL" if mark in ("20", "0.2") else "1.7 mL")


def test_a_coarse_barrel_is_warned_of() -> None:
    status, found = _draw("10,000 units", "1,000 units", "mL-3-0.1", diluent="2 mL")
    assert status == 0
    assert found["fills"][0]["mark"] == "0.2"
    assert found["tolerance"] == {"volume": "0.049 mL", "dose": "245 units"}
    assert codes(found)["tolerance-wide"] == "warn"
    assert "24.5 %" in next(finding["what"] for finding in found["findings"] if finding["code"] == "tolerance-wide")


def test_a_tolerance_above_the_lower_limit_is_noted() -> None:
    _, found = _draw("10,000 units", "2,000 units", "mL-3-0.1", diluent="2 mL")
    assert codes(found)["tolerance-notable"] == "note"
    _, found = _draw("10,000 units", "1,000 units", "u100-1mL-1", diluent="2 mL")
    assert not {"tolerance-notable", "tolerance-wide"} & set(codes(found))


def test_prefilled_syringes() -> None:
    status, found = _draw("triptorelin-100mcg-syringe", "0.2 mg")
    assert status == 0
    assert (
        found["fills"]
        == [{"how": "syringe", "syringe": "triptorelin-100mcg-syringe", "volume": "1 mL", "mark": None, "sprays": None}]
        * 2
    )
    assert found["volume"] == "2 mL"
    assert found["tolerance"] is None


def test_sprays() -> None:
    status, found = _draw("nafarelin-200mcg-spray", "400 mcg")
    assert status == 0
    assert [(fill["how"], fill["sprays"], fill["volume"], fill["mark"]) for fill in found["fills"]] == [
        ("spray", 2, None, None)
    ]
    assert found["given"] == "400 mcg"


@pytest.mark.parametrize(
    ("product", "dose", "code"),
    [
        ("choriogonadotropin-alfa-250mcg-syringe", "125 mcg", "part-of-device"),
        ("choriogonadotropin-alfa-250mcg-syringe", "300 mcg", "part-of-device"),
        ("nafarelin-200mcg-spray", "300 mcg", "part-of-device"),
        ("choriogonadotropin-alfa-250mcg-syringe", "6,500 units", "dose-other-kind"),
        ("choriogonadotropin-alfa-250mcg-syringe", "250 units", "dose-other-kind"),
    ],
)
def test_no_part_and_no_conversion(product: str, dose: str, code: str) -> None:
    status, found = _draw(product, dose)
    assert status == 1
    assert codes(found)[code] == "stop"


def test_two_vials_need_the_word() -> None:
    status, found = _draw("5,000 units", "10,000 units", "mL-3-0.1", diluent="1 mL")
    assert status == 1
    assert codes(found) == {"vials-too-few": "stop"}
    assert "--vials 2" in found["findings"][0]["do"]
    status, found = _draw("5,000 units", "10,000 units", "mL-3-0.1", diluent="1 mL", more=("--vials", "2"))
    assert status == 0
    assert (found["vials"], found["volume"], found["fills"][0]["how"]) == (2, "2 mL", "all")
    status, found = _draw("5,000 units", "5,000 units", "mL-3-0.1", diluent="1 mL", more=("--vials", "2"))
    assert codes(found)["vials-too-many"] == "stop"


@pytest.mark.parametrize(
    ("diluent", "route", "level"),
    [
        ("10 mL", "intramuscular", "stop"),
        ("5 mL", "intramuscular", "warn"),
        ("3 mL", "intramuscular", None),
        ("1 mL", "subcutaneous", None),
        ("1.1 mL", "subcutaneous", "note"),
        ("1.5 mL", "subcutaneous", "note"),
        ("1.6 mL", "subcutaneous", "warn"),
        ("2 mL", "subcutaneous", "warn"),
        ("2.1 mL", "subcutaneous", "stop"),
        ("10 mL", None, None),
    ],
)
def test_volume_at_one_site(diluent: str, route: str | None, level: str | None) -> None:
    more = ("--route", route) if route else ()
    _, found = _draw("10,000 units", "10,000 units", "mL-10-0.2", diluent=diluent, more=more)
    name = {"stop": "volume-too-large", "warn": "volume-large", "note": "volume-notable"}
    assert {code: how for code, how in codes(found).items() if code.startswith("volume")} == (
        {name[level]: level} if level else {}
    )


def test_a_volume_is_shared_over_sites() -> None:
    _, found = _draw("1 mg/mL", "4 mg", "mL-2-0.1", more=("--route", "subcutaneous"))
    assert [fill["volume"] for fill in found["fills"]] == ["2 mL", "2 mL"]
    assert codes(found)["volume-large"] == "warn"
    assert codes(found)["barrel-full"] == "warn"


@pytest.mark.parametrize(("dose", "level"), [("0.2 mg", "warn"), ("0.25 mg", None)])
def test_very_small_draws(dose: str, level: str | None) -> None:
    _, found = _draw("5 mg/mL", dose, "u100-0.3mL-1")
    assert codes(found).get("draw-small") == level


@pytest.mark.parametrize(("dose", "level"), [("0.95 mg", "note"), ("1 mg", None)])
def test_under_a_fifth_of_the_barrel(dose: str, level: str | None) -> None:
    _, found = _draw("5 mg/mL", dose, "u100-1mL-1")
    assert codes(found).get("barrel-large") == level


def test_a_full_barrel_only_when_nothing_else_is_there() -> None:
    _, found = _draw("5 mg/mL", "5 mg", "mL-1-0.01")
    assert codes(found)["barrel-full"] == "warn"
    _, found = _draw("5 mg/mL", "5 mg", "mL-1-0.01", "mL-3-0.1")
    assert _marks(found) == [("mL-3-0.1", "1 mL", "1")]
    assert "barrel-full" not in codes(found)


def test_the_choice_of_barrel() -> None:
    _, found = _draw("5 mg/mL", "2 mg", "mL-3-0.1", "u100-1mL-1", "mL-1-0.01", "u100-0.5mL-1")
    assert _marks(found) == [("u100-0.5mL-1", "0.4 mL", "40")]
    _, found = _draw("5 mg/mL", "2 mg", "u100-1mL-1", "mL-1-0.01")
    assert _marks(found) == [("mL-1-0.01", "0.4 mL", "0.4")]
    _, found = _draw("5 mg/mL", "2 mg", "u100-1mL-2", "u100-1mL-1")
    assert _marks(found)[0][0] == "u100-1mL-1"


def test_half_marks_and_unequal_fills() -> None:
    _, found = _draw("1 mg/mL", "0.125 mg", "u100-0.3mL-0.5")
    assert _marks(found) == [("u100-0.3mL-0.5", "0.125 mL", "12.5")]
    _, found = _draw("1 mg/mL", "0.51 mg", "u100-0.3mL-1")
    assert [mark for _, _, mark in _marks(found)] == ["26", "25"]


def test_a_dose_far_too_large_is_refused_at_once() -> None:
    for dose in ("100 mg", "999,999,999,999 mg"):
        status, found = _draw("1 mg/mL", dose, "u100-0.3mL-1")
        assert status == 1
        assert codes(found) == {"fills-too-many": "stop"}


def test_neighbours_are_lines_of_that_barrel() -> None:
    status, found = _draw("3 mg/mL", "2.5 mg", "u100-0.3mL-1")
    assert status == 1
    assert found["volume"] == "about 0.8333 mL"
    assert "mark 83" not in found["findings"][0]["what"]


def test_no_syringe() -> None:
    status, found = _draw("5 mg/mL", "4 mg")
    assert status == 1
    assert codes(found) == {"syringe-none": "stop"}


def test_where_a_clinic_would_need_a_signed_rule_it_asks() -> None:
    status, found = _draw(
        "hcg-10000-units", "1,000 units", "u100-1mL-1", diluent="2 mL", more=("--route", "subcutaneous")
    )
    assert status == 0
    assert {
        code: codes(found)[code] for code in ("diluent-unsigned", "part-dose-unsigned", "route-off-label")
    } == dict.fromkeys(("diluent-unsigned", "part-dose-unsigned", "route-off-label"), "ask")


AMOUNTS: list[tuple[str, str]] = [
    ("4U", "4 units"),
    ("4 U", "4 units"),
    ("4 u", "4 units"),
    ("4 IU", "4 units"),
    ("4 iu", "4 units"),
    ("4IU", "4 units"),
    ("4 cc", "4 mL"),
    ("4cc", "4 mL"),
    ("4 ug", "4 mcg"),
    ("4 \N{MICRO SIGN}g", "4 mcg"),
    ("4 \N{GREEK SMALL LETTER MU}g", "4 mcg"),
    ("4 L", "mL"),
    (".5 mg", "0.5"),
    ("5.0 mg", '"5"'),
    ("0.50 mg", '"0.5"'),
    ("0,5 mg", "0.5"),
    ("5", "unit"),
    ("5mg", "5 mg"),
    ("5  mg", "units"),
    ("5\tmg", "number, space and unit"),
    (" 5 mg", "0.5"),
    ("5 mg ", "units"),
    ("05 mg", "5"),
    ("-5 mg", "never negative"),
    ("\N{MINUS SIGN}5 mg", "never negative"),
    ("5e3 mg", "digits"),
    ("1,00 mg", "1"),
    ("10,00 units", "10"),
    ("1,0000 units", "10,000"),
    ("5. mg", '"5"'),
    ("5 mg.", "5 mg"),
    ("", "number"),
    (" ", "number"),
    ("five mg", "digits"),
    ("5 marks", "units"),
    ("0.8 mL", "dose of the drug"),
    ("0 mg", "order"),
    ("1 g", "mcg"),
    ("\N{ARABIC-INDIC DIGIT FIVE} mg", "digits"),
    ("1234567890123 mg", "order"),
    ("9" * 5_000 + " mg", "order"),
    ("5 mg\n", "units"),
    ("5\N{NO-BREAK SPACE}mg", "number, space and unit"),
    ("NaN mg", "digits"),
    ("1/2 mg", "digits"),
]


@pytest.mark.parametrize(("text", "do"), AMOUNTS, ids=[str(place) for place, _ in enumerate(AMOUNTS)])
def test_amounts_that_are_refused(text: str, do: str) -> None:
    status, found = answer("draw", "--label", "5 mg/mL", "--dose", text, "--syringe", "u100-1mL-1")
    assert status == 2
    assert list(found) == KEYS
    assert all(found[key] is None for key in KEYS if key != "findings")
    assert [finding["where"] for finding in found["findings"]] == ["--dose"]
    assert do in found["findings"][0]["do"], found["findings"][0]
    assert len(found["findings"][0]["what"]) < 300


@pytest.mark.parametrize(
    ("label", "dose", "diluent"),
    [
        ("10000 units", "1000 units", "2 mL"),
        ("10,000 units", "1,000 units", "2 ml"),
        ("5 mg/ml", "4000 mcg", None),
        ("5 mg/mL", "4000 micrograms", None),
        ("1 mg/mL", "1 microgram", None),
        ("1 unit", "1 unit", "1 mL"),
    ],
)
def test_amounts_that_are_read(label: str, dose: str, diluent: str | None) -> None:
    assert _draw(label, dose, "mL-3-0.1", "u100-1mL-1", "u100-1mL-1", diluent=diluent)[0] in (0, 1)


@pytest.mark.parametrize(
    ("args", "where"),
    [
        (["--dose", "4 mg"], "--label"),
        (["--dose", "4 mg", "--label", "5 mg/mL", "--product", "leuprolide-5mg-per-ml-vial"], "--label"),
        (["--dose", "4 mg", "--label", "5 mg"], "--diluent"),
        (["--dose", "4 mg", "--label", "5 mg", "--diluent", "0 mL"], "--diluent"),
        (["--dose", "4 mg", "--label", "5 mg/mL", "--diluent", "1 mL"], "--diluent"),
        (["--dose", "4 mg", "--label", "5 mg/0.2 mL"], "--label"),
        (["--dose", "4 mg", "--label", "5 mg/mL/mL"], "--label"),
        (["--dose", "4 mg", "--product", "leuprolide-depot"], "--product"),
        (["--dose", "4 mg", "--product", "leuprolide-compounded"], "--product"),
        (["--dose", "4 mg", "--product", "x"], "--product"),
        (["--dose", "4 mg", "--label", "5 mg/mL", "--syringe", "u100"], "--syringe"),
        (["--dose", "4 mg", "--label", "5 mg/mL", "--vials", "0"], "--vials"),
        (["--dose", "4 mg", "--label", "5 mg/mL", "--vials", "1.5"], "--vials"),
        (["--dose", "4 mg", "--label", "5 mg/mL", "--vials", "9" * 5000], "--vials"),
        (["--dose", "4 mg", "--label", "5 mg/mL", "--route", "SC"], "--route"),
    ],
    ids=[str(place) for place in range(15)],
)
def test_what_cannot_be_read(args: list[str], where: str) -> None:
    status, found = answer("draw", *args)
    assert status == 2
    assert all(found[key] is None for key in KEYS if key != "findings")
    assert [finding["where"] for finding in found["findings"]] == [where]
    assert codes(found) == {"unreadable": "stop"}


def test_for_people() -> None:
    result = run(
        "draw", "--label", "10,000 units", "--diluent", "2 mL", "--dose", "1,000 units", "--syringe", "u100-1mL-1"
    )
    assert result.exit_code == 0
    assert "mark 20 (0.2 mL) on u100-1mL-1" in result.stdout
    assert "dose x diluent / content" in result.stdout
    refused = run("draw", "--label", "5 mg/mL", "--dose", "1.25 mg", "--syringe", "u100-1mL-2")
    assert refused.exit_code == 1
    assert refused.stdout.startswith("No mark")
    assert run("draw", "--label", "5 mg/mL", "--dose", "1.25mg").stdout == ""
