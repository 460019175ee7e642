"""Proves of any answer, from the catalog alone, that every option is whole.

Written from the design, not from the engine. For each option it looks for a way to build it out of exactly what is
listed: joints from the block to the pump that mate, a settled end for every port that the build asks about, bolts
for every group, what rules bring in, and nothing over. Then everything that the option says is worked out again.
"""

from collections import Counter
from collections.abc import Iterator, Mapping
from fractions import Fraction
from itertools import pairwise, product

from catalog.domain import Snapshot
from service.fit.answer import Answer, Option
from service.fit.build import Build
from tests.oracles import brute_force
from tests.oracles.brute_force import Question
from tests.oracles.lines import NOTHING, Bundles, Lines, ports_of
from tests.oracles.whole_list import (
    Bolting,
    Face,
    Whole,
    block_bolting,
    every_face,
    joint_bolting,
    judged,
    obligations_of,
    price_of,
)

LINE_ROLES = (
    "coolant_out",
    "coolant_in",
    "housing",
    "heater_feed",
    "heater_return",
    "bypass",
    "vent",
    "sensor",
    "fan",
)
"""Ports that carry coolant or a fan: each is settled or the asker's own."""
QUIET = {"face", "without", "rule", "hub", "carried_parts", "price", "work"}
"""Checks that need not be said where they hold."""
OF_LINES = {"outlet_path", "inlet_path", "thermostat", "heater_path", "bypass", "vent"}
"""Checks that hold where a port is settled: proved by finding how."""

Numbers = tuple[str, Fraction, Fraction]
"""Code, margin and limit of a check."""


def verify(snapshot: Snapshot, build: Build, answer: Answer) -> list[str]:
    """Everything that is wrong with an answer; empty where it is right."""
    question = Question(snapshot, understood(snapshot, build))
    found: list[str] = []
    wholes: list[Whole] = []
    for option in answer.options:
        where = f"option {option.rank} ({option.pump}{''.join(f' {plate}' for plate in option.plates)})"
        whole, wrong = verify_option(question, option)
        found += [f"{where}: {one}" for one in wrong]
        if whole is not None:
            wholes.append(whole)
    found += wrong_order(answer, wholes)
    found += wrong_frame(build, answer)
    return found


SLOTS = ("engine", "accessory_drive", "front_cover", "crank_pulley", "pump", "pulley", "radiator", "heater", "fan")


def understood(snapshot: Snapshot, build: Build) -> Build:
    """The build with what replaces a retired part in its place."""
    fields = {name: getattr(build, name) for name in Build.__struct_fields__}
    for slot in SLOTS:
        while isinstance(fields[slot], str):
            part = snapshot.find(fields[slot])
            newer = [
                rule for rule in snapshot.rules if part and rule.kind == "replaced_by" and rule.part == part.number
            ]
            if part is None or part.status == "active" or not newer:
                break
            fields[slot] = newer[0].others[0]
    return Build(**fields)


def verify_option(question: Question, option: Option) -> tuple[Whole | None, list[str]]:
    """The way in which an option can be built, None where there is none, and all that is wrong with it."""
    found = wrong_lines(question, option)
    listed = {line.part: line.quantity for line in option.parts_list}
    whole, reasons = rebuilt(question, option, listed)
    if whole is None:
        return None, [*found, *reasons]
    found += wrong_sums(question, option, whole)
    found += wrong_stack(option, whole.face)
    found += wrong_checks(option, whole)
    found += wrong_open_ports(question, option, whole)
    return whole, found


# --- the list itself -----------------------------------------------------------------------------------------


def wrong_lines(question: Question, option: Option) -> list[str]:
    """Each line on its own: a part that may be used, as the catalog has it, with what is at hand."""
    found = []
    numbers = [line.part for line in option.parts_list]
    found += [f"{number} stands on two lines" for number, count in Counter(numbers).items() if count > 1]
    given = {piece.number for piece in (question.pump, question.pulley) if piece is not None}
    for line in option.parts_list:
        part = question.snapshot.parts.get(line.part)
        if part is None:
            found.append(f"{line.part} is not in the catalog")
            continue
        if line.part in question.without:
            found.append(f"{line.part} was not to be used")
        if part.status != "active" and line.part not in given:
            found.append(f"{line.part} is retired")
        if (line.name, line.kind, line.price) != (part.name, part.kind, part.price):
            found.append(f"{line.part} is not as in the catalog: {line.name}, {line.kind}, {line.price}")
        if line.quantity < 1:
            found.append(f"{line.part}: quantity {line.quantity}")
        if line.at_hand != min(line.quantity, question.have[line.part]):
            found.append(f"{line.part}: {line.at_hand} at hand of {line.quantity}, have {question.have[line.part]}")
        for other in line.alternatives:
            if other.part == line.part or other.part not in question.snapshot.parts:
                found.append(f"{line.part}: {other.part} is no alternative")
    return found


def wrong_sums(question: Question, option: Option, whole: Whole) -> list[str]:
    unpriced, total = price_of(question, {line.part: line.quantity for line in option.parts_list})
    said = None if option.buy_price is None else option.buy_price.amount
    pump = whole.face.seller
    facts = [
        ("buy price", said, None if unpriced else total),
        ("work", option.work, whole.work),
        ("verdict", option.verdict, whole.verdict),
        ("recommended", option.recommended, pump.part.recommended),
    ]
    found = [f"{name} {mine}, recomputed {theirs}" for name, mine, theirs in facts if mine != theirs]
    if option.buy_price is not None and option.buy_price.currency != question.snapshot.currency:
        found.append(f"currency {option.buy_price.currency}")
    return found


# --- building it again ---------------------------------------------------------------------------------------


def rebuilt(question: Question, option: Option, listed: Mapping[str, int]) -> tuple[Whole | None, list[str]]:
    """A way to build the option out of exactly what is listed and one that holds, or why there is none.

    Where the pieces can be shared out in several ways, that one whose checks are those that are told.
    """
    reasons: list[str] = []
    near: Whole | None = None
    other: Whole | None = None
    for face in faces_of(question, option, listed):
        lines = Lines(question, listed)
        obligations = obligations_of(lines, face)
        unmet = [one.label for one in obligations if not one.bundles]
        if unmet:
            reasons.append("nothing on the list settles " + ", ".join(unmet))
            continue
        bundles = NOTHING
        for obligation in obligations:
            bundles = lines.all_of([bundles, obligation.bundles])
        if not bundles:
            reasons.append("the list has too few pieces to settle every port at once")
        for whole in exact_lists(question, lines, face, bundles, listed, reasons):
            if whole.feasible and whole.verdict == option.verdict:
                if not wrong_checks(option, whole):
                    return whole, []
                other = other or whole
            near = whole
    if other is not None:
        return other, []
    if near is not None:
        failing = sorted({f"{test.code} {test.zone}".strip() for test in near.tests if test.verdict == "fails"})
        reasons.append(
            f"built as listed it is {near.verdict}" + (f", and fails {', '.join(failing)}" if failing else "")
        )
    return None, sorted(set(reasons)) or ["no stack of this pump and these plates mates with what is listed"]


def faces_of(question: Question, option: Option, listed: Mapping[str, int]) -> Iterator[Face]:
    """Every stack of joints that is this option's: its pump, its plates in order, nothing that is not listed."""
    for face in every_face(question, listed):
        unknown = option.pump not in question.snapshot.parts  # a described pump goes by the asker's own name
        if unknown if face.seller.described else option.pump == face.seller.number:
            plates = tuple(plate.number for plate in face.plates)
            if option.plates in (face.order, plates) and all(gasket in listed for gasket, _ in face.gaskets):
                yield face


def exact_lists(
    question: Question, lines: Lines, face: Face, bundles: Bundles, listed: Mapping[str, int], reasons: list[str]
) -> Iterator[Whole]:
    """Whole lists of just these quantities."""
    block = [block_bolting(question, group) for group in brute_force.groups_of(question, face)]
    for bundle in sorted(bundles):
        boltings = [*block, *(joint_bolting(question, lines, joint) for joint in bundle.bolted)]
        if any(bolting.verdict == "fails" for bolting in boltings):
            reasons.append("no bolts hold some group")
            continue
        for chosen in product(*(listed_sets(bolting, listed) or (("", None),) for bolting in boltings)):
            whole = judged(question, lines, face, bundle, boltings, chosen)
            wanted = {part: count for part, count in whole.quantities.items() if count}
            if wanted == dict(listed):
                yield whole
            else:
                reasons.append(difference(wanted, listed))


def listed_sets(bolting: Bolting, listed: Mapping[str, int]) -> tuple[tuple[str, brute_force.Trial], ...]:
    """The sets that do not fail and are listed; all of them where none is, so that the difference shows."""
    return tuple(one for one in bolting.sets if one[0] in listed) or bolting.sets


def difference(wanted: Mapping[str, int], listed: Mapping[str, int]) -> str:
    more = {part: count - listed.get(part, 0) for part, count in wanted.items() if count > listed.get(part, 0)}
    over = {part: count - wanted.get(part, 0) for part, count in listed.items() if count > wanted.get(part, 0)}
    return f"one way to build it lacks {more} and leaves over {over}"


def wrong_stack(option: Option, face: Face) -> list[str]:
    """The layers in order, each from where the last one ends, and the flange where they add up to."""
    found = []
    layers = [layer for layer in option.stack if layer.from_ != layer.to or layer is option.stack[-1]]
    expected: list[str] = []
    for place, joint in enumerate(face.joints):
        if joint.gasket is not None:
            expected.append(joint.gasket.number)
        expected.append(face.plates[place].number if place < len(face.plates) else face.pump.number)
    said = [layer.part for layer in option.stack]
    if said[:-1] != expected[:-1] or (expected[-1] and said[-1] != expected[-1]):
        found.append(f"stack {said}, expected {expected}")
    at: Fraction = Fraction(0)
    for layer in layers:
        if layer.from_ != at:
            found.append(f"{layer.part} starts at {layer.from_}, the layer before it ends at {at}")
        at = Fraction(layer.to)
    if option.stack and Fraction(option.stack[-1].from_) != Fraction(sum(face.flange), 2):
        found.append(f"flange at {option.stack[-1].from_}, expected {Fraction(sum(face.flange), 2)}")
    return found


# --- checks and open ports -----------------------------------------------------------------------------------


def wrong_checks(option: Option, whole: Whole) -> list[str]:
    """Verdicts by code, and every number."""
    found = []
    said, expected = Counter[tuple[str, str]](), Counter[tuple[str, str]]()
    for check in option.checks:
        if check.verdict == "fails":
            found.append(f"check {check.code} {check.zone} fails")
        if check.verdict != "not_asked" and (check.code not in OF_LINES or check.verdict == "measure_first"):
            said[check.code, check.verdict] += 1
    for test in whole.tests:
        if test.verdict != "not_asked":
            expected[test.code, test.verdict] += 1
    for code, verdict in sorted(set(said) | set(expected)):
        loud = not (code in QUIET and verdict == "ok")
        if loud and said[code, verdict] != expected[code, verdict]:
            found.append(f"{said[code, verdict]} checks {code} are {verdict}, expected {expected[code, verdict]}")
    numbers = Counter[Numbers](
        (check.code, Fraction(check.margin), Fraction(check.limit))
        for check in option.checks
        if check.margin is not None and check.limit is not None and check.verdict != "not_asked"
    )
    recomputed = Counter[Numbers](
        (test.code, Fraction(test.margin), Fraction(test.limit))
        for test in whole.tests
        if test.margin is not None and test.limit is not None and test.verdict != "not_asked"
    )
    found += [f"margin {list(map(str, one))} is not so" for one in sorted((numbers - recomputed).elements())]
    found += [f"margin {list(map(str, one))} is not said" for one in sorted((recomputed - numbers).elements())]
    return found


def wrong_open_ports(question: Question, option: Option, whole: Whole) -> list[str]:
    """What is asked about is settled and not open; what is not asked about is open."""
    found = []
    said = {(port.part, port.port) for port in option.open_ports if port.role in LINE_ROLES}
    for port in option.open_ports:
        part = question.snapshot.parts.get(port.part)
        known = [] if part is None else [one for one in part.ports if one.name == port.port]
        if part is not None and [(one.role, one.connection) for one in known] != [(port.role, port.connection)]:
            found.append(f"{port.part} has no such port {port.port}")
    expected = set(whole.opens)
    lines = Lines(question, {})
    sources = [whole.face.pump, *([] if whole.face.remote is None else [whole.face.remote])]
    for piece in sources:
        for role in LINE_ROLES:
            asked = lines.heater_asked if role in ("heater_feed", "heater_return") else lines.coolant_asked
            asked = lines.fan_of_engine if role == "fan" else asked
            if not asked and not piece.described:
                expected |= {(piece.number, port.name) for port in ports_of(piece, role) if port.wet or role != "fan"}
    of_catalog = set(question.snapshot.parts) - {question.engine.number}  # the engine's own ports may be named too
    said = {one for one in said if one[0] in of_catalog}
    found += [f"{part} {port} is said to be open" for part, port in sorted(said - expected)]
    found += [f"{part} {port} is neither settled nor open" for part, port in sorted(expected - said)]
    return found


# --- the answer as a whole -----------------------------------------------------------------------------------


def wrong_order(answer: Answer, wholes: list[Whole]) -> list[str]:
    found = []
    if [option.rank for option in answer.options] != list(range(1, len(answer.options) + 1)):
        found.append("ranks are not 1, 2, 3 ...")
    if len(wholes) == len(answer.options):
        found += [
            f"option {place + 2} should stand above option {place + 1}"
            for place, (one, other) in enumerate(pairwise(wholes))
            if one.key > other.key
        ]
    return found


def wrong_frame(build: Build, answer: Answer) -> list[str]:
    """Limits, verdict, and pumps that are ruled out."""
    found = []
    paths = Counter((option.pump, tuple(sorted(option.plates))) for option in answer.options)
    found += [f"two options of {path}" for path, count in paths.items() if count > 1]
    pumps = Counter(option.pump for option in answer.options)
    if len(answer.options) > build.limit or any(count > build.paths_per_pump for count in pumps.values()):
        found.append("more options than wanted")
    verdicts = [option.verdict for option in answer.options]
    verdict = "fits" if "ok" in verdicts else "measure_first" if verdicts else "blocked"
    if answer.verdict != verdict:
        found.append(f"verdict {answer.verdict}, the options say {verdict}")
    both = sorted({one.pump for one in answer.ruled_out} & set(pumps))
    found += [f"{pump} is ruled out and has an option" for pump in both]
    return found
