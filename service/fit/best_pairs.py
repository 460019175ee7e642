"""The best pair of a front with a part, where the front alone decides what stands and what does not."""

from collections.abc import Iterable, Iterator, Sequence, Set

import numpy as np

from service.fit.front import Integers
from service.fit.holding import clamping_of, holders_of
from service.fit.search import Placed, Search


class BestPairs:
    """For one part after the other the first pair, as options are ranked, that holds it."""

    def __init__(self, search: Search) -> None:
        self._search, self._front = search, search.front
        self._index = holders_of(search.front)
        pairs = search.front.pairs
        self._at_best = pairs.sure | pairs.tested
        """Pairs that may hold for certain."""

    def of(self, numbers: Set[str]) -> Iterator[tuple[str, Placed, bool]]:
        """Of each part that some pair holds the first one that holds for certain, else the first that may hold.

        Gives the number, the pair and whether it holds for certain.
        """
        graph, search = self._search.graph, self._search
        if not search.decided:
            return
        clamping = clamping_of(search) if not numbers.isdisjoint(graph.numbers_of_kind("fastener_set")) else {}
        order = search.order
        for number in sorted(numbers & (self._index.numbers | clamping.keys())):
            pairs = self._with(number, clamping.get(number))
            found = self._first(_in_turn(pairs, order[pairs]))
            if found is not None:
                yield number, *found

    def first(self) -> tuple[Placed, bool] | None:
        """The same of all pairs."""
        return self._first(self._search.in_turn)

    def _first(self, pairs: Iterable[int]) -> tuple[Placed, bool] | None:
        may_hold: int | None = None
        for pair in pairs:
            if may_hold is None or self._at_best[pair]:
                verdict = self._search.verdict(pair)
                if verdict == "ok":
                    return self._search.placed(pair), True
                if verdict == "measure_first" and may_hold is None:
                    may_hold = pair
        return None if may_hold is None else (self._search.placed(may_hold), False)

    def _with(self, number: str, clamped: Integers | None) -> Integers:
        """The pairs that hold a part on the block, under it, or as bolts in these kinds of groups."""
        index, pairs = self._index, self._front.pairs
        runs = [np.arange(*index.starts[place : place + 2]) for place in index.places.get(number, ())]
        if number in index.seats:
            runs.append(_among(index.seats[number], pairs.seat, len(self._front.seats)))
        if clamped is not None:
            runs.append(_among(clamped, index.key_of_pair, len(index.keys)))
        return runs[0] if len(runs) == 1 else np.concatenate(runs)


def _in_turn(pairs: Integers, order: Integers) -> Iterator[int]:
    """Pairs by these numbers; sorted where more than the first is asked for, which mostly holds for certain."""
    if len(pairs):
        yield int(pairs[order.argmin()])
        yield from pairs[order.argsort()].tolist()


def _among(wanted: Sequence[int] | Integers, of_pair: Integers, many: int) -> Integers:
    """The pairs of which this is among so many that are wanted."""
    flags = np.zeros(many, dtype=bool)
    flags[wanted] = True
    return np.flatnonzero(flags[of_pair])
