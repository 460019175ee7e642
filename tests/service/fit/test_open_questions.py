"""Open questions against really asking with the field given, and where the expected parts are against the answer."""

from functools import cache
from typing import Any

import pytest
from msgspec import UNSET, convert
from msgspec.structs import replace

from catalog.domain import Snapshot
from catalog.units import NM_PER_MM
from service.fit import wording
from service.fit.answer import Answer, Change, Explanation
from service.fit.build import Build
from service.fit.engine import fit
from service.fit.graph import ConstraintGraph
from service.fit.open_questions import FIELDS, MOST_TRIED
from tests.oracles import circuit_generator, generator
from tests.oracles.generator import Case

LISTED, TRUTH = {"limit": 8, "paths_per_pump": 3}, {"limit": 50, "paths_per_pump": 50}
CASES = [("place", seed) for seed in range(71_000, 71_080)] + [("circuit", seed) for seed in range(71_000, 71_024)]
LINES = ("radiator", "heater")
Path_ = tuple[str, tuple[str, ...]]


def case_of(name: tuple[str, int]) -> Case:
    """A case that leaves out more than the generator does, so that there is something to ask."""
    made = {"place": generator.seeded_case, "circuit": circuit_generator.seeded_case}[name[0]](name[1])
    left_out: dict[str, Any] = {FIELDS[name[1] % 3]: UNSET, "fan": UNSET, "core_distance": UNSET}
    return Case(made.snapshot, replace(made.build, **left_out, **LISTED))


@cache
def graph_of(name: tuple[str, int]) -> ConstraintGraph:
    return ConstraintGraph(case_of(name).snapshot)


@cache
def answer_to(name: tuple[str, int]) -> Answer:
    return fit(graph_of(name), case_of(name).build, explain=True)


def explanation_of(name: tuple[str, int]) -> Explanation:
    answer = answer_to(name)
    assert (answer.explanation is None) == (not answer.options)
    return answer.explanation or Explanation(None, (), ())


def test_there_is_something_to_explain() -> None:
    asked = [question.asks for name in CASES for question in explanation_of(name).open_questions]
    assert min(asked.count(field) for field in ("accessory_drive", "front_cover", "core_distance", "fan", "heater")) > 0
    expected = {(one.why, one.where) for name in CASES for one in explanation_of(name).expected_first}
    assert {("at_hand", "listed"), ("at_hand", "not_used"), ("recommended", "listed")} <= expected


def paths(answer: Answer) -> list[Path_]:
    return [(option.pump, tuple(sorted(option.plates))) for option in answer.options]


def given(build: Build, field: str, change: Change) -> Build:
    value = change.value if change.less_than is None else (change.less_than - 1) / NM_PER_MM
    return replace(build, **{field: value}, **TRUTH)


@pytest.mark.parametrize("name", CASES)
def test_what_falls_away_is_not_offered_and_the_rest_is(name: tuple[str, int]) -> None:
    build, graph = case_of(name).build, graph_of(name)
    answer, explanation = answer_to(name), explanation_of(name)
    listed = paths(answer)
    for question in explanation.open_questions:
        assert getattr(build, question.asks) is UNSET
        assert 0 < len(question.changes) <= MOST_TRIED
        assert any(change.falls_away or change.first != 1 for change in question.changes)
        for change in question.changes[:3]:
            again = fit(graph, given(answer.build, question.asks, change))
            if len(again.options) == TRUTH["limit"] or not again.decided:
                continue
            offered = paths(again)
            falls = [rank for rank, path in enumerate(listed, 1) if path not in offered]
            if question.asks in LINES or (question.asks == "fan" and answer.build.radiator is not UNSET):
                assert set(change.falls_away) <= set(falls)
                continue
            assert list(change.falls_away) == falls
            stays = [listed.index(path) + 1 for path in offered if path in listed]
            assert change.first == (stays[0] if stays else None)


@pytest.mark.parametrize("name", CASES[:12])
def test_at_the_distance_itself_nothing_more_falls_away(name: tuple[str, int]) -> None:
    graph, answer, explanation = graph_of(name), answer_to(name), explanation_of(name)
    listed = paths(answer)
    for question in explanation.open_questions:
        for change in question.changes[:2] if question.asks == "core_distance" else ():
            assert change.less_than is not None
            at = fit(graph, replace(answer.build, core_distance=change.less_than / NM_PER_MM, **TRUTH))
            if len(at.options) < TRUTH["limit"]:
                falls = {rank for rank, path in enumerate(listed, 1) if path not in paths(at)}
                assert falls < set(change.falls_away)


@pytest.mark.parametrize("name", CASES)
def test_the_most_decisive_question_comes_first(name: tuple[str, int]) -> None:
    found = explanation_of(name).open_questions
    order = [(all(c.first == 1 for c in q.changes), -max(len(c.falls_away) for c in q.changes)) for q in found]
    assert order == sorted(order)


@pytest.mark.parametrize("name", CASES)
def test_the_expected_are_where_they_are_said_to_be(name: tuple[str, int]) -> None:
    graph, build = graph_of(name), case_of(name).build
    answer, explanation = answer_to(name), explanation_of(name)
    if not answer.options:
        return
    first = {line.part for line in answer.options[0].parts_list}
    everything = fit(graph, replace(build, **TRUTH))
    for one in explanation.expected_first:
        assert one.part not in first
        lists = [{line.part for line in option.parts_list} for option in answer.options]
        holding = [rank for rank, parts in enumerate(lists, 1) if one.part in parts]
        assert one.rank == (holding[0] if holding else None)
        assert (one.where == "listed") == bool(holding)
        pump = one.kind in ("water_pump", "remote_pump")
        if pump and one.where == "fits" and len(everything.options) < TRUTH["limit"]:
            assert one.part in [option.pump for option in everything.options]
        if one.where == "ruled_out":
            assert one.part not in [option.pump for option in everything.options]
            assert (one.ruled_out is None) == bool(one.reason)
        if one.why == "recommended":
            assert graph.snapshot.parts[one.part].recommended
            assert not answer.options[0].recommended
    told = {one.part for one in explanation.expected_first}
    pumps_at_hand = {n for n in answer.build.have if graph.snapshot.parts[n].kind == "water_pump"}
    assert pumps_at_hand <= told | first | {str(build.pump)} | {str(answer.build.pump)}


def test_the_brief_question_costs_no_explanation() -> None:
    name = CASES[0]
    assert fit(graph_of(name), case_of(name).build).explanation is None


def test_a_plate_at_hand_is_in_no_option_or_said_to_be_in_one() -> None:
    """Held against every option of the build: one of each pump and set of plates."""
    seen = set()
    for seed in range(40_000, 40_150):
        case = generator.seeded_case(seed)
        plates = [n for n in case.snapshot.parts if case.snapshot.parts[n].kind in ("spacer", "adapter_plate")]
        build, graph = (
            replace(case.build, have=sorted({*case.build.have, *plates}), limit=1),
            ConstraintGraph(case.snapshot),
        )
        explanation = fit(graph, build, explain=True, diagnose=False).explanation
        every = fit(graph, replace(build, limit=50, paths_per_pump=50), diagnose=False).options
        if explanation is None or len(every) == 50:
            continue
        held = {plate for option in every for plate in option.plates}
        for one in explanation.expected_first:
            if one.part in plates:
                assert (one.where in ("listed", "fits")) == (one.part in held), (seed, one)
                seen.add(one.where)
    assert {"fits", "not_used"} <= seen


def test_a_piece_at_hand_that_solves_the_build_is_never_called_useless(demo: Snapshot) -> None:
    asked = {"engine": "ENG-R20", "accessory_drive": "DR-541", "front_cover": "FC-R5", "have": ["SP-34", "SP-06"]}
    answer = fit(ConstraintGraph(demo), convert({**asked, "limit": 3}, Build), explain=True)
    assert answer.explanation is not None
    told = {one.part: wording.expected_text(one) for one in answer.explanation.expected_first}
    assert "SP-34" not in [plate for option in answer.options for plate in option.plates]
    assert told["SP-34"].endswith("which serves in an option below those listed.")
