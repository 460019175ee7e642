"""Small random catalogs and builds: sums on a coarse grid, so that ties and exactly met limits are common.

Every draw comes from one `random.Random`, so that a seed names a case for good; Hypothesis gets the same
cases through `st.randoms`, and can shrink them.
"""

from collections.abc import Sequence
from decimal import Decimal
from random import Random
from typing import Any, TypeVar

import hypothesis.strategies as st
import msgspec
from msgspec.structs import replace

from catalog.domain import (
    Band,
    Connection,
    Kind,
    Measure,
    Part,
    Port,
    Price,
    Release,
    Rule,
    RuleKind,
    Seal,
    Side,
    Snapshot,
    TakenWith,
)
from catalog.standards.belts import RIB_PITCH
from catalog.vocabulary import SETTLED_BY_TEST
from service.fit.build import Amount, Build
from tests.oracles.brink import to_a_limit

MM = 1_000_000
CURRENCY = "USD"
O_RING = Part("O-0", "gasket", "An O-ring", price=Price(500, CURRENCY))
T = TypeVar("T")


class Case(msgspec.Struct, frozen=True):
    """A catalog, a build to ask it, and the seed where there is one."""

    snapshot: Snapshot
    build: Build


def seeded_case(seed: int) -> Case:
    """The case of a seed: the same one always."""
    return make_case(Random(seed))


def cases() -> st.SearchStrategy[Case]:
    """Hypothesis strategy of cases."""
    return st.randoms(use_true_random=False).map(make_case)


def make_case(random: Random) -> Case:
    """One case from a source of randomness."""
    shelf = _Shelf(random)
    build = _build(shelf)
    # Drawn last, so that all else of a seed is what it is without.
    if shelf.chance(50):
        to_a_limit(shelf)
    elif shelf.chance(25):
        build = _priced_to_a_limit(shelf, build)
    return Case(shelf.snapshot(), build)


class _Dice:
    """Draws with names."""

    def __init__(self, random: Random) -> None:
        self.random = random

    def one(self, values: Sequence[T]) -> T:
        return values[self.random.randrange(len(values))]

    def whole(self, low: int, high: int) -> int:
        return self.random.randint(low, high)

    def chance(self, percent: int) -> bool:
        return self.random.randrange(100) < percent

    def some(self, values: Sequence[T], most: int) -> list[T]:
        """Up to `most` of them, each once, in their order."""
        if not values:
            return []
        picked = {self.random.randrange(len(values)) for _ in range(self.whole(1, most))}
        return [value for place, value in enumerate(values) if place in picked]

    def tolerance(self) -> int:
        return self.one((0, 0, 0, 100_000, 100_000, 250_000, 500_000, 33_333))


class _Shelf(_Dice):
    """A catalog in the making."""

    def __init__(self, random: Random) -> None:
        super().__init__(random)
        self.parts: dict[str, Part] = {}
        self.connections: dict[str, Connection] = {}
        self.rules: list[Rule] = []
        self.faces = ["alder_face", "birch_face"][: self.whole(1, 2)]
        self.thread = self.one(("M8x1.25", "M6x1"))
        self._add_gaskets_and_connections()
        self._add_engines()
        self._add_plates()
        self._add_pumps()
        self._add_pulleys()
        self._aim()
        self._add_drives()
        self._add_covers()
        self._add_free_zones()
        self._add_crank_pulleys()
        self._add_fasteners()
        self._add_extras()
        self._forget()
        self._add_rules()

    def snapshot(self) -> Snapshot:
        release = Release(1, "first", "sha256:0", "2026-01-01", "")
        parts = {number: self.parts[number] for number in sorted(self.parts)}
        return Snapshot(release, CURRENCY, parts, self.connections, tuple(self.rules))

    def of(self, kind: Kind) -> list[str]:
        return [number for number, part in self.parts.items() if part.kind == kind]

    def measure(self, name: str, nominal: int, plus: int | None = None, minus: int | None = None) -> Measure:
        plus = self.tolerance() if plus is None else plus
        if minus is None:
            minus = self.tolerance() if self.chance(25) else plus
        return Measure(name, nominal, plus, minus, "drawing", "drawing")

    def add(
        self,
        number: str,
        kind: Kind,
        measures: Sequence[Measure] = (),
        *,
        attributes: dict[str, bool | int | str] | None = None,
        bands: Sequence[Band] = (),
        ports: Sequence[Port] = (),
        retired: int = 5,
        plain: bool = False,
    ) -> None:
        """Add a part; its price, work, status and recommendation are drawn, unless it is a plain one."""
        attributes = dict(attributes or {})
        if not plain and self.chance(20):
            attributes["work"] = self.one(("bolt_on", "hand_fit", "press", "machining"))
        self.parts[number] = Part(
            number=number,
            kind=kind,
            name=f"The {number}",
            status="retired" if not plain and self.chance(retired) else "active",
            recommended=self.chance(30),
            aliases=(f"old-{number}",) if self.chance(20) else (),
            attributes=attributes,
            measures={measure.name: measure for measure in measures},
            bands=tuple(bands),
            ports=tuple(ports),
            price=None if self.chance(8) else Price(self.one((0, 500, 1000, 1000, 2500)), CURRENCY),
        )

    def _add_gaskets_and_connections(self) -> None:
        for place in range(self.whole(1, 2)):
            thick = self.one((500_000, 1_000_000))
            doubt = self.one((0, 0, 33_333, 100_000))
            self.add(f"G-{place}", "gasket", [self.measure("thickness", thick, doubt, doubt)], retired=4)
        gaskets = self.of("gasket")
        for face in self.faces:
            seal: Seal = self.one(("gasket", "gasket", "gasket", "o_ring"))
            pieces = self.one((1, 2))
            # An O-ring comes with its part, or is listed for itself.
            gasket = self.one(gaskets) if seal == "gasket" else O_RING.number if pieces == 2 else None
            if gasket == O_RING.number:
                self.parts[gasket] = O_RING
            bolts = self.one((0, 4, 6, 8))
            self.connections[face] = Connection(face, face, "face", ("block", "pump"), seal, pieces, gasket, bolts)
        for name, ends in (
            ("hub_circle", ("hub", "pulley")),
            ("other_hub", ("hub", "pulley")),
            ("boss", ("boss", "bracket")),
            ("cover_rail", ("block", "cover")),
            ("bracket_face", ("block", "bracket")),
            ("crank_nose", ("crank", "pulley")),
            ("hose_bead", ("spigot", "hose")),
        ):
            self.connections[name] = Connection(name, name, "other", ends, "none", bolts=4)

    def _gasket(self, face: str, percent: int) -> str | None:
        """What a port on this face requires: a gasket, or the O-ring where one seals it."""
        flat = [number for number in self.of("gasket") if number != O_RING.number]
        gasket = self.one(flat) if self.chance(percent) else None
        connection = self.connections[face]
        return gasket if gasket is None or connection.seal == "gasket" else connection.gasket

    def _add_engines(self) -> None:
        for place in range(2):
            measures = [self.measure("hole_depth", self.one((20, 24, 30, 40)) * MM)]
            if self.chance(85):
                measures.append(self.measure("crank_face", self.whole(10, 12) * MM))
            ports = [
                Port("face", "pump_face", self.faces[0], "block", wet=True, gasket=self._gasket(self.faces[0], 10))
            ]
            if len(self.faces) == 2 and self.chance(15):
                ports.append(Port("second_face", "pump_face", self.faces[1], "block", wet=True))
            for name, role, connection in (
                ("cover", "cover_face", "cover_rail"),
                ("bracket", "drive_face", "bracket_face"),
                ("crank", "crank", "crank_nose"),
            ):
                if self.chance(96):
                    ports.append(Port(name, role, connection, self.connections[connection].ends[0]))  # type: ignore[arg-type]
            holes = {"thread": self.thread, "hole_material": self.one(("aluminium", "cast_iron", "steel"))}
            self.add(f"E-{place}", "engine", measures, attributes=dict(holes), ports=ports, plain=True)

    def _add_plates(self) -> None:
        """Spacers from one face to itself, adapter plates from one face to the other, some of them tapped."""
        for place in range(self.one((2, 2, 3, 3, 4, 6))):
            thick = self.measure("thickness", self.one((1, 2, 2, 3, 4, 6)) * MM, self.one((0, 0, 50_000, 100_000)))
            if len(self.faces) == 2 and self.chance(45):
                inner, outer = self.faces if self.chance(80) else self.faces[::-1]
                measures, attributes = [thick], dict[str, bool | int | str]()
                if self.chance(55):
                    measures = [self.measure("thickness", thick.nominal + 8 * MM, thick.plus)]
                    measures.append(self.measure("hole_depth", self.one((14, 18, 24)) * MM))
                    if self.chance(50):
                        measures.append(self.measure("flange_thickness", 8 * MM))
                    attributes = {"thread": self.thread, "hole_material": self.one(("aluminium", "steel"))}
                    if self.chance(8):
                        del attributes["hole_material"]
                self._add_plate(f"A-{place}", "adapter_plate", measures, attributes, inner, outer)
            else:
                face = self.one(self.faces)
                self._add_plate(f"S-{place}", "spacer", [thick], {}, face, face)

    def _add_plate(
        self,
        number: str,
        kind: Kind,
        measures: Sequence[Measure],
        attributes: dict[str, bool | int | str],
        inner: str,
        outer: str,
    ) -> None:
        ports = [
            Port("mount", "mount", inner, "pump", wet=True, gasket=self._gasket(inner, 15)),
            Port("face", "pump_face", outer, "block", wet=True, gasket=self._gasket(outer, 15)),
        ]
        self.add(number, kind, measures, attributes=attributes, ports=ports)

    def ribbed(self, centre: int, profile: str, grooves: int) -> Band:
        half = grooves * RIB_PITCH[profile] // 2
        return Band(centre - half, centre + half, "ribbed", grooves)

    def smooth(self, centre: int, profile: str) -> Band:
        """A smooth band; often of exactly the belt's width, or of half a millimetre of room."""
        room = self.one((0, 1 * MM, 2 * MM, 6 * MM, 10 * MM))
        half = (self.one((4, 5, 6)) * RIB_PITCH[profile] + room) // 2
        return Band(centre - half, centre + half, "smooth", 0)

    def _bands(self, centre: int) -> list[Band]:
        profile = "PK"
        first = self.smooth(centre, profile) if self.chance(25) else self.ribbed(centre, profile, self.whole(4, 8))
        if self.chance(45):
            return [first]
        away = centre + self.one((-4, 4, 6, 30)) * MM
        second = (
            self.smooth(away, profile)
            if (first.grooves > 0) == self.chance(80)
            else self.ribbed(away, profile, self.whole(4, 7))
        )
        return [first, second]

    def _profile(self) -> dict[str, bool | int | str]:
        return {"profile": self.one(("PK",) * 15 + ("PJ",))} if self.chance(93) else {}

    def _add_pumps(self) -> None:
        for place in range(self.whole(2, 5)):
            attributes = self._profile()
            if self.chance(93):
                attributes["rotation"] = self.one(("clockwise",) * 15 + ("counterclockwise",))
            face = self.one(self.faces)
            ports = [Port("mount", "mount", face, "pump", wet=True, gasket=self._gasket(face, 15))]
            ports += self._outlets()
            measures = []
            if self.chance(96):
                measures.append(self.measure("flange_thickness", self.one((8, 10, 12)) * MM))
            if self.chance(90):
                measures.append(self.measure("cover_room", self.whole(40, 50) * MM))
            if self.chance(60):
                measures.append(self.measure("cover_room.sensor", self.whole(40, 50) * MM))
            if self.chance(80):
                ports.append(Port("carrier", "carrier", "boss", "boss"))
                if self.chance(90):
                    measures.append(self.measure("carrier_face", self.whole(60, 62) * MM))
                if self.chance(30):
                    measures.append(self.measure("carrier_face.idler", self.whole(60, 62) * MM))
            bands: list[Band] = []
            if self.chance(25):
                ports.append(Port("hub", "hub", self.one(("hub_circle",) * 5 + ("other_hub",)), "hub"))
                measures.append(self.measure("hub_face", self.whole(76, 80) * MM))
            else:
                plane = self.whole(94, 102) * MM
                measures.append(self.measure("belt_plane", plane))
                measures.append(self.measure("front_offset", 12 * MM))
                bands = self._bands(plane)
            self.add(f"P-{place}", "water_pump", measures, attributes=attributes, bands=bands, ports=ports)

    def _outlets(self) -> list[Port]:
        ports = []
        for outlet in range(self.whole(0, 2)):
            side: Side = self.one(("left", "right"))
            direction = self.one(("forward", "up", None))
            ports.append(Port(f"out_{outlet}", "coolant_out", "hose_bead", "spigot", None, side, direction, True))  # type: ignore[arg-type]
        return ports

    def _add_pulleys(self) -> None:
        for place in range(self.whole(2, 4)):
            offset = self.one((18, 20, 22)) * MM
            ports = [Port("mount", "mount", self.one(("hub_circle",) * 5 + ("other_hub",)), "pulley")]
            measures = [self.measure("offset", offset)]
            attributes, bands = self._profile(), self._bands(offset)
            self.add(f"U-{place}", "pulley", measures, attributes=attributes, bands=bands, ports=ports)

    def _aim(self) -> None:
        """Choose a pump and plates that meet the first face, for drives and covers to suit now and then."""
        thick = {
            number: part.measures["thickness"].nominal
            for number, part in self.parts.items()
            if "thickness" in part.measures
        }
        self.aimed_pump = self.one(self.of("water_pump"))
        self.aimed_plates: list[str] = []
        for _ in range(20):
            pump, plates = self.path()
            meets, face = True, self.faces[0]
            for number in [*plates, pump]:
                mount, *faces = (port.connection for port in self.parts[number].ports)
                meets, face = meets and mount == face, faces[0] if faces else face
            if meets:
                self.aimed_pump, self.aimed_plates = pump, plates
                break
        layers = [self.connections[self.faces[0]].gasket] * (len(self.aimed_plates) + 1)
        self.aimed_flange = sum(thick.get(number, 0) for number in [*self.aimed_plates, *layers] if number is not None)

    def _aimed_plane(self) -> int:
        """Where the belt of the aimed pump runs."""
        measures = self.parts[self.aimed_pump].measures
        if "belt_plane" in measures:
            return self.aimed_flange + measures["belt_plane"].nominal
        pulley = self.parts[self.one(self.of("pulley"))]
        return self.aimed_flange + measures["hub_face"].nominal + pulley.measures["offset"].nominal

    def _add_drives(self) -> None:
        for place in range(2):
            bands = self.parts[self.aimed_pump].bands
            attributes: dict[str, bool | int | str] = {
                "profile": "PK",
                "ribs": self.one((4, 4, 5, 6)),
                "belt_side": self.one(bands).surface
                if bands and self.chance(88)
                else self.one(("ribbed", "ribbed", "smooth")),
            }
            if self.chance(93):
                attributes["rotation"] = self.one(("clockwise",) * 15 + ("counterclockwise",))
            plane = self.whole(96, 112) * MM
            if self.chance(75):
                plane = self._aimed_plane() + self.one((0, 0, 0, 1 * MM))
            plane += self.one((0, 0, 500_000, -250_000))
            measures = [self.measure("belt_plane", plane)]
            if self.chance(75):
                # Some with so much doubt that the limit has it too, in steps in which what is held against it moves.
                doubts = (None, None, 0, 48 * MM, 96 * MM, 19_200_000)
                span = self.one((96, 192, 288, 384, 768)) * MM
                measures.append(self.measure("shortest_span", span, self.one(doubts), self.one(doubts)))
            ports = [Port("mount", "mount", "bracket_face", "bracket")] if self.chance(95) else []
            boss = plane - self.aimed_flange - 61 * MM
            for name in ("idler", "tensioner")[: self.one((0, 0, 0, 0, 1, 1, 2))]:
                ports.append(Port(name, "carried", "boss", "bracket"))
                if self.chance(50):
                    measures.append(self.measure(f"carried_offset.{name}", boss + self.whole(-1, 1) * MM))
            if any(port.role == "carried" for port in ports) and self.chance(90):
                measures.append(self.measure("carried_offset", boss + self.whole(-1, 1) * MM))
            self.add(f"D-{place}", "accessory_drive", measures, attributes=attributes, ports=ports, plain=True)

    def _height(self, room: str) -> int:
        """A height that often leaves the aimed pump just the air gap, or half a millimetre of slack."""
        known = self.parts[self.aimed_pump].measures.get(room)
        base = 45 * MM if known is None else known.nominal
        return base + self.aimed_flange - 1_500_000 - self.one((-1 * MM, 0, 500_000, 2 * MM, 6 * MM))

    def _add_covers(self) -> None:
        for place in range(2):
            measures = [self.measure("cover_height", self._height("cover_room"))]
            if self.chance(50):
                measures.append(self.measure("cover_height.sensor", self._height("cover_room.sensor")))
            if self.chance(20):
                measures.append(self.measure("cover_height.rail", self.whole(42, 54) * MM))
            ports = [Port("mount", "mount", "cover_rail", "cover")] if self.chance(95) else []
            self.add(f"C-{place}", "front_cover", measures, ports=ports, plain=True)

    def _add_free_zones(self) -> None:
        """Zones of the covers over which a pump does not reach, so that it states no room there."""
        covers = [self.parts[number] for number in self.of("front_cover")]
        zones = sorted({name.partition(".")[2] for cover in covers for name in cover.measures})
        for number in self.of("water_pump"):
            part = self.parts[number]
            rooms = {name.partition(".")[2] for name in part.measures if name.startswith("cover_room")}
            free = [zone or "centre" for zone in zones if zone not in rooms and self.chance(75)]
            if free:
                attributes = {**part.attributes, "free_zones": ", ".join(free)}
                self.parts[number] = msgspec.structs.replace(part, attributes=attributes)

    def _add_crank_pulleys(self) -> None:
        for place in range(2):
            drive = self.parts[self.one(("D-0", "D-0", "D-1"))]
            seat = self.parts["E-0"].measures.get("crank_face")
            offset = drive.measures["belt_plane"].nominal - (10 * MM if seat is None else seat.nominal)
            offset += self.one((0, 0, 0, 1_000_000, 500_000, 3_560_000))
            ports = [Port("mount", "mount", "crank_nose", "pulley")] if self.chance(95) else []
            bands = [self.ribbed(offset - offset % 2, "PK", self.whole(5, 8))]
            measures = [self.measure("offset", offset)]
            self.add(f"K-{place}", "crank_pulley", measures, attributes=self._profile(), bands=bands, ports=ports)

    def _add_fasteners(self) -> None:
        for place in range(self.whole(4, 7)):
            thread = self.thread if self.chance(90) else "M10x1.5"
            measures = [self.measure("length", self.one((25, 30, 30, 35, 40, 45)) * MM)]
            if self.chance(40):
                measures.append(self.measure("washer_thickness", 1 * MM, 0))
            attributes: dict[str, bool | int | str] = {"thread": thread, "pieces": self.one((1, 2, 4, 8))}
            self.add(f"F-{place}", "fastener_set", measures, attributes=attributes)

    def _add_extras(self) -> None:
        """Parts that are there only because a rule requires them."""
        for place in range(3):
            self.add(f"X-{place}", "cap", retired=20)

    def _forget(self) -> None:
        """Now and then a fact that no part of a kind states."""
        if self.whole(0, 9):
            return
        kind, fact = self.one(
            (
                ("water_pump", "rotation"),
                ("water_pump", "profile"),
                ("crank_pulley", "profile"),
                ("adapter_plate", "hole_material"),
            )
        )
        for number in self.of(kind):  # type: ignore[arg-type]
            part = self.parts[number]
            attributes = {name: value for name, value in part.attributes.items() if name != fact}
            self.parts[number] = msgspec.structs.replace(part, attributes=attributes)

    def path(self) -> tuple[str, list[str]]:
        """A pump and plates, whether they meet or not: for rules."""
        return self.one(self.of("water_pump")), self.plates(self.one((0, 1, 1, 2)))

    def plates(self, count: int) -> list[str]:
        plates = self.of("spacer") + self.of("adapter_plate")
        return [self.one(plates) for _ in range(count)]

    def _add_rules(self) -> None:
        for place in range(self.one((0, 0, 1, 2, 4, 5))):
            kind: RuleKind = self.one(
                (
                    "requires",
                    "requires",
                    "excludes",
                    "tested_fit",
                    "tested_fit",
                    "tested_fit",
                    "tested_no_fit",
                    "replaced_by",
                )
            )
            rule = getattr(self, f"_{kind}")(f"rule_{place}")
            if rule.part not in rule.others:
                self.rules.append(rule)

    def _anything(self) -> str:
        return self.one(list(self.parts))

    def _requires(self, name: str) -> Rule:
        part = self.one(self.of(self.one(("water_pump", "spacer", "gasket", "cap", "accessory_drive"))) or ["P-0"])
        if self.chance(70):
            return Rule(name, "requires", part, tuple(self.some(self.of("cap"), 2)))
        return Rule(name, "requires", part, (self._anything(),))

    def _excludes(self, name: str) -> Rule:
        pump, plates = self.path()
        others = self.some(
            [*plates, *self.of("cap"), *self.of("gasket"), *self.of("fastener_set"), *self.of("pulley")], 2
        )
        return Rule(name, "excludes", pump if self.chance(60) else self._anything(), tuple(others))

    def _tested(self) -> tuple[str, list[str]]:
        pump, plates = (self.aimed_pump, self.aimed_plates) if self.chance(75) else self.path()
        others = [*plates, "D-0"]
        for kind, percent in (("front_cover", 65), ("engine", 30), ("crank_pulley", 10), ("pulley", 10)):
            if self.chance(percent):
                numbers = self.of(kind)  # type: ignore[arg-type]
                others.append(numbers[0] if self.chance(80) else self.one(numbers))
        return pump, others

    def _tested_fit(self, name: str) -> Rule:
        pump, others = self._tested()
        if self.chance(20):  # some engine that carries a tested crank pulley: no pump in the rule
            pump, others = (
                self.of("engine")[0],
                [self.one(self.of("accessory_drive")), self.one(self.of("crank_pulley"))],
            )
        return Rule(name, "tested_fit", pump, tuple(others), tuple(self.some(SETTLED_BY_TEST, 12)), "bench")

    def _tested_no_fit(self, name: str) -> Rule:
        pump, others = self._tested()
        return Rule(name, "tested_no_fit", pump, tuple(others[: self.whole(1, len(others))]))

    def _replaced_by(self, name: str) -> Rule:
        """Between parts that no slot names: a slot that names a retired part is answered with its replacement."""
        older, newer = self.of("fastener_set")[:2]
        return Rule(name, "replaced_by", older, (newer,))


def _build(shelf: _Shelf) -> Build:
    """A build that asks for several of the catalog's parts, in any case or by their old numbers."""
    fields: dict[str, Any] = {"engine": _described_engine(shelf) if shelf.chance(10) else _reference(shelf, "E-0")}
    if shelf.chance(80):
        fields["accessory_drive"] = (
            _described_drive(shelf) if shelf.chance(15) else _reference(shelf, _any(shelf, "accessory_drive"))
        )
    if shelf.chance(50):
        fields["front_cover"] = (
            _described_cover(shelf) if shelf.chance(15) else _reference(shelf, _any(shelf, "front_cover"))
        )
    if shelf.chance(25):
        fields["crank_pulley"] = (
            _described_crank(shelf) if shelf.chance(15) else _reference(shelf, _any(shelf, "crank_pulley"))
        )
    if shelf.chance(18):
        pump = shelf.aimed_pump if shelf.chance(50) else _any(shelf, "water_pump")
        fields["pump"] = _described_pump(shelf) if shelf.chance(35) else _reference(shelf, pump)
    if shelf.chance(8):
        fields["pulley"] = _described_pulley(shelf) if shelf.chance(30) else _reference(shelf, _any(shelf, "pulley"))
    fields["have"] = [_reference(shelf, _sellable(shelf)) for _ in range(shelf.one((0, 0, 1, 3, 6)))]
    fields["measured"] = _readings(shelf, fields)
    fields["must"] = _must(shelf, fields.get("pulley"))
    keys = ["work", "recommended", "price", "margin", "parts", "length"]
    shelf.random.shuffle(keys)
    fields["rank_by"] = keys[: shelf.one((0, 0, 0, 1, 2, 6))]
    fields["limit"] = fields["paths_per_pump"] = 50
    return msgspec.convert(fields, Build)


def _priced_to_a_limit(shelf: _Shelf, build: Build) -> Build:
    """The build with what an option may well cost just allowed, or a cent less: prices go by five dollars."""
    limit = Amount((500 * shelf.whole(4, 24) - shelf.one((0, 1))) / 100, CURRENCY)
    return replace(build, must=replace(build.must, price_at_most=limit))


def _any(shelf: _Shelf, kind: Kind) -> str:
    """One of the kind, more often the first."""
    numbers = shelf.of(kind)
    return numbers[0] if shelf.chance(60) else shelf.one(numbers)


def _sellable(shelf: _Shelf) -> str:
    kinds: list[Kind] = ["water_pump", "spacer", "gasket", "fastener_set", "pulley", "cap"]
    return shelf.one(shelf.of(shelf.one(kinds)) or ["P-0"])


def _reference(shelf: _Shelf, number: str) -> str:
    aliases = shelf.parts[number].aliases
    if aliases and shelf.chance(30):
        return aliases[0].upper()
    return number.lower() if shelf.chance(15) else number


def _length(nm: int) -> str:
    return f"{Decimal(nm) / MM:f} mm"


def _reading(shelf: _Shelf, nm: int) -> dict[str, Any]:
    """A reading with its own doubt, or with the tool's usual one, as text or as a number of millimetres."""
    taken_with: TakenWith = shelf.one(("drawing", "caliper", "tape"))
    reading: dict[str, Any] = {"value": _length(nm) if nm % MM else nm // MM, "taken_with": taken_with}
    if shelf.chance(50):
        reading["plus_minus"] = _length(shelf.tolerance())
    return reading


def _described_engine(shelf: _Shelf) -> dict[str, Any]:
    holes: dict[str, Any] = {"thread": shelf.thread, "hole_material": "cast_iron"} if shelf.chance(70) else {}
    measures = {"hole_depth": _reading(shelf, 30 * MM)} if shelf.chance(70) else {}
    if shelf.chance(60):
        measures["crank_face"] = _reading(shelf, 11 * MM)
    ports = [{"role": "pump_face", "connection": shelf.faces[0]}]
    for role, connection in (("cover_face", "cover_rail"), ("drive_face", "bracket_face"), ("crank", "crank_nose")):
        if shelf.chance(80):
            ports.append({"role": role, "connection": connection})
    return {"name": "my engine", "measures": measures, "attributes": holes, "ports": ports}


def _described_drive(shelf: _Shelf) -> dict[str, Any]:
    measures = {"belt_plane": _reading(shelf, shelf.whole(96, 108) * MM)} if shelf.chance(90) else {}
    if shelf.chance(50):
        measures["shortest_span"] = _reading(shelf, 192 * MM)
        if shelf.chance(40):
            measures["shortest_span"]["plus_minus"] = _length(shelf.one((48, 96)) * MM)
    attributes: dict[str, Any] = {"ribs": shelf.one((4, 5, 6))} if shelf.chance(80) else {}
    if shelf.chance(85):
        attributes["belt_side"] = shelf.one(("ribbed", "ribbed", "smooth"))
    if shelf.chance(85):
        attributes["profile"] = "PK"
    if shelf.chance(80):
        attributes["rotation"] = "clockwise"
    ports = _mount(shelf, "bracket_face")
    return {"name": "my drive", "measures": measures, "attributes": attributes, "ports": ports}


def _mount(shelf: _Shelf, connection: str) -> list[dict[str, Any]]:
    """What a described part bolts to, where the asker says so."""
    return [{"role": "mount", "connection": connection}] if shelf.chance(85) else []


def _described_cover(shelf: _Shelf) -> dict[str, Any]:
    measures = {"cover_height": _reading(shelf, shelf.whole(42, 52) * MM)} if shelf.chance(85) else {}
    if shelf.chance(40):
        measures["cover_height.sensor"] = _reading(shelf, shelf.whole(42, 52) * MM)
    return {"name": "my cover", "measures": measures, "ports": _mount(shelf, "cover_rail")}


def _described_bands(shelf: _Shelf, centre: int) -> list[dict[str, Any]]:
    """Sometimes none: then nobody knows on how many grooves its belt runs."""
    if shelf.chance(30):
        return []
    bands = shelf._bands(centre)
    return [
        {"from": _length(band.from_), "to": _length(band.to), "surface": band.surface, "grooves": band.grooves}
        for band in bands
    ]


def _described_crank(shelf: _Shelf) -> dict[str, Any]:
    offset = shelf.whole(84, 100) * MM
    measures = {"offset": _reading(shelf, offset)} if shelf.chance(90) else {}
    return {
        "name": "my crank pulley",
        "measures": measures,
        "attributes": {"profile": "PK"} if shelf.chance(85) else {},
        "bands": _described_bands(shelf, offset),
        "ports": _mount(shelf, "crank_nose"),
    }


def _described_pulley(shelf: _Shelf) -> dict[str, Any]:
    offset = shelf.one((18, 20, 22)) * MM
    measures = {"offset": _reading(shelf, offset)} if shelf.chance(90) else {}
    return {
        "name": "my pulley",
        "measures": measures,
        "attributes": {"profile": "PK"} if shelf.chance(85) else {},
        "bands": _described_bands(shelf, offset),
        "ports": [{"role": "mount", "connection": shelf.one(("hub_circle", "other_hub"))}],
    }


def _described_pump(shelf: _Shelf) -> dict[str, Any]:
    plane = shelf.whole(94, 102) * MM
    if shelf.chance(50):
        measures = {"belt_plane": _reading(shelf, plane)}
    else:
        measures = {"pulley_front": _reading(shelf, plane + 12 * MM), "front_offset": _reading(shelf, 12 * MM)}
    if shelf.chance(85):
        measures["flange_thickness"] = _reading(shelf, 10 * MM)
    if shelf.chance(85):
        measures["cover_room"] = _reading(shelf, 50 * MM)
    ports = [
        {"role": "mount", "connection": shelf.one(shelf.faces), "wet": True},
        {"role": "coolant_out", "connection": "hose_bead", "side": "left", "direction": "up", "wet": True},
    ]
    attributes = {"rotation": "clockwise"} if shelf.chance(80) else {}
    attributes |= {"profile": "PK"} if shelf.chance(85) else {}
    attributes |= {"free_zones": "sensor, rail"} if shelf.chance(50) else {}
    bands = _described_bands(shelf, plane)
    return {"name": "my pump", "measures": measures, "attributes": attributes, "ports": ports, "bands": bands}


READABLE: dict[Kind, tuple[str, ...]] = {
    "engine": ("hole_depth", "crank_face"),
    "water_pump": ("belt_plane", "pulley_front", "flange_thickness", "cover_room", "hub_face", "carrier_face"),
    "spacer": ("thickness",),
    "adapter_plate": ("thickness", "flange_thickness", "hole_depth"),
    "gasket": ("thickness",),
    "fastener_set": ("length",),
    "accessory_drive": ("belt_plane", "shortest_span"),
    "front_cover": ("cover_height", "cover_height.sensor"),
    "pulley": ("offset",),
    "crank_pulley": ("offset",),
}


def _readings(shelf: _Shelf, fields: dict[str, Any]) -> list[dict[str, Any]]:
    """Readings of the catalog's parts, at most one a part, near what the catalog says."""
    readings = []
    for number in shelf.some(list(shelf.parts), 3) if shelf.chance(40) else []:
        part = shelf.parts[number]
        if part.kind not in READABLE:
            continue
        name = shelf.one(READABLE[part.kind])
        known = part.measures.get("belt_plane" if name == "pulley_front" else name)
        if known is None:
            continue
        value = known.nominal + shelf.one((0, 0, 500_000, -500_000, 1_000_000))
        doubt: dict[str, Any] = {}
        if shelf.chance(20):
            # Beyond all doubt, or on the very edge of it: 3 mm from the limits of what the catalog says.
            edges = (known.high + 3 * MM, known.low - 3 * MM, known.high + 3 * MM + 1, known.low - 3 * MM - 1)
            value = max(0, shelf.one((*edges, known.nominal + 60 * MM)))
            doubt = {"plus_minus": "0 mm"}
        if name == "pulley_front":
            value += part.measures["front_offset"].nominal
        readings.append({"part": _reference(shelf, number), "measure": name, **_reading(shelf, value), **doubt})
    return readings


def _must(shelf: _Shelf, pulley: Any) -> dict[str, Any]:
    must: dict[str, Any] = {}
    if shelf.chance(8):
        must["outlet_side"] = shelf.one(("left", "right"))
    if shelf.chance(8):
        must["outlet_direction"] = shelf.one(("forward", "up"))
    if shelf.chance(15):
        must["work_at_most"] = shelf.one(("bolt_on", "press", "hand_fit", "press"))
    if shelf.chance(15):
        must["price_at_most"] = {"amount": shelf.one((10, 40, 65, 80.5, 120, 200)), "currency": CURRENCY}
    if shelf.chance(15):
        out = [
            number
            for number, part in shelf.parts.items()
            if part.kind not in ("engine", "accessory_drive", "front_cover")
        ]
        must["without"] = [_reference(shelf, number) for number in shelf.some(out, 3)]
    if isinstance(pulley, str) and shelf.chance(25):
        must["without"] = [pulley]
    return must
