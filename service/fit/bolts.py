"""Bolts, by clamped group: from the threaded hole that holds the group to the head of the bolt."""

from collections.abc import Mapping
from fractions import Fraction
from functools import cached_property

import msgspec

from catalog.domain import Connection, Kind, Part
from catalog.standards.threads import least_engagement
from catalog.vocabulary import WORK
from service.fit.answer import Check, CheckVerdict, Facts, RestsOn
from service.fit.belt import rests
from service.fit.bill import NO_BILL, Bill
from service.fit.graph import ConstraintGraph
from service.fit.paths import Seat
from service.fit.question import Question
from service.fit.stack import NOTHING, Sum, likelihood


class Group(msgspec.Struct, frozen=True):
    """What one set of bolts clamps: everything from the holding part's face up to the clamped part's flange."""

    holder: Part
    connection: Connection
    """The first joint of the group, whose bolts these are."""
    clamped: Sum | None
    """None where the thickness of the pump's flange is not known."""
    last: Part
    based_on: tuple[RestsOn, ...]
    of_block: bool = True
    """False for joints other than those between block and pump, for which a kit has bolts of their own."""


class Bolted(msgspec.Struct, frozen=True):
    """A group's check and the bolts that were chosen for it."""

    check: Check
    fasteners: Part | None
    quantity: int
    holder: Part


def clamped_groups(question: Question, seat: Seat, pump: Part) -> list[Group]:
    """The groups of a seat: a plate with threaded holes of its own ends one and holds the next."""
    groups = []
    holder, connection = question.slots["engine"], seat.joints[0].connection
    clamped, based_on = NOTHING, list[RestsOn]()
    for place, joint in enumerate(seat.joints):
        clamped += joint.thickness
        if joint.gasket is not None and joint.thickness is not NOTHING:
            based_on.append(rests(joint.gasket, "thickness"))
        part = pump if place == len(seat.plates) else seat.plates[place]
        ends_group = part is pump or "hole_depth" in part.measures
        flange = part is pump or (ends_group and "flange_thickness" in part.measures)
        if part.kind == "outlet_plate" and "flange_thickness" not in part.measures:
            flange = False
        measure = "flange_thickness" if flange else "thickness"
        known = measure in part.measures
        if known:
            clamped += Sum.of(part.measures[measure])
            based_on.append(rests(part, measure))
        if ends_group:
            groups.append(Group(holder, connection, clamped if known else None, part, tuple(based_on)))
            if part is not pump:
                holder, connection = part, seat.joints[place + 1].connection
                clamped, based_on = NOTHING, []
    return groups


def bolts_of(graph: ConstraintGraph, question: Question, group: Group, zone: str) -> list[Bolted]:
    """The shortest sets of bolts that hold the group, the cheapest of one length first.

    One entry with a failing check, and no bolts, where nothing holds it.
    """
    holder = group.holder
    thread, material = holder.attributes.get("thread"), holder.attributes.get("hole_material")
    facts: Facts = {
        "holder": _spoken(holder),
        "clamps": _spoken(group.last),
        "thread": thread,
        "material": material,
        "wet": holder.attributes.get("wet_holes") is True,
    }
    if group.clamped is None or "hole_depth" not in holder.measures or thread is None or material is None:
        missing = "flange_thickness" if group.clamped is None else "hole_depth, thread and hole_material"
        of = group.last if group.clamped is None else holder
        check = Check("bolts", "not_asked", "bolts_not_given", {**facts, "measure": missing, "of": of.name}, zone=zone)
        return [Bolted(check, None, 0, holder)]
    sets = [question.part(part) for part in graph.fasteners(str(thread)) if question.allows(part)]
    if not sets:
        return [Bolted(Check("bolts", "fails", "no_bolts", facts, zone=zone), None, 0, holder)]
    held = _shortest_that_hold(question, group, sets)
    if not held:
        fits = sorted((_Fit(question, group, part) for part in sets), key=lambda fit: fit.order)
        nearest = max(fits, key=lambda fit: min(fit.margins))
        return [Bolted(nearest.check(facts, zone), None, 0, holder)]
    return [Bolted(fit.check(facts, zone), fit.part, fit.quantity, holder) for fit in held]


def _shortest_that_hold(question: Question, group: Group, sets: list[Part]) -> "list[_Fit]":
    """Of the sets that hold everywhere the shortest; else of those that may hold."""
    by_length: dict[int, list[Part]] = {}
    for part in sets:
        by_length.setdefault(part.measures[_measure_of(group, part)].nominal, []).append(part)
    may_hold: list[_Fit] = []
    for length in sorted(by_length):
        fits = [_Fit(question, group, part) for part in by_length[length] if _reaches(group, part)]
        fits.sort(key=lambda fit: fit.order)
        held = [fit for fit in fits if fit.verdict == "ok"]
        if held:
            return held
        may_hold = may_hold or [fit for fit in fits if fit.verdict == "measure_first"]
    return may_hold


def _measure_of(group: Group, part: Part) -> str:
    return "length.housing" if is_kit(part) and not group.of_block else "length"


def _reaches(group: Group, part: Part) -> bool:
    """Whether a set can be long enough; most are not, which is seen without more reckoning."""
    assert group.clamped is not None
    washer = part.measures.get("washer_thickness")
    grip = group.clamped.low + (0 if washer is None else washer.low)
    least = least_engagement(str(part.attributes["thread"]), str(group.holder.attributes["hole_material"]))
    return part.measures[_measure_of(group, part)].high - grip >= least


def worth_trying(graph: ConstraintGraph, question: Question, choices: list[Bolted]) -> list[Bolted]:
    """Of sets alike in all that rules, pieces at hand, kits and limits can touch, only those that none undercuts."""
    kept: list[tuple[tuple[object, ...], tuple[int, ...], Bolted]] = []
    for choice in choices:
        part = choice.fasteners
        joined = part is None or part.number in graph.ruled or part.number in question.have or is_kit(part)
        if joined or part is None:
            kept.append(((None,), (), choice))
            continue
        length, washer = part.measures["length"], part.measures.get("washer_thickness")
        alike = (length.low, length.high, None if washer is None else (washer.low, washer.high))
        priced = part.price is not None
        cost = part.price.amount * choice.quantity if part.price is not None else 0
        work = WORK.index(str(part.attributes.get("work", WORK[0])))
        takes = (work, 0 if priced else choice.quantity, cost, choice.quantity)
        if not any(
            alike == known and all(a <= b for a, b in zip(least, takes, strict=True)) for known, least, _ in kept
        ):
            kept.append((alike, takes, choice))
    return [choice for _, _, choice in kept]


class LeastBolts:
    """What the bolts of a seat add to a list at least, whatever their length turns out to be."""

    def __init__(self, graph: ConstraintGraph, question: Question) -> None:
        self._graph, self._question = graph, question
        self._known: dict[tuple[str, int], Bill] = {}

    def of(self, seat: Seat, pump: Part) -> Bill:
        """For each clamped group the least of every set with its thread; nothing where no bolts would be chosen."""
        total, holder, joint = NO_BILL, self._question.slots["engine"], seat.joints[0]
        for place, plate in enumerate(seat.plates):
            if "hole_depth" in plate.measures:
                total = total.plus(self._group(holder, joint.connection))
                holder, joint = plate, seat.joints[place + 1]
        if "flange_thickness" in pump.measures or (pump.kind == "outlet_plate" and "thickness" in pump.measures):
            total = total.plus(self._group(holder, joint.connection))
        return total

    def _group(self, holder: Part, connection: Connection) -> Bill:
        thread = holder.attributes.get("thread")
        if thread is None or "hole_material" not in holder.attributes or "hole_depth" not in holder.measures:
            return NO_BILL
        key = (str(thread), connection.bolts)
        if key not in self._known:
            self._known[key] = self._least(*key)
        return self._known[key]

    def _least(self, thread: str, bolts: int) -> Bill:
        found = []
        for part in self._graph.fasteners(thread):
            if self._question.allows(part):
                quantity = max(1, -(-bolts // int(part.attributes.get("pieces", 1))))
                buy = max(0, quantity - self._question.have.get(part.number, 0))
                priced = part.price is not None
                known = buy * part.price.amount if part.price is not None else 0
                found.append(Bill(0 if priced else buy, known, quantity))
        return Bill(*map(min, zip(*found, strict=True))) if found else NO_BILL


def _spoken(part: Part) -> str:
    """What an option has only one of is called by its kind."""
    kinds: dict[Kind, str] = {
        "engine": "the block",
        "water_pump": "the pump",
        "outlet_plate": "the outlet plate",
        "thermostat_housing": "the thermostat housing",
    }
    return kinds.get(part.kind, part.name)


def bolts_that_hold(graph: ConstraintGraph, question: Question, group: Group) -> list[tuple[Part, int]]:
    """Every set of bolts that holds the group everywhere within the tolerances, and how many sets it takes."""
    if group.clamped is None or "hole_depth" not in group.holder.measures:
        return []
    thread = group.holder.attributes.get("thread")
    sets = [question.part(part) for part in graph.fasteners(str(thread)) if question.allows(part)]
    fits = [_Fit(question, group, part) for part in sets if _reaches(group, part)]
    return [(fit.part, fit.quantity) for fit in sorted(fits, key=lambda fit: fit.order) if fit.verdict == "ok"]


def is_kit(part: Part) -> bool:
    """Whether a set holds bolts for other joints besides the block's."""
    return "length.housing" in part.measures


class _Fit:
    """One set of bolts in one group: engagement = length - washer - clamped."""

    def __init__(self, question: Question, group: Group, part: Part) -> None:
        assert group.clamped is not None
        thread, material = str(part.attributes["thread"]), str(group.holder.attributes["hole_material"])
        self.part, self.group = part, group
        self.measure = _measure_of(group, part)
        kit = self.measure != "length"
        self.length = part.measures[self.measure]
        washer = part.measures.get("washer_thickness")
        grip = group.clamped if washer is None else group.clamped + Sum.of(washer)
        self.engagement = Sum.of(self.length) - grip
        self.depth = Sum.of(group.holder.measures["hole_depth"])
        self.least = least_engagement(thread, material)
        pieces = int(part.attributes.get("housing_pieces" if kit else "pieces", 1))
        self.quantity = max(1, -(-group.connection.bolts // pieces))
        cost = _cost(question, part, self.quantity)
        self.order = (self.length.nominal, cost is None, cost or 0, part.number)

    @property
    def margins(self) -> tuple[Fraction, Fraction]:
        """How much more than the least engages, and how much of the hole is left."""
        return self.engagement.middle - self.least, self.depth.middle - self.engagement.middle

    @cached_property
    def verdict(self) -> CheckVerdict:
        engagement, depth, least = self.engagement, self.depth, self.least
        if engagement.low >= least and engagement.high <= depth.low:
            return "ok"
        if engagement.high < least or engagement.low > depth.high or depth.high < least:
            return "fails"
        return "measure_first"

    def check(self, facts: Mapping[str, object], zone: str) -> Check:
        engagement, depth = self.engagement, self.depth
        shallow = self.margins[1] < self.margins[0]
        slack = depth - engagement if shallow else engagement - self.least
        limit = depth.middle if shallow else Fraction(self.least)
        washer = (rests(self.part, "washer_thickness"),) if "washer_thickness" in self.part.measures else ()
        return Check(
            code="bolts",
            verdict=self.verdict,
            reason="engagement",
            facts={
                **facts,
                "bolts": self.part.name,
                "bolt_length": self.length.nominal,
                "least": self.least,
                "depth": depth.middle,
                "binds": "depth" if shallow else "least",
                "of_block": self.group.of_block,
            },
            value=engagement.middle,
            limit=limit,
            margin=min(self.margins),
            worst_case=min(engagement.low - self.least, depth.low - engagement.high),
            rss=min(self.margins) - slack.rss_half,
            likelihood=likelihood(slack, 0, None) if self.verdict == "measure_first" else None,
            rests_on=(
                rests(self.part, self.measure),
                *washer,
                *self.group.based_on,
                rests(self.group.holder, "hole_depth"),
                RestsOn(standard="least thread engagement by material, in diameters (handbook practice)"),
            ),
            zone=zone,
        )


def _cost(question: Question, part: Part, quantity: int) -> int | None:
    """What must be paid for the sets that are not at hand; None where they have no price."""
    buy = quantity - min(quantity, question.have.get(part.number, 0))
    return 0 if buy == 0 else None if part.price is None else part.price.amount * buy
