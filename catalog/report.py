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
from catalog.reader import Rows
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


def report(before: Rows, edits: Sequence[Edit]) -> list[str]:
    """A sentence for each edit, in their order; a revision says what was and what is."""
    state = _State(before)
    lines: list[str] = []
    for place, edit in enumerate(edits):
        if place == MOST_LINES:
            lines.append(f"and {len(edits) - MOST_LINES:,} more")
            break
        lines.append(_sentence(state, edit))
    return lines


class _State:
    """What was said before, by key."""

    def __init__(self, rows: Rows) -> None:
        self.parts = {row[0]: row for row in rows["part"]}
        self.measures = {row[:2]: row for row in rows["measure"]}
        self.attributes = {row[:2]: row[2] for row in rows["attribute"]}
        self.prices = {row[0]: row[1:] for row in rows["price"]}
        self.named = {
            "connection": {row[0]: row for row in rows["connection"]},
            "rule": {row[0]: row for row in rows["rule"]},
        }
        self.items = {
            "ports": {row[:2] for row in rows["port"]},
            "cues": {row[:2] for row in rows["cue"]},
        }


def _sentence(state: _State, edit: Edit) -> str:
    match edit:
        case AddPart():
            price = "" if edit.price is None else f", {edit.price}"
            return f"{edit.number} is new: {edit.kind}, {edit.name}{price}."
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


def _changes(state: _State, edit: RevisePart) -> Iterator[str]:
    fields = plain(edit)
    _, *was = state.parts[edit.number]
    for place, name in enumerate(("kind", "name", "status", "recommended")):
        if name in fields:
            yield _from_to(name, _word(was[place]), _word(fields[name]))
    if "price" in fields:
        old = state.prices.get(edit.number)
        yield _from_to("price", old and f"{amount_text(*old)} {old[1]}", edit.price or None)
    for name, given in fields.get("measures", {}).items():
        old = state.measures.get((edit.number, name))
        yield _from_to(name, old and _old_measure(old), given and _new_measure(given))
    for name, value in fields.get("attributes", {}).items():
        old = state.attributes.get((edit.number, name))
        yield _from_to(name, old and old.strip('"'), None if value is None else _word(value))
    for name in ("aliases", "bands"):
        if name in fields:
            yield f"{name} are now {_word(fields[name]) or 'none'}"
    for table in ("ports", "cues"):
        for item in fields.get(table, ()):
            gone, there = "gone" in item, (edit.number, item["name"]) in state.items[table]
            yield f"{table[:-1]} {item['name']} is {'gone' if gone else 'revised' if there else 'new'}"


def _from_to(name: str, old: Any, new: Any) -> str:
    if old is None:
        return f"{name} is new: {new}"
    return f"{name} {old} is gone" if new is None else f"{name} from {old} to {new}"


def _old_measure(row: tuple[Any, ...]) -> str:
    _, _, nominal, plus, minus, taken, source = row
    return _measure(length_text(nominal), length_text(plus), length_text(minus), taken, source)


def _new_measure(given: Any) -> str:
    if isinstance(given, str):
        return f"{given} (drawing)"
    return _measure(
        given["value"], given.get("plus", ""), given.get("minus", ""), given.get("taken_with", "drawing"),
        given.get("source", ""),
    )  # fmt: skip


def _measure(nominal: str, plus: str, minus: str, taken: str, source: str) -> str:
    if plus == minus:
        tolerance = f" ± {plus}" if plus else ""
    else:
        tolerance = f" + {plus or 'usual'} - {minus or 'usual'}"
    told = f", {source}" if source and source != taken else ""
    return f"{nominal}{tolerance} ({taken}{told})"


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
