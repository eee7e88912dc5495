"""The examples of refusal: each shows the one code that its comment names, all together every stop and ask a night file can raise.

The codes and what raises them are the project's own; no figure here comes from outside.
"""

import re
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from hourmark.exchange import plan_checked, read_night
from hourmark.formulary import drugs
from hourmark.handout import patient_sheet, sheet_text
from hourmark.order import Night
from scripts.chain import chain
from tests.cli.running import answer, run

ROOT = Path(__file__).resolve().parents[2]
CASES = ROOT / "examples" / "refusals.toml"
NIGHT = ROOT / "examples" / "refusals-whole-night.toml"
UNREADABLE = sorted((ROOT / "examples" / "unreadable").glob("*.toml"))

_COMMENT = re.compile(r"# (?P<why>.+): (?P<code>[a-z]+(?:-[a-z]+)*)")
_CASE = re.compile(rf'^{_COMMENT.pattern}\n\[\[cases\]\]\nid = "(?P<id>[^"]+)"$', re.MULTILINE)

NAMED = {match["id"]: match["code"] for match in _CASE.finditer(CASES.read_text(encoding="utf-8"))}
"""The code that the line above each case names, by case."""

NAMED_FOR_THE_NIGHT = {
    match["code"] for match in re.finditer(rf"^{_COMMENT.pattern}$", NIGHT.read_text(encoding="utf-8"), re.MULTILINE)
}

BESIDE = {"dose-unit-disagrees": {"dose-other-kind"}}
"""What cannot be shown alone: order and box disagree in the unit where the order disagrees with its drug."""

NEVER_LOUD = {
    "antagonist-stop-day",
    "barrel-full",
    "barrel-large",
    "clock-change-between",
    "clocks-differ",
    "diluent-surplus",
    "draw-nearly-all",
    "draw-small",
    "injection-midnight",
    "lead-insemination",
    "lead-off-centre",
    "lead-unusual",
    "no-practice-syringe",
    "overstimulation-note",
    "override-needless",
    "repeat-from-actual",
    "rests-on-unread",
    "route-confirmed",
    "rules-unsigned",
    "tell-by-past",
    "tolerance-notable",
    "tolerance-wide",
    "volume-large",
    "volume-notable",
    "which-needless",
}
"""Codes that only warn or note."""

NOT_SHOWABLE = {
    "against-unreadable": "the earlier plan named on the command line, not the night file",
    "out-refused": "the folder named on the command line, not the night file",
    "page-unprintable": "the printing, with --out; tests/cli/test_plan.py",
    "unreadable": "an option on the command line",
    "time-data-old": "the time data installed, not the night file",
    "vials-too-few": "a plan counts the vials a dose takes itself; only hourmark draw is told a number",
    "vials-too-many": "a plan counts the vials a dose takes itself; only hourmark draw is told a number",
    **dict.fromkeys(
        (
            "recheck-count",
            "recheck-dose",
            "recheck-illegible",
            "recheck-left",
            "recheck-medicine",
            "recheck-minute",
            "recheck-number",
            "recheck-route",
            "recheck-slot",
            "recheck-steps",
            "recheck-zone",
        ),
        "a fault of the program itself",
    ),
}


@cache
def planned(path: Path) -> dict[str, Any]:
    """The plan of an example, as other programs read it; something stops in each."""
    status, found = answer("plan", str(path))
    assert status == 1
    return found


def case_of(case_id: str) -> dict[str, Any]:
    found: dict[str, Any] = next(case for case in planned(CASES)["cases"] if case["id"] == case_id)
    return found


def loud(findings: list[dict[str, Any]]) -> set[str]:
    return {finding["code"] for finding in findings if finding["level"] in ("stop", "ask")}


def first_line(path: Path) -> str:
    return path.read_bytes().partition(b"\n")[0].decode("latin-1")


def unreadable_code(path: Path) -> str:
    """The code that the first line names; the empty file has no line to name it in."""
    if path.name == "empty.toml":
        return "file-unreadable"
    match = _COMMENT.fullmatch(first_line(path))
    assert match, first_line(path)
    return match["code"]


def test_every_case_says_what_is_wrong_with_it() -> None:
    assert list(NAMED) == [case["id"] for case in planned(CASES)["cases"]]
    assert len(NAMED) > 70


@pytest.mark.parametrize("case_id", list(NAMED))
def test_a_case_raises_the_code_it_names_and_no_other(case_id: str) -> None:
    case, code = case_of(case_id), NAMED[case_id]
    assert loud(case["findings"]) == {code} | BESIDE.get(code, set())
    for finding in case["findings"]:
        assert finding["where"].startswith(f"case {case_id}")
        assert all(finding[key] for key in ("what", "limit", "source", "do")), finding
    levels = {finding["level"] for finding in case["findings"] if finding["code"] == code}
    assert levels in ({"stop"}, {"ask"})
    assert case["state"] == ("refused" if levels == {"stop"} else "to ask")


def test_a_code_stands_in_one_case_but_a_slot_shared_by_two() -> None:
    codes = list(NAMED.values())
    assert {code for code in codes if codes.count(code) > 1} == {"slot-shared"}
    assert codes.count("slot-shared") == 2


def test_the_words_on_a_box_that_is_entered_as_another_are_among_them() -> None:
    case = case_of(next(case_id for case_id, code in NAMED.items() if code == "box-words-disagree"))
    finding = case["findings"][0]
    assert "5,000 units" in finding["what"]
    assert "10,000 units" in finding["what"]
    assert finding["limit"].startswith("hcg-10000-units")


def test_what_concerns_a_whole_night_has_a_night_of_its_own() -> None:
    found = planned(NIGHT)
    assert loud(found["findings"]) == NAMED_FOR_THE_NIGHT
    assert len(NAMED_FOR_THE_NIGHT) == 4
    for finding in found["findings"]:
        assert all(finding[key] for key in ("where", "what", "limit", "source", "do")), finding


def test_every_stop_and_ask_that_a_night_file_can_raise_is_shown(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    rooms_of_a_plan = re.compile("(?!case/|desk/|drill/|incident/|levels/|store/|ledger/|web/|cli/keep)")
    program = {code for code, link in chain().items() if any(map(rooms_of_a_plan.match, link.raised))}
    assert not NEVER_LOUD & NOT_SHOWABLE.keys()
    assert program >= NEVER_LOUD | NOT_SHOWABLE.keys()
    shown = set(NAMED.values()) | NAMED_FOR_THE_NIGHT | set(map(unreadable_code, UNREADABLE))
    assert shown == program - NEVER_LOUD - NOT_SHOWABLE.keys()
    assert len(shown) >= 40


@pytest.mark.parametrize("path", [CASES, NIGHT], ids=lambda path: path.stem)
def test_the_page_for_people_is_no_traceback(path: Path) -> None:
    codes = set(NAMED.values()) if path == CASES else NAMED_FOR_THE_NIGHT
    for command in ("plan", "findings"):
        result = run(command, str(path))
        assert result.exit_code == 1
        assert "Traceback" not in result.output
        if command == "findings":
            assert set(re.findall(r"^  Code:   (\S+)$", result.stdout, re.MULTILINE)) >= codes


@pytest.mark.parametrize("case_id", ["R-01", "R-19", "R-38", "R-68"])
def test_a_case_by_itself_shows_where_limit_source_and_remedy(case_id: str) -> None:
    text = run("plan", str(CASES), "--case", case_id).stdout
    finding = next(one for one in case_of(case_id)["findings"] if one["code"] == NAMED[case_id])
    for key in ("where", "limit", "source", "do", "code"):
        assert finding[key] in text


_UNITS = re.compile(r"\b(?:units?|mg|mcg|mL|micrograms?|milligrams?|marks?|syringes?|sprays?)\b")


def check_page(case_id: str, page: str) -> None:
    """A refused case's page says whom to call and nothing to take; another's says its dose."""
    refused = case_of(case_id)["state"] == "refused"
    assert refused == ("No instruction can be drafted" in page)
    if not refused:
        assert "Dose: " in page
        return
    refusal = "Do not mix, inject or spray anything from this page. Call the clinic."
    assert refusal in page
    rest = re.sub("Number to call now: .+", "", page.replace(case_id, "").replace(refusal, ""))
    assert not re.search(r"\d", rest), rest
    assert not _UNITS.search(rest), rest
    names = sorted({name.lower() for drug in drugs().values() for name in (drug.name, *drug.names)})
    assert not [name for name in names if name in rest.lower()]


def test_a_refused_case_gets_a_page_without_any_dose_or_time() -> None:
    night = read_night(CASES)
    assert isinstance(night, Night)
    plan = plan_checked(night)
    assert [case.case.id for case in plan.cases] == list(NAMED)
    for case in plan.cases:
        check_page(case.case.id, sheet_text(patient_sheet(case, plan)))


def test_a_refused_case_gets_no_file_but_that_page(tmp_path: Path) -> None:
    out = tmp_path / "out"
    refused, asked = "R-01", "R-72"
    assert (case_of(refused)["state"], case_of(asked)["state"]) == ("refused", "to ask")
    assert run("plan", str(CASES), "--out", str(out), "--only", refused, "--only", asked).exit_code == 1
    written = {
        path.relative_to(out / "patients").as_posix() for path in (out / "patients").rglob("*") if path.is_file()
    }
    patient = ("draft.txt", "draft.pdf", "draft-pictures.pdf", "draft-calendar.ics")
    assert written == {f"{refused}/draft.txt", *(f"{asked}/{name}" for name in patient)}
    for case_id in (refused, asked):
        check_page(case_id, (out / "patients" / case_id / "draft.txt").read_text(encoding="utf-8"))


@pytest.mark.parametrize("path", UNREADABLE, ids=lambda path: path.stem)
def test_a_file_that_cannot_be_read_is_refused_at_its_line(path: Path) -> None:
    raw = path.read_bytes()
    marked = [number for number, line in enumerate(raw.split(b"\n"), 1) if line.endswith(b"# here")]
    assert len(marked) == (path.name != "empty.toml")
    for command in ("plan", "findings"):
        status, found = answer(command, str(path))
        assert status == 2
        (finding,) = found["findings"]
        assert (finding["code"], finding["level"]) == (unreadable_code(path), "stop")
        place = finding["where"].partition(", ")[0]
        assert place == (f"{path}:{marked[0]}" if marked else str(path))
        assert all(finding[key] for key in ("what", "limit", "source", "do"))
    assert run("plan", str(path)).exit_code == 2


def test_nothing_is_written_from_a_file_that_cannot_be_read(tmp_path: Path) -> None:
    for path in UNREADABLE:
        assert run("plan", str(path), "--out", str(tmp_path / "out")).exit_code == 2
    assert list(tmp_path.iterdir()) == []
