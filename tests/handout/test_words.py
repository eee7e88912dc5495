"""The words of the page: the same in every language, all of them used, plain by formulas, and none that means another thing elsewhere."""

import re
import tomllib
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from string import Formatter
from typing import Any

import pyphen
import pytest

from hourmark.clock import ENGLISH, Moment, WallTime, Which, moment, parse_wall, parse_zone, said
from hourmark.dose.steps import parts, phrases
from hourmark.handout import Released, patient_sheet, sheet_text
from hourmark.handout.calendar import calendar_file
from hourmark.handout.language import Language, language
from hourmark.plan import CasePlan, NightPlan
from hourmark.quantity import parse_dose
from hourmark.quantity.words import dose_words
from tests.handout.paper import ROOT, case_of, planned

WORDS = ROOT / "src/hourmark/handout/words"
STEPS = ROOT / "src/hourmark/dose/data"


def table(path: Path) -> dict[str, dict[str, Any]]:
    return {key: value for key, value in tomllib.loads(path.read_text()).items() if isinstance(value, dict)}


def places(pattern: str) -> set[str]:
    return {name for _, name, _, _ in Formatter().parse(pattern) if name}


def entries(path: Path, leave_out: tuple[str, ...] = ()) -> dict[str, str]:
    return {
        f"{name}.{key}": value
        for name, words in table(path).items()
        if name not in leave_out
        for key, value in words.items()
        if isinstance(value, str)
    }


@pytest.mark.parametrize(
    ("english", "other", "leave_out"),
    [
        (WORDS / "en.toml", WORDS / "es.toml", ("clock",)),
        (STEPS / "steps-en.toml", STEPS / "steps-es.toml", ("read",)),
    ],
)
def test_both_languages_have_the_same_phrases_with_the_same_places(
    english: Path, other: Path, leave_out: tuple[str, ...]
) -> None:
    ours, theirs = entries(english, leave_out), entries(other, leave_out)
    assert set(ours) == set(theirs)
    for key, pattern in ours.items():
        assert places(pattern) == places(theirs[key]), key
        assert pattern.count("**") == theirs[key].count("**"), key
        assert theirs[key].strip()
    pictures = {key: value for key, value in ours.items() if key.endswith(".picture")}
    assert pictures == {key: value for key, value in theirs.items() if key.endswith(".picture")}


def test_a_phrase_without_its_figure_or_with_a_strange_one_is_an_error() -> None:
    """A phrase file with a missing or an extra place never prints a gap."""
    english = language("en")
    with pytest.raises(KeyError):
        english.word("medicine.when")
    strange = Language("en", {"medicine": {"when": "When: {sayd}"}}, ENGLISH)
    with pytest.raises(KeyError):
        strange.word("medicine.when", said="now")
    with pytest.raises(KeyError):
        english.word("medicine.whem", said="now")
    with pytest.raises(FileNotFoundError):
        language("xx")


def pages() -> Iterator[tuple[CasePlan, NightPlan]]:
    """Every example, and what they leave out: helpers, no phone, a question open, two vials, a second box of the same."""
    for name in ("ordinary-night", "clocks-go-back", "travellers", "refusals"):
        plan = planned(name)
        for case in plan.cases:
            yield case, plan
    case, plan = case_of("ordinary-night", "K-103")
    yield replace(case, case=replace(case.case, helper="Her sister")), plan
    yield case, replace(plan, night=replace(plan.night, clinic=replace(plan.night.clinic, phones=())))
    first = case.injections[0]
    yield replace(case, injections=(first, replace(first, injection=replace(first.injection, id="again")))), plan


def test_every_phrase_is_used(monkeypatch: pytest.MonkeyPatch) -> None:
    used = {"alt.phone"}  # the sheet of pictures alone has it
    word = Language.word

    def noted(self: Language, key: str, **figures: object) -> str:
        used.add(key)
        return word(self, key, **figures)

    monkeypatch.setattr(Language, "word", noted)
    for case, plan in pages():
        sheet = patient_sheet(case, plan, "es")
        if not case.refused:
            calendar_file(case, plan, sheet)
            for checked_by in ("L. Ortiz", None):
                released = Released("A. Kowal", "2026-11-18 16:20", checked_by)
                calendar_file(case, plan, patient_sheet(case, plan, "es", version=2, released=released))
    from tests.handout.test_pdf import measured

    plan = measured("57")
    patient_sheet(next(case for case in plan.cases if case.case.id == "K-103"), plan)
    # What stands under [phone] is said by the pages of her telephone, and looked for in their own tests.
    written = {key for key in entries(WORDS / "en.toml") if not key.startswith(("check-words.", "phone."))}
    rare = {
        # a powder in several vials, a part of everything, one step, several numbers: other nights, see test_rare_phrases
        "medicine.water-many",
        "medicine.everything-vials",
        "medicine.everything-left",
        "ready.heading-one",
        "give.heading-one",
        "table.soap",
        "call.numbers-or",
        "slot.insemination",
        "who.together-some",
        "stop.nothing",
        "medicine.u100-many",
    }
    assert written - used <= rare
    assert used <= written


@pytest.mark.parametrize("code", ["en", "es"])
def test_rare_phrases_can_be_filled(code: str) -> None:
    figures: dict[str, object] = {
        "water": "1 mL",
        "diluent": "saline",
        "vials": 2,
        "volume": "2 mL",
        "place": 1,
        "count": 2,
    }
    figures |= {"medicine": "nafarelin", "steps": 1, "one": "+1 555 0100", "other": "+1 555 0101", "said": "now"}
    figures |= {"gap": "15 min", "capacity": "1 mL", "step": 2, "largest": 100}
    for key in ("medicine.water-many", "medicine.everything-vials", "medicine.everything-left", "ready.heading-one"):
        assert "{" not in language(code).word(key, **figures)
    for key in (
        "give.heading-one",
        "table.soap",
        "call.numbers-or",
        "slot.insemination",
        "who.together-some",
        "stop.nothing",
        "medicine.u100-many",
    ):
        assert "{" not in language(code).word(key, **figures)


@pytest.mark.parametrize("code", ["en", "es"])
def test_nothing_is_left_to_fill_in_on_any_page(code: str) -> None:
    for case, plan in pages():
        text = sheet_text(patient_sheet(case, plan, code))
        assert not re.search(r"[{}]|None|\*\*|[\ue000-\uf8ff]", text), case.case.id


DRUGS = re.compile(
    "chorionic gonadotropin|choriogonadotropin alfa|leuprolide acetate|triptorelin acetate|nafarelin|buserelin acetate"
    "|ganirelix|cetrorelix|follitropin|menotropins|medroxyprogesterone|bacteriostatic water|bacteriostática|saline"
)
FIGURE = re.compile(r"[0-9][0-9.,:/+-]*(?: (?:mL|mg|mcg|units|unidades|gauge|mm|h|min|am|pm|a\. m\.|p\. m\.)\b\.?)?")


def reading_lines(text: str) -> list[str]:
    """What is read as sentences: without lists of figures, headings, sources and addresses."""
    return [
        line.lstrip("!-> ")
        for line in text.splitlines()
        if re.search(r"[.:]", line)
        and not re.match(r"(Source|Fuente|Zone|Zona|Box|Caja|Words|Palabras|Instruc|Planned as|Planeado|Case)", line)
    ]


def measured_words(text: str) -> tuple[list[str], int]:
    plain = FIGURE.sub(" six ", DRUGS.sub("", text))
    words = re.findall(r"[^\W\d_]+", plain)
    return words, max(1, len(re.findall(r"[.:;!?](?:\s|$)", plain)))


def english_pages() -> list[Any]:
    plan = planned("ordinary-night")
    return [pytest.param(case, plan, id=case.case.id) for case in plan.cases]


@pytest.mark.parametrize(("case", "plan"), english_pages())
def test_the_english_page_is_grade_6_or_lower_by_two_formulas(case: CasePlan, plan: NightPlan) -> None:
    """Automated readability index (Smith and Senter 1967); Coleman-Liau index (1975). Grade 6: AMA and NIH as cited in CORR 2014."""
    words, sentences = measured_words("\n".join(reading_lines(sheet_text(patient_sheet(case, plan, "en")))))
    letters = sum(map(len, words))
    automated = 4.71 * letters / len(words) + 0.5 * len(words) / sentences - 21.43
    coleman_liau = 5.88 * letters / len(words) - 29.6 * sentences / len(words) - 15.8
    assert automated <= 6, automated
    assert coleman_liau <= 6, coleman_liau


SYLLABLES = pyphen.Pyphen(lang="es")


def spanish_syllables(word: str) -> int:
    """By the hyphenation patterns of pyphen, a general library, which part Spanish words at their syllables but for single vowels at the ends."""
    return max(1, str(SYLLABLES.inserted(word)).count("-") + 1)


@pytest.mark.parametrize(("case", "plan"), english_pages())
def test_the_spanish_page_is_fairly_easy_or_better(case: CasePlan, plan: NightPlan) -> None:
    """Szigriszt-Pazos 1993, read on the INFLESZ scale (Barrio-Cantalejo and others, 2008), from memory: "fairly easy" begins at 65."""
    own = [line for line in sheet_text(patient_sheet(case, plan, "es")).splitlines() if not line.startswith("= ")]
    words, sentences = measured_words("\n".join(reading_lines("\n".join(own))))
    syllables = sum(map(spanish_syllables, words))
    assert 206.835 - 62.3 * syllables / len(words) - len(words) / sentences >= 65


def test_no_word_means_a_number_in_the_other_language() -> None:
    """English "once" is Spanish eleven (FDA and ISMP warn of it on bilingual labels; from memory)."""
    for case, plan in pages():
        text = sheet_text(patient_sheet(case, plan, "en"))
        assert not re.search(r"\bonce\b", text, re.IGNORECASE), case.case.id
    for path in (WORDS / "en.toml", STEPS / "steps-en.toml"):
        assert not re.search(r"\bonce\b", " ".join(entries(path).values()), re.IGNORECASE)


@pytest.mark.parametrize("code", ["en", "es"])
def test_doses_are_in_digits_and_words_and_digits_are_as_on_the_barrel(code: str) -> None:
    case, plan = case_of("ordinary-night", "K-104")
    text = sheet_text(patient_sheet(case, plan, code))
    assert {"en": "1,500 units (one thousand five hundred units)", "es": "1,500 unidades (mil quinientas unidades)"}[
        code
    ] in text
    assert "0.3 mL" in text
    assert "0,3" not in text


@pytest.mark.parametrize(
    ("dose", "words"),
    [
        ("1 unit", "una unidad"),
        ("21 units", "veintiuna unidades"),
        ("250 units", "doscientas cincuenta unidades"),
        ("1,000 units", "mil unidades"),
        ("2,500 units", "dos mil quinientas unidades"),
        ("10,000 units", "diez mil unidades"),
        ("1 mg", "un miligramo"),
        ("21 mg", "veintiún miligramos"),
        ("0.2 mg", "cero punto dos miligramos"),
        ("250 mcg", "doscientos cincuenta microgramos"),
    ],
)
def test_spanish_numbers_agree_with_what_they_count(dose: str, words: str) -> None:
    """Real Academia Española, Nueva gramática, numerals: gender agrees and uno is shortened before a noun (from memory)."""
    assert dose_words(parse_dose(dose), "es") == words


NIGHT_WORDS = {
    "2026-11-18 21:00": (
        "Wednesday 18 November 2026, 9:00 pm (21:00), the night of Wednesday into Thursday, New York time",
        "miércoles 18 de noviembre de 2026, 9:00 p. m. (21:00), la noche del miércoles al jueves, hora de New York",
    ),
    "2026-11-19 00:00": (
        "12:00 midnight (00:00) at the END of Wednesday 18 November 2026 and the START of Thursday 19 November 2026, "
        "the night of Wednesday into Thursday, New York time",
        "12:00 de la medianoche (00:00) al TERMINAR el miércoles 18 de noviembre de 2026 y al EMPEZAR el jueves 19 de "
        "noviembre de 2026, la noche del miércoles al jueves, hora de New York",
    ),
    "2026-11-18 12:00": (
        "Wednesday 18 November 2026, 12:00 noon (12:00), New York time",
        "miércoles 18 de noviembre de 2026, 12:00 del mediodía (12:00), hora de New York",
    ),
    "2026-11-01 01:30 second": (
        "Sunday 1 November 2026, 1:30 am (01:30), the SECOND time, after the clocks go back, the night of Saturday into "
        "Sunday, New York time",
        "domingo 1 de noviembre de 2026, 1:30 a. m. (01:30), la SEGUNDA vez, después de atrasar el reloj, la noche del "
        "sábado al domingo, hora de New York",
    ),
}


@pytest.mark.parametrize("wall", NIGHT_WORDS)
def test_nights_midnight_and_repeated_hours_are_unmistakable(wall: str) -> None:
    english, spanish = NIGHT_WORDS[wall]
    which: Which | None = "second" if wall.endswith("second") else None
    at = moment(WallTime(parse_wall(wall.removesuffix(" second")).local, which), parse_zone("America/New_York"))
    assert isinstance(at, Moment)
    assert said(at) == english
    assert said(at, language("es").clock) == spanish


def test_check_words_are_distinct_and_change_with_the_page() -> None:
    for code in ("en", "es"):
        words = language(code).tables["check-words"]
        assert len(set(words["first"])) == len(words["first"]) == 64
        assert len(set(words["second"])) == len(words["second"]) == 64
        assert not set(words["first"]) & set(words["second"])
    case, plan = case_of("ordinary-night", "K-103")
    for order in (
        replace(case.case.order, stop=("ganirelix",)),
        replace(case.case.order, signed_by="Dr. I. Sorel"),
        replace(case.case.order, signed_at=parse_wall("2026-11-18 13:16")),
    ):
        changed = replace(case, case=replace(case.case, order=order))
        assert patient_sheet(case, plan).check_word != patient_sheet(changed, plan).check_word
    assert patient_sheet(case, plan).check_word == patient_sheet(case, plan).check_word


def test_a_translation_that_nobody_signed_has_the_english_beside_it() -> None:
    case, plan = case_of("ordinary-night", "K-103")
    text = sheet_text(patient_sheet(case, plan, "es"))
    assert "Traducción no revisada" in text
    english = sheet_text(patient_sheet(case, plan, "en"))
    beside = [line.removeprefix("= ") for line in text.splitlines() if line.startswith("= ")]
    told = [re.sub(r"^(?:[!-]|->) ", "", line) for line in english.splitlines() if line]
    for line in told:
        if not line.startswith("Check words"):
            assert line in beside, line
    rules = plan.night.clinic.rules
    assert rules is not None
    signed = replace(
        plan, night=replace(plan.night, clinic=replace(plan.night.clinic, rules=replace(rules, languages=("es",))))
    )
    alone = sheet_text(patient_sheet(case, signed, "es"))
    assert "= " not in alone
    assert "Traducción no revisada" not in alone
    assert "BORRADOR, NO AUTORIZADO" in alone


def test_the_parts_of_sentences_exist_in_both_languages() -> None:
    assert set(parts("en")) == set(parts("es"))
    assert set(phrases("en")) == set(phrases("es"))
