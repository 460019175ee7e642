"""Which parts can meet a given one: directly, through plates, or on the same engine. Answered by the graph."""

from collections import deque
from typing import Final

import networkx as nx

from catalog.domain import PLATES, Kind, Part
from service.fit.graph import ConstraintGraph, Node, part_node

THROUGH: Final[frozenset[Kind]] = PLATES | {"engine"}
"""Kinds of part through which two others count as meeting."""


def meeting(graph: ConstraintGraph, part: Part) -> frozenset[str]:
    """Numbers of the parts that can meet this one, itself left out, less those that a rule says exclude it."""
    found: set[str] = set()
    waiting = deque([part.number])
    while waiting:
        here = waiting.popleft()
        for number in _neighbours(graph, here):
            if number != part.number and number not in found:
                found.add(number)
                if graph.snapshot.parts[number].kind in THROUGH:
                    waiting.append(number)
    return frozenset(found) - _excluded(graph, part.number)


def _neighbours(graph: ConstraintGraph, number: str) -> list[str]:
    """Parts with a port that is the other end of one of this part's: two steps over connection ends."""
    node = part_node(number)
    found: set[str] = set()
    for end in _nodes(graph.graph, node, "end"):
        for other in _nodes(graph.graph, end, "end"):
            found.update(met[1] for met in _nodes(graph.graph, other, "part"))
    return sorted(found)


def _nodes(graph: "nx.MultiGraph[Node]", node: Node, sort: str) -> list[Node]:
    return sorted(other for other in graph.neighbors(node) if other[0] == sort)


def _excluded(graph: ConstraintGraph, number: str) -> set[str]:
    found: set[str] = set()
    for rule in graph.snapshot.rules:
        if rule.kind == "excludes" and number in (rule.part, *rule.others):
            found.update((rule.part, *rule.others))
    return found
