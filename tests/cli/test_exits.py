"""Exit statuses say what happened: an answer that went nowhere is not "something stops", and misuse is no fault of the program."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.running import answer, run

HOURMARK = str(Path(sys.executable).with_name("hourmark"))
DRAW = "draw --label '5 mg/mL' --dose '4 mg' --syringe u100-1mL-1"
WHEN = "when --slot '2026-11-20 09:00' --zone America/Chicago --lead '36 h'"
CUT_OFF = 141


def shell(line: str, **more: str) -> subprocess.CompletedProcess[str]:
    """A line of bash, with the hourmark of this environment as $H; its exit status is the first command's of a pipe."""
    return subprocess.run(
        ["bash", "-c", f"{line}; exit ${{PIPESTATUS[0]}}"],
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
        env=dict(os.environ) | {"H": HOURMARK} | more,
    )


@pytest.mark.parametrize("json_too", ["", " --json"])
@pytest.mark.parametrize("command", [DRAW, WHEN])
def test_an_answer_that_nobody_reads_is_cut_off(command: str, json_too: str) -> None:
    found = shell(f'{{ sleep 0.5; "$H" {command}{json_too}; }} | true')
    assert (found.returncode, found.stderr) == (CUT_OFF, "")


@pytest.mark.parametrize("json_too", ["", " --json"])
def test_an_answer_without_standard_output_is_cut_off(json_too: str) -> None:
    found = shell(f'"$H" {WHEN}{json_too} >&-')
    assert (found.returncode, found.stderr) == (CUT_OFF, "Standard output is closed: the answer went nowhere.\n")
    found = shell(f'"$H" {WHEN}{json_too} > /dev/full')
    assert found.returncode == CUT_OFF
    assert found.stderr == "The answer could not be written to its end: No space left on device.\n"


def test_an_answer_that_is_read_keeps_its_status() -> None:
    assert shell(f'"$H" {WHEN} | cat').returncode == 0
    assert shell(f'"$H" {DRAW.replace("4 mg", "4.03 mg")} | cat').returncode == 1


def test_a_drill_without_standard_input_is_told_so() -> None:
    found = shell('"$H" drill --calls 1 <&-')
    assert found.returncode == 2
    assert "standard input is closed" in found.stderr


@pytest.mark.parametrize("json_too", [[], ["--json"]])
def test_bytes_that_are_not_text_are_refused(json_too: list[str]) -> None:
    found = subprocess.run(
        [HOURMARK, b"plan", b"night-\xed.toml", *json_too], capture_output=True, check=False, timeout=60
    )
    assert found.returncode == 2
    assert b"Argument 2 is not UTF-8 text." in found.stderr
    if json_too:
        assert json.loads(found.stdout)["findings"][0]["code"] == "unreadable"


@pytest.mark.parametrize(
    "args",
    [
        ("draw", "--label", "5 mg/mL", "--dose", "1 mg", "--dose", "4 mg", "--syringe", "u100-1mL-1"),
        ("when", "--slot", "2026-11-20 09:00", "--zone", "Europe/London", "--lead", "36 h", "--lead=34 h"),
        ("drill", "--seed", "1", "--seed", "1"),
        ("serve", "--watch", "--no-watch"),
    ],
)
def test_an_option_given_twice_is_refused(args: tuple[str, ...]) -> None:
    result = run(*args)
    assert result.exit_code == 2
    assert "is given twice" in result.stderr


def test_an_option_for_several_values_may_be_given_again() -> None:
    syringes = ("--syringe", "u100-1mL-1", "--syringe", "mL-3-0.1")
    assert answer("draw", "--label", "5 mg/mL", "--dose", "4 mg", *syringes, "--json")[0] == 0


@pytest.mark.parametrize("act", ["do = []", "do = 3", "do = { a = 1 }"])
def test_an_act_that_is_no_word_is_refused(act: str, tmp_path: Path) -> None:
    night = Path(__file__).resolve().parents[2] / "examples" / "ordinary-night.toml"
    (tmp_path / "night.toml").write_bytes(night.read_bytes())
    script = tmp_path / "evening.toml"
    script.write_text(
        f'schema = 1\nnight = "night.toml"\n[[people]]\nname = "A"\nrole = "nurse"\n[[acts]]\nat = "2026-11-18 15:00"\nby = "A"\n{act}\n'
    )
    status, found = answer("night", str(script))
    assert status == 2
    assert "is not an act" in found["findings"][0]["what"]


@pytest.mark.parametrize(
    "command", [("backup", "copy"), ("upgrade", "--backups", "backups"), ("erase",), ("erase", "--by", "Dr. O. Brandt")]
)
@pytest.mark.parametrize("content", [b"This is no database. " * 400, None], ids=["text", "folder"])
def test_a_database_that_cannot_be_used_is_named(
    command: tuple[str, ...], content: bytes | None, tmp_path: Path
) -> None:
    database = tmp_path / "record.sqlite"
    database.mkdir() if content is None else database.write_bytes(content)
    found = subprocess.run(
        [HOURMARK, *command, "--json"],
        capture_output=True,
        check=False,
        timeout=60,
        cwd=tmp_path,
        env=dict(os.environ) | {"HOURMARK_DATABASE": f"sqlite:{database}", "HOURMARK_CLINIC": "invented"},
    )
    assert found.returncode == 1, found.stderr
    (stop,) = json.loads(found.stdout)["findings"]
    assert (stop["code"], stop["level"]) == ("store-unusable", "stop")
    assert content is None or database.read_bytes() == content
