"""Which of some parts each pair of a front holds: on the block, under it, as bolts that clamp it, or as a fan."""

from collections.abc import Collection, Hashable, Iterable, Iterator, Mapping
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
    """Which of the parts wanted each pair of the front holds: on the block, under it, as bolts, or as a fan.

    Most pairs hold nothing that is still looked for; so each place and each seat is asked once, and again only as long
    as it holds such a part.
    """

    def __init__(self, search: Search, wanted: set[str], bolts: set[str], fans: set[str]) -> None:
        """`bolts` and `fans` are those of the parts wanted that are such."""
        self._search, self._bolts, self._fans = search, bolts, fans
        front = search.front
        self._on_block = Left(_wanted(map(_on_block, front.mountings), wanted))
        self._under = Left(_wanted(map(_under, front.seats), wanted))
        self._clamping = Left({})
        self._flanges: list[int] = _classes(
            None if flange is None else (flange.low, flange.high)
            for flange in (mounting.pump.measures.get("flange_thickness") for mounting in front.mountings)
        )
        self._reaching: dict[str, list[tuple[Reach, set[str]]]] = {}

    def by(self, place: int, at: int, found: Collection[str]) -> set[str]:
        """Numbers of the parts wanted and not found yet that the mounting at a place holds on a seat."""
        mine = self._on_block.at(place, found) | self._under.at(at, found)
        if self._bolts:
            mine = mine | self._clamped(place, at, found)
        return mine | self._with_room(place, at) if self._fans else mine

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

    def _clamped(self, place: int, at: int, found: Collection[str]) -> set[str]:
        """The sets that hold some group; groups follow from the seat and the thickness of the pump's flange."""
        key = (at, self._flanges[place])
        if key not in self._clamping:
            front = self._search.front
            mounting, seat = front.mountings[place], front.seats[at]
            if key not in front.clamping:
                bolts, holding = self._search.settlement.bolts, set[str]()
                for group in clamped_groups(self._search.question, seat, mounting.pump):
                    first = bolts.first_that_holds(group)
                    holding |= {part.number for part, _ in bolts.that_hold(group)}
                    holding |= {first.number} if first is not None and first != "not_asked" else set()
                front.clamping[key] = frozenset(holding)
            self._clamping.put(key, front.clamping[key] & self._bolts)
        return self._clamping.at(key, found)


class Left:
    """Parts by where they are, as long as they are not found."""

    def __init__(self, parts: dict[Hashable, set[str]]) -> None:
        self._parts = parts
        self._found: dict[Hashable, int] = {}
        """How many were found when a place was last looked at: as long as no more are, nothing has changed."""

    def __contains__(self, key: Hashable) -> bool:
        return key in self._parts

    def put(self, key: Hashable, numbers: Iterable[str]) -> None:
        """Put parts where none are known."""
        self._parts[key] = set(numbers)

    def at(self, key: Hashable, found: Collection[str]) -> set[str]:
        """The parts there that are not among those found, which only grow."""
        numbers = self._parts.get(key)
        if not numbers:
            return _NONE
        if self._found.get(key) != len(found):
            self._found[key] = len(found)
            numbers.difference_update([number for number in numbers if number in found])
        return numbers


class Brings:
    """Which parts, not met yet, a rule may bring to an option of each pair."""

    def __init__(self, search: Search, required: Mapping[str, set[str]], own: Iterable[str]) -> None:
        """`required`: by part the parts that a rule has it require."""
        self._any = bool(required)
        if not self._any:
            return

        def of(parts: Iterable[str]) -> set[str]:
            return set[str]().union(*(required[number] for number in parts if number in required))

        front = search.front
        self._own = Left({0: of(own)})
        self._on_block = Left({place: of(_numbers(_on_block(each))) for place, each in enumerate(front.mountings)})
        self._under = Left({at: of(_numbers(_under(each))) for at, each in enumerate(front.seats)})

    def by(self, place: int, at: int, met: Collection[str]) -> set[str]:
        """Numbers of the parts that a rule may bring to the mounting at a place on a seat."""
        if not self._any:
            return _NONE
        return self._own.at(0, met) | self._on_block.at(place, met) | self._under.at(at, met)


def _classes(values: Iterable[Hashable]) -> list[int]:
    """For each value a small number that it shares with its equals."""
    numbers: dict[Hashable, int] = {}
    return [numbers.setdefault(value, len(numbers)) for value in values]


def _numbers(parts: Iterable[Part | None]) -> Iterator[str]:
    return (part.number for part in parts if part is not None)


_NONE: Final[set[str]] = set()


def _wanted(members: Iterable[Iterator[Part | None]], wanted: set[str]) -> dict[Hashable, set[str]]:
    """By place, the parts wanted among these."""
    found = ({part.number for part in each if part is not None and part.number in wanted} for each in members)
    return {place: numbers for place, numbers in enumerate(found) if numbers}


def _under(seat: Seat) -> Iterator[Part | None]:
    yield from seat.plates
    yield from (joint.gasket for joint in seat.joints)


def _on_block(mounting: Mounting) -> Iterator[Part | None]:
    yield from (mounting.pump, mounting.pulley, mounting.remote)
