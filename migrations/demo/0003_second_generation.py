"""The third release of the demo: Rowanfinch engines with tall covers, Mossheron pumps, more spacers.

The block's pump face stayed as it was; the thermostat housing's face did not.
"""

from typing import Any

from alembic import op

revision = "catalog_0003"
down_revision = "catalog_0002"
branch_labels = None
depends_on = None

GROUND = {"plus": "0.05 mm", "minus": "0.05 mm", "source": "maker's drawing, ground on both sides"}
TURNED = {"profile": "PK", "rotation": "clockwise"}


def upgrade() -> None:
    add_connections()
    add_engines()
    add_covers()
    add_drives()
    add_crank_pulleys()
    add_pumps()
    add_special_pumps()
    add_loose_pulleys()
    add_spacers_and_bolts()
    add_rules()
    op.publish_release(
        3,
        name="summer",
        on="2026-06-15",
        note="Tall covers, pumps of the second generation, loose pulleys, drives with the tensioner on the pump",
        digest="sha256:7d22cd181875f4898243597870c6674a64508f9af3442573df2cf4df581651b4",
    )


def downgrade() -> None:
    op.withdraw_release(3)


def add_connections() -> None:
    op.add_connection(
        "mossheron_housing",
        title="Mossheron thermostat housing face, four bolts",
        sort="face",
        ends=["pump", "housing"],
        seal="o_ring",
        bolts=4,
    )
    op.add_connection(
        "pulley_circle", title="Pulley on a hub with four bolts", sort="hub", ends=["hub", "pulley"], seal="none"
    )
    op.add_connection(
        "tensioner_boss", title="Tensioner boss of the pump", sort="face", ends=["boss", "tensioner"], seal="none"
    )
    op.add_connection(
        "fan_thread_left", title="Left-hand fan thread of the hub", sort="thread", ends=["hub", "fan"], seal="none"
    )


def engine(number: str, name: str, **facts: Any) -> None:
    """A Rowanfinch engine of the second generation."""
    op.add_part(
        number,
        kind="engine",
        name=name,
        aliases=facts.pop("aliases"),
        measures={"hole_depth": facts.pop("hole_depth"), "crank_face": "88 mm"},
        attributes={"wet_holes": True, "thread": "M8x1.25", "generation": "second", **facts},
        ports=[
            {"name": "pump_face", "role": "pump_face", "connection": "rowanfinch_face", "end": "block", "wet": True},
            {"name": "cover_face", "role": "cover_face", "connection": "rowanfinch_cover", "end": "block"},
            {"name": "bracket_bosses", "role": "drive_face", "connection": "rowanfinch_bracket", "end": "head"},
            {"name": "snout", "role": "crank", "connection": "rowanfinch_snout", "end": "crank"},
        ],
    )


def add_engines() -> None:
    engine(
        "ENG-R20",
        "Rowanfinch VVT passenger engine, second generation, aluminium block",
        aliases=["71205200"],
        hole_depth="25 mm",
        hole_material="aluminium",
        first_year=2007,
        last_year=2015,
    )
    engine(
        "ENG-R22",
        "Rowanfinch VVT truck engine, second generation, iron block",
        aliases=["71205220"],
        hole_depth="22 mm",
        hole_material="cast_iron",
        first_year=2008,
        last_year=2016,
    )


def add_covers() -> None:
    for number, name, alias, heights in (
        ("FC-R2", "Rowanfinch low front cover, second generation", "71205612", ("36", "33", "31")),
        ("FC-R5", "Rowanfinch tall VVT front cover", "71205650", ("55.5", "50", "53")),
        ("FC-R6", "Rowanfinch tall VVT front cover, late", "71205660", ("60", "52", "55")),
    ):
        op.add_part(
            number,
            kind="front_cover",
            name=name,
            aliases=[alias],
            measures={
                f"cover_height{zone}": f"{height} mm"
                for zone, height in zip(("", ".sensor", ".connector"), heights, strict=True)
            },
            attributes={"generation": "second"},
            ports=[{"name": "mount", "role": "mount", "connection": "rowanfinch_cover", "end": "cover"}],
        )


def drive(number: str, name: str, *, plane: str, span: str, **facts: Any) -> None:
    """A Rowanfinch drive; with `tensioner`, from the pump's boss to its belt, the pump carries the tensioner."""
    tensioner = facts.pop("tensioner", None)
    ports = [{"name": "bracket", "role": "mount", "connection": "rowanfinch_bracket", "end": "bracket"}]
    measures = {"belt_plane": plane, "shortest_span": {"value": span, "plus": "2 mm", "minus": "2 mm"}}
    if tensioner:
        measures["carried_offset"] = tensioner
        ports.append({"name": "tensioner", "role": "carried", "connection": "tensioner_boss", "end": "tensioner"})
    op.add_part(
        number,
        kind="accessory_drive",
        name=name,
        aliases=[f"MT-{number[-3:]}"],
        measures=measures,
        attributes={"profile": "PK", "ribs": 6, "belt_side": "ribbed", "rotation": "clockwise"} | facts,
        ports=ports,
    )


def add_drives() -> None:
    drive("DR-552", "Mapletern truck drive", plane="152.5 mm", span="230 mm")
    drive("DR-558", "Mapletern working drive, eight ribs", plane="152.5 mm", span="225 mm", ribs=8)
    drive(
        "DR-642", "Mapletern outer drive, tensioner on the pump", plane="141.7 mm", span="210 mm", tensioner="42.8 mm"
    )
    drive(
        "DR-652", "Mapletern truck drive, tensioner on the pump", plane="152.5 mm", span="210 mm", tensioner="42.8 mm"
    )
    drive(
        "DR-628",
        "Mapletern middle drive, back of the belt on the pump",
        plane="128 mm",
        span="160 mm",
        belt_side="smooth",
        rotation="counterclockwise",
    )


def add_crank_pulleys() -> None:
    for number, name, grooves, price in (
        ("CP-552", "Rowanfinch truck crank pulley", 6, "104.00 USD"),
        ("CP-558", "Rowanfinch working crank pulley, eight grooves", 8, "126.00 USD"),
    ):
        op.add_part(
            number,
            kind="crank_pulley",
            name=name,
            price=price,
            measures={"offset": "64.4 mm", "diameter": "190 mm"},
            attributes={"profile": "PK", "work": "press"},
            bands=[band(64.4, grooves)],
            ports=[{"name": "bore", "role": "mount", "connection": "rowanfinch_snout", "end": "pulley"}],
        )


def band(centre: float, grooves: int = 6) -> dict[str, Any]:
    """A ribbed band centred there, a little wider than its grooves: six in 22 mm, eight in 29.2 mm."""
    half = {6: 11.0, 8: 14.6}[grooves]
    return {
        "from": f"{centre - half:.1f} mm",
        "to": f"{centre + half:.1f} mm",
        "surface": "ribbed",
        "grooves": grooves,
    }


def cues(outlet: str, grooves: str) -> list[dict[str, Any]]:
    """What tells the pumps apart, asked as in the first release."""
    counts = ["6", "8", "12", "smooth", "no pulley"]
    asked = (
        ("outlet_side", "From behind: which side does the outlet point to?", outlet, ["left", "right"], "in_car", 5),
        ("pulley_grooves", "How many grooves has the pulley?", grooves, counts, "in_car", 3),
        ("housing_bolts", "How many bolts hold the thermostat housing?", "4", ["2", "3", "4"], "off_car", 2),
    )
    fields = ("name", "question", "answer", "answers", "ease", "error_percent")
    return [dict(zip(fields, cue, strict=True)) for cue in asked]


def ports(outlet: str, *more: dict[str, Any]) -> list[dict[str, Any]]:
    """The ports of every Mossheron pump, and more."""
    wet = {"side": outlet, "wet": True, "end": "spigot"}
    return [
        {"name": "mount", "role": "mount", "connection": "rowanfinch_face", "end": "pump", "wet": True},
        {"name": "housing", "role": "housing", "connection": "mossheron_housing", "end": "pump", "wet": True},
        {"name": "outlet", "role": "coolant_out", "connection": "hose_38", "direction": "forward"} | wet,
        {"name": "heater_out", "role": "heater_feed", "connection": "hose_19", "direction": "up"} | wet,
        {"name": "heater_in", "role": "heater_return", "connection": "hose_19", "direction": "up"} | wet,
        *more,
    ]


def rooms(centre: str, sensor: str, connector: str) -> dict[str, str]:
    return {
        "cover_room": f"{centre} mm",
        "cover_room.sensor": f"{sensor} mm",
        "cover_room.connector": f"{connector} mm",
        "flange_thickness": "15 mm",
    }


def plain_pump(number: str, name: str, plane: float, room: tuple[str, str, str], price: str, **more: Any) -> None:
    """A pump with its own pulley of six grooves, outlet to the right where nothing else is said."""
    outlet = more.pop("outlet", "right")
    op.add_part(
        number,
        kind="water_pump",
        name=name,
        price=price,
        measures={
            "belt_plane": f"{plane} mm",
            "front_offset": "12.5 mm",
            "pulley_front": f"{plane + 12.5:.1f} mm",
            "nose": f"{plane + 15:.1f} mm",
            "diameter": "148 mm",
            **rooms(*room),
        },
        attributes={"generation": "mossheron", **TURNED},
        bands=[band(plane)],
        ports=ports(outlet),
        cues=cues(outlet, "6"),
        **more,
    )


def add_pumps() -> None:
    plain_pump(
        "WP-206",
        "Mossheron short pump",
        106.0,
        ("52", "47", "50"),
        "149.00 USD",
        outlet="left",
        aliases=["71205806"],
        recommended=True,
    )
    op.revise_part("WP-108", recommended=False)
    plain_pump(
        "WP-227",
        "Mossheron middle pump",
        127.0,
        ("47.5", "40", "42.5"),
        "169.00 USD",
        recommended=True,
        aliases=["71205827", "7120-527"],
    )
    plain_pump(
        "WP-241",
        "Mossheron outer pump",
        141.0,
        ("58.5", "52.5", "55.5"),
        "289.00 USD",
        recommended=True,
        aliases=["71205841"],
    )
    plain_pump(
        "WP-252",
        "Mossheron truck pump",
        151.8,
        ("62", "56", "59"),
        "259.00 USD",
        recommended=True,
        outlet="left",
        aliases=["71205852"],
    )


def add_special_pumps() -> None:
    op.add_part(
        "WP-228",
        kind="water_pump",
        name="Mossheron reverse pump, smooth pulley for the back of the belt",
        price="199.00 USD",
        aliases=["71205828"],
        recommended=True,
        measures={"belt_plane": "127.3 mm", "nose": "143 mm", **rooms("57.5", "52", "55")},
        attributes={"generation": "mossheron", "rotation": "counterclockwise"},
        bands=[{"from": "113.3 mm", "to": "141.3 mm", "surface": "smooth"}],
        ports=ports("right"),
        cues=cues("right", "smooth"),
    )
    op.add_part(
        "WP-242",
        kind="water_pump",
        name="Mossheron outer pump that carries the tensioner",
        price="312.00 USD",
        aliases=["71205842"],
        measures={"belt_plane": "141 mm", "carrier_face": "98 mm", "nose": "156 mm", **rooms("59", "53", "56")},
        attributes={"generation": "mossheron", **TURNED},
        bands=[band(141.0)],
        ports=ports("left", {"name": "tensioner", "role": "carrier", "connection": "tensioner_boss", "end": "boss"}),
        cues=cues("left", "6"),
    )
    op.add_part(
        "WP-243",
        kind="water_pump",
        name="Mossheron pump with a bare hub",
        price="219.00 USD",
        aliases=["71205843"],
        measures={"hub_face": "118 mm", "nose": "126 mm", **rooms("60", "54", "57")},
        attributes={"generation": "mossheron", "rotation": "clockwise"},
        ports=ports("right", {"name": "hub", "role": "hub", "connection": "pulley_circle", "end": "hub"}),
        cues=cues("right", "no pulley"),
    )
    op.add_part(
        "WP-253",
        kind="water_pump",
        name="Mossheron working pump with a fan thread, eight grooves",
        price="329.00 USD",
        aliases=["71205853"],
        recommended=True,
        measures={"belt_plane": "151.8 mm", "hub_face": "178 mm", "nose": "190 mm", **rooms("62", "56", "59")},
        attributes={"generation": "mossheron", **TURNED},
        bands=[band(151.8, 8)],
        ports=ports("left", {"name": "fan", "role": "fan", "connection": "fan_thread_left", "end": "hub"}),
        cues=cues("left", "8"),
    )


def add_loose_pulleys() -> None:
    for number, name, offset, price, work in (
        ("PU-09", "Loose pump pulley, 9.3 mm offset", 9.3, "45.00 USD", "bolt_on"),
        ("PU-23", "Loose pump pulley, 23 mm offset", 23.0, "49.00 USD", "bolt_on"),
        ("PU-34", "Loose pump pulley, 33.8 mm offset, pressed centre", 33.8, "54.00 USD", "press"),
    ):
        op.add_part(
            number,
            kind="pulley",
            name=name,
            price=price,
            measures={"offset": f"{offset} mm", "front_offset": "12.5 mm", "diameter": "148 mm"},
            attributes={"profile": "PK", "work": work},
            bands=[band(offset)],
            ports=[{"name": "mount", "role": "mount", "connection": "pulley_circle", "end": "pulley"}],
        )


def spacer(thickness: int, price: str) -> None:
    """A spacer as in the first release."""
    face = {"connection": "rowanfinch_face", "wet": True, "gasket": "GK-04"}
    op.add_part(
        f"SP-{thickness}",
        kind="spacer",
        name=f"Rowanfinch pump spacer, {thickness} mm",
        price=f"{price} USD",
        measures={"thickness": {"value": f"{thickness} mm", **GROUND}},
        ports=[
            {"name": "mount", "role": "mount", "end": "pump"} | face,
            {"name": "pump_face", "role": "pump_face", "end": "block"} | face,
        ],
    )


def add_spacers_and_bolts() -> None:
    for thickness, price in ((12, "27.00"), (14, "29.00"), (16, "30.00"), (30, "43.00"), (34, "46.00")):
        spacer(thickness, price)
    for number, thread, length, pieces, price in (
        ("FS-8-100", "M8x1.25", 100, 8, "43.00 USD"),
        ("FS-8-110", "M8x1.25", 110, 8, "47.00 USD"),
        ("FS-6-12", "M6x1", 12, 4, "6.00 USD"),
    ):
        op.add_part(
            number,
            kind="fastener_set",
            name=f"{pieces} bolts {thread} x {length}, with washers",
            price=price,
            measures={"length": f"{length} mm", "washer_thickness": "1.6 mm"},
            attributes={"thread": thread, "pieces": pieces},
        )


def add_rules() -> None:
    op.add_rule(
        "bare_hub_needs_bolts",
        kind="requires",
        part="WP-243",
        others=["FS-6-12"],
        source="the pump is sold without the bolts of its pulley",
    )
    op.add_rule(
        "two_spacers_leaked",
        kind="tested_no_fit",
        part="WP-227",
        others=["DR-541", "SP-06", "SP-08"],
        source="the joint between the two spacers wept; shop test car, 2024",
    )
    op.add_rule(
        "fan_adapter_meets_cover",
        kind="tested_no_fit",
        part="WP-253",
        others=["DR-558", "FC-R6"],
        source="no room for a wrench on the fan nut behind the late cover; shop test truck, 2025",
    )
