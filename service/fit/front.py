"""The front of an engine as an index: every pump on every seat within its reach, compiled once and kept.

It holds what follows from the engine, the drive, the cover and the other fields that bear on the pump's own place;
what a build asks besides, of its circuits, its price and its parts at hand, is looked at later. The verdicts of the
axis become windows of integers, so that all seats of a pump are looked at in one sweep of an array.
"""

from collections.abc import Callable
from functools import cached_property
from typing import Any, Final, NamedTuple, TypeVar, cast

import msgspec
import numpy as np
from numpy.typing import NDArray

from catalog.domain import Part, Port
from service.fit.answer import Code, Length, RuledOut
from service.fit.axis import AxialTest
from service.fit.graph import ConstraintGraph
from service.fit.kept import Kept
from service.fit.mounting import Mounting, dry_mountings, plates_of
from service.fit.paths import Seat
from service.fit.question import Question
from service.fit.seats import Flags, Seats, SeatTable, asks_of_front, seats_of

MOST_KEPT_OF_ONE: Final = 4 * 2**20
"""Bytes, roughly, of what is worked out of one front and kept with it."""
Integers = NDArray[np.int64]
T = TypeVar("T")


class Pairs(msgspec.Struct, frozen=True):
    """Mountings on seats, an array entry each, in order of pump, mounting and seat."""

    mounting: Integers
    """Place of the mounting in `Front.mountings`."""
    seat: Integers
    """Place of the seat in `Front.seats`."""
    sure: Flags
    """Whether all that is known of the pump's own place is `ok`."""
    tested: Flags
    """Whether a tested fit speaks of its plates."""
    looked_at: int
    """How many seats came within reach."""


class Front:
    """Pumps that some path reaches, their mountings, and the seats on which they may hold."""

    def __init__(self, graph: ConstraintGraph, question: Question) -> None:
        self._graph = graph
        self.asked = question.build
        """The build that it was made for, the first of all that share it."""
        self.table: SeatTable = seats_of(graph, question)
        self.pumps = _pumps(graph, question, self.table)
        self.mountings: list[Mounting] = []
        """Before the circuits are looked at, in order of pump."""
        self.mountings_of: dict[str, range] = {}
        self._starts: dict[int, int] = {}
        self.seats: list[Seat] = []
        """Of every kind of mount, one kind after the other."""
        self.kinds: list[Seats] = []
        """The same by kind."""
        for number, (pump, _) in self.pumps.items():
            start = len(self.mountings)
            self.mountings += dry_mountings(graph, question, pump)
            self.mountings_of[number] = range(start, len(self.mountings))
        self.pairs = self._paired()
        self._nearest: dict[int, Nearest | None] = {}
        self._remembered: dict[str, Any] = {}
        self.kept = Kept(MOST_KEPT_OF_ONE)
        """What is worked out of the front and the order of ranking."""
        self.clamping: dict[object, frozenset[str]] = {}
        """Which sets of bolts hold some group, by the seat and what of the pump they clamp, once it was asked."""
        self.fitting: frozenset[str] | None = None
        """Pumps with an option where nothing else is asked, once a search has found them."""
        self.missed: dict[int, tuple[tuple[Any, ...], RuledOut]] = {}
        """What rules mountings out where nothing else is asked, with how near they come, once it has been told."""
        self.told_missed: dict[int, tuple[list[RuledOut], int]] = {}
        """By how many are told: the nearest of these, and how many there are."""
        self.bounds: dict[tuple[int, bool], Any] = {}
        """Where pairs could stand at best where nothing else is asked, reckoned without and with their margins."""
        self.with_circuits: dict[int, Mounting] = {}
        """Mountings with what is said of their circuits where nothing is asked of these."""

    @property
    def weight(self) -> int:
        """Roughly how many bytes it takes."""
        return 4_000 * len(self.mountings) + 100 * len(self.pairs.seat)

    def _start(self, seats: Seats) -> int:
        """Where the seats of this kind of mount begin among all."""
        known = self._starts.get(id(seats))
        if known is None:
            known = self._starts[id(seats)] = len(self.seats)
            self.seats += seats.all
            self.kinds.append(seats)
        return known

    def _paired(self) -> Pairs:
        columns: list[tuple[int, Integers, Flags, Flags]] = []
        looked_at = 0
        for number, (_, mounts) in self.pumps.items():
            tested = self._graph.tested_plates(number)
            for place in self.mountings_of[number]:
                mounting = self.mountings[place]
                for mount in mounts:
                    seats = self.table.of(mount)
                    looked_at += len(seats.all) if tested else 0
                    found = _within(seats, mounting)
                    spoken = _spoken(seats, mounting, tested)
                    both = np.union1d(found, spoken) if len(spoken) else found
                    if len(both):
                        looked_at += 0 if tested else len(both)
                        sure = _surely(seats, mounting, both)
                        columns.append((place, both + self._start(seats), sure, np.isin(both, spoken)))
        if not columns:
            nothing = np.zeros(0, dtype=np.int64)
            return Pairs(nothing, nothing, nothing.astype(bool), nothing.astype(bool), looked_at)
        return Pairs(
            np.repeat(np.array([each[0] for each in columns]), [len(each[1]) for each in columns]),
            np.concatenate([each[1] for each in columns]),
            np.concatenate([each[2] for each in columns]),
            np.concatenate([each[3] for each in columns]),
            looked_at,
        )

    @cached_property
    def flanges(self) -> tuple[Integers, Integers]:
        """For each seat, where the flange is at the least and at the most, nm."""
        return (
            np.concatenate([np.zeros(0, dtype=np.int64), *(seats.low for seats in self.kinds)]),
            np.concatenate([np.zeros(0, dtype=np.int64), *(seats.high for seats in self.kinds)]),
        )

    @cached_property
    def length_order(self) -> Integers:
        """For each seat the place of its flange's middle among the distinct ones."""
        low, high = self.flanges
        found: Integers = np.unique(low + high, return_inverse=True)[1].reshape(-1)
        return found

    @cached_property
    def seat_work(self) -> Integers:
        """For each seat the hardest step of fitting what is under the pump."""
        return np.concatenate([np.zeros(0, dtype=np.int64), *(seats.work for seats in self.kinds)])

    @cached_property
    def number_order(self) -> Integers:
        """For each pair its place in the order of part numbers, which settles what nothing else does.

        That of the pump, of what sits on the block for it, of the plates from the block outward and of the pulley.
        """
        pumps = ranks([(each.chosen.number, each.pump.number) for each in self.mountings])
        pulleys = ranks(["" if each.pulley is None else each.pulley.number for each in self.mountings])
        plates = ranks([seat.order for seat in self.seats])
        mounting, seat = self.pairs.mounting, self.pairs.seat
        found = np.empty(len(seat), dtype=np.int64)
        found[np.lexsort([pulleys[mounting], plates[seat], pumps[mounting]])] = np.arange(len(seat))
        return found

    @cached_property
    def not_recommended(self) -> Integers:
        """For each mounting 0 where the shop recommends the pump, else 1."""
        return np.array([not each.chosen.recommended for each in self.mountings], dtype=np.int64)

    def nearest(self, place: int) -> "Nearest | None":
        """The seat on which a mounting misses least; None where no path leads to it."""
        if place not in self._nearest:
            self._nearest[place] = self._find_nearest(place)
        return self._nearest[place]

    def _find_nearest(self, place: int) -> "Nearest | None":
        mounting = self.mountings[place]
        best: tuple[MissOrder, Seat] | None = None
        before = 0
        for mount in self.pumps[mounting.pump.number][1]:
            seats = self.table.of(mount)
            if seats.all:
                missed = shortfalls(mounting, seats.twice)
                equal = np.flatnonzero(missed == missed.min())
                first = int(equal[seats.fewest_first[equal].argmin()])
                seat = seats.all[first]
                found = (int(missed[first]), len(seat.plates), seat.order, before + first), seat
                best = found if best is None or found[0] < best[0] else best
            before += len(seats.all)
        if best is None:
            return None
        order, seat = best
        failing = tuple(
            (test.code, test.zone, test.margin(seat.flange))
            for test in mounting.deciding(seat.flange)
            if test.verdict(seat.flange) == "fails"
        )
        return Nearest(order, seat, failing, bool(self._graph.tested_plates(mounting.pump.number)))

    def remembered(self, name: str, make: Callable[[], T]) -> T:
        """What follows from the front alone, made when it is first asked for."""
        if name not in self._remembered:
            self._remembered[name] = make()
        return cast(T, self._remembered[name])


MissOrder = tuple[int, int, tuple[str, ...], int]
"""By how much it misses in half nm, how many plates, which, and the place among the seats."""


class Nearest(NamedTuple):
    """Where a mounting misses least, and which tests along the axis fail there."""

    order: MissOrder
    seat: Seat
    failing: tuple[tuple[Code, str, Length], ...]
    """Code, zone and margin."""
    tested: bool
    """Whether a tested fit speaks of the pump, so that a failing check may be settled."""


def front_of(graph: ConstraintGraph, question: Question) -> Front:
    """The front of a question, shared with every other question of the release that asks the same of it."""
    return graph.kept.get(("front", asks_of_front(graph, question)), lambda: Front(graph, question))


def fronts_of(graph: ConstraintGraph) -> list[Front]:
    """The fronts that are kept, the last used first."""
    return [value for value in reversed(graph.kept.values()) if isinstance(value, Front)]


def _pumps(graph: ConstraintGraph, question: Question, table: SeatTable) -> dict[str, tuple[Part, list[Port]]]:
    """What some path reaches and may sit there, with the mounts by which it is reached, in order of part number.

    Pumps; or, for a remote pump, the outlet plates that lead to one.
    """
    remote = question.build.pump_drive == "remote"
    kind = "outlet_plate" if remote else "water_pump"
    named = None if remote else question.slots.get("pump")
    found: dict[str, tuple[Part, list[Port]]] = {}
    for open_port in table.open_ports:
        for part, port in graph.meeting(open_port):
            if part.kind != kind or port.role != "mount" or (named and named.number != part.number):
                continue
            if question.allows(part) or named:
                found.setdefault(part.number, (question.part(part), []))[1].append(port)
    if named is not None and named.number not in found:
        found[named.number] = (named, [port for port in named.ports if port.role == "mount"])
    return dict(sorted(found.items()))


def _within(seats: Seats, mounting: Mounting) -> Integers:
    """The seats on which nothing fails that is known of the pump's own place."""
    return np.zeros(0, dtype=np.int64) if mounting.hopeless else seats.within(mounting.reach)


def _surely(seats: Seats, mounting: Mounting, places: Integers) -> Flags:
    if any(check.verdict in ("fails", "measure_first") for check in mounting.static):
        return np.zeros(len(places), dtype=bool)
    return seats.surely(mounting.sure, places)


def _spoken(seats: Seats, mounting: Mounting, tested: frozenset[tuple[str, ...]]) -> Integers:
    """The seats of whose plates a tested fit speaks: no arithmetic rules these out before it is looked at."""
    if not tested:
        return np.zeros(0, dtype=np.int64)
    if mounting.remote is None:
        found = sorted(at for plates in tested for at in seats.by_plates.get(plates, ()))
    else:
        found = [at for at, seat in enumerate(seats.all) if plates_of(mounting, seat) in tested]
    return np.array(found, dtype=np.int64)


def shortfalls(mounting: Mounting, twice: Integers) -> Integers:
    """By how much the axial tests miss in sum with the flange there, in half nm, every part at its middle."""
    missed = np.zeros(len(twice), dtype=np.int64)
    for test in mounting.axial:
        missed += _shortfall(test, twice)
    if mounting.belt:
        missed += np.minimum.reduce([_shortfall(test, twice) for test in mounting.belt])
    return missed


def _shortfall(test: AxialTest, twice: Integers) -> Integers:
    value = test.base.low + test.base.high + test.towards * twice
    limit = int(2 * test.limit // 1)
    return np.maximum(0, limit - value if test.at_least else np.abs(value) - limit)


def ranks(values: list[Any]) -> Integers:
    """The place of each value among the distinct ones in order."""
    places = {value: place for place, value in enumerate(sorted(set(values)))}
    return np.array([places[value] for value in values], dtype=np.int64)
