"""The ways to settle the open ports of a question: which part can meet each, and what it raises."""

from collections.abc import Iterable, Iterator
from heapq import merge
from typing import Final

import msgspec
from msgspec import UNSET

from catalog.domain import Connection, Kind, Part, Port
from service.fit.bill import Bill
from service.fit.bolt_sets import Room, bolt_sets_of
from service.fit.bolts import Group, length_of
from service.fit.circuit import FLEXIBLE, Asked, End, Goal, Piece, Slack, Spot, pieces_parts
from service.fit.graph import Choice, Choices, ConstraintGraph, is_kit
from service.fit.paths import make_joint
from service.fit.question import Question
from service.fit.raises import Raised, Raises, molded_ends, renews
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


class Ways(Raises):
    """Every way to discharge every spot of one question, worked out once.

    A root is a spot of no part: it stands for an obligation, and its ways are the alternatives that it leaves,
    each a set of spots that must all be settled.
    """

    def __init__(self, graph: ConstraintGraph, question: Question, asked: Asked, wanted: str = "") -> None:
        """`wanted` is a part for which no other may stand, though nothing else tells it from others."""
        super().__init__(graph, question, asked)
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

    def relaxed(self, root: Spot, slack: tuple[Slack, ...]) -> Spot:
        """The root with the alternatives of another, of which so much is left out of account."""
        found = (tuple(spot._replace(slack=slack) for spot in spots) for spots in self._alternatives[root])
        return self.root(tuple(found))

    def _ways(self, spot: Spot, meeting: Iterable[tuple[Part, Port]], room: Room) -> Iterator[Way[Spot, Piece]]:
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
                for piece in self._pieces(spot, part, port, raised._replace(unsure=unsure), room):
                    cost = self.cost_of(tuple(pieces_parts(piece)))
                    yield Way(piece, _name_of(piece), cost, raised.spots, renews=renews(spot, part))

    def _arrives(self, spot: Spot, end: End) -> bool | None:
        """Whether it is in doubt, where the line has arrived there, that its sides agree; None where it has not."""
        other = self.graph.connection(spot.connection).other_end(spot.end)
        if (end.connection, end.end) != (spot.connection, other) or (spot.target and spot.target != end.part):
            return None
        if not {spot.side, end.side}.isdisjoint(("any", "centre")):
            return False
        if spot.side is None or end.side is None:
            return True
        return False if spot.side == end.side or "sides" in spot.slack else None

    def _pieces(self, spot: Spot, part: Part, port: Port, raised: Raised, room: Room) -> Iterator[Piece]:
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
            choices = list(self._bolted(bare, connection, joint.thickness, room))
        left_open = max((least_work(self.graph, port) for port in raised.open), default=0)
        for piece in choices:
            work = max(left_open, *(work_of(part) for part, _ in pieces_parts(piece)))
            yield msgspec.structs.replace(piece, work=work)

    def _bolted(self, bare: Piece, connection: Connection, gasket: Sum, room: Room) -> Iterator[Piece]:
        assert bare.part is not None
        flange = bare.part.measures.get("flange_thickness")
        owner = bare.spot.owner
        holder = self.graph.snapshot.parts.get(owner) or self._owners[owner]
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


def _name_of(piece: Piece) -> str:
    """What sorts pieces of equal cost: the part's number, then the length of its bolts, then their number."""
    number = "" if piece.part is None else piece.part.number
    if piece.bolts is None:
        return number
    bolts = piece.bolts[0]
    return f"{number} {bolts.measures[length_of(bolts, of_block=False)].nominal:012} {bolts.number}"
