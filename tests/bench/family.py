"""One maker's front of the engine: a face with its engines, drives, covers, plates and loose pulleys.

Along z, from the block's pump face, belts run in six planes and more.
"""

from catalog.domain import Part, Side
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

    def add_front(self, *, small: bool = False) -> None:
        """Put on the shelf what the pumps meet: drives, covers, plates and loose pulleys."""
        self._add_drives()
        self._add_covers()
        self._add_plates(SPACERS[1::3] if small else SPACERS)
        self._add_pulleys()

    def id(self, prefix: str, place: float | str) -> str:
        """A part number of this family."""
        return (
            f"{prefix}-{self.number:03}-{place:04}" if isinstance(place, int) else f"{prefix}-{self.number:03}-{place}"
        )

    def cents(self, low: int, high: int) -> int | None:
        """A price between two numbers of whole units; now and then there is none."""
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
            cents=self.cents(19, 35),
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
        attributes: dict[str, bool | int | str] = {
            "profile": "PK",
            "ribs": 6,
            "belt_side": surface,
            "rotation": "clockwise" if surface == "ribbed" else "counterclockwise",
        }
        if place % 2:
            attributes["belt_without_pump"] = belt
        shelf.add(
            self.id("DR", place),
            "accessory_drive",
            f"{self.title} drive {place}, belt at {plane} mm" + (", idler on the pump" if carries else ""),
            ports=ports,
            measures=measures,
            attributes=attributes,
            aliases=(f"72{self.number:03}-{place}",),
        )

    def _crank(self, place: int, plane: float) -> None:
        offset = plane - CRANK_FACE
        self.shelf.add(
            self.id("CP", place),
            "crank_pulley",
            f"{self.title} crank pulley {place}",
            cents=self.cents(80, 120),
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
                cents=self.cents(20 + thickness // 2, 28 + thickness // 2),
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
            cents=self.cents(70, 140),
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
                cents=self.cents(30, 70),
                ports=(self.shelf.outer("mount", "mount", f"{self.key}_hub_{1 + place % 2}", wet=False),),
                measures=(measure("offset", offset), measure("diameter", 120 + 4 * place)),
                attributes={"profile": "PK"},
                bands=bands,
            )
