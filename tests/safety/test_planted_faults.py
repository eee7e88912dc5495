"""Faults planted one at a time: whichever changes a dose or a minute is caught by the recheck or another check."""

import json
import shutil
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

from tests.safety.faults import FAULTS

ROOT = Path(__file__).resolve().parents[2]
NIGHTS = ("ordinary-night", "clocks-go-back", "travellers")

Answer = dict[str, Any]

_DRIVER = """
import json, sys
from pathlib import Path
from hourmark.exchange import plan_checked, read_night
from hourmark.exchange.draft import draft_text
from hourmark.exchange.answers import case_json
from hourmark.order import Night
answer = {}
for path in sys.argv[1:]:
    night = read_night(Path(path))
    if not isinstance(night, Night):
        answer[path] = "unread"
        continue
    plan = plan_checked(night)
    for case in plan.cases:
        told = case_json(case)
        carries = [
            line.strip()
            for line in draft_text(case, plan).splitlines()
            if line.strip().startswith(("MEDICINE", "When", "Dose", "Route", "Vials", "Water", "Syringe", "Stop at", "Sprays", "Prefilled", "Draw up", "Strength"))
        ]
        answer[case.case.id] = {
            "stops": [finding.code for finding in case.findings if finding.level == "stop"],
            "minutes": [one["inject_at"] for one in told["injections"]],
            "page": carries,
        }
print(json.dumps(answer))
"""


def run(package_parent: Path) -> Answer | str:
    """What the program at this place says of the example nights, or how it failed."""
    done = subprocess.run(
        [sys.executable, "-c", _DRIVER, *(str(ROOT / "examples" / f"{name}.toml") for name in NIGHTS)],
        capture_output=True,
        text=True,
        env={"PYTHONPATH": str(package_parent), "PYTHONDONTWRITEBYTECODE": "1"},
        check=False,
    )
    if done.returncode != 0:
        return done.stderr.strip().splitlines()[-1]
    answer: Answer = json.loads(done.stdout)
    return answer


def verdict(tmp_path: Path, number: int, good: Answer) -> str:
    """caught, no effect on these nights, or MISSED with the first case whose page is wrong and not stopped."""
    file, old, new = FAULTS[number]
    parent = tmp_path / str(number)
    shutil.copytree(ROOT / "src/hourmark", parent / "hourmark", ignore=shutil.ignore_patterns("__pycache__"))
    target = parent / "hourmark" / file
    text = target.read_text()
    assert text.count(old) >= 1, f"fault {number}: {file} no longer says {old}"
    target.write_text(text.replace(old, new))
    answer = run(parent)
    shutil.rmtree(parent)
    if isinstance(answer, str):
        return "caught: does not run"
    effect = False
    for case, told in answer.items():
        if told == "unread":
            return "caught: the night is refused"
        if told["page"] != good[case]["page"] or told["minutes"] != good[case]["minutes"]:
            effect = True
            if not told["stops"]:
                return f"MISSED in case {case}"
    return "caught" if effect else "no effect on these nights"


def test_every_planted_fault_that_changes_a_dose_or_a_minute_is_caught(tmp_path: Path) -> None:
    good = run(ROOT / "src")
    assert not isinstance(good, str), good
    assert not any(told["stops"] for told in good.values())
    with ThreadPoolExecutor(2) as pool:
        verdicts = list(pool.map(lambda number: verdict(tmp_path, number, good), range(len(FAULTS))))
    for (file, old, new), said in zip(FAULTS, verdicts, strict=True):
        print(f"{said:32} {file}: {old}  ->  {new}")
    missed = [said for said in verdicts if said.startswith("MISSED")]
    caught = [said for said in verdicts if said.startswith("caught")]
    print(f"{len(FAULTS)} faults planted, {len(caught)} caught, {len(missed)} missed")
    assert len(FAULTS) >= 60
    assert not missed
    assert len(caught) >= 60
