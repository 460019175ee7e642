"""Where in a front each part is: on the block, under it, or as bolts that clamp it."""

from collections.abc import Hashable, Iterable, Iterator
from typing import Final

import numpy as np

from catalog.domain import Kind, Part
from service.fit.bolts import clamped_groups
from service.fit.front import Front, Integers
from service.fit.mounting import Mounting
from service.fit.paths import Seat
from service.fit.search import Search

OF_FANS: Final[tuple[Kind, ...]] = ("fan", "fan_adapter")


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


def _classes(values: Iterable[Hashable]) -> list[int]:
    """For each value a small number that it shares with its equals."""
    numbers: dict[Hashable, int] = {}
    return [numbers.setdefault(value, len(numbers)) for value in values]


def _numbers(parts: Iterable[Part | None]) -> Iterator[str]:
    return (part.number for part in parts if part is not None)


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
