"""What can be said of a mounting on a seat without making its option: where nothing joins its parts, all that rules.

Rules, limits on the whole and a fan's room bear on the list as a whole; where one of them is in play nothing is said
here, and the option must be assessed.
"""

from typing import Final

from msgspec import UNSET

from catalog.domain import Part
from service.fit.answer import Check
from service.fit.bolts import clamped_groups
from service.fit.gap import fan_checks
from service.fit.mounting import Mounting
from service.fit.obligations import Obligation, asks_for_fan
from service.fit.options import along
from service.fit.paths import Seat
from service.fit.whole import Settlement

_FANS: Final = 50
"""Fans tried for room; where none of them has it, the option is assessed."""


class Quick:
    """What is quickly said for one question."""

    def __init__(self, settlement: Settlement) -> None:
        self._settlement, self._question = settlement, settlement.question
        self._ruled = settlement.graph.ruled
        question, must = self._question, self._question.build.must
        self._limited = question.price_at_most is not None or must.work_at_most is not UNSET
        self._own = any(part.number in self._ruled for part in question.slots.values())

    def holds(self, mounting: Mounting, seat: Seat) -> bool | None:
        """Whether an option stands there, given that no axial test fails; None where it must be assessed."""
        if self._limited or self._own or self._is_ruled(mounting, seat):
            return None
        if mounting.hopeless:
            return False
        for group in clamped_groups(self._question, seat, mounting.pump):
            choices = self._settlement.bolts.shortest(group, "")
            if choices[0].check.verdict == "fails":
                return False
            if all(each.fasteners is not None and each.fasteners.number in self._ruled for each in choices):
                return None
        owed = self._settlement.obliged(mounting.pump, mounting.remote).obligations
        return True if all(self._is_met(obligation, mounting, seat) for obligation in owed) else None

    def failing(self, mounting: Mounting, seat: Seat) -> list[Check] | None:
        """The checks that fail there, in no order, where an option fails; None where it must be assessed."""
        if self._limited or self._own or self._is_ruled(mounting, seat) or asks_for_fan(self._question):
            return None
        groups = clamped_groups(self._question, seat, mounting.pump)
        choices = [self._settlement.bolts.shortest(group, str(place)) for place, group in enumerate(groups, 1)]
        sets = [each.fasteners for group in choices for each in group if each.fasteners is not None]
        if any(part.number in self._ruled for part in sets):
            return None
        for obligation in self._settlement.obliged(mounting.pump, mounting.remote).obligations:
            tree = self._settlement.first(obligation.root)
            if tree is not None and not self._ruled.isdisjoint(tree.marks):
                return None
        axial = along(seat, mounting.axial_checks(seat.flange))
        bolts = [group[0].check for group in choices]
        return [check for check in (*mounting.static, *axial, *bolts) if check.verdict == "fails"]

    def _is_ruled(self, mounting: Mounting, seat: Seat) -> bool:
        """Whether some rule names what sits on the block or lies under it."""
        ruled = self._ruled
        own: tuple[Part | None, ...] = (mounting.pump, mounting.pulley, mounting.remote)
        under = (*seat.plates, *(joint.gasket for joint in seat.joints))
        return any(part is not None and part.number in ruled for part in (*own, *under))

    def _is_met(self, obligation: Obligation, mounting: Mounting, seat: Seat) -> bool:
        """Whether some tree settles it that no rule touches and, for a fan, that has room."""
        settlement = self._settlement
        if obligation.name != "fan":
            tree = settlement.first(obligation.root)
            return tree is not None and self._ruled.isdisjoint(tree.marks)
        trees = (settlement.nth(obligation.root, place) for place in range(_FANS))
        for tree in trees:
            if tree is None:
                return False
            parts = [piece.part for piece in tree.pieces() if piece.part is not None]
            checks = fan_checks(self._question, mounting.pump, parts, seat.flange)
            if self._ruled.isdisjoint(tree.marks) and all(check.verdict != "fails" for check in checks):
                return True
        return False
