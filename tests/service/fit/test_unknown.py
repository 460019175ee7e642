"""What nobody states is unknown: never `ok`, never `fits`, and the answer says what to measure or to look at.

The demo's own catalog, with parts described by little, and with single facts taken out of it.
"""

from collections.abc import Callable
from typing import Any

import msgspec
import pytest

from catalog.domain import Part, Rule, Snapshot
from service.fit import engine
from service.fit.answer import Answer, Check
from service.fit.build import Build, BuildError
from service.fit.graph import ConstraintGraph
from service.fit.told import Lack
from service.fit.unknown import lacks_of
from service.fit.which import which_fit
from service.fit.wording import check_text, looking_text, settling_text, taking_text

MOUNT = {"role": "mount", "connection": "rowanfinch_face"}
MY_PUMP: dict[str, Any] = {
    "name": "my pump",
    "measures": {
        "belt_plane": {"value": "141 mm", "taken_with": "caliper"},
        "flange_thickness": {"value": "15 mm", "taken_with": "caliper"},
    },
    "attributes": {"rotation": "clockwise", "profile": "PK"},
    "ports": [MOUNT],
}
GROOVES = [{"from": "130 mm", "to": "152 mm", "surface": "ribbed", "grooves": 6}]
OUTER: dict[str, Any] = {"engine": "ENG-R20", "accessory_drive": "DR-541"}


def changed(snapshot: Snapshot, number: str, take: Callable[[Part], dict[str, Any]]) -> Snapshot:
    """The catalog with one part told otherwise."""
    parts = {
        **snapshot.parts,
        number: msgspec.structs.replace(snapshot.parts[number], **take(snapshot.parts[number])),
    }
    return Snapshot(snapshot.release, snapshot.currency, parts, snapshot.connections, snapshot.rules)


def measures_but(*names: str) -> Callable[[Part], dict[str, Any]]:
    return lambda part: {"measures": {name: m for name, m in part.measures.items() if name not in names}}


def attributes_but(*names: str) -> Callable[[Part], dict[str, Any]]:
    return lambda part: {"attributes": {name: a for name, a in part.attributes.items() if name not in names}}


def ask(snapshot: Snapshot, *, explain: bool = False, **build: Any) -> Answer:
    return engine.fit(ConstraintGraph(snapshot), msgspec.convert(build, Build), explain=explain, diagnose=False)


def checks_of(answer: Answer, code: str) -> list[Check]:
    return [check for check in answer.options[0].checks if check.code == code]


def lacks(answer: Answer) -> set[tuple[str, str, str]]:
    """Check, field and fact of all that the first option lacks."""
    return {
        (check.code, lack.field, lack.fact)
        for check in answer.options[0].checks
        if check.reason == "not_known"
        for lack in check.facts["lacks"]
    }


# --- a described part ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("drive", [{"accessory_drive": "DR-541"}, {"engine": "ENG-R22", "accessory_drive": "DR-558"}])
def test_a_described_pump_without_grooves_has_none_of_the_drives(demo: Snapshot, drive: dict[str, Any]) -> None:
    plane = "141 mm" if drive["accessory_drive"] == "DR-541" else "151.8 mm"
    pump = MY_PUMP | {"measures": MY_PUMP["measures"] | {"belt_plane": {"value": plane, "taken_with": "caliper"}}}
    answer = ask(demo, **({"engine": "ENG-R20"} | drive), pump=pump)
    assert answer.verdict == "measure_first"
    assert lacks(answer) == {("belt", "pump", "bands")}
    (belt,) = checks_of(answer, "belt")
    assert (belt.verdict, belt.reason, belt.likelihood) == ("measure_first", "not_known", None)
    assert "run in the" not in check_text(belt)
    # Where its belt runs is stated, so that this is known.
    assert checks_of(answer, "belt_plane")[0].verdict == "ok"


def test_a_described_pump_with_its_grooves_fits(demo: Snapshot) -> None:
    answer = ask(demo, **OUTER, pump=MY_PUMP | {"bands": GROOVES})
    assert (answer.verdict, lacks(answer)) == ("fits", set())


def test_a_described_pump_too_far_out_is_ruled_out_whatever_its_grooves(demo: Snapshot) -> None:
    far = MY_PUMP | {"measures": MY_PUMP["measures"] | {"belt_plane": {"value": "190 mm"}}}
    assert ask(demo, **OUTER, pump=far).verdict == "blocked"


@pytest.mark.parametrize(
    ("attribute", "of"), [("rotation", "pump"), ("profile", "pump"), ("rotation", "drive"), ("belt_side", "drive")]
)
def test_an_attribute_that_is_left_out_is_not_taken_from_the_other_side(
    demo: Snapshot, attribute: str, of: str
) -> None:
    drive = {
        "name": "my drive",
        "measures": {"belt_plane": {"value": "141.7 mm", "taken_with": "drawing"}},
        "attributes": {"ribs": 6, "profile": "PK", "belt_side": "ribbed", "rotation": "clockwise"},
        "ports": [{"role": "mount", "connection": "rowanfinch_bracket"}],
    }
    pump = MY_PUMP | {"bands": GROOVES}
    whole: dict[str, Any] = {"engine": "ENG-R20", "accessory_drive": drive, "pump": pump}
    assert ask(demo, **whole).verdict == "fits"
    field = "pump" if of == "pump" else "accessory_drive"
    part = whole[field]
    less = part | {"attributes": {name: value for name, value in part["attributes"].items() if name != attribute}}
    answer = ask(demo, **(whole | {field: less}))
    assert answer.verdict == "measure_first"
    assert lacks(answer) == {("rotation" if attribute == "rotation" else "belt", field, attribute)}


def test_a_described_cover_without_heights_is_not_cleared(demo: Snapshot) -> None:
    cover = {"name": "my cover", "ports": [{"role": "mount", "connection": "rowanfinch_cover"}]}
    answer = ask(demo, **OUTER, front_cover=cover)
    assert answer.verdict == "measure_first"
    assert lacks(answer) == {("cover", "front_cover", "cover_height")}


def test_what_a_described_drive_bolts_to_and_carries_is_not_known(demo: Snapshot) -> None:
    drive = {"name": "my drive", "measures": {"belt_plane": {"value": "141.7 mm"}}, "attributes": {"ribs": 6}}
    answer = ask(demo, engine="ENG-R20", accessory_drive=drive)
    assert answer.verdict == "measure_first"
    assert {("face", "accessory_drive", "ports.mount"), ("carried_parts", "accessory_drive", "ports.carried")} <= lacks(
        answer
    )


def test_a_crank_pulley_without_its_offset(demo: Snapshot) -> None:
    crank = {
        "name": "my crank pulley",
        "attributes": {"profile": "PK"},
        "bands": [{"from": "42.5 mm", "to": "64.5 mm", "surface": "ribbed", "grooves": 6}],
        "ports": [{"role": "mount", "connection": "rowanfinch_snout"}],
    }
    answer = ask(demo, **OUTER, crank_pulley=crank)
    assert answer.verdict == "measure_first"
    assert lacks(answer) == {("crank", "crank_pulley", "offset")}


def test_a_radiator_without_ports_and_one_given_by_words(demo: Snapshot) -> None:
    answer = ask(demo, **OUTER, radiator={"name": "my radiator"})
    assert answer.verdict == "measure_first"
    assert {code for code, field, _ in lacks(answer) if field == "radiator"} == {
        "outlet_path",
        "inlet_path",
        "thermostat",
    }
    # Words and sizes name no part: what they leave open changes no verdict.
    said = {"upper": {"size": "1 1/2 in hose"}, "lower": {"size": "1 1/4 in hose"}}
    answer = ask(demo, **OUTER, radiator_ports=said, heater="5/8 in hose", fan="electric")
    assert (answer.verdict, lacks(answer)) == ("fits", set())


def test_a_loose_pulley_without_its_offset_is_no_fault(demo: Snapshot) -> None:
    pulley = {"name": "my pulley", "ports": [{"role": "mount", "connection": "pulley_circle"}]}
    answer = ask(demo, **OUTER, pump="WP-243", pulley=pulley)
    assert {("belt_plane", "pulley", "offset"), ("belt", "pulley", "bands")} <= lacks(answer)


# --- a part of the catalog -----------------------------------------------------------------------------------


def test_every_zone_that_a_cover_names_is_checked(demo: Snapshot) -> None:
    named: dict[str, Any] = {"engine": "ENG-R12", "accessory_drive": "DR-528", "front_cover": "FC-R5", "pump": "WP-117"}
    answer = ask(demo, **named)
    zones = {check.zone: check.reason for check in checks_of(answer, "cover")}
    assert zones == {"": "cover_clearance", "sensor": "cover_clearance", "connector": "zone_is_free"}
    assert answer.verdict == "fits"
    silent = changed(demo, "WP-117", attributes_but("free_zones"))
    answer = ask(silent, **named)
    assert answer.verdict == "measure_first"
    assert lacks(answer) == {("cover", "pump", "cover_room.connector")}
    # An option that brings the pump itself lacks it of no field.
    unnamed = ask(silent, engine="ENG-R12", accessory_drive="DR-528", front_cover="FC-R5", limit=50)
    option = next(option for option in unnamed.options if option.pump == "WP-117")
    assert [lack.field for lack in lacks_of(option.checks)] == [""]
    told = which_fit(ConstraintGraph(silent), msgspec.convert(named, Build), ["WP-117", "FC-R5"])
    assert [part.suits for part in told.parts] == ["measure_first"] * 2


@pytest.mark.parametrize(
    ("number", "fact", "code", "build"),
    [
        ("WP-241", "nose", "radiator_gap", {"core_distance": "300 mm"}),
        ("WP-241", "belt_plane", "belt_plane", {}),
        ("WP-241", "flange_thickness", "bolts", {}),
        ("FN-E40", "depth", "radiator_gap", {"core_distance": "300 mm", "fan": "FN-E40"}),
        ("ENG-R20", "crank_face", "crank", {"crank_pulley": "CP-541"}),
        ("ENG-R20", "hole_depth", "bolts", {}),
    ],
)
def test_a_measure_that_the_catalog_lacks(
    demo: Snapshot, number: str, fact: str, code: str, build: dict[str, Any]
) -> None:
    whole = {**OUTER, "pump": "WP-241", **build}
    assert ask(demo, **whole).verdict == "fits"
    answer = ask(changed(demo, number, measures_but(fact)), **whole)
    assert answer.verdict == "measure_first"
    assert {(found, what) for found, _, what in lacks(answer)} == {(code, fact)}
    check = next(check for check in answer.options[0].checks if check.reason == "not_known")
    assert (check.value, check.likelihood) == (None, None)


def test_a_fan_behind_which_nobody_measured_the_drive(demo: Snapshot) -> None:
    answer = ask(demo, engine="ENG-R22", accessory_drive="DR-552", fan="mechanical", core_distance="400 mm")
    assert answer.verdict == "measure_first"
    assert lacks(answer) == {("radiator_gap", "accessory_drive", "nose")}
    build = {"engine": "ENG-R22", "accessory_drive": "DR-552", "fan": "mechanical", "core_distance": "400 mm"}
    parts = ["FN-M38", "FN-M55", "FA-L45", "WP-253", "GK-07"]
    found = which_fit(ConstraintGraph(demo), msgspec.convert(build, Build), parts)
    assert {told.suits for told in found.parts} == {"measure_first"}


@pytest.mark.parametrize(
    ("number", "take", "build", "parts"),
    [
        ("WP-241", measures_but("flange_thickness"), {**OUTER, "pump": "WP-241"}, ["WP-241", "GK-07", "DR-541"]),
        ("WP-253", measures_but("flange_thickness"), {**OUTER, "accessory_drive": "DR-558"}, ["WP-253"]),
        (
            "DR-558",
            measures_but("nose"),
            {"engine": "ENG-R22", "accessory_drive": "DR-558", "fan": "mechanical", "core_distance": "400 mm"},
            ["FN-M45", "FA-L45", "WP-253"],
        ),
    ],
)
def test_no_part_of_an_option_that_is_not_known_is_said_to_fit(
    demo: Snapshot, number: str, take: Callable[[Part], dict[str, Any]], build: dict[str, Any], parts: list[str]
) -> None:
    asked = msgspec.convert(build, Build)
    known = which_fit(ConstraintGraph(demo), asked, parts)
    assert {told.suits for told in known.parts} <= {"fits", "fits_with"}
    found = which_fit(ConstraintGraph(changed(demo, number, take)), asked, parts)
    assert {told.suits for told in found.parts} == {"measure_first"}


def test_a_fan_of_which_nobody_says_what_it_bolts_to(demo: Snapshot) -> None:
    fan = {"name": "my fan", "attributes": {"driven_by": "engine"}}
    answer = ask(demo, explain=True, engine="ENG-R22", accessory_drive="DR-558", fan=fan)
    assert answer.verdict == "measure_first"
    assert lacks(answer) == {("hub", "fan", "ports.mount")}
    unsaid = ask(demo, **OUTER, fan={"name": "my fan"}, core_distance="300 mm")
    assert lacks(unsaid) == {("radiator_gap", "fan", "driven_by"), ("radiator_gap", "fan", "depth")}


@pytest.mark.parametrize("measures", [{}, {"depth": {"value": "60 mm"}}])
def test_a_fan_of_which_nobody_says_what_turns_it(demo: Snapshot, measures: dict[str, Any]) -> None:
    fan = {"name": "my fan", "measures": measures}
    build: dict[str, Any] = {"engine": "ENG-R20", "accessory_drive": "DR-541", "fan": fan}
    answer = ask(demo, **build)
    assert answer.verdict == "measure_first"
    assert lacks(answer) == {("radiator_gap", "fan", "driven_by")}
    turned = ask(demo, **{**build, "fan": {"name": "my fan", "attributes": {"driven_by": "radiator"}}})
    assert turned.verdict == "fits"


def test_a_described_pump_may_have_what_is_not_told_of_it(demo: Snapshot) -> None:
    mount = {"role": "mount", "connection": "rowanfinch_face"}
    pump: dict[str, Any] = {"name": "my pump", "measures": {"belt_plane": {"value": "120 mm"}}, "ports": [mount]}
    build: dict[str, Any] = {"engine": "ENG-R12", "accessory_drive": "DR-642", "fan": "mechanical"}
    answer = ask(demo, **build, pump=pump)
    assert answer.verdict == "measure_first"
    assert {("carried_parts", "pump", "ports.carrier"), ("hub", "pump", "ports.fan")} <= lacks(answer)
    others = [
        port for part in demo.parts.values() for port in part.ports if part.kind == "water_pump" and port.role == "fan"
    ]
    told = {**pump, "ports": [mount, {"role": "fan", "connection": others[0].connection}]}
    assert "ports.fan" not in {fact for _, _, fact in lacks(ask(demo, **build, pump=told))}


def test_a_neck_whose_bolts_cannot_be_chosen(demo: Snapshot) -> None:
    build = {**OUTER, "pump": "WP-241", "radiator": "RD-30"}
    first = ask(demo, **build).options[0]
    (housing,) = [line.part for line in first.parts_list if line.kind == "thermostat_housing"]
    others = [part.number for part in demo.parts.values() if part.kind == "thermostat_housing"]
    must = {"without": [number for number in others if number != housing]}
    silent = changed(demo, housing, measures_but("flange_thickness"))
    answer = ask(silent, **build, must=must)
    assert answer.verdict == "measure_first"
    assert lacks(answer) == {("bolts", "", "flange_thickness")}
    parts = [line.part for line in answer.options[0].parts_list]
    found = which_fit(ConstraintGraph(silent), msgspec.convert({**build, "must": must}, Build), parts)
    assert {told.suits for told in found.parts} == {"measure_first"}


def test_what_no_part_of_the_kind_states_is_asked_of_none(demo: Snapshot) -> None:
    parts = {
        number: part if part.kind != "water_pump" else msgspec.structs.replace(part, **attributes_but("rotation")(part))
        for number, part in demo.parts.items()
    }
    silent = Snapshot(demo.release, demo.currency, parts, demo.connections, demo.rules)
    answer = ask(silent, **OUTER)
    assert answer.verdict == "fits"
    (check,) = checks_of(answer, "rotation")
    assert (check.verdict, check.reason) == ("not_asked", "nobody_states")
    assert check.facts["nobody"] == (("water_pump", "rotation"),)


def test_a_tested_fit_settles_what_is_not_known(demo: Snapshot) -> None:
    build: dict[str, Any] = {**OUTER, "pump": "WP-241"}
    silent = changed(demo, "WP-241", attributes_but("rotation"))
    assert ask(silent, **build).verdict == "measure_first"
    rule = Rule("was_tried", "tested_fit", "WP-241", ("DR-541",), ("rotation",), "shop test car")
    tried = Snapshot(silent.release, silent.currency, silent.parts, silent.connections, (*silent.rules, rule))
    answer = ask(tried, **build)
    assert answer.verdict == "fits"
    assert checks_of(answer, "rotation")[0].reason == "tested_fit"


def test_a_rule_that_needs_a_field_left_out_is_not_kept(demo: Snapshot) -> None:
    rule = Rule("needs_its_radiator", "requires", "WP-241", ("RD-30",), (), "shop")
    ruled = Snapshot(demo.release, demo.currency, demo.parts, demo.connections, (*demo.rules, rule))
    answer = ask(ruled, **OUTER, pump="WP-241")
    (check,) = checks_of(answer, "rule")
    assert (answer.verdict, check.verdict, check.reason) == ("fits", "not_asked", "requires_left_out")
    assert check.facts["needs"][0]["field"] == "radiator"
    assert "no radiator was given" in check_text(check)
    assert checks_of(ask(ruled, **OUTER, pump="WP-241", radiator="RD-30"), "rule")[0].verdict == "ok"
    assert ask(ruled, **OUTER, pump="WP-241", radiator="RD-70").verdict == "blocked"


# --- what would settle it ------------------------------------------------------------------------------------


def test_what_to_measure_and_to_look_at_stands_in_the_order_of_what_decides_most(demo: Snapshot) -> None:
    drive = {"name": "my drive"}
    answer = ask(demo, explain=True, engine="ENG-R20", accessory_drive=drive, crank_pulley="CP-541")
    assert answer.verdict == "measure_first"
    option = answer.options[0]
    # Where its belt runs decides about the pump's pulley and the crank's; so do ribs and profile.
    found = [lack.fact for lack in lacks_of(option.checks)]
    assert set(found[:3]) == {"ribs", "profile", "belt_plane"}
    assert set(found[3:]) == {"belt_side", "rotation", "ports.mount", "ports.carried"}
    crank = next(check for check in option.checks if check.code == "crank")
    assert crank.settle is not None
    assert crank.settle.reason == "not_known"
    (taking,) = crank.settle.readings
    assert (taking.measure, taking.expected, taking.doubt, taking.taken_with) == ("belt_plane", None, None, "caliper")
    assert (taking.from_, taking.to) == ("the block's pump face", "the belt's centre")
    assert "nothing is known of it" in taking_text(taking)
    assert {looking.fact for looking in crank.settle.look_at} == {"ribs", "profile"}
    assert "Count the ribs of the belt of my drive" in [looking_text(one)[:-1] for one in crank.settle.look_at]
    profile = next(looking for looking in crank.settle.look_at if looking.fact == "profile")
    assert looking_text(profile).endswith("3.56 mm is profile PK.")
    assert looking_text(profile, "in").endswith("0.1402 in is profile PK.")
    assert "told" in settling_text(crank.settle)


def test_two_checks_that_lack_the_same_say_it_alike() -> None:
    lack, other = Lack("P-1", "pump", "", "nose"), Lack("P-1", "pump", "", "belt_plane")
    one = Check("cover", "measure_first", "not_known", {"lacks": (lack, other)})
    two = Check("crank", "measure_first", "not_known", {"lacks": (other,)})
    assert lacks_of([one, two]) == [other, lack]


def test_who_must_describe_a_part_anew_is_told_what_else_decides(demo: Snapshot) -> None:
    """What the description gives already is not asked for."""
    needs = "A described water pump needs a port of role mount: what it bolts to."
    else_ = " Give also what is known of these, what decides most first: "
    known = {"measures": {"cover_room.sensor": {"value": "53 mm"}}, "attributes": {"rotation": "clockwise"}}
    for described, message in (
        ({"name": "p"}, f"{needs}{else_}belt_plane, bands (its grooves), cover_room, rotation."),
        ({"name": "p", **known}, f"{needs}{else_}belt_plane, bands (its grooves)."),
        ({**MY_PUMP, "ports": [], "bands": GROOVES}, f"{needs}{else_}cover_room."),
    ):
        with pytest.raises(BuildError) as caught:
            ask(demo, **OUTER, pump=described)
        assert [(fault.pointer, fault.message) for fault in caught.value.faults] == [("/pump/ports", message)]


def test_free_zones_of_a_described_pump(demo: Snapshot) -> None:
    rooms = {"cover_room": {"value": "58 mm"}, "cover_room.sensor": {"value": "53 mm"}}
    pump = MY_PUMP | {"bands": GROOVES, "measures": MY_PUMP["measures"] | rooms}
    free = pump | {"attributes": pump["attributes"] | {"free_zones": "connector"}}
    assert ask(demo, **OUTER, front_cover="FC-R2", pump=pump).verdict == "measure_first"
    assert ask(demo, **OUTER, front_cover="FC-R2", pump=free).verdict == "fits"
    slip = pump | {"attributes": pump["attributes"] | {"free_zones": "Connector;sensor"}}
    with pytest.raises(BuildError) as caught:
        ask(demo, **OUTER, pump=slip)
    assert [fault.slug for fault in caught.value.faults] == ["invalid-attribute"]
