"""The graph: what its index of ends says, against the same graph in networkx."""

from catalog.domain import Snapshot
from service.fit.graph import ConstraintGraph, end_node
from service.identify.meets import meeting
from tests.bench.assortment import snapshot


def checked_ends(graph: ConstraintGraph) -> int:
    """Compare every end of every connection with networkx's neighbours of the end across it; count the pairs."""
    made: Snapshot = graph.snapshot
    pairs = 0
    for connection in made.connections.values():
        for end in connection.ends:
            other = end_node(connection.name, connection.other_end(end))
            edges = [(node[1], data["port"]) for _, node, data in graph.graph.edges(other, data=True) if "port" in data]
            expected = sorted(edges, key=lambda pair: (pair[0], pair[1].name))
            assert [(part.number, port) for part, port in graph.across(connection.name, end)] == expected
            active = [pair for pair in expected if made.parts[pair[0]].status == "active"]
            assert [(part.number, port) for part, port in graph.meeting_end(connection.name, end)] == active
            pairs += len(expected)
    return pairs


def test_the_index_of_ends_is_the_graph_of_networkx() -> None:
    made = snapshot(1_000, seed=7)
    graph = ConstraintGraph(made)
    assert checked_ends(graph) == sum(len(part.ports) for part in made.parts.values()) > 1_000


def test_questions_do_not_need_networkx() -> None:
    """It would take more memory than all else that a worker holds."""
    made = snapshot(1_000, seed=7)
    graph = ConstraintGraph(made)
    meeting(graph, min(graph.of_kind("water_pump"), key=lambda part: part.number))
    assert "graph" not in vars(graph)
