"""How long pages take on paper, beside the same pages through a headless browser in the same run."""

import datetime as dt
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

from bench.html import sheet_html
from hourmark.exchange import Printing, read_night
from hourmark.exchange.prints import papers
from hourmark.handout import Sheet, patient_sheet
from hourmark.handout.pdf import set_once, sheet_pdf
from hourmark.order import Night
from hourmark.plan import plan_night

EXAMPLE = Path(__file__).resolve().parents[1] / "examples" / "ordinary-night.toml"
AT = dt.datetime(2026, 11, 18, 20, 30, tzinfo=dt.UTC)
BROWSER_FLAGS = [
    *("--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"),
    *("--disable-background-networking", "--disable-component-update", "--disable-sync"),
]


@dataclass(frozen=True)
class Sheets:
    """Seconds for 100 pages as printing makes them, and for one page warm and cold, here and through the browser; bytes of one.

    hundred: each page also in pictures alone, and read back. warm: one page set; read_back: set and read back.
    """

    hundred: float
    read_back: float
    warm: float
    cold: float
    browser_warm: float
    browser_cold: float
    size: float
    browser_size: float


def sheets(times: int = 3) -> Sheets:
    """Every figure is the median of some runs of the ordinary night's ten pages."""
    ten = _ten()
    printing = Printing()
    hundred = [replace(sheet, case=f"{sheet.case}-{copy}") for copy in range(10) for sheet in ten]
    list(map(_set, ten))
    started = time.perf_counter()
    assert all(paper.refused is None for paper in papers(hundred, AT, printing))
    whole = time.perf_counter() - started
    pages = [sheet_html(sheet) for sheet in ten]
    with _browser() as page:
        _through(page, pages[0])
        warm, browser_warm = _interleaved(
            [partial(_set, sheet) for sheet in ten],
            [partial(_through, page, text) for text in pages],
            times,
        )
        browser_size = statistics.mean(len(_through(page, text)) for text in pages)
    started = time.perf_counter()
    for sheet in ten:
        sheet_pdf(sheet, AT)
    read_back = (time.perf_counter() - started) / len(ten)
    cold, browser_cold = _cold(pages[0], times)
    return Sheets(
        hundred=whole,
        read_back=read_back,
        warm=warm,
        cold=cold,
        browser_warm=browser_warm,
        browser_cold=browser_cold,
        size=statistics.mean(len(_set(sheet)) for sheet in ten),
        browser_size=browser_size,
    )


def _ten() -> list[Sheet]:
    night = read_night(EXAMPLE)
    assert isinstance(night, Night)
    plan = plan_night(night)
    return [patient_sheet(case, plan) for case in plan.cases]


def _set(sheet: Sheet) -> bytes:
    return set_once(sheet, AT, "a4", large=False, loose=False)


def _interleaved(ours: list[Callable[[], bytes]], theirs: list[Callable[[], bytes]], times: int) -> tuple[float, float]:
    seconds: tuple[list[float], list[float]] = ([], [])
    for _ in range(times):
        for pair in zip(ours, theirs, strict=True):
            for found, make in zip(seconds, pair, strict=True):
                started = time.perf_counter()
                make()
                found.append(time.perf_counter() - started)
    return statistics.mean(seconds[0]), statistics.mean(seconds[1])


def browser_path() -> str:
    """The browser that prints the rival's pages. Raises FileNotFoundError."""
    found = shutil.which("chromium")
    if found is None:
        raise FileNotFoundError("chromium is not installed: apt-get install chromium")
    return found


@contextmanager
def _browser() -> Iterator[Any]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=browser_path(), args=BROWSER_FLAGS[1:])
        yield browser.new_page()
        browser.close()


def _through(page: Any, text: str) -> bytes:
    page.set_content(text)
    printed: bytes = page.pdf(prefer_css_page_size=True, tagged=True)
    return printed


_ONE = """
import datetime as dt
from pathlib import Path
from hourmark.exchange.nightfile import read_night
from hourmark.plan import plan_night
from hourmark.handout import patient_sheet
from hourmark.handout.pdf import set_once, sheet_pdf
plan = plan_night(read_night(Path({path!r})))
Path({out!r}).write_bytes(sheet_pdf(patient_sheet(plan.cases[0], plan), dt.datetime(2026, 11, 18, tzinfo=dt.UTC)))
"""


def _cold(page: str, times: int) -> tuple[float, float]:
    """A whole process for one page: here from the night file on, through the browser from the finished HTML on."""
    ours, theirs = [], []
    for _ in range(times):
        with tempfile.TemporaryDirectory() as folder:
            source, out = Path(folder) / "page.html", Path(folder) / "page.pdf"
            source.write_text(page, encoding="utf-8")
            started = time.perf_counter()
            subprocess.run([sys.executable, "-c", _ONE.format(path=str(EXAMPLE), out=str(out))], check=True)
            ours.append(time.perf_counter() - started)
            started = time.perf_counter()
            command = [browser_path(), *BROWSER_FLAGS, f"--user-data-dir={folder}/profile", f"--print-to-pdf={out}"]
            subprocess.run([*command, source.as_uri()], check=True, capture_output=True)
            theirs.append(time.perf_counter() - started)
    return statistics.median(ours), statistics.median(theirs)
