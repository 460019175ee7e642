"""Words and numbers that the sentences share."""

import re
from collections.abc import Iterator, Mapping
from decimal import ROUND_CEILING, ROUND_HALF_EVEN, Decimal
from fractions import Fraction
from functools import lru_cache
from typing import Any, Final, Literal

from catalog.units import NM_PER_INCH, NM_PER_MM
from service.fit.answer import Facts, Length, Window
from service.fit.readings import called

Units = Literal["mm", "in"]

FIELDS: Final = {
    "engine": "engine",
    "accessory_drive": "accessory drive",
    "front_cover": "front cover",
    "pump": "pump",
    "pulley": "pulley",
    "crank_pulley": "crank pulley",
    "radiator": "radiator",
    "heater": "heater",
    "fan": "fan",
    "core_distance": "distance to the radiator's core",
}

SPOKEN: Final = {
    "pump": "the pump",
    "drive": "the drive",
    "cover": "the cover",
    "engine": "the engine",
    "crank": "the crank pulley",
}
"""What an option has only one of is called by its kind; its name stands above the sentence."""


def spoken(facts: Facts) -> dict[str, str]:
    """How these are called in a sentence: what sits on the block is an outlet plate where the pump sits elsewhere."""
    return SPOKEN | ({"pump": "the outlet plate"} if facts.get("seat") == "outlet_plate" else {})


WORK_WORDS: Final = {
    "bolt_on": "bolting on",
    "hand_fit": "fitting by hand",
    "press": "pressing in",
    "weld": "welding",
    "machining": "machining",
}

LINE_WORDS: Final = {
    # Where each obligation starts, and where it must lead.
    "outlet": ("the outlet", "the radiator's upper port"),
    "inlet": ("the inlet", "the radiator's lower port"),
    "heater_feed": ("the heater feed", "the heater"),
    "heater_return": ("the heater return", "the heater"),
    "bypass": ("the bypass", "the engine's bypass port"),
    "vent": ("the vent", "the radiator's vent"),
    "sensor": ("the sensor port", "its plug"),
    "fan": ("the fan seat", "a fan"),
}
GOAL_WORDS: Final = {
    "loop": "the heater return, in a loop",
    "bypass": "the engine's bypass port",
    "vent": "the radiator's vent",
    "housing": "the radiator's lower port through a thermostat housing",
    "housing_with_return": "the radiator's lower port and the heater through a thermostat housing",
}


OUTLET_WORDS: Final = {
    "left": "points left",
    "right": "points right",
    "centre": "sits in the middle",
    "forward": "points forward",
    "back": "points back",
    "up": "points up",
    "down": "points down",
    "out": "points out to the side",
}


def measure_text(name: str, of: str) -> str:
    """What a measure, an attribute or a port of a part says, in words; behind a dot stands for what, or where."""
    if name in _PORTS:
        return _PORTS[name].format(of=of)
    plain, _, suffix = name.partition(".")
    if plain in _OF_A_PORT:
        return _OF_A_PORT[plain].format(port=_PORT_NAMES.get(suffix, "port"), of=of)
    told = _MEASURES.get(plain, f"the {words(plain)} of {{of}}").format(of=of)
    where = "at" if plain in ("cover_room", "cover_height") else "for"
    return f"{told} {where} the {words(suffix)}" if suffix else told


_MEASURES: Final = {
    "belt_plane": "where the belt of {of} runs",
    "hub_face": "where the hub of {of} lies",
    "crank_face": "where the crank's face of {of} lies",
    "offset": "how far the belt runs from the mounting face of {of}",
    "carrier_face": "where the boss of {of} lies",
    "carried_offset": "how far the belt runs from the boss on {of}",
    "nose": "how far {of} reaches forward",
    "depth": "how deep {of} is",
    "thickness": "how thick {of} is",
    "flange_thickness": "how thick the flange of {of} is",
    "hole_depth": "how deep the threaded holes of {of} are",
    "thread": "what thread the holes of {of} have",
    "hole_material": "what the threaded holes of {of} are cut in",
    "fan_face": "where the fan seat of {of} lies",
    "cover_room": "how much room {of} leaves for a cover",
    "cover_height": "how tall {of} is",
    "depth_behind": "how far {of} reaches back",
    "rotation": "which way round {of} turns",
    "profile": "what rib profile {of} has",
    "ribs": "how many ribs the belt of {of} has",
    "belt_side": "which side of the belt of {of} runs on the pump",
    "bands": "how many grooves {of} has and where they lie",
    "driven_by": "whether {of} turns with the engine",
    "thermostat_included": "whether {of} holds a thermostat",
}
_OF_A_PORT: Final = {
    "side": "on which side the {port} of {of} is",
    "direction": "which way the {port} of {of} points",
    "port_size": "what size the {port} of {of} has",
}
_PORT_NAMES: Final = {
    "upper": "upper port",
    "lower": "lower port",
    "outlet": "outlet",
    "inlet": "inlet",
    "heater_feed": "heater feed",
    "heater_return": "heater return",
}
"""The ports of a part that has several, as they are called behind the dot; else it is its one port."""
_PORTS: Final = {
    "ports.mount": "what {of} bolts to",
    "ports.carried": "what of {of} bolts to the pump",
    "ports.carrier": "what bosses {of} has for parts of a drive",
    "ports.fan": "whether {of} has a place for a fan",
    "ports.coolant_in": "what size of coolant inlet {of} has",
    "ports.coolant_out": "what size of coolant outlet {of} has",
    "ports.heater_feed": "what size of heater feed {of} has",
    "ports.heater_return": "what size of heater return {of} has",
}


def pump_named(pump: str, name: str) -> str:
    """A pump of this number and name in a sentence; what the asker describes is theirs."""
    return f"your pump ({name})" if called(pump) != pump else f"the {name}"


@lru_cache(8192)  # a catalog has few lengths, and an answer says each of them many times
def length_text(length: Length, units: Units, places: int = 1, *, at_least: bool = False) -> str:
    """A length as a reader sees it: millimetres to one place or more, inches to two more than that.

    One that is the least that serves is rounded up, as what is less would not serve.
    """
    unit, digits = (NM_PER_MM, places) if units == "mm" else (NM_PER_INCH, places + 2)
    exact = Fraction(length) / unit
    number = Decimal(exact.numerator) / Decimal(exact.denominator)
    rounded = number.quantize(Decimal(1).scaleb(-digits), rounding=ROUND_CEILING if at_least else ROUND_HALF_EVEN)
    text = f"{rounded:f}".rstrip("0").rstrip(".") if "." in f"{rounded:f}" else f"{rounded:f}"
    return f"{'0' if text in ('-0', '') else text} {units}"


def window_text(window: Window, units: Units = "mm") -> str:
    """A window of total thickness."""
    if window.to is None:
        return f"at least {length_text(window.from_, units)}"
    if window.from_ == 0:
        return f"at most {length_text(window.to, units)}"
    return f"{length_text(window.from_, units)} to {length_text(window.to, units)}"


def lower(text: str, facts: Facts) -> str:
    """The text with a small first letter, but for a name of its facts or a number that it begins with."""
    first = text.split(" ", 1)[0]
    is_name = any(re.match(re.escape(name) + r"(?!\w)", text) for name in _names(facts) if name)
    return text if is_name or (not first[1:].islower() and len(first) > 1) else text[0].lower() + text[1:]


def _names(value: Any) -> Iterator[str]:
    """Every text in facts, however deep."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for each in value.values():
            yield from _names(each)
    elif isinstance(value, list | tuple):
        for each in value:
            yield from _names(each)


def upper(text: str) -> str:
    """The text with a capital first letter."""
    return text[0].upper() + text[1:]


def listed(names: list[str], word: str = "and") -> str:
    """Names as one reads them out: "a, b and c"."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} {word} {names[-1]}"


def named(names: list[str], most: int = 3) -> str:
    """The first few names; the others are counted."""
    more = len(names) - most
    return listed([*names[:most], f"{more} more"] if more > 0 else names)


def words(name: Any) -> str:
    """A name of the catalog as people read it."""
    return str(name).replace("_", " ").replace(".", ", ").replace("vvt", "VVT")
