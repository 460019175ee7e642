"""Why nothing settles an obligation: what would if a side, a size or where the outlet points did not matter."""

from collections.abc import Iterable, Iterator
from typing import Any, Final

from catalog.domain import Part, Role
from service.fit.answer import Check
from service.fit.circuit import SIDED, Piece, Slack
from service.fit.graph import ConstraintGraph
from service.fit.line_checks import Line, lines_of, outlet_checks, size_check
from service.fit.obligations import Obligation
from service.fit.trees import Tree
from service.fit.whole import Settlement

_SLACK: Final[tuple[tuple[Slack, ...], ...]] = (
    ("points",),
    ("sizes",),
    ("sides",),
    ("points", "sizes", "sides"),
)
"""What is left out of account, one after the other, then all of it."""


def unsettled_checks(settlement: Settlement, obligation: Obligation, part: Part, remote: Part | None) -> list[Check]:
    """The checks that fail where nothing settles an obligation of what sits on the block."""
    said = settlement.fault_of(obligation)
    facts: dict[str, Any] = {"pump": (remote or part).name, "obligation": obligation.name, "said": said}
    facts["without"] = bool(settlement.question.without)
    if said:
        return [Check(obligation.code, "fails", "size_unknown", facts, zone=obligation.name)]
    for slack in _SLACK:
        tree = settlement.relaxed(obligation.root, slack)
        found = [] if tree is None else list(_failing(settlement, obligation, part, tree, facts))
        if found:
            return found
    other = _other_housing(settlement, obligation, part, facts)
    return [other or Check(obligation.code, "fails", "nothing_leads", facts, zone=obligation.name)]


def _failing(
    settlement: Settlement, obligation: Obligation, part: Part, tree: Tree[Piece], facts: dict[str, Any]
) -> Iterator[Check]:
    """What a tree fails by that would settle the obligation but for its sides, its sizes or where it points."""
    graph, question = settlement.graph, settlement.question
    for line in lines_of(tree, part):
        sized = size_check(graph, question, line)
        checks = [*([] if sized is None else [sized]), *outlet_checks(graph, question, line)]
        yield from (check for check in checks if check.verdict == "fails")
        reason = _crossing(settlement, line)
        if reason:
            yield Check(obligation.code, "fails", reason, facts, zone=obligation.name)


def _crossing(settlement: Settlement, line: Line) -> str:
    """Whether a line fails by its hoses: those that there are all cross, or none does; empty where it does not."""
    last, crossing = line.last, [piece for piece in line.pieces if piece.crosses]
    ends = [end.side for end in settlement.asked.ends.get(last.goal, ()) if end.connection == last.connection]
    if last.goal not in SIDED:
        return ""
    if any(piece.spot.side == "centre" for piece in crossing):
        return "hoses_cross"
    opposite = {"left": "right", "right": "left"}.get(last.side or "")
    if opposite is None or any(side != opposite for side in ends):
        return ""
    return "hoses_cross" if crossing else "no_hose_crosses"


def _other_housing(settlement: Settlement, obligation: Obligation, part: Part, facts: dict[str, Any]) -> Check | None:
    """That the housings there are have another face than this one; None where that is not the reason."""
    graph, question = settlement.graph, settlement.question
    housings = [housing for housing in graph.of_kind("thermostat_housing") if question.allows(housing)]
    own, has = _faces([part], "housing"), _faces(housings, "mount")
    if obligation.name != "inlet" or not own or not has or own & has:
        return None
    told = {**facts, "own": _titles(graph, own)[0], "faces": _titles(graph, has)}
    return Check(obligation.code, "fails", "housings_of_another_face", told, zone=obligation.name)


def other_face(graph: ConstraintGraph, housing: Part, pumps: Iterable[Part]) -> Check | None:
    """That a housing bolts to another face than any of these pumps has; None where that is not so."""
    mounts, own = _faces([housing], "mount"), _faces(pumps, "housing")
    if housing.kind != "thermostat_housing" or not mounts or not own or mounts & own:
        return None
    facts = {"part": housing.name, "own": _titles(graph, mounts)[0], "faces": _titles(graph, own)}
    return Check("inlet_path", "fails", "housing_of_another_face", facts)


def _faces(parts: Iterable[Part], role: Role) -> frozenset[str]:
    """The connections by which parts take a housing, or housings bolt on."""
    return frozenset(port.connection for part in parts for port in part.ports if port.role == role)


def _titles(graph: ConstraintGraph, connections: Iterable[str]) -> list[str]:
    return [graph.connection(name).title for name in sorted(connections)]
