"""Readings that contradict the part they are of: the answer asks first whether it is this part."""

from pathlib import Path
from typing import Any

import pytest
from msgspec import convert
from msgspec.structs import replace

from catalog.database import open_read_only, reading
from catalog.domain import Measure, Part, Snapshot
from catalog.migrate import upgrade
from catalog.reader import read_snapshot
from service.fit.answer import Answer, Option
from service.fit.build import Build
from service.fit.contradiction import ALLOWANCE, challenge
from service.fit.engine import fit
from service.fit.graph import ConstraintGraph
from service.fit.question import resolve
from service.fit.which import which_fit
from service.fit.whole import settlement_of
from service.fit.wording import answer_text

MM = 1_000_000
DEMO = Path(__file__).parents[3] / "migrations" / "demo"
PLAIN: dict[str, Any] = {"engine": "ENG-R20", "accessory_drive": "DR-541", "front_cover": "FC-R5"}
EIGHT_INCHES = {"part": "WP-227", "measure": "pulley_front", "value": "8 in", "taken_with": "tape"}


@pytest.fixture(scope="module")
def graph(tmp_path_factory: pytest.TempPathFactory) -> ConstraintGraph:
    url = f"sqlite:///{tmp_path_factory.mktemp('demo')}/catalog.sqlite"
    upgrade(url, DEMO)
    with reading(open_read_only(url)) as connection:
        snapshot: Snapshot = read_snapshot(connection)
    return ConstraintGraph(snapshot)


def ask(graph: ConstraintGraph, *measured: dict[str, Any], **more: Any) -> Answer:
    return fit(graph, convert({**PLAIN, "paths_per_pump": 50, "limit": 50, "measured": measured, **more}, Build))


def contradicted(option: Option) -> list[str]:
    return [check.zone for check in option.checks if check.reason == "reading_contradicts"]


def part(**sizes: tuple[int, int]) -> Part:
    measures = {name: Measure(name, at, doubt, doubt, "drawing", "") for name, (at, doubt) in sizes.items()}
    return Part("P-1", "water_pump", "a pump", measures=measures)


@pytest.mark.parametrize("side", [-1, 1])
def test_a_reading_is_challenged_beyond_both_doubts_and_the_allowance(side: int) -> None:
    pump = part(nose=(100 * MM, 200_000))
    edge = 200_000 + 1_500_000 + ALLOWANCE
    assert ALLOWANCE == 3 * MM
    for beyond, challenged in ((0, False), (1, True)):
        read = Measure("nose", 100 * MM + side * (edge + beyond), 1_500_000, 1_500_000, "tape", "asker")
        found = challenge(pump, read)
        assert (found is not None) is challenged
        assert found is None or (found.read, found.known, found.beyond) == (read.nominal, 100 * MM, ALLOWANCE + 1)


def test_the_front_edge_is_held_against_the_belt_and_its_offset() -> None:
    pump = part(belt_plane=(100 * MM, 100_000), front_offset=(12 * MM, 100_000))
    for side in (-1, 1):
        at_edge = 112 * MM + side * (200_000 + ALLOWANCE)
        assert challenge(pump, Measure("pulley_front", at_edge, 0, 0, "drawing", "")) is None
        found = challenge(pump, Measure("pulley_front", at_edge + side, 0, 0, "drawing", ""))
        assert found is not None
        assert (found.known, found.rests_on.measure) == (112 * MM, "belt_plane")


def test_what_the_catalog_does_not_state_contradicts_nothing() -> None:
    assert challenge(part(), Measure("nose", 5 * MM, 0, 0, "drawing", "")) is None
    assert challenge(part(belt_plane=(MM, 0)), Measure("pulley_front", 50 * MM, 0, 0, "drawing", "")) is None


def test_the_answer_asks_first_whether_it_is_this_part(graph: ConstraintGraph) -> None:
    answer = ask(graph, EIGHT_INCHES, pump="WP-227")
    assert answer_text(answer).startswith(
        "You read 203.2 mm for the pulley front of Mossheron middle pump (WP-227), where this part has 139.7 mm: "
        "is it this part? Until that is settled the catalog's own measures count. Not checked"
    )
    assert [(each.part, each.measure) for each in answer.challenged] == [("WP-227", "pulley_front")]
    assert answer.verdict == "measure_first"
    plain = ask(graph, pump="WP-227")
    assert [(o.plates, o.stack) for o in answer.options] == [(o.plates, o.stack) for o in plain.options]
    assert all(option.verdict == "measure_first" for option in answer.options)
    assert all(contradicted(option) == ["WP-227.pulley_front"] for option in answer.options)
    assert not plain.challenged
    assert plain.verdict == "fits"


def test_only_what_takes_the_part_is_in_question(graph: ConstraintGraph) -> None:
    answer = ask(graph, EIGHT_INCHES)
    assert answer.verdict == "fits"
    plain = {(option.pump, option.plates): option.verdict for option in ask(graph).options}
    for option in answer.options:
        own = option.pump == "WP-227"
        assert option.verdict == ("measure_first" if own else plain[option.pump, option.plates])
    assert any(option.pump == "WP-227" for option in answer.options)
    assert answer_text(answer).startswith("You read 203.2 mm")


def test_a_reading_that_does_not_contradict_replaces_the_catalog(graph: ConstraintGraph) -> None:
    near = {"part": "WP-227", "measure": "pulley_front", "value": "140.5 mm", "taken_with": "caliper"}
    answer = ask(graph, near, pump="WP-227")
    assert not answer.challenged
    assert not any(contradicted(option) for option in answer.options)
    # Of two readings of one part each is looked at on its own.
    both = ask(graph, EIGHT_INCHES, {"part": "WP-227", "measure": "nose", "value": "143 mm"}, pump="WP-227")
    assert [each.measure for each in both.challenged] == ["pulley_front"]


@pytest.mark.parametrize(
    ("number", "measure", "value"),
    [
        ("SP-14", "thickness", "30 mm"),
        ("GK-04", "thickness", "9 mm"),
        ("FC-R5", "cover_height", "90 mm"),
        ("DR-541", "belt_plane", "190 mm"),
        ("ENG-R20", "hole_depth", "90 mm"),
    ],
)
def test_every_part_of_an_option_may_be_in_question(
    graph: ConstraintGraph, number: str, measure: str, value: str
) -> None:
    answer = ask(graph, {"part": number, "measure": measure, "value": value})
    plain = ask(graph)
    assert answer.options
    for option in answer.options:
        holds = {number} & {*PLAIN.values(), *option.plates, *(line.part for line in option.parts_list)}
        assert contradicted(option) == ([f"{number}.{measure}"] if holds else [])
        assert option.verdict == "measure_first" or not holds
    assert {(o.pump, o.plates) for o in answer.options} <= {(o.pump, o.plates) for o in plain.options}


def test_bolts_in_question_give_way_to_others(graph: ConstraintGraph) -> None:
    plain = ask(graph, pump="WP-227").options[0]
    (bolts,) = [line.part for line in plain.parts_list if line.kind == "fastener_set"]
    read = {"part": bolts, "measure": "length", "value": "200 mm"}
    for option in ask(graph, read, pump="WP-227").options:
        taken = bolts in [line.part for line in option.parts_list]
        assert (option.verdict == "measure_first") >= taken
        assert bool(contradicted(option)) is taken


def test_which_parts_suit_says_so_too(graph: ConstraintGraph) -> None:
    build = convert({**PLAIN, "measured": [EIGHT_INCHES]}, Build)
    found = which_fit(graph, build, ["WP-227", "WP-241"])
    first, second = found.parts
    assert [each.part for each in found.challenged] == ["WP-227"]
    assert first.suits == "measure_first"
    assert first.check is not None
    assert first.check.reason == "reading_contradicts"
    assert second.suits == "fits"
    plate = {"part": "SP-14", "measure": "thickness", "value": "30 mm"}
    read = convert({**PLAIN, "measured": [plate], "have": ["SP-14"]}, Build)
    for build in (read, replace(read, have=[]), replace(read, radiator="RD-31")):
        (found_plate,) = which_fit(graph, build, ["SP-14"]).parts
        assert found_plate.suits == "measure_first"
        assert found_plate.check is not None
        assert found_plate.check.reason == "reading_contradicts"


def test_what_the_catalog_rules_out_does_not_rest_on_the_reading(graph: ConstraintGraph) -> None:
    read = {"part": "WP-253", "measure": "belt_plane", "value": "20 mm"}
    missed = next(each for each in ask(graph, read).ruled_out if each.pump == "WP-253")
    assert not missed.measuring
    assert missed.check.verdict == "fails"


def test_lines_that_take_the_part_are_decided_as_quickly(graph: ConstraintGraph) -> None:
    lines = {"radiator": "RD-31", "heater": "none", "pump": "WP-227", "limit": 2}
    plain = ask(graph, **lines).options[0]
    housing = next(line.part for line in plain.parts_list if line.kind == "thermostat_housing")
    read = {"part": housing, "measure": "flange_thickness", "value": "60 mm"}
    others = [part.number for part in graph.of_kind("thermostat_housing") if part.number != housing]
    answer = ask(graph, read, **lines, must={"without": others})
    assert answer.decided
    assert answer.options[0].verdict == "measure_first"
    assert contradicted(answer.options[0]) == [f"{housing}.flange_thickness"]
    question = resolve(graph.snapshot, answer.build)
    with settlement_of(graph, question) as settlement:
        assert not settlement.surely(graph.snapshot.parts["WP-227"], None)  # so no list without it is looked for
    free = ask(graph, read, **lines)
    assert free.decided
    assert free.options[0].verdict == "ok"  # another housing does
