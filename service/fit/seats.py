"""Every seat of a question, made once for all pumps with mounts alike and sorted by where it puts their flange."""

from collections.abc import Iterator
from functools import cached_property
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from catalog.domain import PLATES, Kind, Port
from service.fit.graph import ConstraintGraph
from service.fit.paths import FacePath, Seat, face_paths, seat
from service.fit.question import Question
from service.fit.tally import work_of

Reach = tuple[int | None, int | None]
"""A flange in [low, high] nm is within reach where high is no less than the first and low no more than the second."""
Places = NDArray[np.int64]
"""Places of seats among all of one kind of mount, in order; or a length in nm for each."""
Flags = NDArray[np.bool_]
_FARTHEST: Final = 2**60


class Seats:
    """Seats for one kind of mount, with arrays of nm beside them: the least and the greatest place of each flange."""

    def __init__(self, seats: Iterator[Seat]) -> None:
        found = list(seats)
        high = np.array([each.flange.high for each in found], dtype=np.int64)
        plates = _plates(found)
        # By integers: a sort of so many tuples would keep every other thread of the service waiting for it.
        order = np.lexsort((*plates, high))  # stable, the last key the weightiest
        self.all = [found[at] for at in order.tolist()]
        self.low = np.array([each.flange.low for each in self.all], dtype=np.int64)
        self.high = high[order]
        self.twice = self.low + self.high
        """Twice the middle of each flange."""
        self._plates = plates[:, order]

    @cached_property
    def fewest_first(self) -> Places:
        """The place of each seat in the order of how many plates it has, then of which."""
        places = np.empty(len(self.all), dtype=np.int64)
        places[np.lexsort(tuple(self._plates))] = np.arange(len(self.all))
        return places

    @cached_property
    def by_plates(self) -> dict[tuple[str, ...], list[int]]:
        """The places of the seats with these plates, whatever their order."""
        found: dict[tuple[str, ...], list[int]] = {}
        for at, each in enumerate(self.all):
            found.setdefault(each.key, []).append(at)
        return found

    @cached_property
    def work(self) -> Places:
        """For each seat the hardest step of fitting its plates and gaskets."""
        gaskets = ([joint.gasket for joint in each.joints if joint.gasket is not None] for each in self.all)
        pairs = zip(self.all, gaskets, strict=True)
        found = [max((work_of(part) for part in (*each.plates, *along)), default=0) for each, along in pairs]
        return np.array(found, dtype=np.int64)

    def within(self, reaches: tuple[Reach, ...]) -> Places:
        """The places within any of these reaches, each once."""
        return np.flatnonzero(within(self.low, self.high, reaches))

    def surely(self, inside: tuple[Reach, ...], places: Places) -> Flags:
        """Of these places, whether the flange lies wholly inside any of these intervals."""
        # Inside is within reach the other way round: its least is no less, its most no more.
        return within(self.high[places], self.low[places], inside)


def _plates(seats: list[Seat]) -> Places:
    """Keys, the lightest first, that sort seats by how many plates they have, then by these from the block outward."""
    numbers = sorted({plate.number for each in seats for plate in each.plates})
    rank = {number: at for at, number in enumerate(numbers)}
    count = np.array([len(each.plates) for each in seats], dtype=np.int64)
    most = int(count.max(initial=0))
    keys = np.full((most + 1, len(seats)), -1, dtype=np.int64)
    keys[most] = count
    for at, each in enumerate(seats):
        for outward, plate in enumerate(each.plates):
            keys[most - 1 - outward, at] = rank[plate.number]
    return keys


def within(low: Places, high: Places, reaches: tuple[Reach, ...]) -> Flags:
    """Which of these flanges, nm, are within any of these reaches."""
    found = np.zeros(len(low), dtype=bool)
    for least, most in reaches:
        found |= (high >= (-_FARTHEST if least is None else least)) & (low <= (_FARTHEST if most is None else most))
    return found


class SeatTable:
    """The seats of one question by the kind of mount.

    They follow from its engine, its readings and what it goes without; questions that agree in these share them.
    """

    def __init__(self, graph: ConstraintGraph, question: Question) -> None:
        self._graph, self._question = graph, question
        self._paths: dict[tuple[str, str], list[FacePath]] = {}
        self._seats: dict[tuple[str, str, str | None], Seats] = {}
        for path in face_paths(graph, question):
            self._paths.setdefault((path.open.connection, path.open.end), []).append(path)

    @property
    def weight(self) -> int:
        """Roughly how many bytes it takes, with the seats of two kinds of mount."""
        return 3_000 * sum(len(paths) for paths in self._paths.values())

    @property
    def open_ports(self) -> list[Port]:
        """One open port of each kind that some path reaches."""
        return [paths[0].open for paths in self._paths.values()]

    def of(self, mount: Port) -> Seats:
        """The seats of this mount."""
        key = (mount.connection, mount.end, mount.gasket)
        if key not in self._seats:
            inner = self._graph.connection(mount.connection).other_end(mount.end)
            paths = self._paths.get((mount.connection, inner), ())
            found = (seat(self._graph, self._question, path, mount) for path in paths)
            # Whoever else makes them at the same moment gets these: a front knows seats by what holds them.
            self._seats.setdefault(key, Seats(each for each in found if each is not None))
        return self._seats[key]


_OF_LINES: Final[tuple[Kind, ...]] = ("hose", "fitting", "plug", "thermostat", "thermostat_housing")
"""Kinds found in the lines of a build alone: to go without one bears on nothing else, unless a rule names it."""


def asks_of_front(graph: ConstraintGraph, question: Question) -> bytes:
    """All of a question that bears on the pump's own place: two that agree in it share their front."""
    build, must, parts = question.build, question.build.must, graph.snapshot.parts
    without = sorted(n for n in question.without if n in graph.ruled or parts[n].kind not in _OF_LINES)
    fields = (
        *(build.engine, build.accessory_drive, build.front_cover, build.crank_pulley, build.pump, build.pulley),
        *(build.pump_drive, build.fan, build.core_distance, build.measured),
        *(must.outlet_side, must.outlet_direction, without),
    )
    return msgspec.json.encode([None if field is msgspec.UNSET else field for field in fields])


def seats_of(graph: ConstraintGraph, question: Question) -> SeatTable:
    """The seats of a question, shared with every other question of the release that asks the same of them."""
    faces = tuple(
        (port.connection, port.end, port.gasket) for port in question.slots["engine"].ports if port.role == "pump_face"
    )
    parts = graph.snapshot.parts
    along = frozenset(n for n in question.without if n in parts and parts[n].kind in (*PLATES, "gasket"))
    read = tuple(
        (number, tuple(sorted((m.name, m.low, m.high, m.taken_with, m.source) for m in part.measures.values())))
        for number, part in sorted(question.overlay.items())
        if part.kind in (*PLATES, "gasket")
    )
    return graph.kept.get(("seats", faces, along, read), lambda: SeatTable(graph, question))
