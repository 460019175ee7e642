"""Which of some parts each pair of a front holds: on the block, under it, as bolts that clamp it, or as a fan."""

from collections.abc import Iterable, Iterator
from itertools import chain
from typing import Final

from catalog.domain import Kind, Part
from service.fit.bolts import clamped_groups
from service.fit.gap import extents, fan_reach, fan_verdict
from service.fit.mounting import Mounting
from service.fit.paths import Seat
from service.fit.search import Placed, Search
from service.fit.seats import Reach

OF_FANS: Final[tuple[Kind, ...]] = ("fan", "fan_adapter")


class Held:
    """Which of the parts wanted each pair of the front holds: on the block, under it, as bolts, or as a fan."""

    def __init__(self, search: Search, wanted: set[str]) -> None:
        self._search = search
        front, parts = search.front, search.graph.snapshot.parts
        self._on_block = _wanted(map(_on_block, front.mountings), wanted)
        self._under = _wanted(map(_under, front.seats), wanted)
        self._bolts = {number for number in wanted if parts[number].kind == "fastener_set"}
        self._fans = {number for number in wanted if parts[number].kind in OF_FANS}
        self._clamping: dict[object, frozenset[str]] = {}
        self._reaching: dict[str, list[tuple[Reach, set[str]]]] = {}

    def by(self, pair: int) -> set[str]:
        """Numbers of the parts wanted that a pair holds."""
        pairs = self._search.front.pairs
        place, at = int(pairs.mounting[pair]), int(pairs.seat[pair])
        found = self._on_block.get(place, _NONE) | self._under.get(at, _NONE)
        if self._bolts:
            found = found | self._clamped(place, at)
        return found | self._with_room(place, at) if self._fans else found

    def goes_with(self, placed: Placed, number: str) -> bool:
        """Whether no rule keeps a set of bolts or a fan from an option there; what the pair holds is judged with it."""
        chosen = number in self._bolts or number in self._fans
        return not chosen or self._search.goes_with(placed, self._search.graph.snapshot.parts[number])

    def surely(self, placed: Placed, number: str) -> bool:
        """Whether a fan has room there everywhere within the doubt, with some of its adapters; any other part has."""
        if number not in self._fans:
            return True
        question, mounting = self._search.question, placed.mounting
        rooms = (
            fan_verdict(question, mounting.pump, parts, placed.seat.flange)
            for parts in self._search.settlement.fans(mounting.pump)
            if number in {part.number for part in parts}
        )
        return "ok" in rooms

    def _with_room(self, place: int, at: int) -> set[str]:
        """The fans and adapters that may have room on a seat."""
        front, question = self._search.front, self._search.question
        pump, flange = front.mountings[place].pump, front.seats[at].flange
        if pump.number not in self._reaching:
            reaching: dict[Reach, set[str]] = {}
            for parts in self._search.settlement.fans(pump):
                reach = fan_reach(question, pump, extents([parts])[0])
                reaching.setdefault(reach, set()).update({part.number for part in parts} & self._fans)
            self._reaching[pump.number] = list(reaching.items())
        return {
            number
            for (low, high), numbers in self._reaching[pump.number]
            if (low is None or flange.high >= low) and (high is None or flange.low <= high)
            for number in numbers
        }

    def _clamped(self, place: int, at: int) -> frozenset[str]:
        """The sets that hold some group; groups follow from the seat and the thickness of the pump's flange."""
        front = self._search.front
        mounting, seat = front.mountings[place], front.seats[at]
        flange = mounting.pump.measures.get("flange_thickness")
        key = (at, None if flange is None else (flange.low, flange.high))
        if key not in front.clamping:
            bolts, found = self._search.settlement.bolts, set[str]()
            for group in clamped_groups(self._search.question, seat, mounting.pump):
                first = bolts.first_that_holds(group)
                found |= {part.number for part, _ in bolts.that_hold(group)}
                found |= {first.number} if first is not None and first != "not_asked" else set()
            front.clamping[key] = frozenset(found)
        if key not in self._clamping:
            self._clamping[key] = front.clamping[key] & self._bolts
        return self._clamping[key]


_NONE: Final[set[str]] = set()


def _wanted(members: Iterable[Iterator[Part | None]], wanted: set[str]) -> dict[int, set[str]]:
    """By place, the parts wanted among these."""
    found = ({part.number for part in each if part is not None and part.number in wanted} for each in members)
    return {place: numbers for place, numbers in enumerate(found) if numbers}


def _under(seat: Seat) -> Iterator[Part | None]:
    yield from seat.plates
    yield from (joint.gasket for joint in seat.joints)


def _on_block(mounting: Mounting) -> Iterator[Part | None]:
    yield from (mounting.pump, mounting.pulley, mounting.remote)


def on_pair(mounting: Mounting, seat: Seat) -> set[str]:
    """Numbers of what sits on the block and lies under it."""
    return {part.number for part in chain(_on_block(mounting), _under(seat)) if part is not None}
