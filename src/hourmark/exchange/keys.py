"""The keys of a night file, table by table, as they stand in the file. This is the documented format; see docs/night-file.md."""

import datetime as dt
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal, NewType

from hourmark.clock import Span, WallTime, Which, Zone
from hourmark.formulary import Barrel, Drug, Product
from hourmark.order import Bubbles, Cycle, Day, Purpose, Skin
from hourmark.order.clinic import SlotKind
from hourmark.quantity import Dose, Share, Volume

Id = NewType("Id", str)
"""A short name: letters, digits and hyphens, at most 32."""

Text = NewType("Text", str)
"""One line of text, at most 200 characters."""

DiluentKind = NewType("DiluentKind", str)
"""The name of a diluent in the formulary."""

Route = NewType("Route", str)
"""A route in full."""

Millimetres = NewType("Millimetres", int)
"""A length such as "13 mm"."""

Gauge = NewType("Gauge", int)
"""A needle gauge from 18 to 31."""

ScaleLength = NewType("ScaleLength", Fraction)
"""The measured length of a barrel's scale in mm, such as "57 mm" or "57.5 mm"."""

Seconds = NewType("Seconds", int)
"""A whole number of seconds from 1 to 999."""

Years = NewType("Years", int)
"""A whole number of years from 1 to 150."""

Count = NewType("Count", int)
"""A whole number from 0 to 999."""

BodyMass = NewType("BodyMass", Fraction)
"""A body-mass index such as "23.1", in kg/m2."""

BodyWeight = NewType("BodyWeight", str)
"""A body weight such as "65 kg" or "65.5 kg", kept as it is written."""

Estradiol = NewType("Estradiol", Fraction)
"""An estradiol such as "2,100 pg/mL" or "7,700 pmol/L", kept in pg/mL."""

Luteinising = NewType("Luteinising", Fraction)
"""A luteinising hormone such as "1.8 units/L"."""

PhoneNumber = NewType("PhoneNumber", str)
"""A telephone number with its country code, such as "+1 555 0100"."""

HourOfDay = NewType("HourOfDay", dt.time)
"""A clock time of any day, such as "18:00"."""

DrugName = tuple[Drug, str]
"""A drug and the name it was written by."""


@dataclass(frozen=True)
class OverrideKeys:
    """`override` in an injection: who went past a stop that may be gone past, why, and when on the clinic's clock."""

    by: Text
    reason: Text
    at: WallTime


@dataclass(frozen=True)
class AfterKeys:
    """`after` in an injection: elapsed time from the ACTUAL time of another injection of the order."""

    injection: Id
    gap: Span
    window: tuple[Span, Span] | None = None


@dataclass(frozen=True)
class InjectionKeys:
    """One `[[cases.order.injections]]`: exactly one of lead, at and after."""

    id: Id
    drug: DrugName
    dose: Dose
    route: Route
    lead: Span | None = None
    at: WallTime | None = None
    which: Which | None = None
    after: AfterKeys | None = None
    window: tuple[Text, Text] | None = None
    product: Product | None = None
    diluent: Volume | None = None
    diluent_into: Literal["each"] | None = None
    route_confirmed_by: Text | None = None
    override: OverrideKeys | None = None


@dataclass(frozen=True)
class OrderKeys:
    """`[cases.order]`: what the prescriber signed."""

    purpose: Purpose
    signed_by: Text
    signed_at: WallTime
    stop: tuple[Text, ...]
    injections: tuple[InjectionKeys, ...]
    cycle: Cycle | None = None
    sequence: tuple[Id, ...] = ()
    largest_gap: Span | None = None


@dataclass(frozen=True)
class CartonCheckKeys:
    """`carton_check` in a kit product: two people who read the box, and when on the clinic's clock."""

    by: tuple[Text, Text]
    at: WallTime


@dataclass(frozen=True)
class ProductKeys:
    """One `[[cases.kit.products]]`: one kind of box at home, as read off it."""

    product: Product
    strength: Text
    label_rule: Text | None = None
    words: Text | None = None
    lot: Text | None = None
    expiry: dt.date | None = None
    count: Count = Count(1)
    opened: WallTime | None = None
    out_of_fridge: WallTime | None = None
    carton_check: CartonCheckKeys | None = None


@dataclass(frozen=True)
class DiluentKeys:
    """One `[[cases.kit.diluents]]`."""

    kind: DiluentKind
    volume: Volume
    count: Count = Count(1)
    expiry: dt.date | None = None


@dataclass(frozen=True)
class SyringeKeys:
    """One `[[cases.kit.syringes]]`: new syringes of one kind."""

    syringe: Barrel
    count: Count
    fixed: bool | None = None


@dataclass(frozen=True)
class NeedleKeys:
    """One `[[cases.kit.needles]]`: new needles of one gauge and length."""

    gauge: Gauge
    length: Millimetres
    count: Count = Count(1)


@dataclass(frozen=True)
class KitKeys:
    """`[cases.kit]`: what is really at home."""

    products: tuple[ProductKeys, ...]
    diluents: tuple[DiluentKeys, ...] = ()
    syringes: tuple[SyringeKeys, ...] = ()
    needles: tuple[NeedleKeys, ...] = ()


@dataclass(frozen=True)
class LastAntagonistKeys:
    """`last_antagonist` in a case, on the patient's clock."""

    drug: DrugName
    at: WallTime


@dataclass(frozen=True)
class CaseKeys:
    """One `[[cases]]`: one person's cycle."""

    id: Id
    zone: Zone
    order: OrderKeys
    kit: KitKeys
    slot: Id | None = None
    helper: Text | None = None
    allergies: tuple[Text, ...] = ()
    weight: BodyWeight | None = None
    bmi: BodyMass | None = None
    follicles: Count | None = None
    e2: Estradiol | None = None
    lh: Luteinising | None = None
    last_antagonist: LastAntagonistKeys | None = None
    language: Literal["en", "es"] = "en"
    left_handed: bool = False


@dataclass(frozen=True)
class SlotKeys:
    """One `[[slots]]`: planned needle-in time on the clinic's clock."""

    id: Id
    at: WallTime
    which: Which | None = None
    kind: SlotKind = SlotKind.RETRIEVAL
    room: Text | None = None


@dataclass(frozen=True)
class BandKeys:
    """One signed band: three nested closed limits on a lead."""

    ok: tuple[Span, Span]
    note: tuple[Span, Span]
    warn: tuple[Span, Span]


@dataclass(frozen=True)
class BandsKeys:
    """`[clinic.rules.bands]`: signed bands by situation."""

    standard: BandKeys | None = None
    long_agonist: BandKeys | None = None
    double_agonist: BandKeys | None = None
    double_hcg: BandKeys | None = None


@dataclass(frozen=True)
class MixKeys:
    """One `[[clinic.rules.mixes]]`: a signed mixing rule for one product."""

    product: Product
    diluent: Volume
    part_dose: bool = False
    chosen: bool = False


@dataclass(frozen=True)
class TechniqueKeys:
    """`[clinic.rules.technique]`: what the lead signed for where labels are silent."""

    bubbles: Bubbles | None = None
    dissolve_seconds: Seconds | None = None
    wait_seconds: Seconds | None = None
    skin: Skin | None = None
    drying_seconds: Seconds | None = None


@dataclass(frozen=True)
class MeasuredKeys:
    """One `[[clinic.barrels]]`: the scale of a barrel in use, from the zero line to the line of its capacity, as somebody measured it."""

    syringe: Barrel
    scale_length: ScaleLength
    measured_by: Text
    measured_at: WallTime


@dataclass(frozen=True)
class RungKeys:
    """One `[[clinic.rules.ladder]]` or `[[clinic.rules.unreached]]`: who is told, and after how long.

    Counted from an injection's minute that nobody has spoken of, or from the first call that did not reach her.
    """

    after: Span
    tell: Text


@dataclass(frozen=True)
class TroubleKeys:
    """`[clinic.rules.trouble]`: how late, and how far from the order, before the prescriber decides."""

    late_noted: Span | None = None
    late_recomputed: Span | None = None
    dose: Share | None = None


@dataclass(frozen=True)
class RulesKeys:
    """`[clinic.rules]`: what the clinic's lead has signed; what is left out rules nothing."""

    signed_by: Text
    signed_at: WallTime
    tell_by: Span | None = None
    lay_out: Span | None = None
    mixing: Span | None = None
    morning_sample: tuple[Span, Span] | None = None
    arrival: Span | None = None
    fasting_solids: Span | None = None
    fasting_clear: Span | None = None
    tolerance_note: Share | None = None
    tolerance_warn: Share | None = None
    technique: TechniqueKeys = TechniqueKeys()
    bands: BandsKeys = BandsKeys()
    mixes: tuple[MixKeys, ...] = ()
    languages: tuple[Literal["en", "es"], ...] = ()
    checkers: tuple[Literal["nurse", "prescriber", "pharmacist"], ...] = ()
    ladder: tuple[RungKeys, ...] = ()
    unreached: tuple[RungKeys, ...] = ()
    keep_years: Years | None = None
    trouble: TroubleKeys = TroubleKeys()


@dataclass(frozen=True)
class PhoneKeys:
    """One `[[clinic.phones]]`: a number and the hours at which it is answered, on the clinic's clock."""

    number: PhoneNumber
    days: tuple[Day, ...]
    opens: HourOfDay
    closes: HourOfDay


@dataclass(frozen=True)
class ClinicKeys:
    """`[clinic]`."""

    name: Text
    zone: Zone
    rules: RulesKeys | None = None
    phones: tuple[PhoneKeys, ...] = ()
    barrels: tuple[MeasuredKeys, ...] = ()


@dataclass(frozen=True)
class NightKeys:
    """The whole file."""

    schema: Literal[1]
    as_of: WallTime
    clinic: ClinicKeys
    cases: tuple[CaseKeys, ...]
    slots: tuple[SlotKeys, ...] = ()
