"""Why nothing fits, and what would: held against every subset of a build's requirements, each asked by itself.

A subset counts as met where the build with just these requirements has an option, or that with some of its others
as well: an option that was tried with one drive is not lost because the drive is not asked for.
"""

from collections.abc import Callable
from functools import cache
from itertools import combinations
from typing import Any, NamedTuple

import pytest
from msgspec.structs import replace
from pysat.examples.hitman import Hitman

from service.fit.answer import Answer
from service.fit.build import Build
from service.fit.engine import fit
from service.fit.graph import ConstraintGraph
from service.fit.question import resolve
from service.fit.requirements import REQUIREMENTS, dropping, given, keeping, keeping_of, said
from service.fit.search import Search
from service.fit.whole import Settlement
from tests.oracles import circuit_generator, generator
from tests.oracles.generator import Case
from tests.support import effort

PLACES = [("place", seed) for seed in range(70_000, 70_000 + 110 * effort())]
"""Cases of pumps, plates, drives and covers; about two in three are blocked; more of them with more effort."""
CIRCUITS = [("circuit", seed) for seed in range(70_000, 70_004)]
"""Cases whose coolant must find its way too."""
Family = set[frozenset[str]]


class Truth(NamedTuple):
    """What asking every subset by itself says."""

    conflicts: Family
    corrections: Family


@cache
def asked(maker: str, seed: int) -> tuple[Case, Answer]:
    makers: dict[str, Callable[[int], Case]] = {
        "place": generator.seeded_case,
        "circuit": circuit_generator.seeded_case,
    }
    case = makers[maker](seed)
    return case, fit(ConstraintGraph(case.snapshot), replace(case.build, limit=1))


def has_option(graph: ConstraintGraph, build: Build) -> bool:
    """Asked from the build itself, with nothing shared."""
    question = resolve(graph.snapshot, build)
    search = Search(graph, question, Settlement(graph, question))
    search.rank(1, 1)
    return bool(search.listed)


def truth(graph: ConstraintGraph, build: Build) -> Truth:
    names = given(build)
    every = [frozenset(chosen) for size in range(len(names) + 1) for chosen in combinations(names, size)]
    direct = {chosen for chosen in every if has_option(graph, keeping(build, chosen))}
    met = {chosen for chosen in every if any(chosen <= other for other in direct)}
    unmet = [chosen for chosen in every if chosen not in met]
    return Truth(
        {chosen for chosen in unmet if not any(other < chosen for other in unmet)},
        {frozenset(names) - chosen for chosen in met if not any(chosen < other for other in met)},
    )


def given_up(answer: Answer) -> Family:
    return {frozenset(remedy.give_up) for remedy in answer.remedies if not remedy.swap}


@pytest.mark.parametrize(("maker", "seed"), PLACES + CIRCUITS)
def test_conflicts_and_remedies_are_those_of_every_subset(maker: str, seed: int) -> None:
    case, answer = asked(maker, seed)
    if answer.verdict != "blocked":
        assert (answer.conflicts, answer.remedies) == ((), ())
        return
    assert answer.decided
    assert not answer.truncated
    graph = ConstraintGraph(case.snapshot)
    expected = truth(graph, case.build)
    found = {frozenset(conflict.requirements) for conflict in answer.conflicts}
    assert found == expected.conflicts
    assert given_up(answer) == expected.corrections
    if expected.corrections:
        # PySAT's hitting sets of the corrections are the conflicts.
        with Hitman(bootstrap_with=[sorted(each) for each in expected.corrections], htype="sorted") as hitman:
            assert {frozenset(each) for each in hitman.enumerate()} == expected.conflicts
    for remedy in answer.remedies:
        mended = fit(graph, replace(dropping(replace(case.build, limit=1), remedy.give_up), **remedy.swap))
        assert mended.options[0] == remedy.best
        changed = frozenset(remedy.give_up) | frozenset(remedy.swap)
        assert changed in expected.corrections
    for conflict in answer.conflicts:
        for obstacle in conflict.obstacles:
            assert obstacle.check.verdict == "fails"
            assert obstacle.requirement in (*conflict.requirements, "")


def test_enough_of_them_are_blocked_in_enough_ways() -> None:
    blocked = [answer for case, answer in (asked(*name) for name in PLACES) if answer.verdict == "blocked"]
    assert len(blocked) >= 55
    sizes = [len(conflict.requirements) for answer in blocked for conflict in answer.conflicts]
    assert {0, 1, 2} <= set(sizes)
    assert sum(len(answer.conflicts) > 1 for answer in blocked) >= 5
    assert sum(any(remedy.swap for remedy in answer.remedies) for answer in blocked) >= 5
    assert sum(any(len(remedy.give_up) > 1 for remedy in answer.remedies) for answer in blocked) >= 5


@pytest.mark.parametrize(("maker", "seed"), PLACES[:40] + CIRCUITS[:2])
def test_a_question_cut_down_is_that_of_the_build_cut_down(maker: str, seed: int) -> None:
    case, _ = asked(maker, seed)
    question = resolve(case.snapshot, case.build)
    for field in given(question.build):
        rest = [other for other in given(question.build) if other != field]
        assert keeping_of(question, rest) == resolve(case.snapshot, keeping(question.build, rest))


def test_every_field_of_a_build_is_a_fact_a_requirement_or_a_manner_of_answering() -> None:
    facts, manner = {"engine", "have", "measured"}, {"rank_by", "limit", "paths_per_pump", "must"}
    of_must = {f"must.{name}" for name in Build(engine="E-1").must.__struct_fields__}
    assert {*REQUIREMENTS, *facts, *manner} == {*Build.__struct_fields__, *of_must}


def test_what_a_build_leaves_out_is_no_requirement() -> None:
    assert given(Build(engine="E-1")) == ()
    assert given(Build(engine="E-1", pump_drive="remote")) == ("pump_drive",)
    build = Build(engine="E-1", front_cover="C-1", fan="none")
    assert given(build) == ("front_cover", "fan")
    assert given(dropping(build, ["fan"])) == ("front_cover",)
    left: Any = said(dropping(build, ["front_cover"]), "fan")
    assert left == "none"
