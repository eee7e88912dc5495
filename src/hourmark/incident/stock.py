"""What is still unopened at home, counted from the kit: less what this call used, and what other injections and calls used or need."""

from collections.abc import Callable, Iterator, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace

from hourmark.dose import How
from hourmark.finding import Unreadable
from hourmark.formulary import Product, drug
from hourmark.incident.facts import Count, Facts
from hourmark.incident.kinds import KIND_WORDS, Kind
from hourmark.incident.leg import Spare
from hourmark.incident.medicine import is_another
from hourmark.plan import CasePlan, PlannedInjection

_MAY_BE_UNOPENED = (Kind.MISSED, Kind.LATE, Kind.STORAGE)
"""Kinds in which the planned box may not have been opened at all, unless a time is told at which it went in."""


@dataclass(frozen=True, slots=True)
class Earlier:
    """Another call about the same case, before this one: what kind it was and what was said."""

    kind: Kind
    facts: Facts


@dataclass(frozen=True, slots=True)
class _Use:
    """How many something took, least and most, and what is taken for granted with that; nothing where it was told."""

    least: int
    most: int
    assumed: str = ""


def spare(
    plan: CasePlan,
    one: PlannedInjection,
    kind: Kind,
    facts: Facts,
    given: AbstractSet[str] = frozenset(),
    earlier: Sequence[Earlier] = (),
) -> tuple[Spare, ...]:
    """Unopened boxes of this drug, and of what was taken in its place, and the water and syringes that go with it.

    `given` are the other injections that are known to have been given; what they took, and what the rest of the order still needs, is by
    the plan: each such number says so. `earlier` are other calls about the case: what they used is counted as they told it.
    """
    home = _Home(plan, one, kind, facts, frozenset(given), tuple(earlier))
    return (*home.boxes(), *home.beside())


def _took(one: PlannedInjection, kind: Kind, facts: Facts, each: int) -> _Use:
    """How many of one thing an injection took, of which it takes `each` one time."""
    times = facts.times or Count(1, 1)
    untouched = kind in (Kind.WRONG_PRODUCT, Kind.ONE_OF_TWO, Kind.OTHER_DRUG)
    untouched = untouched or (kind in _MAY_BE_UNOPENED and facts.at is None)
    return _Use(0 if untouched else each * times.least, each * times.most)


def _vials(one: PlannedInjection) -> int:
    """How many boxes, and containers of water, an injection takes by the plan."""
    if one.drawn is None:
        return 1
    devices = len([fill for fill in one.drawn.fills if fill.how is How.SYRINGE])
    return one.drawn.vials or devices or 1


@dataclass(frozen=True, slots=True)
class _Home:
    plan: CasePlan
    one: PlannedInjection
    kind: Kind
    facts: Facts
    given: frozenset[str]
    earlier: tuple[Earlier, ...]

    def boxes(self) -> Iterator[Spare]:
        """Of every product that is this drug, or the one that was taken in its place."""
        for product in dict.fromkeys(box.product.id for box in self.plan.case.kit.products):
            boxes = [box for box in self.plan.case.kit.products if box.product.id == product]
            name = boxes[0].product.drug
            mine = _taken_instead(self.one, self.kind, self.facts)
            if name not in (self.one.injection.drug.name, mine):
                continue
            left = Spare(f"{boxes[0].product.name} ({product})", boxes[0].strength, 0, 0)
            yield _less(left, sum(box.count for box in boxes), list(self._boxes_used(boxes[0].product)))

    def _boxes_used(self, product: Product) -> Iterator[_Use]:
        mine = product.drug == self.one.injection.drug.name
        planned = self.one.box is not None and self.one.box.product.id == product.id
        read_out = self.kind is Kind.WRONG_PRODUCT and self.facts.strength == product.content
        opened = self.facts.opened if mine and planned else None
        if opened is not None:
            yield _Use(opened.least, opened.most)
        elif planned:
            yield _took(self.one, self.kind, self.facts, _vials(self.one))
        elif not mine or read_out:
            yield _Use(0, 1, "1 of them was the one taken instead")
        counts = {
            one.injection.id: _vials(one)
            for one in self.plan.injections
            if one.box is not None and one.box.product.id == product.id
        }
        yield from self._others(counts, lambda each: each.keep is not None, counted=opened is not None)
        for one in self.plan.injections if opened is None else ():
            for call in self._calls_about(one.injection.id):
                if _taken_instead(one, call.kind, call.facts) == product.drug:
                    yield _Use(0, 1, f"the call before took 1 of them instead of {one.injection.id}")

    def beside(self) -> Iterator[Spare]:
        """The water and the new syringes."""
        one, kit = self.one, self.plan.case.kit
        if one.diluent is not None and one.box is not None:
            wanted = _water_of(one)
            count = sum(held.count for held in kit.diluents if held.kind == wanted)
            counts = {each.injection.id: _vials(each) for each in self.plan.injections if _water_of(each) == wanted}
            largest = max((held.volume for held in kit.diluents if held.kind == wanted), default=one.diluent)
            used = [_took(one, self.kind, self.facts, _vials(one))]
            used += self._others(counts, lambda each: each.diluent is not None and each.diluent * 2 <= largest)
            yield _less(Spare(f"container of {wanted}", None, 0, 0), count, used)
        fills = list(one.drawn.in_barrels) if one.drawn else []
        if fills:
            device = fills[0].device
            count = sum(held.count for held in kit.syringes if held.barrel.id == device)
            counts = {each.injection.id: _barrels_of(each, device) for each in self.plan.injections}
            used = [_took(one, self.kind, self.facts, len(fills)), *self._others(counts, lambda _: False)]
            yield _less(Spare(f"new syringe {device}", None, 0, 0), count, used)

    def _others(
        self, counts: dict[str, int], shared: Callable[[PlannedInjection], bool], *, counted: bool = False
    ) -> Iterator[_Use]:
        """What other calls and injections took or still need, of which each takes so many by the plan.

        shared: whether what an injection took may have come out of one that was open already. counted: the caller counted what is open or
        used up, so that only what is still to come is taken off.
        """
        for name, each in counts.items():
            calls, mine = self._calls_about(name), name == self.one.injection.id
            one = next(one for one in self.plan.injections if one.injection.id == name)
            if not each or (counted and (mine or calls or name in self.given)):
                continue
            for call in calls:
                took = _took(one, call.kind, call.facts, each)
                least = 0 if mine else took.least
                yield _Use(least, took.most, f'the call before, "{KIND_WORDS[call.kind]}", used {took.most} for {name}')
            if mine or calls:
                continue
            if name in self.given:
                yield _Use(0 if shared(one) else each, each, f"{name} used {each}, as planned")
            else:
                yield _Use(0, each, f"{name} takes {each}, as planned")

    def _calls_about(self, name: str) -> list[Earlier]:
        """The other calls that were about one injection; where the order has one alone, every call is about it."""
        alone = len(self.plan.injections) == 1
        return [one for one in self.earlier if _about(one) == name or (alone and _about(one) is None)]


def _taken_instead(one: PlannedInjection, kind: Kind, facts: Facts) -> str | None:
    """The medicine that was taken in the place of an injection, by the formulary's own name."""
    if not is_another(kind, facts, one.injection):
        return None
    try:
        return drug(facts.drug).name
    except Unreadable:
        return None


def _about(call: Earlier) -> str | None:
    """The injection that a call was about, where it was said."""
    return call.facts.missed if call.kind is Kind.ONE_OF_TWO else call.facts.injection


def _water_of(one: PlannedInjection) -> str | None:
    """The kind of water that an injection is mixed with."""
    return str(one.box.product.facts["diluent"].value) if one.diluent is not None and one.box is not None else None


def _barrels_of(one: PlannedInjection, device: str) -> int:
    """How many of one kind of syringe an injection takes."""
    return len([fill for fill in one.drawn.in_barrels if fill.device == device]) if one.drawn else 0


def _less(left: Spare, count: int, used: list[_Use]) -> Spare:
    """What is left of so many; never less than none."""
    least, most = sum(one.least for one in used), sum(one.most for one in used)
    assumed = tuple(one.assumed for one in used if one.assumed and one.most)
    return replace(left, least=max(count - most, 0), most=max(count - least, 0), assumed=assumed)
