"""The index of a front against the plain search of the graph: the same pairs, verdicts, order and nearest misses."""

from collections.abc import Iterator
from typing import Any

import msgspec
import pytest

from catalog.domain import Snapshot
from service.fit.build import Build
from service.fit.engine import fit
from service.fit.front import front_of
from service.fit.graph import ConstraintGraph
from service.fit.mounting import Mounting, dry_mountings, plates_of, with_circuits
from service.fit.paths import Seat, face_paths, seat
from service.fit.question import Question, resolve
from service.fit.search import Search
from service.fit.whole import Settlement
from tests.bench.assortment import snapshot as assortment
from tests.oracles.generator import seeded_case
from tests.support import effort

BLOCK = 20
BLOCKS = 2 * effort()
Placed = tuple[str, str, str, tuple[str, ...]]
DEMO: list[dict[str, Any]] = [
    {"engine": "ENG-R20", "accessory_drive": "DR-541", "front_cover": "FC-R5", "core_distance": 330},
    {"engine": "ENG-R20", "accessory_drive": "DR-541", "fan": "mechanical", "core_distance": 400},
    {"engine": "ENG-R20", "radiator": "RD-30", "rank_by": ["margin", "length"], "have": ["SP-34", "WP-108"]},
    {"engine": "ENG-R20", "pump_drive": "remote", "radiator": "RD-30", "rank_by": ["parts"]},
]


def named(mounting: Mounting, place: Seat) -> Placed:
    """A pair by its part numbers."""
    pulley = "" if mounting.pulley is None else mounting.pulley.number
    return mounting.chosen.number, mounting.pump.number, pulley, place.order


def seats(graph: ConstraintGraph, question: Question, mounting: Mounting) -> Iterator[Seat]:
    """Every seat of what sits on the block, by walking the graph."""
    for path in face_paths(graph, question):
        for mount in mounting.pump.ports:
            inner = graph.connection(mount.connection).other_end(mount.end)
            if mount.role == "mount" and (path.open.connection, path.open.end) == (mount.connection, inner):
                found = seat(graph, question, path, mount)
                if found is not None:
                    yield found


def plainly(graph: ConstraintGraph, question: Question) -> dict[Placed, bool]:
    """Every pair that may hold, with whether it is certain, by looking at each pump on each seat."""
    front, found = front_of(graph, question), dict[Placed, bool]()
    for pump, _ in front.pumps.values():
        for mounting in dry_mountings(graph, question, pump):
            for place in seats(graph, question, mounting):
                tested = plates_of(mounting, place) in graph.tested_plates(pump.number)
                if tested or (not mounting.hopeless and mounting.possible(place.flange)):
                    found[named(mounting, place)] = tested or mounting.verdict(place.flange) == "ok"
    return found


def compiled(graph: ConstraintGraph, question: Question) -> dict[Placed, bool]:
    """The same as the index has it."""
    front = front_of(graph, question)
    pairs = front.pairs
    columns = zip(pairs.mounting.tolist(), pairs.seat.tolist(), (pairs.sure | pairs.tested).tolist(), strict=True)
    return {named(front.mountings[m], front.seats[s]): sure for m, s, sure in columns}


def check(snapshot: Snapshot, build: Build) -> None:
    """Hold the index of a build against the plain search."""
    graph = ConstraintGraph(snapshot)
    question = resolve(snapshot, build)
    assert compiled(graph, question) == plainly(graph, question)
    search = Search(graph, question, Settlement(graph, question))
    keys = [search.bound(pair) for pair in search.waiting]
    assert keys == sorted(keys)
    possible = {named(*search.placed(pair)) for pair in search.waiting}
    limited = question.price_at_most is not None or build.must.work_at_most is not msgspec.UNSET
    if not limited:
        assert possible == set(with_their_circuits(search))
    for place, mounting in enumerate(search.front.mountings):
        plain = [mounting.shortfall(each.flange) for each in seats(graph, question, mounting)]
        nearest = search.front.nearest(place)
        assert (None if nearest is None else nearest.order[0]) == min(plain, default=None)


def with_their_circuits(search: Search) -> Iterator[Placed]:
    """Pairs that the circuits and the fan leave, by asking each mounting."""
    front = search.front
    for m, s in zip(front.pairs.mounting.tolist(), front.pairs.seat.tolist(), strict=True):
        mounting, place = with_circuits(search.settlement, front.mountings[m]), front.seats[s]
        tested = plates_of(mounting, place) in search.graph.tested_plates(mounting.pump.number)
        if tested or (not mounting.hopeless and mounting.possible(place.flange)):
            yield named(mounting, place)


@pytest.mark.parametrize("block", range(BLOCKS))
def test_the_index_has_what_the_plain_search_of_a_random_catalog_finds(block: int) -> None:
    for seed in range(50_000 + block * BLOCK, 50_000 + (block + 1) * BLOCK):
        case = seeded_case(seed)
        check(case.snapshot, case.build)


@pytest.mark.parametrize("asked", DEMO, ids=str)
def test_the_index_has_what_the_plain_search_of_the_demo_finds(asked: dict[str, Any], demo: Snapshot) -> None:
    check(demo, msgspec.convert(asked, Build))


def test_the_index_has_what_the_plain_search_of_a_made_catalog_finds() -> None:
    build = {"engine": "EN-000-0001", "accessory_drive": "DR-000-0004", "front_cover": "FC-000-0001"}
    check(assortment(1_000, 7, 12), msgspec.convert(build, Build))


def test_questions_that_differ_only_in_what_the_front_does_not_hold_share_it(demo: Snapshot) -> None:
    graph = ConstraintGraph(demo)
    asked = {"engine": "ENG-R20", "accessory_drive": "DR-541"}

    def front(**more: Any) -> object:
        return front_of(graph, resolve(demo, msgspec.convert(asked | more, Build)))

    assert front() is front(radiator="RD-30", rank_by=["price"], have=["SP-34"])
    assert front() is not front(core_distance=330)
    assert front() is not front(must={"without": ["SP-34"]})
    hose = next(part for part in graph.of_kind("hose") if part.number not in graph.ruled)
    assert front() is front(must={"without": [hose.number]})


def test_what_was_asked_before_changes_no_answer(demo: Snapshot) -> None:
    builds = [
        {"engine": "ENG-R20", "accessory_drive": "DR-541", **more}
        for more in ({}, {"rank_by": ["margin"]}, {"radiator": "RD-30"}, {"have": ["SP-34"]}, {"radiator": "RD-31"})
    ]
    asked = [msgspec.convert(build, Build) for build in builds]
    alone = [fit(ConstraintGraph(demo), build) for build in asked]
    graph = ConstraintGraph(demo)
    for order in (asked, [*reversed(asked)], asked):
        for build in order:
            assert fit(graph, build) == alone[asked.index(build)]
