"""Pumps without an option: for each its nearest miss, found in order of how near they come."""

from collections.abc import Callable, Iterable, Iterator, Set
from functools import cached_property
from heapq import heapify, heappop, heappush
from typing import Any, NamedTuple

import msgspec

from service.fit.answer import Check, RuledOut
from service.fit.assess import assess
from service.fit.assessor import PLACE
from service.fit.front import Front, Nearest
from service.fit.kept import Derived
from service.fit.mounting import Mounting, unreached
from service.fit.quick import Quick
from service.fit.whole import Settlement

Order = tuple[Any, ...]


class _Case(NamedTuple):
    """The mounting of a pump that comes nearest, and where; nowhere where no path leads to it."""

    number: str
    place: int
    nearest: Nearest | None
    at_best: Order
    """An order that is never after the one in which it stands."""


class Missed:
    """The pumps that are ruled out; what is told of each is worked out when it is asked for."""

    def __init__(
        self,
        settlement: Settlement,
        front: Front,
        fitting: Set[str],
        mounting: Callable[[int], Mounting],
        *,
        shared: bool,
    ) -> None:
        """`shared`: whether what is told follows from the front alone."""
        self._settlement, self._question, self._front, self._mounting = settlement, settlement.question, front, mounting
        self._quick = Quick(settlement)
        self._fitting = fitting
        self._known = front.missed if shared else {}
        self._shared = shared
        self._lasting = shared
        """Whether all that was told so far follows from the front alone."""
        self._found: dict[str, tuple[Order, RuledOut]] = {}

    @cached_property
    def _cases(self) -> dict[str, list[_Case]]:
        """By number of each pump of the front, ruled out or not."""
        return self._front.remembered("cases", lambda: _by_pump(_cases(self._front)))

    @cached_property
    def numbers(self) -> frozenset[str]:
        """Their part numbers."""
        return frozenset(self._cases.keys() - self._fitting)

    def of(self, number: str) -> RuledOut | None:
        """What rules this pump out; None where it is not among them."""
        return self._exact(number)[1] if number in self.numbers else None

    def told(self, most: int) -> tuple[list[RuledOut], int]:
        """So many of them, the nearest miss first, and how many there are."""
        known = self._front.told_missed.get(most) if self._shared else None
        if known is None:
            known = self.nearest(most), len(self.numbers)
            if self._lasting:
                self._front.told_missed[most] = known
        return known

    def nearest(self, most: int) -> list[RuledOut]:
        """So many of them, the nearest miss first; of several ways to a pump its nearest.

        A pump is looked at when its turn comes: what is known of it beforehand says that it comes no sooner.
        """
        waiting: list[tuple[Order, bool, str]] = [
            (min(case.at_best for case in self._cases[number]), False, number) for number in self.numbers
        ]
        heapify(waiting)
        found: list[RuledOut] = []
        while waiting and len(found) < most:
            _, exact, number = heappop(waiting)
            if exact:
                found.append(self._exact(number)[1])
            else:
                heappush(waiting, (self._exact(number)[0], True, number))
        return found

    def _exact(self, number: str) -> tuple[Order, RuledOut]:
        if number not in self._found:
            self._found[number] = min((self._told(case) for case in self._cases[number]), key=lambda pair: pair[0])
        return self._found[number]

    def _told(self, case: _Case) -> tuple[Order, RuledOut]:
        if case.place in self._known:
            return self._known[case.place]
        mounting = self._mounting(case.place)
        pump = mounting.chosen
        if case.nearest is None:
            check = unreached(self._question, pump)
            return case.at_best, RuledOut(pump.number, pump.name, (), check, None, None, measuring=False)
        seat = case.nearest.seat
        failing = self._quick.failing(mounting, seat)
        # Of equally bad options the ranking decides which is told, and it is the question's own.
        lasting = self._shared and failing is not None
        self._lasting &= lasting
        if failing is None:
            option = assess(self._settlement, mounting, seat)
            failing = [check for check in option.checks if check.verdict == "fails"]
        failing.sort(key=lambda check: (not _no_plate_mends(check), PLACE[check.code], check.zone))
        plates = seat.order if mounting.remote is None else (*seat.order, mounting.pump.number)
        order, short = _order(failing, pump.number)
        own = {*self._question.overlay, *self._question.described}
        measuring = short is not None and any(rest.part in own for rest in failing[0].rests_on)
        window = None if _no_plate_mends(failing[0]) else mounting.window(seat.flange)
        found = RuledOut(pump.number, pump.name, plates, failing[0], short, window, measuring)
        if lasting:
            found = msgspec.structs.replace(found, derived=Derived(found))
            self._known[case.place] = order, found
        return order, found


def _no_plate_mends(check: Check) -> bool:
    """Whether a rule keeps the parts apart, whatever lies under the pump: nothing nearer is worth telling."""
    return check.code == "rule" and check.reason in ("excludes", "requires")


def _order(failing: list[Check], number: str) -> tuple[Order, Any]:
    first = failing[0]
    short = -first.margin if first.margin is not None and first.margin < 0 else None
    structural = any(check.code not in ("price", "work") for check in failing)
    return (
        structural,  # what only the asker's own limits stop is nearest of all
        structural and any(check.margin is None for check in failing),
        len(failing),
        short or 0,
        number,
    ), short


def _by_pump(cases: Iterable[_Case]) -> dict[str, list[_Case]]:
    found: dict[str, list[_Case]] = {}
    for case in cases:
        found.setdefault(case.number, []).append(case)
    return found


def _cases(front: Front) -> Iterator[_Case]:
    """Of each pump of a front what sits on the block for it, by the mounting that comes nearest."""
    for places in front.mountings_of.values():
        by_number: dict[str, list[int]] = {}
        for place in places:
            by_number.setdefault(front.mountings[place].chosen.number, []).append(place)
        for number, own in by_number.items():
            known = [(found.order, place, found) for place in own if (found := front.nearest(place)) is not None]
            _, place, nearest = min(known, key=lambda each: each[:2]) if known else (None, own[0], None)
            yield _Case(number, place, nearest, _at_best(number, front.mountings[place], nearest))


def _at_best(number: str, mounting: Mounting, nearest: Nearest | None) -> Order:
    """An order that is never after the one in which such a case stands, whatever else is asked."""
    if nearest is None:
        return (True, True, 0, 0, number)
    if nearest.tested or (not nearest.failing and not mounting.hopeless):
        return (False, False, 0, 0, number)
    static = [check for check in mounting.static if check.verdict == "fails"]
    axial = [(PLACE[code], zone, margin) for code, zone, margin in nearest.failing]
    first = min(
        [*((PLACE[check.code], check.zone, check.margin) for check in static), *axial], key=lambda each: each[:2]
    )
    short = 0 if first[2] is None or first[2] >= 0 else -first[2]
    unmeasured = any(check.margin is None for check in static)
    return (True, unmeasured, len(static) + len(axial), short, number)
