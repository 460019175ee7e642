"""The engine against two independent solvers: plain enumeration in fractions, and OR-Tools CP-SAT.

Both oracles are written from the design alone and share no code with the engine or with each other. No
disagreement is tolerated, on any of the seeded cases.
"""

from collections import Counter
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, given, settings

from service.fit.answer import Answer, Option
from service.fit.build import Build
from service.fit.engine import fit
from service.fit.graph import ConstraintGraph
from tests.oracles import brute_force, cp_sat
from tests.oracles.generator import Case, cases, seeded_case
from tests.support import effort

BLOCK = 20
BRUTE_FORCE_BLOCKS = 4 * effort()
CP_SAT_BLOCKS = 3 * effort()
MOST = 50
ONCE_WRONG = (53, 214, 325, 671, 1136, 1428, 1722, 2113, 30104)
"""Seeds on which the engine and the enumeration once differed: required parts that are excluded, a drive that does not
state its ribs, and what a tested fit settles."""
SILENT = {"hub", "rule", "face", "without", "carried_parts"}
"""Checks that say ok or nothing where there is nothing to hold."""


@pytest.mark.parametrize("block", range(BRUTE_FORCE_BLOCKS))
def test_engine_equals_brute_force(block: int) -> None:
    seeds = range(block * BLOCK, (block + 1) * BLOCK)
    wrong = {seed: found for seed in seeds if (found := differences(seeded_case(seed)))}
    assert wrong == {}


@pytest.mark.parametrize("seed", ONCE_WRONG)
def test_engine_equals_brute_force_where_it_once_did_not(seed: int) -> None:
    assert differences(seeded_case(seed)) == []


@settings(
    max_examples=40,
    deadline=None,
    derandomize=True,
    database=None,
    phases=[Phase.generate],  # a whole catalog shrinks too slowly to be worth the wait
    suppress_health_check=list(HealthCheck),
)
@given(cases())
def test_engine_equals_brute_force_on_hypothesis_cases(case: Case) -> None:
    assert differences(case) == []


@pytest.mark.parametrize("block", range(CP_SAT_BLOCKS))
def test_engine_equals_cp_sat(block: int) -> None:
    """Same feasible pairs of pump and face path, same best option by verdict, work, recommendation and price.

    Where there are more options than an answer lists, only the best one is compared; where it is to be measured first,
    only that it is.
    """
    for seed in range(10_000 + block * BLOCK, 10_000 + (block + 1) * BLOCK):
        case = core_case(seeded_case(seed))
        answer = ask(case)
        model = cp_sat.Model(case.snapshot, case.build)
        if len(answer.options) < MOST:
            assert model.feasible_paths() == {path_of(option) for option in answer.options}, seed
        best, first = model.best_key(), cp_sat_key(answer.options[0]) if answer.options else None
        if first is None or first[0] == "ok":
            assert best == first, seed
        else:
            # Of bolts in doubt the engine takes the fewest that make an option, whatever they cost.
            assert best is not None
            assert best[0] == first[0], seed


@pytest.mark.parametrize(("limit", "per_pump"), [(1, 1), (5, 2), (10, 1), (3, 50)])
def test_listing_keeps_to_both_limits(limit: int, per_pump: int) -> None:
    for seed in range(20_000, 20_008):
        case = seeded_case(seed)
        fields = {name: getattr(case.build, name) for name in Build.__struct_fields__}
        build = Build(**{**fields, "limit": limit, "paths_per_pump": per_pump})
        answer = ask(Case(case.snapshot, build))
        expected = brute_force.solve(case.snapshot, build).listed(limit, per_pump)
        assert [path_of(option) for option in answer.options] == [way.path for way in expected]


def ask(case: Case) -> Answer:
    return fit(ConstraintGraph(case.snapshot), case.build, diagnose=False)


def core_case(case: Case) -> Case:
    """The case in the default order of ranking, which is what the CP-SAT model maximises."""
    fields = {name: getattr(case.build, name) for name in Build.__struct_fields__}
    return Case(case.snapshot, Build(**{**fields, "rank_by": []}))


def cp_sat_key(option: Option) -> tuple[Any, ...]:
    price = None if option.buy_price is None else option.buy_price.amount
    return option.verdict, option.work, option.recommended, price


def path_of(option: Option) -> brute_force.PathKey:
    """Pump and plates; a described pump has no number and is ""."""
    numbers = {listed.part for listed in option.parts_list}
    return option.pump if option.pump in numbers else "", tuple(sorted(option.plates))


def differences(case: Case) -> list[str]:
    """Everything in which the engine's answer differs from the enumeration; empty where it is the same."""
    answer = ask(case)
    solution = brute_force.solve(case.snapshot, case.build)
    expected = solution.listed(case.build.limit, case.build.paths_per_pump)
    found = []
    if answer.verdict != solution.verdict:
        found.append(f"verdict {answer.verdict}, expected {solution.verdict}")
    pumps = {way.path[0] for way in solution.ranking}
    if answer.pumps_that_fit != len(pumps):
        found.append(f"{answer.pumps_that_fit} pumps fit, expected {len(pumps)}")
    engine_paths, oracle_paths = {path_of(option) for option in answer.options}, {way.path for way in expected}
    if engine_paths != oracle_paths:
        found.append(f"only the engine: {sorted(engine_paths - oracle_paths)}")
        found.append(f"only the enumeration: {sorted(oracle_paths - engine_paths)}")
    elif [path_of(option) for option in answer.options] != [way.path for way in expected]:
        found.append("order of options differs")
    by_path = {way.path: way for way in expected}
    for option in answer.options:
        if path_of(option) in by_path:
            found += option_differences(option, by_path[path_of(option)])
    return found + ruled_out_differences(answer, solution)


def option_differences(option: Option, way: brute_force.Way) -> list[str]:
    pairs: list[tuple[str, Any, Any]] = [
        ("order of plates", option.plates, way.order),
        ("verdict", option.verdict, way.verdict),
        ("work", option.work, way.work),
        ("recommended", option.recommended, way.pump.part.recommended),
        ("buy price", option.buy_price and option.buy_price.amount, way.buy_price),
        ("parts list", {part.part: part.quantity for part in option.parts_list}, dict(way.quantities)),
        ("flange", Fraction(option.stack[-1].from_), Fraction(sum(way.flange), 2)),
        ("checks", engine_verdicts(option), oracle_verdicts(way)),
        ("margins", engine_margins(option), oracle_margins(way)),
    ]
    return [f"{path_of(option)}: {name} {mine}, expected {theirs}" for name, mine, theirs in pairs if mine != theirs]


def engine_verdicts(option: Option) -> dict[tuple[str, str], str]:
    groups = Counter[str]()
    verdicts: dict[tuple[str, str], Any] = {}
    for check in option.checks:
        zone = "" if check.zone == "centre" else check.zone
        if check.code == "bolts":
            zone = str(groups["bolts"])
            groups["bolts"] += 1
        verdicts[check.code, zone] = check.verdict
    return spoken(verdicts)


def oracle_verdicts(way: brute_force.Way) -> dict[tuple[str, str], str]:
    return spoken(way.verdicts())


def spoken(verdicts: dict[tuple[str, str], Any]) -> dict[tuple[str, str], str]:
    """Without what is not asked, and without the ok of checks that may have nothing to say."""
    return {
        place: verdict
        for place, verdict in verdicts.items()
        if verdict != "not_asked" and not (place[0] in SILENT and verdict == "ok")
    }


def engine_margins(option: Option) -> list[tuple[str, Fraction, Fraction]]:
    """Code, margin and limit of every check with numbers."""
    return sorted(
        (check.code, Fraction(check.margin), Fraction(check.limit))
        for check in option.checks
        if check.margin is not None and check.limit is not None and check.verdict != "not_asked"
    )


def oracle_margins(way: brute_force.Way) -> list[tuple[str, Fraction, Fraction]]:
    return sorted(
        (trial.code, Fraction(trial.margin), Fraction(trial.limit))
        for trial in way.tests
        if trial.margin is not None and trial.limit is not None and trial.verdict != "not_asked"
    )


def ruled_out_differences(answer: Answer, solution: brute_force.Solution) -> list[str]:
    """Each active pump that has a face path and no option is ruled out, and none that has an option is."""
    with_option = {way.pump.number for way in solution.ranking}
    ways = [way for same_path in solution.ways.values() for way in same_path]
    expected = {way.pump.number for way in ways if way.pump.part.status == "active"} - with_option - {""}
    ruled_out = {entry.pump for entry in answer.ruled_out}
    found = [f"{pump} has an option and is ruled out" for pump in sorted(ruled_out & with_option)]
    return found + [f"{pump} has no option and is not ruled out" for pump in sorted(expected - ruled_out)]
