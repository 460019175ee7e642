"""Every check of one option: a mounting on its seat with its bolts chosen, its circuits, its rules and the limits."""

from functools import partial
from typing import Final

import msgspec
from msgspec import UNSET

from catalog.domain import Part
from catalog.vocabulary import WORK
from service.fit.answer import Check, CheckVerdict, Code, Facts, worst
from service.fit.belt import rests
from service.fit.bolts import Bolted
from service.fit.capped import Cap
from service.fit.circuit import ON_BLOCK, Piece, in_no_tree, pieces_parts
from service.fit.gap import fan_checks, fan_verdict
from service.fit.graph import is_kit
from service.fit.limits import held_to, limits
from service.fit.mounting import Mounting, plates_of
from service.fit.options import Assessed, along, tightest
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
from service.fit.ranking import bound, standing
from service.fit.rules import Ruling, rule_on, settle
from service.fit.standing import less
from service.fit.tally import Take, tally
from service.fit.trees import Tree
from service.fit.whole import Judged, Settlement, Trees

ORDER: Final = (
    # The order in which checks are told, and in which the first failing one is named.
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

    def __init__(self, settlement: Settlement, mounting: Mounting, seat: Seat, bolted: tuple[Bolted, ...]) -> None:
        self.settlement, self.mounting, self.seat, self.bolted = settlement, mounting, seat, bolted
        self.graph, self.question = settlement.graph, settlement.question
        on_seat = along(seat, mounting.axial_checks(seat.flange))
        self.fixed = (*mounting.static, *on_seat, *(group.check for group in bolted))
        self.uses = [*stack_uses(mounting, seat, bolted), *extra_uses(settlement, mounting)]
        self._own = [Take(use.part, use.quantity, use.of_block) for use in self.uses]
        self._rooms: dict[tuple[str, ...], CheckVerdict] = {}
        """By the names of a fan's tree, the verdict of the room about it."""
        self._plates = plates_of(mounting, seat)
        self._currency = self.graph.snapshot.currency
        self._held = worst(check.verdict for check in self.fixed)
        self._may_be_settled = self._plates in self.graph.tested_plates(mounting.pump.number)

    def could_stand_before(self, other: "Assessor", best: Assessed) -> bool:
        """Whether anything says that the best list with these bolts could stand before that of others, which holds."""
        if self._may_be_settled:
            return True
        # Circuits and rules add to a list, and leave no check more room than it has.
        (work, own), margin = tally(self.question, self._own), less(tightest(self.fixed)[0])
        sure = self._held == "ok" and self.settlement.surely(self.mounting.pump, self.mounting.remote)
        at_best = bound(self.settlement, (self.mounting, self.seat), (work, own), margin, sure=sure)
        if self._takes_what_goes_with(other):
            more = best.bill.less(tally(self.question, other._own)[1])
            price, parts = (own.unpriced + more.unpriced, own.known + more.known), own.pieces + more.pieces
            at_best = msgspec.structs.replace(at_best, verdict=best.verdict != "ok", price=price, parts=parts)
        rank_keys = self.question.rank_keys
        return at_best.key(rank_keys) < standing(best).key(rank_keys)

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
            best = Assessor(lenient, self.mounting, self.seat, self.bolted)._best(work)
            found = None if best is None else self._finished(best.trees)
        return found or self._finished(
            tuple(
                (obligation.name, tree)
                for obligation in owed.obligations
                if (tree := self.settlement.first(obligation.root)) is not None
            )
        )

    def _bare(self) -> tuple[CheckVerdict, int]:
        """The verdict and the work of the option without its circuits."""
        if self._may_be_settled:
            option = self._finished(())
            return option.verdict, option.work
        ruling = self._ruling(())
        work, bill = tally(self.question, [*self._own, *(Take(part, 1) for part, _ in ruling.brought)])
        found = limits(self.question, self._currency, work, bill)
        return worst([self._held, ruling.check.verdict, *(check.verdict for check in found)]), work

    def _best(self, own_work: int) -> Assessed | None:
        """The best list under any cap; the first that settles where nothing before work ranks.

        `own_work` is the hardest step without the circuits.
        """
        question = self.question
        least = cost_of(lines_of(question, [*self.uses, *self._brought_in_any_case()])).by(question.rank_keys)
        limit = question.build.must.work_at_most
        best: Assessed | None = None
        held = self._held
        kits = frozenset(part.number for group in self.bolted if (part := group.fasteners) and is_kit(part))
        for cap in self.settlement.caps(own_work, kits, measure_first=held == "measure_first"):
            if best is not None and (best.verdict == "ok" and cap.measure_first and held == "ok"):
                break
            if limit is not UNSET and cap.work > WORK.index(limit):
                continue
            owed = (self.mounting.pump, self.mounting.remote)
            trees = self.settlement.best(owed, cap, least, partial(self._suits, cap), partial(self._judged, cap))
            if trees is None:
                continue
            option = self._finished(trees)
            if best is None or standing(option).key(question.rank_keys) < standing(best).key(question.rank_keys):
                best = option
            if self._work_first:
                return best
        return best

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
        if self._may_be_settled:
            option = self._finished(trees)
            work, bill, verdict = option.work, option.bill, option.verdict
            check = next(check for check in option.checks if check.code == "rule")
        elif any(check.verdict == "fails" for check in limits(self.question, self._currency, work, bill)):
            verdict = "fails"
        else:
            verdict = self._verdict(trees, ruling)
        holds = verdict != "fails" and work <= cap.work and (cap.measure_first or verdict == "ok")
        return Judged(holds, bill.by(self.question.rank_keys), "" if holds else self._blamed(trees, check))

    def _verdict(self, trees: Trees, ruling: Ruling) -> CheckVerdict:
        """The verdict of an option with these trees, but for the asker's limits."""
        found: set[CheckVerdict] = {self._held, ruling.check.verdict}
        for name, tree in trees:
            for piece in tree.pieces():
                if piece.bolt_check is not None:
                    found.add(piece.bolt_check.verdict)
                if piece.unsure:
                    found.add("measure_first")
            if name == "fan":
                found.add(self._rooms[tree.names])
        return worst(found)

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
        required = [Use(part, "required", 1, "required", {"by": rule.part}) for part, rule in ruling.brought]
        lines = lines_of(self.question, [*own, *required])
        circuits = self._circuit_checks(trees)
        checks = [*self.fixed, *circuits, ruling.check]
        checks = settle(self.graph, self.question, checks, present, plates, self.mounting.pulley)
        work, bill = hardest_work(self.graph.snapshot.parts, lines), cost_of(lines)
        checks.sort(key=lambda check: (PLACE[check.code], check.zone))
        price = bill.price(self.graph.snapshot.currency)
        made_of = (self.mounting, self.seat, trees, tuple(checks), lines, self.bolted)
        verdict = worst(check.verdict for check in checks)
        return Assessed(*made_of, work, bill, price, *tightest(checks), verdict)

    def _circuit_checks(self, trees: Trees) -> list[Check]:
        checks: list[Check] = []
        place = len(self.bolted)
        for (name, tree), code in zip(trees, self._codes(trees), strict=True):
            pieces = list(tree.pieces())
            checks += self._of_lines(name, code, tree, pieces)
            for piece in pieces:
                if piece.bolt_check is not None:
                    place += 1
                    checks.append(self._of_bolts(piece.bolt_check, piece, str(place)))
            if name == "fan":
                parts = [piece.part for piece in pieces if piece.part is not None]
                checks += along(self.seat, fan_checks(self.question, self.mounting.pump, parts, self.seat.flange))
        if trees and self.settlement.asked.coolant:
            checks.append(_thermostat(self.mounting, trees))
        return checks

    def _of_lines(self, name: str, code: Code, tree: Tree[Piece], pieces: list[Piece]) -> list[Check]:
        """That an obligation is met and by what; how narrow its lines are, and where the outlet points."""
        settled = _settled(name, code, self.mounting, pieces)
        lacks, checks = self.settlement.told_of_lines(tree, self.mounting.pump)
        if lacks:
            facts = {**settled.facts, "lacks": lacks}
            settled = Check(code, "measure_first", "not_known", facts, zone=name)
        return [settled, *checks]

    def _of_bolts(self, check: Check, piece: Piece, zone: str) -> Check:
        """The check of a piece's bolts, resting on the very part whose holes hold them, not on one that is alike."""
        pump, owner = self.mounting.pump, self.graph.snapshot.parts.get(piece.spot.owner)
        if owner is None or owner.kind not in ON_BLOCK or owner.number == pump.number:
            return msgspec.structs.replace(check, zone=zone)
        own = [rests(pump, rest.measure) if rest.part == owner.number else rest for rest in check.rests_on]
        return msgspec.structs.replace(check, zone=zone, rests_on=tuple(own))

    def _codes(self, trees: Trees) -> list[Code]:
        owed = self.settlement.obliged(self.mounting.pump, self.mounting.remote).obligations
        return [obligation.code for obligation in owed][: len(trees)]


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


def _settled(name: str, code: Code, mounting: Mounting, pieces: list[Piece]) -> Check:
    """That an obligation is met, and by what."""
    on_the_way = [
        piece for piece in pieces if piece.spot.connection and piece.spot.goal not in ("closed", "thermostat")
    ]
    goal = on_the_way[0].spot.goal if on_the_way else "closed"
    parts = [piece.part.name for piece in on_the_way or pieces if piece.part is not None]
    crossing = next((piece.part.name for piece in pieces if piece.crosses and piece.part is not None), None)
    facts: Facts = {
        "pump": mounting.pump.name,
        "seat": mounting.pump.kind,
        "obligation": name,
        "parts": parts,
        "goal": goal,
        "crossing": crossing,
    }
    reason = "port_closed" if goal == "closed" else "line_arrives"
    return Check(code, "ok", reason, facts, zone=name)


def _thermostat(mounting: Mounting, trees: Trees) -> Check:
    """In which part the thermostat sits, separate or included."""
    parts = [piece.part for _, tree in trees for piece in tree.pieces() if piece.part is not None]
    holders = [part for part in parts if part.kind == "thermostat_housing"]
    has = any(part.kind == "thermostat" for part in parts)
    for part in (*holders, mounting.pump):
        if has or part.attributes.get("thermostat_included") is True:
            return Check("thermostat", "ok", "has_thermostat", {"part": part.name})
    return Check("thermostat", "not_asked", "thermostat_elsewhere", {"pump": mounting.chosen.name})


def _holding(trees: Trees, number: str) -> set[str]:
    """The obligations in whose trees a part is."""
    return {
        name
        for name, tree in trees
        if any(part.number == number for piece in tree.pieces() for part, _ in pieces_parts(piece))
    }
