"""Printing a night into a folder: which files, for whom, in which language and size; all or nothing."""

import io
import json
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pikepdf
import pytest

from hourmark.cli.progress import Bar
from hourmark.exchange import Printing, plan_checked, prints, read_night, write_plan
from hourmark.exchange.prints import Printed, by_several, papers
from hourmark.handout import Sheet, patient_sheet
from hourmark.order import Night
from hourmark.plan import NightPlan
from tests.cli.running import run
from tests.exchange.nights import PREFILLED
from tests.handout.paper import ROOT, case_of
from tests.handout.test_pdf import AT

ORDINARY = ROOT / "examples" / "ordinary-night.toml"


def files(folder: Path) -> set[str]:
    return {str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file()}


def saved(folder: Path, text: str = PREFILLED) -> Path:
    path = folder / "night.toml"
    path.write_text(text, encoding="utf-8")
    return path


def checked(path: Path) -> NightPlan:
    night = read_night(path)
    assert isinstance(night, Night), night
    return plan_checked(night)


def words_of(pdf: Path) -> str:
    document = pikepdf.open(pdf)
    return str(document.Root["/Lang"])


@pytest.mark.parametrize("large", [False, True], ids=["normal", "large"])
@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("language", ["en", "es"])
def test_every_patients_page_prints_in_every_language_paper_and_size(
    tmp_path: Path, language: str, paper: str, large: bool
) -> None:
    """What a page's end parts is read back as well: no right page is refused."""
    size = ["--large"] if large else []
    done = run("plan", str(ORDINARY), "--out", str(tmp_path / "out"), "--language", language, "--paper", paper, *size)
    assert done.exit_code == 0, done.stderr
    assert len(list((tmp_path / "out" / "patients").iterdir())) == 10


def test_only_language_paper_and_size_are_as_asked(tmp_path: Path) -> None:
    out = tmp_path / "out"
    done = run(
        "plan", str(ORDINARY), "--out", str(out), "--only", "K-107", "--language", "es", "--paper", "letter", "--large"
    )
    assert done.exit_code == 0, done.stderr
    assert {path.name for path in (out / "patients").iterdir()} == {"K-107"}
    assert files(out) >= {"staff/night.pdf", "staff/night.json", "staff/cases/K-107.pdf"}
    assert files(out / "patients" / "K-107") == {"draft.pdf", "draft.txt", "draft-pictures.pdf", "draft-calendar.ics"}
    page = pikepdf.open(out / "patients" / "K-107" / "draft.pdf")
    assert [float(edge) for edge in page.pages[0].mediabox] == [0, 0, 612, 792]
    assert words_of(out / "patients" / "K-107" / "draft.pdf") == "es"
    text = (out / "patients" / "K-107" / "draft.txt").read_text(encoding="utf-8")
    assert "Cuándo: miércoles 18 de noviembre de 2026, 10:30 p. m. (22:30)" in text
    assert "Traducción no revisada" in text


def test_an_unknown_case_and_options_without_a_folder_are_refused(tmp_path: Path) -> None:
    unknown = run("plan", str(ORDINARY), "--out", str(tmp_path / "out"), "--only", "K-999")
    assert unknown.exit_code == 2
    assert '"K-999" is not a case of this night' in unknown.stderr + unknown.stdout
    assert not (tmp_path / "out").exists()
    for option in (["--large"], ["--language", "es"], ["--paper", "letter"], ["--only", "K-101"]):
        done = run("plan", str(ORDINARY), *option)
        assert done.exit_code == 2
        assert "give --out DIR too" in done.stderr
    assert run("plan", str(ORDINARY), "--out", str(tmp_path / "out"), "--language", "xx").exit_code == 2


def test_a_name_that_the_font_lacks_stops_and_leaves_nothing(tmp_path: Path) -> None:
    path = saved(
        tmp_path, PREFILLED.replace('zone = "America/Chicago"\nlh', 'zone = "America/Chicago"\nhelper = "שרה"\nlh')
    )
    done = run("plan", str(path), "--out", str(tmp_path / "out"), "--json")
    assert done.exit_code == 1
    answer = json.loads(done.stdout)
    found = {finding["code"]: finding for finding in answer["findings"]}
    assert found["page-unprintable"]["level"] == "stop"
    assert "K-1" in found["page-unprintable"]["where"]
    assert not (tmp_path / "out").exists()
    assert sorted(entry.name for entry in tmp_path.iterdir()) == ["night.toml"]


def test_a_page_whose_own_words_do_not_work_back_is_not_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan = checked(saved(tmp_path))

    def misprinted(*arguments: Any) -> Iterator[Printed]:
        for paper in papers(*arguments):
            words = tuple(line.replace("9:00 pm (21:00)", "8:00 pm (20:00)") for line in paper.words)
            yield Printed(paper.page, paper.pictures, words)

    monkeypatch.setattr(prints, "papers", misprinted)
    findings = write_plan(plan, tmp_path / "out")
    assert "recheck-minute" in {finding.code for finding in findings}
    assert not (tmp_path / "out").exists()


def test_several_processes_set_the_same_pages_as_one() -> None:
    sheets = [patient_sheet(*case_of("ordinary-night", case)) for case in ("K-105", "K-106", "K-107", "K-108", "K-110")]
    alone = list(papers(sheets, AT, Printing()))
    together = list(papers([*sheets, *sheets], AT, Printing()))
    assert together == alone + alone
    assert all(paper.page and paper.words and paper.refused is None for paper in alone)


def test_like_pages_are_set_one_after_the_other_and_given_out_in_order() -> None:
    prefilled, nose = (patient_sheet(*case_of("ordinary-night", case)) for case in ("K-105", "K-107"))
    sheets = [
        replace(sheet, case=f"X-{place}") for place, sheet in enumerate((prefilled, nose, prefilled, nose, prefilled))
    ]
    asked: list[str] = []

    def make(sheet: Sheet) -> str:
        asked.append(sheet.case)
        return sheet.case

    assert list(by_several(make, sheets)) == [f"X-{place}" for place in range(5)]
    assert asked == ["X-0", "X-2", "X-4", "X-1", "X-3"]


def test_a_refused_case_has_words_for_the_patient_and_a_working_page_for_staff(tmp_path: Path) -> None:
    path = saved(tmp_path, PREFILLED.replace('dose = "250 mcg"', 'dose = "500 units"'))
    assert run("plan", str(path), "--out", str(tmp_path / "out")).exit_code == 1
    assert files(tmp_path / "out") == {
        ".hourmark-output",
        "patients/K-1/draft.txt",
        "staff/cases/K-1.pdf",
        "staff/night.json",
        "staff/night.pdf",
    }


class Screen(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_a_bar_is_shown_only_when_more_than_a_second_is_left(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stderr", Screen())
    clock = iter([0.0, 0.1, 0.2, 0.3])
    monkeypatch.setattr("hourmark.cli.progress.time.monotonic", lambda: next(clock))
    with Bar("Setting pages", 3) as short:
        short.step()
        short.step()
        assert short.shown is None
    clock = iter([0.0, 2.0, 4.0])
    with Bar("Setting pages", 3) as long:
        long.step()
        assert long.shown is not None
    monkeypatch.setattr(sys, "stderr", io.StringIO())
    clock = iter([0.0, 2.0])
    with Bar("Setting pages", 3) as unseen:
        unseen.step()
        assert unseen.shown is None
