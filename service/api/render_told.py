"""What stands once at the top of an answer, from the engine's data to what is answered."""

from collections.abc import Iterable
from typing import Any

from msgspec import UNSET

from service.api import wire_told as wire
from service.fit import told as fit
from service.fit import wording
from service.fit.readings import called
from service.fit.wording import Units


def told(found: fit.Told, units: Units, *, full: bool) -> dict[str, Any]:
    """The fields of an answer that say it, with sentences where it is told in `full`."""
    return {
        "not_checked": list(found.not_checked),
        "not_known": [_not_known(each, full=full) for each in found.not_known],
        "not_known_total": found.not_known_total,
        "cautions": cautions(found.cautions, units, full=full),
        "notes": notes(found.notes, full=full),
    }


def cautions(found: Iterable[fit.Caution], units: Units = "mm", *, full: bool = False) -> list[wire.Caution]:
    """Cautions; an option's bear no sentence."""
    return [
        wire.Caution(
            code=caution.code,
            parts=list(map(called, caution.parts)) if caution.parts else UNSET,
            text=wording.caution_text(caution, units) if full else UNSET,
        )
        for caution in found
    ]


def notes(found: Iterable[fit.Note], *, full: bool = False) -> list[wire.Note]:
    """Notes; an option's bear no sentence."""
    return [
        wire.Note(
            code=note.code,
            parts=list(map(called, note.parts)) if note.parts else UNSET,
            count=UNSET if note.count is None else note.count,
            check=note.check or UNSET,  # type: ignore[arg-type]
            text=wording.note_text(note) if full else UNSET,
        )
        for note in found
    ]


def _not_known(found: fit.NotKnown, *, full: bool) -> wire.NotKnown:
    lack, reading = found.lack, found.reading
    return wire.NotKnown(
        field=lack.field or UNSET,
        part=called(lack.part),
        fact=lack.fact,
        leaves_open=[wire.LeftOpen(code=code, zone=zone or UNSET) for code, zone in found.leaves_open],  # type: ignore[arg-type]
        options=found.options,
        reading=UNSET
        if reading is None
        else wire.ToRead(measure=lack.fact, from_=reading.from_, to=reading.to, taken_with=reading.taken_with),
        text=wording.not_known_text(found) if full else UNSET,
    )
