"""Every row of the check tables is either used by a test of this folder or named here with the reason why it is not.

Used rows are read off the ids of this folder's own parameters; what stands before the point is the row. The tables:

- A1, A3, A4, B1: ISO 7886-1, ISO 8537 and ISO 6009, lines and needles;
- D1, D2: ISMP's list and The Joint Commission's; SC: check values of handbooks for nurses and of labels of other drugs;
- G2, G3, G4, LAW, CJ: IANA tz database 2026f and the laws it models;
- FC, LABEL: worked numbers from labels and papers of the products; M: limits and vectors derived from papers on timing;
- J9: worked numbers of a night; P: common practice, no source.
"""

import ast
from collections.abc import Iterator
from pathlib import Path

HERE = Path(__file__).parent

HANDBOOK = [f"SC{n:02d}" for n in range(1, 58) if n not in {24, 25, 26, 28, 29, 30, 31, 55}] + ["SC-change"]
PRODUCTS = [f"FC{n:02d}" for n in range(1, 71) if n not in {15, 18, 37, 55, 57, 58}] + ["FC52b"]
LABELS = ["LABEL-A", "LABEL-B", "LABEL-C"]
CASES = [f"G{n:02d}" for n in range(1, 43) if n not in {17, 18, 22, 24, 26, 27, 30, 36, 41}]
WEEKS = [f"G4-weeks-{year}-{season}" for year in (2026, 2027, 2028) for season in ("spring", "autumn")]
FACTS = [f"G3-{n:02d}" for n in range(1, 13)]
CHANGING = [
    "New_York",
    "London",
    "Berlin",
    "Paris",
    "Madrid",
    "Sydney",
    "Adelaide",
    "Lord_Howe",
    "Santiago",
    "Easter",
    "Auckland",
    "Cairo",
    "Jerusalem",
    "Beirut",
    "Chatham",
]
STANDING = [
    "Phoenix",
    "Honolulu",
    "Brisbane",
    "Tokyo",
    "Sao_Paulo",
    "Asuncion",
    "Mexico_City",
    "Punta_Arenas",
    "Coyhaique",
    "Whitehorse",
    "Kolkata",
    "Dubai",
    "Singapore",
    "Perth",
    "Regina",
]
CHANGES = [f"G2-{zone}-{year}" for zone in CHANGING for year in (2026, 2027, 2028)]
RULES = [f"G2-still-{zone}" for zone in STANDING] + [
    f"G2-rule-{law}" for law in ("US", "EU", "AU", "Lord_Howe", "Chile", "NZ")
]
LAWS = [
    f"LAW-{place}"
    for place in [
        "British_Columbia",
        "Alberta",
        "Northwest_Territories",
        "Manitoba",
        "Northwestern_Ontario",
        "Morocco",
        "Moldova",
        "Cuba",
        "Nunavut",
    ]
]
TRAVEL = [f"CJ-{n}" for n in range(1, 9)]
TOLERANCE = [
    f"A1-{size}mL-{drawn}"
    for size, volumes in {
        "1": "0_10 0_20 0_25 0_40 0_50 0_75 1 half",
        "3": "0_20 0_25 0_50 1 1_5 2 3",
        "5": "0_5 1 2 2_5 5",
        "10": "0_5 1 2 4 5 10",
    }.items()
    for drawn in volumes.split()
] + [f"A1-row-{size}" for size in ("below-2", "2", "5", "10", "20", "30", "50")]
BARRELS = [
    *("A1-dead-space", "A1-scale-interval", "A1-step-between-numbers", "A1-hub-loss", "A3-small-draw", "A3-small-fill"),
    *("A4-1mL-tuberculin", "A4-1mL-general", "A4-2-to-3mL", "A4-5mL", "A4-10mL", "A4-30-and-50mL"),
    *("A4-u100-small", "A4-u100-1mL"),
]
NEEDLES = [f"B1-{gauge}G" for gauge in range(10, 35)]
WRITING = [f"D1-{n:02d}" for n in range(1, 18)] + [f"D2-{n:02d}" for n in range(1, 7)]
TIMING = [
    *("M-interval_h", "M-interval_h_downreg", "M-double_trigger_h", "M-iui_after_hcg_h", "M-injection_lateness"),
    *("M-hcg_dose", "M-iu_per_ug", "M-agonist_dose", "M-agonist_alone", "M-lh_fail", "M-sample_window", "M-p4_support"),
    *("M-hcg_none", "M-hcg_expected", "M-antagonist_gap", "M-ohss_question", "M-preg_test_day"),
    *("M-v-ordinary", "M-v-late", "M-v-early", "M-v-labs", "M-v-dates"),
]
NIGHT = [f"J9-{n:02d}" for n in range(1, 12)]
PRACTICE = ["P-10000-in-2", "P-36h", "P-3mL-barrel", "P-smallest"]

ROWS = [
    *HANDBOOK, *PRODUCTS, *LABELS, *CASES, *WEEKS, *FACTS, *CHANGES, *RULES, *LAWS, *TRAVEL, *TOLERANCE, *BARRELS,
    *NEEDLES, *WRITING, *TIMING, *NIGHT, *PRACTICE,
]  # fmt: skip

FSH = "follicle-stimulating products are not in the formulary and no dose of them is computed"
NO_GAUGE = "needles of 18 to 31 G only are known; the others are neither for mixing nor for these routes"

UNUSED = {
    "SC08": "a drip rate in mL per hour; nothing here runs over time",
    "SC37": "a body weight in kg and g; no dose here is by weight",
    "FC33": FSH,
    "FC34": FSH,
    "FC35": FSH,
    "FC36": FSH,
    "FC38": FSH,
    "FC39": FSH,
    "FC40": FSH,
    "FC41": FSH,
    "FC42": FSH,
    "FC43": FSH,
    "FC44": FSH,
    "FC45": f"pens: {FSH}; the counting of days is tested on other products",
    "FC46": FSH,
    "FC47": FSH,
    "FC48": FSH,
    "FC49": FSH,
    "FC50": FSH,
    "FC51": FSH,
    "FC52": FSH,
    "FC52b": FSH,
    "FC53": FSH,
    "FC54": FSH,
    "FC56": FSH,
    "FC59": FSH,
    "FC63": "progesterone and estradiol in oil are luteal support, not in the formulary",
    "FC66": FSH,
    "FC67": f"{FSH}; the earliest of several limits is tested with room days and in-use days",
    "LAW-Northwestern_Ontario": "a comment in the database without a rule line, so there is no zone to test",
    "A1-dead-space": "no dead space of a barrel is held; what a needle keeps is A1-hub-loss",
    "A1-scale-interval": "a ceiling from memory that a device summary contradicts; each barrel's own lines are held instead",
    "A1-step-between-numbers": "from memory; the printed numbers are a picture's matter and the syringe at hand decides",
    "A4-1mL-general": "no such barrel is held; a clinic that has one must not enter it as the 0.01 mL barrel",
    "A4-30-and-50mL": "no barrel above 10 mL is held; no injection here is so large",
    "B1-10G": NO_GAUGE,
    "B1-11G": NO_GAUGE,
    "B1-12G": NO_GAUGE,
    "B1-13G": NO_GAUGE,
    "B1-14G": NO_GAUGE,
    "B1-15G": NO_GAUGE,
    "B1-16G": NO_GAUGE,
    "B1-17G": NO_GAUGE,
    "B1-32G": NO_GAUGE,
    "B1-33G": NO_GAUGE,
    "B1-34G": NO_GAUGE,
    "D1-12": "daily and every other day: an order here has hours and clock times, no frequency to write",
    "D2-03": "daily and every other day: an order here has hours and clock times, no frequency to write",
    "M-injection_lateness": "no record of an actual injection is kept; the interval that results is tested as M-v-late",
    "M-preg_test_day": "no date after the retrieval is computed",
    "M-v-dates": "no date after the retrieval is computed",
    "J9-10": f"a walk through a stock of pens: {FSH}",
    "J9-11": "the minutes of a telephone ladder; nothing is called or escalated",
}


def _parameters() -> Iterator[tuple[str, ast.Call]]:
    for path in sorted(HERE.glob("test_*.py")):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr == "param":
                yield path.name, node


def _id(call: ast.Call) -> str:
    found = [word.value for word in call.keywords if word.arg == "id"]
    assert len(found) == 1, f"line {call.lineno}: a parameter without an id"
    assert isinstance(found[0], ast.Constant), f"line {call.lineno}: an id that is not written out"
    return str(found[0].value)


def used_rows() -> set[str]:
    """The rows that some parameter of this folder carries as its id."""
    return {_id(call).partition(".")[0] for _, call in _parameters()}


def test_every_row_is_listed_once() -> None:
    assert len(ROWS) == len(set(ROWS))


def test_every_row_is_used_or_has_a_reason_and_never_both() -> None:
    used = used_rows()
    assert not sorted(used - set(ROWS)), "used, but in no table"
    assert not sorted(used & set(UNUSED)), "used and yet excused"
    assert not sorted(set(UNUSED) - set(ROWS)), "excused, but in no table"
    assert not sorted(set(ROWS) - used - set(UNUSED)), "neither used nor excused"


def test_every_excuse_is_a_sentence() -> None:
    assert all(len(reason.split()) > 3 for reason in UNUSED.values())


def test_every_table_of_parameters_carries_its_sources() -> None:
    for path in sorted(HERE.glob("test_*.py")):
        for node in ast.walk(ast.parse(path.read_text())):
            if not (
                isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr == "parametrize"
            ):
                continue
            names = ast.literal_eval(node.args[0])
            assert "source" in names, f"{path.name}, line {node.lineno}"


def test_every_test_with_a_source_names_it() -> None:
    for path in sorted(HERE.glob("test_*.py")):
        for function in ast.walk(ast.parse(path.read_text())):
            if not isinstance(function, ast.FunctionDef) or not function.name.startswith("test_"):
                continue
            if "source" not in [argument.arg for argument in function.args.args]:
                continue
            named = {found.id for found in ast.walk(function) if isinstance(found, ast.Name)}
            assert "source" in named, f"{path.name}, {function.name}"
