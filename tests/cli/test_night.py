"""hourmark night and the commands that keep the record, run as a person or another program would run them."""

import json
import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from tests.cli.running import answer, codes, run

ROOT = Path(__file__).resolve().parents[2]
EVENING = str(ROOT / "examples" / "evening.toml")
HOURMARK = [sys.executable, "-m", "hourmark.cli"]


def command(*args: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """The command in a process of its own, with this environment alone for settings."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("HOURMARK_", "DJANGO_"))}
    return subprocess.run([*HOURMARK, *args], capture_output=True, text=True, check=False, env=kept | environment)


@pytest.fixture(scope="module")
def at_21_40() -> dict[str, Any]:
    status, found = answer("night", EVENING, "--at", "2026-11-18 21:40")
    assert status == 0
    return found


def states(found: dict[str, Any]) -> dict[tuple[str, str], str]:
    return {(row["case"], row["place"]): row["state"] for row in found["board"]}


def test_the_board_at_twenty_to_ten(at_21_40: dict[str, Any]) -> None:
    shown = states(at_21_40)
    assert shown["K-103", "1 of 2"] == "given"
    assert shown["K-103", "2 of 2"] == "unknown since"
    assert shown["K-104", "1 of 2"] == shown["K-104", "2 of 2"] == "unknown since"
    assert shown["K-105", "1 of 2"] == "given"
    assert shown["K-105", "2 of 2"] == shown["K-108", "1 of 1"] == "told"
    assert len(shown) == 13
    first = at_21_40["board"][0]
    assert (first["case"], first["why"], first["since"]) == ("K-103", "1 of 2 given", "2026-11-19T03:00:00Z")
    given = next(row for row in at_21_40["board"] if row["case"] == "K-101")
    assert given["to_slot"] == "35 h 58 min"


def test_what_is_silent_or_in_trouble_stands_first_and_what_is_given_last(at_21_40: dict[str, Any]) -> None:
    order = [row["state"] for row in at_21_40["board"]]
    ranks = [{"unknown since": 0, "problem": 0, "given": 2}.get(state, 1) for state in order]
    assert ranks == sorted(ranks)


def test_every_act_went_as_the_script_says(at_21_40: dict[str, Any]) -> None:
    assert all(act["as_written"] for act in at_21_40["acts"])
    refused = [finding["code"] for act in at_21_40["acts"] for finding in act["refused"]]
    assert {"checker-saw-plan", "release-unchecked", "release-untold"} <= set(refused)


def test_the_morning_list_has_true_hours_and_no_name() -> None:
    status, found = answer("night", EVENING)
    assert status == 0
    lines = found["morning"]["2026-11-20"]
    text = "\n".join(lines)
    assert "case K-103" in text
    assert "leuprolide acetate 4 mg, subcutaneous: Wed 18 Nov 21:01, 35 h 59 min to the slot" in text
    assert "choriogonadotropin alfa 250 mcg, subcutaneous: Thu 19 Nov 01:46, 33 h 59 min to the slot" in text
    assert "Fri 20 Nov 11:10" in text  # a slot that moved after the injection: the hours are the true ones
    assert "choriogonadotropin alfa 250 mcg, subcutaneous: Wed 18 Nov 23:01, 36 h 9 min to the slot" in text
    assert "UNKNOWN" not in text
    assert lines == sorted(lines, key=lambda line: 0)


def test_what_she_had_been_told_by_then_is_shown_whole() -> None:
    shown = run("night", EVENING, "--at", "2026-11-18 17:40", "--sheet", "K-104").stdout
    assert shown.startswith(
        "Version 1, released 2026-11-18T22:23:00Z by A. Kowal; void since 2026-11-18T23:35:00Z: a new order"
    )
    assert "1,500 units" in shown
    later = run("night", EVENING, "--at", "2026-11-18 21:40", "--sheet", "K-104").stdout
    assert later.startswith("Version 2, released 2026-11-18T23:50:00Z by A. Kowal; the page that held then.")
    assert "1,500 units" not in later
    assert "DRAFT" not in later


def test_times_and_cases_that_are_not_there_are_refused() -> None:
    for options in (("--at", "2026-11-18 25:00"), ("--at", "nine"), ("--store", "mysql:x")):
        status, found = answer("night", EVENING, *options)
        assert (status, codes(found)) == (2, {"unreadable": "stop"})
    refused = run("night", EVENING, "--at", "2026-11-18 12:00", "--sheet", "K-103")
    assert refused.exit_code == 2
    assert "had no released page by then" in refused.output


@pytest.mark.parametrize(
    ("was", "now", "where", "says"),
    [
        ('do = "place-slots"', 'do = "place-slot"', "acts[2].do", "Write one of: sign-rules, place-slots"),
        ('by = "Theatre desk"', 'by = "Theatre"', "acts[2].by", "people"),
        ('case = "K-101"', 'case = "K-999"', "acts[3]", "stands there"),
        ('why = "theatre list"', 'why = "theatre list"\nwy = 1', "acts[4].wy", 'Did you mean "why"?'),
        ('at = "2026-11-18 12:30"', 'at = "2026-11-18"', "acts[2].at", "24-hour clock"),
        ("schema = 1", "schema = 2", "schema", "1"),
        ('night = "ordinary-night.toml"', 'night = "no-night.toml"', "no-night.toml", "Check the name"),
        ('role = "theatre"', 'role = "surgeon"', "people[8].role", "theatre"),
    ],
)
def test_a_script_that_cannot_be_read_is_refused_with_its_place(
    tmp_path: Path, was: str, now: str, where: str, says: str
) -> None:
    text = (ROOT / "examples" / "evening.toml").read_text(encoding="utf-8")
    assert was in text
    (tmp_path / "ordinary-night.toml").write_bytes((ROOT / "examples" / "ordinary-night.toml").read_bytes())
    script = tmp_path / "evening.toml"
    script.write_text(text.replace(was, now, 1), encoding="utf-8")
    status, found = answer("night", str(script))
    assert status == 2
    assert where in found["findings"][0]["where"]
    assert says in found["findings"][0]["do"]


def test_an_empty_script_is_refused(tmp_path: Path) -> None:
    (tmp_path / "ordinary-night.toml").write_bytes((ROOT / "examples" / "ordinary-night.toml").read_bytes())
    script = tmp_path / "evening.toml"
    script.write_text('schema = 1\nnight = "ordinary-night.toml"\npeople = []\n', encoding="utf-8")
    status, found = answer("night", str(script))
    assert status == 2
    assert found["findings"][0]["where"].endswith("acts[1].do")


def test_an_act_that_goes_otherwise_than_written_is_said(tmp_path: Path) -> None:
    text = (ROOT / "examples" / "evening.toml").read_text(encoding="utf-8")
    (tmp_path / "ordinary-night.toml").write_bytes((ROOT / "examples" / "ordinary-night.toml").read_bytes())
    script = tmp_path / "evening.toml"
    script.write_text(text.replace('refused = "checker-saw-plan"\n', ""), encoding="utf-8")
    result = run("night", str(script))
    assert result.exit_code == 1
    assert "(SecondCheck) did not go as the script says" in result.output
    assert "checker-saw-plan" in result.output


def test_killed_at_random_and_run_again_it_ends_the_same(tmp_path: Path) -> None:
    """Nothing that was played is played again or judged again, whichever moment the power fails at."""
    whole = command("night", EVENING, "--json")
    assert whole.returncode == 0, whole.stderr
    chance = random.Random(20261118)
    store = tmp_path / "evening.sqlite"
    killed = 0
    for _ in range(7):
        running = subprocess.Popen(
            [*HOURMARK, "night", EVENING, "--json", "--store", str(store)],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        time.sleep(chance.uniform(0.7, 2.5))
        running.send_signal(signal.SIGKILL)
        killed += running.wait() == -signal.SIGKILL
    assert killed > 2
    again = command("night", EVENING, "--json", "--store", str(store))
    assert again.returncode == 0, again.stderr
    first, second = json.loads(whole.stdout), json.loads(again.stdout)
    for key in ("at", "board", "morning", "findings"):
        assert first[key] == second[key]
    assert [act["as_written"] for act in second["acts"]] == [True] * len(first["acts"])
    checked = command("verify", "--json", HOURMARK_DATABASE=f"sqlite:{store}", HOURMARK_CLINIC="evening")
    assert "record-" not in checked.stdout
    assert json.loads(checked.stdout)["entries"] > 150


def test_the_record_is_set_up_before_accounts_and_pages(tmp_path: Path) -> None:
    """So a set-up that is broken off later leaves a database that is known as ours."""
    here = {"HOURMARK_DATABASE": f"sqlite:{tmp_path / 'record.sqlite'}", "HOURMARK_DISK_FREE_MB": "1"}
    assert command("upgrade", "--backups", str(tmp_path / "backups"), **here).returncode == 0
    with sqlite3.connect(tmp_path / "record.sqlite") as raw:
        apps = list(dict.fromkeys(app for (app,) in raw.execute("SELECT app FROM django_migrations ORDER BY id")))
    raw.close()
    assert apps[0] == "store"
    assert {"auth", "web"} <= set(apps)


def test_the_record_is_set_up_copied_checked_and_brought_back(tmp_path: Path) -> None:
    here = {"HOURMARK_DATABASE": f"sqlite:{tmp_path / 'record.sqlite'}", "HOURMARK_DISK_FREE_MB": "1"}
    there = here | {"HOURMARK_DATABASE": f"sqlite:{tmp_path / 'back.sqlite'}"}
    backups = ("--backups", str(tmp_path / "backups"))
    copy = str(tmp_path / "copy")

    def read(*args: str, **environment: str) -> tuple[int, dict[str, Any]]:
        done = command(*args, "--json", **environment)
        return done.returncode, json.loads(done.stdout)

    assert codes(read("verify", **here)[1])["store-not-upgraded"] == "stop"
    assert read("upgrade", *backups, **here) == (
        0,
        {"folder": str(tmp_path / "backups"), "streams": None, "entries": None, "findings": []},
    )
    status, found = read("verify", **here)
    assert (status, found["streams"], found["entries"]) == (0, 0, 0)
    status, found = read("backup", copy, **here)
    assert (status, found["folder"], found["findings"]) == (0, copy, [])
    assert codes(read("backup", copy, **here)[1]) == {"backup-there": "stop"}
    assert read("restore", copy, **there)[0] == 0
    assert codes(read("restore", copy, **there)[1]) == {"restore-not-empty": "stop"}
    assert read("verify", "--against", copy, **there)[0] == 0
    assert read("upgrade", *backups, **there)[1]["streams"] == 0
    status, found = read("erase", **here)
    assert (status, codes(found)) == (1, {"retention-unsigned": "stop"})
    status, found = read("verify", HOURMARK_DATABSE="x")
    assert (status, found["streams"], codes(found)) == (2, None, {"setting-wrong": "stop"})
