"""Small random catalogs in which coolant must find its way, and builds that ask for all of it or for some.

Few sizes and few pieces, so that every whole list can be tried; prices from a handful of values, so that ties are
common; reducers that lead from size to size and back, so that paths run in circles.
"""

from collections.abc import Sequence
from decimal import Decimal
from random import Random
from typing import Any

import msgspec
from msgspec import UNSET

from catalog.domain import (
    Band,
    Connection,
    Direction,
    Kind,
    Measure,
    Part,
    Port,
    Price,
    Release,
    Role,
    Rule,
    Side,
    Snapshot,
)
from catalog.standards.belts import RIB_PITCH
from service.fit.build import Build
from tests.oracles.brink import PLACES
from tests.oracles.generator import CURRENCY, MM, Case, _Dice

MAIN = ("large", "middle", "exact", "flare_16")
"""1 1/8 in is three quarters of 1 1/2 in, 1 in is less, and four fifths of 1 1/4 in."""
SMALL = ("heater_wide", "heater_narrow")
SIZES = {
    "large": "1 1/2 in hose",
    "middle": "1 1/4 in hose",
    "exact": "1 1/8 in hose",
    "flare_16": "-16",
    "heater_wide": "3/4 in hose",
    "heater_narrow": "5/8 in hose",
}
THREAD = "M8x1.25"
CORES = ("135.525", "140", "180.05", "190.05", "200.05", "210.05", "220.05", "260", "260")
"""Distances to the core; several leave just what is needed before a nose or a fan."""


def seeded_case(seed: int) -> Case:
    """The case of a seed: the same one always."""
    return make_case(Random(seed))


def make_case(random: Random) -> Case:
    """One case from a source of randomness."""
    shelf = _Shelf(random)
    build = _build(shelf)
    # Drawn last, so that all else of a seed is what it is without.
    return Case(shelf.snapshot(), _at_a_limit(shelf, build) if shelf.chance(50) else build)


class _Shelf(_Dice):
    """A catalog in the making."""

    def __init__(self, random: Random) -> None:
        super().__init__(random)
        self.parts: dict[str, Part] = {}
        self.connections: dict[str, Connection] = {}
        self.rules: list[Rule] = []
        self.remote = self.chance(30)
        self.mains = self.some(MAIN, 3) or [MAIN[0]]
        self.unsized = self.one(self.mains) if self.chance(20) else None
        """A connection whose size nobody states; no flare, as these all say theirs."""
        self.sides_known = self.chance(70)
        self.smalls = self.some(SMALL, 2) or [SMALL[0]]
        self._add_connections()
        self._add_engine_and_drive()
        self._add_pumps()
        self._add_housings()
        self._add_hoses()
        self._add_fittings()
        self._add_closures()
        self._add_own_parts()
        self._mold()
        self._add_fans()
        if self.remote:
            self._add_remote()
        self._add_fasteners()
        self._add_rules()

    def snapshot(self) -> Snapshot:
        release = Release(1, "first", "sha256:0", "2026-01-01", "")
        parts = {number: self.parts[number] for number in sorted(self.parts)}
        return Snapshot(release, CURRENCY, parts, self.connections, tuple(self.rules))

    def of(self, *kinds: Kind) -> list[str]:
        return [number for number, part in self.parts.items() if part.kind in kinds]

    def measure(self, name: str, nominal: int, doubt: int | None = None) -> Measure:
        doubt = self.one((0, 0, 100_000)) if doubt is None else doubt
        return Measure(name, nominal, doubt, doubt, "drawing", "drawing")

    def add(
        self,
        number: str,
        kind: Kind,
        ports: Sequence[Port] = (),
        measures: Sequence[Measure] = (),
        *,
        attributes: dict[str, bool | int | str] | None = None,
        bands: Sequence[Band] = (),
        plain: bool = False,
    ) -> None:
        attributes = dict(attributes or {})
        if not plain and self.chance(12):
            attributes["work"] = self.one(("hand_fit", "press", "weld"))
        self.parts[number] = Part(
            number=number,
            kind=kind,
            name=f"The {number}",
            status="retired" if not plain and self.chance(3) else "active",
            recommended=self.chance(30),
            attributes=attributes,
            measures={measure.name: measure for measure in measures},
            bands=tuple(bands),
            ports=tuple(ports),
            price=None if self.chance(9) else Price(self.one((0, 500, 1000, 1000, 1500, 2500)), CURRENCY),
        )

    def connect(self, name: str, sort: str, ends: tuple[str, str], seal: str, **more: Any) -> None:
        self.connections[name] = Connection(name, name, sort, ends, seal, **more)  # type: ignore[arg-type]

    def _add_connections(self) -> None:
        for number in ("G-0", "G-1"):
            self.add(number, "gasket", measures=[self.measure("thickness", 1 * MM, 0)])
        self.add("O-0", "gasket")
        self.connect(
            "alder_face",
            "face",
            ("block", "pump"),
            "gasket",
            pieces_per_layer=1 if self.remote else self.one((1, 2)),
            gasket="G-0",
            bolts=6,
        )
        seal, gasket = self.one((("gasket", "G-1"), ("o_ring", "O-0")))
        self.connect("housing_face", "face", ("pump", "housing"), seal, gasket=gasket, bolts=self.one((0, 2, 3)))
        for name in (*MAIN, *SMALL):
            if name.startswith("flare"):
                self.connect(name, "flare_37", ("male", "female"), "metal", size=SIZES[name])
            else:
                self.connect(
                    name, "hose", ("spigot", "hose"), "clamp", size=None if name == self.unsized else SIZES[name]
                )
        self.connect(
            "neck_face", "face", ("pump", "neck"), "o_ring", gasket="O-0", size=self.one((None, "1 1/4 in bore"))
        )
        self.connect("flare_45_wide", "flare_45", ("male", "female"), "metal")
        self.connect("pipe_thread", "thread", ("hole", "plug"), "sealant")
        self.connect("thermostat_seat", "boss", ("seat", "thermostat"), "none")
        self.connect("fan_thread_right", "fan_thread", ("nose", "nut"), "none")
        self.connect("fan_thread_left", "fan_thread", ("nose", "nut"), "none")
        self.connect("fan_bolts", "fan_bolts", ("flange", "fan"), "none")

    def inner(
        self, name: str, role: Role, connection: str, side: Side | None = None, gasket: str | None = None
    ) -> Port:
        """A port on the first end: spigot, male, hole."""
        return Port(name, role, connection, self.connections[connection].ends[0], None, side, None, True, gasket)

    def outer(self, name: str, role: Role, connection: str, side: Side | None = None) -> Port:
        """A port on the second end: hose, female, plug."""
        return Port(name, role, connection, self.connections[connection].ends[1], None, side, None, True)

    def side(self) -> Side | None:
        return self.one(("left", "left", "right", "centre", self.one(("left", "right")) if self.sides_known else None))

    def _holes(self) -> dict[str, bool | int | str]:
        return {"thread": THREAD, "hole_material": self.one(("aluminium", "cast_iron"))}

    def _add_engine_and_drive(self) -> None:
        ports = [self.inner("face", "pump_face", "alder_face")]
        if self.chance(25):
            ports.append(self.inner("bypass", "bypass", self.one(("pipe_thread", self.smalls[0]))))
        self.add("E-0", "engine", ports, [self.measure("hole_depth", 30 * MM)], attributes=self._holes(), plain=True)
        thick = self.measure("thickness", self.one((2, 4)) * MM)
        if self.chance(60):
            faces = [self.outer("mount", "mount", "alder_face"), self.inner("face", "pump_face", "alder_face")]
            self.add("S-0", "spacer", faces, [thick])
        attributes: dict[str, bool | int | str] = {"profile": "PK", "ribs": 5, "belt_side": "ribbed"}
        self.add("B-0", "belt", attributes={"profile": "PK", "ribs": 5})
        if self.chance(64):
            attributes["belt_without_pump"] = "B-0"
            self.parts["B-0"] = msgspec.structs.replace(self.parts["B-0"], status="active")
        measures = [self.measure("belt_plane", 101 * MM), self.measure("shortest_span", 192 * MM, 0)]
        if self.chance(60):
            measures.append(self.measure("nose", self.one((110, 130, 150)) * MM))
        ports = [Port("tensioner", "carried", "alder_face", "pump")] if self.remote and self.chance(10) else []
        self.add("D-0", "accessory_drive", ports, measures, attributes=attributes, plain=True)

    def _add_pumps(self) -> None:
        for place in range(self.whole(2, 3)):
            ports = [self.outer("mount", "mount", "alder_face")]
            ports.append(self._outlet())
            if self.chance(80):
                ports.append(
                    self.inner(
                        "housing", "housing", "housing_face", gasket=self._other_seal() if self.chance(8) else None
                    )
                )
            else:
                ports.append(self.inner("inlet", "coolant_in", self.one(self.mains), self.side()))
            ports += self._heater_ports()
            for name, role, percent in (("bypass", "bypass", 15), ("vent", "vent", 25), ("sensor", "sensor", 30)):
                if self.chance(percent):
                    connection = self.one(("pipe_thread", self.smalls[0])) if role != "sensor" else "pipe_thread"
                    ports.append(self.inner(name, role, connection))  # type: ignore[arg-type]
            attributes: dict[str, bool | int | str] = {}
            measures = [self.measure("belt_plane", 100 * MM), self.measure("flange_thickness", 10 * MM)]
            if self.chance(75):
                attributes = self._holes()
                measures.append(self.measure("hole_depth", self.one((16, 20, 24)) * MM))
            if self.chance(72):
                fan = self.one(("fan_thread_right",) * 4 + ("fan_thread_left", "fan_bolts"))
                ports.append(self.inner("fan", "fan", fan))
                measures.append(self.measure("fan_face", self.one((110, 120)) * MM))
            if self.chance(70):
                measures.append(self.measure("nose", 125 * MM))
            roles = {port.role for port in ports}
            if {"heater_feed", "heater_return"} <= roles and self.chance(30):
                attributes["bypass"] = "heater"
            half = 5 * RIB_PITCH["PK"] // 2
            band = Band(100 * MM - half, 100 * MM + half, "ribbed", 5)
            self.add(f"P-{place}", "water_pump", ports, measures, attributes=attributes, bands=[band])

    def _other_seal(self) -> str:
        """Another gasket or O-ring for the housing than the usual one."""
        flat = self.connections["housing_face"].seal == "gasket"
        measures = {"thickness": self.measure("thickness", 2 * MM, 0)} if flat else {}
        other = Part("G-2" if flat else "O-1", "gasket", "Another seal", measures=measures, price=Price(500, CURRENCY))
        self.parts[other.number] = other
        return other.number

    def _outlet(self) -> Port:
        name = "neck_face" if self.chance(20) else self.one(self.mains)
        return msgspec.structs.replace(
            self.inner("outlet", "coolant_out", name, self.side()), direction=self.direction()
        )

    def direction(self) -> Direction | None:
        return self.one(("up", "forward", None))

    def _heater_ports(self) -> list[Port]:
        connection = self.one((*self.smalls, "pipe_thread"))
        if self.chance(8):
            return []
        ports = [self.inner("feed", "heater_feed", connection)]
        if self.chance(80):
            ports.append(self.inner("return", "heater_return", self.one((connection, self.smalls[0]))))
        if self.chance(8):
            ports.append(self.inner("spare", "heater_return", connection))
        return ports

    def _add_housings(self) -> None:
        for place in range(self.whole(1, 3)):
            ports = [self.outer("mount", "mount", "housing_face")]
            ports.append(self.inner("neck", "coolant_in", self.one(self.mains), self.side()))
            attributes: dict[str, bool | int | str] = {}
            if self.chance(55):
                attributes["thermostat_included"] = True
            elif self.chance(85):
                ports.append(self.inner("seat", "thermostat", "thermostat_seat"))
            if self.chance(45):
                ports.append(self.inner("heater", "heater_return", self.one(self.smalls)))
            if self.chance(20):
                ports.append(self.inner("sender", "sensor", "pipe_thread"))
            measures = [self.measure("flange_thickness", self.one((8, 10)) * MM)] if self.chance(80) else []
            self.add(f"H-{place}", "thermostat_housing", ports, measures, attributes=attributes)
        for place in range(self.whole(1, 2)):
            self.add(f"T-{place}", "thermostat", [self.outer("mount", "mount", "thermostat_seat")])

    def _hose(self, number: str, one: str, other: str, **attributes: bool | str) -> None:
        shape: dict[str, bool | int | str] = {"shape": "straight", **attributes}
        self.add(number, "hose", [self.outer("one", "line", one), self.outer("other", "line", other)], attributes=shape)

    def _add_hoses(self) -> None:
        for size in self.mains:
            if self.chance(90):
                self._hose(f"L-{size}-0", size, size)
            if self.chance(25):
                self._hose(f"L-{size}-1", size, size)
            if self.chance(60):
                self._hose(f"L-{size}-x", size, size, crosses=True)
        for size in self.smalls:
            for place in range(self.one((1, 1, 1, 2))):
                self._hose(f"N-{size}-{place}", size, size)
        if self.chance(30):
            self._hose("L-reducing", self.one(self.mains), self.one(self.mains))
        if self.chance(40):
            pump = self.parts["P-0"]
            size = next(port.connection for port in pump.ports if port.role == "coolant_out")
            ends = {"molded_from": "P-0", "molded_to": "R-0"}
            if self.chance(40):
                ends = {"molded_from": "R-0", "molded_to": self.one(("H-0", "P-0"))}
                size = self.one(self.mains)
            self._hose("L-molded", size, self.one(self.mains), shape="molded", **ends)

    def _mold(self) -> None:
        """Give the molded hose ends that meet the parts between which it is made to run."""
        hose = self.parts.get("L-molded")
        if hose is None:
            return
        ends = []
        for name, attribute, role in (("one", "molded_from", "coolant_out"), ("other", "molded_to", "coolant_in")):
            ports = [
                port for port in self.parts[str(hose.attributes[attribute])].ports if port.connection in self.mains
            ]
            if not ports:  # a pump whose outlet is a neck's face has no mouth for a hose
                del self.parts["L-molded"]
                return
            ends.append(self.outer(name, "line", max(ports, key=lambda port: port.role == role).connection))
        self.parts["L-molded"] = msgspec.structs.replace(hose, ports=tuple(ends))

    def _add_fittings(self) -> None:
        """Between sizes, round in circles; nipples into threads; one with a third end."""
        for place in range(self.one((2, 2, 3, 3))):
            one, other = self.one(self.mains), self.one(self.mains)
            ports = [self.inner("one", "line", one), self.inner("other", "line", other, self.side())]
            if self.chance(30):
                ports[0] = self.outer("one", "mount", one)
            if self.chance(12):
                ports.append(self.inner("third", "line", self.one((*self.smalls, "pipe_thread"))))
            self.add(f"R-fit-{place}", "fitting", ports)
        for place in range(self.whole(0, 3)):
            mount, end = self.outer("mount", "mount", "neck_face"), self.inner("end", "line", self.one(self.mains))
            end = msgspec.structs.replace(end, side=self.side(), direction=self.direction())
            self.add(f"R-neck-{place}", "fitting", [mount, end])
        for place in range(self.one((1, 1, 2))):
            ends = [self.inner("one", "line", self.one(SMALL)), self.inner("other", "line", self.one(SMALL))]
            self.add(f"N-fit-{place}", "fitting", ends)
        for place in range(self.one((1, 1, 2))):
            ends = [self.outer("mount", "mount", "pipe_thread"), self.inner("other", "line", self.one(self.smalls))]
            self.add(f"N-nip-{place}", "fitting", ends)

    def _add_closures(self) -> None:
        for place in range(self.one((1, 1, 2))):
            self.add(f"Q-{place}", "plug", [self.outer("mount", "mount", "pipe_thread")])
        for size in (*self.mains, *self.smalls):
            if self.chance(92):
                self.add(f"C-{size}", "cap", [self.outer("mount", "mount", size)])
        for place in range(2):
            self.add(f"X-{place}", "cap")

    def _add_own_parts(self) -> None:
        ports = [
            self.inner("upper", "coolant_in", self.one(self.mains), self.side()),
            self.inner("lower", "coolant_out", self.one(self.mains), self.side()),
        ]
        if self.chance(30):
            ports.append(self.inner("vent", "vent", self.smalls[0]))
        self.add("R-0", "radiator", ports, plain=True)
        ends = [
            self.inner("feed", "heater_feed", self.one(self.smalls)),
            self.inner("back", "heater_return", self.one(self.smalls)),
        ]
        self.add("K-0", "heater_core", ends, plain=True)

    def _add_fans(self) -> None:
        for place in range(self.whole(1, 2)):
            thread = self.one(("fan_thread_right",) * 3 + ("fan_thread_left",))
            ports = [self.outer("mount", "mount", thread), self.inner("face", "fan", "fan_bolts")]
            self.add(f"A-{place}", "fan_adapter", ports, [self.measure("thickness", self.one((20, 40)) * MM)])
        for place in range(2):
            measures = [self.measure("depth", self.one((30, 50)) * MM)]
            if self.chance(60):
                measures.append(self.measure("depth_behind", self.one((5, 20)) * MM))
            mount = [self.outer("mount", "mount", "fan_bolts")]
            self.add(f"Y-{place}", "fan", mount, measures, attributes={"driven_by": "engine"})
        self.add("Y-rad", "fan", [], [self.measure("depth", 60 * MM)], attributes={"driven_by": "radiator"}, plain=True)

    def _add_remote(self) -> None:
        for place in range(self.whole(1, 2)):
            ports = [self.outer("mount", "mount", "alder_face")]
            crossed = self.chance(45)
            for name, role in (("out", "coolant_out"), ("in", "coolant_in")):
                connection = self.one(self.mains)
                sides: tuple[Side | None, ...] = ("left", "right") if crossed else (self.side(),)
                for side in sides:
                    end = f"{name}_{side}" if crossed else name
                    channel = "supply" if role == "coolant_out" else "return"
                    first = self.connections[connection].ends[0]
                    ports.append(Port(end, role, connection, first, channel, side, None, True))  # type: ignore[arg-type]
            for name, percent in (("vent", 92), ("sensor", 92)):
                if self.chance(percent):
                    ports.append(self.inner(name, name, "pipe_thread"))  # type: ignore[arg-type]
            attributes: dict[str, bool | int | str] = {}
            kind = self.one(("included", "seat", "line", "line"))
            if kind == "included":
                attributes["thermostat_included"] = True
            elif kind == "seat":
                ports.append(self.inner("seat", "thermostat", "thermostat_seat"))
            if self.chance(60):
                ports.append(self.inner("feed", "heater_feed", self.smalls[0]))
                ports.append(self.inner("return", "heater_return", self.smalls[0]))
            measures = [self.measure("flange_thickness", 10 * MM), self.measure("nose", 60 * MM)]
            self.add(f"Z-{place}", "outlet_plate", ports, measures, attributes=attributes)
        for place in range(self.whole(1, 2)):
            ports = [
                self.inner("out", "coolant_out", self.one(self.mains)),
                self.inner("in", "coolant_in", self.one(self.mains)),
            ]
            self.add(f"W-{place}", "remote_pump", ports)
        size = self.one(self.mains)
        ends = [self.inner("one", "line", size), self.inner("other", "line", self.one((size, *self.mains)))]
        self.add("H-line", "thermostat_housing", ends, attributes={"thermostat_included": True})

    def _add_fasteners(self) -> None:
        """Bolts for the block, bolts for a housing, and a kit that has both."""
        for place in range(self.whole(1, 2)):
            length = self.one((30, 35, 40)) * MM
            measures = [self.measure("length", length, 420_000)]
            attributes: dict[str, bool | int | str] = {"thread": THREAD, "pieces": self.one((2, 6, 8))}
            self.add(f"F-{place}", "fastener_set", measures=measures, attributes=attributes, plain=True)
        self.add(
            "F-short",
            "fastener_set",
            measures=[self.measure("length", self.one((25, 30)) * MM, 420_000)],
            attributes={"thread": THREAD, "pieces": self.one((1, 2, 4))},
            plain=True,
        )
        if self.chance(70):
            long = self.one([self.parts[number].measures["length"] for number in ("F-0", "F-0", "F-short")])
            short = Measure("length.housing", self.one((25, 30)) * MM, 420_000, 420_000, "drawing", "drawing")
            attributes = {"thread": THREAD, "pieces": self.one((6, 8)), "housing_pieces": self.one((2, 3))}
            self.add("F-kit", "fastener_set", measures=[long, short], attributes=attributes, plain=True)

    def _add_rules(self) -> None:
        for place in range(self.one((0, 0, 1, 2, 3))):
            kind = self.one(("requires", "requires", "excludes", "excludes", "tested_no_fit"))
            kinds: list[tuple[Kind, ...]] = [("water_pump", "thermostat_housing", "plug"), ("hose", "fitting", "cap")]
            part = self.one(self.of(*self.one(kinds)))
            others = self.of("hose", "fitting", "thermostat_housing", "cap", "fastener_set", "plug")
            if kind == "requires" and self.chance(70):
                others = ["X-0", "X-1"] if self.chance(60) else self.of("hose", "fitting")
            named = tuple(one for one in self.some(others, 2) if one != part)
            if named:
                self.rules.append(Rule(f"rule_{place}", kind, part, named))  # type: ignore[arg-type]


def _build(shelf: _Shelf) -> Build:
    fields: dict[str, Any] = {"engine": "E-0"}
    if shelf.chance(60):
        fields["accessory_drive"] = "D-0"
    if shelf.remote and shelf.chance(85):
        fields["pump_drive"] = "remote"
    if shelf.chance(85):
        if shelf.chance(60):
            fields["radiator"] = "R-0"
        else:
            fields["radiator_ports"] = {"upper": _own_port(shelf), "lower": _own_port(shelf)}
    _ask_heater(shelf, fields)
    if shelf.chance(50):
        fields["fan"] = shelf.one(("mechanical", "mechanical", "mechanical", "electric", "none", "Y-0", "Y-rad"))
        if fields["fan"] == "Y-0" and shelf.parts["Y-0"].status == "retired":
            fields["fan"] = "mechanical"
    if shelf.chance(40):
        fields["core_distance"] = f"{shelf.one(CORES)} mm"
    if shelf.chance(15) and "pump_drive" not in fields:
        fields["pump"] = shelf.one(shelf.of("water_pump"))
    pieces = shelf.of("water_pump", "hose", "fitting", "thermostat_housing", "cap", "plug", "gasket", "fastener_set")
    fields["have"] = [shelf.one(pieces) for _ in range(shelf.one((0, 0, 1, 3, 6, 10)))]
    fields["must"] = _must(shelf)
    keys = ["work", "recommended", "price", "margin", "parts", "length"]
    shelf.random.shuffle(keys)
    fields["rank_by"] = keys[: shelf.one((0, 0, 0, 1, 2, 6))]
    fields["limit"] = fields["paths_per_pump"] = 50
    fields["measured"] = [_far_off(shelf, number) for number in shelf.some(pieces, 2)] if shelf.chance(15) else []
    return msgspec.convert({**fields, "measured": [one for one in fields["measured"] if one]}, Build)


def _far_off(shelf: _Shelf, number: str) -> dict[str, Any]:
    """A reading of one of a part's measures that contradicts it; nothing where it has none."""
    names = sorted(shelf.parts[number].measures)
    if not names:
        return {}
    name = shelf.one(names)
    value = f"{shelf.parts[number].measures[name].nominal / MM + 40} mm"
    return {"part": number, "measure": name, "value": value, "taken_with": "drawing"}


def _at_a_limit(shelf: _Shelf, build: Build) -> Build:
    """A build that names the core's distance with it just far enough for some pump, or a nanometre less."""
    pump = shelf.parts[shelf.one(shelf.of("water_pump", "outlet_plate"))].measures
    known = [shelf.parts["G-0"].measures["thickness"]]
    if build.fan == "mechanical":
        adapter, fan = (shelf.parts[number].measures for number in ("A-0", shelf.one(("Y-0", "Y-1"))))
        known += [adapter["thickness"], fan["depth"]]
    elif build.fan == "Y-rad":
        known.append(shelf.parts["Y-rad"].measures["depth"])
    ahead = pump.get("fan_face" if build.fan == "mechanical" else "nose")
    place = shelf.one(PLACES)
    if build.core_distance is UNSET or ahead is None:
        return build
    # Where least is left the terms are at their most.
    reach = sum(measure.low if place.end else measure.high for measure in (*known, ahead))
    least = 19 * MM if build.fan == "mechanical" else 9_525_000
    return msgspec.structs.replace(build, core_distance=f"{Decimal(reach + least + place.beside) / MM:f} mm")


def _own_port(shelf: _Shelf) -> dict[str, Any]:
    name = shelf.one(shelf.mains)
    sized = shelf.chance(50) and name != shelf.unsized
    port: dict[str, Any] = {"size": SIZES[name]} if sized else {"connection": name}
    if shelf.chance(60):
        port["side"] = shelf.one(("left", "right", "centre"))
    return port


def _ask_heater(shelf: _Shelf, fields: dict[str, Any]) -> None:
    """Without a radiator only where no pump needs a housing for the heater's return."""
    if not shelf.chance(60):
        return
    fields["heater"] = shelf.one(("K-0", SIZES[shelf.smalls[0]], SIZES[shelf.smalls[-1]], "none", "none"))
    lacking = any(
        {port.role for port in shelf.parts[number].ports} & {"heater_feed", "heater_return"} == {"heater_feed"}
        for number in shelf.of("water_pump")
    )
    if lacking and "radiator" not in fields and "radiator_ports" not in fields:
        fields["heater"] = "none"


def _must(shelf: _Shelf) -> dict[str, Any]:
    must: dict[str, Any] = {}
    if shelf.chance(15):
        must["outlet_side"] = shelf.one(("left", "right"))
    if shelf.chance(8):
        must["outlet_direction"] = shelf.one(("up", "forward"))
    if shelf.chance(15):
        must["work_at_most"] = shelf.one(("bolt_on", "hand_fit", "press"))
    if shelf.chance(20):
        must["price_at_most"] = {"amount": shelf.one((30, 60, 90, 120, 200)), "currency": CURRENCY}
    if shelf.chance(20):
        kinds = shelf.of("hose", "fitting", "thermostat_housing", "cap", "fastener_set", "water_pump")
        must["without"] = shelf.some(kinds, 2)
    return must
