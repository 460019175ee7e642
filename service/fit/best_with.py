"""The best option that holds a part, as options are ranked, whether it is listed or not.

On the block, under it and as its bolts a part is held by pairs of the front that are known; in a circuit by any pair of
a pump from which some line leads through it. Pairs are taken in the order in which they could stand with the part at
best, until none that is left could stand before what was found.
"""

from collections.abc import Iterable, Iterator, Sequence, Set
from functools import cached_property
from heapq import heapify, heappop, heapreplace
from typing import Final, NamedTuple

import msgspec
import numpy as np

from catalog.domain import PLATES, Kind
from catalog.vocabulary import WORK
from service.fit.assess import assess, assess_with
from service.fit.bill import Bill
from service.fit.circuit import Spot
from service.fit.front import Integers
from service.fit.holding import clamping_of, holders_of
from service.fit.options import Assessed
from service.fit.ranking import rank_on_seat, standing
from service.fit.search import Search
from service.fit.standing import Key, Standing
from service.fit.trees import Cost

_GIVEN: Final[tuple[Kind, ...]] = ("water_pump", "remote_pump", "pulley", *PLATES)
"""Kinds of parts that a pair of the front has or has not, whatever else is chosen."""
Pump = tuple[str, str]
"""The number of a pump, and of what sits on the block for it."""


class _Adds(NamedTuple):
    """What a part in the circuits of a pump adds to its options at least."""

    unsure: bool
    work: int
    cost: Cost
    """By the ranking's keys that add up, beyond the cheapest trees."""


class BestWith:
    """For one part after the other the best option that holds it."""

    def __init__(self, search: Search) -> None:
        self._search, self._settlement, self._front = search, search.settlement, search.front
        self._graph, self._question = search.graph, search.question
        self._index = holders_of(search.front)
        self._least: dict[tuple[Spot, str], tuple[bool, int]] = {}
        self._assessed: dict[int, Assessed] = {}
        self._in_order: dict[tuple[Pump, bool, int], list[tuple[Standing, int]]] = {}

    def everywhere(self) -> Set[str]:
        """Numbers of all parts that an option might hold: of no other is one found."""
        if not self._search.decided:
            return frozenset()
        found = set(self._index.numbers) | clamping_of(self._search).keys() | self._standing
        for roots in self._roots.values():
            for root in roots:
                found.update(self._settlement.through(self._settlement.anything, root))
        return found | self._graph.required

    def first(self) -> Assessed | None:
        """The best option of all."""
        return self._first(self._search.in_turn, None, frozenset(), "")

    def of(self, number: str) -> Assessed | None:
        """The best option that holds a part; None where none does."""
        if not self._search.decided:
            return None
        wanted = self._bringing(number)
        if wanted & self._standing:
            found = self._first(self._search.in_turn, None, wanted, number)
        else:
            pairs = self._pairs_with(wanted)
            found = self._first(_in_turn(pairs, self._turn[pairs]), None, wanted, number)
        return found if self._settlement.asks_nothing else self._in_circuits(wanted, number, found)

    @cached_property
    def _standing(self) -> frozenset[str]:
        """Numbers of what every option has: the build's own parts, and the belt that goes without a pump."""
        question = self._question
        own = {part.number for part in question.slots.values()}
        drive = question.slots.get("accessory_drive")
        if drive is not None and question.build.pump_drive == "remote":
            own.add(str(drive.attributes.get("belt_without_pump", "")))
        return frozenset(own)

    def _bringing(self, number: str) -> frozenset[str]:
        """The part, and those of which a rule has one of these required."""
        found, waiting = {number}, [number]
        if number in self._graph.required:
            for each in waiting:
                for rule in self._graph.snapshot.rules:
                    if rule.kind == "requires" and each in rule.others and rule.part not in found:
                        found.add(rule.part)
                        waiting.append(rule.part)
        return frozenset(found)

    @cached_property
    def _turn(self) -> Integers:
        """For each pair a number that orders it as pairs are taken; beyond all others where none is to be taken."""
        if self._search.is_bare:
            return self._search.order
        turn = np.full(len(self._front.pairs.seat), len(self._front.pairs.seat), dtype=np.int64)
        waiting = self._search.waiting
        turn[waiting] = np.arange(len(waiting))
        return turn

    def _pairs_with(self, wanted: Iterable[str]) -> Integers:
        """The pairs that hold one of these on the block, under it, or as bolts in some group."""
        index, pairs, runs = self._index, self._front.pairs, [np.zeros(0, dtype=np.int64)]
        clamping = clamping_of(self._search)
        for number in sorted(wanted):
            runs += [np.arange(*index.starts[place : place + 2]) for place in index.places.get(number, ())]
            if number in index.seats:
                runs.append(_among(index.seats[number], pairs.seat, len(self._front.seats)))
            if number in clamping:
                runs.append(_among(clamping[number], index.key_of_pair, len(index.keys)))
        found = np.unique(np.concatenate(runs))
        return found if self._search.is_bare else found[self._turn[found] < len(self._turn)]

    def _first(
        self, pairs: Iterable[int], best: Assessed | None, wanted: frozenset[str], number: str
    ) -> Assessed | None:
        """The best option with a part on these pairs, in the order in which they could stand."""
        for pair in pairs:
            if best is not None and self._search.bound(pair) >= self._key(best):
                break
            best = self._better(best, self._on(pair, wanted, number))
        return best

    def _better(self, one: Assessed | None, other: Assessed | None) -> Assessed | None:
        if one is None or other is None:
            return one or other
        return other if self._key(other) < self._key(one) else one

    def _key(self, option: Assessed) -> Key:
        return standing(option).key(self._question.rank_keys)

    def _on(self, pair: int, wanted: frozenset[str], number: str) -> Assessed | None:
        """The best option on a pair that holds a part."""
        placed = self._search.placed(pair)
        if pair not in self._assessed:
            self._assessed[pair] = assess(self._settlement, *placed)
        plain = self._assessed[pair]
        if plain.verdict != "fails" and (not number or self._holds(plain, number)):
            return plain
        chosen = {each for each in wanted if self._graph.snapshot.parts[each].kind not in _GIVEN}
        if not chosen or wanted & self._standing:
            return None
        found = [each for each in assess_with(self._settlement, *placed, chosen) if self._holds(each, number)]
        return min(found, key=lambda each: rank_on_seat(each, self._question.rank_keys), default=None)

    def _holds(self, option: Assessed, number: str) -> bool:
        return number in self._standing or any(line.part == number for line in option.lines)

    # --- in circuits

    @cached_property
    def _pairs_of(self) -> dict[Pump, list[int]]:
        """The pairs of each pump."""
        found: dict[Pump, list[int]] = {}
        for pair in self._search.waiting:
            mounting = self._front.mountings[int(self._front.pairs.mounting[pair])]
            found.setdefault((mounting.chosen.number, mounting.pump.number), []).append(pair)
        return found

    @cached_property
    def _roots(self) -> dict[Pump, tuple[Spot, ...]]:
        """The roots of what each pump must settle."""
        found: dict[Pump, tuple[Spot, ...]] = {}
        for pump, pairs in ({} if self._settlement.asks_nothing else self._pairs_of).items():
            mounting = self._search.placed(pairs[0]).mounting
            owed = self._settlement.obliged(mounting.pump, mounting.remote).obligations
            found[pump] = tuple(obligation.root for obligation in owed)
        return found

    def _in_circuits(self, wanted: frozenset[str], number: str, best: Assessed | None) -> Assessed | None:
        """The best option that holds a part, of which one that holds it elsewhere may be known."""
        waiting: list[tuple[Key, Pump, int, list[tuple[Standing, int]], _Adds]] = []
        of_roots: dict[tuple[Spot, ...], _Adds | None] = {}
        for pump, roots in self._roots.items():
            if roots not in of_roots:
                of_roots[roots] = self._adds(roots, wanted)
            adds = of_roots[roots]
            if adds is not None:
                pairs = self._ordered(pump, adds)
                waiting.append((self._with(pairs[0][0], adds), pump, 0, pairs, adds))
        heapify(waiting)
        while waiting:
            bound, pump, at, pairs, adds = waiting[0]
            if best is not None and bound >= self._key(best):
                break
            best = self._better(best, self._on(pairs[at][1], wanted, number))
            if at + 1 < len(pairs):
                heapreplace(waiting, (self._with(pairs[at + 1][0], adds), pump, at + 1, pairs, adds))
            else:
                heappop(waiting)
        return best

    def _ordered(self, pump: Pump, adds: _Adds) -> list[tuple[Standing, int]]:
        """The pairs of a pump in the order in which they could stand with circuits of this work and this doubt."""
        key = pump, adds.unsure, adds.work
        if key not in self._in_order:
            stands = (
                (
                    msgspec.structs.replace(
                        stand, verdict=stand.verdict or adds.unsure, work=max(stand.work, adds.work)
                    ),
                    pair,
                )
                for pair in self._pairs_of[pump]
                for stand in (self._search.at_best(pair),)
            )
            rank_keys = self._question.rank_keys
            self._in_order[key] = sorted(stands, key=lambda each: (each[0].key(rank_keys), each[1]))
        return self._in_order[key]

    def _with(self, stand: Standing, adds: _Adds) -> Key:
        more = Bill.of(adds.cost, self._question.rank_keys)
        price = stand.price[0] + more.unpriced, stand.price[1] + more.known
        least = msgspec.structs.replace(stand, price=price, parts=stand.parts + more.pieces)
        return least.key(self._question.rank_keys)

    def _adds(self, roots: tuple[Spot, ...], wanted: frozenset[str]) -> _Adds | None:
        """What one of these parts adds at least to what these roots come to; None where no tree of theirs holds any."""
        found: list[_Adds] = []
        for root in roots:
            through = self._settlement.through(self._settlement.anything, root)
            first = self._settlement.first(root)
            for number in sorted(wanted & through.keys()):
                assert first is not None
                cost = tuple(all_ - own for all_, own in zip(through[number].cost, first.cost, strict=True))
                found.append(_Adds(*self._least_of(root, number), cost))
        if not found:
            return None
        return _Adds(*(min(getattr(each, name) for each in found) for name in _Adds._fields))

    def _least_of(self, root: Spot, number: str) -> tuple[bool, int]:
        """Whether a part is in no tree that holds for certain, and the least work of a tree that holds it."""
        known = self._least.get((root, number))
        if known is not None:
            return known
        anything, through = self._settlement.anything, self._settlement.through
        unsure = number not in through(anything._replace(measure_first=False), root)
        work = next(level for level in range(len(WORK)) if number in through(anything._replace(work=level), root))
        self._least[root, number] = unsure, work
        return unsure, work


def _in_turn(pairs: Integers, turn: Integers) -> Iterator[int]:
    """Pairs by these numbers; sorted where more than the first is asked for."""
    if len(pairs):
        yield int(pairs[turn.argmin()])
        yield from pairs[turn.argsort()].tolist()[1:]


def _among(wanted: Sequence[int] | Integers, of_pair: Integers, many: int) -> Integers:
    """The pairs of which this is among so many that are wanted."""
    flags = np.zeros(many, dtype=bool)
    flags[wanted] = True
    return np.flatnonzero(flags[of_pair])
