"""Every blocked build of the demo is told so that the caller knows what to change, and what it is told is so.

`blocked.txt` holds every sentence of conflicts and remedies, in millimetres and, where it differs, in inches. After
a change that is meant, write it anew with `python -m tests.service.fit.test_blocked_demo URL` (the demo's database)
and read each changed sentence aloud.
"""

import re
import sys
from functools import cache
from itertools import combinations
from pathlib import Path

import msgspec
import pytest
from msgspec.structs import replace

from catalog.database import open_read_only, reading
from catalog.domain import Snapshot
from catalog.reader import read_snapshot
from service.fit import wording
from service.fit.answer import Answer
from service.fit.build import Build
from service.fit.engine import fit
from service.fit.graph import ConstraintGraph
from service.fit.requirements import dropping, keeping
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
    """Every sentence of an answer that tells of conflicts and remedies."""
    lines = [wording.answer_text(answer)]
    for conflict in answer.conflicts:
        metric, inches = (wording.conflict_text(answer.build, conflict, units) for units in ("mm", "in"))
        lines += [f"clash: {metric}", *([f"       {inches}"] if inches != metric else [])]
    for remedy in answer.remedies:
        metric, inches = (wording.remedy_text(answer.build, remedy, units) for units in ("mm", "in"))
        lines += [f"remedy: {metric}", *([f"        {inches}"] if inches != metric else [])]
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


@pytest.mark.parametrize("name", BLOCKED)
def test_each_remedy_gives_its_option_and_no_part_of_it_does(graph: ConstraintGraph, name: str) -> None:
    build = build_of(name)
    for remedy in answer_to(name).remedies:
        mended = fit(graph, replace(dropping(build, remedy.give_up), **remedy.swap), diagnose=False)
        assert mended.options[0] == remedy.best
        changed = [*remedy.give_up, *remedy.swap]
        for size in range(1, len(changed)):
            for part in combinations(changed, size):
                assert not has_option(graph, dropping(build, part))


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
