"""From the keys of a night file to the night: ids that must agree, and each table as what it means."""

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import timedelta

from hourmark.clock import Span, WallTime, parse_span, parse_wall
from hourmark.exchange import keys
from hourmark.exchange.structure import Path, Problem
from hourmark.finding import Unreadable
from hourmark.formulary import Kind
from hourmark.order import (
    After,
    Band,
    Bands,
    CartonCheck,
    Case,
    Clinic,
    ClockTime,
    Diluent,
    Injection,
    Kit,
    KitProduct,
    LastAntagonist,
    Lead,
    MeasuredBarrel,
    MixRule,
    Needle,
    Night,
    Order,
    Override,
    Phone,
    Rules,
    Slot,
    SyringeAtHome,
    Technique,
    Timing,
    TroubleLimits,
)
from hourmark.quantity import number_text


def cross_problems(night: keys.NightKeys) -> Iterator[Problem]:
    """What cannot be read although every key alone can: ids given twice or pointing nowhere, and timings that are none or several."""
    yield from _repeated((slot.id for slot in night.slots), ("slots",))
    yield from _repeated((case.id for case in night.cases), ("cases",))
    for place, slot in enumerate(night.slots):
        yield from slot_problems(slot, ("slots", place))
    slots = {slot.id for slot in night.slots}
    if not night.cases:
        yield Problem(("cases",), "file-value", "There is no case.", "Add at least one [[cases]] table.")
    for problem in clinic_problems(night.clinic):
        yield replace(problem, path=("clinic", *problem.path))
    for place, case in enumerate(night.cases):
        here: Path = ("cases", place)
        if case.slot is not None and case.slot not in slots:
            yield _points_nowhere((*here, "slot"), case.slot, "slots")
        if case.last_antagonist is not None and case.last_antagonist.drug[0].kind is not Kind.ANTAGONIST:
            yield Problem(
                (*here, "last_antagonist", "drug"),
                "file-value",
                f'"{case.last_antagonist.drug[1]}" is not an antagonist.',
                "Write the antagonist she took last: ganirelix or cetrorelix.",
            )
        yield from _carton_checks(case.kit, (*here, "kit", "products"))
        yield from order_problems(case.order, (*here, "order"))


def slot_problems(slot: keys.SlotKeys, path: Path) -> Iterator[Problem]:
    """The same for one slot; `path` is where it stands."""
    yield from _two_words(slot.at, slot.which, path)


def _two_words(at: WallTime | None, which: str | None, path: Path) -> Iterator[Problem]:
    """A clock time that says first and `which` that says second, or the reverse: neither is dropped."""
    if at is not None and at.which is not None and which is not None and at.which != which:
        yield Problem(
            (*path, "which"),
            "file-value",
            f'at says "{at.which}" and which says "{which}": they contradict each other.',
            "Ask which of the two is meant, and write it one time.",
        )


def clinic_problems(clinic: keys.ClinicKeys) -> Iterator[Problem]:
    """The same for the clinic's own table; paths begin inside it."""
    yield from _measured(clinic.barrels, ("barrels",))
    if clinic.rules is not None:
        yield from _bands(clinic.rules.bands)
        yield from _wiping(clinic.rules.technique)
        yield from _contradictions(clinic.rules)


def _repeated(ids: Iterable[str], path: Path) -> Iterator[Problem]:
    listed = list(ids)
    counts = Counter(name.lower() for name in listed)
    seen: set[str] = set()
    for place, name in enumerate(listed):
        if counts[name.lower()] > 1 and name.lower() in seen:
            yield Problem(
                (*path, place, "id"),
                "file-id-repeated",
                f'"{name}" is given twice (upper and lower case count as the same).',
                "Give each its own id.",
            )
        seen.add(name.lower())


def _points_nowhere(path: Path, name: str, table: str) -> Problem:
    return Problem(
        path,
        "file-id-unknown",
        f'"{name}" is not an id under {table}.',
        f"Write an id that stands under {table}, or add it there.",
    )


def _measured(barrels: Iterable[keys.MeasuredKeys], path: Path) -> Iterator[Problem]:
    seen: set[str] = set()
    for place, one in enumerate(barrels):
        if one.syringe.id in seen:
            yield Problem(
                (*path, place, "syringe"),
                "file-id-repeated",
                f"{one.syringe.id} is measured twice.",
                "Leave the length that holds for the barrels in use.",
            )
        seen.add(one.syringe.id)
        if wrong := one.syringe.implausible_scale(one.scale_length):
            yield Problem(
                (*path, place, "scale_length"),
                "file-value",
                f"No {one.syringe.described} has a scale of {number_text(one.scale_length)} mm: {wrong}.",
                "Measure from the zero line to the line of the largest number, and write that.",
            )


def _carton_checks(kit: keys.KitKeys, path: Path) -> Iterator[Problem]:
    for place, box in enumerate(kit.products):
        if box.carton_check is not None and len({name.strip().lower() for name in box.carton_check.by}) < 2:
            yield Problem(
                (*path, place, "carton_check"),
                "file-value",
                "A carton check takes two people; here one name stands twice.",
                "Write the two who read the box.",
            )


def order_problems(order: keys.OrderKeys, path: Path) -> Iterator[Problem]:
    """The same for one order; `path` is where it stands."""
    injections = order.injections
    known = {injection.id for injection in injections}
    if not injections:
        yield Problem(
            (*path, "injections"),
            "file-value",
            "The order has no injection.",
            "Add at least one [[cases.order.injections]] table.",
        )
    yield from _repeated((injection.id for injection in injections), (*path, "injections"))
    if order.largest_gap is not None and not order.largest_gap.minutes:
        yield Problem(
            (*path, "largest_gap"),
            "file-value",
            f'"{order.largest_gap}" is no gap: two injections are never given in the same moment.',
            'Ask the prescriber, and write how far apart they may be, for example "15 min" if that is the answer.',
        )
    for name in order.sequence:
        if name not in known:
            yield _points_nowhere((*path, "sequence"), name, "injections")
    for place, injection in enumerate(injections):
        here: Path = (*path, "injections", place)
        if injection.after is not None and injection.after.injection not in known:
            yield _points_nowhere((*here, "after"), injection.after.injection, "injections")
        given = [name for name in ("lead", "at", "after") if getattr(injection, name) is not None]
        if len(given) != 1:
            yield Problem(
                here,
                "file-timing",
                f"Exactly one of lead, at and after belongs to an injection; here: {', '.join(given) or 'none'}.",
                'Write lead = "36 h" with a window, at = "2026-11-18 22:00" with a window, or after = { ... }.',
            )
        else:
            yield from _window(injection, here)
        yield from _two_words(injection.at, injection.which, here)
        if injection.which is not None and injection.at is None and len(given) == 1:
            yield Problem(
                (*here, "which"),
                "file-timing",
                f"which belongs to at, a clock time; this injection has {given[0]}.",
                "Leave which out; where the slot's hour happens twice, write it in the slot.",
            )


def _window(injection: keys.InjectionKeys, path: Path) -> Iterator[Problem]:
    if injection.after is not None and injection.window is not None:
        yield Problem(
            (*path, "window"),
            "file-timing",
            "With after, the window stands inside after.",
            "Move window into after = { ... }.",
        )
        return
    try:
        _timing(injection)
    except Unreadable as error:
        yield Problem((*path, "window"), "file-value", error.what, error.do)


def _wiping(technique: keys.TechniqueKeys) -> Iterator[Problem]:
    if technique.skin == "wipe" and technique.drying_seconds is None:
        yield Problem(
            ("rules", "technique", "skin"),
            "file-value",
            "Skin that is wiped has to dry, and no time is given.",
            "Write drying_seconds beside it.",
        )


_NOT_LONGER = (
    ("mixing", "lay_out", "she would mix before anything is laid out"),
    ("fasting_clear", "fasting_solids", "clear fluids would end before food"),
    ("tolerance_note", "tolerance_warn", "a warning would come before the note"),
)


def _contradictions(rules: keys.RulesKeys) -> Iterator[Problem]:
    """Signed times and limits that cannot both hold."""
    pairs = [(("rules",), rules, *names) for names in _NOT_LONGER]
    later = ("late_noted", "late_recomputed", "it would be computed anew before it is only written down")
    for path, table, less, more, why in [*pairs, (("rules", "trouble"), rules.trouble, *later)]:
        one, other = getattr(table, less), getattr(table, more)
        if one is not None and other is not None and one > other:
            yield Problem(
                (*path, less),
                "file-value",
                f"{less} ({one}) is more than {more} ({other}): {why}.",
                "Ask the clinic's lead which is meant.",
            )


def _bands(bands: keys.BandsKeys) -> Iterator[Problem]:
    for name in ("standard", "long_agonist", "double_agonist", "double_hcg"):
        band = getattr(bands, name)
        if band is not None and not Band(band.ok, band.note, band.warn).nested():
            yield Problem(
                ("rules", "bands", name),
                "file-value",
                "The bands are not nested: ok must lie inside note, and note inside warn.",
                "Write closed limits that contain each other.",
            )


def build(night: keys.NightKeys) -> Night:
    """The night; its keys have passed `cross_problems`."""
    return Night(
        as_of=night.as_of,
        clinic=Clinic(
            night.clinic.name,
            night.clinic.zone,
            _rules(night.clinic.rules),
            tuple(Phone(phone.number, phone.days, phone.opens, phone.closes) for phone in night.clinic.phones),
            tuple(
                MeasuredBarrel(one.syringe, one.scale_length, one.measured_by, one.measured_at)
                for one in night.clinic.barrels
            ),
        ),
        slots=tuple(
            Slot(slot.id, WallTime(slot.at.local, slot.which or slot.at.which), slot.kind, slot.room)
            for slot in night.slots
        ),
        cases=tuple(map(_case, night.cases)),
    )


def _rules(rules: keys.RulesKeys | None) -> Rules | None:
    if rules is None:
        return None
    return Rules(
        signed_by=rules.signed_by,
        signed_at=rules.signed_at,
        tell_by=rules.tell_by,
        lay_out=rules.lay_out,
        mixing=rules.mixing,
        morning_sample=rules.morning_sample,
        arrival=rules.arrival,
        fasting_solids=rules.fasting_solids,
        fasting_clear=rules.fasting_clear,
        tolerance_note=rules.tolerance_note,
        tolerance_warn=rules.tolerance_warn,
        technique=Technique(
            bubbles=rules.technique.bubbles,
            dissolve=rules.technique.dissolve_seconds,
            wait=rules.technique.wait_seconds,
            skin=rules.technique.skin,
            drying=rules.technique.drying_seconds,
        ),
        bands=Bands(
            *map(
                _band,
                (rules.bands.standard, rules.bands.long_agonist, rules.bands.double_agonist, rules.bands.double_hcg),
            )
        ),
        mixes=tuple(MixRule(mix.product.id, mix.diluent, mix.part_dose, mix.chosen) for mix in rules.mixes),
        languages=rules.languages,
        checkers=rules.checkers,
        ladder=tuple((rung.after, rung.tell) for rung in rules.ladder),
        unreached=tuple((rung.after, rung.tell) for rung in rules.unreached),
        keep_years=rules.keep_years,
        trouble=TroubleLimits(rules.trouble.late_noted, rules.trouble.late_recomputed, rules.trouble.dose),
    )


def _band(band: keys.BandKeys | None) -> Band | None:
    return Band(band.ok, band.note, band.warn) if band is not None else None


def _case(case: keys.CaseKeys) -> Case:
    last = case.last_antagonist
    return Case(
        id=case.id,
        zone=case.zone,
        order=_order(case.order),
        kit=_kit(case.kit),
        slot=case.slot,
        helper=case.helper,
        allergies=case.allergies,
        weight=case.weight,
        bmi=case.bmi,
        follicles=case.follicles,
        e2=case.e2,
        lh=case.lh,
        last_antagonist=LastAntagonist(last.drug[0], last.at) if last else None,
        language=case.language,
        left_handed=case.left_handed,
    )


def _order(order: keys.OrderKeys) -> Order:
    return Order(
        purpose=order.purpose,
        signed_by=order.signed_by,
        signed_at=order.signed_at,
        cycle=order.cycle,
        stop=order.stop,
        injections=tuple(map(_injection, order.injections)),
        sequence=order.sequence,
        largest_gap=order.largest_gap,
    )


def _injection(injection: keys.InjectionKeys) -> Injection:
    override = injection.override
    return Injection(
        id=injection.id,
        drug=injection.drug[0],
        drug_as_written=injection.drug[1],
        dose=injection.dose,
        route=injection.route,
        timing=_timing(injection),
        product=injection.product.id if injection.product else None,
        diluent=injection.diluent,
        diluent_each=injection.diluent_into == "each",
        override=Override(override.by, override.reason, override.at) if override else None,
        route_confirmed_by=injection.route_confirmed_by,
    )


def _timing(injection: keys.InjectionKeys) -> Timing:
    window = injection.window
    if injection.lead is not None:
        return Lead(injection.lead, _spans(window) if window else None)
    if injection.after is not None:
        return After(injection.after.injection, injection.after.gap, injection.after.window)
    assert injection.at is not None
    at = WallTime(injection.at.local, injection.which or injection.at.which)
    return ClockTime(at, _walls(window, at) if window else None)


def _spans(window: tuple[keys.Text, keys.Text]) -> tuple[Span, Span]:
    least, most = map(parse_span, window)
    if most < least:
        raise Unreadable(f"The window {least} to {most} has the larger value first.", "Write the smaller value first.")
    return least, most


def _walls(window: tuple[keys.Text, keys.Text], at: WallTime) -> tuple[WallTime, WallTime]:
    """The clock times of a window; "21:30" alone means the one nearest to `at`."""
    first, last = (_nearest(text, at) for text in window)
    return first, last


def _nearest(text: str, at: WallTime) -> WallTime:
    if len(text) != len("21:30"):
        return parse_wall(text)
    same_day = parse_wall(f"{at.local:%Y-%m-%d} {text}").local
    days = (same_day + timedelta(days=shift) for shift in (-1, 0, 1))
    return WallTime(min(days, key=lambda local: abs(local - at.local)))


def _kit(kit: keys.KitKeys) -> Kit:
    return Kit(
        products=tuple(map(_product, kit.products)),
        diluents=tuple(
            Diluent(diluent.kind, diluent.volume, diluent.count, diluent.expiry) for diluent in kit.diluents
        ),
        syringes=tuple(SyringeAtHome(syringe.syringe, syringe.count, syringe.fixed) for syringe in kit.syringes),
        needles=tuple(Needle(needle.gauge, needle.length, needle.count) for needle in kit.needles),
    )


def _product(box: keys.ProductKeys) -> KitProduct:
    check = box.carton_check
    return KitProduct(
        product=box.product,
        strength=box.strength,
        label_rule=box.label_rule,
        words=box.words,
        lot=box.lot,
        expiry=box.expiry,
        count=box.count,
        opened=box.opened,
        out_of_fridge=box.out_of_fridge,
        carton_check=CartonCheck(check.by, check.at) if check else None,
    )
