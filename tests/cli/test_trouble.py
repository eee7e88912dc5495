"""hourmark trouble: text, JSON, what cannot be read, and what stops."""

from pathlib import Path
from typing import Any

import pytest

from hourmark.cli.show import _KEYS
from hourmark.incident import Kind, questions
from tests.cli.running import answer, codes, run
from tests.exchange.nights import CLOCK_CHANGE, POWDER, changed, save

ROOT = Path(__file__).resolve().parents[2]
NIGHT = str(ROOT / "examples" / "ordinary-night.toml")
KEYS = [
    *("case", "kind", "at", "said", "emergency", "decides", "also", "first", "reasons", "legs", "proposals"),
    *("common_starts", "spare", "to_slot", "questions", "as_planned", "not_known", "findings", "time_data"),
]
LEG_KEYS = [
    *(
        "injection",
        "drug",
        "ordered",
        "route",
        "state",
        "given",
        "share",
        "in_syringe",
        "instead",
        "left",
        "lead",
        "starts",
    ),
    *("left_to_inject", "working"),
]
MORNING = ("--at", "2026-11-19 08:00")


def said(**answers: str) -> list[str]:
    return [part for key, value in ({"symptoms": "no"} | answers).items() for part in ("--said", f"{key}={value}")]


def test_the_answer_for_programs() -> None:
    status, found = answer(
        *("trouble", NIGHT, "K-103", "wrong-mark"),
        *said(injection="hcg", injected="yes", at="2026-11-18 21:00", drawn="0.3 mL"),
        *MORNING,
    )
    assert status == 0
    assert list(found) == KEYS == list(_KEYS["trouble"])
    (leg,) = found["legs"]
    assert list(leg) == LEG_KEYS
    assert leg["given"] == {"least": "1,500 units", "most": "1,500 units"}
    assert leg["share"] == {"least": "150 %", "most": "150 %"}
    assert leg["left"] == {
        "vials": {"least": "1.7 mL", "most": "1.7 mL"},
        "dose": {"least": "8,500 units", "most": "8,500 units"},
        "syringe": None,
    }
    assert leg["lead"]["lead"] == {"least": "36 h", "most": "36 h"}
    assert (found["decides"], found["emergency"], found["to_slot"]) == ("prescriber", False, "25 h")
    assert found["at"] == "2026-11-19T08:00:00-06:00"
    assert found["said"]["drawn"] == "0.3 mL"
    assert codes(found)["trouble-dose"] == "ask"
    assert [one["key"] for one in found["questions"]] == [one.key for one in questions(Kind.WRONG_MARK)]
    assert [step["name"] for step in leg["working"]] == ["dose given", "lead", "starts that restore the lead"]
    assert leg["working"][0]["inputs"][0] == {"name": "powder in one vial", "value": "10,000 units", "source": "plan"}


def test_starts_that_restore_the_lead() -> None:
    _, found = answer(
        *("trouble", NIGHT, "K-103", "late"),
        *said(injection="hcg", injected="yes", at="2026-11-19 01:00", all="yes", open="2026-11-20 12:30"),
        *MORNING,
    )
    assert found["legs"][0]["starts"] == {
        "earliest": "2026-11-20T12:00:00-06:00",
        "latest": "2026-11-20T14:00:00-06:00",
        "restored": {"first": "2026-11-20T13:00:00-06:00", "last": "2026-11-20T13:00:00-06:00"},
        "open": [{"at": "2026-11-20T12:30:00-06:00", "lead": {"least": "35 h 30 min", "most": "35 h 30 min"}}],
        "if_now": False,
    }
    assert found["also"] == ["theatre and laboratory"]
    assert found["legs"][0]["lead"] == {
        "at": {"first": "2026-11-19T01:00:00-06:00", "last": "2026-11-19T01:00:00-06:00"},
        "off": {"least": "4 h", "most": "4 h"},
        "lead": {"least": "32 h", "most": "32 h"},
        "gap": None,
        "window": ["35 h", "37 h"],
        "inside": False,
        "outside": True,
        "band": "standard",
        "band_level": "warn",
        "if_now": False,
    }


def test_a_repeat_is_a_proposal_until_released(tmp_path: Path) -> None:
    from tests.incident.trouble import REPEAT

    night = str(save(tmp_path, REPEAT))
    _, found = answer(
        *("trouble", night, "K-1", "late"),
        *said(injection="agonist", injected="yes", at="2026-11-18 17:40", all="yes"),
        *MORNING,
    )
    assert found["proposals"] == [
        {
            "injection": "repeat",
            "after": "agonist",
            "at": {"first": "2026-11-19T05:40:00-06:00", "last": "2026-11-19T05:40:00-06:00"},
            "window": {"first": "2026-11-19T04:40:00-06:00", "last": "2026-11-19T06:40:00-06:00"},
            "standing": "proposal only, until a new page is released",
        }
    ]
    shown = run(
        *("trouble", night, "K-1", "late"),
        *said(injection="agonist", injected="yes", at="2026-11-18 17:40", all="yes"),
        *MORNING,
    )
    assert "Proposal only, until a new page is released: repeat Thursday 19 November 2026, 5:40 am" in shown.stdout


def test_the_words_for_people() -> None:
    result = run(
        *("trouble", NIGHT, "K-103", "wrong-water"),
        *said(injection="hcg", injected="yes", at="2026-11-18 21:00", water="10 mL", drawn="0.2 mL", lost="1/3 to 1/2"),
        *("--said", "stayed=0 mL", *MORNING),
    )
    assert result.exit_code == 0
    assert result.stderr == ""
    lines = result.stdout.splitlines()
    assert lines[0] == "Case K-103: another amount of water. For staff only; the prescriber decides."
    assert "  What has already gone in. She repeats no dose and adds none." in lines
    assert "Decides: the prescriber; tell also the pharmacist" in lines
    assert "  Went in:  100 to about 133.333 units, 10 to 13.3 % of the order" in lines
    assert "  Left in the vials: 9.8 mL = 9,800 units; it is kept, and not injected" in lines
    assert "  lost = 1/3 to 1/2" in lines


def test_what_is_still_in_the_syringe_and_what_is_not_due() -> None:
    result = run(
        *("trouble", NIGHT, "K-103", "wrong-mark"),
        *said(injection="hcg", injected="no", drawn="0.3 mL"),
        *("--at", "2026-11-18 20:30"),
    )
    assert "  In the syringe, not injected: 1,500 units" in result.stdout
    assert "  Left in the syringe: 0.3 mL" in result.stdout
    assert "  The order allows it for 1 h 30 min more" in result.stdout
    past = run("trouble", NIGHT, "K-103", "missed", *said(injection="hcg"), *MORNING)
    assert "  The order's window is past" in past.stdout
    assert "  If now:  Thursday 19 November 2026, 8:00 am" in past.stdout


def test_two_legs_and_a_wide_time() -> None:
    both = run(
        *("trouble", NIGHT, "K-103", "one-of-two"),
        *said(missed="hcg", at="2026-11-18 21:00", all="yes"),
        *("--at", "2026-11-18 22:10"),
    )
    assert "Starts that suit all of them: from Friday 20 November 2026, 9:10 am" in both.stdout
    wide = run(
        *("trouble", NIGHT, "K-103", "late"),
        *said(injection="hcg", injected="yes", at="2026-11-18 19:00 to 2026-11-18 23:00", all="yes"),
        *MORNING,
    )
    assert "none is certain, the time is too wide" in wide.stdout


def test_danger_first() -> None:
    status, found = answer("trouble", NIGHT, "K-103", "wrong-mark", "--said", "symptoms=yes", "--said", "drawn=0.3 mL")
    assert (status, found["emergency"], found["decides"], found["legs"]) == (1, True, "emergency", [])
    assert codes(found) == {"trouble-danger": "stop"}
    shown = run("trouble", NIGHT, "K-103", "wrong-mark", "--said", "symptoms=yes", "--said", "drawn=0.3 mL")
    assert shown.exit_code == 1
    assert "Decides: emergency services first" in shown.stdout
    assert "  drawn = 0.3 mL" in shown.stdout
    assert "mL =" not in shown.stdout


def test_without_answers_it_asks(tmp_path: Path) -> None:
    status, found = answer("trouble", str(save(tmp_path, POWDER)), "K-1", "late")
    assert status == 0
    assert found["at"] == "2026-11-18T14:30:00-06:00"
    assert [one["where"] for one in found["findings"] if one["code"].startswith("trouble-")][:2] == [
        "symptoms",
        "injected",
    ]
    assert codes(found)["trouble-danger-unasked"] == "ask"


def test_what_is_read_but_stops() -> None:
    status, found = answer(
        *("trouble", NIGHT, "K-103", "late"),
        *said(injection="hcg", injected="yes", at="2026-11-19 21:00", all="yes"),
        *MORNING,
    )
    assert status == 1
    assert codes(found)["trouble-time-future"] == "stop"
    assert found["said"]["at"] == "2026-11-19 21:00"
    assert found["legs"][0]["lead"] is None
    shown = run(
        *("trouble", NIGHT, "K-103", "late"),
        *said(injection="hcg", injected="yes", at="2026-11-19 21:00", all="yes"),
        *MORNING,
    )
    assert "The report is to be kept as it was said" in shown.stdout


@pytest.mark.parametrize(
    ("args", "where", "words"),
    [
        (["K-999", "late"], "CASE", "Cases here: K-101"),
        (["K-103", "tardy"], "KIND", "Write one of: early"),
        (["K-103", "late", "--said", "all"], "--said", "key=value"),
        (["K-103", "late", "--said", "all=yes", "--said", "all=no"], "--said", "answered twice"),
        (["K-103", "late", "--said", "colour=red"], "--said colour", "Write one of: symptoms"),
        (["K-103", "late", "--said", "at=nine"], "--said at", "24-hour clock"),
        (["K-103", "wrong-mark", "--said", "drawn=0.30 mL"], "--said drawn", 'Write "0.3'),
        (["K-103", "late", "--at", "tonight"], "--at", "24-hour clock"),
    ],
)
def test_what_cannot_be_read(args: list[str], where: str, words: str) -> None:
    status, found = answer("trouble", NIGHT, *args)
    assert status == 2
    assert list(found) == KEYS
    assert {key for key in KEYS if found[key] is not None} == {"findings"}
    (finding,) = found["findings"]
    assert finding["where"] == where
    assert words in f"{finding['what']} {finding['do']}"


def test_a_night_or_a_moment_that_cannot_be_read(tmp_path: Path) -> None:
    status, found = answer("trouble", str(tmp_path / "none.toml"), "K-1", "late")
    assert (status, found["case"]) == (2, None)
    night = str(save(tmp_path, changed(POWDER, *CLOCK_CHANGE)))
    for clock, code in (("2026-11-01 01:30", "time-repeated"), ("2027-03-14 02:30", "time-skipped")):
        status, found = answer("trouble", night, "K-1", "late", "--at", clock)
        assert (status, list(codes(found))) == (2, [code])
    status, found = answer("trouble", night, "K-1", "late", "--at", "2026-11-01 01:30 second")
    assert (status, found["at"]) == (0, "2026-11-01T01:30:00-06:00")


def test_every_kind_answers(tmp_path: Path) -> None:
    night = str(save(tmp_path, POWDER))
    for kind in Kind:
        status, found = answer("trouble", night, "K-1", str(kind), *said())
        stops: dict[str, Any] = codes(found)
        assert (status, found["kind"]) == ((1 if "stop" in stops.values() else 0), str(kind))
