"""Which sets of bolts a question may take: the shortest that hold a group, all that do, and what they cost at least."""

from typing import Final, Literal

import msgspec

from catalog.domain import Connection, Part
from catalog.standards.threads import least_engagement
from service.fit.answer import Check, Facts
from service.fit.bill import NO_BILL, Bill
from service.fit.bolts import Bolted, Fit, Group, lacking, measure_of, spoken_part
from service.fit.graph import ConstraintGraph, is_kit
from service.fit.paths import Seat
from service.fit.question import Question
from service.fit.tally import work_of

_UNLIKE_ANY: Final = ("joined",)


class BoltSets:
    """The sets of bolts of one question; groups alike in their holes and their thickness are looked at once."""

    def __init__(self, graph: ConstraintGraph, question: Question) -> None:
        self._graph, self._question = graph, question
        self._allowed: dict[str, list[Part]] = {}
        self._held: dict[tuple[object, ...], list[Part]] = {}
        self._holding: dict[tuple[object, ...], list[tuple[Part, int]]] = {}
        self._least: dict[tuple[str, int], Bill] = {}

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
            of = group.last if group.clamped is None else holder
            names = ["flange_thickness"] if group.clamped is None else lacking(holder)
            facts = {**facts, "names": names, "of": of.name}
            return [Bolted(Check("bolts", "not_asked", "bolts_not_given", facts, zone=zone), None, 0, holder)]
        sets = self._sets(str(thread))
        if not sets:
            known = [part.name for part in self._graph.fasteners(str(thread))]
            reason = "no_bolts_allowed" if known else "no_bolts"
            return [Bolted(Check("bolts", "fails", reason, {**facts, "known": known}, zone=zone), None, 0, holder)]
        held = self._held_by(group, sets)
        if not held:
            fits = sorted((Fit(self._question, group, part) for part in sets), key=lambda fit: fit.order)
            nearest = max(fits, key=lambda fit: min(fit.margins))
            return [Bolted(nearest.check(facts, zone), None, 0, holder)]
        return [Fit(self._question, group, part).bolted(facts, zone) for part in held]

    def first_that_holds(self, group: Group) -> Part | Literal["not_asked"] | None:
        """The first of the shortest sets that hold the group, None where nothing does; without making its check."""
        holder = group.holder
        known = group.clamped is not None and not lacking(holder)
        if not known:
            return "not_asked"
        sets = self._sets(str(holder.attributes["thread"]))
        held = self._held_by(group, sets) if sets else []
        return held[0] if held else None

    def that_hold(self, group: Group) -> list[tuple[Part, int]]:
        """Every set that holds the group everywhere within the tolerances, and how many sets it takes."""
        if group.clamped is None or "hole_depth" not in group.holder.measures:
            return []
        key = _key(group)
        if key not in self._holding:
            sets = self._sets(str(group.holder.attributes.get("thread")))
            fits = [Fit(self._question, group, part) for part in sets if _reaches(group, part)]
            held = [fit for fit in sorted(fits, key=lambda fit: fit.order) if fit.verdict == "ok"]
            self._holding[key] = [(fit.part, fit.quantity) for fit in held]
        return self._holding[key]

    def least(self, seat: Seat, *, last: bool) -> Bill:
        """What the bolts of a seat add to a list at least, those of its last group where they are chosen."""
        total, holder, joint = NO_BILL, self._question.slots["engine"], seat.joints[0]
        for place, plate in enumerate(seat.plates):
            if "hole_depth" in plate.measures:
                total = total.plus(self._least_of(holder, joint.connection))
                holder, joint = plate, seat.joints[place + 1]
        return total.plus(self._least_of(holder, joint.connection)) if last else total

    def _sets(self, thread: str) -> list[Part]:
        if thread not in self._allowed:
            question = self._question
            sets = self._graph.fasteners(thread)
            self._allowed[thread] = [question.part(part) for part in sets if question.allows(part)]
        return self._allowed[thread]

    def _held_by(self, group: Group, sets: list[Part]) -> list[Part]:
        """Of the sets that hold everywhere the shortest; else of those that may hold."""
        key = _key(group)
        if key not in self._held:
            self._held[key] = self._find_held(group, sets)
        return self._held[key]

    def _find_held(self, group: Group, sets: list[Part]) -> list[Part]:
        by_length: dict[int, list[Part]] = {}
        for part in sets:
            if _reaches(group, part):
                by_length.setdefault(part.measures[measure_of(group, part)].nominal, []).append(part)
        may_hold: list[Fit] = []
        for length in sorted(by_length):
            fits = sorted((Fit(self._question, group, part) for part in by_length[length]), key=lambda fit: fit.order)
            held = [fit for fit in fits if fit.verdict == "ok"]
            if held:
                return self._worth_trying(held)
            may_hold = may_hold or [fit for fit in fits if fit.verdict == "measure_first"]
        return self._worth_trying(may_hold)

    def _worth_trying(self, fits: list[Fit]) -> list[Part]:
        kept: list[tuple[tuple[object, ...], tuple[int, ...], Part]] = []
        for fit in fits:
            alike, takes = self._alike(fit.part), _takes(fit)
            undercut = alike != _UNLIKE_ANY and any(
                alike == known and all(a <= b for a, b in zip(least, takes, strict=True)) for known, least, _ in kept
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


def bolt_sets_of(graph: ConstraintGraph, question: Question) -> BoltSets:
    """The sets of bolts of a question, shared with every other question of the release that asks the same of them."""
    build = question.build
    key = msgspec.json.encode((build.engine, build.measured, build.have, sorted(question.without)))
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


def _reaches(group: Group, part: Part) -> bool:
    """Whether a set can be long enough; most are not, which is seen without more reckoning."""
    assert group.clamped is not None
    washer = part.measures.get("washer_thickness")
    grip = group.clamped.low + (0 if washer is None else washer.low)
    least = least_engagement(str(part.attributes["thread"]), str(group.holder.attributes["hole_material"]))
    return part.measures[measure_of(group, part)].high - grip >= least
