"""How near a port is to its end at best: what keeps the search for trees from looking where nothing can come of it.

Both bounds leave out sides, molded shapes, gaskets and bolts, so they are never more than what it really takes.
"""

from collections.abc import Iterable, Iterator
from functools import cached_property
from heapq import heappop, heappush
from itertools import permutations
from typing import Final

from catalog.domain import Part, Port
from service.fit.circuit import LINES, Goal, Spot
from service.fit.trees import MOST_PARTS, Cost
from service.fit.ways import Ways

OpenEnd = tuple[str, str]
"""An open port: the connection and the end that it is."""
_Edge = tuple[OpenEnd, OpenEnd, Part]
"""From the open port that a part meets to the one that it raises."""
_FAR: Final = MOST_PARTS + 1


class Bounds:
    """The least parts and the least cost from any spot of a question to its end."""

    def __init__(self, ways: Ways) -> None:
        self._ways, self._graph = ways, ways.graph
        self._nothing: Cost = ways.cost_of(())
        self._lines: dict[tuple[Goal, str, str], tuple[dict[OpenEnd, int], dict[OpenEnd, Cost]]] = {}
        self._single: dict[Spot, Cost | None] = {}

    @cached_property
    def _in_line(self) -> "list[_Edge]":
        return list(self._edges("fitting", "hose"))

    @cached_property
    def _by_thermostat(self) -> "list[_Edge]":
        return list(self._edges("thermostat_housing"))

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

    def _line(self, spot: Spot) -> tuple[dict[OpenEnd, int], dict[OpenEnd, Cost]]:
        key = (spot.goal, spot.loop, spot.remote)
        if key not in self._lines:
            self._lines[key] = self._search(spot)
        return self._lines[key]

    def _search(self, spot: Spot) -> tuple[dict[OpenEnd, int], dict[OpenEnd, Cost]]:
        if spot.goal == "upper_by_thermostat":
            beyond = self._line(spot._replace(goal="upper"))[1]
            starts = {
                edge[0]: _sum(self._cost(edge[2]), beyond[edge[1]]) for edge in self._by_thermostat if edge[1] in beyond
            }
            return {}, self._cheapest(starts)
        if spot.goal == "pumped":
            remote = self._graph.snapshot.parts[spot.remote]
            onward = [self._line(Spot("", "", "lower"))[1].get((p.connection, p.end)) for p in remote.ports]
            least = min((cost for cost in onward if cost is not None), default=self._nothing)
            ends = [self._across(port) for port in remote.ports if port.role == "coolant_out"]
            starts = dict.fromkeys(ends, _sum(self._cost(remote), least))
            return self._nearest(dict.fromkeys(ends, 1)), self._cheapest(starts)
        ends = [(end.connection, self._other(end.connection, end.end)) for end in self._ways.ends(spot)]
        return self._nearest(dict.fromkeys(ends, 0)), self._cheapest(dict.fromkeys(ends, self._nothing))

    def _nearest(self, starts: dict[OpenEnd, int]) -> dict[OpenEnd, int]:
        """Parts from each open port to the nearest start, breadth first along every part that can lie in a line."""
        found, reached = dict(starts), sorted(starts)
        before = _before(self._in_line)
        for end in reached:
            for earlier, _ in before.get(end, ()):
                if earlier not in found:
                    found[earlier] = found[end] + 1
                    reached.append(earlier)
        return found

    def _cheapest(self, starts: dict[OpenEnd, Cost]) -> dict[OpenEnd, Cost]:
        """Cost from each open port to the cheapest start, by Dijkstra's algorithm from the starts back."""
        found: dict[OpenEnd, Cost] = {}
        waiting = sorted((cost, end) for end, cost in starts.items())
        before = _before(self._in_line)
        while waiting:
            cost, end = heappop(waiting)
            if end in found:
                continue
            found[end] = cost
            for earlier, part in before.get(end, ()):
                if earlier not in found:
                    heappush(waiting, (_sum(cost, self._cost(part)), earlier))
        return found

    def _edges(self, *kinds: str) -> Iterator[_Edge]:
        for kind in kinds:
            for part in self._graph.of_kind(kind):  # type: ignore[arg-type]
                if self._ways.question.allows(part):
                    ports = (port for port in part.ports if port.role in ("line", "mount"))
                    for met, raised in permutations(ports, 2):
                        yield self._across(met), (raised.connection, raised.end), part

    def _cost(self, part: Part) -> Cost:
        return self._ways.cost_of(((part, 1),))

    def _across(self, port: Port) -> OpenEnd:
        """The open port that this one meets."""
        return port.connection, self._other(port.connection, port.end)

    def _other(self, connection: str, end: str) -> str:
        return self._graph.connection(connection).other_end(end)


def _before(edges: list[_Edge]) -> dict[OpenEnd, list[tuple[OpenEnd, Part]]]:
    before: dict[OpenEnd, list[tuple[OpenEnd, Part]]] = {}
    for met, raised, part in edges:
        before.setdefault(raised, []).append((met, part))
    return before


def _sum(one: Cost, other: Cost) -> Cost:
    return tuple(a + b for a, b in zip(one, other, strict=True))
