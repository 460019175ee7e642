"""The sixth release of the demo: thermostat housings, thermostats, necks, and what bolts them to the pumps.

The pumps' own threaded holes are told here: Ashplover M8 in aluminium, Mossheron M6 in aluminium, Greyalder M8 in
iron. Housings of the two Rowanfinch generations do not interchange.
"""

from typing import Any

from alembic import op

revision = "catalog_0006"
down_revision = "catalog_0005"
branch_labels = None
depends_on = None

COMPRESSED = {"plus": "0.05 mm", "minus": "0.05 mm", "source": "maker's drawing, at the stated torque"}
ASHPLOVER = ("22 mm", "M8x1.25", "aluminium")
MOSSHERON = ("18 mm", "M6x1", "aluminium")
GREYALDER = ("22 mm", "M8x1.25", "cast_iron")


def upgrade() -> None:
    add_seals()
    add_connections()
    tell_ashplover_pumps()
    tell_mossheron_pumps()
    tell_greyalder_pumps()
    op.revise_part("ENG-R22", ports=[coolant("bypass", "bypass", "hose_16", direction="up")])
    op.revise_part("ENG-G32", ports=[coolant("bypass", "bypass", "hose_19", direction="up")])
    add_thermostats()
    add_housings()
    add_necks()
    add_fasteners()
    op.publish_release(
        6,
        name="housings",
        on="2026-11-09",
        note="Thermostat housings, thermostats, necks, and their bolts and seals; the pumps' bypass, vent and sensor",
        digest="sha256:411bff5e6ce490909b0335fe9e42025be3d734a2a8d19304c0627de25781f1fc",
    )


def downgrade() -> None:
    op.withdraw_release(6)


def add_seals() -> None:
    for number, name, price in (
        ("OR-M4", "O-ring of the Mossheron thermostat housing", "3.20 USD"),
        ("OR-G3", "O-ring of the Greyalder thermostat housing", "2.90 USD"),
        ("OR-MN", "O-ring of the Mossheron outlet neck", "2.40 USD"),
    ):
        op.add_part(number, kind="gasket", name=name, price=price)
    for number, name, thickness, price in (
        ("GK-GN", "Greyalder outlet neck gasket", "0.6 mm", "2.10 USD"),
        ("GK-TH2T", "Ashplover thermostat housing gasket, thick", "1.5 mm", "3.40 USD"),
    ):
        op.add_part(
            number, kind="gasket", name=name, price=price, measures={"thickness": {"value": thickness, **COMPRESSED}}
        )


def add_connections() -> None:
    op.revise_connection("mossheron_housing", gasket="OR-M4")
    op.revise_connection("greyalder_housing", gasket="OR-G3")
    for name, title, seal, gasket in (
        ("mossheron_neck", "Mossheron outlet neck face, two bolts", "o_ring", "OR-MN"),
        ("greyalder_neck", "Greyalder outlet neck face, two bolts", "gasket", "GK-GN"),
    ):
        op.add_connection(name, title=title, sort="face", ends=["pump", "neck"], seal=seal, gasket=gasket, bolts=2)
    op.add_connection(
        "thermostat_54",
        title="Seat of a 54 mm thermostat",
        sort="seat",
        ends=["housing", "thermostat"],
        seal="none",
    )
    op.add_connection(
        "fan_thread_right", title="Right-hand fan thread", sort="fan_thread", ends=["nose", "nut"], seal="none"
    )
    op.revise_connection("fan_thread_left", title="Left-hand fan thread", sort="fan_thread", ends=["nose", "nut"])
    op.revise_connection("pulley_circle", sort="bolt_circle")
    op.revise_connection("tensioner_boss", sort="boss")


FIRST_ENDS = {"hose": "spigot", "flare": "male", "press": "bore", "taper": "hole", "thread": "hole", "weld": "bung"}


def coolant(name: str, role: str, connection: str, **more: Any) -> dict[str, Any]:
    """A wet port on the first end of a connection."""
    end = FIRST_ENDS.get(connection.partition("_")[0], "pump")
    return {"name": name, "role": role, "connection": connection, "end": end, "wet": True, **more}


def tell_pump(number: str, holes: tuple[str, str, str], *, bypass: str = "internal", **more: Any) -> None:
    """The threaded holes that a pump offers to its housing, its bypass, and more ports."""
    depth, thread, material = holes
    op.revise_part(
        number,
        measures={"hole_depth": depth, **more.pop("measures", {})},
        attributes={"thread": thread, "hole_material": material, "bypass": bypass},
        **more,
    )


def tell_ashplover_pumps() -> None:
    right = {"side": "right", "direction": "back"}
    tell_pump("WP-108", ASHPLOVER)
    tell_pump("WP-117", ASHPLOVER, ports=[coolant("sensor", "sensor", "taper_3_8")])
    tell_pump("WP-127", ASHPLOVER, bypass="heater")
    # A rebuilder pulls the nipples; new ones are pressed in.
    bores = [
        coolant("heater_out", "heater_feed", "press_19", **right),
        coolant("heater_in", "heater_return", "press_19", **right),
    ]
    tell_pump("WP-139", ASHPLOVER, ports=bores)
    # Its heater's return goes to the housing.
    vent, sensor = coolant("vent", "vent", "hose_6"), coolant("sensor", "sensor", "taper_3_8")
    tell_pump("WP-140", ASHPLOVER, ports=[vent, sensor, {"name": "heater_in", "gone": True}])


def tell_mossheron_pumps() -> None:
    sensor = coolant("sensor", "sensor", "thread_m12")
    vent = coolant("vent", "vent", "hose_6", direction="up")
    neck = coolant("outlet", "coolant_out", "mossheron_neck", side="left", direction="forward")
    fan = {"name": "fan", "role": "fan", "connection": "fan_thread_left", "end": "nose"}
    tell_pump("WP-206", MOSSHERON, ports=[sensor])
    tell_pump("WP-227", MOSSHERON, ports=[sensor, vent])
    tell_pump("WP-228", MOSSHERON)
    tell_pump("WP-241", MOSSHERON, ports=[sensor, vent])
    tell_pump("WP-242", MOSSHERON, bypass="port", ports=[coolant("bypass", "bypass", "hose_19")])
    tell_pump("WP-243", MOSSHERON, ports=[sensor])
    tell_pump("WP-252", MOSSHERON, ports=[neck, sensor])
    bypass = coolant("bypass", "bypass", "hose_16", direction="up")
    tell_pump("WP-253", MOSSHERON, bypass="port", measures={"fan_face": "178 mm"}, ports=[fan, sensor, bypass])


def tell_greyalder_pumps() -> None:
    left = {"side": "left", "direction": "back"}
    tell_pump("WP-G31", GREYALDER, ports=[coolant("sensor", "sensor", "taper_3_8")])
    tell_pump(
        "WP-G32",
        GREYALDER,
        bypass="port",
        measures={"fan_face": "158 mm", "nose": "168 mm"},
        ports=[
            coolant("outlet", "coolant_out", "greyalder_neck", side="left", direction="forward"),
            coolant("heater_out", "heater_feed", "taper_1_2", **left),
            coolant("heater_in", "heater_return", "taper_1_2", **left),
            coolant("bypass", "bypass", "hose_19"),
            {"name": "fan", "role": "fan", "connection": "fan_thread_right", "end": "nose"},
        ],
    )


def add_thermostats() -> None:
    seat = [{"name": "mount", "role": "mount", "connection": "thermostat_54", "end": "thermostat", "wet": True}]
    for degrees, price in ((71, "17.90"), (77, "16.50"), (82, "13.50"), (88, "14.50"), (92, "15.50")):
        name = f"Thermostat, 54 mm, opens at {degrees} degrees C, with its ring"
        op.add_part(f"TS-{degrees}", kind="thermostat", name=name, price=f"{price} USD", ports=seat)
    op.add_part(
        "TS-82F", kind="thermostat", name="Thermostat, 54 mm, 82 degrees C, high flow", price="24.00 USD", ports=seat
    )


def housing(number: str, family: str, way: str, line: str, price: str, **more: Any) -> None:
    """A thermostat housing: which way its inlet points, on which connection; without `included` it takes a 54 mm
    thermostat, and with `bare` it has no place for one."""
    side, direction = way.split()
    included, extra = more.pop("included", False), more.pop("extra", [])
    mount = {"connection": f"{family}_housing", "end": "housing", "wet": True, "gasket": more.pop("gasket", None)}
    thickness = {"ashplover": "7 mm", "mossheron": "8 mm", "greyalder": "12 mm"}[family]
    inside = "thermostat in it" if included else "takes a thermostat"
    ports = [
        {"name": "mount", "role": "mount", **mount},
        coolant("inlet", "coolant_in", line, side=side, direction=direction),
        *extra,
    ]
    if not included:
        seat = {"connection": "thermostat_54", "end": "housing", "wet": True}
        ports.append({"name": "thermostat", "role": "thermostat", **seat})
    op.add_part(
        number,
        kind="thermostat_housing",
        name=f"{family.capitalize()} thermostat housing, {side}, {direction}, {more.pop('what')}, {inside}",
        price=f"{price} USD",
        measures={"flange_thickness": thickness, **more.pop("measures", {})},
        attributes={"thermostat_included": included, **more.pop("attributes", {})},
        ports=ports,
        **more,
    )


def add_housings() -> None:
    sensor = coolant("sensor", "sensor", "thread_m12")
    vent = coolant("vent", "vent", "hose_6", direction="up")
    heater = coolant("heater_in", "heater_return", "hose_19", direction="back")
    depth = {"hole_depth": "18 mm"}
    holes = {"attributes": {"thread": "M6x1", "hole_material": "aluminium"}}
    inch, wide = "1 1/2 in hose", "1 3/4 in hose"
    for number, way, line, what, price, more in (
        ("TH-M09", "right forward", "hose_38", inch, "34.00", {}),
        ("TH-M10", "right forward", "hose_38", inch, "29.00", {"recommended": True}),
        ("TH-M11", "left forward", "hose_38", inch, "31.00", {}),
        ("TH-M12", "right up", "hose_38", inch, "47.00", {"included": True}),
        ("TH-M13", "left up", "hose_38", inch, "49.00", {"included": True}),
        ("TH-M14", "right back", "hose_44", wide, "44.00", {}),
        ("TH-M15", "right forward", "hose_38", f"{inch}, heater return", "39.50", {"extra": [heater]}),
        ("TH-M16", "right forward", "flare_20", "-20 flare", "64.00", {}),
        ("TH-M17", "left forward", "flare_16", "-16 flare", "89.00", {"included": True}),
        ("TH-M18", "centre up", "press_38", "bore for a press-in neck", "33.00", {"attributes": {"work": "press"}}),
        ("TH-M19", "right down", "hose_38", f"{inch}, sensor", "28.00", {"extra": [sensor]}),
        ("TH-M20", "centre forward", "mossheron_neck", "face for a neck", "25.00", {"measures": depth} | holes),
    ):
        housing(number, "mossheron", way, line, price, what=what, **more)
    for number, way, line, what, price, more in (
        ("TH-A10", "right forward", "hose_38", inch, "26.00", {"recommended": True}),
        ("TH-A11", "left forward", "hose_38", inch, "27.50", {}),
        ("TH-A12", "right up", "hose_38", inch, "43.00", {"included": True}),
        ("TH-A13", "left out", "hose_32", "1 1/4 in hose", "28.50", {}),
        ("TH-A14", "right forward", "flare_16", "-16 flare", "58.00", {}),
        ("TH-A15", "left up", "flare_20", "-20 flare", "61.00", {"gasket": "GK-TH2T"}),
        ("TH-A16", "right back", "hose_38", f"{inch}, heater return", "36.50", {"extra": [heater]}),
    ):
        housing(number, "ashplover", way, line, price, what=what, **more)
    for number, way, line, what, price, more in (
        ("TH-G10", "left forward", "hose_32", "1 1/4 in hose", "32.00", {"recommended": True}),
        ("TH-G11", "right forward", "hose_32", "1 1/4 in hose", "33.50", {}),
        ("TH-G12", "left up", "hose_38", f"{inch}, vent", "53.00", {"included": True, "extra": [vent]}),
        ("TH-G13", "right out", "flare_16", "-16 flare", "66.00", {}),
    ):
        housing(number, "greyalder", way, line, price, what=what, **more)
    op.add_part("SA-12", kind="fitting", name="Sensor adapter for the housing that points down", price="9.00 USD")
    op.add_rule(
        "housing_needs_sensor_adapter",
        kind="requires",
        part="TH-M19",
        others=["SA-12"],
        source="its sensor hole is deeper than the usual sender is long; shop drawing",
    )


def neck(number: str, family: str, way: str, end: str, price: str, what: str) -> None:
    """A bolted outlet neck."""
    side, direction = way.split()
    op.add_part(
        number,
        kind="fitting",
        name=f"{family.capitalize()} outlet neck, {side}, {direction}, {what}",
        price=f"{price} USD",
        measures={"flange_thickness": "8 mm" if family == "mossheron" else "12 mm"},
        ports=[
            {"name": "mount", "role": "mount", "connection": f"{family}_neck", "end": "neck", "wet": True},
            coolant("line", "line", end, side=side, direction=direction),
        ],
    )


def add_necks() -> None:
    for number, way, end, price, what in (
        ("NK-M10", "left forward", "hose_38", "22.00", "1 1/2 in hose"),
        ("NK-M11", "right forward", "hose_38", "23.00", "1 1/2 in hose"),
        ("NK-M12", "centre up", "hose_38", "24.00", "1 1/2 in hose"),
        ("NK-M13", "left out", "hose_32", "22.50", "1 1/4 in hose"),
        ("NK-M14", "right up", "hose_44", "26.00", "1 3/4 in hose"),
        ("NK-M16", "left forward", "flare_16", "41.00", "-16 flare"),
        ("NK-M20", "right forward", "flare_20", "45.00", "-20 flare"),
        ("NK-M21", "centre up", "taper_1_2", "27.00", "1/2 in taper thread"),
    ):
        neck(number, "mossheron", way, end, price, what)
    for number, way, end, price, what in (
        ("NK-G10", "left forward", "hose_32", "19.00", "1 1/4 in hose"),
        ("NK-G11", "right up", "hose_32", "20.00", "1 1/4 in hose"),
        ("NK-G12", "left up", "hose_38", "21.50", "1 1/2 in hose"),
        ("NK-G16", "right forward", "flare_16", "38.00", "-16 flare"),
    ):
        neck(number, "greyalder", way, end, price, what)
    for number, one, other, price in (
        ("NP-MG", "mossheron", "greyalder", "34.00"),
        ("NP-GR", "greyalder", "mossheron", "36.00"),
    ):
        op.add_part(
            number,
            kind="fitting",
            name=f"Face plate that takes a {other.capitalize()} neck on a {one.capitalize()} pump",
            price=f"{price} USD",
            measures={"flange_thickness": "10 mm"},
            ports=[
                {"name": "mount", "role": "mount", "connection": f"{one}_neck", "end": "neck", "wet": True},
                {"name": "face", "role": "line", "connection": f"{other}_neck", "end": "pump", "wet": True},
            ],
        )
        op.add_part(
            f"BO-{one[0].upper()}N",
            kind="cap",
            name=f"Blanking plate for a {one.capitalize()} neck face",
            price="12.00 USD",
            ports=[{"name": "mount", "role": "mount", "connection": f"{one}_neck", "end": "neck", "wet": True}],
        )


def bolts(number: str, thread: str, length: int, pieces: int, price: str) -> None:
    op.add_part(
        number,
        kind="fastener_set",
        name=f"{pieces} bolts {thread} x {length}, with washers",
        price=f"{price} USD",
        measures={"length": f"{length} mm", "washer_thickness": "1.6 mm"},
        attributes={"thread": thread, "pieces": pieces},
    )


def add_fasteners() -> None:
    """Bolts for housings and necks, and kits with the bolts of the block and of the housing."""
    for length, four, two in ((20, "6.60", "3.90"), (25, "7.00", "4.20"), (30, "7.50", "4.50"), (35, "8.10", "4.80")):
        bolts(f"FS-6-{length}", "M6x1", length, 4, four)
        bolts(f"FS-6-{length}-2", "M6x1", length, 2, two)
    for length, two, three in ((30, "6.50", "8.40"), (35, "6.90", "8.90"), (40, "7.40", "9.60")):
        bolts(f"FS-8-{length}-2", "M8x1.25", length, 2, two)
        bolts(f"FS-8-{length}-3", "M8x1.25", length, 3, three)
    for length, price in ((30, "21.00"), (35, "22.50"), (50, "27.00")):
        op.add_part(
            f"BK-A{length}",
            kind="fastener_set",
            name=f"Bolt kit M8x1.25: 8 x {length} for the pump, 2 x 30 for its housing, with washers",
            price=f"{price} USD",
            measures={"length": f"{length} mm", "length.housing": "30 mm", "washer_thickness": "1.6 mm"},
            attributes={"thread": "M8x1.25", "pieces": 8, "housing_pieces": 2},
        )
