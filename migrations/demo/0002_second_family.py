"""The second release of the demo: Greyalder engines, and plates that take their pumps to a Rowanfinch block.

A plate, in two halves as the faces are, is bolted to the block through counterbores; the pump is bolted to
threads in the plate.
"""

from typing import Any

from alembic import op

revision = "catalog_0002"
down_revision = "catalog_0001"
branch_labels = None
depends_on = None

GROUND = {"plus": "0.05 mm", "minus": "0.05 mm", "source": "maker's drawing, ground on both sides"}
COMPRESSED = {"plus": "0.05 mm", "minus": "0.05 mm", "source": "maker's drawing, at the stated torque"}


def upgrade() -> None:
    add_connections()
    add_engines()
    add_front_of_the_engine()
    add_pumps()
    add_plates_and_gaskets()
    add_fasteners()
    op.publish_release(
        2,
        name="second-family",
        on="2026-04-20",
        note="Greyalder engines and pumps, and the adapter plate that takes their pumps to a Rowanfinch block",
        digest="sha256:708060d84ca164c8cc2f5f6e466fa968db93eed6e7d114dd2d5f452cd47f4cba",
    )


def downgrade() -> None:
    op.withdraw_release(2)


def add_connections() -> None:
    op.add_connection(
        "greyalder_face",
        title="Greyalder pump face, in two halves",
        sort="face",
        ends=["block", "pump"],
        seal="gasket",
        pieces_per_layer=2,
        gasket="GK-G06",
        bolts=6,
    )
    for name, title, sort, ends, seal in (
        ("greyalder_cover", "Greyalder front cover face", "face", ["block", "cover"], "sealant"),
        ("greyalder_bracket", "Greyalder bracket bosses", "face", ["head", "bracket"], "none"),
        ("greyalder_snout", "Greyalder crank snout", "press", ["crank", "pulley"], "none"),
    ):
        op.add_connection(name, title=title, sort=sort, ends=ends, seal=seal)
    op.add_connection(
        "greyalder_housing",
        title="Greyalder thermostat housing face, three bolts",
        sort="face",
        ends=["pump", "housing"],
        seal="o_ring",
        bolts=3,
    )


def add_engines() -> None:
    for number, name, alias, depth, material, first, last in (
        ("ENG-G30", "Greyalder passenger engine, aluminium block", "80331300", "28 mm", "aluminium", 2002, 2012),
        ("ENG-G32", "Greyalder truck engine, iron block", "80331320", "26 mm", "cast_iron", 2003, 2013),
    ):
        op.add_part(
            number,
            kind="engine",
            name=name,
            aliases=[alias],
            measures={"hole_depth": depth, "crank_face": "76 mm"},
            attributes={
                "wet_holes": True,
                "thread": "M10x1.5",
                "hole_material": material,
                "first_year": first,
                "last_year": last,
            },
            ports=[
                {"name": "pump_face", "role": "pump_face", "connection": "greyalder_face", "end": "block", "wet": True},
                {"name": "cover_face", "role": "cover_face", "connection": "greyalder_cover", "end": "block"},
                {"name": "bracket_bosses", "role": "drive_face", "connection": "greyalder_bracket", "end": "head"},
                {"name": "snout", "role": "crank", "connection": "greyalder_snout", "end": "crank"},
            ],
        )


def add_front_of_the_engine() -> None:
    op.add_part(
        "DR-G22",
        kind="accessory_drive",
        name="Greyalder passenger drive",
        measures={
            "belt_plane": "122.6 mm",
            "shortest_span": {"value": "205 mm", "plus": "2 mm", "minus": "2 mm"},
        },
        attributes={"profile": "PK", "ribs": 6, "belt_side": "ribbed", "rotation": "clockwise"},
        ports=[{"name": "bracket", "role": "mount", "connection": "greyalder_bracket", "end": "bracket"}],
    )
    op.add_part(
        "CP-G22",
        kind="crank_pulley",
        name="Greyalder crank pulley",
        price="88.00 USD",
        measures={"offset": "46.5 mm", "diameter": "190 mm"},
        attributes={"profile": "PK", "work": "press"},
        bands=[{"from": "35.5 mm", "to": "57.5 mm", "surface": "ribbed", "grooves": 6}],
        ports=[{"name": "bore", "role": "mount", "connection": "greyalder_snout", "end": "pulley"}],
    )
    op.add_part(
        "FC-G1",
        kind="front_cover",
        name="Greyalder front cover",
        measures={"cover_height": "36 mm", "cover_height.sensor": "31 mm"},
        ports=[{"name": "mount", "role": "mount", "connection": "greyalder_cover", "end": "cover"}],
    )


def add_pumps() -> None:
    for number, name, plane, alias, price in (
        ("WP-G31", "Greyalder passenger pump", 122, "8033-431", "159.00 USD"),
        ("WP-G32", "Greyalder truck pump", 133, "8033-432", "174.00 USD"),
    ):
        op.add_part(
            number,
            kind="water_pump",
            name=name,
            price=price,
            aliases=[alias],
            measures={
                "belt_plane": f"{plane} mm",
                "nose": f"{plane + 16} mm",
                "flange_thickness": "11 mm",
                "diameter": "150 mm",
                "cover_room": "45 mm",
                "cover_room.sensor": "41 mm",
                "cover_room.connector": "43 mm",
            },
            attributes={"generation": "greyalder", "profile": "PK", "rotation": "clockwise"},
            bands=[{"from": f"{plane - 11} mm", "to": f"{plane + 11} mm", "surface": "ribbed", "grooves": 6}],
            ports=pump_ports(),
            cues=cues(),
        )


def pump_ports() -> list[dict[str, Any]]:
    left = {"end": "spigot", "side": "left", "wet": True}
    return [
        {"name": "mount", "role": "mount", "connection": "greyalder_face", "end": "pump", "wet": True},
        {"name": "housing", "role": "housing", "connection": "greyalder_housing", "end": "pump", "wet": True},
        {"name": "outlet", "role": "coolant_out", "connection": "hose_32", "direction": "forward"} | left,
        {"name": "heater_out", "role": "heater_feed", "connection": "hose_16", "direction": "back"} | left,
        {"name": "heater_in", "role": "heater_return", "connection": "hose_16", "direction": "back"} | left,
    ]


def cues() -> list[dict[str, Any]]:
    """What tells the pumps apart, asked as in the first release."""
    asked = (
        ("outlet_side", "From behind: which side does the outlet point to?", "left", ["left", "right"], "in_car", 5),
        ("housing_bolts", "How many bolts hold the thermostat housing?", "3", ["2", "3", "4"], "off_car", 2),
    )
    fields = ("name", "question", "answer", "answers", "ease", "error_percent")
    return [dict(zip(fields, cue, strict=True)) for cue in asked]


def add_plates_and_gaskets() -> None:
    for number, name, thickness, price in (
        ("GK-G06", "Greyalder pump gasket, factory", "0.6 mm", "3.00 USD"),
        ("GK-G03", "Greyalder pump gasket, thin", "0.3 mm", "4.00 USD"),
    ):
        op.add_part(
            number, kind="gasket", name=name, price=price, measures={"thickness": {"value": thickness, **COMPRESSED}}
        )
    thin = {"connection": "greyalder_face", "wet": True, "gasket": "GK-G03"}
    op.add_part(
        "SP-G10",
        kind="spacer",
        name="Greyalder pump spacer, 10 mm",
        price="31.00 USD",
        measures={"thickness": {"value": "10 mm", **GROUND}},
        ports=[
            {"name": "mount", "role": "mount", "end": "pump"} | thin,
            {"name": "pump_face", "role": "pump_face", "end": "block"} | thin,
        ],
    )
    op.add_part(
        "AP-61",
        kind="adapter_plate",
        name="Adapter plate, one half, Greyalder pump on a Rowanfinch block, steel",
        price="64.00 USD",
        measures={
            "thickness": {"value": "18 mm", **GROUND},
            "flange_thickness": "10 mm",  # under the heads of the bolts to the block, in their counterbores
            "hole_depth": "16 mm",
        },
        attributes={"thread": "M10x1.5", "hole_material": "steel", "wet_holes": True, "work": "hand_fit"},
        ports=[
            {"name": "mount", "role": "mount", "connection": "rowanfinch_face", "end": "pump", "wet": True},
            {"name": "pump_face", "role": "pump_face", "connection": "greyalder_face", "end": "block", "wet": True},
        ],
    )
    op.add_part("PG-12", kind="plug", name="Bypass plug for the adapter plate", price="4.00 USD")
    op.add_rule(
        "adapter_needs_plug",
        kind="requires",
        part="AP-61",
        others=["PG-12"],
        source="the plate uncovers a bypass passage of the Greyalder pump; shop drawing",
    )


def add_fasteners() -> None:
    for length, price in ((25, "17.00"), (30, "18.00"), (35, "19.50"), (40, "21.00"), (45, "23.00"), (50, "25.00")):
        op.add_part(
            f"FS-10-{length}",
            kind="fastener_set",
            name=f"6 bolts M10x1.5 x {length}, with washers",
            price=f"{price} USD",
            measures={"length": f"{length} mm", "washer_thickness": "2 mm"},
            attributes={"thread": "M10x1.5", "pieces": 6},
        )
