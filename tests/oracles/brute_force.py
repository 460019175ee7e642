"""The fit question by plain enumeration: slow, obvious, exact, and sharing no code with the engine.

Every sequence of up to three plates, every pump, every pulley, every joint; every sum in `Fraction`s.
Written from the design alone. `solve` gives every face path that there is, feasible or not.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise, product
from typing import Any

from msgspec import UNSET

from catalog.domain import Band, Connection, Measure, Part, Port, Rule, Snapshot
from catalog.standards.belts import DEFAULT_SPAN, RIB_PITCH
from catalog.standards.threads import LEAST_ENGAGEMENT, diameter
from catalog.units import from_millimetres, minor_units, parse_length
from catalog.vocabulary import DEFAULT_TOLERANCE, WORK
from service.fit.build import Build, Described, Must

MM = 1_000_000
AIR_GAP = Fraction(3, 2) * MM
SLOPE = Fraction(1, 192)
SLOT_KINDS = {
    "engine": "engine",
    "accessory_drive": "accessory_drive",
    "front_cover": "front_cover",
    "crank_pulley": "crank_pulley",
    "radiator": "radiator",
    "heater_core": "heater",
    "fan": "fan",
}
DEFAULT_ORDER = ("work", "recommended", "price", "margin")
PathKey = tuple[str, tuple[str, ...]]
"""Pump ("" where it is described) and the sorted plates."""
Interval = tuple[int, int]
Exact = int | Fraction
Limits = tuple[Fraction, Fraction]
"""The least and the most that a limit can be; both are the same where it is known exactly."""


@dataclass
class Piece:
    """A part in a slot, of the catalog or described."""

    part: Part
    described: bool = False
    read: bool = False
    """Whether the asker gave a reading of it."""

    @property
    def number(self) -> str:
        return "" if self.described else self.part.number

    def get(self, name: str) -> Interval | None:
        measure = self.part.measures.get(name)
        return None if measure is None else (measure.low, measure.high)


@dataclass
class Trial:
    """One check: its verdict, and its numbers where it has any."""

    code: str
    zone: str
    verdict: str
    margin: Fraction | None = None
    limit: Fraction | None = None
    settled: bool = False

    def relative(self) -> Fraction | None:
        if self.margin is None or self.limit is None or self.settled or self.verdict == "not_asked":
            return None
        return self.margin / (self.limit if self.limit != 0 else MM)


@dataclass
class Joint:
    """Two ports that met."""

    connection: Connection
    gasket: Piece | None


@dataclass
class Way:
    """One sequence of plates with a pump, its joints and its pulley."""

    pump: Piece
    plates: list[Piece]
    joints: list[Joint]
    pulley: Piece | None
    tests: list[Trial] = field(default_factory=list)
    fasteners: list[str] = field(default_factory=list)
    quantities: Counter[str] = field(default_factory=Counter)
    flange: Interval = (0, 0)
    buy_price: int | None = None
    work: str = "bolt_on"
    picks: tuple[int, ...] = ()
    """Which of the fastener sets that do not fail each group takes; the first where it is not said."""
    choices: list[int] = field(default_factory=list)
    """How many fastener sets each group could take."""

    @property
    def path(self) -> PathKey:
        return self.pump.number, tuple(sorted(plate.number for plate in self.plates))

    @property
    def order(self) -> tuple[str, ...]:
        return tuple(plate.number for plate in self.plates)

    @property
    def feasible(self) -> bool:
        return all(test.verdict != "fails" for test in self.tests)

    @property
    def verdict(self) -> str:
        return "ok" if all(test.verdict in ("ok", "not_asked") for test in self.tests) else "measure_first"

    def verdicts(self) -> dict[tuple[str, str], str]:
        """Verdict of every check by code and zone; clamped groups are numbered from the engine outward."""
        return {(test.code, test.zone): test.verdict for test in self.tests}


@dataclass
class Solution:
    """All ways of every face path, and the feasible ones in rank order."""

    ways: dict[PathKey, list[Way]]
    ranking: list[Way]
    """The best way of each feasible path, best first."""
    verdict: str

    def listed(self, limit: int, per_pump: int) -> list[Way]:
        """What an answer lists: in rank order, so many a pump, so many in all."""
        seen = Counter[str]()
        kept: list[Way] = []
        for way in self.ranking:
            if seen[way.pump.number] < per_pump and len(kept) < limit:
                seen[way.pump.number] += 1
                kept.append(way)
        return kept


def solve(snapshot: Snapshot, build: Build) -> Solution:
    """Every face path of a build, by trying everything."""
    question = Question(snapshot, build)
    ways: dict[PathKey, list[Way]] = {}
    best_of: dict[PathKey, Way] = {}
    for way in every_way(question):
        judge(question, way)
        alike = [way]
        for picks in list(product(*(range(count) for count in way.choices)))[1:]:
            other = Way(way.pump, way.plates, way.joints, way.pulley, picks=picks)
            judge(question, other)
            alike.append(other)
        ways.setdefault(way.path, []).extend(alike)
        feasible = [other for other in alike if other.feasible]
        if feasible:
            # Bolts to be measured first are taken only where none that hold for certain make an option.
            found = min(feasible, key=lambda way: (way.verdict != "ok", doubts(question, way), rank_key(question, way)))
            known = best_of.get(way.path)
            if known is None or rank_key(question, found) < rank_key(question, known):
                best_of[way.path] = found
    best = list(best_of.values())
    best.sort(key=lambda way: rank_key(question, way))
    verdict = "fits" if any(way.verdict == "ok" for way in best) else "measure_first" if best else "blocked"
    return Solution(ways, best, verdict)


# --- what the build says -------------------------------------------------------------------------------------


def nanometres(length: float | str) -> int:
    return parse_length(length) if isinstance(length, str) else from_millimetres(length)


def measure_of(name: str, reading: Any) -> Measure:
    """A reading as a measure: its own doubt, or the usual one of the tool."""
    doubt = DEFAULT_TOLERANCE[reading.taken_with]
    if reading.plus_minus is not UNSET:
        doubt = nanometres(reading.plus_minus)
    return Measure(name, nanometres(reading.value), doubt, doubt, reading.taken_with, "")


def plane_from_front(front: Measure, offset: Measure) -> Measure:
    """The belt plane behind a pulley's front edge: low is front's low less offset's high, and the other way."""
    nominal = front.nominal - offset.nominal
    low, high = front.low - offset.high, front.high - offset.low
    return Measure("belt_plane", nominal, high - nominal, nominal - low, front.taken_with, "")


def with_measures(part: Part, measures: Mapping[str, Measure], bands: tuple[Band, ...]) -> Part:
    return Part(
        number=part.number,
        kind=part.kind,
        name=part.name,
        status=part.status,
        recommended=part.recommended,
        aliases=part.aliases,
        attributes=part.attributes,
        measures=measures,
        bands=bands,
        ports=part.ports,
        price=part.price,
    )


def contradicts(part: Part, reading: Any) -> bool:
    """Whether a reading lies farther from what the catalog says than the doubts of both and 3 mm."""
    read = measure_of(reading.measure, reading)
    known = part.measures.get(reading.measure)
    if known is not None:
        low, high = known.low, known.high
    elif reading.measure == "pulley_front" and "belt_plane" in part.measures:
        plane, ahead = part.measures["belt_plane"], part.measures["front_offset"]
        low, high = plane.low + ahead.low, plane.high + ahead.high
    else:
        return False
    return read.low > high + 3 * MM or read.high < low - 3 * MM


class Question:
    """The build against the catalog: pieces in slots, readings applied, what may not be used, what is at hand."""

    def __init__(self, snapshot: Snapshot, build: Build) -> None:
        self.snapshot = snapshot
        self.build = build
        self.kept: dict[tuple[str, ...], list[Piece]] = {}
        self.readings: dict[str, list[Any]] = {}
        self.challenged: list[tuple[str, str]] = []
        """Part and measure of each reading that contradicts the part."""
        for measured in build.measured:
            number = self.number(measured.part)
            self.readings.setdefault(number, []).append(measured)
            if contradicts(snapshot.parts[number], measured):
                self.challenged.append((number, measured.measure))
        self.without = {self.number(reference) for reference in build.must.without}
        self.have = Counter(self.number(reference) for reference in build.have)
        self.drive = self.slot(build.accessory_drive, "accessory_drive")
        self.ribs: int | None = None
        if self.drive is not None:
            ribs = self.drive.part.attributes.get("ribs")
            self.ribs = None if ribs is None else int(ribs)
        engine = self.slot(build.engine, "engine")
        assert engine is not None
        self.engine = engine
        self.cover = self.slot(build.front_cover, "front_cover")
        self.crank = self.slot(build.crank_pulley, "crank_pulley")
        self.pump = self.slot(build.pump, "water_pump")
        self.pulley = self.slot(build.pulley, "pulley")

    def number(self, reference: str) -> str:
        for part in self.snapshot.parts.values():
            if reference.lower() in (name.lower() for name in (part.number, *part.aliases)):
                return part.number
        raise AssertionError(f"no part {reference}")

    def piece(self, number: str) -> Piece:
        """A part of the catalog with the asker's readings in place of its measures."""
        part = self.snapshot.parts[number]
        readings = self.readings.get(number, [])
        if not readings:
            return Piece(part)
        measures = dict(part.measures)
        # A reading that contradicts its part is not believed: the catalog's own measure stays, and so does the doubt.
        believed = [reading for reading in readings if not contradicts(part, reading)]
        for reading in believed:
            measure = measure_of(reading.measure, reading)
            if part.kind == "water_pump" and reading.measure == "pulley_front":
                measure = plane_from_front(measure, measures["front_offset"])
            measures[measure.name] = measure
        bands = part.bands
        if part.kind == "water_pump" and bands and "belt_plane" in part.measures:
            shift = measures["belt_plane"].nominal - part.measures["belt_plane"].nominal
            bands = tuple(Band(band.from_ + shift, band.to + shift, band.surface, band.grooves) for band in bands)
        return Piece(with_measures(part, measures, bands), read=True)

    def slot(self, given: Any, kind: str) -> Piece | None:
        if given is UNSET:
            return None
        if isinstance(given, str):
            return self.piece(self.number(given))
        return Piece(self.describe(given, kind), described=True)

    def describe(self, given: Described, kind: str) -> Part:
        measures = {name: measure_of(name, reading) for name, reading in given.measures.items()}
        if kind == "water_pump" and "belt_plane" not in measures and "pulley_front" in measures:
            measures["belt_plane"] = plane_from_front(measures["pulley_front"], measures["front_offset"])
        attributes = dict(given.attributes)
        bands = tuple(
            Band(nanometres(band.from_), nanometres(band.to), band.surface, band.grooves) for band in given.bands
        )
        ports = []
        for place, port in enumerate(given.ports):
            connection = self.snapshot.connections[port.connection]
            outer = port.role in ("mount", "carried")
            side = None if port.side is UNSET else port.side
            direction = None if port.direction is UNSET else port.direction
            end = connection.ends[1 if outer else 0]
            ports.append(Port(f"port_{place}", port.role, port.connection, end, None, side, direction, port.wet))
        return Part(
            number="",
            kind=kind,  # type: ignore[arg-type]
            name=given.name,
            attributes=attributes,
            measures=measures,
            bands=bands,
            ports=tuple(ports),
        )

    def usable(self, number: str) -> bool:
        return self.snapshot.parts[number].status == "active" and number not in self.without

    def of(self, *kinds: str) -> list[Piece]:
        """Every part of these kinds that may be used."""
        if kinds not in self.kept:
            numbers = [part.number for part in self.snapshot.parts.values() if part.kind in kinds]
            self.kept[kinds] = [self.piece(number) for number in numbers if self.usable(number)]
        return self.kept[kinds]


# --- every way from the block to a pump ----------------------------------------------------------------------


def every_way(question: Question) -> Iterator[Way]:
    """Every sequence of at most three plates and a pump whose joints all meet, with every pulley."""
    plates = question.of("spacer", "adapter_plate")
    if question.pump is None:
        pumps = question.of("water_pump")
    else:
        pumps = [] if question.pump.number in question.without else [question.pump]
    sequences: list[list[Piece]] = [[]]
    for length in range(3):
        sequences += [[*sequence, plate] for sequence in sequences if len(sequence) == length for plate in plates]
    for sequence in sequences:
        for pump in pumps:
            for joints in joints_along(question, [question.engine, *sequence, pump]):
                for pulley in pulleys_for(question, pump):
                    yield Way(pump, sequence, joints, pulley)


def joints_along(question: Question, chain: list[Piece]) -> list[list[Joint]]:
    """Every list of joints by which these parts hold together; none where two neighbours cannot meet."""
    found: list[list[Joint]] = [[]]
    for inner, outer in pairwise(chain):
        here = []
        for face in inner.part.ports:
            for mount in outer.part.ports:
                if face.role == "pump_face" and mount.role == "mount" and face.connection == mount.connection:
                    joint = joint_of(question, face, mount)
                    if joint is not None:
                        here.append(joint)
        found = [[*joints, joint] for joints in found for joint in here]
    return found


def joint_of(question: Question, face: Port, mount: Port) -> Joint | None:
    connection = question.snapshot.connections[face.connection]
    if {face.end, mount.end} != set(connection.ends):
        return None
    if connection.seal not in ("gasket", "o_ring"):
        return Joint(connection, None)
    required = {port.gasket for port in (face, mount) if port.gasket is not None}
    if len(required) > 1:
        return None
    number = required.pop() if required else connection.gasket
    if number is None and connection.seal == "o_ring":
        return Joint(connection, None)
    if number is None or not question.usable(number):
        return None
    return Joint(connection, question.piece(number))


def bare_hub(pump: Piece) -> Port | None:
    """The hub that needs a pulley: of a pump without bands of its own."""
    if pump.part.bands:
        return None
    return next((port for port in pump.part.ports if port.role == "hub"), None)


def fits_hub(question: Question, pulley: Piece, hub: Port) -> bool:
    other = question.snapshot.connections[hub.connection].other_end(hub.end)
    return any(
        port.role == "mount" and port.connection == hub.connection and port.end == other for port in pulley.part.ports
    )


def pulleys_for(question: Question, pump: Piece) -> list[Piece | None]:
    """The pulleys to try with a pump. None alone where it takes none, or where there is none to take."""
    if question.pulley is not None:
        return [question.pulley]
    hub = bare_hub(pump)
    if hub is None or question.drive is None:
        return [None]
    fitting: list[Piece | None] = [pulley for pulley in question.of("pulley") if fits_hub(question, pulley, hub)]
    return fitting or [None]


# --- judging one way -----------------------------------------------------------------------------------------


def judge(question: Question, way: Way) -> None:
    """Fill in every check, the parts list, the price and the work."""
    low = high = 0
    for joint in way.joints:
        if joint.gasket is not None and joint.connection.seal == "gasket":
            thickness = joint.gasket.get("thickness")
            assert thickness is not None
            low, high = low + thickness[0], high + thickness[1]
    for plate in way.plates:
        thickness = plate.get("thickness")
        assert thickness is not None
        low, high = low + thickness[0], high + thickness[1]
    way.flange = low, high
    way.tests.append(face_test(question))
    way.tests.append(hub_test(question, way))
    way.tests += belt_tests(question, way)
    way.tests += crank_tests(question)
    way.tests += cover_tests(question, way)
    way.tests += carried_tests(question, way)
    way.tests += bolt_tests(question, way)
    list_parts(question, way)
    way.tests += rule_tests(question, way)
    named = [question.engine, question.drive, question.cover, question.crank, way.pulley]
    present = [piece.number for piece in named if piece is not None and not piece.described]
    way.tests += reading_tests(question, [*present, *way.quantities])
    settle(question, way)
    way.tests += must_tests(question, way)


def doubts(question: Question, way: Way) -> int:
    """How many groups have bolts that are to be measured first, or of which a reading is not believed."""
    groups = [test for test in way.tests if test.code == "bolts"]
    doubted = {number for number, _ in question.challenged}
    return sum(
        test.verdict == "measure_first" or number in doubted for test, number in zip(groups, way.fasteners, strict=True)
    )


def within(code: str, zone: str, low: Exact, high: Exact, limits: Limits) -> Trial:
    """|d| <= limit for d from low to high, the limit being somewhere between two: any of them must hold, or none."""
    least, most = limits
    if -least <= low and high <= least:
        verdict = "ok"
    elif low > most or high < -most:
        verdict = "fails"
    else:
        verdict = "measure_first"
    middle = (least + most) / 2
    return Trial(code, zone, verdict, middle - abs(Fraction(low + high) / 2), middle)


def at_least(code: str, zone: str, low: Exact, high: Exact, limit: Fraction) -> Trial:
    """d >= limit for d from low to high."""
    verdict = "ok" if low >= limit else "fails" if high < limit else "measure_first"
    return Trial(code, zone, verdict, Fraction(low + high) / 2 - limit, limit)


def reading_tests(question: Question, present: Iterable[str]) -> list[Trial]:
    """Whatever takes a part of which a reading is not believed must be measured first."""
    there = set(present)
    return [
        Trial("reading", f"{number}.{measure}", "measure_first")
        for number, measure in question.challenged
        if number in there
    ]


Fact = tuple[Piece, str]
"""A part and what it should state: a measure, an attribute, `bands`, or `port ` with a role."""


def states(part: Part, fact: str) -> bool:
    if fact.startswith("port "):
        roles = {fact[5:]}
        if part.kind == "water_pump" and roles <= {"coolant_in", "heater_return"}:
            roles.add("housing")  # a housing's face is where they enter
        return any(port.role in roles for port in part.ports)
    if fact == "bands":
        return bool(part.bands)
    plain = fact.partition(".")[0]
    return fact in part.attributes or any(name.partition(".")[0] == plain for name in part.measures)


def unknown(question: Question, code: str, zone: str, lacking: list[Fact]) -> Trial:
    """What is lacking must be measured first, unless no part of its kind in the whole release states it."""
    for piece, fact in lacking:
        kind = piece.part.kind
        if not any(part.kind == kind and states(part, fact) for part in question.snapshot.parts.values()):
            return Trial(code, zone, "not_asked")
    return Trial(code, zone, "measure_first")


def face_test(question: Question) -> Trial:
    """The mounts of drive, cover and crank pulley meet the engine; what states no mount may or may not."""
    silent: list[Fact] = []
    for piece in (question.drive, question.cover, question.crank):
        if piece is None:
            continue
        mounts = [port for port in piece.part.ports if port.role == "mount"]
        silent += [] if mounts else [(piece, "port mount")]
        for mount in mounts:
            wanted = question.snapshot.connections[mount.connection].other_end(mount.end)
            if not any(
                port.connection == mount.connection and port.end == wanted for port in question.engine.part.ports
            ):
                return Trial("face", "", "fails")
    return unknown(question, "face", "", silent) if silent else Trial("face", "", "ok")


def hub_test(question: Question, way: Way) -> Trial:
    hub = bare_hub(way.pump)
    if way.pulley is not None:
        fits = hub is not None and fits_hub(question, way.pulley, hub)
        return Trial("hub", "", "ok" if fits else "fails")
    if hub is not None and question.drive is not None:
        return Trial("hub", "", "fails")
    return Trial("hub", "", "not_asked")


@dataclass
class Spot:
    """A place where the belt may sit: from the first band's centre, and how far out of line it may run."""

    shift: Fraction
    limits: Limits


def exactly(limit: Fraction) -> Limits:
    return limit, limit


def span_limits(drive: Piece) -> Limits:
    """1/192 of the span, which is a measure with tolerances of its own."""
    low, high = drive.get("shortest_span") or (DEFAULT_SPAN, DEFAULT_SPAN)
    return low * SLOPE, high * SLOPE


def spots_on(question: Question, carrier: Piece, band: Band, side: str | None) -> list[Spot] | Fact:
    """Every place for the belt on one band, or what is lacking to say; no place where it cannot run there."""
    drive = question.drive
    assert drive is not None
    belt, own = drive.part.attributes.get("profile"), carrier.part.attributes.get("profile")
    ribbed = band.surface == "ribbed"
    if side not in (None, band.surface) or (ribbed and belt and own and belt != own):
        return []
    if question.ribs is None:
        return drive, "ribs"
    first = carrier.part.bands[0]
    shift = Fraction(band.from_ + band.to, 2) - Fraction(first.from_ + first.to, 2)
    if not ribbed:
        if belt is None:
            return drive, "profile"
        spare_width = Fraction(band.to - band.from_) - question.ribs * Fraction(RIB_PITCH[str(belt)])
        return [Spot(shift, exactly(spare_width / 2))] if spare_width >= 0 else []
    spare = band.grooves - question.ribs
    if spare > 0 and belt is None and own is None:
        return drive, "profile"
    pitch = Fraction(RIB_PITCH[str(belt or own or "PK")])
    places = [shift + (left - Fraction(spare, 2)) * pitch for left in range(spare + 1)]
    return [Spot(place, span_limits(drive)) for place in places]


@dataclass
class Run:
    """How the belt runs on a pulley: whether it cannot, what is lacking to say that it does, and where it may sit."""

    cannot: bool
    lacking: list[Fact]
    spots: list[Spot]
    unplaced: list[Fact]


def run_of(question: Question, carrier: Piece, side: str | None) -> Run:
    """From what drive and pulley state themselves; nothing of the one is taken for the other."""
    drive = question.drive
    assert drive is not None
    bands = carrier.part.bands
    found = [spots_on(question, carrier, band, side) for band in bands]
    lacking: list[Fact] = [] if side else [(drive, "belt_side")]
    lacking += [(drive, name) for name in ("profile", "ribs") if name not in drive.part.attributes]
    lacking += [] if bands else [(carrier, "bands")]
    may_be_ribbed = side != "smooth" and (not bands or any(band.surface == "ribbed" for band in bands))
    if may_be_ribbed and "profile" not in carrier.part.attributes:
        lacking.append((carrier, "profile"))
    if not bands:  # the belt's centre still runs where the measure says that it does
        spots = [Spot(Fraction(0), span_limits(drive))] if side == "ribbed" else []
        return Run(False, lacking, spots, [] if spots else [(carrier, "bands") if side else (drive, "belt_side")])
    unplaced = [one for one in found if isinstance(one, tuple)]
    if unplaced:
        return Run(False, lacking, [], unplaced)
    spots = [spot for one in found if isinstance(one, list) for spot in one]
    return Run(not spots, lacking, spots, [])


def best_within(code: str, low: Exact, high: Exact, spots: list[Spot]) -> Trial:
    """The verdict at the spot with the largest margin, the first of equals."""
    tests = [within(code, "", low - spot.shift, high - spot.shift, spot.limits) for spot in spots]
    best = tests[0]
    for test in tests:
        assert test.margin is not None
        assert best.margin is not None
        if test.margin > best.margin:
            best = test
    return best


def belt_tests(question: Question, way: Way) -> list[Trial]:
    drive = question.drive
    if drive is None:
        return []
    silent: list[Fact] = [(piece, "rotation") for piece in (way.pump, drive) if "rotation" not in piece.part.attributes]
    same = drive.part.attributes.get("rotation") == way.pump.part.attributes.get("rotation")
    tests = [unknown(question, "rotation", "", silent) if silent else Trial("rotation", "", "ok" if same else "fails")]
    hub = bare_hub(way.pump)
    if hub is not None and (way.pulley is None or not fits_hub(question, way.pulley, hub)):
        return tests  # nothing for the belt to run on: the hub check fails already
    carrier = way.pump if hub is None else way.pulley
    assert carrier is not None
    side = drive.part.attributes.get("belt_side")
    run = run_of(question, carrier, None if side is None else str(side))
    if run.cannot:
        return [*tests, Trial("belt", "", "fails")]
    tests.append(unknown(question, "belt", "", run.lacking) if run.lacking else Trial("belt", "", "ok"))
    planes: list[Fact] = [(way.pump, "belt_plane")] if hub is None else [(way.pump, "hub_face"), (carrier, "offset")]
    planes.insert(0, (drive, "belt_plane"))
    missing = [fact for fact in planes if fact[1] not in fact[0].part.measures] + run.unplaced
    if missing:
        return [*tests, unknown(question, "belt_plane", "", missing)]
    plane, *terms = [piece.get(name) for piece, name in planes]
    assert plane is not None
    low, high = plane[0] - way.flange[1], plane[1] - way.flange[0]
    for term in terms:
        assert term is not None
        low, high = low - term[1], high - term[0]
    return [*tests, best_within("belt_plane", low, high, run.spots)]


def crank_tests(question: Question) -> list[Trial]:
    if question.crank is None or question.drive is None:
        return []
    run = run_of(question, question.crank, "ribbed")
    if run.cannot:
        return [Trial("crank", "", "fails")]
    facts: list[Fact] = [(question.drive, "belt_plane"), (question.engine, "crank_face"), (question.crank, "offset")]
    missing = [fact for fact in facts if fact[1] not in fact[0].part.measures]
    plane, seat, offset = [piece.get(name) for piece, name in facts]
    test = None
    if plane is not None and seat is not None and offset is not None and run.spots:
        test = best_within("crank", plane[0] - seat[1] - offset[1], plane[1] - seat[0] - offset[0], run.spots)
    lacking = [*run.lacking, *run.unplaced, *missing]
    if test is not None and (test.verdict == "fails" or not lacking):
        return [test]
    return [unknown(question, "crank", "", lacking)]


def cover_tests(question: Question, way: Way) -> list[Trial]:
    if question.cover is None:
        return []
    tests = []
    free = str(way.pump.part.attributes.get("free_zones", "")).split(", ")
    for name in question.cover.part.measures:
        word, _, zone = name.partition(".")
        if word != "cover_height":
            continue
        room_name = "cover_room" + ("." + zone if zone else "")
        room, height = way.pump.get(room_name), question.cover.get(name)
        assert height is not None
        if room is not None:
            low = way.flange[0] + room[0] - height[1]
            high = way.flange[1] + room[1] - height[0]
            tests.append(at_least("cover", zone, low, high, AIR_GAP))
        elif (zone or "centre") in free:
            tests.append(Trial("cover", zone, "ok"))
        else:
            tests.append(unknown(question, "cover", zone, [(way.pump, room_name)]))
    return tests or [unknown(question, "cover", "", [(question.cover, "cover_height")])]


def carried_tests(question: Question, way: Way) -> list[Trial]:
    drive = question.drive
    if drive is None:
        return []
    if not drive.part.ports:
        return [unknown(question, "carried_parts", "", [(drive, "port carried")])]
    tests = []
    for port in drive.part.ports:
        if port.role != "carried":
            continue
        other = question.snapshot.connections[port.connection].other_end(port.end)
        if way.pump.described and "carrier" not in [boss.role for boss in way.pump.part.ports]:
            tests.append(unknown(question, "carried_parts", port.name, [(way.pump, "port carrier")]))
            continue
        if not any(
            boss.role == "carrier" and boss.connection == port.connection and boss.end == other
            for boss in way.pump.part.ports
        ):
            tests.append(Trial("carried_parts", port.name, "fails"))
            continue
        face = way.pump.get(f"carrier_face.{port.name}") or way.pump.get("carrier_face")
        offset = drive.get(f"carried_offset.{port.name}") or drive.get("carried_offset")
        plane = drive.get("belt_plane")
        if face is None or offset is None or plane is None:
            pairs = ((plane, drive, "belt_plane"), (face, way.pump, "carrier_face"), (offset, drive, "carried_offset"))
            lacking = [(piece, name) for found, piece, name in pairs if found is None]
            tests.append(unknown(question, "carried_parts", port.name, lacking))
            continue
        low = plane[0] - way.flange[1] - face[1] - offset[1]
        high = plane[1] - way.flange[0] - face[0] - offset[0]
        tests.append(within("carried_parts", port.name, low, high, span_limits(drive)))
    return tests or [Trial("carried_parts", "", "ok")]


# --- bolts ---------------------------------------------------------------------------------------------------


@dataclass
class Group:
    """What one set of bolts clamps, from the part that holds them, and what it holds last."""

    holder: Piece
    connection: Connection
    clamped: list[Interval | None]
    last: Piece


def groups_of(question: Question, way: Way) -> list[Group]:
    """From the engine, and from each tapped plate, outward to the next tapped plate or the pump."""
    groups = [Group(question.engine, way.joints[0].connection, [], way.pump)]
    for place, piece in enumerate([*way.plates, way.pump]):
        gasket = way.joints[place].gasket
        if gasket is not None and way.joints[place].connection.seal == "gasket":
            groups[-1].clamped.append(gasket.get("thickness"))
        if piece is way.pump:
            flange = piece.get("flange_thickness")
            # An outlet plate that states no flange is clamped through all of its thickness.
            through = piece.get("thickness") if piece.part.kind == "outlet_plate" else None
            groups[-1].clamped.append(flange or through)
        elif piece.get("hole_depth") is not None:
            groups[-1].clamped.append(piece.get("flange_thickness") or piece.get("thickness"))
            groups[-1].last = piece
            groups.append(Group(piece, way.joints[place + 1].connection, [], way.pump))
        else:
            groups[-1].clamped.append(piece.get("thickness"))
    return groups


def sets_needed(connection: Connection, fastener: Part) -> int:
    """How many sets to buy for the bolts of a connection, at least one."""
    pieces = int(fastener.attributes["pieces"])
    return max(1, -(-connection.bolts // pieces))


def bolt_tests(question: Question, way: Way) -> list[Trial]:
    tests = []
    for place, group in enumerate(groups_of(question, way)):
        choices = bolt_test(question, group, str(place))
        way.choices.append(len(choices))
        test, chosen = choices[way.picks[place] if way.picks else 0]
        tests.append(test)
        way.fasteners.append("" if chosen is None else chosen)
        if chosen is not None:
            quantity = sets_needed(group.connection, question.snapshot.parts[chosen])
            way.quantities[chosen] += quantity
    return tests


def unheld(question: Question, zone: str, holder: Piece, last: Piece, clamped: list[Interval | None]) -> Trial:
    """A group of which too little is known to choose bolts for it."""
    holes = [(holder, "hole_depth")] if holder.get("hole_depth") is None else []
    holes += [(holder, name) for name in ("thread", "hole_material") if name not in holder.part.attributes]
    flange = [(last, "flange_thickness")] if None in clamped else []
    return unknown(question, "bolts", zone, [*holes, *flange])


def bolt_test(question: Question, group: Group, zone: str) -> Sequence[tuple[Trial, str | None]]:
    """Every fastener set that does not fail; one entry without a set where all do or none was asked."""
    thread = group.holder.part.attributes.get("thread")
    material = group.holder.part.attributes.get("hole_material")
    depth = group.holder.get("hole_depth")
    if depth is None or thread is None or material is None or None in group.clamped:
        return [(unheld(question, zone, group.holder, group.last, group.clamped), None)]
    least = diameter(str(thread)) * LEAST_ENGAGEMENT[str(material)]
    choices = []
    for fastener in question.of("fastener_set"):
        length = fastener.get("length")
        if fastener.part.attributes["thread"] != thread or length is None:
            continue
        low, high = length
        for term in [*group.clamped, fastener.get("washer_thickness") or (0, 0)]:
            assert term is not None
            low, high = low - term[1], high - term[0]
        if low >= least and high <= depth[0]:
            verdict = "ok"
        elif high < least or low > depth[1] or depth[1] < least:
            continue
        else:
            verdict = "measure_first"
        middle, deepest = Fraction(low + high, 2), Fraction(depth[0] + depth[1], 2)
        margin, limit = (middle - least, least) if middle - least <= deepest - middle else (deepest - middle, deepest)
        choices.append((Trial("bolts", zone, verdict, margin, limit), fastener.number))
    return choices or [(Trial("bolts", zone, "fails"), None)]


# --- the list, and the rules that join its parts -------------------------------------------------------------


def list_parts(question: Question, way: Way) -> None:
    """Pump, plates, gaskets and pulley, each with how many; the fastener sets are counted already."""
    if not way.pump.described:
        way.quantities[way.pump.number] += 1
    for plate, joint in zip(way.plates, way.joints, strict=False):
        way.quantities[plate.number] += joint.connection.pieces_per_layer
    for joint in way.joints:
        if joint.gasket is not None:
            way.quantities[joint.gasket.number] += joint.connection.pieces_per_layer
    if way.pulley is not None and not way.pulley.described:
        way.quantities[way.pulley.number] += 1


def rule_tests(question: Question, way: Way) -> list[Trial]:
    """Bring in what is required, then hold every rule against the whole option."""
    slots = [question.engine, question.drive, question.cover, question.crank]
    present = {piece.number for piece in slots if piece is not None and not piece.described} | set(way.quantities)
    for named in (question.build.radiator, question.build.heater, question.build.fan):
        known = question.snapshot.find(named) if isinstance(named, str) else None
        present |= set() if known is None else {known.number}
    again = True
    while again:
        again = False
        for rule in question.snapshot.rules:
            if rule.kind != "requires" or rule.part not in present:
                continue
            for other in rule.others:
                part = question.snapshot.parts[other]
                own = ("water_pump", "pulley", "spacer", "adapter_plate", *SLOT_KINDS)
                if other not in present and part.kind not in own and question.usable(other):
                    present.add(other)
                    way.quantities[other] += 1
                    again = True
    return [
        Trial("rule", rule.name, "fails")
        for rule in question.snapshot.rules
        if rule.part in present and rule_fails(question, way, rule, present)
    ]


def rule_fails(question: Question, way: Way, rule: Rule, present: set[str]) -> bool:
    if rule.kind == "excludes":
        return any(other in present for other in rule.others)
    if rule.kind == "tested_no_fit":
        return very_combination(question, way, rule, present)
    if rule.kind == "requires":
        for other in rule.others:
            kind = question.snapshot.parts[other].kind
            if other in present:
                continue
            if kind in SLOT_KINDS:
                if getattr(question.build, SLOT_KINDS[kind]) is not UNSET:
                    return True
            elif kind == "pulley" and question.build.pulley is UNSET and question.build.accessory_drive is UNSET:
                continue  # nothing asks for a pulley, so that it is the asker's to say
            else:
                return True
    return False


def very_combination(question: Question, way: Way, rule: Rule, present: set[str]) -> bool:
    """All of the rule's parts are there, and its plates are just the option's plates."""
    named = [rule.part, *rule.others]
    if any(number not in present for number in named):
        return False
    kinds = {number: question.snapshot.parts[number].kind for number in named}
    plates = sorted(number for number in named if kinds[number] in ("spacer", "adapter_plate", "outlet_plate"))
    return plates == sorted(way.order)


def settle(question: Question, way: Way) -> None:
    """A tested fit turns the checks that it names to ok, where it is about all of their parts."""
    slots = [question.engine, question.drive, question.cover, question.crank]
    present = {piece.number for piece in slots if piece is not None and not piece.described} | set(way.quantities)
    turning = [way.pump, question.drive] + ([way.pulley] if way.pulley is not None else [])
    stack = [*way.plates, *(joint.gasket for joint in way.joints if joint.gasket is not None)]
    about: dict[str, tuple[list[Piece | None], list[Piece]]] = {
        # code: the parts that the rule must name, and what else a reading must not touch
        "belt": (turning, []),
        "rotation": (turning, []),
        "belt_plane": (turning, stack),
        "carried_parts": (turning, stack),
        "cover": ([way.pump, question.cover], stack),
        "crank": ([question.engine, question.drive, question.crank], []),
    }
    for rule in question.snapshot.rules:
        if rule.kind != "tested_fit" or not very_combination(question, way, rule, present):
            continue
        for test in way.tests:
            if test.code not in rule.settles:
                continue
            named, more = about[test.code]
            if any(piece is None or piece.number not in (rule.part, *rule.others) for piece in named):
                continue
            if any(piece is not None and (piece.described or piece.read) for piece in [*named, *more]):
                continue
            test.verdict = "ok"
            test.settled = True


def outlet_tests(must: Must, ports: Iterable[Port]) -> list[tuple[str, str]]:
    """Whether an outlet points as it must, by that outlet which comes nearest; for pumps that no neck bolts to."""
    wanted = {"outlet_side": must.outlet_side, "outlet_direction": must.outlet_direction}
    asked = [code for code in wanted if wanted[code] is not UNSET]
    outlets = [port for port in ports if port.role == "coolant_out"]
    if not outlets:
        known = any(port.role in OF_WATER for port in ports)
        return [(code, "fails" if known else "measure_first") for code in asked]
    tried = []
    for port in outlets:
        has = {"outlet_side": port.side, "outlet_direction": port.direction}
        tried.append([(code, verdict_of(has[code], wanted[code])) for code in asked])
    return min(tried, key=lambda tests: sorted((BEST.index(verdict) for _, verdict in tests), reverse=True))


BEST = ["ok", "measure_first", "fails"]
OF_WATER = (
    *("coolant_out", "coolant_in", "housing", "bypass", "vent", "sensor", "thermostat", "heater_feed", "heater_return"),
)


def verdict_of(has: str | None, wanted: object) -> str:
    return "measure_first" if has is None else "ok" if has == wanted else "fails"


def must_tests(question: Question, way: Way) -> list[Trial]:
    must = question.build.must
    tests = []
    tests += [Trial(code, "", verdict) for code, verdict in outlet_tests(must, way.pump.part.ports)]
    way.buy_price = buy_price(question, way)
    if must.price_at_most is not UNSET:
        most = minor_units(Decimal(repr(must.price_at_most.amount)), must.price_at_most.currency)
        good = way.buy_price is not None and way.buy_price <= most
        tests.append(Trial("price", "", "ok" if good else "fails"))
    steps = [str(question.snapshot.parts[number].attributes.get("work", "bolt_on")) for number in way.quantities]
    steps += [least_work(question.snapshot, port) for port in left_open(question, way)]
    way.work = max(steps, key=WORK.index, default="bolt_on")
    if must.work_at_most is not UNSET:
        good = WORK.index(way.work) <= WORK.index(must.work_at_most)
        tests.append(Trial("work", "", "ok" if good else "fails"))
    if question.pulley is not None and question.pulley.number in question.without:
        tests.append(Trial("without", "", "fails"))
    return tests


WET_ROLES = (
    "coolant_out",
    "coolant_in",
    "housing",
    "heater_feed",
    "heater_return",
    "bypass",
    "vent",
    "sensor",
    "thermostat",
)


def left_open(question: Question, way: Way) -> list[Port]:
    """The pump's ports that the asker connects: where nothing is asked of coolant, all that carry or hold it."""
    bare = not way.pump.part.bands and question.pulley is None and question.drive is None
    return [
        port
        for port in way.pump.part.ports
        if port.role != "mount" and (port.wet or port.role in WET_ROLES or (port.role == "hub" and bare))
    ]


def least_work(snapshot: Snapshot, port: Port) -> str:
    """What connecting a port takes at least: the lightest work of the parts on sale that have its other end."""
    steps = [
        str(part.attributes.get("work", "bolt_on"))
        for part in snapshot.parts.values()
        if part.status == "active"
        for other in part.ports
        if other.connection == port.connection and other.end != port.end
    ]
    return min(steps, key=WORK.index, default="bolt_on")


def buy_price(question: Question, way: Way) -> int | None:
    total = 0
    for number, quantity in way.quantities.items():
        to_buy = max(0, quantity - question.have[number])
        price = question.snapshot.parts[number].price
        if to_buy and price is None:
            return None
        if to_buy and price is not None:
            total += to_buy * price.amount
    return total


# --- ranking -------------------------------------------------------------------------------------------------


def least_relative(way: Way) -> Fraction | None:
    """The least margin over its limit; None where no check has numbers: then no margin is known, and it stands last."""
    numbers = [relative for test in way.tests if (relative := test.relative()) is not None]
    return min(numbers) if numbers else None


def price_key(question: Question, way: Way) -> tuple[int, int]:
    """Pieces to buy that have no price, then the sum of the others."""
    unpriced = known = 0
    for number, quantity in way.quantities.items():
        to_buy = max(0, quantity - question.have[number])
        price = question.snapshot.parts[number].price
        if price is None:
            unpriced += to_buy
        else:
            known += to_buy * price.amount
    return unpriced, known


def one_key(question: Question, way: Way, word: str) -> tuple[Any, ...]:
    if word == "work":
        return (WORK.index(way.work),)
    if word == "recommended":
        return (not way.pump.part.recommended,)
    if word == "price":
        return price_key(question, way)
    if word == "margin":
        least = least_relative(way)
        return (1, Fraction(0)) if least is None else (0, -least)
    if word == "parts":
        return (sum(way.quantities.values()),)
    assert word == "length"
    return (Fraction(sum(way.flange), 2),)


def bolts_key(question: Question, way: Way) -> list[tuple[int, str]]:
    """Among equals the shorter bolts, group by group, then those with the lower number."""
    parts = question.snapshot.parts
    return [(parts[number].measures["length"].nominal if number else 0, number) for number in way.fasteners]


def rank_key(question: Question, way: Way) -> tuple[Any, ...]:
    """What an option stands by: verdict, the asker's keys, the rest of the default ones, then bolts and numbers."""
    words = list(question.build.rank_by)
    words += [word for word in DEFAULT_ORDER if word not in words]  # type: ignore[misc]
    last = (
        way.pump.number,
        way.order,
        "" if way.pulley is None else way.pulley.number,
        bolts_key(question, way),
        sum(way.quantities.values()),
        sorted(way.quantities.items()),
    )
    return (way.verdict != "ok", *(one_key(question, way, word) for word in words), last)
