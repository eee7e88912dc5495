"""The recheck passes every good page and stops a page in which one printed figure is another."""

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

import pytest

from hourmark.exchange import plan_checked, read_night
from hourmark.exchange.checked import facts_of
from hourmark.finding import Finding
from hourmark.handout import patient_sheet, sheet_text
from hourmark.order import Night
from hourmark.plan import CasePlan, NightPlan
from hourmark.recheck import Facts, Ordered, recheck

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
NIGHTS = ("ordinary-night", "clocks-go-back", "travellers")


def night_of(name: str) -> Night:
    night = read_night(EXAMPLES / f"{name}.toml")
    assert isinstance(night, Night)
    return night


def signed(night: Night) -> Night:
    """The night at a clinic that has signed the Spanish words, with every case in Spanish."""
    assert night.clinic.rules is not None
    rules = replace(night.clinic.rules, languages=("es",))
    return replace(night, clinic=replace(night.clinic, rules=rules), cases=spanish(night).cases)


def spanish(night: Night) -> Night:
    return replace(night, cases=tuple(replace(case, language="es") for case in night.cases))


@dataclass(frozen=True)
class Page:
    """One case's page as printed, with what it was made from."""

    case: CasePlan
    plan: NightPlan
    language: str

    @property
    def text(self) -> str:
        return sheet_text(patient_sheet(self.case, self.plan, self.language))

    def recheck(self, text: str) -> tuple[Finding, ...]:
        return recheck(text, facts_of(self.case, self.plan), self.language)

    def codes(self, text: str) -> list[str]:
        return [finding.code for finding in self.recheck(text)]


def pages(plans: dict[str, NightPlan], language: str) -> dict[str, Page]:
    return {case.case.id: Page(case, plan, language) for plan in plans.values() for case in plan.cases}


PLANS = {name: plan_checked(night_of(name)) for name in NIGHTS}
ENGLISH = pages(PLANS, "en")
BESIDE = pages({name: plan_checked(spanish(night_of(name))) for name in NIGHTS}, "es")
SPANISH = pages({name: plan_checked(signed(night_of(name))) for name in NIGHTS}, "es")
EVERY = [
    pytest.param(page, id=f"{name}-{kind}")
    for kind, found in (("en", ENGLISH), ("es-beside-en", BESIDE), ("es", SPANISH))
    for name, page in found.items()
]


@pytest.mark.parametrize("page", EVERY)
def test_a_good_page_works_back(page: Page) -> None:
    assert page.recheck(page.text) == ()


def test_no_good_page_is_stopped_when_planned() -> None:
    """The plan rechecks each page in the case's own language; an unsigned translation is asked about and no stop."""
    assert len(ENGLISH) == len(BESIDE) == len(SPANISH) > 15
    for found, asked in ((ENGLISH, False), (BESIDE, True), (SPANISH, False)):
        for page in found.values():
            assert not page.case.refused
            assert ("language-unsigned" in {finding.code for finding in page.case.findings}) is asked


def test_the_english_stands_beside_an_unsigned_translation_only() -> None:
    for name, page in BESIDE.items():
        beside = [line.removeprefix("= ") for line in page.text.splitlines() if line.startswith("= ")]
        assert len(beside) >= 50
        assert any(line.startswith("When: ") for line in beside)
        assert not any(
            line.startswith("= ") for line in (*SPANISH[name].text.splitlines(), *ENGLISH[name].text.splitlines())
        )


def changed_digits(text: str, start: int, end: int, *shifts: int) -> Iterator[str]:
    """The text with each digit of this part changed to others."""
    for place in range(start, end):
        if text[place].isdigit():
            for shift in shifts:
                yield text[:place] + str((int(text[place]) + shift) % 10) + text[place + 1 :]


FIGURES = re.compile(
    r"^(?:= )?(?:When|Add|Strength|Draw up to|Sprays|Vials|Planned \w+"
    r"|Cuándo|Añada|Contenido|Llene hasta|Rociadas|Frascos|(?:Extracción|Inseminación) prevista): .+$",
    re.MULTILINE,
)


# Every page in one language; of those in two, which are read back one language after the other, one of each kind.
ONE_IN_TWO_LANGUAGES = [
    pytest.param(BESIDE[name], (5,), id=f"{name}-es-beside-en") for name in ("K-101", "K-107", "L-203")
]


@pytest.mark.parametrize(
    ("page", "shifts"),
    [
        *(pytest.param(page, (1, 5), id=f"{name}-en") for name, page in ENGLISH.items()),
        *(pytest.param(page, (5,), id=f"{name}-es") for name, page in SPANISH.items()),
        *ONE_IN_TWO_LANGUAGES,
    ],
)
def test_every_changed_digit_that_carries_dose_or_minute_is_a_stop(page: Page, shifts: tuple[int, ...]) -> None:
    text, tried = page.text, 0
    for line in FIGURES.finditer(text):
        for wrong in changed_digits(text, line.start(), line.end(), *shifts):
            tried += 1
            assert page.recheck(wrong), wrong
    assert tried >= 10 * len(shifts)


UNREAD = re.compile(
    r"- |Medicine plan|Plan de medicamentos|You take|Usted usa|Her sister|Be there by|Esté allí|No food|No coma|From then on"
    r"|Desde entonces|The clinic's clock|El reloj de la clínica|Box:|Caja:|Afterwards|Después"
    r"|Prefilled syringe|Jeringa prellenada|They are given|Se ponen a|Instruction derived|Instrucción según|Planned as of"
    r"|Planeado|Times around|Las horas antes|Check words?|Palabras clave|Source:|Fuente:"
)
"""How lines begin whose numbers are not worked back: what is read off boxes, what lies around the visit, where it comes from."""


@pytest.mark.parametrize("found", [ENGLISH, SPANISH], ids=["en", "es"])
def test_a_number_that_stands_nowhere_else_is_a_stop_in_any_other_line(found: dict[str, Page]) -> None:
    """Each number of each line, steps included; a line that stands on several pages, whatever its digits, is tried on the first."""
    tried: set[str] = set()
    for page in found.values():
        text = page.text
        for line in re.finditer(r"^.*\d.*$", text, re.MULTILINE):
            shape = re.sub(r"\d+", "0", re.sub(r"^\d+\. ", "", line[0]))
            if UNREAD.match(line[0]) or FIGURES.match(line[0]) or shape in tried:
                continue
            tried.add(shape)
            counted = re.match(r"(?:Syringe|Jeringa) \d (?:of|de) \d: ", line[0])
            for number in re.finditer(r"\d[\d.,]*(?<=\d)", line[0]):
                if counted and number.end() < counted.end():
                    continue  # which of several syringes it is; their number is worked back
                start, end = (line.start() + place for place in number.span())
                assert page.recheck(f"{text[:start]}777{text[end:]}"), line[0]
    assert len(tried) >= 90


CASES = [
    # the clock
    (
        "(21:00), the night of Wednesday into Thursday",
        "(21:00), the night of Thursday into Friday",
        "recheck-illegible",
    ),
    (
        "When: Wednesday 18 November 2026, 9:00 pm (21:00)",
        "When: Wednesday 18 November 2026, 9:00 am (21:00)",
        "recheck-illegible",
    ),
    (
        "When: Wednesday 18 November 2026, 9:00 pm (21:00)",
        "When: Wednesday 18 November 2026, 8:00 pm (20:00)",
        "recheck-minute",
    ),
    ("Wednesday 18 November", "Tuesday 18 November", "recheck-illegible"),
    ("Zone: America/Chicago", "Zone: America/Denver", "recheck-illegible"),
    ("Friday 20 November 2026, 9:00 am (09:00)", "Friday 20 November 2026, 10:00 am (10:00)", "recheck-slot"),
    ("WAIT: do not inject before 9:00 pm (21:00).", "WAIT: do not inject before 8:00 pm (20:00).", "recheck-minute"),
    ("The clock says 9:00 pm (21:00).", "The clock says 9:30 pm (21:30).", "recheck-minute"),
    ("The clock says 9:00 pm (21:00).", "The clock says 9:00 pm (21:00), the FIRST time.", "recheck-minute"),
    ("WAIT: do not inject before 9:00 pm (21:00).", "Do not wait.", "recheck-minute"),
    ("everything out: Wednesday 8:00 pm (20:00)", "everything out: Wednesday 8:30 pm (20:30)", "recheck-minute"),
    ("everything out: Wednesday 8:00 pm (20:00)", "everything out: Thursday 8:00 pm (20:00)", "recheck-minute"),
    ("Start to mix: Wednesday 8:40 pm (20:40)", "Start to mix: Wednesday 8:50 pm (20:50)", "recheck-minute"),
    ("Start to draw up: Wednesday 8:40 pm (20:40)", "Start to draw up: Wednesday 9:00 pm (21:00)", "recheck-minute"),
    ("at most 15 min apart", "at most 50 min apart", "recheck-steps"),
    ("at most 15 min apart", "at least 15 min apart", "recheck-steps"),
    ("Together, each in its own syringe, in this order, at most 15 min apart.\n", "", "recheck-steps"),
    # the dose
    ("mark 20 (0.2 mL)", "mark 2 (0.02 mL)", "recheck-dose"),
    ("mark 20 (0.2 mL)", "mark 20 (0.02 mL)", "recheck-illegible"),
    ("Add: 2 mL", "Add: 10 mL", "recheck-dose"),
    ("largest number 100", "largest number 50", "recheck-illegible"),
    ("lines every 1 mark, largest", "lines every 2 marks, largest", "recheck-illegible"),
    ("about 1.8 mL. That is right", "about 0.8 mL. That is right", "recheck-left"),
    ("(one thousand units)", "(ten thousand units)", "recheck-dose"),
    ("(four milligrams)", "(fourteen milligrams)", "recheck-dose"),
    ("(four milligrams)", "(four thousand milligrams)", "recheck-dose"),
    ("(four milligrams)", "(four micrograms)", "recheck-dose"),
    ("(one thousand units)", "(one thousand one units)", "recheck-dose"),
    ("Dose: 1,000 units", "Dose: 1,500 units", "recheck-medicine"),
    ("Strength: 5 mg/mL", "Strength: 0.5 mg/mL", "recheck-dose"),
    ("Strength: 10,000 units in each vial", "Strength: 5,000 units in each vial", "recheck-dose"),
    ("Strength: 5 mg/mL", "Strength: 5 mg", "recheck-illegible"),
    ("Strength: 5 mg/mL\n", "", "recheck-illegible"),
    ("to the powder vial. Not more.", "to the powder vial.", "recheck-illegible"),
    (
        "1 mL U-100 syringe, lines every 1 mark, largest number 100 (new)\nDraw up to: mark 20",
        "1 mL syringe, lines every 0.01 mL (new)\nDraw up to: mark 20",
        "recheck-illegible",
    ),
    # which medicine, and where
    ("Route: subcutaneous", "Route: intramuscular", "recheck-route"),
    (
        "Choose a place: the belly, away from the navel, or the front of the thigh.",
        "Find the place that your nurse showed you on the hip or buttock.",
        "recheck-route",
    ),
    (" 2 of 2: chorionic gonadotropin", " 2 of 2: choriogonadotropin alfa", "recheck-medicine"),
    ("Medicine 2 of 2: chorionic gonadotropin", "Medicine 2 of 2: choriogonadotropin alfa", "recheck-illegible"),
    ('for injection, 10,000 units"', 'for injection, 5,000 units"', "recheck-medicine"),
    ("+1 555 0101", "+1 555 0110", "recheck-number"),
    ("Call Quillmere Fertility Clinic (invented) at that hour: +1 555 0101\n", "", "recheck-illegible"),
    # the steps
    ("stopper is at mark 20.\n->", "stopper is at mark 80.\n->", "recheck-steps"),
    ("It is mark 20. If", "It is mark 2. If", "recheck-steps"),
    ("Pull 2 mL of water", "Pull 10 mL of water", "recheck-steps"),
    ("stopper is at 2 mL.", "stopper is at 1.8 mL.", "recheck-steps"),
    (
        "CHECK: Read the powder vial. It must say: chorionic gonadotropin, 10,000 units",
        "CHECK: Read the powder vial. It must say: chorionic gonadotropin, 5,000 units",
        "recheck-steps",
    ),
    (
        "CHECK: Read the water vial. It must say: bacteriostatic water.",
        "CHECK: Read the water vial. It must say: saline.",
        "recheck-steps",
    ),
    (
        "CHECK: Read the syringe for the injection. Largest number: 100.",
        "CHECK: Read the syringe for the injection. Largest number: 50.",
        "recheck-steps",
    ),
    ("About 1.8 mL stays in it", "About 0.2 mL stays in it", "recheck-steps"),
    ("needle on it: 20 gauge, 38 mm", "needle on it: 21 gauge, 38 mm", "recheck-steps"),
    ("needle on it: 20 gauge, 38 mm", "needle on it: 20 gauge, 13 mm", "recheck-steps"),
    ("Turn the vial gently for 60 seconds", "Turn the vial gently for 6 seconds", "recheck-steps"),
    ("Count slowly to 10.", "Count slowly to 100.", "recheck-steps"),
    ("Pull the plunger back to mark 20.", "Pull the plunger back to mark 80.", "recheck-steps"),
    ("Pull the plunger a little past mark 20.", "Pull the plunger a little past mark 100.", "recheck-steps"),
    ("The top ring is at mark 20.", "The top ring is at mark 10.", "recheck-steps"),
    ("dry in the air for 30 seconds", "dry in the air for 3 seconds", "recheck-steps"),
    # which vial, which box, which syringe
    ("rubber of the vial: leuprolide acetate.", "rubber of the vial: chorionic gonadotropin.", "recheck-steps"),
    ("rubber of the vial: chorionic gonadotropin.", "rubber of the vial: leuprolide acetate.", "recheck-steps"),
    ("Lay this syringe on the box of leuprolide", "Lay this syringe on the box of triptorelin", "recheck-steps"),
    ("from the box of chorionic gonadotropin.", "from the box of leuprolide acetate.", "recheck-steps"),
    ("All 2 mL is in the powder vial", "All 3 mL is in the powder vial", "recheck-steps"),
    ("pull again a little past mark 20.", "pull again a little past mark 80.", "recheck-steps"),
    ("ring.\n-> It is mark 20.", "ring.\n-> It is mark 80.", "recheck-steps"),
    (
        "- Read the powder vial. It must say: chorionic gonadotropin, 10,000",
        "- Read the powder vial. It must say: chorionic gonadotropin, 5,000",
        "recheck-steps",
    ),
    ("- Read the water vial. It must say: bacteriostatic water.\n", "", "recheck-steps"),
    ("- Read the needles. They must be: 20", "- Read the needles. They must be: 30", "recheck-steps"),
    (
        "injection. Largest number: 100. Lines: every 1 mark.\n- ",
        "injection. Largest number: 50. Lines: every 1 mark.\n- ",
        "recheck-steps",
    ),
    # headings and numbering
    ("Get ready 2 of 2", "Get set 2 of 2", "recheck-illegible"),
    ("Medicine 2 of 2", "Medicine two of 2", "recheck-illegible"),
    ("gonadotropin, in 40 steps", "gonadotropin, in 39 steps", "recheck-illegible"),
    (
        "Give 2 of 2: chorionic gonadotropin, in 16 steps",
        "Give 2 of 2: chorionic gonadotropin, in 17 steps",
        "recheck-illegible",
    ),
    ("4. Wipe the skin there.\n-> It is wet.\n", "", "recheck-illegible"),
    ("14. Write down the clock time now.", "15. Write down the clock time now.", "recheck-illegible"),
    ("\n16. Keep vials and boxes", "\nKeep vials and boxes", "recheck-illegible"),
]


@pytest.mark.parametrize(
    ("old", "new", "code"), CASES, ids=[f"{old[:40]} {place}" for place, (old, _, _) in enumerate(CASES)]
)
def test_each_disagreement_has_its_own_code(old: str, new: str, code: str) -> None:
    page = ENGLISH["K-103"]
    assert old in page.text
    found = page.recheck(page.text.replace(old, new))
    assert [finding.code for finding in found][:1] == [code]
    assert all(finding.level == "stop" and finding.do and finding.source for finding in found)
    if old.count("\n") < 2:
        assert page.recheck(page.text.replace(old, new, 1)), "on one place only"


@pytest.mark.parametrize(
    ("case_id", "old", "new", "code"),
    [
        # a needle of the right kind at home but for another use, two together, a fill too few, sprays and seconds of a label
        ("K-104", "injection needle on: 30 gauge, 13 mm", "injection needle on: 22 gauge, 13 mm", "recheck-steps"),
        (
            "K-104",
            "It is the one to inject: 30 gauge, 13 mm",
            "It is the one to inject: 20 gauge, 38 mm",
            "recheck-steps",
        ),
        ("K-104", "injection needle on: 30 gauge, 13 mm", "injection needle on: 20 gauge, 38 mm", "recheck-steps"),
        ("K-104", "again a little past 0.4 mL", "again a little past 1 mL", "recheck-steps"),
        ("K-104", "drawing up on it: 20 gauge, 38 mm", "drawing up on it: 20 gauge, 13 mm", "recheck-steps"),
        ("K-109", "injection needle on: 23 gauge, 25 mm", "injection needle on: 23 gauge, 40 mm", "recheck-steps"),
        (
            "K-101",
            "Find the place that your nurse showed you on the hip or buttock.",
            "Choose a place: the belly.",
            "recheck-route",
        ),
        ("K-101", "about 1 mL. Inject all", "about 0.9 mL. Inject all", "recheck-illegible"),
        ("K-102", "Syringe 2 of 2: ", "Spare syringe: ", "recheck-illegible"),
        ("K-106", "Prefilled syringe 2 of 2: inject", "Prefilled syringe 2 of 2: keep", "recheck-dose"),
        ("K-107", "Sprays: 2", "Sprays: 1", "recheck-dose"),
        ("K-107", "sprays you will take: 2", "sprays you will take: 1", "recheck-steps"),
        ("K-107", "do not spray before 10:30 pm (22:30)", "do not spray before 10:30 am (10:30)", "recheck-minute"),
    ],
)
def test_each_kind_of_medicine_is_worked_back(case_id: str, old: str, new: str, code: str) -> None:
    page = ENGLISH[case_id]
    assert old in page.text
    assert page.codes(page.text.replace(old, new))[:1] == [code]


SPANISH_CASES = [
    ("Cuándo: miércoles 18", "Cuándo: martes 18", "recheck-illegible"),
    ("9:00 p. m. (21:00), la noche", "9:00 a. m. (21:00), la noche", "recheck-illegible"),
    ("9:00 p. m. (21:00), la noche", "8:00 p. m. (20:00), la noche", "recheck-minute"),
    ("la noche del miércoles al jueves", "la noche del jueves al viernes", "recheck-illegible"),
    ("noviembre", "diciembre", "recheck-illegible"),
    (
        "ESPERE: no inyecte antes de las 9:00 p. m. (21:00).",
        "ESPERE: no inyecte antes de las 8:00 p. m. (20:00).",
        "recheck-minute",
    ),
    ("El reloj dice 9:00 p. m. (21:00).", "El reloj dice 9:30 p. m. (21:30).", "recheck-minute"),
    ("en la mesa: miércoles 8:00 p. m. (20:00)", "en la mesa: miércoles 8:30 p. m. (20:30)", "recheck-minute"),
    ("a mezclar: miércoles 8:40 p. m. (20:40)", "a mezclar: jueves 8:40 p. m. (20:40)", "recheck-minute"),
    ("con 15 min entre ellos", "con 50 min entre ellos", "recheck-steps"),
    ("marca 20 (0.2 mL)", "marca 2 (0.02 mL)", "recheck-dose"),
    ("Añada: 2 mL", "Añada: 10 mL", "recheck-dose"),
    ("(mil unidades)", "(cien unidades)", "recheck-dose"),
    ("(cuatro miligramos)", "(catorce miligramos)", "recheck-dose"),
    ("(cuatro miligramos)", "(cuatro mil miligramos)", "recheck-dose"),
    ("(cuatro miligramos)", "(cuatro microgramos)", "recheck-dose"),
    ("alrededor de 1.8 mL. Está bien", "alrededor de 0.8 mL. Está bien", "recheck-left"),
    ("Vía: subcutánea", "Vía: intramuscular", "recheck-route"),
    (
        "Elija un lugar: el vientre, lejos del ombligo, o la parte de adelante del muslo.",
        "Busque el lugar que su enfermera le mostró en la cadera o la nalga.",
        "recheck-route",
    ),
    ("émbolo esté en marca 20", "émbolo esté en marca 80", "recheck-steps"),
    ("Es marca 20. Si", "Es marca 80. Si", "recheck-steps"),
    ("Jale 2 mL de agua", "Jale 1.8 mL de agua", "recheck-steps"),
    ("aguja para mezclar: calibre 20, 38 mm", "aguja para mezclar: calibre 21, 38 mm", "recheck-steps"),
    ("despacio por 60 segundos", "despacio por 6 segundos", "recheck-steps"),
    ("Cuente despacio hasta 10.", "Cuente despacio hasta 100.", "recheck-steps"),
    ("al aire por 30 segundos", "al aire por 3 segundos", "recheck-steps"),
    ("en 40 pasos", "en 41 pasos", "recheck-illegible"),
    ("+1 555 0101", "+1 555 0110", "recheck-number"),
    ("Zona: America/Chicago", "Zone: America/Chicago", "recheck-illegible"),
]


@pytest.mark.parametrize(
    ("old", "new", "code"),
    SPANISH_CASES,
    ids=[f"{old[:40]} {place}" for place, (old, _, _) in enumerate(SPANISH_CASES)],
)
def test_each_disagreement_in_spanish_too(old: str, new: str, code: str) -> None:
    for page in (SPANISH["K-103"], BESIDE["K-103"]):
        text = page.text
        assert re.search(rf"^(?!= ).*{re.escape(old)}", text, re.MULTILINE)
        assert page.codes(re.sub(rf"^(?!= )(.*){re.escape(old)}", rf"\g<1>{new}", text, flags=re.MULTILINE))[:1] == [
            code
        ]


@pytest.mark.parametrize(
    ("old", "new", "code"),
    [
        (
            "= When: Wednesday 18 November 2026, 9:00 pm (21:00)",
            "= When: Wednesday 18 November 2026, 8:00 pm (20:00)",
            "recheck-minute",
        ),
        ("= Draw up to: mark 20 (0.2 mL)", "= Draw up to: mark 80 (0.8 mL)", "recheck-dose"),
        ("= 11. Count slowly to 10.", "= 11. Count slowly to 100.", "recheck-steps"),
        ("= Dose: 1,000 units (one thousand units)\n", "", "recheck-illegible"),
    ],
)
def test_the_english_beside_is_worked_back_by_itself(old: str, new: str, code: str) -> None:
    page = BESIDE["K-103"]
    assert old in page.text
    assert page.codes(page.text.replace(old, new))[:1] == [code]


@pytest.mark.parametrize("page", [ENGLISH["K-103"], SPANISH["K-103"]], ids=["en", "es"])
def test_a_step_left_out_or_exchanged_with_the_next_is_a_stop(page: Page) -> None:
    """Every step that is printed, each once."""
    lines = page.text.splitlines()
    starts = [place for place, line in enumerate(lines) if re.match(r"\d+\. ", line)]
    assert len(starts) == 21 + 40 + 14 + 16
    for start, following in pairwise(starts):
        assert page.recheck("\n".join([*lines[:start], *lines[following:]])), lines[start]
        turned = [
            *lines[:start],
            lines[following],
            *lines[start + 1 : following],
            lines[start],
            *lines[following + 1 :],
        ]
        assert page.recheck("\n".join(turned)), lines[start]


def test_a_page_in_another_language_than_it_says_is_a_stop() -> None:
    facts = facts_of(ENGLISH["K-103"].case, ENGLISH["K-103"].plan)
    assert [finding.code for finding in recheck(ENGLISH["K-103"].text, facts, "es")] == ["recheck-count"]
    assert [finding.code for finding in recheck(SPANISH["K-103"].text, facts, "en")] == ["recheck-count"]
    assert [finding.code for finding in recheck(ENGLISH["K-103"].text, facts, "fr")] == ["recheck-illegible"]


@pytest.mark.parametrize(
    ("new_place", "new_zone", "clocks", "code"),
    [
        ("Denver", "America/Denver", (), "recheck-minute"),
        ("Winnipeg", "America/Winnipeg", (), "recheck-minute"),
        ("Menominee", "America/Menominee", (), "recheck-zone"),
        (
            "Denver",
            "America/Denver",
            (
                ("8:00 pm (20:00)", "7:00 pm (19:00)"),
                ("8:40 pm (20:40)", "7:40 pm (19:40)"),
                ("9:00 pm (21:00)", "8:00 pm (20:00)"),
            ),
            "recheck-zone",
        ),
    ],
)
def test_another_zone_is_a_stop_even_where_the_instant_is_the_same(
    new_place: str, new_zone: str, clocks: tuple[tuple[str, str], ...], code: str
) -> None:
    """In November Menominee keeps the time of Chicago, Denver is an hour behind, Winnipeg another (IANA time-zone database)."""
    page = ENGLISH["K-103"]
    text = page.text.replace("\nZone: America/Chicago", f"\nZone: {new_zone}")
    text = re.sub(r"^(When: .*)Chicago time$", rf"\g<1>{new_place} time", text, flags=re.MULTILINE)
    for old, new in clocks:
        assert old in text
        text = text.replace(old, new)
    assert text.count(new_zone) == 2
    assert page.codes(text)[:1] == [code]


def test_first_and_second_are_an_hour_apart() -> None:
    page = ENGLISH["L-203"]
    second = page.text.replace("the FIRST time, before the clocks", "the SECOND time, after the clocks")
    assert page.codes(second)[:1] == ["recheck-minute"]
    steps = second.replace("the FIRST time", "the SECOND time")
    assert page.codes(steps)[:1] == ["recheck-minute"]
    neither = page.text.replace(", the FIRST time, before the clocks go back", "")
    assert page.codes(neither) == ["recheck-illegible"]
    waiting = page.text.replace("before 1:30 am (01:30), the FIRST time.", "before 1:30 am (01:30), the SECOND time.")
    assert waiting != page.text
    assert page.codes(waiting) == ["recheck-minute"]


def test_a_repeat_is_counted_from_the_first() -> None:
    """The whole of the second medicine an hour later, its steps included."""
    page = ENGLISH["L-205"]
    late = re.sub(
        r"^(When: |1\. WAIT: |-> The clock)(.*)9:00 am \(09:00\)",
        r"\1\g<2>10:00 am (10:00)",
        page.text,
        flags=re.MULTILINE,
    )
    late = late.replace("Sunday 8:00 am (08:00)", "Sunday 9:00 am (09:00)").replace(
        "Sunday 8:40 am (08:40)", "Sunday 9:40 am (09:40)"
    )
    assert late != page.text
    assert page.codes(late) == ["recheck-minute"]


def test_a_clock_time_without_retrieval_is_checked_too() -> None:
    page = ENGLISH["K-110"]
    late = page.text.replace("9:30 pm (21:30)", "10:30 pm (22:30)").replace("8:30 pm (20:30)", "9:30 pm (21:30)")
    assert late != page.text
    assert page.codes(late) == ["recheck-minute"]


def test_a_page_with_one_medicine_too_few_is_a_stop() -> None:
    """The front, the getting ready and the giving of the second medicine are missing, and no heading counts it."""
    page = ENGLISH["K-103"]
    text = page.text
    for start, end in (
        ("Medicine 2 of 2", "! Severe symptoms"),
        ("Get ready 2 of 2", "Give 1 of 2"),
        ("Give 2 of 2", "Where this comes from"),
    ):
        text = text[: text.index(start)] + text[text.index(end) :]
    assert page.codes(text.replace("1 of 2", "1 of 1")) == ["recheck-count"]
    assert page.codes(text) == ["recheck-illegible"]


@pytest.mark.parametrize(
    "page", ["", "Medicine 1 of 1: x", "\x00" * 50, "Medicine 1 of 1: a\nDose: 1 mg (one milligram)\n"]
)
def test_no_page_at_all_is_a_stop_and_not_a_pass(page: str) -> None:
    facts = Facts((Ordered("a", "1 mg", "nasal", lead="1 h"),), "Europe/London", None)
    for language in ("en", "es"):
        assert recheck(page, facts, language)


def test_the_technique_is_that_of_each_medicine_alone() -> None:
    case = next(case for case in PLANS["ordinary-night"].cases if case.case.id == "K-103")
    plan = PLANS["ordinary-night"]
    facts, page = facts_of(case, plan), sheet_text(patient_sheet(case, plan))
    first, second = facts.ordered
    assert first.technique["wait"] == second.technique["wait"] == "10"
    other = replace(facts, ordered=(first, replace(second, technique={**second.technique, "wait": "5"})))
    assert [(finding.code, finding.where) for finding in recheck(page, other)] == [("recheck-steps", second.drug)]


def test_an_item_that_a_page_parts_is_still_one_item() -> None:
    page = ENGLISH["K-103"]
    item = "- Read the needles. They must be: 20 gauge, 38 mm to mix."
    assert item in page.text
    assert (
        page.recheck(page.text.replace(item, "- Read the needles. They must be: 20\n- skin wipe\ngauge, 38 mm to mix."))
        == ()
    )
    found = page.recheck(
        page.text.replace(item, "- Read the needles. They must be: 30\n- skin wipe\ngauge, 38 mm to mix.")
    )
    assert [finding.code for finding in found] == ["recheck-steps"]
