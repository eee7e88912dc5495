"""One example of every event, and the bodies that records hold of them. A body once written is read for ever.

`.venv/bin/python -m tests.case.bodies` adds the bodies of kinds that have none yet. It changes no line: where a kind gets a new shape,
its old line stays and is read by an upcast.
"""

import re

from hourmark.case import events as e
from hourmark.case.shapes import EVENTS, kind_of, to_fact
from tests.case.world import ROOT

BODIES = ROOT / "tests" / "case" / "bodies.jsonl"

_DETAILS: e.Table = {"zone": "America/Chicago", "lh": "1.8 units/L", "follicles": 21}
_SLOT: e.Table = {"id": "s3", "at": "2026-11-20 09:00", "room": "Room 1"}
_ORDER: e.Table = {
    "purpose": "trigger",
    "signed_by": "Dr. L. Aumont",
    "signed_at": "2026-11-18 13:15",
    "cycle": "antagonist",
    "stop": ["ganirelix"],
    "injections": [
        {
            "id": "agonist",
            "drug": "leuprolide acetate",
            "dose": "4 mg",
            "route": "subcutaneous",
            "lead": "36 h",
            "window": ["35 h", "37 h"],
        }
    ],
}
_KIT: e.Table = {
    "products": [
        {"product": "leuprolide-5mg-per-ml-vial", "strength": "5 mg/mL", "lot": "A103", "expiry": "2027-02-28"}
    ],
    "syringes": [{"syringe": "u100-1mL-1", "count": 4}],
}
_CLINIC: e.Table = {
    "name": "Quillmere Fertility Clinic (invented)",
    "zone": "America/Chicago",
    "rules": {
        "signed_by": "Dr. O. Brandt, medical lead",
        "signed_at": "2026-10-05 09:00",
        "tell_by": "3 h",
        "checkers": ["nurse"],
        "keep_years": 30,
    },
}
_READING = e.Reading("agonist", "2026-11-19T03:00:00Z", (("0.8 mL", "80"), ("", "2")))

EXAMPLES: dict[str, e.Event] = {
    kind_of(example): example
    for example in (
        e.CaseOpened("K-103", _DETAILS),
        e.DetailsChanged(_DETAILS | {"helper": "Renée’s sister", "left_handed": True}, "she travels"),
        e.CaseClosed("the night is over"),
        e.SlotGiven(_SLOT, "2026-11-20T15:00:00Z", "as listed"),
        e.SlotTaken("s3", "cancelled"),
        e.OrderSigned(1, _ORDER),
        e.OrderTelephoned(2, _ORDER | {"largest_gap": "10 min"}, "ten minutes at most", "L. Ortiz"),
        e.OrderCountersigned(2, "Dr. L. Aumont"),
        e.OrderWithdrawn(2, "Dr. L. Aumont", "not tonight"),
        e.KitRead(1, _KIT, "read aloud by her on the telephone"),
        e.CartonChecked("hcg-10000-units", ("A. Kowal", "L. Ortiz"), "10,000 units", "none", "intramuscular"),
        e.PlanOpened("the working page"),
        e.SecondChecked("nurse", (_READING,), (_READING,), ("hcg: the mark differs",), {"slot": "0" * 64}),
        e.CallTried("+1 555 0188", False, "no answer"),
        e.ReadBack(
            "she herself",
            ("full name", "date of birth"),
            (e.Said("agonist mark", "80", "80", True), e.Said("check word", "amber anchor", "", False)),
            "amber anchor",
            None,
            {"slot": "0" * 64},
        ),
        e.CallNoted("she", "+1 555 0188", "she feels sick", "rest", "nobody", "we ring at nine"),
        e.UnreachedTold("the prescriber on call", "try her partner’s number"),
        e.PermissionsSet("her partner", True, False, "said on the telephone"),
        e.SheetIssued(
            version=1,
            role="nurse",
            check_word="amber anchor",
            dues=(
                e.Due(
                    injection="agonist",
                    medicine="leuprolide acetate",
                    dose="4 mg",
                    route="subcutaneous",
                    take="mark 80 (0.8 mL)",
                    at="2026-11-19T03:00:00Z",
                    zone="America/Chicago",
                    said="Wednesday 18 November 2026, 9:00 pm (21:00)",
                    tell_by="2026-11-19T00:00:00Z",
                    mix_at=None,
                    earliest="2026-11-19T02:00:00Z",
                    latest=None,
                    leads=(2100, 2220),
                    holds="1 mL",
                    follows=e.Follows("first", 360, 330, 390),
                ),
            ),
            pages=(e.Page("sheet.pdf", 1, "0" * 64),),
            rests_on={"order": "1" * 64, "slot": "0" * 64},
            checked_by=None,
            unchecked_why="nobody else is in tonight",
            call_waived_why=None,
            answered=(("injection-past", "Dr. L. Aumont: go ahead"),),
            time_data="2026f",
        ),
        e.MailAsked(2),
        e.SheetVoided(1, ("rules.mixing", "slot"), "the slot was moved"),
        e.Confirmed(
            injection="agonist",
            reported="2026-11-18 21:04",
            zone="America/Chicago",
            instant="2026-11-19T03:04:00Z",
            told_by="she herself",
            source="the kitchen clock",
            amount="all",
            remains="nothing",
            sheet=1,
            doubts=("sheet-void", "reports-differ"),
        ),
        e.ConfirmationWithdrawn(19, "entered for another person"),
        e.Escalated(
            "agonist", "Dr. L. Aumont", "no report since 21:00", "ring again", False, 3, "the prescriber on call"
        ),
        e.EscalationOwed("agonist", 1, 2, "her second number", "2026-11-19T03:25:00Z"),
        e.IncidentNoted(None, "the vial fell", "Dr. L. Aumont", "use the spare vial", False, 31),
        e.ResultEntered("2026-11-19 08:10", "2026-11-19T14:10:00Z", ("LH 48 IU/L", "progesterone 4.8 ng/mL"), "typed"),
        e.ResultWithdrawn(7, "another person’s sample"),
        e.LinkGiven(1, "page", 1, "2026-11-21T03:00:00Z"),
        e.LinkRevoked(1, "another took its place"),
        e.BoxesRead("agonist", 1, ("the needles",)),
        e.HelpAsked("agonist", "step 4", "I am stuck"),
        e.HelpGiven(31, "rang her"),
        e.SlotPlaced(_SLOT, "2026-11-20T15:00:00Z", "the list"),
        e.SlotAssigned("s3", None),
        e.HandedOver("L. Ortiz", (e.Problem("K-103", "the second injection is unknown"),)),
        e.HandoverTaken(12),
        e.MorningListed(1, ("Fri 20 Nov 09:00  Room 1  case K-103  (slot s3)",)),
        e.RulesSigned(1, _CLINIC),
        e.BarrelMeasured(
            {
                "syringe": "u100-1mL-1",
                "scale_length": "57 mm",
                "measured_by": "T. Brenholt",
                "measured_at": "2026-11-18 09:00",
            }
        ),
        e.CaseListed("K-103"),
        e.CaseDelisted("K-103"),
    )
}


_LINE = re.compile(r'\{"kind": "([a-z-]+)", "shape": ([0-9]+), "body": (.*)\}')


def kept() -> dict[tuple[str, int], bytes]:
    """Every body as it stands in the file, by kind and shape, to the byte."""
    found = {}
    for line in BODIES.read_text(encoding="utf-8").splitlines() if BODIES.exists() else ():
        parts = _LINE.fullmatch(line)
        assert parts is not None, line
        assert (parts[1], int(parts[2])) not in found, line
        found[parts[1], int(parts[2])] = parts[3].encode()
    return found


if __name__ == "__main__":
    there = kept()
    with BODIES.open("a", encoding="utf-8") as file:
        for name in EVENTS:
            fact = to_fact("any", EXAMPLES[name])
            if (fact.kind, fact.shape) not in there:
                file.write(f'{{"kind": "{fact.kind}", "shape": {fact.shape}, "body": {fact.body.decode()}}}\n')
