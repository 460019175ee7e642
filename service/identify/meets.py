"""Which parts can meet a given one: directly, through plates, or on the same engine. Answered by the graph."""

from collections import deque
from typing import Final

from catalog.domain import PLATES, Kind, Part
from service.fit.graph import ConstraintGraph

THROUGH: Final[frozenset[Kind]] = PLATES | {"engine"}
"""Kinds of part through which two others count as meeting."""


def meeting(graph: ConstraintGraph, part: Part) -> frozenset[str]:
    """Numbers of the parts that can meet this one, itself left out, less those that a rule says exclude it.

    A part that is passed through is left by another port than the one it is met by: a plate has two sides.
    """
    found: set[str] = set()
    seen: set[tuple[str, str]] = set()
    waiting: deque[tuple[str, str]] = deque([(part.number, "")])
    while waiting:
        number, entered = waiting.popleft()
        for port in graph.snapshot.parts[number].ports:
            if port.name == entered:
                continue
            # Retired ones too: what is in hand may be old.
            for other, by in graph.across(port.connection, port.end):
                found.add(other.number)
                if other.kind in THROUGH and (other.number, by.name) not in seen:
                    seen.add((other.number, by.name))
                    waiting.append((other.number, by.name))
    return frozenset(found - {part.number}) - excluded(graph, part.number)


def excluded(graph: ConstraintGraph, number: str) -> set[str]:
    """Numbers of the parts that a rule keeps from standing beside this one."""
    found: set[str] = set()
    for rule in graph.snapshot.rules:
        if rule.kind == "excludes" and number in (rule.part, *rule.others):
            found.update((rule.part, *rule.others))
    return found
