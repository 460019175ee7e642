"""What would fit: every minimal set of requirements to give up, and parts to take instead, each with a whole option."""

from collections.abc import Iterator
from itertools import islice, product
from typing import Any, Final

import msgspec

from catalog.domain import Part, Price, Side
from service.fit.answer import Option, Remedy
from service.fit.build import Build, RadiatorPorts
from service.fit.mounting import mount_check
from service.fit.question import SLOTS, Question, resolve
from service.fit.requirements import dropping, keeping_of
from service.fit.search import told
from service.fit.tries import Tries

MOST_REMEDIES: Final = 20
"""Remedies told of one build."""
MOST_TRIED: Final = 20
"""Parts tried instead of one, and combinations of them tried for one set of requirements."""
MOST_SWAPS: Final = 3
"""Swaps told for one set of requirements."""
_SWAPPED: Final = ("accessory_drive", "front_cover", "crank_pulley", "radiator", "radiator_ports", "heater", "fan")
"""Requirements for which something else can be taken; another pump or pulley is chosen where they are given up."""
_WISHES: Final = ("must.",)
_CHOICES: Final = ("pump", "pulley", "pump_drive")


def remedies(tries: Tries, corrections: tuple[tuple[str, ...], ...]) -> list[Remedy]:
    """The remedies that these corrections make, the cheapest change first."""
    found: list[tuple[tuple[object, ...], Remedy]] = []
    for correction in corrections:
        kept = [field for field in tries.requirements if field not in correction]
        best = _best(tries, keeping_of(tries.question, kept))
        if best is not None:
            found.append((_cost(correction, 0, best), Remedy(correction, {}, {}, None, best)))
        found += _swaps(tries, correction)
    return [remedy for _, remedy in sorted(found, key=lambda pair: pair[0])]


def _best(tries: Tries, question: Question) -> Option | None:
    found = tries.best(question)
    return None if found is None else told(*found, None, 1)


def _cost(fields: tuple[str, ...], parts: int, best: Option) -> tuple[object, ...]:
    """What a change takes: how many fields, of which kind, and what must be paid, the parts swapped in included."""
    unknown = best.buy_price is None
    sorts = sorted((_sort(field) for field in fields), reverse=True)
    return (
        len(fields),
        sorts,
        unknown,
        0 if best.buy_price is None else best.buy_price.amount + parts,
        fields,
        best.pump,
    )


def _sort(field: str) -> int:
    """A wish is given up for nothing; a choice is made anew; what the car has must be changed."""
    return 0 if field.startswith("must.") else 1 if field in _CHOICES else 2


def _swaps(tries: Tries, correction: tuple[str, ...]) -> Iterator[tuple[tuple[object, ...], Remedy]]:
    """What can be taken instead of the fields of a correction that name a part; its other fields are given up."""
    fields = [field for field in correction if field in _SWAPPED]
    if not fields:
        return
    given_up = tuple(field for field in correction if field not in fields)
    reduced = dropping(tries.question.build, given_up)
    holding: list[tuple[dict[str, Any], Question]] = []
    combinations = product(*(islice(_others(tries, field), MOST_TRIED) for field in fields))
    for values in islice(combinations, MOST_TRIED):
        swap = dict(zip(fields, values, strict=True))
        question = _swapped(tries, reduced, swap)
        if tries.has_option(question):
            holding.append((swap, question))
            if len(holding) == MOST_SWAPS:
                break
    for swap, question in holding:
        best = _best(tries, question)
        if best is not None:
            parts = {field: question.slots[field] for field in swap if field in question.slots}
            price = _price_of(tries, list(parts.values()))
            names = {field: part.name for field, part in parts.items()}
            cost = _cost(correction, 0 if price is None else price.amount, best)
            yield (*cost, sorted(map(str, swap.values()))), Remedy(given_up, swap, names, price, best)


def _swapped(tries: Tries, build: Build, swap: dict[str, Any]) -> Question:
    return resolve(tries.graph.snapshot, msgspec.structs.replace(build, **swap))


def _price_of(tries: Tries, parts: list[Part]) -> Price | None:
    prices = [part.price.amount for part in parts if part.price is not None]
    return Price(sum(prices), tries.graph.snapshot.currency) if parts and len(prices) == len(parts) else None


def _others(tries: Tries, field: str) -> Iterator[Any]:
    """What a field could say instead, the likeliest first."""
    question = tries.question
    if field == "radiator_ports":
        yield from _other_sides(question.build.radiator_ports)
        return
    now = question.slots.get(field)
    if field == "fan" and now is None:
        yield from (word for word in ("electric", "mechanical") if word != question.build.fan)
        return
    parts = [
        part
        for part in tries.graph.of_kind(SLOTS[field])
        if question.allows(part) and (now is None or part.number != now.number) and _bolts_on(tries, field, part)
    ]
    parts.sort(key=lambda part: (not part.recommended, part.price is None, part.number))
    yield from (part.number for part in parts)


def _bolts_on(tries: Tries, field: str, part: Part) -> bool:
    engine = tries.question.slots["engine"]
    alone = msgspec.structs.replace(tries.question, slots={"engine": engine, field: part})
    return mount_check(tries.graph, alone).verdict != "fails"


def _other_sides(ports: object) -> Iterator[RadiatorPorts]:
    """The same radiator with one port, or both, on the other side."""
    if not isinstance(ports, RadiatorPorts):
        return
    other: dict[object, Side] = {"left": "right", "right": "left"}
    for names in (("upper",), ("lower",), ("upper", "lower")):
        told_sides = {name: getattr(ports, name) for name in names}
        if all(port.side in other for port in told_sides.values()):
            turned = {name: msgspec.structs.replace(port, side=other[port.side]) for name, port in told_sides.items()}
            yield msgspec.structs.replace(ports, **turned)
