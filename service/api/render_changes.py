"""From the differences of two snapshots to what is answered about them."""

from typing import Any

import msgspec
from msgspec import UNSET

from catalog import domain
from catalog.what_changed import Change
from service.api import render, render_catalog, wire_changes
from service.fit import wording


def change(found: Change, manner: render.Manner) -> wire_changes.Change:
    """A change on the wire."""
    return wire_changes.Change(
        subject=found.subject,
        name=found.name,
        title=found.title,
        what=found.what,
        fields=[
            wire_changes.FieldChange(
                field=field.field, before=_value(field.before, manner), after=_value(field.after, manner)
            )
            for field in found.fields
        ],
        replaced_by=UNSET if found.replaced_by is None else found.replaced_by,
        text=wording.change_text(found, manner.units) if manner.full else UNSET,
    )


def _value(value: Any, manner: render.Manner) -> Any:
    """A value of the catalog as the part that has it is answered."""
    match value:
        case None:
            return UNSET
        case domain.Measure():
            return render_catalog.measure(value, manner)
        case domain.Price():
            return render.money(value)
        case domain.Port():
            return render_catalog.port(value)
        case domain.Band():
            return render_catalog.band(value)
        case tuple():
            return [_value(item, manner) for item in value]
        case _:
            return msgspec.to_builtins(value)
