"""What is told of the lines of a tree: on which side each arrives, how narrow it is, and where the outlet points."""

from collections.abc import Iterator
from typing import Any, Final, NamedTuple

from msgspec import UNSET

from catalog.domain import Part
from service.fit.answer import Check, Code
from service.fit.bore import NARROWEST, width
from service.fit.circuit import FLEXIBLE, ON_BLOCK, SIDED, Asked, Goal, Piece, Pointing, Spot
from service.fit.graph import ConstraintGraph
from service.fit.question import Question
from service.fit.told import Lack
from service.fit.trees import Tree

_LINES: Final[dict[Goal, str]] = {
    "upper_by_thermostat": "upper",
    "upper": "upper",
    "lower": "lower",
    "pumped": "pumped",
    "heater_feed": "heater_feed",
    "heater_return": "heater_return",
    "loop": "loop",
}
"""By goal which line of an option it is; of other goals no size is looked at."""


_STARTS: Final[dict[Goal, str]] = {
    "upper_by_thermostat": "outlet",
    "upper": "outlet",
    "lower": "inlet",
    "heater_feed": "heater_feed",
    "heater_return": "heater_return",
}
"""By goal the port at which a line starts, as it is called on what sits on the block, which has several."""
_ENDS: Final[dict[Goal, str]] = {**_STARTS, "upper_by_thermostat": "upper", "upper": "upper", "lower": "lower"}
"""By goal the port of the asker's own part at which a line ends."""


class Line(NamedTuple):
    """A line of a tree: its pieces from the port where it starts to its end, and the part whose port that is."""

    name: str
    start: Part
    pieces: tuple[Piece, ...]

    @property
    def last(self) -> Spot:
        """The port that meets its end."""
        return self.pieces[-1].spot

    @property
    def holders(self) -> tuple[Part, ...]:
        """By piece the part that has the port which it meets."""
        return (self.start, *(piece.part for piece in self.pieces[:-1] if piece.part is not None))

    def bolted(self, graph: ConstraintGraph) -> int:
        """How many of its first parts are bolted, pressed, welded or screwed on, so that they point where they do."""
        stiff = [graph.connection(piece.spot.connection).sort not in FLEXIBLE for piece in self.pieces]
        return stiff.index(False) if False in stiff else len(stiff) - 1


def lines_of(tree: Tree[Piece], start: Part, before: str = "") -> Iterator[Line]:
    """The lines of a tree, in the order in which they go on; `start` is the part whose port the tree settles."""
    name = _LINES.get(tree.piece.spot.goal, "")
    if name and name != before:
        yield Line(name, start, tuple(_along(tree, name)))
    for branch in tree.branches:
        yield from lines_of(branch, tree.piece.part or start, name)


def _along(tree: Tree[Piece], name: str) -> Iterator[Piece]:
    yield tree.piece
    for branch in tree.branches:
        if _LINES.get(branch.piece.spot.goal) == name:
            yield from _along(branch, name)


ToldOfLines = tuple[tuple[Lack, ...], tuple[Check, ...]]
"""The sides that nobody states and that decide, and what is checked besides."""


def told_of_lines(
    graph: ConstraintGraph, question: Question, asked: Asked, tree: Tree[Piece], start: Part
) -> ToldOfLines:
    """What is told of all lines of a tree: its sides, its sizes, and where the outlet points."""
    lacks: list[Lack] = []
    checks: list[Check] = []
    for line in lines_of(tree, start):
        lacks += sides_lacking(graph, question, asked, line)
        sized = size_check(graph, question, line)
        checks += [*([] if sized is None else [sized]), *outlet_checks(graph, question, line)]
    return tuple(dict.fromkeys(lacks)), tuple(checks)


def sides_lacking(graph: ConstraintGraph, question: Question, asked: Asked, line: Line) -> tuple[Lack, ...]:
    """The sides that nobody states, of a line of which they decide: another hose serves where they differ."""
    last = line.last
    if last.goal not in SIDED:
        return ()
    sides = [end.side for end in asked.ends.get(last.goal, ()) if end.connection == last.connection]
    if not {"any", "centre"}.isdisjoint([last.side, *sides]) or (last.side is not None and last.side in sides):
        return ()
    holder = line.holders[line.bolted(graph)]
    lacks = [lack(question, holder, _of_port("side", holder, last.goal))] if last.side is None else []
    if None in sides:
        lacks.append(_of_asker(question, last.goal, "side"))
    return tuple(lacks)


def size_check(graph: ConstraintGraph, question: Question, line: Line) -> Check | None:
    """How narrow a line is, held against the smaller of its ports; None where that is not looked at."""
    spots = [piece.spot for piece in line.pieces]
    if not spots[0].bores:
        return None
    bore = spots[0].bores[0]
    known = [(graph.sizes[spot.connection], spot.connection) for spot in spots if spot.connection in graph.sizes]
    narrowest, connection = min(known, default=(None, ""))
    facts: dict[str, Any] = {"line": line.name, "narrowest": narrowest, "of": bore.of, "of_said": bore.said}
    if narrowest is not None:
        facts["narrowest_said"] = graph.connection(connection).size
    numbers: dict[str, Any] = {}
    if narrowest is not None and bore.of is not None:
        numbers = {"value": narrowest, "limit": NARROWEST * bore.of}
    widths = [width(graph, bore, spot.connection) for spot in spots]
    if "fails" in widths:
        barred = spots[widths.index("fails")].connection
        if bore.main and barred in graph.branches:
            facts["through"] = graph.connection(barred).title
            return Check("line_size", "fails", "line_through_branch", facts, zone=line.name)
        return Check("line_size", "fails", "line_too_narrow", facts, zone=line.name, **numbers)
    if "not_known" in widths:
        facts["lacks"] = _sizes_lacking(graph, question, line)
        return Check("line_size", "measure_first", "not_known", facts, zone=line.name, **numbers)
    if narrowest is None:
        return Check("line_size", "ok", "line_of_one_size", facts, zone=line.name)
    narrows = bore.of is not None and narrowest < bore.of
    return Check("line_size", "ok", "line_narrows" if narrows else "line_stays_wide", facts, zone=line.name, **numbers)


def _sizes_lacking(graph: ConstraintGraph, question: Question, line: Line) -> tuple[Lack, ...]:
    """The ports of a line whose sizes nobody states and which decide."""
    bore = line.last.bores[0]
    found = []
    for holder, piece in zip(line.holders, line.pieces, strict=True):
        name = piece.spot.connection
        if name not in graph.sizes and name not in bore.free:
            found.append(lack(question, holder, _of_port("port_size", holder, piece.spot.goal)))
    if not found or bore.of is None:
        # Some part is narrow enough that the ports decide whose sizes are not known.
        if line.last.connection in bore.free and line.last.connection not in graph.sizes:
            found.append(_of_asker(question, line.last.goal, "port_size"))
        others = [name for name in bore.free if name not in graph.sizes and name != line.last.connection]
        if others or not found:
            found.append(lack(question, line.start, _of_port("port_size", line.start, line.pieces[0].spot.goal)))
    return tuple(dict.fromkeys(found))


def outlet_checks(graph: ConstraintGraph, question: Question, line: Line) -> list[Check]:
    """Where the outlet points with what is bolted to it, held against what the build wants."""
    points = [piece.spot.points for piece in line.pieces if piece.spot.points is not None]
    if not points:
        return []
    place = line.bolted(graph)
    neck = line.holders[place] if place else None
    return pointing_checks(question, line.start, neck, points[-1])


def pointing_checks(
    question: Question, pump: Part, neck: Part | None, points: Pointing, *, takes_neck: bool = False
) -> list[Check]:
    """The side and the direction of an outlet, or of the neck on it, held against what the build wants.

    `takes_neck`: a neck bolts to it, and none is chosen.
    """
    must, checks = question.build.must, []
    codes: tuple[Code, Code] = ("outlet_side", "outlet_direction")
    for code, wanted, has in zip(codes, (must.outlet_side, must.outlet_direction), points, strict=True):
        if wanted is UNSET:
            continue
        facts: dict[str, Any] = {"pump": pump.name, "seat": pump.kind, "wanted": wanted}
        facts |= {"has": [] if has is None else [has], "neck": None if neck is None else neck.name}
        facts["takes_neck"] = takes_neck
        if has is None:
            pointing = neck or pump
            facts["lacks"] = (lack(question, pointing, _of_port(code.removeprefix("outlet_"), pointing, "upper")),)
            checks.append(Check(code, "measure_first", "not_known", facts))
        else:
            checks.append(Check(code, "ok" if has == wanted else "fails", code, facts))
    return checks


def lack(question: Question, part: Part, fact: str) -> Lack:
    """What nobody states of a part."""
    field = next((slot for slot, own in question.slots.items() if own.number == part.number), "")
    return Lack(part.number, part.name, field, fact)


def _of_port(fact: str, part: Part, goal: Goal) -> str:
    """A fact of a port with the port's name behind a dot, where the part has several that a line could start at."""
    return f"{fact}.{_STARTS[goal]}" if part.kind in ON_BLOCK and goal in _STARTS else fact


def _of_asker(question: Question, goal: Goal, fact: str) -> Lack:
    """What nobody states of that port of the asker's own part to which a line leads."""
    fact = f"{fact}.{_ENDS[goal]}" if goal in _ENDS else fact
    field = "heater" if goal in ("heater_feed", "heater_return") else "radiator"
    part = question.slots.get(field)
    if part is None:
        return Lack("", f"the {field}", "radiator_ports" if field == "radiator" else field, fact)
    return lack(question, part, fact)
