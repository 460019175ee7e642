"""What could be on the car instead of what a build names there: the likeliest first."""

from collections.abc import Iterator, Mapping
from typing import Any, Final, NamedTuple

import msgspec

from catalog.domain import Part, Side
from service.fit.build import RadiatorPorts
from service.fit.graph import ConstraintGraph
from service.fit.mounting import mount_check
from service.fit.question import SLOTS, Question

ON_THE_CAR: Final = ("accessory_drive", "front_cover", "crank_pulley", "radiator", "radiator_ports", "heater", "fan")
"""Fields for which something else can be taken. What stands there stays on the car, so giving it up mends nothing."""
MOST_TRIED: Final = 20
"""Other parts tried for one field."""
_OF_ONE_SORT: Final = ("driven_by", "belt_side", "profile", "ribs")
"""Attributes in which parts of one sort agree."""

Instead = Mapping[str, Any]
"""By field of the build, what to say there: mostly the very field, but a radiator in place of bare ports."""


class Other(NamedTuple):
    """Something else for a field, and in how much it differs in sort from what is there now."""

    unlike: int
    says: Instead


def others(graph: ConstraintGraph, question: Question, field: str) -> list[Other]:
    """What a field could say instead, the same sort before another, then the cheaper; all that there is."""
    now, said = question.slots.get(field), question.build.fan
    if field == "radiator_ports":
        ports = question.build.radiator_ports
        turned = [] if not isinstance(ports, RadiatorPorts) else list(_other_sides(ports))
        return [*(Other(0, {field: each}) for each in turned), *_parts(graph, question, "radiator")]
    if field == "fan" and now is None:
        return [Other(0, {field: word}) for word in ("electric", "mechanical") if word != said]
    return _parts(graph, question, field)


def _parts(graph: ConstraintGraph, question: Question, field: str) -> list[Other]:
    now = question.slots.get(field)
    found = [
        part
        for part in graph.of_kind(SLOTS[field])
        if question.allows(part)
        and (now is None or part.number != now.number)
        and goes_on(graph, question, field, part)
    ]
    found.sort(key=lambda part: (_unlike(now, part), part.price is None, _amount(part), part.number))
    return [Other(_unlike(now, part), {field: part.number}) for part in found]


def goes_on(graph: ConstraintGraph, question: Question, field: str, part: Part) -> bool:
    """Whether nothing that the catalog says of the part and the engine alone keeps it from the car."""
    engine = question.slots["engine"]
    pair = {engine.number, part.number}
    for rule in (*graph.rules_of(engine.number), *graph.rules_of(part.number)):
        if rule.kind == "excludes" and pair <= {rule.part, *rule.others}:
            return False
    alone = msgspec.structs.replace(question, slots={"engine": engine, field: part})
    return mount_check(graph, alone).verdict != "fails"


def _unlike(now: Part | None, part: Part) -> int:
    """In how much a part differs in sort from what is there now."""
    if now is None:
        return 0
    differing = sum(now.attributes.get(name) != part.attributes.get(name) for name in _OF_ONE_SORT)
    mine, its = ({(port.role, port.connection) for port in each.ports} for each in (now, part))
    return differing + len(mine - its)


def _amount(part: Part) -> int:
    return 0 if part.price is None else part.price.amount


def _other_sides(ports: RadiatorPorts) -> Iterator[RadiatorPorts]:
    """The same radiator with one port, or both, on the other side."""
    other: dict[object, Side] = {"left": "right", "right": "left"}
    for names in (("upper",), ("lower",), ("upper", "lower")):
        told = {name: getattr(ports, name) for name in names}
        if all(port.side in other for port in told.values()):
            turned = {name: msgspec.structs.replace(port, side=other[port.side]) for name, port in told.items()}
            yield msgspec.structs.replace(ports, **turned)
