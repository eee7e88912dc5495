"""A night at an invented clinic, drawn from one seed and played on the real acts, with everything going wrong that can."""

import itertools
import random
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from hourmark.case import calls, handover, night, opening, orders, phone, rules, sheets, slots
from hourmark.case.asked import Asked, Role
from hourmark.case.board import Row
from hourmark.case.events import Problem
from hourmark.case.morning import morning_words
from hourmark.case.watch import ClaimRung
from hourmark.clock import parse_zone
from hourmark.desk import Answer, Command, Desk, Done, morning_of
from hourmark.desk import watch as watching
from hourmark.ledger import NotStored, verify
from tests.case.world import LEAD, NURSE, SECOND, THEATRE, Person
from tests.night import worlds
from tests.night.clocks import instant, meanings, wall_of
from tests.night.faults import Fault, FaultyStore, Gone
from tests.night.model import (
    CALLED,
    CLAIMED,
    KEPT,
    LEADS,
    SUPPORTED,
    Model,
    heard_since,
    holding,
    holds,
    is_silent,
    standings,
)

HERSELF = Person("she herself", Role.PATIENT)
SOMEBODY_ELSE = Person("Dr. N. Ekwall", Role.PRESCRIBER)
STEPS = 34
"""So often at most does time go on before the morning."""

SWALLOWED, WHOLE, REPLAYED = (
    "the watch says so when it cannot watch",
    "the record is whole",
    "the board of a moment is shown again as it was",
)

LIKELY = {
    "two medicines": 24,
    "six hours apart": 16,
    "measured and sprayed": 18,
    "clocks go back": 16,
    "clocks go forward": 10,
    "travellers": 15,
    "all ten": 2,
}
"""How often each night is played."""

PARTS = ("half of it", "0.5 mL", "9 mL", "2.5 mL", "none of it", "none of it")
"""What may be said where not all went in."""

LADDERS: tuple[list[dict[str, str]] | None, ...] = (
    worlds.LADDER,
    worlds.LADDER,
    worlds.LADDER[:2],
    [{"after": "10 min", "tell": "her own number"}, *worlds.LADDER[1:]],
    [worlds.LADDER[0], {"after": "20 min", "tell": "her helper"}, worlds.LADDER[2]],
    [{"after": "5 min", "tell": "her helper"}, *worlds.LADDER],
    [worlds.LADDER[0], worlds.LADDER[1], {"after": "35 min", "tell": "her own number"}],
    None,
)


@dataclass(slots=True)
class Request:
    """Something that somebody wants done, sent until it is answered; `due` is the minute at which it arrives next."""

    command: Command
    who: Person
    key: str
    due: int
    expected: dict[str, int]
    tries: int = 0


class ObservedDesk(Desk):
    """A desk whose every answer the simulation sees."""

    def __init__(self, simulation: "Simulation", store: FaultyStore) -> None:
        super().__init__(store, simulation.salt)
        self._simulation = simulation

    def perform(self, command: Command, asked: Asked, key: str, expected: Any = None, beside: Any = None) -> Answer:
        def do() -> Answer:
            return super(ObservedDesk, self).perform(command, asked, key, expected, beside)

        return self._simulation.answered(do, command, asked, key, dict(expected or {}))


@dataclass(slots=True)
class Watcher:
    """One of the workers that watch; `back` is the minute at which a dead one is started again."""

    desk: Desk
    back: int | None = None


def play(seed: int) -> Counter[str]:
    """One night. Counts what was met in it; raises Broken where something does not hold."""
    with worlds.lean():
        return Simulation(seed).play()


def unspoken(case: dict[str, Any]) -> list[dict[str, Any]]:
    """What is on the last page of an open case and nobody has spoken of."""
    now = [one for one in standings(case) if one["current"] and is_silent(one)]
    return [one["due"] for one in now] if not case["closed"] else []


class Simulation:
    """A night under way. `minute` is the true time, `drift` what the machine's clock is ahead of it; two desks answer beside each other."""

    def __init__(self, seed: int) -> None:
        self.draw = random.Random(seed)
        (name,) = self.draw.choices(list(LIKELY), list(LIKELY.values()))
        self.night = worlds.night(name)
        self.store = FaultyStore(self.night.store())
        self.model = Model(self.night)
        self.seen: Counter[str] = Counter({f"night: {name}": 1})
        self._grains, self._keys = itertools.count(1), itertools.count(1)
        self._claims: list[ClaimRung] = []
        self._inside = False
        self.waiting: list[Request] = []
        self.drift, self.steady = 0, True
        self.shown: tuple[str, list[Row]] | None = None
        self.up_again: int | None = None
        dues = [due["at"] for case in self.model.cases.values() for sheet in case["sheets"] for due in sheet["dues"]]
        self.minute: int = min(dues) - self.draw.randint(20, 70)
        self.desk: Desk = ObservedDesk(self, self.store)
        self.desk._memo._states.update(self.night.folded)
        alone = self.draw.random() < 0.1
        self.beside = self._another_desk(alone)
        self.watchers = [Watcher(self._another_desk(alone)) for _ in range(2)]

    def salt(self) -> bytes:
        return next(self._grains).to_bytes(16, "big")

    def _another_desk(self, alone: bool) -> Desk:
        """A desk in a process of its own, or in the same one, where states that were read are shared."""
        desk = ObservedDesk(self, self.store)
        if not alone:
            desk._memo = self.desk._memo
        return desk

    @property
    def now(self) -> int:
        """What the machine's clock says."""
        return self.minute + self.drift

    # The course of a night

    def play(self) -> Counter[str]:
        self.check()
        for _ in range(STEPS):
            if self.minute > max(self._marks(), default=0) + 45:
                break
            self.go_on()
            self.watch()
            for _ in range(self.draw.choice((0, 1, 1, 2))):
                self.something()
            self.deliver()
            self.check()
        self.morning()
        return self.seen

    def _marks(self) -> list[int]:
        """Minutes at which something is due."""
        found: list[int] = []
        for case in self.model.cases.values():
            for due in unspoken(case):
                found += (due["mix_at"] or due["at"], due["at"])
                found += (due["at"] + after for after, _ in self.model.ladder)
        return found

    def go_on(self) -> None:
        """Time goes on; now and then the machine's clock is put forward or back, and what was down is up again."""
        ahead = [mark - self.minute for mark in self._marks() if mark > self.minute]
        step, to_mark = self.draw.choice((1, 2, 3, 4, 6)), min(ahead, default=20)
        if to_mark > 40:
            step = to_mark - self.draw.randint(0, 12)
        elif self.draw.random() < 0.5:
            step = to_mark
        self.minute += step
        if self.draw.random() < 0.02:
            self.drift = self.draw.choice((0, 0, -180, -35, -2, 1, 20, 60))
            self.steady = False
            self.seen["the machine's clock was put forward or back"] += 1
        if self.up_again is not None and self.minute >= self.up_again:
            self.store.down, self.up_again = False, None
        for watcher in self.watchers:
            if watcher.back is not None and self.minute >= watcher.back:
                watcher.back, watcher.desk = None, self._another_desk(alone=False)
                self.seen["a watcher was started again"] += 1

    def morning(self) -> None:
        """Everything that waited arrives; then nothing may be missing, and the list is right."""
        self.store.down, self.drift = False, 0
        self.minute = max(self.minute + 1, min(self.model.slots.values()) - 90)
        for request in self.waiting[:]:
            self.waiting.remove(request)
            self._ask(request)
        for watcher in self.watchers:
            watcher.back = None
            self._pass(watcher)
        self.check()
        states = self.desk.states()
        lines = morning_of(states, self.night.day, instant(self.now))
        words = morning_words(lines, parse_zone(self.night.clinic["zone"]))
        self.model.list_stands(lines, list(words), self.now)
        self._send(handover.ListMorning(self.night.day), NURSE, surely=True)
        rows = self.desk.states().board(instant(self.now))
        self.restart()
        holds(SUPPORTED, self.desk.states().board(instant(self.now)), rows, "the board after a restart")
        if self.steady and self.shown is not None:
            then, shown = self.shown
            holds(REPLAYED, self.desk.states(then).board(then), shown, then)
        for key, (command, entries) in self.model.acts.items():
            holds(KEPT, len(self.store.inner.of_act(key)), entries, key, command)
        holds(WHOLE, [finding.what for finding in verify(self.store.inner)], [])
        self.seen.update({f"fact: {kind}": count for kind, count in self.model.kinds.items()})
        self.seen["acts"] += len(self.model.acts)

    def check(self) -> None:
        """What holds after every step."""
        self.seen["steps"] += 1
        if self.store.down:
            return
        store = self.store.inner
        holds(KEPT, {head.stream: head.seq for head in store.heads()}, dict(self.model.heads), "heads")
        holds(CALLED, [(one.message.kind, one.message.to) for one in store.queued()], self.model.rung)
        states, now = self.desk.states(), instant(self.now)
        rows = states.board(now)
        found = self.model.board_stands(rows, self.now)
        if self.shown is None or self.draw.random() < 0.1:
            self.shown = now, rows
        self.seen.update({f"state: {state}": count for state, count in found.items()})
        for name, case in self.model.cases.items():
            for link in case["links"]:
                leads = phone.link_leads(states.case(name), link["number"], now)
                holds(LEADS, leads, self.model.link_leads(case, link, self.now), name, link["number"], now)

    def restart(self) -> None:
        """The desk is a new one over the same store."""
        self.desk = ObservedDesk(self, self.store)
        self.seen["the desk was started again"] += 1

    # The watch

    def watch(self) -> None:
        """Every worker that lives makes a pass; one may die in the middle of it, or somebody get in between."""
        for watcher in self.watchers:
            if watcher.back is not None:
                continue
            chance = self.draw.random()
            if chance < 0.03:
                self.store.faults = [self.draw.choice(tuple(Fault))]
            elif chance < 0.05:
                self.store.between = self._inserted(self.something)
            elif chance < 0.07:
                self.store.between = self._inserted(lambda: self._pass(self.draw.choice(self.watchers)))
            self._pass(watcher)

    def _pass(self, watcher: Watcher) -> None:
        before, quiet = len(self._claims), self.seen["somebody got in between"]
        try:
            claimed = watching.watch_once(watcher.desk, instant(self.now))
        except Gone:
            watcher.back = self.minute + self.draw.randint(2, 30)
            self.seen["a watcher died"] += 1
            return
        except NotStored:
            self.seen["the watch could not store"] += 1
            return
        finally:
            self.store.faults, self.store.between = [], None
        holds(SWALLOWED, self.store.down, False, instant(self.now))
        holds(CLAIMED, [one for one in claimed if one not in self._claims[before:]], [], "said to be claimed")
        if self.seen["somebody got in between"] == quiet:
            self.model.every_rung_is_claimed(self.now)

    def _inserted(self, what: Callable[[], None]) -> Callable[[], None]:
        """Done in between, where nothing else gets in between."""

        def do() -> None:
            self._inside = True
            self.seen["somebody got in between"] += 1
            what()
            self._inside = False

        return do

    # Acts, and what becomes of them on their way

    def answered(
        self, do: Callable[[], Answer], command: Command, asked: Asked, key: str, expected: dict[str, int]
    ) -> Answer:
        """An act on a desk, with what it did told to the model."""
        try:
            answer = do()
        except Gone:
            if (entries := tuple(self.store.inner.of_act(key))) and key not in self.model.acts:
                self._tell(command, asked, key, expected, Done(entries))
            raise
        self._tell(command, asked, key, expected, answer)
        self.seen[
            f"answer: {type(answer).__name__}{' again' if isinstance(answer, Done) and answer.again else ''}"
        ] += 1
        return answer

    def _tell(self, command: Command, asked: Asked, key: str, expected: dict[str, int], answer: Answer) -> None:
        if isinstance(command, handover.ListMorning):
            lines = morning_of(self.desk.states(), command.day, asked.at)
            self.model.listing = list(morning_words(lines, parse_zone(self.night.clinic["zone"])))
        if isinstance(command, ClaimRung) and isinstance(answer, Done) and not answer.again:
            self._claims.append(command)
        self.model.saw(command, asked, key, expected, answer, list(self.store.inner.of_act(key)))

    def _send(self, command: Command, who: Person, surely: bool = False, seen_at: int | None = None) -> Answer | None:
        """Somebody asks for it. None where no answer has come yet. `seen_at` is the case's entry that they last saw, if they say so."""
        case = getattr(command, "case", None)
        expected = {f"case/{case}": seen_at} if seen_at is not None else {}
        request = Request(command, who, f"key-{next(self._keys)}", self.minute, expected)
        return self._ask(request) if surely else self._on_its_way(request)

    def _on_its_way(self, request: Request) -> Answer | None:
        """What a network and a disk do to a request."""
        request.tries += 1
        chance = self.draw.random() if request.tries < 4 else 1.0
        if chance < 0.09:
            lost = chance < 0.05
            self._later(request, f"the request was {'lost' if lost else 'late'}", 6 if lost else 15)
            return None
        if chance < 0.13:
            self.store.faults = [Fault.LOST]
        elif chance < 0.17:
            self.store.faults = [self.draw.choice((Fault.BEGIN, Fault.COMMIT, Fault.PASSING))]
        elif chance < 0.19 and not self._inside:
            self.store.between = self._inserted(self.something)
        elif chance < 0.21 and not self._inside:
            self.store.between = self._inserted(self.watch)
        answer = self._ask(request)
        if 0.21 <= chance < 0.26 and answer is not None:
            self.seen["the request came twice"] += 1
            return self._ask(request)
        return answer

    def _ask(self, request: Request) -> Answer | None:
        """It arrives."""
        try:
            return self.desk.perform(request.command, request.who.at(instant(self.now)), request.key, request.expected)
        except Gone:
            self._later(request, "the reply was lost", 5)
        except NotStored:
            self._later(request, "the store could not", 5)
        finally:
            self.store.faults, self.store.between = [], None
        return None

    def _later(self, request: Request, why: str, most: int) -> None:
        self.seen[why] += 1
        request.due = self.minute + self.draw.randint(1, most)
        self.waiting.append(request)

    def deliver(self) -> None:
        """What is due arrives, in any order."""
        arriving = [one for one in self.waiting if one.due <= self.minute]
        self.draw.shuffle(arriving)
        for request in arriving:
            self.waiting.remove(request)
            self._on_its_way(request)

    # What somebody does

    def something(self) -> None:
        """Somebody does something about some case, mostly about the one that is due next."""
        name = self.draw.choice(list(self.model.cases))
        if self.draw.random() < 0.6:
            name = min(self.model.cases, key=lambda one: (self._next_due(self.model.cases[one]), one))
        (what,) = self.draw.choices(list(_DOINGS), list(_DOINGS.values()))
        what(self, name, self.model.cases[name])

    def _next_due(self, case: dict[str, Any]) -> int:
        return min((abs(due["at"] - self.minute) for due in unspoken(case)), default=10**6)

    def _seen(self, name: str) -> int | None:
        """The case as somebody sees it before they ask, or saw it a while ago; most do not say."""
        head = self.model.heads[f"case/{name}"]
        return self.draw.choice((head, head, head - 1)) if self.draw.random() < 0.15 else None

    def _injection(self, case: dict[str, Any]) -> dict[str, Any] | None:
        """The injection that is due next, or another."""
        silent = unspoken(case)
        if silent and self.draw.random() < 0.9:
            return min(silent, key=lambda due: (abs(due["at"] - self.minute), due["injection"]))
        dues: list[dict[str, Any]] = case["sheets"][-1]["dues"] if case["sheets"] else []
        return self.draw.choice(dues) if dues else None

    def report(self, name: str, case: dict[str, Any]) -> None:
        """She says on her phone that it is done, or a nurse enters it, or both at once."""
        due = self._injection(case)
        if due is None or (self.minute < due["at"] - 6 and self.draw.random() < 0.93):
            return
        spoken = any(one["injection"] == due["injection"] for one in case["reports"])
        if spoken and self.draw.random() < 0.6:
            return
        command = self._words(name, case, due)
        by_phone = self.draw.random() < 0.6
        self._send(command, HERSELF if by_phone else NURSE)
        if self.draw.random() < 0.3:
            asked = {"told_by": "she herself, on the telephone", "source": "remembered"}
            again = night.Confirm(**{field: getattr(command, field) for field in _FIELDS} | asked)
            self._send(again, NURSE if by_phone else HERSELF)

    def _words(self, name: str, case: dict[str, Any], due: dict[str, Any]) -> night.Confirm:
        """What is said of an injection: mostly the minute, mostly all of it."""
        at = self.minute - self.draw.choice((0, 1, 2, 3, 5, 9, 14, 25))
        if self.draw.random() < 0.04:
            at = self.minute + self.draw.choice((15, 200))
        zone = self.draw.choice((due["zone"], due["zone"], self.night.clinic["zone"]))
        clock = wall_of(at, zone)
        meant = meanings(clock, zone)
        which = ("first", "second")[meant.index(at)] if len(meant) == 2 and self.draw.random() < 0.7 else None
        if self.draw.random() < 0.05:
            clock, which = self.draw.choice(("about nine", "2026-11-18 24:10", "2027-03-14 02:30")), None
        versions = [one["version"] for one in case["sheets"]]
        return night.Confirm(
            case=name,
            injection=due["injection"] if self.draw.random() < 0.97 else "third",
            reported=clock,
            zone=zone,
            told_by="she herself",
            source="the clock on the phone",
            amount="all" if self.draw.random() < 0.88 else self.draw.choice(PARTS),
            remains="nothing",
            which=which,
            sheet=self.draw.choice((None, versions[-1], *versions, 7 if self.draw.random() < 0.05 else None)),
        )

    def withdraw(self, name: str, case: dict[str, Any]) -> None:
        standing = [one["seq"] for one in case["reports"]]
        entry = self.draw.choice(standing) if standing and self.draw.random() < 0.9 else 3
        self._send(night.WithdrawConfirmation(name, entry, "it was another person"), NURSE)

    def boxes(self, name: str, case: dict[str, Any]) -> None:
        due = self._injection(case)
        if due is None or self.minute > due["at"] + 30:
            return
        differs = () if self.draw.random() < 0.75 else self.draw.choice((("syringe",), ("powder", "needles")))
        self._send(phone.ReadBoxes(name, due["injection"], len(case["sheets"]), differs), HERSELF)

    def stuck(self, name: str, case: dict[str, Any]) -> None:
        due = self._injection(case)
        injection = due["injection"] if due is not None and self.draw.random() < 0.9 else None
        if self.draw.random() < 0.05:
            injection = "third"
        command = phone.AskHelp(name, injection, self.draw.choice(("mixing", "drawing up")), "I am stuck")
        for _ in range(self.draw.choice((1, 1, 2))):
            self._send(command, HERSELF)

    def practised(self, name: str, case: dict[str, Any]) -> None:
        self._send(phone.AskHelp(name, None, "practice", "two misses"), HERSELF)

    def helped(self, name: str, case: dict[str, Any]) -> None:
        for one in [*case["waiting"]][:2]:
            self._send(phone.GiveHelp(name, one, "talked through it"), NURSE)
        if self.draw.random() < 0.05:
            self._send(phone.GiveHelp(name, 2, "talked through it"), NURSE)

    def escalate(self, name: str, case: dict[str, Any]) -> None:
        due = self._injection(case)
        if due is None or (self.minute < due["at"] and self.draw.random() < 0.7):
            return
        told = self.draw.choice(
            ("her own number", "her second number", "the prescriber on call", "theatre", "her helper")
        )
        rung = self.draw.choice((None, None, 1, 2, 3, 4))
        said = night.Escalate(
            name, due["injection"], told, "silence", "noted", reached=self.draw.random() < 0.8, rung=rung
        )
        self._send(said, NURSE, seen_at=self._seen(name))

    def incident(self, name: str, case: dict[str, Any]) -> None:
        due = self._injection(case)
        injection = due["injection"] if due is not None and self.draw.random() < 0.7 else None
        settled = self.draw.random() < 0.4
        said = night.NoteIncident(name, injection, "a vial fell", "the prescriber", "use the spare", settled)
        self._send(said, NURSE, seen_at=self._seen(name))

    def settle(self, name: str, case: dict[str, Any]) -> None:
        """What is open or doubtful is settled, mostly; now and then something that never was open."""
        doubtful = [one["injection"] for one in case["reports"] if one["doubts"]]
        wanted = [*dict.fromkeys(one["injection"] for one in case["incidents"]), *doubtful[-1:]]
        for injection in wanted or ([None] if self.draw.random() < 0.05 else []):
            entries = [one["seq"] for one in case["incidents"] if one["injection"] == injection]
            settles = self.draw.choice(entries) if entries and self.draw.random() < 0.3 else None
            said = night.NoteIncident(name, injection, "all is clear", "the prescriber", "go on", True, settles)
            self._send(said, NURSE)

    def link(self, name: str, case: dict[str, Any]) -> None:
        kind: phone.LinkKind = "practice" if self.draw.random() < 0.3 else "page"
        expires = instant(self.minute + self.draw.choice((20, 90, 1_200)))
        self._send(phone.GiveLink(name, kind, expires), NURSE)

    def revoke(self, name: str, case: dict[str, Any]) -> None:
        number = self.draw.randint(1, len(case["links"]) + 1)
        self._send(phone.RevokeLink(name, number, "it was forwarded"), NURSE)

    def move_slot(self, name: str, case: dict[str, Any]) -> None:
        """Theatre moves her slot, three quarters of an hour later or back again."""
        slot = next((one for one, whose in self.model.owners.items() if whose == name), None)
        if slot is None:
            return
        clock = str(self.night.slots[slot]["at"])
        later = wall_of(meanings(clock, self.night.clinic["zone"])[0] + 45, self.night.clinic["zone"])
        moved = self.night.slots[slot] | {"at": self.draw.choice((clock, later, later))}
        self._send(slots.PlaceSlot(moved, "theatre asked"), THEATRE)

    def free_slot(self, name: str, case: dict[str, Any]) -> None:
        """Theatre takes a slot away, mostly hers."""
        hers = [one for one, whose in self.model.owners.items() if whose == name]
        slot = hers[0] if hers and self.draw.random() < 0.9 else self.draw.choice(list(self.night.slots))
        self._send(slots.FreeSlot(self.night.day, slot, "the list is full"), THEATRE)

    def give_slot(self, name: str, case: dict[str, Any]) -> None:
        """A case without a slot gets one; now and then one that has another, or one that is somebody's."""
        if case["slot"] is None or self.draw.random() < 0.2:
            slot = self.draw.choice(list(self.night.slots))
            self._send(slots.GiveSlot(self.night.day, slot, name, "as agreed"), THEATRE)

    def new_order(self, name: str, case: dict[str, Any]) -> None:
        """The prescriber signs another order or the same, or gives it by telephone."""
        order = self.night.tables[name]["order"]
        given = self.draw.choice((order, order | {"stop": ["follitropin"]}, order | {"stop": ["follitropin"]}))
        if self.draw.random() < 0.5:
            taken = orders.TelephoneOrder(name, given, "word for word", read_back=True)
            self._send(taken, NURSE, seen_at=self._seen(name))
        else:
            signed = orders.SignOrder(name, given)
            self._send(signed, worlds.prescriber(self.night.tables[name]), seen_at=self._seen(name))

    def countersign(self, name: str, case: dict[str, Any]) -> None:
        """Whoever gave an order by telephone signs it, or somebody else tries."""
        owed = [
            (whose, one["version"])
            for whose, other in self.model.cases.items()
            for one in other["orders"]
            if one["owed"]
        ]
        whose, version = self.draw.choice(owed or [(name, 1)])
        who = worlds.prescriber(self.night.tables[whose]) if self.draw.random() < 0.8 else SOMEBODY_ELSE
        if owed or self.draw.random() < 0.1:
            self._send(orders.CountersignOrder(whose, version), who)

    def withdraw_order(self, name: str, case: dict[str, Any]) -> None:
        version = max(1, len(case["orders"]) - (self.draw.random() < 0.2))
        who = worlds.prescriber(self.night.tables[name])
        self._send(orders.WithdrawOrder(name, version, "not tonight"), who, seen_at=self._seen(name))

    def void(self, name: str, case: dict[str, Any]) -> None:
        self._send(sheets.VoidSheet(name, len(case["sheets"]), "a smudge"), NURSE, seen_at=self._seen(name))

    def rescue(self, name: str, case: dict[str, Any]) -> None:
        """The case is checked, read back and released, as it now is."""
        if self.store.down or holding(case) is not None or case["closed"]:
            return
        released = None
        for command, who in worlds.released(self.desk, name, self.now):
            released = self._send(command, who, surely=True)
            if not isinstance(released, Done):
                return
        self.seen["rescues"] += released is not None

    def sign_rules(self, name: str, case: dict[str, Any]) -> None:
        """The lead signs another ladder, or none."""
        ladder = self.draw.choice(LADDERS)
        told = {key: said for key, said in self.night.clinic["rules"].items() if key != "ladder"}
        signed = self.night.clinic | {"rules": told | ({"ladder": ladder} if ladder is not None else {})}
        self._send(rules.SignRules(signed), LEAD)

    def close(self, name: str, case: dict[str, Any]) -> None:
        if self.draw.random() < 0.4:
            self._send(opening.CloseCase(name, "over"), NURSE)

    def heard_late(self, name: str, case: dict[str, Any]) -> None:
        """Something is heard of a case that is closed, or somebody has seen what was heard and closes it again."""
        closed = [other for other, one in self.model.cases.items() if one["closed"]]
        if not closed:
            spoken_of = [other for other, one in self.model.cases.items() if one["sheets"] and not unspoken(one)]
            for name in spoken_of[:1]:
                self._send(opening.CloseCase(name, "both given"), NURSE)
            return
        name = self.draw.choice(closed)
        case = self.model.cases[name]
        if heard_since(case) and self.draw.random() < 0.85:
            answer = self._send(opening.CloseCase(name, "seen"), NURSE)
            self.seen["a closed case was closed again"] += isinstance(answer, Done)
        elif case["sheets"] and self.draw.random() < 0.8:
            due = self.draw.choice(case["sheets"][-1]["dues"])
            self._send(self._words(name, case, due), self.draw.choice((HERSELF, NURSE)))
            self.seen["a closed case was heard of"] += 1
            if self.draw.random() < 0.3:
                self.heard_late(name, case)
        else:
            settled = self.draw.random() < 0.5
            said = night.NoteIncident(name, None, "a vial was found", "the prescriber", "none", settled)
            self._send(said, NURSE)

    def hand_over(self, name: str, case: dict[str, Any]) -> None:
        one, other = self.draw.sample((NURSE, SECOND), 2)
        problems = tuple(Problem(whose, "open") for whose in self.model.cases)
        self._send(handover.HandOver(self.night.day, other.name, problems), one)
        if self.draw.random() < 0.8:
            self._send(handover.TakeHandover(self.night.day), other)

    def list_morning(self, name: str, case: dict[str, Any]) -> None:
        self._send(handover.ListMorning(self.night.day), NURSE)

    def ring(self, name: str, case: dict[str, Any]) -> None:
        self._send(calls.TryCall(name, "+1 555 0188", self.draw.random() < 0.5, "voice mail"), NURSE)

    def other_words(self, name: str, case: dict[str, Any]) -> None:
        """A key that was used before, with other words."""
        used = [key for key in self.model.acts if key.startswith("key-")]
        if used:
            said = night.Escalate(name, "hcg", "theatre", "another thing", "noted")
            self._ask(Request(said, NURSE, self.draw.choice(used), self.minute, {}))

    def start_again(self, name: str, case: dict[str, Any]) -> None:
        self.restart()

    def outage(self, name: str, case: dict[str, Any]) -> None:
        """The store is out of reach for some minutes."""
        if not self._inside:
            self.store.down, self.up_again = True, self.minute + self.draw.randint(1, 12)
            self.seen["the store was out of reach"] += 1

    def kill(self, name: str, case: dict[str, Any]) -> None:
        self.draw.choice(self.watchers).back = self.minute + self.draw.randint(2, 40)
        self.seen["a watcher died"] += 1


_FIELDS = tuple(night.Confirm.__dataclass_fields__)

_DOINGS: dict[Callable[[Simulation, str, dict[str, Any]], None], float] = {
    Simulation.report: 40,
    Simulation.boxes: 12,
    Simulation.stuck: 4,
    Simulation.practised: 1,
    Simulation.helped: 12,
    Simulation.escalate: 14,
    Simulation.incident: 2,
    Simulation.settle: 9,
    Simulation.withdraw: 3,
    Simulation.link: 6,
    Simulation.revoke: 4,
    Simulation.move_slot: 4,
    Simulation.free_slot: 1,
    Simulation.give_slot: 2,
    Simulation.new_order: 4,
    Simulation.countersign: 12,
    Simulation.withdraw_order: 0.6,
    Simulation.void: 2,
    Simulation.rescue: 14,
    Simulation.sign_rules: 2,
    Simulation.close: 4,
    Simulation.heard_late: 12,
    Simulation.hand_over: 3,
    Simulation.list_morning: 3,
    Simulation.ring: 3,
    Simulation.other_words: 1,
    Simulation.start_again: 2,
    Simulation.outage: 2,
    Simulation.kill: 2,
}
"""What is done, and how often."""
