"""Choices of bolts that are not looked into: each answer is what it is where every choice is looked into."""

from unittest.mock import patch

import msgspec

from catalog.domain import Snapshot
from service.fit.assessor import Assessor
from service.fit.build import Build, RankKey
from service.fit.engine import fit
from service.fit.graph import ConstraintGraph
from service.fit.options import Assessed
from tests.bench.assortment import snapshot as assortment
from tests.bench.builds import builds
from tests.oracles.circuit_generator import seeded_case
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
        assert compared(made, msgspec.structs.replace(builds(made).whole, rank_by=keys)) > 10
