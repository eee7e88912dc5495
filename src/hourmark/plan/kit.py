"""What the injections of one case take from the same kit: new syringes, needles, diluent, boxes; and what is short."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace

from hourmark.dose import Drawn, Fill, How
from hourmark.finding import Finding, Level
from hourmark.formulary import Barrel, Form, barrels
from hourmark.order import Case, Injection, Kit, KitProduct
from hourmark.plan import match
from hourmark.plan.planned import PlannedInjection


def kit_left(kit: Kit, planned: Sequence[PlannedInjection]) -> Kit:
    """The kit without the new syringes that the injections planned so far take."""
    taken = Counter(fill.device for one in planned if one.drawn for fill in one.drawn.fills)
    syringes = []
    for syringe in kit.syringes:
        used = min(taken[syringe.barrel.id], syringe.count)
        taken[syringe.barrel.id] -= used
        syringes.append(replace(syringe, count=syringe.count - used))
    return replace(kit, syringes=tuple(syringes))


def barrels_at_home(kit: Kit) -> list[Barrel]:
    """Every kind of new syringe at home, in an order of its own, so that the plan does not depend on the kit's."""
    kinds = {syringe.barrel.id: syringe.barrel for syringe in kit.syringes if syringe.count > 0}
    return sorted(kinds.values(), key=lambda barrel: (barrel.capacity, barrel.step, barrel.on_u100))


def _count(kit: Kit, barrel_id: str) -> int:
    return sum(syringe.count for syringe in kit.syringes if syringe.barrel.id == barrel_id)


def short_of(drawn: Drawn, kit: Kit) -> str | None:
    """The barrel of which the kit holds fewer than this draw fills."""
    used = [fill.device for fill in drawn.in_barrels]
    return used[0] if used and _count(kit, used[0]) < len(used) else None


def syringe_findings(injection: Injection, case: Case, box: KitProduct, drawn: Drawn) -> Iterable[Finding]:
    """Syringes and needles for what is drawn."""
    used = list(drawn.in_barrels)
    if not used:
        return
    if (short := short_of(drawn, case.kit)) is not None:
        yield Finding(
            "syringes-short",
            Level.STOP,
            f"{len(used)} new {short} are needed, {_count(case.kit, short)} in the kit; a used one is never filled again.",
            "Ask the pharmacy for more syringes, or for a size that takes the dose in one.",
            "kit",
            f"{len(used)} new syringes",
            "CDC, one needle, one syringe, only one time (read in the source)",
        )
    yield from match.fixed_needle_findings(injection, all_fixed(used, case.kit))
    if box.product.form is Form.POWDER:
        yield from _mixing_syringe(case.kit, used)


def all_fixed(fills: Sequence[Fill], kit: Kit) -> bool:
    """Whether every one of these fills goes into a syringe whose needle cannot be taken off."""
    return bool(fills) and all(needle_fixed(barrels()[fill.device], kit) for fill in fills)


def needle_fixed(barrel: Barrel, kit: Kit) -> bool:
    """Whether every syringe of this kind at home has a needle that cannot be taken off."""
    held = [syringe for syringe in kit.syringes if syringe.barrel.id == barrel.id and syringe.count > 0]
    return bool(held) and all(syringe.needle_fixed for syringe in held)


def _mixing_syringe(kit: Kit, used: Sequence[Fill]) -> Iterable[Finding]:
    detachable = sum(syringe.count for syringe in kit.syringes if not syringe.needle_fixed)
    taken = len(used) if not all_fixed(used, kit) else 0
    if detachable - taken < 1:
        yield Finding(
            "syringe-for-mixing",
            Level.ASK,
            "Beside the syringe for the injection there is none with a detachable needle to mix with.",
            "Ask what she will mix with; have a separate syringe for it, so that the last reading is made on a new one.",
            "kit",
            "one syringe to mix, one to inject",
            "common practice, no source",
        )


def shared_kit(case: Case, planned: Sequence[PlannedInjection]) -> Iterable[Finding]:
    """Boxes, vials and syringes that several injections of the case take from together."""
    for box in sorted(
        {one.box.product.id: one.box for one in planned if one.box}.values(), key=lambda box: box.product.id
    ):
        users = [one for one in planned if one.box and one.box.product.id == box.product.id]
        needed = sum(_containers(one) for one in users)
        count = sum(held.count for held in case.kit.products if held.product.id == box.product.id)
        if needed > count:
            yield _one_vial(box, users, needed, count) if len(users) > 1 else _kit_short(box, needed, count)
    mixed = sum(_containers(one) for one in planned if one.diluent is not None)
    yield from match.needle_findings(case.kit, mixed, _detachable(case.kit, planned))
    yield from _shared_diluent(case.kit, planned)
    for barrel in barrels_at_home(case.kit):
        per_injection = [
            len([fill for fill in one.drawn.fills if fill.device == barrel.id]) for one in planned if one.drawn
        ]
        needed, held = sum(per_injection), _count(case.kit, barrel.id)
        if needed > held and max(per_injection) <= held:
            yield Finding(
                "syringes-short",
                Level.STOP,
                f"{needed} new {barrel.id} are needed for all injections, {held} in the kit.",
                "Ask the pharmacy for more syringes; a used one is never filled again.",
                "kit",
                f"{needed} new syringes",
                "CDC, one needle, one syringe, only one time (read in the source)",
            )
        elif needed == held and needed:
            yield Finding(
                "no-practice-syringe",
                Level.NOTE,
                f"Every {barrel.id} at home is needed tonight; none is spare for a practice or a slip.",
                "Give or send a spare if there is time.",
                "kit",
                f"{held} at home, {held} needed",
                "common practice, no source",
            )


def _detachable(kit: Kit, planned: Sequence[PlannedInjection]) -> dict[str, int]:
    """How many syringes with a detachable needle are filled, by route."""
    needed = dict.fromkeys(("subcutaneous", "intramuscular"), 0)
    for one in planned:
        fills = list(one.drawn.in_barrels) if one.drawn else []
        if one.injection.route in needed and fills and not all_fixed(fills, kit):
            needed[one.injection.route] += len(fills)
    return needed


def _shared_diluent(kit: Kit, planned: Sequence[PlannedInjection]) -> Iterable[Finding]:
    """Each vial of powder takes its diluent from a new container of its own."""
    by_kind: dict[str, list[PlannedInjection]] = {}
    for one in planned:
        if one.diluent is not None and one.box is not None:
            by_kind.setdefault(one.box.product.facts["diluent"].value, []).append(one)
    for kind, alike in by_kind.items():
        needed = sum(_containers(one) for one in alike)
        held = sum(diluent.count for diluent in kit.diluents if diluent.kind == kind)
        if len(alike) > 1 and needed > held > 0:
            yield Finding(
                "diluent-short",
                Level.STOP,
                f"{needed} containers of {kind} are needed for all injections, {held} in the kit.",
                "Ask the pharmacy for more diluent, or the prescriber.",
                "kit",
                "one new container for each vial",
                "common practice, no source",
            )


def _containers(one: PlannedInjection) -> int:
    if one.drawn is None or one.drawn.stopped:
        return 1
    if one.drawn.vials is not None:
        return one.drawn.vials
    return len([fill for fill in one.drawn.fills if fill.how is How.SYRINGE]) or 1


def _kit_short(box: KitProduct, needed: int, count: int) -> Finding:
    return Finding(
        "kit-short",
        Level.STOP,
        f"{needed} x {box.product.id} are needed, {count} at home.",
        "Ask the pharmacy for the rest tonight, or the prescriber.",
        "kit",
        f"{needed} needed",
        "signed order",
    )


def _one_vial(box: KitProduct, users: Sequence[PlannedInjection], needed: int, count: int) -> Finding:
    names = " and ".join(one.injection.id for one in users)
    return Finding(
        "one-vial-for-several",
        Level.STOP,
        f"Injections {names} would be taken from {count} x {box.product.id}; {needed} are needed.",
        "Ask the prescriber whether one container may serve both, and the pharmacy for another.",
        "kit",
        "one container for one injection unless the prescriber says otherwise",
        "signed order",
    )
