"""Which sets of bolts a question may take in a group, those that no other makes needless, and what they cost at least.

Every set that does not fail may be chosen. Of those that may, one is needless where another is no worse in all that
options are ranked and limited by.
"""

from collections.abc import Callable, Iterable, Set
from fractions import Fraction
from typing import Final, Literal, NamedTuple

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


class Choice(NamedTuple):
    """A set that may be chosen for a group, with all that it is weighed by."""

    part: Part
    quantity: int
    in_doubt: bool
    """Whether something must be measured first."""
    takes: tuple[int, ...]
    """Work, pieces without a price, the price of the others, pieces; as if nothing were at hand."""
    margin: Fraction
    """The relative margin of its check."""
    order: tuple[int, str]
    """Its length and its number, by which equals stand."""
    apart: bool
    """Whether a rule names it, it is at hand, or it holds other joints too: what its place in a list is worth hangs on
    the rest of the list."""
    ruled: bool
    """Whether a rule names it."""

    def stands_for(self, other: "Choice", most: Fraction | None) -> bool:
        """Whether the other is needless beside this one, where the rest leaves no relative margin beyond `most`."""
        if self.apart or other.apart or self.in_doubt > other.in_doubt:
            return False
        if any(own > its for own, its in zip(self.takes, other.takes, strict=True)):
            return False
        if self.margin < other.margin and (most is None or self.margin < most):
            return False
        cheaper = self.takes[1:3] != other.takes[1:3]
        return cheaper or self.in_doubt < other.in_doubt or self.order < other.order


class BoltSets:
    """The sets of bolts of one question; groups alike in their holes and their thickness are looked at once."""

    def __init__(self, graph: ConstraintGraph, question: Question) -> None:
        self._graph, self._question = graph, question
        self._allowed: dict[str, _Stock] = {}
        self._held: dict[tuple[object, ...], list[Choice]] = {}
        self._misses: dict[tuple[object, ...], Part] = {}
        self._margins: dict[tuple[object, ...], Fraction | None] = {}
        self._holding: dict[tuple[object, ...], list[tuple[Part, int]]] = {}
        self._least: dict[tuple[str, int], Bill] = {}
        self._bills: dict[int, tuple[Seats, Integers]] = {}

    @property
    def weight(self) -> int:
        """Roughly how many bytes it takes."""
        return 200_000

    def bolted(self, group: Group, zone: str, room: "Room") -> list[Bolted]:
        """The group with each set that is worth looking into, those that hold for certain first, then the shorter.

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
        needless = room.every or room.only is not None
        choices = self._every(group) if needless else self._choices(group)
        if not choices:
            nearest = Fit(self._question, group, self._nearest(group, sets))
            return [Bolted(nearest.check(facts, zone), None, 0, holder)]
        worth = choices if needless else _worth_looking_into(choices, room)
        if room.only is not None:
            worth = [choice for choice in choices if choice.part.number in room.only]
        return [Fit(self._question, group, choice.part).bolted(facts, zone) for choice in worth]

    def _not_known(self, group: Group, zone: str = "", facts: Facts | None = None) -> Check:
        """The check of a group of which too little is known to choose bolts for it."""
        missing = [(group.holder, name) for name in lacking(group.holder)]
        missing += [(group.last, "flange_thickness")] if group.clamped is None else []
        return not_known(self._question.stated, "bolts", missing, zone, facts)

    def choices(self, group: Group) -> "list[Choice] | Literal['not_asked']":
        """The sets that may be chosen and that no other makes needless; `not_asked` where a fact is lacking."""
        if group.clamped is None or lacking(group.holder):
            return "not_asked"
        return self._choices(group) if self._sets(str(group.holder.attributes["thread"])) else []

    def may_hold(self, group: Group) -> list[str]:
        """Numbers of every set that does not fail in the group."""
        if group.clamped is None or lacking(group.holder):
            return []
        stock = self._stock(str(group.holder.attributes["thread"]))
        return [stock.parts[place].number for place in np.flatnonzero(stock.verdicts(group) != FAILS).tolist()]

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
            choices = self.choices(group)
            self._margins[key] = max((choice.margin for choice in choices), default=None)  # type: ignore[union-attr]
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

    def _choices(self, group: Group) -> list[Choice]:
        key = _key(group)
        if key not in self._held:
            self._held[key] = _needed(self._every(group), None)
        return self._held[key]

    def _every(self, group: Group) -> list[Choice]:
        stock = self._stock(str(group.holder.attributes["thread"]))
        fits = self._fits(group, stock, stock.verdicts(group) != FAILS)
        return sorted(map(self._choice, fits), key=_in_order)

    def _choice(self, fit: Fit) -> Choice:
        part, number = fit.part, fit.part.number
        ruled = number in self._graph.ruled
        apart = ruled or number in self._question.have or is_kit(part)
        # Only the pump's own place counts for the margin of an option.
        margin = fit.relative_margin if fit.group.of_block else Fraction(0)
        order = fit.length.nominal, number
        doubt = fit.verdict != "ok" or number in self._question.doubted
        return Choice(part, fit.quantity, doubt, _takes(fit), margin, order, apart, ruled)

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


class Room(NamedTuple):
    """What else is known of an option whose bolts are to be chosen."""

    margin: Fraction | None = None
    """The relative margin that the rest leaves at most; None where it is not known."""
    limited: bool = True
    """Whether the build limits the whole, so that a set in doubt may serve where none is affordable that holds."""
    every: bool = False
    """Whether every set that does not fail is asked for, needless or not."""
    only: Set[str] | None = None
    """Numbers of the sets that are asked for, needless or not, where not all are."""


def _worth_looking_into(choices: list[Choice], room: Room) -> list[Choice]:
    if not room.limited and any(not (choice.in_doubt or choice.ruled) for choice in choices):
        choices = [choice for choice in choices if choice.ruled or not choice.in_doubt]
    return choices if room.margin is None or len(choices) == 1 else _needed(choices, room.margin)


def _needed(choices: list[Choice], most: Fraction | None) -> list[Choice]:
    """Those for which no other of them stands."""
    return [choice for choice in choices if not any(other.stands_for(choice, most) for other in choices)]


def _in_order(choice: Choice) -> tuple[bool, bool, tuple[int, str]]:
    """Those that hold for certain first, then those of which no rule speaks, then the shorter."""
    return choice.in_doubt, choice.ruled, choice.order


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
