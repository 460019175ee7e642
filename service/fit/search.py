"""The search of one question: every pump on every face path, the options found on them, and what is ruled out."""

from collections.abc import Iterable, Iterator
from functools import cached_property
from heapq import heappop, heappush
from typing import Final, NamedTuple

import msgspec

from catalog.domain import Port
from service.fit.alternatives import with_alternatives, within_price
from service.fit.answer import Option
from service.fit.assess import assess
from service.fit.axis import relative_margin
from service.fit.cautions import cautions, notes
from service.fit.front import Integers, front_of
from service.fit.graph import ConstraintGraph
from service.fit.kept import Derived
from service.fit.missed import Missed
from service.fit.mounting import Mounting, with_circuits
from service.fit.options import Assessed, offers, open_ports, stack
from service.fit.paths import Seat
from service.fit.question import Question
from service.fit.quick import Quick
from service.fit.ranking import above_next, standing
from service.fit.standing import Key, Standing
from service.fit.standings import Standings
from service.fit.whole import Settlement

MOST_SEATS: Final = 1_000_000
"""Pumps on face paths looked at for one question; a question that needs more is not decided."""


class Placed(NamedTuple):
    """A mounting on a seat."""

    mounting: Mounting
    seat: Seat


class Search:
    """All face paths of a question, and the options found on them."""

    def __init__(self, graph: ConstraintGraph, question: Question, settlement: Settlement) -> None:
        self.graph, self.question, self.settlement = graph, question, settlement
        self.front = front_of(graph, question)
        self.listed: list[Assessed] = []
        """Options in rank order: of each pump and set of plates the best order and pulley, so many a pump at most."""
        self._taken: dict[str, list[tuple[str, tuple[str, ...]]]] = {}
        """By pump what is listed: what sits on the block for it, and the plates whatever their order."""
        self.fitting: set[str] = set()
        """Pumps with an option, listed or not."""
        self.decided = self.front.pairs.looked_at <= MOST_SEATS
        """Whether the front has no more seats than are looked at for one question."""
        self.pumps = self.front.pumps
        self._quick = Quick(settlement)
        self._mountings: dict[int, Mounting] = {} if settlement.shared_by is None else self.front.with_circuits

    def seats(self, mounts: list[Port]) -> Iterator[Seat]:
        """Every path that one of these mounts can meet, with a pump on its end."""
        for mount in mounts:
            yield from self.front.table.of(mount).all

    def feasible(self) -> Iterator[Placed]:
        """What the axis does not rule out, nor the work and the price allowed, in order of pump and seat."""
        return map(self.placed, sorted(self.waiting))

    def in_order(self) -> Iterator[Placed]:
        """The same in the order in which they could stand."""
        return map(self.placed, self.waiting)

    @cached_property
    def _standings(self) -> Standings:
        return Standings(self.settlement, self.front, self._mounting)

    @property
    def waiting(self) -> list[int]:
        """Pairs of the front in the order in which they could stand; none beyond the step limit."""
        order: list[int] = self._standings.order.tolist() if self.decided else []
        return order

    @property
    def in_turn(self) -> Iterable[int]:
        """The same, sorted no further than they are looked at."""
        return self._standings.in_turn() if self.decided else ()

    @property
    def order(self) -> Integers:
        """For each pair of the front a number that orders it as `in_turn` does, where the front alone decides."""
        return self._standings.of_all.key

    def bound(self, pair: int) -> Key:
        """Where a pair could stand at best, as a key of the ranking."""
        return self._standings.bound(pair)

    def at_best(self, pair: int) -> Standing:
        """The same as it stands."""
        return self._standings.at_best(pair)

    def placed(self, pair: int) -> Placed:
        """The mounting and the seat of a pair of the front."""
        pairs = self.front.pairs
        return Placed(self._mounting(int(pairs.mounting[pair])), self.front.seats[int(pairs.seat[pair])])

    def _mounting(self, place: int) -> Mounting:
        """The mounting at this place of the front, with what the circuits ask of it."""
        if place not in self._mountings:
            self._mountings[place] = with_circuits(self.settlement, self.front.mountings[place])
        return self._mountings[place]

    def run(self, limit: int, per_pump: int) -> None:
        """List so many options, then look, for each pump without an option, whether it has any."""
        looked_at = self.rank(limit, per_pump)
        if self.is_bare and self.front.fitting is not None:
            self.fitting |= self.front.fitting
            return
        numbers = [mounting.chosen.number for mounting in self.front.mountings]
        of_pair = self.front.pairs.mounting.tolist()
        # Limits let no pump fit that does not fit without them.
        may_fit = self.front.fitting if self.settlement.shared_by is not None else None
        for pair in self.waiting[looked_at:]:
            number = numbers[of_pair[pair]]
            if may_fit is not None and number not in may_fit:
                continue
            if number not in self.fitting and self._holds(self.placed(pair)):
                self.fitting.add(number)
        if self.is_bare and self.decided:
            self.front.fitting = frozenset(self.fitting)

    @cached_property
    def is_bare(self) -> bool:
        """Whether all that is asked is in the front: which pumps fit, and which are missed, then follows from it."""
        return self.settlement.shared_by is not None and not self.settlement.limits

    def rank(self, limit: int, per_pump: int) -> int:
        """Take pairs in the order in which they could stand, until enough options stand for certain.

        Gives how many were looked at.
        """
        rank_keys, looked_at = self.question.rank_keys, 0
        certain: list[tuple[Key, int, Assessed]] = []
        for pair in self.in_turn:
            placed = self.placed(pair)
            if not self._full(placed, per_pump):
                if certain and self._list_certain(certain, self.bound(pair), limit, per_pump):
                    return looked_at
                if not self._full(placed, per_pump):
                    option = assess(self.settlement, *placed)
                    if option.verdict != "fails":
                        self.fitting.add(placed.mounting.chosen.number)
                        heappush(certain, (standing(option).key(rank_keys), looked_at, option))
            looked_at += 1
        self._list_certain(certain, None, limit, per_pump)
        return looked_at

    def _list_certain(
        self, certain: list[tuple[Key, int, Assessed]], bound: Key | None, limit: int, per_pump: int
    ) -> bool:
        """List those that stand before all that is still to come; whether that are enough.

        `bound` is where the best of what comes could stand, None where nothing does.
        """
        while certain and (bound is None or certain[0][0] <= bound) and len(self.listed) < limit:
            self._list(heappop(certain)[2], per_pump)
        return len(self.listed) == limit

    def has_option(self) -> bool | None:
        """Whether there is any; None where that is not decided."""
        if any(self._holds(placed) for placed in self.in_order()):
            return True
        return False if self.decided and self.settlement.decided else None

    def _holds(self, placed: Placed) -> bool:
        """Whether an option stands there."""
        quickly = self._quick.holds(*placed)
        return assess(self.settlement, *placed).verdict != "fails" if quickly is None else quickly

    def _full(self, place: Placed, per_pump: int) -> bool:
        """Whether this pump is listed often enough, or with these very plates."""
        taken = self._taken.get(place.mounting.chosen.number)
        return taken is not None and (len(taken) >= per_pump or (place.mounting.pump.number, place.seat.key) in taken)

    def _list(self, option: Assessed, per_pump: int) -> None:
        mounting, seat = option.mounting, option.seat
        if not self._full(Placed(mounting, seat), per_pump):
            self.listed.append(option)
            self._taken.setdefault(mounting.chosen.number, []).append((mounting.pump.number, seat.key))

    def missed(self) -> Missed:
        """Pumps without an option."""
        return Missed(self.settlement, self.front, self.fitting, self._mounting, shared=self.is_bare)


def told(settlement: Settlement, option: Assessed, following: Assessed | None, rank: int) -> Option:
    """An option as it is answered, with all that goes with it."""
    above = above_next(option, following, settlement.question.rank_keys)
    if option.derived is None:
        return msgspec.structs.replace(_told(settlement, option), rank=rank, above_next=above)
    free = settlement.lenient() or settlement
    derived = option.derived.get("told", lambda option: Derived(_told(free, option)))
    known = derived.of
    found = msgspec.structs.replace(known, rank=rank, above_next=above, derived=derived)
    if not option.limits:
        return found
    parts_list = within_price(settlement.question, option, known.parts_list)
    return msgspec.structs.replace(found, checks=option.checks, parts_list=parts_list)


def _told(settlement: Settlement, option: Assessed) -> Option:
    """The same before it has a place among others."""
    margins = [
        (check.margin, check.code)
        for check in option.checks
        if check.margin is not None and relative_margin(check) is not None
    ]
    least, code = min(margins, key=lambda each: each[0], default=(None, None))
    return Option(
        rank=0,
        pump=option.mounting.chosen.number,
        name=option.mounting.chosen.name,
        plates=option.plates,
        work=option.work_name,  # type: ignore[arg-type]
        verdict=option.verdict,  # type: ignore[arg-type]
        recommended=option.mounting.chosen.recommended,
        buy_price=option.price,
        least_margin=least,
        least_margin_check=code,
        thickness_window=option.mounting.window(option.seat.flange),
        stack=stack(option),
        parts_list=with_alternatives(settlement, option),
        checks=option.checks,
        open_ports=open_ports(settlement.graph, option.mounting, option.trees),
        cautions=cautions(settlement.question, option),
        notes=notes(option),
        offers=offers(settlement.graph, settlement.question, option),
        above_next=None,
    )
