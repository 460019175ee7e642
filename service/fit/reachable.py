"""The cheapest tree of an obligation through each part: every way to settle it is looked at once.

Outward from the root: what the rest of a tree costs at least, beside an open port, is known when that port is reached
(Dijkstra's algorithm), and what settles the port itself is known from the trees. So each part met lies in a whole tree,
and the first tree met with it is the cheapest.
"""

from collections.abc import Callable, Iterable
from heapq import heappop, heappush
from typing import NamedTuple

from service.fit.capped import Circuit
from service.fit.circuit import Piece, Spot, pieces_parts
from service.fit.trees import MOST_PARTS, Cost, Tree, Way


class _Around(NamedTuple):
    """The tree around an open port: the way that raises it, which of the ports raised it is, and what settles those."""

    outer: "_Around | None"
    way: Way[Spot, Piece]
    place: int
    branches: tuple[Tree[Piece], ...]


class Through(NamedTuple):
    """The cheapest tree through a part, put together when it is asked for."""

    cost: Cost
    around: _Around | None
    way: Way[Spot, Piece]
    branches: tuple[Tree[Piece], ...]

    def tree(self) -> Tree[Piece]:
        """The tree."""
        found, around = _tree(self.way, self.branches), self.around
        while around is not None:
            before, after = around.branches[: around.place], around.branches[around.place + 1 :]
            found, around = _tree(around.way, (*before, found, *after)), around.outer
        return found


def cheapest_through(
    circuit: Circuit, root: Spot, every: Callable[[Spot], Iterable[Way[Spot, Piece]]]
) -> dict[str, Through]:
    """By number of each part that some tree of a root holds within the cap the cheapest such tree.

    `every` gives all ways to discharge a spot, those with dearer parts alike included.
    """
    found: dict[str, Through] = {}
    nothing = circuit.ways.cost_of(())
    most: dict[Spot, int] = {}
    """For each port looked at the most parts that were left behind it: with fewer left nothing new is met."""
    waiting: list[tuple[Cost, int, Spot, int, _Around | None]] = [(nothing, 0, root, MOST_PARTS, None)]
    met = 0
    while waiting:
        outside, _, spot, left, around = heappop(waiting)
        if most.get(spot, -1) >= left:
            continue
        most[spot] = left
        for way in circuit.within(every(spot)):
            then = MOST_PARTS if way.renews else left - way.parts
            branches = _settled(circuit, way, then) if way.parts <= left else None
            if branches is None:
                continue
            total = _sum(outside, way.cost, *(branch.cost for branch in branches))
            for part, _ in pieces_parts(way.piece):
                known = found.get(part.number)
                if known is None or total < known.cost:
                    found[part.number] = Through(total, around, way, branches)
            for place, raised in enumerate(way.raises):
                if most.get(raised, -1) < then:
                    beside = tuple(all_ - own for all_, own in zip(total, branches[place].cost, strict=True))
                    met += 1
                    heappush(waiting, (beside, met, raised, then, _Around(around, way, place, branches)))
    return found


def _settled(circuit: Circuit, way: Way[Spot, Piece], left: int) -> tuple[Tree[Piece], ...] | None:
    """The cheapest trees of all that a way raises; None where one cannot be settled within the parts that are left."""
    branches = []
    for raised in way.raises:
        tree = circuit.settler.nth(raised, 0, left)
        if tree is None:
            return None
        branches.append(tree)
    return tuple(branches)


def _tree(way: Way[Spot, Piece], branches: tuple[Tree[Piece], ...]) -> Tree[Piece]:
    names = (way.name, *(name for branch in branches for name in branch.names), "")
    return Tree(_sum(way.cost, *(branch.cost for branch in branches)), names, way.piece, branches)


def _sum(*costs: Cost) -> Cost:
    return tuple(map(sum, zip(*costs, strict=True)))
