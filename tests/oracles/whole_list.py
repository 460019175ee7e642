"""The best whole parts list of every pump and face path, by trying all lists: for small catalogs.

Every sequence of plates, every pump, every way to settle every obligation (`lines`), every choice of bolts; each
whole list judged on its own. Written from the design alone; the checks of the pump's own place are those of
`brute_force`.
"""

from collections import Counter
from collections.abc import Iterator, Mapping
from copy import copy
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from itertools import product
from typing import Any, NamedTuple

from msgspec import UNSET

from catalog.domain import Port, Snapshot
from catalog.standards.threads import LEAST_ENGAGEMENT, diameter
from catalog.units import minor_units
from catalog.vocabulary import WORK
from service.fit.build import Build
from tests.oracles import brute_force
from tests.oracles.brute_force import DEFAULT_ORDER, MM, Fact, Interval, Joint, Piece, Question, Trial, Way
from tests.oracles.lines import NOTHING, Bolted, Bundle, Bundles, Lines, Obligation, ports_of

MOST_COMBINATIONS = 20_000
FAN_TO_CORE = Fraction(19) * MM
"""3/4 in in front of a fan that the engine drives (a truck maker's operator's manual, 2006, p. 143)."""
BEHIND_FAN = Fraction("9.525") * MM
"""3/8 in behind it (the same manual), and between a pump and a core or a fan on it (common practice, no source)."""


class TooMany(Exception):
    """More lists than can be tried: the case is too large for this oracle."""


@dataclass
class Face(Way):
    """From the block to a pump, or to an outlet plate whose pump runs elsewhere."""

    remote: Piece | None = None
    gaskets: list[tuple[str, int]] = field(default_factory=list)
    """Gasket or O-ring of each joint from the block outward, and how many."""

    @property
    def seller(self) -> Piece:
        """The pump of the option."""
        return self.pump if self.remote is None else self.remote

    @property
    def order(self) -> tuple[str, ...]:
        plates = self.plates if self.remote is None else [*self.plates, self.pump]
        return tuple(plate.number for plate in plates)

    @property
    def path(self) -> tuple[str, tuple[str, ...]]:
        return self.seller.number, tuple(sorted(self.order))


@dataclass
class Whole:
    """One whole list with all that is known about it."""

    face: Face
    quantities: Counter[str]
    tests: list[Trial]
    opens: tuple[tuple[str, str], ...]
    work: str = "bolt_on"
    price: tuple[int, int] = (0, 0)
    """Pieces to buy without a price, and the sum of the others."""
    key: tuple[Any, ...] = ()
    doubts: tuple[int, bool] = (0, False)
    """How many groups between block and pump have bolts to be measured first, and whether anything beyond has."""

    @property
    def feasible(self) -> bool:
        return all(test.verdict != "fails" for test in self.tests)

    @property
    def verdict(self) -> str:
        return "ok" if all(test.verdict in ("ok", "not_asked") for test in self.tests) else "measure_first"


class Bolting(NamedTuple):
    """One clamped group or joint: every set that does not fail, and the best verdict of any."""

    verdict: str
    sets: tuple[tuple[str, Trial], ...]
    bolts: int
    of_block: bool


PathKey = tuple[str, tuple[str, ...]]


@dataclass
class Best:
    """The best lists of one face path: one, or several that tie before the part numbers."""

    path: PathKey
    key: tuple[Any, ...]
    wholes: list[Whole]


def solve(snapshot: Snapshot, build: Build, limit: Mapping[str, int] | None = None) -> list[Best]:
    """The best of every face path that has a whole list, best first; with `limit`, of those within these quantities."""
    question = Question(snapshot, build)
    lines = Lines(question, limit)
    best: dict[PathKey, Best] = {}
    for face in every_face(question):
        feasible = [whole for whole in wholes_of(question, lines, face) if whole.feasible]
        # What is to be measured first is taken only where nothing that holds for certain makes an option.
        least = min((surest(whole) for whole in feasible), default=None)
        for whole in feasible:
            if surest(whole) != least:
                continue
            known = best.get(face.path)
            if known is None or whole.key < known.key:
                best[face.path] = Best(face.path, whole.key, [whole])
            elif whole.key == known.key:
                known.wholes.append(whole)
    return sorted(best.values(), key=lambda one: (one.key, one.path[0]))


def surest(whole: Whole) -> tuple[bool, tuple[int, bool]]:
    """By what the lists of one pump on one stack are told apart before their rank."""
    return whole.verdict != "ok", whole.doubts


# --- from the block outward ----------------------------------------------------------------------------------


def every_face(question: Question, only: Mapping[str, int] | None = None) -> Iterator[Face]:
    """Every sequence of at most three plates that ends in a pump or, for a remote one, in an outlet plate."""
    remote = question.build.pump_drive == "remote"
    allowed = [piece for piece in question.of("spacer", "adapter_plate") if only is None or piece.number in only]
    if remote:
        ends = question.of("outlet_plate")
    elif question.pump is None:
        ends = question.of("water_pump")
    else:
        ends = [] if question.pump.number in question.without else [question.pump]
    ends = [piece for piece in ends if only is None or piece.described or piece.number in only]
    elsewhere: list[Piece | None] = [None]
    if remote:
        elsewhere = list(question.of("remote_pump"))
        if question.pump is not None:
            elsewhere = [piece for piece in elsewhere if piece is not None and piece.number == question.pump.number]
    for plates, pump, joints in chains(question, question.engine, allowed, ends, 3):
        for pulley in [None] if remote else brute_force.pulleys_for(question, pump):
            for other in elsewhere:
                if other is None or only is None or other.number in only:
                    yield face_of(question, plates, pump, joints, pulley, other)


MetJoint = tuple[Joint, tuple[str, int] | None]


def chains(
    question: Question, inner: Piece, plates: list[Piece], ends: list[Piece], left: int
) -> Iterator[tuple[list[Piece], Piece, list[MetJoint]]]:
    for outer in ends:
        for joint in meetings(question, inner, outer):
            yield [], outer, [joint]
    if left:
        for plate in plates:
            for joint in meetings(question, inner, plate):
                for more, end, joints in chains(question, plate, plates, ends, left - 1):
                    yield [plate, *more], end, [joint, *joints]


def meetings(question: Question, inner: Piece, outer: Piece) -> list[MetJoint]:
    found = []
    for face in inner.part.ports:
        for mount in outer.part.ports:
            if face.role == "pump_face" and mount.role == "mount" and face.connection == mount.connection:
                joint = met(question, face, mount)
                if joint is not None:
                    found.append(joint)
    return found


def met(question: Question, face: Port, mount: Port) -> MetJoint | None:
    """The joint of two ports and what seals it; an O-ring lies in a groove and has no thickness along z."""
    connection = question.snapshot.connections[face.connection]
    if connection.seal != "o_ring":
        joint = brute_force.joint_of(question, face, mount)
        if joint is None or joint.gasket is None:
            return None if joint is None else (joint, None)
        return joint, (joint.gasket.number, connection.pieces_per_layer)
    rings: set[str | None] = {port.gasket for port in (face, mount)} - {None} or {connection.gasket}
    ring = rings.pop()
    if rings or {face.end, mount.end} != set(connection.ends) or (ring is not None and not question.usable(ring)):
        return None
    return Joint(connection, None), None if ring is None else (ring, connection.pieces_per_layer)


def face_of(
    question: Question,
    plates: list[Piece],
    pump: Piece,
    met_: list[MetJoint],
    pulley: Piece | None,
    remote: Piece | None,
) -> Face:
    """A face with every check of the pump's own place but the rules, the bolts and what the list decides."""
    seals = [seal for _, seal in met_ if seal is not None]
    face = Face(pump, plates, [joint for joint, _ in met_], pulley, remote=remote, gaskets=seals)
    layers = [*face.plates, *(joint.gasket for joint in face.joints if joint.gasket is not None)]
    thick = [layer.get("thickness") for layer in layers]
    face.flange = sum(one[0] for one in thick if one), sum(one[1] for one in thick if one)
    face.tests = [brute_force.face_test(question), *brute_force.crank_tests(question)]
    face.tests += brute_force.cover_tests(question, face)
    if remote is None:
        face.tests.append(brute_force.hub_test(question, face))
        face.tests += brute_force.belt_tests(question, face)
        face.tests += brute_force.carried_tests(question, face)
    else:
        face.tests += belt_lost(question)
    return face


def belt_lost(question: Question) -> list[Trial]:
    """The belt has lost a pulley, and what the pump carried hangs in the air."""
    if question.drive is None:
        return []
    known = question.drive.part.attributes.get("belt_without_pump") is not None
    tests = [Trial("belt", "", "ok" if known else "measure_first")]
    carried = any(port.role == "carried" for port in question.drive.part.ports)
    return [*tests, Trial("carried_parts", "", "fails" if carried else "ok")]


# --- whole lists ---------------------------------------------------------------------------------------------


def obligations_of(lines: Lines, face: Face) -> list[Obligation]:
    return lines.of_pump(face.pump) if face.remote is None else lines.of_remote(face.pump, face.remote)


def settled(lines: Lines, face: Face) -> Bundles:
    """Every choice of one way for each obligation; the same whatever plates the pump stands on."""
    key = face.pump.number, face.seller.number
    if key not in lines.settled:
        lines.settled[key] = combined(lines, obligations_of(lines, face))
    return lines.settled[key]


def combined(lines: Lines, obligations: list[Obligation]) -> Bundles:
    found = NOTHING
    for obligation in obligations:
        if len(found) * len(obligation.bundles) > MOST_COMBINATIONS * 10:
            raise TooMany
        found = lines.all_of([found, obligation.bundles])
        if len(found) > MOST_COMBINATIONS:
            raise TooMany
    return found


def wholes_of(question: Question, lines: Lines, face: Face) -> Iterator[Whole]:
    """Every whole list on this face; none where an obligation is not to be settled."""
    if any(test.verdict == "fails" for test in face.tests):
        return
    bundles = settled(lines, face)
    if not bundles:
        return
    block = [block_bolting(question, group) for group in brute_force.groups_of(question, face)]
    if any(bolting.verdict == "fails" for bolting in block):
        return
    for bundle in sorted(bundles):
        further = [joint_bolting(question, lines, joint) for joint in bundle.bolted]
        if any(bolting.verdict == "fails" for bolting in further):
            continue
        boltings = [*block, *further]
        for chosen in product(*(bolting.sets or (("", None),) for bolting in boltings)):
            yield judged(question, lines, face, bundle, boltings, chosen)


def judged(
    question: Question,
    lines: Lines,
    face: Face,
    bundle: Bundle,
    boltings: list[Bolting],
    chosen: tuple[tuple[str, Trial | None], ...],
) -> Whole:
    """One whole list with its quantities, checks, price, work and rank."""
    quantities = Counter(dict(bundle.parts))
    for piece in [face.pump, face.pulley, face.remote]:
        if piece is not None and not piece.described:
            quantities[piece.number] += 1
    for plate, joint in zip(face.plates, face.joints, strict=False):
        quantities[plate.number] += joint.connection.pieces_per_layer
    if face.remote is not None:
        belt = None if question.drive is None else question.drive.part.attributes.get("belt_without_pump")
        if belt is not None:
            quantities[str(belt)] += 1
    for gasket, count in face.gaskets:
        quantities[gasket] += count
    quantities.update(fasteners_needed(question, boltings, [number for number, _ in chosen]))
    tests = [copy(test) for test in face.tests]
    own = len(tests)
    for place, (bolting, (_, trial)) in enumerate(zip(boltings, chosen, strict=True)):
        if bolting.of_block:
            own = len(tests) + 1
        tests.append(Trial("bolts", str(place), bolting.verdict) if trial is None else named(trial, str(place)))
    ranked = tests[:own]
    doubted = {number for number, _ in question.challenged}
    gaps = radiator_gap(question, lines, face, bundle.fan)
    beyond = [*tests[own:], *(gaps if bundle.fan else [])]
    beyond_numbers = [number for number, _ in bundle.parts]
    beyond_numbers += [
        number for bolting, (number, _) in zip(boltings, chosen, strict=True) if not bolting.of_block and number
    ]
    doubts = (
        sum(
            (trial is not None and trial.verdict == "measure_first") or number in doubted
            for bolting, (number, trial) in zip(boltings, chosen, strict=True)
            if bolting.of_block
        ),
        any(test.verdict == "measure_first" for test in beyond)
        or any(verdict == "measure_first" for _, verdict in bundle.tests)
        or any(number in doubted for number in beyond_numbers),
    )
    tests += gaps
    tests += silent_ports(question, lines, face)
    tests += [Trial(code, "", verdict) for code, verdict in (*bundle.tests, *lines.bare_outlet(face.pump))]
    trial_way = copy(face)
    trial_way.tests, trial_way.quantities = tests, quantities
    tests += brute_force.rule_tests(question, trial_way)
    brute_force.settle(question, trial_way)
    slots = [question.engine, question.drive, question.cover, question.crank, face.pulley, lines.named_fan]
    present = [piece.number for piece in slots if piece is not None and not piece.described]
    tests += brute_force.reading_tests(question, [*present, *quantities])
    whole = Whole(face, quantities, tests, bundle.opens, doubts=doubts)
    steps = [str(question.snapshot.parts[number].attributes.get("work", "bolt_on")) for number in quantities]
    steps += [brute_force.least_work(question.snapshot, port) for port in left_open(question, lines, face, bundle)]
    whole.work = max(steps, key=WORK.index, default="bolt_on")
    whole.price = price_of(question, quantities)
    tests += must_tests(question, whole)
    whole.key = rank_key(question, whole, ranked)
    return whole


def left_open(question: Question, lines: Lines, face: Face, bundle: Bundle) -> list[Port]:
    """Every port that the asker connects: what the lines leave open, and what the build asks nothing of."""
    parts = question.snapshot.parts
    found = [port for number, name in bundle.opens for port in parts[number].ports if port.name == name]
    asked = {"mount": True, "heater_feed": lines.heater_asked, "heater_return": lines.heater_asked}
    asked |= {role: lines.coolant_asked for role in brute_force.WET_ROLES if role not in asked}
    asked["fan"] = lines.fan_of_engine
    sources = [face.pump]
    if face.remote is not None and not lines.coolant_asked:
        sources.append(face.remote)
    for piece in sources:
        bare = not piece.part.bands and question.pulley is None and question.drive is None
        for port in piece.part.ports:
            carries = port.wet or port.role in brute_force.WET_ROLES or (port.role == "hub" and bare)
            if not asked.get(port.role, False) and carries and port not in found:
                found.append(port)
    return found


def named(trial: Trial, zone: str) -> Trial:
    trial = copy(trial)
    trial.zone = zone
    return trial


def price_of(question: Question, quantities: Mapping[str, int]) -> tuple[int, int]:
    """How many pieces to buy have no price, and the sum of the others; a piece at hand is free once."""
    unpriced = total = 0
    for number, quantity in quantities.items():
        to_buy = max(0, quantity - question.have[number])
        price = question.snapshot.parts[number].price
        if price is None:
            unpriced += to_buy
        else:
            total += to_buy * price.amount
    return unpriced, total


def must_tests(question: Question, whole: Whole) -> list[Trial]:
    must, tests = question.build.must, []
    if must.price_at_most is not UNSET:
        most = minor_units(Decimal(repr(must.price_at_most.amount)), must.price_at_most.currency)
        tests.append(Trial("price", "", "ok" if whole.price[0] == 0 and whole.price[1] <= most else "fails"))
    if must.work_at_most is not UNSET:
        good = WORK.index(whole.work) <= WORK.index(must.work_at_most)
        tests.append(Trial("work", "", "ok" if good else "fails"))
    if question.pulley is not None and question.pulley.number in question.without:
        tests.append(Trial("without", "", "fails"))
    return tests


def rank_key(question: Question, whole: Whole, ranked: list[Trial]) -> tuple[Any, ...]:
    """Verdict, the asker's keys, the rest of the default ones; part numbers are left to the caller."""
    words = list(question.build.rank_by)
    words += [word for word in DEFAULT_ORDER if word not in words]  # type: ignore[misc]
    return (whole.verdict != "ok", *(one_key(whole, word, ranked) for word in words))


def one_key(whole: Whole, word: str, ranked: list[Trial]) -> tuple[Any, ...]:
    if word == "work":
        return (WORK.index(whole.work),)
    if word == "recommended":
        return (not whole.face.seller.part.recommended,)
    if word == "price":
        return whole.price
    if word == "margin":
        numbers = [relative for test in ranked if (relative := test.relative()) is not None]
        return (0, -min(numbers)) if numbers else (1, Fraction(0))
    if word == "parts":
        return (sum(whole.quantities.values()),)
    assert word == "length"
    return (Fraction(sum(whole.face.flange), 2),)


# --- bolts ---------------------------------------------------------------------------------------------------


def block_bolting(question: Question, group: brute_force.Group) -> Bolting:
    return bolting_of(question, group.holder, group.last, group.clamped, group.connection.bolts, of_block=True)


def joint_bolting(question: Question, lines: Lines, joint: Bolted) -> Bolting:
    """Bolts of a joint that is not the block's: what is mounted, and the gasket, are between head and hole."""
    clamped: list[Interval | None] = [lines.piece(joint.mounted).get("flange_thickness")]
    if joint.gasket:
        clamped.append(lines.piece(joint.gasket).get("thickness"))
    bolts = lines.connections[joint.connection].bolts
    holder, mounted = lines.piece(joint.holder), lines.piece(joint.mounted)
    return bolting_of(question, holder, mounted, clamped, bolts, of_block=False)


def bolting_of(
    question: Question, holder: Piece, last: Piece, clamped: list[Interval | None], bolts: int, *, of_block: bool
) -> Bolting:
    """Every set that does not fail."""
    thread, material = holder.part.attributes.get("thread"), holder.part.attributes.get("hole_material")
    depth = holder.get("hole_depth")
    if depth is None or thread is None or material is None or None in clamped:
        return Bolting(brute_force.unheld(question, "", holder, last, clamped).verdict, (), bolts, of_block)
    least = diameter(str(thread)) * LEAST_ENGAGEMENT[str(material)]
    found: list[tuple[str, Trial]] = []
    for fastener in question.of("fastener_set"):
        name = "length" if of_block or "length.housing" not in fastener.part.measures else "length.housing"
        length = fastener.get(name)
        if fastener.part.attributes["thread"] != thread or length is None:
            continue
        low, high = length
        for term in [*clamped, fastener.get("washer_thickness") or (0, 0)]:
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
        trial = Trial("bolts", "", verdict, margin, Fraction(limit))
        found.append((fastener.number, trial))
    if not found:
        return Bolting("fails", (), bolts, of_block)
    doubted = {number for number, _ in question.challenged}
    sure = any(trial.verdict == "ok" and number not in doubted for number, trial in found)
    return Bolting("ok" if sure else "measure_first", tuple(found), bolts, of_block)


def fasteners_needed(question: Question, boltings: list[Bolting], chosen: list[str]) -> Counter[str]:
    """How many of each set. A kit has bolts for the block and bolts for other joints: the larger need counts."""
    long, short = Counter[str](), Counter[str]()
    for bolting, number in zip(boltings, chosen, strict=True):
        if not number:
            continue
        part = question.snapshot.parts[number]
        kit = not bolting.of_block and "length.housing" in part.measures
        pieces = int(part.attributes["housing_pieces"] if kit else part.attributes["pieces"])
        (short if kit else long)[number] += max(1, -(-bolting.bolts // pieces))
    return long | short


# --- ports of which nobody says anything --------------------------------------------------------------------


def silent_ports(question: Question, lines: Lines, face: Face) -> list[Trial]:
    """Lines that cannot be looked for: a named radiator or heater, or the pump, does not state where its ports are."""
    tests = []
    ends: tuple[tuple[Piece | None, tuple[tuple[str, bool], ...], tuple[str, ...]], ...] = (
        (
            lines.radiator,
            (("coolant_in", lines.upper is None), ("coolant_out", lines.lower is None)),
            ("outlet_path", "inlet_path", "thermostat"),
        ),
        (
            lines.heater,
            (("heater_feed", lines.feed is None), ("heater_return", lines.back is None)),
            ("heater_path",),
        ),
    )
    for piece, roles, codes in ends:
        lacking: list[Fact] = [(piece, f"port {role}") for role, lacks in roles if piece is not None and lacks]
        tests += [brute_force.unknown(question, code, "", lacking) for code in codes if lacking]
    carried = [port.role for port in face.pump.part.ports]
    if face.remote is None and lines.silent_fan is not None and "fan" in carried:
        tests.append(brute_force.unknown(question, "hub", "", [(lines.silent_fan, "port mount")]))
    if lines.fan_of_engine and face.pump.described and "fan" not in carried:
        tests.append(brute_force.unknown(question, "hub", "", [(face.pump, "port fan")]))
    if face.remote is not None or any(role in COOLANT or role in HEATER for role in carried):
        return tests
    if lines.coolant_asked:
        for code, role in (("outlet_path", "coolant_out"), ("inlet_path", "coolant_in")):
            tests.append(brute_force.unknown(question, code, "", [(face.pump, f"port {role}")]))
    if lines.heater_asked and not lines.no_heater:
        tests.append(brute_force.unknown(question, "heater_path", "", [(face.pump, f"port {role}") for role in HEATER]))
    return tests


COOLANT = ("coolant_out", "coolant_in", "housing", "bypass", "vent", "sensor", "thermostat")
HEATER = ("heater_feed", "heater_return")

# --- between pump and radiator -------------------------------------------------------------------------------


def radiator_gap(question: Question, lines: Lines, face: Face, fan: tuple[str, ...]) -> list[Trial]:
    """What is left to the radiator's core, and behind a fan."""
    given = question.build.core_distance
    core = None if given is UNSET else brute_force.nanometres(given)
    if fan:
        return fan_gaps(question, lines, face, fan, core)
    if lines.fan_of_engine:
        return []
    named_fan = lines.named_fan
    unsaid: list[Fact] = []
    if named_fan is not None and "driven_by" not in named_fan.part.attributes:
        unsaid.append((named_fan, "driven_by"))
    if core is None:  # even so the pump may have to turn the fan
        return [brute_force.unknown(question, "radiator_gap", "", unsaid)] if unsaid else []
    nose = face.pump.get("nose")
    depth: Interval | None = (0, 0)
    if named_fan is not None:
        depth = named_fan.get("depth")
    lacking: list[Fact] = [] if nose else [(face.pump, "nose")]
    if named_fan is not None:
        lacking += [] if depth else [(named_fan, "depth")]
        lacking += unsaid
    if lacking:
        return [brute_force.unknown(question, "radiator_gap", "", lacking)]
    assert nose is not None
    assert depth is not None
    low = core - depth[1] - face.flange[1] - nose[1]
    high = core - depth[0] - face.flange[0] - nose[0]
    return [brute_force.at_least("radiator_gap", "", low, high, BEHIND_FAN)]


def fan_gaps(question: Question, lines: Lines, face: Face, fan: tuple[str, ...], core: int | None) -> list[Trial]:
    """In front of a fan that the engine drives where the core is known, and behind it to the drive's nose."""
    *adapters, last = [lines.piece(number) for number in fan]
    # A hub that takes a pulley is not where the fan sits.
    own_hub = face.pump.get("hub_face") if not ports_of(face.pump, "hub") else None
    seat = face.pump.get("fan_face") or own_hub
    under: list[Fact] = [] if seat else [(face.pump, "fan_face")]
    under += [(adapter, "thickness") for adapter in adapters if adapter.get("thickness") is None]
    terms = [one for one in (face.flange, seat, *(adapter.get("thickness") for adapter in adapters)) if one]
    low, high = sum(one[0] for one in terms), sum(one[1] for one in terms)
    front, behind = last.get("depth"), last.get("depth_behind")
    tests = []
    if core is not None:
        lacking = [*under, *([] if front else [(last, "depth")])]
        if lacking or front is None:
            tests.append(brute_force.unknown(question, "radiator_gap", "front", lacking))
        else:
            ends = core - high - front[1], core - low - front[0]
            tests.append(brute_force.at_least("radiator_gap", "", *ends, FAN_TO_CORE))
    if question.drive is not None:
        nose = question.drive.get("nose")
        lacking = [*under, *([] if behind else [(last, "depth_behind")]), *([] if nose else [(question.drive, "nose")])]
        if lacking or behind is None or nose is None:
            tests.append(brute_force.unknown(question, "radiator_gap", "behind", lacking))
        else:
            gap = low - behind[1] - nose[1], high - behind[0] - nose[0]
            tests.append(brute_force.at_least("radiator_gap", "behind", *gap, BEHIND_FAN))
    return tests
