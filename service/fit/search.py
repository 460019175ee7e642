"""The search of one question: every pump on every face path, the options found on them, and what is ruled out."""

from collections.abc import Iterator
from heapq import heappop, heappush
from typing import Final, NamedTuple

from msgspec import UNSET

from catalog.domain import Part, Port
from catalog.vocabulary import WORK
from service.fit.alternatives import with_alternatives
from service.fit.answer import Option, RuledOut
from service.fit.assess import assess
from service.fit.axis import relative_margin
from service.fit.bill import Bill
from service.fit.graph import ConstraintGraph
from service.fit.mounting import Mounting, dry_mountings, mountings, plates_of, unreached, with_circuits
from service.fit.options import Assessed, cautions, offers, open_ports, stack
from service.fit.parts_list import extra_bill, stack_bill
from service.fit.paths import Seat
from service.fit.question import Question
from service.fit.ranking import Key, above_next, bound, standing
from service.fit.seats import SeatTable
from service.fit.whole import Settlement

MOST_SEATS: Final = 1_000_000
"""Pumps on face paths looked at for one question; a question that needs more is not decided."""


class TooManySeats(Exception):
    """A search has reached its step limit."""


class Feasible(NamedTuple):
    """A mounting on a seat that may hold, with the hardest work and the least bill of its stack."""

    mounting: Mounting
    seat: Seat
    work: int
    bill: Bill
    tested: bool
    """Whether a tested fit speaks of its plates."""


Waiting = tuple[Key, int, Mounting, Seat]
"""A seat by where it could stand at best, and by when it was found."""


class Search:
    """All face paths of a question, and the options found on them."""

    def __init__(
        self, graph: ConstraintGraph, question: Question, settlement: Settlement, table: SeatTable | None = None
    ) -> None:
        self.graph, self.question, self.settlement = graph, question, settlement
        self.table = SeatTable(graph, question) if table is None else table
        self.listed: list[Assessed] = []
        """Options in rank order: of each pump and set of plates the best order and pulley, so many a pump at most."""
        self.fitting: set[str] = set()
        """Pumps with an option, listed or not."""
        self.decided = True
        self.pumps = self._pumps()

    def _pumps(self) -> dict[str, tuple[Part, list[Port]]]:
        """What some path reaches and may sit there, with the mounts by which it is reached, in order of part number.

        Pumps; or, for a remote pump, the outlet plates that lead to one.
        """
        remote = self.question.build.pump_drive == "remote"
        kind = "outlet_plate" if remote else "water_pump"
        named = None if remote else self.question.slots.get("pump")
        found: dict[str, tuple[Part, list[Port]]] = {}
        for open_port in self.table.open_ports:
            for part, port in self.graph.meeting(open_port):
                pump = self.question.part(part)
                if part.kind != kind or port.role != "mount" or (named and named.number != part.number):
                    continue
                if self.question.allows(part) or named:
                    found.setdefault(part.number, (pump, []))[1].append(port)
        if named is not None and named.number not in found:
            found[named.number] = (named, [port for port in named.ports if port.role == "mount"])
        return dict(sorted(found.items()))

    def seats(self, mounts: list[Port]) -> Iterator[Seat]:
        """Every path that one of these mounts can meet, with a pump on its end."""
        for mount in mounts:
            yield from self.table.of(mount).all

    def feasible(self) -> Iterator[Feasible]:
        """What the axis does not rule out, nor the work and the price allowed.

        Raises
        ------
        TooManySeats
            Beyond the step limit.
        """
        limit = self.question.build.must.work_at_most
        most_work = len(WORK) - 1 if limit is UNSET else WORK.index(limit)
        looked_at = 0
        for pump, mounts in self.pumps.values():
            tested = self.graph.tested_plates(pump.number)
            for dry in dry_mountings(self.settlement, pump):
                if not tested and not self._is_reached(dry, mounts):
                    continue
                mounting = with_circuits(self.settlement, dry)
                extra_work, extra = extra_bill(self.settlement, mounting)
                for found in self._reached(mounting, mounts, everywhere=bool(tested)):
                    looked_at += 1
                    if looked_at > MOST_SEATS:
                        raise TooManySeats
                    settled = bool(tested) and plates_of(mounting, found) in tested
                    if not settled and (mounting.hopeless or not mounting.possible(found.flange)):
                        continue
                    work, bill = stack_bill(self.question, mounting, found)
                    work, bill = (
                        max(work, extra_work),
                        bill.plus(extra).plus(self.settlement.bolts.least(found, mounting.pump)),
                    )
                    if work <= most_work and not self.settlement.too_dear(mounting.pump, mounting.remote, bill):
                        yield Feasible(mounting, found, work, bill, settled)

    def _is_reached(self, mounting: Mounting, mounts: list[Port]) -> bool:
        """Whether any seat may put the pump where its axial tests may hold."""
        return next(self._reached(mounting, mounts, everywhere=False), None) is not None

    def _reached(self, mounting: Mounting, mounts: list[Port], *, everywhere: bool) -> Iterator[Seat]:
        """The seats that put the pump where its axial tests may hold; every seat where a tested fit may settle them."""
        if everywhere:
            yield from self.seats(mounts)
        elif not mounting.hopeless:
            for mount in mounts:
                yield from self.table.of(mount).meeting(mounting.reach)

    def run(self, limit: int, per_pump: int) -> None:
        """List so many options, then look, for each pump without an option, whether it has any."""
        for _, _, mounting, found in self.rank(limit, per_pump):
            if mounting.chosen.number not in self.fitting:
                option = assess(self.settlement, mounting, found)
                if option.verdict != "fails":
                    self.fitting.add(mounting.chosen.number)

    def rank(self, limit: int, per_pump: int) -> list[Waiting]:
        """Take seats in the order in which they could stand, until enough options stand for certain.

        Gives the seats that were not looked at.
        """
        waiting = self.waiting()
        if waiting is None:
            self.decided = False
            return []
        certain: list[tuple[Key, int, Assessed]] = []
        place = 0
        while len(self.listed) < limit and (place < len(waiting) or certain):
            if certain and (place == len(waiting) or certain[0][0] <= waiting[place][0]):
                self._list(heappop(certain)[2], per_pump)
                continue
            _, _, mounting, found = waiting[place]
            place += 1
            if self._full(mounting, found, per_pump):
                continue
            option = assess(self.settlement, mounting, found)
            if option.verdict != "fails":
                self.fitting.add(mounting.chosen.number)
                heappush(certain, (standing(option).key(self.question.rank_keys), place, option))
        return waiting[place:]

    def first(self) -> tuple[bool, Assessed | None]:
        """Whether it is decided that there is an option or none, and one where there is: not always the best."""
        try:
            for each in self.feasible():
                option = assess(self.settlement, each.mounting, each.seat)
                if option.verdict != "fails":
                    return True, option
        except TooManySeats:
            return False, None
        return self.settlement.decided, None

    def waiting(self) -> list[Waiting] | None:
        """Every feasible seat by where it could stand at best; None beyond the step limit."""
        found: list[Waiting] = []
        try:
            for each in self.feasible():
                stands = bound(self.settlement, each.mounting, each.seat, (each.work, each.bill), tested=each.tested)
                found.append((stands.key(self.question.rank_keys), len(found), each.mounting, each.seat))
        except TooManySeats:
            return None
        return sorted(found, key=lambda entry: entry[:2])

    def _full(self, mounting: Mounting, place: Seat, per_pump: int) -> bool:
        """Whether this pump is listed often enough, or with these very plates."""
        listed = [o for o in self.listed if o.mounting.chosen.number == mounting.chosen.number]
        known = any((o.mounting.pump.number, o.seat.key) == (mounting.pump.number, place.key) for o in listed)
        return len(listed) >= per_pump or known

    def _list(self, option: Assessed, per_pump: int) -> None:
        if not self._full(option.mounting, option.seat, per_pump):
            self.listed.append(option)

    def ruled_out(self) -> list[RuledOut]:
        """Pumps without an option, the nearest miss first; of several ways to each, its nearest."""
        missed: dict[str, tuple[tuple[object, ...], RuledOut]] = {}
        for pump, mounts in self.pumps.values():
            for order, miss in self._misses(pump, mounts):
                if miss.pump not in self.fitting and (miss.pump not in missed or order < missed[miss.pump][0]):
                    missed[miss.pump] = (order, miss)
        return [miss for _, miss in sorted(missed.values(), key=lambda pair: pair[0])]

    def _misses(self, pump: Part, mounts: list[Port]) -> Iterator[tuple[tuple[object, ...], RuledOut]]:
        by_number: dict[str, list[Mounting]] = {}
        for mounting in mountings(self.settlement, pump):
            by_number.setdefault(mounting.chosen.number, []).append(mounting)
        for number, choices in by_number.items():
            if number not in self.fitting:
                yield self._miss(choices, mounts)

    def _miss(self, choices: list[Mounting], mounts: list[Port]) -> tuple[tuple[object, ...], RuledOut]:
        found = min(
            ((mounting, place) for place in self.seats(mounts) for mounting in choices),
            key=lambda pair: (pair[0].shortfall(pair[1].flange), len(pair[1].plates), pair[1].order),
            default=None,
        )
        pump = choices[0].chosen
        if found is None:
            check = unreached(self.question, pump)
            return (True, True, 0, 0, pump.number), RuledOut(
                pump.number, pump.name, (), check, None, None, measuring=False
            )
        mounting, place = found
        option = assess(self.settlement, mounting, place)
        failing = [check for check in option.checks if check.verdict == "fails"]
        first = failing[0]
        short = -first.margin if first.margin is not None and first.margin < 0 else None
        structural = any(check.code not in ("price", "work") for check in failing)
        order = (
            structural,  # what only the asker's own limits stop is nearest of all
            structural and any(check.margin is None for check in failing),
            len(failing),
            short or 0,
            pump.number,
        )
        window = mounting.window(place.flange)
        own = {*self.question.read, *self.question.described}
        measuring = short is not None and any(rest.part in own for rest in first.rests_on)
        return order, RuledOut(pump.number, pump.name, option.plates, first, short, window, measuring)


def told(settlement: Settlement, option: Assessed, following: Assessed | None, rank: int) -> Option:
    """An option as it is answered, with all that goes with it."""
    margins = [
        check.margin for check in option.checks if check.margin is not None and relative_margin(check) is not None
    ]
    return Option(
        rank=rank,
        pump=option.mounting.chosen.number,
        plates=option.plates,
        work=option.work_name,  # type: ignore[arg-type]
        verdict=option.verdict,  # type: ignore[arg-type]
        recommended=option.mounting.chosen.recommended,
        buy_price=option.price,
        least_margin=min(margins) if margins else None,
        thickness_window=option.mounting.window(option.seat.flange),
        stack=stack(option),
        parts_list=with_alternatives(settlement, option),
        checks=option.checks,
        open_ports=open_ports(option),
        cautions=cautions(option),
        offers=offers(settlement.graph, settlement.question, option),
        above_next=above_next(option, following, settlement.question.rank_keys),
    )
