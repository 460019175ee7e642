"""A build resolved against a release: references become parts, readings replace measures, faults are gathered."""

from collections import Counter
from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Final

import msgspec
from msgspec import UNSET, UnsetType
from rapidfuzz import fuzz, process

from catalog.domain import Band, Kind, Measure, Part, Port, Snapshot
from catalog.units import NM_PER_MM, from_millimetres, minor_units, parse_length
from catalog.vocabulary import ATTRIBUTES, DEFAULT_TOLERANCE, MEASURES, measure_word
from service.fit.build import Build, BuildError, Described, Fault, Length, Measured, PartReference, Reading

SLOTS: Final[dict[str, Kind]] = {
    "engine": "engine",
    "accessory_drive": "accessory_drive",
    "front_cover": "front_cover",
    "pump": "water_pump",
    "pulley": "pulley",
    "crank_pulley": "crank_pulley",
    "radiator": "radiator",
    "heater": "heater_core",
    "fan": "fan",
}
"""The fields of a build that name one part, with the kind that each takes."""

WORDS: Final[dict[str, tuple[str, ...]]] = {"heater": ("none",), "fan": ("mechanical", "electric", "none")}
"""What a field may say instead of naming a part."""

RANK_KEYS: Final = ("work", "recommended", "price", "margin")
"""The order of ranking where the build states none."""


class Question(msgspec.Struct, frozen=True):
    """A build whose every name has been found. A slot that was left out is absent from `slots`."""

    build: Build
    slots: Mapping[str, Part]
    overlay: Mapping[str, Part]
    """Parts as the asker has read them, by number."""
    read: frozenset[str]
    """Numbers of the parts of which the asker gave a reading."""
    described: frozenset[str]
    have: Mapping[str, int]
    without: frozenset[str]
    price_at_most: int | None
    rank_keys: tuple[str, ...]
    replaced: tuple[tuple[str, str, str], ...]

    def part(self, part: Part) -> Part:
        """The part, with the asker's own readings where there are any."""
        return self.overlay.get(part.number, part)

    def allows(self, part: Part) -> bool:
        """Whether the part may be chosen: on sale, and not one to do without."""
        return part.status == "active" and part.number not in self.without


def resolve(snapshot: Snapshot, build: Build) -> Question:
    """Find every name of the build in the release.

    Raises
    ------
    BuildError
        With every fault of the build, when there is any.
    """
    return _Resolver(snapshot, build).question()


class _Resolver:
    def __init__(self, snapshot: Snapshot, build: Build) -> None:
        self.snapshot = snapshot
        self.build = build
        self.faults: list[Fault] = []
        self.replaced: list[tuple[str, str, str]] = []

    def question(self) -> Question:
        build = self.build
        have = Counter(part.number for part in self._parts(build.have, "/have"))
        without = frozenset(part.number for part in self._parts(build.must.without, "/must/without"))
        overlay, readings = self._readings(build.measured)
        slots, canonical = self._slots(have, overlay)
        price = self._price()
        if self.faults:
            raise BuildError(self.faults)
        canonical_build = msgspec.structs.replace(
            build,
            **canonical,
            have=sorted(have.elements()),
            measured=readings,
            must=msgspec.structs.replace(build.must, without=sorted(without)),
            rank_by=list(dict.fromkeys(build.rank_by)),
        )
        return Question(
            build=canonical_build,
            slots=slots,
            overlay=overlay,
            read=frozenset(overlay),
            described=frozenset(
                part.number for slot, part in slots.items() if isinstance(getattr(build, slot), Described)
            ),
            have=have,
            without=without,
            price_at_most=price,
            rank_keys=tuple(dict.fromkeys((*build.rank_by, *RANK_KEYS))),
            replaced=tuple(self.replaced),
        )

    def _fault(self, pointer: str, slug: str, message: str, nearest: tuple[str, ...] = ()) -> None:
        self.faults.append(Fault(pointer, slug, message, nearest))

    def _find(self, reference: str, pointer: str) -> Part | None:
        part = self.snapshot.find(reference)
        if part is None:
            release = self.snapshot.release
            self._fault(
                pointer,
                "unknown-part",
                f'There is no part "{reference}" in release {release.number}.',
                nearest_references(self.snapshot, reference),
            )
        return part

    def _parts(self, references: list[str], pointer: str) -> list[Part]:
        found = [self._find(reference, f"{pointer}/{place}") for place, reference in enumerate(references)]
        return [part for part in found if part is not None]

    def _slots(
        self, have: Mapping[str, int], overlay: Mapping[str, Part]
    ) -> tuple[dict[str, Part], dict[str, PartReference]]:
        slots: dict[str, Part] = {}
        canonical: dict[str, PartReference] = {}
        for slot, kind in SLOTS.items():
            reference: PartReference | UnsetType = getattr(self.build, slot)
            if reference is UNSET:
                continue
            if isinstance(reference, Described):
                slots[slot], canonical[slot] = self._described(reference, slot, kind)
                continue
            part = self._find(reference, f"/{slot}")
            if part is None:
                continue
            if part.kind != kind:
                message = f"{part.number} is a {_words(part.kind)}, and {slot} takes a {_words(kind)}."
                self._fault(f"/{slot}", "wrong-kind", message)
                continue
            part = self._replacement(slot, part, have)
            slots[slot], canonical[slot] = overlay.get(part.number, part), part.number
        return slots, canonical

    def _replacement(self, slot: str, part: Part, have: Mapping[str, int]) -> Part:
        """The part that replaces a retired one; the retired one itself where it is at hand or nothing does."""
        asked = part
        while part.status == "retired" and part.number not in have:
            rule = next((r for r in self.snapshot.rules if r.kind == "replaced_by" and r.part == part.number), None)
            if rule is None or (newer := self.snapshot.parts[rule.others[0]]).kind != asked.kind:
                break
            part = newer
        if part is not asked:
            self.replaced.append((slot, asked.number, part.number))
        return part

    def _described(self, described: Described, slot: str, kind: Kind) -> tuple[Part, Described]:
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
        defaults = {"profile": "PK", "belt_side": "ribbed"} if kind == "accessory_drive" else {}
        part = Part(
            number=f"{described.name} (described)",
            kind=kind,
            name=described.name,
            attributes={**defaults, **attributes},
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
            self._fault(
                pointer if isinstance(reading, Reading) else f"{pointer}/measure",
                "unknown-measure",
                f'A {_words(kind)} has no measure "{name}"; it has {", ".join(known) or "none"}.',
                _closest(name, known),
            )
            return None
        value = self._length(reading.value, f"{pointer}/value")
        doubt = DEFAULT_TOLERANCE[reading.taken_with]
        if reading.plus_minus is not UNSET:
            given = self._length(reading.plus_minus, f"{pointer}/plus_minus")
            if given is not None and given < 0:
                self._fault(f"{pointer}/plus_minus", "invalid-length", "A tolerance is not negative.")
            doubt = given if given is not None else doubt
        if value is None:
            return None
        if value < 0 and not word.signed:
            self._fault(f"{pointer}/value", "invalid-length", f"{name} is a distance and is not negative.")
            return None
        return Measure(name, value, doubt, doubt, reading.taken_with, "asker")

    def _length(self, value: Length, pointer: str) -> int | None:
        try:
            return parse_length(value) if isinstance(value, str) else from_millimetres(value)
        except ValueError as error:
            self._fault(pointer, "invalid-length", f"{error}.")
            return None

    def _attributes(self, described: Described, slot: str, kind: Kind) -> None:
        for name, value in described.attributes.items():
            word = ATTRIBUTES.get(name)
            pointer = f"/{slot}/attributes/{name.replace('~', '~0').replace('/', '~1')}"
            if word is None or kind not in word.kinds:
                known = [known for known, its in ATTRIBUTES.items() if kind in its.kinds]
                self._fault(
                    pointer,
                    "unknown-attribute",
                    f'A {_words(kind)} has no attribute "{name}"; it has {", ".join(known)}.',
                    _closest(name, known),
                )
            elif type(value) is not word.type:
                self._fault(pointer, "invalid-attribute", f"{name} is not of the type {word.type.__name__}.")
            elif word.values and value not in word.values:
                self._fault(pointer, "invalid-attribute", f"{name} is one of {', '.join(word.values)}.")
            elif isinstance(value, int) and not isinstance(value, bool) and not 1 <= value <= 9999:
                self._fault(pointer, "invalid-attribute", f"{name} lies between 1 and 9999.")

    def _bands(self, described: Described, slot: str) -> tuple[Band, ...]:
        bands = []
        for place, band in enumerate(described.bands):
            pointer = f"/{slot}/bands/{place}"
            from_ = self._length(band.from_, f"{pointer}/from")
            to = self._length(band.to, f"{pointer}/to")
            if from_ is None or to is None:
                continue
            if to <= from_:
                self._fault(pointer, "invalid-band", "A band runs from the nearer edge to the farther one.")
            elif (band.surface == "ribbed") != (band.grooves > 0):
                self._fault(pointer, "invalid-band", "A ribbed band has grooves and a smooth one has none.")
            else:
                bands.append(Band(from_, to, band.surface, band.grooves))
        return tuple(bands)

    def _ports(self, described: Described, slot: str, kind: Kind) -> tuple[Port, ...]:
        ports = []
        for place, port in enumerate(described.ports):
            connection = self.snapshot.connections.get(port.connection)
            if connection is None:
                self._fault(
                    f"/{slot}/ports/{place}/connection",
                    "unknown-connection",
                    f'There is no connection "{port.connection}" in release {self.snapshot.release.number}.',
                    _closest(port.connection, list(self.snapshot.connections)),
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
            self._fault(f"/{slot}/ports", "missing-port", f"A described {_words(kind)} needs a port of role {needed}.")
        return tuple(ports)

    def _readings(self, measured: list[Measured]) -> tuple[dict[str, Part], list[Measured]]:
        """Parts as read, by number, and the readings in canonical form and order."""
        taken: dict[tuple[str, str], Measure] = {}
        for place, reading in enumerate(measured):
            pointer = f"/measured/{place}"
            part = self._find(reading.part, f"{pointer}/part")
            if part is None:
                continue
            measure = self._measure(part.kind, reading.measure, reading, pointer)
            if measure is None:
                continue
            if (part.number, measure.name) in taken:
                self._fault(pointer, "duplicate-reading", f"{measure.name} of {part.number} is read twice.")
            elif measure.name == "pulley_front" and "front_offset" not in part.measures:
                self._fault(
                    f"{pointer}/measure",
                    "unusable-reading",
                    f"{part.number} does not say how far its belt runs behind the pulley's front edge; "
                    "read belt_plane, to the belt's centre.",
                )
            taken[part.number, measure.name] = measure
        overlay: dict[str, Part] = {}
        for number in sorted({number for number, _ in taken}):
            read = {measure.name: measure for (of, _), measure in sorted(taken.items()) if of == number}
            overlay[number] = _as_read(self.snapshot.parts[number], read)
        canonical = [
            Measured(number, name, measure.nominal / NM_PER_MM, measure.taken_with, measure.plus / NM_PER_MM)
            for (number, name), measure in sorted(taken.items())
        ]
        return overlay, canonical

    def _price(self) -> int | None:
        limit = self.build.must.price_at_most
        if limit is UNSET:
            return None
        if self.snapshot.currency and limit.currency != self.snapshot.currency:
            self._fault(
                "/must/price_at_most/currency",
                "wrong-currency",
                f"Prices here are in {self.snapshot.currency}, not {limit.currency}.",
            )
            return None
        try:
            return minor_units(Decimal(repr(limit.amount)), limit.currency)
        except ValueError as error:
            self._fault("/must/price_at_most/amount", "invalid-amount", f"{error}.")
            return None


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


def _words(name: str) -> str:
    return name.replace("_", " ")


def nearest_references(snapshot: Snapshot, reference: str) -> tuple[str, ...]:
    """Up to three part numbers or aliases that look most like this one, the likeliest first."""
    known = [name for part in snapshot.parts.values() for name in (part.number, *part.aliases)]
    return _closest(reference, known)


def _closest(text: str, known: list[str]) -> tuple[str, ...]:
    fold: Callable[[str], str] = str.casefold
    found = process.extract(text, known, scorer=fuzz.ratio, processor=fold, limit=3, score_cutoff=55)
    return tuple(name for name, _, _ in found)
