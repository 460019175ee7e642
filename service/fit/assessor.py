"""Every check of one option: a mounting on its seat with its bolts chosen, its circuits, its rules and the limits."""

from collections.abc import Callable, Set
from functools import partial
from typing import Final

import msgspec
from msgspec import UNSET

from catalog.domain import Part
from catalog.vocabulary import WORK
from service.fit.answer import Check, CheckVerdict, worst
from service.fit.bolts import Bolted
from service.fit.capped import Cap
from service.fit.challenged import challenges, under
from service.fit.circuit import Piece, in_no_tree, pieces_parts
from service.fit.circuit_checks import circuit_checks
from service.fit.combined import holds_part
from service.fit.gap import fan_verdict
from service.fit.graph import is_kit
from service.fit.limits import held_to, limits
from service.fit.mounting import Mounting, plates_of
from service.fit.obligations import Obligation
from service.fit.options import Assessed, tightest
from service.fit.parts_list import (
    Use,
    circuit_uses,
    cost_of,
    extra_uses,
    hardest_work,
    lines_of,
    stack_uses,
)
from service.fit.paths import Seat
from service.fit.question import Question
from service.fit.ranking import bound, rank_on_seat, standing
from service.fit.rules import Ruling, rule_on, settle
from service.fit.standing import less
from service.fit.tally import Take, tally, work_of_open
from service.fit.trees import Cost, Tree
from service.fit.unknown import with_fields
from service.fit.whole import Judged, Settlement, Trees

ORDER: Final = (
    # The order in which checks are told, and in which the first failing one is named.
    "reading",
    "face",
    "without",
    "hub",
    "belt",
    "rotation",
    "belt_plane",
    "cover",
    "carried_parts",
    "crank",
    "radiator_gap",
    "bolts",
    "outlet_path",
    "inlet_path",
    "thermostat",
    "heater_path",
    "bypass",
    "vent",
    "line_size",
    "rule",
    "outlet_side",
    "outlet_direction",
    "work",
    "price",
)
PLACE: Final = {code: place for place, code in enumerate(ORDER)}


class Assessor:
    """A mounting on a seat with bolts chosen, for which the trees are still to be found."""

    def __init__(
        self,
        settlement: Settlement,
        mounting: Mounting,
        seat: Seat,
        bolted: tuple[Bolted, ...],
        on_seat: list[Check],
    ) -> None:
        """`on_seat` are the checks of the pump's place, which no bolts change."""
        self.settlement, self.mounting, self.seat, self.bolted = settlement, mounting, seat, bolted
        self.graph, self.question = settlement.graph, settlement.question
        self._on_seat = on_seat
        self.doubts = sum(is_doubted(self.question, group) for group in bolted)
        """In how many groups the bolts are to be measured first."""
        own = challenges(self.question, [*under(seat), *(group.fasteners for group in bolted)])
        self.fixed = (*mounting.static, *own, *on_seat, *(group.check for group in bolted))
        self.uses = [*stack_uses(mounting, seat, bolted), *extra_uses(settlement, mounting)]
        self._own = [Take(use.part, use.quantity, use.of_block) for use in self.uses]
        self._rooms: dict[tuple[str, ...], CheckVerdict] = {}
        """By the names of a fan's tree, the verdict of the room about it."""
        self._plates = plates_of(mounting, seat)
        self._currency = self.graph.snapshot.currency
        self._open = work_of_open(mounting.open)
        """The hardest step that the ports left open on the block will take."""
        self._held = worst(check.verdict for check in self.fixed)
        self._may_be_settled = self._plates in self.graph.tested_plates(mounting.pump.number)

    def could_stand_before(self, other: "Assessor", best: Assessed) -> bool:
        """Whether anything says that the best list with these bolts could stand before that of others, which holds."""
        if self._may_be_settled:
            return True
        # Circuits and rules add to a list, and leave no check more room than it has.
        (work, own), margin = tally(self.question, self._own), less(tightest(self.fixed)[0])
        work = max(work, self._open)
        sure = self._held == "ok" and self.settlement.surely(self.mounting.pump, self.mounting.remote)
        placed = self.mounting, self.seat
        at_best = bound(self.settlement, placed, (work, own), margin, sure=sure, bolted=self.bolted)
        doubts = self.doubts, False
        if self._takes_what_goes_with(other):
            doubts = self.doubts, best.doubts[1]
            more = best.bill.less(tally(self.question, other._own)[1])
            price, parts = (own.unpriced + more.unpriced, own.known + more.known), own.pieces + more.pieces
            at_best = msgspec.structs.replace(at_best, verdict=best.verdict != "ok", price=price, parts=parts)
        rank_keys = self.question.rank_keys
        known = best.verdict != "ok", best.doubts, standing(best).key(rank_keys)
        return (at_best.verdict, doubts, at_best.key(rank_keys)) < known

    def _takes_what_goes_with(self, other: "Assessor") -> bool:
        """Whether nothing but what the bolts cost, and how well they hold, sets the best list apart from the other's.

        That is so where the trees are the cheapest for the least work, and nothing on them depends on the bolts.
        """
        bolts = [part for group in (*self.bolted, *other.bolted) if (part := group.fasteners) is not None]
        plain = not any(is_kit(part) or part.number in self.graph.ruled for part in bolts)
        alike = self._held == other._held and tally(self.question, self._own)[0] == tally(other.question, other._own)[0]
        return plain and alike and self._work_first and not self.question.have and not self.settlement.limits

    @property
    def _work_first(self) -> bool:
        """Whether the work ranks before what a list costs, so that the least that settles it is enough."""
        return next(key for key in self.question.rank_keys if key in ("work", "price", "parts")) == "work"

    def assessed(self) -> Assessed:
        """The best list with these bolts; one that fails, with its reasons, where there is none."""
        owed = self.settlement.obliged(self.mounting.pump, self.mounting.remote)
        unsettled = any(self.settlement.first(obligation.root) is None for obligation in owed.obligations)
        if not owed.obligations or unsettled:
            return self._finished(())
        verdict, work = self._bare()
        # What already fails is mended by no further part, and a fan that has no room by no other part of the list.
        lost = verdict == "fails" or not self.mounting.has_room_for_fan(self.seat.flange)
        found = None if lost else self._best(work)
        if found is None and not lost and (lenient := self.settlement.lenient()) is not None:
            # What would hold but for the asker's own limits, so that it is they that are named.
            best = Assessor(lenient, self.mounting, self.seat, self.bolted, self._on_seat)._best(work)
            found = None if best is None else self._finished(best.trees)
        return found or self._finished(
            tuple(
                (obligation.name, tree)
                for obligation in owed.obligations
                if (tree := self.settlement.surest(obligation.root)) is not None
            )
        )

    def _bare(self) -> tuple[CheckVerdict, int]:
        """The verdict and the work of the option without its circuits."""
        if self._may_be_settled:
            option = self._finished(())
            return option.verdict, option.work
        ruling = self._ruling(())
        work, bill = tally(self.question, [*self._own, *(Take(part, 1) for part, _ in ruling.brought)])
        work = max(work, self._open)
        found = limits(self.question, self._currency, work, bill)
        found += self._challenged((), ruling)
        return worst([self._held, ruling.check.verdict, *(check.verdict for check in found)]), work

    def through(self, targets: Set[str]) -> Assessed | None:
        """The best list with these bolts whose circuits hold one of these parts; None where there is none."""
        owed = self.settlement.obliged(self.mounting.pump, self.mounting.remote).obligations
        verdict, work = self._bare()
        if verdict == "fails" or not self.mounting.has_room_for_fan(self.seat.flange):
            return None
        found = [
            option
            for obligation in owed
            for target in sorted(targets & self.settlement.through(self.settlement.anything, obligation.root).keys())
            if (option := self._best(work, partial(self._trees_through, obligation, target))) is not None
        ]
        return min(found, key=lambda option: rank_on_seat(option, self.question.rank_keys), default=None)

    def _trees_through(self, obligation: Obligation, target: str, cap: Cap, least: Cost) -> Trees | None:
        """The best trees within a cap of which that of an obligation holds a part."""
        settlement, trees, bound = self.settlement, list[tuple[str, Tree[Piece]]](), least
        through = settlement.through(cap, obligation.root).get(target)
        if through is None:
            return None
        for each in settlement.obliged(self.mounting.pump, self.mounting.remote).obligations:
            suits = partial(self._suits, cap, each.name)
            tree = through.tree() if each is obligation else settlement.suiting(cap, each.root, suits)
            if tree is None:
                return None
            bound = tuple(map(sum, zip(bound, tree.cost, strict=True)))
            trees.append((each.name, tree))
        if settlement.beyond(bound):
            return None
        if self._suits(cap, obligation.name, through.tree()):
            judged = self._judged(cap, tuple(trees))
            if judged.holds and judged.cost <= bound:
                return tuple(trees)  # nothing joins them, so that no others are better
        return self._joined_through(obligation, target, cap, least)

    def _joined_through(self, obligation: Obligation, target: str, cap: Cap, least: Cost) -> Trees | None:
        """The same where something joins the trees."""
        wanting = self.settlement.wanting(target)
        other = Assessor(wanting, self.mounting, self.seat, self.bolted, self._on_seat)
        owed = self.mounting.pump, self.mounting.remote
        holding = self.settlement.obliged(*owed).obligations.index(obligation), target
        suits, judge = partial(other._suits, cap), partial(other._judged, cap)
        found = wanting.best(owed, cap, least, suits, judge, holding)
        self.settlement.decided &= wanting.decided
        return found

    def _best(self, own_work: int, find: "Callable[[Cap, Cost], Trees | None] | None" = None) -> Assessed | None:
        """The best list under any cap; the first that settles where nothing before work ranks.

        Circuits that hold for certain stand before those to be measured first, whatever else is in doubt. `own_work` is
        the hardest step without the circuits, `find` gives the best trees within a cap where not all will do.
        """
        question = self.question
        least = cost_of(lines_of(question, [*self.uses, *self._brought_in_any_case()])).by(question.rank_keys)
        limit = question.build.must.work_at_most
        best: Assessed | None = None
        kits = frozenset(part.number for group in self.bolted if (part := group.fasteners) and is_kit(part))
        for cap in self.settlement.caps(own_work, kits):
            if best is not None and cap.measure_first:
                break
            if limit is not UNSET and cap.work > WORK.index(limit):
                continue
            trees = self._any_trees(cap, least) if find is None else find(cap, least)
            if trees is None:
                continue
            option = self._finished(trees)
            if best is None or standing(option).key(question.rank_keys) < standing(best).key(question.rank_keys):
                best = option
            if self._work_first:
                return best
        return best

    def _any_trees(self, cap: Cap, least: Cost) -> Trees | None:
        owed = self.mounting.pump, self.mounting.remote
        return self.settlement.best(owed, cap, least, partial(self._suits, cap), partial(self._judged, cap))

    def _brought_in_any_case(self) -> list[Use]:
        """What rules bring in whatever the trees are: only parts that no tree can hold itself."""
        brought = self._ruling(()).brought
        return [Use(part, "required", 1, "required", {}) for part, _ in brought if in_no_tree(part)]

    def _suits(self, cap: Cap, name: str, tree: Tree[Piece]) -> bool:
        """Whether a tree may be in a list on this seat: a fan must have room."""
        if name != "fan":
            return True
        if tree.names not in self._rooms:
            parts = [piece.part for piece in tree.pieces() if piece.part is not None]
            self._rooms[tree.names] = fan_verdict(self.question, self.mounting.pump, parts, self.seat.flange)
        room = self._rooms[tree.names]
        return room == "ok" or (room == "measure_first" and cap.measure_first)

    def _judged(self, cap: Cap, trees: Trees) -> Judged:
        ruling = self._ruling(trees)
        check, brought = ruling.check, (Take(part, 1) for part, _ in ruling.brought)
        work, bill = tally(self.question, [*self._own, *self.settlement.takes(trees), *brought])
        work = max(work, self._open, self.settlement.work_of(trees))
        if self._may_be_settled:
            option = self._finished(trees)
            work, bill, verdict = option.work, option.bill, option.verdict
            check = next(check for check in option.checks if check.code == "rule")
        elif any(check.verdict == "fails" for check in limits(self.question, self._currency, work, bill)):
            verdict = "fails"
        else:
            verdict = self._verdict(trees, ruling)
        holds = verdict != "fails" and work <= cap.work
        return Judged(holds, bill.by(self.question.rank_keys), "" if holds else self._blamed(trees, check))

    def _verdict(self, trees: Trees, ruling: Ruling) -> CheckVerdict:
        """The verdict of an option with these trees, but for the asker's limits."""
        of_readings = (check.verdict for check in self._challenged(trees, ruling))
        found: set[CheckVerdict] = {self._held, ruling.check.verdict, *of_readings}
        for name, tree in trees:
            for piece in tree.pieces():
                if piece.bolt_check is not None:
                    found.add(piece.bolt_check.verdict)
                if piece.unsure:
                    found.add("measure_first")
            if name == "fan":
                found.add(self._rooms[tree.names])
        return worst(found)

    def _challenged(self, trees: Trees, ruling: Ruling) -> list[Check]:
        """Of what the lines take and the rules bring: the readings that contradict it, but for those told already."""
        if not self.question.challenged:
            return []
        lines = [part for _, tree in trees for piece in tree.pieces() for part, _ in pieces_parts(piece)]
        told = {check.zone for check in self.fixed if check.code == "reading"}
        found = challenges(self.question, [*lines, *(part for part, _ in ruling.brought)])
        return [check for check in found if check.zone not in told]

    def _ruling(self, trees: Trees) -> Ruling:
        """What the rules say; only parts that some rule names bear on it."""
        ruled = self.graph.ruled
        taken = [take.part for take in (*self._own, *self.settlement.takes(trees))]
        parts = [*self.question.standing, self.mounting.pump, *taken]
        present = {part.number: part for part in parts if part.number in ruled}
        return rule_on(self.graph, self.question, present, self._plates)

    def _blamed(self, trees: Trees, rule: Check) -> str:
        """The obligation whose tree does not go with the rest of the option, whatever the other trees are."""
        if rule.verdict != "fails" or rule.reason == "tested_no_fit":
            return ""
        holding = [_holding(trees, number) for number in rule.facts["numbers"]]
        own = {use.part.number for use in self.uses} | {part.number for part in self.question.slots.values()}
        for names, number in zip(holding, reversed(rule.facts["numbers"]), strict=True):
            if names and (number in own or rule.reason == "requires"):
                return min(names)
        return min(holding[0] & holding[1], default="")

    def _finished(self, trees: Trees) -> Assessed:
        """The option with these trees, held to the build's limits."""
        return held_to(self.settlement, self.unlimited(trees))

    def unlimited(self, trees: Trees) -> Assessed:
        """The option with these trees: its list, its rules, and every check in order, before the build's limits."""
        own = [*self.uses, *circuit_uses(trees)]
        present = _present(self.question, self.mounting, own)
        plates = plates_of(self.mounting, self.seat)
        ruling = rule_on(self.graph, self.question, present, plates)
        required = [
            Use(part, "required", 1, "required", {"by": rule.part, "source": rule.source})
            for part, rule in ruling.brought
        ]
        lines = lines_of(self.question, [*own, *required])
        circuits = circuit_checks(self.settlement, self.mounting, self.seat, trees, len(self.bolted))
        circuits += self._challenged(trees, ruling)
        checks = [*self.fixed, *circuits, ruling.check]
        checks = settle(self.graph, self.question, checks, present, plates, self.mounting.pulley)
        checks = with_fields(self.question, checks)
        work = max(hardest_work(self.graph.snapshot.parts, lines), self._open, self.settlement.work_of(trees))
        bill = cost_of(lines)
        checks.sort(key=lambda check: (PLACE[check.code], check.zone))
        price = bill.price(self.graph.snapshot.currency)
        made_of = (self.mounting, self.seat, trees, tuple(checks), lines, self.bolted)
        verdict = worst(check.verdict for check in checks)
        doubts = self.doubts, any(check.verdict == "measure_first" for check in circuits)
        return Assessed(*made_of, work, bill, price, *tightest(checks), verdict, doubts, self._may_be_settled)


def _present(question: Question, mounting: Mounting, uses: list[Use]) -> dict[str, Part]:
    """Every part that rules may speak of: those of the build, and those of the list."""
    present = {part.number: part for part in question.standing}
    present |= {use.part.number: use.part for use in uses}
    present[mounting.pump.number] = mounting.pump
    return present


def present_parts(question: Question, option: Assessed) -> dict[str, Part]:
    """Every part that rules may speak of in a finished option, but for those that rules brought in."""
    uses = [*stack_uses(option.mounting, option.seat, option.bolted), *circuit_uses(option.trees)]
    return _present(question, option.mounting, uses)


def is_doubted(question: Question, group: Bolted) -> bool:
    """Whether the bolts of a group are to be measured first: their place, or a reading of them that contradicts."""
    chosen = group.fasteners
    return group.check.verdict == "measure_first" or (chosen is not None and chosen.number in question.doubted)


def _holding(trees: Trees, number: str) -> set[str]:
    """The obligations in whose trees a part is."""
    return {name for name, tree in trees if holds_part(tree, number)}
