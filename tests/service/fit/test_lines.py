"""Lines of the demo: how narrow they may be, on which side they end, where the outlet points, whose housing it is."""

from typing import Any

import msgspec
import pytest

from catalog.domain import Snapshot
from catalog.standards.flares import nominal_size
from service.fit.answer import Answer, Check, Option
from service.fit.bore import Bore, bore_of, width
from service.fit.build import Build
from service.fit.engine import fit
from service.fit.graph import ConstraintGraph
from service.fit.told import Lack
from service.fit.which import which_fit
from service.fit.wording.checks import check_text
from service.fit.wording.parts import which_text
from service.fit.wording.told_once import not_known_text
from tests.service.fit.test_trade_facts_circuits import connection
from tests.support import snapshot_of

CAR = {"engine": "ENG-R20", "accessory_drive": "DR-552", "front_cover": "FC-R5"}
IN = 25_400_000


@pytest.fixture(scope="module")
def graph(demo: Snapshot) -> ConstraintGraph:
    return ConstraintGraph(demo)


def ask(graph: ConstraintGraph, **fields: Any) -> Answer:
    return fit(graph, msgspec.convert(CAR | fields, Build))


def checks(option: Option, code: str) -> list[Check]:
    return [check for check in option.checks if check.code == code]


def numbers(option: Option) -> set[str]:
    return {line.part for line in option.parts_list}


def starting(graph: ConstraintGraph, *starts: str) -> list[str]:
    return [number for number in graph.snapshot.parts if number.startswith(starts)]


def test_a_main_line_is_never_led_through_a_nipple_for_a_heater(graph: ConstraintGraph) -> None:
    """The neck at hand costs nothing; a 1/2 in thread is no way out for a pump, whatever it saves."""
    for pump in ({}, {"pump": "WP-252"}):
        answer = ask(graph, radiator="RD-61", heater="HX-19", have=["NK-M21"], **pump)
        assert answer.options
        for option in answer.options:
            assert not numbers(option) & {"NK-M21", "FR-16-12"}
            assert [check.verdict for check in checks(option, "line_size")] == ["ok"] * 4


def test_return_lines_and_remote_loops_stay_wide_as_well(graph: ConstraintGraph) -> None:
    """With the usual ends left out, whatever else there is keeps the width, or there is no option."""
    without = starting(graph, "FH-16", "FH-20", "HF-38-16", "HF-32-16")
    for drive in ({}, {"pump_drive": "remote"}):
        build = {"engine": "ENG-R20", "radiator": "RD-61", "must": {"without": without}, **drive}
        for option in fit(graph, msgspec.convert(build, Build), diagnose=False).options:
            for check in checks(option, "line_size"):
                assert check.verdict == "ok"
                assert check.facts["narrowest"] >= 0.75 * check.facts["of"]


def test_a_line_that_narrows_within_the_share_says_so_with_both_sizes(graph: ConstraintGraph) -> None:
    without = [*starting(graph, "HS-38-", "CX-38"), "NK-M11"]
    ports = {"upper": {"size": "1 1/2 in hose", "side": "left"}, "lower": {"size": "1 1/2 in hose"}}
    option = ask(graph, heater="none", pump="WP-252", radiator_ports=ports, must={"without": without}).options[0]
    narrow = next(check for check in checks(option, "line_size") if check.zone == "upper")
    assert narrow.reason == "line_narrows"
    assert check_text(narrow) == (
        "The line to the radiator's upper port narrows to 1 1/4 in hose (31.8 mm); its smaller port is 1 1/2 in bore "
        "(38.1 mm), and 28.6 mm is the least."
    )


def test_where_only_narrow_lines_are_left_the_size_is_what_fails(graph: ConstraintGraph) -> None:
    """From a 1 1/2 in outlet to a 1 3/4 in port by way of -16, which is less than three quarters of 1 1/2 in."""
    without = [
        part.number
        for part in graph.snapshot.parts.values()
        if part.kind in ("hose", "fitting")
        and any("hose_38" in port.connection or "hose_44" in port.connection for port in part.ports)
        and part.number not in {"HF-38-16F", "HF-38-16M", "HF-44-20F", "HF-44-20M", "HS-38-300", "HS-44-300"}
    ]
    answer = ask(graph, radiator="RD-71", heater="none", pump="WP-227", must={"without": without})
    failing = answer.ruled_out[0].check
    assert (failing.code, failing.reason, failing.zone) == ("line_size", "line_too_narrow", "upper")
    assert failing.facts["narrowest"] == IN
    assert failing.facts["of"] == IN * 3 // 2


def test_sizes_are_compared_exactly_at_three_quarters() -> None:
    sizes = {"large": "1 in hose", "just": "3/4 in hose", "less": "5/8 in hose", "flare": "-12", "none": None}
    made = [
        connection(name, "flare_37" if name == "flare" else "hose", ("male", "female"), "clamp", size=size)
        for name, size in sizes.items()
    ]
    graph = ConstraintGraph(snapshot_of([], made))
    both = bore_of(graph, ["large", "large"], main=True)
    assert both == Bore(True, IN, "1 in hose", True, ())
    assert [width(graph, both, name) for name in sizes] == ["ok", "ok", "fails", "ok", "not_known"]
    one = bore_of(graph, ["large", "none"], main=True)
    assert [width(graph, one, name) for name in sizes] == ["ok", "ok", "not_known", "ok", "ok"]
    neither = bore_of(graph, ["none"], main=True)
    assert [width(graph, neither, name) for name in sizes] == ["not_known"] * 4 + ["ok"]


def test_nominal_sizes_are_those_of_the_published_table() -> None:
    """A dash is a sixteenth of an inch (SAE J514); a pipe thread is called by its nominal pipe size (ASME B1.20.1)."""
    said = {"-12": 3 * IN // 4, "-16": IN, "3/4 in hose": 3 * IN // 4, "1/2 in pipe thread": IN // 2}
    assert {size: nominal_size(size) for size in said} == said
    assert nominal_size("1 1/2 in bore") == nominal_size("1 1/2 in tube") == IN * 3 // 2


def test_the_outlet_points_where_the_neck_on_it_points(graph: ConstraintGraph) -> None:
    left = ask(graph, radiator="RD-31", heater="none", must={"outlet_side": "left"})
    assert left.options
    for option in left.options:
        assert not numbers(option) & {"NK-M11", "NK-M14", "NK-M20"}
    right = ask(graph, radiator="RD-31", heater="none", pump="WP-252", must={"outlet_side": "right"})
    assert "NK-M11" in numbers(right.options[0])
    up = ask(graph, radiator="RD-31", heater="none", pump="WP-252", must={"outlet_direction": "up"})
    assert numbers(up.options[0]) & {"NK-M12", "NK-M14"}
    assert [check.verdict for check in checks(up.options[0], "outlet_direction")] == ["ok"]


def test_without_a_radiator_the_port_counts_and_what_a_neck_could_change_is_told(graph: ConstraintGraph) -> None:
    own, neck = (
        checks(ask(graph, pump="WP-252", must={"outlet_side": side}).options[0], "outlet_side")[0]
        for side in ("left", "right")
    )
    assert check_text(own) == (
        "The outlet of the pump points left, as you ask; a neck that bolts to it may point elsewhere."
    )
    assert check_text(neck).startswith("With Mossheron outlet neck, right")
    assert not ask(graph, pump="WP-227", must={"outlet_side": "left"}).options


PORTS = {"coolant_in": "hose_38", "coolant_out": "hose_38"}


def described(**sides: str) -> dict[str, Any]:
    """A radiator with 1 1/2 in ports; those whose role has no side are on one that nobody states."""
    ports = [
        {"role": role, "connection": name, **({"side": sides[role]} if role in sides else {})}
        for role, name in PORTS.items()
    ]
    return {"name": "my radiator", "ports": ports}


def test_an_unknown_side_rules_nothing_out_and_is_asked_for_where_it_decides(graph: ConstraintGraph) -> None:
    answer = ask(graph, heater="none", pump="WP-227", radiator=described(coolant_out="right"))
    assert answer.verdict == "measure_first"
    check = checks(answer.options[0], "outlet_path")[0]
    assert (check.verdict, check.reason) == ("measure_first", "not_known")
    assert check.facts["lacks"] == (Lack("my radiator (described)", "my radiator", "radiator", "side.upper"),)
    unsaid = ask(graph, heater="none", pump="WP-227", radiator=described())
    assert [not_known_text(each).split(", so")[0] for each in unsaid.told.not_known] == [
        "It is not known on which side the upper port of my radiator is",
        "It is not known on which side the lower port of my radiator is",
    ]
    assert ask(graph, heater="none", pump="WP-227", radiator=described(coolant_out="right", coolant_in="left")).options
    assert ask(graph, heater="none", pump="WP-227", radiator=described(coolant_out="right", coolant_in="right")).options


def test_of_a_pump_it_is_said_that_its_outlet_is_meant(graph: ConstraintGraph) -> None:
    ports = [{"role": "mount", "connection": "rowanfinch_face"}, {"role": "coolant_out", "connection": "hose_38"}]
    pump = {"name": "my pump", "ports": ports}
    answer = ask(graph, pump=pump, must={"outlet_side": "left", "outlet_direction": "up"})
    told = [
        check_text(check) for check in answer.options[0].checks if check.code in ("outlet_side", "outlet_direction")
    ]
    assert told == [
        "It is not known on which side the outlet of my pump is; you ask for an outlet that points left.",
        "It is not known which way the outlet of my pump points; you ask for an outlet that points up.",
    ]


def test_nothing_hangs_on_a_side_where_any_hose_serves(graph: ConstraintGraph) -> None:
    """A neck and a housing in the middle lead to either side."""
    answer = ask(graph, heater="none", pump="WP-252", radiator=described())
    assert answer.verdict == "fits"
    assert "NK-M12" in numbers(answer.options[0])


@pytest.mark.parametrize(
    ("side", "kept", "reason"),
    [("left", "HS-38-300", "no_hose_crosses"), ("right", "CX-38-900", "hoses_cross")],
)
def test_that_all_hoses_cross_or_none_is_said(graph: ConstraintGraph, side: str, kept: str, reason: str) -> None:
    """The outlet of WP-227 points right, and there is but one hose to lead on from it."""
    demo = graph.snapshot
    parts = {
        number: part
        for number, part in demo.parts.items()
        if part.kind not in ("hose", "fitting") or number == kept or (part.kind == "fitting" and not part.ports)
    }
    rules = tuple(rule for rule in demo.rules if {rule.part, *rule.others} <= parts.keys())
    few = ConstraintGraph(msgspec.structs.replace(demo, parts=parts, rules=rules))
    answer = ask(few, heater="none", pump="WP-227", radiator=described(coolant_in=side, coolant_out="right"))
    assert not answer.options
    assert {answer.ruled_out[0].check.reason} == {reason}


def test_a_housing_of_another_generation_is_told_by_its_face(graph: ConstraintGraph) -> None:
    build = msgspec.convert({**CAR, "pump": "WP-252", "radiator": "RD-61"}, Build)
    (said,) = which_fit(graph, build, ["TH-A10"]).parts
    assert said.suits == "no"
    assert which_text(said, graph.snapshot.parts) == (
        "Ashplover thermostat housing, right, forward, 1 1/2 in hose, takes a thermostat has this face: Ashplover "
        "thermostat housing face of the first generation, two bolts. The pump has another: Mossheron thermostat "
        "housing face of the second generation, four bolts."
    )
    without = starting(graph, "TH-M")
    answer = ask(graph, radiator="RD-31", pump="WP-252", must={"without": without})
    assert answer.ruled_out[0].check.reason == "housings_of_another_face"


def test_parts_that_would_narrow_a_line_suit_no_build(graph: ConstraintGraph) -> None:
    build = msgspec.convert({**CAR, "pump": "WP-252", "radiator": "RD-61"}, Build)
    suits = {each.part.number: each.suits for each in which_fit(graph, build, ["NK-M21", "TN-12-19", "NK-M11"]).parts}
    assert suits == {"NK-M21": "no", "TN-12-19": "no", "NK-M11": "fits_with"}


def test_a_part_is_to_be_measured_first_where_every_line_with_it_is(graph: ConstraintGraph) -> None:
    build = msgspec.convert({**CAR, "heater": "none", "pump": "WP-227", "radiator": described()}, Build)
    for said in which_fit(graph, build, ["HS-38-300", "CX-38-900", "TH-M10", "TH-M20"]).parts:
        assert (said.suits, said.check and said.check.reason) == ("measure_first", "not_known"), said.part.number


def test_a_neck_that_says_no_side_is_asked_for_it_whatever_the_pump_says(graph: ConstraintGraph) -> None:
    """What is bolted on points where it says; the face that it bolts to says nothing of it."""
    parts = {
        number: msgspec.structs.replace(
            part, ports=tuple(msgspec.structs.replace(port, side=None, direction=None) for port in part.ports)
        )
        if number.startswith("NK-M")
        else part
        for number, part in graph.snapshot.parts.items()
        if not number.startswith(("NK-G", "NP-"))
    }
    silent = ConstraintGraph(msgspec.structs.replace(graph.snapshot, parts=parts))
    for must in ({"outlet_side": "left"}, {"outlet_direction": "forward"}):
        answer = ask(silent, radiator="RD-30", heater="none", pump="WP-252", must=must)
        (check,) = checks(answer.options[0], *must)
        assert (check.verdict, check.reason) == ("measure_first", "not_known")
        assert [lack.part[:4] for lack in check.facts["lacks"]] == ["NK-M"]


@pytest.mark.parametrize(
    "asked",
    [
        {"pump_drive": "remote", "must": {"outlet_direction": "up"}},
        {"pump": "WP-252", "must": {"outlet_side": "right"}},
    ],
    ids=str,
)
def test_a_neck_that_would_turn_the_outlet_counts_before_the_radiator_is_named(
    asked: dict[str, Any], graph: ConstraintGraph
) -> None:
    """Naming the radiator as well is a restriction more, and opens nothing that was blocked."""
    alone, led = ask(graph, **asked), ask(graph, **asked, radiator="RD-31", heater="none")
    assert led.options
    assert alone.options
