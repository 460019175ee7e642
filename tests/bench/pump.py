"""The pumps of a family: a casting decides the plane, the room over the cover and the outlet; no two need be alike.

A pump's belt runs 60 mm or more in front of its room for the cover, or 47 mm where its pulley is of one band: so a tall
cover rules the inner planes out, whatever is put under the pump.
"""

from catalog.domain import Band, Cue, Direction, Measure, Port, Side
from tests.bench.family import Family
from tests.bench.lines import FAN_SEATS
from tests.bench.shelf import measure, nm, ribbed, smooth


def add_pump(family: Family, place: int) -> None:
    """A pump: its casting decides the plane, the room over the cover, the outlet; no two need be alike."""
    dice = family.dice
    plane = dice.whole(190, 320) / 2 + dice.one((0, 0.2, 0.7))
    directions: tuple[Direction, ...] = ("forward", "up", "up", "out")
    side, direction = dice.one(family.sides), dice.one(directions)
    style = dice.one(("own",) * 12 + ("wide",) * 3 + ("two",) * 3 + ("smooth", "hub", "hub"))
    gap = 47 if style == "own" else 60
    room = plane - gap - dice.whole(0, 24)
    taken = dice.one(("drawing",) * 7 + ("caliper",) * 2 + ("tape",))
    source = "drawing" if taken == "drawing" else "shop counter, one piece"
    measures = [
        measure("flange_thickness", dice.one((12, 14, 16))),
        measure("nose", plane + 16),
        measure("cover_room", room, taken_with="caliper", source="shop counter")
        if dice.chance(30)
        else measure("cover_room", room),
        measure("cover_room.sensor", room - dice.whole(1, 5)),
    ]
    if dice.chance(50):
        measures.append(measure("cover_room.connector", room - 1))
    bands: list[Band] = []
    ports = _pump_ports(family, side, direction)
    if style == "hub":
        hub = plane - dice.one((20, 28, 36))
        ports.append(family.shelf.inner("hub", "hub", f"{family.key}_hub_{dice.whole(1, 2)}", wet=False))
        measures.append(measure("hub_face", hub))
        measures[2] = measure("cover_room", hub - 48)
        measures[3] = measure("cover_room.sensor", hub - 50)
    else:
        measures.append(measure("belt_plane", plane, taken_with=taken, source=source))  # type: ignore[arg-type]
        bands = _bands(family, style, nm(plane))
    if dice.chance(35) and style != "hub":
        offset = 12.6
        measures += [measure("front_offset", offset), measure("pulley_front", plane + offset)]
    if dice.chance(45):
        ports.append(family.shelf.inner("fan", "fan", dice.one(FAN_SEATS[:1] * 3 + FAN_SEATS), wet=False))
        measures.append(measure("fan_face", plane + 26))
    if dice.chance(40):
        ports.append(family.shelf.inner("idler_boss", "carrier", f"{family.key}_boss", wet=False))
        measures.append(measure("carrier_face", plane - 36 + dice.one((0, 0, 0.4, 3))))
    attributes: dict[str, bool | int | str] = {
        "profile": "PK",
        "rotation": "counterclockwise" if style == "smooth" or dice.chance(8) else "clockwise",
        "thread": dice.one(("M6x1", "M6x1", "M8x1.25")),
        "hole_material": "aluminium",
    }
    if not any(one.name == "cover_room.connector" for one in measures):
        attributes["free_zones"] = "connector"
    measures.append(measure("hole_depth", 18))
    if any(port.role == "heater_return" for port in ports):
        attributes["bypass"] = dice.one(("internal", "internal", "internal", "heater"))
    if dice.chance(12):
        attributes["work"] = dice.one(("hand_fit", "press"))
    pump = family.shelf.add(
        family.id("WP", place + 1),
        "water_pump",
        f"{family.title} water pump {place + 1}, {style} pulley, outlet {side}",
        cents=family.cents(85, 260),
        ports=ports,
        measures=_unique(measures),
        attributes=attributes,
        bands=bands,
        aliases=(
            f"74{family.number:03}{place:04}",
            *((f"74{family.number:03}{place:04}R",) if dice.chance(25) else ()),
        ),
        cues=_cues(side, style),
        recommended=dice.chance(10),
    )
    family.pumps.append(pump)


def _unique(measures: list[Measure]) -> list[Measure]:
    return list({one.name: one for one in measures}.values())


def _bands(family: Family, style: str, plane: int) -> list[Band]:
    if style == "wide":
        return [ribbed(plane, 12)]
    if style == "two":
        return [ribbed(plane, 6), smooth(plane + nm(-10), 24)]
    if style == "smooth":
        return [smooth(plane, 26)]
    return [ribbed(plane, family.dice.one((6, 6, 6, 7, 8, 5)))]


def _pump_ports(family: Family, side: Side, direction: Direction) -> list[Port]:
    shelf, dice, key = family.shelf, family.dice, family.key
    gasket = family.id("GK", dice.one(("thick", "steel"))) if dice.chance(6) and not family.o_ring else None
    main = dice.one(("hose_38", "hose_38", "hose_32", "hose_44"))
    ports = [
        shelf.outer("mount", "mount", f"{key}_face", gasket=gasket),
        shelf.inner("outlet", "coolant_out", main, side, direction),
        shelf.inner("heater_out", "heater_feed", _small(family, ("hose_16", "hose_16", "taper_1_2")), side, "back"),
    ]
    if dice.chance(85):
        ports.append(shelf.inner("housing", "housing", f"{key}_housing_{dice.one((2, 2, 3))}", side))
    else:
        ports.append(shelf.inner("inlet", "coolant_in", dice.one(("hose_38", "hose_44")), side, "forward"))
    if dice.chance(85):
        ports.append(shelf.inner("heater_in", "heater_return", _small(family, ("hose_19", "taper_1_2")), side, "back"))
    if dice.chance(25):
        ports.append(shelf.inner("vent", "vent", dice.one(("hose_10", "flare_6")), None, "up"))
    if dice.chance(30):
        ports.append(shelf.inner("sensor", "sensor", dice.one(("thread_m12", "taper_3_8"))))
    if dice.chance(10):
        ports.append(shelf.inner("bypass", "bypass", dice.one(("hose_13", "hose_16"))))
    return ports


def _small(family: Family, sizes: tuple[str, ...]) -> str:
    return family.dice.one(family.quick[3:5]) if family.quick and family.dice.chance(30) else family.dice.one(sizes)


def _cues(side: str, style: str) -> tuple[Cue, ...]:
    asked = (
        (
            "outlet_side",
            "From behind: which side does the outlet point to?",
            side,
            ("left", "right", "centre"),
            "in_car",
            5,
        ),
        ("pulley", "What is the pulley like?", style, ("own", "wide", "two", "smooth", "hub"), "in_car", 3),
    )
    return tuple(Cue(*cue) for cue in asked)
