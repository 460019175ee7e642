"""How far what can be moved must be moved at least: today the radiator's core, which only ever stands too near."""

from collections.abc import Callable
from fractions import Fraction
from math import floor
from typing import Final

from service.fit.answer import Check, Option

STEP: Final = 1_000
"""A move is told to the micrometre, nm, as all lengths are that come out."""
FARTHEST: Final = 10_000_000_000
"""The greatest distance that a build may state, nm."""
Best = Callable[[int], Option | None]
"""The best option with the core at so many nm; None where there is none."""


def least_move(best: Best, now: int) -> tuple[int, Option] | None:
    """The least distance beyond `now`, nm, with what it buys; None where no distance gives an option.

    Nothing that fits ceases to fit as the core moves away. The least is told at which the best option is as sure as
    any distance makes it: `ok` where one is `ok` in the end. Where something else is in doubt at any distance, the room
    to the core is `ok` all the same, so that nobody moves a radiator for what may not fit yet. One step less does not
    give as much.
    """
    low, high = now // STEP, FARTHEST // STEP
    found = best(high * STEP)
    if found is None:
        return None
    sure = found.verdict == "ok"
    while True:
        # Down to where this very option ceases to be so; if something else holds a step below, on from there.
        high = max(low + 1, high - _to_spare(found) // STEP)
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
    """The option where it is `ok`, or where at least its room to the core is, if that is all that a move can give."""
    if option is None or (sure and option.verdict != "ok"):
        return None
    return None if any(check.verdict == "measure_first" for check in _of_core(option)) else option


def _to_spare(option: Option) -> int:
    """How much nearer the core could stand before its room ceases to be `ok`, nm."""
    spare = [Fraction(check.worst_case or 0) for check in _of_core(option)]
    return max(0, floor(min(spare))) if spare else 0


def _of_core(option: Option) -> list[Check]:
    """The checks that the distance to the core decides; one that lacks a fact no distance makes better."""
    gaps = [check for check in option.checks if check.code == "radiator_gap" and check.zone != "behind"]
    return [check for check in gaps if None not in (check.margin, check.worst_case)]
