"""From a planned injection to its steps: the label's technique first, the clinic's signed one where the label read is silent."""

from collections.abc import Iterable, Sequence

from hourmark.clock import Moment, clock_words
from hourmark.dose import Drawn
from hourmark.dose.steps import Step, Taking, unsigned
from hourmark.finding import Finding, Level
from hourmark.formulary import Barrel, Form
from hourmark.order import Case, Injection, KitProduct, Needle, Rules, Technique
from hourmark.plan.match import suiting
from hourmark.quantity import Volume


def technique_of(box: KitProduct, rules: Rules | None) -> Technique:
    """How hands move for this product: sourced figures of its label, else signed rules, else None."""
    signed = rules.technique if rules is not None else Technique()

    def labelled(name: str) -> str | None:
        fact = box.product.fact(f"technique-{name}")
        return str(fact.value) if fact is not None else None

    def seconds(name: str, otherwise: int | None) -> int | None:
        text = labelled(name)
        return int(text) if text is not None else otherwise

    bubbles = labelled("bubbles")
    return Technique(
        bubbles="push out" if bubbles == "push out" else "leave in" if bubbles == "leave in" else signed.bubbles,
        dissolve=seconds("dissolve", signed.dissolve),
        wait=seconds("wait", signed.wait),
        skin=signed.skin,
        drying=signed.drying,
        site=labelled("site"),
        angle=labelled("angle"),
        pumps=seconds("pumps", None),
        tilt=seconds("tilt", None),
    )


def taking_of(
    injection: Injection,
    case: Case,
    box: KitProduct,
    drawn: Drawn,
    diluent: Volume | None,
    needle_fixed: bool,
    at: Moment | None,
    rules: Rules | None,
) -> Taking | None:
    """One planned injection as it lies on the table, whose steps can be said in any language; None where the draw is refused."""
    if drawn.stopped:
        return None
    powder = box.product.form is Form.POWDER
    injected = box.product.form in (Form.POWDER, Form.SOLUTION) and not needle_fixed
    return Taking(
        form=box.product.form,
        medicine=injection.drug.name,
        strength=box.strength,
        route=injection.route,
        fills=drawn.fills,
        technique=technique_of(box, rules),
        vials=drawn.vials or 1,
        diluent=str(box.product.facts["diluent"].value) if powder else None,
        water=diluent,
        left=drawn.left,
        mixing_needle=_widest(suiting(case.kit.needles, "mixing")) if powder else None,
        drawing_needle=_widest(suiting(case.kit.needles, "mixing")) if injected else None,
        injection_needle=_finest(suiting(case.kit.needles, injection.route)) if injected else None,
        mixing_syringe=_mixing_syringe(case) if powder else None,
        needle_fixed=needle_fixed,
        minute=clock_words(at) if at is not None else None,
        by_helper=case.helper is not None,
        of_several=len(case.order.injections) > 1,
    )


def _mixing_syringe(case: Case) -> Barrel | None:
    """The largest syringe at home whose needle comes off."""
    held = [one.barrel for one in case.kit.syringes if one.count and not one.needle_fixed]
    return max(held, key=lambda barrel: (barrel.capacity, barrel.step), default=None)


def _widest(held: Sequence[Needle]) -> Needle | None:
    """The needle to mix and draw up with: the widest that suits, then the shortest, so that the finest are left to inject with."""
    return min(held, key=lambda needle: (needle.gauge, needle.length_mm, -needle.count), default=None)


def _finest(held: Sequence[Needle]) -> Needle | None:
    """The needle to inject with: the finest that suits, then the shortest, then the larger box, so that it does not hang on the kit's order."""
    return max(held, key=lambda needle: (needle.gauge, -needle.length_mm, needle.count), default=None)


def technique_findings(found: Iterable[tuple[str, tuple[Step, ...]]]) -> Iterable[Finding]:
    """An ask for each product whose technique neither the label read nor a signed rule gives."""
    for product, order in dict(found).items():
        if missing := unsigned(order):
            yield Finding(
                "technique-unsigned",
                Level.ASK,
                f"For {product} neither the label read here nor a signed rule says how to: {', '.join(missing)}.",
                "Read the leaflet in the box, or have the clinic's lead sign clinic.rules.technique.",
                "steps",
                "a technique comes from the label or a signed rule",
                "hourmark's own rule",
            )
