"""Cases put on a limit: one measure of a made catalog is moved until a check stands exactly on it, or 1 nm beside.

A value with its doubt runs from low to high, and a limit that must be reached decides by both: `ok` from where low
reaches it, `fails` up to where high does not. So there are four places that an off-by-one would judge wrongly.
"""

from collections.abc import Sequence
from fractions import Fraction
from typing import Final, NamedTuple, Protocol, TypeVar

from msgspec.structs import replace

from catalog.domain import Connection, Measure, Part
from catalog.standards.belts import DEFAULT_SPAN, RIB_PITCH
from catalog.standards.threads import LEAST_ENGAGEMENT, diameter

MM: Final = 1_000_000
Interval = tuple[int, int]
"""nm, from the least to the most that it can be."""
T = TypeVar("T")


class Place(NamedTuple):
    """A place beside a limit: which end of the value lies there, and how many nm beyond it."""

    end: int
    beside: int


PLACES: Final = (Place(0, 0), Place(0, -1), Place(1, 0), Place(1, -1))
"""The last that is `ok`, the first in doubt, the last in doubt, the first that fails."""


class Shelf(Protocol):
    """What is needed of a catalog in the making, and of its dice."""

    parts: dict[str, Part]
    connections: dict[str, Connection]
    aimed_pump: str
    aimed_plates: list[str]

    def one(self, values: Sequence[T]) -> T:
        """One of these."""


def beyond(place: Place, value: Interval, limit: int) -> int:
    """By how much a value that must reach a limit lies beyond this place, nm: so much less puts it there."""
    return value[place.end] - limit - place.beside


def to_a_limit(shelf: Shelf) -> None:
    """Put each check of the aimed pump on its plates at a place beside its limit, where all that it sums is known."""
    for put in (_belt, _carried, _crank, _cover, _bolts):  # the belt's plane first: others are held against it
        put(shelf, shelf.one(PLACES))


def _move(shelf: Shelf, number: str, name: str, by: int) -> None:
    part = shelf.parts[number]
    measure = part.measures[name]
    if measure.nominal + by >= 0:
        shelf.parts[number] = replace(
            part, measures={**part.measures, name: replace(measure, nominal=measure.nominal + by)}
        )


def _interval(measure: Measure) -> Interval:
    return measure.low, measure.high


def _plus(*terms: Interval) -> Interval:
    return sum(low for low, _ in terms), sum(high for _, high in terms)


def _less(one: Interval, *others: Interval) -> Interval:
    low, high = _plus(*others)
    return one[0] - high, one[1] - low


def _flange(shelf: Shelf) -> Interval:
    """Where the flange of the aimed pump sits on the aimed plates."""
    total: Interval = (0, 0)
    inner = next(port for port in shelf.parts["E-0"].ports if port.role == "pump_face")
    for number in (*shelf.aimed_plates, shelf.aimed_pump):
        part = shelf.parts[number]
        mount = next(port for port in part.ports if port.role == "mount")
        connection = shelf.connections[mount.connection]
        gasket = inner.gasket or mount.gasket or connection.gasket
        if gasket is not None and connection.seal == "gasket":
            total = _plus(total, _interval(shelf.parts[gasket].measures["thickness"]))
        if number != shelf.aimed_pump:
            total = _plus(total, _interval(part.measures["thickness"]))
            inner = next(port for port in part.ports if port.role == "pump_face")
    return total


def _drives(shelf: Shelf) -> list[str]:
    return [number for number, part in shelf.parts.items() if part.kind == "accessory_drive"]


def _allowed(drive: Part) -> Interval | None:
    """How far out of line the belt may run, whole nm, at the least and the most; None where that is no whole number."""
    span = drive.measures.get("shortest_span")
    limits = [Fraction(nm, 192) for nm in ((DEFAULT_SPAN, DEFAULT_SPAN) if span is None else _interval(span))]
    return None if any(limit.denominator > 1 for limit in limits) else (limits[0].numerator, limits[1].numerator)


def _room(drive: Part, carrier: Part, side: object) -> Interval | None:
    """How far before its first band's centre this side of the belt may run, nm, at the least and the most.

    None where it does not run there.
    """
    ribs, limit = drive.attributes.get("ribs"), _allowed(drive)
    band = carrier.bands[0] if carrier.bands else None
    if band is None or band.surface != side or not isinstance(ribs, int) or limit is None:
        return None
    if side == "smooth":
        spare = band.to - band.from_ - ribs * RIB_PITCH["PK"]
        return (spare // 2, spare // 2) if spare >= 0 and spare % 2 == 0 else None
    groove = (band.grooves - ribs) * RIB_PITCH["PK"] // 2
    return None if band.grooves < ribs else _plus(limit, (groove, groove))


def _cover(shelf: Shelf, place: Place) -> None:
    pump = shelf.parts[shelf.aimed_pump]
    for number in [number for number, part in shelf.parts.items() if part.kind == "front_cover"]:
        for name, height in shelf.parts[number].measures.items():
            room = pump.measures.get(name.replace("height", "room"))
            if room is not None:
                air = _less(_plus(_flange(shelf), _interval(room)), _interval(height))
                _move(shelf, number, name, beyond(place, air, 3 * MM // 2))


def _belt(shelf: Shelf, place: Place) -> None:
    """By the plane of each drive, for the pump's own pulley or for the first that has a band for the belt."""
    pump = shelf.parts[shelf.aimed_pump]
    pulleys = [part for part in shelf.parts.values() if part.kind == "pulley"]
    for number in _drives(shelf):
        drive = shelf.parts[number]
        for carrier in [pump] if pump.bands else pulleys:
            room = _room(drive, carrier, drive.attributes.get("belt_side"))
            if room is not None:
                names = ((pump, "belt_plane"),) if carrier is pump else ((pump, "hub_face"), (carrier, "offset"))
                own = [_interval(part.measures[name]) for part, name in names]
                ahead = _less(_interval(drive.measures["belt_plane"]), _flange(shelf), *own)
                _move(shelf, number, "belt_plane", beyond(place, _less(room, ahead), 0))
                break


def _carried(shelf: Shelf, place: Place) -> None:
    pump = shelf.parts[shelf.aimed_pump].measures
    for number in _drives(shelf):
        drive = shelf.parts[number]
        limit, plane = _allowed(drive), drive.measures["belt_plane"]
        for port in drive.ports:
            face = pump.get(f"carrier_face.{port.name}") or pump.get("carrier_face")
            own = f"carried_offset.{port.name}"
            offset = drive.measures.get(own if own in drive.measures else "carried_offset")
            if port.role == "carried" and limit and face and offset:
                ahead = _less(_interval(plane), _flange(shelf), _interval(face), _interval(offset))
                _move(shelf, number, offset.name, -beyond(place, _less(limit, ahead), 0))


def _crank(shelf: Shelf, place: Place) -> None:
    """By the face of the engine's crank: a crank pulley's band is centred on its offset."""
    drive, crank, face = shelf.parts["D-0"], shelf.parts["K-0"], shelf.parts["E-0"].measures.get("crank_face")
    room = _room(drive, crank, "ribbed")
    if room is not None and face is not None:
        own = _interval(face), _interval(crank.measures["offset"])
        ahead = _less(_interval(drive.measures["belt_plane"]), *own)
        _move(shelf, "E-0", "crank_face", -beyond(place, _less(room, ahead), 0))


def _bolts(shelf: Shelf, place: Place) -> None:
    """Half of the sets at the least that must engage, half at the depth of the hole."""
    engine, flange = shelf.parts["E-0"], shelf.parts[shelf.aimed_pump].measures.get("flange_thickness")
    if flange is None or any("hole_depth" in shelf.parts[number].measures for number in shelf.aimed_plates):
        return
    clamped = _plus(_flange(shelf), _interval(flange))
    thread = str(engine.attributes["thread"])
    least = int(diameter(thread) * LEAST_ENGAGEMENT[str(engine.attributes["hole_material"])])
    sets = [number for number, part in shelf.parts.items() if part.kind == "fastener_set"]
    for at, number in enumerate(sets):
        part = shelf.parts[number]
        washer = part.measures.get("washer_thickness")
        grip = clamped if washer is None else _plus(clamped, _interval(washer))
        engaged = _less(_interval(part.measures["length"]), grip)
        if part.attributes["thread"] == thread and at % 2 == 0:
            _move(shelf, number, "length", -beyond(place, engaged, least))
        elif part.attributes["thread"] == thread:
            left = _less(_interval(engine.measures["hole_depth"]), engaged)
            _move(shelf, number, "length", beyond(place, left, 0))
