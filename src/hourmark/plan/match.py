"""Order against kit: which box an injection is taken from, and everything that does not fit, all at once."""

import datetime as dt
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from functools import cache

from hourmark.clock import Moment, WallTime, moment
from hourmark.finding import Finding, Level, Unreadable
from hourmark.formulary import Form, LabelRule, drug, facts, products
from hourmark.order import Case, Diluent, Injection, Kit, KitProduct, Needle, Purpose
from hourmark.plan.storage import keep_until
from hourmark.plan.words import words_findings
from hourmark.quantity import Concentration, Dose, Volume, parse_concentration, parse_dose

_READ_BOX = "common practice, no source"


def choose_product(injection: Injection, kit: Kit) -> KitProduct | Finding:
    """The one kind of box at home that this injection can come from, or a stop that says why there is none or more than one."""
    boxes = _alike_together(kit.products)
    if injection.product is not None:
        named = [
            box for box in boxes if box.product.id == injection.product and box.product.drug == injection.drug.name
        ]
        if len(named) > 1:
            return _several(injection, named)
        return named[0] if named and _form_fits(named[0], injection) else _not_at_home(injection, kit)
    same_drug = [box for box in boxes if box.product.drug == injection.drug.name]
    usable = [box for box in same_drug if _form_fits(box, injection)]
    if len(usable) == 1:
        return usable[0]
    if len(usable) > 1:
        return _several(injection, usable)
    if same_drug:
        return _wrong_form(injection, same_drug)
    return _related(injection, kit) or _not_at_home(injection, kit)


def _alike_together(boxes: Iterable[KitProduct]) -> list[KitProduct]:
    """Boxes that read the same as one entry: counts added, and of two lots the earlier expiry, opening and leaving of the cold."""
    alike: dict[tuple[str, str, str | None], list[KitProduct]] = {}
    for box in boxes:
        alike.setdefault((box.product.id, box.strength, box.label_rule), []).append(box)
    return [group[0] if len(group) == 1 else _merged(group) for group in alike.values()]


def _merged(group: Sequence[KitProduct]) -> KitProduct:
    expiries = [box.expiry for box in group]
    words = {box.words for box in group}
    return replace(
        group[0],
        count=sum(box.count for box in group),
        lot=None,
        words=words.pop() if len(words) == 1 else None,
        expiry=None if None in expiries else min(expiry for expiry in expiries if expiry),
        opened=min((box.opened for box in group if box.opened), key=_clock, default=None),
        out_of_fridge=min((box.out_of_fridge for box in group if box.out_of_fridge), key=_clock, default=None),
        carton_check=group[0].carton_check if all(box.carton_check for box in group) else None,
    )


def _clock(wall: WallTime) -> dt.datetime:
    return wall.local


def _form_fits(box: KitProduct, injection: Injection) -> bool:
    return box.product.form is not Form.DEPOT and (box.product.form is Form.SPRAY) == (injection.route == "nasal")


def _several(injection: Injection, boxes: Sequence[KitProduct]) -> Finding:
    names = "; ".join(sorted(f"{box.product.id} ({box.strength})" for box in boxes))
    return Finding(
        "product-ambiguous",
        Level.STOP,
        f"More than one box at home could be meant: {names}.",
        "Have the boxes read again: they are entered as one product with two readings."
        if len({box.product.id for box in boxes}) == 1
        else "Ask the prescriber which one, and write its id as product in the injection; have the other put away.",
        "kit",
        "one box for one injection",
        _READ_BOX,
    )


def _wrong_form(injection: Injection, boxes: Sequence[KitProduct]) -> Finding:
    depot = [box for box in boxes if box.product.form is Form.DEPOT]
    if depot:
        return Finding(
            "depot-product",
            Level.STOP,
            f"The {injection.drug.name} at home is a depot ({depot[0].product.id}), which releases slowly and is never a trigger.",
            "Ask the prescriber and the pharmacy for the right product tonight.",
            "kit",
            "depot forms are never a trigger",
            _cite(depot[0], "never-trigger"),
        )
    at_home = ", ".join(sorted(f"{box.product.id} ({' or '.join(box.product.routes)})" for box in boxes))
    return Finding(
        "route-form",
        Level.STOP,
        f"The order says {injection.route}, but what is at home is {at_home}.",
        "Ask the prescriber; nasal and injected doses do not replace each other.",
        "kit",
        "label route",
        _cite(boxes[0], "routes"),
    )


def _related(injection: Injection, kit: Kit) -> Finding | None:
    """A box that people take for the ordered drug: the salt for the base, the recombinant for the urinary hormone."""
    ordered = injection.drug
    for box in sorted(kit.products, key=lambda box: box.product.id):
        held = box.product.drug
        if held.split()[0] == ordered.name.split()[0]:
            free_base = ordered.fact("free-base") or drug(held).fact("free-base")
            return Finding(
                "salt-or-base",
                Level.STOP,
                f"The order counts in {injection.drug_as_written}, the label in {box.product.labelled_as} ({box.product.id}).",
                "Ask the prescriber whether the dose is meant in the salt or in the base, and have the order say so.",
                "kit",
                free_base.text if free_base else box.product.labelled_as,
                free_base.cite() if free_base else _cite(box, "labelled-as"),
            )
        if {held, ordered.name} == {"chorionic gonadotropin", "choriogonadotropin alfa"}:
            return Finding(
                "recombinant-or-urinary",
                Level.STOP,
                f"The order says {injection.dose} of {ordered.name}; at home is {held} ({box.product.id}, {box.strength}).",
                "Ask the prescriber which product is meant; one is never converted into the other here.",
                "kit",
                "papers equate one syringe with 5,000, 6,500 and 10,000 units",
                "EU SmPC and leaflet of choriogonadotropin alfa; label texts disagree",
            )
    return None


def _not_at_home(injection: Injection, kit: Kit) -> Finding:
    at_home = ", ".join(sorted(box.product.id for box in kit.products)) or "nothing"
    wanted = injection.product or injection.drug.name
    return Finding(
        "product-missing",
        Level.STOP,
        f"{wanted} for a {injection.route} dose of {injection.drug.name} is not in the kit; at home: {at_home}.",
        "Ask her to read out every box again; then the pharmacy, or the prescriber.",
        "kit",
        "the ordered product is at home",
        "signed order",
    )


def _cite(box: KitProduct, fact: str) -> str | None:
    found = box.product.fact(fact)
    return found.cite() if found else None


def strength_of(box: KitProduct) -> Dose | Concentration | Finding:
    """The strength as read off the box, checked against the formulary; a concentration for a solution, else the content."""
    product = box.product
    wanted = product.concentration or product.content
    try:
        read = parse_concentration(box.strength) if product.form is Form.SOLUTION else parse_dose(box.strength)
    except Unreadable as error:
        return Finding(
            "strength-unreadable", Level.STOP, error.what, error.do, "kit", "strength as printed", product.id
        )
    if wanted is None or read == wanted:
        return read
    fact = product.facts.get("concentration") or product.facts["content"]
    return Finding(
        "strength-disagrees",
        Level.STOP,
        f'The box is entered as {product.id}, but the strength read off it is "{box.strength}".',
        f"Have her read the box again, letter by letter; {product.id} says {product.strength}.",
        "kit",
        product.strength,
        fact.cite(),
    )


def label_rule(box: KitProduct) -> LabelRule | Finding:
    """The mixing rule as read off the box, or the only one this product has."""
    rules = box.product.rules
    if box.label_rule is None and len(rules) == 1:
        return rules[0]
    known = ", ".join(f'"{rule.words.value}"' for rule in rules)
    if box.label_rule is None:
        return Finding(
            "label-rule-unread",
            Level.STOP,
            f"Labels of {box.product.id} differ in how they are mixed, and this box has not been read.",
            f"Have her read how much water the box says, and write it as label_rule: {known}.",
            "kit",
            known,
            rules[0].words.cite(),
        )
    found = box.product.rule(box.label_rule)
    if found is not None:
        return found
    return Finding(
        "label-rule-unknown",
        Level.STOP,
        f'"{box.label_rule}" is none of the mixing rules known for {box.product.id}.',
        f"Have her read the box again; known: {known}. If it really says so, ask the pharmacist.",
        "kit",
        known,
        rules[0].words.cite(),
    )


def box_findings(
    case: Case, injection: Injection, box: KitProduct, day: dt.date | None, as_of: Moment
) -> Iterable[Finding]:
    """What does not fit between an injection and its box: route, allergens, expiry, keeping, a compounded dilution."""
    yield from words_findings(case, box)
    yield from _route(injection, box)
    yield from _allergens(case, box.product.allergens, box.product.id, _cite(box, "allergens"))
    yield from _expiry(box.expiry, day, box.product.id)
    yield from _keeping(case, box, day, as_of)
    yield from _compounded(case, injection, box)


def _route(injection: Injection, box: KitProduct) -> Iterable[Finding]:
    if injection.route in box.product.routes:
        return
    confirmed = injection.route_confirmed_by
    yield Finding(
        "route-confirmed" if confirmed else "route-off-label",
        Level.NOTE if confirmed else Level.STOP,
        f"The order says {injection.route}; the label of {box.product.id} says {' or '.join(box.product.routes)}.",
        f"Route confirmed by {confirmed}; follow the order."
        if confirmed
        else "Ask the prescriber to confirm the route, and write route_confirmed_by. The route is never switched here.",
        "route",
        " or ".join(box.product.routes),
        _cite(box, "routes"),
    )


def _allergens(case: Case, contents: Iterable[str], what: str, source: str | None) -> Iterable[Finding]:
    for allergen in contents:
        told = [allergy for allergy in case.allergies if _means(allergy, allergen)]
        if told:
            yield Finding(
                "allergen",
                Level.STOP,
                f'{what} contains {allergen}, and she is allergic ("{told[0]}").',
                "Do not use it. Ask the prescriber and the pharmacy for a product or a diluent without it.",
                "kit",
                f"contains {allergen}",
                source,
            )


_LEAST_LETTERS = 4


def _means(told: str, allergen: str) -> bool:
    """Whether an allergy, as told, may mean this substance: one name within the other, letters alone."""
    one, other = (re.sub(r"[^a-z]", "", text.lower()) for text in (told, allergen))
    return min(len(one), len(other)) >= _LEAST_LETTERS and (one in other or other in one)


def allergy_questions(case: Case, boxes: Iterable[KitProduct]) -> Iterable[Finding]:
    """What to ask where an allergy is told: one that no figure here speaks of, and products whose contents are not known."""
    known = _known_allergens()
    for allergy in case.allergies:
        if not any(_means(allergy, allergen) for allergen in known):
            yield Finding(
                "allergy-unknown",
                Level.ASK,
                f'Nothing here says whether a product contains "{allergy}".',
                "Ask the pharmacist to compare it with the contents on every box.",
                "case",
                f"known here: {', '.join(known)}",
                "product labels",
            )
    unknown = (
        sorted({box.product.id for box in boxes if box.product.fact("allergens") is None}) if case.allergies else []
    )
    if unknown:
        yield Finding(
            "contents-unknown",
            Level.ASK,
            f"She has an allergy, and the contents of {', '.join(unknown)} are not known here.",
            "Ask the pharmacist to compare the allergy with the contents on the box.",
            "kit",
            "contents read from the label",
            "product labels",
        )


@cache
def _known_allergens() -> tuple[str, ...]:
    named = {allergen for product in products().values() for allergen in product.allergens}
    named |= {
        allergen for path, fact in facts("diluents").items() if path.endswith(".allergens") for allergen in fact.value
    }
    return tuple(sorted(named))


def _expiry(expiry: dt.date | None, day: dt.date | None, what: str) -> Iterable[Finding]:
    if expiry is None:
        yield Finding(
            "expiry-unread",
            Level.ASK,
            f"The expiry date of {what} has not been read.",
            "Have her read it off the box and write it as expiry.",
            "kit",
            "expiry on the carton",
            _READ_BOX,
        )
    elif day is not None and expiry < day:
        yield Finding(
            "expired",
            Level.STOP,
            f"{what} expired on {expiry}.",
            "Do not use it. Ask the pharmacy or the prescriber for another tonight.",
            "kit",
            f"expiry {expiry}",
            "carton",
        )


def _keeping(case: Case, box: KitProduct, day: dt.date | None, as_of: Moment) -> Iterable[Finding]:
    starts: dict[str, Moment] = {}
    for name, wall in (("opened", box.opened), ("out_of_fridge", box.out_of_fridge)):
        if wall is None:
            continue
        found = moment(wall, case.zone, f"kit, {box.product.id} {name}")
        if isinstance(found, Finding):
            yield found
        else:
            starts[name] = found
    if "opened" in starts and day is not None:
        yield from _opened(box, starts["opened"].wall.date(), day)
    if "out_of_fridge" in starts:
        yield from _out_of_fridge(box, starts["out_of_fridge"], as_of)
    in_use, room = box.product.fact("in-use-days"), box.product.fact("room-days")
    keep = keep_until(
        opened=starts.get("opened"),
        in_use_days=int(in_use.value) if in_use else None,
        out_of_fridge=starts.get("out_of_fridge"),
        room_days=int(room.value) if room else None,
    )
    if keep is not None and day is not None and keep.last_date < day:
        yield Finding(
            "kept-too-long",
            Level.STOP,
            f"{box.product.id} was usable until {keep.last_date}.",
            "Do not use it. Ask the pharmacy or the prescriber for another tonight.",
            "kit",
            keep.limit,
            in_use.cite()
            if in_use and "opened" in starts
            else _cite(box, "room-days") or facts("limits")["multi-dose-days"].cite(),
        )


def _out_of_fridge(box: KitProduct, left: Moment, as_of: Moment) -> Iterable[Finding]:
    if as_of < left:
        yield Finding(
            "out-of-fridge-later",
            Level.STOP,
            f"{box.product.id} is entered as out of the refrigerator since {left.wall:%Y-%m-%d %H:%M}, after this plan's moment.",
            "Check out_of_fridge and as_of.",
            "kit",
            "what is read of a box has happened",
            _READ_BOX,
        )
    elif box.product.fact("room-days") is None:
        yield Finding(
            "room-limit-unknown",
            Level.ASK,
            f"{box.product.id} has been out of the refrigerator since {left.wall:%Y-%m-%d %H:%M}, and how long it may be is not known here.",
            "Ask the pharmacist, with what the box says of keeping, whether it may still be used.",
            "kit",
            "days out of the refrigerator: not known",
            "product labels",
        )


def _opened(box: KitProduct, opened: dt.date, day: dt.date) -> Iterable[Finding]:
    if opened > day:
        yield Finding(
            "opened-later",
            Level.STOP,
            f"{box.product.id} is entered as opened on {opened}, after this dose.",
            "Check opened.",
            "kit",
            "opened before it is used",
            _READ_BOX,
        )
    elif box.product.form is not Form.SOLUTION:
        yield Finding(
            "opened-single",
            Level.STOP,
            f"{box.product.id} is already opened, and it is made to be used once.",
            "Do not use it. Ask the pharmacy or the prescriber for another tonight.",
            "kit",
            "one container, one use",
            "CDC, single-dose containers (read in a secondary copy)",
        )
    else:
        yield Finding(
            "opened-amount",
            Level.ASK,
            f"{box.product.id} is already opened; how much is left in it is not known.",
            "Ask her what is left in the vial, and have a new one at hand.",
            "kit",
            "what one vial holds is known only while it is closed",
            _READ_BOX,
        )


def _compounded(case: Case, injection: Injection, box: KitProduct) -> Iterable[Finding]:
    dilute = box.product.form is Form.SOLUTION and box.product.concentration is None
    if case.order.purpose is Purpose.TRIGGER and dilute and injection.product != box.product.id:
        yield Finding(
            "compounded-dilution",
            Level.STOP,
            f"The only {injection.drug.name} at home is a compounded dilution of {box.strength}, made for small daily doses.",
            f"Ask the prescriber whether the trigger is really to come from it; then write product = {box.product.id!r}. Otherwise the pharmacy.",
            "kit",
            "the standard vial holds 5 mg/mL",
            "FDA label of leuprolide acetate injection, description (read in the source)",
        )


def diluent_findings(case: Case, box: KitProduct, chosen: Volume, vials: int, day: dt.date | None) -> Iterable[Finding]:
    """Whether the diluent at home is the label's kind, enough, in date and without an allergen, and what of it must stay behind."""
    kind = box.product.facts["diluent"]
    right = [diluent for diluent in case.kit.diluents if diluent.kind == kind.value]
    if not right:
        yield _no_diluent(case.kit.diluents, kind.value, kind.cite())
        return
    allergens = facts("diluents").get(f"{kind.value}.allergens")
    if allergens is not None:
        yield from _allergens(case, allergens.value, kind.value, allergens.cite())
    for diluent in right:
        yield from _expiry(diluent.expiry, day, f"{diluent.kind} {diluent.volume}")
    enough = sum(diluent.count for diluent in right if diluent.volume >= chosen)
    if enough < vials:
        yield Finding(
            "diluent-short",
            Level.STOP,
            f"{chosen} of {kind.value} is needed for {'each of ' * (vials > 1)}{vials} vial{'s' * (vials > 1)}; at home: "
            + ", ".join(sorted(f"{d.count} x {d.volume}" for d in right))
            + ".",
            "Ask the pharmacy for more diluent; it is not made up from other liquids.",
            "kit",
            f"{chosen} for each vial, from one new container each",
            _READ_BOX,
        )
    elif max(diluent.volume for diluent in right) > chosen:
        yield Finding(
            "diluent-surplus",
            Level.NOTE,
            f"The {kind.value} at home holds {max(diluent.volume for diluent in right)}, of which only {chosen} is used.",
            "Say it twice: not all the water. The rest is thrown away.",
            "kit",
            f"{chosen} chosen",
            "order or signed mixing rule",
        )


def _no_diluent(held: Sequence[Diluent], wanted: str, source: str) -> Finding:
    others = ", ".join(sorted({diluent.kind for diluent in held}))
    if others:
        return Finding(
            "diluent-other-kind",
            Level.STOP,
            f"The label wants {wanted}; at home is {others}.",
            "Ask the prescriber and the pharmacist; one liquid is not exchanged for another here.",
            "kit",
            wanted,
            source,
        )
    return Finding(
        "diluent-missing",
        Level.STOP,
        f"There is no {wanted} in the kit.",
        "Ask her to look for the water vial in the box; then the pharmacy.",
        "kit",
        wanted,
        source,
    )


def needle_findings(kit: Kit, mixed: int, by_route: Mapping[str, int]) -> Iterable[Finding]:
    """Whether there are needles enough.

    One to mix each vial of powder with, and for each detachable syringe one to draw up with and one to inject by its route.
    """
    wide = mixed + sum(by_route.values())
    if _enough(kit.needles, "mixing") < wide:
        yield _no_needle("mixing", "mixing and drawing up", wide)
    for route, needed in by_route.items():
        if needed and _enough(kit.needles, route) < needed:
            yield _no_needle(route, f"{'an' if route[0] in 'aeiou' else 'a'} {route} injection", needed)


def fixed_needle_findings(injection: Injection, fixed: bool) -> Iterable[Finding]:
    """A stop for an intramuscular injection with the short fixed needle of a unit syringe."""
    if fixed and injection.route == "intramuscular":
        least = facts("limits")["needle-intramuscular-length-from"]
        yield Finding(
            "needle-fixed-intramuscular",
            Level.STOP,
            "The syringe chosen has a short fixed needle, which does not reach muscle.",
            "Use a syringe with a detachable needle, or ask the prescriber.",
            "kit",
            f"at least {least.text}",
            least.cite(),
        )


def suiting(needles: Sequence[Needle], use: str) -> list[Needle]:
    """The needles at home that suit a use: mixing, subcutaneous or intramuscular."""
    limits = facts("limits")
    if f"needle-{use}-gauge-from" not in limits:
        return []
    low, high = limits[f"needle-{use}-gauge-from"].value, limits[f"needle-{use}-gauge-to"].value
    short, long = limits[f"needle-{use}-length-from"].value, limits[f"needle-{use}-length-to"].value
    return [one for one in needles if one.count and low <= one.gauge <= high and short <= one.length_mm <= long]


def _enough(needles: Sequence[Needle], use: str) -> int:
    return sum(needle.count for needle in suiting(needles, use))


def _no_needle(use: str, what: str, needed: int) -> Finding:
    limits = facts("limits")
    low, high = limits[f"needle-{use}-gauge-from"], limits[f"needle-{use}-gauge-to"]
    short, long = limits[f"needle-{use}-length-from"], limits[f"needle-{use}-length-to"]
    return Finding(
        "needle-missing",
        Level.ASK,
        f"For {what} {needed} suitable needle{'s are' if needed > 1 else ' is'} needed; the kit holds fewer.",
        "Ask her to read gauge and length off the needles; then the pharmacy.",
        "kit",
        f"{low.value} to {high.value} G, {short.value} to {long.text}",
        low.cite(),
    )


def unverified(box: KitProduct, rule: LabelRule | None) -> tuple[str, ...]:
    """The figures the dose, mark or route rests on that were not read in their source; empty after a carton check."""
    if box.carton_check is not None:
        return ()
    used = [box.product.fact(name) for name in ("content", "concentration", "holds", "routes", "diluent")]
    used += [rule.words, rule.entire] if rule is not None else []
    return tuple(f"{fact.key} ({fact.cite()})" for fact in used if fact is not None and not fact.firm)
