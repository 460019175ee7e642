"""Which parts lie on some way from an open port to its end: every tree that settles an obligation is looked through.

Forward from the obligations of the pumps that have an option: a way is followed where all that it raises can be
settled within the parts that are left, so that each part met lies in a whole tree.
"""

from collections.abc import Collection, Iterable
from typing import NamedTuple

from service.fit.answer import Check
from service.fit.circuit import Piece, Spot, pieces_parts
from service.fit.search import Placed, Search
from service.fit.trees import MOST_PARTS
from service.fit.whole import Settlement


class Line(NamedTuple):
    """A part that some tree holds: the pump with whose option it goes, and whether it does for certain."""

    pump: str
    sure: bool
    check: Check | None


def lines_through(search: Search, placed: Iterable[Placed], wanted: Collection[str]) -> dict[str, Line]:
    """Of the parts wanted those that some tree holds of a pump that has an option there."""
    settlement, parts = search.settlement, search.graph.snapshot.parts
    found: dict[str, Line] = {}
    left = set(wanted)
    by_root: dict[Spot, dict[str, Line]] = {}
    ruled = search.graph.ruled
    for each in placed:
        for obligation in settlement.obliged(each.mounting.pump, each.mounting.remote).obligations:
            if obligation.name == "fan" or not left:
                continue
            first = obligation.root not in by_root
            if first:
                by_root[obligation.root] = _through(settlement, obligation.root, each.mounting.chosen.number)
            lines = by_root[obligation.root]
            for number in left & lines.keys() if first else left & lines.keys() & ruled:
                if search.goes_with(each, parts[number]) and (number not in found or lines[number].sure):
                    found[number] = lines[number]._replace(pump=each.mounting.chosen.number)
        left -= {number for number in left if number in found and found[number].sure}
    return found


def _through(settlement: Settlement, root: Spot, pump: str) -> dict[str, Line]:
    """Every part of every tree of a root."""
    settler, found = settlement.trees, dict[str, Line]()
    most: dict[Spot, int] = {root: MOST_PARTS}
    waiting = [root]
    while waiting:
        spot = waiting.pop()
        left = most[spot]
        for way in settlement.every_way(spot):
            if way.parts > left:
                continue
            then = MOST_PARTS if way.renews else left - way.parts
            if any(settler.nth(raised, 0, then) is None for raised in way.raises):
                continue
            _note(found, way.piece, pump)
            for raised in way.raises:
                if most.get(raised, -1) < then:
                    most[raised] = then
                    waiting.append(raised)
    return found


def _note(found: dict[str, Line], piece: Piece, pump: str) -> None:
    check = piece.bolt_check
    sure = check is None or check.verdict != "measure_first"
    for part, _ in pieces_parts(piece):
        if part.number not in found or (sure and not found[part.number].sure):
            found[part.number] = Line(pump, sure, None if sure else check)
