"""The check of a whole catalog: a sound one passes, and each fault by itself is found.

The rules are the project's own; what a sound part looks like is common practice, no source.
"""

from collections.abc import Callable
from typing import Any

import msgspec
import pytest

from catalog.checks import check_snapshot
from catalog.domain import Band, Connection, Cue, Measure, Part, Port, Price, Rule, Snapshot
from catalog.units import NM_PER_MM
from tests.support import snapshot_of

PK = 3_560_000  # rib pitch, ISO 9982


def mm(name: str, value: float, doubt: float = 0.1) -> tuple[str, Measure]:
    tolerance = round(doubt * NM_PER_MM)
    return name, Measure(name, round(value * NM_PER_MM), tolerance, tolerance, "drawing", "drawing")


def band(start: float, end: float, grooves: int = 6) -> Band:
    return Band(round(start * NM_PER_MM), round(end * NM_PER_MM), "ribbed" if grooves else "smooth", grooves)


FACE = Connection("alder_block", "Alder pump face", "face", ("block", "pump"), "gasket", 2, "G-1", 8)
OTHER = Connection("birch_block", "Birch pump face", "face", ("block", "pump"), "gasket", 1, "G-1", 6)
HUB = Connection("alder_hub", "Alder hub", "bolt_circle", ("hub", "pulley"), "none")
PARTS = {
    "engine": Part(
        "E-1", "engine", "Alder block",
        attributes={"thread": "M8x1.25", "hole_material": "aluminium"},
        measures=dict([mm("hole_depth", 30)]),
        ports=(Port("pump_face", "pump_face", "alder_block", "block"),),
    ),
    "gasket": Part("G-1", "gasket", "Gasket", measures=dict([mm("thickness", 1)]), price=Price(400, "USD")),
    "pump": Part(
        "P-1", "water_pump", "Alder pump", aliases=("99-1",),
        attributes={"profile": "PK", "rotation": "clockwise"},
        measures=dict([mm("belt_plane", 146), mm("front_offset", 12), mm("pulley_front", 158.1)]),
        bands=(band(135, 157),),
        ports=(Port("mount", "mount", "alder_block", "pump"),),
        cues=(Cue("outlet_side", "Which way?", "left", ("left", "right"), "in_car", 3),),
        price=Price(14_900, "USD"),
    ),
    "spacer": Part(
        "S-1", "spacer", "Spacer", measures=dict([mm("thickness", 10)]),
        ports=(Port("rear", "mount", "alder_block", "pump"), Port("front", "pump_face", "alder_block", "block")),
    ),
    "adapter": Part(
        "A-1", "adapter_plate", "Adapter", measures=dict([mm("thickness", 12)]),
        ports=(Port("rear", "mount", "alder_block", "pump"), Port("front", "pump_face", "birch_block", "block")),
    ),
    "drive": Part(
        "D-1", "accessory_drive", "Drive", measures=dict([mm("belt_plane", 147)]),
        attributes={"profile": "PK", "ribs": 6, "belt_side": "ribbed"},
    ),
    "pulley": Part("U-1", "pulley", "Pulley", measures=dict([mm("offset", 20)]), bands=(band(9, 31),)),
}  # fmt: skip
RULES = (
    Rule("p1_on_s1", "tested_fit", "P-1", ("S-1", "S-1"), ("cover",), "bench"),
    Rule("s1_to_a1", "replaced_by", "S-1", ("A-1",)),
)


def catalog(
    parts: dict[str, Part] | None = None,
    connections: tuple[Connection, ...] = (FACE, OTHER, HUB),
    rules: tuple[Rule, ...] = RULES,
) -> Snapshot:
    return snapshot_of({**PARTS, **(parts or {})}.values(), connections, rules)


def with_part(name: str, /, **changes: Any) -> Snapshot:
    return catalog({name: msgspec.structs.replace(PARTS[name], **changes)})


def with_measure(name: str, *measures: tuple[str, Measure]) -> Snapshot:
    return with_part(name, measures={**PARTS[name].measures, **dict(measures)})


def with_attribute(part: str, **attributes: bool | int | str) -> Snapshot:
    return with_part(part, attributes={**PARTS[part].attributes, **attributes})


def with_free_zones(zones: str, *measures: tuple[str, Measure]) -> Snapshot:
    """The pump with free zones, beside a cover with heights at its centre and its sensor."""
    heights = dict([mm("cover_height", 40), mm("cover_height.sensor", 36)])
    pump, cover = PARTS["pump"], Part("C-1", "front_cover", "Cover", measures=heights)
    attributes = {**pump.attributes, "free_zones": zones}
    own = msgspec.structs.replace(pump, attributes=attributes, measures={**pump.measures, **dict(measures)})
    return catalog({"pump": own, "cover": cover})


def with_port(name: str, /, **changes: Any) -> Snapshot:
    first, *rest = PARTS[name].ports
    return with_part(name, ports=(msgspec.structs.replace(first, **changes), *rest))


def with_connection(**changes: Any) -> Snapshot:
    return catalog(connections=(msgspec.structs.replace(FACE, **changes), OTHER, HUB))


def with_rule(*changes: Any) -> Snapshot:
    return catalog(rules=(Rule(*changes),))


def with_hub_gasket() -> Snapshot:
    hub = Port("hub", "hub", "alder_hub", "hub", gasket="G-1")
    return catalog(
        {"other": msgspec.structs.replace(PARTS["pump"], number="P-2", aliases=(), ports=(*PARTS["pump"].ports, hub))}
    )


def without(part: str, kind: str, name: str) -> Snapshot:
    return with_part(part, **{kind: {key: value for key, value in getattr(PARTS[part], kind).items() if key != name}})


def with_o_ring(measures: dict[str, Measure], gasket: str | None = None) -> Snapshot:
    """A cap on an O-ring of these measures, and a pump whose port on a flat face requires this gasket."""
    connection = Connection("bead", "Cap with an O-ring", "thread", ("hole", "plug"), "o_ring", gasket="O-1")
    mount = msgspec.structs.replace(PARTS["pump"].ports[0], gasket=gasket)
    parts = {
        "ring": Part("O-1", "gasket", "O-ring", measures=measures),
        "pump": msgspec.structs.replace(PARTS["pump"], ports=(mount,)),
    }
    return catalog(parts, (FACE, OTHER, HUB, connection))


def with_hoses(
    *, molded: tuple[str, str] = ("bead", "narrow"), from_: str = "bead", to: str = "narrow", **changes: Any
) -> Snapshot:
    """Two necks of these sizes and a hose molded from one to the other; `changes` to one of the connections."""
    bead = Connection("bead", "1 1/2 in hose on a bead", "hose", ("spigot", "hose"), "clamp", size="1 1/2 in hose")
    narrow = Connection("narrow", "Narrow bead", "hose", ("spigot", "hose"), "clamp", size="1 1/4 in hose")
    bead = msgspec.structs.replace(bead, **changes)
    other = msgspec.structs.replace(narrow, name="other", size="44 mm hose")
    connections = {each.name: each for each in (bead, narrow, other)}

    def port(name: str, connection: str, place: int) -> Port:
        return Port(name, "line", connection, connections[connection].ends[place])

    ends = tuple(port(f"end_{place}", connection, 1) for place, connection in enumerate(molded))
    shape: dict[str, bool | int | str] = {"shape": "molded", "molded_from": "N-1", "molded_to": "N-2"}
    parts = {
        "one": Part("N-1", "fitting", "Neck", ports=(port("neck", from_, 0),)),
        "other": Part("N-2", "fitting", "Neck", ports=(port("neck", to, 0),)),
        "hose": Part("L-1", "hose", "Molded hose", attributes=shape, ports=ends),
    }
    return catalog(parts, (FACE, OTHER, HUB, *connections.values()))


def test_a_sound_catalog_has_no_faults() -> None:
    assert check_snapshot(catalog()) == []
    assert check_snapshot(with_o_ring({})) == []
    for molded in (("bead", "narrow"), ("narrow", "bead")):
        assert check_snapshot(with_hoses(molded=molded)) == []


def test_a_size_said_otherwise_is_the_same_size() -> None:
    for title in ("1.5 in hose", "38.1 mm hose", 'Bead of a 1 1/2" hose', "Bead, once a -16"):
        assert check_snapshot(with_hoses(title=title)) == [], title


FAULTS: list[tuple[str, Callable[[], Snapshot], str]] = [
    # Zones of a cover over which a pump does not reach.
    ("free_zone_of_no_cover", lambda: with_free_zones("sensor, rail"), "free_zones names rail, which no cover"),
    ("free_zones_written", lambda: with_free_zones("sensor;centre"), "should be names of zones with a comma and a"),
    ("free_zone_twice", lambda: with_free_zones("sensor, sensor"), "where one stands twice"),
    ("free_and_measured", lambda: with_free_zones("sensor", mm("cover_room.sensor", 40)), "cover_room.sensor says how"),
    ("free_centre_and_measured", lambda: with_free_zones("centre", mm("cover_room", 40)), "and cover_room says how"),
    # Names.
    ("number_pattern", lambda: with_part("drive", number="D 1"), "part D 1 is not made as part numbers are"),
    ("alias_pattern", lambda: with_part("pump", aliases=("=1",)), "part P-1: alias =1 is not made as part numbers"),
    ("reserved", lambda: with_part("drive", number="Latest"), "part Latest is a word that means something"),
    ("reserved_alias", lambda: with_part("pump", aliases=("none",)), "part P-1: alias none is a word"),
    ("same_number", lambda: with_part("drive", number="p-1"), "part p-1 is also the name of part P-1"),
    ("alias_is_number", lambda: with_part("pump", aliases=("d-1",)), "part P-1: alias d-1 is also the name of part"),
    ("alias_is_own", lambda: with_part("pump", aliases=("p-1",)), "part P-1: alias p-1 is also the name of part P-1"),
    ("alias_twice", lambda: with_part("pump", aliases=("x", "X")), "part P-1: alias X is also the name of part P-1"),
    ("is_connection", lambda: with_part("drive", number="ALDER_BLOCK"), "is also the name of connection alder_block"),
    ("empty_name", lambda: with_part("drive", name=" "), 'part D-1: the name " " is empty'),
    ("formula", lambda: with_part("drive", name="=1+1"), 'part D-1: the name "=1+1" is empty or starts with ='),
    # Connections.
    ("connection_name", lambda: catalog(connections=(FACE, OTHER, msgspec.structs.replace(HUB, name="Hub 1"))),
     "connection Hub 1 is not named"),
    ("ends", lambda: catalog(connections=(FACE, OTHER, msgspec.structs.replace(HUB, ends=("hub", "hub")))),
     "connection alder_hub has two ends of one name"),
    ("pieces", lambda: with_connection(pieces_per_layer=0), "connection alder_block needs one piece a layer"),
    ("no_gasket", lambda: with_connection(gasket=None), "connection alder_block seals by a gasket and names none"),
    ("unknown_gasket", lambda: with_connection(gasket="G-9"), "takes G-9, which is not a gasket of this catalog"),
    ("not_a_gasket", lambda: with_connection(gasket="S-1"), "takes S-1, which is not a gasket of this catalog"),
    ("gasket_on_a_clamp", lambda: with_connection(seal="clamp"),
     "connection alder_block takes G-1, and is sealed by a clamp, without a gasket"),
    ("title_size", lambda: with_hoses(title="1 1/4 in hose on a bead"),
     'connection bead: "1 1/4 in hose on a bead" says 1 1/4 in hose, and its size is 1 1/2 in hose'),
    ("end_size", lambda: with_hoses(ends=("spigot", "44 mm hose")),
     'connection bead: "44 mm hose" says 44 mm hose, and its size is'),
    ("flare_size", lambda: with_hoses(title="A -12 flare", sort="flare_37", size="-16"),
     'connection bead: "A -12 flare" says -12, and its size is -16'),
    # Ports.
    ("port_name", lambda: with_port("pump", name="The Port"), "part P-1: port The Port is not named"),
    ("port_connection", lambda: with_port("pump", connection="oak"), "port mount is on connection oak, which there is"),
    ("port_end", lambda: with_port("pump", end="front"), "port mount is the end front of alder_block, whose ends are"),
    ("port_gasket", lambda: with_port("pump", gasket="S-1"), "port mount requires S-1, which is not a gasket"),
    ("port_gasket_without_need", with_hub_gasket,
     "part P-2: port hub requires G-1, and connection alder_hub is sealed by nothing, without a gasket"),
    ("thick_o_ring", lambda: with_o_ring(dict([mm("thickness", 3)])),
     "part O-1: no stack counts its thickness, for it is the O-ring of connection bead: leave it out"),
    ("both", lambda: with_o_ring({}, gasket="O-1"),
     "part O-1 is a gasket on connection alder_block and an O-ring on connection bead; one part is not both"),
    ("molded_size", lambda: with_hoses(molded=("bead", "narrow"), to="bead"),
     "part L-1: it is molded from N-1 to N-2, and its ends (1 1/2 in hose and 1 1/4 in hose) do not meet a port"),
    ("molded_onto_one", lambda: with_hoses(molded=("narrow", "bead"), from_="other", to="narrow"),
     "do not meet a port of each: the sizes of their ports disagree"),
    ("engine_face", lambda: with_part("engine", ports=()), "part E-1: every engine needs a pump_face on the first end"),
    ("engine_end", lambda: with_port("engine", end="pump"), "part E-1: every engine needs a pump_face on the first"),
    ("pump_mount", lambda: with_port("pump", role="vent"), "part P-1: every water_pump needs a mount on the second"),
    ("pump_end", lambda: with_port("pump", end="block"), "part P-1: every water_pump needs a mount on the second end"),
    ("spacer_face", lambda: with_part("spacer", ports=PARTS["spacer"].ports[:1]), "part S-1: every spacer needs one"),
    ("spacer_same", lambda: with_port("spacer", connection="birch_block"), "pump_face (first end) on the same"),
    ("adapter_other", lambda: with_port("adapter", connection="birch_block"), "(first end) on two different"),
    # Measures.
    ("unknown_measure", lambda: with_measure("pump", mm("girth", 1)), "part P-1: there is no measure girth"),
    ("suffix", lambda: with_measure("pump", mm("nose.left", 1)), "part P-1: there is no measure nose.left"),
    ("wrong_kind", lambda: with_measure("spacer", mm("nose", 1)), "part S-1: no spacer has a measure nose"),
    ("negative", lambda: with_measure("pump", mm("flange_thickness", -1)), "part P-1: flange_thickness is negative"),
    ("tolerance", lambda: with_measure("pump", mm("nose", 1, -0.1)), "part P-1: nose has a negative tolerance"),
    ("no_thickness", lambda: with_measure("spacer", mm("thickness", 0)), "part S-1: its least thickness is not above"),
    ("thin", lambda: with_measure("gasket", mm("thickness", 0.1)), "part G-1: its least thickness is not above zero"),
    ("needed_measure", lambda: without("gasket", "measures", "thickness"), "part G-1: every gasket needs the measure"),
    ("front_without_offset", lambda: without("pump", "measures", "front_offset"), "says nothing of the belt without"),
    ("front_disagrees", lambda: with_measure("pump", mm("pulley_front", 158.4)), "pulley_front disagrees with"),
    # Attributes.
    ("unknown_attribute", lambda: with_attribute("pump", colour="red"), "part P-1: there is no attribute colour"),
    ("attribute_kind", lambda: with_attribute("pump", pieces=1), "part P-1: no water_pump has an attribute pieces"),
    ("attribute_type", lambda: with_attribute("drive", ribs=True), "part D-1: ribs is of type bool and should be int"),
    ("attribute_value", lambda: with_attribute("pump", profile="PX"), 'part P-1: profile is "PX" and should be one of'),
    ("attribute_range", lambda: with_attribute("drive", ribs=0), "part D-1: ribs is 0 and should be from 1"),
    ("needed_attribute", lambda: without("drive", "attributes", "ribs"), "part D-1: every accessory_drive needs"),
    # Bands.
    ("backwards", lambda: with_part("pump", bands=(band(157, 135),)), "part P-1: band 1 ends before it starts"),
    ("smooth_grooves", lambda: with_part("pump", bands=(msgspec.structs.replace(band(135, 157), surface="smooth"),)),
     "part P-1: band 1 is smooth and has 6 grooves"),
    ("no_grooves", lambda: with_part("pump", bands=(msgspec.structs.replace(band(135, 157, 0), surface="ribbed"),)),
     "part P-1: band 1 is ribbed and has no grooves"),
    ("narrow", lambda: with_part("pump", bands=(band(146 - 8, 146 + 8),)), "part P-1: band 1 is too narrow for 6"),
    ("off_centre", lambda: with_part("pump", bands=(band(135.01, 157),)), "first band is not centred on belt_plane"),
    ("pulley_off_centre", lambda: with_part("pulley", bands=(band(8, 31),)), "first band is not centred on offset"),
    ("no_plane", lambda: with_part("pump", measures={}), "part P-1: it has bands and no belt_plane"),
    ("bands_of_no_pulley", lambda: with_part("gasket", bands=(band(0, 22),)), "part G-1: no gasket has bands"),
    ("no_bands", lambda: with_part("pump", bands=()), "every water_pump needs a band where its belt runs, or a hub"),
    # Cues.
    ("cue_name", lambda: with_part("pump", cues=(Cue("A B", "?", "a", ("a",), "in_car", 1),)), 'cue\'s name "A B"'),
    ("cue_twice", lambda: with_part("engine", cues=(Cue("outlet_side", "?", "left", ("left", "up"), "in_car", 3),)),
     "cue outlet_side asks something else"),
    ("cue_answer", lambda: with_part("pump", cues=(Cue("c", "?", "x", ("a",), "in_car", 1),)), "cue c: its answer"),
    # Rules.
    ("rule_name", lambda: with_rule("Rule 1", "requires", "P-1", ("S-1",)), "rule Rule 1 is not named"),
    ("rule_alone", lambda: with_rule("r", "requires", "P-1", ()), "rule r names no other part"),
    ("rule_twice", lambda: with_rule("r", "requires", "P-1", ("S-1", "S-1")), "rule r names a part twice"),
    ("rule_part", lambda: with_rule("r", "requires", "P-9", ("S-1",)), "rule r names part P-9, which there is not"),
    ("rule_other", lambda: with_rule("r", "requires", "P-1", ("S-9",)), "rule r names part S-9, which there is not"),
    ("rule_self", lambda: with_rule("r", "excludes", "P-1", ("P-1",)), "rule r is about part P-1 and itself"),
    ("settles_kind", lambda: with_rule("r", "tested_no_fit", "P-1", ("S-1",), ("cover",)), "and is not a tested fit"),
    ("settles_code", lambda: with_rule("r", "tested_fit", "P-1", ("S-1",), ("bolts",)), "settles bolts, which no test"),
    ("cycle",
     lambda: catalog(rules=(Rule("a", "replaced_by", "S-1", ("A-1",)), Rule("b", "replaced_by", "A-1", ("S-1",)))),
     "part A-1 is replaced, step by step, by itself"),
    # Prices.
    ("currencies", lambda: with_part("pump", price=Price(1, "EUR")), "prices are in EUR and USD; a catalog has one"),
    ("negative_price", lambda: with_part("pump", price=Price(-1, "USD")), "part P-1: its price is negative"),
]  # fmt: skip


@pytest.mark.parametrize(("make", "fault"), [pytest.param(*rest, id=name) for name, *rest in FAULTS])
def test_a_fault_is_found(make: Callable[[], Snapshot], fault: str) -> None:
    faults = check_snapshot(make())
    assert any(fault in found for found in faults), faults


def test_a_band_just_wide_enough_passes() -> None:
    """Six PK grooves are 21.36 mm; a pulley may be one pitch narrower, as its outer flanks are not used."""
    half = (6 * PK - PK) // 2
    exact = Band(146 * NM_PER_MM - half, 146 * NM_PER_MM + half, "ribbed", 6)
    assert check_snapshot(with_part("pump", bands=(exact,))) == []
    narrower = Band(exact.from_ + 2, exact.to - 2, "ribbed", 6)
    assert len(check_snapshot(with_part("pump", bands=(narrower,)))) == 1


def test_a_first_band_is_centred_to_the_micrometre() -> None:
    shifted = Band(135 * NM_PER_MM + 1_000, 157 * NM_PER_MM + 1_000, "ribbed", 6)
    assert check_snapshot(with_part("pump", bands=(shifted,))) == []
    too_far = Band(shifted.from_ + 1, shifted.to, "ribbed", 6)
    assert len(check_snapshot(with_part("pump", bands=(too_far,)))) == 1


def test_signed_measures_may_be_negative() -> None:
    assert check_snapshot(with_measure("pump", mm("cover_room.sensor", -3), mm("hub_face", -1))) == []


def test_a_zone_is_free_where_nothing_is_measured() -> None:
    assert check_snapshot(with_free_zones("centre, sensor")) == []
    assert check_snapshot(with_free_zones("sensor", mm("cover_room", 40))) == []


def test_a_pump_with_a_hub_needs_no_band() -> None:
    pump = PARTS["pump"]
    hub = Port("hub", "hub", "alder_hub", "hub")
    assert check_snapshot(with_part("pump", bands=(), ports=(*pump.ports, hub))) == []


def test_a_retired_part_need_not_be_complete() -> None:
    assert check_snapshot(with_part("gasket", status="retired", measures={})) == []
    assert check_snapshot(with_part("spacer", status="retired", ports=())) == []


def test_every_fault_is_listed() -> None:
    snapshot = catalog(
        {
            "gasket": msgspec.structs.replace(PARTS["gasket"], measures={}),
            "drive": msgspec.structs.replace(PARTS["drive"], attributes={}),
        },
        rules=(Rule("r", "requires", "P-9", ("S-9",)),),
    )
    assert len(check_snapshot(snapshot)) == 1 + 3 + 2
