"""Which parts lie on some way from an open port to its end: every tree that settles an obligation is looked through.

Forward from the obligations of the pumps that have an option: a way is followed where all that it raises can be
settled within the parts that are left, so that each part met lies in a whole tree.
"""

from collections.abc import Collection, Iterable, Iterator
from typing import NamedTuple

from catalog.domain import Part
from service.fit.answer import Check
from service.fit.circuit import Piece, Spot, pieces_parts
from service.fit.line_checks import doubt
from service.fit.search import Placed, Search
from service.fit.trees import MOST_PARTS, Tree, Way
from service.fit.whole import Settlement


class Line(NamedTuple):
    """A part that some tree holds: the pump with whose option it goes, and whether it does for certain."""

    pump: str
    sure: bool
    check: Check | None


def lines_through(search: Search, pumps: Iterable[tuple[Placed, bool]], wanted: Collection[str]) -> dict[str, Line]:
    """Of the parts wanted those that some tree holds of a pump that has an option there, for certain or not."""
    settlement, parts = search.settlement, search.graph.snapshot.parts
    found: dict[str, Line] = {}
    left = set(wanted)
    by_root: dict[Spot, dict[str, Line]] = {}
    ruled = search.graph.ruled
    for each, certain in sorted(pumps, key=lambda pump: not pump[1]):  # what holds for certain is told by these
        for obligation in settlement.obliged(each.mounting.pump, each.mounting.remote).obligations:
            if obligation.name == "fan" or not left:
                continue
            first = obligation.root not in by_root
            if first:
                pump, chosen = each.mounting.pump, each.mounting.chosen.number
                by_root[obligation.root] = _through(settlement, obligation.root, pump, chosen)
            lines = by_root[obligation.root]
            for number in left & lines.keys() if first else left & lines.keys() & ruled:
                sure = certain and lines[number].sure
                if (sure or number not in found) and search.goes_with(each, parts[number]):
                    check = (
                        lines[number].check
                        if certain or not lines[number].sure
                        else next(iter(search.doubts(each)), None)
                    )
                    found[number] = Line(each.mounting.chosen.number, sure, check)
        left -= {number for number in left if number in found and found[number].sure}
    return found


def _through(settlement: Settlement, root: Spot, pump: Part, chosen: str) -> dict[str, Line]:
    """Every part of every tree of a root; those of trees with nothing to measure first are so for certain."""
    found: dict[str, Line] = {}
    for sure in (True, False):
        for way, on in _ways(settlement, root, pump, sure=sure):
            for part, _ in pieces_parts(way.piece):
                found.setdefault(part.number, Line(chosen, sure, on))
    return found


def _ways(
    settlement: Settlement, root: Spot, pump: Part, *, sure: bool
) -> Iterator[tuple[Way[Spot, Piece], Check | None]]:
    """Every way that is part of a whole tree, with what the tree hangs on; `sure`: of trees that hang on nothing."""
    settler = settlement.sure_trees if sure else settlement.trees
    most: dict[Spot, int] = {root: MOST_PARTS}
    on: dict[Spot, tuple[Part, Check | None]] = {root: (pump, None)}
    """By spot the part that has the port, and what the tree hangs on so far."""
    waiting = [root]
    while waiting:
        spot = waiting.pop()
        left, (holder, before) = most[spot], on[spot]
        for way in settlement.every_way(spot):
            own = _doubt(settlement, way.piece, way.raises, holder)
            then = MOST_PARTS if way.renews else left - way.parts
            if way.parts > left or (sure and own is not None):
                continue
            trees = [tree for raised in way.raises if (tree := settler.nth(raised, 0, then)) is not None]
            if len(trees) < len(way.raises):
                continue
            behind = way.piece.part or holder
            yield way, own or before or (None if sure else _ahead(settlement, trees, behind))
            for raised in way.raises:
                if most.get(raised, -1) < then:
                    most[raised] = then
                    on[raised] = behind, own or before
                    waiting.append(raised)


def _doubt(settlement: Settlement, piece: Piece, raised: Iterable[Spot], holder: Part) -> Check | None:
    """What a piece hangs on: its bolts, or what nobody states."""
    bolts = piece.bolt_check
    if bolts is not None and bolts.verdict == "measure_first":
        return bolts
    return doubt(settlement.graph, settlement.question, settlement.asked, piece, raised, holder)


def _ahead(settlement: Settlement, trees: Iterable[Tree[Piece]], holder: Part) -> Check | None:
    """What the first of these trees hangs on that hangs on anything."""
    for tree in trees:
        found = _doubt(settlement, tree.piece, [branch.piece.spot for branch in tree.branches], holder)
        found = found or _ahead(settlement, tree.branches, tree.piece.part or holder)
        if found is not None:
            return found
    return None
