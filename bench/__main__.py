"""Measure hourmark: python -m bench [--quick] [--profile] [--save FILE]."""

import argparse
from pathlib import Path

from bench.minute import minute
from bench.night import boards, burst
from bench.pages import pages
from bench.planning import Planning, planning, profile
from bench.record import appending, reading
from bench.sheets import Against, sheets
from bench.startup import startup

SIZES = [10, 100, 1_000, 10_000]


def planning_table(rows: list[Planning]) -> list[str]:
    lines = [
        "Planning (seconds; x = growth per tenfold; ms = milliseconds a case)",
        f"{'cases':>7} {'stopped':>8} | {'read':>8} {'x':>6} {'ms':>7} | {'plan':>8} {'x':>6} {'ms':>7} | {'+recheck':>8} {'x':>6} {'ms':>7}",
    ]
    for place, row in enumerate(rows):
        cells = [f"{row.cases:>7,} {row.stopped:>8,}"]
        for name in ("read", "plan", "checked"):
            seconds = getattr(row, name)
            growth = f"{seconds / getattr(rows[place - 1], name):6.1f}" if place else " " * 6
            cells.append(f"{seconds:8.3f} {growth} {seconds / row.cases * 1000:7.3f}")
        lines.append(" | ".join(cells))
    return lines


def startup_table() -> list[str]:
    found = startup()
    return [
        "Start-up (median of 15 interleaved runs)",
        f"hourmark --help {found.hourmark:.3f} s, python -c pass {found.python:.3f} s:"
        f" {found.hourmark - found.python:.3f} s more, {found.hourmark / found.python:.1f} times",
    ]


def minute_table() -> list[str]:
    found = minute()
    return [
        "One slot and lead to a minute (median)",
        f"hourmark {found.hourmark * 1e6:.1f} us ({found.with_reading * 1e6:.1f} us from text),"
        f" zoneinfo {found.zoneinfo * 1e6:.1f} us, dateutil {found.dateutil * 1e6:.1f} us:"
        f" {found.hourmark / found.zoneinfo:.1f} times zoneinfo, {found.hourmark / found.dateutil:.1f} times dateutil",
    ]


def sheets_table() -> list[str]:
    found = sheets()

    def against(one: Against) -> str:
        return f"{one.hourmark * 1000:.0f} ms, through the browser {one.browser * 1000:.0f} ms: {one.times:.1f} times"

    def started_for(seconds: float) -> str:
        return f"{seconds * 1000:.0f} ms, {found.cold.browser / seconds:.1f} times faster"

    return [
        "Pages on paper, of patients like the ordinary night's ten, four to sixteen sheets each, no page set twice",
        f"100 patients' pages as PDF: {found.hundred:.1f} s",
        f"the same as printing makes them, each also in pictures alone and both read back: {found.printed:.1f} s",
        f"one page warm, of a patient like one of the last ten: {against(found.like)}",
        f"one page warm, of a patient unlike them: {against(found.unlike)}",
        f"one page warm, set and read back: {found.read_back * 1000:.0f} ms",
        f"one page where a browser is started for it, {found.cold.browser * 1000:.0f} ms from the finished HTML on (mean of ten patients):",
        f"  by a running program that has set other pages, none like it: {started_for(found.unlike.hourmark)}",
        f"  the first page that a running program sets: {started_for(found.cold.first)}",
        f"  by a process started for it, from the finished page on: {started_for(found.cold.process)}",
        f"  by a process started for it, from the night file on: {started_for(found.cold.planned)}",
        f"bytes a page {found.size:,.0f}, through the browser {found.browser_size:,.0f}",
    ]


def record_table() -> list[str]:
    lines = ["The record in SQLite (WAL, synchronous FULL)"]
    for entries in (1, 4):
        found = appending(entries)
        lines.append(
            f"an act of {entries}: {found.hourmark * 1e6:.0f} us, bare sqlite3 with the same statements"
            f" {found.sqlite * 1e6:.0f} us: {found.share * 100:.0f} % of its speed"
        )
    rows = reading()
    for place, row in enumerate(rows):
        growth = (
            f"; {row.fold / rows[place - 1].fold:.1f} and {row.verify / rows[place - 1].verify:.1f} times"
            if place
            else ""
        )
        lines.append(
            f"{row.events:,} events of {row.cases:,} cases: folded in {row.fold:.1f} s ({row.events / row.fold:,.0f} a second),"
            f" verified in {row.verify:.1f} s ({row.events / row.verify:,.0f} a second){growth};"
            f" {row.bytes_each:,.0f} bytes an event"
        )
    return lines


def pages_table() -> list[str]:
    plain, *others = pages()
    lines = [
        "Pages, two readers at once",
        f"a plain page: {plain.a_second:.0f} a second, 95 of 100 within {plain.p95 * 1000:.0f} ms",
    ]
    lines += [
        f"{one.path}: {one.a_second:.0f} a second, 95 of 100 within {one.p95 * 1000:.0f} ms:"
        f" {one.a_second / plain.a_second * 100:.0f} % of the plain page's speed"
        for one in others
    ]
    return lines


def night_table() -> list[str]:
    lines = ["The board of the night, in this process"]
    for one in boards():
        (board, board_p95), (poll, poll_p95), (plain, plain_p95) = one.board, one.poll, one.plain
        lines.append(
            f"{one.rows} rows: {board:.0f} a second, 95 of 100 within {board_p95 * 1000:.0f} ms; a poll that finds nothing new"
            f" {poll:.0f} a second, {poll_p95 * 1000:.0f} ms; a plain list of as many rows {plain:.0f} a second, {plain_p95 * 1000:.0f} ms:"
            f" {board / plain * 100:.0f} % and {poll / plain * 100:.0f} % of its speed"
        )
    sent = burst()
    lines.append(
        f"{sent.reports} reports by eight people at once: all on the record in {sent.seconds:.1f} s, the slowest in {sent.slowest:.2f} s"
    )
    return lines


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m bench", description="Measures how long hourmark takes.")
    parser.add_argument("--quick", action="store_true", help="leave the largest night out")
    parser.add_argument("--profile", action="store_true", help="show only where the time goes with 1,000 cases")
    parser.add_argument("--save", type=Path, metavar="FILE", help="also write what is printed to this file")
    chosen = parser.parse_args()
    if chosen.profile:
        text = profile(1_000)
    else:
        sizes = SIZES[:-1] if chosen.quick else SIZES
        parts = [
            planning_table(planning(sizes)),
            startup_table(),
            minute_table(),
            record_table(),
            pages_table(),
            night_table(),
            sheets_table(),
        ]
        text = "\n\n".join("\n".join(part) for part in parts)
    print(text)
    if chosen.save is not None:
        chosen.save.write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
