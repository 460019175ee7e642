"""Choices of bolts that are not looked into: each answer is what it is where every choice is looked into."""

from collections.abc import Callable, Iterator
from unittest.mock import patch

import msgspec
import pytest

from catalog.domain import Snapshot
from catalog.units import exponent
from service.fit import bolt_sets
from service.fit.answer import Answer
from service.fit.assessor import Assessor
from service.fit.build import Amount, Build, RankKey
from service.fit.engine import fit
from service.fit.graph import ConstraintGraph
from service.fit.options import Assessed
from service.fit.whole import Trees
from tests.bench.assortment import snapshot as assortment
from tests.bench.builds import builds
from tests.oracles.circuit_generator import seeded_case
from tests.oracles.generator import Case
from tests.oracles.generator import seeded_case as seeded_place
from tests.support import effort

SEEDS = 40 * effort()
TELLING = (529, 887, 1266)
"""Seeds of catalogs where a kit's bolts for other joints decide, and where too many combinations are left."""
_ORDERS: tuple[list[RankKey], ...] = ([], ["price"], ["margin", "work"], ["work", "margin"], ["parts"])
_could = Assessor.could_stand_before


def compared(snapshot: Snapshot, build: Build) -> int:
    """How many choices were passed over in finding the very answer that looking into all of them gives."""
    passed = 0

    def could(assessor: Assessor, other: Assessor, best: Assessed) -> bool:
        nonlocal passed
        may = _could(assessor, other, best)
        passed += not may
        return may

    with patch.object(Assessor, "could_stand_before", could):
        some = fit(ConstraintGraph(snapshot), build, diagnose=False)
    with patch.object(Assessor, "could_stand_before", lambda *_: True):
        every = fit(ConstraintGraph(snapshot), build, diagnose=False)
    # What is passed over may have more combinations than are looked at, and then leaves less undecided.
    assert some.decided >= every.decided
    assert msgspec.structs.replace(some, decided=every.decided) == every
    return passed


def test_random_catalogs() -> None:
    cases = [seeded_case(seed) for seed in (*TELLING, *range(SEEDS))]
    # The telling ones are ranked by work first.
    orders: list[list[RankKey]] = [*([] for _ in TELLING), *(_ORDERS[place % len(_ORDERS)] for place in range(SEEDS))]
    ranked = [
        (case.snapshot, msgspec.structs.replace(case.build, rank_by=order))
        for case, order in zip(cases, orders, strict=True)
    ]
    assert sum(compared(*asked) > 0 for asked in ranked) >= SEEDS // 10


def test_a_made_catalog_with_kits() -> None:
    made = assortment(3_000, seed=2, on_face=60)
    for keys in _ORDERS[:3]:
        assert compared(made, msgspec.structs.replace(builds(made).whole, rank_by=keys)) > 5


@pytest.mark.parametrize("seeded", [seeded_case, seeded_place], ids=["circuits", "place"])
def test_sets_that_no_list_needs_are_left_out(seeded: Callable[[int], Case]) -> None:
    """Each answer is what it is where every set that does not fail is looked into, whatever limits there are."""
    fewer = 0
    for seed in range(50_000, 50_000 + SEEDS):
        case = seeded(seed)
        for build in limited(case, _ORDERS[seed % len(_ORDERS)]):
            some, of_some = asked(case.snapshot, build)
            with (
                patch.object(bolt_sets, "_needed", lambda choices, _: choices),
                patch.object(bolt_sets, "_worth_looking_into", lambda choices, _: choices),
            ):
                every, of_every = asked(case.snapshot, build)
            assert some.decided >= every.decided
            assert msgspec.structs.replace(some, decided=every.decided) == every, (seed, build)
            fewer += of_some < of_every
    assert fewer >= SEEDS // 4


def limited(case: Case, order: list[RankKey]) -> Iterator[Build]:
    """The build with its options in this order, and with no more money than its dearest listed options take."""
    build = msgspec.structs.replace(case.build, rank_by=order)
    yield build
    prices = [option.buy_price.amount for option in asked(case.snapshot, build)[0].options if option.buy_price]
    for cents in sorted(set(prices))[:: max(1, len(prices) - 1)]:
        at_most = Amount(cents / 10 ** exponent(case.snapshot.currency), case.snapshot.currency)
        for less in ({"price_at_most": at_most}, {"price_at_most": at_most, "work_at_most": "bolt_on"}):
            yield msgspec.structs.replace(build, must=msgspec.structs.replace(build.must, **less))


def asked(snapshot: Snapshot, build: Build) -> tuple[Answer, int]:
    """The answer, and how many options were made for it."""
    made = 0
    unlimited = Assessor.unlimited

    def counted(assessor: Assessor, trees: Trees) -> Assessed:
        nonlocal made
        made += 1
        return unlimited(assessor, trees)

    with patch.object(Assessor, "unlimited", counted):
        return fit(ConstraintGraph(snapshot), build, diagnose=False), made
