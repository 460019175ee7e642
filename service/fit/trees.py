"""How an open port can be settled: the cheapest tree of parts that leads from it to its end, and the next ones.

An open port is an obligation. A part that meets it discharges it and raises its own other ports, so
settling one is a tree. The cheapest tree is found by Knuth's generalisation of Dijkstra's algorithm
(Information Processing Letters 6, 1977); since the number of parts from a port to its end is bounded, the
search is a recursion over what is left of that bound. The next ones are found lazily, a tree at a time
(Huang and Chiang, "Better k-best Parsing", 2005, algorithm 3), so that nobody pays for those not asked for.
"""

from collections.abc import Callable, Iterable, Iterator
from heapq import heappop, heappush
from typing import Final, Generic, NamedTuple, TypeVar

MOST_PARTS: Final = 6
"""Parts from a port to its end."""

Spot = TypeVar("Spot")
"""What is open: a port, with all that bears on how it may be settled."""
Piece = TypeVar("Piece")
"""What discharges it."""
Cost = tuple[int, ...]
"""Adds up along a tree, place by place, and is compared place by place."""


class Way(NamedTuple, Generic[Spot, Piece]):
    """One way to discharge a spot: a piece with its own cost and name, and the spots that it raises."""

    piece: Piece
    name: str
    cost: Cost
    raises: tuple[Spot, ...]
    parts: int = 1
    """What it takes of the parts between a port and its end: 0 where the line just arrives."""
    renews: bool = False
    """Whether the count starts anew behind it."""


class Tree(NamedTuple, Generic[Piece]):
    """A settled spot. `names` is its pieces in the order in which they go on, an empty name after each tree."""

    cost: Cost
    names: tuple[str, ...]
    piece: Piece
    branches: "tuple[Tree[Piece], ...]"
    marks: tuple[str, ...] = ()
    """What of it matters to the rest of a list, sorted."""

    def pieces(self) -> Iterator[Piece]:
        """The pieces from the port to its end."""
        yield self.piece
        for branch in self.branches:
            yield from branch.pieces()


class Settler(Generic[Spot, Piece]):
    """Finds trees in order of cost, then of names; the same question is never worked out twice.

    Parameters
    ----------
    ways
        The ways to discharge a spot. A way that raises nothing ends its branch.
    marks
        What of a piece matters to the rest of a list. Of several trees of a spot with the same marks only the
        cheapest is given: whatever the rest is, the others are worse. Left out, every tree is given.
    least
        How many parts a spot needs to its end at the least; what is farther than the bound is not looked at.
    """

    def __init__(
        self,
        ways: Callable[[Spot], Iterable[Way[Spot, Piece]]],
        marks: Callable[[Piece], tuple[str, ...]] | None = None,
        least: Callable[[Spot], int] = lambda _: 0,
    ) -> None:
        self._ways, self._marks, self._least = ways, marks, least
        self._queues: dict[tuple[Spot, int], _Queue[Spot, Piece]] = {}
        self.steps = 0
        """Ways looked at so far."""

    def nth(self, spot: Spot, place: int, parts_left: int = MOST_PARTS) -> Tree[Piece] | None:
        """The tree at this place in order of cost, counted from 0; None where there are not so many."""
        return self._queue(spot, parts_left).nth(place)

    def all(self, spot: Spot) -> Iterator[Tree[Piece]]:
        """Every tree, the cheapest first."""
        place = 0
        while (tree := self.nth(spot, place)) is not None:
            yield tree
            place += 1

    def _queue(self, spot: Spot, parts_left: int) -> "_Queue[Spot, Piece]":
        known = self._queues.get((spot, parts_left))
        if known is None:
            near = self._least(spot) <= parts_left
            ways = [way for way in self._ways(spot) if way.parts <= parts_left] if near else []
            self.steps += len(ways)
            known = self._queues[spot, parts_left] = _Queue(ways, self._branch(parts_left), self._marks)
        return known

    def _branch(self, parts_left: int) -> "Callable[[Way[Spot, Piece], int, int], Tree[Piece] | None]":
        def branch(way: Way[Spot, Piece], number: int, place: int) -> Tree[Piece] | None:
            return self.nth(way.raises[number], place, MOST_PARTS if way.renews else parts_left - way.parts)

        return branch


class _Queue(Generic[Spot, Piece]):
    """The trees of one spot in order: those found, and the next candidate of every way."""

    def __init__(
        self,
        ways: list[Way[Spot, Piece]],
        branch: Callable[[Way[Spot, Piece], int, int], Tree[Piece] | None],
        marks: Callable[[Piece], tuple[str, ...]] | None,
    ) -> None:
        self._ways, self._branch, self._marks = ways, branch, marks
        self._marked: set[tuple[str, ...]] = set()
        self._found: list[Tree[Piece]] = []
        self._waiting: list[tuple[Cost, tuple[str, ...], int, tuple[int, ...], Tree[Piece]]] = []
        self._seen: set[tuple[int, tuple[int, ...]]] = set()
        for place, way in enumerate(ways):
            self._push(place, (0,) * len(way.raises))

    def nth(self, place: int) -> Tree[Piece] | None:
        while len(self._found) <= place and self._waiting:
            *_, way, places, tree = heappop(self._waiting)
            if self._marks is None or tree.marks not in self._marked:
                self._found.append(tree)
                self._marked.add(tree.marks)
            for branch in range(len(places)):
                self._push(way, (*places[:branch], places[branch] + 1, *places[branch + 1 :]))
        return self._found[place] if place < len(self._found) else None

    def _push(self, way_place: int, places: tuple[int, ...]) -> None:
        if (way_place, places) in self._seen:
            return
        self._seen.add((way_place, places))
        way = self._ways[way_place]
        branches = []
        for number, place in enumerate(places):
            branch = self._branch(way, number, place)
            if branch is None:
                return
            branches.append(branch)
        cost = tuple(map(sum, zip(way.cost, *(branch.cost for branch in branches), strict=True)))
        names = (way.name, *(name for branch in branches for name in branch.names), "")
        own = () if self._marks is None else self._marks(way.piece)
        marks = tuple(sorted((*own, *(mark for branch in branches for mark in branch.marks))))
        tree = Tree(cost, names, way.piece, tuple(branches), marks)
        heappush(self._waiting, (cost, names, way_place, places, tree))
