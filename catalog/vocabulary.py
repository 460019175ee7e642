"""The closed lists of words that a catalog may use: measures from face to face, and attributes.

A measure may carry a suffix after a dot where a part has several of the kind: `cover_room.sensor`
is the room over the cover's sensor zone, plain `cover_room` is the centre.
"""

from typing import Final

import msgspec

from catalog.domain import Kind, Part, TakenWith
from catalog.units import NM_PER_INCH, NM_PER_MM

HOLDERS: Final[tuple[Kind, ...]] = ("engine", "water_pump", "adapter_plate", "outlet_plate", "thermostat_housing")
"""Kinds with threaded holes that hold what is bolted to them."""


class MeasureWord(msgspec.Struct, frozen=True):
    """What a measure runs between, on which kinds of part, and which of these must state it."""

    meaning: str
    kinds: tuple[Kind, ...]
    needed_by: tuple[Kind, ...] = ()
    suffix: bool = False
    signed: bool = False


MEASURES: Final[dict[str, MeasureWord]] = {
    "belt_plane": MeasureWord(
        "from the pump's flange (a drive: from the block's pump face) to the belt's centre",
        ("water_pump", "accessory_drive"),
        ("accessory_drive",),
        signed=True,
    ),
    "pulley_front": MeasureWord("from the pump's flange to the front edge of its pulley", ("water_pump",), signed=True),
    "front_offset": MeasureWord("from the belt's centre to the pulley's front edge", ("water_pump", "pulley")),
    "fan_face": MeasureWord("from the pump's flange to the seat of its fan", ("water_pump",), signed=True),
    "hub_face": MeasureWord("from the pump's flange to the face of its hub", ("water_pump",), signed=True),
    "nose": MeasureWord(
        "from the pump's or plate's flange (a drive: from the block's pump face) to its foremost point",
        ("water_pump", "outlet_plate", "accessory_drive"),
    ),
    "cover_room": MeasureWord(
        "from the pump's or plate's flange forward to the lowest point over the cover",
        ("water_pump", "outlet_plate"),
        suffix=True,
        signed=True,
    ),
    "flange_thickness": MeasureWord(
        "from a flange's rear face to the face under the bolt heads",
        ("water_pump", "adapter_plate", "outlet_plate", "thermostat_housing", "fitting", "fan_adapter"),
    ),
    "carrier_face": MeasureWord(
        "from the pump's flange to the face of a boss that carries a part of the drive",
        ("water_pump",),
        suffix=True,
        signed=True,
    ),
    "carried_offset": MeasureWord(
        "from the carrying boss to the belt's centre on the carried pulley",
        ("accessory_drive",),
        suffix=True,
        signed=True,
    ),
    "offset": MeasureWord(
        "from a loose pulley's mounting face to the belt's centre",
        ("pulley", "crank_pulley"),
        ("pulley", "crank_pulley"),
        signed=True,
    ),
    "diameter": MeasureWord("a ribbed pulley's effective diameter", ("water_pump", "pulley", "crank_pulley")),
    "cover_height": MeasureWord(
        "from the block's pump face to the cover's front", ("front_cover",), ("front_cover",), suffix=True, signed=True
    ),
    "shortest_span": MeasureWord("the belt's shortest free span beside the pump", ("accessory_drive",)),
    "thickness": MeasureWord(
        "from face to face (a gasket: compressed; an O-ring has none)",
        ("spacer", "adapter_plate", "outlet_plate", "gasket", "fan_adapter"),
        ("spacer", "adapter_plate", "fan_adapter"),  # and every gasket that is no O-ring (checks_of_joints)
    ),
    "length": MeasureWord(
        "of a bolt from under its head to its end (`length.housing`: of a kit's bolts for other joints than the "
        "block's); of a hose along its middle",
        ("fastener_set", "hose"),
        ("fastener_set",),
        suffix=True,
    ),
    "washer_thickness": MeasureWord("of the washer under a bolt's head", ("fastener_set",)),
    "hole_depth": MeasureWord(
        "usable thread from the face into the hole",
        HOLDERS,
        ("engine",),
    ),
    "depth": MeasureWord(
        "from a fan's mounting face to its front edge; of a fan on the radiator, from the core to its rear", ("fan",)
    ),
    "depth_behind": MeasureWord("from a fan's mounting face back to its rear edge", ("fan",)),
    "crank_face": MeasureWord("from the block's pump face to the seat of the crank pulley", ("engine",), signed=True),
}

_FLANGE: Final = {
    "water_pump": "the pump's flange",
    "outlet_plate": "the plate's flange",
    "adapter_plate": "the plate's flange",
    "thermostat_housing": "the housing's flange",
    "fitting": "the fitting's flange",
    "fan_adapter": "the adapter's flange",
    "accessory_drive": "the block's pump face",
}
"""Where measures of these kinds start, unless the measure says otherwise."""
_FACES: Final[dict[str, tuple[str, str]]] = {
    # From one named face to another; "" is the part's own flange.
    "belt_plane": ("", "the belt's centre"),
    "pulley_front": ("", "the front edge of its pulley"),
    "front_offset": ("the belt's centre", "the pulley's front edge"),
    "fan_face": ("", "the seat of its fan"),
    "hub_face": ("", "the face of its hub"),
    "nose": ("", "its foremost point"),
    "cover_room": ("", "its lowest point over the cover"),
    "flange_thickness": ("the rear face of its flange", "the face under the bolt heads"),
    "carrier_face": ("", "the face of the boss that carries a part of the drive"),
    "carried_offset": ("the boss that carries it", "the belt's centre on the carried pulley"),
    "offset": ("the pulley's mounting face", "the belt's centre"),
    "diameter": ("one side of the pulley", "the other, at its effective diameter"),
    "cover_height": ("the block's pump face", "the cover's front"),
    "shortest_span": ("one pulley", "the next, along the belt"),
    "thickness": ("one face", "the other"),
    "length": ("the underside of the bolt's head", "its end"),
    "washer_thickness": ("one face of the washer", "the other"),
    "hole_depth": ("the face around the hole", "the end of its usable thread"),
    "depth": ("the fan's mounting face", "its front edge"),
    "depth_behind": ("the fan's mounting face", "its rear edge, to the back"),
    "crank_face": ("the block's pump face", "the seat of the crank pulley"),
}
_ON_THE_CORE: Final = ("the radiator's core", "the fan's rear")
"""Between which the depth of a fan is taken that sits on the radiator."""


def faces(part: Part, measure: str) -> tuple[str, str]:
    """From which face to which a measure of a part is taken, in words; the zone or part of its suffix is named."""
    plain, _, suffix = measure.partition(".")
    if plain == "depth" and part.attributes.get("driven_by") == "radiator":
        return _ON_THE_CORE
    if plain == "length" and part.kind == "hose":
        return "one end of the hose", "the other, along its middle"
    from_, to = _FACES[plain]
    if suffix and plain != "length":
        to = f"{to} ({suffix.replace('_', ' ')})"
    return from_ or _FLANGE[part.kind], to


class AttributeWord(msgspec.Struct, frozen=True):
    """What an attribute says, on which kinds of part, its type, and its values where they are a closed list."""

    meaning: str
    kinds: tuple[Kind, ...]
    type: type
    values: tuple[str, ...] = ()
    needed_by: tuple[Kind, ...] = ()


WORK: Final = ("bolt_on", "hand_fit", "press", "weld", "machining")
"""Work, the lightest first."""
PROFILES: Final = ("PH", "PJ", "PK", "PL", "PM")
THREADS: Final = ("M6x1", "M8x1.25", "M8x1", "M10x1.5", "M10x1.25")
MATERIALS: Final = ("aluminium", "cast_iron", "steel")
ROTATIONS: Final = ("clockwise", "counterclockwise")
ALL_KINDS: Final[tuple[Kind, ...]] = Kind.__args__  # type: ignore[attr-defined]

ATTRIBUTES: Final[dict[str, AttributeWord]] = {
    "work": AttributeWord("the hardest step of fitting it; bolt_on where it is not stated", ALL_KINDS, str, WORK),
    "profile": AttributeWord(
        "rib profile of the belt or of the ribbed bands (ISO 9982)",
        ("accessory_drive", "water_pump", "pulley", "crank_pulley", "belt"),
        str,
        PROFILES,
        ("accessory_drive",),
    ),
    "ribs": AttributeWord("ribs of the belt", ("accessory_drive", "belt"), int, (), ("accessory_drive",)),
    "belt_side": AttributeWord(
        "side of the belt that runs on the pump", ("accessory_drive",), str, ("ribbed", "smooth"), ("accessory_drive",)
    ),
    "rotation": AttributeWord(
        "the way the pump turns (a drive: the way its belt turns the pump), seen from the front of the engine",
        ("water_pump", "accessory_drive"),
        str,
        ROTATIONS,
    ),
    "thread": AttributeWord(
        "thread of the holes, or of the bolts",
        (*HOLDERS, "fastener_set"),
        str,
        THREADS,
        ("engine", "fastener_set"),
    ),
    "hole_material": AttributeWord("what the threaded holes are cut in", HOLDERS, str, MATERIALS, ("engine",)),
    "wet_holes": AttributeWord("whether the holes open into coolant", HOLDERS, bool),
    "shape": AttributeWord("whether a hose is straight or molded", ("hose",), str, ("straight", "molded")),
    "crosses": AttributeWord("whether a hose leads from one side of the engine to the other", ("hose",), bool),
    "molded_from": AttributeWord("number of the part that one end of a molded hose fits", ("hose",), str),
    "molded_to": AttributeWord("number of the part that its other end fits", ("hose",), str),
    "thermostat_included": AttributeWord(
        "whether the thermostat comes with it", ("thermostat_housing", "outlet_plate"), bool
    ),
    "bypass": AttributeWord(
        "what lets coolant round the pump while the thermostat is shut: a passage inside, the heater's circuit, a port",
        ("water_pump",),
        str,
        ("internal", "heater", "port"),
    ),
    "driven_by": AttributeWord(
        "whether a fan turns with the engine or sits on the radiator", ("fan",), str, ("engine", "radiator")
    ),
    "belt_without_pump": AttributeWord(
        "number of the belt that this drive takes where no pump is driven", ("accessory_drive",), str
    ),
    "housing_pieces": AttributeWord("bolts of a kit for other joints than the block's", ("fastener_set",), int),
    "pieces": AttributeWord("bolts in the set", ("fastener_set",), int, (), ("fastener_set",)),
    "free_zones": AttributeWord(
        "zones of a cover over which nothing of the part reaches, so that no room is measured there: their names, as "
        "`cover_height` has them after its dot, with a comma and a space between; `centre` is the plain one",
        ("water_pump", "outlet_plate"),
        str,
    ),
    "generation": AttributeWord("the shop's own word for the generation", ALL_KINDS, str),
    "how_common": AttributeWord(
        "how often it comes across the counter beside others of its kind, 1 where it is not stated", ALL_KINDS, int
    ),
    "first_year": AttributeWord("first model year", ALL_KINDS, int),
    "last_year": AttributeWord("last model year", ALL_KINDS, int),
}

RESERVED: Final = frozenset({"none", "mechanical", "electric", "latest", "sheet"})
"""Words that mean something in a build or in an address and so are no part numbers."""
PART_NUMBER: Final = r"^[A-Za-z0-9][A-Za-z0-9._-]{0,39}$"
NAME: Final = r"^[a-z][a-z0-9]*(_[a-z0-9]+)*$"
"""Names of connections, ports, rules and cues: lower case words joined by underscores."""
MEASURE_NAME: Final = r"^[a-z][a-z_]{0,39}(\.[a-z][a-z0-9_]{0,39})?$"
FREE_ZONES: Final = r"^[a-z][a-z0-9_]*(, [a-z][a-z0-9_]*)*$"
"""How the attribute `free_zones` is written."""
SETTLED_BY_TEST: Final = ("belt_plane", "belt", "rotation", "crank", "cover", "carried_parts")
"""The checks that a tested fit may settle: never bolts, a radiator's gap or the asker's own readings."""

DEFAULT_TOLERANCE: Final[dict[TakenWith, int]] = {
    # Common practice, no source: a drawn dimension without its own tolerance, a caliper on a casting,
    # and a tape read to the nearest sixteenth from a hooked end.
    "drawing": NM_PER_MM // 10,
    "caliper": NM_PER_MM // 5,
    "tape": NM_PER_INCH // 16,
}


def free_zones(part: Part) -> frozenset[str]:
    """The zones of a cover over which nothing of a part reaches, as measures name them; the centre is empty."""
    stated = part.attributes.get("free_zones")
    zones = stated.split(", ") if isinstance(stated, str) else []
    return frozenset("" if zone == CENTRE else zone for zone in zones)


CENTRE: Final = "centre"
"""What the zone is called that has no name of its own among measures."""


def measure_word(name: str) -> MeasureWord | None:
    """The word for a measure's name, with or without a suffix; None where there is no such measure."""
    plain, dot, suffix = name.partition(".")
    word = MEASURES.get(plain)
    if word is None or (dot and (not word.suffix or not suffix)):
        return None
    return word
