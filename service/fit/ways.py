"""The ways to settle the open ports of a question: which part can meet each, and what it raises."""

from collections.abc import Iterable, Iterator
from heapq import merge
from typing import Final, NamedTuple

import msgspec
from msgspec import UNSET

from catalog.domain import Connection, Kind, Part, Port, Role
from service.fit.bill import Bill
from service.fit.bolt_sets import bolt_sets_of
from service.fit.bolts import Group, lacking
from service.fit.bore import Bore, Width, bore_of, width
from service.fit.circuit import (
    FLEXIBLE,
    LINES,
    ON_BLOCK,
    SIDED,
    Asked,
    End,
    Goal,
    LineSide,
    Piece,
    Pointing,
    Slack,
    Spot,
    pieces_parts,
)
from service.fit.graph import Choice, Choices, ConstraintGraph, is_kit
from service.fit.paths import make_joint
from service.fit.question import Question
from service.fit.stack import Sum
from service.fit.tally import least_work, work_of
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
_MAIN_LINES: Final[tuple[Goal, ...]] = (*SIDED, "pumped")


class Raised(NamedTuple):
    """What a part raises on a spot that it meets."""

    spots: tuple[Spot, ...]
    open: tuple[Port, ...] = ()
    """Ports that the build does not ask about."""
    crosses: bool = False
    unsure: bool = False
    """Whether it hangs on a size that nobody states."""


class Ways:
    """Every way to discharge every spot of one question, worked out once.

    A root is a spot of no part: it stands for an obligation, and its ways are the alternatives that it leaves,
    each a set of spots that must all be settled.
    """

    def __init__(self, graph: ConstraintGraph, question: Question, asked: Asked) -> None:
        self.graph, self.question, self.asked = graph, question, asked
        self.bolts = bolt_sets_of(graph, question)
        # A union is a copy, which takes longer than most questions' whole settlement: mostly there is nothing to add.
        self._joining = graph.ruled.union(question.have) if question.have else graph.ruled
        self._apart = self._joining | question.read if question.read else self._joining
        """Parts for which no other stands, however alike."""
        self._roots: dict[tuple[tuple[Spot, ...], ...], Spot] = {}
        self._alternatives: dict[Spot, tuple[tuple[Spot, ...], ...]] = {}
        self._holders: dict[tuple[object, ...], str] = {}
        self._owners: dict[str, Part] = {}
        """By number the described parts that raised a spot: the catalog does not hold them."""
        self._known: dict[Spot, list[Way[Spot, Piece]]] = {}
        self._widths: dict[tuple[Bore, str], Width] = {}
        as_they_are = not (question.without or question.have or question.read)
        self._chosen: dict[tuple[str, str, tuple[Kind, ...]], Choices] = graph.choices if as_they_are else {}

    def of(self, spot: Spot) -> list[Way[Spot, Piece]]:
        """The ways to discharge a spot, but for parts of which a cheaper one is alike in all that matters."""
        if spot not in self._known:
            self._known[spot] = list(self._ways(spot, self._cheapest(spot)))
        return self._known[spot]

    def every(self, spot: Spot) -> Iterator[Way[Spot, Piece]]:
        """All of them."""
        return self._ways(spot, self.graph.meeting_end(spot.connection, spot.end) if spot.connection else ())

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
        side: LineSide = None,
        target: str = "",
        bores: tuple[Bore, ...] = (),
        points: Pointing | None = None,
        slack: tuple[Slack, ...] = (),
    ) -> Spot:
        """The spot of an open port; `after` is the one that its part has met."""
        told = target or owner.number in self.graph.molded_ends
        held = owner.number if told else self._holder(owner) if self.graph.connection(port.connection).bolts else ""
        sided: LineSide = (port.side or side) if goal in SIDED else "any" if goal in LINES else None
        sided = "any" if side == "any" else sided
        loop, remote = (after.loop, after.remote) if after is not None else ("", "")
        return Spot(
            port.connection, port.end, goal, sided, held, target, loop, port.gasket, remote, bores, points, slack
        )

    def bore(self, goal: Goal, ports: Iterable[str]) -> Bore:
        """How narrow a line may be that leads to this goal from these ports, told by their connections."""
        to: Goal = "upper" if goal == "upper_by_thermostat" else goal
        ends = [end.connection for end in self.asked.ends.get(to, ())]
        return bore_of(self.graph, [*ports, *ends], main=goal in _MAIN_LINES)

    def width(self, bores: tuple[Bore, ...], connection: str) -> Width:
        """Whether a line may run on a connection."""
        if not bores:
            return "ok"
        known = self._widths.get((bores[0], connection))
        if known is None:
            known = self._widths[bores[0], connection] = width(self.graph, bores[0], connection)
        return known

    def _wide(self, spot: Spot, bores: tuple[Bore, ...], port: Port) -> Width:
        return "ok" if "sizes" in spot.slack else self.width(bores, port.connection)

    def _pointing(self, spot: Spot) -> Width:
        """Whether what is bolted to the outlet points as the build wants it to."""
        points = spot.points
        if points is None or "points" in spot.slack:
            return "ok"
        must = self.question.build.must
        pairs = zip((must.outlet_side, must.outlet_direction), points, strict=True)
        asked = [(wanted, has) for wanted, has in pairs if wanted is not UNSET]
        if any(has is not None and has != wanted for wanted, has in asked):
            return "fails"
        return "not_known" if any(has is None for _, has in asked) else "ok"

    def relaxed(self, root: Spot, slack: tuple[Slack, ...]) -> Spot:
        """The root with the alternatives of another, of which so much is left out of account."""
        found = (tuple(spot._replace(slack=slack) for spot in spots) for spots in self._alternatives[root])
        return self.root(tuple(found))

    def _holder(self, owner: Part) -> str:
        """Whose holes a joint's bolts go into: for what sits on the block, the first that is alike in its holes.

        So pumps alike share their trees. What a check of such bolts rests on is set right when an option is made.
        """
        if owner.number not in self.graph.snapshot.parts:
            self._owners[owner.number] = owner
            return owner.number
        if owner.kind not in ON_BLOCK or lacking(owner):
            return owner.number
        depth, names = owner.measures["hole_depth"], ("thread", "hole_material", "wet_holes")
        alike = (owner.kind, depth.low, depth.high, *(owner.attributes.get(name) for name in names))
        return self._holders.setdefault(alike, owner.number)

    def _ways(self, spot: Spot, meeting: Iterable[tuple[Part, Port]]) -> Iterator[Way[Spot, Piece]]:
        """A root's alternatives; the asker's own port where the line has arrived; each of these that meet the spot."""
        nothing = tuple(0 for _ in self.cost_of(()))
        if not spot.connection:
            for spots in self._alternatives[spot]:
                yield Way(Piece(spot, None), "", nothing, spots, parts=0)
            return
        pointing = self._pointing(spot)
        arriving = [unsure for end in self.ends(spot) if (unsure := self._arrives(spot, end)) is not None]
        if arriving and pointing != "fails":
            unsure = all(arriving) or pointing == "not_known"
            arrived = Piece(spot, None, unsure=unsure, seal=self.graph.connection(spot.connection).seal)
            yield Way(arrived, "", nothing, (), parts=0)
        bends = spot.points is not None and self.graph.connection(spot.connection).sort in FLEXIBLE
        if bends and pointing == "fails":
            return
        for found, port in meeting:
            part = self.question.part(found)
            if not self.question.allows(part) or (spot.target and part.number != spot.target):
                continue
            for raised in self._raises(spot, part, port):
                unsure = raised.unsure or (bends and pointing == "not_known")
                for piece in self._pieces(spot, part, port, raised._replace(unsure=unsure)):
                    cost = self.cost_of(tuple(pieces_parts(piece)))
                    yield Way(piece, _name_of(piece), cost, raised.spots, renews=_renews(spot, part))

    def ends(self, spot: Spot) -> tuple[End, ...]:
        """Where the line of a spot may end."""
        if spot.goal == "loop":
            connection, _, end = spot.loop.partition(" ")
            return (End(connection, end, None, ""),)
        return self.asked.ends.get(spot.goal, ())

    def _arrives(self, spot: Spot, end: End) -> bool | None:
        """Whether it is in doubt, where the line has arrived there, that its sides agree; None where it has not."""
        other = self.graph.connection(spot.connection).other_end(spot.end)
        if (end.connection, end.end) != (spot.connection, other) or (spot.target and spot.target != end.part):
            return None
        if spot.goal not in SIDED or not {spot.side, end.side}.isdisjoint(("any", "centre")):
            return False
        if spot.side is None or end.side is None:
            return True
        return False if spot.side == end.side or "sides" in spot.slack else None

    def _raises(self, spot: Spot, part: Part, port: Port) -> Iterator[Raised]:
        """What a part raises when it meets the spot by this port: once for each port that can carry the line on."""
        others = [other for other in part.ports if other is not port]
        if spot.goal == "closed":
            if part.kind in ("plug", "cap", "fitting") and port.role in ("mount", "line"):
                yield Raised(tuple(self.spot(part, other, "closed") for other in others))
        elif spot.goal in ("housing", "housing_with_return"):
            yield from self._raises_of_housing(spot, part, port, others)
        elif spot.goal == "thermostat":
            if part.kind == "thermostat" and port.role == "mount" and not others:
                yield Raised(())
        elif spot.goal == "fan":
            yield from self._raises_of_fan(part, port, others)
        elif spot.goal in LINES:
            yield from self._raises_of_line(spot, part, port, others)

    def _raises_of_line(self, spot: Spot, part: Part, port: Port, others: list[Port]) -> Iterator[Raised]:
        if part.kind == "remote_pump":
            yield from self._raises_of_remote(spot, part, port, others)
            return
        in_line = part.kind == "thermostat_housing" and spot.goal == "upper_by_thermostat"
        crosses = part.attributes.get("crosses") is True
        if (part.kind not in ("fitting", "hose") and not in_line) or port.role not in ("line", "mount"):
            return
        target = self._far_end(spot, part)
        if target is None or (crosses and spot.side == "centre" and "sides" not in spot.slack):
            return
        goal: Goal = "upper" if in_line else spot.goal
        side = _other_side(spot.side) if crosses else spot.side
        for carrier in others:
            wide = self._wide(spot, spot.bores, carrier)
            if carrier.role in ("line", "mount") and wide != "fails":
                led_on = self.spot(
                    part,
                    carrier,
                    goal,
                    after=spot,
                    side=side,
                    target=target,
                    bores=spot.bores,
                    points=self._points(spot, carrier),
                    slack=spot.slack,
                )
                inside = [other for other in others if other.role == "thermostat"]
                closed = [other for other in others if other is not carrier and other not in inside]
                raised = (
                    *(self.spot(part, other, "thermostat") for other in inside),
                    led_on,
                    *(self.spot(part, other, "closed") for other in closed),
                )
                yield Raised(raised, crosses=crosses, unsure=wide == "not_known")

    def _points(self, spot: Spot, carrier: Port) -> Pointing | None:
        """Where the outlet points behind a part by the port that carries it on; None where it bends as it likes.

        What is bolted on points where it says; what is pressed, welded or screwed in, where its seat does unless it
        says more.
        """
        connection = self.graph.connection(spot.connection)
        if spot.points is None or connection.sort in FLEXIBLE:
            return None
        if connection.bolts:
            return carrier.side, carrier.direction
        side, direction = spot.points
        return carrier.side or side, carrier.direction or direction

    def _raises_of_remote(self, spot: Spot, part: Part, port: Port, others: list[Port]) -> Iterator[Raised]:
        """The remote pump ends its own line, and another leads on to the radiator's lower port."""
        if spot.goal == "pumped" and port.role == "coolant_out" and spot.remote == part.number:
            inlets = [other.connection for other in others if other.role == "coolant_in"]
            bores = (self.bore("lower", inlets),)
            goals: dict[Role, Goal] = {"coolant_in": "lower"}
            yield Raised(
                tuple(
                    self.spot(part, other, goals.get(other.role, "closed"), side="any", bores=bores, slack=spot.slack)
                    for other in others
                    if other.role != "mount"
                )
            )

    def _far_end(self, spot: Spot, part: Part) -> str | None:
        """The part that a molded hose must meet next; empty for any; None where the hose does not belong here."""
        ends = molded_ends(part)
        if not ends:
            return ""
        return ends[1 - ends.index(spot.owner)] if spot.owner in ends else None

    def _raises_of_housing(self, spot: Spot, part: Part, port: Port, others: list[Port]) -> Iterator[Raised]:
        roles = {other.role for other in others}
        if part.kind != "thermostat_housing" or port.role != "mount":
            return
        if "thermostat" not in roles and part.attributes.get("thermostat_included") is not True:
            return
        wants_return = spot.goal == "housing_with_return"
        if wants_return and "heater_return" not in roles:
            return
        bores: dict[Role, tuple[Bore, ...]] = {"coolant_in": spot.bores[:1], "heater_return": spot.bores[1:]}
        goals: dict[Role, Goal] = {"coolant_in": "lower", "thermostat": "thermostat"}
        if wants_return:
            goals["heater_return"] = "heater_return"
        raised, still_open, widths = [], [], []
        for other in sorted(others, key=lambda other: other.role != "thermostat"):  # it goes in before the hoses go on
            if other.role == "heater_return" and not wants_return and self.asked.heater is None:
                still_open.append(other)
                continue
            goal, of_line = goals.get(other.role, "closed"), bores.get(other.role, ())
            if goal in LINES:
                widths.append(self._wide(spot, of_line, other))
            raised.append(self.spot(part, other, goal, bores=of_line, slack=spot.slack))
        if "fails" not in widths:
            yield Raised(tuple(raised), tuple(still_open), unsure="not_known" in widths)

    def _raises_of_fan(self, part: Part, port: Port, others: list[Port]) -> Iterator[Raised]:
        named = self.question.slots.get("fan")
        if port.role != "mount":
            return
        if part.kind == "fan" and part.attributes.get("driven_by") == "engine" and not others:
            if named is None or named.number == part.number:
                yield Raised(())
        elif part.kind == "fan_adapter":
            yield Raised(tuple(self.spot(part, other, "fan") for other in others if other.role == "fan"))

    def _pieces(self, spot: Spot, part: Part, port: Port, raised: Raised) -> Iterator[Piece]:
        """The part on the spot with its gasket, once for each set of bolts that may hold it."""
        connection = self.graph.connection(spot.connection)
        joint = make_joint(
            self.graph, self.question, Port("", "line", spot.connection, spot.end, gasket=spot.gasket), port
        )
        if joint is None:
            return
        gasket = None if joint.gasket is None else (joint.gasket, connection.pieces_per_layer)
        bare = Piece(
            spot, part, gasket, open=raised.open, crosses=raised.crosses, unsure=raised.unsure, seal=connection.seal
        )
        if not connection.bolts or connection.sort != "face":
            choices = [bare]
        else:
            choices = list(self._bolted(bare, connection, joint.thickness))
        left_open = max((least_work(self.graph, port) for port in raised.open), default=0)
        for piece in choices:
            work = max(left_open, *(work_of(part) for part, _ in pieces_parts(piece)))
            yield msgspec.structs.replace(piece, work=work)

    def _bolted(self, bare: Piece, connection: Connection, gasket: Sum) -> Iterator[Piece]:
        assert bare.part is not None
        flange = bare.part.measures.get("flange_thickness")
        owner = bare.spot.owner
        holder = self.graph.snapshot.parts.get(owner) or self._owners[owner]
        clamped = None if flange is None else gasket + Sum.of(flange)
        group = Group(self.question.part(holder), connection, clamped, bare.part, (), of_block=False)
        for bolted in self.bolts.shortest(group, ""):
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


def _other_side(side: LineSide) -> LineSide:
    return {"left": "right", "right": "left"}.get(side or "", side)  # type: ignore[return-value]


def _name_of(piece: Piece) -> str:
    """What sorts pieces of equal cost: the part's number, then its bolts'."""
    number = "" if piece.part is None else piece.part.number
    return number if piece.bolts is None else f"{number} {piece.bolts[0].number}"
