"""Minimal conflicts and corrections: published examples, every subset tried, and an independent library."""

import random
from collections.abc import Callable
from itertools import combinations

import pytest
from pysat.examples.hitman import Hitman
from pysat.examples.lbx import LBX
from pysat.examples.musx import MUSX
from pysat.examples.optux import OptUx
from pysat.formula import WCNF

from service.fit.conflicts import Clash, clash, minimal_hitting_sets

MOST = 1_000


def sets(*names: str) -> set[frozenset[str]]:
    """`sets("ab", "c")` is {{a, b}, {c}}."""
    return {frozenset(name.split() if " " in name else name) for name in names}


def families(found: Clash) -> tuple[set[frozenset[str]], set[frozenset[str]]]:
    return set(map(frozenset, found.conflicts)), set(map(frozenset, found.corrections))


def within(budget: int, costs: dict[str, int], *apart: frozenset[str]) -> Callable[[frozenset[str]], bool]:
    """Whether chosen extras stay within a budget, and none of these are chosen together."""
    return lambda chosen: sum(costs[name] for name in chosen) <= budget and not any(pair <= chosen for pair in apart)


JUNKERS_COSTS = {"1": 500, "2": 500, "3": 800, "4": 500, "5": 2_600}


class TestPublished:
    def test_family_car_with_a_budget(self) -> None:
        """O'Sullivan 2007: roof rack 500, convertible 500, CD 500, leather 2,600, c1 the budget of 3,000; a rack does
        not go on a convertible."""
        costs = {"c2": 500, "c3": 500, "c4": 500, "c5": 2_600}

        def meets(chosen: frozenset[str]) -> bool:
            budget = 3_000 if "c1" in chosen else 1_000_000
            return within(budget, {**costs, "c1": 0}, frozenset({"c2", "c3"}))(chosen)

        found = clash(("c1", "c2", "c3", "c4", "c5"), meets, MOST)
        conflicts, corrections = families(found)
        assert conflicts == sets("c2 c3", "c1 c2 c5", "c1 c3 c5", "c1 c4 c5")
        # The corrections are those of brute force, and the hitting sets of each family are the other.
        assert corrections == sets("c1 c2", "c1 c3", "c2 c5", "c3 c5", "c2 c3 c4")
        assert set(minimal_hitting_sets(corrections)) == conflicts
        assert not found.truncated
        assert found.decided

    def test_extras_of_a_car_that_cost_too_much(self) -> None:
        """Junker 2004, tables 1 and 2; the budget is not printed, and any from 2,300 to 3,099 gives the same."""
        found = clash("12345", within(3_000, JUNKERS_COSTS), MOST)
        assert families(found) == (sets("15", "25", "35", "45"), sets("5", "1234"))

    @pytest.mark.parametrize(("order", "preferred"), [("12345", "15"), ("45123", "45")])
    def test_preferred_conflict_stands_first(self, order: str, preferred: str) -> None:
        """The conflict that Junker's algorithm finds where the first named is wanted most."""
        found = clash(order, within(3_000, JUNKERS_COSTS), MOST)
        assert set(found.conflicts[0]) == set(preferred)

    def test_full_adder(self) -> None:
        """Reiter 1987, inputs from memory: the conflicts {X1, X2} and {X1, A2, O1} have three diagnoses."""
        conflicts = sets("X1 X2", "X1 A2 O1")
        diagnoses = [frozenset({"X1"}), *sets("X2 A2", "X2 O1")]
        assert set(minimal_hitting_sets(conflicts)) == set(diagnoses)
        found = clash(("X1", "X2", "A1", "A2", "O1"), lambda s: not any(c <= s for c in conflicts), MOST)
        assert families(found) == (conflicts, set(diagnoses))

    def test_hitting_set_tree(self) -> None:
        """The family of the figure in Reiter 1987, inputs from memory; members that hold another one drop out on the
        way back."""
        family = sets("245", "123", "135", "246", "24", "235", "16")
        found = set(minimal_hitting_sets(family))
        assert found == sets("12", "134", "145", "236", "256", "346")
        assert set(minimal_hitting_sets(found)) == sets("16", "24", "123", "135", "235")
        with Hitman(bootstrap_with=[sorted(members) for members in family], htype="sorted") as hitman:
            assert {frozenset(each) for each in hitman.enumerate()} == found


def random_family(seed: int) -> tuple[str, list[frozenset[str]]]:
    rng = random.Random(seed)
    names = "abcdefgh"[: rng.randint(2, 8)]
    return names, [
        frozenset(rng.sample(names, rng.randint(1, min(4, len(names))))) for _ in range(rng.randint(1, len(names)))
    ]


def by_brute_force(names: str, forbidden: list[frozenset[str]]) -> tuple[set[frozenset[str]], set[frozenset[str]]]:
    every = [frozenset(chosen) for size in range(len(names) + 1) for chosen in combinations(names, size)]
    unmet = [chosen for chosen in every if any(clash <= chosen for clash in forbidden)]
    met = [chosen for chosen in every if chosen not in unmet]
    conflicts = {chosen for chosen in unmet if not any(other < chosen for other in unmet)}
    return conflicts, {frozenset(names) - chosen for chosen in met if not any(chosen < other for other in met)}


@pytest.mark.parametrize("seed", range(200))
def test_every_subset_and_pysat_agree(seed: int) -> None:
    """Against all subsets; and PySAT's enumerators of minimal correction sets (LBX) and of minimal unsatisfiable
    ones (OptUx, smallest first), with one extraction by deletion (MUSX)."""
    names, forbidden = random_family(seed)
    conflicts, corrections = families(
        clash(names, lambda chosen: not any(clash <= chosen for clash in forbidden), MOST)
    )
    assert (conflicts, corrections) == by_brute_force(names, forbidden)
    formula = WCNF()
    for members in forbidden:
        formula.append([-(names.index(name) + 1) for name in sorted(members)])
    for number in range(len(names)):
        formula.append([number + 1], weight=1)

    def named(clauses: list[int]) -> frozenset[str]:
        return frozenset(names[clause - 1] for clause in clauses)

    with LBX(formula) as enumerator:
        listed = []
        for found in enumerator.enumerate():
            listed.append(named(found))
            enumerator.block(found)  # the caller's part: else the same comes again
        assert set(listed) == corrections
    with OptUx(formula) as enumerator:
        assert {named(found) for found in enumerator.enumerate()} == conflicts
    with MUSX(formula, verbosity=0) as extractor:
        assert named(extractor.compute()) in conflicts


def test_each_set_is_asked_once_and_only_where_nothing_settles_it() -> None:
    asked: list[frozenset[str]] = []

    def meets(chosen: frozenset[str]) -> bool:
        assert not any(chosen == known for known in asked)
        asked.append(chosen)
        return not {"a", "b"} <= chosen

    clash("abcdefgh", meets, MOST)
    assert len(asked) <= 1 + 3 + 8 * 2  # the whole, the hitting sets, and the growth of two corrections


def test_at_the_limit_it_says_that_there_may_be_more() -> None:
    names = "abcdefgh"
    pairs = [frozenset(pair) for pair in combinations(names, 2)]
    found = clash(names, lambda chosen: not any(pair <= chosen for pair in pairs), 5)
    assert found.truncated
    assert set(map(frozenset, found.conflicts)) <= set(pairs)
    met = [frozenset(names) - frozenset(correction) for correction in found.corrections]
    assert all(len(left) == 1 for left in met)


def test_what_is_not_decided_is_no_conflict() -> None:
    def meets(chosen: frozenset[str]) -> bool | None:
        return None if {"a", "b"} <= chosen else not {"c", "d"} <= chosen

    found = clash("abcd", meets, MOST)
    assert not found.decided
    assert families(found)[0] == sets("cd")
    assert found.corrections
    assert all(meets(frozenset("abcd") - frozenset(correction)) for correction in found.corrections)


def test_what_can_be_met_has_neither() -> None:
    assert clash("abc", lambda _: True, MOST) == Clash((), (), truncated=False, decided=True)


def test_what_no_set_can_meet_is_the_empty_conflict() -> None:
    found = clash("abc", lambda _: False, MOST)
    assert found.conflicts == ((),)
    assert found.corrections == ()
