"""Other parts that would serve in the place of a listed one, with everything else as it is."""

from collections.abc import Iterator
from typing import Final

import msgspec

from catalog.domain import Part, Price
from catalog.vocabulary import WORK
from service.fit.answer import Alternative, ListedPart
from service.fit.assess import assess, fan_checks, present_parts
from service.fit.bolts import bolts_that_hold, clamped_groups
from service.fit.mounting import mountings, plates_of
from service.fit.options import Assessed
from service.fit.rules import rule_on
from service.fit.whole import Settlement

MOST_ALTERNATIVES: Final = 10
"""Alternatives told for one part."""
_LIKE_FOR_LIKE: Final = ("hose", "fitting", "plug", "cap", "thermostat", "thermostat_housing", "fan", "fan_adapter")


def with_alternatives(settlement: Settlement, option: Assessed) -> tuple[ListedPart, ...]:
    """The parts list, each part with the others for its role: the cheaper first, unpriced ones last."""
    return tuple(
        msgspec.structs.replace(line, alternatives=_told(line, _others(settlement, option, line)))
        for line in option.lines
    )


def _told(line: ListedPart, others: Iterator[Part]) -> tuple[Alternative, ...]:
    found = sorted(others, key=lambda part: (part.price is None, part.price.amount if part.price else 0, part.number))
    return tuple(Alternative(part.number, _difference(line.price, part.price)) for part in found[:MOST_ALTERNATIVES])


def _difference(price: Price | None, other: Price | None) -> Price | None:
    return None if price is None or other is None else Price(other.amount - price.amount, other.currency)


def _others(settlement: Settlement, option: Assessed, line: ListedPart) -> Iterator[Part]:
    question, graph = settlement.question, settlement.graph
    part = graph.snapshot.parts[line.part]
    if line.role == "required":
        return
    if part.kind == "pulley":
        candidates = _pulleys(settlement, option)
    elif part.kind == "fastener_set":
        candidates = _bolts(settlement, option, part)
    elif part.kind in _LIKE_FOR_LIKE and not _is_named(settlement, part):
        candidates = iter(graph.like(part))
    else:
        return
    for other in candidates:
        if other.number != part.number and question.allows(other) and _keeps(settlement, option, line, other):
            yield other


def _is_named(settlement: Settlement, part: Part) -> bool:
    return any(part.number == named.number for named in settlement.question.slots.values())


def _pulleys(settlement: Settlement, option: Assessed) -> Iterator[Part]:
    """Other pulleys on the hub of this pump that put the belt in plane on this very seat."""
    for mounting in mountings(settlement, option.mounting.pump):
        fits = mounting.pulley is not None and not mounting.hopeless and mounting.possible(option.seat.flange)
        if fits and mounting.pulley and assess(settlement, mounting, option.seat).verdict != "fails":
            yield mounting.pulley


def _bolts(settlement: Settlement, option: Assessed, part: Part) -> Iterator[Part]:
    """Longer bolts that hold as well, for a set that holds one group of the block's."""
    groups = clamped_groups(settlement.question, option.seat, option.mounting.pump)
    holding = [group for group, bolted in zip(groups, option.bolted, strict=True) if bolted.fasteners is part]
    others = sum(1 for check in option.checks if check.code == "bolts" and check.facts.get("bolts") == part.name)
    if len(holding) == 1 and others == 1:
        yield from bolts_that_hold(settlement.graph, settlement.question, holding[0])


def _keeps(settlement: Settlement, option: Assessed, line: ListedPart, other: Part) -> bool:
    """Whether the option still holds with the other part: its work, its price, its rules, its room for a fan."""
    question, graph = settlement.question, settlement.graph
    if WORK.index(str(other.attributes.get("work", WORK[0]))) > option.work:
        return False
    if question.price_at_most is not None:
        buy = line.quantity - line.at_hand
        if other.price is None:
            return False
        more = buy * (other.price.amount - (line.price.amount if line.price else 0))
        if option.bill.known + more > question.price_at_most:
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
    checks = fan_checks(settlement.question, option.mounting.pump, swapped, option.seat.flange)
    return all(check.verdict in ("ok", "not_asked") for check in checks)
