"""What cannot be read in a night file: every problem in one run, each with the line of its value and what to write."""

import re
from pathlib import Path

import pytest

from hourmark.exchange import read_night
from hourmark.finding import Finding, Level
from tests.exchange.nights import CLOCK_CHANGE, LEAD, SOLUTION, Change, changed, line_of, planned, refused, save


def _place(finding: Finding) -> tuple[int, str]:
    match = re.fullmatch(r".*night\.toml:(\d+)(?:, (.+))?", finding.where)
    assert match, finding.where
    return int(match[1]), match[2] or ""


def _one(found: tuple[Finding, ...]) -> Finding:
    assert len(found) == 1, [(finding.where, finding.what) for finding in found]
    finding = found[0]
    assert finding.level is Level.STOP
    assert finding.what
    assert finding.do
    assert finding.limit
    assert finding.source
    return finding


AT = "cases[1].order.injections[1]"
VALUES: list[tuple[str, str, str, str, str]] = [
    # name, old piece, new piece (its last line holds the value), dotted key, a piece of what to write
    ("schema", "schema = 1", "schema = 2", "schema", "1"),
    ("float", 'dose = "4 mg"', "dose = 4.0", f"{AT}.dose", "in quotes"),
    ("int", 'dose = "4 mg"', "dose = 4", f"{AT}.dose", "in quotes"),
    ("trailing-zero", 'dose = "4 mg"', 'dose = "4.0 mg"', f"{AT}.dose", '"4"'),
    ("naked-point", 'dose = "4 mg"', 'dose = ".4 mg"', f"{AT}.dose", '"0.4"'),
    ("decimal-comma", 'dose = "4 mg"', 'dose = "4,5 mg"', f"{AT}.dose", '"4.5"'),
    ("no-unit", 'dose = "4 mg"', 'dose = "4"', f"{AT}.dose", "unit"),
    ("IU", 'dose = "4 mg"', 'dose = "4 IU"', f"{AT}.dose", "4 units"),
    ("U", 'dose = "4 mg"', 'dose = "4U"', f"{AT}.dose", "4 units"),
    ("micro", 'dose = "4 mg"', 'dose = "4 µg"', f"{AT}.dose", "4 mcg"),
    ("ug", 'dose = "4 mg"', 'dose = "4 ug"', f"{AT}.dose", "4 mcg"),
    ("volume-for-dose", 'dose = "4 mg"', 'dose = "0.8 mL"', f"{AT}.dose", "dose of the drug"),
    ("zero", 'dose = "4 mg"', 'dose = "0 mg"', f"{AT}.dose", "order"),
    ("native-datetime", 'as_of = "2026-11-18 14:30"', "as_of = 2026-11-18T14:30:00", "as_of", "2026-11-02 10:00"),
    ("offset-datetime", 'as_of = "2026-11-18 14:30"', "as_of = 2026-11-18T14:30:00Z", "as_of", "2026-11-02 10:00"),
    ("seconds", 'as_of = "2026-11-18 14:30"', 'as_of = "2026-11-18 14:30:00"', "as_of", "24-hour"),
    ("no-such-day", 'as_of = "2026-11-18 14:30"', 'as_of = "2026-11-31 14:30"', "as_of", "24-hour"),
    ("year-1999", 'as_of = "2026-11-18 14:30"', 'as_of = "1999-11-18 14:30"', "as_of", "24-hour"),
    ("year-2100", 'as_of = "2026-11-18 14:30"', 'as_of = "2100-11-18 14:30"', "as_of", "24-hour"),
    (
        "zone",
        'slot = "s1"\nzone = "America/Chicago"',
        'slot = "s1"\nzone = "America/Chikago"',
        "cases[1].zone",
        "America/Chicago",
    ),
    (
        "zone-letters",
        'slot = "s1"\nzone = "America/Chicago"',
        'slot = "s1"\nzone = "CST"',
        "cases[1].zone",
        "Area/City",
    ),
    ("route", 'route = "subcutaneous"', 'route = "SC"', f"{AT}.route", "subcutaneous"),
    ("drug", '"leuprolide acetate"', '"leuprolid acetate"', f"{AT}.drug", "leuprolide acetate"),
    ("cycle", '"antagonist"', '"antagonits"', "cases[1].order.cycle", "antagonist"),
    ("purpose", '"trigger"', '"triger"', "cases[1].order.purpose", "trigger"),
    ("syringe", '"u100-1mL-1"', '"u100-2mL-1"', "cases[1].kit.syringes[1].syringe", "u100-1mL-1"),
    (
        "product",
        '"leuprolide-5mg-per-ml-vial"',
        '"leuprolide-5mg-vial"',
        "cases[1].kit.products[1].product",
        "leuprolide-5mg-per-ml-vial",
    ),
    ("count-text", "count = 3", 'count = "3"', "cases[1].kit.syringes[1].count", "0 to 999"),
    ("count-negative", "count = 3", "count = -1", "cases[1].kit.syringes[1].count", "0 to 999"),
    ("count-thousand", "count = 3", "count = 1000", "cases[1].kit.syringes[1].count", "0 to 999"),
    ("count-float", "count = 3", "count = 3.0", "cases[1].kit.syringes[1].count", "0 to 999"),
    ("count-bool", "count = 3", "count = true", "cases[1].kit.syringes[1].count", "0 to 999"),
    ("expiry", "expiry = 2027-02-28", 'expiry = "02/2027"', "cases[1].kit.products[1].expiry", "2027-03-31"),
    (
        "expiry-datetime",
        "expiry = 2027-02-28",
        "expiry = 2027-02-28T00:00:00",
        "cases[1].kit.products[1].expiry",
        "2027-03-31",
    ),
    ("id-blank", 'id = "K-1"', 'id = ""', "cases[1].id", "K-101"),
    ("id-slash", 'id = "K-1"', 'id = "../K"', "cases[1].id", "K-101"),
    ("id-letters", 'id = "K-1"', 'id = "É1"', "cases[1].id", "K-101"),
    ("id-long", 'id = "K-1"', f'id = "{"K" * 33}"', "cases[1].id", "32"),
    ("text-blank", 'signed_by = "Dr. L. Aumont"', 'signed_by = " "', "cases[1].order.signed_by", "one line"),
    ("text-lines", 'signed_by = "Dr. L. Aumont"', 'signed_by = "Dr.\\nX"', "cases[1].order.signed_by", "one line"),
    ("stop-text", 'stop = ["follitropin"]', 'stop = "follitropin"', "cases[1].order.stop", "list"),
    ("window-order", '["35 h", "37 h"]\n\n[cases.kit]', '["37 h", "35 h"]\n\n[cases.kit]', f"{AT}.window", "smaller"),
    ("window-one", '["35 h", "37 h"]\n\n[cases.kit]', '["35 h"]\n\n[cases.kit]', f"{AT}.window", "two values"),
    ("window-unit", '["35 h", "37 h"]\n\n[cases.kit]', '["35", "37 h"]\n\n[cases.kit]', f"{AT}.window", "36 h"),
    ("lead", 'lead = "36 h"', 'lead = "36"', f"{AT}.lead", "36 h"),
    ("bands", 'ok = ["35 h", "37 h"]', 'ok = ["33 h", "37 h"]', "clinic.rules.bands.standard", "contain each other"),
    ("percent", 'tolerance_note = "10 %"', 'tolerance_note = "10%"', "clinic.rules.tolerance_note", "10 %"),
    ("slot-unknown", 'slot = "s1"', 'slot = "s9"', "cases[1].slot", "slots"),
    ("clinic-text", "[[slots]]", "x = 1\n[[slots]]", "clinic.rules.mixes[1].x", "Known here"),
    ("which", 'room = "Room 1"', 'which = "third"', "slots[1].which", "first"),
    ("kind", 'room = "Room 1"', 'kind = "retreival"', "slots[1].kind", "retrieval"),
]


@pytest.mark.parametrize(("old", "new", "key", "do"), [row[1:] for row in VALUES], ids=[row[0] for row in VALUES])
def test_a_value_that_cannot_be_read_is_named_by_its_line(
    old: str, new: str, key: str, do: str, tmp_path: Path
) -> None:
    text = changed(SOLUTION, (old, new))
    finding = _one(refused(tmp_path, text))
    line, dotted = _place(finding)
    assert dotted == key
    lines = new.split("\n\n")[0].split("\n")
    offset = 0 if lines[0].startswith("x = 1") else len(lines) - 1
    assert line == line_of(text, new) + offset
    assert do in finding.do


@pytest.mark.parametrize(
    ("old", "new", "nearest"),
    [
        ('dose = "4 mg"', 'dose = "4 mg"\ndosis = "4 mg"', '"dose"'),
        ('room = "Room 1"', 'rom = "Room 1"', '"room"'),
        ('tell_by = "3 h"', 'tellby = "3 h"', '"tell_by"'),
        ("count = 3", "count = 3\nfixd = true", '"fixed"'),
    ],
    ids=["injection", "slot", "rules", "syringe"],
)
def test_an_unknown_key_names_the_nearest(old: str, new: str, nearest: str, tmp_path: Path) -> None:
    text = changed(SOLUTION, (old, new))
    finding = _one(refused(tmp_path, text))
    assert finding.code == "file-key-unknown"
    assert nearest in finding.do
    assert _place(finding)[0] == line_of(text, new) + new.count("\n")


@pytest.mark.parametrize(
    ("piece", "key", "table"),
    [
        ("schema = 1\n", "schema", "schema"),
        ('dose = "4 mg"\n', f"{AT}.dose", "[[cases.order.injections]]"),
        ('stop = ["follitropin"]\n', "cases[1].order.stop", "[cases.order]"),
        ('strength = "5 mg/mL"\n', "cases[1].kit.products[1].strength", "[[cases.kit.products]]"),
        ('at = "2026-11-20 09:00"\n', "slots[1].at", "[[slots]]"),
        ("count = 3\n", "cases[1].kit.syringes[1].count", "[[cases.kit.syringes]]"),
    ],
    ids=["schema", "dose", "stop", "strength", "slot", "count"],
)
def test_a_missing_key_is_named_at_its_table(piece: str, key: str, table: str, tmp_path: Path) -> None:
    text = changed(SOLUTION, (piece, ""))
    finding = _one(refused(tmp_path, text))
    assert finding.code == "file-key-missing"
    line, dotted = _place(finding)
    assert dotted == key
    assert line == (1 if table == "schema" else line_of(text, table))


TIMINGS: list[tuple[str, tuple[Change, ...]]] = [
    ("none", ((LEAD, ""),)),
    ("lead-and-at", ((LEAD, f'{LEAD}\nat = "2026-11-18 21:00"'),)),
    ("lead-and-after", ((LEAD, f'{LEAD}\nafter = {{ injection = "first", gap = "1 h" }}'),)),
    ("after-with-window-outside", ((LEAD, 'window = ["1 h", "2 h"]\nafter = { injection = "first", gap = "1 h" }'),)),
]


@pytest.mark.parametrize("changes", [changes for _, changes in TIMINGS], ids=[name for name, _ in TIMINGS])
def test_an_injection_has_exactly_one_timing(changes: tuple[Change, ...], tmp_path: Path) -> None:
    text = changed(SOLUTION, *changes)
    finding = _one(refused(tmp_path, text))
    assert finding.code == "file-timing"
    assert _place(finding)[0] >= line_of(text, "[[cases.order.injections]]")


def test_ids_given_twice_and_ids_that_point_nowhere(tmp_path: Path) -> None:
    injections = SOLUTION.index("[[cases.order.injections]]")
    kit = SOLUTION.index("[cases.kit]")
    second = changed(
        SOLUTION[injections:kit], ('"first"', '"First"'), (LEAD, 'after = { injection = "none", gap = "1 h" }')
    )
    slot = '[[slots]]\nid = "S1"\nat = "2026-11-20 10:00"\n\n'
    text = changed(
        SOLUTION[:kit] + second + SOLUTION[kit:],
        ("[[cases]]", f"{slot}[[cases]]"),
        ('stop = ["follitropin"]', 'stop = ["follitropin"]\nsequence = ["first", "third"]'),
    )
    text += "\n" + changed(SOLUTION[SOLUTION.index("[[cases]]") :], ('"K-1"', '"k-1"'))
    found = refused(tmp_path, text)
    assert [(finding.code, _place(finding)) for finding in found] == [
        ("file-id-repeated", (line_of(text, '"S1"'), "slots[2].id")),
        ("file-id-unknown", (line_of(text, '"third"'), "cases[1].order.sequence")),
        ("file-id-repeated", (line_of(text, '"First"'), "cases[1].order.injections[2].id")),
        ("file-id-unknown", (line_of(text, '"none"'), "cases[1].order.injections[2].after")),
        ("file-id-repeated", (line_of(text, '"k-1"'), "cases[2].id")),
    ]


def test_every_problem_in_one_run_in_the_order_of_the_file(tmp_path: Path) -> None:
    text = changed(
        SOLUTION,
        ('tell_by = "3 h"', 'tell_by = "3 hrs"'),
        ('room = "Room 1"', 'rooom = "Room 1"'),
        ('dose = "4 mg"', 'dose = "4.0 mg"'),
        ('strength = "5 mg/mL"\n', ""),
        ("count = 3", 'count = "three"'),
    )
    found = refused(tmp_path, text)
    assert [finding.code for finding in found] == [
        "file-value",
        "file-key-unknown",
        "file-value",
        "file-key-missing",
        "file-value",
    ]
    places = [_place(finding)[0] for finding in found]
    assert places == sorted(places)
    assert places[2] == line_of(text, 'dose = "4.0 mg"')


WHOLE_FILES: list[tuple[str, bytes, str]] = [
    ("empty", b"", "empty"),
    ("blank", b" \n\t\n", "empty"),
    ("latin-1", SOLUTION.replace("Invented", "Inventée").encode("latin-1"), "UTF-8"),
    ("utf-16", SOLUTION.encode("utf-16"), "UTF-8"),
    ("lines", b"#\n" * 2_000_001, "2,000,000 lines"),
    ("deep", b"a = " + b"[" * 90_000, "longer than"),
    ("deep-closed", b"a = " + b"[" * 5_000 + b"]" * 5_000, "deep"),
]


@pytest.mark.parametrize(("raw", "what"), [row[1:] for row in WHOLE_FILES], ids=[row[0] for row in WHOLE_FILES])
def test_a_file_that_is_no_night_at_all(raw: bytes, what: str, tmp_path: Path) -> None:
    path = tmp_path / "night.toml"
    path.write_bytes(raw)
    found = read_night(path)
    assert isinstance(found, tuple)
    finding = _one(found)
    assert finding.code == "file-unreadable"
    assert what in finding.what


def test_a_folder_and_an_absent_file(tmp_path: Path) -> None:
    for path in (tmp_path, tmp_path / "absent.toml", tmp_path / "absent" / "night.toml"):
        found = read_night(path)
        assert isinstance(found, tuple)
        assert _one(found).code == "file-unreadable"


def test_a_line_that_is_not_utf8_is_named(tmp_path: Path) -> None:
    path = tmp_path / "night.toml"
    path.write_bytes(SOLUTION.encode().replace(b"Invented", b"Invent\xe9"))
    found = read_night(path)
    assert isinstance(found, tuple)
    assert _place(_one(found))[0] == line_of(SOLUTION, "Invented")


@pytest.mark.parametrize("length", [1_000, 3_000])
def test_a_long_dotted_key_is_refused_like_any_other(length: int, tmp_path: Path) -> None:
    text = ".".join(["a"] * length) + " = 1\n" + SOLUTION
    assert {finding.level for finding in refused(tmp_path, text)} == {Level.STOP}


def test_several_broken_lines_are_all_named(tmp_path: Path) -> None:
    text = changed(SOLUTION, ('tell_by = "3 h"', "tell_by = = 3"), ("count = 3", "count = 3 3"))
    found = refused(tmp_path, text)
    assert {finding.code for finding in found} == {"file-not-toml"}
    lines = [_place(finding)[0] for finding in found]
    assert line_of(text, "tell_by = = 3") in lines
    assert line_of(text, "count = 3 3") in lines


def test_a_key_given_twice_is_not_toml(tmp_path: Path) -> None:
    text = changed(SOLUTION, ("count = 3", "count = 3\ncount = 4"))
    found = refused(tmp_path, text)
    assert {finding.code for finding in found} == {"file-not-toml"}
    assert _place(found[0])[0] in (line_of(text, "count = 4"), line_of(text, "count = 3"))


@pytest.mark.parametrize("mark", ["bom", "crlf", "both", "no last line end", "comments"])
def test_other_ways_to_write_the_same_file(mark: str, tmp_path: Path) -> None:
    text = SOLUTION
    if mark in ("crlf", "both"):
        text = text.replace("\n", "\r\n")
    if mark in ("bom", "both"):
        text = "\N{ZERO WIDTH NO-BREAK SPACE}" + text
    if mark == "no last line end":
        text = text.rstrip("\n")
    if mark == "comments":
        text = text.replace("\n", " # said by phone\n").replace("\n # said by phone", "\n# x")
    path = tmp_path / "night.toml"
    path.write_bytes(text.encode())
    assert read_night(path) == read_night(save(tmp_path, SOLUTION))


def test_lines_are_right_with_windows_line_ends(tmp_path: Path) -> None:
    text = changed(SOLUTION, ('dose = "4 mg"', 'dose = "4.0 mg"'))
    path = tmp_path / "night.toml"
    path.write_bytes(text.replace("\n", "\r\n").encode())
    found = read_night(path)
    assert isinstance(found, tuple)
    assert _place(_one(found)) == (line_of(text, 'dose = "4.0 mg"'), f"{AT}.dose")


LAYOUTS: list[tuple[str, Change, str]] = [
    (
        "inline-array",
        (
            '[[cases.kit.syringes]]\nsyringe = "u100-1mL-1"\ncount = 3',
            'syringes = [\n  # two kinds\n  { syringe = "mL-3-0.1", count = 1 },\n  { syringe = "u100-1mL-1", count = "x" },\n]',
        ),
        "cases[1].kit.syringes[2].count",
    ),
    ("dotted", ('tell_by = "3 h"', 'bands.standard.note = ["34 h", "x"]'), "clinic.rules.bands.standard.note[2]"),
    ("quoted-key", ('dose = "4 mg"', '"dose" = "x"'), f"{AT}.dose"),
    (
        "multiline",
        ('lead = "36 h"\nwindow = ["35 h", "37 h"]', 'lead = "36 h"\nwindow = [\n  "35 h",\n  "x",\n]'),
        f"{AT}.window",
    ),
    (
        "inline-table",
        ('drug = "ganirelix", at = "2026-11-18 08:00"', 'drug = "ganirelix", at = "x"'),
        "cases[1].last_antagonist.at",
    ),
]


@pytest.mark.parametrize(("change", "key"), [row[1:] for row in LAYOUTS], ids=[row[0] for row in LAYOUTS])
def test_lines_are_right_in_every_layout(change: Change, key: str, tmp_path: Path) -> None:
    if key == "cases[1].kit.syringes[2].count":
        base = changed(SOLUTION, (change[0], ""), ("[cases.kit]\n", f"[cases.kit]\n{change[1]}\n"))
    elif key.startswith("clinic"):
        bands = SOLUTION[SOLUTION.index("[clinic.rules.bands]") : SOLUTION.index("[[clinic.rules.mixes]]")]
        piece = 'bands.standard.ok = ["35 h", "37 h"]\nbands.standard.warn = ["32 h", "40 h"]\n' + change[1]
        base = changed(SOLUTION, (bands, ""), (change[0], piece))
    else:
        base = changed(SOLUTION, change)
    finding = _one(refused(tmp_path, base))
    line, dotted = _place(finding)
    assert dotted == key
    value = next(number for number, text in enumerate(base.splitlines(), 1) if '"x"' in text)
    first = value - (2 if "window" in key else 0)
    assert first <= line <= value


def test_a_second_case_has_lines_of_its_own(tmp_path: Path) -> None:
    second = changed(SOLUTION[SOLUTION.index("[[cases]]") :], ('"K-1"', '"K-2"'), ("count = 3", 'count = "x"'))
    text = SOLUTION + "\n" + second
    finding = _one(refused(tmp_path, text))
    assert _place(finding) == (line_of(text, 'count = "x"'), "cases[2].kit.syringes[1].count")


def test_no_case_and_no_injection(tmp_path: Path) -> None:
    head = SOLUTION[: SOLUTION.index("[[cases]]")]
    assert _one(refused(tmp_path, f"cases = []\n{head}")).code == "file-value"
    start, end = SOLUTION.index("[[cases.order.injections]]"), SOLUTION.index("[cases.kit]")
    assert _one(refused(tmp_path, SOLUTION[:start] + "injections = []\n\n" + SOLUTION[end:])).code == "file-value"


def test_a_repeated_hour_may_be_written_in_the_clock_time(tmp_path: Path) -> None:
    text = changed(SOLUTION, *CLOCK_CHANGE[:3], ('at = "2026-11-20 09:00"', 'at = "2026-11-01 01:30 second"'))
    assert planned(tmp_path, text)["cases"][0]["slot"]["at"] == "2026-11-01T01:30:00-06:00"


@pytest.mark.parametrize("text", ["2027-3-1", "\N{FULLWIDTH DIGIT TWO}027-03-01", "2027-03-01 "])
def test_a_date_in_another_form_is_refused(text: str, tmp_path: Path) -> None:
    refused(tmp_path, changed(SOLUTION, ("expiry = 2027-02-28", f'expiry = "{text}"')))


def test_reading_thousands_of_cases_does_not_hang(tmp_path: Path) -> None:
    start = SOLUTION.index("[[cases]]")
    cases = "".join(
        SOLUTION[start:].replace('"K-1"', f'"K-{place}"').replace("leuprolide acetate", "leuprolid")
        for place in range(300)
    )
    assert len(refused(tmp_path, SOLUTION[:start] + cases)) == 300
