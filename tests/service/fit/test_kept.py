"""What is kept of a release between questions: within its bounds, and one question's alone while it is changed."""

import gc
import tracemalloc
from concurrent.futures import ThreadPoolExecutor
from typing import Any, NamedTuple

import msgspec

from catalog.domain import Snapshot
from service.api import render
from service.fit.build import Build
from service.fit.engine import fit
from service.fit.graph import ConstraintGraph
from service.fit.kept import Kept, Lent
from service.fit.question import resolve
from service.fit.search import Search
from service.fit.whole import settlement_of

WHOLE: dict[str, Any] = {
    "engine": "ENG-R20",
    "accessory_drive": "DR-541",
    "front_cover": "FC-R5",
    "radiator": "RD-30",
    "heater": "none",
}


class Heavy(NamedTuple):
    """A value of a stated weight."""

    weight: int


def test_a_value_is_made_once_while_it_is_kept() -> None:
    made: list[int] = []
    kept = Kept(10)

    def make() -> Heavy:
        made.append(1)
        return Heavy(4)

    assert kept.get("a", make) is kept.get("a", make)
    assert len(made) == 1


def test_what_was_not_asked_for_longest_goes_first() -> None:
    kept = Kept(10)
    first, second = kept.get("a", lambda: Heavy(4)), kept.get("b", lambda: Heavy(4))
    kept.get("a", lambda: Heavy(0))
    kept.get("c", lambda: Heavy(4))
    assert kept.get("a", lambda: Heavy(4)) is first
    assert kept.get("b", lambda: Heavy(4)) is not second


def test_what_is_heavier_than_all_that_is_kept_is_still_answered() -> None:
    kept = Kept(10)
    kept.get("a", lambda: Heavy(4))
    assert kept.get("b", lambda: Heavy(100)).weight == 100


def test_what_is_lent_is_nobody_elses_until_it_is_given_back() -> None:
    lent = Lent(10)
    lent.give("a", Heavy(4))
    assert lent.take("a") == Heavy(4)
    assert lent.take("a") is None


def test_of_what_is_given_back_no_more_is_kept_than_may_be() -> None:
    lent = Lent(10)
    for key in "abc":
        lent.give(key, Heavy(4))
    assert lent.take("a") is None
    lent.give("c", Heavy(5))
    assert (lent.take("b"), lent.take("c")) == (Heavy(4), Heavy(5))
    lent.give("d", Heavy(11))
    assert lent.take("d") is None
    lent.give("e", Heavy(10))
    assert lent.take("e") == Heavy(10)


def test_trees_of_a_question_are_weighed_about_as_they_are(demo: Snapshot) -> None:
    graph = ConstraintGraph(demo)
    fit(graph, msgspec.convert(WHOLE, Build))
    question = resolve(demo, msgspec.convert(WHOLE | {"have": ["SP-34"]}, Build))
    gc.collect()
    tracemalloc.start()
    try:
        before = tracemalloc.get_traced_memory()[0]
        with settlement_of(graph, question) as settlement:
            Search(graph, question, settlement).run(10, 2)
            gc.collect()
            takes = tracemalloc.get_traced_memory()[0] - before
            assert 0.5 < settlement.weight / takes < 2
    finally:
        tracemalloc.stop()


def test_questions_asked_at_once_are_answered_as_one_by_one(demo: Snapshot) -> None:
    builds = [WHOLE, WHOLE | {"heater": "HX-10F"}, {"engine": "ENG-R20", "accessory_drive": "DR-541"}] * 2
    shared = ConstraintGraph(demo)

    def answer(graph: ConstraintGraph, build: dict[str, Any]) -> bytes:
        manner = render.Manner(units="mm", detail="full", currency=demo.currency)
        found = fit(graph, msgspec.convert(build, Build), diagnose=False)
        return msgspec.json.encode(render.answer(found, demo.release, manner))

    alone = {msgspec.json.encode(build): answer(ConstraintGraph(demo), build) for build in builds[:3]}
    with ThreadPoolExecutor(4) as threads:
        for build, found in zip(builds, threads.map(lambda each: answer(shared, each), builds), strict=True):
            assert found == alone[msgspec.json.encode(build)]
