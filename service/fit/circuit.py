"""Coolant, heater and fan: what a build asks of a pump's open ports, and where the lines from them may end."""

from collections.abc import Iterator
from typing import Final, Literal, NamedTuple

import msgspec
from msgspec import UNSET

from catalog.domain import Connection, Direction, Part, Port, Role, Side
from catalog.standards.flares import parse_size
from service.fit.answer import Check
from service.fit.bore import Bore
from service.fit.graph import ConstraintGraph
from service.fit.question import Question

Goal = Literal[
    "upper",  # the radiator's upper port
    "upper_by_thermostat",  # the same, through a thermostat in the line
    "lower",  # the radiator's lower port
    "heater_feed",
    "heater_return",
    "bypass",  # the engine's own bypass port
    "vent",  # the radiator's vent port
    "loop",  # back to the pump's own heater return
    "pumped",  # the outlet of a remote pump
    "housing",  # a thermostat housing
    "housing_with_return",  # one that takes the heater's return as well
    "thermostat",
    "fan",
    "closed",
]
LINES: Final = frozenset(
    {"upper", "upper_by_thermostat", "lower", "heater_feed", "heater_return", "bypass", "vent", "loop", "pumped"}
)
SIDED: Final = ("upper", "upper_by_thermostat", "lower")
"""Goals of the lines whose hoses must lead to the side on which they end. A heater or a pump elsewhere has no side."""
FLEXIBLE: Final = ("hose", "flare_37", "flare_45")
"""Sorts of joints behind which a line turns as it likes; what is joined otherwise points where it points."""
ON_BLOCK: Final = ("water_pump", "outlet_plate")
"""Kinds of what sits on the block, of which an option has one."""


LineSide = Side | Literal["any"] | None
"""On which side a line is; `any` where that does not matter, None where it is not known."""
Pointing = tuple[Side | None, Direction | None]
"""The side and the direction to which an outlet points; None where it is not known."""

Slack = Literal["points", "sizes", "sides"]


class End(NamedTuple):
    """A port of the asker's own, where a line may end."""

    connection: str
    end: str
    side: LineSide
    part: str
    """Number of the part that it belongs to; empty where only the port was given."""


class Spot(NamedTuple):
    """An open port with all that bears on how it may be settled."""

    connection: str
    end: str
    goal: Goal
    side: LineSide = None
    owner: str = ""
    """Whose port it is, where a molded hose or bolts ask; where only bolts do, of several alike the first."""
    target: str = ""
    """The only part that may meet it: the far end of a molded hose."""
    loop: str = ""
    """Where a loop ends: connection and end of the port that it leads back to."""
    gasket: str | None = None
    """The gasket that the port requires."""
    remote: str = ""
    """The remote pump that the line must lead to."""
    bores: tuple[Bore, ...] = ()
    """How narrow the line may be, of a housing its lines from the radiator and from the heater; nothing where that
    does not matter."""
    points: Pointing | None = None
    """Where the outlet points as far as it is bolted together; None where that does not matter, or behind it."""
    slack: tuple[Slack, ...] = ()
    """What is left out of account, to see what bars a line."""


class Piece(msgspec.Struct, frozen=True):
    """A part that settles a spot, with what joins it; no part where the line has arrived at the asker's own."""

    spot: Spot
    part: Part | None
    gasket: tuple[Part, int] | None = None
    bolts: tuple[Part, int] | None = None
    bolt_check: Check | None = None
    open: tuple[Port, ...] = ()
    """Ports that the build does not ask about."""
    crosses: bool = False
    unsure: bool = False
    """Whether it hangs on a side or a size that nobody states."""
    seal: str = ""
    """How its joint seals; empty for an obligation's root."""
    work: int = 0
    """The hardest step of fitting it, by its place in the order of work."""


class Asked(msgspec.Struct, frozen=True):
    """Which circuits the build asks about, and where their lines may end."""

    coolant: bool
    heater: Literal["lines", "none"] | None
    ends: dict[Goal, tuple[End, ...]]
    faults: dict[Goal, str]
    """Sizes or connections that nothing in the catalog knows, by the goal that they leave without an end."""
    unknown: dict[str, tuple[Goal, ...]]
    """Of `radiator` and `heater` those whose ports are not all known: nothing can be asked of their lines."""


def points_behind(connection: Connection, points: Pointing, carrier: Port) -> Pointing:
    """Where a port points of a part that is joined rigidly to what points there.

    What is bolted on points where it says; what is pressed, welded or screwed in, where its seat does unless it says
    more.
    """
    if connection.bolts:
        return carrier.side, carrier.direction
    return carrier.side or points[0], carrier.direction or points[1]


def asked_of(graph: ConstraintGraph, question: Question) -> Asked:
    """Where the lines of this build may end: at the ports of its radiator, its heater and its engine."""
    build, slots = question.build, question.slots
    ends: dict[Goal, list[End]] = {}
    faults: dict[Goal, str] = {}
    radiator, heater, engine = slots.get("radiator"), slots.get("heater"), slots["engine"]
    if radiator is not None:
        _add_ports(ends, radiator, {"coolant_in": "upper", "coolant_out": "lower", "vent": "vent"})
    elif build.radiator_ports is not UNSET:
        ports = build.radiator_ports
        goals: tuple[Goal, Goal] = ("upper", "lower")
        for goal, port in zip(goals, (ports.upper, ports.lower), strict=True):
            said = port.connection if port.connection is not UNSET else port.size
            side: LineSide = "any" if port.side is UNSET else port.side
            found = _connections_said(graph, said if said is not UNSET else "")
            ends[goal] = [End(connection.name, connection.ends[0], side, "") for connection in found]
            if not found:
                faults[goal] = str(said)
    if heater is not None:
        _add_ports(ends, heater, {"heater_feed": "heater_feed", "heater_return": "heater_return"})
    elif isinstance(build.heater, str) and build.heater != "none":
        found = _connections_said(graph, build.heater)
        ends["heater_feed"] = ends["heater_return"] = [End(c.name, c.ends[0], "any", "") for c in found]
        if not found:
            faults["heater_feed"] = faults["heater_return"] = build.heater
    _add_ports(ends, engine, {"bypass": "bypass"})
    unknown = {
        slot: lacking
        for slot, goals in _ENDS.items()
        if slot in slots and (lacking := tuple(goal for goal in goals if goal not in ends))
    }
    heated = build.heater is not UNSET and "heater" not in unknown
    return Asked(
        coolant=(radiator is not None and "radiator" not in unknown) or build.radiator_ports is not UNSET,
        heater=None if not heated else "none" if build.heater == "none" else "lines",
        ends={goal: tuple(found) for goal, found in ends.items()},
        faults=faults,
        unknown=unknown,
    )


_ENDS: Final[dict[str, tuple[Goal, ...]]] = {"radiator": ("upper", "lower"), "heater": ("heater_feed", "heater_return")}
"""The ports that a line must find on the asker's own parts."""


def _add_ports(ends: dict[Goal, list[End]], part: Part, goals: dict[Role, Goal]) -> None:
    for port in part.ports:
        if port.role in goals:
            ends.setdefault(goals[port.role], []).append(End(port.connection, port.end, port.side, part.number))


def _connections_said(graph: ConstraintGraph, said: str) -> list[Connection]:
    """The connections that a name or a size means."""
    connections = graph.snapshot.connections
    if said in connections:
        return [connections[said]]
    try:
        size = parse_size(said)
    except ValueError:
        return []
    return [c for c in connections.values() if c.size is not None and parse_size(c.size) == size]


def pieces_parts(piece: Piece) -> Iterator[tuple[Part, int]]:
    """A piece's part and what joins it, in the order in which they go on."""
    if piece.gasket is not None:
        yield piece.gasket
    if piece.part is not None:
        yield piece.part, 1
    if piece.bolts is not None:
        yield piece.bolts


def in_no_tree(part: Part) -> bool:
    """Whether no tree can hold a part: it meets nothing, and neither seals a joint nor holds one."""
    return not part.ports and part.kind not in ("gasket", "fastener_set")
