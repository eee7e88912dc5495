"""The 62 calls as a specification: how each is answered, who decides, and for a computed one the number and the sum by hand.

The one table behind test and manual. The numbers belong to the drill's invented cases. What the letters stand for: N the nurse from page
and order, R the clinic's signed rule, P the prescriber, T theatre or laboratory, X the pharmacist, A the anaesthetist, E emergency
services. Who decides is common practice, no source, but for the emergencies; the sums rest on what `source` names.
"""

from dataclasses import dataclass

from hourmark.incident.calls import Decider, Sort

LETTERS = {
    "N": Decider.NURSE,
    "R": Decider.RULE,
    "P": Decider.PRESCRIBER,
    "T": Decider.THEATRE,
    "X": Decider.PHARMACIST,
    "A": Decider.ANAESTHETIST,
    "E": Decider.EMERGENCY,
}


@dataclass(frozen=True)
class Row:
    """One call: its id, how it is answered, who may decide, and for a computed one the number, the sum, and what the sum rests on."""

    id: str
    sort: Sort
    who: str
    number: str | None = None
    sum: str | None = None
    source: str | None = None


def computed(call: str, who: str, number: str, sum: str, source: str) -> Row:
    return Row(call, Sort.COMPUTED, who, number, sum, source)


def looked_up(call: str, who: str) -> Row:
    return Row(call, Sort.LOOKED_UP, who)


def said(call: str, who: str) -> Row:
    return Row(call, Sort.SAID, who)


MARKS = "FDA label, leuprolide acetate injection 5 mg/mL, directions: 0.2 mL is the 20 mark, 1 mg"
TABLE = "US label, chorionic gonadotropin for injection, concentration table: content / water"
ELAPSED = "elapsed hours, by hand"
MIX = "10,000 units in 2 mL: common practice, no source; content / water by the US label's table"
ZONES = "IANA time-zone database: Chicago 2 h ahead of Los Angeles; on 1 November 2026 from UTC-5 to UTC-6"
FOLLOWS = "counted from the actual first: common practice, no source"
PEN = "device booklet, follitropin alfa pen, 450 units: the window shows what is still to be injected"
FASTING = "the invented clinic's signed 8 h, after the ASA guideline for fatty food, quoted"

ROWS = (
    computed("C01", "NP", "80", "4 mg / 5 mg per mL = 0.8 mL; x 100 on a U-100 barrel", MARKS),
    computed("C02", "PX", "0.32 mg", "0.8 mL x 0.4 mg per mL, 8 % of 4 mg", MARKS),
    computed("C03", "NP", "40 + 40", "80 marks over two barrels of 50", MARKS),
    computed("C04", "N", "0.8 mL", "80 marks / 100", MARKS),
    computed("C05", "NP", "1", "5,000 units x 2 mL / 10,000 units = 1 mL", MIX),
    computed("C06", "NP", "1 mL", "half of 2 mL", MIX),
    computed("C07", "PX", "200 units", "0.2 mL x 10,000 units / 10 mL, 20 % of 1,000", TABLE),
    computed("C08", "PN", "2", "10,000 units / 5,000 units", "derived"),
    looked_up("C09", "NX"),
    looked_up("C10", "NP"),
    looked_up("C11", "RP"),
    computed("C12", "NP", "500 to 750 units", "1,000 units less a half, less a quarter", "derived"),
    said("C13", "NP"),
    looked_up("C14", "NXP"),
    said("C15", "NX"),
    looked_up("C16", "XP"),
    computed("C17", "P", "0 units", "nothing was dissolved", "derived"),
    computed("C18", "NP", "1,500 units", "0.3 mL x 5,000 units per mL, 150 % of 1,000", MIX),
    computed("C19", "NP", "9,000 units", "0.9 mL of 10,000 units per mL", TABLE),
    computed("C20", "NP", "5,000 units", "half of 10,000 units", "derived"),
    looked_up("C21", "P"),
    looked_up("C22", "NP"),
    said("C23", "NR"),
    looked_up("C24", "NP"),
    said("C25", "N"),
    computed("C26", "NRP", "35 h 40 min", "21:20 to 09:00 two days later", ELAPSED),
    computed("C27", "PT", "34 h", "23:00 to 09:00 two days later", ELAPSED),
    computed("C28", "PT", "32 h", "01:00 to 09:00 the next day", ELAPSED),
    computed("C29", "NPT", "37 h", "20:00 to 09:00 two days later", ELAPSED),
    computed("C30", "PT", "60 h", "21:00 to 09:00 three days later", ELAPSED),
    computed("C31", "N", "2026-11-18 18:00", "slot 08:00 less 36 h is 20:00 in Chicago", ZONES),
    computed("C32", "N", "2026-10-30 22:00", "slot Sunday 09:00 less 36 h; the Sunday has 25 h", ZONES),
    computed("C33", "N", "2026-11-19 00:15", "slot Friday 12:15 less 36 h", ELAPSED),
    computed("C34", "P", "35 h 10 min", "22:50 to 10:00 two days later", ELAPSED),
    looked_up("C35", "NX"),
    computed("C36", "NP", "2026-11-19 09:10", "21:10 and 12 h", FOLLOWS),
    looked_up("C37", "NP"),
    computed("C38", "P", "0 mg", "no trigger went in", "derived"),
    computed("C39", "P", "10,000 units", "2 mL x 5,000 units per mL, 200 % of 5,000", MIX),
    computed("C40", "P", "8 mg", "2 x 4 mg, 200 % of 4 mg", "derived"),
    looked_up("C41", "XP"),
    looked_up("C42", "XP"),
    looked_up("C43", "NX"),
    said("C44", "NP"),
    said("C45", "NP"),
    looked_up("C46", "NP"),
    looked_up("C47", "NP"),
    looked_up("C48", "N"),
    computed("C49", "NP", "75 units", "225 units less the 150 that the pen holds", PEN),
    looked_up("C50", "NX"),
    looked_up("C51", "P"),
    said("C52", "NR"),
    said("C53", "EP"),
    said("C54", "E"),
    said("C55", "EP"),
    computed("C56", "NA", "2026-11-20 01:00", "slot 09:00 less 8 h", FASTING),
    looked_up("C57", "RA"),
    looked_up("C58", "EPT"),
    looked_up("C59", "T"),
    computed(
        "C60",
        "N",
        "2026-11-18 20:00 to 2026-11-18 22:00",
        "slot less 37 h, slot less 35 h: the order's own window",
        ELAPSED,
    ),
    said("C61", "ER"),
    said("C62", "N"),
)
