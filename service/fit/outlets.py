"""Where the outlet of what sits on the block points, for a build that asks for no line from it.

The line itself tells it where there is one. Else it is the port's own side and direction, or what a neck on it would
make of them: who leaves the radiator out may choose the neck later.
"""

from collections.abc import Iterator
from typing import NamedTuple

from catalog.domain import Part, Port
from service.fit.answer import Check, Code
from service.fit.circuit import FLEXIBLE, Pointing, points_behind
from service.fit.graph import ConstraintGraph
from service.fit.line_checks import pointing_checks
from service.fit.obligations import ports_known, wants_outlet
from service.fit.question import Question
from service.fit.trees import MOST_PARTS
from service.fit.whole import Settlement


class _Mouth(NamedTuple):
    """A way for the outlet to point: by itself, or with a neck on it."""

    points: Pointing
    neck: Part | None


def outlet_checks(settlement: Settlement, part: Part) -> list[Check]:
    """Whether the outlet points where the build wants it to, by that way which comes nearest."""
    question = settlement.question
    ports = [port for port in part.ports if port.role == "coolant_out"]
    if not wants_outlet(question) or (settlement.asked.coolant and ports):
        return []
    mouths = [_Mouth((port.side, port.direction), None) for port in ports]
    if not ports and ports_known(part):
        must = question.build.must
        code: Code = "outlet_side" if isinstance(must.outlet_side, str) else "outlet_direction"
        return [Check(code, "fails", "no_outlet", {"pump": part.name, "seat": part.kind})]
    necks = [mouth for port in ports for mouth in _necks(settlement.graph, question, port)]
    found = [
        pointing_checks(question, part, mouth.neck, mouth.points, takes_neck=bool(necks))
        for mouth in (*mouths, *necks) or [_NOWHERE]
    ]
    return min(found, key=lambda checks: [sum(check.verdict == verdict for check in checks) for verdict in _WORST])


_NOWHERE = _Mouth((None, None), None)
_WORST = ("fails", "measure_first")


def _necks(graph: ConstraintGraph, question: Question, outlet: Port) -> Iterator[_Mouth]:
    """Where necks on an outlet point, one upon the other, the nearest first, each way once."""
    ends = [(outlet, (outlet.side, outlet.direction))]
    seen = {(outlet.connection, outlet.end, outlet.side, outlet.direction)}
    for _ in range(MOST_PARTS):
        behind: list[tuple[Port, Pointing]] = []
        for port, points in ends:
            connection = graph.connection(port.connection)
            if connection.sort in FLEXIBLE:
                continue
            for part, mount in graph.meeting(port):
                if part.kind != "fitting" or not question.allows(part):
                    continue
                for carrier in part.ports:
                    then = points_behind(connection, points, carrier)
                    state = (carrier.connection, carrier.end, *then)
                    if carrier is not mount and carrier.role in ("line", "mount") and state not in seen:
                        seen.add(state)
                        behind.append((carrier, then))
                        yield _Mouth(then, part)
        ends = behind
