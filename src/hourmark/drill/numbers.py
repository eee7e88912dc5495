"""The right number of a computed call, out of the invented case's plan and the incident room; and reading the nurse's own."""

from hourmark.clock import Moment, moment, parse_span, parse_wall
from hourmark.drill.scenes import Scene, Wants, case_plan, plan_around
from hourmark.finding import Unreadable
from hourmark.incident import Answer, Kind, Leg, answer, limits_of, read_facts
from hourmark.incident.calls import Asked
from hourmark.incident.words import doses, spans
from hourmark.order import Lead
from hourmark.plan import CasePlan, PlannedInjection
from hourmark.quantity import Dose, divide, parse_dose, parse_number, parse_volume

_WALL = "%Y-%m-%d %H:%M"


class Doubtful(ValueError):
    """A scene whose number cannot be told from its plan and its facts."""


def number_of(scene: Scene) -> str | None:
    """The right number of a scene in words, such as "1,500 units" or "500 to 750 units"; None where it has none.

    Raises Doubtful when the plan or the answer does not hold it.
    """
    if scene.wants is None:
        return None
    plan = case_plan(scene.case)
    match scene.wants:
        case Wants.DOSE | Wants.LEAD:
            return number_in(answer_of(scene), scene)
        case Wants.SECOND:
            return _second(scene)
        case Wants.REST:
            return _rest(scene)
        case Wants.FASTING:
            return _wall(plan.fasting[0], scene)
        case Wants.WINDOW:
            return _window(plan, _planned(plan, scene))
        case _:
            return _of_the_page(scene.wants, _planned(plan, scene), scene)


def answer_of(scene: Scene) -> Answer | None:
    """The incident room's whole answer to a scene; None where nothing has gone wrong yet. Raises Doubtful when its moment is no time."""
    kind = Kind.LATE if scene.call.kind is Asked.SECOND_DOSE else scene.call.kind
    if not isinstance(kind, Kind) or not scene.facts:
        return None
    night = plan_around(scene.case).night
    now = moment(parse_wall(scene.now), night.clinic.zone)
    if not isinstance(now, Moment):
        raise Doubtful(f"{scene.call.id}: {now.what}")
    facts = read_facts(kind, scene.facts)
    return answer(case_plan(scene.case), kind, facts, limits_of(night.clinic.rules), now)


def number_in(said: Answer | None, scene: Scene) -> str:
    """The dose or the lead that a scene asks for, as an answer of the incident room has it. Raises Doubtful where it has none."""
    leg = _leg(said, scene)
    return _dose(leg) if scene.wants is Wants.DOSE else _lead(leg)


def _leg(said: Answer | None, scene: Scene) -> Leg:
    legs = [leg for leg in said.legs if leg.injection.id == scene.injection] if said is not None else []
    if not legs:
        raise Doubtful(f"{scene.call.id}: nothing is said of {scene.injection}")
    return legs[0]


def _dose(leg: Leg) -> str:
    if leg.given is None:
        raise Doubtful(f"{leg.injection.id}: the dose is not known")
    return doses(leg.given)


def _lead(leg: Leg) -> str:
    if leg.lead is None or leg.lead.lead is None:
        raise Doubtful(f"{leg.injection.id}: the lead is not known")
    return spans(leg.lead.lead)


def _second(scene: Scene) -> str:
    said = answer_of(scene)
    moved = [one for one in said.proposals if one.injection.id == scene.injection] if said is not None else []
    if not moved:
        raise Doubtful(f"{scene.call.id}: no second injection hangs on the first")
    return _wall(moved[0].at[0], scene)


def _rest(scene: Scene) -> str:
    """What the next pen has to give; the first gives all it holds."""
    dose, holds = parse_dose(scene.pen["dose"]), parse_dose(scene.pen["holds"])
    return str(dose * (1 - divide(holds, dose)))


def _planned(plan: CasePlan, scene: Scene) -> PlannedInjection:
    return next(one for one in plan.injections if one.injection.id == scene.injection)


def _window(plan: CasePlan, one: PlannedInjection) -> str:
    timing = one.injection.timing
    if plan.slot_at is None or not isinstance(timing, Lead) or timing.window is None:
        raise Doubtful(f"{one.injection.id}: the order has no window of leads")
    shortest, longest = timing.window
    ends = (plan.slot_at.before(longest), plan.slot_at.before(shortest))
    return " to ".join(format(end.seen_in(plan.case.zone).wall, _WALL) for end in ends)


def _of_the_page(wants: Wants, one: PlannedInjection, scene: Scene) -> str:
    """What stands on her page: mark, volume, vials or minute."""
    if one.drawn is None or one.drawn.volume is None or one.drawn.stopped:
        raise Doubtful(f"{scene.call.id}: nothing is drawn")
    match wants:
        case Wants.MARK:
            return " + ".join(str(fill.mark) for fill in one.drawn.fills)
        case Wants.VOLUME:
            return str(one.drawn.volume)
        case Wants.VIALS:
            return str(one.drawn.vials)
        case _:
            return _wall(one.timed.patient if one.timed else None, scene)


def _wall(at: Moment | None, scene: Scene) -> str:
    if at is None:
        raise Doubtful(f"{scene.call.id}: there is no minute")
    return format(at.wall, _WALL)


EXAMPLES = {
    Wants.DOSE: "2,400 units, 1.2 mg, or 100 to 300 units",
    Wants.LEAD: "33 h 15 min",
    Wants.MARK: "15, or 25 + 20 with two syringes",
    Wants.VOLUME: "0.35 mL",
    Wants.VIALS: "3",
    Wants.MINUTE: "2026-06-01 19:45",
    Wants.WINDOW: "2026-06-01 19:45 to 2026-06-01 21:45",
    Wants.SECOND: "2026-06-01 19:45",
    Wants.REST: "25 units",
    Wants.FASTING: "2026-06-01 19:45",
}
"""How a number of each kind is written."""

ASKED = {
    Wants.DOSE: "The dose that went in",
    Wants.LEAD: "The lead to the slot: as it is, or if it went in this minute",
    Wants.MARK: "The mark on her page",
    Wants.VOLUME: "The volume on her page",
    Wants.VIALS: "How many vials her dose takes",
    Wants.MINUTE: "The minute on her own clock",
    Wants.WINDOW: "The first and the last minute that the order's own window allows, on her clock",
    Wants.SECOND: "The proposed minute of the second injection, on her clock",
    Wants.REST: "What is still to be dialled on the next pen",
    Wants.FASTING: "The clinic's signed hour of the last food",
}
"""What each number is, in words for a question."""


def read_number(wants: Wants, text: str) -> tuple[object, ...]:
    """A number as a nurse types it, ready to be compared. Raises Unreadable with what to write."""
    plain = " ".join(text.split())
    match wants:
        case Wants.DOSE:
            return _ends(plain)
        case Wants.REST:
            return (parse_dose(plain),)
        case Wants.VOLUME:
            return (parse_volume(plain),)
        case Wants.LEAD:
            return (parse_span(plain),)
        case Wants.MARK:
            return tuple(sorted(parse_number(part.strip()) for part in plain.split("+")))
        case Wants.VIALS:
            return (parse_number(plain.removesuffix(" vials").removesuffix(" vial")),)
        case _:
            return tuple(parse_wall(part) for part in plain.split(" to "))


def _ends(text: str) -> tuple[object, ...]:
    """One dose, or two with "to" between; the first may leave its unit to the second."""
    first, between, last = text.partition(" to ")
    if not between:
        return (_one_dose(text),)
    _, _, unit = last.partition(" ")
    return (_one_dose(first if " " in first else f"{first} {unit}"), _one_dose(last))


def _one_dose(text: str) -> Dose:
    """A dose that went in, which may be none of it: no order can say "0 units", a report can."""
    number, _, unit = text.partition(" ")
    return parse_dose(f"1 {unit}") * 0 if number == "0" else parse_dose(text)


def agrees(wants: Wants, typed: str, right: str) -> bool:
    """Whether a typed number is the right one, however it is written; what cannot be read is not."""
    try:
        return read_number(wants, typed) == read_number(wants, right)
    except Unreadable:
        return False
