"""How near a port is to its end at best: what keeps the search for trees from looking where nothing can come of it.

Both bounds leave out sides, directions, molded shapes, gaskets and bolts, so they are never more than it really takes.
"""

from collections.abc import Iterable
from functools import cached_property
from heapq import heappop, heappush
from typing import Final

from catalog.domain import Part, Port
from service.fit.bore import Bore
from service.fit.circuit import LINES, Spot
from service.fit.graph import End
from service.fit.trees import MOST_PARTS, Cost
from service.fit.ways import Ways

_FAR: Final = MOST_PARTS + 1


class Bounds:
    """The least parts and the least cost from any spot of a question to its end."""

    def __init__(self, ways: Ways) -> None:
        self._ways, self._graph = ways, ways.graph
        self._nothing: Cost = ways.cost_of(())
        self._lines: dict[tuple[object, ...], tuple[dict[End, int], dict[End, Cost]]] = {}
        self._single: dict[Spot, Cost | None] = {}

    @cached_property
    def _before(self) -> dict[End, list[tuple[End, Cost]]]:
        """By the open port that a part in a line raises, each one that it can meet, with the least cost of such."""
        least: dict[tuple[End, End], Cost] = {}
        question, parts = self._ways.question, self._graph.snapshot.parts
        for ends, alike in self._graph.in_line.items():
            cheapest = next((part for part in alike if question.allows(part)), None)
            if cheapest is not None:
                least[ends] = self._cost(cheapest)
        at_hand = (parts[number] for number in question.have if number in parts)
        for part in at_hand:
            if part.kind in ("fitting", "hose") and question.allows(part):
                for ends in self._graph.lines_of(part):
                    least[ends] = min(least[ends], self._cost(part))
        before: dict[End, list[tuple[End, Cost]]] = {}
        for (met, raised), cost in least.items():
            before.setdefault(raised, []).append((met, cost))
        return before

    @cached_property
    def _by_thermostat(self) -> list[tuple[End, End, Cost]]:
        housings = filter(self._ways.question.allows, self._graph.of_kind("thermostat_housing"))
        return [(*ends, self._cost(part)) for part in housings for ends in self._graph.lines_of(part)]

    def least_parts(self, spot: Spot) -> int:
        """How many parts it takes from a spot to its end at least; more than a line may have where none leads there."""
        if not spot.connection:
            return 0
        if spot.goal not in LINES or spot.goal == "upper_by_thermostat":
            return 1
        return self._line(spot)[0].get((spot.connection, spot.end), _FAR)

    def least_cost(self, spot: Spot) -> Cost | None:
        """What it costs at least, by the ranking's keys that add up; None where nothing leads there."""
        if not spot.connection:
            return self._nothing
        if spot.goal in LINES:
            return self._line(spot)[1].get((spot.connection, spot.end))
        if spot not in self._single:
            self._single[spot] = self._nothing  # a fitting that leads back to itself costs no less
            costs = [self._with_raised(way.cost, way.raises) for way in self._ways.of(spot)]
            self._single[spot] = min((cost for cost in costs if cost is not None), default=None)
        return self._single[spot]

    def _with_raised(self, cost: Cost, raised: Iterable[Spot]) -> Cost | None:
        total = cost
        for spot in raised:
            least = self.least_cost(spot)
            if least is None:
                return None
            total = _sum(total, least)
        return total

    def _line(self, spot: Spot) -> tuple[dict[End, int], dict[End, Cost]]:
        spot = spot._replace(bores=()) if "sizes" in spot.slack else spot
        key = (spot.goal, spot.loop, spot.remote, spot.bores)
        if key not in self._lines:
            self._lines[key] = self._search(spot)
        return self._lines[key]

    def _search(self, spot: Spot) -> tuple[dict[End, int], dict[End, Cost]]:
        if spot.goal == "upper_by_thermostat":
            beyond = self._line(spot._replace(goal="upper"))[1]
            starts = {met: _sum(cost, beyond[raised]) for met, raised, cost in self._by_thermostat if raised in beyond}
            return {}, self._cheapest(starts, spot.bores)
        if spot.goal == "pumped":
            remote = self._graph.snapshot.parts.get(spot.remote)
            if remote is None:
                return {}, {}  # a described pump, which a belt drives: no line leads to it
            onward = [self._line(Spot("", "", "lower"))[1].get((p.connection, p.end)) for p in remote.ports]
            least = min((cost for cost in onward if cost is not None), default=self._nothing)
            ends = [self._across(port) for port in remote.ports if port.role == "coolant_out"]
            starts = dict.fromkeys(ends, _sum(self._cost(remote), least))
            return self._nearest(dict.fromkeys(ends, 1), spot.bores), self._cheapest(starts, spot.bores)
        ends = [(end.connection, self._other(end.connection, end.end)) for end in self._ways.ends(spot)]
        starts = dict.fromkeys(ends, self._nothing)
        return self._nearest(dict.fromkeys(ends, 0), spot.bores), self._cheapest(starts, spot.bores)

    def _earlier(self, end: End, bores: tuple[Bore, ...]) -> list[tuple[End, Cost]]:
        """What a part meets that raises this port, where the line may run on it."""
        if self._ways.width(bores, end[0]) == "fails":
            return []
        return self._before.get(end, [])

    def _nearest(self, starts: dict[End, int], bores: tuple[Bore, ...]) -> dict[End, int]:
        """Parts from each open port to the nearest start, breadth first along every part that can lie in a line."""
        found, reached = dict(starts), sorted(starts)
        for end in reached:
            for earlier, _ in self._earlier(end, bores):
                if earlier not in found:
                    found[earlier] = found[end] + 1
                    reached.append(earlier)
        return found

    def _cheapest(self, starts: dict[End, Cost], bores: tuple[Bore, ...]) -> dict[End, Cost]:
        """Cost from each open port to the cheapest start, by Dijkstra's algorithm from the starts back."""
        found: dict[End, Cost] = {}
        waiting = sorted((cost, end) for end, cost in starts.items())
        while waiting:
            cost, end = heappop(waiting)
            if end in found:
                continue
            found[end] = cost
            for earlier, more in self._earlier(end, bores):
                if earlier not in found:
                    heappush(waiting, (_sum(cost, more), earlier))
        return found

    def _cost(self, part: Part) -> Cost:
        return self._ways.cost_of(((part, 1),))

    def _across(self, port: Port) -> End:
        """The open port that this one meets."""
        return port.connection, self._other(port.connection, port.end)

    def _other(self, connection: str, end: str) -> str:
        return self._graph.connection(connection).other_end(end)


def _sum(one: Cost, other: Cost) -> Cost:
    return tuple(a + b for a, b in zip(one, other, strict=True))
