"""Why nothing fits, and what would: held against every subset of a build's requirements, each asked by itself.

A subset counts as met where the build with just these requirements has an option, or that with some of its others
as well: an option that was tried with one drive is not lost because the drive is not asked for.
"""

from collections.abc import Callable
from functools import cache
from itertools import combinations, product
from typing import Any, NamedTuple

import pytest
from msgspec import UNSET
from msgspec.structs import replace
from pysat.examples.hitman import Hitman

from catalog.units import NM_PER_MM
from service.fit.answer import Answer, Remedy
from service.fit.build import Build
from service.fit.change import Change, PartialBuild, changed
from service.fit.engine import fit
from service.fit.graph import ConstraintGraph
from service.fit.question import SLOTS, resolve
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


def field_of(build: Build, name: str) -> str:
    """The field of the build that a swap of this name takes the place of."""
    return "radiator_ports" if name == "radiator" and build.radiator is UNSET else name


def changed_by(build: Build, remedy: Remedy) -> frozenset[str]:
    return frozenset([*remedy.give_up, *(field_of(build, name) for name in remedy.swap), *remedy.move])


def change_of(remedy: Remedy, **move: float) -> Change:
    """A remedy as it can be sent back."""
    lengths = {field: length / NM_PER_MM for field, length in remedy.move.items()} | move
    return Change(give_up=list(remedy.give_up), set=PartialBuild(**remedy.swap, **lengths))  # type: ignore[arg-type]


def values(case: Case, field: str) -> list[dict[str, Any]]:
    """All that could be changed in a field: other parts of its kind, other words, other sides, the farthest core."""
    build, kinds = case.build, {**SLOTS, "radiator_ports": "radiator"}
    now: Any = said(build, field)
    if field == "core_distance":
        return [{field: 10_000.0}]
    if field not in CAR:
        return [{}]
    if field == "fan" and now in ("mechanical", "electric", "none"):
        return [{field: word} for word in ("mechanical", "electric") if word != now]
    name = "radiator" if field == "radiator_ports" else field
    parts = [part.number for part in case.snapshot.parts.values() if part.kind == kinds[field] and part.number != now]
    found: list[dict[str, Any]] = [{name: number} for number in parts if case.snapshot.parts[number].status == "active"]
    if field == "radiator_ports":
        other = {"left": "right", "right": "left"}
        for names in (["upper"], ["lower"], ["upper", "lower"]):
            ports = {each: getattr(now, each) for each in names}
            if all(port.side in other for port in ports.values()):
                turned = {each: replace(port, side=other[port.side]) for each, port in ports.items()}
                found.append({field: replace(now, **turned)})
    return [each for each in found if not set(each.values()) & set(build.must.without)] if name == field else found


CAR = ("accessory_drive", "front_cover", "crank_pulley", "radiator", "radiator_ports", "heater", "fan")


def mended_by(case: Case, graph: ConstraintGraph) -> Family:
    """Every least set of fields that some change of all of them mends: wishes dropped, the rest said otherwise."""
    names, found = given(case.build), Family()
    for size in range(len(names) + 1):
        for chosen in map(frozenset, combinations(names, size)):
            if any(known <= chosen for known in found):
                continue
            wishes = [field for field in chosen if field not in (*CAR, "core_distance")]
            for each in product(*(values(case, field) for field in sorted(chosen))):
                said_there: dict[str, Any] = {name: value for one in each for name, value in one.items()}
                change = Change(give_up=wishes, set=PartialBuild(**said_there))  # type: ignore[arg-type]
                if has_option(graph, changed(case.build, change)):
                    found.add(chosen)
                    break
    return found


@pytest.mark.parametrize(("maker", "seed"), PLACES + CIRCUITS)
def test_conflicts_and_remedies_are_those_of_every_subset(maker: str, seed: int) -> None:
    case, answer = asked(maker, seed)
    if answer.verdict != "blocked":
        assert (answer.conflicts, answer.remedies) == ((), ())
        return
    assert answer.decided
    graph = ConstraintGraph(case.snapshot)
    expected = truth(graph, case.build)
    found = {frozenset(conflict.requirements) for conflict in answer.conflicts}
    assert found == expected.conflicts
    alone = {field for fields in expected.corrections if len(fields) == 1 for field in fields}
    assert set(answer.ask_again_without) == alone & {*CAR, "core_distance"}
    if expected.corrections:
        # PySAT's hitting sets of the corrections are the conflicts.
        with Hitman(bootstrap_with=[sorted(each) for each in expected.corrections], htype="sorted") as hitman:
            assert {frozenset(each) for each in hitman.enumerate()} == expected.conflicts
    for conflict in answer.conflicts:
        for obstacle in conflict.obstacles:
            assert obstacle.check.verdict == "fails"
            assert obstacle.requirement in (*conflict.requirements, "")


@pytest.mark.parametrize(("maker", "seed"), PLACES + CIRCUITS)
def test_remedies_are_those_of_every_change_of_every_subset(maker: str, seed: int) -> None:
    case, answer = asked(maker, seed)
    if answer.verdict != "blocked":
        return
    graph = ConstraintGraph(case.snapshot)
    expected = mended_by(case, graph)
    found = {changed_by(case.build, remedy) for remedy in answer.remedies}
    assert found <= expected
    assert answer.truncated or found == expected
    for remedy in answer.remedies:
        assert not {*remedy.give_up} & {*CAR, "core_distance"}
        mended = fit(graph, changed(replace(case.build, limit=1), change_of(remedy)))
        assert mended.options[0] == remedy.best
        # Whatever is on the car is still asked for.
        now = changed(case.build, change_of(remedy))
        assert {field_of(now, field) for field in given(now)} & set(CAR) == set(given(case.build)) & set(CAR) or (
            "radiator" in remedy.swap
        )


def test_remedies_stand_by_sort_and_then_by_what_must_be_paid() -> None:
    many = 0
    for case, answer in (asked(*name) for name in PLACES + CIRCUITS):
        sorts = [2 if remedy.move else 1 if remedy.give_up else 0 for remedy in answer.remedies]
        assert sorts == sorted(sorts)
        for sort in range(3):
            prices = [
                (True, 0) if remedy.price is None else (False, remedy.price.amount)
                for remedy, own in zip(answer.remedies, sorts, strict=True)
                if own == sort
            ]
            assert [unpriced for unpriced, _ in prices] == sorted(unpriced for unpriced, _ in prices)
            known = [amount for unpriced, amount in prices if not unpriced]
            assert known == sorted(known)
            many += len(known) > 1
        for remedy in answer.remedies:
            parts = case.snapshot.parts
            numbers = [str(said) for said in remedy.swap.values() if str(said) in parts]
            listed = {line.part for line in remedy.best.parts_list}
            more = [parts[number].price for number in numbers if number not in {*listed, *case.build.have}]
            if remedy.price is not None:
                assert remedy.best.buy_price is not None
                own = remedy.best.buy_price.amount
                assert remedy.price.amount == own + sum(price.amount for price in more if price is not None)
                assert None not in more
            else:
                assert remedy.best.buy_price is None or remedy.unpriced
    assert many >= 3


def test_enough_of_them_are_blocked_in_enough_ways() -> None:
    blocked = [answer for case, answer in (asked(*name) for name in PLACES) if answer.verdict == "blocked"]
    assert len(blocked) >= 55
    sizes = [len(conflict.requirements) for answer in blocked for conflict in answer.conflicts]
    assert {0, 1, 2} <= set(sizes)
    assert sum(len(answer.conflicts) > 1 for answer in blocked) >= 5
    assert sum(any(remedy.swap for remedy in answer.remedies) for answer in blocked) >= 5
    assert sum(any(len(changed_by(answer.build, each)) > 1 for each in answer.remedies) for answer in blocked) >= 5
    assert sum(any(remedy.swap and remedy.give_up for remedy in answer.remedies) for answer in blocked) >= 3
    assert sum(not answer.truncated for answer in blocked) >= 20


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


def test_a_swap_to_the_part_that_a_combination_was_tried_with_is_found() -> None:
    # Without the cover there is no option either: only with the very one that it was tried with.
    case = generator.seeded_case(530_163)
    (remedy,) = fit(ConstraintGraph(case.snapshot), case.build).remedies
    assert remedy.swap == {"front_cover": "C-0"}
