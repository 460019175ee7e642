"""Which readings would settle a check that hangs on the doubt, taken with what, from which face to which.

The model is the one that `stack.likelihood` uses: what a measure truly is lies normally about the middle of its
limits, and three standard deviations of the sum are its modified root-sum-square tolerance. A reading adds its own
error, three standard deviations of which are the tool's usual doubt. Only told, never decided by.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from fractions import Fraction
from itertools import combinations
from math import ceil, erf, sqrt
from typing import Final

import msgspec

from catalog.domain import Measure, Part, TakenWith
from catalog.standards.belts import DEFAULT_SLOPE
from catalog.units import NM_PER_MM
from catalog.vocabulary import DEFAULT_TOLERANCE, faces, measure_word
from service.fit.answer import Check
from service.fit.options import Assessed, pieces_along
from service.fit.question import Question
from service.fit.stack import NOTHING, Sum
from service.fit.taking import Looking, Settling, Taking
from service.fit.told import Lack
from service.fit.unknown import reading_of

MOST_LEFT_OPEN: Final = 0.05
"""Readings settle a check where the chance that it is still open after them is at most this."""
CALIPER_REACH: Final = 300 * NM_PER_MM
"""What a caliper spans, nm: a usual 12 in one; beyond it a tape is read (common practice, no source)."""
MOST_READINGS: Final = 8
"""Measures of one check looked at, the widest doubt first."""
_BOTH_WAYS: Final = ("belt_plane", "crank", "carried_parts")
"""Checks whose value may miss to either side; all others hold from their limit upward."""
_ALONG: Final = ("belt_plane", "cover", "carried_parts", "radiator_gap")
"""Checks whose value moves with the pump's flange, so that what lies under it may count more than once."""


class Term(msgspec.Struct, frozen=True):
    """A measure that a check rests on: how much of it enters the sum, and whether it raises the value or lowers it.

    One that sets the limit raises or lowers nothing: more of it leaves more room.
    """

    part: Part
    measure: Measure
    times: int | Fraction
    raises: bool
    of_limit: bool = False

    @property
    def middle(self) -> Fraction:
        """The middle of its limits."""
        return Fraction(self.measure.low + self.measure.high, 2)

    @property
    def half(self) -> Fraction:
        """Plus and minus around the middle of one of them."""
        return Fraction(self.measure.high - self.measure.low, 2)

    @property
    def tool(self) -> TakenWith:
        """What reads it."""
        return "caliper" if abs(self.middle) <= CALIPER_REACH else "tape"

    @property
    def doubt_then(self) -> int:
        """Plus and minus of a reading with that."""
        return DEFAULT_TOLERANCE[self.tool]

    @property
    def gains(self) -> bool:
        """Whether a reading would narrow it. A gasket is as thick as it is only once it is compressed."""
        return self.part.kind != "gasket" and self.half > self.doubt_then


def settling(check: Check, terms: list[Term]) -> Settling:
    """The fewest readings that settle a check, the widest doubt first; where none do, those that leave least open."""
    if check.reason == "belt_lost_a_pulley":
        return Settling("belt_length")
    if check.reason == "reading_contradicts":
        return Settling("readings", tuple(map(_taking, terms)), leaves_open=0.0)
    chosen = chosen_readings(check, terms)
    if not chosen:
        return Settling("nothing_finer")
    takings = tuple(_taking(term) for term in chosen)
    return Settling("readings", takings, leaves_open=round(left_open(check, terms, chosen), 2))


def settling_of(part_of: Callable[[str], Part], lacks: Iterable[Lack]) -> Settling:
    """What to read and what to look at, where that is not known at all, in the order of what is lacking."""
    readings, look_at = list[Taking](), list[Looking]()
    for lack in lacks:
        if measure_word(lack.fact) is None:
            look_at.append(Looking(lack.part, lack.name, lack.fact))
        elif (read := reading_of(part_of(lack.part), lack.fact)) is not None:
            doubt_then, about = DEFAULT_TOLERANCE[read.taken_with], (lack.part, lack.name, lack.fact)
            readings.append(Taking(*about, read.from_, read.to, read.taken_with, None, None, doubt_then))
    return Settling("not_known", tuple(readings), tuple(look_at))


def chosen_readings(check: Check, terms: list[Term]) -> tuple[Term, ...]:
    """The terms to read."""
    if check.margin is None:
        return ()
    readable = sorted((term for term in terms if term.gains), key=_widest)[:MOST_READINGS]
    best: tuple[float, tuple[Term, ...]] = (1.0, ())
    for size in range(1, len(readable) + 1):
        for chosen in combinations(readable, size):
            chance = left_open(check, terms, chosen)
            if chance <= MOST_LEFT_OPEN:
                return chosen
            if chance < best[0]:
                best = (chance, chosen)
    return best[1]


def _widest(term: Term) -> tuple[Fraction, str, str]:
    return -term.times * term.half, term.part.number, term.measure.name


def left_open(check: Check, terms: list[Term], chosen: tuple[Term, ...]) -> float:
    """The chance that a check still hangs on the doubt once these are read."""
    doubt = float(doubt_after(terms, chosen))
    widened = summed(terms).modified_rss_factor
    variance = 0.0
    for term in chosen:
        true, error = widened * float(term.half) / 3, term.doubt_then / 3
        variance += float(term.times) ** 2 * (true**2 + error**2)
    deviation = sqrt(variance) or 1.0

    def between(low: float, high: float) -> float:
        return 0.5 * (erf(high / (deviation * sqrt(2))) - erf(low / (deviation * sqrt(2))))

    if not goes_both_ways(check):
        margin = float(check.margin or 0)
        return between(-doubt - margin, doubt - margin)
    value, limit = float(check.value or 0), float(check.limit or 0)
    if doubt >= limit:  # then no reading can say that it holds
        return between(-limit - doubt - value, limit + doubt - value)
    return between(limit - doubt - value, limit + doubt - value) + between(
        -limit - doubt - value, -limit + doubt - value
    )


def summed(terms: list[Term]) -> Sum:
    """The terms as one sum, each as often as it enters; what enters in part is one term."""
    total = NOTHING
    for term in terms:
        if term.of_limit:
            total = total.widened(ceil(term.times * term.half))
            continue
        for _ in range(int(term.times)):
            total += Sum.of(term.measure)
    return total


def doubt_after(terms: list[Term], chosen: tuple[Term, ...]) -> Fraction:
    """Plus and minus of the value, at worst case, once these are read."""
    read = {(term.part.number, term.measure.name) for term in chosen}
    total = Fraction(0)
    for term in terms:
        total += term.times * (term.doubt_then if (term.part.number, term.measure.name) in read else term.half)
    return total


def _taking(term: Term) -> Taking:
    from_, to = faces(term.part, term.measure.name)
    return Taking(
        part=term.part.number,
        name=term.part.name,
        measure=term.measure.name,
        from_=from_,
        to=to,
        taken_with=term.tool,
        expected=term.middle,
        doubt=term.half,
        doubt_then=term.doubt_then,
    )


def part_of(parts: Mapping[str, Part], question: Question) -> Callable[[str], Part]:
    """Finds a part by its number as the question has it, described or of the catalog."""
    named = {part.number: part for part in question.slots.values()}
    return lambda number: named.get(number) or question.part(parts[number])


def terms_of(parts: Mapping[str, Part], question: Question, option: Assessed, check: Check) -> list[Term]:
    """The measures in the sum of a check of an option, as the question has them."""
    of = part_of(parts, question)
    along: dict[str, int] = {}
    for piece in pieces_along(option.seat):
        along[piece.number] = along.get(piece.number, 0) + 1
    counts: dict[tuple[str, str], int] = {}
    for measured in _measures(check):
        counts[measured] = counts.get(measured, 0) + 1
    terms = []
    for (number, name), count in counts.items():
        part = of(number)
        if name == "shortest_span":
            terms.append(Term(part, part.measures[name], DEFAULT_SLOPE, raises=False, of_limit=True))
            continue
        under = name == "thickness" and check.code in _ALONG and number in along
        raises = _raises(check, part, name.partition(".")[0])
        terms.append(Term(part, part.measures[name], along[number] if under else count, raises))
    return terms


def _measures(check: Check) -> Iterator[tuple[str, str]]:
    """The measures that decide a check: a hole's depth counts only where it binds."""
    for rest in check.rests_on:
        silent = rest.measure == "hole_depth" and check.facts.get("binds") == "least"
        if rest.part and not silent:
            yield rest.part, rest.measure


def _raises(check: Check, part: Part, measure: str) -> bool:
    """Whether more of this measure makes the value of the check larger; for bolts, its margin."""
    if goes_both_ways(check):
        return part.kind == "accessory_drive" and measure == "belt_plane"
    if check.code == "cover":
        return measure != "cover_height"
    if check.reason == "room_behind_fan":
        return measure in ("fan_face", "hub_face", "thickness")
    if check.code == "bolts":
        return (measure == "length") != (check.facts.get("binds") == "depth")
    return False


def goes_both_ways(check: Check) -> bool:
    """Whether the value of a check may miss its limit to either side."""
    return check.code in _BOTH_WAYS
