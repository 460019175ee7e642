"""Sentences about what a release changes."""

from collections import Counter
from collections.abc import Iterable
from typing import Final

from catalog.domain import Measure, Price, Release
from catalog.units import amount_text
from catalog.what_changed import Change, FieldChange
from service.fit.wording.words import Units, length_text

_KEYED: Final = {"measures": "measure", "attributes": "attribute", "ports": "port", "cues": "cue"}


def changes_text(changes: Iterable[Change], before: Release | None, after: Release) -> str:
    """The changes between two releases in one sentence: how many of what."""
    counts = Counter((change.subject, change.what) for change in changes)
    told = ", ".join(
        f"{count} {subject}{'' if count == 1 else 's'} {what}" for (subject, what), count in counts.items()
    )
    start = f"{_release(after)[0].upper()}{_release(after)[1:]}"
    if before is None:
        return f"{start} is the first: {told or 'it holds nothing'}."
    if not told:
        return f"{start} says the same as {_release(before)}."
    return f"{start} against {_release(before)}: {told}."


def change_text(change: Change, units: Units) -> str:
    """All that changes of one part, connection or rule, in one sentence."""
    what = f"{change.subject.capitalize()} {change.name} ({change.title})"
    fields = "; ".join(_field(field, units) for field in change.fields)
    match change.what:
        case "added":
            return f"{what} is new."
        case "removed":
            return f"{what} is gone."
        case "retired":
            instead = "" if change.replaced_by is None else f", {change.replaced_by} takes its place"
            return f"{what} is retired{instead}{'; ' if fields else ''}{fields}."
        case "restored":
            return f"{what} is offered again{'; ' if fields else ''}{fields}."
        case "revised":
            return f"{what}: {fields}."


def retired_text(part: str, release: Release, replaced_by: str | None) -> str:
    """Since when a part is retired, and what takes its place."""
    instead = "nothing is named in its place" if replaced_by is None else f"{replaced_by} takes its place"
    return f"{part} is retired since {_release(release)} of {release.published_on}; {instead}."


def _release(release: Release) -> str:
    return f"release {release.number} ({release.name})"


def _field(field: FieldChange, units: Units) -> str:
    group, _, name = field.field.partition(".")
    label = f"{_KEYED[group]} {name}" if name else group.replace("_", " ")
    before, after = _value(field.before, units), _value(field.after, units)
    if field.after is None:
        return f"{label} {before} is gone" if before else f"{label} is gone"
    if field.before is None:
        return f"{label} {after} is new" if after else f"{label} is new"
    return f"{label} {before}, now {after}" if before and after else f"{label} changed"


def _value(value: object, units: Units) -> str:
    """A value as a reader sees it; empty where it has too many sides for a sentence."""
    match value:
        case Measure():
            nominal, plus, minus = (length_text(one, units, 3) for one in (value.nominal, value.plus, value.minus))
            source = dict.fromkeys([value.taken_with, value.source])
            return f"{nominal} (+{plus}, -{minus}, {', '.join(source)})"
        case Price():
            return f"{amount_text(value.amount, value.currency)} {value.currency}"
        case bool():
            return "yes" if value else "no"
        case str() | int():
            return str(value)
        case tuple() if all(isinstance(item, str) for item in value):
            return ", ".join(value) or "none"
        case _:
            return ""
