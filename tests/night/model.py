"""What must be on the record, and what follows from it, kept and worked out apart from the program: plain dictionaries, minutes as numbers.

It is told of every act in the order in which acts were stored. What each has to write is worked out here and compared with the very
bytes; how board, list and links have to stand is worked out from that.
"""

import json
from collections import Counter
from dataclasses import asdict
from decimal import Decimal
from typing import Any

from hourmark.case import board, calls, checks, handover, morning, night, opening, orders, phone, rules, sheets, slots
from hourmark.case.asked import Asked, Refused
from hourmark.case.watch import ClaimRung
from hourmark.desk import Answer, Command, Done, Moved
from hourmark.ledger import Entry, KeyTaken
from tests.night.clocks import instant, meanings, minutes
from tests.night.worlds import Night

Facts = list[tuple[str, str, dict[str, Any]]]
"""What an act writes: each with its stream, its kind and its words."""


class Broken(AssertionError):
    """Something that must hold does not. `law` names what."""

    def __init__(self, law: str, what: object) -> None:
        super().__init__(f"{law}: {what}")
        self.law = law


def holds(law: str, found: object, wanted: object, *where: object) -> None:
    """Raises Broken where what was found is not what was wanted."""
    if found != wanted:
        raise Broken(law, f"{', '.join(map(str, where))}: found {found!r}, wanted {wanted!r}")


KEPT, CLAIMED, SUPPORTED, REFUSED, LEADS, LISTED, CALLED = (
    "every acknowledged fact is on the record, once, as it was said",
    "a reached rung is on the record, once",
    "the board says what the facts say",
    "an act is done or refused as the facts have it",
    "a link leads where it should",
    "the morning list has the true hours",
    "whoever has a void page is to be rung, and whoever gave an order by telephone is to sign",
)
"""The laws, in words."""


_URGENT = {"problem": 0, "unknown since": 0, "given early": 0, "given late": 0, "given": 2, "settled": 2}
"""What comes first on the board, and what last; in between it is by the minute, and trouble without one comes before all."""


class Model:
    """One clinic's night."""

    def __init__(self, played: Night) -> None:
        self.cases: dict[str, dict[str, Any]] = {}
        self.day = played.day
        self.slots: dict[str, int] = {}
        self.slot_tables: dict[str, dict[str, Any]] = {}
        self.owners: dict[str, str] = {}
        self.ladder: list[tuple[int, str]] = []
        self.clinic: dict[str, Any] = {}
        self.rules = 0
        self.handovers: dict[int, dict[str, Any]] = {}
        self.lists: list[list[str]] = []
        self.heads: Counter[str] = Counter()
        self.acts: dict[str, tuple[Any, int]] = {}
        self.rung: list[tuple[str, str]] = [(one.kind, one.to) for one in played.messages]
        self.kinds: Counter[str] = Counter()
        for entry in sorted(played.entries, key=lambda one: one.read_header().at):
            self._read(entry)

    # What is stored

    def _read(self, entry: Entry) -> None:
        """An entry of the afternoon, taken as it is."""
        header = entry.read_header()
        body = {} if header.kind == "page" else json.loads(entry.body or b"")
        self._take(header.stream, header.seq, header.kind, body, minutes(header.at))

    def _take(self, stream: str, seq: int, kind: str, said: dict[str, Any], at: int) -> None:
        self.heads[stream] = max(self.heads[stream], seq)
        self.kinds[kind] += 1
        room, _, name = stream.partition("/")
        match room:
            case "case":
                self._of_case(name, seq, kind, said, at)
            case "day":
                self._of_day(seq, kind, said)
            case "rules":
                self.rules, self.clinic = said["version"], said["clinic"]
                signed = self.clinic["rules"].get("ladder") or []
                self.ladder = sorted((int(one["after"].split()[0]), one["tell"]) for one in signed)
            case _:
                assert room in ("roll", "pages"), room

    def _of_day(self, seq: int, kind: str, said: dict[str, Any]) -> None:
        match kind:
            case "slot-placed":
                self.slots[said["slot"]["id"]] = minutes(said["instant"])
                self.slot_tables[said["slot"]["id"]] = said["slot"]
            case "slot-assigned":
                if said["case"] is None:
                    del self.owners[said["slot"]]
                else:
                    self.owners[said["slot"]] = said["case"]
            case "handed-over":
                self.handovers[seq] = {**said, "taken": False}
            case "handover-taken":
                self.handovers[said["entry"]]["taken"] = True
            case "morning-listed":
                self.lists.append(said["lines"])
            case _:
                raise AssertionError(kind)

    def _of_case(self, name: str, seq: int, kind: str, said: dict[str, Any], at: int) -> None:
        said = {**said, "seq": seq, "at": at}
        if kind == "case-opened":
            self.cases[name] = {
                "closed": False,
                "closed by": 0,
                "closed at": 0,
                "spoken of": 0,
                "slot": None,
                "orders": [],
                "sheets": [],
                "heard": None,
                "reports": [],
                "told": [],
                "rungs": Counter(),
                "incidents": [],
                "links": [],
                "boxes": [],
                "waiting": {},
                "standings": None,
            }
            return
        case = self.cases[name]
        case["standings"] = None
        if kind in ("confirmed", "confirmation-withdrawn") or (kind == "incident-noted" and not said["settled"]):
            case["spoken of"] = seq
        match kind:
            case "case-closed":
                case |= {"closed": True, "closed by": seq, "closed at": at}
            case "slot-given":
                case["slot"] = minutes(said["instant"])
            case "slot-taken":
                case["slot"] = None
            case "order-signed" | "order-telephoned":
                case["orders"].append({**said, "owed": kind == "order-telephoned", "withdrawn": False})
            case "order-countersigned":
                case["orders"][said["version"] - 1]["owed"] = False
            case "order-withdrawn":
                case["orders"][said["version"] - 1] |= {"withdrawn": True, "owed": False}
            case "read-back":
                case["heard"] = said
            case "sheet-issued":
                after = {one["id"]: one.get("after") for one in case["orders"][-1]["order"]["injections"]}
                for due in said["dues"]:
                    due["after"] = after[due["injection"]]
                    for moment in ("at", "mix_at", "earliest", "latest"):
                        due[moment] = minutes(due[moment]) if due[moment] is not None else None
                case["sheets"].append({**said, "void": None})
            case "sheet-voided":
                case["sheets"][said["version"] - 1]["void"] = said
            case "confirmed":
                said["instant"] = minutes(said["instant"]) if said["instant"] is not None else None
                case["reports"].append(said)
            case "confirmation-withdrawn":
                case["reports"] = [one for one in case["reports"] if one["seq"] != said["entry"]]
            case "escalated":
                case["told"].append(said)
            case "escalation-owed":
                case["rungs"][said["injection"], said["sheet"], said["tell"]] += 1
            case "incident-noted":
                case["incidents"].append(said)
            case "link-given":
                case["links"].append({**said, "revoked": False})
            case "link-revoked":
                case["links"][said["number"] - 1]["revoked"] = True
            case "boxes-read":
                case["boxes"].append(said)
            case "help-asked":
                case["waiting"][seq] = said
            case "help-given":
                del case["waiting"][said["entry"]]
            case _:
                assert kind in ("kit-read", "carton-checked", "second-checked", "call-tried"), kind

    # What an act has to do

    def saw(
        self, command: Command, asked: Asked, key: str, expected: dict[str, int], answer: Answer, stored: list[Entry]
    ) -> None:
        """An act was answered so, and these entries are now there under its key."""
        wanted = self._outcome(command, asked, key, expected)
        where = command, asked, key
        match answer:
            case Done(entries, again):
                holds(
                    CLAIMED if isinstance(command, ClaimRung) else REFUSED, "again" if again else "done", wanted, *where
                )
                holds(KEPT, [one.hash for one in entries], [one.hash for one in stored], *where)
                if again:
                    holds(KEPT, len(entries), self.acts[key][1], *where)
                else:
                    self._stored(command, asked, key, stored)
            case Refused(findings):
                holds(REFUSED, [one.code for one in findings], [wanted], *where)
            case Moved():
                holds(REFUSED, "moved", wanted, *where)
            case KeyTaken():
                holds(REFUSED, "key taken", wanted, *where)

    def _stored(self, command: Command, asked: Asked, key: str, stored: list[Entry]) -> None:
        where = command, asked, key
        facts = self._facts(command, asked, stored)
        found = [(one.stream, one.read_header().kind) for one in stored]
        holds(KEPT, found, [(stream, kind) for stream, kind, _ in facts], *where)
        numbers = Counter(self.heads)
        for part, (entry, (stream, kind, said)) in enumerate(zip(stored, facts, strict=True), 1):
            numbers[stream] += 1
            header = entry.read_header()
            holds(KEPT, (entry.seq, header.at, header.actor), (numbers[stream], asked.at, asked.by), *where)
            holds(KEPT, (header.act, header.part, header.parts), (key, part, len(facts)), *where)
            body = json.loads(entry.body or b"") if kind != "page" else {}
            holds(KEPT, {name: body[name] for name in said}, said, *where)
            self._take(stream, entry.seq, kind, body, minutes(asked.at))
        if facts:
            self.acts[key] = (command, len(facts))
        issued = any(kind == "sheet-issued" for _, kind, _ in facts)
        for stream, kind, said in facts:
            if kind == "sheet-voided" and not issued:
                self.rung.append(("call-owed", stream.removeprefix("case/")))
            elif kind == "order-telephoned":
                self.rung.append(("countersign", said["order"]["signed_by"]))

    def _outcome(self, command: Command, asked: Asked, key: str, expected: dict[str, int]) -> str:
        """Done, again, moved, key taken, or the code of the reason why it is refused."""
        if key in self.acts:
            return "again" if self.acts[key][0] == command else "key taken"
        if any(self.heads[stream] != seq for stream, seq in expected.items()):
            return "moved"
        name = getattr(command, "case", None)
        case = self.cases[name] if name is not None else {}
        at = minutes(asked.at)
        closed = "case-closed" if case and case["closed"] else ""
        match command:
            case night.NoteIncident(settles=entry) if entry is not None:
                return "done" if entry in [one["seq"] for one in _open(case)] else "nothing-changed"
            case night.WithdrawConfirmation(_, entry):
                return "done" if entry in [one["seq"] for one in case["reports"]] else "nothing-changed"
            case phone.GiveHelp(_, entry):
                return closed or ("done" if entry in case["waiting"] else "nothing-changed")
            case phone.RevokeLink(_, number):
                standing = [one["number"] for one in case["links"] if not one["revoked"]]
                return closed or ("done" if number in standing else "nothing-changed")
            case phone.GiveLink(_, kind):
                return closed or ("link-no-sheet" if kind == "page" and holding(case) is None else "done")
            case ClaimRung(_, injection, sheet, tell, time):
                most = len(self.lines_of(case, injection, sheet, tell, at))
                next_one = case["rungs"][injection, sheet, tell] + 1
                return closed or ("done" if most >= time == next_one else "nothing-changed")
            case slots.FreeSlot(_, slot):
                return "done" if slot in self.owners else "nothing-changed"
            case slots.GiveSlot(_, slot, name):
                owner = self.owners.get(slot)
                return closed or ("nothing-changed" if owner == name else "slot-taken" if owner else "done")
            case slots.PlaceSlot(slot):
                return "nothing-changed" if slot == self.slot_tables[str(slot["id"])] else "done"
            case orders.SignOrder(_, order):
                held = ordered(case)
                same = held is not None and order == held["order"] and not held["owed"]
                return closed or ("nothing-changed" if same else "done")
            case orders.TelephoneOrder(_, order):
                held = ordered(case)
                return closed or ("nothing-changed" if held is not None and order == held["order"] else "done")
            case orders.CountersignOrder(_, version):
                owed_to = [one["order"]["signed_by"] for one in case["orders"][version - 1 : version] if one["owed"]]
                return "nothing-changed" if not owed_to else "done" if owed_to == [asked.by] else "order-by-other"
            case orders.WithdrawOrder(_, version):
                held = ordered(case)
                return closed or ("done" if held is not None and held["version"] == version else "nothing-changed")
            case sheets.VoidSheet(_, version):
                sheet_now = holding(case)
                hers = sheet_now is not None and sheet_now["version"] == version
                return closed or ("done" if hers else "nothing-changed")
            case opening.CloseCase():
                waits = bool(case["waiting"]) or bool(_open(case))
                again = heard_since(case)
                return (not again and closed) or (
                    "case-silent"
                    if silent(case, at) or passed(case, self.clinic["zone"], at)
                    else "case-waiting"
                    if waits
                    else "done"
                )
            case rules.SignRules(clinic):
                return "nothing-changed" if clinic == self.clinic else "done"
            case handover.TakeHandover():
                mine = [one for one in self.handovers.values() if one["to"] == asked.by and not one["taken"]]
                return "done" if mine else "nothing-changed"
            case handover.ListMorning():
                lines = self.lists[-1] if self.lists else None
                return "nothing-changed" if lines is not None and self.listing == lines else "done"
            case phone.ReadBoxes() | phone.AskHelp() | calls.TryCall() | checks.SecondCheck() | calls.HearReadBack():
                return closed or "done"
            case _:
                return "done"

    listing: list[str]
    """The words of the morning list as they would be now."""

    def _facts(self, command: Command, asked: Asked, stored: list[Entry]) -> Facts:
        """What an act that was done has to write."""
        name = getattr(command, "case", "")
        case, stream = self.cases.get(name, {}), f"case/{name}"
        at = minutes(asked.at)
        said = {} if isinstance(command, _NOT_AS_ASKED) else _said(command)
        match command:
            case night.Confirm():
                return [(stream, "confirmed", self._confirmed(case, command, at)), *_in_sight(name, case)]
            case night.WithdrawConfirmation():
                return [(stream, "confirmation-withdrawn", said), *_in_sight(name, case)]
            case night.Escalate():
                of = command.rung or 0
                tell = self.ladder[of - 1][1] if 0 < of <= len(self.ladder) else None
                return [(stream, "escalated", {**said, "tell": tell})]
            case night.NoteIncident(settled=settled):
                return [(stream, "incident-noted", said), *([] if settled else _in_sight(name, case))]
            case phone.ReadBoxes(_, injection, _, differs):
                about = f"not the same as on her page: {', '.join(differs)}"
                return [
                    (stream, "boxes-read", said),
                    *(_asks(name, case, injection, "the boxes", about) if differs else []),
                ]
            case phone.AskHelp(_, injection, place, about):
                return _asks(name, case, injection, place, about)
            case phone.GiveHelp():
                return [(stream, "help-given", said)]
            case phone.GiveLink(_, kind, expires):
                old = [one["number"] for one in case["links"] if one["kind"] == kind and not one["revoked"]]
                sheet = case["sheets"][-1]["version"] if kind == "page" else None
                given = {"number": len(case["links"]) + 1, "kind": str(kind), "sheet": sheet, "expires": expires}
                return [*((stream, "link-revoked", {"number": one}) for one in old), (stream, "link-given", given)]
            case phone.RevokeLink():
                return [(stream, "link-revoked", said)]
            case ClaimRung(_, injection, sheet, tell, time):
                number, since = self.lines_of(case, injection, sheet, tell, at)[time - 1]
                owed = {"injection": injection, "sheet": sheet, "rung": number, "tell": tell, "since": instant(since)}
                return [(stream, "escalation-owed", owed)]
            case slots.PlaceSlot(slot):
                return self._slot_facts(slot)
            case slots.FreeSlot(_, slot):
                return self._freed(slot)
            case slots.GiveSlot(_, slot):
                return self._given_away(name, slot)
            case orders.SignOrder(_, order):
                held = ordered(case)
                if held is not None and held["order"] == order:
                    return [(stream, "order-countersigned", {"version": held["version"], "signed_by": asked.by})]
                signed = {"version": len(case["orders"]) + 1, "order": order}
                return [(stream, "order-signed", signed), *self._voided(name, ["order"])]
            case orders.TelephoneOrder(_, order, words):
                taken = {"version": len(case["orders"]) + 1, "order": order, "words": words}
                return [(stream, "order-telephoned", taken), *self._voided(name, ["order"])]
            case orders.CountersignOrder(_, version):
                return [(stream, "order-countersigned", {"version": version, "signed_by": asked.by})]
            case orders.WithdrawOrder(_, version):
                withdrawn = {"version": version, "withdrawn_by": asked.by}
                return [(stream, "order-withdrawn", withdrawn), *self._voided(name, ["order"])]
            case sheets.VoidSheet():
                return self._voided(name, [])
            case opening.CloseCase():
                return [(stream, "case-closed", said), ("roll", "case-delisted", {"case": name})]
            case rules.SignRules(clinic):
                return [("rules", "rules-signed", {"version": self.rules + 1, "clinic": clinic})]
            case handover.HandOver(_, to, problems):
                handed = {"to": to, "problems": _plain([asdict(one) for one in problems])}
                return [(f"day/{self.day}", "handed-over", handed)]
            case handover.TakeHandover():
                mine = [seq for seq, one in self.handovers.items() if one["to"] == asked.by and not one["taken"]]
                return [(f"day/{self.day}", "handover-taken", {"entry": max(mine)})]
            case handover.ListMorning():
                listed = {"version": len(self.lists) + 1, "lines": self.listing}
                return [(f"day/{self.day}", "morning-listed", listed)]
            case calls.TryCall():
                return [(stream, "call-tried", said)]
            case checks.SecondCheck():
                return [(stream, "second-checked", {"differences": []})]
            case calls.HearReadBack():
                return [(stream, "read-back", {"check_word": command.check_word})]
            case sheets.Release():
                return self._released(name, case)
            case _:
                raise AssertionError(command)

    def _confirmed(self, case: dict[str, Any], command: night.Confirm, now: int) -> dict[str, Any]:
        try:
            meant = meanings(command.reported, command.zone)
        except ValueError:
            at, doubts = None, {"time-unreadable"}
        else:
            chosen = meant if len(meant) < 2 else {"first": meant[:1], "second": meant[1:]}.get(command.which or "", ())
            unclear = "time-skipped" if not meant else "time-repeated"
            at, doubts = (chosen[0], set()) if chosen else (None, {unclear})
        version = command.sheet if command.sheet is not None else len(case["sheets"]) or None
        sheet = next((one for one in case["sheets"] if one["version"] == version), None)
        due = next((one for one in sheet["dues"] if one["injection"] == command.injection), None) if sheet else None
        doubts |= {"no-sheet"} if sheet is None else set()
        doubts |= {"sheet-void"} if sheet is not None and sheet["void"] else set()
        doubts |= {"injection-unknown"} if sheet is not None and due is None else set()
        doubts |= {"before-release"} if sheet is not None and at is not None and at < sheet["at"] else set()
        doubts |= {"time-future"} if at is not None and at > now else set()
        doubts |= {"not-all"} if command.amount != "all" else set()
        if due is not None and due["holds"] is not None and command.amount.endswith(" mL"):
            more = Decimal(command.amount.split()[0]) > Decimal(due["holds"].split()[0])
            doubts |= {"more-than-held"} if more else set()
        since = case["sheets"][-1]["seq"] if case["sheets"] else 0
        others = [one for one in case["reports"] if one["injection"] == command.injection and one["seq"] > since]
        differ = any((_or(one["instant"], at), one["amount"]) != (at, command.amount) for one in others)
        doubts |= {"reports-differ"} if differ else set()
        return {
            "injection": command.injection,
            "reported": f"{command.reported} {command.which}" if command.which else command.reported,
            "zone": command.zone,
            "instant": instant(at) if at is not None else None,
            "told_by": command.told_by,
            "source": command.source,
            "amount": command.amount,
            "remains": command.remains,
            "sheet": version,
            "doubts": _Any(doubts),
        }

    def _slot_facts(self, slot: dict[str, Any]) -> Facts:
        name = str(slot["id"])
        said = {"slot": slot, "instant": instant(meanings(str(slot["at"]), self.clinic["zone"])[0])}
        placed: Facts = [(f"day/{self.day}", "slot-placed", said)]
        case = self.owners.get(name)
        if case is None or self.cases[case]["closed"]:
            return placed
        return [*placed, (f"case/{case}", "slot-given", said), *self._voided(case, ["slot"])]

    def _freed(self, slot: str) -> Facts:
        name = self.owners[slot]
        freed: Facts = [(f"day/{self.day}", "slot-assigned", {"slot": slot, "case": None})]
        if self.cases[name]["closed"]:
            return freed
        return [*freed, (f"case/{name}", "slot-taken", {"slot": slot}), *self._voided(name, ["slot"])]

    def _given_away(self, name: str, slot: str) -> Facts:
        hers = [one for one, whose in self.owners.items() if whose == name]
        said = {"slot": self.slot_tables[slot], "instant": instant(self.slots[slot])}
        return [
            *((f"day/{self.day}", "slot-assigned", {"slot": one, "case": None}) for one in hers),
            (f"day/{self.day}", "slot-assigned", {"slot": slot, "case": name}),
            (f"case/{name}", "slot-given", said),
            *self._voided(name, ["slot"]),
        ]

    def _voided(self, name: str, changed: list[str]) -> Facts:
        sheet = holding(self.cases[name])
        if sheet is None:
            return []
        return [(f"case/{name}", "sheet-voided", {"version": sheet["version"], "changed": changed})]

    def _released(self, name: str, case: dict[str, Any]) -> Facts:
        """A sheet under the next number, each injection as long before the slot as the order has it."""
        dues = []
        for one in case["orders"][-1]["order"]["injections"]:
            if "lead" in one:
                dues.append({"injection": one["id"], "at": instant(case["slot"] - _lead(one["lead"]))})
            elif "at" in one:
                home = self.clinic["zone"]
                dues.append({"injection": one["id"], "at": instant(meanings(one["at"], home)[0])})
            else:
                first, gap = dues[0]["at"], _lead(one["after"]["gap"])
                dues.append({"injection": one["id"], "at": instant(minutes(first) + gap)})
        sheet = {"version": len(case["sheets"]) + 1, "dues": _Dues(dues)}
        replaced = self._voided(name, [])
        return [*replaced, (f"case/{name}", "sheet-issued", sheet), (f"pages/{name}", "page", {})]

    # How everything has to stand

    def reached(self, case: dict[str, Any], now: int) -> list[tuple[str, int, int, int, bool]]:
        """Injection, sheet, number, since when, and whether somebody was told, of every rung that is reached."""
        if case["closed"]:
            return []
        return [
            (one["name"], one["sheet"]["version"], number, one["due"]["at"] + after, self._answered(case, one, number))
            for one in standings(case)
            if is_silent(one)
            for number, (after, _) in enumerate(self.ladder, 1)
            if one["due"]["at"] + after <= now
        ]

    def lines_of(self, case: dict[str, Any], injection: str, sheet: int, tell: str, now: int) -> list[tuple[int, int]]:
        """The lines that are reached and name somebody: number and since when."""
        found = (one for one in self.reached(case, now) if one[:2] == (injection, sheet))
        return [(number, since) for *_, number, since, _ in found if self.ladder[number - 1][1] == tell]

    def _answered(self, case: dict[str, Any], one: dict[str, Any], number: int) -> bool:
        """Somebody was told of it once it was due, by this line of the ladder or one further up; of the last line, and was reached."""
        for told in case["told"]:
            if told["injection"] == one["name"] and told["at"] >= one["due"]["at"]:
                counts = told["reached"] or number < len(self.ladder)
                if self._line_of(told) >= number and counts:
                    return True
        return False

    def _line_of(self, told: dict[str, Any]) -> int:
        """The line of today's ladder that was answered: one that says what the answered line said then, or names whoever was told."""
        whom = [tell for _, tell in self.ladder]
        if told["tell"] in whom:
            stands = whom[told["rung"] - 1 : told["rung"]] == [told["tell"]]
            return int(told["rung"]) if stands else whom.index(told["tell"]) + 1
        return whom.index(told["told"]) + 1 if told["told"] in whom else 0

    def every_rung_is_claimed(self, now: int) -> None:
        """After a pass of the watch: whoever a reached line names is on the record, as often as lines name them."""
        for name, case in self.cases.items():
            for injection, sheet, number, _, _ in self.reached(case, now):
                tell = self.ladder[number - 1][1]
                lines = self.lines_of(case, injection, sheet, tell, now)
                claimed = case["rungs"][injection, sheet, tell]
                holds(CLAIMED, min(claimed, len(lines)), len(lines), name, injection, f"sheet {sheet}", tell)

    def board_stands(self, rows: list[board.Row], now: int) -> Counter[str]:
        """Every row of the board against the facts. Says which states were seen."""
        found: dict[tuple[str, object], list[board.Row]] = {}
        for row in rows:
            found.setdefault((row.case, (row.sheet, row.injection) if row.place else row.medicine), []).append(row)
        where = instant(now)
        for name, case in self.cases.items():
            if case["closed"]:
                self._closed_stands(name, case, found, now)
                continue
            self._orders_stand(name, case, found, now)
            for about, (states, since) in self._beside(case).items():
                here = found.pop((name, about), [])
                holds(SUPPORTED, sorted(one.state for one in here), sorted(states), where, name, about or "the case")
                holds(SUPPORTED, {one.since for one in here}, since, where, name, about, "since")
            reached = self.reached(case, now)
            for one in standings(case):
                key = one["sheet"]["version"], one["name"]
                here = found.pop((name, key), [])
                holds(SUPPORTED, len(here), 1, where, name, key, "rows")
                owed = [(number, since) for *of, number, since, told in reached if of == [*reversed(key)] and not told]
                self._row_stands(case, one, here[0], now, max(owed, default=None), (where, name, *key))
        holds(SUPPORTED, list(found), [], where, "rows that nothing supports")
        order = [_turn_of(row) for row in rows]
        holds(SUPPORTED, order, sorted(order), where, "who is next")
        return Counter(row.state for row in rows)

    def _orders_stand(
        self, name: str, case: dict[str, Any], found: dict[tuple[str, object], list[board.Row]], now: int
    ) -> None:
        """What no page has, each injection of the order has a row, and where it may be read, its minute by slot and order."""
        on_a_page = {one["name"] for one in standings(case) if one["current"]}
        for about, at in by_order(case, self.clinic["zone"]).items():
            if about in on_a_page:
                continue
            where = instant(now), name, about
            here = found.pop((name, (None, about)), [])
            holds(SUPPORTED, [(row.state, row.since) for row in here], [("no sheet", None)], *where)
            _by_order_stands(case, about, at, here[0], now, where)

    def _closed_stands(
        self, name: str, case: dict[str, Any], found: dict[tuple[str, object], list[board.Row]], now: int
    ) -> None:
        """Of a closed case only what was heard of it since is there: one row for each injection of a page, report beside it and problem."""
        where, late = instant(now), [one for one in case["reports"] if one["seq"] > case["closed by"]]
        wanted: dict[object, list[str | None]] = {}
        for one in standings(case):
            if is_silent(one) and one["due"]["at"] <= case["closed at"]:
                here = found.pop((name, (one["sheet"]["version"], one["name"])), [])
                holds(
                    SUPPORTED, [row.state for row in here], [self._stands(case, one, now)[0]], where, name, one["name"]
                )
                continue
            if said := [each for each in late if each in one["reports"]]:
                wanted[one["sheet"]["version"], one["name"]] = [instant(said[0]["at"])]
        for one in (*(each for each in late if page_of(case, each) is None), *_open(case)):
            wanted.setdefault(one["injection"] or "", []).append(instant(one["at"]))
        for about, since in wanted.items():
            here = found.pop((name, about), [])
            holds(SUPPORTED, {one.state for one in here}, {"problem"}, where, name, about, "closed")
            holds(
                SUPPORTED, sorted(str(one.since) for one in here), sorted(map(str, since)), where, name, about, "since"
            )

    def _beside(self, case: dict[str, Any]) -> dict[str, tuple[list[str], set[str | None]]]:
        """What is on no page, by what it is about: the states of its rows and since when."""
        known = {due["injection"] for due in case["sheets"][-1]["dues"]} if case["sheets"] else set()
        pageless = [one for one in case["reports"] if page_of(case, one) is None]
        for one in (*_open(case), *case["waiting"].values()):
            on_page = bool(known) if one["injection"] is None else one["injection"] in known
            pageless += [] if on_page else [one]
        alone = not case["sheets"] and ordered(case) is None
        rows: dict[str, tuple[list[str], set[str | None]]] = {"": (["no sheet"], {None})} if alone else {}
        for one in pageless:
            states, since = rows.setdefault(one["injection"] or "", ([], set()))
            states.append("problem")
            since.add(instant(one["at"]))
        return rows

    def _row_stands(
        self,
        case: dict[str, Any],
        one: dict[str, Any],
        row: board.Row,
        now: int,
        owed: object,
        where: tuple[object, ...],
    ) -> None:
        said, due, sheet = one["reports"], one["due"], one["sheet"]
        state, since = self._stands(case, one, now)
        holds(SUPPORTED, (row.state, row.since), (state, instant(since) if since is not None else None), *where)
        step = (row.owed.rung.number, minutes(row.owed.since)) if row.owed is not None else None
        holds(SUPPORTED, step, owed, *where, "owed")
        if row.state in ("given", "given late", "given early", "settled"):
            holds(SUPPORTED, bool(said), True, *where, row.state, "nobody said so")
        if sheet["void"] is not None and not said and not _troubled(case, one):
            holds(SUPPORTED, "void" in row.why, True, *where, "void page")
        if said and "sheet-void" in said[-1]["doubts"] and row.state in ("given", "given late", "given early"):
            holds(SUPPORTED, "void" in row.why, True, *where, "followed a void page")
        page = [other for other in standings(case) if other["current"]]
        given = sum(_is_given(case, other) for other in page)
        some = f"{given} of {len(page)} given" if one["current"] and 0 < given < len(page) else ""
        holds(SUPPORTED, row.given, some, *where, "how many")
        moves = one["current"] and not said and due["after"] is not None and _moves(case, due, now)
        holds(SUPPORTED, "counts it from the first" in row.why, moves, *where, "moves with the first")
        minutes_now = by_order(case, self.clinic["zone"])
        if row.state == "no sheet" and one["name"] in minutes_now:
            _by_order_stands(case, one["name"], minutes_now[one["name"]], row, now, where)
            return
        at = given_at(one) or due["at"]
        hours = row.to_slot.minutes if row.to_slot is not None else None
        holds(SUPPORTED, hours, case["slot"] - at if case["slot"] is not None else None, *where, "hours to the slot")

    def _stands(self, case: dict[str, Any], one: dict[str, Any], now: int) -> tuple[str, int | None]:
        """State and since when, of one injection of one page."""
        name, sheet, due, said = one["name"], one["sheet"], one["due"], one["reports"]
        if troubles := _troubled(case, one):
            return "problem", min(troubles)
        if said:
            return self._as_said(case, one)
        if now >= due["at"]:
            return "unknown since", due["at"]
        mine = [read for read in case["boxes"] if (read["injection"], read["sheet"]) == (name, sheet["version"])]
        begun = mine[-1]["at"] if mine and not mine[-1]["differs"] else None
        mix_at = due["mix_at"]
        if sheet["void"] is not None:
            near = begun is not None or (mix_at if mix_at is not None else due["at"]) - now <= 60
            return "problem" if near else "no sheet", sheet["void"]["at"]
        if begun is not None:
            return "mixing", begun
        if mix_at is not None and now >= mix_at:
            return "due", mix_at
        heard = case["heard"]
        agreed = heard is not None and all(field["agreed"] for field in heard["fields"])
        if agreed and (heard["check_word"], heard["rests_on"]) == (sheet["check_word"], sheet["rests_on"]):
            return "told", heard["at"]
        return "to tell", None

    def _as_said(self, case: dict[str, Any], one: dict[str, Any]) -> tuple[str, int]:
        """State and since when, of an injection that somebody spoke of."""
        last = one["reports"][-1]
        if last["amount"] == "none of it" and not one["current"]:
            after = (sheet["at"] for sheet in case["sheets"] if sheet["version"] > one["sheet"]["version"])
            return "settled", max(last["at"], next(after))
        if _is_doubtful(case, one):
            return "problem", last["at"]
        if not _is_given(case, one):
            ends = (
                each["at"]
                for each in case["incidents"]
                if each["settled"] and each["seq"] > last["seq"] and each["injection"] == one["name"]
            )
            return "settled", list(ends)[-1]
        told = any(
            each["reached"] and each["injection"] == one["name"] and each["seq"] > last["seq"] for each in case["told"]
        )
        window = _window(case, one["due"], last["instant"])
        outside = window in ("early", "late") and not told and not _settled_since(case, last)
        return f"given {window}" if outside else "given", last["instant"]

    def list_stands(self, lines: list[morning.Line], words: list[str], now: int) -> None:
        """The true hours of every injection to its slot, in figures and in words."""
        text = "\n".join(words)
        holds(LISTED, sorted(line.slot for line in lines), sorted(self.owners), "slots")
        for line in lines:
            case, slot = self.cases[self.owners[line.slot]], self.slots[line.slot]
            holds(LISTED, (line.case, minutes(line.at)), (self.owners[line.slot], slot), line.slot)
            pages = standings(case)
            pageless = {one["injection"] for one in case["reports"] if page_of(case, one) is None}
            held = ordered(case)
            injections = [one["id"] for one in held["order"]["injections"]] if held is not None else []
            unspoken = set(injections) - {one["injection"] for one in case["reports"]}
            alone = len(unspoken) or (0 if pageless else 1)
            if case["sheets"]:
                on_it = {one["name"] for one in pages if one["current"]}
                alone = len(unspoken - on_it) if holding(case) is None else 0
            wanted = len(pages) + len(pageless) + alone
            holds(LISTED, len(line.given), wanted, line.case, "injections")
            for one, given in zip(pages, line.given, strict=False):
                _is_listed(case, one, given, slot, now, line.case)
            for given in line.given:
                if given.to_slot is not None:
                    hours = f"{_span(given.to_slot.minutes)} to the slot"
                    holds(LISTED, hours in text, True, line.case, hours, "in words")
                elif not given.reported and given.due is None and not given.unsaid:
                    holds(LISTED, "UNKNOWN" in text, True, line.case, "unknown in words")

    def link_leads(self, case: dict[str, Any], link: dict[str, Any], now: int) -> bool:
        if link["revoked"] or case["closed"] or instant(now) >= link["expires"]:
            return False
        sheet = holding(case)
        return link["kind"] == "practice" or (sheet is not None and sheet["version"] == link["sheet"])


_NOT_AS_ASKED = (
    checks.SecondCheck,
    calls.HearReadBack,
    sheets.Release,
    rules.SignRules,
    orders.SignOrder,
    night.Confirm,
)
"""Commands of which the record does not hold just the words that were asked."""


def _said(command: Any) -> dict[str, Any]:
    """The words of a command about a case."""
    return {key: _plain(value) for key, value in asdict(command).items() if key != "case"}


class _Any(list[str]):
    """The same things in whatever order."""

    def __eq__(self, other: object) -> bool:
        return isinstance(other, list) and sorted(self) == sorted(other)

    def __ne__(self, other: object) -> bool:
        return not self == other

    __hash__ = None


class _Dues(list[dict[str, Any]]):
    """The dues of a sheet, of which only injection and minute are told here."""

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, list):
            return False
        return [(one["injection"], one["at"]) for one in self] == [(one["injection"], one["at"]) for one in other]

    def __ne__(self, other: object) -> bool:
        return not self == other

    __hash__ = None


def _turn_of(row: board.Row) -> tuple[int, str, str]:
    """Whose call is overdue and whose minute passed without a page first; where no minute may be read, where it surely is not too late."""
    if row.overdue or row.past:
        return -1, row.due or "", row.case
    weight = _URGENT.get(row.state, 1)
    if row.state == "no sheet":
        return weight, row.due or row.turn, row.case
    return weight, row.due or ("~" if weight else ""), row.case


def heard_since(case: dict[str, Any]) -> bool:
    """Whether a closed case was spoken of since, and nobody has seen it."""
    return bool(case["closed"] and case["spoken of"] > case["closed by"])


def _in_sight(name: str, case: dict[str, Any]) -> Facts:
    """A closed case that is spoken of is on the roll again."""
    return [("roll", "case-listed", {"case": name})] if case["closed"] else []


def holding(case: dict[str, Any]) -> dict[str, Any] | None:
    """The sheet that holds."""
    last: dict[str, Any] | None = case["sheets"][-1] if case["sheets"] else None
    return last if last is not None and last["void"] is None else None


def ordered(case: dict[str, Any]) -> dict[str, Any] | None:
    """The order that holds."""
    last: dict[str, Any] | None = case["orders"][-1] if case["orders"] else None
    return last if last is not None and not last["withdrawn"] else None


def standings(case: dict[str, Any]) -> list[dict[str, Any]]:
    """The injections of the last page, and of earlier ones those that were spoken of or had passed before the next page was there.

    What stands on the next page just so is the same injection, and stands there alone.
    """
    if case["standings"] is None:
        case["standings"] = _standings(case)
    found: list[dict[str, Any]] = case["standings"]
    return found


def _standings(case: dict[str, Any]) -> list[dict[str, Any]]:
    found = []
    for place, sheet in enumerate(case["sheets"]):
        later = case["sheets"][place + 1] if place + 1 < len(case["sheets"]) else None
        for due in sheet["dues"]:
            said = [one for one in case["reports"] if (one["injection"], page_of(case, one)) == _on(sheet, due)]
            gone_on = later is not None and _next_same(case, sheet["version"], due) is not None
            if later is None or (not gone_on and (said or due["at"] <= later["at"])):
                one = {"name": due["injection"], "sheet": sheet, "due": due, "reports": said, "current": later is None}
                found.append(one)
    return found


def _on(sheet: dict[str, Any], due: dict[str, Any]) -> tuple[str, int]:
    return due["injection"], sheet["version"]


def _next_same(case: dict[str, Any], version: int, due: dict[str, Any]) -> dict[str, Any] | None:
    """The same injection on the next page: medicine, dose, route and minute are alike."""
    alike = ("injection", "medicine", "dose", "route", "at")
    dues = case["sheets"][version]["dues"] if version < len(case["sheets"]) else []
    return next((one for one in dues if all(one[each] == due[each] for each in alike)), None)


def page_of(case: dict[str, Any], report: dict[str, Any]) -> int | None:
    """The page whose injection a report is about: the last that had it then; where none of it went in, the one that was followed."""
    had = [
        sheet["version"]
        for sheet in case["sheets"]
        if sheet["seq"] < report["seq"] and any(due["injection"] == report["injection"] for due in sheet["dues"])
    ]
    if not had:
        return None
    version = int(report["sheet"] if report["amount"] == "none of it" and report["sheet"] in had else had[-1])
    due = next(one for one in case["sheets"][version - 1]["dues"] if one["injection"] == report["injection"])
    while (same := _next_same(case, version, due)) is not None:
        version, due = version + 1, same
    return version


def is_silent(one: dict[str, Any]) -> bool:
    """Nobody has said anything of it but a time that was still to come."""
    return all("time-future" in report["doubts"] for report in one["reports"])


def given_at(one: dict[str, Any]) -> int | None:
    last = one["reports"][-1] if one["reports"] else None
    at: int | None = last["instant"] if last is not None and last["amount"] != "none of it" else None
    return at


def _is_doubtful(case: dict[str, Any], one: dict[str, Any]) -> bool:
    """Something of the last report is to be asked, and nobody has settled it since."""
    last = one["reports"][-1]
    said = {(_or(each["instant"], last["instant"]), each["amount"]) for each in one["reports"]}
    asks = {"time-future", "injection-unknown", "more-than-held", "other-dose"} & set(last["doubts"])
    wrong = last["instant"] is None or last["amount"] != "all" or len(said) > 1 or bool(asks)
    return wrong and not _settled_since(case, last)


def _is_given(case: dict[str, Any], one: dict[str, Any]) -> bool:
    """The last report has a time and all of it, and nothing about it is open."""
    return given_at(one) is not None and one["reports"][-1]["amount"] == "all" and not _is_doubtful(case, one)


def _troubled(case: dict[str, Any], one: dict[str, Any]) -> list[int]:
    """Since when something is open or she waits for a call, about an injection of the last page or about the whole case."""
    open_still = (*_open(case), *case["waiting"].values())
    return [each["at"] for each in open_still if each["injection"] in (one["name"], None)] if one["current"] else []


def _moves(case: dict[str, Any], due: dict[str, Any], now: int) -> bool:
    """The order counts it from another injection, which puts it beside its window, or of which nobody knows when it was."""
    first = next(one for one in standings(case) if one["current"] and one["name"] == due["after"]["injection"])
    at = given_at(first)
    if at is None:
        return bool(first["due"]["at"] <= now)
    least, most = map(_lead, due["after"]["window"])
    return not least <= due["at"] - at <= most


def _is_listed(
    case: dict[str, Any], one: dict[str, Any], given: morning.Given, slot: int, now: int, where: str
) -> None:
    at, due = given_at(one), one["due"]
    holds(LISTED, given.reported, bool(one["reports"]), where, one["name"])
    holds(LISTED, minutes(given.at) if given.at is not None else None, at, where, one["name"])
    hours = given.to_slot.minutes if given.to_slot is not None else None
    holds(LISTED, hours, slot - at if at is not None else None, where, one["name"], "hours")
    holds(LISTED, given.due is not None, now < due["at"] and one["sheet"]["void"] is None, where, one["name"], "due")
    inside = {"in": True, "early": False, "late": False, None: None}
    window = _window(case, due, at) if at is not None else None
    holds(LISTED, given.in_window, inside[window], where, one["name"], "in the window")


def by_order(case: dict[str, Any], home: str) -> dict[str, int | None]:
    """The minute of each injection by slot and order, where no page holds; None where they do not give it."""
    held, found = ordered(case), dict[str, int | None]()
    for one in held["order"]["injections"] if held is not None and holding(case) is None else ():
        if "lead" in one:
            found[one["id"]] = case["slot"] - _lead(one["lead"]) if case["slot"] is not None else None
        elif "at" in one:
            read = meanings(one["at"], home)
            found[one["id"]] = read[0] if len(read) == 1 else None
        else:
            first = found[one["after"]["injection"]]
            found[one["id"]] = first + _lead(one["after"]["gap"]) if first is not None else None
    return found


def said_of(case: dict[str, Any], name: str) -> list[dict[str, Any]]:
    """What was said of an injection of the last page, or of one that it has not."""
    for one in standings(case):
        if one["current"] and one["name"] == name:
            said: list[dict[str, Any]] = one["reports"]
            return said
    return [one for one in case["reports"] if one["injection"] == name]


def passed(case: dict[str, Any], home: str, now: int) -> bool:
    """Whether a minute by the order is past, with no page that holds, and nobody has spoken of it."""
    return any(
        at is not None and at <= now and is_silent({"reports": said_of(case, name)})
        for name, at in by_order(case, home).items()
    )


def _by_order_stands(
    case: dict[str, Any], name: str, at: int | None, row: board.Row, now: int, where: tuple[object, ...]
) -> None:
    """Nobody is to tell her of what somebody has spoken of; that its minute passed in silence is always said."""
    said = said_of(case, name)
    holds(SUPPORTED, row.by_order and (bool(said) or at is None), False, *where, "a minute that nobody may read")
    holds(SUPPORTED, row.due, instant(at) if row.by_order and at is not None else None, *where, "due")
    hours = case["slot"] - at if row.by_order and at is not None and case["slot"] is not None else None
    holds(SUPPORTED, row.to_slot.minutes if row.to_slot is not None else None, hours, *where, "hours to the slot")
    silence = at is not None and at <= now and is_silent({"reports": said})
    holds(SUPPORTED, row.past, silence, *where, "past")
    holds(SUPPORTED, bool(said) and (row.overdue or row.tell_by is not None), False, *where, "to be told again")


def silent(case: dict[str, Any], now: int) -> bool:
    """Whether an injection was due of which nobody has spoken, whatever page it is on."""
    return any(one["due"]["at"] <= now and is_silent(one) for one in standings(case))


def _asks(name: str, case: dict[str, Any], injection: str | None, place: str, about: str) -> Facts:
    """She waits for a call, unless she does so for the same thing already."""
    asks = {"injection": injection, "where": place, "about": about}
    there = any(all(one[key] == asks[key] for key in asks) for one in case["waiting"].values())
    return [] if there else [(f"case/{name}", "help-asked", asks)]


def _open(case: dict[str, Any]) -> list[dict[str, Any]]:
    """The incidents that nothing has ended: neither one that names them nor a later one about the same."""
    ends = [one for one in case["incidents"] if one["settled"]]

    def ended(one: dict[str, Any]) -> bool:
        named = any(end["settles"] == one["seq"] for end in ends)
        later = (end for end in ends if end["settles"] is None and end["seq"] > one["seq"])
        return named or any(end["injection"] == one["injection"] for end in later)

    return [one for one in case["incidents"] if not one["settled"] and not ended(one)]


def _settled_since(case: dict[str, Any], report: dict[str, Any]) -> bool:
    later = (one for one in case["incidents"] if one["settled"] and one["seq"] > report["seq"])
    return any(one["injection"] == report["injection"] for one in later)


def _window(case: dict[str, Any], due: dict[str, Any], at: int) -> str | None:
    """Late or early outside the order's window, "in" inside it; None where there is none, or nobody knows what it is counted from."""
    if due["after"] is not None:
        names = [one for one in standings(case) if one["current"] and one["name"] == due["after"]["injection"]]
        first = given_at(names[0])
        if first is None:
            return None
        least, most = (first + _lead(one) for one in due["after"]["window"])
    elif due["leads"] is not None and case["slot"] is not None:
        most, least = (case["slot"] - one for one in due["leads"])
    elif due["earliest"] is not None and due["latest"] is not None:
        least, most = due["earliest"], due["latest"]
    else:
        return None
    return "early" if at < least else "late" if at > most else "in"


def _lead(said: str) -> int:
    """The minutes of a lead such as "36 h" or "33.5 h"."""
    number, unit = said.split()
    assert unit == "h", said
    return int(Decimal(number) * 60)


def _or(at: int | None, other: int | None) -> int | None:
    """A report without a moment contradicts none that has one."""
    return other if at is None else at


def _span(elapsed: int) -> str:
    hours, rest = divmod(abs(elapsed), 60)
    words = " ".join([f"{hours:,} h"] * bool(hours) + [f"{rest} min"] * bool(rest)) or "0 min"
    return f"-{words}" if elapsed < 0 else words


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(inner) for key, inner in value.items()}
    return [_plain(inner) for inner in value] if isinstance(value, list | tuple) else value
