"""Laws of the page over many plans: whatever is ordered and lies at home, the page is whole, large enough, and works back."""

import datetime as dt
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hourmark.exchange import plan_checked, read_night
from hourmark.exchange.checked import page_rechecked
from hourmark.formulary import barrels
from hourmark.handout import patient_sheet
from hourmark.handout.pdf import Paper, sheet_read
from hourmark.order import Night
from tests.exchange.nights import POWDER, PREFILLED, SOLUTION, WHOLE
from tests.handout.paper import overlapping, pieces
from tests.laws.strategies import law

AT = dt.datetime(2026, 11, 18, 20, 30, tzinfo=dt.UTC)

SYRINGES = sorted(barrels())
DOSES = {
    SOLUTION: [f"{tenths / 10:g} mg" for tenths in range(1, 60)],
    POWDER: [f"{units:,} units" for units in range(250, 10_001, 250)],
    WHOLE: ["5,000 units"],
    PREFILLED: ["250 mcg"],
}
ORDERED = {SOLUTION: "4 mg", POWDER: "1,000 units", WHOLE: "5,000 units", PREFILLED: "250 mcg"}
NAMES = st.text(st.characters(codec="latin-1", categories=["L", "N", "P", "S", "Zs"]), min_size=1, max_size=60).filter(
    lambda name: name.strip() and name.isprintable() and not set(name) & set('"\\')
)


@st.composite
def nights(draw: st.DrawFn) -> str:
    """The text of a night of one case: another dose, syringes, slot, zone, helper, words on the box, stop-list and hand."""
    kind = draw(st.sampled_from([SOLUTION, POWDER, WHOLE, PREFILLED]))
    text = kind.replace(f'dose = "{ORDERED[kind]}"', f'dose = "{draw(st.sampled_from(DOSES[kind]))}"')
    syringe = draw(st.sampled_from(SYRINGES))
    text = text.replace('syringe = "u100-1mL-1"\ncount = 3', f'syringe = "{syringe}"\ncount = 4')
    hour, minute = draw(st.integers(6, 17)), draw(st.sampled_from(["00", "15", "30", "45"]))
    text = text.replace('at = "2026-11-20 09:00"', f'at = "2026-11-20 {hour:02}:{minute}"')
    zone = draw(st.sampled_from(["America/Chicago", "Asia/Kolkata", "Europe/Madrid", "Pacific/Auckland"]))
    text = text.replace('slot = "s1"\nzone = "America/Chicago"', f'slot = "s1"\nzone = "{zone}"')
    extra = f'left_handed = {str(draw(st.booleans())).lower()}\nlanguage = "{draw(st.sampled_from(["en", "es"]))}"\n'
    if draw(st.booleans()):
        extra += f'helper = "{draw(NAMES).strip()}"\n'
    text = text.replace('lh = "2 units/L"\n', f'lh = "2 units/L"\n{extra}')
    return text.replace("[[cases.kit.products]]\n", f'[[cases.kit.products]]\nwords = "{draw(NAMES).strip()}"\n')


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("nights")


@law(40)
@given(text=nights(), paper=st.sampled_from(["a4", "letter"]), large=st.booleans(), signed=st.booleans())
def test_a_page_is_whole_large_enough_and_works_back(
    folder: Path, text: str, paper: Paper, large: bool, signed: bool
) -> None:
    path = folder / "night.toml"
    if signed:
        text = text.replace("[clinic.rules]\n", '[clinic.rules]\nlanguages = ["es"]\n')
    path.write_text(text, encoding="utf-8")
    night: Any = read_night(path)
    assert isinstance(night, Night), night
    plan = plan_checked(night)
    (case,) = plan.cases
    assert not [finding for finding in case.findings if finding.code.startswith("recheck")]
    sheet = patient_sheet(case, plan)
    pdf, words = sheet_read(sheet, AT, paper, large=large)
    told = [piece for piece in pieces(pdf) if piece.tagged]
    assert overlapping(told) == []
    assert min(piece.size for piece in told if any(letter.isalpha() for letter in piece.words)) >= 9.99
    if not case.refused:
        assert page_rechecked(sheet, "\n".join(words), case, plan) == ()
        for one in case.injections:
            for misstep in one.missteps:
                assert misstep.how not in "\n".join(words)
