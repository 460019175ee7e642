"""The eighth release of the demo: fans, outlet plates with a pump elsewhere, and rules that came with them.

The working pump's fan seat sits 178 mm from its flange, behind the Mapletern working drive's idler at 172 mm.
"""

from typing import Any

from alembic import op

revision = "catalog_0008"
down_revision = "catalog_0007"
branch_labels = None
depends_on = None

Port = dict[str, Any]


def upgrade() -> None:
    add_fan_adapters()
    add_fans()
    add_outlet_plates()
    add_inline_housings()
    add_remote_pumps()
    add_belts_and_a_drive()
    add_rules()
    op.retire_part("TH-M09", replaced_by="TH-M10")
    op.retire_part("HM-109", replaced_by="SH-44-38")
    op.publish_release(
        8,
        name="fans",
        on="2026-11-23",
        note="Fans and their adapters, outlet plates, inline housings, pumps that are driven elsewhere",
        digest="sha256:6436c44bdc5d48d47c66fc94d1fa1555fb11c6c9a5217a00a1d2e938f5753934",
    )


def downgrade() -> None:
    op.withdraw_release(8)


def add_fan_adapters() -> None:
    op.add_connection("fan_bolts", title="Fan on four studs", sort="fan_bolts", ends=["flange", "fan"], seal="none")
    for hand, letter in (("left", "L"), ("right", "R")):
        for length, cents in ((30, 4400), (45, 4800), (60, 5200), (90, 6100)):
            op.add_part(
                f"FA-{letter}{length}",
                kind="fan_adapter",
                name=f"Fan adapter, {hand}-hand thread, {length} mm, with nuts",
                price=f"{cents // 100}.00 USD",
                measures={"thickness": f"{length} mm", "flange_thickness": "8 mm"},
                ports=[
                    {"name": "mount", "role": "mount", "connection": f"fan_thread_{hand}", "end": "nut"},
                    {"name": "fan", "role": "fan", "connection": "fan_bolts", "end": "flange"},
                ],
            )
        op.add_part(
            f"CV-{letter}",
            kind="cap",
            name=f"Cover for a bare {hand}-hand fan thread",
            price="11.00 USD",
            ports=[{"name": "mount", "role": "mount", "connection": f"fan_thread_{hand}", "end": "nut"}],
        )


def add_fans() -> None:
    for number, name, depth, behind, price in (
        ("FN-M38", "Engine-driven fan, 430 mm, flat", 38, 20, "99.00 USD"),
        ("FN-M45", "Engine-driven fan, 450 mm", 50, 40, "89.00 USD"),
        ("FN-M50", "Engine-driven fan, 500 mm, deep", 64, 46, "112.00 USD"),
        ("FN-M55", "Engine-driven fan, 550 mm, steel", 58, 44, "137.00 USD"),
    ):
        op.add_part(
            number,
            kind="fan",
            name=name,
            price=price,
            measures={"depth": f"{depth} mm", "depth_behind": f"{behind} mm"},
            attributes={"driven_by": "engine"},
            ports=[{"name": "mount", "role": "mount", "connection": "fan_bolts", "end": "fan"}],
        )
    for number, name, depth, price in (
        ("FN-E30", "Radiator fan, 300 mm", 62, "119.00 USD"),
        ("FN-E35", "Radiator fan, 350 mm", 70, "134.00 USD"),
        ("FN-E40", "Radiator fan, 400 mm", 84, "149.00 USD"),
        ("FN-E2", "Two radiator fans in a shroud, 2 x 300 mm", 96, None),
    ):
        op.add_part(
            number,
            kind="fan",
            name=name,
            price=price,
            measures={"depth": f"{depth} mm"},
            attributes={"driven_by": "radiator"},
        )


def mouth(name: str, role: str, connection: str, side: str) -> Port:
    """A main line's mouth of a plate, with its channel: out of the engine or back into it."""
    channel = "supply" if role == "coolant_out" else "return"
    end = "male" if connection.startswith("flare") else "bore"
    return {
        "name": name,
        "role": role,
        "connection": connection,
        "end": end,
        "channel": channel,
        "side": side,
        "direction": "forward",
        "wet": True,
    }


def two_lines(connection: str) -> list[Port]:
    return [mouth("out", "coolant_out", connection, "left"), mouth("into", "coolant_in", connection, "right")]


def cross_over(connection: str) -> list[Port]:
    """Each channel can leave on either side."""
    return [
        mouth(f"{name}_{side}", role, connection, side)
        for name, role in (("out", "coolant_out"), ("into", "coolant_in"))
        for side in ("left", "right")
    ]


VENT: Port = {"name": "vent", "role": "vent", "connection": "flare_6", "end": "male", "direction": "up", "wet": True}
SENSOR: Port = {"name": "sensor", "role": "sensor", "connection": "thread_m12", "end": "hole", "wet": True}
HEATER: list[Port] = [
    {"name": "heater_out", "role": "heater_feed", "connection": "taper_1_2", "end": "hole", "wet": True},
    {"name": "heater_in", "role": "heater_return", "connection": "taper_1_2", "end": "hole", "wet": True},
]


def add_outlet_plates() -> None:
    for number, name, price, ports, included in (
        ("OP-L20", "two -20 lines", "175.00", [*two_lines("flare_20"), VENT, SENSOR, *HEATER], False),
        ("OP-L16", "two -16 lines", "169.00", [*two_lines("flare_16"), VENT, SENSOR, *HEATER], False),
        ("OP-X20", "cross-over, -20 lines", "189.00", [*cross_over("flare_20"), VENT, SENSOR, *HEATER], False),
        ("OP-X16", "cross-over, -16 lines", "179.00", [*cross_over("flare_16"), VENT, SENSOR, *HEATER], False),
        ("OP-N20", "cross-over, -20 lines, no vent", "149.00", [*cross_over("flare_20"), SENSOR], False),
        ("OP-T20", "two -20 lines, thermostat in it", "359.00", [*two_lines("flare_20"), VENT, SENSOR, *HEATER], True),
        ("OP-P38", "two press-in necks", "139.00", [*two_lines("press_38"), VENT, SENSOR], False),
    ):
        op.add_part(
            number,
            kind="outlet_plate",
            name=f"Rowanfinch outlet plate, {name}",
            price=f"{price} USD",
            measures={
                "thickness": "40 mm",
                "flange_thickness": "14 mm",
                "nose": "62 mm",
                "cover_room": "52 mm",
                "cover_room.sensor": "48 mm",
                "cover_room.connector": "50 mm",
            },
            attributes={"thermostat_included": included},
            ports=[
                {"name": "mount", "role": "mount", "connection": "rowanfinch_face", "end": "pump", "wet": True},
                *ports,
            ],
        )


def add_inline_housings() -> None:
    for number, dash, included, price in (
        ("TH-I20", 20, False, "79.00"),
        ("TH-I20T", 20, True, "98.00"),
        ("TH-I16", 16, False, "69.00"),
        ("TH-I16T", 16, True, "86.00"),
    ):
        inside = "thermostat in it" if included else "takes a thermostat"
        line = {"role": "line", "connection": f"flare_{dash}", "end": "male", "wet": True}
        seat = {"role": "thermostat", "connection": "thermostat_54", "end": "housing", "wet": True}
        op.add_part(
            number,
            kind="thermostat_housing",
            name=f"Inline thermostat housing, -{dash} flares, {inside}",
            price=f"{price} USD",
            attributes={"thermostat_included": included},
            ports=[
                {"name": "one", **line},
                {"name": "other", **line},
                *([] if included else [{"name": "thermostat", **seat}]),
            ],
        )


def add_remote_pumps() -> None:
    for number, name, dash, price, recommended in (
        ("RP-16", "Remote pump, electric, 90 l/min, -16 lines", 16, "229.00", False),
        ("RP-20", "Remote pump, electric, 130 l/min, -20 lines", 20, "319.00", True),
        ("RP-20H", "Remote pump, electric, 150 l/min, -20 lines", 20, "389.00", False),
    ):
        end = {"connection": f"flare_{dash}", "end": "male", "wet": True}
        op.add_part(
            number,
            kind="remote_pump",
            name=name,
            price=f"{price} USD",
            recommended=recommended,
            ports=[{"name": "inlet", "role": "coolant_in", **end}, {"name": "outlet", "role": "coolant_out", **end}],
        )


def add_belts_and_a_drive() -> None:
    """Belts of the drives that can do without a pump, how far drives stand out, and the drive of WP-G32."""
    for number, length, price in (("BT-506", 1710, "25.00"), ("BT-528", 1795, "27.00")):
        op.add_part(
            number,
            kind="belt",
            name=f"Ribbed belt 6PK {length}, without the water pump",
            price=f"{price} USD",
            attributes={"profile": "PK", "ribs": 6},
        )
    op.revise_part("DR-506", attributes={"belt_without_pump": "BT-506"})
    op.revise_part("DR-528", attributes={"belt_without_pump": "BT-528"})
    op.revise_part("DR-558", measures={"nose": "172 mm"})
    op.add_part(
        "DR-G33",
        kind="accessory_drive",
        name="Greyalder working drive",
        measures={
            "belt_plane": "133.6 mm",
            "nose": "152 mm",
            "shortest_span": {"value": "215 mm", "plus": "2 mm", "minus": "2 mm"},
        },
        attributes={"profile": "PK", "ribs": 6, "belt_side": "ribbed", "rotation": "clockwise"},
        ports=[{"name": "bracket", "role": "mount", "connection": "greyalder_bracket", "end": "bracket"}],
    )


def add_rules() -> None:
    for name, kind, part, others, source in (
        ("back_housing_meets_late_cover", "excludes", "TH-M14", ["FC-R6"], "the neck runs into the cover's corner"),
        ("deep_fan_meets_idler", "tested_no_fit", "FN-M50", ["DR-558"], "a blade touched the idler; shop truck, 2026"),
        ("upright_housing_meets_cover", "tested_no_fit", "TH-M13", ["FC-R5"], "no room for the plug; shop car, 2025"),
        ("working_truck", "tested_fit", "FN-M45", ["WP-253", "DR-558", "FC-R5", "FA-L45"], "shop truck, 2026"),
    ):
        op.add_rule(name, kind=kind, part=part, others=others, source=source)
    op.add_rule(
        "truck_pump_on_truck_drive",
        kind="tested_fit",
        part="WP-252",
        others=["DR-552", "FC-R6"],
        settles=["cover"],
        source="shop truck, 2025",
    )
