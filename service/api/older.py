"""Older releases held beside the one that answers, for those who ask for one by number: few, and not for long."""

import time
from collections import OrderedDict
from collections.abc import Collection
from typing import Final

from catalog.domain import Release
from service.fit.graph import ConstraintGraph

KEPT: Final = 3
"""Releases held at most, the longest unused of them given up first."""
KEPT_PARTS: Final = 100_000
"""Parts that they have together at most, unless one alone has more: large ones take most of a worker's memory."""
UNUSED_SECONDS: Final = 60.0
"""Given up when nobody has asked for it for so long."""


class Older:
    """Graphs of releases by number. Not safe to use from several threads: whoever holds it sees to that."""

    def __init__(self) -> None:
        self._graphs: OrderedDict[int, ConstraintGraph] = OrderedDict()
        self._used: dict[int, float] = {}

    def find(self, reference: str) -> ConstraintGraph | None:
        """The graph held of the release of this number or name, which is then used."""
        for number, graph in self._graphs.items():
            if reference in (str(number), graph.snapshot.release.name):
                self._graphs.move_to_end(number)
                self._used[number] = time.monotonic()
                return graph
        return None

    def keep(self, graph: ConstraintGraph) -> None:
        """Hold one more, as the last used."""
        number = graph.snapshot.release.number
        self._graphs[number] = graph
        self._graphs.move_to_end(number)
        self._used[number] = time.monotonic()
        self._give_up(KEPT, KEPT_PARTS)

    def make_room(self, parts: int) -> None:
        """Give up so much that with so many parts held elsewhere there are no more than of old ones alone."""
        self._give_up(KEPT, KEPT_PARTS - parts, all_if_need_be=True)

    def give_up_unused(self) -> None:
        """Give up those that nobody has asked for of late."""
        before = time.monotonic() - UNUSED_SECONDS
        for number in [number for number in self._graphs if self._used[number] < before]:
            self.drop(number)

    def drop(self, number: int) -> None:
        """Hold this one no longer."""
        self._graphs.pop(number, None)
        self._used.pop(number, None)

    def drop_withdrawn(self, newest: int) -> None:
        """Hold none that comes after the newest release."""
        for number in [number for number in self._graphs if number > newest]:
            self.drop(number)

    def drop_others(self, published: Collection[Release]) -> None:
        """Hold none but of these releases: another catalog may have taken the database's place."""
        for number, graph in list(self._graphs.items()):
            if graph.snapshot.release not in published:
                self.drop(number)

    def clear(self) -> None:
        """Hold none."""
        self._graphs.clear()
        self._used.clear()

    def _give_up(self, most: int, parts: int, *, all_if_need_be: bool = False) -> None:
        held = sum(len(graph.snapshot.parts) for graph in self._graphs.values())
        least = 0 if all_if_need_be else 1
        while len(self._graphs) > most or (len(self._graphs) > least and held > parts):
            number, graph = next(iter(self._graphs.items()))
            held -= len(graph.snapshot.parts)
            self.drop(number)
