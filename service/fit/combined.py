"""Trees of several obligations taken together, in the order of what they cost at least."""

from collections.abc import Callable, Iterator
from heapq import heappop, heappush

from service.fit.circuit import Piece, pieces_parts
from service.fit.trees import Cost, Tree


def holds_part(tree: Tree[Piece], number: str) -> bool:
    """Whether a part is in a tree."""
    return any(part.number == number for piece in tree.pieces() for part, _ in pieces_parts(piece))


class TreesOf:
    """The trees of one obligation in order, but for those that do not suit and those left out."""

    def __init__(
        self, nth: Callable[[int], Tree[Piece] | None], suits: Callable[[Tree[Piece]], bool], holding: str = ""
    ) -> None:
        """`holding` is the number of a part that each tree must hold."""
        self._nth, self._suits, self._holding = nth, suits, holding
        self._left_out: set[tuple[str, ...]] = set()
        self._kept: list[Tree[Piece]] = []
        self._next = 0

    def leave_out(self, tree: Tree[Piece]) -> None:
        """Pass this tree over from now on."""
        self._left_out.add(tree.names)
        self._kept = [kept for kept in self._kept if kept.names != tree.names]

    def nth(self, place: int) -> Tree[Piece] | None:
        """The tree at this place among those kept."""
        while len(self._kept) <= place:
            tree = self._nth(self._next)
            if tree is None:
                return None
            self._next += 1
            holds = not self._holding or holds_part(tree, self._holding)
            if holds and tree.names not in self._left_out and self._suits(tree):
                self._kept.append(tree)
        return self._kept[place]


class Combinations:
    """Combinations of the trees of several roots, in the order of what they cost at least, then of their names."""

    def __init__(self, lists: list[TreesOf], least: Cost) -> None:
        self._lists, self._least = lists, least
        self._waiting: list[tuple[Cost, tuple[str, ...], tuple[int, ...]]] = []
        self._push((0,) * len(lists))

    def _trees(self, places: tuple[int, ...]) -> tuple[Tree[Piece], ...] | None:
        found = [trees.nth(place) for trees, place in zip(self._lists, places, strict=True)]
        return None if any(tree is None for tree in found) else tuple(tree for tree in found if tree is not None)

    def _push(self, places: tuple[int, ...]) -> None:
        trees = self._trees(places)
        if trees is not None:
            cost = tuple(map(sum, zip(self._least, *(tree.cost for tree in trees), strict=True)))
            names = tuple(name for tree in trees for name in tree.names)
            heappush(self._waiting, (cost, names, places))

    def __iter__(self) -> Iterator[tuple[tuple[Cost, tuple[str, ...]], tuple[Tree[Piece], ...]]]:
        while self._waiting:
            cost, names, places = heappop(self._waiting)
            trees = self._trees(places)
            assert trees is not None
            yield (cost, names), trees
            # Each combination is reached once: only places from the last one moved on may move.
            last = max((root for root, place in enumerate(places) if place), default=0)
            for root in range(last, len(places)):
                self._push((*places[:root], places[root] + 1, *places[root + 1 :]))
