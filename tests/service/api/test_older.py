"""Older releases that are held: how many, how large, and for how long."""

import msgspec
import pytest

from catalog.domain import Part, Release
from service.api import older
from service.api.older import KEPT, KEPT_PARTS, Older
from service.fit.graph import ConstraintGraph
from tests.support import snapshot_of


def graph_of(number: int, parts: int = 1) -> ConstraintGraph:
    snapshot = snapshot_of([Part(number="G-1", kind="gasket", name="Gasket")])
    release = Release(number, f"release-{number}", "sha256:" + "0" * 64, "2026-01-01", "")
    graph = ConstraintGraph(msgspec.structs.replace(snapshot, release=release))
    if parts > 1:
        # As many entries as there would be; what they are does not matter here.
        many = dict.fromkeys(map(str, range(parts)), graph.snapshot.parts["G-1"])
        graph.snapshot = msgspec.structs.replace(graph.snapshot, parts=many)
    return graph


def held(found: Older, numbers: range) -> list[int]:
    return [number for number in numbers if found.find(str(number)) is not None]


def test_the_longest_unused_is_given_up() -> None:
    found = Older()
    for number in range(1, KEPT + 1):
        found.keep(graph_of(number))
    assert found.find("release-1") is not None
    found.keep(graph_of(KEPT + 1))
    assert held(found, range(1, KEPT + 2)) == [1, *range(3, KEPT + 2)]


def test_large_ones_are_held_alone() -> None:
    found = Older()
    for number in (1, 2):
        found.keep(graph_of(number, KEPT_PARTS // 2))
    assert held(found, range(4)) == [1, 2]
    found.keep(graph_of(3, KEPT_PARTS))
    assert held(found, range(4)) == [3]
    found.keep(graph_of(4, 2 * KEPT_PARTS))
    assert held(found, range(5)) == [4]
    found.make_room(KEPT_PARTS)
    assert held(found, range(5)) == []


def test_room_is_made_by_what_is_needed() -> None:
    found = Older()
    for number in (1, 2, 3):
        found.keep(graph_of(number, KEPT_PARTS // 5))
    found.make_room(KEPT_PARTS // 5)
    assert held(found, range(4)) == [1, 2, 3]
    found.make_room(KEPT_PARTS // 2)
    assert held(found, range(4)) == [2, 3]


def test_what_nobody_asks_for_is_given_up_after_a_while(monkeypatch: pytest.MonkeyPatch) -> None:
    now = [100.0]
    monkeypatch.setattr("service.api.older.time.monotonic", lambda: now[0])
    found = Older()
    found.keep(graph_of(1))
    found.keep(graph_of(2))
    now[0] += older.UNUSED_SECONDS - 1
    assert found.find("1") is not None
    now[0] += 2
    found.give_up_unused()
    assert held(found, range(3)) == [1]


def test_withdrawn_ones_and_those_of_another_catalog_are_dropped() -> None:
    found = Older()
    graphs = [graph_of(number) for number in (1, 2, 3)]
    for graph in graphs:
        found.keep(graph)
    found.drop_withdrawn(2)
    assert held(found, range(4)) == [1, 2]
    found.drop_others([graphs[0].snapshot.release])
    assert held(found, range(4)) == [1]
    found.clear()
    assert held(found, range(4)) == []
