"""Other parts that would serve in the place of a listed one, with everything else as it is."""

from collections.abc import Iterable, Iterator
from itertools import islice
from typing import Final

import msgspec

from catalog.domain import Part, Price
from service.fit.answer import Alternative, ListedPart
from service.fit.assess import assess
from service.fit.assessor import present_parts
from service.fit.bolts import clamped_groups
from service.fit.front import front_of
from service.fit.gap import fan_verdict
from service.fit.mounting import plates_of, with_circuits
from service.fit.options import Assessed
from service.fit.question import Question
from service.fit.rules import rule_on
from service.fit.tally import work_of
from service.fit.whole import Settlement

MOST_ALTERNATIVES: Final = 10
"""Alternatives told for one part."""
_LIKE_FOR_LIKE: Final = ("hose", "fitting", "plug", "cap", "thermostat", "thermostat_housing", "fan", "fan_adapter")


def with_alternatives(settlement: Settlement, option: Assessed) -> tuple[ListedPart, ...]:
    """The parts list, each part with the others for its role: the cheaper first, unpriced ones last."""
    return tuple(msgspec.structs.replace(line, alternatives=_told(settlement, option, line)) for line in option.lines)


def within_price(question: Question, option: Assessed, lines: tuple[ListedPart, ...]) -> tuple[ListedPart, ...]:
    """The lines of an option with those of their alternatives that keep it within the price that the build allows."""
    limit = question.price_at_most
    if limit is None:
        return lines

    def keeps(other: Alternative) -> bool:
        dearer = other.price_difference
        return dearer is not None and option.bill.known + dearer.amount <= limit

    return tuple(
        line
        if all(map(keeps, line.alternatives))
        else msgspec.structs.replace(line, alternatives=tuple(filter(keeps, line.alternatives)))
        for line in lines
    )


Candidate = tuple[Part, int]
"""A part and how many of it would be needed."""


def _told(settlement: Settlement, option: Assessed, line: ListedPart) -> tuple[Alternative, ...]:
    currency = settlement.graph.snapshot.currency
    now = _cost(settlement.graph.snapshot.parts[line.part], line.quantity, line.at_hand)
    # Looked at in order, so that no more are held against the option than are told.
    keeping = (each for each in _in_order(settlement, option, line) if _keeps(settlement, option, line, each[1]))
    return tuple(
        Alternative(other.number, None if cost is None or now is None else Price(cost - now, currency))
        for cost, (other, _) in islice(keeping, MOST_ALTERNATIVES)
    )


def _in_order(settlement: Settlement, option: Assessed, line: ListedPart) -> Iterable[tuple[int | None, Candidate]]:
    """What each candidate would cost, the cheapest first, unpriced ones last."""
    have = settlement.question.have
    found = (
        (_cost(other, quantity, have.get(other.number, 0)), (other, quantity))
        for other, quantity in _others(settlement, option, line)
    )
    if line.kind in _LIKE_FOR_LIKE and not have:
        return found  # as the graph has them
    return sorted(found, key=lambda each: (each[0] is None, each[0] or 0, each[1][0].number))


def _cost(part: Part, quantity: int, at_hand: int) -> int | None:
    """What must be paid for so many; None where the part has no price."""
    buy = max(0, quantity - at_hand)
    return 0 if buy == 0 else None if part.price is None else buy * part.price.amount


def _others(settlement: Settlement, option: Assessed, line: ListedPart) -> Iterator[Candidate]:
    """Parts for the same role, before they are held against the option."""
    question, graph = settlement.question, settlement.graph
    part = graph.snapshot.parts[line.part]
    candidates: Iterable[Candidate]
    if line.role == "required":
        return
    if part.kind == "pulley":
        candidates = ((pulley, 1) for pulley in _pulleys(settlement, option))
    elif part.kind == "fastener_set":
        candidates = _bolts(settlement, option, part)
    elif part.kind in _LIKE_FOR_LIKE and not _is_named(settlement, part):
        candidates = ((other, line.quantity) for other in graph.like(part))
    else:
        return
    for other, quantity in candidates:
        if other.number != part.number and question.allows(other):
            yield other, quantity


def _is_named(settlement: Settlement, part: Part) -> bool:
    return any(part.number == named.number for named in settlement.question.slots.values())


def _pulleys(settlement: Settlement, option: Assessed) -> Iterator[Part]:
    """Other pulleys on the hub of this pump that put the belt in plane on this very seat."""
    front = front_of(settlement.graph, settlement.question)
    for place in front.mountings_of[option.mounting.pump.number]:
        mounting = with_circuits(settlement, front.mountings[place])
        fits = mounting.pulley is not None and not mounting.hopeless and mounting.possible(option.seat.flange)
        if fits and mounting.pulley and assess(settlement, mounting, option.seat).verdict != "fails":
            yield mounting.pulley


def _bolts(settlement: Settlement, option: Assessed, part: Part) -> Iterator[Candidate]:
    """Other bolts that hold for certain, for a set that holds one group of the block's."""
    groups = clamped_groups(settlement.question, option.seat, option.mounting.pump)
    holding = [
        group
        for group, bolted in zip(groups, option.bolted, strict=True)
        # By number: where the asker has read it, the part is not the catalog's.
        if bolted.fasteners is not None and bolted.fasteners.number == part.number
    ]
    others = sum(1 for check in option.checks if check.code == "bolts" and check.facts.get("bolts") == part.name)
    if len(holding) == 1 and others == 1:
        yield from settlement.bolts.that_hold(holding[0])


def _keeps(settlement: Settlement, option: Assessed, line: ListedPart, candidate: Candidate) -> bool:
    """Whether the option still holds with the other part: its work, its price, its rules, its room for a fan."""
    question, graph = settlement.question, settlement.graph
    other, quantity = candidate
    if work_of(other) > option.work:
        return False
    if question.price_at_most is not None:
        cost = _cost(other, quantity, question.have.get(other.number, 0))
        now = _cost(graph.snapshot.parts[line.part], line.quantity, line.at_hand)
        if cost is None or now is None or option.bill.known + cost - now > question.price_at_most:
            return False
    if other.kind in ("fan", "fan_adapter") and not _fan_has_room(settlement, option, line.part, other):
        return False
    if not ({line.part, other.number} & graph.ruled):
        return True
    present = present_parts(question, option)
    present.pop(line.part, None)
    ruling = rule_on(graph, question, {**present, other.number: other}, plates_of(option.mounting, option.seat))
    return ruling.check.verdict == "ok" and not ruling.brought


def _fan_has_room(settlement: Settlement, option: Assessed, replaced: str, other: Part) -> bool:
    tree = next((tree for name, tree in option.trees if name == "fan"), None)
    parts = [] if tree is None else [piece.part for piece in tree.pieces() if piece.part is not None]
    swapped = [other if part.number == replaced else part for part in parts]
    return fan_verdict(settlement.question, option.mounting.pump, swapped, option.seat.flange) == "ok"
