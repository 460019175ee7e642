"""Options that questions share: whatever was asked before, each answer is what it is alone, byte for byte."""

from collections.abc import Iterator
from itertools import permutations
from typing import Any
from unittest.mock import patch

import msgspec
import pytest

from catalog.domain import Snapshot
from catalog.units import exponent
from service.api import encoded, render
from service.fit.build import Build
from service.fit.engine import fit
from service.fit.graph import ConstraintGraph
from service.fit.question import RANK_KEYS
from service.fit.whole import Settlement
from tests.bench.assortment import snapshot as assortment
from tests.oracles.generator import seeded_case
from tests.support import effort

SEEDS = 8 * effort()
MADE = {"engine": "EN-000-0001", "accessory_drive": "DR-000-0004", "front_cover": "FC-000-0001"}
DEMO = {"engine": "ENG-R20", "accessory_drive": "DR-541"}
_CIRCUITS = ("radiator", "radiator_ports", "heater", "fan", "have")
_encode = msgspec.json.Encoder(order="deterministic").encode


def variants(asked: dict[str, Any], snapshot: Snapshot) -> Iterator[Build]:
    """Builds of one front that differ in what is looked at later, some with no more money than an option takes."""
    must, currency = asked.get("must", {}), snapshot.currency
    plain = msgspec.convert(asked, Build)
    yield plain
    for keys in [*permutations(("work", "price", "margin"), 2), ("length", "parts"), RANK_KEYS[::-1]]:
        yield msgspec.convert(asked | {"rank_by": list(keys), "paths_per_pump": len(keys)}, Build)
    listed = fit(ConstraintGraph(snapshot), plain, diagnose=False).options
    prices = sorted({option.buy_price.amount for option in listed if option.buy_price is not None})
    for cents in prices[:: max(1, len(prices) // 2)]:
        limit = {"price_at_most": {"amount": cents / 10 ** exponent(currency), "currency": currency}}
        yield msgspec.convert(asked | {"must": must | limit}, Build)
        yield msgspec.convert(asked | {"must": must | limit, "rank_by": ["margin", "price"], "limit": 4}, Build)
    others = [number for number in sorted(snapshot.parts) if number not in must.get("without", ())]
    for place in range(2):
        without = [*must.get("without", ()), *others[place :: max(1, len(others) // 20)]][:100]
        yield msgspec.convert(asked | {"must": must | {"without": without}}, Build)
    for work in ("bolt_on", "hand_fit", "press"):
        yield msgspec.convert(asked | {"must": must | {"work_at_most": work}}, Build)


def answered(graph: ConstraintGraph, build: Build, *, explain: bool) -> bytes:
    """The answer with its sentences in both units; why nothing fits is left out, which takes long.

    Where nothing is shared it is rendered whole, else as it is sent.
    """
    answer = fit(graph, build, explain=explain, diagnose=False)
    release, currency = graph.snapshot.release, graph.snapshot.currency
    units: tuple[render.Units, ...] = ("mm", "in")
    manners = [render.Manner(units=each, detail="full", currency=currency) for each in units]
    rendered = encoded.answer if any(option.derived for option in answer.options) else render.answer
    return b"\n".join(_encode(rendered(answer, release, manner)) for manner in manners)


def hold(snapshot: Snapshot, asked: dict[str, Any], explained: int = 0) -> int:
    """Ask every variant of one graph, in two orders, and each of a graph of its own that shares nothing.

    Gives how many pairs were shared.     The first so many are asked to explain their ranking as well.
    """
    builds = list(variants(asked, snapshot))
    with patch.object(Settlement, "shared_by", None):
        alone = [answered(ConstraintGraph(snapshot), build, explain=at < explained) for at, build in enumerate(builds)]
    graph = ConstraintGraph(snapshot)
    for places in (range(len(builds)), reversed(range(len(builds)))):
        for at in places:
            assert answered(graph, builds[at], explain=at < explained) == alone[at], msgspec.json.encode(builds[at])
    return len(graph.options)


def test_options_of_a_made_catalog() -> None:
    assert hold(assortment(1_000, 7, 6), MADE) > 10


@pytest.mark.parametrize("more", [{}, {"must": {"without": ["SP-34"]}, "core_distance": 330}], ids=str)
def test_options_of_the_demo(more: dict[str, Any], demo: Snapshot) -> None:
    assert hold(demo, DEMO | more, 0 if more else 1) > 5


def test_options_of_random_catalogs() -> None:
    """These have rules of every kind, tested fits, readings, described parts and remote pumps."""
    shared = 0
    for seed in range(70_000, 70_000 + SEEDS):
        case = seeded_case(seed)
        asked = msgspec.to_builtins(case.build)
        shared += hold(case.snapshot, {field: value for field, value in asked.items() if field not in _CIRCUITS})
    assert shared > 2 * SEEDS
