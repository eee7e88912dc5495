"""hourmark levels: the shape of its answer, its refusals, its words, its pictures."""

from pathlib import Path
from typing import Any

import pytest

from tests.cli.running import answer, codes, run

KEYS = ["injections", "readings", "strips", "disagreements", "pictures", "findings"]
INJECTION_KEYS = ["drug", "dose", "route", "after", "says", "why"]
READING_KEYS = [
    *("analyte", "entered", "value", "after", "says", "why", "expected", "band", "limits", "observed", "working"),
]
AGONIST = "triptorelin acetate, 0.2 mg, subcutaneous"
URINARY = "chorionic gonadotropin, 10,000 units, intramuscular"


def levels(
    *results: str, injection: str = f"{AGONIST}, 12 h", more: tuple[str, ...] = ()
) -> tuple[int, dict[str, Any]]:
    return answer("levels", "--injection", injection, *(part for text in results for part in ("--result", text)), *more)


def test_one_answer_whole() -> None:
    """LH under 15 units/L with progesterone of 3.5 ng/mL or less: Meyer 2015, Kummer 2013."""
    status, found = levels("LH 9 IU/L", "progesterone 1.1 ng/mL")
    assert status == 0
    assert list(found) == KEYS
    assert found["pictures"] is None
    assert found["strips"] == []
    (injection,) = found["injections"]
    assert list(injection) == INJECTION_KEYS
    assert injection == {
        "drug": "triptorelin acetate",
        "dose": "0.2 mg",
        "route": "subcutaneous",
        "after": "12 h",
        "says": "the pattern of too small a surge",
        "why": "LH 9 units/L: the pattern of too small a surge; progesterone 1.1 ng/mL: does not support that it worked",
    }
    for reading in found["readings"]:
        assert list(reading) == READING_KEYS
        for seen in reading["observed"]:
            assert list(seen) == ["key", "about", "statistic", "hours", "value", "spread", "curves", "source"]
        for step in reading["working"]:
            assert list(step) == ["name", "formula", "inputs", "result"]
    lh = found["readings"][0]
    assert (lh["entered"], lh["value"], lh["after"]) == ("LH 9 IU/L", "9 units/L", "12 h")
    assert lh["band"] == {"low": "about 21.5 units/L", "high": "about 137 units/L"}
    assert {"key": "levels.limits.lh-low", "value": "15 units/L"}.items() <= lh["limits"][0].items()
    assert found["readings"][1]["band"] is None
    assert len(found["disagreements"]) == 2
    for one in found["disagreements"]:
        assert list(one) == ["about", "sides"]
        assert len(one["sides"]) >= 2
        assert all(list(side) == ["says", "source"] for side in one["sides"])
    assert codes(found) == {"lh-failed-pattern": "ask", "progesterone-no-rise": "ask"}


def test_lh_12_at_17_hours_is_read_with_care() -> None:
    """The limit of 15 is for about 8 to 14 h: Fauser 2002, Vuong 2016."""
    status, found = levels("LH 12 IU/L", injection=f"{AGONIST}, 17 h")
    assert status == 0
    assert found["injections"][0]["says"] == "read with care"
    assert codes(found) == {"level-with-care": "warn"}
    assert "fail" not in run(
        "levels", "--injection", f"{AGONIST}, 17 h", "--result", "LH 12 IU/L"
    ).stdout.lower().replace("failures", "")


def test_each_injection_of_two_is_judged_alone() -> None:
    status, found = levels(
        "LH 48 IU/L",
        "hCG 27 mIU/mL",
        "progesterone 5.0 ng/mL",
        injection="leuprolide acetate, 4 mg, subcutaneous, 11 h",
        more=("--injection", "chorionic gonadotropin, 1,500 units, subcutaneous, 11 h"),
    )
    assert status == 0
    assert [one["says"] for one in found["injections"]] == ["as expected", "as expected"]
    assert codes(found) == {"lh-cross-reaction": "note"}


def test_hours_are_elapsed_hours_across_a_clock_change() -> None:
    """New York, 1 November 2026: 22:00 to 08:00 is 11 hours (Public Law 109-58, first Sunday of November)."""
    status, found = levels(
        "LH 48 IU/L",
        injection=f"{AGONIST}, 2026-10-31 22:00",
        more=("--drawn", "2026-11-01 08:00", "--zone", "America/New_York"),
    )
    assert status == 0
    assert found["injections"][0]["after"] == "11 h"


def test_a_repeated_hour_has_to_be_chosen() -> None:
    clock = ("--drawn", "2026-11-01 12:30", "--zone", "America/New_York")
    status, found = levels("LH 48 IU/L", injection=f"{AGONIST}, 2026-11-01 01:30", more=clock)
    assert status == 1
    assert found["readings"] == found["injections"] == []
    assert codes(found) == {"time-repeated": "stop"}
    for which, hours in (("first", "12 h"), ("second", "11 h")):
        _, found = levels("LH 48 IU/L", injection=f"{AGONIST}, 2026-11-01 01:30 {which}", more=clock)
        assert found["injections"][0]["after"] == hours
    status, found = levels(
        "LH 48 IU/L", injection=f"{AGONIST}, 2026-10-31 21:00", more=("--drawn", "2026-11-01 01:30", *clock[2:])
    )
    assert status == 1
    _, found = levels(
        "LH 48 IU/L", injection=f"{AGONIST}, 2026-10-31 21:00", more=("--drawn", "2026-11-01 08:00 first", *clock[2:])
    )
    assert codes(found)["which-needless"] == "warn"


def test_a_sample_before_the_injection_is_asked_about_and_not_read() -> None:
    status, found = levels(
        "LH 48 IU/L",
        injection=f"{AGONIST}, 2026-11-18 21:00",
        more=("--drawn", "2026-11-18 08:00", "--zone", "America/Chicago"),
    )
    assert status == 0
    assert found["readings"] == []
    assert found["injections"] == []
    assert codes(found) == {"sample-before-injection": "ask"}
    assert "13 h before" in found["findings"][0]["what"]


def test_a_result_that_no_assay_gives_is_asked_about_and_not_read() -> None:
    status, found = levels("LH 4,800 IU/L", "progesterone 5 ng/mL")
    assert status == 0
    assert [one["analyte"] for one in found["readings"]] == ["progesterone"]
    assert codes(found)["result-no-assay"] == "ask"


def test_an_antagonist_is_asked_about() -> None:
    status, found = levels("LH 9 IU/L", "LH strip negative", injection="ganirelix, 0.25 mg, subcutaneous, 12 h")
    assert status == 0
    assert found["injections"] == found["readings"] == found["strips"] == []
    assert codes(found) == {"level-no-trigger": "ask"}


def test_strips() -> None:
    _, found = levels("LH strip negative", "pregnancy strip negative")
    assert [list(one) for one in found["strips"]] == [["strip", "after", "says", "why", "limits"]] * 2
    assert codes(found) == {"strip-negative": "ask"}
    _, found = levels("LH strip positive", injection=f"{AGONIST}, 20 h")
    assert codes(found) == {"strip-too-late": "note"}
    _, found = levels(
        "LH strip negative",
        injection=f"{AGONIST}, 2026-11-18 21:00",
        more=("--drawn", "2026-11-18 08:00", "--zone", "America/Chicago"),
    )
    assert found["strips"] == []
    assert codes(found) == {"sample-before-injection": "ask"}


def test_weight_body_mass_index_and_the_value_before() -> None:
    """Times 0.6 to 0.8 from a body-mass index of 30: Shah 2014, Chan 2003."""
    _, plain = levels("hCG 70 IU/L", injection=f"{URINARY}, 11 h")
    _, heavy = levels("hCG 70 IU/L", injection=f"{URINARY}, 11 h", more=("--weight", "100 kg", "--bmi", "38"))
    assert plain["readings"][0]["expected"][0]["level"] == "about 215 units/L"
    assert heavy["readings"][0]["expected"][0]["level"] == "about 142 units/L"
    assert codes(heavy) == {"hcg-low-for-dose": "ask", "bmi-lowers-level": "note"}
    _, flat = levels(
        "progesterone 1.6 ng/mL", injection=f"{URINARY}, 11 h", more=("--before", "progesterone 1.5 ng/mL")
    )
    assert codes(flat) == {"progesterone-no-rise": "ask"}


UNREADABLE: list[tuple[str, tuple[str, ...], str]] = [
    ("--result", ("--result", "LH 9"), "unit"),
    ("--result", ("--result", "LH 9 U/L"), "unit"),
    ("--result", ("--result", "FSH 9 IU/L"), "LH, hCG, progesterone"),
    ("--result", ("--result", "LH strip faint"), "positive or negative"),
    ("--injection", ("--injection", "triptorelin acetate 0.2 mg"), "comma and a space"),
    ("--injection", ("--injection", "triptorelin acetate, 0.2 mg, SC, 12 h"), "subcutaneous"),
    ("--injection", ("--injection", "triptorelin acetate, 0.2 mL, subcutaneous, 12 h"), "dose"),
    ("--injection", ("--injection", "hCG, 5,000 units, subcutaneous, 12 h"), "generic name"),
    ("--injection", ("--injection", f"{AGONIST}, -2 h"), "h"),
    ("--injection", ("--injection", f"{AGONIST}, 9 pm"), "12 h"),
    ("--before", ("--before", "LH 2 IU/L"), "progesterone"),
    ("--before", ("--before", "progesterone 2"), "unit"),
    ("--drawn", ("--drawn", "8 am"), "24-hour"),
    ("--zone", ("--zone", "EST"), "Area/City"),
    ("--weight", ("--weight", "65"), "kg"),
    ("--weight", ("--weight", "650 kg"), "300"),
    ("--bmi", ("--bmi", "380"), "90"),
    ("--not-known", ("--not-known", "hCG"), "hCG, whether"),
    ("--not-known", ("--not-known", "hCG, when"), "how much"),
    ("--not-known", ("--not-known", "hCG,whether"), "hCG"),
    ("--not-known", ("--not-known", "Hcgg, whether"), '"hCG" or "agonist"'),
    ("--not-known", ("--not-known", "ganirelix, whether"), "Name the trigger"),
    ("--not-known", ("--not-known", "hCG, what", "--not-known", "chorionic gonadotropin, whether"), "Write one"),
]


@pytest.mark.parametrize(("where", "options", "do"), UNREADABLE, ids=[f"{place}" for place in range(len(UNREADABLE))])
def test_what_cannot_be_read(where: str, options: tuple[str, ...], do: str) -> None:
    status, found = levels("hCG 9 IU/L", more=options)
    assert status == 2
    assert list(found) == KEYS
    assert all(found[key] is None for key in KEYS if key != "findings")
    assert codes(found) == {"unreadable": "stop"}
    assert [finding["where"] for finding in found["findings"]] == [where]
    assert do in found["findings"][0]["do"] or do in found["findings"][0]["what"] or "12 h" in do


def test_clock_times_need_the_sample_and_the_zone() -> None:
    status, found = levels("LH 9 IU/L", injection=f"{AGONIST}, 2026-11-18 21:00")
    assert status == 2
    assert [finding["where"] for finding in found["findings"]] == ["--drawn", "--zone"]


def test_one_result_a_sample() -> None:
    status, found = levels("LH 9 IU/L", "LH 48 IU/L")
    assert status == 2
    assert "LH is given more than one time" in found["findings"][0]["what"]


def test_pictures(tmp_path: Path) -> None:
    folder = tmp_path / "pictures"
    status, found = levels("LH 48 IU/L", "progesterone 5 ng/mL", more=("--pictures", str(folder)))
    assert status == 0
    assert [list(one) for one in found["pictures"]] == [["result", "look", "file", "words"]] * 6
    assert sorted(path.name for path in folder.iterdir()) == [
        f"{name}-{look}.svg" for name in ("lh", "progesterone") for look in ("dark", "light", "paper")
    ]
    assert found["pictures"][0]["words"].startswith("LH 48 units/L at 12 h: as expected.")
    status, found = levels("LH 48 IU/L", more=("--pictures", str(folder)))
    assert status == 1
    assert found["pictures"] is None
    assert codes(found)["out-refused"] == "stop"
    status, found = levels("LH 48 IU/L", more=("--pictures", str(folder / "lh-dark.svg" / "deeper")))
    assert status == 1
    assert codes(found)["out-refused"] == "stop"


def test_for_people() -> None:
    said = run(
        *(
            "levels",
            "--injection",
            f"{URINARY}, 11 h",
            "--result",
            "hCG 70 mIU/mL",
            "--result",
            "pregnancy strip positive",
        )
    ).stdout
    assert "chorionic gonadotropin 10,000 units intramuscular, 11 h before the sample: lower than expected." in said
    assert 'hCG 70 units/L at 11 h (entered "hCG 70 mIU/mL"): lower than expected' in said
    assert "Curve, urinary hCG, intramuscular: about 215 units/L, band about 85.2 to about 543" in said
    assert "mean 213 units/L at 12 h" in said
    assert "curve +4 %" in said
    assert "Sources disagree. Whether hCG under the skin reaches the same level as in the muscle:" in said
    assert "ke = 0.021 per h" in said
    assert "pregnancy strip positive, 11 h after the injection: supports that it worked" in said
    assert "The prescriber decides" in said
    assert "ASK: hCG 70 units/L at 11 h is under half of the expected about 215 units/L." in said


def test_pictures_are_named_for_people(tmp_path: Path) -> None:
    said = run(
        "levels", "--injection", f"{AGONIST}, 12 h", "--result", "LH 48 IU/L", "--pictures", str(tmp_path / "new")
    ).stdout
    assert said.count("Picture: ") == 3


def test_options_that_are_missing() -> None:
    result = run("levels", "--injection", f"{AGONIST}, 12 h")
    assert result.exit_code == 2
    status, found = answer("levels", "--result", "LH 9 IU/L")
    assert status == 2
    assert all(found[key] is None for key in KEYS if key != "findings")
    (finding,) = found["findings"]
    assert (finding["code"], finding["where"]) == ("unreadable", "--injection")
    assert "--not-known" in finding["do"]


ASKED = "injection-not-known"
"""hourmark's own rule, as on the case's own pages: what is not known is asked, and never read as none."""


@pytest.mark.parametrize(
    ("told", "why"),
    [
        ("hCG, whether", "it is not known whether or when the hCG went in"),
        ("hCG, how much", "it is not known how much of the hCG went in"),
        ("hCG, what", "it is not known what of the hCG went in"),
        ("HCG, whether", "it is not known whether or when the hCG went in"),
        ("choriogonadotropin alfa, whether", "it is not known whether or when the hCG went in"),
    ],
)
def test_what_is_not_known_is_asked_about_and_never_read_as_none(told: str, why: str) -> None:
    """Without the word an hCG of 3 units/L would say "none went in"."""
    status, found = levels("hCG 3 IU/L", "pregnancy strip negative", more=("--not-known", told))
    assert status == 0
    assert list(found) == KEYS
    assert [(one["says"], one["why"]) for one in found["readings"]] == [("read with care", why)]
    assert [(one["says"], one["why"]) for one in found["strips"]] == [("read with care", why)]
    assert [one["code"] for one in found["findings"]] == [ASKED, ASKED]
    assert found["findings"][0]["what"] == f"hCG 3 units/L: {why}."
    _, taken_for_all = levels("hCG 3 IU/L")
    assert codes(taken_for_all) == {"level-of-no-injection": "note"}


def test_what_is_not_known_stands_beside_what_went_in() -> None:
    status, found = levels("hCG 95 IU/L", injection=f"{URINARY}, 11 h", more=("--not-known", "hCG, how much"))
    assert status == 0
    assert found["readings"][0]["why"].endswith("it is not known how much of other hCG went in")
    assert codes(found)[ASKED] == "ask"


def test_with_nothing_known_to_have_gone_in_nothing_is_read() -> None:
    told = ("--not-known", "agonist, whether")
    results = ("LH 2 IU/L", "hCG 3 IU/L", "progesterone 1 ng/mL", "LH strip negative", "pregnancy strip positive")
    status, found = answer("levels", *told, *(part for text in results for part in ("--result", text)))
    assert status == 0
    assert list(found) == KEYS
    assert found["injections"] == found["readings"] == []
    assert [(one["strip"], one["after"], one["says"]) for one in found["strips"]] == [
        ("pregnancy strip positive", None, "says nothing of this injection")
    ]
    assert {one["where"]: one["code"] for one in found["findings"]} == {
        "LH": ASKED,
        "progesterone": ASKED,
        "LH strip": ASKED,
        "hCG": "level-of-no-injection",
    }


def test_a_result_that_no_assay_gives_is_only_asked_about_where_nothing_is_known() -> None:
    _, found = answer("levels", "--not-known", "agonist, whether", "--result", "hCG 2,000,000 IU/L")
    assert codes(found) == {"result-no-assay": "ask"}


def test_two_kinds_of_which_nobody_knows() -> None:
    """A dual trigger that nobody has reported yet."""
    told = ("--not-known", "hCG, whether", "--not-known", "leuprolide acetate, how much")
    _, found = answer("levels", *told, "--result", "progesterone 5 ng/mL")
    assert [one["what"] for one in found["findings"]] == [
        "progesterone 5 ng/mL: it is not known how much of the agonist went in and whether or when the hCG went in."
    ]


def test_what_is_not_known_is_said_for_people() -> None:
    told = ("--not-known", "hCG, whether", "--result", "hCG 3 IU/L")
    said = run("levels", "--injection", f"{AGONIST}, 12 h", *told, "--result", "pregnancy strip negative").stdout
    why = "it is not known whether or when the hCG went in"
    assert f'hCG 3 units/L at 12 h (entered "hCG 3 IU/L"): read with care ({why}).' in said
    assert f"pregnancy strip negative, 12 h after the injection: read with care ({why})." in said
    assert f"ASK: hCG 3 units/L: {why}." in said
    alone = run("levels", "--not-known", "agonist, whether", "--result", "pregnancy strip negative").stdout
    assert "pregnancy strip negative: says nothing of this injection" in alone
