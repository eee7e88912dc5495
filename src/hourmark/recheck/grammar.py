"""How a page reads in each language: the patterns of its lines. Written from the printed words, not from what prints them."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache


@dataclass(frozen=True, slots=True)
class Grammar:
    """One language's lines. Patterns are regular expressions for a whole line; names in them say what is read there."""

    days: tuple[str, ...]
    months: tuple[str, ...]
    said: str
    clock: str
    halves: tuple[str, str, str, str]
    units: Mapping[str, str]
    words_language: str
    needle: str
    mark: str
    lines: Mapping[str, str]
    steps: Mapping[str, str]
    technique: Mapping[str, str]

    def read(self, name: str, text: str) -> re.Match[str] | None:
        """The line of that name, read; None when it reads otherwise."""
        return compiled(self.lines[name]).fullmatch(text)


@cache
def compiled(pattern: str) -> re.Pattern[str]:
    """A pattern made ready; there are some tens of them, each used on every line."""
    return re.compile(pattern)


_ENGLISH = Grammar(
    days=("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"),
    months=(
        *("January", "February", "March", "April", "May", "June", "July"),
        *("August", "September", "October", "November", "December"),
    ),
    said=(
        r"(?:(?P<day>\w+) (?P<date>\d{1,2} \w+ \d{4}), (?P<twelve>\d{1,2}:\d{2} (?:am|pm|noon)) \((?P<clock>\d{2}:\d{2})\)"
        r"|12:00 midnight \(00:00\) at the END of (?P<end>\w+ \d{1,2} \w+ \d{4}) and the START of (?P<start>\w+ \d{1,2} \w+ \d{4}))"
        r"(?:, the (?:(?P<first>FIRST) time, before|(?P<second>SECOND) time, after) the clocks go back)?"
        r"(?:, the night of (?P<evening>\w+) into (?P<morning>\w+))?"
        r", (?P<city>.+) time"
    ),
    clock=r"(?P<twelve>\d{1,2}:\d{2} (?:am|pm|noon|midnight)) \((?P<clock>\d{2}:\d{2})\)(?:, the (?:(?P<first>FIRST)|(?P<second>SECOND)) time)?",
    halves=("am", "pm", "noon", "midnight"),
    units={"unit": "units", "units": "units"},
    words_language="en",
    needle=r"(\d+) gauge, (\d+) mm",
    mark="mark",
    lines={
        "first": r"First read the boxes",
        "medicine": r"Medicine (?P<place>\d+) of (?P<count>\d+): (?P<drug>.+)",
        "ready": r"Get ready (?P<place>\d+) of (?P<count>\d+): (?P<drug>.+), in (?P<steps>\d+) steps?",
        "give": r"Give (?P<place>\d+) of (?P<count>\d+): (?P<drug>.+), in (?P<steps>\d+) steps?",
        "when": r"When: (.+)",
        "zone": r"Zone: (.+)",
        "dose": r"Dose: (?P<dose>.+?) \((?P<words>.+)\)",
        "route": r"Route: (.+?) \(.+\)",
        "strength": r"Strength: (?P<strength>.+?)(?: in each (?P<each>vial|syringe|spray))?",
        "box": r"Box: (.+)",
        "words": r'Words on the box: "(.+)"',
        "lay-out": r"Lay everything out: (?P<day>\w+) (?P<at>.+?)(?:, the night of (?P<evening>\w+) into (?P<morning>\w+))?",
        "mix": r"Start to (?:mix|draw up): (?P<day>\w+) (?P<at>.+?)(?:, the night of (?P<evening>\w+) into (?P<morning>\w+))?",
        "vials": r"Vials: (.+)",
        "water": r"Add: (?P<water>.+ mL) of (?P<kind>.+) to (?:the|each) powder vial\. Not more\.",
        "barrel": (
            r"Syringe(?: \d+ of \d+)?: (?P<capacity>[\d.]+) mL "
            r"(?:U-100 syringe, lines every (?P<marks>[\d.]+) marks?, largest number (?P<largest>\d+)"
            r"|syringe, lines every (?P<step>[\d.]+) mL) \(new\)"
        ),
        "mark": r"Draw up to: (?:mark (?P<mark>[\d.]+) \((?P<volume>[\d.]+) mL\)|(?P<plain>[\d.]+) mL)\. Inject all of it\.",
        "everything": r"Draw up everything that is .+, about (.+ mL)\. Inject all of it\.",
        "prefilled": r"Prefilled syringe(?: \d+ of \d+)?: inject all of it \((.+)\)\.",
        "sprays": r"Sprays: (.+)",
        "left": r"What stays in the vial: about (.+ mL)\. That is right\. Do not inject it\.",
        "provisional": r"This time holds only if the first is given on its minute\. It is (.+) after the ACTUAL first: .+",
        "in-all": r"(?P<dose>.+) in all, in (?P<fills>\d+) injections: .+",
        "slot": r"Planned \w+: (.+)",
        "slot-zone": r"Clinic's zone: (.+)",
        "together": r"(?:Together|Those on the same minute together), each in its own syringe, in this order, at most (.+) apart\.",
        "number": r"Call .+ at that hour: (.+)",
        "end": r"Severe symptoms: .+|Where this comes from",
        "number-open": r"written in by the clinic at release",
        "or": r" or ",
    },
    steps={
        "says": r"Read the [a-z ]+\. It must say: (?P<drug>.+?), (?P<strength>.+)\.",
        "prefilled-says": r"Take the prefilled syringe(?:, number \d+ of \d+)?\. It must say: (?P<drug>.+?), (?P<strength>.+)\.",
        "on-box": r"Lay this syringe on the box of (.+)\.",
        "from-box": r"Take the syringe from the box of (.+?)(?:, number \d+ of \d+)?\.(?: Read the number at the top ring\.)?",
        "into-vial": r"Put the needle through the rubber of the vial: (.+)\.",
        "water-says": r"Read the water vial\. It must say: (.+)\.",
        "largest": r"Read the syringe for the injection\. Largest number: (.+)\. Lines: every .+\.",
        "pull-water": r"Pull (.+ mL) of water into the syringe\.",
        "water-seen": r"The top ring of the stopper is at (.+ mL)\.",
        "push-to": r"Push slowly until the top ring of the stopper is at (.+)\.",
        "it-is": r"It is ((?:mark )?[\d.]+(?: mL)?(?: or (?:mark )?[\d.]+(?: mL)?)*)\. If not: do not inject\. Call\.",
        "whole-is": r"About (.+ mL) is in it, or a little less\. If not: do not inject\. Call\.",
        "in-check": r"It is empty\. All (.+ mL) is in the powder vial\.",
        "past": r"Pull the plunger a little past (.+)\.",
        "past-again": r"Push any big air bubble back into the vial and pull again a little past (.+)\.",
        "needle-on": r"Put the injection needle on: (.+)\.",
        "needle-seen": r"It is the one to inject: (.+)\.",
        "boxed-needles": r"Read the needles\. They must be: .+\.",
        "needle-boxed": r"Read the needles\. They must be: .*?(\d+ gauge, \d+ mm) to inject\.",
        "stays": r"About (.+ mL) stays in it\. That is right\.",
        "sprays": r"Count the sprays you will take: (\d+)\.",
        "wait": r"WAIT: do not (?:inject|spray) before (.+)\.",
        "clock-seen": r"The clock says (.+)\.",
        "skin": r"Choose a place.*: .+\.",
        "muscle": r"Find the place.* that your nurse showed you on the hip or buttock\.",
        "nose": r"Press the bottle ONE time in the open side and sniff: spray .+\.",
    },
    technique={
        "dissolve": r"gently for (\d+) seconds",
        "wait": r"Count slowly to (\d+)",
        "drying": r"dry in the air for (\d+) seconds",
        "pumps": r"into the air (\d+) times",
        "tilt": r"Tilt your head back for (\d+) seconds",
        "angle": r"at an angle of ([\d to]+) degrees",
        "site": r"at least (\d+) cm from the navel",
    },
)

_SPANISH = Grammar(
    days=("lunes", "martes", "miércoles", "jueves", "viernes", "sábado", "domingo"),
    months=(
        *("enero", "febrero", "marzo", "abril", "mayo", "junio", "julio"),
        *("agosto", "septiembre", "octubre", "noviembre", "diciembre"),
    ),
    said=(
        r"(?:(?P<day>\w+) (?P<date>\d{1,2} de \w+ de \d{4}), (?P<twelve>\d{1,2}:\d{2} (?:a\. m\.|p\. m\.|del mediodía)) \((?P<clock>\d{2}:\d{2})\)"
        r"|12:00 de la medianoche \(00:00\) al TERMINAR el (?P<end>\w+ \d{1,2} de \w+ de \d{4}) y al EMPEZAR el (?P<start>\w+ \d{1,2} de \w+ de \d{4}))"
        r"(?:, la (?:(?P<first>PRIMERA) vez, antes|(?P<second>SEGUNDA) vez, después) de atrasar el reloj)?"
        r"(?:, la noche del (?P<evening>\w+) al (?P<morning>\w+))?"
        r", hora de (?P<city>.+)"
    ),
    clock=(
        r"(?P<twelve>\d{1,2}:\d{2} (?:a\. m\.|p\. m\.|del mediodía|de la medianoche)) \((?P<clock>\d{2}:\d{2})\)"
        r"(?:, la (?:(?P<first>PRIMERA)|(?P<second>SEGUNDA)) vez)?"
    ),
    halves=("a. m.", "p. m.", "del mediodía", "de la medianoche"),
    units={"unidad": "units", "unidades": "units"},
    words_language="es",
    needle=r"calibre (\d+), (\d+) mm",
    mark="marca",
    lines={
        "first": r"Primero lea las cajas",
        "medicine": r"Medicamento (?P<place>\d+) de (?P<count>\d+): (?P<drug>.+)",
        "ready": r"Prepare (?P<place>\d+) de (?P<count>\d+): (?P<drug>.+), en (?P<steps>\d+) pasos?",
        "give": r"Aplique (?P<place>\d+) de (?P<count>\d+): (?P<drug>.+), en (?P<steps>\d+) pasos?",
        "when": r"Cuándo: (.+)",
        "zone": r"Zona: (.+)",
        "dose": r"Dosis: (?P<dose>.+?) \((?P<words>.+)\)",
        "route": r"Vía: (.+?) \(.+\)",
        "strength": r"Contenido: (?P<strength>.+?)(?: en cada (?P<each>frasco|jeringa|rociada))?",
        "box": r"Caja: (.+)",
        "words": r'Palabras en la caja: "(.+)"',
        "lay-out": r"Ponga todo en la mesa: (?P<day>\w+) (?P<at>.+?)(?:, la noche del (?P<evening>\w+) al (?P<morning>\w+))?",
        "mix": r"Empiece a (?:mezclar|llenar la jeringa): (?P<day>\w+) (?P<at>.+?)(?:, la noche del (?P<evening>\w+) al (?P<morning>\w+))?",
        "vials": r"Frascos: (.+)",
        "water": r"Añada: (?P<water>.+? mL) de (?P<kind>.+?)(?: \(.+\))? (?:al|a cada) frasco con polvo\. No más\.",
        "barrel": (
            r"Jeringa(?: \d+ de \d+)?: "
            r"(?:U-100 de (?P<capacity>[\d.]+) mL, líneas cada (?P<marks>[\d.]+) marcas?, número más grande (?P<largest>\d+)"
            r"|de (?P<capacity_ml>[\d.]+) mL, líneas cada (?P<step>[\d.]+) mL) \(nueva\)"
        ),
        "mark": r"Llene hasta: (?:marca (?P<mark>[\d.]+) \((?P<volume>[\d.]+) mL\)|(?P<plain>[\d.]+) mL)\. Inyecte todo\.",
        "everything": r"Saque todo lo que .+, alrededor de (.+ mL)\. Inyecte todo\.",
        "prefilled": r"Jeringa prellenada(?: \d+ de \d+)?: inyecte todo \((.+)\)\.",
        "sprays": r"Rociadas: (.+)",
        "left": r"Lo que queda en el frasco: alrededor de (.+ mL)\. Está bien así\. No lo inyecte\.",
        "provisional": r"Esta hora solo vale si el primero se pone a su minuto\. Es (.+) después de la hora REAL del primero: .+",
        "in-all": r"(?P<dose>.+) en total, en (?P<fills>\d+) inyecciones: .+",
        "slot": r"(?:Extracción de óvulos|Inseminación) prevista: (.+)",
        "slot-zone": r"Zona de la clínica: (.+)",
        "together": r"(?:Juntos|Los del mismo minuto van juntos), cada uno en su jeringa, en este orden, con (.+) entre ellos como máximo\.",
        "number": r"Llame a .+ a esa hora: (.+)",
        "end": r"Síntomas graves: .+|De dónde viene esto",
        "number-open": r"lo escribe la clínica al autorizar la hoja",
        "or": r" o ",
    },
    steps={
        "says": r"Lea esto: [a-z ]+\. Debe decir: (?P<drug>.+?), (?P<strength>.+)\.",
        "prefilled-says": r"Tome la jeringa prellenada(?:, número \d+ de \d+)?\. Debe decir: (?P<drug>.+?), (?P<strength>.+)\.",
        "on-box": r"Ponga esta jeringa sobre la caja de (.+)\.",
        "from-box": r"Tome la jeringa de la caja de (.+?)(?:, número \d+ de \d+)?\.(?: Lea el número en el anillo de arriba\.)?",
        "into-vial": r"Meta la aguja por la goma de este frasco: (.+)\.",
        "water-says": r"Lea el frasco de agua\. Debe decir: (.+?)(?: \(.+\))?\.",
        "largest": r"Lea la jeringa para inyectar\. Número más grande: (.+)\. Líneas: cada .+\.",
        "pull-water": r"Jale (.+ mL) de agua a la jeringa\.",
        "water-seen": r"El anillo de arriba del émbolo está en (.+ mL)\.",
        "push-to": r"Empuje despacio hasta que el anillo de arriba del émbolo esté en (.+)\.",
        "it-is": r"Es ((?:marca )?[\d.]+(?: mL)?(?: o (?:marca )?[\d.]+(?: mL)?)*)\. Si no: no inyecte\. Llame\.",
        "whole-is": r"Hay alrededor de (.+ mL) adentro, o un poco menos\. Si no: no inyecte\. Llame\.",
        "in-check": r"Está vacía\. Toda el agua, (.+ mL), está en el frasco con polvo\.",
        "past": r"Jale el émbolo un poco más allá de (.+)\.",
        "past-again": r"Empuje las burbujas grandes de aire al frasco y jale otra vez un poco más allá de (.+)\.",
        "needle-on": r"Ponga la aguja para inyectar: (.+)\.",
        "needle-seen": r"Es la de inyectar: (.+)\.",
        "boxed-needles": r"Lea las agujas\. Deben ser: .+\.",
        "needle-boxed": r"Lea las agujas\. Deben ser: .*?(calibre \d+, \d+ mm) para inyectar\.",
        "stays": r"Quedan alrededor de (.+ mL) adentro\. Está bien así\.",
        "sprays": r"Cuente las rociadas que va a usar: (\d+)\.",
        "wait": r"ESPERE: no (?:inyecte|rocíe) antes de las (.+)\.",
        "clock-seen": r"El reloj dice (.+)\.",
        "skin": r"Elija un lugar.*: .+\.",
        "muscle": r"Busque el lugar.* que su enfermera le mostró en la cadera o la nalga\.",
        "nose": r"Apriete el frasco UNA vez en el lado abierto y aspire: rociada .+\.",
    },
    technique={
        "dissolve": r"despacio por (\d+) segundos",
        "wait": r"Cuente despacio hasta (\d+)",
        "drying": r"se seque al aire por (\d+) segundos",
        "pumps": r"bombee al aire (\d+) veces",
        "tilt": r"hacia atrás por (\d+) segundos",
        "angle": r"con un ángulo de ([\d a]+) grados",
        "site": r"a (\d+) cm o más del ombligo",
    },
)

GRAMMARS: Mapping[str, Grammar] = {"en": _ENGLISH, "es": _SPANISH}

ROUTES: Mapping[str, str] = {"subcutánea": "subcutaneous", "intramuscular": "intramuscular", "nasal": "nasal"}
"""Printed routes that are not the English word."""

EACH: Mapping[str, str] = {"frasco": "vial", "jeringa": "syringe", "rociada": "spray"}
"""Printed containers that are not the English word."""
