"""What is kept of a release between questions: within its bounds, and one question's alone while it is changed."""

import gc
import tracemalloc
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier, Event
from time import sleep
from typing import Any, NamedTuple

import msgspec
import pytest

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


def _known(lent: Lent, key: str) -> Any:
    """What is kept under a key, which is then kept no longer."""
    with lent.lend(key) as value:
        return value


def test_who_asks_for_what_is_lent_waits_until_it_is_given_back() -> None:
    lent, order = Lent(10), list[str]()
    is_lent, is_asked = Event(), Event()

    def first() -> None:
        with lent.lend("a"):
            is_lent.set()
            assert is_asked.wait(30)
            sleep(0.05)
            order.append("given")
            lent.give("a", Heavy(4))

    def second() -> Any:
        assert is_lent.wait(30)
        is_asked.set()
        with lent.lend("a") as value:
            order.append("lent")
            return value

    with ThreadPoolExecutor(2) as threads:
        threads.submit(first)
        assert threads.submit(second).result(30) == Heavy(4)
    assert order == ["given", "lent"]
    assert _known(lent, "a") is None


def test_what_was_lent_to_a_question_that_failed_is_lent_again() -> None:
    lent = Lent(10)
    with pytest.raises(ValueError, match="failed"), lent.lend("a"):
        raise ValueError("failed")
    with ThreadPoolExecutor(1) as threads:
        assert threads.submit(_known, lent, "a").result(30) is None


def test_who_has_a_key_does_not_wait_for_itself() -> None:
    lent = Lent(10)
    lent.give("a", Heavy(4))
    with lent.lend("a") as outer:
        assert (outer, _known(lent, "a")) == (Heavy(4), None)


def test_of_those_who_would_wait_for_each_other_one_goes_without() -> None:
    lent, both = Lent(10), Barrier(3)

    def hold(own: str, other: str) -> Any:
        with lent.lend(own):
            both.wait(30)
            with lent.lend(other) as value:
                pass
            lent.give(own, Heavy(3))
            return value

    with ThreadPoolExecutor(3) as threads:
        found = [threads.submit(hold, own, other) for own, other in ("ab", "bc", "ca")]
        told = [each.result(30) for each in found]
    assert sorted(value is None for value in told) == [False, False, True]


def test_of_what_is_given_back_no_more_is_kept_than_may_be() -> None:
    lent = Lent(10)
    for key in "abc":
        lent.give(key, Heavy(4))
    assert _known(lent, "a") is None
    lent.give("c", Heavy(5))
    assert (_known(lent, "b"), _known(lent, "c")) == (Heavy(4), Heavy(5))
    lent.give("d", Heavy(11))
    assert _known(lent, "d") is None
    lent.give("e", Heavy(10))
    assert _known(lent, "e") == Heavy(10)


def test_questions_that_ask_nothing_of_circuits_do_not_wait_for_each_other(demo: Snapshot) -> None:
    graph = ConstraintGraph(demo)
    question = resolve(demo, msgspec.convert({"engine": "ENG-R20"}, Build))

    def again() -> bool:
        with settlement_of(graph, question) as settlement:
            return settlement.asks_nothing

    with settlement_of(graph, question), ThreadPoolExecutor(1) as threads:
        assert threads.submit(again).result(30)


def test_of_two_who_ask_for_the_same_circuits_at_once_the_second_has_the_trees_of_the_first(demo: Snapshot) -> None:
    graph = ConstraintGraph(demo)
    question = resolve(demo, msgspec.convert(WHOLE, Build))
    is_lent = Event()

    def first() -> None:
        with settlement_of(graph, question) as settlement:
            is_lent.set()
            Search(graph, question, settlement).run(10, 2)

    def second() -> int:
        assert is_lent.wait(30)
        with settlement_of(graph, question) as settlement:
            return settlement.weight

    with ThreadPoolExecutor(2) as threads:
        threads.submit(first)
        assert threads.submit(second).result(30) > 0


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
