"""The ways to settle the open ports of a question: which part can meet each, and what it raises."""

from collections.abc import Iterable, Iterator
from heapq import merge
from typing import Final

import msgspec
from msgspec import UNSET

from catalog.domain import Connection, Kind, Part, Port, Role, Side
from service.fit.bill import Bill
from service.fit.bolt_sets import Room, bolt_sets_of
from service.fit.bolts import Group, lacking, length_of
from service.fit.circuit import LINES, ON_BLOCK, SIDED, Asked, End, Goal, Piece, Spot, pieces_parts
from service.fit.graph import Choice, Choices, ConstraintGraph, is_kit
from service.fit.paths import make_joint
from service.fit.question import Question
from service.fit.stack import Sum
from service.fit.tally import work_of
from service.fit.trees import Cost, Way

_OF_LINES: Final[tuple[Kind, ...]] = ("fitting", "hose", "thermostat_housing", "remote_pump")
_KINDS: Final[dict[Goal, tuple[Kind, ...]]] = {
    "closed": ("plug", "cap", "fitting"),
    "housing": ("thermostat_housing",),
    "housing_with_return": ("thermostat_housing",),
    "thermostat": ("thermostat",),
    "fan": ("fan", "fan_adapter"),
}
"""Kinds of parts that may meet a spot, by its goal where it is not to be led on in a line."""


class Ways:
    """Every way to discharge every spot of one question, worked out once.

    A root is a spot of no part: it stands for an obligation, and its ways are the alternatives that it leaves,
    each a set of spots that must all be settled.
    """

    def __init__(self, graph: ConstraintGraph, question: Question, asked: Asked, wanted: str = "") -> None:
        """`wanted` is a part for which no other may stand, though nothing else tells it from others."""
        self.graph, self.question, self.asked = graph, question, asked
        self.bolts = bolt_sets_of(graph, question)
        # A union is a copy, which takes longer than most questions' whole settlement: mostly there is nothing to add.
        self._joining = graph.ruled.union(question.have) if question.have else graph.ruled
        self._wanted = wanted
        if wanted:
            self._joining = self._joining.union((wanted,))
        self._apart = self._joining | question.read if question.read else self._joining
        """Parts for which no other stands, however alike."""
        self._roots: dict[tuple[tuple[Spot, ...], ...], Spot] = {}
        self._alternatives: dict[Spot, tuple[tuple[Spot, ...], ...]] = {}
        self._holders: dict[tuple[object, ...], str] = {}
        self._known: dict[Spot, list[Way[Spot, Piece]]] = {}
        as_they_are = not (question.without or question.have or question.read or wanted)
        self._chosen: dict[tuple[str, str, tuple[Kind, ...]], Choices] = graph.choices if as_they_are else {}

    def of(self, spot: Spot) -> list[Way[Spot, Piece]]:
        """The ways to discharge a spot, but for parts of which a cheaper one is alike in all that matters."""
        if spot not in self._known:
            self._known[spot] = list(self._ways(spot, self._cheapest(spot), Room(every=bool(self._wanted))))
        return self._known[spot]

    def every(self, spot: Spot) -> Iterator[Way[Spot, Piece]]:
        """All of them."""
        meeting = self.graph.meeting_end(spot.connection, spot.end) if spot.connection else ()
        return self._ways(spot, meeting, Room(every=True))

    def _cheapest(self, spot: Spot) -> Iterator[tuple[Part, Port]]:
        """What may meet a spot: each that joins its obligation to others, and of the rest alike the cheapest.

        Of molded hoses, of which a connection may have hundreds, only those that are made to run from its owner.
        """
        if not spot.connection:
            return
        free, molded = self._choices(spot.connection, spot.end, _KINDS.get(spot.goal, _OF_LINES))
        own = molded.get(spot.owner)
        for _, part, port in merge(free, own) if own else free:
            yield part, port

    def _choices(self, connection: str, end: str, kinds: tuple[Kind, ...]) -> "Choices":
        """What of these kinds may meet such a port, each with its place; molded hoses by the parts at their ends."""
        key = (connection, end, kinds)
        if key not in self._chosen:
            free, molded = list[Choice](), dict[str, list[Choice]]()
            for place, (part, port) in enumerate(self._one_of_each(connection, end)):
                if part.kind in kinds:
                    ends = molded_ends(part)
                    for owner in dict.fromkeys(ends):
                        molded.setdefault(owner, []).append((place, part, port))
                    if not ends:
                        free.append((place, part, port))
            self._chosen[key] = free, molded
        return self._chosen[key]

    def _one_of_each(self, connection: str, end: str) -> Iterator[tuple[Part, Port]]:
        for group in self.graph.meeting_alike(connection, end):
            stands = False
            for pair in group:
                if pair[0].number in self._apart:
                    yield pair
                elif not stands and self.question.allows(pair[0]):
                    stands = True
                    yield pair

    def marks(self, piece: Piece) -> tuple[str, ...]:
        """What of a piece joins its obligation to others: parts of rules, parts at hand, kits, and the fan's room."""
        return tuple(
            part.number
            for part, _ in pieces_parts(piece)
            if part.number in self._joining or part.kind in ("fan", "fan_adapter") or is_kit(part)
        )

    def limited(self, cost: Cost) -> Cost:
        """What of a cost the build limits: the price, where it does not come first in the ranking anyway."""
        if not _limits_trees(self.question):
            return ()
        bill = Bill.of(cost, self.question.rank_keys)
        return bill.unpriced, bill.known

    def root(self, alternatives: tuple[tuple[Spot, ...], ...]) -> Spot:
        """The root with these alternatives; pumps that leave the same ones share it, and its trees."""
        if alternatives not in self._roots:
            self._roots[alternatives] = root = Spot("", str(len(self._roots)), "closed")
            self._alternatives[root] = alternatives
        return self._roots[alternatives]

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
        told = target or owner.number in self.graph.molded_ends
        held = owner.number if told else self._holder(owner) if self.graph.connection(port.connection).bolts else ""
        sided = (port.side or side) if goal in SIDED or goal == "upper_by_thermostat" else None
        loop, remote = (after.loop, after.remote) if after is not None else ("", "")
        return Spot(port.connection, port.end, goal, sided, held, target, loop, port.gasket, remote)

    def _holder(self, owner: Part) -> str:
        """Whose holes a joint's bolts go into: for what sits on the block, the first that is alike in its holes.

        So pumps alike share their trees. What a check of such bolts rests on is set right when an option is made.
        """
        if owner.kind not in ON_BLOCK or owner.number not in self.graph.snapshot.parts or lacking(owner):
            return owner.number
        depth, names = owner.measures["hole_depth"], ("thread", "hole_material", "wet_holes")
        alike = (owner.kind, depth.low, depth.high, *(owner.attributes.get(name) for name in names))
        return self._holders.setdefault(alike, owner.number)

    def _ways(self, spot: Spot, meeting: Iterable[tuple[Part, Port]], room: Room) -> Iterator[Way[Spot, Piece]]:
        """A root's alternatives; the asker's own port where the line has arrived; each of these that meet the spot."""
        nothing = tuple(0 for _ in self.cost_of(()))
        if not spot.connection:
            for spots in self._alternatives[spot]:
                yield Way(Piece(spot, None), "", nothing, spots, parts=0)
            return
        if any(self._arrives(spot, end) for end in self.ends(spot)):
            arrived = Piece(spot, None, seal=self.graph.connection(spot.connection).seal)
            yield Way(arrived, "", nothing, (), parts=0)
        for found, port in meeting:
            part = self.question.part(found)
            if not self.question.allows(part) or (spot.target and part.number != spot.target):
                continue
            for raised, still_open, crosses in self._raises(spot, part, port):
                for piece in self._pieces(spot, part, port, still_open, room, crosses=crosses):
                    cost = self.cost_of(tuple(pieces_parts(piece)))
                    yield Way(piece, _name_of(piece), cost, raised, renews=_renews(spot, part))

    def ends(self, spot: Spot) -> tuple[End, ...]:
        """Where the line of a spot may end."""
        if spot.goal == "loop":
            connection, _, end = spot.loop.partition(" ")
            return (End(connection, end, None, ""),)
        return self.asked.ends.get(spot.goal, ())

    def _arrives(self, spot: Spot, end: End) -> bool:
        other = self.graph.connection(spot.connection).other_end(spot.end)
        if (end.connection, end.end) != (spot.connection, other) or (spot.target and spot.target != end.part):
            return False
        return not _opposite(spot.side, end.side)

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
                inside = [other for other in others if other.role == "thermostat"]
                closed = [other for other in others if other is not carrier and other not in inside]
                raised = (
                    *(self.spot(part, other, "thermostat") for other in inside),
                    led_on,
                    *(self.spot(part, other, "closed") for other in closed),
                )
                yield raised, (), crosses

    def _raises_of_remote(
        self, spot: Spot, part: Part, port: Port, others: list[Port]
    ) -> Iterator[tuple[tuple[Spot, ...], tuple[Port, ...], bool]]:
        """The remote pump ends its own line, and another leads on to the radiator's lower port."""
        if spot.goal == "pumped" and port.role == "coolant_out" and spot.remote == part.number:
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
        ends = molded_ends(part)
        if not ends:
            return ""
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
        for other in sorted(others, key=lambda other: other.role != "thermostat"):  # it goes in before the hoses go on
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
        self, spot: Spot, part: Part, port: Port, still_open: tuple[Port, ...], room: Room, *, crosses: bool
    ) -> Iterator[Piece]:
        """The part on the spot with its gasket, once for each set of bolts that may hold it."""
        connection = self.graph.connection(spot.connection)
        joint = make_joint(
            self.graph, self.question, Port("", "line", spot.connection, spot.end, gasket=spot.gasket), port
        )
        if joint is None:
            return
        gasket = None if joint.gasket is None else (joint.gasket, connection.pieces_per_layer)
        bare = Piece(spot, part, gasket, open=still_open, crosses=crosses, seal=connection.seal)
        if not connection.bolts or connection.sort != "face":
            choices = [bare]
        else:
            choices = list(self._bolted(bare, connection, joint.thickness, room))
        for piece in choices:
            yield msgspec.structs.replace(piece, work=max(work_of(part) for part, _ in pieces_parts(piece)))

    def _bolted(self, bare: Piece, connection: Connection, gasket: Sum, room: Room) -> Iterator[Piece]:
        assert bare.part is not None
        flange = bare.part.measures.get("flange_thickness")
        holder = self.graph.snapshot.parts.get(bare.spot.owner)
        if holder is None:
            yield bare
            return
        clamped = None if flange is None else gasket + Sum.of(flange)
        group = Group(self.question.part(holder), connection, clamped, bare.part, (), of_block=False)
        for bolted in self.bolts.bolted(group, "", room):
            if bolted.check.verdict != "fails":
                bolts = None if bolted.fasteners is None else (bolted.fasteners, bolted.quantity)
                yield msgspec.structs.replace(bare, bolts=bolts, bolt_check=bolted.check)

    def cost_of(self, parts: tuple[tuple[Part, int], ...]) -> Cost:
        """What parts add to a list, by the ranking's keys that add up; a piece at hand costs nothing."""
        buy = [(part, n) for part, n in parts if not self.question.have.get(part.number)]
        bill = Bill(
            unpriced=sum(n for part, n in buy if part.price is None),
            known=sum(part.price.amount * n for part, n in buy if part.price is not None),
            pieces=sum(n for _, n in parts),
        )
        return bill.by(self.question.rank_keys)


def molded_ends(part: Part) -> tuple[str, ...]:
    """Numbers of the two parts between which a molded hose is made to run; nothing for any other part."""
    if part.attributes.get("shape") != "molded":
        return ()
    return str(part.attributes.get("molded_from", "")), str(part.attributes.get("molded_to", ""))


def asks_of_circuits(question: Question) -> tuple[object, ...]:
    """All of a question that bears on its ways: two that agree in it, of one engine, share their trees."""
    build, numbers = question.build, {slot: part.number for slot, part in question.slots.items()}
    ports = b"" if build.radiator_ports is UNSET else msgspec.json.encode(build.radiator_ports)
    return (
        numbers.get("radiator"),
        ports,
        numbers.get("heater", build.heater),
        numbers.get("fan", build.fan),
        build.must.outlet_side,
        build.must.outlet_direction,
        tuple(sorted(question.without)),
        question.price_at_most if _limits_trees(question) else None,
        question.rank_keys,
    )


def _limits_trees(question: Question) -> bool:
    """Whether a limit on price must be kept in mind for each tree: where pieces count before the price."""
    keys = question.rank_keys
    return question.price_at_most is not None and "parts" in keys[: keys.index("price")]


def _renews(spot: Spot, part: Part) -> bool:
    """Whether the way from port to end is counted anew behind this part: a housing, or a remote pump."""
    return spot.goal in ("housing", "housing_with_return") or part.kind == "remote_pump"


def _opposite(one: Side | None, other: Side | None) -> bool:
    return {one, other} == {"left", "right"}


def _other_side(side: Side | None) -> Side | None:
    return {"left": "right", "right": "left"}.get(side or "", side)  # type: ignore[return-value]


def _name_of(piece: Piece) -> str:
    """What sorts pieces of equal cost: the part's number, then the length of its bolts, then their number."""
    number = "" if piece.part is None else piece.part.number
    if piece.bolts is None:
        return number
    bolts = piece.bolts[0]
    return f"{number} {bolts.measures[length_of(bolts, of_block=False)].nominal:012} {bolts.number}"
