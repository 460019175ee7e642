"""Which sets of bolts a question may take: the shortest that hold a group, all that do, and what they cost at least."""

from collections.abc import Callable, Iterable
from fractions import Fraction
from typing import Final, Literal

import msgspec
import numpy as np
from numpy.typing import NDArray

from catalog.domain import Connection, Part
from catalog.standards.threads import least_engagement
from service.fit.answer import Check, Facts
from service.fit.bill import NO_BILL, Bill
from service.fit.bolts import Bolted, Fit, Group, lacking, length_of, spoken_part
from service.fit.graph import ConstraintGraph, is_kit
from service.fit.paths import Seat
from service.fit.question import Question
from service.fit.seats import Seats
from service.fit.tally import work_of
from service.fit.unknown import not_known

Integers = NDArray[np.int64]
Flags = NDArray[np.bool_]
OK: Final = 0
MEASURE_FIRST: Final = 1
FAILS: Final = 2
_UNLIKE_ANY: Final = ("joined",)


class BoltSets:
    """The sets of bolts of one question; groups alike in their holes and their thickness are looked at once."""

    def __init__(self, graph: ConstraintGraph, question: Question) -> None:
        self._graph, self._question = graph, question
        self._allowed: dict[str, _Stock] = {}
        self._held: dict[tuple[object, ...], list[Part]] = {}
        self._misses: dict[tuple[object, ...], Part] = {}
        self._margins: dict[tuple[object, ...], Fraction | None] = {}
        self._holding: dict[tuple[object, ...], list[tuple[Part, int]]] = {}
        self._least: dict[tuple[str, int], Bill] = {}
        self._bills: dict[int, tuple[Seats, Integers]] = {}

    @property
    def weight(self) -> int:
        """Roughly how many bytes it takes."""
        return 200_000

    def shortest(self, group: Group, zone: str) -> list[Bolted]:
        """The shortest sets that hold the group, the cheapest of one length first.

        Of sets alike in all that rules, pieces at hand, kits and limits can touch, only those that none undercuts.
        One entry with a failing check, and no bolts, where nothing holds it.
        """
        holder = group.holder
        thread, material = holder.attributes.get("thread"), holder.attributes.get("hole_material")
        facts: Facts = {
            "holder": spoken_part(holder),
            "clamps": spoken_part(group.last),
            "thread": thread,
            "material": material,
            "wet": holder.attributes.get("wet_holes") is True,
        }
        if group.clamped is None or "hole_depth" not in holder.measures or thread is None or material is None:
            return [Bolted(self._not_known(group, zone, facts), None, 0, holder)]
        sets = self._sets(str(thread))
        if not sets:
            known = [part.name for part in self._graph.fasteners(str(thread))]
            reason = "no_bolts_allowed" if known else "no_bolts"
            return [Bolted(Check("bolts", "fails", reason, {**facts, "known": known}, zone=zone), None, 0, holder)]
        held = self._held_by(group)
        if not held:
            nearest = Fit(self._question, group, self._nearest(group, sets))
            return [Bolted(nearest.check(facts, zone), None, 0, holder)]
        return [Fit(self._question, group, part).bolted(facts, zone) for part in held]

    def _not_known(self, group: Group, zone: str = "", facts: Facts | None = None) -> Check:
        """The check of a group of which too little is known to choose bolts for it."""
        missing = [(group.holder, name) for name in lacking(group.holder)]
        missing += [(group.last, "flange_thickness")] if group.clamped is None else []
        return not_known(self._question.stated, "bolts", missing, zone, facts)

    def is_doubtful(self, group: Group) -> bool:
        """Whether what the bolts of a group need is lacking where it could be told."""
        return (group.clamped is None or bool(lacking(group.holder))) and self._not_known(
            group
        ).verdict == "measure_first"

    def first_that_holds(self, group: Group) -> Part | Literal["not_asked"] | None:
        """The first of the shortest sets that hold the group, None where nothing does; without making its check."""
        holder = group.holder
        known = group.clamped is not None and not lacking(holder)
        if not known:
            return "not_asked"
        sets = self._sets(str(holder.attributes["thread"]))
        held = self._held_by(group) if sets else []
        return held[0] if held else None

    def may_be_chosen(self, group: Group) -> list[tuple[Part, int]] | Literal["not_asked"]:
        """The sets that `shortest` tells, each with how many of it are taken."""
        if group.clamped is None or lacking(group.holder):
            return "not_asked"
        sets = self._sets(str(group.holder.attributes["thread"]))
        held = self._held_by(group) if sets else []
        return [(part, Fit(self._question, group, part).quantity) for part in held]

    def that_hold(self, group: Group) -> list[tuple[Part, int]]:
        """Every set that holds the group everywhere within the tolerances, and how many sets it takes."""
        if group.clamped is None or lacking(group.holder):
            return []
        key = _key(group)
        if key not in self._holding:
            stock = self._stock(str(group.holder.attributes.get("thread")))
            held = self._fits(group, stock, stock.verdicts(group) == OK)
            self._holding[key] = [(fit.part, fit.quantity) for fit in held]
        return self._holding[key]

    def best_margin(self, group: Group) -> Fraction | None:
        """The greatest relative margin that a set leaves which may be chosen; None where no margin is told."""
        if group.clamped is None or lacking(group.holder):
            return None
        key = _key(group)
        if key not in self._margins:
            sets = self._sets(str(group.holder.attributes["thread"]))
            held = self._held_by(group) if sets else []
            fits = (Fit(self._question, group, part) for part in held)
            self._margins[key] = max((fit.relative_margin for fit in fits), default=None)
        return self._margins[key]

    def least(self, seat: Seat, *, last: bool) -> Bill:
        """What the bolts of a seat add to a list at least, those of its last group where they are chosen."""
        total, holder, joint = NO_BILL, self._question.slots["engine"], seat.joints[0]
        for place, plate in enumerate(seat.plates):
            if "hole_depth" in plate.measures:
                total = total.plus(self._least_of(holder, joint.connection))
                holder, joint = plate, seat.joints[place + 1]
        return total.plus(self._least_of(holder, joint.connection)) if last else total

    def bills(self, seats: Seats, bill: Callable[[Seat], list[Bill]]) -> Integers:
        """What `bill` says of each of these seats, made once."""
        known = self._bills.get(id(seats))
        if known is None:
            found = np.array([bill(seat) for seat in seats.all], dtype=np.int64).reshape(-1, 2, 3)
            # Who holds the seats as well may know them by their identity.
            known = self._bills[id(seats)] = seats, found
        return known[1]

    def _sets(self, thread: str) -> list[Part]:
        return self._stock(thread).parts

    def _stock(self, thread: str) -> "_Stock":
        if thread not in self._allowed:
            question = self._question
            sets = self._graph.fasteners(thread)
            allowed = [question.part(part) for part in sets if question.allows(part)]
            self._allowed[thread] = _Stock(allowed, question.doubted)
        return self._allowed[thread]

    def _held_by(self, group: Group) -> list[Part]:
        """Of the sets that hold everywhere the shortest; else of those that may hold."""
        key = _key(group)
        if key not in self._held:
            self._held[key] = self._find_held(group)
        return self._held[key]

    def _find_held(self, group: Group) -> list[Part]:
        stock = self._stock(str(group.holder.attributes["thread"]))
        verdicts, lengths = stock.verdicts(group), stock.nominal[group.of_block]
        for verdict in (OK, MEASURE_FIRST):
            may = verdicts == verdict
            if may.any():
                return self._worth_trying(self._fits(group, stock, may & (lengths == lengths[may].min())))
        return []

    def _nearest(self, group: Group, sets: list[Part]) -> Part:
        """Of the sets none of which holds the group, the one that comes nearest."""
        key = _key(group)
        if key not in self._misses:
            fits = sorted((Fit(self._question, group, part) for part in sets), key=lambda fit: fit.order)
            self._misses[key] = max(fits, key=lambda fit: min(fit.margins)).part
        return self._misses[key]

    def _fits(self, group: Group, stock: "_Stock", which: Flags) -> list[Fit]:
        """These sets in the group, the shortest first, then the cheapest."""
        fits = (Fit(self._question, group, stock.parts[place]) for place in np.flatnonzero(which).tolist())
        return sorted(fits, key=lambda fit: fit.order)

    def _worth_trying(self, fits: list[Fit]) -> list[Part]:
        kept: list[tuple[tuple[object, ...], tuple[int, ...], Part]] = []
        for fit in fits:
            alike, takes = self._alike(fit.part), _takes(fit)
            undercut = alike != _UNLIKE_ANY and any(
                # Of equals both are kept: which stands first is told by the numbers of a whole list.
                alike == known and least != takes and all(a <= b for a, b in zip(least, takes, strict=True))
                for known, least, _ in kept
            )
            if not undercut:
                kept.append((alike, takes, fit.part))
        return [part for _, _, part in kept]

    def _alike(self, part: Part) -> tuple[object, ...]:
        """What another set must share so that the cheaper one may stand for both."""
        if part.number in self._graph.ruled or part.number in self._question.have or is_kit(part):
            return _UNLIKE_ANY
        length, washer = part.measures["length"], part.measures.get("washer_thickness")
        return (length.low, length.high, None if washer is None else (washer.low, washer.high))

    def _least_of(self, holder: Part, connection: Connection) -> Bill:
        thread = holder.attributes.get("thread")
        if thread is None or "hole_material" not in holder.attributes or "hole_depth" not in holder.measures:
            return NO_BILL
        key = (str(thread), connection.bolts)
        if key not in self._least:
            self._least[key] = self._find_least(*key)
        return self._least[key]

    def _find_least(self, thread: str, bolts: int) -> Bill:
        found = []
        for part in self._sets(thread):
            quantity = max(1, -(-bolts // int(part.attributes.get("pieces", 1))))
            buy = max(0, quantity - self._question.have.get(part.number, 0))
            priced = part.price is not None
            found.append(Bill(0 if priced else buy, buy * part.price.amount if part.price is not None else 0, quantity))
        return Bill(*map(min, zip(*found, strict=True))) if found else NO_BILL


class _Stock:
    """The sets of one thread with arrays of nm beside them, so that all are held against a group at once."""

    def __init__(self, parts: list[Part], doubted: frozenset[str]) -> None:
        self.parts = parts
        self._doubted = np.array([part.number in doubted for part in parts], dtype=bool)
        # By whether the joint is one between block and pump: a kit has other bolts for other joints.
        lengths = {own: [part.measures[length_of(part, of_block=own)] for part in parts] for own in (True, False)}
        self.nominal = {own: _array(each.nominal for each in found) for own, found in lengths.items()}
        washers = [part.measures.get("washer_thickness") for part in parts]
        thick = _array(0 if washer is None else washer.high for washer in washers)
        thin = _array(0 if washer is None else washer.low for washer in washers)
        self._low = {own: _array(each.low for each in found) - thick for own, found in lengths.items()}
        self._high = {own: _array(each.high for each in found) - thin for own, found in lengths.items()}

    def verdicts(self, group: Group) -> Integers:
        """For each set the verdict of its `Fit` in the group; one that is in question must be measured first."""
        assert group.clamped is not None
        thread, material = str(group.holder.attributes["thread"]), str(group.holder.attributes["hole_material"])
        least, depth = least_engagement(thread, material), group.holder.measures["hole_depth"]
        low = self._low[group.of_block] - group.clamped.high
        high = self._high[group.of_block] - group.clamped.low
        sure = (low >= least) & (high <= depth.low) & ~self._doubted
        never = (high < least) | (low > depth.high) | (depth.high < least)
        return np.where(sure, OK, np.where(never, FAILS, MEASURE_FIRST))


def _array(values: Iterable[int]) -> Integers:
    return np.array(list(values), dtype=np.int64)


def bolt_sets_of(graph: ConstraintGraph, question: Question) -> BoltSets:
    """The sets of bolts of a question, shared with every other question of the release that asks the same of them."""
    build = question.build
    without = sorted(n for n in question.without if graph.snapshot.parts[n].kind == "fastener_set")
    key = msgspec.json.encode((build.engine, build.measured, build.have, without))
    return graph.kept.get(("bolts", key), lambda: BoltSets(graph, question))


def _key(group: Group) -> tuple[object, ...]:
    """What of a group decides which sets hold it."""
    assert group.clamped is not None
    depth, holder = group.holder.measures["hole_depth"], group.holder.attributes
    return (
        *(holder.get("thread"), holder.get("hole_material"), depth.low, depth.high),
        *(group.connection.bolts, group.clamped.low, group.clamped.high, group.of_block),
    )


def _takes(fit: Fit) -> tuple[int, ...]:
    """What a set costs in each way in which options are ranked or limited."""
    price, quantity = fit.part.price, fit.quantity
    work = work_of(fit.part)
    return work, quantity if price is None else 0, 0 if price is None else price.amount * quantity, quantity
