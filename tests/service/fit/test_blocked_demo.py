"""Every blocked build of the demo is told so that the caller knows what to change, and what it is told is so.

`blocked.txt` holds every sentence of conflicts and remedies, in millimetres and, where it differs, in inches. After
a change that is meant, write it anew with `python -m tests.service.fit.test_blocked_demo URL` (the demo's database)
and read each changed sentence aloud.
"""

import re
import sys
from collections.abc import Iterator
from functools import cache
from itertools import combinations
from pathlib import Path

import msgspec
import pytest
from msgspec.structs import replace

from catalog.database import open_read_only, reading
from catalog.domain import Snapshot
from catalog.reader import read_snapshot
from catalog.units import NM_PER_MM
from service.fit import wording
from service.fit.answer import Answer, Remedy
from service.fit.build import Build
from service.fit.change import Change, PartialBuild, changed
from service.fit.engine import fit
from service.fit.graph import ConstraintGraph
from service.fit.instead import ON_THE_CAR
from service.fit.requirements import dropping, given, keeping
from tests.service.fit.blocked_builds import BLOCKED

SENTENCES = Path(__file__).parent / "blocked.txt"
_graphs: dict[str, ConstraintGraph] = {}


@pytest.fixture(scope="module")
def graph(demo: Snapshot) -> ConstraintGraph:
    return _graphs.setdefault("demo", ConstraintGraph(demo))


@cache
def answer_to(name: str) -> Answer:
    return fit(_graphs["demo"], build_of(name))


def build_of(name: str) -> Build:
    return msgspec.convert({**BLOCKED[name], "limit": 1}, Build)


def has_option(graph: ConstraintGraph, build: Build) -> bool:
    return bool(fit(graph, build, diagnose=False).options)


def told(answer: Answer) -> list[str]:
    """Every sentence of an answer that tells of conflicts, of remedies and of what it could be asked again without."""
    lines = [wording.answer_text(answer)]
    for conflict in answer.conflicts:
        metric, inches = (wording.conflict_text(answer.build, conflict, units) for units in ("mm", "in"))
        lines += [f"clash: {metric}", *([f"       {inches}"] if inches != metric else [])]
    for remedy in answer.remedies:
        metric, inches = (wording.remedy_text(answer.build, remedy, units) for units in ("mm", "in"))
        lines += [f"remedy: {metric}", *([f"        {inches}"] if inches != metric else [])]
    if answer.ask_again_without:
        lines.append(f"ask again: {wording.ask_again_text(answer.build, answer.ask_again_without)}")
    return lines


def sentences() -> str:
    return "\n\n".join("\n".join([f"# {name}", *told(answer_to(name))]) for name in BLOCKED) + "\n"


@pytest.mark.parametrize("name", BLOCKED)
def test_each_is_blocked_and_has_a_remedy(graph: ConstraintGraph, name: str) -> None:
    answer = answer_to(name)
    assert answer.verdict == "blocked"
    assert answer.decided
    assert answer.conflicts
    assert answer.remedies
    assert all(conflict.obstacles for conflict in answer.conflicts)


@pytest.mark.parametrize("name", BLOCKED)
def test_each_conflict_is_one_and_no_part_of_it_is(graph: ConstraintGraph, name: str) -> None:
    build = build_of(name)
    for conflict in answer_to(name).conflicts:
        assert not has_option(graph, keeping(build, conflict.requirements))
        for field in conflict.requirements:
            fewer = [other for other in conflict.requirements if other != field]
            assert has_option(graph, keeping(build, fewer)), (conflict.requirements, field)


def change_of(remedy: Remedy) -> Change:
    lengths = {field: length / NM_PER_MM for field, length in remedy.move.items()}
    return Change(give_up=list(remedy.give_up), set=PartialBuild(**remedy.swap, **lengths))  # type: ignore[arg-type]


def less_than(remedy: Remedy) -> Iterator[Remedy]:
    """The same with some of its steps left out."""
    steps = [("swap", field) for field in remedy.swap] + [("move", field) for field in remedy.move]
    steps += [("give_up", field) for field in remedy.give_up]
    for size in range(1, len(steps)):
        for left in combinations(steps, size):
            yield replace(
                remedy,
                swap={field: said for field, said in remedy.swap.items() if ("swap", field) in left},
                move={field: length for field, length in remedy.move.items() if ("move", field) in left},
                give_up=tuple(field for field in remedy.give_up if ("give_up", field) in left),
            )


@pytest.mark.parametrize("name", BLOCKED)
def test_each_remedy_gives_its_option_and_no_part_of_it_does(graph: ConstraintGraph, name: str) -> None:
    build = build_of(name)
    for remedy in answer_to(name).remedies:
        mended = fit(graph, changed(build, change_of(remedy)), diagnose=False)
        assert mended.options[0] == remedy.best
        for less in less_than(remedy):
            assert not has_option(graph, changed(build, change_of(less)))


@pytest.mark.parametrize("name", BLOCKED)
def test_no_remedy_leaves_out_a_check_of_what_is_on_the_car(graph: ConstraintGraph, name: str) -> None:
    answer = answer_to(name)
    on_the_car = {*ON_THE_CAR, "core_distance"} & set(given(answer.build))
    for remedy in answer.remedies:
        mended = changed(answer.build, change_of(remedy))
        bare = {"radiator": "radiator_ports", "radiator_ports": "radiator"}
        assert all(field in given(mended) or bare[field] in given(mended) for field in on_the_car)
        assert not set(remedy.give_up) & on_the_car


@pytest.mark.parametrize("name", BLOCKED)
def test_what_it_could_be_asked_again_without_is_all_that_alone_gives_an_option(
    graph: ConstraintGraph, name: str
) -> None:
    answer = answer_to(name)
    on_the_car = [field for field in (*ON_THE_CAR, "core_distance") if field in given(answer.build)]
    alone = {field for field in on_the_car if has_option(graph, dropping(build_of(name), [field]))}
    assert set(answer.ask_again_without) == alone
    if alone:
        assert "fit" not in wording.ask_again_text(answer.build, answer.ask_again_without)


def is_sure_of_core(answer: Answer) -> bool:
    """Whether the room to the core is `ok`, whatever else must be measured."""
    found = [check for check in answer.options[0].checks if check.code == "radiator_gap" and check.zone != "behind"]
    return {check.verdict for check in found} == {"ok"}


def test_a_move_is_exact_and_the_least_that_serves(graph: ConstraintGraph) -> None:
    moves = [(name, remedy) for name in BLOCKED for remedy in answer_to(name).remedies if remedy.move]
    assert len(moves) >= 3
    for name, remedy in moves:
        ((field, length),) = remedy.move.items()
        assert length % 1_000 == 0
        at, below = (
            fit(graph, changed(build_of(name), change_of(replace(remedy, move={field: each}))), diagnose=False)
            for each in (length, length - 1_000)
        )
        assert at.options[0] == remedy.best
        assert at.verdict == ("fits" if remedy.best.verdict == "ok" else "measure_first")
        assert is_sure_of_core(at)
        assert below.verdict not in ("fits", at.verdict) or not is_sure_of_core(below)
        said = wording.remedy_text(answer_to(name).build, remedy)
        shown = re.search(r"([0-9.]+) mm( plus the depth of the fan)? from the block or more", said)
        assert shown is not None
        assert float(shown[1]) * NM_PER_MM >= length
        assert bool(shown[2]) == (build_of(name).fan == "electric")


def test_the_same_sort_is_told_before_another(graph: ConstraintGraph) -> None:
    told = [
        remedy.swap["fan"]
        for remedy in answer_to("a fan whose blade meets the idler").remedies
        if remedy.swap.get("fan")
    ]
    assert sorted(told) == ["FN-M38", "FN-M45", "FN-M55"]
    assert answer_to("a fan whose blade meets the idler").truncated  # electric ones would serve too


def test_a_cover_that_the_catalog_keeps_from_the_engine_is_no_remedy(graph: ConstraintGraph) -> None:
    swaps = [remedy.swap for name in BLOCKED for remedy in answer_to(name).remedies if "front_cover" in remedy.swap]
    assert swaps
    assert "FC-R1" not in [swap["front_cover"] for swap in swaps]


def test_every_sentence_is_as_it_was_judged(graph: ConstraintGraph) -> None:
    assert SENTENCES.read_text(encoding="utf-8") == sentences(), "read the changed sentences, then write them anew"


def test_sentences_are_plain_and_begin_with_what_the_asker_said(graph: ConstraintGraph) -> None:
    for name in BLOCKED:
        answer = answer_to(name)
        for conflict in answer.conflicts:
            said = wording.conflict_text(answer.build, conflict)
            first = wording.requirement_text(answer.build, conflict.requirements[0])
            assert said.casefold().startswith(first.casefold())
        for line in told(answer):
            assert not re.search(r"[a-z]_[a-z]|[{}\[\]<>]|None|\bwe\b|previously reported|  +\S+_", line.strip()), line
            assert line.endswith(".")


def main(url: str) -> None:
    """Write the sentences anew."""
    engine = open_read_only(url)
    with reading(engine) as connection:
        _graphs["demo"] = ConstraintGraph(read_snapshot(connection))
    engine.dispose()
    SENTENCES.write_text(sentences(), encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1])
