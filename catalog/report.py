"""What a release changes, in prose: a line for each thing that is said otherwise than before."""

from collections.abc import Iterator, Sequence
from typing import Any, Final

from catalog.differences import plain
from catalog.edit_values import (
    AddConnection,
    AddPart,
    AddRule,
    Edit,
    RemovePart,
    RetireConnection,
    RetirePart,
    RetireRule,
    ReviseConnection,
    RevisePart,
    ReviseRule,
)
from catalog.making import Rows
from catalog.units import amount_text, length_text

MOST_LINES: Final = 2_000
"""Lines of a report; more are counted."""


def summary(edits: Sequence[Edit]) -> str:
    """How many of what: "2 parts added, 1 part revised."."""
    words = {
        AddPart: "part added",
        RevisePart: "part revised",
        RetirePart: "part retired",
        RemovePart: "part removed",
        AddConnection: "connection added",
        ReviseConnection: "connection revised",
        RetireConnection: "connection removed",
        AddRule: "rule added",
        ReviseRule: "rule revised",
        RetireRule: "rule removed",
    }
    counts = [(sum(type(edit) is sort for edit in edits), word) for sort, word in words.items()]
    told = [f"{count:,} {word if count == 1 else word.replace(' ', 's ', 1)}" for count, word in counts if count]
    return ", ".join(told) + "."


def report(before: Rows, after: Rows, edits: Sequence[Edit]) -> list[str]:
    """A sentence for each edit that leads from one to the other, in their order; a revision says what was and is."""
    state = (_State(before), _State(after))
    lines: list[str] = []
    for place, edit in enumerate(edits):
        if place == MOST_LINES:
            lines.append(f"and {len(edits) - MOST_LINES:,} more")
            break
        lines.append(_sentence(state, edit))
    return lines


class _State:
    """What is said, by key."""

    def __init__(self, rows: Rows) -> None:
        self.parts = {row[0]: row for row in rows["part"]}
        self.measures = {row[:2]: row for row in rows["measure"]}
        self.attributes = {row[:2]: row[2] for row in rows["attribute"]}
        self.prices = {row[0]: row[1:] for row in rows["price"]}
        self.items = {
            "ports": {row[:2] for row in rows["port"]},
            "cues": {row[:2] for row in rows["cue"]},
        }


_States = tuple[_State, _State]


def _sentence(state: _States, edit: Edit) -> str:
    match edit:
        case AddPart():
            price = "" if edit.price is None else f", {edit.price}"
            return f"{edit.number} is new: {edit.kind.replace('_', ' ')}, {edit.name}{price}."
        case RevisePart():
            return f"{edit.number}: {'; '.join(_changes(state, edit))}."
        case RetirePart():
            return f"{edit.number} is retired."
        case RemovePart():
            return f"{edit.number} is removed, with all that is known of it."
        case AddConnection():
            return f"Connection {edit.name} is new: {edit.title}."
        case AddRule():
            return f"Rule {edit.name} is new: {edit.kind} of {edit.part} with {', '.join(edit.others)}."
        case ReviseConnection() | ReviseRule():
            fields = [name for name in plain(edit) if name != "name"]
            what = "Connection" if isinstance(edit, ReviseConnection) else "Rule"
            changes = [f"{name.replace('_', ' ')} is now {_word(getattr(edit, name))}" for name in fields]
            return f"{what} {edit.name}: {'; '.join(changes)}."
        case RetireConnection():
            return f"Connection {edit.name} is removed."
        case RetireRule():
            return f"Rule {edit.name} is removed."


def _changes(state: _States, edit: RevisePart) -> Iterator[str]:
    fields = plain(edit)
    old, new = state
    for place, name in enumerate(("kind", "name", "status", "recommended"), start=1):
        if name in fields:
            yield _from_to(name, _word(old.parts[edit.number][place]), _word(fields[name]))
    if "price" in fields:
        before = old.prices.get(edit.number)
        yield _from_to("price", before and f"{amount_text(*before)} {before[1]}", edit.price or None)
    for name in fields.get("measures", {}):
        key = (edit.number, name)
        yield _from_to(name, *_measures(old.measures.get(key), new.measures.get(key)))
    for name, value in fields.get("attributes", {}).items():
        known = old.attributes.get((edit.number, name))
        yield _from_to(name, known and known.strip('"'), None if value is None else _word(value))
    for name in ("aliases", "bands"):
        if name in fields:
            yield f"{name} are now {_word(fields[name]) or 'none'}"
    for table in ("ports", "cues"):
        for item in fields.get(table, ()):
            gone, there = "gone" in item, (edit.number, item["name"]) in old.items[table]
            yield f"{table[:-1]} {item['name']} is {'gone' if gone else 'revised' if there else 'new'}"


def _from_to(name: str, old: Any, new: Any) -> str:
    if old is None:
        return f"{name} is new: {new}"
    return f"{name} {old} is gone" if new is None else f"{name} from {old} to {new}"


def _measures(old: Any, new: Any) -> tuple[str | None, str | None]:
    """The texts of a measure before and after; what is alike in both is left out of the first."""
    if old is None or new is None:
        return old and _measure(old), new and _measure(new)
    if old[3:] == new[3:]:
        return length_text(old[2]), f"{length_text(new[2])} ({new[5]})"
    return _measure(old), _measure(new)


def _measure(row: tuple[Any, ...]) -> str:
    _, _, nominal, plus, minus, taken, source = row
    tolerance = f"± {length_text(plus)}" if plus == minus else f"+ {length_text(plus)} - {length_text(minus)}"
    told = f", {source}" if source != taken else ""
    return f"{length_text(nominal)} {tolerance} ({taken}{told})"


def _word(value: Any) -> str:
    match value:
        case None:
            return "none"
        case bool():
            return "yes" if value else "no"
        case list() | tuple():
            return ", ".join(_word(item) for item in value)
        case dict():
            return " ".join(f"{name} {_word(item)}" for name, item in value.items())
        case _:
            return f'"{value}"' if isinstance(value, str) and " " in value else str(value)
