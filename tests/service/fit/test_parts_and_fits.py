"""What is said of a part beside a build is what `fit` answers where the part is named, and what enumeration finds.

Every part that a build can name is named in turn; of bolts, gaskets, plates, hoses and fittings the best option that
holds them is found by trying every list.
"""

from collections.abc import Callable, Iterator
from typing import Any, NamedTuple

import msgspec
import pytest
from msgspec import UNSET

from catalog.domain import Kind, Part, Snapshot
from service.fit.best_with import BestWith
from service.fit.build import Build
from service.fit.engine import fit
from service.fit.graph import ConstraintGraph
from service.fit.question import resolve
from service.fit.readings import DESCRIBED
from service.fit.search import Search, told
from service.fit.which import Which, which_fit
from service.fit.whole import settlement_of
from tests.oracles import brute_force, circuit_generator, generator, verifier, whole_list
from tests.oracles.generator import Case
from tests.oracles.lines import Lines
from tests.support import effort

BLOCK = 20
BLOCKS = 2 * effort()
SAID = {"fits": "ok", "fits_with": "ok", "measure_first": "measure_first", "no": "no"}
FIELDS: dict[Kind, str] = {
    "engine": "engine",
    "water_pump": "pump",
    "pulley": "pulley",
    "front_cover": "front_cover",
    "accessory_drive": "accessory_drive",
    "crank_pulley": "crank_pulley",
    "radiator": "radiator",
    "heater_core": "heater",
    "fan": "fan",
}
"""By kind the field of a build that names such a part."""
DEMO: list[dict[str, Any]] = [
    {"engine": "ENG-R20"},
    {"engine": "ENG-R20", "accessory_drive": "DR-541", "front_cover": "FC-R5"},
    {"engine": "ENG-R20", "accessory_drive": "DR-541", "radiator": "RD-30", "heater": "none"},
    {"engine": "ENG-R20", "accessory_drive": "DR-541", "fan": "mechanical", "core_distance": 400},
    {"engine": "ENG-R20", "pump_drive": "remote", "radiator": "RD-30"},
    {"engine": "ENG-R20", "accessory_drive": "DR-541", "pump": "WP-227", "radiator": "RD-31", "heater": "5/8 in hose"},
    {"engine": "ENG-R12", "accessory_drive": "DR-642", "have": ["SP-14", "FS-8-50"]},
    {"engine": "ENG-R20", "accessory_drive": "DR-541", "must": {"price_at_most": {"amount": 300, "currency": "USD"}}},
]


class Said(NamedTuple):
    """Whether a part suits, and what goes with it."""

    verdict: str
    with_: tuple[str, ...] = ()


def said(which: Which) -> Said:
    return Said(SAID[which.suits], which.with_)


def less(numbers: list[str], number: str) -> tuple[str, ...]:
    """All but one piece of this part."""
    place = numbers.index(number) if number in numbers else len(numbers)
    return (*numbers[:place], *numbers[place + 1 :])


def named(build: Build, part: Part) -> Build | None:
    """The build with the part named; None where it names another there, or asks for what such a part is not."""
    field = FIELDS.get(part.kind)
    if field is None:
        return None
    given = getattr(build, field)
    if given == "mechanical" and part.attributes.get("driven_by") == "engine":
        return msgspec.structs.replace(build, fan=part.number)
    if given is not UNSET and not (isinstance(given, str) and given.lower() == part.number.lower()):
        return None
    return msgspec.structs.replace(build, **{field: part.number})


def where_named(graph: ConstraintGraph, build: Build, part: Part) -> Said:
    """What `fit` says of the build with the part named in it."""
    answer = fit(graph, build, diagnose=False)
    if not answer.options:
        return Said("no")
    first = answer.options[0]
    pulleys = [line.part for line in first.parts_list if line.role == "pulley"]
    own = [] if first.pump.endswith(DESCRIBED) else [first.pump]
    return Said(first.verdict, less([*own, *first.plates, *pulleys], part.number))


def unlike_named(snapshot: Snapshot, build: Build) -> Iterator[tuple[str, Said, Said]]:
    """Parts of which is said otherwise than where they are named."""
    graph = ConstraintGraph(snapshot)
    for which in which_fit(graph, build, None).parts:
        asked = named(build, which.part)
        if asked is None or which.suits == "not_concerned" or which.part.status != "active":
            continue
        expected = where_named(graph, asked, which.part)
        if said(which) != expected:
            yield which.part.number, said(which), expected


@pytest.mark.parametrize("asked", DEMO, ids=str)
def test_the_demo_says_the_same_of_a_part_and_where_it_is_named(asked: dict[str, Any], demo: Snapshot) -> None:
    assert list(unlike_named(demo, msgspec.convert(asked, Build))) == []


@pytest.mark.parametrize("seeded", [generator.seeded_case, circuit_generator.seeded_case], ids=["place", "circuits"])
@pytest.mark.parametrize("block", range(BLOCKS))
def test_random_catalogs_say_the_same_of_a_part_and_where_it_is_named(
    block: int, seeded: Callable[[int], Case]
) -> None:
    cases = {seed: seeded(seed) for seed in range(80_000 + block * BLOCK, 80_000 + (block + 1) * BLOCK)}
    wrong = {seed: found for seed, case in cases.items() if (found := list(unlike_named(case.snapshot, case.build)))}
    assert wrong == {}


# --- what no build can name ----------------------------------------------------------------------------------


def expected_of_place(case: Case) -> dict[str, Said]:
    """By number what the best option with a part says, by trying every way from block to pump."""
    question = brute_force.Question(case.snapshot, case.build)
    ways = [way for same in brute_force.solve(case.snapshot, case.build).ways.values() for way in same if way.feasible]
    best: dict[str, brute_force.Way] = {}
    on_pair: dict[tuple[str, int, str], brute_force.Way] = {}
    for way in ways:
        pulley = "" if way.pulley is None else way.pulley.number
        for number, count in way.quantities.items():
            key = number, id(way.joints), pulley
            known = on_pair.get(key)
            if count and (known is None or _surest(question, way) < _surest(question, known)):
                on_pair[key] = way
    for (number, _, _), way in on_pair.items():
        key_of = brute_force.rank_key
        if number not in best or key_of(question, way) < key_of(question, best[number]):
            best[number] = way
    return {number: Said(way.verdict, less(_with(way), number)) for number, way in best.items()}


def _surest(question: brute_force.Question, way: brute_force.Way) -> tuple[Any, ...]:
    return way.verdict != "ok", brute_force.doubts(question, way), brute_force.rank_key(question, way)


def _with(way: brute_force.Way) -> list[str]:
    pulleys = [] if way.pulley is None or way.pulley.described else [way.pulley.number]
    return [*_own(way.pump), *way.order, *pulleys]


def _own(pump: brute_force.Piece) -> list[str]:
    """The number of a pump; what the asker describes is there already."""
    return [] if pump.described else [pump.number]


@pytest.mark.parametrize("block", range(BLOCKS))
def test_what_is_held_between_block_and_pump_is_what_enumeration_finds(block: int) -> None:
    told = 0
    for seed in range(81_000 + block * BLOCK, 81_000 + (block + 1) * BLOCK):
        case = generator.seeded_case(seed)
        told += compared(case, expected_of_place(case), f"{seed}")
    assert told > BLOCK


def compared(case: Case, expected: dict[str, Said], where: str) -> int:
    """Hold what is said of every part that no build can name to what is expected; gives how many suit."""
    told = 0
    for which in which_fit(ConstraintGraph(case.snapshot), case.build, None).parts:
        if which.part.kind in FIELDS or which.part.status != "active":
            continue
        wanted = expected.get(which.part.number, Said("no"))
        found = Said("no") if which.suits == "not_concerned" else said(which)
        assert found == wanted, (where, which.part.number)
        told += which.suits in ("fits_with", "measure_first")
    return told


def expected_of_lists(case: Case) -> dict[str, Said] | None:
    """By number what the best whole list with a part says, by trying every list; None where there are too many.

    Lists that hold another and more are tried as well, with up to three pieces of a number in the circuits.
    """
    question = brute_force.Question(case.snapshot, case.build)
    seals = {part.number: 9 for part in case.snapshot.parts.values() if part.kind == "gasket"}
    lines = Lines(question, {**dict.fromkeys(case.snapshot.parts, 3), **seals})
    best: dict[str, tuple[Any, ...]] = {}
    try:
        for place, face in enumerate(whole_list.every_face(question)):
            on_face: dict[str, tuple[Any, ...]] = {}
            for whole in whole_list.wholes_of(question, lines, face):
                if not whole.feasible:
                    continue
                pulley = [] if face.pulley is None or face.pulley.described else [face.pulley.number]
                stands = whole.key, face.seller.number, face.pump.number, face.order, pulley, place
                known = whole.verdict, [*_own(face.seller), *face.order, *pulley]
                for number, count in whole.quantities.items():
                    key = whole_list.surest(whole), stands, known
                    if count and (number not in on_face or key < on_face[number]):
                        on_face[number] = key
            for number, (_, stands, known) in on_face.items():
                if number not in best or (stands, known) < best[number]:
                    best[number] = stands, known
    except whole_list.TooMany:
        return None
    return {number: Said(verdict, less(with_, number)) for number, (_, (verdict, with_)) in best.items()}


def with_longer_lists(case: Case, expected: dict[str, Said]) -> dict[str, Said]:
    """The same with parts that only lists of more pieces hold than are tried, each found right by the verifier."""
    graph, question = ConstraintGraph(case.snapshot), resolve(case.snapshot, case.build)
    found = dict(expected)
    with settlement_of(graph, question) as settlement:
        best = BestWith(Search(graph, question, settlement))
        for number in sorted(case.snapshot.parts.keys() - expected.keys()):
            option = best.of(number) if question.allows(case.snapshot.parts[number]) else None
            if option is not None:
                listed = told(settlement, option, None, 1)
                assert verifier.verify_option(brute_force.Question(case.snapshot, case.build), listed)[1] == []
                pulleys = [line.part for line in listed.parts_list if line.role == "pulley"]
                found[number] = Said(option.verdict, less([listed.pump, *listed.plates, *pulleys], number))
    return found


@pytest.mark.parametrize("block", range(BLOCKS))
def test_what_is_held_anywhere_is_what_trying_every_list_finds(block: int) -> None:
    suit = tried = 0
    for seed in range(82_000 + block * BLOCK, 82_000 + (block + 1) * BLOCK):
        case = circuit_generator.seeded_case(seed)
        expected = expected_of_lists(case)
        if expected is not None:
            tried += 1
            suit += compared(case, with_longer_lists(case, expected), f"{seed}")
    assert tried >= BLOCK // 3
    assert suit > BLOCK
