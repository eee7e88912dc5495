"""How much went in: the facts and the plan become one `WentIn`, and that becomes the dose. Both may be ranges."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction

from hourmark.dose import Between, Given, How, Spray, Syringe, Vial, WentIn, dose_given, exactly
from hourmark.finding import Finding, Working
from hourmark.formulary import Barrel, barrel
from hourmark.incident.facts import Facts, Parts
from hourmark.incident.kinds import Kind
from hourmark.incident.leg import NOTHING_LEFT, Left
from hourmark.incident.problems import amounts_told, contradicts, not_here, too_much
from hourmark.incident.words import doses, volumes
from hourmark.order import Diluent
from hourmark.plan import PlannedInjection
from hourmark.quantity import Concentration, Dose, Volume, divide, shown_like

_NOTHING = Between(Volume(Fraction(0)), Volume(Fraction(0)))
_UNCHANGED = (Kind.EARLY, Kind.LATE, Kind.WRONG_ROUTE, Kind.STORAGE, Kind.ONE_OF_TWO, Kind.REPEATED)
"""Kinds in which the amount itself may be as planned, which somebody has to say."""


@dataclass
class Amounts:
    """What could be made of the amounts: the dose by one injection, what is left, and what keeps it from being known."""

    given: Given | None = None
    drawn: Between | None = None
    left: Left = NOTHING_LEFT
    as_planned: list[str] = field(default_factory=list)
    not_known: list[str] = field(default_factory=list)
    problems: list[Finding] = field(default_factory=list)
    working: list[Working] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class _Liquid:
    """What was in the syringe: a powder with its water, or a ready liquid; each vial may hold so much."""

    content: Dose | None
    water: Between | None
    concentration: Concentration | None
    holds: Volume | None
    vials: int
    inputs: tuple[tuple[str, str, str], ...]

    @property
    def most(self) -> Volume | None:
        """The most that all its vials can hold."""
        one = self.water.most if self.water is not None else self.holds
        return one * self.vials if one is not None else None


def amounts(one: PlannedInjection, kind: Kind, facts: Facts, diluents: tuple[Diluent, ...] = ()) -> Amounts:
    """The dose of one injection by what was told, and from the plan where nobody said otherwise."""
    found = Amounts()
    if isinstance(one.source, Spray):
        return _sprays(one, kind, facts, found)
    liquid = _liquid(one, kind, facts, diluents, found)
    if not _told_enough(kind, facts, found) or liquid is None or found.problems:
        return found
    drawn = _drawn(one, facts, liquid, found)
    if drawn is None or found.problems:
        return found
    lost, part = _lost(facts, drawn, found)
    found.problems += _all_contradicts(one, facts, drawn)
    if found.problems or _part_stayed_out(one, facts, drawn, found):
        return found
    what = WentIn(
        drawn=drawn,
        content=liquid.content,
        water=liquid.water,
        concentration=liquid.concentration,
        holds=liquid.holds,
        lost=lost,
        lost_part=part,
        vials=liquid.vials,
    )
    found.given, found.drawn = _as_ordered(dose_given(what), one), drawn
    left = _left(what, facts)
    found.left = replace(left, dose=_as_ordered(left.dose, one)) if left.dose is not None else left
    found.working.append(_working(what, liquid, facts, found.given))
    return found


def _as_ordered(given: Given, one: PlannedInjection) -> Given:
    """The same dose in the unit of the order, so that mg never stands beside mcg."""
    return Given(shown_like(given.least, one.injection.dose), shown_like(given.most, one.injection.dose))


def of_another(one: PlannedInjection, facts: Facts) -> Amounts:
    """How much there was of another medicine, by what was told and nothing else: her page says nothing of it.

    No powder stays without water that was told, no volume is taken from the plan, and nothing is compared with the order.
    """
    found = Amounts()
    if not {"drawn", "mark"} & set(amounts_told(facts)) or facts.unknown & {"drawn", "mark", "lost", "stayed"}:
        found.not_known.append("how much of the other medicine was drawn up")
        return found
    strength = facts.strength
    concentration = strength if isinstance(strength, Concentration) else None
    content = strength if not isinstance(strength, Concentration) else None
    water = facts.water if concentration is None else None
    if concentration is not None and facts.water is not None:
        found.problems.append(not_here("water", "A ready liquid takes no water."))
    told = (("strength of the other medicine", str(strength), "the caller"),)
    liquid = _Liquid(content if water is not None else None, water, concentration, None, 1, told)
    drawn = _drawn(one, facts, liquid, found)
    if drawn is None or found.problems:
        return found
    lost, part = _lost(facts, drawn, found)
    if found.problems:
        return found
    found.drawn = Between(
        drawn.least * (1 - part[1]) - min(lost.most, drawn.least * (1 - part[1])),
        drawn.most * (1 - part[0]) - lost.least,
    )
    if liquid.content is None and liquid.concentration is None:
        found.not_known.append("how strong the other medicine was as it was mixed")
        return found
    what = WentIn(
        drawn=drawn,
        content=liquid.content,
        water=liquid.water,
        concentration=liquid.concentration,
        lost=lost,
        lost_part=part,
    )
    found.given = dose_given(what)
    found.working.append(replace(_working(what, liquid, facts, found.given), name="the other medicine, as it was told"))
    return found


def no_powder(one: PlannedInjection) -> Amounts:
    """The dose where only the water was injected: none, and all of the powder is still in its vial."""
    found = Amounts()
    if not isinstance(one.source, Vial) or one.source.content is None or one.source.holds is None:
        found.problems.append(
            not_here("kind", "Nothing is mixed for this injection, so there is no water to inject alone.")
        )
        return found
    vials = (one.drawn.vials if one.drawn else None) or 1
    water, content = exactly(one.source.holds), one.source.content
    dissolved = WentIn(drawn=exactly(one.source.holds * vials), content=content * 0, water=water, vials=vials)
    found.given = _as_ordered(dose_given(dissolved), one)
    found.left = Left(dose=_as_ordered(Given(content * vials, content * vials), one))
    found.working.append(
        Working(
            "dose given",
            "powder dissolved / water x what was injected",
            (("powder dissolved", str(content * 0), "the caller"), ("water", str(one.source.holds), "plan")),
            str(found.given.least),
        )
    )
    return found


def _sprays(one: PlannedInjection, kind: Kind, facts: Facts, found: Amounts) -> Amounts:
    """A spray is given whole or it is not known how much: no part of a spray is computed."""
    if amounts_told(facts) or facts.strength is not None:
        found.problems.append(
            not_here("kind", "This is a nasal spray: no volume, mark or part of a spray tells its dose.")
        )
    elif facts.all and kind in _UNCHANGED:
        found.given = Given(one.injection.dose, one.injection.dose)
        found.as_planned.append("every spray of the page")
    else:
        found.not_known.append("how many sprays went in")
    return found


def _told_enough(kind: Kind, facts: Facts, found: Amounts) -> bool:
    """Whether the kind's own amount was told, so that a dose can be computed at all."""
    told = amounts_told(facts)
    match kind:
        case Kind.WRONG_MARK:
            enough, what = "drawn" in told or "mark" in told, "to which mark it was drawn"
        case Kind.PARTIAL:
            enough, what = bool({"lost", "stayed", "residue"} & set(told)), "how much was lost"
        case Kind.WRONG_WATER:
            enough, what = "water" in told, "how much water went in"
        case Kind.WRONG_PRODUCT:
            enough, what = facts.strength is not None, "what the vial held"
        case _:
            enough, what = facts.all is True or bool(told), "whether all of it went in"
    unknown = facts.unknown & {"drawn", "mark", "water", "lost", "stayed", "residue"}
    if facts.mark is not None:
        unknown |= facts.unknown & {"barrel"}
    if not enough or unknown:
        found.not_known.append(what if not enough else "an amount that she cannot say: " + ", ".join(sorted(unknown)))
    return enough and not unknown


def _liquid(
    one: PlannedInjection, kind: Kind, facts: Facts, diluents: tuple[Diluent, ...], found: Amounts
) -> _Liquid | None:
    vials = (one.drawn.vials if one.drawn else None) or 1
    strength = facts.strength if kind is Kind.WRONG_PRODUCT else None
    if isinstance(strength, Concentration):
        if facts.water is not None:
            found.problems.append(not_here("water", "A ready liquid takes no water."))
        return _Liquid(None, None, strength, None, vials, (("strength", str(strength), "the caller"),))
    planned = one.source if isinstance(one.source, Vial) else None
    content = strength or (planned.content if planned else None)
    if content is not None:
        return _powder(one, content, strength is not None, planned, facts, diluents, vials, found)
    if facts.water is not None:
        found.problems.append(not_here("water", "Nothing is mixed for this injection: it takes no water."))
        return None
    if isinstance(one.source, Syringe):
        ready = Concentration(one.source.content * (1 / one.source.holds.value))
        fills = len(one.drawn.fills) if one.drawn else 1
        inputs = (("in one syringe", f"{one.source.content} in {one.source.holds}", one.source.product),)
        return _Liquid(None, None, ready, one.source.holds, max(fills, 1), inputs)
    if planned is None:
        found.not_known.append("what was in the vial: the plan of this case has no liquid")
        return None
    inputs = (("strength", str(planned.concentration), "plan"),)
    return _Liquid(None, None, planned.concentration, planned.holds, vials, inputs)


def _powder(
    one: PlannedInjection,
    content: Dose,
    told: bool,
    planned: Vial | None,
    facts: Facts,
    diluents: tuple[Diluent, ...],
    vials: int,
    found: Amounts,
) -> _Liquid | None:
    by_plan = planned.holds if planned and planned.content is not None else None
    water = facts.water or (exactly(by_plan) if by_plan is not None else None)
    if water is None:
        found.not_known.append("how much water went in")
        return None
    if facts.water is None:
        found.as_planned.append(f"{by_plan} of water into each vial")
    else:
        found.problems += _water_at_home(one, facts.water, diluents)
    source = "the caller" if facts.water is not None else "plan"
    inputs = (
        ("powder in one vial", str(content), "the caller" if told else "plan"),
        ("water into each", volumes(water), source),
    )
    return _Liquid(content, water, None, None, vials, inputs)


def _water_at_home(one: PlannedInjection, water: Between, diluents: tuple[Diluent, ...]) -> Iterator[Finding]:
    """More water than all containers hold together was not added to one vial."""
    kind = one.box.product.fact("diluent") if one.box else None
    fits = [held for held in diluents if kind is None or held.kind == kind.value]
    whole = sum((held.volume * held.count for held in fits), Volume(Fraction(0)))
    if fits and water.most > whole:
        yield too_much("water", f"{volumes(water)} of water is more than the kit holds.", f"{whole} of it at home")


def _barrel(one: PlannedInjection, facts: Facts) -> tuple[Barrel | None, int]:
    """The barrel that was used and how many fills of it the plan has."""
    planned = list(one.drawn.in_barrels) if one.drawn else []
    used = facts.barrel or (barrel(planned[0].device) if planned else None)
    return used, max(len(planned), 1)


def _drawn(one: PlannedInjection, facts: Facts, liquid: _Liquid, found: Amounts) -> Between | None:
    used, fills = _barrel(one, facts)
    told = facts.drawn
    if facts.mark is not None:
        if used is None or fills != 1 or isinstance(one.source, Syringe):
            found.problems.append(
                not_here(
                    "mark", "One number on one syringe cannot be read here: ask for the volume, all syringes together."
                )
            )
            return None
        if facts.barrel is None:
            found.as_planned.append(f"the syringe {used.id}")
        by_mark = Between(used.volume_at(facts.mark.least), used.volume_at(facts.mark.most))
        if told is not None and told != by_mark:
            found.problems.append(
                contradicts("mark", f"Mark {_marks(facts)} on {used.id} is {volumes(by_mark)}, not {volumes(told)}.")
            )
            return None
        told = by_mark
    if told is None and facts.residue is not None:
        told = _all_but(facts.residue, liquid, found)
    elif told is None:
        told = _planned_volume(one, facts, liquid, found)
    if told is None:
        return None
    found.problems += _fits(told, used, fills, liquid)
    if facts.residue is not None and liquid.most is not None and told.least + facts.residue.least > liquid.most:
        found.problems.append(
            too_much(
                "residue",
                f"{volumes(told)} drawn and {volumes(facts.residue)} left are more than the vials held.",
                f"{liquid.most} in all",
            )
        )
    return told


def _marks(facts: Facts) -> str:
    assert facts.mark is not None
    least, most = str(facts.mark.least), str(facts.mark.most)
    return least if least == most else f"{least} to {most}"


def _all_but(residue: Between, liquid: _Liquid, found: Amounts) -> Between | None:
    """Everything but what is still in the vials."""
    least, most = (liquid.water.least, liquid.water.most) if liquid.water is not None else (liquid.holds, liquid.holds)
    if least is None or most is None:
        found.not_known.append("how much the vial held to begin with")
        return None
    least, most = least * liquid.vials, most * liquid.vials
    if residue.most > most:
        found.problems.append(
            too_much("residue", f"{volumes(residue)} is more than the vials held.", f"{most} in them to begin with")
        )
        return None
    return Between(least - min(least, residue.most), most - min(most, residue.least))


def _planned_volume(one: PlannedInjection, facts: Facts, liquid: _Liquid, found: Amounts) -> Between | None:
    volume = one.drawn.volume if one.drawn and not one.drawn.stopped else None
    whole = one.drawn is not None and any(fill.how is How.ALL for fill in one.drawn.fills)
    another = facts.strength is not None and not isinstance(one.source, Vial)
    if volume is None or another or (whole and facts.water is not None):
        found.not_known.append("how much was drawn up")
        return None
    if liquid.most is not None and volume > liquid.most:
        found.not_known.append("how much was drawn up: the planned volume is more than that vial holds")
        return None
    found.as_planned.append(f"{volume} drawn up")
    return exactly(volume)


def _fits(drawn: Between, used: Barrel | None, fills: int, liquid: _Liquid) -> Iterator[Finding]:
    if used is not None and drawn.most > used.capacity * fills:
        many = f"{fills} x {used.id} hold" if fills > 1 else f"{used.id} holds"
        yield too_much(
            "drawn", f"{volumes(drawn)} is more than the syringe takes.", f"{many} {used.capacity * fills} in all"
        )
    if liquid.most is not None and drawn.most > liquid.most:
        yield too_much("drawn", f"{volumes(drawn)} is more than the vial held.", f"{liquid.most} in all")


def _lost(facts: Facts, drawn: Between, found: Amounts) -> tuple[Between, tuple[Fraction, Fraction]]:
    lost = facts.lost if isinstance(facts.lost, Between) else _NOTHING
    stayed = facts.stayed or _NOTHING
    both = Between(lost.least + stayed.least, lost.most + stayed.most)
    if both.most > drawn.most:
        key = "lost" if facts.lost is not None else "stayed"
        found.problems.append(
            too_much(key, f"{volumes(both)} is more than was in the syringe.", f"{volumes(drawn)} drawn up")
        )
    part = (facts.lost.least, facts.lost.most) if isinstance(facts.lost, Parts) else (Fraction(0), Fraction(0))
    if part[0] and drawn.most * part[0] + both.least > drawn.most:
        found.problems.append(
            too_much(
                "stayed",
                f"{volumes(both)} and {part[0]} of it are more than was in the syringe.",
                f"{volumes(drawn)} drawn up",
            )
        )
    return both, part


def _all_contradicts(one: PlannedInjection, facts: Facts, drawn: Between) -> Iterator[Finding]:
    """All of it is said to have gone in, and beside that stands another amount than the planned one, or a loss."""
    if facts.all is not True:
        return
    planned = one.drawn.volume if one.drawn else None
    differs = facts.lost is not None or facts.stayed is not None or (planned is not None and drawn != exactly(planned))
    if facts.water is not None and facts.water != (exactly(one.diluent) if one.diluent else None):
        differs = True
    if differs:
        told = ", ".join(amounts_told(facts))
        yield contradicts(
            "all", f"All of it is said to have gone in as on the page, but beside it stands another amount ({told})."
        )


def _part_stayed_out(one: PlannedInjection, facts: Facts, drawn: Between, found: Amounts) -> bool:
    """Not all of it went in, or nobody can say whether it did, and no answer tells the part that did not."""
    planned = one.drawn.volume if one.drawn else None
    told = facts.lost is not None or facts.stayed is not None or facts.residue is not None
    asked = facts.all is False or "all" in facts.unknown
    if not asked or told or planned is None or drawn != exactly(planned):
        return False
    found.not_known.append("how much of it did not go in")
    return True


def _left(what: WentIn, facts: Facts) -> Left:
    """What is left in the opened vials, as liquid and as a dose, and in the syringe."""
    stayed = facts.stayed
    one = what.water or (exactly(what.holds) if what.holds is not None else None)
    if one is None:
        return Left(syringe=stayed)
    least, most = one.least * what.vials, one.most * what.vials
    vials = facts.residue or Between(least - min(least, what.drawn.most), most - min(most, what.drawn.least))
    return Left(vials, _dose_left(what, vials), stayed)


def _dose_left(what: WentIn, vials: Between) -> Given | None:
    """The dose in what is left: everything that was dissolved, less what was drawn."""
    if what.content is None or what.water is None:
        assert what.concentration is not None
        return Given(what.concentration.dose_in(vials.least), what.concentration.dose_in(vials.most))
    if not what.water.least:
        return None
    drawn = dose_given(WentIn(drawn=what.drawn, content=what.content, water=what.water, vials=what.vials))
    whole = what.content * what.vials
    return Given(whole * (1 - divide(drawn.most, whole)), whole * (1 - divide(drawn.least, whole)))


def _working(what: WentIn, liquid: _Liquid, facts: Facts, given: Given) -> Working:
    powder = what.content is not None
    formula = "powder / water x (drawn - lost)" if powder else "strength x (drawn - lost)"
    told = facts.drawn is not None or facts.mark is not None or facts.residue is not None
    inputs = [*liquid.inputs, ("drawn", volumes(what.drawn), "the caller" if told else "plan")]
    if isinstance(facts.lost, Parts):
        inputs.append(("lost", _parts(facts.lost), "the caller"))
    if what.lost.most:
        inputs.append(("lost", volumes(what.lost), "the caller"))
    return Working("dose given", formula, tuple(inputs), doses(given))


def _parts(parts: Parts) -> str:
    least, most = f"{parts.least} of it", f"{parts.most} of it"
    return least if parts.least == parts.most else f"{parts.least} to {most}"
