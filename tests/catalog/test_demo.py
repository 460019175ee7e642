"""The demo catalog: what it holds, and its showpiece answers worked out by hand.

All numbers of the demo are invented, so nothing outside the project can confirm them; the arithmetic stands beside
each check. Belt limit: 1/16 in per ft of span, 1/192 (this project's default). Engagement in aluminium: two diameters
(VDI 2230). Bolt lengths: js15 (ISO 4014, ISO 4017).
"""

from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import msgspec
import pytest

from catalog.database import open_read_only, reading
from catalog.domain import Kind, Part, Snapshot
from catalog.migrate import downgrade, upgrade
from catalog.reader import read_snapshot
from catalog.releases import WithdrawnRelease
from service.fit.answer import Answer, Check, Option
from service.fit.build import Build
from service.fit.engine import fit
from service.fit.graph import ConstraintGraph

RELEASES = tuple(range(1, 13))
HEADLINE = {"engine": "ENG-R20", "accessory_drive": "DR-541", "front_cover": "FC-R5", "paths_per_pump": 1}


SPAN_DOUBT = Fraction(2_000_000, 192)
"""The spans of the demo's drives are given within 2 mm, and 1/192 of that is the doubt of the limit, nm."""


def mm(text: str) -> Fraction:
    """Nanometres of a number of millimetres, exactly."""
    return Fraction(text) * 1_000_000


@pytest.fixture(scope="module")
def url(tmp_path_factory: pytest.TempPathFactory) -> str:
    url = f"sqlite:///{tmp_path_factory.mktemp('demo') / 'catalog.db'}"
    upgrade(url)
    return url


def snapshots(url: str) -> Iterator[Snapshot]:
    engine = open_read_only(url)
    try:
        with reading(engine) as connection:
            for number in RELEASES:
                yield read_snapshot(connection, number)
    finally:
        engine.dispose()


@pytest.fixture(scope="module")
def by_release(url: str) -> dict[int, Snapshot]:
    return {snapshot.release.number: snapshot for snapshot in snapshots(url)}


@pytest.fixture(scope="module")
def newest(by_release: dict[int, Snapshot]) -> Snapshot:
    return by_release[RELEASES[-1]]


def ask(snapshot: Snapshot, **build: Any) -> Answer:
    return fit(ConstraintGraph(snapshot), msgspec.convert(build, Build))


def check(option: Option, code: str, zone: str = "") -> Check:
    (found,) = [found for found in option.checks if found.code == code and found.zone == zone]
    return found


def of_pump(answer: Answer, pump: str) -> Option:
    return next(option for option in answer.options if option.pump == pump)


def of_kind(snapshot: Snapshot, kind: str) -> list[Part]:
    return [part for part in snapshot.parts.values() if part.kind == kind and part.status == "active"]


def roles(part: Part) -> set[str]:
    return {port.role for port in part.ports}


# What it holds


def test_it_has_what_the_scenario_needs(newest: Snapshot) -> None:
    pumps = of_kind(newest, "water_pump")
    assert len(pumps) >= 8
    assert len(of_kind(newest, "engine")) >= 4
    assert len(of_kind(newest, "accessory_drive")) >= 6
    rowanfinch = [
        drive
        for drive in of_kind(newest, "accessory_drive")
        if any(port.connection == "rowanfinch_bracket" for port in drive.ports)
    ]
    assert len({drive.measures["belt_plane"].nominal for drive in rowanfinch}) == 4
    assert {"carrier", "fan", "hub"} <= set().union(*map(roles, pumps))
    assert len(of_kind(newest, "spacer")) >= 10
    assert newest.connections["rowanfinch_face"].pieces_per_layer == 2
    assert {rule.kind for rule in newest.rules} == {
        "requires",
        "excludes",
        "tested_fit",
        "tested_no_fit",
        "replaced_by",
    }
    assert newest.currency == "USD"
    assert len([part for part in newest.parts.values() if part.status == "active"]) >= 400
    assert {part.kind for part in newest.parts.values()} == set(Kind.__args__)  # type: ignore[attr-defined]


def test_block_faces_of_the_two_generations_agree_and_housing_faces_do_not(newest: Snapshot) -> None:
    faces = {
        generation: {
            (port.role, port.connection)
            for pump in of_kind(newest, "water_pump")
            if pump.attributes["generation"] == generation
            for port in pump.ports
            if port.role in ("mount", "housing")
        }
        for generation in ("ashplover", "mossheron")
    }
    assert faces["ashplover"] == {("mount", "rowanfinch_face"), ("housing", "ashplover_housing")}
    assert faces["mossheron"] == {("mount", "rowanfinch_face"), ("housing", "mossheron_housing")}


def test_spacers_come_with_the_thin_gasket(newest: Snapshot) -> None:
    gaskets = newest.parts
    for spacer in of_kind(newest, "spacer"):
        for port in spacer.ports:
            factory = newest.connections[port.connection].gasket
            assert port.gasket is not None
            assert factory is not None
            thin, usual = (gaskets[number].measures["thickness"].nominal for number in (port.gasket, factory))
            assert thin < usual


def test_every_port_that_can_stay_open_can_be_closed(newest: Snapshot) -> None:
    closes = {
        (port.connection, port.end)
        for part in newest.parts.values()
        if part.kind in ("plug", "cap")
        for port in part.ports
    }
    wet = ("coolant_out", "heater_feed", "heater_return", "bypass", "vent", "sensor")
    for part in newest.parts.values():
        for port in part.ports:
            if port.role in wet or (port.role == "line" and part.kind == "fitting"):
                other = newest.connections[port.connection].other_end(port.end)
                assert (port.connection, other) in closes, f"{part.number}: {port.name}"


def test_nothing_is_offered_twice_at_one_price(newest: Snapshot) -> None:
    # So that the best list has no rival of the same price in any of its roles.
    seen: dict[tuple[Any, ...], str] = {}
    for part in newest.parts.values():
        if part.status == "retired" or part.price is None or part.kind not in ("hose", "fitting", "plug", "cap", "fan"):
            continue
        told = sorted(part.attributes.items())
        ports = sorted((port.role, port.connection, port.end, port.side or "") for port in part.ports)
        key = (str(ports), str(told), part.price.amount)
        if part.ports:
            assert key not in seen, f"{part.number} and {seen[key]}"
        seen[key] = part.number


def test_flares_are_the_published_ones_and_45_degrees_stay_apart(newest: Snapshot) -> None:
    # SAE J514 and SAE J512: a 1/2 in tube has the thread 3/4-16 on both (the latter from memory).
    flares = {c.name: c.size for c in newest.connections.values() if c.sort == "flare_37"}
    assert set(flares.values()) == {"-6", "-8", "-10", "-12", "-16", "-20"}
    apart = [part for part in newest.parts.values() if any(port.connection == "flare_45_8" for port in part.ports)]
    assert {"heater_core", "cap", "plug", "fitting"} == {part.kind for part in apart}
    assert not any(port.connection in flares for part in apart for port in part.ports)


def test_trade_facts_of_the_circuit(newest: Snapshot) -> None:
    # All common practice, no source.
    def on(kind: str, role: str) -> set[str]:
        return {port.connection for part in of_kind(newest, kind) for port in part.ports if port.role == role}

    # Heater nipples come in 5/8 and 3/4 in; main lines in flare sizes 16 and 20.
    assert {"hose_16", "hose_19"} <= on("heater_core", "heater_feed") & on("heater_core", "heater_return")
    assert {"flare_16", "flare_20"} <= on("outlet_plate", "coolant_out") & on("radiator", "coolant_in")
    # Housings of successive pump generations do not interchange.
    faces = {part.number: {p.connection for p in part.ports} for part in of_kind(newest, "thermostat_housing")}
    assert not any({"ashplover_housing", "mossheron_housing"} <= found for found in faces.values())
    # Pumps of working vehicles have the fan thread, others do not.
    for pump in of_kind(newest, "water_pump"):
        assert ("fan" in roles(pump)) == ("working" in pump.name or pump.number == "WP-G32"), pump.number
    # A cross-over has both sides for each of its channels.
    for plate in (part for part in of_kind(newest, "outlet_plate") if "cross-over" in part.name):
        mouths = {(port.channel, port.role, port.side) for port in plate.ports if port.channel}
        assert mouths == {
            (channel, role, side)
            for channel, role in (("supply", "coolant_out"), ("return", "coolant_in"))
            for side in ("left", "right")
        }


def test_the_same_releases_come_back_after_all_were_withdrawn(tmp_path: Path, by_release: dict[int, Snapshot]) -> None:
    again = f"sqlite:///{tmp_path / 'again.db'}"
    upgrade(again)
    downgrade(again, revision="catalog@base")
    with pytest.raises(WithdrawnRelease):
        list(snapshots(again))
    upgrade(again)
    assert list(snapshots(again)) == list(by_release.values())


# The headline: a Rowanfinch VVT engine, the outer drive, the tall cover


def test_headline_first_option_by_hand(newest: Snapshot) -> None:
    answer = ask(newest, **HEADLINE)
    assert answer.verdict == "fits"
    best = answer.options[0]
    assert (best.pump, best.plates, best.verdict, best.work) == ("WP-227", ("SP-14",), "ok", "bolt_on")

    # Stack: thin gasket 0.4, spacer 14, thin gasket 0.4: the flange sits at 14.8 mm.
    assert [(layer.part, layer.from_, layer.to) for layer in best.stack[:3]] == [
        ("GK-04", mm("0"), mm("0.4")),
        ("SP-14", mm("0.4"), mm("14.4")),
        ("GK-04", mm("14.4"), mm("14.8")),
    ]
    assert best.stack[3].part == "WP-227"
    assert best.stack[3].from_ == mm("14.8")

    # Belt: the drive's plane 141.7 less (14.8 + 127.2) = -0.3. Allowed 210 / 192 = 1.09375, so the margin is 0.79375.
    # Doubt: gaskets 2 x 0.05, spacer 0.05, pump 0.1, drive 0.1 = 0.35, and of the span 2 / 192 in the limit; at worst
    # 0.79375 - 0.35 - 2 / 192.
    belt = check(best, "belt_plane")
    assert (belt.verdict, belt.value, belt.limit) == ("ok", mm("-0.3"), mm("1.09375"))
    assert (belt.margin, belt.worst_case) == (mm("0.79375"), mm("0.44375") - SPAN_DOUBT)

    # Cover, at least 1.5 mm of air. Centre 14.8 + 47.5 - 55.5 = 6.8; sensor 14.8 + 40 - 50 = 4.8;
    # connector 14.8 + 42.5 - 53 = 4.3.
    for zone, air in (("", "6.8"), ("sensor", "4.8"), ("connector", "4.3")):
        cover = check(best, "cover", zone)
        assert (cover.verdict, cover.value, cover.margin) == ("ok", mm(air), mm(air) - mm("1.5"))

    # Bolts: washer 1.6 + stack 14.8 + flange 15 = 31.4 clamped. M8 in aluminium needs 16 of the 25 mm of thread,
    # so 47.4 to 56.4 long: 50 holds, with 18.6 engaged. Doubt: length 0.5 (js15), washer 0.1, gaskets 0.1,
    # spacer 0.05, flange 0.1 = 0.85; at worst 18.6 - 0.85 - 16 = 1.75 to spare. The factory's 35 would be 12.4 short.
    bolts = check(best, "bolts", "1")
    assert (bolts.verdict, bolts.value, bolts.worst_case) == ("ok", mm("18.6"), mm("1.75"))

    # A face in two halves: two spacers, four gaskets; eight bolts, one set of eight.
    # 169.00 + 2 x 29.00 + 4 x 4.50 + 24.00 = 269.00.
    assert {line.part: line.quantity for line in best.parts_list} == {
        "WP-227": 1,
        "SP-14": 2,
        "GK-04": 4,
        "FS-8-50": 1,
    }
    assert best.buy_price is not None
    assert (best.buy_price.amount, best.buy_price.currency) == (269_00, "USD")

    # Plates and gaskets may be 141.7 - 127.2 -+ 1.09375 thick in all, and the cover wants less than that:
    # 50 + 1.5 - 40 = 11.5, 53 + 1.5 - 42.5 = 12, 55.5 + 1.5 - 47.5 = 9.5.
    assert best.thickness_window is not None
    assert (best.thickness_window.from_, best.thickness_window.to) == (mm("13.40625"), mm("15.59375"))


def test_headline_second_option_bolts_straight_on(newest: Snapshot) -> None:
    # Factory gasket 0.7: the belt runs at 0.7 + 141 = 141.7, just where the drive wants it; air over the connector
    # 0.7 + 55.5 - 53 = 3.2. Bolts: 1.6 + 0.7 + 15 = 17.3, so 33.3 to 42.3: 35, with 17.7 engaged.
    # It is dearer: 289.00 + 2 x 3.50 + 19.00 = 315.00.
    best, second = ask(newest, **HEADLINE).options[:2]
    assert (second.pump, second.plates, second.verdict) == ("WP-241", (), "ok")
    assert check(second, "belt_plane").value == 0
    assert check(second, "cover", "connector").value == mm("3.2")
    assert check(second, "bolts", "1").value == mm("17.7")
    assert {line.part: line.quantity for line in second.parts_list} == {"WP-241": 1, "GK-07": 2, "FS-8-35": 1}
    assert second.buy_price is not None
    assert second.buy_price.amount == 315_00
    assert best.above_next is not None
    assert best.above_next.key == "price"


def test_headline_offers_the_other_family_by_an_adapter(newest: Snapshot) -> None:
    # Flange: 0.7 + 18 + 0.6 = 19.3; belt 19.3 + 122 = 141.3, 0.4 behind 141.7.
    # Plate to block, heads in counterbores: 1.6 + 0.7 + 10 = 12.3; 30 - 12.3 = 17.7 of 16 to 25.
    # Pump to plate: 2 + 0.6 + 11 = 13.6; M10 in steel needs 10 of 16; 25 - 13.6 = 11.4.
    # The plate brings in its plug.
    option = of_pump(ask(newest, **HEADLINE), "WP-G31")
    assert (option.verdict, option.plates, option.work) == ("ok", ("AP-61",), "hand_fit")
    assert check(option, "belt_plane").value == mm("0.4")
    assert check(option, "bolts", "1").value == mm("17.7")
    assert check(option, "bolts", "2").value == mm("11.4")
    assert {line.part: line.quantity for line in option.parts_list} == {
        "WP-G31": 1,
        "AP-61": 2,
        "GK-07": 2,
        "GK-G06": 2,
        "FS-8-30": 1,
        "FS-10-25": 1,
        "PG-12": 1,
    }


def test_headline_takes_a_loose_pulley_on_the_bare_hub(newest: Snapshot) -> None:
    # 0.7 + 118 + 23 = 141.7; the pump's rule brings in the bolts of its hub.
    option = of_pump(ask(newest, **HEADLINE), "WP-243")
    assert check(option, "belt_plane").value == 0
    assert {"PU-23", "FS-6-12"} <= {line.part for line in option.parts_list}


def test_headline_asks_to_measure_the_pump_that_was_taped(newest: Snapshot) -> None:
    # 141.7 - (0.7 + 140.6) = 0.4 with 1.5875 of tape, 0.05 of gasket and 0.1 of drive: -1.3375 to 2.1375,
    # on both sides of 1.09375, which is 2 / 192 more or less.
    last = ask(newest, **HEADLINE).options[-1]
    assert (last.pump, last.verdict) == ("WP-139", "measure_first")
    belt = check(last, "belt_plane")
    assert (belt.verdict, belt.value) == ("measure_first", mm("0.4"))
    assert belt.worst_case == mm("1.09375") - SPAN_DOUBT - mm("2.1375")


def test_headline_near_misses(newest: Snapshot) -> None:
    answer = ask(newest, **HEADLINE)
    out = {pump.pump: pump for pump in answer.ruled_out}
    assert set(out) == {"WP-117", "WP-140", "WP-228", "WP-252", "WP-253", "WP-G32"}
    # Only its room keeps WP-140 from the cover: 0.7 + 54 - 55.5 = -0.8, and 1.5 is needed.
    assert answer.ruled_out[0].pump == "WP-140"
    assert (out["WP-140"].check.code, out["WP-140"].short_by) == ("cover", mm("2.3"))
    # WP-252's belt runs at 152.5, 10.8 outside the drive's, and no spacer moves a pump inward.
    assert (out["WP-252"].check.code, out["WP-252"].short_by) == ("belt_plane", mm("10.8") - mm("1.09375"))
    assert out["WP-117"].check.code == "rule"
    assert out["WP-228"].check.code == "belt"


def test_before_it_was_measured_again_the_middle_pump_sat_elsewhere(by_release: dict[int, Snapshot]) -> None:
    # In release 3 the pump's belt was drawn at 127.0: 141.7 - (14.8 + 127.0) = -0.1.
    option = of_pump(ask(by_release[3], **HEADLINE), "WP-227")
    assert option.plates == ("SP-14",)
    assert check(option, "belt_plane").value == mm("-0.1")


# Other questions


def test_blocked_inner_drive_and_tall_cover(newest: Snapshot) -> None:
    # Pumps go outward, never inward: only the short ones reach 106.7 with 0.7 of gasket, and none clears the cover.
    # The nearest, WP-206: straight on 0.7 + 52 - 55.5 = -2.8 of air, 4.3 short; with the 6 mm spacer it clears, but
    # its belt runs at 0.8 + 6 + 106 = 112.8, 6.1 outside 106.7, of which 180 / 192 = 0.9375 is allowed: 5.1625 short.
    answer = ask(newest, engine="ENG-R20", accessory_drive="DR-506", front_cover="FC-R5")
    assert (answer.verdict, answer.options) == ("blocked", ())
    nearest = answer.ruled_out[0]
    assert nearest.pump == "WP-206"
    assert nearest.short_by == {"cover": mm("4.3"), "belt_plane": mm("5.1625")}[nearest.check.code]


def test_named_pump_on_a_tested_spacer(newest: Snapshot) -> None:
    # 0.8 + 34 + 106 = 140.8, 0.9 behind 141.7. Doubt 0.35: 0.55 to 1.25, so the sum alone says measure first;
    # a test car settles it. Bolts: 1.6 + 34.8 + 14 = 50.4, so 66.4 to 75.4: 70, with 19.6 engaged.
    answer = ask(newest, **HEADLINE, pump="WP-108")
    assert {option.pump for option in answer.options} == {"WP-108"}
    best = answer.options[0]
    assert (best.plates, best.verdict) == (("SP-34",), "ok")
    belt = check(best, "belt_plane")
    assert (belt.verdict, belt.value) == ("ok", mm("0.9"))
    assert "short_pump_on_the_outer_drive" in {rest.rule for rest in belt.rests_on}
    assert check(best, "bolts", "1").value == mm("19.6")


def test_a_retired_pump_is_answered_with_its_successor(newest: Snapshot) -> None:
    assert newest.parts["WP-104"].status == "retired"
    answer = ask(newest, **HEADLINE, pump="71204804")
    assert {option.pump for option in answer.options} == {"WP-108"}


def test_late_cover_rules_out_the_straight_pump_but_not_the_one_on_a_spacer(newest: Snapshot) -> None:
    # WP-241: 0.7 + 58.5 - 60 = -0.8. WP-227 on 14.8: 14.8 + 47.5 - 60 = 2.3.
    answer = ask(newest, **{**HEADLINE, "front_cover": "FC-R6"})
    assert answer.options[0].pump == "WP-227"
    assert check(answer.options[0], "cover").value == mm("2.3")
    assert "WP-241" in {pump.pump for pump in answer.ruled_out}


def test_wide_pulley_serves_two_drives_straight_on(newest: Snapshot) -> None:
    # Twelve grooves leave a six-rib belt 3 x 3.56 = 10.68 (PK pitch, ISO 9982) to either side of 0.7 + 116.7 = 117.4:
    # 106.72 against 106.7, and 128.08 against 128.
    for drive, offset in (("DR-506", "-0.02"), ("DR-528", "-0.08")):
        answer = ask(newest, engine="ENG-R10", accessory_drive=drive, front_cover="FC-R1", pump="WP-117")
        straight = next(option for option in answer.options if option.plates == ())
        assert check(straight, "belt_plane").value == mm(offset)


def test_tensioner_moves_with_the_pump_that_carries_it(newest: Snapshot) -> None:
    # Straight on: 141.7 - (0.7 + 98 + 42.8) = 0.2. On the truck drive, with 10 mm of spacer: the pump's belt
    # 152.5 - (10.8 + 141) = 0.7 holds, but the tensioner's, 152.5 - (10.8 + 98 + 42.8) = 0.9 with 0.45 of doubt
    # (gaskets 0.1, spacer 0.05, boss 0.1, offset 0.1, drive 0.1), has to be measured first.
    straight = ask(newest, engine="ENG-R22", accessory_drive="DR-642", front_cover="FC-R5").options[0]
    assert (straight.pump, straight.plates, straight.verdict) == ("WP-242", (), "ok")
    assert check(straight, "carried_parts", "tensioner").value == mm("0.2")
    moved = ask(newest, engine="ENG-R22", accessory_drive="DR-652", front_cover="FC-R5").options[0]
    assert (moved.pump, moved.plates, moved.verdict) == ("WP-242", ("SP-10",), "measure_first")
    assert check(moved, "belt_plane").verdict == "ok"
    assert check(moved, "carried_parts", "tensioner").worst_case == mm("1.09375") - SPAN_DOUBT - mm("1.35")


def test_back_of_the_belt_takes_the_pump_that_turns_the_other_way(newest: Snapshot) -> None:
    # Smooth band of 28 mm, belt of 6 x 3.56 = 21.36: 3.32 to either side.
    answer = ask(newest, engine="ENG-R20", accessory_drive="DR-628", front_cover="FC-R5", crank_pulley="CP-528")
    assert [option.pump for option in answer.options] == ["WP-228"]
    assert check(answer.options[0], "belt_plane").limit == mm("3.32")
    assert check(answer.options[0], "rotation").verdict == "ok"
    assert check(answer.options[0], "crank").value == mm("128") - mm("88") - mm("39.9")
