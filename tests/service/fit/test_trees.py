"""The search for trees: against networkx's own enumeration of simple paths, a published example, and plain counting."""

from itertools import islice, pairwise, product
from random import Random

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.fit.trees import MOST_PARTS, Settler, Tree, Way

Arcs = dict[str, dict[str, int]]
"""Node, its successors, and what each step costs."""


def settler_of(arcs: Arcs, end: str) -> Settler[str, str]:
    """Paths as trees without branches: a spot is a node, a piece the step out of it."""

    def ways(node: str) -> list[Way[str, str]]:
        return [
            Way(f"{node}{after}", f"{node}{after}", (cost,), () if after == end else (after,))
            for after, cost in arcs.get(node, {}).items()
        ]

    return Settler(ways)


def graph_of(arcs: Arcs) -> "nx.DiGraph[str]":
    graph: nx.DiGraph[str] = nx.DiGraph()
    graph.add_weighted_edges_from(
        (node, after, cost) for node, afters in arcs.items() for after, cost in afters.items()
    )
    return graph


def costs_by_networkx(arcs: Arcs, start: str, end: str) -> list[int]:
    """Costs of all simple paths, cheapest first."""
    graph = graph_of(arcs)
    if start not in graph or end not in graph or not nx.has_path(graph, start, end):
        return []
    return [
        sum(arcs[one][other] for one, other in pairwise(path))
        for path in nx.shortest_simple_paths(graph, start, end, weight="weight")
    ]


def random_arcs(random: Random, nodes: int) -> Arcs:
    """A directed acyclic graph, with costs so few that many paths cost the same."""
    names = [f"n{place:02}" for place in range(nodes)]
    return {
        name: {after: random.randint(0, 4) for after in names[place + 1 :] if random.random() < 0.5}
        for place, name in enumerate(names)
    }


@pytest.mark.parametrize("seed", range(40))
def test_same_costs_in_the_same_order_as_networkx(seed: int) -> None:
    """networkx.shortest_simple_paths (Yen 1971); a graph of seven nodes has no path of more than six steps."""
    arcs = random_arcs(Random(seed), MOST_PARTS + 1)
    found = [tree.cost[0] for tree in settler_of(arcs, "n06").all("n00")]
    assert found == costs_by_networkx(arcs, "n00", "n06")


@pytest.mark.parametrize("seed", range(40, 50))
def test_longer_paths_than_six_parts_are_left_out(seed: int) -> None:
    arcs = random_arcs(Random(seed), 10)
    graph = graph_of(arcs)
    paths = nx.all_simple_paths(graph, "n00", "n09", cutoff=MOST_PARTS) if {"n00", "n09"} <= set(graph) else iter([])
    expected = sorted(sum(arcs[one][other] for one, other in pairwise(path)) for path in paths)
    assert [tree.cost[0] for tree in settler_of(arcs, "n09").all("n00")] == expected


YEN: Arcs = {
    "C": {"D": 3, "E": 2},
    "D": {"F": 4},
    "E": {"D": 1, "F": 2, "G": 3},
    "F": {"G": 2, "H": 1},
    "G": {"H": 2},
}


def test_published_example_of_k_shortest_paths() -> None:
    """The example usually printed with the algorithm of Yen 1971.

    Edges CD3 CE2 DF4 ED1 EF2 EG3 FG2 FH1 GH2; from C to H the costs are 5 (CEFH), 7 (CEGH), 8, 8, 8, 11, 11,
    which networkx.shortest_simple_paths also gives. From the third on only the costs are compared: a tie.
    """
    trees = list(settler_of(YEN, "H").all("C"))
    assert [tree.cost[0] for tree in trees] == [5, 7, 8, 8, 8, 11, 11]
    assert [tree.cost[0] for tree in trees] == costs_by_networkx(YEN, "C", "H")
    routes = ["".join(piece[0] for piece in tree.pieces()) + "H" for tree in trees]
    assert routes[:2] == ["CEFH", "CEGH"]
    assert set(routes[2:5]) == {"CDFH", "CEFGH", "CEDFH"}
    assert len(set(routes)) == 7


# --- trees with branches, against writing all of them out -----------------------------------------------------

Grammar = dict[int, list[tuple[int, tuple[int, ...]]]]
"""Spot, and the ways to settle it: cost, and the spots that it raises."""


@st.composite
def grammars(draw: st.DrawFn) -> Grammar:
    """Up to four spots, each with up to three ways; spots raise each other, also in circles."""
    spots = draw(st.integers(1, 4))
    way = st.tuples(st.integers(0, 3), st.lists(st.integers(0, spots - 1), max_size=2).map(tuple))
    return {spot: draw(st.lists(way, max_size=3)) for spot in range(spots)}


def settler_of_grammar(grammar: Grammar) -> Settler[int, str]:
    return Settler(
        lambda spot: [
            Way(f"{spot}.{place}", f"{spot}.{place}", (cost, 1), raises)
            for place, (cost, raises) in enumerate(grammar[spot])
        ]
    )


def all_trees(grammar: Grammar, spot: int, parts_left: int) -> list[tuple[tuple[int, int], tuple[str, ...]]]:
    """Cost and names of every tree of at most so many parts from top to bottom, by writing them all out."""
    if not parts_left:
        return []
    found = []
    for place, (cost, raises) in enumerate(grammar[spot]):
        for branches in product(*(all_trees(grammar, raised, parts_left - 1) for raised in raises)):
            total = cost + sum(branch[0][0] for branch in branches), 1 + sum(branch[0][1] for branch in branches)
            names = (f"{spot}.{place}", *(name for branch in branches for name in branch[1]), "")
            found.append((total, names))
    return sorted(found)


@given(grammars())
def test_every_tree_once_in_order_of_cost_then_names(grammar: Grammar) -> None:
    settler = settler_of_grammar(grammar)
    for spot in grammar:
        for depth in (1, 2, 3):
            expected = all_trees(grammar, spot, depth)[:200]
            found: list[Tree[str] | None] = [settler.nth(spot, place, depth) for place in range(len(expected))]
            assert [tree and (tree.cost, tree.names) for tree in found] == expected
            if len(expected) < 200:
                assert settler.nth(spot, len(expected), depth) is None


@given(grammars())
def test_costs_never_fall_and_trees_add_up(grammar: Grammar) -> None:
    settler = settler_of_grammar(grammar)
    trees = list(islice(settler.all(0), 60))
    assert all(one.cost <= other.cost for one, other in pairwise(trees))
    assert len({tree.names for tree in trees}) == len(trees)
    for tree in trees:
        pieces = list(tree.pieces())
        assert len(pieces) == tree.cost[1]
        assert pieces == [name for name in tree.names if name]
        assert tree.cost[0] == sum(grammar[int(spot)][int(way)][0] for spot, way in (one.split(".") for one in pieces))


@given(grammars(), st.integers(0, 30))
def test_asking_in_any_order_gives_the_same(grammar: Grammar, place: int) -> None:
    one, other = settler_of_grammar(grammar), settler_of_grammar(grammar)
    first = [tree.names for tree in islice(one.all(0), place + 1)]
    late = other.nth(0, place)
    assert (late is None) == (len(first) <= place)
    if late is not None:
        assert late.names == first[place]


def test_a_question_is_worked_out_once() -> None:
    asked: list[str] = []

    def ways(node: str) -> list[Way[str, str]]:
        asked.append(node)
        return [Way("end", "end", (1,), ())] if node == "b" else [Way("on", "on", (1,), ("b", "b"))]

    settler = Settler(ways)
    assert settler.nth("a", 0) == settler.nth("a", 0)
    assert settler.nth("a", 1) is None
    assert asked == ["a", "b"]
    assert settler.steps == 2


def test_arriving_takes_no_part_and_a_way_may_count_anew() -> None:
    """A line of six parts still arrives; behind a way that renews the count, six more may follow."""

    def ways(spot: tuple[str, int]) -> list[Way[tuple[str, int], str]]:
        kind, left = spot
        if left == 0 and kind == "first":
            return [Way("housing", "housing", (1,), (("second", MOST_PARTS),), renews=True)]
        if left == 0:
            return [Way("arrived", "", (0,), (), parts=0)]
        return [Way("hose", "hose", (1,), ((kind, left - 1),))]

    settler = Settler(ways)
    tree = settler.nth(("first", MOST_PARTS - 1), 0)
    assert tree is not None
    assert tree.cost == (2 * MOST_PARTS,)
    assert [piece for piece in tree.pieces() if piece != "arrived"] == [*["hose"] * 5, "housing", *["hose"] * 6]
    assert settler.nth(("first", MOST_PARTS), 0) is None
    assert Settler(ways).nth(("second", MOST_PARTS + 1), 0) is None
