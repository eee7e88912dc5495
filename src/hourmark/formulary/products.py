"""Products: one presentation of a drug each, with what its label says about contents, diluent, routes and keeping."""

import difflib
import re
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from functools import cache
from importlib.resources import files
from typing import Any

from hourmark.finding import Unreadable
from hourmark.formulary.sourced import Sourced, Unsourced, load, read_facts
from hourmark.quantity import Concentration, Dose, Volume, parse_volume


class Form(StrEnum):
    """How a product is presented."""

    POWDER = "powder"
    SOLUTION = "solution"
    SYRINGE = "prefilled syringe"
    SPRAY = "nasal spray"
    DEPOT = "depot"


@dataclass(frozen=True, slots=True)
class LabelRule:
    """How one label says to mix: the permitted diluent volumes, those at which the entire dose must be given, and the in-use days.

    `entire` is "never", "always", or one volume. `words` is the rule as it is read off the box, such as "1 to 10 mL".
    """

    words: Sourced[str]
    volumes: tuple[Volume, ...]
    entire: Sourced[str]
    in_use_days: Sourced[Fraction] | None

    def prints(self, volume: Volume) -> bool:
        """Whether the label prints this diluent volume."""
        return volume in self.volumes

    def wants_entire(self, volume: Volume) -> bool:
        """Whether the label has the entire mix given at once at this diluent volume."""
        return self.entire.value == "always" or (
            self.entire.value != "never" and parse_volume(self.entire.value) == volume
        )


@dataclass(frozen=True, slots=True)
class Product:
    """One presentation. Which of the optional figures are there follows from `form`.

    content: the dose in one vial, one prefilled syringe or one spray. concentration: of a solution; None where it must be
    read from the box. holds: the volume in one vial or syringe. labelled_as: the salt or base in which the label counts.
    """

    id: str
    name: str
    drug: str
    form: Form
    facts: dict[str, Sourced[Any]]
    rules: tuple[LabelRule, ...]

    def fact(self, name: str) -> Sourced[Any] | None:
        """The sourced number of that name, if the product has one."""
        return self.facts.get(name)

    @property
    def content(self) -> Dose | None:
        """The dose in one vial, syringe or spray."""
        found = self.facts.get("content")
        return found.value if found else None

    @property
    def concentration(self) -> Concentration | None:
        """The concentration of a ready solution, where the product fixes it."""
        found = self.facts.get("concentration")
        return found.value if found else None

    @property
    def holds(self) -> Volume | None:
        """The volume in one vial or prefilled syringe."""
        found = self.facts.get("holds")
        return found.value if found else None

    @property
    def labelled_as(self) -> str:
        """The salt or base in which the label states its strength."""
        found = self.facts.get("labelled-as")
        return found.value if found else self.drug

    @property
    def routes(self) -> tuple[str, ...]:
        """The routes the label gives."""
        found = self.facts.get("routes")
        return found.value if found else ()

    @property
    def allergens(self) -> tuple[str, ...]:
        """What the vial, syringe or bottle itself contains that people are known to react to; diluents have their own."""
        found = self.facts.get("allergens")
        return found.value if found else ()

    @property
    def strength(self) -> str:
        """The strength as printed on the box, or "as on its label" where it is always entered from the box."""
        found = self.facts.get("concentration") or self.facts.get("content")
        return found.text if found else "as on its label"

    def rule(self, words: str) -> LabelRule | None:
        """The label rule that reads so."""
        return next((rule for rule in self.rules if rule.words.value == words), None)


_ONLY = re.compile(r"(\d+ mL) only")
_RANGE = re.compile(r"(\d+) to (\d+) mL")
_EITHER = re.compile(r"(\d+ mL) or (\d+ mL)")


def rule_volumes(words: str) -> tuple[Volume, ...]:
    """The diluent volumes a label rule permits: "10 mL only", "1 to 10 mL" (whole mL) or "1 mL or 10 mL". Raises Unreadable."""
    if match := _ONLY.fullmatch(words):
        return (parse_volume(match[1]),)
    if (match := _RANGE.fullmatch(words)) and int(match[1]) < int(match[2]) <= 50:
        return tuple(Volume(Fraction(ml)) for ml in range(int(match[1]), int(match[2]) + 1))
    if match := _EITHER.fullmatch(words):
        return (parse_volume(match[1]), parse_volume(match[2]))
    raise Unreadable(
        f'"{words[:40]}" is not a label rule.', 'Write it as read: "10 mL only", "1 to 10 mL" or "1 mL or 10 mL".'
    )


@cache
def products() -> dict[str, Product]:
    """Every product, by id."""
    folder = files("hourmark.formulary").joinpath("data/products")
    names = sorted(entry.name for entry in folder.iterdir() if entry.name.endswith(".toml"))
    return {name.removesuffix(".toml"): _read_product(name.removesuffix(".toml")) for name in names}


def product(product_id: object) -> Product:
    """The product of that id. Raises Unreadable with the nearest id."""
    if isinstance(product_id, str) and product_id in products():
        return products()[product_id]
    near = difflib.get_close_matches(str(product_id), products(), n=1)
    hint = f'Did you mean "{near[0]}"?' if near else "List the ids with: hourmark sources --products"
    raise Unreadable(f'"{str(product_id)[:40]}" is not a product known here.', hint)


def other_strengths(of: Product) -> tuple[Dose, ...]:
    """The contents of every other listed powder of the same drug, largest first."""
    contents = {
        one.content
        for one in products().values()
        if one.drug == of.drug and one.form is Form.POWDER and one.content is not None
    }
    return tuple(sorted(contents - {of.content}, key=lambda content: content.value, reverse=True))


_LEAST_FACTS = {
    Form.POWDER: {"content", "diluent", "routes"},
    Form.SOLUTION: {"routes"},
    Form.SYRINGE: {"content", "holds", "routes"},
    Form.SPRAY: {"content", "routes"},
    Form.DEPOT: {"routes"},
}


def _read_product(product_id: str) -> Product:
    table = load(f"products/{product_id}.toml")
    found = read_facts(product_id, table)
    form = Form(table["form"])
    if missing := _LEAST_FACTS[form] - set(found):
        raise Unsourced(f"{product_id}: a {form} without {sorted(missing)}")
    rules = tuple(_read_rule(found, name) for name in table.get("labels", {}))
    if form is Form.POWDER and not rules:
        raise Unsourced(f"{product_id}: a powder without a label rule")
    return Product(product_id, table["name"], table["drug"], form, found, rules)


def _read_rule(found: dict[str, Sourced[Any]], name: str) -> LabelRule:
    words = found[f"labels.{name}.words"]
    return LabelRule(
        words, rule_volumes(words.value), found[f"labels.{name}.entire"], found.get(f"labels.{name}.in-use-days")
    )
