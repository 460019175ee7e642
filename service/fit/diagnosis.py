"""Why nothing fits: every minimal conflict of a build's requirements, with what stands in the way from each side."""

from collections.abc import Iterator
from typing import Final

import msgspec

from catalog.domain import Part
from service.fit.answer import Check, Conflict, Obstacle, Window
from service.fit.assess import assess
from service.fit.axis import common_window
from service.fit.mounting import Mounting, mountings
from service.fit.options import Assessed
from service.fit.paths import Seat
from service.fit.question import Question
from service.fit.requirements import keeping_of
from service.fit.search import Search
from service.fit.tries import Tries

MOST_CONFLICTS: Final = 10
"""Conflicts told of one build, and corrections looked for."""
_LOOKED_AT: Final = 6
"""Nearest tries looked at for an obstacle."""
_NAMES_THE_PUMP: Final = ("pump", "pulley", "pump_drive")
"""Requirements that say which pump it is: what stands in its way is told of the others."""
_FIRST_BY: Final = {"must.price_at_most": "price", "must.work_at_most": "work"}
"""Limits on what an option comes to: who comes nearest is first by this key of the ranking."""
_AXIAL: Final = {
    "accessory_drive": ("belt_plane", "carried_parts"),
    "front_cover": ("cover",),
    "core_distance": ("radiator_gap",),
    "fan": ("radiator_gap",),
}
"""The checks along the axis that a requirement asks for."""


def conflict(tries: Tries, requirements: tuple[str, ...]) -> Conflict:
    """A minimal conflict, told from each of its sides."""
    whole = tries.keeping(frozenset(requirements))
    sides = [one for one in requirements if one not in _NAMES_THE_PUMP] or [""]
    sides.sort(key=lambda one: one not in _FIRST_BY)  # a limit is told from its own side
    found: list[Obstacle] = []
    for one in sides:
        obstacle = _obstacle(tries, whole, requirements, one)
        if obstacle is None or obstacle.check in [known.check for known in found]:
            continue
        if one in _FIRST_BY or obstacle.check.code not in _FIRST_BY.values() or not found:
            found.append(obstacle)
    return Conflict(requirements, tuple(found))


def _obstacle(tries: Tries, whole: Search, requirements: tuple[str, ...], one: str) -> Obstacle | None:
    """What meets all the others and fails this one, and by which check."""
    if not one:
        return _nearest_miss(whole, one)
    others = keeping_of(tries.question, [field for field in requirements if field != one])
    if one in _FIRST_BY:
        keys = tuple(dict.fromkeys((_FIRST_BY[one], *others.rank_keys)))
        others = msgspec.structs.replace(others, rank_keys=keys)
    rest = tries.search(others)
    if one == "must.without":
        return _unwanted(tries.question, rest)
    # In order of a limit, the first that holds is the nearest to it.
    seats = rest.in_order() if one in _FIRST_BY else _nearest_first(whole, rest)
    found = [_told(one, option, mounting) for option, mounting in _that_fail(whole, rest, seats)]
    return min(found, key=lambda pair: pair[0])[1] if found else _nearest_miss(whole, one)


def _nearest_miss(whole: Search, one: str) -> Obstacle | None:
    """The nearest of the pumps that are ruled out."""
    missed = whole.missed().nearest(1)
    if not missed:
        return None
    first = missed[0]
    return Obstacle(one, first.pump, first.name, first.plates, first.check, first.thickness_window)


def _unwanted(question: Question, rest: Search) -> Obstacle | None:
    """The first option that takes what the build asks to do without, and what of it that is."""
    rest.rank(1, 1)
    if not rest.listed:
        return None
    option = rest.listed[0]
    parts = [line.name for line in option.lines if line.part in question.without]
    check = Check("without", "fails", "takes_unwanted", {"parts": parts})
    chosen = option.mounting.chosen
    return Obstacle("must.without", chosen.number, chosen.name, option.plates, check, None)


def _nearest_first(whole: Search, rest: Search) -> Iterator[tuple[Mounting, Seat]]:
    """What may hold, that which misses least along the axis of the whole first."""
    pumps: dict[str, list[Mounting]] = {}
    nearest: list[tuple[tuple[bool, int, int], Mounting, Seat]] = []
    for mounting, seat in rest.feasible():
        if mounting.pump.number not in pumps:
            pumps[mounting.pump.number] = list(mountings(whole.settlement, mounting.pump))
        seen = [(each.hopeless, each.shortfall(seat.flange)) for each in _same(pumps[mounting.pump.number], mounting)]
        if seen:
            nearest.append(((*min(seen), len(nearest)), mounting, seat))
    for _, mounting, seat in sorted(nearest, key=lambda entry: entry[0]):
        yield mounting, seat


def _same(choices: list[Mounting], mounting: Mounting) -> list[Mounting]:
    """The mounting as a question that asks more sees it: once for each pulley where that is still open."""
    # By number: of a part that the asker described or read each question has a copy of its own, and a kept front holds
    # that of the question that it was made for.
    return [
        each
        for each in choices
        if _number(each.remote) == _number(mounting.remote)
        and (mounting.pulley is None or _number(each.pulley) == mounting.pulley.number)
    ]


def _number(part: Part | None) -> str | None:
    return None if part is None else part.number


def _that_fail(
    whole: Search, rest: Search, seats: Iterator[tuple[Mounting, Seat]]
) -> Iterator[tuple[Assessed, Mounting]]:
    """The first few options of the rest, each as the whole sees it."""
    looked_at = 0
    for mounting, seat in seats:
        if assess(rest.settlement, mounting, seat).verdict == "fails":
            continue
        same = _same(list(mountings(whole.settlement, mounting.pump)), mounting)
        if same:
            choice = min(same, key=lambda each: (each.hopeless, each.shortfall(seat.flange)))
            yield assess(whole.settlement, choice, seat), choice
            looked_at += 1
        if looked_at == _LOOKED_AT:
            return


def _told(one: str, option: Assessed, mounting: Mounting) -> tuple[tuple[object, ...], Obstacle | None]:
    """An obstacle by how near it comes: few failing checks, then by how little the first one misses."""
    failing = [check for check in option.checks if check.verdict == "fails"]
    if not failing:
        return (True, 0, 0), None
    check, chosen = failing[0], mounting.chosen
    order = (False, len(failing), check.margin is None, 0 if check.margin is None else -check.margin)
    window = _needed(one, mounting, option.seat)
    return order, Obstacle(one, chosen.number, chosen.name, option.plates, check, window)


def _needed(one: str, mounting: Mounting, seat: Seat) -> Window | None:
    """The total thickness that this requirement by itself needs with this pump."""
    codes = _AXIAL.get(one, ())
    fixed = [window for test in mounting.axial if test.code in codes and (window := test.window()) is not None]
    belts = [window for test in mounting.belt if test.code in codes and (window := test.window()) is not None]
    if not fixed and not belts:
        return None
    middle = seat.flange.middle
    each = [[*fixed, belt] for belt in belts] or [fixed]
    found = [window for windows in each if (window := common_window(windows)) is not None]
    return min(found, key=lambda window: (abs(window.from_ - middle), window.from_), default=None)
