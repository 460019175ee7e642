"""Which of some parts each pair of a front holds: on the block, under it, as bolts that clamp it, or as a fan."""

from collections.abc import Collection, Hashable, Iterable, Iterator, Mapping
from typing import Final

import numpy as np

from catalog.domain import Kind, Part
from service.fit.bolts import clamped_groups
from service.fit.front import Front, Integers
from service.fit.gap import extents, fan_reach, fan_verdict
from service.fit.mounting import Mounting
from service.fit.paths import Seat
from service.fit.search import Placed, Search
from service.fit.seats import Flags, Reach

OF_FANS: Final[tuple[Kind, ...]] = ("fan", "fan_adapter")


class Held:
    """Which of the parts wanted each pair of the front holds: on the block, under it, as bolts, or as a fan.

    Most pairs hold nothing that is still looked for; so each place and each seat is asked once, and again only as long
    as it holds such a part.
    """

    def __init__(self, search: Search, wanted: set[str], bolts: set[str], fans: set[str]) -> None:
        """`bolts` and `fans` are those of the parts wanted that are such."""
        self._search, self._bolts, self._fans = search, bolts, fans
        self._index = holders_of(search.front)
        self._present = self._index.among(wanted)
        self._on_block, self._under = Left({}), Left({})
        for number in self._present:
            self._on_block.add(number, self._index.places.get(number, ()))
            self._under.add(number, self._index.seats.get(number, ()))
        self._clamping = Left({})
        self._reaching: dict[str, list[tuple[Reach, set[str]]]] = {}

    def some(self, found: Collection[str], also: Iterable[str] | None) -> Flags | None:
        """For each pair whether it holds a part wanted and not found yet, or one of `also`; None where all may."""
        if self._fans or also is None:
            return None
        front, index = self._search.front, self._index
        places = np.zeros(len(front.mountings), dtype=bool)
        seats = np.zeros(len(front.seats), dtype=bool)
        left = [number for number in self._present if number not in found]
        for number in (*left, *also):
            places[index.places.get(number, [])] = True
            seats[index.seats.get(number, [])] = True
        held: Flags = places[front.pairs.mounting] | seats[front.pairs.seat]
        if self._bolts:
            by_key = np.zeros(len(self._index.keys), dtype=bool)
            clamping = clamping_of(self._search)
            left = [number for number in clamping if number in self._bolts and number not in found]
            if left:
                by_key[np.concatenate([clamping[number] for number in left])] = True
            held |= by_key[index.key_of_pair]
        return held

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
        key = (at, self._index.flanges[place])
        if key not in self._clamping:
            self._clamping.put(key, _clamped_at(self._search, at, place) & self._bolts)
        return self._clamping.at(key, found)


class Holders:
    """Where in a front each part is: the places of mountings and of seats, and the kinds of clamped groups."""

    def __init__(self, front: Front) -> None:
        self.places = _where(map(_on_block, front.mountings))
        self.seats = _where(map(_under, front.seats))
        flanges = (mounting.pump.measures.get("flange_thickness") for mounting in front.mountings)
        self.flanges = _classes(None if each is None else (each.low, each.high) for each in flanges)
        """For each mounting a number that it shares with those whose flange is as thick: they clamp alike on a seat."""
        keys: dict[tuple[int, int], int] = {}
        self.keys: list[tuple[int, int]] = []
        """A seat and a mounting for each kind of clamped groups."""
        of_pairs = []
        for place, at in zip(front.pairs.mounting.tolist(), front.pairs.seat.tolist(), strict=True):
            key = at, self.flanges[place]
            if key not in keys:
                keys[key] = len(self.keys)
                self.keys.append((at, place))
            of_pairs.append(keys[key])
        self.key_of_pair = np.array(of_pairs, dtype=np.int64)
        self.clamping: dict[str, Integers] | None = None
        """By set of bolts the places of the keys under which it holds, once it was asked for."""
        self.numbers = frozenset((*self.places, *self.seats))
        """Of every part that is somewhere here."""
        self.starts = np.searchsorted(front.pairs.mounting, np.arange(len(front.mountings) + 1))
        """Where the pairs of each mounting begin, and where the last ones end."""

    def among(self, wanted: Collection[str]) -> list[str]:
        """Those of some numbers that are anywhere here, in order."""
        return sorted(self.numbers.intersection(wanted))


def holders_of(front: Front) -> Holders:
    """Where in a front each part is, kept with it."""
    return front.remembered("holders", lambda: Holders(front))


def clamping_of(search: Search) -> dict[str, Integers]:
    """By set of bolts the places of the kinds of groups in which it holds some."""
    index = holders_of(search.front)
    if index.clamping is None:
        found: dict[str, list[int]] = {}
        for place, (at, pump) in enumerate(index.keys):
            for number in _clamped_at(search, at, pump):
                found.setdefault(number, []).append(place)
        index.clamping = {number: np.array(places) for number, places in found.items()}
    return index.clamping


def _clamped_at(search: Search, at: int, place: int) -> frozenset[str]:
    """Every set that holds some group of a mounting on a seat."""
    front = search.front
    mounting, seat, key = front.mountings[place], front.seats[at], (at, holders_of(front).flanges[place])
    if key not in front.clamping:
        bolts, holding = search.settlement.bolts, set[str]()
        for group in clamped_groups(search.question, seat, mounting.pump):
            holding.update(bolts.may_hold(group))
        front.clamping[key] = frozenset(holding)
    return front.clamping[key]


class Left:
    """Parts by where they are, as long as they are not found."""

    def __init__(self, parts: dict[Hashable, set[str]]) -> None:
        self._parts = parts
        self._found: dict[Hashable, int] = {}
        """How many were found when a place was last looked at: as long as no more are, nothing has changed."""

    def __contains__(self, key: Hashable) -> bool:
        return key in self._parts

    def add(self, number: str, keys: Iterable[Hashable]) -> None:
        """Put a part at each of these."""
        for key in keys:
            self._parts.setdefault(key, set()).add(number)

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
        index = holders_of(search.front)
        self._required = {number: required[number] for number in index.among(required)}
        self._own = Left({0: set[str]().union(*(required[number] for number in own if number in required))})
        self._on_block, self._under = Left({}), Left({})
        for number, others in self._required.items():
            for other in others:
                self._on_block.add(other, index.places.get(number, ()))
                self._under.add(other, index.seats.get(number, ()))

    def givers(self, met: Collection[str]) -> list[str] | None:
        """Numbers of the parts of which a rule requires others that are not met yet; None where any pair has some."""
        if not self._any:
            return []
        if self._own.at(0, met):
            return None
        return [number for number, others in self._required.items() if any(other not in met for other in others)]

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


def _where(members: Iterable[Iterator[Part | None]]) -> dict[str, list[int]]:
    """By part number at which places it is."""
    found: dict[str, list[int]] = {}
    for place, parts in enumerate(members):
        for number in dict.fromkeys(_numbers(parts)):
            found.setdefault(number, []).append(place)
    return found


def _under(seat: Seat) -> Iterator[Part | None]:
    yield from seat.plates
    yield from (joint.gasket for joint in seat.joints)


def _on_block(mounting: Mounting) -> Iterator[Part | None]:
    yield from (mounting.pump, mounting.pulley, mounting.remote)
