"""Where every pair of a front could stand at best under one question, and the pairs in that order."""

from collections.abc import Callable, Iterator
from functools import cached_property
from itertools import pairwise

import numpy as np
from msgspec import UNSET

from catalog.domain import Part
from catalog.vocabulary import WORK
from service.fit.bill import NO_BILL, Bill
from service.fit.front import Front, Integers
from service.fit.margins import Margins, margins_of
from service.fit.mounting import Mounting
from service.fit.order import Column, Order
from service.fit.parts_list import extra_bill
from service.fit.paths import Seat
from service.fit.ranking import bound
from service.fit.seats import Flags, within
from service.fit.standing import AT_BEST, Key, Standing
from service.fit.tally import bill_of, work_of, work_of_open
from service.fit.whole import Settlement


class Standings:
    """The pairs that the axis, the circuits and the asker's limits leave, the best that it could be first."""

    def __init__(self, settlement: Settlement, front: Front, with_circuits: Callable[[int], Mounting]) -> None:
        self._settlement, self._question, self._front = settlement, settlement.question, front
        self._with_circuits = with_circuits
        if settlement.shared_by is None:
            self._bills, self._work = self._least_bills(), self._least_work()
        else:
            self._bills = front.remembered("bills", self._least_bills)
            self._work = front.remembered("work", self._least_work)

    def bound(self, pair: int) -> Key:
        """Where a pair could stand at best, as a key of the ranking."""
        return self.at_best(pair).key(self._question.rank_keys)

    def at_best(self, pair: int) -> Standing:
        """Where a pair could stand at best."""
        if self._settlement.shared_by is None:
            return self._bound(pair)
        known = self._front.bounds.get((pair, self._by_margin))
        if known is None:
            known = self._front.bounds[pair, self._by_margin] = self._bound(pair)
        return known

    def _bound(self, pair: int) -> Standing:
        pairs = self._front.pairs
        mounting = self._with_circuits(int(pairs.mounting[pair]))
        bill = Bill(*self._bills[pair].tolist())
        placed = mounting, self._front.seats[int(pairs.seat[pair])]
        margin = self._margins.of(pair) if self._by_margin else AT_BEST
        sure = bool(pairs.sure[pair] or pairs.tested[pair])
        return bound(self._settlement, placed, (int(self._work[pair]), bill), margin, sure=sure)

    @cached_property
    def order(self) -> Integers:
        """Places of the pairs."""
        if self._settlement.shared_by is None:
            left = np.flatnonzero(self._left())
            return left[Order([Column.of(column.numbers[left]) for column in self._columns()]).all]
        order = self.of_all.all
        return order[self._left()[order]] if self._settlement.limits else order

    @property
    def of_all(self) -> Order:
        """The order of all pairs, whatever limits rule out, where the front alone decides them."""
        keys = self._question.rank_keys
        return self._front.kept.get(("order", keys), lambda: Order(list(self._columns())))

    def in_turn(self) -> Order | list[int]:
        """Places of the pairs, to be looked at one after the other."""
        if self._settlement.shared_by is not None and not self._settlement.limits:
            return self.of_all
        order: list[int] = self.order.tolist()
        return order

    @cached_property
    def _by_margin(self) -> bool:
        """Whether many pairs may differ in nothing before the margin, so that it is worth reckoning for each."""
        keys = self._question.rank_keys
        return "price" not in keys[: keys.index("margin")] if "margin" in keys else False

    @cached_property
    def _margins(self) -> Margins:
        shared = self._settlement.shared_by is not None
        return margins_of(self._front, self._settlement.bolts, self._question, shared=shared)

    def _least_bills(self) -> Integers:
        """For each pair the least that its parts come to."""
        front, pairs = self._front, self._front.pairs
        takes_bolts = np.array([_takes_bolts(mounting) for mounting in front.mountings], dtype=np.int64)
        on_seats, on_pumps = _seat_bills(front, self._settlement), _pump_bills(front, self._settlement)
        found: Integers = on_seats[pairs.seat, takes_bolts[pairs.mounting]] + on_pumps[pairs.mounting]
        return found

    def _least_work(self) -> Integers:
        """For each pair the hardest step of fitting its parts, at least."""
        pairs, on_pumps = self._front.pairs, _pump_work(self._front, self._settlement)
        on_pumps = np.maximum(on_pumps, self._open_work())
        return np.maximum(self._front.seat_work[pairs.seat], on_pumps[pairs.mounting])

    def _open_work(self) -> Integers:
        """For each mounting that has pairs the hardest step that its open ports will take."""
        front, settlement = self._front, self._settlement
        found = np.zeros(len(front.mountings), dtype=np.int64)
        for place in np.unique(front.pairs.mounting).tolist():
            mounting = front.mountings[place]
            found[place] = work_of_open(settlement.open_ports(mounting.pump, mounting.remote))
        return found

    def _left(self) -> Flags:
        """Which pairs the circuits leave, the fans, and the limits on work and price."""
        front, pairs, question = self._front, self._front.pairs, self._question
        left = np.ones(len(pairs.seat), dtype=bool)
        if not self._settlement.asks_nothing:
            low, high = (ends[pairs.seat] for ends in front.flanges)
            for place, mine in self._of_each_mounting():
                mounting = self._with_circuits(place)
                if mounting.hopeless:
                    left[mine] = pairs.tested[mine]
                elif mounting.fan:
                    left[mine] = pairs.tested[mine] | within(low[mine], high[mine], mounting.fan)
        if question.build.must.work_at_most is not UNSET:
            left &= self._work <= WORK.index(question.build.must.work_at_most)
        limit = question.price_at_most
        if limit is not None:
            circuits = np.array([self._settlement.least_price(m.pump, m.remote) for m in front.mountings])
            total = self._bills + circuits[pairs.mounting] if len(pairs.seat) else self._bills
            left &= (total[:, 0] == 0) & (total[:, 1] <= limit)
        return left

    def _of_each_mounting(self) -> Iterator[tuple[int, slice]]:
        """Each mounting that has pairs, with where they are."""
        places, starts = np.unique(self._front.pairs.mounting, return_index=True)
        bounds = [*starts.tolist(), len(self._front.pairs.mounting)]
        for place, (start, end) in zip(places.tolist(), pairwise(bounds), strict=True):
            yield place, slice(start, end)

    def _columns(self) -> Iterator[Column]:
        """What the pairs are ranked by, the first key first; numbers in the order of what they stand for."""
        front, pairs = self._front, self._front.pairs
        bills = self._bills
        if not self._settlement.asks_nothing:
            circuits = np.array([self._settlement.least(m.pump, m.remote) for m in front.mountings]).reshape(-1, 3)
            bills = bills + circuits[pairs.mounting]
        by_key: dict[str, Callable[[], Integers]] = {
            "work": lambda: self._work,
            "recommended": lambda: front.not_recommended[pairs.mounting],
            "price": lambda: _prices(bills, packed=self._settlement.shared_by is not None),
            "parts": lambda: bills[:, 2],
            "length": lambda: front.length_order[pairs.seat],
        }
        yield self._column("unsure", lambda: (~(pairs.sure | pairs.tested)).astype(np.int64))
        for key in self._question.rank_keys:
            if key in by_key:
                yield self._column(key, by_key[key])
            elif self._by_margin:
                yield self._margins.column
        yield self._column("numbers", lambda: front.number_order)

    def _column(self, name: str, make: Callable[[], Integers]) -> Column:
        """A column, kept with the front where that alone decides it."""
        if self._settlement.shared_by is None:
            return Column.of(make())
        return self._front.remembered(f"column of {name}", lambda: Column.of(make()))


def _prices(bills: Integers, *, packed: bool) -> Integers:
    """For each bill a number that orders them by price; `packed` gives fewer bits than the price itself takes."""
    most = int(bills[:, 1].max()) if len(bills) else 0
    prices: Integers = bills[:, 0] * (most + 1) + bills[:, 1]
    return np.unique(prices, return_inverse=True)[1] if packed else prices


def _takes_bolts(mounting: Mounting) -> bool:
    """Whether the bolts that hold it are chosen: where the thickness of its flange is known."""
    pump = mounting.pump
    return "flange_thickness" in pump.measures or (pump.kind == "outlet_plate" and "thickness" in pump.measures)


def _seat_bills(front: Front, settlement: Settlement) -> Integers:
    """For each seat the least bill of its plates, gaskets and bolts, without and with those that hold the pump."""

    def both(seat: Seat) -> list[Bill]:
        return [_seat_bill(seat, settlement, last=last) for last in (False, True)]

    of_kinds = [settlement.bolts.bills(seats, both) for seats in front.kinds]
    return np.concatenate([np.zeros((0, 2, 3), dtype=np.int64), *of_kinds])


def _seat_bill(seat: Seat, settlement: Settlement, *, last: bool) -> Bill:
    counts: dict[str, tuple[Part, int]] = {}
    for place, joint in enumerate(seat.joints):
        pieces = joint.connection.pieces_per_layer
        for part in (joint.gasket, seat.plates[place] if place < len(seat.plates) else None):
            if part is not None:
                counts[part.number] = (part, counts.get(part.number, (part, 0))[1] + pieces)
    return bill_of(settlement.question, counts.values()).plus(settlement.bolts.least(seat, last=last))


def _pump_bills(front: Front, settlement: Settlement) -> Integers:
    """For each mounting the bill of what sits on the block, its pulley, and a remote pump's belt."""
    question = settlement.question

    def made() -> Integers:
        found = []
        for mounting in front.mountings:
            parts = [(part, 1) for part in (mounting.pump, mounting.pulley) if part is not None]
            extra = NO_BILL if mounting.remote is None else extra_bill(settlement, mounting)[1]
            found.append(bill_of(question, parts).plus(extra))
        return np.array(found, dtype=np.int64).reshape(-1, 3)

    plain = not question.have and question.build.pump_drive != "remote"
    return front.remembered("pump_bills", made) if plain else made()


def _pump_work(front: Front, settlement: Settlement) -> Integers:
    described = settlement.question.described

    def made() -> Integers:
        found = []
        for mounting in front.mountings:
            own = [part for part in (mounting.pump, mounting.pulley) if part and part.number not in described]
            extra = 0 if mounting.remote is None else extra_bill(settlement, mounting)[0]
            found.append(max([extra, *(work_of(part) for part in own)]))
        return np.array(found, dtype=np.int64)

    return made() if settlement.question.build.pump_drive == "remote" else front.remembered("pump_work", made)
