"""What is kept of a release between questions: within its bounds, and one question's alone while it is changed."""

from concurrent.futures import ThreadPoolExecutor
from typing import NamedTuple

import msgspec

from catalog.domain import Snapshot
from service.api import render
from service.fit.build import Build
from service.fit.engine import fit
from service.fit.graph import ConstraintGraph
from service.fit.kept import Kept, Lent

WHOLE = {
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
    lent = Lent(2)
    lent.give("a", "trees")
    assert lent.take("a") == "trees"
    assert lent.take("a") is None
    for key in "abc":
        lent.give(key, key)
    assert lent.take("a") is None
    assert (lent.take("b"), lent.take("c")) == ("b", "c")


def test_questions_asked_at_once_are_answered_as_one_by_one(demo: Snapshot) -> None:
    builds = [WHOLE, WHOLE | {"heater": "HX-10F"}, {"engine": "ENG-R20", "accessory_drive": "DR-541"}] * 2
    shared = ConstraintGraph(demo)

    def answer(graph: ConstraintGraph, build: dict[str, str]) -> bytes:
        manner = render.Manner(units="mm", detail="full", currency=demo.currency)
        found = fit(graph, msgspec.convert(build, Build), diagnose=False)
        return msgspec.json.encode(render.answer(found, demo.release, manner))

    alone = {msgspec.json.encode(build): answer(ConstraintGraph(demo), build) for build in builds[:3]}
    with ThreadPoolExecutor(4) as threads:
        for build, found in zip(builds, threads.map(lambda each: answer(shared, each), builds), strict=True):
            assert found == alone[msgspec.json.encode(build)]
