"""The ninth release of the demo: what a person can see, count or read on a part, to say which one it is.

The questions are those of a counter: first what shows with the part in the car, then what shows on the bench. The
error rates and the casting numbers are invented like all else; thread sizes of the flares are SAE J514's.
"""

from typing import Any

from alembic import op

revision = "catalog_0009"
down_revision = "catalog_0008"
branch_labels = None
depends_on = None

YES = ["yes", "no"]
THREADS = {
    "flare_10": "thread 7/8 in across (-10)",
    "flare_12": "thread 1 1/16 in across (-12)",
    "flare_16": "thread 1 5/16 in across (-16)",
    "flare_20": "thread 1 5/8 in across (-20)",
}


def upgrade() -> None:
    tell_pumps()
    tell_covers()
    tell_drives()
    tell_outlet_plates()
    tell_housings()
    op.publish_release(
        9,
        name="cues",
        on="2026-11-25",
        note="What can be seen and counted on pumps, covers, drives, outlet plates and thermostat housings",
        digest="sha256:2bb70a645c5992d8b3bd3f68e124545e03ac42b439f76388fbd58b6c2e2fe093",
    )


def downgrade() -> None:
    op.withdraw_release(9)


Asked = dict[str, tuple[str, list[str], str, int]]
"""For each cue its question, its answers, how easy it is, and how often people get it wrong, in percent."""


def tell(number: str, asked: Asked, answers: dict[str, str], **more: Any) -> None:
    """Give a part its answers to these questions."""
    cues = []
    for name, answer in answers.items():
        question, known, ease, wrong = asked[name]
        cue = {"question": question, "answer": answer, "answers": known, "ease": ease, "error_percent": wrong}
        cues.append({"name": name} | cue)
    op.revise_part(number, cues=cues, **more)


def years(number: str) -> dict[str, int]:
    """Model years of a pump or a cover: first generation, second generation, Greyalder."""
    for start, (first, last) in {"WP-1": (1999, 2007), "FC-R1": (1999, 2007), "WP-G": (2002, 2013)}.items():
        if number.startswith(start):
            return {"first_year": first, "last_year": last}
    return {"first_year": 2002, "last_year": 2013} if number == "FC-G1" else {"first_year": 2007, "last_year": 2016}


def rows(table: str) -> list[list[str]]:
    """The cells of a table of text, divided by bars."""
    return [[cell.strip() for cell in line.split("|")] for line in table.strip().splitlines()]


PUMP: Asked = {
    "neck": (
        "Look at the neck that the upper hose goes on: is it cast in one piece with the pump, or bolted to it?",
        ["one piece", "bolted on"],
        "in_car",
        2,
    ),
    "heater_pipes": (
        "Which way do the two small heater pipes point?",
        ["back", "up", "one pipe only", "bare holes"],
        "in_car",
        3,
    ),
    "fan_thread": ("Is there a large thread for a fan in front of the pulley?", YES, "in_car", 2),
    "tensioner": ("Does the belt's tensioner bolt to the pump?", YES, "in_car", 2),
    "body_ribs": (
        "How many stiffening ribs run along the outside of the pump's body?",
        ["none", "3", "4", "6"],
        "off_car",
        4,
    ),
    "sender": ("Is there a threaded hole, or a sender, for the temperature gauge?", YES, "off_car", 4),
    "pulley_grooves": (
        "How many grooves has the pulley?",
        ["6", "8", "12", "smooth", "no pulley"],
        "in_car",
        3,
    ),
}


def tell_pumps() -> None:
    names = ("neck", "heater_pipes", "fan_thread", "tensioner", "body_ribs", "sender")
    for number, *answers in rows("""
        WP-104 | one piece | back          | no  | no  | 3    | no
        WP-108 | one piece | back          | no  | no  | 4    | no
        WP-117 | one piece | back          | no  | no  | 4    | yes
        WP-127 | one piece | back          | no  | no  | 3    | no
        WP-139 | one piece | bare holes    | no  | no  | 3    | no
        WP-140 | one piece | one pipe only | no  | no  | 6    | yes
        WP-206 | one piece | up            | no  | no  | none | yes
        WP-227 | one piece | up            | no  | no  | 4    | yes
        WP-228 | one piece | up            | no  | no  | 6    | no
        WP-241 | one piece | up            | no  | no  | 4    | yes
        WP-242 | one piece | up            | no  | yes | 6    | no
        WP-243 | one piece | up            | no  | no  | 4    | yes
        WP-252 | bolted on | up            | no  | no  | 6    | yes
        WP-253 | one piece | up            | yes | no  | 6    | yes
        WP-G31 | one piece | back          | no  | no  | none | yes
        WP-G32 | bolted on | bare holes    | yes | no  | none | no
    """):
        found = dict(zip(names, answers, strict=True))
        if number.startswith("WP-G"):
            found["pulley_grooves"] = "6"
        tell(number, PUMP, found, attributes=years(number) | ({"how_common": 3} if number == "WP-108" else {}))


COVER: Asked = {
    "bulge": ("Is there a round bulge with a solenoid in the middle of the cover?", YES, "in_car", 2),
    "connectors": (
        "How many electrical connectors sit on the cover?",
        ["none", "1", "2", "3"],
        "in_car",
        4,
    ),
    "corner": (
        "Is the cover's lower corner, on the side of the thermostat housing, full or cut away?",
        ["full", "cut away"],
        "in_car",
        4,
    ),
    "cover_bolts": ("How many bolts hold the cover?", ["8", "9", "10", "12"], "off_car", 3),
}


def tell_covers() -> None:
    for number, *answers in rows("""
        FC-R1 | no  | 1    | cut away | 8
        FC-R2 | no  | 2    | cut away | 8
        FC-R5 | yes | 3    | cut away | 10
        FC-R6 | yes | 3    | full     | 10
        FC-G1 | no  | none | full     | 9
    """):
        more = {"aliases": ["8033-610"]} if number == "FC-G1" else {}
        tell(number, COVER, dict(zip(COVER, answers, strict=True)), attributes=years(number), **more)


DRIVE: Asked = {
    "belt_ribs": ("How many ribs has the belt?", ["4", "5", "6", "7", "8"], "in_car", 2),
    "belt_on_pump": (
        "Which side of the belt runs on the water pump: its ribs or its smooth back?",
        ["ribs", "back"],
        "in_car",
        3,
    ),
    "tensioner_on": (
        "What does the belt's tensioner bolt to?",
        ["a bracket", "the water pump"],
        "in_car",
        3,
    ),
    "alternator": (
        "Where does the alternator sit, seen from behind the engine?",
        ["left, high", "left, low", "right, high", "right, low"],
        "in_car",
        4,
    ),
    "idlers": (
        "How many plain idler pulleys does the belt run over, the tensioner not counted?",
        ["none", "1", "2", "3"],
        "in_car",
        4,
    ),
}


def tell_drives() -> None:
    for number, *answers in rows("""
        DR-506 | 6 | ribs | a bracket      | left, low   | 1
        DR-528 | 6 | ribs | a bracket      | left, high  | 1
        DR-541 | 6 | ribs | a bracket      | right, high | 2
        DR-552 | 6 | ribs | a bracket      | left, high  | 2
        DR-558 | 8 | ribs | a bracket      | right, low  | 3
        DR-628 | 6 | back | a bracket      | left, low   | 2
        DR-642 | 6 | ribs | the water pump | right, high | 1
        DR-652 | 6 | ribs | the water pump | left, high  | 1
        DR-G22 | 6 | ribs | a bracket      | right, low  | none
        DR-G33 | 6 | ribs | a bracket      | left, low   | 2
    """):
        more = {"aliases": [f"8033-6{number[-2:]}"]} if number.startswith("DR-G") else {}
        tell(number, DRIVE, dict(zip(DRIVE, answers, strict=True)), **more)


PLATE: Asked = {
    "openings": (
        "How many large openings for coolant lines does the plate show to the front?",
        ["1", "2", "3", "4"],
        "in_car",
        2,
    ),
    "opening_end": (
        "What do the large openings end in?",
        [*THREADS.values(), "a plain bore", "a neck for a hose"],
        "in_car",
        4,
    ),
    "vent": ("Is there a small end for a vent line on top?", YES, "in_car", 3),
    "plate_thermostat": ("Is there a thermostat inside the plate?", YES, "off_car", 3),
    "heater_holes": ("How many threaded holes are there for heater lines?", ["none", "1", "2", "4"], "in_car", 3),
}


def tell_outlet_plates() -> None:
    big, small, bore = THREADS["flare_20"], THREADS["flare_16"], "a plain bore"
    for number, openings, end, vent, thermostat, holes, casting in (
        ("OP-L20", "2", big, "yes", "no", "2", "7412-020"),
        ("OP-L16", "2", small, "yes", "no", "2", "7412-016"),
        ("OP-X20", "4", big, "yes", "no", "2", "7412-420"),
        ("OP-X16", "4", small, "yes", "no", "2", "7412-416"),
        ("OP-N20", "4", big, "no", "no", "none", "7412-421"),
        ("OP-T20", "2", big, "yes", "yes", "2", "7412-024"),
        ("OP-P38", "2", bore, "yes", "no", "none", "7412-038"),
    ):
        answers = dict(zip(PLATE, (openings, end, vent, thermostat, holes), strict=True))
        tell(number, PLATE, answers, aliases=[casting])


HOUSING: Asked = {
    "flange_bolts": ("How many bolts hold the housing to the pump?", ["2", "3", "4", "none"], "in_car", 2),
    "line_end": (
        "What does the hose or line to the radiator go on?",
        [
            "a neck for a 1 1/4 in hose",
            "a neck for a 1 1/2 in hose",
            "a neck for a 1 3/4 in hose",
            *THREADS.values(),
            "a plain bore",
            "a face with two bolt holes",
        ],
        "in_car",
        4,
    ),
    "points": (
        "Which way does that end point, seen from behind the engine?",
        [f"{side}, {way}" for side in ("left", "right") for way in ("forward", "up", "out", "back", "down")]
        + ["middle, forward", "middle, up", "it has two ends in one line"],
        "in_car",
        5,
    ),
    "housing_thermostat": (
        "With the housing off: is the thermostat fixed in it, or does it lift out of its seat?",
        ["fixed", "lifts out"],
        "off_car",
        3,
    ),
    "also": (
        "What else opens into the housing?",
        ["nothing", "a heater pipe", "a hole for a sender", "a vent pipe"],
        "in_car",
        3,
    ),
}
ENDS = {
    "32": "a neck for a 1 1/4 in hose",
    "38": "a neck for a 1 1/2 in hose",
    "44": "a neck for a 1 3/4 in hose",
    "16": THREADS["flare_16"],
    "20": THREADS["flare_20"],
    "bore": "a plain bore",
    "face": "a face with two bolt holes",
}


def tell_housings() -> None:
    """TH-M09 and TH-M10, which replaces it, look the same: nothing here tells them apart."""
    for number, bolts, end, points, thermostat, also in rows("""
        TH-A10 | 2 | 38 | right, forward | lifts out | nothing
        TH-A11 | 2 | 38 | left, forward  | lifts out | nothing
        TH-A12 | 2 | 38 | right, up      | fixed     | nothing
        TH-A13 | 2 | 32 | left, out      | lifts out | nothing
        TH-A14 | 2 | 16 | right, forward | lifts out | nothing
        TH-A15 | 2 | 20 | left, up       | lifts out | nothing
        TH-A16 | 2 | 38 | right, back    | lifts out | a heater pipe
        TH-G10 | 3 | 32 | left, forward  | lifts out | nothing
        TH-G11 | 3 | 32 | right, forward | lifts out | nothing
        TH-G12 | 3 | 38 | left, up       | fixed     | a vent pipe
        TH-G13 | 3 | 16 | right, out     | lifts out | nothing
        TH-M09 | 4 | 38 | right, forward | lifts out | nothing
        TH-M10 | 4 | 38 | right, forward | lifts out | nothing
        TH-M11 | 4 | 38 | left, forward  | lifts out | nothing
        TH-M12 | 4 | 38 | right, up      | fixed     | nothing
        TH-M13 | 4 | 38 | left, up       | fixed     | nothing
        TH-M14 | 4 | 44 | right, back    | lifts out | nothing
        TH-M15 | 4 | 38 | right, forward | lifts out | a heater pipe
        TH-M16 | 4 | 20 | right, forward | lifts out | nothing
        TH-M17 | 4 | 16 | left, forward  | fixed     | nothing
        TH-M18 | 4 | bore | middle, up   | lifts out | nothing
        TH-M19 | 4 | 38 | right, down    | lifts out | a hole for a sender
        TH-M20 | 4 | face | middle, forward | lifts out | nothing
    """):
        more = {"attributes": {"how_common": 4}} if number == "TH-M10" else {}
        tell(number, HOUSING, dict(zip(HOUSING, (bolts, ENDS[end], points, thermostat, also), strict=True)), **more)
    for number, end, thermostat in (
        ("TH-I16", "16", "lifts out"),
        ("TH-I16T", "16", "fixed"),
        ("TH-I20", "20", "lifts out"),
        ("TH-I20T", "20", "fixed"),
    ):
        answers = ("none", ENDS[end], "it has two ends in one line", thermostat, "nothing")
        tell(number, HOUSING, dict(zip(HOUSING, answers, strict=True)))
