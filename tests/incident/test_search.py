"""Finding a call: by what a tired nurse types of what she heard, with slips; unknown words are named, and danger comes first."""

import random
import string

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hourmark.drill import Scene, scenes
from hourmark.incident.calls import Call, calls
from hourmark.incident.kinds import RED_FLAGS
from hourmark.incident.search import MOST, search

TYPED: dict[str, tuple[str, ...]] = {
    "C01": ("vial in mg but told units", "mg or unitts??", "80 untis vial says mgs", "unidades y el frasco en mg"),
    "C02": ("microdose leuprolide used", "dilutd leuprolide mcg", "weak lueprolide vial", "microdosis leuprolida"),
    "C03": ("syringe only to 50", "number not on syringe", "syrnge too smal for dose", "jeringa pequena"),
    "C04": ("syringe in ml sheet in units", "barrel marked mililitres", "ml not units on syrine", "jeringa en ml"),
    "C05": ("5000 is that the 50 line", "wich line is five thousnd", "pull to 50 for 5000?", "linea 50 son cinco mil"),
    "C06": ("half of a vial how", "only half the vial orderd", "doctor wants half", "sacar la mitad del frasco"),
    "C07": ("too much water in powder", "all ten ml of watr in", "whole diluent added", "toda el agua"),
    "C08": (
        "pharmacy sent 5000 vials",
        "two smal vials insted of one",
        "pharmcy wrong size vial",
        "farmacia frasco de 5000",
    ),
    "C09": ("box looks different", "diffrent brand than class", "other make of medicine", "otra marca"),
    "C10": (
        "box says intramuscular",
        "label IM not subcutanous",
        "leaflet muscle, told skin",
        "la caja dice intramuscular",
    ),
    "C11": ("went into muscle by mistake", "fat not mucsle", "too deep wrong place", "en el musculo por error"),
    "C12": ("leaked out half", "it driped back out", "ran down belly", "se salio la mitad goteo"),
    "C13": ("air bubbles", "bubles in syringe", "is air dangrous", "burbujas"),
    "C14": ("powder wont dissolve", "cloudy vial", "floatng bits", "polvo turbio"),
    "C15": ("shook the vial", "foamy", "its all foam shaked", "espuma"),
    "C16": ("wrong water used saline", "mixed with salin not bacteriostatic", "wrong dilutent", "agua equivocada"),
    "C17": ("injected just water", "powder still in vial", "forgot the powdr only watr", "solo agua, el polvo sigue"),
    "C18": ("drew .3 not .2", "wrong line on syringe", "went past the mark", "drew to much", "linea equivocada"),
    "C19": ("cant get all out of vial", "some left in bottom of botle", "liquid stays in vial", "queda en el fondo"),
    "C20": ("plunger fell out", "spilt it", "spiled half on floor", "needle slipped out before finished", "embolo"),
    "C21": ("vial smashed", "dropped and broke vial", "brokn ampoule", "se rompio el frasco"),
    "C22": ("needle bent", "needle came off", "blockd needle nothing comes", "aguja doblada"),
    "C23": ("used mixing needle to inject", "big neddle used", "forgot change needle", "aguja grande"),
    "C24": ("blood in barrel", "pulled back blood", "hit a vien", "sangre en la jeringa"),
    "C25": ("felt nothing did it go in", "didnt hurt", "not sure I did right no pain", "no dolio"),
    "C26": ("20 min late", "injected 9:20 instead of 9", "few minutes late with shot", "unos minutos tarde"),
    "C27": ("missed time its 11pm now", "2 hours late not done", "23:00 should be 21:00", "se me paso la hora"),
    "C28": ("fell asleep", "overslept triger", "slept thru alarm 1am", "dormida a la una"),
    "C29": ("an hour early", "injected too erly", "took it at 8 not 9 early", "una hora antes"),
    "C30": ("took it yesterday", "a day erly", "did trigger wrong day", "un dia antes"),
    "C31": ("different time zone", "travelling which clock", "timezone abroad", "otra zona horaria"),
    "C32": ("clocks change sunday", "dayligt saving", "clocks go back tonight", "cambia la hora"),
    "C33": ("12:15 tonight or tomorrow", "midnight which day", "quater past twelve wich night", "medianoche que dia"),
    "C34": ("forgot hcg part", "only one of two shots done", "missed one of the dual triger", "solo una de las dos"),
    "C35": ("same syringe both", "mix both together one needle", "two in same syrige", "misma jeringa"),
    "C36": ("when second leuprolide", "secnd dose time", "first late when is 2nd second shot", "segunda leuprolida"),
    "C37": ("took antagonist too", "did fsh tonight as well", "also took stims ment to stop", "tambien el antagonista"),
    "C38": (
        "antagonist instead of trigger",
        "wrong medicine injectd",
        "ganirelix not trigger wrong box",
        "antagonista en vez",
    ),
    "C39": ("gave whole vial", "gave full 10000 order 5000", "overdose hcg too much", "todo el frasco"),
    "C40": ("injected twice", "doubel dose", "husband did it and me too", "dos veces"),
    "C41": ("left out of fridge", "froze", "hot car", "frige broken", "fuera del refrigerador"),
    "C42": ("expired", "past expirey date", "out of date box", "caducado"),
    "C43": ("keep the other half", "store lefotver", "how long does it keep mixed", "guardar el resto"),
    "C44": ("friend gave me hers", "use sisters medicine", "somebody elses freind vial", "mi amiga me dio"),
    "C45": ("nobody to inject", "partner not here to do shot", "husband stuck at work", "nadie puede inyectarme"),
    "C46": ("never got a call", "only voicmail", "nobody told me the time", "nunca me llamaron"),
    "C47": ("two different times", "portal says 21:30", "portal and nurse differnt", "dos horas distintas"),
    "C48": ("marker washed off", "where exactly inject spot", "which side of bely", "se borro la marca"),
    "C49": ("pen stops at 150", "pen wont dial", "not enough left in pen", "la pluma no gira"),
    "C50": ("how many powders per water", "same water for all vials", "3 vials one ml", "cuantos polvos"),
    "C51": ("ovulation test negative", "lh strip negativ", "opk shows nothing", "tira de lh negativa"),
    "C52": (
        "pregnancy test negative after trigger",
        "pee stick no line after hcg",
        "pregnacy test nothing",
        "prueba de embarazo",
    ),
    "C53": ("cant breathe", "bloated breathles", "chest pain", "hardly peeing swollen belly", "me falta el aire"),
    "C54": ("sharp pain one side vomiting", "stabing pain", "ovary pain sudden", "dolor agudo de un lado"),
    "C55": ("rash", "lips sweling", "wheezing after shot", "alergica labios"),
    "C56": ("when stop eating", "had coffe", "fasting last meal", "cuando dejo de comer"),
    "C57": ("can she take ibuprofen", "thyriod tablet", "weightloss injection", "ibuprofeno"),
    "C58": ("fever", "covid positiv", "has a cold and cough", "tengo fiebre"),
    "C59": ("partner away no sample", "cant produce sperm", "husband cannot come sample", "muestra"),
    "C60": ("how exact", "give or take 5 minutes", "leway", "cuanto margen"),
    "C61": ("needle stick husband", "pricked finger on used neddle", "kid poked by syringe", "se pincho"),
    "C62": ("too scared", "panicing", "hands shaking cant do it", "tengo miedo"),
}
"""What a nurse might type, by call. None of it is a phrase of the data, and many have slips of the finger."""

ROWS = [
    pytest.param(call_id, typed, id=f"{call_id}-{place}")
    for call_id, many in TYPED.items()
    for place, typed in enumerate(many, 1)
]


def found(typed: str) -> list[str]:
    return [match.call.id for match in search(typed).matches]


def test_every_call_is_looked_for() -> None:
    assert list(TYPED) == [one.id for one in calls()]


@pytest.mark.parametrize(("call_id", "typed"), ROWS)
def test_is_among_the_first_three(call_id: str, typed: str) -> None:
    assert call_id in found(typed)[:3], found(typed)


def test_most_wordings_find_their_call_at_once() -> None:
    first = [found(typed)[:1] == [call_id] for call_id, many in TYPED.items() for typed in many]
    assert sum(first) >= 0.9 * len(first)


@pytest.mark.parametrize("one", scenes(), ids=lambda one: one.call.id)
def test_a_callers_whole_sentence_finds_her_call(one: Scene) -> None:
    assert one.call.id in found(one.words)[:3], found(one.words)


@pytest.mark.parametrize("one", calls(), ids=lambda one: one.id)
def test_every_phrase_finds_its_own_call(one: Call) -> None:
    for phrases in one.phrases.values():
        for phrase in phrases:
            assert one.id in found(phrase)[:3], (phrase, found(phrase))


@pytest.mark.parametrize("one", calls(), ids=lambda one: one.id)
def test_a_letter_too_few_or_two_swapped_in_the_longest_word_changes_little(one: Call) -> None:
    for phrase in one.phrases["en"]:
        longest = max(phrase.split(), key=len)
        middle = len(longest) // 2
        for slip in (
            longest[:middle] + longest[middle + 1 :],
            longest[: middle - 1] + longest[middle] + longest[middle - 1] + longest[middle + 1 :],
        ):
            typed = phrase.replace(longest, slip, 1)
            assert len(phrase.split()) < 3 or len(longest) < 5 or one.id in found(typed)[:3], (typed, found(typed))


@pytest.mark.parametrize("typed", ["zzgrf", "xylophone qwv", "?!", "", "   "])
def test_what_nobody_understands_finds_nothing_and_is_named(typed: str) -> None:
    answer = search(typed)
    assert answer.matches == ()
    assert answer.unknown == tuple(word for word in typed.split() if word.isalpha())


def test_a_word_that_no_call_knows_is_named_beside_what_was_found() -> None:
    answer = search("zzgrf leaked out half")
    assert answer.matches[0].call.id == "C12"
    assert answer.unknown == ("zzgrf",)


@pytest.mark.parametrize("flag", RED_FLAGS)
def test_every_sign_of_danger_leads_to_the_emergency_services(flag: str) -> None:
    assert search(flag).matches[0].call.red_flag, flag


@pytest.mark.parametrize(
    ("typed", "first", "also"),
    [
        ("fell asleep it is one in the morning and I cannot breathe", "C53", "C28"),
        ("leaked half of it and my chest hurts", "C53", "C12"),
        ("drew 0.3 instead of 0.2 now a rash", "C55", "C18"),
        ("expired last month and I have a fever", "C58", "C42"),
    ],
)
def test_danger_comes_first_however_well_another_call_fits(typed: str, first: str, also: str) -> None:
    matches = search(typed).matches
    assert matches[0].call.id == first
    assert matches[0].danger
    assert also in [match.call.id for match in matches[:3]]


def test_no_more_than_a_few_are_listed() -> None:
    assert len(found("needle syringe vial water line half")) <= MOST


words = st.text(alphabet=string.ascii_lowercase + " 0123456789.:'é", max_size=60)


@settings(max_examples=60, deadline=None)
@given(words)
def test_any_text_is_answered_best_first_and_the_same_again(typed: str) -> None:
    answer = search(typed)
    assert search(typed) == answer
    danger = [match.danger for match in answer.matches]
    assert danger == sorted(danger, reverse=True)
    for group in (True, False):
        scores = [match.score for match in answer.matches if match.danger is group]
        assert scores == sorted(scores, reverse=True)
        assert all(0 <= score <= 1.5 + 1e-9 for score in scores)


@settings(max_examples=40, deadline=None)
@given(st.sampled_from([typed for many in TYPED.values() for typed in many]), st.randoms(use_true_random=False))
def test_the_order_of_the_words_does_not_matter(typed: str, dice: random.Random) -> None:
    mixed = typed.split()
    dice.shuffle(mixed)
    same = search(" ".join(mixed))
    assert {(match.call.id, round(match.score, 6)) for match in same.matches} == {
        (match.call.id, round(match.score, 6)) for match in search(" ".join(typed.split())).matches
    }
