"""From a comparison to what is answered."""

from typing import Any

from msgspec import UNSET

from catalog.domain import Release, Snapshot
from service.api import render, render_told, wire_compare
from service.fit import compare, wording
from service.fit.answer import Answer
from service.fit.wording.compare import changed_text


def comparison(found: compare.Comparison, snapshot: Snapshot, manner: render.Manner) -> wire_compare.Comparison:
    """A comparison on the wire."""
    text = wording.answer_text(found.answer, manner.units) if manner.full else UNSET
    return wire_compare.Comparison(
        **_outcome(found.answer, snapshot.release, manner)
        | render_told.told(found.told, manner.units, full=manner.full),
        text=text,
        release=render.release_name(snapshot.release),
        changes=[_changed(found.answer, each, snapshot, manner) for each in found.changes],
    )


def _changed(own: Answer, changed: compare.Changed, snapshot: Snapshot, manner: render.Manner) -> wire_compare.Changed:
    counted: dict[str, Any] = {}
    for name, pumps in (("appeared", changed.appeared), ("went", changed.went)):
        if pumps is not None:
            counted[name] = [_pump(number, snapshot) for number in pumps[: wire_compare.MOST_PUMPS]]
            counted[f"{name}_total"] = len(pumps)
    return wire_compare.Changed(
        **_outcome(changed.answer, snapshot.release, manner),
        **counted,
        text=changed_text(own, changed, manner.units) if manner.full else UNSET,
        name=changed.change.name,
        price_difference=render.money(changed.price_difference),
    )


def _outcome(found: Answer, release: Release, manner: render.Manner) -> dict[str, Any]:
    """What the build and a change have in common."""
    answer = render.answer(found, release, manner)
    return {
        "build": answer.build,
        "verdict": answer.verdict,
        **render_told.told(found.told, manner.units, full=False),
        "replaced": answer.replaced,
        "best": answer.options[0] if answer.options else UNSET,
        "pumps_that_fit": answer.pumps_that_fit,
        "decided": answer.decided,
    }


def _pump(number: str, snapshot: Snapshot) -> wire_compare.PumpName:
    part = snapshot.parts.get(number)
    return wire_compare.PumpName(pump=number, name=number if part is None else part.name)
