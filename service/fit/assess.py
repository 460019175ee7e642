"""Every check of one option: the mounting on its seat, its bolts, its circuits, its rules and the asker's limits."""

from collections.abc import Iterable, Iterator
from functools import cached_property, partial
from itertools import product
from typing import Final

import msgspec
from msgspec import UNSET

from catalog.domain import Part
from catalog.vocabulary import WORK
from service.fit.answer import Check, CheckVerdict, Code, Facts, worst
from service.fit.belt import rests
from service.fit.bolts import Bolted, clamped_groups
from service.fit.capped import Cap
from service.fit.circuit import ON_BLOCK, Piece, in_no_tree, pieces_parts
from service.fit.gap import fan_checks, fan_verdict
from service.fit.graph import is_kit
from service.fit.kept import Derived
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
from service.fit.ranking import standing
from service.fit.rules import Ruling, rule_on, settle
from service.fit.standing import Standing
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
    "rule",
    "outlet_side",
    "outlet_direction",
    "work",
    "price",
)
PLACE: Final = {code: place for place, code in enumerate(ORDER)}


def assess(settlement: Settlement, mounting: Mounting, seat: Seat) -> Assessed:
    """The best whole list of a mounting on a seat; one that fails, with its reasons, where there is none."""
    found: Iterable[Assessed]
    if settlement.shared_by is None:
        found = (assessor.assessed() for assessor in _assessors(settlement, mounting, seat))
    else:
        pulley = None if mounting.pulley is None else mounting.pulley.number
        # What is kept holds the seat, so that no other is known by its identity.
        key = (settlement.shared_by, mounting.chosen.number, mounting.pump.number, pulley, id(seat))
        shared = settlement.graph.options.get(key, lambda: Shared(_assessors(settlement, mounting, seat)))
        if not settlement.limits:
            return shared.best(settlement.question.rank_keys)
        found = map(partial(held_to, settlement), shared.options)
    return _best(found, settlement.question.rank_keys)


def _best(options: Iterable[Assessed], rank_keys: tuple[str, ...]) -> Assessed:
    """The one that stands first; one that fails only where all do."""
    return min(options, key=lambda option: (option.verdict == "fails", standing(option).key(rank_keys)))


class Shared:
    """What stands on a seat where the front alone decides it, with each choice of bolts, before limits are looked at.

    Whoever asks no more of it than its front shares it, and what is told of it.
    """

    def __init__(self, assessors: Iterable["_Assessor"]) -> None:
        found = (each.unlimited(()) for each in assessors)
        self.options = [
            msgspec.structs.replace(option, derived=Derived(option), stands=standing(option)) for option in found
        ]

    def best(self, rank_keys: tuple[str, ...]) -> Assessed:
        """The one that stands first; one that fails only where all do."""
        few = self._worth_ranking
        # All of them hold or none does, so the verdict need not be looked at.
        return few[0] if len(few) == 1 else min(few, key=lambda option: standing(option).key(rank_keys))

    @cached_property
    def _worth_ranking(self) -> list[Assessed]:
        """Those than which no other stands before by every ranking; mostly it is but one."""
        holding = [option for option in self.options if option.verdict != "fails"] or self.options
        stands = [standing(option) for option in holding]
        return [
            option
            for option, own in zip(holding, stands, strict=True)
            if not any(_always_before(other, own) for other in stands)
        ]

    @property
    def weight(self) -> int:
        """Roughly how many bytes it takes, the sentences of one of them included; measured on made catalogs."""
        return 20_000 + 8_000 * len(self.options)


def _always_before(one: Standing, other: Standing) -> bool:
    """Whether of two options on one seat the one stands before the other by every ranking.

    Every ranking has work, price and margin somewhere, and its last resort, the numbers, begin with the pieces.
    """
    pairs = [(getattr(one, key), getattr(other, key)) for key in ("verdict", "work", "price", "margin", "parts")]
    return all(a <= b for a, b in pairs) and (any(a < b for a, b in pairs) or one.numbers < other.numbers)


def _assessors(settlement: Settlement, mounting: Mounting, seat: Seat) -> Iterator["_Assessor"]:
    """What stands there with each choice of bolts."""
    groups = clamped_groups(settlement.question, seat, mounting.pump)
    choices = [settlement.bolts.shortest(group, str(place)) for place, group in enumerate(groups, 1)]
    return (_Assessor(settlement, mounting, seat, bolted) for bolted in product(*choices))


class _Assessor:
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

    def assessed(self) -> Assessed:
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
            best = _Assessor(lenient, self.mounting, self.seat, self.bolted)._best(work)
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
        work_first = next(key for key in question.rank_keys if key in ("work", "price", "parts")) == "work"
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
            if work_first:
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
        found = {self._held, ruling.check.verdict}
        for name, tree in trees:
            found.update(piece.bolt_check.verdict for piece in tree.pieces() if piece.bolt_check is not None)
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
            checks.append(_settled(name, code, self.mounting, pieces))
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
