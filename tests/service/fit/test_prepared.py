"""A release is ready for the builds that the one before it was asked, and no other answer comes of that."""

from typing import Any

import msgspec

from catalog.domain import Snapshot
from service.fit.build import Build
from service.fit.engine import fit
from service.fit.front import fronts_of
from service.fit.graph import ConstraintGraph
from service.fit.prepared import prepare


def _asked(**fields: Any) -> Build:
    return msgspec.convert({"engine": "ENG-R20"} | fields, Build)


FIRST, SECOND = _asked(accessory_drive="DR-541"), _asked(accessory_drive="DR-541", front_cover="FC-R5")


def _graph(snapshot: Snapshot, *builds: Build) -> ConstraintGraph:
    graph = ConstraintGraph(snapshot)
    for build in builds:
        fit(graph, build, diagnose=False)
    return graph


def test_what_was_asked_last_is_made_ready_first(demo: Snapshot) -> None:
    before, graph = _graph(demo, FIRST, SECOND), ConstraintGraph(demo)
    calls = iter([False, True])
    prepare(graph, before, lambda: next(calls))
    assert [front.asked for front in fronts_of(graph)] == [SECOND]


def test_all_is_made_ready_that_there_is_time_for(demo: Snapshot) -> None:
    before, graph = _graph(demo, FIRST, SECOND), ConstraintGraph(demo)
    prepare(graph, before, lambda: False)
    fronts, options = fronts_of(graph), len(graph.options)
    assert {front.asked.front_cover for front in fronts} == {FIRST.front_cover, SECOND.front_cover}
    assert options
    for build in (FIRST, SECOND):
        assert fit(graph, build, diagnose=False) == fit(ConstraintGraph(demo), build, diagnose=False)
    # Nothing that these answers need was missing.
    assert set(map(id, fronts_of(graph))) == set(map(id, fronts))
    assert len(graph.options) == options


def test_a_build_that_the_release_does_not_hold_is_passed_over(demo: Snapshot) -> None:
    before = _graph(demo, FIRST, SECOND)
    parts = {number: part for number, part in demo.parts.items() if number != "FC-R5"}
    rules = tuple(rule for rule in demo.rules if "FC-R5" not in (rule.part, *rule.others))
    graph = ConstraintGraph(msgspec.structs.replace(demo, parts=parts, rules=rules))
    prepare(graph, before, lambda: False)
    assert [front.asked for front in fronts_of(graph)] == [FIRST]
