"""Snapshots that share what they say alike."""

import msgspec

from catalog.domain import Part, Release, Snapshot
from catalog.making import sharing


def snapshot(number: int, *parts: Part) -> Snapshot:
    return Snapshot(Release(number, f"R{number}", "", "", ""), "USD", {part.number: part for part in parts}, {}, ())


def test_what_is_alike_is_one_object_and_nothing_else_changes() -> None:
    first = snapshot(1, Part("A-1", "hose", "one"), Part("A-2", "hose", "two"), Part("A-3", "hose", "three"))
    second = snapshot(2, Part("A-0", "hose", "new"), Part("A-1", "hose", "one"), Part("A-2", "hose", "two, revised"))
    shared = sharing(second, first)
    assert shared == second
    assert list(shared.parts) == list(second.parts)
    assert [number for number, part in shared.parts.items() if part is first.parts.get(number)] == ["A-1"]
    assert sharing(second, None) is second


def test_true_is_not_one() -> None:
    """Python holds them equal, and a reader of JSON does not."""
    part = Part("A-1", "hose", "one", attributes={"ribs": True})
    other = msgspec.structs.replace(part, attributes={"ribs": 1})
    assert part == other
    assert sharing(snapshot(2, part), snapshot(1, other)).parts["A-1"] is part
