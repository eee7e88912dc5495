"""Faults planted one at a time: whichever changes a dose or a minute is caught by the recheck or another check."""

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

from tests.safety.faults import FAULTS

ROOT = Path(__file__).resolve().parents[2]
NIGHTS = ("ordinary-night", "clocks-go-back", "travellers")

Answer = dict[str, Any]
Work = tuple[str, str, tuple[str, ...]]
"""Where a copy of the program is, the language of the pages, the night files."""

_DRIVER = """
import json, os, re, sys
from pathlib import Path
import cattrs, concurrent.futures.process, num2words, tree_sitter, tree_sitter_toml, tzdata, whenever  # loaded one time for all

CARRIES = re.compile(
    r"Medicine|When|Dose|Route|Vials|Add|Syringe|Sprays|Prefilled|Draw up|Strength|Lay everything|Start to|What stays"
    r"|Together|Those on|Planned |Clinic's zone|Zone|Get ready|Give|[0-9]+[.] |-> "
    r"|Medicamento|Cuándo|Dosis|Vía|Frascos|Añada|Jeringa|Llene hasta|Rociadas|Saque|Contenido|Ponga|Empiece|Lo que queda"
    r"|Juntos|Los del|Extracción|Inseminación|Zona|Prepare"
)

def answer(language, paths):
    from hourmark.exchange import read_night
    from hourmark.exchange.answers import case_json
    from hourmark.exchange.checked import page_rechecked
    from hourmark.handout import patient_sheet, sheet_text
    from hourmark.order import Night
    from hourmark.plan import plan_night
    found = {}
    for path in paths:
        night = read_night(Path(path))
        if not isinstance(night, Night):
            found[path] = "unread"
            continue
        plan = plan_night(night)
        for case in plan.cases:
            told = case_json(case)
            stops = [finding.code for finding in case.findings if finding.level == "stop"]
            carries = []
            if not case.refused:
                sheet = patient_sheet(case, plan, language)
                page = sheet_text(sheet)
                stops += [finding.code for finding in page_rechecked(sheet, page, case, plan)]
                carries = [line for line in page.splitlines() if CARRIES.match(line.removeprefix("= "))]
            minutes = [one["inject_at"] for one in told["injections"]]
            found[case.case.id] = {"stops": stops, "minutes": minutes, "page": carries}
    return found

for parent, language, paths in json.load(sys.stdin):
    out, into = os.pipe()
    child = os.fork()
    if not child:
        os.close(out)
        sys.path.insert(0, parent)
        try:
            said = answer(language, paths)
        except BaseException as error:
            said = repr(error)
        with open(into, "w") as file:
            json.dump(said, file)
        os._exit(0)
    os.close(into)
    with open(out) as file:
        print(file.read())
    os.waitpid(child, 0)
"""


def run(work: Sequence[Work]) -> list[Answer | str]:
    """What each copy of the program says of its nights, or how it failed."""
    done = subprocess.run(
        [sys.executable, "-c", _DRIVER],
        input=json.dumps(work),
        stdout=subprocess.PIPE,
        text=True,
        env={"PYTHONDONTWRITEBYTECODE": "1", "PYTHONPATH": ""},
        check=True,
    )
    return [json.loads(line) for line in done.stdout.splitlines()]


def work_on(parent: Path, file: str) -> Work:
    """All nights in English; what changes amounts, hands or phrases alone is tried on one night, the Spanish with the English beside it."""
    language = "es" if file.endswith("es.toml") else "en"
    nights = NIGHTS[:1] if file.startswith(("dose/", "quantity/", "handout/words/")) or language == "es" else NIGHTS
    return str(parent), language, tuple(str(ROOT / "examples" / f"{name}.toml") for name in nights)


def planted(folder: Path, number: int) -> Work:
    """A copy of the program with one fault in it."""
    file, old, new = FAULTS[number]
    parent = folder / str(number)
    shutil.copytree(ROOT / "src/hourmark", parent / "hourmark", copy_function=os.symlink)
    target = parent / "hourmark" / file
    text = target.read_text(encoding="utf-8")
    assert text.count(old) >= 1, f"fault {number}: {file} no longer says {old}"
    target.unlink()
    target.write_text(text.replace(old, new), encoding="utf-8")
    return work_on(parent, file)


def verdict(answer: Answer | str, good: Answer) -> str:
    """caught, no effect on these nights, or MISSED with the first case whose page is wrong and not stopped."""
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
    good: dict[str, Answer] = {}
    for work in (work_on(ROOT / "src", file) for file in ("every", "es.toml")):
        (answer,) = run([work])
        assert not isinstance(answer, str), answer
        assert not any(told["stops"] for told in answer.values())
        assert all(told["page"] for told in answer.values())
        good[work[1]] = answer
    every = [planted(tmp_path, number) for number in range(len(FAULTS))]
    with ThreadPoolExecutor(2) as pool:
        odd, even = pool.map(run, (every[1::2], every[::2]))
    answers: list[Answer | str] = [""] * len(FAULTS)
    answers[1::2], answers[::2] = odd, even
    verdicts = [verdict(answer, good[work[1]]) for answer, work in zip(answers, every, strict=True)]
    for (file, old, new), said in zip(FAULTS, verdicts, strict=True):
        print(f"{said:32} {file}: {old}  ->  {new}")
    missed = [f"{said}: {fault}" for fault, said in zip(FAULTS, verdicts, strict=True) if said.startswith("MISSED")]
    caught = [said for said in verdicts if said.startswith("caught")]
    print(f"{len(FAULTS)} faults planted, {len(caught)} caught, {len(missed)} missed")
    assert len(set(FAULTS)) == len(FAULTS) >= 160
    assert not missed
    assert len(caught) >= 160
    assert sum(said != "caught" for said in verdicts) <= 10
