"""The core of one question as peers get it: pumps of a face, plates in stacks, the belt's plane and the cover.

Peers answer only this: no bolts, no parts list, no reasons, no coolant, no rules. Lengths are micrometres, so that a
solver with 32-bit numbers can take them; what is finer than that does not occur in made catalogs.
"""

from collections.abc import Iterator
from typing import Final, NamedTuple

from catalog.domain import Measure, Part, Snapshot
from service.fit.belt import belt_plane_tests, running
from service.fit.build import Build
from service.fit.cover import AIR_GAP
from service.fit.graph import ConstraintGraph
from service.fit.question import Question, resolve

MICROMETRE: Final = 1_000
NO_PRICE: Final = 10_000_000
ROOMY: Final = 10_000_000
ZONES: Final = ("cover_height", "cover_height.sensor", "cover_height.connector")


class Plate(NamedTuple):
    """A spacer with the gasket that it brings."""

    low: int
    high: int
    cents: int
    number: str


class Place(NamedTuple):
    """A place where the belt can run on a pump, with what the pump leaves to the cover."""

    pump: str
    pulley: str
    cents: int
    rotation: str
    belt: tuple[int, int]
    """From the pump's flange to the belt's centre, at least and at most."""
    limit: int
    """How far out of line the belt may run there at the most."""
    rooms: tuple[int, ...]
    """Room over each zone of the cover, at most; `ROOMY` where pump or cover do not name the zone."""
    alone: tuple[int, int]
    """Where the flange is without a plate: the thickness of the pump's own gasket, at least and at most."""
    stacks: bool
    """Whether it goes on a spacer: not where it requires another gasket."""


class Asked(NamedTuple):
    """What the build asks of every pump."""

    rotation: str
    belt: tuple[int, int]
    """The drive's plane, at least and at most."""
    heights: tuple[int, ...]
    """Of the cover's zones, at least, each with the air that must be left."""


class Core(NamedTuple):
    """The question that the peers answer: the cheapest pumps on stacks of plates."""

    asked: Asked
    places: tuple[Place, ...]
    plates: tuple[Plate, ...]
    """The thinnest first."""
    base: tuple[int, int]
    """Thickness of the gasket on the block under a stack."""

    def windows(self) -> list[tuple[Place, int, int]]:
        """The places that turn the right way, each with the least and the greatest flange that is not ruled out.

        A stack is in where its most is not below the one and its least not above the other.
        """
        asked = self.asked
        return [
            (
                place,
                max(
                    asked.belt[0] - place.belt[1] - place.limit,
                    *(height - room for height, room in zip(asked.heights, place.rooms, strict=True)),
                ),
                asked.belt[1] - place.belt[0] + place.limit,
            )
            for place in self.places
            if place.rotation == asked.rotation
        ]


def core_of(snapshot: Snapshot, build: Build) -> Core:
    """The core of a plain build: engine, drive and cover; adapter plates are left out."""
    graph, question = ConstraintGraph(snapshot), resolve(snapshot, build)
    face = next(port for port in question.slots["engine"].ports if port.role == "pump_face")
    connection = graph.connection(face.connection)
    meeting = graph.meeting(face)
    spacers = [part for part, _ in meeting if part.kind == "spacer"]
    thin = snapshot.parts[str(spacers[0].ports[0].gasket)].measures["thickness"]
    pieces = connection.pieces_per_layer
    plates = sorted(
        Plate(
            (spacer.measures["thickness"].low + thin.low) // MICROMETRE,
            (spacer.measures["thickness"].high + thin.high) // MICROMETRE,
            _cents(spacer) * pieces,
            spacer.number,
        )
        for spacer in spacers
    )
    places = tuple(
        place
        for pump, port in meeting
        if pump.kind == "water_pump"
        for place in _places(graph, question, pump, port.gasket or str(connection.gasket), stacks=port.gasket is None)
    )
    drive, cover = question.slots["accessory_drive"], question.slots["front_cover"]
    heights = tuple(
        (cover.measures[zone].low + AIR_GAP) // MICROMETRE if zone in cover.measures else 0 for zone in ZONES
    )
    asked = Asked(str(drive.attributes["rotation"]), _limits(drive.measures["belt_plane"]), heights)
    return Core(asked, places, tuple(plates), _limits(thin))


def _places(graph: ConstraintGraph, question: Question, pump: Part, gasket: str, *, stacks: bool) -> Iterator[Place]:
    """The places where this belt can run on a pump, with each of its pulleys."""
    drive = question.slots["accessory_drive"]
    plane = drive.measures["belt_plane"]
    zones = [pump.measures.get(zone.replace("cover_height", "cover_room")) for zone in ZONES]
    rooms = tuple(ROOMY if zone is None else zone.high // MICROMETRE for zone in zones)
    alone = _limits(graph.snapshot.parts[gasket].measures["thickness"])
    hub = next((port for port in pump.ports if port.role == "hub"), None)
    pulleys = [None] if hub is None else [part for part, _ in graph.meeting(hub) if part.kind == "pulley"]
    for pulley in pulleys:
        offer = running(question, drive, pulley or pump)
        for test in belt_plane_tests(drive, pump, pulley, offer)[0]:
            yield Place(
                pump.number,
                "" if pulley is None else pulley.number,
                _cents(pump) + (0 if pulley is None else _cents(pulley)),
                str(pump.attributes["rotation"]),
                ((plane.high - test.base.high) // MICROMETRE, (plane.low - test.base.low) // MICROMETRE),
                int(test.mildest // MICROMETRE),
                rooms,
                alone,
                stacks,
            )


def _limits(measure: Measure) -> tuple[int, int]:
    return measure.low // MICROMETRE, measure.high // MICROMETRE


def _cents(part: Part) -> int:
    return NO_PRICE if part.price is None else part.price.amount
