"""How far what can be moved must be moved at least: today the radiator's core, which only ever stands too near."""

from collections.abc import Callable
from fractions import Fraction
from math import floor
from typing import Final

from service.fit.answer import Option

STEP: Final = 1_000
"""A move is told to the micrometre, nm, as all lengths are that come out."""
FARTHEST: Final = 10_000_000_000
"""The greatest distance that a build may state, nm."""
Best = Callable[[int], Option | None]
"""The best option with the core at so many nm; None where there is none."""


def least_move(best: Best, now: int) -> tuple[int, Option] | None:
    """The least distance beyond `now`, nm, with what it buys; None where no distance gives an option.

    Nothing that fits ceases to fit as the core moves away. The least is told at which the best option is as sure as
    any distance makes it: `ok` where one is `ok` in the end, so that nobody moves a radiator for what may not fit yet.
    One step less does not give as much.
    """
    low, high = now // STEP, FARTHEST // STEP
    found = best(high * STEP)
    if found is None:
        return None
    sure = found.verdict == "ok"
    while True:
        # Down to where this very option ceases to be so; if something else holds a step below, on from there.
        high = max(low + 1, high - _to_spare(found, sure=sure) // STEP)
        found = _as_good(best(high * STEP), sure=sure) or found
        for at in dict.fromkeys((high - 1, (low + high) // 2)):
            if at <= low:
                continue
            other = _as_good(best(at * STEP), sure=sure)
            if other is None:
                low = at
            else:
                high, found = at, other
        if high - low <= 1:
            return high * STEP, found


def _as_good(option: Option | None, *, sure: bool) -> Option | None:
    return None if option is None or (sure and option.verdict != "ok") else option


def _to_spare(option: Option, *, sure: bool) -> int:
    """How much nearer the core could stand before this option ceases to be `ok`, or to be one at all, nm."""
    spare: list[Fraction] = []
    for check in option.checks:
        if check.code == "radiator_gap" and check.zone != "behind" and None not in (check.margin, check.worst_case):
            margin, worst = Fraction(check.margin or 0), Fraction(check.worst_case or 0)
            spare.append(worst if sure else 2 * margin - worst)
    return max(0, floor(min(spare))) if spare else 0
