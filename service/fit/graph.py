"""The constraint graph: parts, connection ends, and the ports and rules between them.

Nodes are `("part", number)` and `("end", connection, end)`. A port is an edge from its part to the end
that it is, the two ends of a connection are joined by an edge of their own, and a rule is an edge from
its part to each other part. So the graph grows with the number of ports, never with the pairs that fit.
"""

from collections import Counter
from collections.abc import Hashable, Iterable, Iterator, Mapping
from functools import cached_property
from itertools import groupby, permutations
from operator import attrgetter
from typing import Final

import networkx as nx

from catalog.domain import PLATES, Connection, Kind, Part, Port, Role, Rule, Snapshot
from catalog.standards.flares import nominal_size
from service.fit.kept import Kept, Lent

Node = tuple[str, ...]


def part_node(number: str) -> Node:
    """The node of a part."""
    return ("part", number)


def end_node(connection: str, end: str) -> Node:
    """The node of one end of a connection."""
    return ("end", connection, end)


MOST_KEPT: Final = 64 * 2**20
"""Bytes, roughly, of what is worked out of a release and kept for the next question."""
MOST_OPTIONS: Final = 32 * 2**20
"""Bytes, roughly, of options that are kept for the next question, with what is told of them."""
MOST_CIRCUITS: Final = 128 * 2**20
"""Bytes, roughly, of trees of circuits that are kept for the next question; those of one that take more are not."""
Likeness = tuple[object, ...]
End = tuple[str, str]
"""An open port: the connection and the end that it is."""
_EXCHANGED: Final = ("fitting", "hose", "plug", "cap", "thermostat")
_MATTERS = ("crosses", "shape", "molded_from", "molded_to", "thermostat_included", "driven_by")


_BRANCHES: Final[frozenset[Role]] = frozenset({"heater_feed", "heater_return", "bypass", "vent"})
_MAINS: Final[frozenset[Role]] = frozenset({"coolant_out", "coolant_in"})

_of_port = attrgetter("role", "connection", "end", "side", "direction", "gasket", "wet")


def _likeness(part: Part) -> Likeness:
    """What another part must share to take this one's place: its ports, and what decides where it may be used."""
    ports = sorted(
        (port.role, port.connection, port.end, port.side or "", port.direction or "", port.gasket or "")
        for port in part.ports
    )
    return (part.kind, tuple(ports), *_of_one_make(part))


def _of_one_make(part: Part) -> Likeness:
    """What, besides its ports, decides where a part may be used."""
    flange, has = part.measures.get("flange_thickness"), part.attributes.get
    limits = None if flange is None else (flange.low, flange.high)
    return (limits, *[has(name) for name in _MATTERS])


def _dearness(part: Part) -> tuple[bool, int, str]:
    return part.price is None, 0 if part.price is None else part.price.amount, part.number


def is_kit(part: Part) -> bool:
    """Whether a set holds bolts for other joints besides the block's."""
    return "length.housing" in part.measures


def runs_of(parts: Iterable[Part]) -> tuple[tuple[Kind, tuple[str, ...]], ...]:
    """The numbers of parts in their order, in runs of one kind."""
    return tuple((kind, tuple(part.number for part in run)) for kind, run in groupby(parts, attrgetter("kind")))


Choice = tuple[int, Part, Port]
"""A part that may meet an open port by this port of its own, with its place among all that may."""
Choices = tuple[list[Choice], dict[str, list[Choice]]]
"""Those for whoever has the open port; and molded hoses by the part that has it."""


class ConstraintGraph:
    """A snapshot as a graph."""

    def __init__(self, snapshot: Snapshot) -> None:
        self.snapshot = snapshot
        self.kept = Kept(MOST_KEPT)
        """What questions share: seats, fronts and sets of bolts."""
        self.options = Kept(MOST_OPTIONS)
        """Options of questions that ask about the pump's own place alone."""
        self.circuits = Lent(MOST_CIRCUITS)
        """Trees found for one question, for the next that asks the same of its circuits."""
        self.least_work: dict[End, int] = {}
        """By open port the least work of what meets it, as far as it was reckoned."""
        self._meeting: dict[tuple[str, str], tuple[tuple[Part, Port], ...]] = {}
        self._meeting_alike: dict[tuple[str, str], tuple[tuple[tuple[Part, Port], ...], ...]] = {}
        self.choices: dict[tuple[str, str, tuple[Kind, ...]], Choices] = {}
        """What may meet an open port, for questions that ask about no part in particular; by connection, end, kinds."""
        self._rules_of: dict[str, tuple[Rule, ...]] = {}
        for rule in sorted(snapshot.rules, key=lambda rule: rule.name):
            self._rules_of[rule.part] = (*self._rules_of.get(rule.part, ()), rule)
        self._fasteners: dict[str, tuple[Part, ...]] = {}
        self._of_kind: dict[Kind, tuple[Part, ...]] = {}
        self._numbers: dict[Kind, frozenset[str]] = {}
        # All that questions need of the graph: networkx takes ten times as much for it, 150 MB for 100,000 parts.
        self._at: dict[End, list[tuple[Part, Port]]] = {}
        for part in snapshot.parts.values():
            for port in part.ports:
                self._at.setdefault((port.connection, port.end), []).append((part, port))

    @cached_property
    def graph(self) -> "nx.MultiGraph[Node]":
        """The whole as a plain networkx multigraph to look into, made when it is first asked for."""
        graph: nx.MultiGraph[Node] = nx.MultiGraph()
        for connection in self.snapshot.connections.values():
            first, second = (end_node(connection.name, end) for end in connection.ends)
            graph.add_edge(first, second, key="meets")
        for part in self.snapshot.parts.values():
            graph.add_node(part_node(part.number))
            for port in part.ports:
                graph.add_edge(
                    part_node(part.number), end_node(port.connection, port.end), key=f"port {port.name}", port=port
                )
        for rule in self.snapshot.rules:
            for other in rule.others:
                graph.add_edge(part_node(rule.part), part_node(other), key=f"rule {rule.name}", rule=rule)
        return graph

    def connection(self, name: str) -> Connection:
        """The connection of this name."""
        return self.snapshot.connections[name]

    def meeting(self, port: Port) -> tuple[tuple[Part, Port], ...]:
        """Active parts that can meet this port, each with the port by which it does, in order of part number."""
        return self.meeting_end(port.connection, port.end)

    def meeting_end(self, connection: str, end: str) -> tuple[tuple[Part, Port], ...]:
        """The same for any port that is this end of the connection."""
        known = self._meeting.get((connection, end))
        if known is None:
            found = self.across(connection, end)
            known = self._meeting[connection, end] = tuple(pair for pair in found if pair[0].status == "active")
        return known

    def across(self, connection: str, end: str) -> list[tuple[Part, Port]]:
        """Every part with the other end of the connection, retired ones too, by number, and the port that it is."""
        found = self._at.get((connection, self.connection(connection).other_end(end)), ())
        return sorted(found, key=lambda pair: (pair[0].number, pair[1].name))

    def of_kind(self, kind: Kind) -> tuple[Part, ...]:
        """Every part of a kind, in order of part number."""
        if kind not in self._of_kind:
            self._of_kind[kind] = tuple(part for part in self.in_order if part.kind == kind)
        return self._of_kind[kind]

    @cached_property
    def in_order(self) -> tuple[Part, ...]:
        """Every part, in order of part number."""
        return tuple(sorted(self.snapshot.parts.values(), key=lambda part: part.number))

    @cached_property
    def runs(self) -> tuple[tuple[Kind, tuple[str, ...]], ...]:
        """The numbers of all parts in order, in runs of one kind."""
        return runs_of(self.in_order)

    @cached_property
    def inactive(self) -> frozenset[str]:
        """Numbers of the parts that are not to be chosen any more."""
        return frozenset(part.number for part in self.in_order if part.status != "active")

    @cached_property
    def kinds(self) -> Mapping[Kind, int]:
        """The kinds of parts that there are, with how many there are of each."""
        return Counter(part.kind for part in self.snapshot.parts.values())

    def numbers_of_kind(self, kind: Kind) -> frozenset[str]:
        """The numbers of every part of a kind."""
        if kind not in self._numbers:
            self._numbers[kind] = frozenset(part.number for part in self.of_kind(kind))
        return self._numbers[kind]

    def fasteners(self, thread: str) -> tuple[Part, ...]:
        """Every fastener set with this thread, in order of part number."""
        if thread not in self._fasteners:
            sets = self.of_kind("fastener_set")
            self._fasteners[thread] = tuple(part for part in sets if part.attributes["thread"] == thread)
        return self._fasteners[thread]

    def meeting_alike(self, connection: str, end: str) -> tuple[tuple[tuple[Part, Port], ...], ...]:
        """What can meet such a port in groups, the cheapest first: of one, nothing but number and price differ.

        So the first that may be used stands for its group wherever nothing but cost tells them apart. What holds
        others by its own name, what is chosen by more than its ports, and what a line starts at, stands alone.
        """
        known = self._meeting_alike.get((connection, end))
        if known is None:
            groups: dict[Hashable, list[tuple[Part, Port]]] = {}
            for part, port in self.meeting_end(connection, end):
                groups.setdefault(self._exchange(part, port), []).append((part, port))
            known = tuple(tuple(sorted(group, key=lambda pair: _dearness(pair[0]))) for group in groups.values())
            self._meeting_alike[connection, end] = known
        return known

    def _exchange(self, part: Part, port: Port) -> Hashable:
        """What another part must share to stand for this one on this port."""
        if part.kind not in _EXCHANGED or part.number in self.molded_ends:
            return part.number, port.name
        if any(other.connection in self._bolted for other in part.ports):
            return part.number, port.name
        ports = tuple(map(_of_port, part.ports))
        return part.kind, ports, part.ports.index(port), part.attributes.get("work"), _of_one_make(part)

    @cached_property
    def _bolted(self) -> frozenset[str]:
        """Names of the connections that bolts hold."""
        return frozenset(connection.name for connection in self.snapshot.connections.values() if connection.bolts)

    @cached_property
    def in_line(self) -> dict[tuple[End, End], tuple[Part, ...]]:
        """Parts that can lie in a line, the cheapest first, by the open port that they meet and the one they raise."""
        found: dict[tuple[End, End], list[Part]] = {}
        for part in (*self.of_kind("fitting"), *self.of_kind("hose")):
            if part.status == "active":
                for ends in self.lines_of(part):
                    found.setdefault(ends, []).append(part)
        return {ends: tuple(sorted(parts, key=_dearness)) for ends, parts in found.items()}

    def lines_of(self, part: Part) -> Iterator[tuple[End, End]]:
        """Each open port that a part can meet, with each that it can raise to lead on."""
        ports = [port for port in part.ports if port.role in ("line", "mount")]
        for met, raised in permutations(ports, 2):
            across = met.connection, self.connection(met.connection).other_end(met.end)
            yield across, (raised.connection, raised.end)

    @cached_property
    def sizes(self) -> Mapping[str, int]:
        """By name of each connection that says its size the nominal inside, nm."""
        connections = self.snapshot.connections.values()
        return {each.name: nominal_size(each.size) for each in connections if each.size is not None}

    @cached_property
    def branches(self) -> frozenset[str]:
        """Names of the connections by which parts take a heater, a bypass or a vent, and none a main line."""
        of_branches, of_mains = set[str](), set[str]()
        for part in self.snapshot.parts.values():
            for port in part.ports:
                if port.role in _BRANCHES:
                    of_branches.add(port.connection)
                elif port.role in _MAINS:
                    of_mains.add(port.connection)
        return frozenset(of_branches - of_mains)

    @cached_property
    def molded_ends(self) -> frozenset[str]:
        """Numbers of the parts between which some molded hose is made to run."""
        molded = [part for part in self.of_kind("hose") if part.attributes.get("shape") == "molded"]
        ends = [part.attributes.get(end) for part in molded for end in ("molded_from", "molded_to")]
        return frozenset(str(end) for end in ends if end is not None)

    @cached_property
    def kits(self) -> frozenset[str]:
        """Numbers of the sets that hold bolts for other joints besides the block's."""
        return frozenset(part.number for part in self.of_kind("fastener_set") if is_kit(part))

    @cached_property
    def ruled(self) -> frozenset[str]:
        """Numbers of the parts that some rule names."""
        return frozenset(number for rule in self.snapshot.rules for number in (rule.part, *rule.others))

    @cached_property
    def required(self) -> frozenset[str]:
        """Numbers of the parts that some rule brings to a list."""
        rules = (rule for rule in self.snapshot.rules if rule.kind == "requires")
        return frozenset(number for rule in rules for number in rule.others)

    def tested_plates(self, pump: str) -> frozenset[tuple[str, ...]]:
        """The multisets of plates that some tested fit with this pump, or with any, speaks of.

        No arithmetic rules these out before the tested fit is looked at.
        """
        return self._tested.get(pump, frozenset()) | self._tested.get("", frozenset())

    @cached_property
    def _tested(self) -> dict[str, frozenset[tuple[str, ...]]]:
        """By the one pump that a tested fit names, or by none."""
        found: dict[str, frozenset[tuple[str, ...]]] = {}
        for rule in self.snapshot.rules:
            if rule.kind == "tested_fit":
                members = [self.snapshot.parts[number] for number in (rule.part, *rule.others)]
                pumps = {part.number for part in members if part.kind == "water_pump"}
                if len(pumps) <= 1:
                    plates = tuple(sorted(part.number for part in members if part.kind in PLATES))
                    pump = next(iter(pumps), "")
                    found[pump] = found.get(pump, frozenset()) | {plates}
        return found

    def like(self, part: Part) -> tuple[Part, ...]:
        """Parts of the same kind with the same ports and the same that matters of them, the cheapest first."""
        return self._alike.get(_likeness(part), ())

    @cached_property
    def _alike(self) -> dict[Likeness, tuple[Part, ...]]:
        found: dict[Likeness, list[Part]] = {}
        for part in sorted(self.snapshot.parts.values(), key=_dearness):
            if part.ports:
                found.setdefault(_likeness(part), []).append(part)
        return {likeness: tuple(parts) for likeness, parts in found.items()}

    def rules_of(self, number: str) -> tuple[Rule, ...]:
        """The rules that start at a part, in order of their names."""
        return self._rules_of.get(number, ())
