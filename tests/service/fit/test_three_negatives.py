"""Not in this release, ruled out because, nothing known: three different negatives, never one for another.

The demo's own catalog is asked with single facts taken out of it: what nobody states rules nothing out, and no
sentence may read as if it did.
"""

from collections.abc import Callable
from typing import Any

import msgspec
import pytest

from catalog.domain import Part, Snapshot
from service.fit import engine
from service.fit.answer import Answer, Check
from service.fit.build import Build, BuildError
from service.fit.graph import ConstraintGraph
from service.fit.wording import REASONS, answer_text, check_text, ruled_out_text
from service.fit.wording.checks import NOT_KNOWN

BUILD: dict[str, Any] = {"engine": "ENG-R20", "accessory_drive": "DR-541", "pump": "WP-227"}


def without(snapshot: Snapshot, number: str, take: Callable[[Part], dict[str, Any]]) -> ConstraintGraph:
    """The catalog with something taken from one part."""
    part = snapshot.parts[number]
    parts = {**snapshot.parts, number: msgspec.structs.replace(part, **take(part))}
    return ConstraintGraph(Snapshot(snapshot.release, snapshot.currency, parts, snapshot.connections, snapshot.rules))


def ports_but(*roles: str) -> Callable[[Part], dict[str, Any]]:
    return lambda part: {"ports": tuple(port for port in part.ports if port.role not in roles)}


def measures_but(*names: str) -> Callable[[Part], dict[str, Any]]:
    return lambda part: {"measures": {name: m for name, m in part.measures.items() if name not in names}}


def ask(graph: ConstraintGraph, **more: Any) -> Answer:
    return engine.fit(graph, msgspec.convert({**BUILD, **more}, Build))


def check_of(answer: Answer, code: str) -> Check:
    checks = answer.options[0].checks if answer.options else (answer.ruled_out[0].check,)
    return next(check for check in checks if check.code == code)


def lacks(check: Check) -> list[tuple[str, str]]:
    """What a check lacks that cannot be made: it must be measured first, and no chance is told."""
    assert (check.verdict, check.reason, check.likelihood) == ("measure_first", "not_known", None)
    return [(lack.part, lack.fact) for lack in check.facts["lacks"]]


def test_a_pump_of_whose_mount_nothing_is_known(demo: Snapshot) -> None:
    answer = ask(without(demo, "WP-227", ports_but("mount")))
    (missed,) = answer.ruled_out
    assert (missed.check.verdict, missed.check.reason) == ("not_asked", "mount_not_known")
    for text in (ruled_out_text(missed), answer_text(answer)):
        assert "not known" in text
        assert "stack" not in text
        assert "Nothing fits" not in text


def test_a_pump_whose_mount_is_known_and_to_which_no_plate_leads(demo: Snapshot) -> None:
    def turned(part: Part) -> dict[str, Any]:
        mount = next(port for port in part.ports if port.role == "mount")
        other = next(connection for connection in demo.connections.values() if connection.sort == "hose")
        return {"ports": (msgspec.structs.replace(mount, connection=other.name, end=other.ends[1]),)}

    answer = ask(without(demo, "WP-227", turned))
    (missed,) = answer.ruled_out
    assert (missed.check.verdict, missed.check.reason) == ("fails", "no_path")
    assert "leads" in ruled_out_text(missed)
    assert "known" not in ruled_out_text(missed)


def test_a_pulley_of_which_nobody_says_where_a_belt_runs(demo: Snapshot) -> None:
    answer = ask(without(demo, "CP-541", lambda _: {"bands": ()}), crank_pulley="CP-541")
    assert lacks(check_of(answer, "crank")) == [("CP-541", "bands")]
    answer = ask(without(demo, "WP-227", lambda _: {"bands": (), "status": "active"}))
    assert lacks(check_of(answer, "belt")) == [("WP-227", "bands")]
    # Its measure still says where the belt's centre runs.
    assert check_of(answer, "belt_plane").verdict == "ok"


def test_a_radiator_of_whose_ports_nothing_is_known(demo: Snapshot) -> None:
    graph = ConstraintGraph(demo)
    both = ["ports.coolant_in", "ports.coolant_out"]
    for radiator, facts in (({"name": "my radiator"}, both), ("RD-30", both[1:])):
        found = graph if isinstance(radiator, dict) else without(demo, "RD-30", ports_but("coolant_out"))
        answer = ask(found, radiator=radiator)
        assert answer.verdict == "measure_first"
        assert "radiator" not in answer.not_checked
        for code in ("outlet_path", "inlet_path", "thermostat"):
            check = check_of(answer, code)
            assert [fact for _, fact in lacks(check)] == facts
            assert "not known" in check_text(check)
            assert "No part" not in check_text(check)


def test_a_heater_of_whose_ports_nothing_is_known(demo: Snapshot) -> None:
    answer = ask(ConstraintGraph(demo), heater={"name": "my heater"})
    found = lacks(check_of(answer, "heater_path"))
    assert [fact for _, fact in found] == ["ports.heater_feed", "ports.heater_return"]
    assert "heater" not in answer.not_checked


def test_an_outlet_of_which_nobody_says_where_it_points(demo: Snapshot) -> None:
    def unsaid(part: Part) -> dict[str, Any]:
        return {"ports": tuple(msgspec.structs.replace(port, side=None, direction=None) for port in part.ports)}

    for must in ({"outlet_side": "left"}, {"outlet_direction": "up"}):
        (code,) = must
        graph = without(demo, "WP-227", unsaid)
        option = ask(graph, must=must).options[0]
        check = next(check for check in option.checks if check.code == code)
        # Where it is not known nothing is ruled out, nothing is promised, and what to look at is said.
        assert (option.verdict, check.verdict, check.reason) == ("measure_first", "measure_first", "not_known")
        assert [lack.fact for lack in check.facts["lacks"]] == [f"{code.removeprefix('outlet_')}.outlet"]
        assert "not known" in check_text(check)
    known = [port.side for port in demo.parts["WP-227"].ports if port.role == "coolant_out"]
    other = "left" if "left" not in known else "right"
    check = ask(ConstraintGraph(demo), must={"outlet_side": other}).ruled_out[0].check
    assert check.reason == "outlet_side"
    assert "not known" not in check_text(check)


def test_parts_of_which_no_measure_and_no_rule_speaks(demo: Snapshot) -> None:
    answer = ask(without(demo, "FC-R5", lambda _: {"measures": {}, "ports": ()}), front_cover="FC-R5")
    assert lacks(check_of(answer, "cover")) == [("FC-R5", "cover_height")]
    assert lacks(check_of(answer, "face")) == [("FC-R5", "ports.mount")]
    drive = {"name": "my drive", "attributes": {"ribs": 6}}
    answer = engine.fit(ConstraintGraph(demo), msgspec.convert({**BUILD, "accessory_drive": drive}, Build))
    assert [fact for _, fact in lacks(check_of(answer, "belt"))] == ["belt_side", "profile"]
    assert [fact for _, fact in lacks(check_of(answer, "belt_plane"))] == ["belt_plane"]
    assert [fact for _, fact in lacks(check_of(answer, "rotation"))] == ["rotation"]


def test_bolts_that_there_are_not_and_bolts_that_one_does_without(demo: Snapshot) -> None:
    thread = demo.parts["ENG-R20"].attributes["thread"]
    sets = [n for n, p in demo.parts.items() if p.kind == "fastener_set" and p.attributes["thread"] == thread]
    check = ask(ConstraintGraph(demo), must={"without": sets}).ruled_out[0].check
    assert check.reason == "no_bolts_allowed"
    assert "do without" in check_text(check)
    parts = {number: part for number, part in demo.parts.items() if number not in sets}
    bare = Snapshot(demo.release, demo.currency, parts, demo.connections, ())
    check = ask(ConstraintGraph(bare)).ruled_out[0].check
    assert check.reason == "no_bolts"
    assert "do without" not in check_text(check)
    check = check_of(ask(without(demo, "ENG-R20", measures_but("hole_depth"))), "bolts")
    assert lacks(check) == [("ENG-R20", "hole_depth")]


def test_what_this_release_does_not_hold_is_no_verdict(demo: Snapshot) -> None:
    with pytest.raises(BuildError) as caught:
        ask(ConstraintGraph(demo), pump="WP-9999")
    (fault,) = caught.value.faults
    assert (fault.slug, fault.asked) == ("unknown-part", "WP-9999")
    assert f"in release {demo.release.number}" in fault.message


def test_every_reason_is_of_one_negative() -> None:
    """A sentence says that something is not known exactly where its reason is one of those that say so."""
    assert set(NOT_KNOWN) <= set(REASONS)
    assert "no_path" not in NOT_KNOWN
    assert {"mount_not_known", "not_known", "nobody_states", "field_left_out"} <= set(NOT_KNOWN)
