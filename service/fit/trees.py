"""How an open port can be settled: the cheapest tree of parts that leads from it to its end, and the next ones.

An open port is an obligation. A part that meets it discharges it and raises its own other ports, so
settling one is a tree. The cheapest tree is found by Knuth's generalisation of Dijkstra's algorithm
(Information Processing Letters 6, 1977); since the number of parts from a port to its end is bounded, the
search is a recursion over what is left of that bound. The next ones are found lazily, a tree at a time
(Huang and Chiang, "Better k-best Parsing", 2005, algorithm 3), so that nobody pays for those not asked for.
"""

from collections.abc import Callable, Iterable, Iterator
from heapq import heapify, heappop, heappush
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


class Live(NamedTuple, Generic[Spot, Piece]):
    """A way that may come to an end: the parts that it needs, and what it costs, both at the least."""

    needs: int
    """Counted anew where it renews the count."""
    least: Cost
    way: Way[Spot, Piece]


class LiveWays(Generic[Spot, Piece]):
    """The ways that may come to an end, each spot looked at once."""

    def __init__(
        self,
        ways: Callable[[Spot], Iterable[Way[Spot, Piece]]],
        least_parts: Callable[[Spot], int],
        least_cost: Callable[[Spot], Cost | None] | None,
    ) -> None:
        self._ways, self._least_parts, self._least_cost = ways, least_parts, least_cost
        self._known: dict[Spot, list[Live[Spot, Piece]]] = {}

    @property
    def count(self) -> int:
        """How many are known."""
        return sum(map(len, self._known.values()))

    def of(self, spot: Spot) -> list[Live[Spot, Piece]]:
        """Those of a spot."""
        if spot not in self._known:
            found = ((_least(way, self._least_cost), way) for way in self._ways(spot))
            self._known[spot] = [Live(self._needs(way), least, way) for least, way in found if least is not None]
        return self._known[spot]

    def _needs(self, way: Way[Spot, Piece]) -> int:
        beyond = max((self._least_parts(raised) for raised in way.raises), default=0)
        if way.renews:
            return way.parts if beyond <= MOST_PARTS else beyond
        return way.parts + beyond


class Settler(Generic[Spot, Piece]):
    """Finds trees in order of cost, then of names; the same question is never worked out twice.

    Parameters
    ----------
    ways
        The ways to discharge a spot. A way that raises nothing ends its branch.
    marks
        What of a piece matters to the rest of a list. Of several trees of a spot with the same marks only the
        cheapest is given: whatever the rest is, the others are worse. Left out, every tree is given.
    also
        What of a cost matters to the rest of a list besides its order, such as a price that is limited: a dearer tree
        with the same marks is given as well where it has less of it.
    least_parts
        How many parts a spot needs to its end at the least; what is farther than the bound is not looked at.
    least_cost
        What a spot costs at the least, None where nothing settles it: a way is not followed before its turn comes.
    live
        The ways that may come to an end, where whoever asks knows them already.
    """

    def __init__(
        self,
        ways: Callable[[Spot], Iterable[Way[Spot, Piece]]],
        marks: Callable[[Piece], tuple[str, ...]] | None = None,
        also: Callable[[Cost], Cost] = lambda _: (),
        least_parts: Callable[[Spot], int] = lambda _: 0,
        least_cost: Callable[[Spot], Cost | None] | None = None,
        live: "Callable[[Spot], Iterable[Live[Spot, Piece]]] | None" = None,
    ) -> None:
        self._marks, self._also, self._least_parts = marks, also, least_parts
        self._live = LiveWays(ways, least_parts, least_cost).of if live is None else live
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
            near = self._least_parts(spot) <= parts_left
            ways = [(way, least) for needs, least, way in self._live(spot) if needs <= parts_left] if near else []
            self.steps += len(ways)
            known = self._queues[spot, parts_left] = _Queue(ways, self._branch(parts_left), self._marks, self._also)
        return known

    def _branch(self, parts_left: int) -> "Callable[[Way[Spot, Piece], int, int], Tree[Piece] | None]":
        def branch(way: Way[Spot, Piece], number: int, place: int) -> Tree[Piece] | None:
            return self.nth(way.raises[number], place, MOST_PARTS if way.renews else parts_left - way.parts)

        return branch


class _Waiting(NamedTuple, Generic[Piece]):
    """A tree still to be made, or made: its cost and its names are at least, or just, these."""

    cost: Cost
    names: tuple[str, ...]
    way: int
    places: tuple[int, ...]
    made: int
    """1 where the tree is made; what might come before it is looked at first."""
    tree: Tree[Piece] | None


class _Queue(Generic[Spot, Piece]):
    """The trees of one spot in order: those found, and the next candidate of every way."""

    def __init__(
        self,
        ways: list[tuple[Way[Spot, Piece], Cost]],
        branch: Callable[[Way[Spot, Piece], int, int], Tree[Piece] | None],
        marks: Callable[[Piece], tuple[str, ...]] | None,
        also: Callable[[Cost], Cost],
    ) -> None:
        self._ways, self._branch, self._marks, self._also = ways, branch, marks, also
        self._marked: dict[tuple[str, ...], Cost] = {}
        self._found: list[Tree[Piece]] = []
        self._seen: set[tuple[int, tuple[int, ...]]] = set()
        self._waiting: list[_Waiting[Piece]] = [
            _Waiting(least, (way.name,), place, (0,) * len(way.raises), 0, None)
            for place, (way, least) in enumerate(ways)
        ]
        heapify(self._waiting)

    def nth(self, place: int) -> Tree[Piece] | None:
        while len(self._found) <= place and self._waiting:
            next_ = heappop(self._waiting)
            tree = next_.tree
            if tree is None:
                made = self._make(next_.way, next_.places)
                if made is not None:
                    heappush(self._waiting, _Waiting(made.cost, made.names, next_.way, next_.places, 1, made))
                continue
            if self._marks is None or self._is_new(tree):
                self._found.append(tree)
            for branch in range(len(next_.places)):
                places = (*next_.places[:branch], next_.places[branch] + 1, *next_.places[branch + 1 :])
                self._push(next_.way, places, tree.cost, tree.names)
        return self._found[place] if place < len(self._found) else None

    def _is_new(self, tree: Tree[Piece]) -> bool:
        """Whether no tree before had the same marks and no more of what matters besides."""
        known, has = self._marked.get(tree.marks), self._also(tree.cost)
        if known is not None and known <= has:
            return False
        self._marked[tree.marks] = has
        return True

    def _push(self, way: int, places: tuple[int, ...], cost: Cost, names: tuple[str, ...]) -> None:
        if (way, places) not in self._seen:
            self._seen.add((way, places))
            heappush(self._waiting, _Waiting(cost, names, way, places, 0, None))

    def _make(self, way_place: int, places: tuple[int, ...]) -> Tree[Piece] | None:
        way, _ = self._ways[way_place]
        branches = []
        for number, place in enumerate(places):
            branch = self._branch(way, number, place)
            if branch is None:
                return None
            branches.append(branch)
        cost = tuple(map(sum, zip(way.cost, *(branch.cost for branch in branches), strict=True)))
        names = (way.name, *(name for branch in branches for name in branch.names), "")
        own = () if self._marks is None else self._marks(way.piece)
        marks = tuple(sorted((*own, *(mark for branch in branches for mark in branch.marks))))
        return Tree(cost, names, way.piece, tuple(branches), marks)


def _least(way: Way[Spot, Piece], least_cost: Callable[[Spot], Cost | None] | None) -> Cost | None:
    """What the trees of a way cost at the least; None where nothing settles what it raises."""
    total = way.cost
    if least_cost is None:
        return total
    for spot in way.raises:
        least = least_cost(spot)
        if least is None:
            return None
        total = tuple(a + b for a, b in zip(total, least, strict=True))
    return total
