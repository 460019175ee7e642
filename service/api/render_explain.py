"""What explains a ranking, from the engine's data to what is answered."""

from typing import Any

from msgspec import UNSET, UnsetType

from catalog.units import amount_text, millimetres
from service.api import wire_explain as wire
from service.fit import answer as fit
from service.fit import wording
from service.fit.readings import called
from service.fit.taking import Settling
from service.fit.wording import Units


def settle(found: Settling | None, units: Units) -> wire.Settle | UnsetType:
    """What would settle a check."""
    if found is None:
        return UNSET
    readings = [
        wire.ReadingToTake(
            part=called(taking.part),
            measure=taking.measure,
            from_=taking.from_,
            to=taking.to,
            taken_with=taking.taken_with,
            expected_mm=UNSET if taking.expected is None else millimetres(taking.expected),
            doubt_mm=UNSET if taking.doubt is None else millimetres(taking.doubt),
            doubt_then_mm=millimetres(taking.doubt_then),
            text=wording.taking_text(taking, units),
        )
        for taking in found.readings
    ]
    left = UNSET if found.leaves_open is None else found.leaves_open
    look_at = [
        wire.LookAt(part=called(looking.part), fact=looking.fact, text=wording.looking_text(looking, units))
        for looking in found.look_at
    ]
    return wire.Settle(
        reason=found.reason,
        readings=readings,
        look_at=look_at or UNSET,
        leaves_open=left,
        text=wording.settling_text(found),
    )


def either_way(found: fit.EitherWay | None) -> wire.EitherWay | UnsetType:
    """The answer on either side of the deciding check."""
    if found is None:
        return UNSET
    return wire.EitherWay(
        code=found.code,
        zone=found.zone or UNSET,
        holds=_outcome(found.holds),
        fails=_outcome(found.fails),
        text=wording.either_way_text(found),
    )


def _outcome(found: fit.Outcome) -> wire.Outcome:
    return wire.Outcome(
        likelihood=found.likelihood,
        readings=[
            wire.OutcomeReading(
                part=called(read.part),
                measure=read.measure,
                value_mm=millimetres(read.value),
                taken_with=read.taken_with,
            )
            for read in found.readings
        ],
        verdict=found.verdict,
        pump=found.pump or UNSET,
        plates=list(found.plates) if found.pump else UNSET,
    )


def open_questions(found: tuple[fit.OpenQuestion, ...], units: Units) -> list[wire.OpenQuestion]:
    """Fields left out that would change the options."""
    return [
        wire.OpenQuestion(
            asks=question.asks,
            changes=[
                wire.Change(
                    value=change.value or UNSET,
                    less_than_mm=UNSET if change.less_than is None else millimetres(change.less_than),
                    falls_away=list(change.falls_away),
                    measure_first=list(change.measure_first) or UNSET,
                    first=UNSET if change.first is None else change.first,
                )
                for change in question.changes
            ],
            untried=question.untried,
            text=wording.open_question_text(question, units),
        )
        for question in found
    ]


def expected_first(found: tuple[fit.Expected, ...], units: Units, currency: str) -> list[wire.Expected]:
    """Parts that one would have expected in the first option."""
    return [
        wire.Expected(
            part=one.part,
            why=one.why,
            where=one.where,
            kind=one.kind,
            rank=UNSET if one.rank is None else one.rank,
            above=above_next(one.above, currency),
            code=UNSET if one.ruled_out is None else one.ruled_out.check.code,
            reason=one.reason or UNSET,
            text=wording.expected_text(one, units, currency),
        )
        for one in found
    ]


def above_next(above: fit.AboveNext | None, currency: str, text: str | UnsetType = UNSET) -> wire.AboveNext | UnsetType:
    """The key on which one option stands above another, with both values and their difference."""
    if above is None:
        return UNSET
    return wire.AboveNext(key=above.key, text=text, **_values(above, currency))


def _values(above: fit.AboveNext, currency: str) -> dict[str, Any]:
    this, next_ = above.this, above.next
    if above.key in ("margin", "length"):
        lengths = _numbers(_mm(this), _mm(next_), "_mm")
        if above.key == "length":
            return lengths
        return lengths | _numbers(_share(above.this_spare), _share(above.next_spare)) | _checks(above)
    if above.key == "price":
        return _numbers(_amount(this, currency), _amount(next_, currency))
    if above.key == "parts":
        return _numbers(float(this), float(next_))
    return {"this": this, "next": next_}


def _mm(length: fit.Length | None) -> float | None:
    return None if length is None else millimetres(length)


def _amount(minor: int | None, currency: str) -> float | None:
    return None if minor is None else float(amount_text(minor, currency))


def _share(spare: fit.Spare | None) -> float | None:
    """Margin over its limit, as options are ranked by it."""
    return None if spare is None else round(float(spare.share), 3)


def _checks(above: fit.AboveNext) -> dict[str, str]:
    """The checks whose margins these are."""
    spares = {"this_check": above.this_spare, "next_check": above.next_spare}
    return {name: spare.code for name, spare in spares.items() if spare is not None}


def _numbers(this: float | None, next_: float | None, suffix: str = "") -> dict[str, Any]:
    both = {f"this{suffix}": this, f"next{suffix}": next_}
    if this is not None and next_ is not None:
        both[f"difference{suffix}"] = round(next_ - this, 3)
    return {name: value for name, value in both.items() if value is not None}
