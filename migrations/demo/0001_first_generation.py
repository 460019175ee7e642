"""The first release of the demo: Rowanfinch engines of the first generation, low covers, Ashplover pumps.

The scenario and all its numbers are invented. Along z, from the block's pump face, the belts of the Rowanfinch
drives run in planes at 106.7, 128.0, 141.7 and (later) 152.5 mm; a pump bolted straight on sits on a 0.7 mm gasket.
"""

from typing import Any

from alembic import op

revision = "catalog_0001"
down_revision = None
branch_labels = ("catalog",)
depends_on = None

GROUND = {"plus": "0.05 mm", "minus": "0.05 mm", "source": "maker's drawing, ground on both sides"}
COMPRESSED = {"plus": "0.05 mm", "minus": "0.05 mm", "source": "maker's drawing, at the stated torque"}


def upgrade() -> None:
    add_connections()
    add_engines()
    add_drives_and_covers()
    add_pumps()
    add_plates_and_gaskets()
    add_fasteners()
    add_rules()
    op.publish_release(
        1,
        name="spring",
        on="2026-03-02",
        note="Rowanfinch engines of the first generation, their drives, pumps and spacers",
        digest="sha256:0a9524a6c2ad052f0a6e9a7708476b4cda3ce307ecfb73d0e61b14fd18dc5830",
    )


def downgrade() -> None:
    op.withdraw_release(1)


def add_connections() -> None:
    op.add_connection(
        "rowanfinch_face",
        title="Rowanfinch pump face, in two halves",
        sort="face",
        ends=["block", "pump"],
        seal="gasket",
        pieces_per_layer=2,
        gasket="GK-07",
        bolts=8,
    )
    for name, title, sort, ends, seal in (
        ("rowanfinch_cover", "Rowanfinch front cover face", "face", ["block", "cover"], "sealant"),
        ("rowanfinch_bracket", "Rowanfinch bracket bosses", "face", ["head", "bracket"], "none"),
        ("rowanfinch_snout", "Rowanfinch crank snout", "press", ["crank", "pulley"], "none"),
    ):
        op.add_connection(name, title=title, sort=sort, ends=ends, seal=seal)
    op.add_connection(
        "ashplover_housing",
        title="Ashplover thermostat housing face, two bolts",
        sort="face",
        ends=["pump", "housing"],
        seal="gasket",
        gasket="GK-TH2",
        bolts=2,
    )
    for size, title in ((38, "1 1/2 in"), (32, "1 1/4 in"), (19, "3/4 in"), (16, "5/8 in")):
        op.add_connection(
            f"hose_{size}", title=f"{title} hose on a bead", sort="hose", ends=["spigot", "hose"], seal="clamp"
        )


def engine(number: str, name: str, **facts: Any) -> None:
    """An engine with its four faces; the pump's holes open into coolant."""
    op.add_part(
        number,
        kind="engine",
        name=name,
        aliases=facts.pop("aliases"),
        measures={"hole_depth": facts.pop("hole_depth"), "crank_face": facts.pop("crank_face")},
        attributes={"wet_holes": True, **facts},
        ports=[
            {"name": "pump_face", "role": "pump_face", "connection": "rowanfinch_face", "end": "block", "wet": True},
            {"name": "cover_face", "role": "cover_face", "connection": "rowanfinch_cover", "end": "block"},
            {"name": "bracket_bosses", "role": "drive_face", "connection": "rowanfinch_bracket", "end": "head"},
            {"name": "snout", "role": "crank", "connection": "rowanfinch_snout", "end": "crank"},
        ],
    )


def add_engines() -> None:
    engine(
        "ENG-R10",
        "Rowanfinch passenger engine, first generation, aluminium block",
        aliases=["71204100"],
        hole_depth="25 mm",
        crank_face="88 mm",
        thread="M8x1.25",
        hole_material="aluminium",
        generation="first",
        first_year=1999,
        last_year=2006,
    )
    engine(
        "ENG-R12",
        "Rowanfinch truck engine, first generation, iron block",
        aliases=["71204120", "71204122"],
        hole_depth="22 mm",
        crank_face="88 mm",
        thread="M8x1.25",
        hole_material="cast_iron",
        generation="first",
        first_year=2000,
        last_year=2007,
    )


def drive(number: str, name: str, *, plane: str, span: str, ribs: int = 6, **more: Any) -> None:
    """An accessory drive whose belt turns the pump with its ribs, clockwise, where nothing else is said."""
    op.add_part(
        number,
        kind="accessory_drive",
        name=name,
        measures={"belt_plane": plane, "shortest_span": {"value": span, "plus": "2 mm", "minus": "2 mm"}},
        attributes={"profile": "PK", "ribs": ribs, "belt_side": "ribbed", "rotation": "clockwise"},
        ports=[{"name": "bracket", "role": "mount", "connection": "rowanfinch_bracket", "end": "bracket"}],
        **more,
    )


def crank_pulley(number: str, name: str, *, offset: float, price: str) -> None:
    """A crank pulley with six grooves."""
    op.add_part(
        number,
        kind="crank_pulley",
        name=name,
        price=price,
        measures={"offset": f"{offset} mm", "diameter": "190 mm"},
        attributes={"profile": "PK", "work": "press"},
        bands=[band(offset)],
        ports=[{"name": "bore", "role": "mount", "connection": "rowanfinch_snout", "end": "pulley"}],
    )


def cover(number: str, name: str, heights: dict[str, str], **more: Any) -> None:
    op.add_part(
        number,
        kind="front_cover",
        name=name,
        measures=heights,
        ports=[{"name": "mount", "role": "mount", "connection": "rowanfinch_cover", "end": "cover"}],
        **more,
    )


def add_drives_and_covers() -> None:
    drive("DR-506", "Hazelsnipe inner drive", plane="106.7 mm", span="180 mm", aliases=["HZ-506"])
    drive("DR-528", "Hazelsnipe middle drive", plane="128 mm", span="240 mm", aliases=["HZ-528"])
    drive("DR-541", "Mapletern outer drive", plane="141.7 mm", span="210 mm", aliases=["MT-541"])
    crank_pulley("CP-506", "Rowanfinch inner crank pulley", offset=18.6, price="92.00 USD")
    crank_pulley("CP-528", "Rowanfinch middle crank pulley", offset=39.9, price="92.00 USD")
    crank_pulley("CP-541", "Rowanfinch outer crank pulley", offset=53.5, price="98.00 USD")
    cover(
        "FC-R1",
        "Rowanfinch low front cover",
        {"cover_height": "34 mm", "cover_height.sensor": "30 mm"},
        aliases=["71204610"],
        attributes={"generation": "first"},
    )


def band(centre: float, grooves: int = 6) -> dict[str, Any]:
    """A ribbed band centred there, a little wider than its grooves: six in 22 mm, twelve in 42.8 mm."""
    half = {6: 11.0, 12: 21.4}[grooves]
    return {
        "from": f"{centre - half:.1f} mm",
        "to": f"{centre + half:.1f} mm",
        "surface": "ribbed",
        "grooves": grooves,
    }


def cues(outlet: str, grooves: str) -> list[dict[str, Any]]:
    """What tells the pumps apart, the easiest to see first."""
    counts = ["6", "8", "12", "smooth", "no pulley"]
    asked = (
        ("outlet_side", "From behind: which side does the outlet point to?", outlet, ["left", "right"], "in_car", 5),
        ("pulley_grooves", "How many grooves has the pulley?", grooves, counts, "in_car", 3),
        ("housing_bolts", "How many bolts hold the thermostat housing?", "2", ["2", "3", "4"], "off_car", 2),
    )
    fields = ("name", "question", "answer", "answers", "ease", "error_percent")
    return [dict(zip(fields, cue, strict=True)) for cue in asked]


def pump(number: str, name: str, *, plane: float, room: dict[str, str], **facts: Any) -> None:
    """A pump with its own ribbed pulley of one band, its housing face, its outlet and two heater nipples."""
    outlet = facts.pop("outlet", "right")
    grooves = facts.pop("grooves", 6)
    measures = {
        "belt_plane": facts.pop("taken_plane", f"{plane} mm"),
        "nose": f"{plane + 16:.1f} mm",
        "flange_thickness": "14 mm",
        "diameter": "152 mm",
        **facts.pop("front", {}),
        **{f"cover_room{zone}": value for zone, value in room.items()},
    }
    op.add_part(
        number,
        kind="water_pump",
        name=name,
        measures=measures,
        attributes={"generation": "ashplover", "profile": "PK", "rotation": "clockwise"},
        bands=[band(plane, grooves)],
        ports=[
            {"name": "mount", "role": "mount", "connection": "rowanfinch_face", "end": "pump", "wet": True},
            {"name": "housing", "role": "housing", "connection": "ashplover_housing", "end": "pump", "wet": True},
            coolant("outlet", "coolant_out", "hose_38", outlet, "up" if outlet == "right" else "forward"),
            coolant("heater_out", "heater_feed", "hose_16", outlet, "back"),
            coolant("heater_in", "heater_return", "hose_19", outlet, "back"),
        ],
        cues=cues(outlet, str(grooves)),
        **facts,
    )


def coolant(name: str, role: str, connection: str, side: str, direction: str) -> dict[str, Any]:
    """A wet spigot for a hose."""
    return {
        "name": name,
        "role": role,
        "connection": connection,
        "end": "spigot",
        "side": side,
        "direction": direction,
        "wet": True,
    }


def add_pumps() -> None:
    short = {"": "46 mm", ".sensor": "42 mm"}
    pump(
        "WP-104",
        "Ashplover short pump, early casting",
        plane=106.0,
        room=short,
        price="119.00 USD",
        aliases=["71204804"],
    )
    pump(
        "WP-108",
        "Ashplover short pump",
        plane=106.0,
        room=short,
        front={"front_offset": "12.6 mm", "pulley_front": "118.6 mm"},
        price="129.00 USD",
        aliases=["71204808", "7120-448"],
        recommended=True,
    )
    pump(
        "WP-117",
        "Ashplover wide pump, pulley two belts wide",
        plane=116.7,
        grooves=12,
        room={"": "46 mm", ".sensor": "41 mm"},
        price="164.00 USD",
        aliases=["71204817"],
        recommended=True,
    )
    pump(
        "WP-127",
        "Ashplover middle pump",
        plane=127.3,
        outlet="left",
        room={"": "50 mm", ".sensor": "44 mm"},
        front={"front_offset": "12.6 mm", "pulley_front": "139.9 mm"},
        price="139.00 USD",
        aliases=["71204827"],
    )
    pump(
        "WP-139",
        "Ashplover outer pump, rebuilt, measured once",
        plane=140.6,
        taken_plane={"value": "140.6 mm", "taken_with": "tape", "source": "shop counter, one piece"},
        room={
            "": {"value": "58.4 mm", "taken_with": "caliper", "source": "shop counter, one piece"},
            ".sensor": {"value": "53 mm", "taken_with": "caliper", "source": "shop counter, one piece"},
        },
        price="99.00 USD",
        aliases=["71204839"],
    )
    pump(
        "WP-140",
        "Ashplover outer pump",
        plane=141.0,
        room={"": "54 mm", ".sensor": "53 mm"},
        front={"front_offset": "12.6 mm", "pulley_front": "153.6 mm"},
        price="185.00 USD",
        aliases=["71204840"],
        recommended=True,
    )


def spacer(thickness: int, price: str) -> None:
    """A spacer: the same face on both sides, with the thin gasket on both."""
    face = {"connection": "rowanfinch_face", "wet": True, "gasket": "GK-04"}
    op.add_part(
        f"SP-{thickness:02}",
        kind="spacer",
        name=f"Rowanfinch pump spacer, {thickness} mm",
        price=f"{price} USD",
        measures={"thickness": {"value": f"{thickness} mm", **GROUND}},
        ports=[
            {"name": "mount", "role": "mount", "end": "pump"} | face,
            {"name": "pump_face", "role": "pump_face", "end": "block"} | face,
        ],
    )


def add_plates_and_gaskets() -> None:
    for number, name, thickness, price in (
        ("GK-07", "Rowanfinch pump gasket, factory", "0.7 mm", "3.50 USD"),
        ("GK-04", "Rowanfinch pump gasket, thin", "0.4 mm", "4.50 USD"),
        ("GK-TH2", "Ashplover thermostat housing gasket", "0.8 mm", "2.50 USD"),
    ):
        op.add_part(
            number, kind="gasket", name=name, price=price, measures={"thickness": {"value": thickness, **COMPRESSED}}
        )
    for thickness, price in ((6, "24.00"), (8, "25.00"), (10, "26.00"), (20, "34.00"), (25, "38.00"), (40, "52.00")):
        spacer(thickness, price)


def add_fasteners() -> None:
    """Bolt sets of eight with washers, by length: stock lengths of ISO 4014 and 4017, washers of ISO 7089 (memory)."""
    prices = {30: "18.00", 35: "19.00", 40: "20.50", 45: "22.00", 50: "24.00", 55: "26.00", 60: "28.00"}
    for length, price in (prices | {65: "29.50", 70: "31.00", 80: "35.00", 90: "39.00"}).items():
        op.add_part(
            f"FS-8-{length}",
            kind="fastener_set",
            name=f"8 bolts M8x1.25 x {length}, with washers",
            price=f"{price} USD",
            measures={"length": f"{length} mm", "washer_thickness": "1.6 mm"},
            attributes={"thread": "M8x1.25", "pieces": 8},
        )


def add_rules() -> None:
    op.add_rule(
        "wide_pulley_meets_idler",
        kind="excludes",
        part="WP-117",
        others=["DR-541"],
        source="the wide pulley runs into the drive's lower idler; shop test car, 2023",
    )
