"""Where a fault of the whole catalog stands in the sheets: its sentence names the part, connection or rule."""

import re
from collections.abc import Collection, Mapping
from typing import Any

from catalog.sheets.faults import Place

Key = tuple[str, tuple[Any, ...]]
Seen = Mapping[Key, Place]
_SUBJECT = re.compile(r"(part|connection|rule) ([A-Za-z0-9._-]*[A-Za-z0-9_-])")
_THING = re.compile(r"\b(port|cue|band) ([a-z0-9_]+)")
_WORD = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]*")


def follows(text: str, faulty: Collection[str], missing: Collection[str]) -> bool:
    """Whether a fault only follows from lines told of: it is about something faulty, or names what they left out."""
    if not faulty:
        return False
    found = _SUBJECT.match(text)
    if found is not None and found[2] in faulty:
        return True
    return any(word.rstrip(".") in missing for word in _WORD.findall(text))


def place_of(text: str, seen: Seen) -> Place:
    """The line that a sentence is about; where no line is, a place that says that it is the catalog itself."""
    found = _SUBJECT.match(text)
    if found is None:
        return Place("the catalog as it would be")
    table, name = found[1], found[2]
    keys: list[Key] = [(table, (name,)), ("price", (name,))]
    if table == "part":
        rest = text[found.end() :]
        things = [*_THING.findall(rest), *(("measure", word) for word in _WORD.findall(rest))]
        keys = [key for kind, thing in things for key in _keys(kind, name, thing)] + keys
    for key in keys:
        if key in seen:
            return seen[key]
    lines = (place for (_, key), place in seen.items() if key[0] == name)
    return next(lines, Place("the catalog as it would be"))


def _keys(kind: str, part: str, thing: str) -> list[Key]:
    if kind == "band":
        return [("band", (part, int(thing) - 1))] if thing.isdigit() else []
    if kind == "measure":
        word = thing.rstrip(".")
        return [("measure", (part, word)), ("attribute", (part, word)), ("alias", (word,))]
    return [(kind, (part, thing))]
