"""The ways of a question within a cap on work and verdict, and the trees that they make."""

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from service.fit.bounds import Bounds
from service.fit.challenged import in_question
from service.fit.circuit import Piece, Spot, pieces_parts
from service.fit.trees import Live, LiveWays, Settler, Way
from service.fit.ways import Ways


class Cap(NamedTuple):
    """What a list may hold at most: work, by its place in the order of work, and whether it may need measuring."""

    work: int
    measure_first: bool
    kits: frozenset[str] = frozenset()
    """Kits on the list already, whose bolts for other joints come with them."""


class Circuit:
    """The ways of a question within a cap, and the trees that they make."""

    def __init__(self, ways: Ways, bounds: Bounds, live: LiveWays[Spot, Piece], cap: Cap) -> None:
        self.ways, self.cap, self._live = ways, cap, live
        self._known: dict[Spot, list[Live[Spot, Piece]]] = {}
        self.settler: Settler[Spot, Piece] = Settler(
            ways.of, marks=ways.marks, also=ways.limited, least_parts=bounds.least_parts, live=self._within
        )

    def _within(self, spot: Spot) -> list[Live[Spot, Piece]]:
        """The ways within the cap, each at the least that it adds."""
        if spot not in self._known:
            self._known[spot] = [self._at_least(live) for live in self._live.of(spot) if self._holds(live.way.piece)]
        return self._known[spot]

    def _holds(self, piece: Piece) -> bool:
        bolts = piece.bolt_check
        measuring = piece.unsure or (bolts is not None and bolts.verdict == "measure_first")
        measuring = measuring or in_question(self.ways.question, piece)
        return piece.work <= self.cap.work and (self.cap.measure_first or not measuring)

    def within(self, ways: Iterable[Way[Spot, Piece]]) -> Iterator[Way[Spot, Piece]]:
        """Those of some ways that are within the cap."""
        return (self._without_kit(way) for way in ways if self._holds(way.piece))

    def _at_least(self, live: Live[Spot, Piece]) -> Live[Spot, Piece]:
        """The way without the bolts of a kit on the list already, which may be enough."""
        way = self._without_kit(live.way)
        if way is live.way:
            return live
        least = tuple(all_ - own + less for all_, own, less in zip(live.least, live.way.cost, way.cost, strict=True))
        return live._replace(least=least, way=way)

    def _without_kit(self, way: Way[Spot, Piece]) -> Way[Spot, Piece]:
        piece = way.piece
        if piece.bolts is None or piece.bolts[0].number not in self.cap.kits:
            return way
        others = tuple(pair for pair in pieces_parts(piece) if pair[0].number != piece.bolts[0].number)
        return way._replace(cost=self.ways.cost_of(others))
