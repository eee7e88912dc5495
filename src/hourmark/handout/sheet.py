"""The patient's page from one case's plan: what it says and in which order. How it is printed is decided elsewhere."""

import hashlib
from collections import Counter
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass, replace
from functools import cached_property, partial
from itertools import groupby

from hourmark.clock import MORNING, Moment
from hourmark.dose import Fill, How
from hourmark.formulary import Barrel, Form, barrels
from hourmark.handout.content import (
    OWN_SIZE,
    Block,
    Card,
    Cautions,
    Columns,
    Glance,
    Hands,
    Heading,
    NewPage,
    Paragraph,
    Picture,
    Points,
    Released,
    Sheet,
    Steps,
    Text,
    plain,
)
from hourmark.handout.language import Language, Speaker, language
from hourmark.handout.pictures import device_picture, mark_words, said_steps, step_rows
from hourmark.handout.scene import RulerSeen, Scene, SyringeSeen
from hourmark.handout.text import sheet_text
from hourmark.order import After, MeasuredBarrel, Needle
from hourmark.plan import CasePlan, NightPlan, PlannedInjection
from hourmark.plan.languages import ENGLISH, signed_for_use
from hourmark.quantity import number_text
from hourmark.quantity.words import dose_words

READ_OFF_THE_BOXES = ("medicine-check", "water-check", "syringe-check", "needles-check", "sprays-check")
"""The steps by which the boxes are read before anything is opened."""


def patient_sheet(
    plan: CasePlan,
    night: NightPlan,
    code: str | None = None,
    version: int | None = None,
    earlier: Collection[str] = (),
    released: Released | None = None,
) -> Sheet:
    """The page for one case, in its own language or in the one of `code`.

    A page with a `version` has check words that are none of the `earlier` ones; they stay the same when it is released.
    A refused case gets no instruction at all; nothing here names another case, a misstep or a tolerance.
    """
    speaker = speaker_of(plan, night, code or plan.case.language)
    made = PageMaker(plan, night, speaker, version)
    blocks = tuple(made.refused() if plan.refused else made.page())
    draft = Sheet(
        case=plan.case.id,
        language=speaker.first.code,
        title=plain(speaker.say("page.title", case=plan.case.id).lines[0]),
        draft=speaker.say("page.draft"),
        check_word="",
        foot="",
        version=version,
        blocks=blocks,
    )
    unworded = replace(draft, blocks=(*blocks, *(() if plan.refused else made.small_print(""))))
    word = _check_words(sheet_text(unworded), speaker.first, earlier)
    if released is not None and not plan.refused:
        made.released = released
        blocks, draft = tuple(made.page()), replace(draft, draft=None)
    foot = speaker.first.word("small.page", case=plan.case.id, word=word, page="{page}", pages="{pages}")
    small = () if plan.refused else tuple(made.small_print(word))
    whole = replace(draft, check_word=word, foot=foot, blocks=(*blocks, *small))
    if plan.refused:
        return whole
    numbers = numbers_to_call(plan, night, speaker.first)
    return replace(whole, glances=tuple(made.glances()), hands=made.hands, numbers=numbers)


def speaker_of(plan: CasePlan, night: NightPlan, code: str) -> Speaker:
    """Who says a page in the language of `code`: with the English beside it where nobody has signed the translation."""
    alone = signed_for_use(code, night.night.clinic.rules)
    return Speaker((language(code),) if alone else (language(code), language(ENGLISH)))


def _check_words(text: str, spoken: Language, earlier: Collection[str]) -> str:
    """Two words chosen by the SHA-256 of all that the page says; other text has the same two in one of some 4,000 cases."""
    digest = hashlib.sha256(text.encode()).digest()
    first, second = spoken.tables["check-words"]["first"], spoken.tables["check-words"]["second"]
    words = f"{first[digest[0] % len(first)]} {second[digest[1] % len(second)]}"
    return words if words not in earlier else _check_words(f"{text}{words}", spoken, earlier)


def in_sequence(plan: CasePlan) -> list[PlannedInjection]:
    """A case's injections in time order; together ones in the ordered sequence."""
    sequence = {name: place for place, name in enumerate(plan.case.order.sequence)}
    return sorted(
        plan.injections,
        key=lambda one: (one.timed.patient.utc if one.timed else "", sequence.get(one.injection.id, 0)),
    )


def numbers_to_call(plan: CasePlan, night: NightPlan, spoken: Language) -> str:
    """The numbers that are answered at the minutes of a case's injections, in words."""
    clinic = night.night.clinic
    answered = dict.fromkeys(clinic.number_at(one.timed.clinic.wall) for one in in_sequence(plan) if one.timed)
    known = [number for number in answered if number is not None]
    if not known:
        return spoken.word("call.number-open")
    said, *others = known
    for other in others:
        said = spoken.word("call.numbers-or", one=said, other=other)
    return said


@dataclass(frozen=True, slots=True)
class Leg:
    """One part of one medicine's steps: whether it is got ready or given, its heading, and what is said below that."""

    one: PlannedInjection
    ready: bool
    heading: Text
    about: tuple[Text, ...]


class PageMaker:
    """Makes the blocks of one case's page, and what else says the same in the same words."""

    def __init__(self, plan: CasePlan, night: NightPlan, speaker: Speaker, version: int | None) -> None:
        self.plan, self.night, self.version = plan, night, version
        self.released: Released | None = None
        self.say, self.speaker = speaker.say, speaker
        self.ones = in_sequence(plan)
        self.count = len(self.ones)
        self.nasal = all(one.injection.route == "nasal" for one in self.ones)

    def refused(self) -> Iterator[Block]:
        """The page of a case that cannot be carried out: whom to call."""
        clinic, as_of = self.night.night.clinic, self.night.as_of
        yield Heading(1, self.say("page.title", case=self.plan.case.id))
        yield Paragraph(self.say("page.refused"))
        yield Cautions((self.say("page.refused-do"),))
        if as_of and (number := clinic.number_at(as_of.wall)):
            yield Paragraph(self.say("page.refused-number", number=number))

    def page(self) -> Iterator[Block]:
        """The whole page but for its small print."""
        yield from self._head()
        for place, one in enumerate(self.ones, 1):
            yield Card(tuple(self._medicine(one, place)))
        yield Cautions(self.cautions())
        yield Columns(tuple(self._boxes()), (*self._table(), *self._stop()))
        if visit := tuple(self._visit()):
            yield Card(visit)
        yield from self._true_size()
        yield from self._steps()

    def glances(self) -> Iterator[Glance]:
        """Every medicine in pictures and digits."""
        for place, one in enumerate(self.ones, 1):
            assert one.timed is not None
            assert one.drawn is not None
            at = one.timed.patient
            face = Picture(Scene("clock", clock=(at.wall.hour, at.wall.minute)), f"{at.wall:%H:%M}")
            yield Glance(
                place=str(place),
                box=self._box(one),
                water=f"+ {one.diluent}" if one.diluent is not None else "",
                date=f"{at.wall:%Y-%m-%d}",
                clock=self._clock(one),
                face=face,
                devices=tuple((_digits(fill), device_picture(fill, self.speaker)) for fill in one.drawn.fills),
            )

    def _box(self, one: PlannedInjection) -> str:
        """What must stand on the box: drug and strength."""
        assert one.box is not None
        return f"{one.injection.drug.name}, {self.speaker.first.amount(one.box.strength)}"

    def _clock(self, one: PlannedInjection) -> str:
        """The minute in digits; in an hour that comes twice also which one."""
        assert one.timed is not None
        at = one.timed.patient
        return ", ".join(filter(None, (f"{at.wall:%H:%M}", *self.speaker.first.clock_time(at).split(", ")[1:])))

    def small_print(self, word: str) -> Iterator[Block]:
        """Where the page comes from, with its check words."""
        order, zone = self.plan.case.order, self.night.night.clinic.zone.name
        at = self.night.as_of.local if self.night.as_of else "?"
        written = self.speaker.first.tables["written"]
        lines = [
            self.say("small.order", by=order.signed_by, at=order.signed_at, zone=zone),
            self.say("small.planned", at=at, time_data=self.night.time_data),
            self.say("small.version", word=word, date=lambda spoken: spoken.date(written)),
            *self._edition(zone),
            *self._rules(),
            *(self.say("small.source", source=source) for source in self._sources()),
            self.say("small.follow"),
        ]
        yield Card(
            (Heading(2, self.say("small.heading")), *(Paragraph(text, "small") for text in lines)),
        )

    def _edition(self, zone: str) -> Iterator[Text]:
        """Which version this is, who released it, and who checked it."""
        if self.version is not None:
            yield self.say("small.edition", version=self.version)
        if (released := self.released) is not None:
            yield self.say("small.released", by=released.by, at=released.at, zone=zone)
            if released.checked_by is not None:
                yield self.say("small.checked", by=released.checked_by)

    def _rules(self) -> Iterator[Text]:
        """Who signed the clinic's rules, and who measured the barrels that are drawn at true size."""
        if (rules := self.night.night.clinic.rules) is not None:
            yield self.say("small.rules", by=rules.signed_by, at=rules.signed_at)
        for _, barrel, one in self._measured():
            length = f"{number_text(one.scale_length)} mm"
            syringe = partial(_barrel, barrel)
            yield self.say("small.measured", syringe=syringe, length=length, by=one.measured_by, at=one.measured_at)

    def _measured(self) -> list[tuple[Fill, Barrel, MeasuredBarrel]]:
        """The fills to a mark in barrels whose scale the clinic measured."""
        clinic = self.night.night.clinic
        fills = dict.fromkeys(
            fill for one in self.ones if one.drawn for fill in one.drawn.fills if fill.how is How.MARK
        )
        found = ((fill, barrel := barrels()[fill.device], clinic.measured_scale(barrel)) for fill in fills)
        return [(fill, barrel, one) for fill, barrel, one in found if one is not None]

    def _head(self) -> Iterator[Block]:
        yield Heading(1, self.say("page.title", case=self.plan.case.id))
        yield from self._standing()
        if len(self.speaker.languages) > 1:
            yield Paragraph(self.say("page.not-reviewed"))
        if self.released is None and self.plan.asks:
            yield Paragraph(self.say("page.open-question"))
        yield from map(Paragraph, self.who())
        yield Paragraph(self.number())

    def who(self) -> Iterator[Text]:
        """Who injects, how many, and whether together."""
        who, many = "helper" if self.plan.case.helper else "you", "one" if self.count == 1 else "many"
        yield self.say(f"who.{who}-{many}", helper=self.plan.case.helper, count=self.count)
        gap = self.plan.case.order.largest_gap
        if self.plan.together and gap:
            some = "" if len(self.plan.together[0]) == self.count else "-some"
            yield self.say(f"who.together{some}", gap=gap)
        minutes = {one.timed.patient.utc for one in self.ones if one.timed is not None}
        if len(minutes) > 1:
            yield self.say("who.apart", count=len(minutes))

    def _standing(self) -> Iterator[Block]:
        """Whether the page counts yet."""
        if self.released is None:
            yield Paragraph(self.say("page.unread"), "sign")
        else:
            yield Paragraph(self.say("page.released", version=self.version), "sign")
            if self.version != 1:
                yield Paragraph(self.say("page.replaces"), "sign")
            if self.released.checked_by is None:
                yield Paragraph(self.say("page.unchecked"), "sign")

    def _medicine(self, one: PlannedInjection, place: int) -> Iterator[Block]:
        assert one.drawn is not None
        yield Heading(2, self.heading(one, place))
        yield Paragraph(self.when(one))
        if (provisional := self.provisional(one)) is not None:
            yield Cautions((provisional,))
        if (clock := self.clinic_clock(one)) is not None:
            yield Paragraph(clock)
        yield Paragraph(self.dose(one))
        yield Paragraph(self.route(one))
        yield from map(Paragraph, self.water(one))
        yield from self._fills(one)

    def heading(self, one: PlannedInjection, place: int) -> Text:
        """Which medicine of how many."""
        return self.say("medicine.heading", place=place, count=self.count, medicine=one.injection.drug.name)

    def when(self, one: PlannedInjection) -> Text:
        """The minute as read out, on her clock."""
        assert one.timed is not None
        patient = one.timed.patient
        return self.say("medicine.when", said=lambda spoken: spoken.said(patient))

    def provisional(self, one: PlannedInjection) -> Text | None:
        """That the minute hangs on the actual time of another injection; None where it does not."""
        timing = one.injection.timing
        return self.say("medicine.provisional", gap=timing.gap) if isinstance(timing, After) else None

    def clinic_clock(self, one: PlannedInjection) -> Text | None:
        """The same minute on the clinic's clock; None where both clocks show the same."""
        assert one.timed is not None
        patient, clinic = one.timed.patient, one.timed.clinic
        if clinic.wall == patient.wall:
            return None
        return self.say("medicine.clinic-clock", said=partial(_moment, clinic))

    def dose(self, one: PlannedInjection) -> Text:
        """The dose in digits and in words."""
        injection = one.injection
        return self.say(
            "medicine.dose",
            dose=lambda spoken: spoken.amount(injection.dose),
            words=lambda spoken: dose_words(injection.dose, spoken.code),
        )

    def route(self, one: PlannedInjection) -> Text:
        """The route, and what it means."""
        injection = one.injection
        return self.say("medicine.route", route=lambda spoken: spoken.word(f"routes.{injection.route}"))

    def water(self, one: PlannedInjection) -> Iterator[Text]:
        """How much is added to the powder; nothing where none is."""
        if one.diluent is None or one.box is None or one.drawn is None:
            return
        kind, many = one.box.product.facts["diluent"].value, "one" if one.drawn.vials == 1 else "many"
        yield self.say(f"medicine.water-{many}", water=one.diluent, diluent=lambda spoken: spoken.amount(kind))
        if one.around.supplied and one.around.supplied > one.diluent:
            yield self.say("medicine.water-rest", diluent=lambda spoken: spoken.amount(kind))

    def _fills(self, one: PlannedInjection) -> Iterator[Block]:
        assert one.drawn is not None
        fills = one.drawn.fills
        yield from map(Paragraph, self.several(one))
        for place, fill in enumerate(fills, 1):
            yield from map(Paragraph, self.take(one, fill, place))
            if place == 1 or fill != fills[place - 2]:
                yield device_picture(fill, self.speaker)

    def several(self, one: PlannedInjection) -> Iterator[Text]:
        """That the dose is given in several injections; nothing where it is one."""
        assert one.drawn is not None
        if len(one.drawn.fills) > 1:
            dose = one.injection.dose
            yield self.say(
                "medicine.several-fills", dose=lambda spoken: spoken.amount(dose), count=len(one.drawn.fills)
            )

    def take(self, one: PlannedInjection, fill: Fill, place: int) -> Iterator[Text]:
        """What is taken with one fill: the syringe and its mark, everything, a prefilled syringe, or sprays."""
        assert one.drawn is not None
        count = len(one.drawn.fills)
        numbered, where = "-numbered" if count > 1 else "", {"place": place, "count": count}
        match fill.how:
            case How.SPRAY:
                yield self.say("medicine.sprays", sprays=fill.sprays)
            case How.SYRINGE:
                yield self.say(f"medicine.prefilled{numbered}", volume=fill.volume, **where)
            case How.MARK | How.ALL:
                barrel = barrels()[fill.device]
                yield self.say(f"medicine.syringe{numbered}", syringe=partial(_barrel, barrel), **where)
                yield self._up_to(fill, barrel, place, one.drawn.vials or 1)

    def _up_to(self, fill: Fill, barrel: Barrel, place: int, vials: int) -> Text:
        if fill.how is How.ALL:
            which = "left" if place > 1 else "vial" if vials == 1 else "vials"
            return self.say(f"medicine.everything-{which}", volume=fill.volume, vials=vials)
        if barrel.on_u100:
            return self.say("medicine.stop-u100", mark=fill.mark, volume=fill.volume)
        return self.say("medicine.stop-ml", volume=f"{fill.mark} mL")

    def number(self) -> Text:
        """The number to call."""
        name = self.night.night.clinic.name
        return self.say(
            "call.number", clinic=name, numbers=lambda spoken: numbers_to_call(self.plan, self.night, spoken)
        )

    def cautions(self) -> tuple[Text, Text, Text]:
        """What must not be overlooked: emergencies, what keeps from injecting, and what is done when late, wrong or unsure."""
        route = "-nasal" if self.nasal else ""
        who = "-helper" if self.plan.case.helper and not self.nasal else route
        return self.say("call.emergency"), self.say(f"call.before{who}"), self.say(f"call.unsure{route}")

    def _stop(self) -> Iterator[Block]:
        yield Heading(2, self.say("stop.heading"))
        yield Paragraph(self.stop())

    def stop(self) -> Text:
        """What is no longer taken, by the order."""
        names = ", ".join(self.plan.case.order.stop)
        who = "stop-helper" if self.plan.case.helper and not self.nasal else "stop"
        return self.say(f"stop.{who}", names=names) if names else self.say("stop.nothing")

    def _boxes(self) -> Iterator[Block]:
        """What is read off the boxes before anything is opened, as the first steps say it."""
        yield Heading(2, self.say("first.heading"))
        yield Paragraph(self.say("first.lead"))
        found = [
            said.do
            for one in self.ones
            for said in said_steps(one, "ready", self.speaker)
            if said.step.code in READ_OFF_THE_BOXES
        ]
        yield Points(tuple(dict.fromkeys(found)), ticked=True)

    def _table(self) -> Iterator[Block]:
        yield Heading(2, self.say("table.heading"))
        yield Points(self.laid_out())

    def laid_out(self) -> tuple[Text, ...]:
        """What lies on the table, each with how many."""
        things: Counter[Text] = Counter()
        for one in self.ones:
            for thing, count in self._things(one):
                things[thing] += count
        around = ["sharps"] if not self.nasal else ["tissue"]
        skins = {one.taking.technique.skin for one in self.ones if one.taking and one.injection.route != "nasal"}
        around += ["wipe"] * ("wipe" in skins) + ["soap"] * ("soap and water" in skins) + ["clock"]
        counted = [self.say("table.count", count=count, thing=self._in(thing)) for thing, count in things.items()]
        return (*counted, *(self.say(f"table.{name}") for name in around))

    def _in(self, text: Text) -> Callable[[Language], str]:
        """A text as a figure of another, in the language that asks."""
        return lambda spoken: plain(text.lines[self.speaker.languages.index(spoken)])

    def _things(self, one: PlannedInjection) -> Iterator[tuple[Text, int]]:
        assert one.box is not None
        assert one.drawn is not None
        assert one.taking is not None
        form, taking, vials = one.box.product.form, one.taking, one.drawn.vials or 1
        drawn = [fill for fill in one.drawn.fills if fill.how in (How.MARK, How.ALL)]
        boxes = len(one.drawn.fills) if form is Form.SYRINGE else vials
        name = f"{one.injection.drug.name}, {one.box.strength}"
        yield self.say(f"table.{form.name.lower()}", name=lambda spoken: spoken.amount(name)), boxes
        if taking.diluent:
            yield self.say("table.water", diluent=lambda spoken: spoken.amount(taking.diluent)), vials
        syringes = Counter(barrels()[fill.device] for fill in drawn)
        if taking.mixing_syringe and taking.water:
            syringes[taking.mixing_syringe] += vials
        for barrel, count in syringes.items():
            yield self.say("table.barrel", syringe=partial(_barrel, barrel)), count
        needles = Counter({taking.mixing_needle: vials}) if taking.mixing_needle else Counter()
        for needle in (taking.drawing_needle, taking.injection_needle):
            if needle:
                needles[needle] += len(drawn)
        for needle, count in needles.items():
            yield (
                self.say(
                    "table.needle",
                    needle=partial(_needle, needle),
                ),
                count,
            )

    def _visit(self) -> Iterator[Block]:
        if said := tuple(self.visit()):
            yield Heading(2, self.say("slot.heading"))
            yield from map(Paragraph, said)

    def visit(self) -> Iterator[Text]:
        """When she is to be there, and until when she may eat and drink; nothing where there is no slot."""
        plan = self.plan
        if plan.slot_at is None or plan.slot is None:
            return
        solids, clear = plan.fasting
        for name, at in (
            (str(plan.slot.kind), plan.slot_at),
            ("arrival", plan.arrival),
            ("no-food", solids),
            ("no-drink", clear),
        ):
            if at is not None:
                yield self.say(f"slot.{name}", said=partial(_moment, at))
            if at is plan.slot_at:
                yield self.say("slot.zone", zone=at.zone.name)

    def _true_size(self) -> Iterator[Block]:
        """The very syringes at true size, where the clinic measured them, with a ruler to check the print."""
        measured = self._measured()
        if not measured:
            return
        say = self.say
        yield NewPage()
        yield Heading(2, say("size.heading"))
        yield Paragraph(say("size.print"))
        yield Picture(RulerSeen(), str(say("alt.ruler")), size=OWN_SIZE)
        yield Paragraph(say("size.lay"))
        for fill, barrel, one in measured:
            assert fill.volume is not None
            mark = mark_words(fill, barrel, self.speaker.first)
            caption = say("size.true", syringe=partial(_barrel, barrel))
            seen = SyringeSeen(barrel, fill.volume, one.scale_length)
            yield Picture(seen, str(say("alt.syringe", mark=mark)), caption, OWN_SIZE)

    def _in_order(self) -> Iterator[tuple[PlannedInjection, int, bool]]:
        """What hands do, in order: medicines on one minute are all got ready before the first is given."""
        placed = enumerate(self.ones, 1)
        for _, grouped in groupby(placed, key=lambda entry: entry[1].timed.patient.utc if entry[1].timed else ""):
            group = list(grouped)
            yield from ((one, place, True) for place, one in group)
            yield from ((one, place, False) for place, one in group)

    @cached_property
    def hands(self) -> tuple[Hands, ...]:
        """The steps of every medicine, in the order of the page."""
        return tuple(
            Hands(
                str(place),
                self._box(one),
                "" if ready else self._clock(one),
                ready,
                step_rows(one, self.plan.case, "ready" if ready else "give", self.speaker),
            )
            for one, place, ready in self._in_order()
        )

    def _steps(self) -> Iterator[Block]:
        for leg, part in zip(self.legs(), self.hands, strict=True):
            if leg.ready:
                yield NewPage()
            yield Heading(2, leg.heading)
            yield from map(Paragraph, leg.about)
            yield Steps(part.rows)
            if not leg.ready:
                yield Paragraph(self.say("give.written"))

    def legs(self) -> Iterator[Leg]:
        """The headings over the steps, in the order of the page, and what is said below them."""
        seen: set[str] = set()
        for (one, place, ready), part in zip(self._in_order(), self.hands, strict=True):
            assert one.box is not None
            many = "one" if len(part.rows) == 1 else "many"
            heading = self.say(
                f"{'ready' if ready else 'give'}.heading-{many}",
                place=place,
                count=self.count,
                medicine=one.injection.drug.name,
                steps=len(part.rows),
            )
            yield Leg(one, ready, heading, self._about(one, one.box.product.id in seen) if ready else ())
            seen.add(one.box.product.id)

    def _about(self, one: PlannedInjection, again: bool) -> tuple[Text, ...]:
        say, box = self.say, one.box
        assert box is not None
        assert one.timed is not None
        assert one.drawn is not None
        form = box.product.form
        lines = [say("ready.zone", zone=one.timed.patient.zone.name), say("ready.box", name=box.product.name)]
        each = {Form.POWDER: "vial", Form.SYRINGE: "syringe", Form.SPRAY: "spray"}.get(form, "ml")
        lines.append(say(f"ready.strength-{each}", strength=lambda spoken: spoken.amount(box.strength)))
        if again:
            lines.append(say("ready.new-one"))
        if box.words:
            lines.append(say("ready.words", words=box.words))
        for name, at in (("lay-out", one.times.lay_out), ("mix" if form is Form.POWDER else "draw", one.times.mix_at)):
            if at is not None and (name == "lay-out" or form in (Form.POWDER, Form.SOLUTION)):
                lines.append(say(f"ready.{name}", clock=partial(_day_and_clock, at)))
                if name == "lay-out":
                    lines.append(say("ready.alarm-nasal" if form is Form.SPRAY else "ready.alarm"))
        if one.drawn.vials is not None and (one.drawn.vials > 1 or form is Form.POWDER):
            lines.append(say("ready.vials", vials=one.drawn.vials))
        if one.drawn.left and form in (Form.POWDER, Form.SOLUTION):
            lines.append(say("ready.stays", left=one.drawn.left))
            keep = one.keep
            lines.append(
                say("ready.throw")
                if keep is None
                else say("ready.keep", date=lambda spoken: spoken.date(keep.last_date))
            )
        return tuple(lines)

    def _sources(self) -> list[str]:
        facts = (
            fact
            for one in self.ones
            if one.box is not None
            for fact in (
                one.box.product.fact("content"),
                one.box.product.fact("concentration"),
                one.rule.words if one.rule else None,
                *(fact for name, fact in one.box.product.facts.items() if name.startswith("technique-")),
            )
        )
        return list(dict.fromkeys(fact.cite() for fact in facts if fact is not None))


def _moment(at: Moment, spoken: Language) -> str:
    return spoken.moment(at)


def _day_and_clock(at: Moment, spoken: Language) -> str:
    """Day and clock time; after midnight also whose night it is, so that it is not taken for the evening of that day."""
    said = spoken.word("ready.day-clock", day=spoken.day(at), clock=spoken.clock_time(at))
    return said if at.wall.hour >= MORNING else f"{said}, {spoken.night(at)}"


def _needle(needle: Needle, spoken: Language) -> str:
    return spoken.part("needle", gauge=needle.gauge, length=needle.length_mm)


def _digits(fill: Fill) -> str:
    """What is read on the syringe or bottle, in digits: the mark, the volume, the number of sprays."""
    if fill.how is How.MARK:
        return str(fill.mark) if barrels()[fill.device].on_u100 else f"{fill.mark} mL"
    return f"{fill.sprays} ×" if fill.how is How.SPRAY else str(fill.volume)


def _barrel(barrel: Barrel, spoken: Language) -> str:
    if not barrel.on_u100:
        return spoken.word("medicine.ml", capacity=barrel.capacity, step=barrel.step)
    step, largest = barrel.mark(barrel.step), number_text(barrel.mark(barrel.capacity).value)
    many = "one" if step.value == 1 else "many"
    return spoken.word(f"medicine.u100-{many}", capacity=barrel.capacity, step=step, largest=largest)
