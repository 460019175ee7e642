"""The generated cases are what the tests against the oracles need: sound catalogs, and enough of every outcome."""

from collections import Counter
from functools import cache
from itertools import pairwise

import pytest

from catalog.checks import check_snapshot
from tests.oracles import brute_force
from tests.oracles.generator import seeded_case

CASES = 150
NUMERIC = ("belt_plane", "crank", "cover", "carried_parts", "bolts")
PLAIN = ("face", "belt", "rotation", "hub", "price", "work", "outlet_side", "outlet_direction")


@cache
def census() -> Counter[object]:
    """In how many cases each thing happens at least once."""
    counts = Counter[object]()
    for seed in range(CASES):
        case = seeded_case(seed)
        solution = brute_force.solve(case.snapshot, case.build)
        seen: set[object] = {solution.verdict}
        ways = [way for same_path in solution.ways.values() for way in same_path]
        for way in ways:
            seen |= {(test.code, test.verdict) for test in way.tests}
            seen |= {("settled", test.code) for test in way.tests if test.settled}
            seen |= {
                ("not known", test.code)
                for test in way.tests
                if test.verdict == "measure_first" and test.margin is None
            }
            seen |= {"nobody states it" for test in way.tests if test.verdict == "not_asked" and test.code != "hub"}
            covers = [test for test in way.tests if test.code == "cover" and not test.settled]
            seen |= {"a zone is free" for test in covers if (test.verdict, test.margin) == ("ok", None)}
            seen |= {"exactly at the limit" for test in way.tests if test.margin == 0}
            seen |= {"two groups of bolts"} if len(way.fasteners) > 1 else set()
        question = brute_force.Question(case.snapshot, case.build)
        keys = [brute_force.rank_key(question, way)[:-1] for way in solution.ranking]
        seen |= {"tie" for one, other in pairwise(keys) if one == other}
        seen |= {"many options"} if len(solution.ranking) > 10 else set()
        seen |= {"no price"} if any(way.buy_price is None for way in solution.ranking) else set()
        seen |= (
            {"required part"} if any(number.startswith("X-") for way in ways for number in way.quantities) else set()
        )
        counts.update(seen)
    return counts


def test_every_verdict_of_a_build_is_common() -> None:
    counts = census()
    assert counts["fits"] >= CASES // 5
    assert counts["measure_first"] >= CASES // 25
    assert counts["blocked"] >= CASES // 5


@pytest.mark.parametrize("code", NUMERIC)
@pytest.mark.parametrize("verdict", ["ok", "measure_first", "fails"])
def test_numeric_checks_fall_on_every_side(code: str, verdict: str) -> None:
    assert census()[code, verdict] >= 2


@pytest.mark.parametrize("code", PLAIN)
@pytest.mark.parametrize("verdict", ["ok", "fails"])
def test_plain_checks_fall_on_both_sides(code: str, verdict: str) -> None:
    assert census()[code, verdict] >= 2


@pytest.mark.parametrize("code", ["belt_plane", "belt", "rotation", "cover", "carried_parts"])
def test_tested_fits_settle(code: str) -> None:
    assert census()["settled", code] >= 1


@pytest.mark.parametrize(
    ("thing", "least"),
    [
        ("tie", 5),
        ("exactly at the limit", 10),
        ("two groups of bolts", 5),
        ("many options", 10),
        ("no price", 5),
        ("required part", 10),
        (("rule", "fails"), 10),
        (("without", "fails"), 1),
        (("not known", "face"), 5),
        (("not known", "belt"), 5),
        (("not known", "belt_plane"), 1),
        (("not known", "rotation"), 5),
        (("not known", "crank"), 1),
        (("not known", "cover"), 5),
        (("not known", "carried_parts"), 3),
        (("not known", "bolts"), 5),
        ("nobody states it", 3),
        ("a zone is free", 5),
    ],
)
def test_rare_things_happen(thing: object, least: int) -> None:
    assert census()[thing] >= least


def test_catalogs_are_sound() -> None:
    assert {seed: faults for seed in range(CASES) if (faults := check_snapshot(seeded_case(seed).snapshot))} == {}


def test_a_seed_names_a_case_for_good() -> None:
    assert all(seeded_case(seed) == seeded_case(seed) for seed in range(20))
