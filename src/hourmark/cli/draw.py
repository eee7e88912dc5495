"""hourmark draw: label, diluent, dose and syringes to a mark. It knows no clinic: where a signed rule would be needed it asks."""

from collections.abc import Callable, Iterable, Sequence
from typing import TypeVar

import click

from hourmark.cli.show import answer_json, print_findings, print_missteps, print_working, status, unread, unreadable
from hourmark.dose import Around, Drawn, How, Source, Spray, Syringe, Vial, draw, missteps, mix
from hourmark.exchange import draw_json
from hourmark.finding import Finding, Level, Unreadable
from hourmark.formulary import Barrel, Form, LabelRule, Product, barrel, other_strengths, product
from hourmark.order import ROUTES
from hourmark.quantity import (
    Concentration,
    Dose,
    Volume,
    divide,
    parse_concentration,
    parse_dose,
    parse_volume,
)

T = TypeVar("T")

_MOST_VIALS = 99


def run(
    label: str | None,
    product_id: str | None,
    diluent: str | None,
    dose: str,
    syringes: Sequence[str],
    vials: str,
    route: str | None,
    as_json: bool,
) -> int:
    """Answer, and the exit status."""
    problems: list[Finding] = []

    def read(parse: Callable[[str], T], text: str | None, where: str) -> T | None:
        try:
            return parse(text) if text is not None else None
        except Unreadable as error:
            problems.append(unreadable(error, where))
            return None

    ordered = read(parse_dose, dose, "--dose")
    strength = read(_strength, label, "--label")
    known = read(product, product_id, "--product")
    water = read(_diluent, diluent, "--diluent")
    named = [found for name in syringes if (found := read(barrel, name, "--syringe"))]
    at_hand = sorted(set(named), key=lambda one: (one.capacity, one.step, one.on_u100))
    count = read(_vials, vials, "--vials")
    way = read(_route, route, "--route")
    if not problems:
        problems += _combination(strength, known, label, product_id, water, count, syringes)
    if problems or ordered is None or count is None:
        return unread("draw", problems, as_json=as_json)
    source = _source(strength, known, water)
    others, tried = _other_mixes(known, water, ordered, at_hand, count, way)
    drawn = draw(ordered, source, at_hand, vials=count, route=way, other_ways=others, searched=tried)
    findings = (*drawn.findings, *_label_questions(known, water, ordered, way))
    foreseen, left_out = missteps(ordered, source, drawn, _around(known, at_hand, drawn))
    if as_json:
        answer_json(draw_json(drawn, foreseen, left_out, findings))
    else:
        _print(drawn)
        print_missteps(foreseen, left_out)
        print_findings(findings)
    return status(findings)


def _strength(text: str) -> Dose | Concentration:
    return parse_concentration(text) if "/" in text else parse_dose(text)


def _diluent(text: str) -> Volume:
    volume = parse_volume(text)
    if not volume:
        raise Unreadable(f'"{text}" is no diluent at all.', 'Write what is added to each vial, for example "1 mL".')
    return volume


def _vials(text: str) -> int:
    if text.isascii() and text.isdecimal() and 1 <= int(text[:9]) <= _MOST_VIALS:
        return int(text)
    raise Unreadable(f'"{text[:20]}" is not a number of vials.', f"Write a whole number from 1 to {_MOST_VIALS}.")


def _route(text: str) -> str:
    if text in ROUTES:
        return text
    raise Unreadable(f'"{text[:40]}" is not a route in full.', f"Write one of: {', '.join(ROUTES)}.")


def _combination(
    strength: Dose | Concentration | None,
    known: Product | None,
    label: str | None,
    product_id: str | None,
    water: Volume | None,
    vials: int | None,
    syringes: Sequence[str],
) -> Iterable[Finding]:
    if (label is None) == (product_id is None):
        yield unreadable(
            Unreadable("Exactly one of --label and --product is needed.", 'For example --label "5,000 units".'),
            "--label",
        )
        return
    if known is not None and known.form is Form.DEPOT:
        yield unreadable(
            Unreadable(f"{known.id} is a depot form, which is never drawn for a trigger.", "Choose another product."),
            "--product",
        )
    elif known is not None and known.form is Form.SOLUTION and known.concentration is None:
        yield unreadable(
            Unreadable(
                f"{known.id} has no fixed strength: it is read from its label.",
                'Write it as --label, for example --label "0.4 mg/mL".',
            ),
            "--product",
        )
    if known is not None and known.form in (Form.SYRINGE, Form.SPRAY) and vials != 1:
        yield unreadable(Unreadable(f"{known.id} has no vials.", "Leave --vials out."), "--vials")
    if known is not None and known.form in (Form.SYRINGE, Form.SPRAY) and syringes:
        yield unreadable(
            Unreadable(f"{known.id} is a {known.form}: nothing is drawn up from it.", "Leave --syringe out."),
            "--syringe",
        )
    powder = known.form is Form.POWDER if known is not None else not isinstance(strength, Concentration)
    if powder and water is None:
        yield unreadable(
            Unreadable("A powder needs --diluent.", 'Write what is added to each vial: --diluent "1 mL".'), "--diluent"
        )
    if not powder and water is not None:
        yield unreadable(Unreadable("Nothing is added to a ready product.", "Leave --diluent out."), "--diluent")


def _source(strength: Dose | Concentration | None, known: Product | None, water: Volume | None) -> Source:
    if isinstance(strength, Concentration):
        return Vial(strength)
    if known is None:
        assert strength is not None
        assert water is not None
        return mix(strength, water)
    match known.form:
        case Form.SOLUTION:
            assert known.concentration is not None
            return Vial(known.concentration, known.holds)
        case Form.SYRINGE:
            assert known.content is not None
            assert known.holds is not None
            return Syringe(known.id, known.content, known.holds)
        case Form.SPRAY:
            assert known.content is not None
            return Spray(known.id, known.content)
        case _:
            assert known.content is not None
            assert water is not None
            return mix(known.content, water)


def _around(known: Product | None, at_hand: Sequence[Barrel], drawn: Drawn) -> Around:
    """What is known beside the draw: no clinic, no kit, no other medicine."""
    supplied = known.fact("diluent-supplied") if known is not None else None
    unit_barrels = [one for one in at_hand if one.on_u100]
    used = next(iter(drawn.in_barrels), None)
    return Around(
        supplied=supplied.value if supplied else None,
        other_contents=other_strengths(known) if known is not None else None,
        unit_barrel=unit_barrels[-1] if unit_barrels else None,
        needle_fixed=barrel(used.device).needle_fixed if used else False,
        others=None,
    )


def _other_mixes(
    known: Product | None, water: Volume | None, dose: Dose, at_hand: Sequence[Barrel], vials: int, route: str | None
) -> tuple[str, str]:
    """With which other diluent volumes of its labels the dose lands on a line of a syringe at hand, and which were tried."""
    if known is None or water is None or known.content is None or type(dose) is not type(known.content):
        return "", ""
    content, part = known.content, divide(dose, known.content).denominator != 1
    prints: dict[Volume, list[str]] = {}
    for rule in known.rules:
        for volume in rule.volumes:
            if volume != water and not (part and rule.wants_entire(volume)):
                prints.setdefault(volume, []).append(f'"{rule.words.value}"')
    if not prints:
        return "", "no other diluent volume is printed on a label known here for a part of this vial" if part else ""
    ways = [
        f"{volume} of diluent with {one.id}, where the label says {' or '.join(labels)}"
        for volume, labels in sorted(prints.items())
        for one in at_hand
        if not draw(dose, mix(content, volume), [one], vials=vials, route=route).stopped
    ]
    return ", ".join(ways), f"other diluent volumes of its labels tried: {', '.join(map(str, sorted(prints)))}"


def _label_questions(known: Product | None, water: Volume | None, dose: Dose, route: str | None) -> Iterable[Finding]:
    """What a signed rule would have to settle; asked here, where no clinic is known."""
    if known is None:
        return
    if route is not None and route not in known.routes:
        yield Finding(
            "route-off-label",
            Level.ASK,
            f"The label of {known.id} says {' or '.join(known.routes)}, not {route}.",
            "Ask the prescriber to confirm the route.",
            "--route",
            " or ".join(known.routes),
            known.facts["routes"].cite(),
        )
    if water is None or known.content is None or type(dose) is not type(known.content):
        return
    silent = [rule for rule in known.rules if not rule.prints(water)]
    if silent:
        yield _asked("diluent-unsigned", f"{water} of diluent is not printed on every label of {known.id}", silent)
    entire = [rule for rule in known.rules if rule.prints(water) and rule.wants_entire(water)]
    if entire and divide(dose, known.content).denominator != 1:
        yield _asked(
            "part-dose-unsigned",
            f"{dose} is a part of {known.content}, and a label of {known.id} has all of this mix given at once",
            entire,
        )


def _asked(code: str, what: str, rules: Sequence[LabelRule]) -> Finding:
    labels = ", ".join(f'"{rule.words.value}"' for rule in rules)
    return Finding(
        code,
        Level.ASK,
        f"{what}: {labels}.",
        "Read the box. If it is such a label, the clinic needs a signed mixing rule; ask the prescriber.",
        "--diluent",
        labels,
        rules[0].words.cite(),
    )


def _print(drawn: Drawn) -> None:
    if drawn.stopped:
        click.echo("No mark: see the stop below.")
        return
    for place, fill in enumerate(drawn.fills, 1):
        number = f"{place} of {len(drawn.fills)}: " if len(drawn.fills) > 1 else ""
        match fill.how:
            case How.MARK:
                device = barrel(fill.device)
                click.echo(f"{number}{_place(device, fill.volume)} on {device.id} ({device.described})")
            case How.ALL:
                click.echo(f"{number}draw up everything, about {fill.volume}, with {fill.device}; inject all of it")
            case How.SYRINGE:
                click.echo(f"{number}one whole {fill.device} ({fill.volume})")
            case How.SPRAY:
                click.echo(f"{fill.sprays} sprays of {fill.device}")
    click.echo(f"Gives {drawn.given}, {drawn.share} of the order.")
    if drawn.tolerance is not None:
        click.echo(f"Tolerance of the barrel (for staff): {drawn.tolerance[0]} either way, {drawn.tolerance[1]}.")
    if drawn.left is not None:
        click.echo(f"Stays in the vial{'s' * ((drawn.vials or 1) > 1)}: {drawn.left}.")
    click.echo("Working:")
    print_working(drawn.working)
    click.echo("Follow the signed order and the product label; the prescriber decides.")


def _place(device: Barrel, volume: Volume | None) -> str:
    assert volume is not None
    return f"mark {device.mark(volume)} ({volume})" if device.on_u100 else f"{device.mark(volume)} mL"
