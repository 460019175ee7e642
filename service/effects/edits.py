"""The edits that lie between two releases, and a release with only some of them."""

from collections.abc import Iterable
from typing import Literal

import msgspec

from catalog.domain import Measure, Price, Snapshot
from catalog.units import amount_text
from catalog.what_changed import Subject, fields_between, said_by
from service.fit.wording.words import length_text


class FieldEdit(msgspec.Struct, frozen=True, omit_defaults=True):
    """One thing that an edit changes; `before` or `after` is absent where it has none, both where it is a list."""

    field: str
    """Such as `price`, `measures.belt_plane`, `ports.outlet`."""
    before: str = ""
    after: str = ""


class Edit(msgspec.Struct, frozen=True, omit_defaults=True):
    """All that changes of one part, connection or rule: what one edit of a migration can do."""

    subject: Subject
    name: str
    what: Literal["added", "revised", "retired", "removed"]
    fields: tuple[FieldEdit, ...] = ()
    """What a revision changes."""


def edits_between(before: Snapshot, after: Snapshot) -> tuple[Edit, ...]:
    """What is said differently, in the order of connections, parts and rules, each by name."""
    found: list[Edit] = []
    for subject in _SUBJECTS:
        old, new = said_by(before, subject), said_by(after, subject)
        for name in sorted({*old, *new}):
            this, that = old.get(name), new.get(name)
            if this is None:
                found.append(Edit(subject, name, "added"))
            elif that is None:
                found.append(Edit(subject, name, "removed"))
            elif this != that:
                fields = tuple(
                    FieldEdit(field.field, _text(field.before), _text(field.after))
                    for field in fields_between(this, that)
                )
                is_retired = FieldEdit("status", "active", "retired") in fields
                found.append(Edit(subject, name, "retired" if is_retired else "revised", fields))
    return tuple(found)


def with_edits(before: Snapshot, after: Snapshot, edits: Iterable[Edit]) -> Snapshot:
    """The earlier release with these edits of the later one only; such a catalog need not be whole."""
    said = {subject: dict(said_by(before, subject)) for subject in _SUBJECTS}
    for edit in edits:
        new = said_by(after, edit.subject).get(edit.name)
        if new is None:
            said[edit.subject].pop(edit.name, None)
        else:
            said[edit.subject][edit.name] = new
    parts, connections, rules = (dict(sorted(said[subject].items())) for subject in ("part", "connection", "rule"))
    return msgspec.structs.replace(after, parts=parts, connections=connections, rules=tuple(rules.values()))


_SUBJECTS: tuple[Subject, ...] = ("connection", "part", "rule")


def _text(value: object) -> str:
    """A value as a reader sees it; empty where there is none, and for what has many."""
    match value:
        case Measure():
            nominal, plus, minus = (length_text(one, "mm", 3) for one in (value.nominal, value.plus, value.minus))
            return ", ".join(dict.fromkeys([f"{nominal} (+{plus} -{minus})", value.taken_with, value.source]))
        case Price(amount=amount, currency=currency):
            return f"{amount_text(amount, currency)} {currency}"
        case bool():
            return "yes" if value else "no"
        case str() | int():
            return str(value)
        case _:
            return ""
