"""What the answer would be on either side of the check that the first option hangs on most.

The question is asked again with readings that come out as they most likely would on that side.
"""

from collections.abc import Callable, Iterable
from fractions import Fraction
from typing import Any, Final

import msgspec

from catalog.units import NM_PER_MM
from service.fit.answer import Check, EitherWay, Outcome, Read
from service.fit.build import Build, Measured, Reading
from service.fit.options import Assessed
from service.fit.question import Question
from service.fit.settle import Term, chosen_readings, doubt_after, goes_both_ways

BEYOND: Final = NM_PER_MM // 1000
"""How far inside or outside its limit a check is put, so that it is settled: 0.001 mm."""
FirstOf = Callable[[Build], Assessed | None]
"""The first option of a build; None where it has none."""


def either_way(question: Question, check: Check, terms: list[Term], first_of: FirstOf) -> EitherWay | None:
    """Both sides of a check that must be measured first; None where no reading can tell them apart."""
    chosen = chosen_readings(check, terms)
    targets = _targets(check, doubt_after(terms, chosen), _of_value(chosen))
    if not chosen or targets is None or check.likelihood is None:
        return None
    chances = (check.likelihood, round(1 - check.likelihood, 2))
    sides = []
    for target, chance in zip(targets, chances, strict=True):
        readings = _readings(chosen, target)
        option = first_of(with_readings(question, readings))
        sides.append(_outcome(chance, readings, option))
    return EitherWay(check.code, check.zone, *sides)


def hangs_on(option: Assessed) -> Check | None:
    """The check with numbers that is least likely to hold; None where none must be measured first."""
    unsure = [check for check in option.checks if check.verdict == "measure_first" and check.likelihood is not None]
    return min(unsure, key=lambda check: check.likelihood or 0, default=None)


class _Move(msgspec.Struct, frozen=True):
    """How far a value moves, and how far its limit."""

    value: Fraction
    limit: Fraction = Fraction(0)


def _doubt(terms: Iterable[Term]) -> Fraction:
    return sum((term.times * term.half for term in terms), Fraction(0))


def _of_value(chosen: tuple[Term, ...]) -> Fraction:
    """The share of what moves that the value moves, each term by its part in the doubt; the limit moves the rest."""
    of_value = _doubt(term for term in chosen if not term.of_limit)
    return of_value / (_doubt(chosen) or 1)


def _targets(check: Check, doubt: Fraction, of_value: Fraction) -> tuple[_Move, _Move] | None:
    """How far the middle must move until the check holds, and until it fails, by as little as that takes."""
    if check.margin is None:
        return None
    margin = Fraction(check.margin)
    more, less = max(Fraction(0), doubt + BEYOND - margin), min(Fraction(0), -doubt - BEYOND - margin)
    if not goes_both_ways(check):
        return _Move(more), _Move(less)
    value, limit = Fraction(check.value or 0), Fraction(check.limit or 0)
    if more * of_value > abs(value) or limit + less * (1 - of_value) < 0:
        return None
    side = -1 if value < 0 else 1
    holds, fails = (_Move(-side * move * of_value, move * (1 - of_value)) for move in (more, less))
    return holds, fails


def _readings(chosen: tuple[Term, ...], move: _Move) -> tuple[Read, ...]:
    """Readings that move the value and its limit by this much, each by its part in the doubt."""
    shares = {of_limit: _doubt(term for term in chosen if term.of_limit is of_limit) for of_limit in (False, True)}

    def read(term: Term) -> int:
        shift = move.limit if term.of_limit else move.value if term.raises else -move.value
        return round(term.middle + shift * term.half / shares[term.of_limit])

    return tuple(Read(term.part.number, term.measure.name, read(term), term.tool) for term in chosen)


def with_readings(question: Question, readings: tuple[Read, ...]) -> Build:
    """The build with these readings: in `measured`, or in the description of a part that the catalog does not hold."""
    build = question.build
    read = {(reading.part, reading.measure) for reading in readings}
    kept = [one for one in build.measured if (one.part, one.measure) not in read]
    described: dict[str, Any] = {}
    for reading in readings:
        if reading.part not in question.described:
            value = reading.value / NM_PER_MM
            kept.append(Measured(reading.part, reading.measure, value, reading.taken_with))
            continue
        slot = next(slot for slot, part in question.slots.items() if part.number == reading.part)
        own = described.get(slot, getattr(build, slot))
        measures = {**own.measures, reading.measure: Reading(reading.value / NM_PER_MM, reading.taken_with)}
        described[slot] = msgspec.structs.replace(own, measures=measures)
    return msgspec.structs.replace(build, measured=kept, **described)


def _outcome(likelihood: float, readings: tuple[Read, ...], option: Assessed | None) -> Outcome:
    if option is None:
        return Outcome(likelihood, readings, "blocked", "", "", ())
    chosen = option.mounting.chosen
    verdict = "fits" if option.verdict == "ok" else "measure_first"
    return Outcome(likelihood, readings, verdict, chosen.number, chosen.name, option.plates)  # type: ignore[arg-type]
