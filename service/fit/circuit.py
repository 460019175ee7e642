"""Coolant, heater and fan: what the open ports of a pump must lead to, and the parts that can take them there."""

from collections.abc import Iterator
from typing import Final, Literal, NamedTuple

import msgspec
from msgspec import UNSET

from catalog.domain import Connection, Part, Port, Role, Side
from catalog.standards.flares import parse_size
from catalog.vocabulary import WORK
from service.fit.answer import Check
from service.fit.bolts import Group, bolts_of
from service.fit.graph import ConstraintGraph
from service.fit.paths import make_joint
from service.fit.question import Question
from service.fit.stack import Sum
from service.fit.trees import Cost, Settler, Way

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
_SIDED: Final = ("upper", "lower")


class End(NamedTuple):
    """A port of the asker's own, where a line may end."""

    connection: str
    end: str
    side: Side | None
    part: str
    """Number of the part that it belongs to; empty where only the port was given."""


class Spot(NamedTuple):
    """An open port with all that bears on how it may be settled."""

    connection: str
    end: str
    goal: Goal
    side: Side | None = None
    owner: str = ""
    """Whose port it is, where a molded hose or bolts ask."""
    target: str = ""
    """The only part that may meet it: the far end of a molded hose."""
    loop: str = ""
    """Where a loop ends: connection and end of the port that it leads back to."""
    gasket: str | None = None
    """The gasket that the port requires."""
    remote: str = ""
    """The remote pump that the line must lead to."""


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


class Cap(NamedTuple):
    """What a list may hold at most: work, by its place in the order of work, and whether it may need measuring."""

    work: int
    measure_first: bool


class Asked(msgspec.Struct, frozen=True):
    """Which circuits the build asks about, and where their lines may end."""

    coolant: bool
    heater: Literal["lines", "none"] | None
    ends: dict[Goal, tuple[End, ...]]
    faults: dict[Goal, str]
    """Sizes or connections that nothing in the catalog knows, by the goal that they leave without an end."""


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
            side = None if port.side is UNSET else port.side
            found = _connections_said(graph, said if said is not UNSET else "")
            ends[goal] = [End(connection.name, connection.ends[0], side, "") for connection in found]
            if not found:
                faults[goal] = str(said)
    if heater is not None:
        _add_ports(ends, heater, {"heater_feed": "heater_feed", "heater_return": "heater_return"})
    elif isinstance(build.heater, str) and build.heater != "none":
        found = _connections_said(graph, build.heater)
        ends["heater_feed"] = ends["heater_return"] = [End(c.name, c.ends[0], None, "") for c in found]
        if not found:
            faults["heater_feed"] = faults["heater_return"] = build.heater
    _add_ports(ends, engine, {"bypass": "bypass"})
    return Asked(
        coolant=radiator is not None or build.radiator_ports is not UNSET,
        heater=None if build.heater is UNSET else "none" if build.heater == "none" else "lines",
        ends={goal: tuple(found) for goal, found in ends.items()},
        faults=faults,
    )


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


class Circuit:
    """The ways to settle every spot of one question, within a cap.

    A root is a spot of no part: it stands for an obligation, and its ways are the alternatives that it leaves,
    each a set of spots that must all be settled.
    """

    def __init__(self, graph: ConstraintGraph, question: Question, asked: Asked, cap: Cap) -> None:
        self.graph, self.question, self.asked, self.cap = graph, question, asked, cap
        self.settler: Settler[Spot, Piece] = Settler(self._ways)
        self._alternatives: dict[Spot, tuple[tuple[Spot, ...], ...]] = {}
        self._molded = {
            (port.connection, graph.connection(port.connection).other_end(port.end))
            for part in graph.of_kind("hose")
            if part.attributes.get("shape") == "molded"
            for port in part.ports
        }

    def root(self, name: str, alternatives: tuple[tuple[Spot, ...], ...]) -> Spot:
        """A root of this name, unique in the question, with these alternatives."""
        root = Spot("", name, "closed")
        self._alternatives[root] = alternatives
        return root

    def spot(
        self,
        owner: Part,
        port: Port,
        goal: Goal,
        *,
        after: Spot | None = None,
        side: Side | None = None,
        target: str = "",
    ) -> Spot:
        """The spot of an open port; `after` is the one that its part has met."""
        connection = self.graph.connection(port.connection)
        told = target or connection.bolts or (port.connection, port.end) in self._molded
        held = owner.number if told else ""
        sided = (port.side or side) if goal in _SIDED or goal == "upper_by_thermostat" else None
        loop, remote = (after.loop, after.remote) if after is not None else ("", "")
        return Spot(port.connection, port.end, goal, sided, held, target, loop, port.gasket, remote)

    def _ways(self, spot: Spot) -> Iterator[Way[Spot, Piece]]:
        """A root's alternatives; the asker's own port where the line has arrived; every part that can meet the spot."""
        nothing = tuple(0 for _ in self.cost_of(()))
        if not spot.connection:
            for spots in self._alternatives[spot]:
                yield Way(Piece(spot, None), "", nothing, spots, parts=0)
            return
        if any(self._arrives(spot, end) for end in self._ends(spot)):
            yield Way(Piece(spot, None), "", nothing, (), parts=0)
        for found, port in self.graph.meeting_end(spot.connection, spot.end):
            part = self.question.part(found)
            if not self.question.allows(part) or (spot.target and part.number != spot.target):
                continue
            for raised, still_open, crosses in self._raises(spot, part, port):
                for piece in self._pieces(spot, part, port, still_open, crosses=crosses):
                    yield Way(piece, _name_of(piece), self._cost_of_piece(piece), raised, renews=_is_station(part))

    def _ends(self, spot: Spot) -> tuple[End, ...]:
        if spot.goal == "loop":
            connection, _, end = spot.loop.partition(" ")
            return (End(connection, end, None, ""),)
        return self.asked.ends.get(spot.goal, ())

    def _arrives(self, spot: Spot, end: End) -> bool:
        other = self.graph.connection(spot.connection).other_end(spot.end)
        if (end.connection, end.end) != (spot.connection, other) or (spot.target and spot.target != end.part):
            return False
        return not _across(spot.side, end.side)

    def _raises(self, spot: Spot, part: Part, port: Port) -> Iterator[tuple[tuple[Spot, ...], tuple[Port, ...], bool]]:
        """What a part raises when it meets the spot by this port: once for each port that can carry the line on."""
        others = [other for other in part.ports if other is not port]
        if spot.goal == "closed":
            if part.kind in ("plug", "cap", "fitting") and port.role in ("mount", "line"):
                yield tuple(self.spot(part, other, "closed") for other in others), (), False
        elif spot.goal in ("housing", "housing_with_return"):
            yield from self._raises_of_housing(spot, part, port, others)
        elif spot.goal == "thermostat":
            if part.kind == "thermostat" and port.role == "mount" and not others:
                yield (), (), False
        elif spot.goal == "fan":
            yield from self._raises_of_fan(part, port, others)
        elif spot.goal in LINES:
            yield from self._raises_of_line(spot, part, port, others)

    def _raises_of_line(
        self, spot: Spot, part: Part, port: Port, others: list[Port]
    ) -> Iterator[tuple[tuple[Spot, ...], tuple[Port, ...], bool]]:
        if part.kind == "remote_pump":
            yield from self._raises_of_remote(spot, part, port, others)
            return
        in_line = part.kind == "thermostat_housing" and spot.goal == "upper_by_thermostat"
        crosses = part.attributes.get("crosses") is True
        if (part.kind not in ("fitting", "hose") and not in_line) or port.role not in ("line", "mount"):
            return
        target = self._far_end(spot, part)
        if target is None or (crosses and spot.side not in ("left", "right")):
            return
        goal: Goal = "upper" if in_line else spot.goal
        side = _other_side(spot.side) if crosses else spot.side
        for carrier in others:
            if carrier.role in ("line", "mount"):
                led_on = self.spot(part, carrier, goal, after=spot, side=side, target=target)
                closed = [
                    self.spot(part, other, "thermostat" if other.role == "thermostat" else "closed")
                    for other in others
                    if other is not carrier
                ]
                yield (led_on, *closed), (), crosses

    def _raises_of_remote(
        self, spot: Spot, part: Part, port: Port, others: list[Port]
    ) -> Iterator[tuple[tuple[Spot, ...], tuple[Port, ...], bool]]:
        """The remote pump ends its own line, and another leads on to the radiator's lower port."""
        if port.role == "coolant_out" and spot.remote == part.number:
            goals: dict[Role, Goal] = {"coolant_in": "lower"}
            yield (
                tuple(
                    self.spot(part, other, goals.get(other.role, "closed")) for other in others if other.role != "mount"
                ),
                (),
                False,
            )

    def _far_end(self, spot: Spot, part: Part) -> str | None:
        """The part that a molded hose must meet next; empty for any; None where the hose does not belong here."""
        if part.attributes.get("shape") != "molded":
            return ""
        ends = (str(part.attributes.get("molded_from", "")), str(part.attributes.get("molded_to", "")))
        return ends[1 - ends.index(spot.owner)] if spot.owner in ends else None

    def _raises_of_housing(
        self, spot: Spot, part: Part, port: Port, others: list[Port]
    ) -> Iterator[tuple[tuple[Spot, ...], tuple[Port, ...], bool]]:
        roles = {other.role for other in others}
        if part.kind != "thermostat_housing" or port.role != "mount":
            return
        if "thermostat" not in roles and part.attributes.get("thermostat_included") is not True:
            return
        wants_return = spot.goal == "housing_with_return"
        if wants_return and "heater_return" not in roles:
            return
        goals: dict[Role, Goal] = {"coolant_in": "lower", "thermostat": "thermostat"}
        raised, still_open = [], []
        for other in others:
            if other.role == "heater_return":
                if wants_return:
                    raised.append(self.spot(part, other, "heater_return"))
                elif self.asked.heater is None:
                    still_open.append(other)
                else:
                    raised.append(self.spot(part, other, "closed"))
            else:
                raised.append(self.spot(part, other, goals.get(other.role, "closed")))
        yield tuple(raised), tuple(still_open), False

    def _raises_of_fan(
        self, part: Part, port: Port, others: list[Port]
    ) -> Iterator[tuple[tuple[Spot, ...], tuple[Port, ...], bool]]:
        named = self.question.slots.get("fan")
        if port.role != "mount":
            return
        if part.kind == "fan" and part.attributes.get("driven_by") == "engine" and not others:
            if named is None or named.number == part.number:
                yield (), (), False
        elif part.kind == "fan_adapter":
            yield tuple(self.spot(part, other, "fan") for other in others if other.role == "fan"), (), False

    def _pieces(
        self, spot: Spot, part: Part, port: Port, still_open: tuple[Port, ...], *, crosses: bool
    ) -> Iterator[Piece]:
        """The part on the spot with its gasket, once for each set of bolts that may hold it."""
        connection = self.graph.connection(spot.connection)
        joint = make_joint(
            self.graph, self.question, Port("", "line", spot.connection, spot.end, gasket=spot.gasket), port
        )
        if joint is None:
            return
        gasket = None if joint.gasket is None else (joint.gasket, connection.pieces_per_layer)
        bare = Piece(spot, part, gasket, open=still_open, crosses=crosses)
        if not connection.bolts or connection.sort != "face":
            choices = [bare]
        else:
            choices = list(self._bolted(bare, connection, joint.thickness))
        for piece in choices:
            if all(_work(part) <= self.cap.work for part, _ in pieces_parts(piece)):
                yield piece

    def _bolted(self, bare: Piece, connection: Connection, gasket: Sum) -> Iterator[Piece]:
        assert bare.part is not None
        flange = bare.part.measures.get("flange_thickness")
        holder = self.graph.snapshot.parts.get(bare.spot.owner)
        if holder is None:
            yield bare
            return
        clamped = None if flange is None else gasket + Sum.of(flange)
        group = Group(self.question.part(holder), connection, clamped, bare.part, (), of_block=False)
        for bolted in bolts_of(self.graph, self.question, group, ""):
            verdict = bolted.check.verdict
            if verdict != "fails" and (verdict != "measure_first" or self.cap.measure_first):
                bolts = None if bolted.fasteners is None else (bolted.fasteners, bolted.quantity)
                yield msgspec.structs.replace(bare, bolts=bolts, bolt_check=bolted.check)

    def _cost_of_piece(self, piece: Piece) -> Cost:
        """What a piece adds at least: a kit may be on the list already for another joint."""
        return self.cost_of(tuple(pair for pair in pieces_parts(piece) if "length.housing" not in pair[0].measures))

    def cost_of(self, parts: tuple[tuple[Part, int], ...]) -> Cost:
        """What parts add to a list, by the ranking's keys that add up; a piece at hand costs nothing."""
        costs: list[int] = []
        for key in self.question.rank_keys:
            if key == "price":
                buy = [(part, n) for part, n in parts if not self.question.have.get(part.number)]
                costs.append(sum(n for part, n in buy if part.price is None))
                costs.append(sum(part.price.amount * n for part, n in buy if part.price is not None))
            elif key == "parts":
                costs.append(sum(n for _, n in parts))
        return tuple(costs)


def _is_station(part: Part) -> bool:
    """Whether the way from port to end is counted anew behind this part."""
    return part.kind in ("thermostat_housing", "remote_pump")


def _across(one: Side | None, other: Side | None) -> bool:
    return {one, other} == {"left", "right"}


def _other_side(side: Side | None) -> Side | None:
    return {"left": "right", "right": "left"}.get(side or "", side)  # type: ignore[return-value]


def pieces_parts(piece: Piece) -> Iterator[tuple[Part, int]]:
    """A piece's part and what joins it, in the order in which they go on."""
    if piece.gasket is not None:
        yield piece.gasket
    if piece.part is not None:
        yield piece.part, 1
    if piece.bolts is not None:
        yield piece.bolts


def _name_of(piece: Piece) -> str:
    """What sorts pieces of equal cost: the part's number, then its bolts'."""
    number = "" if piece.part is None else piece.part.number
    return number if piece.bolts is None else f"{number} {piece.bolts[0].number}"


def _work(part: Part) -> int:
    return WORK.index(str(part.attributes.get("work", WORK[0])))
