"""Which medicine it was, by the name that was read off the box: the ordered one, another, or none that is known here."""

from hourmark.finding import Unreadable
from hourmark.formulary import Kind as DrugKind
from hourmark.formulary import drug
from hourmark.incident.facts import Facts
from hourmark.incident.kinds import Kind
from hourmark.order import Injection


def is_ordered(told: str | None, ordered: str) -> bool | None:
    """Whether a medicine is the one of that generic name; None where it was not told, or goes by no name that is known here."""
    if told is None:
        return None
    try:
        return drug(told).name == ordered
    except Unreadable:
        return None


def is_in_its_place(kind: Kind, facts: Facts) -> bool:
    """Whether something is said to have been taken in the place of the planned box, whatever its name."""
    return kind is Kind.WRONG_PRODUCT or (kind is Kind.OTHER_DRUG and facts.instead is True)


def is_another(kind: Kind, facts: Facts, injection: Injection) -> bool:
    """Whether another medicine, by a name that is known here, is said to have been taken in the place of this injection.

    A name that is not known may be a trade name of the ordered medicine itself: of that nothing is said to have stayed out.
    """
    return is_in_its_place(kind, facts) and is_ordered(facts.drug, injection.drug.name) is False


def went_in_besides(kind: Kind, facts: Facts) -> DrugKind | None:
    """The kind of a medicine that is no part of the plan and may have gone in, by a name that is known here."""
    if kind not in (Kind.WRONG_PRODUCT, Kind.OTHER_DRUG) or facts.drug is None or facts.injected is False:
        return None
    try:
        return drug(facts.drug).kind
    except Unreadable:
        return None


def is_nameless(kind: Kind, facts: Facts, injection: Injection) -> bool:
    """Whether nobody can say which medicine was taken in the place of the planned box, so that it may be the ordered one."""
    return is_in_its_place(kind, facts) and is_ordered(facts.drug, injection.drug.name) is None


def name_problem(kind: Kind, facts: Facts) -> Unreadable | None:
    """Why the name of the medicine says nothing, where the numbers rest on it."""
    if not is_in_its_place(kind, facts) or facts.drug is None:
        return None
    try:
        drug(facts.drug)
    except Unreadable as error:
        return error
    return None
