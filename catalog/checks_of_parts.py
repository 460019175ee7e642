"""What must hold of one part by itself: its measures, attributes, bands and cues."""

import re
from collections.abc import Iterator
from functools import cache

from catalog.domain import Kind, Measure, Part
from catalog.standards.belts import RIB_PITCH
from catalog.units import length_text
from catalog.vocabulary import (
    ATTRIBUTES,
    CENTRE,
    FREE_ZONES,
    MEASURE_NAME,
    MEASURES,
    NAME,
    free_zones,
    measure_word,
)

CENTRED_WITHIN = 1_000
"""A first band is centred on the belt's plane to the micrometre."""


def faults_of_part(part: Part) -> list[str]:
    """What is wrong with a part, a sentence each. A retired part need not be complete."""
    checks = (_text, _measures, _planes, _attributes, _free_zones, _bands, _first_band, _cues)
    faults = [fault for check in checks for fault in check(part)]
    if part.status == "active":
        faults += _needed(part)
    return [f"part {part.number}: {fault}" for fault in faults]


def _text(part: Part) -> Iterator[str]:
    # A cell that starts with one of these is a formula to a spreadsheet.
    if not part.name.strip() or part.name[0] in "=+-@":
        yield f'the name "{part.name}" is empty or starts with =, +, - or @'


@cache
def _words_needed(kind: Kind) -> tuple[list[str], list[str]]:
    """Measures and attributes that every part of a kind has."""
    measures = [name for name, word in MEASURES.items() if kind in word.needed_by]
    return measures, [name for name, word in ATTRIBUTES.items() if kind in word.needed_by]


def _needed(part: Part) -> Iterator[str]:
    measures, attributes = _words_needed(part.kind)
    for name in measures:
        if name not in part.measures:
            yield f"every {part.kind} needs the measure {name}, {MEASURES[name].meaning}"
    for name in attributes:
        if name not in part.attributes:
            yield f"every {part.kind} needs the attribute {name}: {ATTRIBUTES[name].meaning}"
    if part.kind == "water_pump" and not part.bands and not any(port.role == "hub" for port in part.ports):
        yield "every water_pump needs a band where its belt runs, or a hub port that takes a pulley"


def _measures(part: Part) -> Iterator[str]:
    for name, measure in part.measures.items():
        word = measure_word(name)
        if word is None or not re.fullmatch(MEASURE_NAME, name):
            yield f"there is no measure {name}"
        elif part.kind not in word.kinds:
            yield f"no {part.kind} has a measure {name}"
        elif measure.nominal < 0 and not word.signed:
            yield f"{name} is negative"
        if measure.plus < 0 or measure.minus < 0:
            yield f"{name} has a negative tolerance; write both as positive lengths"
        elif name == "thickness" and measure.low <= 0:
            yield "its least thickness is not above zero"


def _planes(part: Part) -> Iterator[str]:
    """The two ways to say where the belt runs must agree."""
    front = part.measures.get("pulley_front")
    if front is None:
        return
    offset = part.measures.get("front_offset")
    if offset is None:
        yield "pulley_front says nothing of the belt without front_offset"
        return
    plane = part.measures.get("belt_plane")
    if plane is not None and not _agree(front, plane, offset):
        yield "pulley_front disagrees with belt_plane + front_offset by more than their tolerances"


def _agree(total: Measure, one: Measure, other: Measure) -> bool:
    return total.low <= one.high + other.high and one.low + other.low <= total.high


def _attributes(part: Part) -> Iterator[str]:
    for name, value in part.attributes.items():
        word = ATTRIBUTES.get(name)
        if word is None:
            yield f"there is no attribute {name}"
        elif part.kind not in word.kinds:
            yield f"no {part.kind} has an attribute {name}"
        elif type(value) is not word.type:  # a bool is no int here
            yield f"{name} is of type {type(value).__name__} and should be {word.type.__name__}"
        elif word.values and value not in word.values:
            yield f'{name} is "{value}" and should be one of {", ".join(word.values)}'
        elif word.type is int and not 0 < value <= 10_000:  # type: ignore[operator]
            yield f"{name} is {value} and should be from 1 to 10000"


def _free_zones(part: Part) -> Iterator[str]:
    """A zone that is free has no room to measure."""
    stated = part.attributes.get("free_zones")
    if not isinstance(stated, str):
        return
    if not re.fullmatch(FREE_ZONES, stated):
        yield f'free_zones is "{stated}" and should be names of zones with a comma and a space between'
        return
    zones = stated.split(", ")
    if len(set(zones)) != len(zones):
        yield f'free_zones is "{stated}", where one stands twice'
    for zone in sorted(free_zones(part)):
        room = f"cover_room.{zone}" if zone else "cover_room"
        if room in part.measures:
            yield f"free_zones says that nothing reaches over the zone {zone or CENTRE}, and {room} says how much room"


def _bands(part: Part) -> Iterator[str]:
    pitch = RIB_PITCH.get(str(part.attributes.get("profile")))
    for place, band in enumerate(part.bands, start=1):
        if band.width <= 0:
            yield f"band {place} ends before it starts"
        if band.surface == "smooth":
            if band.grooves:
                yield f"band {place} is smooth and has {band.grooves} grooves"
        elif band.grooves <= 0:
            yield f"band {place} is ribbed and has no grooves"
        elif pitch is not None and band.grooves * pitch > band.width + pitch:
            yield f"band {place} is too narrow for {band.grooves} grooves"


def _first_band(part: Part) -> Iterator[str]:
    if not part.bands:
        return
    word = {"water_pump": "belt_plane", "pulley": "offset", "crank_pulley": "offset"}.get(part.kind)
    if word is None:
        yield f"no {part.kind} has bands"
        return
    plane = part.measures.get(word)
    if plane is None:
        yield f"it has bands and no {word} on which the first is centred"
    elif abs(part.bands[0].from_ + part.bands[0].to - 2 * plane.nominal) > 2 * CENTRED_WITHIN:
        half = part.bands[0].width // 2
        start, end = length_text(plane.nominal - half), length_text(plane.nominal + half)
        yield f"its first band is not centred on {word}; it would run from {start} to {end}"


def _cues(part: Part) -> Iterator[str]:
    for cue in part.cues:
        if not re.fullmatch(NAME, cue.name):
            yield f'the cue\'s name "{cue.name}" is not lower case words joined by underscores'
        if cue.answer not in cue.answers or len(set(cue.answers)) != len(cue.answers):
            yield f"cue {cue.name}: its answer is not among its answers, or one stands there twice"
