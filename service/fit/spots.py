"""The open ports of a question, each with all that bears on how it may be settled."""

from collections.abc import Iterable
from typing import Final

from msgspec import UNSET

from catalog.domain import Part, Port
from service.fit.bolts import lacking
from service.fit.bore import Bore, Width, bore_of, width
from service.fit.circuit import LINES, ON_BLOCK, SIDED, Asked, End, Goal, LineSide, Pointing, Slack, Spot
from service.fit.graph import ConstraintGraph
from service.fit.question import Question

_MAIN_LINES: Final[tuple[Goal, ...]] = (*SIDED, "pumped")


class Spots:
    """The spots of one question."""

    def __init__(self, graph: ConstraintGraph, question: Question, asked: Asked) -> None:
        self.graph, self.question, self.asked = graph, question, asked
        self._holders: dict[tuple[object, ...], str] = {}
        self._owners: dict[str, Part] = {}
        """By number the described parts that raised a spot: the catalog does not hold them."""
        self._widths: dict[tuple[Bore, str], Width] = {}
        self._sided = frozenset(goal for goal in SIDED if any(end.side != "any" for end in self._ends(goal)))
        """Goals of lines that end on a side; where the asker leaves it out any hose serves."""

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
        sided: LineSide = "any" if goal in LINES else None
        if goal in self._sided and side != "any":
            sided = port.side or side
        loop, remote = (after.loop, after.remote) if after is not None else ("", "")
        return Spot(
            port.connection, port.end, goal, sided, held, target, loop, port.gasket, remote, bores, points, slack
        )

    def bore(self, goal: Goal, ports: Iterable[str]) -> Bore:
        """How narrow a line may be that leads to this goal from these ports, told by their connections."""
        ends = [end.connection for end in self._ends(goal)]
        return bore_of(self.graph, [*ports, *ends], main=goal in _MAIN_LINES)

    def _ends(self, goal: Goal) -> tuple[End, ...]:
        return self.asked.ends.get("upper" if goal == "upper_by_thermostat" else goal, ())

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

    def ends(self, spot: Spot) -> tuple[End, ...]:
        """Where the line of a spot may end."""
        if spot.goal == "loop":
            connection, _, end = spot.loop.partition(" ")
            return (End(connection, end, None, ""),)
        return self.asked.ends.get(spot.goal, ())

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
