"""What goes round the pumps of a family: housings, radiators, heaters, fans, and pumps that are driven elsewhere."""

from catalog.domain import Port, Side
from tests.bench.family import Family
from tests.bench.lines import FAN_SEATS
from tests.bench.shelf import measure


def add_housings(family: Family) -> None:
    dice = family.dice
    for place in range(max(6, len(family.pumps) // 6)):
        bolts = 2 if place % 3 else 3
        ports = [
            family.shelf.outer("mount", "mount", f"{family.key}_housing_{bolts}"),
            family.shelf.inner(
                "neck", "coolant_in", dice.one(("hose_38", "hose_32")), dice.one(("left", "right", "centre"))
            ),
        ]
        attributes: dict[str, bool | int | str] = {}
        if place % 2:
            attributes["thermostat_included"] = True
        else:
            ports.append(family.shelf.inner("seat", "thermostat", f"thermostat_{dice.one((54, 62, 67))}"))
        if place < 4 or dice.chance(50):
            ports.append(family.shelf.inner("heater", "heater_return", dice.one(("hose_19", "hose_16"))))
        if dice.chance(20):
            ports.append(family.shelf.inner("sender", "sensor", "thread_m12"))
        family.housings.append(
            family.shelf.add(
                family.id("TH", place + 1),
                "thermostat_housing",
                f"{family.title} thermostat housing {place + 1}",
                cents=family.cents(25, 90),
                ports=ports,
                measures=(measure("flange_thickness", dice.one((8, 10))),),
                attributes=attributes,
                aliases=(f"75{family.number:03}{place:03}",) if dice.chance(40) else (),
            )
        )
    for place, size in enumerate((54, 62, 67), start=1):
        family.shelf.add(
            family.id("TS", place),
            "thermostat",
            f"{family.title} thermostat, {size} mm, {80 + place} degrees",
            cents=family.cents(9, 30),
            ports=(family.shelf.outer("mount", "mount", f"thermostat_{size}"),),
        )


def add_radiators(family: Family) -> None:
    sides: tuple[tuple[Side, Side], ...] = (
        ("left", "right"),
        ("right", "left"),
        ("left", "left"),
        ("right", "right"),
    )
    for place, (upper, lower) in enumerate(sides, start=1):
        ports = [
            family.shelf.inner("upper", "coolant_in", ("hose_38", "hose_32")[place % 2], upper),
            family.shelf.inner("lower", "coolant_out", "hose_38" if place < 3 else "hose_44", lower),
        ]
        if place == 2:
            ports.append(family.shelf.inner("vent", "vent", "hose_10"))
        family.radiators.append(
            family.shelf.add(
                family.id("RD", place),
                "radiator",
                f"{family.title} radiator {place}, inlet {upper}, outlet {lower}",
                cents=family.cents(180, 420),
                ports=ports,
            )
        )


def add_heaters(family: Family) -> None:
    for place, (feed, back) in enumerate((("hose_16", "hose_19"), ("hose_16", "hose_16")), start=1):
        family.shelf.add(
            family.id("HC", place),
            "heater_core",
            f"{family.title} heater {place}",
            cents=family.cents(90, 200),
            ports=(
                family.shelf.inner("feed", "heater_feed", feed),
                family.shelf.inner("back", "heater_return", back),
            ),
        )


def add_fans(family: Family) -> None:
    for place, (depth, behind) in enumerate(((38, 20), (50, 36), (64, 46)), start=1):
        family.shelf.add(
            family.id("FN", place),
            "fan",
            f"{family.title} engine-driven fan, {400 + 25 * place} mm",
            cents=family.cents(70, 140),
            ports=(family.shelf.outer("mount", "mount", "fan_bolts", wet=False),),
            measures=(measure("depth", depth), measure("depth_behind", behind)),
            attributes={"driven_by": "engine"},
        )
    for place, depth in ((4, 62), (5, 84)):
        family.shelf.add(
            family.id("FN", place),
            "fan",
            f"{family.title} radiator fan, {260 + 20 * place} mm",
            cents=family.cents(90, 180),
            measures=(measure("depth", depth),),
            attributes={"driven_by": "radiator"},
        )
    for hand, seat in zip("RL", FAN_SEATS, strict=True):
        for length in (30, 45, 60):
            family.shelf.add(
                family.id("FA", f"{hand}{length}"),
                "fan_adapter",
                f"{family.title} fan adapter, {seat.rpartition('_')[2]}-hand thread, {length} mm",
                cents=family.cents(35, 65),
                ports=(
                    family.shelf.outer("mount", "mount", seat, wet=False),
                    family.shelf.inner("fan", "fan", "fan_bolts", wet=False),
                ),
                measures=(measure("thickness", length), measure("flange_thickness", 8)),
            )


def add_outlet_plates(family: Family) -> None:
    """Plates that lead to a pump elsewhere, such pumps, and housings that sit in a line."""
    for place, (dash, sides) in enumerate(((20, 1), (16, 1), (20, 2), (16, 2)), start=1):
        ports = [
            family.shelf.outer("mount", "mount", f"{family.key}_face"),
            family.shelf.inner("sensor", "sensor", "thread_m12"),
            family.shelf.inner("heater_out", "heater_feed", "taper_1_2"),
            family.shelf.inner("heater_in", "heater_return", "taper_1_2"),
        ]
        if place != 4:
            ports.append(family.shelf.inner("vent", "vent", "flare_6", None, "up"))
        ports += _mouths(family, f"flare_{dash}", across=sides == 2)
        family.shelf.add(
            family.id("OP", place),
            "outlet_plate",
            f"{family.title} outlet plate, -{dash} lines" + (", cross-over" if sides == 2 else ""),
            cents=family.cents(150, 230),
            ports=ports,
            measures=(
                measure("thickness", 40),
                measure("flange_thickness", 14),
                measure("nose", 62),
                measure("cover_room", 52),
                measure("cover_room.sensor", 48),
            ),
            attributes={"thermostat_included": place == 1},
        )
    for place, dash in enumerate((16, 20), start=1):
        male = f"flare_{dash}"
        family.shelf.add(
            family.id("RP", place),
            "remote_pump",
            f"{family.title} remote pump, electric, -{dash} lines",
            cents=family.cents(220, 390),
            ports=(family.shelf.inner("inlet", "coolant_in", male), family.shelf.inner("outlet", "coolant_out", male)),
        )
        family.shelf.add(
            family.id("TL", place),
            "thermostat_housing",
            f"{family.title} housing for a line, -{dash} flares, thermostat in it",
            cents=family.cents(60, 100),
            ports=(family.shelf.inner("one", "line", male), family.shelf.inner("other", "line", male)),
            attributes={"thermostat_included": True},
        )


def _mouths(family: Family, connection: str, *, across: bool) -> list[Port]:
    ports = []
    roles = (("out", "coolant_out", "supply", "left"), ("into", "coolant_in", "return", "right"))
    for name, role, channel, side in roles:
        for one in ("left", "right") if across else (side,):
            end = f"{name}_{one}" if across else name
            ports.append(
                family.shelf.inner(end, role, connection, one, "forward", channel=channel)  # type: ignore[arg-type]
            )
    return ports
