"""What differs between two states of the catalog. Pure: two snapshots in, a list of changes out."""

from collections.abc import Iterator, Mapping
from typing import Any, Literal

import msgspec

from catalog.domain import Connection, Part, Rule, Snapshot

Subject = Literal["part", "connection", "rule"]
What = Literal["added", "revised", "retired", "restored", "removed"]


class FieldChange(msgspec.Struct, frozen=True):
    """One thing that is said otherwise: a value of catalog.domain before and after, None where there is none."""

    field: str
    """`name`, `price`, `bands` ..., or with the name of what is meant: `measures.belt_plane`, `ports.outlet`."""
    before: Any
    after: Any


class Change(msgspec.Struct, frozen=True):
    """All that changes of one part, connection or rule."""

    subject: Subject
    name: str
    title: str
    """What people call it: a part's name, a connection's title, what a rule says in short."""
    what: What
    fields: tuple[FieldChange, ...] = ()
    """What a revision changes; nothing of what is new or gone."""
    replaced_by: str | None = None
    """The part that takes the place of a retired one."""


def changes_between(before: Snapshot | None, after: Snapshot) -> list[Change]:
    """What changes from one snapshot (None: from an empty catalog) to another: parts, connections, rules, by name."""
    replaced = {rule.part: rule.others[0] for rule in after.rules if rule.kind == "replaced_by"}
    changes: list[Change] = []
    subjects: tuple[Subject, ...] = ("part", "connection", "rule")
    for subject in subjects:
        old = {} if before is None else said_by(before, subject)
        new = said_by(after, subject)
        for name in sorted({*old, *new}):
            change = _change(subject, name, old.get(name), new.get(name), replaced.get(name))
            if change is not None:
                changes.append(change)
    return changes


Said = Part | Connection | Rule


def said_by(snapshot: Snapshot, subject: Subject) -> Mapping[str, Said]:
    """What a snapshot says of one subject, by name."""
    if subject == "rule":
        return {rule.name: rule for rule in snapshot.rules}
    return snapshot.parts if subject == "part" else snapshot.connections


def _change(subject: Subject, name: str, old: Said | None, new: Said | None, replaced_by: str | None) -> Change | None:
    found = new if new is not None else old
    if found is None or old == new:
        return None
    if old is None or new is None:
        return Change(subject, name, _title(found), "removed" if new is None else "added")
    fields = tuple(fields_between(old, new))
    what: What = "revised"
    if isinstance(old, Part) and isinstance(new, Part) and old.status != new.status:
        what = "retired" if new.status == "retired" else "restored"
        fields = tuple(field for field in fields if field.field != "status")
    return Change(subject, name, _title(new), what, fields, replaced_by if what == "retired" else None)


def _title(said: Said) -> str:
    match said:
        case Part():
            return said.name
        case Connection():
            return said.title
        case Rule():
            return f"{said.part} {said.kind.replace('_', ' ')} {', '.join(said.others)}"


def fields_between(old: Said, new: Said) -> Iterator[FieldChange]:
    """What one of these says otherwise, a field at a time; of what has items with names, an item at a time."""
    for name in old.__struct_fields__:
        this, that = getattr(old, name), getattr(new, name)
        if this == that:
            continue
        if name in {"ports", "cues"}:
            this, that = ({item.name: item for item in items} for items in (this, that))
        if not isinstance(this, Mapping):
            yield FieldChange(name, this, that)
            continue
        for key in sorted({*this, *that}):
            if this.get(key) != that.get(key):
                yield FieldChange(f"{name}.{key}", this.get(key), that.get(key))
