"""The ways of a question within a cap on work and verdict, and the trees that they make."""

from collections.abc import Iterator
from typing import NamedTuple

from service.fit.bounds import Bounds
from service.fit.circuit import Piece, Spot, pieces_parts
from service.fit.trees import Settler, Way
from service.fit.ways import Ways


class Cap(NamedTuple):
    """What a list may hold at most: work, by its place in the order of work, and whether it may need measuring."""

    work: int
    measure_first: bool
    kits: frozenset[str] = frozenset()
    """Kits on the list already, whose bolts for other joints come with them."""


class Circuit:
    """The ways of a question within a cap, and the trees that they make."""

    def __init__(self, ways: Ways, bounds: Bounds, cap: Cap) -> None:
        self.ways, self.cap = ways, cap
        self.settler: Settler[Spot, Piece] = Settler(
            self._within,
            marks=ways.marks,
            also=ways.limited,
            least_parts=bounds.least_parts,
            least_cost=bounds.least_cost,
        )

    def _within(self, spot: Spot) -> Iterator[Way[Spot, Piece]]:
        """A way within the cap, at the least that it adds: bolts of a kit on the list already may be enough."""
        for way in self.ways.of(spot):
            piece = way.piece
            measuring = piece.bolt_check is not None and piece.bolt_check.verdict == "measure_first"
            if piece.work > self.cap.work or (measuring and not self.cap.measure_first):
                continue
            if piece.bolts is None or piece.bolts[0].number not in self.cap.kits:
                yield way
            else:
                others = tuple(pair for pair in pieces_parts(piece) if pair[0].number != piece.bolts[0].number)
                yield way._replace(cost=self.ways.cost_of(others))
