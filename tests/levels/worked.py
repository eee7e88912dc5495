"""Worked readings, also the table of docs/levels.md: injections, results, what each injection's answer is, and the findings.

The rows M are limits and vectors derived from papers on morning levels: Meyer 2015 (Fertil Steril 104:637), Kummer 2013 (Hum Reprod
28:152), Vuong 2016 (Fertil Steril 105:356), Fauser 2002 (J Clin Endocrinol Metab 87:709), Ndukwe 1996 (Fertil Steril 66:845), Gunnala
2017 (PLoS ONE 12:e0176019), Stelling 2003, and the congress abstract on 174 cycles with its range of 47 to 647 units/L.
"""

from dataclasses import dataclass

TRIPTORELIN = "triptorelin acetate, 0.2 mg, subcutaneous"
LEUPROLIDE = "leuprolide acetate, 4 mg, subcutaneous"
URINARY = "chorionic gonadotropin, 10,000 units, intramuscular"
LOW_DOSE = "chorionic gonadotropin, 1,500 units, subcutaneous"
SMALL = "chorionic gonadotropin, 1,000 units, subcutaneous"
RECOMBINANT = "choriogonadotropin alfa, 250 mcg, subcutaneous"


@dataclass(frozen=True)
class Worked:
    """One worked reading. `says` is one answer an injection, in their order; `unreported` are the others that were ordered."""

    id: str
    injections: tuple[str, ...]
    results: str
    says: tuple[str, ...]
    codes: tuple[str, ...]
    source: str
    bmi: str | None = None
    before: str | None = None
    unreported: tuple[str, ...] = ()


MEYER = "Meyer 2015, Fertil Steril 104:637"
KUMMER = "Kummer 2013, Hum Reprod 28:152"
VUONG = "Vuong 2016, Fertil Steril 105:356: 7 to 10 units/L by 24 h"
NDUKWE = "Ndukwe 1996, Fertil Steril 66:845: empty retrievals 0 to 9 units/L"
MORNING = "congress abstract, 174 cycles: 191, SD 108, range 47 to 647 units/L"
LAWRENZ = "early luteal progesterone after hCG, 11 women"
ONE_HOUR = "hCG kinetics, J In Vitro Fert Embryo Transf: 10 units/L in all at 2 h"
GUNNALA = "Gunnala 2017, PLoS ONE 12:e0176019"
OURS = "hourmark's own rule: what is not known is asked"

CARE, EARLY, LATE = "read with care", "too early to judge", "too late to judge"
EXPECTED, LOW, HIGH = "as expected", "lower than expected", "higher than expected"
SILENT = "says nothing of this injection"
FAILED, NONE = "the pattern of too small a surge", "no effective dose is seen"
SUPPORTS, AGAINST = "supports that it worked", "does not support that it worked"

WORKED = (
    Worked(
        "M-01",
        (f"{TRIPTORELIN}, 12 h",),
        "LH 9 IU/L; progesterone 1.1 ng/mL",
        (FAILED,),
        ("lh-failed-pattern", "progesterone-no-rise"),
        f"{MEYER}; {KUMMER}",
    ),
    Worked(
        "M-02",
        (f"{TRIPTORELIN}, 24 h",),
        "LH 9 IU/L; progesterone 6 ng/mL",
        (SUPPORTS,),
        ("level-too-late",),
        f"{VUONG}; {KUMMER}",
    ),
    Worked(
        "M-03",
        (f"{LEUPROLIDE}, 11 h", f"{LOW_DOSE}, 11 h"),
        "LH 48 IU/L; hCG 27 IU/L; progesterone 5 ng/mL",
        (EXPECTED, EXPECTED),
        ("lh-cross-reaction",),
        f"{MEYER}; {KUMMER}; curve, urinary, subcutaneous",
    ),
    Worked(
        "M-04",
        (f"{RECOMBINANT}, 11 h",),
        "hCG 4 IU/L; progesterone 0.9 ng/mL",
        (NONE,),
        ("hcg-none-seen", "progesterone-no-rise"),
        NDUKWE,
    ),
    Worked(
        "M-05",
        (f"{URINARY}, 11 h",),
        "hCG 70 IU/L",
        (LOW,),
        ("hcg-low-for-dose", "bmi-lowers-level"),
        MORNING,
        bmi="38",
    ),
    Worked("M-06", (f"{URINARY}, 11 h",), "hCG 640 IU/L", (HIGH,), ("hcg-high-for-dose",), MORNING),
    Worked("M-07", (f"{TRIPTORELIN}, 17 h",), "LH 12 IU/L", (CARE,), ("level-with-care",), VUONG),
    Worked(
        "M-08", (f"{TRIPTORELIN}, 1 h 59 min",), "LH 9 IU/L", (EARLY,), ("level-too-early",), "Fauser 2002: peak at 4 h"
    ),
    Worked("M-09", (f"{TRIPTORELIN}, 2 h",), "LH 9 IU/L", (CARE,), ("level-with-care",), "Fauser 2002: peak at 4 h"),
    Worked(
        "M-10", (f"{TRIPTORELIN}, 7 h 59 min",), "LH 9 IU/L", (CARE,), ("level-with-care",), "Fauser 2002: peak at 4 h"
    ),
    Worked("M-11", (f"{TRIPTORELIN}, 8 h",), "LH 9 IU/L", (LOW,), ("lh-low-after-agonist",), MEYER),
    Worked("M-12", (f"{TRIPTORELIN}, 14 h",), "LH 9 IU/L", (LOW,), ("lh-low-after-agonist",), MEYER),
    Worked("M-13", (f"{TRIPTORELIN}, 14 h 1 min",), "LH 9 IU/L", (CARE,), ("level-with-care",), VUONG),
    Worked("M-14", (f"{TRIPTORELIN}, 17 h 59 min",), "LH 9 IU/L", (CARE,), ("level-with-care",), VUONG),
    Worked("M-15", (f"{TRIPTORELIN}, 18 h",), "LH 9 IU/L", (LATE,), ("level-too-late",), VUONG),
    Worked("M-16", (f"{TRIPTORELIN}, 12 h",), "LH 15 IU/L", (CARE,), ("level-with-care",), MEYER),
    Worked("M-17", (f"{TRIPTORELIN}, 12 h",), "LH 54 IU/L", (EXPECTED,), (), MEYER),
    Worked(
        "M-18",
        (f"{TRIPTORELIN}, 12 h",),
        "LH 14.9 IU/L; progesterone 3.5 ng/mL",
        (FAILED,),
        ("lh-failed-pattern", "progesterone-no-rise"),
        KUMMER,
    ),
    Worked(
        "M-19",
        (f"{TRIPTORELIN}, 12 h",),
        "LH 14.9 IU/L; progesterone 3.6 ng/mL",
        (LOW,),
        ("lh-low-after-agonist",),
        KUMMER,
    ),
    Worked("M-20", (f"{URINARY}, 1 h 59 min",), "hCG 9 IU/L", (EARLY,), ("level-too-early",), ONE_HOUR),
    Worked("M-21", (f"{URINARY}, 7 h",), "hCG 60 IU/L", (CARE,), ("level-with-care",), MORNING),
    Worked("M-22", (f"{URINARY}, 12 h",), "hCG 9.9 IU/L", (NONE,), ("hcg-none-seen",), NDUKWE),
    Worked("M-23", (f"{URINARY}, 12 h",), "hCG 10 IU/L", (LOW,), ("hcg-low-for-dose",), GUNNALA),
    Worked(
        "M-24",
        ("chorionic gonadotropin, 3,300 units, intramuscular, 12 h",),
        "hCG 40 IU/L",
        (EXPECTED,),
        ("hcg-under-reassuring",),
        f"{GUNNALA}; J Assist Reprod Genet 1998",
    ),
    Worked(
        "M-25",
        (f"{SMALL}, 12 h",),
        "hCG 9 IU/L",
        (LOW,),
        ("hcg-low-for-dose",),
        f"{MORNING}; curve, urinary, subcutaneous: about 21 units/L, and the band begins under 10",
    ),
    Worked("M-26", (f"{URINARY}, 12 h",), "hCG 700 IU/L", (HIGH,), ("hcg-above-seen",), MORNING),
    Worked(
        "M-27",
        (f"{URINARY}, 48 h",),
        "hCG 150 IU/L",
        (CARE,),
        ("level-with-care",),
        "Damewood 1989, Fertil Steril 52:398",
    ),
    Worked(
        "M-28",
        (f"{URINARY}, 240 h",),
        "hCG 2 IU/L",
        (LATE,),
        ("level-too-late",),
        "Damewood 1989, Fertil Steril 52:398",
    ),
    Worked(
        "M-29",
        (f"{RECOMBINANT}, 10 h",),
        "hCG 91.35 IU/L; progesterone 3 ng/mL",
        (EXPECTED,),
        (),
        "Mizrachi 2018, J Assist Reprod Genet 35:891",
        before="progesterone 1.0 ng/mL",
    ),
    Worked(
        "M-30",
        (f"{RECOMBINANT}, 10 h",),
        "progesterone 1.4 ng/mL",
        (AGAINST,),
        ("progesterone-no-rise",),
        LAWRENZ,
        before="progesterone 1.0 ng/mL",
    ),
    Worked(
        "M-31",
        (f"{RECOMBINANT}, 10 h",),
        "progesterone 1.8 ng/mL",
        (CARE,),
        ("level-with-care",),
        LAWRENZ,
        before="progesterone 1.0 ng/mL",
    ),
    Worked("M-32", (f"{RECOMBINANT}, 7 h",), "progesterone 0.9 ng/mL", (EARLY,), ("level-too-early",), LAWRENZ),
    Worked(
        "M-33",
        (f"{URINARY}, 11 h",),
        "hCG 4 IU/L; progesterone 5 ng/mL",
        (NONE,),
        ("hcg-none-seen", "levels-contradict"),
        f"{NDUKWE}; {LAWRENZ}",
        before="progesterone 0.8 ng/mL",
    ),
    Worked(
        "M-34",
        (f"{LEUPROLIDE}, 40 h", f"{URINARY}, 34 h"),
        "LH 4 IU/L; hCG 190 IU/L",
        (LATE, EXPECTED),
        ("level-too-late",),
        f"{VUONG}; Ndukwe 1996",
    ),
    Worked(
        "M-35",
        (f"{LEUPROLIDE}, 12 h", f"{RECOMBINANT}, 12 h"),
        "LH 46.2 IU/L; hCG 4 IU/L; progesterone 5 ng/mL",
        (EXPECTED, NONE),
        ("hcg-none-seen", "lh-cross-reaction"),
        f"{NDUKWE}: each injection is judged alone",
    ),
    Worked(
        "M-36",
        (f"{LEUPROLIDE}, 12 h", f"{RECOMBINANT}, 12 h"),
        "LH 2 IU/L; hCG 95 IU/L; progesterone 5 ng/mL",
        (LOW, EXPECTED),
        ("lh-low-after-agonist",),
        f"{MEYER}: each injection is judged alone",
    ),
    Worked("M-37", (f"{TRIPTORELIN}, 12 h",), "hCG 3 IU/L", (SILENT,), ("level-of-no-injection",), "no hCG went in"),
    Worked(
        "M-38",
        (f"{RECOMBINANT}, 12 h",),
        "LH 0.93 IU/L",
        (SILENT,),
        ("level-of-no-injection",),
        "secondary text on leuprolide and choriogonadotropin alfa: mean 0.93 units/L after hCG alone",
    ),
    Worked("M-39", ("buserelin, 600 mcg, nasal, 12 h",), "LH 60 IU/L", (EXPECTED,), (), MEYER),
    Worked(
        "M-40",
        ("choriogonadotropin alfa, 250 mcg, intramuscular, 12 h",),
        "hCG 60 IU/L",
        (CARE,),
        ("curve-missing",),
        "no level by this route was published",
    ),
    Worked("M-41", (f"{TRIPTORELIN}, 12 h",), "LH <20 IU/L", (CARE,), ("result-bounded",), MEYER),
    Worked("M-42", (f"{URINARY}, 12 h",), "hCG <2 mIU/mL", (NONE,), ("hcg-none-seen",), NDUKWE),
    Worked("M-43", (f"{URINARY}, 2 h",), "hCG 60 IU/L", (CARE,), ("level-with-care",), ONE_HOUR),
    Worked("M-44", (f"{URINARY}, 8 h",), "hCG 9 IU/L", (NONE,), ("hcg-none-seen",), f"{MORNING}; {NDUKWE}"),
    Worked("M-45", (f"{URINARY}, 36 h",), "hCG 4 IU/L", (NONE,), ("hcg-none-seen",), NDUKWE),
    Worked(
        "M-46",
        (f"{URINARY}, 36 h 1 min",),
        "hCG 4 IU/L",
        (CARE,),
        ("level-with-care",),
        "Damewood 1989, Fertil Steril 52:398",
    ),
    Worked("M-47", (f"{TRIPTORELIN}, 8 h",), "progesterone 3.6 ng/mL", (SUPPORTS,), (), KUMMER),
    Worked("M-48", (f"{TRIPTORELIN}, 36 h",), "progesterone 3.6 ng/mL", (SUPPORTS,), (), KUMMER),
    Worked("M-49", (f"{TRIPTORELIN}, 36 h 1 min",), "progesterone 3.6 ng/mL", (LATE,), ("level-too-late",), LAWRENZ),
    Worked("M-50", (f"{URINARY}, 12 h",), "hCG 19.9 IU/L", (LOW,), ("hcg-low-for-dose",), GUNNALA),
    Worked(
        "M-51",
        (f"{TRIPTORELIN}, 12 h",),
        "progesterone 3.6 ng/mL",
        (CARE,),
        ("level-with-care",),
        KUMMER,
        before="progesterone 3.4 ng/mL",
    ),
    Worked(
        "M-52",
        (f"{TRIPTORELIN}, 12 h",),
        "progesterone 3.4 ng/mL",
        (CARE,),
        ("level-with-care",),
        KUMMER,
        before="progesterone 1 ng/mL",
    ),
    Worked(
        "M-53",
        (f"{RECOMBINANT}, 10 h",),
        "progesterone 1.4 ng/mL",
        (CARE,),
        ("level-with-care",),
        LAWRENZ,
        before="progesterone 0.6 ng/mL",
    ),
    Worked(
        "M-54",
        (f"{RECOMBINANT}, 10 h",),
        "progesterone 1.5 ng/mL",
        (SUPPORTS,),
        (),
        LAWRENZ,
        before="progesterone 0.6 ng/mL",
    ),
    Worked("M-55", (f"{RECOMBINANT}, 10 h",), "progesterone 1.5 ng/mL", (AGAINST,), ("progesterone-no-rise",), LAWRENZ),
    Worked("M-56", (f"{RECOMBINANT}, 10 h",), "progesterone 1.6 ng/mL", (CARE,), ("level-with-care",), LAWRENZ),
    Worked(
        "M-57",
        (f"{URINARY}, 11 h",),
        "hCG 150 IU/L",
        (EXPECTED,),
        ("bmi-lowers-level",),
        "derived from Shah 2014 and Chan 2003",
        bmi="30",
    ),
    Worked(
        "M-58",
        (f"{RECOMBINANT}, 12 h",),
        "LH 2 IU/L",
        (SILENT,),
        ("injection-not-known",),
        OURS,
        unreported=("agonist",),
    ),
    Worked(
        "M-59",
        (f"{TRIPTORELIN}, 12 h",),
        "hCG 3 IU/L; LH 46.2 IU/L",
        (EXPECTED,),
        ("injection-not-known", "lh-cross-reaction"),
        OURS,
        unreported=("hCG",),
    ),
    Worked(
        "M-60",
        (f"{TRIPTORELIN}, 12 h",),
        "LH 46.2 IU/L; progesterone 5 ng/mL",
        (CARE,),
        ("injection-not-known",),
        OURS,
        unreported=("agonist",),
    ),
    Worked(
        "M-61",
        (f"{SMALL}, 8 h",),
        "hCG 9 IU/L",
        (CARE,),
        ("level-with-care",),
        "curve, urinary, subcutaneous: about 17 units/L, and the band begins under 10",
    ),
    Worked(
        "M-62",
        (f"{TRIPTORELIN}, 12 h", f"{SMALL}, 12 h"),
        "LH 48 IU/L; hCG 0 IU/L",
        (EXPECTED, LOW),
        ("hcg-low-for-dose", "lh-cross-reaction"),
        f"{MORNING}; curve, urinary, subcutaneous: about 21 units/L, and the band begins under 10",
    ),
    Worked(
        "M-63",
        (f"{TRIPTORELIN}, 12 h", f"{RECOMBINANT}, 12 h"),
        "LH 18 IU/L; hCG 95 IU/L",
        (CARE, EXPECTED),
        ("level-with-care", "lh-cross-reaction"),
        "laboratory practice, from memory: old LH assays read hCG as LH",
    ),
    Worked(
        "M-64",
        (f"{RECOMBINANT}, 12 h",),
        "progesterone 0 ng/mL",
        (AGAINST,),
        ("progesterone-no-rise",),
        LAWRENZ,
        before="progesterone 0 ng/mL",
    ),
)
