"""hourmark plan and hourmark findings: text, JSON, one case, an earlier plan, and the folder that is written."""

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from hourmark.exchange import plan_checked, plan_json, read_night, write_plan
from hourmark.exchange.prints import File, Printing
from hourmark.handout import patient_sheet, sheet_text
from hourmark.plan import NightPlan, plan_night
from tests.cli.running import answer, check_findings, codes, run
from tests.exchange.nights import LEAD, POWDER, PREFILLED, SOLUTION, WHOLE, Change, changed, save, second_injection

ROOT = Path(__file__).resolve().parents[2]
NIGHT = ROOT / "examples" / "ordinary-night.toml"
KEYS = ["made_by", "standing", "as_of", "time_data", "clinic", "cases", "moved", "findings"]
CASE_KEYS = [
    "id",
    "zone",
    "helper",
    "language",
    "state",
    "slot",
    "arrival",
    "fasting",
    "order",
    "injections",
    "findings",
]
INJECTION_KEYS = [
    "id",
    "drug",
    "dose",
    "route",
    "timing",
    "inject_at",
    "clinic",
    "patient",
    "lead",
    "provisional",
    "tell_by",
    "lay_out",
    "mix_at",
    "morning_sample",
    "product",
    "diluent",
    "draw",
    "mixes",
    "steps",
    "keep",
    "working",
]


def _night(path: Path) -> NightPlan:
    night = read_night(path)
    assert not isinstance(night, tuple)
    return plan_night(night)


def _two(folder: Path, *changes: Change) -> Path:
    """A night of two cases; the changes are made in the second."""
    start = SOLUTION.index("[[cases]]")
    other = changed(WHOLE[WHOLE.index("[[cases]]") :], ('"K-1"', '"K-2"'), ('slot = "s1"', 'slot = "s2"'), *changes)
    slot = '\n[[slots]]\nid = "s2"\nat = "2026-11-20 09:30"\n\n'
    return save(folder, SOLUTION[:start] + slot + SOLUTION[start:] + "\n" + other)


def test_the_shape_of_a_plan() -> None:
    status, found = answer("plan", str(NIGHT))
    assert status == 0
    assert list(found) == KEYS
    assert found["standing"] == "DRAFT, NOT RELEASED"
    assert found["moved"] is None
    assert len(found["cases"]) == 10
    for case in found["cases"]:
        assert list(case) == CASE_KEYS
        check_findings(case["findings"])
        for injection in case["injections"]:
            assert list(injection) == INJECTION_KEYS
            assert list(injection["draw"])[:3] == ["volume", "fills", "given"]
            assert injection["draw"]["fills"]


def test_a_minute_and_a_mark(tmp_path: Path) -> None:
    _, found = answer("plan", str(save(tmp_path, POWDER)))
    (case,) = found["cases"]
    (one,) = case["injections"]
    assert one["inject_at"] == "2026-11-19T03:00:00Z"
    assert one["patient"]["said"] == (
        "Wednesday 18 November 2026, 9:00 pm (21:00), the night of Wednesday into Thursday, Chicago time"
    )
    assert one["lead"] == "36 h"
    assert one["tell_by"] == "2026-11-18T18:00:00-06:00"
    assert one["lay_out"] == "2026-11-18T20:00:00-06:00"
    assert one["mix_at"] == "2026-11-18T20:40:00-06:00"
    assert one["morning_sample"] == ["2026-11-19T05:00:00-06:00", "2026-11-19T11:00:00-06:00"]
    assert case["arrival"] == "2026-11-20T08:00:00-06:00"
    assert case["fasting"] == {
        "solids_until": "2026-11-20T01:00:00-06:00",
        "clear_fluids_until": "2026-11-20T07:00:00-06:00",
    }
    assert one["diluent"] == {"volume": "2 mL", "chosen_by": "signed mixing rule"}
    assert [(fill["syringe"], fill["mark"]) for fill in one["draw"]["fills"]] == [("u100-1mL-1", "20")]
    assert (one["draw"]["given"], one["draw"]["left"]) == ("1,000 units", "1.8 mL")
    rows = {(row["diluent"], row["syringe"]): row for row in one["mixes"]}
    assert set(rows) == {(volume, kind) for volume in ("2 mL", "10 mL") for kind in ("u100-1mL-1", "mL-3-0.1")}
    assert [key for key, row in rows.items() if row["chosen"]] == [("2 mL", "u100-1mL-1"), ("2 mL", "mL-3-0.1")]
    assert rows["10 mL", "mL-3-0.1"]["marks"] == ["1"]


def test_a_refused_case_has_no_fill(tmp_path: Path) -> None:
    path = save(tmp_path, changed(SOLUTION, ('"4 mg"', '"4.01 mg"')))
    status, found = answer("plan", str(path))
    assert status == 1
    (case,) = found["cases"]
    assert case["state"] == "refused"
    draw = case["injections"][0]["draw"]
    assert draw["fills"] == []
    assert draw["given"] is draw["share"] is draw["tolerance"] is None


def test_one_case(tmp_path: Path) -> None:
    path = _two(tmp_path, ('"5,000 units"\nroute', '"4,000 units"\nroute'), (LEAD, 'lead = "36 h"'))
    status, found = answer("plan", str(path), "--case", "K-1")
    assert status == 0
    assert [case["id"] for case in found["cases"]] == ["K-1"]
    assert "K-2" not in json.dumps(found)
    assert answer("plan", str(path), "--case", "K-2")[0] == 1
    text = run("plan", str(path), "--case", "K-1")
    assert text.exit_code == 0
    assert "Case K-1: planned. DRAFT, NOT RELEASED" in text.stdout
    assert "mark 80 (0.8 mL)" in text.stdout
    assert "K-2" not in text.stdout


def test_a_case_that_is_not_there() -> None:
    status, found = answer("plan", str(NIGHT), "--case", "K-999")
    assert status == 2
    assert all(found[key] is None for key in KEYS if key != "findings")
    assert "K-101" in found["findings"][0]["do"]


def test_a_case_of_a_night_whose_moment_is_skipped(tmp_path: Path) -> None:
    path = save(tmp_path, changed(SOLUTION, ('as_of = "2026-11-18 14:30"', 'as_of = "2026-03-08 02:30"')))
    status, found = answer("plan", str(path), "--case", "K-1")
    assert codes(found) == {"time-skipped": "stop"}
    assert status == 1


def test_the_night_for_people() -> None:
    result = run("plan", str(NIGHT))
    assert result.exit_code == 0
    assert "DRAFT, NOT RELEASED" in result.stdout
    minutes = [line for line in result.stdout.splitlines() if "K-1" in line]
    assert "K-105" in minutes[0]
    assert "10 cases; findings: 0 stop" in result.stdout


NIGHTS = sorted(path.name for path in (ROOT / "examples").glob("*.toml") if path.name != "evening.toml")
"""The examples that are night files; the evening is a script that plays on one of them."""


@pytest.mark.parametrize("name", NIGHTS)
def test_examples(name: str) -> None:
    status, found = answer("plan", str(ROOT / "examples" / name))
    assert status in (0, 1)
    check_findings(found["findings"])
    assert answer("findings", str(ROOT / "examples" / name))[1]["findings"] == found["findings"]


def test_findings_alone(tmp_path: Path) -> None:
    path = _two(tmp_path, (LEAD, 'lead = "36 h"'))
    result = run("findings", str(path), "--json")
    assert result.exit_code == 1
    found = json.loads(result.stdout)
    assert list(found) == ["findings"]
    check_findings(found["findings"])
    assert found["findings"][0]["where"].startswith("case K-2, injection first")
    assert run("findings", str(path)).stdout.rstrip().splitlines()[-1].startswith("2 cases; findings: 1 stop")
    unread = run("findings", str(tmp_path / "absent.toml"), "--json")
    assert unread.exit_code == 2
    assert [finding["code"] for finding in json.loads(unread.stdout)["findings"]] == ["file-unreadable"]


def test_a_file_that_cannot_be_read(tmp_path: Path) -> None:
    path = save(tmp_path, changed(SOLUTION, ('"4 mg"', '"4 IU"')))
    status, found = answer("plan", str(path))
    assert status == 2
    assert list(found) == KEYS
    assert all(found[key] is None for key in KEYS if key != "findings")
    assert run("plan", str(path)).stdout == ""


# An earlier plan


def _old(folder: Path, text: str) -> Path:
    old = folder / "old.json"
    old.write_text(json.dumps(plan_json(_night(save(folder, text)))), encoding="utf-8")
    return old


def test_nothing_moved(tmp_path: Path) -> None:
    old = _old(tmp_path, SOLUTION)
    status, found = answer("plan", str(tmp_path / "night.toml"), "--against", str(old))
    assert (status, found["moved"]) == (0, [])
    assert "No minute and no dose changed" in run("plan", str(tmp_path / "night.toml"), "--against", str(old)).stdout


TAKE = "planned: 4 mg leuprolide acetate, subcutaneous, leuprolide-5mg-per-ml-vial, mark 80 on u100-1mL-1"


def test_a_changed_dose_on_the_same_minute(tmp_path: Path) -> None:
    old = _old(tmp_path, SOLUTION)
    path = save(tmp_path, changed(SOLUTION, ('"4 mg"', '"2 mg"')))
    (moved,) = answer("plan", str(path), "--against", str(old))[1]["moved"]
    assert moved["was"] == moved["now"]
    assert moved["was_take"] == TAKE
    assert moved["now_take"] == TAKE.replace("4 mg leu", "2 mg leu").replace("mark 80", "mark 40")


def test_a_moved_slot(tmp_path: Path) -> None:
    old = _old(tmp_path, SOLUTION)
    path = save(tmp_path, changed(SOLUTION, ("2026-11-20 09:00", "2026-11-20 09:15")))
    _, found = answer("plan", str(path), "--against", str(old))
    assert found["moved"] == [
        {
            "case": "K-1",
            "injection": "first",
            "was": "2026-11-19T03:00:00Z",
            "now": "2026-11-19T03:15:00Z",
            "was_said": "Wednesday 18 November 2026, 9:00 pm (21:00), the night of Wednesday into Thursday, Chicago time",
            "now_said": "Wednesday 18 November 2026, 9:15 pm (21:15), the night of Wednesday into Thursday, Chicago time",
            "was_take": TAKE,
            "now_take": TAKE,
        }
    ]
    assert "case K-1, injection first" in run("plan", str(path), "--against", str(old)).stdout


def test_another_minute_in_the_earlier_plan_and_cases_come_and_gone(tmp_path: Path) -> None:
    old = _old(tmp_path, SOLUTION)
    plan = json.loads(old.read_text())
    plan["cases"][0]["injections"][0]["inject_at"] = "2026-11-19T04:00:00Z"
    old.write_text(json.dumps(plan))
    (moved,) = answer("plan", str(tmp_path / "night.toml"), "--against", str(old))[1]["moved"]
    assert (moved["was"], moved["now"]) == ("2026-11-19T04:00:00Z", "2026-11-19T03:00:00Z")
    plan["cases"][0]["id"] = "K-9"
    old.write_text(json.dumps(plan))
    came, gone = answer("plan", str(tmp_path / "night.toml"), "--against", str(old))[1]["moved"]
    assert (came["case"], came["was"], gone["case"], gone["now"]) == ("K-1", None, "K-9", None)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "not JSON",
        "{}",
        "[]",
        "null",
        "1",
        '"x"',
        '{"cases": null}',
        '{"cases": [1]}',
        '{"cases": [{"id": "K-1"}]}',
        '{"cases": [{"id": "K-1", "injections": [{"id": "a", "inject_at": null}]}]}',
        '{"cases": []}',
        "[" * 100_000,
        "1" * 10_000,
        "\N{ZERO WIDTH NO-BREAK SPACE}{",
    ],
    ids=[str(place) for place in range(15)],
)
def test_an_earlier_plan_that_is_none(text: str, tmp_path: Path) -> None:
    old = tmp_path / "old.json"
    old.write_text(text, encoding="utf-8")
    status, found = answer("plan", str(save(tmp_path, SOLUTION)), "--against", str(old))
    assert status == 2
    assert codes(found) == {"against-unreadable": "stop"}


def test_an_earlier_plan_that_is_not_there(tmp_path: Path) -> None:
    for old in (tmp_path / "absent.json", tmp_path):
        status, found = answer("plan", str(save(tmp_path, SOLUTION)), "--against", str(old))
        assert status == 2
        assert codes(found) == {"against-unreadable": "stop"}


# The folder

FOR_ALL = {".hourmark-output", "staff/night.json", "staff/night.pdf"}
JUST_ONE = Printing(only=("K-1",))


def _of(case: str) -> set[str]:
    """The files of a case that is not refused."""
    pages = ("draft.txt", "draft.pdf", "draft-pictures.pdf", "draft-calendar.ics")
    return {f"staff/cases/{case}.pdf", *(f"patients/{case}/{page}" for page in pages)}


def _files(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


@pytest.mark.parametrize("state", ["absent", "absent-parent", "empty", "earlier"])
def test_a_folder_is_written_whole(state: str, tmp_path: Path) -> None:
    out = tmp_path / "a" / "out" if state == "absent-parent" else tmp_path / "out"
    if state == "empty":
        out.mkdir()
    if state == "earlier":
        assert write_plan(_night(_two(tmp_path)), out, JUST_ONE) == ()
        (out / "patients" / "K-9").mkdir()
        (out / "patients" / "K-9" / "draft.txt").write_text("old")
    path = save(tmp_path, SOLUTION)
    status, found = answer("plan", str(path), "--out", str(out))
    assert status == 0
    files = _files(out)
    assert set(files) == {*FOR_ALL, *_of("K-1")}
    assert all(content.startswith(b"%PDF-") == name.endswith(".pdf") for name, content in files.items())
    assert files["patients/K-1/draft-calendar.ics"].startswith(b"BEGIN:VCALENDAR")
    assert json.loads((out / "staff" / "night.json").read_text(encoding="utf-8")) == found
    assert [path.name for path in out.parent.iterdir() if path.name.startswith(".")] == []


@pytest.mark.parametrize("way", ["foreign", "file", "symlink", "dangling", "symlink-to-earlier"])
def test_a_folder_that_is_not_ours_is_left_alone(way: str, tmp_path: Path) -> None:
    out = tmp_path / "out"
    elsewhere = tmp_path / "elsewhere"
    match way:
        case "foreign":
            out.mkdir()
            (out / "letter.txt").write_text("mine")
        case "file":
            out.write_text("mine")
        case "symlink":
            elsewhere.mkdir()
            out.symlink_to(elsewhere)
        case "dangling":
            out.symlink_to(elsewhere)
        case _:
            assert write_plan(_night(_two(tmp_path)), elsewhere, JUST_ONE) == ()
            out.symlink_to(elsewhere)
    path = save(tmp_path, SOLUTION)
    before = _files(tmp_path)
    status, found = answer("plan", str(path), "--out", str(out))
    assert status == 2
    assert codes(found) == {"out-refused": "stop"}
    assert _files(tmp_path) == before
    assert out.is_symlink() == (way not in ("foreign", "file"))


def test_a_file_stands_where_the_parent_should_be(tmp_path: Path) -> None:
    (tmp_path / "a").write_text("mine")
    status, found = answer("plan", str(save(tmp_path, SOLUTION)), "--out", str(tmp_path / "a" / "out"))
    assert (status, codes(found)) == (2, {"out-refused": "stop"})
    assert (tmp_path / "a").read_text() == "mine"


def test_a_parent_that_may_not_be_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def denied(**_: Any) -> str:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("tempfile.mkdtemp", denied)
    status, found = answer("plan", str(save(tmp_path, SOLUTION)), "--out", str(tmp_path / "out"))
    assert (status, codes(found)) == (2, {"out-refused": "stop"})
    assert not (tmp_path / "out").exists()


def test_only_named_cases_are_printed_and_all_are_planned(tmp_path: Path) -> None:
    out = tmp_path / "out"
    status, found = answer("plan", str(_two(tmp_path)), "--out", str(out), "--only", "K-2")
    assert status == 0
    assert set(_files(out)) == {*FOR_ALL, *_of("K-2")}
    assert [case["id"] for case in found["cases"]] == ["K-1", "K-2"]
    status, found = answer("plan", str(_two(tmp_path)), "--out", str(tmp_path / "other"), "--only", "K-9")
    assert (status, codes(found)) == (2, {"unreadable": "stop"})
    assert not (tmp_path / "other").exists()


def test_a_refused_case_gets_no_paper(tmp_path: Path) -> None:
    out = tmp_path / "out"
    status, _ = answer("plan", str(_two(tmp_path, (LEAD, 'lead = "36 h"'))), "--out", str(out))
    assert status == 1
    assert set(_files(out)) == {*FOR_ALL, *_of("K-1"), "patients/K-2/draft.txt", "staff/cases/K-2.pdf"}


def test_the_same_plan_gives_the_same_files(tmp_path: Path) -> None:
    plan = _night(save(tmp_path, POWDER))
    for out in ("one", "two"):
        assert write_plan(plan, tmp_path / out) == ()
    assert _files(tmp_path / "one") == _files(tmp_path / "two")


def test_each_case_is_reported_as_done(tmp_path: Path) -> None:
    done: list[str] = []
    assert write_plan(_night(_two(tmp_path)), tmp_path / "out", done=lambda: done.append("case")) == ()
    assert done == ["case", "case"]


def test_a_page_that_cannot_be_set_is_a_stop_and_nothing_is_written(tmp_path: Path) -> None:
    """The name of a helper in letters that the page's font lacks."""
    out = tmp_path / "out"
    assert write_plan(_night(_two(tmp_path)), out, JUST_ONE) == ()
    before = _files(out)
    path = save(tmp_path, changed(SOLUTION, ('slot = "s1"', 'slot = "s1"\nhelper = "\N{CJK UNIFIED IDEOGRAPH-59C9}"')))
    assert answer("plan", str(path))[0] == 0
    status, found = answer("plan", str(path), "--out", str(out))
    assert (status, codes(found)) == (1, {"page-unprintable": "stop"})
    assert _files(out) == before
    assert [path.name for path in tmp_path.iterdir() if path.name.startswith(".")] == []


def test_paper_whose_words_read_otherwise_is_a_stop_and_nothing_is_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The words read back from the paper are rechecked, not those that were sent to it."""
    from hourmark.handout import pdf

    right = pdf.sheet_read

    def misprinted(*args: Any, **more: Any) -> tuple[bytes, tuple[str, ...]]:
        page, words = right(*args, **more)
        assert "Draw up to: mark 80 (0.8 mL). Inject all of it." in words
        return page, tuple(line.replace("mark 80 (0.8 mL)", "mark 8 (0.08 mL)") for line in words)

    monkeypatch.setattr(pdf, "sheet_read", misprinted)
    status, found = answer("plan", str(save(tmp_path, SOLUTION)), "--out", str(tmp_path / "out"))
    assert status == 1
    assert codes(found) == {"recheck-dose": "stop", "recheck-steps": "stop"}
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    "error", [OSError(28, "No space left on device"), KeyboardInterrupt()], ids=["full", "interrupt"]
)
@pytest.mark.parametrize("step", ["fill", "rename"])
def test_what_fails_midway_leaves_the_old_folder(
    error: BaseException, step: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out"
    assert write_plan(_night(_two(tmp_path)), out, JUST_ONE) == ()
    before = _files(out)
    plan = _night(save(tmp_path, SOLUTION))
    reached: list[str] = []

    def fails(*_: Any) -> None:
        reached.append("rename")
        raise error

    def half(*_: Any) -> Iterator[File]:
        yield "staff/night.json", b"{}"
        reached.append("fill")
        raise error

    with monkeypatch.context() as patched:
        if step == "fill":
            patched.setattr("hourmark.exchange.write.printed", half)
        else:
            patched.setattr("hourmark.exchange.write._exchanged", lambda *_: False)
            patched.setattr(Path, "rename", fails)
        try:
            assert [finding.code for finding in write_plan(plan, out)] == ["out-refused"]
        except KeyboardInterrupt:
            assert isinstance(error, KeyboardInterrupt)
    assert reached == [step]
    assert out.is_dir(), sorted(path.name for path in tmp_path.iterdir())
    assert _files(out) == before
    assert [path.name for path in tmp_path.iterdir() if path.name.startswith(".")] == []


_WRITER = """
import sys
from pathlib import Path
from hourmark.exchange import read_night, write_plan
from hourmark.exchange.prints import Printing
from hourmark.plan import plan_night
plan = plan_night(read_night(Path(sys.argv[1])))
write_plan(plan, Path(sys.argv[2]), Printing(only=("K-1",)))
print("ready", flush=True)
while True:
    write_plan(plan, Path(sys.argv[2]), Printing(only=("K-1",)))
"""


@pytest.mark.parametrize("after", [0.01, 0.1, 0.3])
def test_killed_midway_leaves_one_whole_folder(after: float, tmp_path: Path) -> None:
    out = tmp_path / "out"
    path = _two(tmp_path)
    assert write_plan(_night(path), out, JUST_ONE) == ()
    whole = _files(out)
    with subprocess.Popen([sys.executable, "-c", _WRITER, str(path), str(out)], stdout=subprocess.PIPE) as writer:
        assert writer.stdout is not None
        assert writer.stdout.readline() == b"ready\n"
        time.sleep(after)
        os.kill(writer.pid, signal.SIGKILL)
        writer.wait()
    assert out.is_dir(), sorted(path.name for path in tmp_path.iterdir())
    assert _files(out) == whole


# Drafts


def _drafts(path: Path, language: str | None = None) -> dict[str, str]:
    """The words of every patient's page, as they are written into draft.txt."""
    night = read_night(path)
    assert not isinstance(night, tuple)
    plan = plan_checked(night)
    return {case.case.id: sheet_text(patient_sheet(case, plan, language)) for case in plan.cases}


def test_the_words_of_a_page_are_those_of_its_file(tmp_path: Path) -> None:
    path = _two(tmp_path, (LEAD, 'lead = "36 h"'))
    assert run("plan", str(path), "--out", str(tmp_path / "out")).exit_code == 1
    for case, page in _drafts(path).items():
        assert (tmp_path / "out" / "patients" / case / "draft.txt").read_text(encoding="utf-8") == page


@pytest.mark.parametrize("name", NIGHTS)
def test_a_draft_holds_no_other_case_and_nothing_for_staff(name: str) -> None:
    pages = _drafts(ROOT / "examples" / name)
    assert pages
    for case, page in pages.items():
        draft = "DRAFT, NOT RELEASED\n"
        if page.startswith("BORRADOR"):
            draft = f"BORRADOR, NO AUTORIZADO\n= {draft}"
        assert page.startswith(draft)
        assert page.endswith(f"\n{draft}")
        for other in pages:
            assert other == case or other not in page
        for word in ("tolerance", "misstep", "whole vial gives", "too much", "too little", "sliver", "units/L"):
            assert word not in page.lower()
        assert "emergency services first" in page or "No instruction can be drafted" in page


def test_a_draft_says_the_minute_and_the_mark(tmp_path: Path) -> None:
    page = _drafts(save(tmp_path, POWDER))["K-1"]
    assert "Wednesday 18 November 2026, 9:00 pm (21:00), the night of Wednesday into Thursday" in page
    assert "1,000 units (one thousand units)" in page
    assert "Draw up to: mark 20 (0.2 mL)" in page
    assert "2 mL of bacteriostatic water" in page
    assert "about 1.8 mL. That is right. Do not inject it." in page
    assert "signed by Dr. L. Aumont at 2026-11-18 13:00" in page
    for caution in (
        "strong lower belly pain",
        "fast weight gain",
        "vomiting",
        "trouble breathing",
        "do not inject yet",
    ):
        assert caution in page


def test_a_refused_draft_holds_no_dose_and_no_time(tmp_path: Path) -> None:
    pages = _drafts(_two(tmp_path, (LEAD, 'lead = "36 h"')))
    assert "4 mg" in pages["K-1"]
    page = pages["K-2"]
    assert "Call the clinic" in page
    rest = page.replace("K-2", "").replace("Number to call now: +1 555 0100", "")
    assert not any(letter.isdigit() for letter in rest)
    for word in ("units", "mL", "mark", "chorionic", "pm", "subcutaneous"):
        assert word not in page


@pytest.mark.parametrize(
    "changes",
    [
        (('slot = "s2"', 'slot = "s1"'),),
    ],
    ids=["shared-slot"],
)
def test_a_night_that_stops_drafts_no_instruction(changes: tuple[Change, ...], tmp_path: Path) -> None:
    path = _two(tmp_path)
    path.write_text(changed(path.read_text(), *changes))
    for page in _drafts(path).values():
        assert "No instruction can be drafted" in page


def test_rules_not_signed_yet_draft_no_instruction(tmp_path: Path) -> None:
    path = save(tmp_path, changed(POWDER, ('"2026-10-05 09:00"', '"2026-12-05 09:00"')))
    assert "No instruction can be drafted" in _drafts(path)["K-1"]


def test_a_double_trigger_is_not_called_together(tmp_path: Path) -> None:
    night = changed(
        second_injection(
            SOLUTION,
            'id = "second"\ndrug = "choriogonadotropin alfa"\ndose = "250 mcg"\nroute = "subcutaneous"\n'
            'lead = "34 h"\nwindow = ["33 h", "35 h"]',
        ),
        (LEAD, 'lead = "40 h"\nwindow = ["39 h", "41 h"]'),
        ('stop = ["follitropin"]', 'stop = ["follitropin"]\nsequence = ["first", "second"]\nlargest_gap = "15 min"'),
        (
            "\n[[cases.kit.syringes]]",
            '\n[[cases.kit.products]]\nproduct = "choriogonadotropin-alfa-250mcg-syringe"\nstrength = "250 mcg"\nexpiry = 2027-02-28\n\n[[cases.kit.syringes]]',
        ),
    )
    assert "Together" not in _drafts(save(tmp_path, night))["K-1"]


def test_an_opened_vial_is_not_said_to_be_full(tmp_path: Path) -> None:
    night = changed(SOLUTION, ("expiry =", 'opened = "2026-11-10 08:00"\nexpiry ='))
    assert "What stays in the vial: about 2 mL" not in _drafts(save(tmp_path, night))["K-1"]


def test_everything_from_two_vials_says_so(tmp_path: Path) -> None:
    night = changed(
        WHOLE,
        ('"5,000 units"\nroute', '"10,000 units"\ndiluent_into = "each"\nroute'),
        ('"5,000 units"\nexpiry', '"5,000 units"\ncount = 2\nexpiry'),
        ('volume = "1 mL"', 'volume = "1 mL"\ncount = 2'),
    )
    page = _drafts(save(tmp_path, night))["K-1"]
    assert "everything that is in the vial," not in page
    assert "Vials: 2" in page


def test_an_insemination_is_not_fasted_for(tmp_path: Path) -> None:
    page = _drafts(save(tmp_path, changed(PREFILLED, ('room = "Room 1"', 'kind = "insemination"'))))["K-1"]
    assert "No food after" not in page


# The program itself


def _hourmark(*args: str, **more: str) -> subprocess.CompletedProcess[bytes]:
    program = Path(sys.executable).parent / "hourmark"
    return subprocess.run([program, *args], capture_output=True, env=more, check=False, timeout=60)


@pytest.mark.parametrize(
    "env", [{"LC_ALL": "C"}, {"PYTHONIOENCODING": "ascii"}, {"COLUMNS": "20"}, {}], ids=["C", "ascii", "narrow", "none"]
)
def test_any_terminal_will_do(env: dict[str, str]) -> None:
    result = _hourmark("plan", str(NIGHT), **env)
    assert result.returncode == 0
    assert result.stderr == b""
    assert b"K-105" in result.stdout


def test_a_closed_pipe_is_no_fault() -> None:
    program = Path(sys.executable).parent / "hourmark"
    result = subprocess.run(f"'{program}' sources | head -1", shell=True, capture_output=True, check=False)
    assert result.stderr == b""


def test_a_fault_is_one_line_and_its_own_status(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from hourmark.cli import main

    def fails() -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(main, "cli", fails)
    monkeypatch.delenv("HOURMARK_TRACEBACK", raising=False)
    with pytest.raises(SystemExit) as left:
        main.main()
    assert left.value.code == 3
    assert "use no number from it" in capsys.readouterr().err


def test_json_with_a_bad_option_is_still_json() -> None:
    result = _hourmark("when", "--slot", "2026-11-02 10:00", "--lead", "36 h", "--json")
    assert result.returncode == 2
    assert json.loads(result.stdout)["inject_at"] is None
