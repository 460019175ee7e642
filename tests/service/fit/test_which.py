"""Which parts suit a build, against plain enumeration on random catalogs and against long lists of options."""

from collections.abc import Iterator
from typing import Any
from unittest.mock import patch

import msgspec
import pytest
from msgspec import UNSET

from catalog.domain import Snapshot
from service.fit.build import Build, BuildError
from service.fit.engine import fit
from service.fit.graph import ConstraintGraph
from service.fit.search import Search
from service.fit.which import Which, which_fit
from service.fit.wording.parts import WHY, which_text
from tests.oracles import brute_force
from tests.oracles.generator import Case, seeded_case
from tests.support import effort

BLOCK = 25
BLOCKS = 2 * effort()
SUITS = {"fits": "ok", "fits_with": "ok", "measure_first": "measure_first"}
KINDS = ("water_pump", "spacer", "adapter_plate", "pulley")
DEMO: list[dict[str, Any]] = [
    {"engine": "ENG-R20"},
    {"engine": "ENG-R20", "accessory_drive": "DR-541", "front_cover": "FC-R5"},
    {"engine": "ENG-R20", "accessory_drive": "DR-541", "radiator": "RD-30", "heater": "none"},
    {"engine": "ENG-R20", "accessory_drive": "DR-506", "front_cover": "FC-R5", "must": {"without": ["WP-241"]}},
    {"engine": "ENG-R20", "accessory_drive": "DR-541", "fan": "mechanical", "core_distance": 400},
    {"engine": "ENG-R20", "pump_drive": "remote", "radiator": "RD-30"},
]


@pytest.mark.parametrize("block", range(BLOCKS))
def test_pumps_plates_and_pulleys_suit_as_plain_enumeration_says(block: int) -> None:
    seeds = range(40_000 + block * BLOCK, 40_000 + (block + 1) * BLOCK)
    wrong = {seed: found for seed in seeds if (found := list(differences(seeded_case(seed))))}
    assert wrong == {}


def differences(case: Case) -> Iterator[str]:
    """Parts of which the enumeration says otherwise."""
    ways = [way for same in brute_force.solve(case.snapshot, case.build).ways.values() for way in same if way.feasible]
    expected: dict[str, str] = {}
    for way in ways:
        pieces = (way.pump, *way.plates, *([] if way.pulley is None else [way.pulley]))
        for number in (piece.number for piece in pieces):
            if expected.get(number) != "ok":
                expected[number] = way.verdict
    for which in which_fit(ConstraintGraph(case.snapshot), case.build, None).parts:
        if which.part.kind in KINDS and which.suits != "not_concerned":
            found, wanted = SUITS.get(which.suits, "no"), expected.get(which.part.number, "no")
            if which.part.number not in named(case.build) and found != wanted:
                yield f"{which.part.number} {found}, expected {wanted}"


def named(build: Build) -> set[str]:
    """What the build names suits it where anything does, whichever option that is."""
    return {value for field in ("pump", "pulley") if isinstance(value := getattr(build, field), str)}


@pytest.mark.parametrize("asked", DEMO, ids=str)
def test_what_any_option_holds_suits_and_its_pumps_are_those_that_fit(asked: dict[str, Any], demo: Snapshot) -> None:
    graph = ConstraintGraph(demo)
    answer = fit(graph, msgspec.convert(asked | {"limit": 50, "paths_per_pump": 50}, Build))
    found = {which.part.number: which for which in which_fit(graph, msgspec.convert(asked, Build), None).parts}
    suit = {number for number, which in found.items() if which.suits in SUITS}
    pumps = {number for number in suit if found[number].part.kind in ("water_pump", "remote_pump")}
    assert pumps == set(answer.fitting)
    lines = [line for option in answer.options for line in option.parts_list]
    held = {line.part for line in lines} | {other.part for line in lines for other in line.alternatives}
    assert held <= suit
    assert {miss.pump for miss in answer.ruled_out} <= found.keys() - suit


def test_a_part_is_said_to_suit_with_what_goes_with_it(demo: Snapshot) -> None:
    said = one(demo, "WP-108", {"engine": "ENG-R20", "accessory_drive": "DR-541", "front_cover": "FC-R5"})
    assert said.suits == "fits_with"
    assert said.with_ == ("SP-34",)
    assert which_text(said, demo.parts) == "It fits this build with Rowanfinch pump spacer, 34 mm."


@pytest.mark.parametrize(
    ("number", "with_", "text"),
    [
        (
            "WP-206",
            ("SP-06", "SP-06", "SP-08"),
            "It fits this build with two layers of 6 mm spacers and Rowanfinch pump spacer, 8 mm.",
        ),
        (
            "SP-06",
            ("WP-206", "SP-06", "SP-08"),
            "It fits this build with Mossheron short pump, one more layer of these and Rowanfinch pump spacer, 8 mm.",
        ),
    ],
)
def test_with_says_how_many(number: str, with_: tuple[str, ...], text: str, demo: Snapshot) -> None:
    asked = {"engine": "ENG-R20", "accessory_drive": "DR-528", "front_cover": "FC-R5", "pump": "WP-206"}
    said = one(demo, number, asked)
    assert said.with_ == with_
    assert which_text(said, demo.parts) == text


def test_a_part_of_the_build_is_judged_as_when_it_is_asked_for(demo: Snapshot) -> None:
    asked = {"engine": "ENG-R20", "accessory_drive": "DR-541", "front_cover": "FC-R5"}
    beside, named = one(demo, "WP-108", asked), one(demo, "WP-108", asked | {"pump": "WP-108"})
    assert (named.suits, named.with_) == (beside.suits, beside.with_) == ("fits_with", ("SP-34",))
    assert one(demo, "FC-R5", asked).with_ == one(demo, "DR-541", asked).with_ == ("WP-227", "SP-14")


def test_a_part_beyond_a_limit_suits_nothing(demo: Snapshot) -> None:
    """The kit is dearer than the set that the first option takes, which leaves no room for it."""
    asked = {"engine": "ENG-R20", "accessory_drive": "DR-541", "front_cover": "FC-R5", "pump": "WP-227"}
    limits = {"price_at_most": {"amount": 269, "currency": "USD"}}
    assert one(demo, "BK-A50", asked).suits == "fits_with"
    assert one(demo, "BK-A50", asked | {"must": limits}).suits == "no"
    assert one(demo, "FS-8-50", asked | {"must": limits}).suits == "fits_with"


@pytest.mark.parametrize(
    ("number", "asked", "why"),
    [
        ("HS-38-1200", {"engine": "ENG-R20"}, "not_asked"),
        ("RD-31", {"engine": "ENG-R20", "radiator": "RD-30"}, "of_the_car"),
        ("WP-243", {"engine": "ENG-R20", "pump": "WP-227"}, "another_named"),
        ("WP-243", {"engine": "ENG-R20", "pump_drive": "remote"}, "other_drive"),
        ("SP-34", {"engine": "ENG-R20", "must": {"without": ["SP-34"]}}, "unwanted"),
    ],
)
def test_why_a_part_does_not_suit_or_is_not_concerned(
    number: str, asked: dict[str, Any], why: str, demo: Snapshot
) -> None:
    said = one(demo, number, asked)
    assert said.why == why
    assert which_text(said, demo.parts) == WHY[why]


def test_every_fault_of_the_build_and_the_parts_is_named_at_once(demo: Snapshot) -> None:
    build = msgspec.convert({"engine": "ENG-R2O", "front_cover": "SP-34"}, Build)
    with pytest.raises(BuildError) as raised:
        which_fit(ConstraintGraph(demo), build, ["WP-227", "WP-22Z"])
    assert [fault.pointer for fault in raised.value.faults] == ["/engine", "/front_cover", "/parts/1"]


@pytest.mark.parametrize("block", range(BLOCKS))
def test_what_the_front_alone_decides_is_what_is_found_pair_by_pair(block: int) -> None:
    """On random catalogs, with parts asked for together and by pages, and of one graph after other questions."""
    shared = 0
    for seed in range(60_000 + block * BLOCK, 60_000 + (block + 1) * BLOCK):
        case = seeded_case(seed)
        build = msgspec.structs.replace(
            case.build, radiator=UNSET, radiator_ports=UNSET, heater=UNSET, fan=UNSET, have=[]
        )
        with patch.object(Search, "is_bare", False):
            expected = {
                which.part.number: which for which in which_fit(ConstraintGraph(case.snapshot), build, None).parts
            }
        graph, numbers = ConstraintGraph(case.snapshot), sorted(case.snapshot.parts)
        for asked in (numbers[::3], numbers[::2], None, numbers[:7]):
            found = which_fit(graph, build, asked).parts
            assert list(found) == [expected[which.part.number] for which in found], seed
            shared += sum(which.derived is not None for which in found)
    assert shared > 100


def one(snapshot: Snapshot, number: str, asked: dict[str, Any]) -> Which:
    (found,) = which_fit(ConstraintGraph(snapshot), msgspec.convert(asked, Build), [number]).parts
    return found


def test_a_limit_that_leaves_all_room_changes_nothing(demo: Snapshot) -> None:
    """A limit on price has every option assessed whole, where else it is told quickly what suits."""
    asked = {"engine": "ENG-R20", "accessory_drive": "DR-541", "front_cover": "FC-R5"}
    roomy = {"must": {"price_at_most": {"amount": 100_000, "currency": demo.currency}}}

    def suits(build: dict[str, Any]) -> dict[str, tuple[str, str]]:
        found = which_fit(ConstraintGraph(demo), msgspec.convert(build, Build), None).parts
        return {which.part.number: (which.suits, which.why) for which in found}

    free, limited = suits(asked), suits(asked | roomy)
    unpriced = {number for number, part in demo.parts.items() if part.price is None}
    differ = {number for number in free if free[number] != limited[number]}
    assert differ <= unpriced
