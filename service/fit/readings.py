"""What the asker read or described, taken into the catalog's structs; every fault is gathered on the way."""

import re
from collections.abc import Callable
from typing import Final

import msgspec
from msgspec import UNSET
from rapidfuzz import fuzz, process

from catalog.domain import Band, Kind, Measure, Part, Port, Snapshot
from catalog.standards.flares import parse_size
from catalog.units import NM_PER_MM, from_millimetres, parse_length
from catalog.vocabulary import ATTRIBUTES, DEFAULT_TOLERANCE, FREE_ZONES, MEASURES, measure_word
from service.fit.answer import Challenged
from service.fit.build import Described, Fault, Length, Measured, Reading
from service.fit.contradiction import challenge

DESCRIBED: Final = " (described)"
"""Ends the number of a part that the build describes, as no part number of a catalog does."""


class Reader:
    """Reads one build's lengths, parts and readings against a snapshot; `faults` holds what is not so."""

    def __init__(self, snapshot: Snapshot) -> None:
        self.snapshot = snapshot
        self.faults: list[Fault] = []
        self.challenged: list[Challenged] = []
        """Readings that contradict the parts they are of."""

    def fault(self, pointer: str, slug: str, message: str, nearest: tuple[str, ...] = ()) -> None:
        """Note a fault at a JSON pointer into the build."""
        self.faults.append(Fault(pointer, slug, message, nearest))

    def find(self, reference: str, pointer: str) -> Part | None:
        """The part of a number or an alias; None, and a fault, where there is none."""
        part = self.snapshot.find(reference)
        if part is None:
            release = self.snapshot.release
            message = f'There is no part "{reference}" in release {release.number}.'
            nearest = nearest_references(self.snapshot, reference)
            self.faults.append(Fault(pointer, "unknown-part", message, nearest, asked=reference))
        return part

    def described(self, described: Described, slot: str, kind: Kind) -> tuple[Part, Described]:
        """A described part of a slot, and its description in canonical form."""
        measures: dict[str, Measure] = {}
        readings: dict[str, Reading] = {}
        for name, reading in sorted(described.measures.items()):
            pointer = f"/{slot}/measures/{name}"
            measure = self._measure(kind, name, reading, pointer)
            if measure is not None:
                measures[name] = measure
                readings[name] = _canonical(measure)
        self._attributes(described, slot, kind)
        attributes = dict(sorted(described.attributes.items()))
        part = Part(
            number=described.name + DESCRIBED,
            kind=kind,
            name=described.name,
            attributes=attributes,
            measures=_with_belt_plane(measures),
            bands=self._bands(described, slot),
            ports=self._ports(described, slot, kind),
        )
        return part, msgspec.structs.replace(described, measures=readings, attributes=attributes)

    def _measure(self, kind: Kind, name: str, reading: Reading | Measured, pointer: str) -> Measure | None:
        """The measure of a reading at `pointer`; None where it is faulty."""
        word = measure_word(name)
        if word is None or kind not in word.kinds:
            known = [known for known, its in MEASURES.items() if kind in its.kinds]
            self.fault(
                pointer if isinstance(reading, Reading) else f"{pointer}/measure",
                "unknown-measure",
                f'{upper(a_kind(kind))} has no measure "{name}"; it has {", ".join(known) or "none"}.',
                closest(name, known),
            )
            return None
        value = self.length(reading.value, f"{pointer}/value")
        doubt = DEFAULT_TOLERANCE[reading.taken_with]
        if reading.plus_minus is not UNSET:
            given = self.length(reading.plus_minus, f"{pointer}/plus_minus")
            if given is not None and given < 0:
                self.fault(f"{pointer}/plus_minus", "invalid-length", "A tolerance is not negative.")
            doubt = given if given is not None else doubt
        if value is None:
            return None
        if value < 0 and not word.signed:
            self.fault(f"{pointer}/value", "invalid-length", f"{name} is a distance and is not negative.")
            return None
        return Measure(name, value, doubt, doubt, reading.taken_with, "asker")

    def length(self, value: Length, pointer: str) -> int | None:
        """A length in nanometres; None, and a fault, where it is none."""
        try:
            return parse_length(value) if isinstance(value, str) else from_millimetres(value)
        except ValueError as error:
            self.fault(pointer, "invalid-length", f"{error}.")
            return None

    def _attributes(self, described: Described, slot: str, kind: Kind) -> None:
        for name, value in described.attributes.items():
            word = ATTRIBUTES.get(name)
            pointer = f"/{slot}/attributes/{name.replace('~', '~0').replace('/', '~1')}"
            if word is None or kind not in word.kinds:
                known = [known for known, its in ATTRIBUTES.items() if kind in its.kinds]
                self.fault(
                    pointer,
                    "unknown-attribute",
                    f'{upper(a_kind(kind))} has no attribute "{name}"; it has {", ".join(known)}.',
                    closest(name, known),
                )
            elif type(value) is not word.type:
                self.fault(pointer, "invalid-attribute", f"{name} is not of the type {word.type.__name__}.")
            elif word.values and value not in word.values:
                self.fault(pointer, "invalid-attribute", f"{name} is one of {', '.join(word.values)}.")
            elif name == "free_zones" and not re.fullmatch(FREE_ZONES, str(value)):
                self.fault(pointer, "invalid-attribute", 'free_zones names zones, such as "centre, sensor".')
            elif isinstance(value, int) and not isinstance(value, bool) and not 1 <= value <= 9999:
                self.fault(pointer, "invalid-attribute", f"{name} lies between 1 and 9999.")

    def _bands(self, described: Described, slot: str) -> tuple[Band, ...]:
        bands = []
        for place, band in enumerate(described.bands):
            pointer = f"/{slot}/bands/{place}"
            from_ = self.length(band.from_, f"{pointer}/from")
            to = self.length(band.to, f"{pointer}/to")
            if from_ is None or to is None:
                continue
            if to <= from_:
                self.fault(pointer, "invalid-band", "A band runs from the nearer edge to the farther one.")
            elif (band.surface == "ribbed") != (band.grooves > 0):
                self.fault(pointer, "invalid-band", "A ribbed band has grooves and a smooth one has none.")
            else:
                bands.append(Band(from_, to, band.surface, band.grooves))
        return tuple(bands)

    def _ports(self, described: Described, slot: str, kind: Kind) -> tuple[Port, ...]:
        ports = []
        for place, port in enumerate(described.ports):
            connection = self.snapshot.connections.get(port.connection)
            if connection is None:
                self.fault(
                    f"/{slot}/ports/{place}/connection",
                    "unknown-connection",
                    f'There is no connection "{port.connection}" in release {self.snapshot.release.number}.',
                    closest(port.connection, list(self.snapshot.connections)),
                )
                continue
            held = port.role in ("mount", "carried", "line")
            ports.append(
                Port(
                    name=f"{port.role}_{place}",
                    role=port.role,
                    connection=connection.name,
                    end=connection.ends[1] if held else connection.ends[0],
                    side=None if port.side is UNSET else port.side,
                    direction=None if port.direction is UNSET else port.direction,
                    wet=port.wet,
                )
            )
        needed = {"engine": "pump_face", "water_pump": "mount", "pulley": "mount"}.get(kind)
        if needed and not any(port.role == needed for port in described.ports):
            what = "what bolts to it" if needed == "pump_face" else "what it bolts to"
            message = f"A described {words(kind)} needs a port of role {needed}: {what}."
            self.fault(f"/{slot}/ports", "missing-port", message + _what_else(described, kind))
        return tuple(ports)

    def readings(self, measured: list[Measured]) -> tuple[dict[str, Part], list[Measured]]:
        """Parts as read, by number, and the readings in canonical form and order.

        A reading that contradicts its part replaces nothing.
        """
        taken: dict[tuple[str, str], Measure] = {}
        for place, reading in enumerate(measured):
            pointer = f"/measured/{place}"
            part = self.find(reading.part, f"{pointer}/part")
            if part is None:
                continue
            measure = self._measure(part.kind, reading.measure, reading, pointer)
            if measure is None:
                continue
            if (part.number, measure.name) in taken:
                self.fault(pointer, "duplicate-reading", f"{measure.name} of {part.number} is read twice.")
            elif measure.name == "pulley_front" and "front_offset" not in part.measures:
                self.fault(
                    f"{pointer}/measure",
                    "unusable-reading",
                    f"{part.number} does not say how far its belt runs behind the pulley's front edge; "
                    "read belt_plane, to the belt's centre.",
                )
            taken[part.number, measure.name] = measure
        overlay: dict[str, Part] = {}
        for number in sorted({number for number, _ in taken}):
            part = self.snapshot.parts[number]
            read = {measure.name: measure for (of, _), measure in sorted(taken.items()) if of == number}
            against = {name: found for name, measure in read.items() if (found := challenge(part, measure))}
            self.challenged += against.values()
            if len(against) < len(read):
                kept = {name: measure for name, measure in read.items() if name not in against}
                overlay[number] = _as_read(part, kept)
        canonical = [
            Measured(number, name, measure.nominal / NM_PER_MM, measure.taken_with, measure.plus / NM_PER_MM)
            for (number, name), measure in sorted(taken.items())
        ]
        return overlay, canonical

    def size(self, said: str, pointer: str) -> str:
        """A size as it was said, single-spaced; a fault where it is none."""
        try:
            parse_size(said)
        except ValueError as error:
            self.fault(pointer, "invalid-size", f"{upper(str(error))}.")
        return " ".join(said.split())


_DECIDES: Final[dict[Kind, dict[str, str]]] = {
    "water_pump": {
        "belt_plane": "belt_plane",
        "bands": "bands (its grooves)",
        "cover_room": "cover_room",
        "rotation": "rotation",
    },
    "pulley": {"offset": "offset", "bands": "bands (its grooves)"},
}
"""What else a described part is asked for, as it is called in a sentence; what decides most comes first."""


def _what_else(described: Described, kind: Kind) -> str:
    """What else to give of a part that must be described anew: what of it decides and is not given."""
    given = {name.partition(".")[0] for name in (*described.measures, *described.attributes)}
    given |= {"bands"} if described.bands else set()
    given |= {"belt_plane"} if "pulley_front" in given else set()
    lacking = [called_ for fact, called_ in _DECIDES.get(kind, {}).items() if fact not in given]
    return f" Give also what is known of these, what decides most first: {', '.join(lacking)}." if lacking else ""


def _as_read(part: Part, read: dict[str, Measure]) -> Part:
    measures = {**part.measures, **read}
    if "pulley_front" in read and "belt_plane" not in read:
        measures.pop("belt_plane", None)
        measures = _with_belt_plane(measures)
    return msgspec.structs.replace(part, measures=measures)


def _with_belt_plane(measures: dict[str, Measure]) -> dict[str, Measure]:
    """A reading to the pulley's front edge gives the belt's plane only through the pulley's own offset."""
    front, offset = measures.get("pulley_front"), measures.get("front_offset")
    if "belt_plane" in measures or front is None or offset is None:
        return measures
    plane = Measure(
        "belt_plane",
        front.nominal - offset.nominal,
        front.plus + offset.minus,
        front.minus + offset.plus,
        front.taken_with,
        front.source,
    )
    return {**measures, "belt_plane": plane}


def _canonical(measure: Measure) -> Reading:
    return Reading(measure.nominal / NM_PER_MM, measure.taken_with, measure.plus / NM_PER_MM)


def called(number: str) -> str:
    """A part by its number; one that the build describes by the name that the asker gives it."""
    return number.removesuffix(DESCRIBED)


def upper(text: str) -> str:
    """The text with a capital first letter."""
    return text[:1].upper() + text[1:]


def a_kind(kind: str) -> str:
    """A kind of part with its article."""
    return f"{'an' if kind[0] in 'aeiou' else 'a'} {words(kind)}"


def words(name: str) -> str:
    """A name as people read it."""
    return name.replace("_", " ")


def nearest_references(snapshot: Snapshot, reference: str) -> tuple[str, ...]:
    """Up to three part numbers or aliases that look most like this one, the likeliest first."""
    known = [name for part in snapshot.parts.values() for name in (part.number, *part.aliases)]
    return closest(reference, known)


def closest(text: str, known: list[str]) -> tuple[str, ...]:
    """Up to three of the known names that look most like the text, the likeliest first."""
    fold: Callable[[str], str] = str.casefold
    found = process.extract(text, known, scorer=fuzz.ratio, processor=fold, limit=3, score_cutoff=55)
    return tuple(name for name, _, _ in found)
