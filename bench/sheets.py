"""How long pages take on paper, beside the same pages through a headless browser in the same run."""

import datetime as dt
import os
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from bench.html import sheet_html
from hourmark.exchange import Printing, read_night
from hourmark.exchange.prints import by_several, papers
from hourmark.handout import Sheet, patient_sheet, typesetter
from hourmark.handout.pdf import compiled, set_once, sheet_pdf, sheet_source
from hourmark.order import Night
from hourmark.plan import plan_night

ROOT = Path(__file__).resolve().parents[1]
EXAMPLE = ROOT / "examples" / "ordinary-night.toml"
AT = dt.datetime(2026, 11, 18, 20, 30, tzinfo=dt.UTC)
BROWSER_FLAGS = [
    *("--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"),
    *("--disable-background-networking", "--disable-component-update", "--disable-sync"),
]


@dataclass(frozen=True)
class Against:
    """Seconds for one page, here and through the browser in the same run."""

    hourmark: float
    browser: float

    @property
    def times(self) -> float:
        """How many times faster this is than the browser."""
        return self.browser / self.hourmark


@dataclass(frozen=True)
class Cold:
    """Seconds for one page, the mean over ten patients, where the browser is started for it.

    browser: its whole process, from the finished HTML. first: the first page that a running program sets.
    process: a whole process from the finished page on. planned: a whole process from the night file on.
    """

    browser: float
    first: float
    process: float
    planned: float


@dataclass(frozen=True)
class Sheets:
    """How long pages take.

    hundred: seconds for the pages of 100 patients as PDF. printed: the same as printing makes them, each also in pictures alone, both read back.
    like: one page, everything running, of a patient like one of the last ten. unlike: after other documents, so that nothing laid out is remembered.
    read_back: seconds for one page set and read back. cold: where the browser has to be started for the page.
    size: bytes of one page.
    """

    hundred: float
    printed: float
    like: Against
    unlike: Against
    read_back: float
    cold: Cold
    size: float
    browser_size: float


def sheets(times: int = 3) -> Sheets:
    """Patients like the ordinary night's ten, each with a case and clock times of its own: no page is set twice where it is timed."""
    nights = [_ten(copy) for copy in range(10)]
    cold = _cold(nights[0])
    hundred = [sheet for ten in nights for sheet in ten]
    alone = _seconds(lambda: list(by_several(_set, hundred)))
    printed = _seconds(lambda: [paper for paper in papers(hundred, AT, Printing()) if paper.refused is None])
    html = [[sheet_html(sheet) for sheet in ten] for ten in nights[: 2 * times + 1]]
    with _browser() as page:
        for sheet, text in zip(nights[0], html[0], strict=True):
            _set(sheet)
            _through(page, text)
        browser_size = statistics.mean(len(_through(page, text)) for text in html[0])
        like = _interleaved(page, nights[1 : times + 1], html[1:])
        unlike = _interleaved(page, nights[times + 1 : 2 * times + 1], html[times + 1 :], before=_others)
    read_back = _seconds(lambda: [sheet_pdf(sheet, AT) for sheet in nights[-1]]) / len(nights[-1])
    return Sheets(
        hundred=alone,
        printed=printed,
        like=like,
        unlike=unlike,
        read_back=read_back,
        cold=cold,
        size=statistics.mean(len(_set(sheet)) for sheet in nights[0]),
        browser_size=browser_size,
    )


def _ten(copy: int) -> list[Sheet]:
    """The ordinary night's ten as other patients, with cases of their own and slots some minutes later."""

    def later(found: re.Match[str]) -> str:
        at = dt.datetime.fromisoformat(found[2]) + dt.timedelta(minutes=3 * copy)
        return f'{found[1]}"{at:%Y-%m-%d %H:%M}"'

    text = re.sub(r'(\[\[slots\]\]\nid = "\w+"\nat = )"([^"]+)"', later, EXAMPLE.read_text(encoding="utf-8"))
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "night.toml"
        file.write_text(text.replace("K-1", f"K-{copy + 1}"), encoding="utf-8")
        night = read_night(file)
    assert isinstance(night, Night)
    plan = plan_night(night)
    assert not any(case.refused for case in plan.cases)
    return [patient_sheet(case, plan) for case in plan.cases]


def _set(sheet: Sheet) -> bytes:
    return set_once(sheet, AT, "a4", large=False, loose=False)


def _others() -> None:
    """Twelve short documents; the typesetter remembers what it laid out in the last ten."""
    for number in range(12):
        given = {"title": "Other", "foot": "", "draft": "", "paper": "a4", "landscape": False}
        compiled("staff", {**given, "blocks": [{"kind": "heading", "level": 1, "text": str(number)}]}, AT)


def _seconds(make: Callable[[], list[Any]]) -> float:
    started = time.perf_counter()
    made = make()
    assert len(made) in (10, 100)
    return time.perf_counter() - started


def _interleaved(
    page: Any, ours: list[list[Sheet]], theirs: list[list[str]], before: Callable[[], None] = lambda: None
) -> Against:
    seconds: tuple[list[float], list[float]] = ([], [])
    for ten, texts in zip(ours, theirs[: len(ours)], strict=True):
        for sheet, text in zip(ten, texts, strict=True):
            before()
            for found, make in zip(seconds, (partial(_set, sheet), partial(_through, page, text)), strict=True):
                started = time.perf_counter()
                make()
                found.append(time.perf_counter() - started)
    return Against(statistics.mean(seconds[0]), statistics.mean(seconds[1]))


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


_SETTING = """
import sys
sys.path += [{packages!r}, {room!r}]
import datetime as dt
from typesetter import typeset
with open({source!r}, "rb") as source, open({out!r}, "wb") as out:
    out.write(typeset(source.read(), dt.datetime(2026, 11, 18, tzinfo=dt.UTC)))
"""

_PLANNING = """
import datetime as dt
from pathlib import Path
from hourmark.exchange.nightfile import read_night
from hourmark.plan import plan_night
from hourmark.handout import patient_sheet
from hourmark.handout.pdf import sheet_pdf
plan = plan_night(read_night(Path({path!r})))
Path({out!r}).write_bytes(sheet_pdf(patient_sheet(plan.cases[0], plan), dt.datetime(2026, 11, 18, tzinfo=dt.UTC)))
"""


def _cold(ten: list[Sheet]) -> Cold:
    """Before this process sets a page of its own."""
    seconds: dict[str, list[float]] = {"browser": [], "first": [], "process": [], "planned": []}
    for sheet in ten:
        html = sheet_html(sheet)  # draws what both set
        with tempfile.TemporaryDirectory() as folder:
            source, page, out = (Path(folder) / name for name in ("page.typ", "page.html", "page.pdf"))
            source.write_bytes(sheet_source(sheet, "a4", large=False, loose=False))
            page.write_text(html, encoding="utf-8")
            setting = _SETTING.format(
                packages=_packages(), room=str(Path(typesetter.__file__).parent), source=str(source), out=str(out)
            )
            browser = [
                browser_path(),
                *BROWSER_FLAGS,
                f"--user-data-dir={folder}/profile",
                f"--print-to-pdf={out}",
                page.as_uri(),
            ]
            found = {
                "browser": _process(browser, out),
                "process": _process([sys.executable, "-I", "-S", "-c", setting], out),
                "planned": _process([sys.executable, "-c", _PLANNING.format(path=str(EXAMPLE), out=str(out))], out),
                "first": _in_a_child(partial(_set, sheet)),
            }
        for name, took in found.items():
            seconds[name].append(took)
    return Cold(**{name: statistics.mean(took) for name, took in seconds.items()})


def _packages() -> str:
    import typst

    return str(Path(typst.__file__).parents[1])


def _process(command: list[str], out: Path) -> float:
    """Seconds of a whole process that leaves a PDF."""
    out.unlink(missing_ok=True)
    started = time.perf_counter()
    subprocess.run(command, check=True, capture_output=True, cwd=ROOT)
    took = time.perf_counter() - started
    assert out.read_bytes().startswith(b"%PDF")
    return took


def _in_a_child(make: Callable[[], bytes]) -> float:
    """Seconds in a copy of this process, which therefore must not have set anything yet."""
    theirs, ours = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            started = time.perf_counter()
            assert make().startswith(b"%PDF")
            os.write(ours, str(time.perf_counter() - started).encode())
        finally:
            os._exit(0)
    os.close(ours)
    with os.fdopen(theirs) as said:
        took = float(said.read())
    os.waitpid(child, 0)
    return took
