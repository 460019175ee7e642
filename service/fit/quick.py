"""What can be said of a mounting on a seat without making its option: where nothing joins its parts, all that rules.

Limits on the whole bear on the list as a whole, and so does a rule that one of the parts to choose breaks; where that
is in play nothing is said here, and the option must be assessed.
"""

from collections.abc import Iterable
from typing import Final

from msgspec import UNSET

from catalog.domain import Part
from catalog.vocabulary import WORK
from service.fit.answer import Check
from service.fit.bolt_sets import Room
from service.fit.bolts import Bolted, clamped_groups
from service.fit.circuit import Piece, pieces_parts
from service.fit.gap import fan_checks, fan_verdict
from service.fit.graph import is_kit
from service.fit.mounting import Mounting, plates_of
from service.fit.obligations import Obligation
from service.fit.options import along
from service.fit.parts_list import stack_takes
from service.fit.paths import Seat
from service.fit.rules import Ruling, rule_on, settle
from service.fit.tally import Take, bill_of, tally, work_of, work_of_open
from service.fit.trees import Tree
from service.fit.whole import Settlement

_FANS: Final = 50
"""Fans tried for room; where none of them has it, the option is assessed."""


class Quick:
    """What is quickly said for one question."""

    def __init__(self, settlement: Settlement) -> None:
        self._settlement, self._question, self._graph = settlement, settlement.question, settlement.graph
        self._limited = settlement.limits
        self._own = [part for part in self._question.standing if part.number in self._graph.ruled]

    def holds(self, mounting: Mounting, seat: Seat) -> bool | None:
        """Whether an option stands there, given that no axial test fails; None where it must be assessed."""
        if not self._tells(mounting, seat):
            return self._holds_within_limits(mounting, seat) if self._limited else None
        if mounting.hopeless:
            return False
        chosen: list[Part] = []
        for group in clamped_groups(self._question, seat, mounting.pump):
            sets = self._settlement.bolts.choices(group)
            if sets == "not_asked":
                continue
            if not sets:
                return False
            chosen.append(sets[0].part)
        for obligation in self._settlement.obliged(mounting.pump, mounting.remote).obligations:
            tree = self._tree(obligation, mounting, seat)
            if tree is None:
                return None
            chosen += [part for piece in tree.pieces() for part, _ in pieces_parts(piece)]
        # Parts that a rule brings in only lengthen the list, on which there is no limit here.
        return True if self._ruling(mounting, seat, chosen).check.verdict != "fails" else None

    def _holds_within_limits(self, mounting: Mounting, seat: Seat) -> bool | None:
        """The same under limits on work and price, where the front alone decides the rest.

        What takes the least work and money with each set of
        bolts by itself takes it in all.
        """
        if self._settlement.shared_by is None or mounting.remote is not None or self._may_be_settled(mounting, seat):
            return None
        if mounting.hopeless:
            return False
        question, work_at_most = self._question, self._question.build.must.work_at_most
        most = len(WORK) if work_at_most is UNSET else WORK.index(work_at_most)
        takes = list(stack_takes(mounting, seat))
        bolts: list[Part] = []
        for group in clamped_groups(question, seat, mounting.pump):
            sets = self._settlement.bolts.choices(group)
            if sets == "not_asked":
                continue
            light = [each for each in sets if work_of(each.part) <= most]
            if not light:
                return False
            if any(is_kit(each.part) for each in light):
                return None
            cheapest = min(light, key=lambda each: bill_of(question, [each[:2]]))
            takes.append(Take(*cheapest[:2]))
            bolts.append(cheapest.part)
        work, bill = tally(question, takes)
        work = max(work, work_of_open(mounting.open))
        limit = question.price_at_most
        if work > most or (limit is not None and (bill.unpriced or bill.known > limit)):
            return False
        ruling = self._ruling(mounting, seat, bolts)
        return True if ruling.check.verdict != "fails" and not ruling.brought else None

    def failing(self, mounting: Mounting, seat: Seat) -> list[Check] | None:
        """The checks that fail there, in no order, where an option fails; None where it must be assessed."""
        if self._limited or mounting.remote is not None:
            return None
        groups = self._bolts(mounting, seat)
        sets = [each.fasteners for group in groups for each in group if each.fasteners is not None]
        owed = self._settlement.obliged(mounting.pump, mounting.remote).obligations
        trees = [(each.name, self._settlement.first(each.root)) for each in owed]
        marks = [mark for _, tree in trees if tree is not None for mark in tree.marks]
        if not self._graph.ruled.isdisjoint([*(part.number for part in sets), *marks]):
            return None
        bolts = [group[0].check for group in groups]
        checks = [*mounting.static, *along(seat, mounting.axial_checks(seat.flange)), *bolts]
        checks.append(self._ruling(mounting, seat).check)
        present = self._ruled(mounting, seat)
        settled = settle(self._graph, self._question, checks, present, plates_of(mounting, seat), mounting.pulley)
        found = [check for check in settled if check.verdict == "fails"]
        if not any(check.verdict == "fails" for check in checks) and mounting.has_room_for_fan(seat.flange):
            return None
        fan = next((tree for name, tree in trees if name == "fan"), None)
        if fan is not None and all(tree is not None for _, tree in trees):
            parts = [piece.part for piece in fan.pieces() if piece.part is not None]
            room = along(seat, fan_checks(self._question, mounting.pump, parts, seat.flange))
            found += [check for check in room if check.verdict == "fails"]
        return found or None

    def _bolts(self, mounting: Mounting, seat: Seat) -> list[list[Bolted]]:
        groups = clamped_groups(self._question, seat, mounting.pump)
        return [self._settlement.bolts.bolted(group, str(place), Room()) for place, group in enumerate(groups, 1)]

    def _tells(self, mounting: Mounting, seat: Seat) -> bool:
        """Whether anything is said here of what stands there."""
        return not self._limited and mounting.remote is None and not self._may_be_settled(mounting, seat)

    def _may_be_settled(self, mounting: Mounting, seat: Seat) -> bool:
        """Whether a tested fit speaks of these plates with this pump, or with any."""
        return plates_of(mounting, seat) in self._graph.tested_plates(mounting.pump.number)

    def _ruled(self, mounting: Mounting, seat: Seat, chosen: Iterable[Part] = ()) -> dict[str, Part]:
        """The parts present that some rule names."""
        on_block: tuple[Part | None, ...] = (mounting.pump, mounting.pulley)
        under = (*seat.plates, *(joint.gasket for joint in seat.joints))
        parts = [part for part in (*self._own, *on_block, *under, *chosen) if part is not None]
        return {part.number: part for part in parts if part.number in self._graph.ruled}

    def _ruling(self, mounting: Mounting, seat: Seat, chosen: Iterable[Part] = ()) -> Ruling:
        return rule_on(self._graph, self._question, self._ruled(mounting, seat, chosen), plates_of(mounting, seat))

    def _tree(self, obligation: Obligation, mounting: Mounting, seat: Seat) -> Tree[Piece] | None:
        """The cheapest tree that settles it and, for a fan, that has room; None where none of the first has."""
        settlement = self._settlement
        if obligation.name != "fan":
            return settlement.surest(obligation.root)
        for place in range(_FANS):
            tree = settlement.nth(obligation.root, place)
            if tree is None:
                return None
            parts = [piece.part for piece in tree.pieces() if piece.part is not None]
            if fan_verdict(self._question, mounting.pump, parts, seat.flange) != "fails":
                return tree
        return None
