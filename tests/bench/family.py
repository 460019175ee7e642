"""One maker's front of the engine: a face with its engines, drives, covers, plates and pumps, and what goes round them.

Along z, from the block's pump face, belts run in six planes and more. A pump's belt always runs 60 mm or more in front
of its room for the cover, or 45 mm where its pulley has one place for the belt: so a tall cover rules the inner planes
out, whatever is put under the pump.
"""

from catalog.domain import Band, Cue, Direction, Measure, Part, Port, Side
from tests.bench.lines import FAN_SEATS
from tests.bench.shelf import Dice, Shelf, measure, nm, ribbed, smooth

PLANES = (106.7, 118.9, 128.0, 141.7, 152.5, 166.1)
"""Belt planes of the drives, mm from the block's pump face."""
SMOOTH_PLANE = 134.4
COVERS = (("low", 34.0), ("raised", 44.0), ("tall", 58.0), ("tallest", 78.0))
CRANK_FACE = 88.0
SPACERS = (3, 5, 6, 8, 10, 12, 16, 20, 25, 32, 40)
QUICK = (8, 10, 13, 16, 19, 22, 25, 28, 32, 35, 38, 42)
"""Sizes of a maker's own quick connectors, mm."""


class Family:
    """A maker's parts. `number` names them, `title` is the coined name, `sides` are those that outlets point to."""

    def __init__(self, shelf: Shelf, dice: Dice, number: int, title: str, sides: tuple[Side, ...]) -> None:
        self.shelf, self.dice, self.number, self.title, self.sides = shelf, dice, number, title, sides
        self.key = title.lower()
        self.o_ring = number > 1 and dice.chance(20)
        self.halves = 1 if dice.chance(60) else 2
        self.quick = [f"{self.key}_quick_{size}" for size in QUICK] if number > 1 else []
        self.pumps: list[Part] = []
        self.housings: list[Part] = []
        self.radiators: list[Part] = []
        self._add_gaskets()
        self._add_connections()

    def add(self, pumps: int, *, small: bool = False) -> "Family":
        """Put everything on the shelf, with so many pumps on the face."""
        self._add_drives()
        self._add_covers()
        self._add_plates(SPACERS[1::3] if small or self.number else SPACERS)
        self._add_pulleys()
        for place in range(pumps):
            self._add_pump(place)
        self._add_housings()
        self._add_radiators()
        self._add_heaters()
        self._add_fans()
        self._add_outlet_plates()
        return self

    def id(self, prefix: str, place: float | str) -> str:
        """A part number of this family."""
        return (
            f"{prefix}-{self.number:03}-{place:04}" if isinstance(place, int) else f"{prefix}-{self.number:03}-{place}"
        )

    def _cents(self, low: int, high: int) -> int | None:
        return None if self.dice.chance(1.5) else self.dice.whole(low, high) * 100 + self.dice.one((0, 50, 90))

    def _add_gaskets(self) -> None:
        kinds = (("thick", 1.2), ("factory", 0.7), ("thin", 0.4), ("housing", 0.8), ("steel", 0.5))
        for name, thickness in kinds:
            self.shelf.add(
                self.id("GK", name),
                "gasket",
                f"{self.title} {name} gasket",
                cents=250 + 100 * len(name),
                measures=(
                    measure("thickness", thickness, within=0.05, source="maker's drawing, at the stated torque"),
                ),
            )

    def _add_connections(self) -> None:
        shelf, title = self.shelf, self.title
        factory, housing = self.id("GK", "factory"), self.id("GK", "housing")
        seal, gasket = ("o_ring", None) if self.o_ring else ("gasket", factory)
        shelf.connect(
            f"{self.key}_face",
            f"{title} pump face",
            "face",
            ("block", "pump"),
            seal,  # type: ignore[arg-type]
            pieces=self.halves,
            gasket=gasket,
            bolts=6 if self.halves == 1 else 8,
        )
        for bolts in (2, 3):
            shelf.connect(
                f"{self.key}_housing_{bolts}",
                f"{title} thermostat housing face, {bolts} bolts",
                "face",
                ("pump", "housing"),
                "gasket",
                gasket=housing,
                bolts=bolts,
            )
        shelf.connect(f"{self.key}_cover", f"{title} front cover face", "face", ("block", "cover"), "sealant")
        shelf.connect(f"{self.key}_bracket", f"{title} bracket bosses", "face", ("head", "bracket"), "none")
        shelf.connect(f"{self.key}_snout", f"{title} crank snout", "press", ("crank", "pulley"), "none")
        shelf.connect(f"{self.key}_boss", f"{title} idler boss", "boss", ("boss", "bracket"), "none")
        for place in (1, 2):
            shelf.connect(f"{self.key}_hub_{place}", f"{title} pulley circle {place}", "hub", ("hub", "pulley"), "none")
        for name in self.quick:
            size = name.rpartition("_")[2]
            shelf.connect(name, f"{title} quick connector, {size} mm", "quick", ("spigot", "hose"), "o_ring")

    def add_engines(self, second: "Family | None" = None) -> None:
        """Three engines; the third takes the pumps of a second face as well."""
        shelf, key = self.shelf, self.key
        for place, material in enumerate(("aluminium", "cast_iron", "aluminium"), start=1):
            ports = [
                shelf.inner("face", "pump_face", f"{key}_face"),
                shelf.inner("cover_face", "cover_face", f"{key}_cover", wet=False),
                shelf.inner("bosses", "drive_face", f"{key}_bracket", wet=False),
                shelf.inner("snout", "crank", f"{key}_snout", wet=False),
            ]
            if place == 3 and second is not None:
                ports.append(shelf.inner("second_face", "pump_face", f"{second.key}_face"))
            if place == 2:
                ports.append(shelf.inner("bypass", "bypass", "hose_13"))
            shelf.add(
                self.id("EN", place),
                "engine",
                f"{self.title} engine, {('first', 'second', 'third')[place - 1]} generation",
                ports=ports,
                measures=(
                    measure("hole_depth", 26 if material == "aluminium" else 22),
                    measure("crank_face", CRANK_FACE),
                ),
                attributes={"thread": "M8x1.25", "hole_material": material, "wet_holes": place != 2},
                aliases=(f"70{self.number:03}-{place}00",),
            )

    def _add_drives(self) -> None:
        for place, plane in enumerate(PLANES, start=1):
            self._drive(place, plane, "ribbed", carries=False)
            self._crank(place, plane)
        self._drive(7, SMOOTH_PLANE, "smooth", carries=False)
        self._crank(7, SMOOTH_PLANE)
        self._drive(8, PLANES[3], "ribbed", carries=True)

    def _drive(self, place: int, plane: float, surface: str, *, carries: bool) -> None:
        shelf = self.shelf
        belt = self.id("BT", place)
        shelf.add(
            belt,
            "belt",
            f"Belt 6PK for the {self.title} drive {place}, without the pump",
            cents=self._cents(19, 35),
            attributes={"profile": "PK", "ribs": 6},
        )
        ports = [shelf.outer("bracket", "mount", f"{self.key}_bracket", wet=False)]
        measures = [
            measure("belt_plane", plane),
            measure("nose", plane + 18),
            measure("shortest_span", self.dice.one((180, 210, 240)), within=2),
        ]
        if carries:
            ports.append(shelf.outer("idler", "carried", f"{self.key}_boss", wet=False))
            measures.append(measure("carried_offset", 36))
        shelf.add(
            self.id("DR", place),
            "accessory_drive",
            f"{self.title} drive {place}, belt at {plane} mm" + (", idler on the pump" if carries else ""),
            ports=ports,
            measures=measures,
            attributes={
                "profile": "PK",
                "ribs": 6,
                "belt_side": surface,
                "rotation": "clockwise" if surface == "ribbed" else "counterclockwise",
            }
            | ({"belt_without_pump": belt} if place % 2 else {}),
            aliases=(f"72{self.number:03}-{place}",),
        )

    def _crank(self, place: int, plane: float) -> None:
        offset = plane - CRANK_FACE
        self.shelf.add(
            self.id("CP", place),
            "crank_pulley",
            f"{self.title} crank pulley {place}",
            cents=self._cents(80, 120),
            ports=(self.shelf.outer("bore", "mount", f"{self.key}_snout", wet=False),),
            measures=(measure("offset", offset), measure("diameter", 190)),
            attributes={"profile": "PK", "work": "press"},
            bands=(ribbed(nm(offset), 6),),
        )

    def _add_covers(self) -> None:
        for place, (name, height) in enumerate(COVERS, start=1):
            self.shelf.add(
                self.id("FC", place),
                "front_cover",
                f"{self.title} {name} front cover",
                ports=(self.shelf.outer("mount", "mount", f"{self.key}_cover", wet=False),),
                measures=(
                    measure("cover_height", height),
                    measure("cover_height.sensor", height - 4, taken_with="caliper", source="shop counter"),
                    *((measure("cover_height.connector", height - 2),) if place % 2 else ()),
                ),
                aliases=(f"73{self.number:03}-{place}",),
            )

    def _add_plates(self, thicknesses: tuple[int, ...]) -> None:
        thin = None if self.o_ring else self.id("GK", "thin")
        face = f"{self.key}_face"
        for thickness in thicknesses:
            self.shelf.add(
                self.id("SP", f"{thickness:02}"),
                "spacer",
                f"{self.title} pump spacer, {thickness} mm",
                cents=self._cents(20 + thickness // 2, 28 + thickness // 2),
                ports=(
                    self.shelf.outer("mount", "mount", face, gasket=thin),
                    self.shelf.inner("pump_face", "pump_face", face, gasket=thin),
                ),
                measures=(measure("thickness", thickness, within=0.05, source="ground on both sides"),),
            )

    def add_adapter(self, other: "Family", place: int, thickness: float, *, tapped: bool) -> None:
        """A plate from this face to another maker's; a tapped one holds what is in front of it by its own threads."""
        measures = [measure("thickness", thickness, within=0.05)]
        attributes: dict[str, bool | int | str] = {}
        if tapped:
            measures += [measure("hole_depth", 20), measure("flange_thickness", 12)]
            attributes = {"thread": "M8x1.25", "hole_material": "steel"}
        self.shelf.add(
            self.id("AP", f"{other.number:03}-{place}"),
            "adapter_plate",
            f"Adapter plate, {self.title} block to {other.title} pump, {thickness} mm",
            cents=self._cents(70, 140),
            ports=(
                self.shelf.outer("mount", "mount", f"{self.key}_face"),
                self.shelf.inner("pump_face", "pump_face", f"{other.key}_face"),
            ),
            measures=measures,
            attributes=attributes,
        )

    def _add_pulleys(self) -> None:
        for place in range(1, 9):
            offset = 12 + 4 * place
            bands = [ribbed(nm(offset), 6)]
            if place % 4 == 0:
                bands.append(smooth(nm(offset - 18), 26))
            self.shelf.add(
                self.id("PU", place),
                "pulley",
                f"{self.title} pump pulley {place}",
                cents=self._cents(30, 70),
                ports=(self.shelf.outer("mount", "mount", f"{self.key}_hub_{1 + place % 2}", wet=False),),
                measures=(measure("offset", offset), measure("diameter", 120 + 4 * place)),
                attributes={"profile": "PK"},
                bands=bands,
            )

    def _add_pump(self, place: int) -> None:
        """A pump: its casting decides the plane, the room over the cover, the outlet; no two need be alike."""
        dice = self.dice
        plane = dice.whole(190, 320) / 2 + dice.one((0, 0.2, 0.7))
        side, direction = dice.one(self.sides), dice.one(("forward", "up", "up", "out"))
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
        ports = self._pump_ports(side, direction)
        if style == "hub":
            hub = plane - dice.one((20, 28, 36))
            ports.append(self.shelf.inner("hub", "hub", f"{self.key}_hub_{dice.whole(1, 2)}", wet=False))
            measures.append(measure("hub_face", hub))
            measures[2] = measure("cover_room", hub - 48)
            measures[3] = measure("cover_room.sensor", hub - 50)
        else:
            measures.append(measure("belt_plane", plane, taken_with=taken, source=source))  # type: ignore[arg-type]
            bands = self._bands(style, nm(plane))
        if dice.chance(35) and style != "hub":
            offset = 12.6
            measures += [measure("front_offset", offset), measure("pulley_front", plane + offset)]
        if dice.chance(45):
            ports.append(self.shelf.inner("fan", "fan", dice.one(FAN_SEATS[:1] * 3 + FAN_SEATS), wet=False))
            measures.append(measure("fan_face", plane + 26))
        if dice.chance(40):
            ports.append(self.shelf.inner("idler_boss", "carrier", f"{self.key}_boss", wet=False))
            measures.append(measure("carrier_face", plane - 36 + dice.one((0, 0, 0.4, 3))))
        attributes: dict[str, bool | int | str] = {
            "profile": "PK",
            "rotation": "counterclockwise" if style == "smooth" or dice.chance(8) else "clockwise",
            "thread": dice.one(("M6x1", "M6x1", "M8x1.25")),
            "hole_material": "aluminium",
        }
        measures.append(measure("hole_depth", 18))
        if any(port.role == "heater_return" for port in ports):
            attributes["bypass"] = dice.one(("internal", "internal", "internal", "heater"))
        if dice.chance(12):
            attributes["work"] = dice.one(("hand_fit", "press"))
        pump = self.shelf.add(
            self.id("WP", place + 1),
            "water_pump",
            f"{self.title} water pump {place + 1}, {style} pulley, outlet {side}",
            cents=self._cents(85, 260),
            ports=ports,
            measures=self._unique(measures),
            attributes=attributes,
            bands=bands,
            aliases=(
                f"74{self.number:03}{place:04}",
                *((f"74{self.number:03}{place:04}R",) if dice.chance(25) else ()),
            ),
            cues=_cues(side, style),
            recommended=dice.chance(10),
        )
        self.pumps.append(pump)

    @staticmethod
    def _unique(measures: list[Measure]) -> list[Measure]:
        return list({one.name: one for one in measures}.values())

    def _bands(self, style: str, plane: int) -> list[Band]:
        if style == "wide":
            return [ribbed(plane, 12)]
        if style == "two":
            return [ribbed(plane, 6), smooth(plane + nm(-10), 24)]
        if style == "smooth":
            return [smooth(plane, 26)]
        return [ribbed(plane, self.dice.one((6, 6, 6, 7, 8, 5)))]

    def _pump_ports(self, side: Side, direction: Direction) -> list[Port]:
        shelf, dice, key = self.shelf, self.dice, self.key
        gasket = self.id("GK", dice.one(("thick", "steel"))) if dice.chance(6) and not self.o_ring else None
        main = dice.one(("hose_38", "hose_38", "hose_32", "hose_44"))
        ports = [
            shelf.outer("mount", "mount", f"{key}_face", gasket=gasket),
            shelf.inner("outlet", "coolant_out", main, side, direction),
            shelf.inner("heater_out", "heater_feed", self._small(("hose_16", "hose_16", "taper_1_2")), side, "back"),
        ]
        if dice.chance(85):
            ports.append(shelf.inner("housing", "housing", f"{key}_housing_{dice.one((2, 2, 3))}", side))
        else:
            ports.append(shelf.inner("inlet", "coolant_in", dice.one(("hose_38", "hose_44")), side, "forward"))
        if dice.chance(85):
            ports.append(shelf.inner("heater_in", "heater_return", self._small(("hose_19", "taper_1_2")), side, "back"))
        if dice.chance(25):
            ports.append(shelf.inner("vent", "vent", dice.one(("hose_10", "flare_6")), None, "up"))
        if dice.chance(30):
            ports.append(shelf.inner("sensor", "sensor", dice.one(("thread_m12", "taper_3_8"))))
        if dice.chance(10):
            ports.append(shelf.inner("bypass", "bypass", dice.one(("hose_13", "hose_16"))))
        return ports

    def _small(self, sizes: tuple[str, ...]) -> str:
        return self.dice.one(self.quick[3:5]) if self.quick and self.dice.chance(30) else self.dice.one(sizes)

    def _add_housings(self) -> None:
        dice = self.dice
        for place in range(max(6, len(self.pumps) // 6)):
            bolts = 2 if place % 3 else 3
            ports = [
                self.shelf.outer("mount", "mount", f"{self.key}_housing_{bolts}"),
                self.shelf.inner(
                    "neck", "coolant_in", dice.one(("hose_38", "hose_32")), dice.one(("left", "right", "centre"))
                ),
            ]
            attributes: dict[str, bool | int | str] = {}
            if place % 2:
                attributes["thermostat_included"] = True
            else:
                ports.append(self.shelf.inner("seat", "thermostat", f"thermostat_{dice.one((54, 62, 67))}"))
            if place < 4 or dice.chance(50):
                ports.append(self.shelf.inner("heater", "heater_return", dice.one(("hose_19", "hose_16"))))
            if dice.chance(20):
                ports.append(self.shelf.inner("sender", "sensor", "thread_m12"))
            self.housings.append(
                self.shelf.add(
                    self.id("TH", place + 1),
                    "thermostat_housing",
                    f"{self.title} thermostat housing {place + 1}",
                    cents=self._cents(25, 90),
                    ports=ports,
                    measures=(measure("flange_thickness", dice.one((8, 10))),),
                    attributes=attributes,
                    aliases=(f"75{self.number:03}{place:03}",) if dice.chance(40) else (),
                )
            )
        for place, size in enumerate((54, 62, 67), start=1):
            self.shelf.add(
                self.id("TS", place),
                "thermostat",
                f"{self.title} thermostat, {size} mm, {80 + place} degrees",
                cents=self._cents(9, 30),
                ports=(self.shelf.outer("mount", "mount", f"thermostat_{size}"),),
            )

    def _add_radiators(self) -> None:
        sides: tuple[tuple[Side, Side], ...] = (
            ("left", "right"),
            ("right", "left"),
            ("left", "left"),
            ("right", "right"),
        )
        for place, (upper, lower) in enumerate(sides, start=1):
            ports = [
                self.shelf.inner("upper", "coolant_in", ("hose_38", "hose_32")[place % 2], upper),
                self.shelf.inner("lower", "coolant_out", "hose_38" if place < 3 else "hose_44", lower),
            ]
            if place == 2:
                ports.append(self.shelf.inner("vent", "vent", "hose_10"))
            self.radiators.append(
                self.shelf.add(
                    self.id("RD", place),
                    "radiator",
                    f"{self.title} radiator {place}, inlet {upper}, outlet {lower}",
                    cents=self._cents(180, 420),
                    ports=ports,
                )
            )

    def _add_heaters(self) -> None:
        for place, (feed, back) in enumerate((("hose_16", "hose_19"), ("hose_16", "hose_16")), start=1):
            self.shelf.add(
                self.id("HC", place),
                "heater_core",
                f"{self.title} heater {place}",
                cents=self._cents(90, 200),
                ports=(
                    self.shelf.inner("feed", "heater_feed", feed),
                    self.shelf.inner("back", "heater_return", back),
                ),
            )

    def _add_fans(self) -> None:
        for place, (depth, behind) in enumerate(((38, 20), (50, 36), (64, 46)), start=1):
            self.shelf.add(
                self.id("FN", place),
                "fan",
                f"{self.title} engine-driven fan, {400 + 25 * place} mm",
                cents=self._cents(70, 140),
                ports=(self.shelf.outer("mount", "mount", "fan_bolts", wet=False),),
                measures=(measure("depth", depth), measure("depth_behind", behind)),
                attributes={"driven_by": "engine"},
            )
        for place, depth in ((4, 62), (5, 84)):
            self.shelf.add(
                self.id("FN", place),
                "fan",
                f"{self.title} radiator fan, {260 + 20 * place} mm",
                cents=self._cents(90, 180),
                measures=(measure("depth", depth),),
                attributes={"driven_by": "radiator"},
            )
        for hand, seat in zip("RL", FAN_SEATS, strict=True):
            for length in (30, 45, 60):
                self.shelf.add(
                    self.id("FA", f"{hand}{length}"),
                    "fan_adapter",
                    f"{self.title} fan adapter, {seat.rpartition('_')[2]}-hand thread, {length} mm",
                    cents=self._cents(35, 65),
                    ports=(
                        self.shelf.outer("mount", "mount", seat, wet=False),
                        self.shelf.inner("fan", "fan", "fan_bolts", wet=False),
                    ),
                    measures=(measure("thickness", length), measure("flange_thickness", 8)),
                )

    def _add_outlet_plates(self) -> None:
        """Plates that lead to a pump elsewhere, such pumps, and housings that sit in a line."""
        for place, (dash, sides) in enumerate(((20, 1), (16, 1), (20, 2), (16, 2)), start=1):
            ports = [
                self.shelf.outer("mount", "mount", f"{self.key}_face"),
                self.shelf.inner("sensor", "sensor", "thread_m12"),
                self.shelf.inner("heater_out", "heater_feed", "taper_1_2"),
                self.shelf.inner("heater_in", "heater_return", "taper_1_2"),
            ]
            if place != 4:
                ports.append(self.shelf.inner("vent", "vent", "flare_6", None, "up"))
            ports += self._mouths(f"flare_{dash}", across=sides == 2)
            self.shelf.add(
                self.id("OP", place),
                "outlet_plate",
                f"{self.title} outlet plate, -{dash} lines" + (", cross-over" if sides == 2 else ""),
                cents=self._cents(150, 230),
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
            self.shelf.add(
                self.id("RP", place),
                "remote_pump",
                f"{self.title} remote pump, electric, -{dash} lines",
                cents=self._cents(220, 390),
                ports=(self.shelf.inner("inlet", "coolant_in", male), self.shelf.inner("outlet", "coolant_out", male)),
            )
            self.shelf.add(
                self.id("TL", place),
                "thermostat_housing",
                f"{self.title} housing for a line, -{dash} flares, thermostat in it",
                cents=self._cents(60, 100),
                ports=(self.shelf.inner("one", "line", male), self.shelf.inner("other", "line", male)),
                attributes={"thermostat_included": True},
            )

    def _mouths(self, connection: str, *, across: bool) -> list[Port]:
        ports = []
        roles = (("out", "coolant_out", "supply", "left"), ("into", "coolant_in", "return", "right"))
        for name, role, channel, side in roles:
            for one in ("left", "right") if across else (side,):
                end = f"{name}_{one}" if across else name
                ports.append(
                    self.shelf.inner(end, role, connection, one, "forward", channel=channel)  # type: ignore[arg-type]
                )
        return ports

    def add_rules(self) -> None:
        """What the shop has learned: fits tested on cars, parts that may not be together, parts that need another."""
        dice = self.dice
        spacers = [number for number in self.shelf.parts if number.startswith(f"SP-{self.number:03}-")]
        covers, drives = ([self.id(prefix, place) for place in range(1, 5)] for prefix in ("FC", "DR"))
        cap = self.id("CV", "boot")
        self.shelf.add(cap, "cap", f"{self.title} rubber boot", cents=self._cents(3, 9))
        for place, pump in enumerate(self.pumps):
            name = f"{self.key}_{place + 1:04}"
            roll = dice.whole(0, 99)
            if roll < 5:
                drive = dice.one(drives)
                settles = ("belt_plane", "cover")
                self.shelf.rule(f"{name}_tested", "tested_fit", pump.number, (drive, dice.one(covers)), settles=settles)
            elif roll < 8:
                others = (dice.one(spacers), dice.one(drives))
                self.shelf.rule(f"{name}_touched", "tested_no_fit", pump.number, others)
            elif roll < 12:
                self.shelf.rule(f"{name}_needs", "requires", pump.number, (cap,))
            elif roll < 16:
                self.shelf.rule(f"{name}_not_with", "excludes", pump.number, (dice.one(self.housings).number,))
            elif roll < 17 and place:
                newer = self.pumps[place - 1].number
                self.shelf.rule(f"{name}_replaced", "replaced_by", pump.number, (newer,))


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
    return tuple(Cue(*cue) for cue in asked)  # type: ignore[arg-type]
