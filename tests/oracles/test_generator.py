"""The generated cases are what the tests against the oracles need: sound catalogs, and enough of every outcome."""

from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from fractions import Fraction
from functools import cache
from itertools import pairwise
from typing import NamedTuple
from unittest.mock import patch

import pytest
from msgspec import UNSET

from catalog.checks import check_snapshot
from catalog.standards.threads import LEAST_ENGAGEMENT, diameter
from tests.oracles import brute_force, circuit_generator, whole_list
from tests.oracles.brink import PLACES
from tests.oracles.generator import Case, seeded_case
from tests.oracles.lines import Lines

CASES = 200
NUMERIC = ("belt_plane", "crank", "cover", "carried_parts", "bolts")
PLAIN = ("face", "belt", "rotation", "hub", "price", "work", "outlet_side", "outlet_direction")


@cache
def census() -> Counter[object]:
    """In how many cases each thing happens at least once."""
    counts = Counter[object]()
    for seed in range(CASES):
        case, limits = seeded_case(seed), set[tuple[str, Beside]]()
        with noting(limits):
            solution = brute_force.solve(case.snapshot, case.build)
        ways = [way for same_path in solution.ways.values() for way in same_path]
        seen: set[object] = {solution.verdict, *limits, *beside_price(case, ways)}
        for way in ways:
            seen |= set(of_bolts(case, way))
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


class Beside(NamedTuple):
    """Which end of a value, 0 its least and 1 its most, lies so many nm beyond the limit that it must reach."""

    end: int
    nm: int


BESIDE = tuple(Beside(*place) for place in PLACES)


@contextmanager
def noting(seen: set[tuple[str, Beside]]) -> Iterator[None]:
    """Note of every number that the oracle holds against a limit where it stands."""
    within, at_least = brute_force.within, brute_force.at_least

    def note(code: str, low: Fraction, high: Fraction) -> None:
        seen.update((code, place) for place in BESIDE if (low, high)[place.end] == place.nm)

    def noted_within(
        code: str, zone: str, low: Fraction, high: Fraction, limits: brute_force.Limits
    ) -> brute_force.Trial:
        for one, other in ((low, high), (-high, -low)):
            note(code, limits[0] - other, limits[1] - one)
        return within(code, zone, low, high, limits)

    def noted_at_least(code: str, zone: str, low: Fraction, high: Fraction, limit: Fraction) -> brute_force.Trial:
        note(code, low - limit, high - limit)
        return at_least(code, zone, low, high, limit)

    with patch.object(brute_force, "within", noted_within), patch.object(brute_force, "at_least", noted_at_least):
        yield


def of_bolts(case: Case, way: brute_force.Way) -> Iterator[tuple[str, Beside]]:
    """The same of each set of bolts in each group: least engagement, and the depth of the hole."""
    question = brute_force.Question(case.snapshot, case.build)
    for group in brute_force.groups_of(question, way):
        holes, depth = group.holder.part.attributes, group.holder.get("hole_depth")
        thread, material = holes.get("thread"), holes.get("hole_material")
        if depth is None or thread is None or material is None or None in group.clamped:
            continue
        least = diameter(str(thread)) * LEAST_ENGAGEMENT[str(material)]
        for fastener in question.of("fastener_set"):
            if fastener.part.attributes["thread"] != thread:
                continue
            grip = [*group.clamped, fastener.get("washer_thickness") or (0, 0)]
            length = fastener.get("length")
            assert length is not None
            low, high = (length[end] - sum(term[1 - end] for term in grip if term) for end in (0, 1))
            for code, value in (("engaged", (low - least, high - least)), ("depth", (depth[0] - high, depth[1] - low))):
                yield from ((code, place) for place in BESIDE if value[place.end] == place.nm)


def beside_price(case: Case, ways: list[brute_force.Way]) -> set[tuple[str, Beside]]:
    """The same, in cents, of what the ways cost."""
    limit = case.build.must.price_at_most
    if limit is UNSET:
        return set()
    left = {round(limit.amount * 100) - way.buy_price for way in ways if way.buy_price is not None}
    return {("price", place) for place in BESIDE if place.nm in left}


@pytest.mark.parametrize("place", BESIDE)
@pytest.mark.parametrize("code", ["belt_plane", "cover", "carried_parts", "engaged", "depth", "price"])
def test_numbers_stand_exactly_on_their_limit_and_one_beside_it(code: str, place: Beside) -> None:
    """The last that is `ok`, the first in doubt, the last in doubt, the first that fails; a price knows no doubt."""
    assert census()[code, place] >= (1 if code == "carried_parts" else 2)


@cache
def cranks_on_limits() -> Counter[tuple[str, Beside]]:
    """In how many cases that of the crank does. Few builds name one, and it needs no whole solution."""
    counts = Counter[tuple[str, Beside]]()
    for seed in range(6 * CASES):
        case, seen = seeded_case(seed), set[tuple[str, Beside]]()
        with noting(seen):
            brute_force.crank_tests(brute_force.Question(case.snapshot, case.build))
        counts.update(seen)
    return counts


@pytest.mark.parametrize("place", BESIDE)
def test_cranks_stand_exactly_on_their_limit_and_one_beside_it(place: Beside) -> None:
    assert cranks_on_limits()["crank", place] >= 2


@cache
def cores_on_limits() -> Counter[tuple[str, Beside]]:
    """In how many cases with a circuit the room before the radiator stands there, of a pump or of a fan on it."""
    counts = Counter[tuple[str, Beside]]()
    for seed in range(CASES):
        case, seen = circuit_generator.seeded_case(seed), set[tuple[str, Beside]]()
        question = brute_force.Question(case.snapshot, case.build)
        lines = Lines(question)
        fans: list[tuple[str, ...]] = [()]
        if case.build.fan == "mechanical":
            fans = [("A-0", fan) for fan in ("Y-0", "Y-1")]
        with noting(seen):
            for face in whole_list.every_face(question):
                for fan in fans:
                    whole_list.radiator_gap(question, lines, face, fan)
        counts.update(seen)
    return counts


@pytest.mark.parametrize("place", BESIDE)
def test_cores_stand_exactly_as_near_as_they_may_and_one_nanometre_nearer(place: Beside) -> None:
    assert cores_on_limits()["radiator_gap", place] >= 2


def test_every_verdict_of_a_build_is_common() -> None:
    counts = census()
    assert counts["fits"] >= CASES // 6
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


@pytest.mark.parametrize("made", [seeded_case, circuit_generator.seeded_case], ids=["stacks", "circuits"])
def test_catalogs_are_sound(made: Callable[[int], Case]) -> None:
    assert {seed: faults for seed in range(CASES) if (faults := check_snapshot(made(seed).snapshot))} == {}


def test_a_seed_names_a_case_for_good() -> None:
    assert all(seeded_case(seed) == seeded_case(seed) for seed in range(20))
