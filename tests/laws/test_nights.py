"""Laws of whole nights: order in the file is nothing, whole days shift whole plans, and no file makes the reader fall over."""

import datetime as dt
import random
import re
import tomllib
from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from enum import Enum
from pathlib import Path
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from hourmark.clock import Moment, Zone
from hourmark.exchange import plan_checked, read_night
from hourmark.finding import Finding, Level
from hourmark.formulary import Barrel, LabelRule, Product, barrels
from hourmark.order import Case, Night, SyringeAtHome
from hourmark.plan import NightPlan, plan_night
from tests.laws.strategies import NIGHTS, law, night_text


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("nights")


def read(text: str, folder: Path) -> Night | tuple[Finding, ...]:
    path = folder / "night.toml"
    path.write_text(text, encoding="utf-8", newline="")
    return read_night(path)


def night_of(text: str, folder: Path) -> Night:
    night = read(text, folder)
    assert isinstance(night, Night), night
    return night


PLANNED: dict[str, NightPlan] = {}
STILL: list[Any] = []
"""The ordinary night's plan without its times, once it is made."""


def planned(name: str, folder: Path) -> NightPlan:
    """An example night's plan as it stands, made one time."""
    if name not in PLANNED:
        PLANNED[name] = plan_night(night_of(night_text(name), folder))
    return PLANNED[name]


# --- Whole days -------------------------------------------------------------------------------------------------------

STAMP = re.compile(r"(\d{4})-(\d{2})-(\d{2})")


def later(text: str, days: int) -> str:
    """The text with every date in it moved."""
    return STAMP.sub(lambda found: str(dt.date(*map(int, found.groups())) + dt.timedelta(days=days)), text)


def timeless(value: Any, days: int) -> Any:
    """What a plan holds, with every moment as an instant moved back by `days`, and dates in texts too; weekdays are dropped."""
    match value:
        case Moment():
            moved = dt.datetime.fromisoformat(value.utc) - dt.timedelta(days=days)
            return moved.isoformat(), value.zone.name, value.offset, value.which
        case Enum() | Zone():
            return str(value)
        case Product() | Barrel():
            return value.id
        case LabelRule():
            return value.words.value
        case dt.date():
            return value - dt.timedelta(days=days)
        case str():
            return re.sub(r"\b\w+day\b|\b\d{1,2} [A-Z][a-z]+ 20\d\d\b", "", later(value, -days))
        case tuple() | list():
            return [timeless(item, days) for item in value]
        case dict():
            return {key: timeless(item, days) for key, item in value.items()}
        case _ if is_dataclass(value):
            return {
                field.name: timeless(getattr(value, field.name), days)
                for field in fields(value)
                if field.name not in ("night", "case", "lines", "injection", "raw")
            }
        case _:
            return repr(value)


@law(30)
@given(days=st.integers(-9, 85))
@example(days=-9)
@example(days=85)
def test_whole_days_shift_the_whole_plan(days: int, folder: Path) -> None:
    """Between 2026-11-01 and 2027-03-14 the clocks of Chicago keep one offset (IANA time-zone database, rule US).

    What is left in a vial is kept for 28 days after the injection, so that the last shift ends before those clocks change.
    """
    text = night_text("ordinary-night")
    # The rules were signed when the clocks still stood on summer time; that instant alone keeps its place.
    text = text.replace('signed_at = "2026-10-05 09:00"', 'signed_at = "2026-11-18 09:00"')
    if not STILL:
        STILL.append(timeless(plan_night(night_of(text, folder)), 0))
    after = plan_night(night_of(later(text, days), folder))
    assert after.cases
    assert timeless(after, days) == STILL[0]


# --- Order ------------------------------------------------------------------------------------------------------------


def shuffled(items: tuple[Any, ...], chance: random.Random) -> tuple[Any, ...]:
    return tuple(chance.sample(items, len(items)))


def shuffle_kit(case: Case, chance: random.Random) -> Case:
    kit = case.kit
    return replace(
        case,
        kit=replace(
            kit,
            products=shuffled(kit.products, chance),
            diluents=shuffled(kit.diluents, chance),
            syringes=shuffled(kit.syringes, chance),
            needles=shuffled(kit.needles, chance),
        ),
    )


def without_night(plan: NightPlan) -> Any:
    """A plan apart from the lists it was made from."""
    return (
        plan.as_of,
        plan.time_data,
        plan.findings,
        [[getattr(case, field.name) for field in fields(case) if field.name != "case"] for case in plan.cases],
    )


def crowded(night: Night, chance: random.Random) -> Night:
    """The night with the boxes and tools of other cases added to each kit, so that there is an order to change."""
    kits = [case.kit for case in night.cases]

    def more(case: Case) -> Case:
        other = chance.choice(kits)
        return replace(
            case,
            kit=replace(
                case.kit,
                products=case.kit.products + (other.products if chance.random() < 0.5 else ()),
                diluents=case.kit.diluents + other.diluents,
                syringes=case.kit.syringes + other.syringes,
                needles=case.kit.needles + other.needles,
            ),
        )

    return replace(night, cases=tuple(map(more, night.cases)))


@pytest.mark.parametrize("name", NIGHTS)
@law(30)
@given(seed=st.integers(0, 10**6))
def test_the_order_of_kit_and_slots_is_nothing(name: str, seed: int, folder: Path) -> None:
    chance = random.Random(seed)
    night = crowded(night_of(night_text(name), folder), chance)
    turned = replace(
        night,
        slots=shuffled(night.slots, chance),
        cases=tuple(shuffle_kit(case, chance) for case in night.cases),
    )
    assert without_night(plan_night(turned)) == without_night(plan_night(night))


@pytest.mark.parametrize("name", NIGHTS)
@law(20)
@given(seed=st.integers(0, 10**6))
def test_the_order_of_cases_moves_no_case(name: str, seed: int, folder: Path) -> None:
    chance = random.Random(seed)
    night = night_of(night_text(name), folder)
    turned = replace(night, cases=shuffled(night.cases, chance))
    by_id = {plan.case.id: plan for plan in plan_night(turned).cases}
    straight = planned(name, folder).cases
    assert len(straight) == len(by_id)
    assert [by_id[plan.case.id] for plan in straight] == list(straight)


# --- More at home -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", NIGHTS)
@law(50)
@given(barrel=st.sampled_from(sorted(barrels())), count=st.integers(1, 12))
def test_more_syringes_at_home_refuse_no_case(name: str, barrel: str, count: int, folder: Path) -> None:
    """A new box of syringes on the table: what could be given before can be given still."""
    night = night_of(night_text(name), folder)
    box = SyringeAtHome(barrels()[barrel], count)
    richer = replace(
        night,
        cases=tuple(replace(case, kit=replace(case.kit, syringes=(*case.kit.syringes, box))) for case in night.cases),
    )
    for before, after in zip(planned(name, folder).cases, plan_night(richer).cases, strict=True):
        stops = {(finding.code, finding.what) for finding in after.findings if finding.level is Level.STOP}
        assert before.refused or not stops, after.case.id


INTO_THE_MUSCLE = """
[[cases]]
id = "M-1"
slot = "s1"
zone = "America/Chicago"
last_antagonist = { drug = "ganirelix", at = "2026-11-18 08:00" }

[cases.order]
purpose = "trigger"
signed_by = "Dr. L. Aumont"
signed_at = "2026-11-18 13:05"
cycle = "antagonist"
stop = ["ganirelix"]

[[cases.order.injections]]
id = "agonist"
drug = "leuprolide acetate"
dose = "2 mg"
route = "intramuscular"
route_confirmed_by = "Dr. L. Aumont"
lead = "36 h"
window = ["35 h", "37 h"]

[cases.kit]
products = [{ product = "leuprolide-5mg-per-ml-vial", strength = "5 mg/mL", expiry = 2027-06-30 }]
syringes = [{ syringe = "mL-1-0.01", count = 3 }]
needles = [{ gauge = 22, length = "38 mm", count = 2 }]
"""


@pytest.mark.parametrize("barrel", sorted(barrels()))
def test_more_syringes_at_home_refuse_no_injection_into_the_muscle(barrel: str, folder: Path) -> None:
    night = night_of(night_text("ordinary-night").partition("[[cases]]")[0] + INTO_THE_MUSCLE, folder)
    (case,) = night.cases
    box = SyringeAtHome(barrels()[barrel], 4)
    richer = replace(case, kit=replace(case.kit, syringes=(*case.kit.syringes, box)))
    before, after = plan_night(night), plan_night(replace(night, cases=(richer,)))
    assert not before.stopped, [finding for finding in before.all_findings() if finding.level is Level.STOP]
    assert not after.stopped, [finding for finding in after.all_findings() if finding.level is Level.STOP]


# --- Any file ---------------------------------------------------------------------------------------------------------

VALUES = [
    *('"0 mL"', '"0.5 mL"', '"1 mL"', '"10 mL"', '"50 mL"', '"0 units"', '"1 unit"', '"250 units"', '"2,500 units"'),
    *('"4 mg"', '"0 mcg"', '"250 mcg"', '"999,999,999,999 units"', '"100000000000 units"', '"5 mg/mL"', '"0 mg/mL"'),
    *('"0.000000001 mg"', '"36 h"', '"0 h"', '"0 min"', '"2400 h"', '"-1 h"', '"35 h 30 min"', '"10 %"', '"0 %"'),
    *('"2026-11-20 08:00"', '"2026-11-01 01:30"', '"2026-11-01 01:30 second"', '"2027-03-14 02:30"'),
    *('"2000-01-01 00:00"', '"2099-12-31 23:59"', '"2026-02-30 10:00"', '"10:00"', '"23:59"'),
    *("2027-06-30", "0001-01-01", "9999-12-31", "2026-11-18T10:00:00", "2026-11-18T10:00:00Z", "10:00:00"),
    *("0", "1", "-1", "20", "999", "1000", "1.5", "inf", "nan", "1e400", "true", "false", "99999999999999999999"),
    *("[]", "{}", "[[]]", '["a"]', '["35 h", "37 h"]', '["37 h", "35 h"]', "[1, 2]", '["20:30", "22:30"]', "[{}]"),
    *('""', '" "', '"\\u0000"', '"\\t"', "'''\nx\n'''", '"' + "x" * 201 + '"', '"\N{GREEK SMALL LETTER MU}g"'),
    *('"subcutaneous"', '"intramuscular"', '"nasal"', '"sc"', '"agonist"', '"hcg"', '"each"', '"first"', '"second"'),
    *('"trigger"', '"suppression"', '"luteal"', '"antagonist"', '"long agonist"', '"natural"', '"insemination"'),
    *('"America/Chicago"', '"Europe/London"', '"Asia/Kathmandu"', '"EST"', '"es"', '"1 mL only"', '"1 to 10 mL"'),
    *('"u100-0.3mL-0.5"', '"u100-1mL-2"', '"mL-10-0.5"', '"saline"', '"bacteriostatic water"', '"water"', '"13 mm"'),
    *(
        '"hcg-10000-units"',
        '"hcg-250-units"',
        '"leuprolide-depot"',
        '"leuprolide-compounded"',
        '"buserelin-150mcg-spray"',
    ),
    *('"nafarelin"', '"leuprolide acetate"', '"chorionic gonadotropin"', '"ganirelix"', '"choriogonadotropin alfa"'),
    *(
        '{ injection = "hcg", gap = "12 h", window = ["11 h", "13 h"] }',
        '{ by = "Dr. X", reason = "y", at = "2026-11-18 13:00" }',
    ),
    *('{ injection = "agonist", gap = "0 h" }', '{ by = ["a", "b"], at = "2026-11-18 13:00" }', "{ a.b = 1, a.c = 2 }"),
    *('["es"]', '["en", "es"]', '["fr"]', '"57 mm"', '"57.5 mm"', '"0 mm"', '"100 m"'),
    '[{ syringe = "u100-1mL-1", scale_length = "57 mm", measured_by = "y", measured_at = "2026-10-05 09:00" }]',
]
KEYS = [
    *("schema", "as_of", "id", "at", "which", "kind", "room", "zone", "slot", "bmi", "e2", "lh", "weight", "helper"),
    *("allergies", "language", "purpose", "cycle", "stop", "sequence", "largest_gap", "drug", "dose", "route", "lead"),
    *(
        "window",
        "after",
        "product",
        "diluent",
        "diluent_into",
        "route_confirmed_by",
        "override",
        "strength",
        "label_rule",
    ),
    *(
        "words",
        "lot",
        "expiry",
        "count",
        "opened",
        "out_of_fridge",
        "carton_check",
        "volume",
        "syringe",
        "fixed",
        "gauge",
    ),
    *(
        "length",
        "part_dose",
        "chosen",
        "signed_by",
        "signed_at",
        "mixes",
        "bands",
        "tolerance_note",
        '"quoted key"',
        "a.b",
    ),
    *("left_handed", "languages", "barrels", "scale_length", "measured_by", "measured_at", "lay_out", "mixing"),
]
MARKS = st.sampled_from(
    [*"\"'[]{}=,.#\n\\ \t-0x", "\x00", "\r", "\N{BYTE ORDER MARK}", "[[", "]]", '"""', "\N{FULLWIDTH COMMA}"]
)
PAIR = re.compile(r"^(\w+) = (.+)$")


def change(lines: list[str], draw: st.DrawFn) -> None:
    """One slip of the hand on the lines of a file."""
    place = draw(st.integers(0, len(lines) - 1))
    pair = PAIR.match(lines[place])
    kind = draw(
        st.sampled_from(["value", "value", "value", "value", "key", "add", "drop", "twice", "swap", "mark", "cut"])
    )
    match kind:
        case "value" if pair:
            lines[place] = f"{pair[1]} = {draw(st.sampled_from(VALUES))}"
        case "key" if pair:
            lines[place] = f"{draw(st.sampled_from(KEYS))} = {pair[2]}"
        case "value" | "key" | "add":
            lines.insert(place, f"{draw(st.sampled_from(KEYS))} = {draw(st.sampled_from(VALUES))}")
        case "drop":
            del lines[place : place + draw(st.integers(1, 12))]
        case "twice":
            lines[place:place] = lines[place : place + draw(st.integers(1, 12))]
        case "swap":
            other = draw(st.integers(0, len(lines) - 1))
            lines[place], lines[other] = lines[other], lines[place]
        case "mark":
            at = draw(st.integers(0, len(lines[place])))
            lines[place] = lines[place][:at] + draw(MARKS) + lines[place][at:]
        case _:
            lines[place] = lines[place][: draw(st.integers(0, len(lines[place])))]


@st.composite
def mutated(draw: st.DrawFn, name: str) -> str:
    lines = night_text(name).split("\n")
    for _ in range(draw(st.integers(1, 6))):
        change(lines, draw)
        if not lines:
            break
    return "\n".join(lines)


@st.composite
def replaced(draw: st.DrawFn, name: str) -> str:
    """One to three cases of a night, values alone changed, each to one that its key could hold: most can be read and planned."""
    text = night_text(name)
    pairs = sorted(set(re.findall(r'^\w+ = (?:".*"|\d+|\d{4}-\d\d-\d\d|\[.*\])$', text, re.MULTILINE)))
    by_key: dict[str, list[str]] = {}
    for pair in pairs:
        by_key.setdefault(pair.partition(" = ")[0], []).append(pair)
    clinic, *cases = re.split(r"^(?=\[\[cases\]\]$)", text, flags=re.MULTILINE)
    kept = draw(st.lists(st.integers(0, len(cases) - 1), min_size=1, max_size=3, unique=True))
    lines = "".join((clinic, *(cases[place] for place in kept))).split("\n")
    values = [place for place, line in enumerate(lines) if line.partition(" = ")[0] in by_key and "schema" not in line]
    for place in draw(st.lists(st.sampled_from(values), min_size=1, max_size=12)):
        lines[place] = draw(st.sampled_from(by_key[lines[place].partition(" = ")[0]]))
    return "\n".join(lines)


def every_finding(answer: Night | tuple[Finding, ...]) -> Iterator[Finding]:
    """The findings of a file that cannot be read, or else of its plan with the recheck of its words."""
    if isinstance(answer, Night):
        yield from plan_checked(answer).all_findings()
    else:
        assert answer
        yield from answer


def check_any_file(text: str, folder: Path) -> None:
    answer = read(text, folder)
    for finding in every_finding(answer):
        assert re.fullmatch(r"[a-z]+(-[a-z]+)*", finding.code)
        assert isinstance(finding.level, Level)
        assert finding.what.strip(), finding
        assert finding.do.strip(), finding
        assert finding.where.strip(), finding
    if not isinstance(answer, Night):
        assert {finding.level for finding in answer} == {Level.STOP}
        for finding in answer:
            assert finding.where.startswith(str(folder / "night.toml"))
            assert finding.code.startswith("file-")


@pytest.mark.parametrize("name", NIGHTS)
@law(200)
@given(data=st.data())
def test_no_slip_makes_reading_or_planning_fall_over(name: str, data: st.DataObject, folder: Path) -> None:
    check_any_file(data.draw(mutated(name)), folder)


@pytest.mark.parametrize("name", NIGHTS)
@law(120)
@given(data=st.data())
def test_no_exchange_of_values_makes_planning_fall_over(name: str, data: st.DataObject, folder: Path) -> None:
    check_any_file(data.draw(replaced(name)), folder)


@law(300)
@given(text=st.text(max_size=200))
def test_no_text_makes_reading_fall_over(text: str, folder: Path) -> None:
    check_any_file(text.encode("utf-8", "replace").decode(), folder)


@law(200)
@given(raw=st.binary(max_size=200))
def test_no_bytes_make_reading_fall_over(raw: bytes, folder: Path) -> None:
    path = folder / "night.toml"
    path.write_bytes(raw)
    answer = read_night(path)
    assert isinstance(answer, tuple)
    assert all(finding.what and finding.do and finding.where for finding in answer)


@pytest.mark.parametrize(
    "text",
    [
        pytest.param("schema = " + "9" * 5000, id="a number of 5,000 digits"),
        pytest.param("schema = 0x" + "f" * 5000, id="a number of 5,000 sixteenths"),
        pytest.param("schema = 1.0e" + "9" * 5000, id="an exponent of 5,000 digits"),
        pytest.param("a = " + "[" * 5000, id="lists without end"),
        pytest.param("a = " + "[" * 5000 + "]" * 5000, id="lists in lists"),
        pytest.param("a = " + "{a=" * 5000 + "1" + "}" * 5000, id="tables in tables"),
        pytest.param("x = \na = " + "[" * 5000 + "!" + "]" * 5000, id="a slip before lists in lists"),
        pytest.param(".".join(["a"] * 5000) + " = 1", id="a key of 5,000 parts"),
        pytest.param("[" + ".".join(["a"] * 5000) + "]", id="a table of 5,000 parts"),
        pytest.param("[a]\n" * 5000, id="a table 5,000 times"),
        pytest.param('"' * 5000, id="quotes"),
        pytest.param("schema = 1 # " + "\N{PILE OF POO}" * 5000, id="a long remark"),
    ],
)
def test_no_extreme_makes_reading_fall_over(text: str, folder: Path) -> None:
    check_any_file(text, folder)
    check_any_file(night_text("ordinary-night") + "\n[zz]\n" + text, folder)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        pytest.param('diluent = "2 mL"', 'diluent = "0 mL"', id="a signed mixing rule without water"),
        pytest.param('diluent = "1 mL"', 'diluent = "0 mL"', id="an order without water"),
        pytest.param('volume = "10 mL"', 'volume = "0 mL"', id="an empty water vial"),
        pytest.param('dose = "10,000 units"', 'dose = "500,000,000,000 units"', id="an absurd whole number of vials"),
        pytest.param('dose = "0.2 mg"', 'dose = "999,999,999 mg"', id="an absurd number of prefilled syringes"),
        pytest.param('dose = "400 mcg"', 'dose = "999,999,999,800 mcg"', id="an absurd number of sprays"),
        pytest.param("count = 3", "count = 0", id="no syringes"),
        pytest.param("expiry = 2027-06-30", "expiry = 9999-12-31", id="an expiry at the end of the calendar"),
        pytest.param("expiry = 2027-06-30", "expiry = 0001-01-01", id="an expiry at its beginning"),
        pytest.param('strength = "5 mg/mL"', 'strength = "0.000000001 mcg/mL"', id="a strength of nearly nothing"),
    ],
)
def test_no_extreme_makes_planning_fall_over(old: str, new: str, folder: Path) -> None:
    text = night_text("ordinary-night")
    assert old in text
    check_any_file(text.replace(old, new), folder)


def test_the_example_nights_are_readable_toml() -> None:
    for name in NIGHTS:
        assert tomllib.loads(night_text(name))["schema"] == 1
