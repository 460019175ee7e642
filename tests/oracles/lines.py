"""Every way to settle the ports that a pump leaves open, by writing all of them out: slow and obvious.

Written from the design alone. A way is a `Bundle`: what it takes, not in which order. Where only the best list
matters, a bundle that holds another one and more is dropped: it costs no less, works no lighter, breaks no fewer
rules, and so no list with it is better. Nothing here says which list is best: `whole_list` does.
"""

from collections import Counter
from collections.abc import Iterable, Mapping
from fractions import Fraction
from itertools import product
from typing import Literal, NamedTuple

from msgspec import UNSET

from catalog.domain import Connection, Part, Port, Side
from catalog.standards.flares import parse_size
from tests.oracles.brute_force import Piece, Question

MOST_PARTS = 6
WATER = (
    "coolant_out",
    "coolant_in",
    "housing",
    "bypass",
    "vent",
    "sensor",
    "thermostat",
    "heater_feed",
    "heater_return",
)
OPPOSITE: dict[Side, Side] = {"left": "right", "right": "left"}
Sides = tuple[Side, ...]
"""The sides on which a line may be, for all that is known."""
EITHER: Sides = ("left", "right")
LEAST_SHARE = Fraction(3, 4)
"""Of the smaller of its ports a line must have everywhere at least so much (common practice, no source)."""
TINY, HUGE = 1, 10**12
"""What a size that nobody states may be, at worst either way, nm."""
FLEXIBLE = ("hose", "flare_37", "flare_45")
Holds = Literal["ok", "measure_first", "fails"]


class Bolted(NamedTuple):
    """A joint that takes bolts of its own: what holds, what is mounted, the gasket between them."""

    holder: str
    mounted: str
    connection: str
    gasket: str


class Bundle(NamedTuple):
    """What settles one or more obligations, each field sorted."""

    parts: tuple[tuple[str, int], ...] = ()
    bolted: tuple[Bolted, ...] = ()
    opens: tuple[tuple[str, str], ...] = ()
    """Part and port that are left to the asker."""
    fan: tuple[str, ...] = ()
    """From the pump forward: adapters and the fan that the engine drives."""
    tests: tuple[tuple[str, str], ...] = ()
    """Code and verdict of what is checked of its lines: their sizes, their sides where these decide, the outlet."""


Bundles = frozenset[Bundle]
NOTHING: Bundles = frozenset([Bundle()])
IMPOSSIBLE: Bundles = frozenset()


class Open(NamedTuple):
    """A port and the part that it is on."""

    part: str
    port: Port


class Goal(NamedTuple):
    """A port of the asker's own at which a line ends."""

    part: str
    port: Port
    sided: bool = False
    sides: Sides = ()
    """On which sides it may be; none where the asker leaves it out."""


class Course(NamedTuple):
    """A line so far, with all that will be held against it at its end."""

    code: str = ""
    """The check that is in doubt where its sides are."""
    ports: tuple[str, ...] = ()
    """Connections of the ports that it joins; none where its size does not matter."""
    main: bool = False
    over: frozenset[str] = frozenset()
    """Connections that it runs over."""
    sides: Sides = ()
    """On which sides it may be; none where that does not matter."""
    points: tuple[str | None, str | None] | None = None
    """Side and direction of the outlet, as long as nothing bends it."""
    outlet: tuple[tuple[str, str], ...] = ()
    """What was found of the outlet once something bends it."""


ANY_WAY = Course()


class Obligation(NamedTuple):
    """What must be settled, the check that fails where nothing does, and all that does."""

    label: str
    code: str
    bundles: Bundles


def together(one: Bundle, other: Bundle) -> Bundle:
    """Both of them."""
    return Bundle(
        tuple(sorted((Counter(dict(one.parts)) + Counter(dict(other.parts))).items())),
        tuple(sorted(one.bolted + other.bolted)),
        tuple(sorted(one.opens + other.opens)),
        one.fan + other.fan,
        tuple(sorted(one.tests + other.tests)),
    )


def holds(more: Bundle, less: Bundle) -> bool:
    """Whether the first takes everything that the second takes."""
    if more.fan != less.fan or more.opens != less.opens or not Counter(doubts(less)) <= Counter(doubts(more)):
        return False
    have = dict(more.parts)
    return all(have.get(part, 0) >= count for part, count in less.parts) and Counter(less.bolted) <= Counter(
        more.bolted
    )


def doubts(bundle: Bundle) -> list[str]:
    return [code for code, verdict in bundle.tests if verdict == "measure_first"]


def undominated(bundles: Iterable[Bundle]) -> Bundles:
    """Without those that hold another one and more."""
    kept: list[Bundle] = []
    for bundle in sorted(bundles, key=lambda one: (sum(count for _, count in one.parts), len(one.bolted), one)):
        if not any(holds(bundle, other) for other in kept):
            kept.append(bundle)
    return frozenset(kept)


class Lines:
    """The ways of one build.

    Parameters
    ----------
    limit
        Only what takes no more than these quantities, and then nothing is dropped: to prove that a given list is
        whole. None: anything in the catalog that may be used.
    """

    def __init__(self, question: Question, limit: Mapping[str, int] | None = None) -> None:
        self.question = question
        self.limit = limit
        self.connections = question.snapshot.connections
        self.pieces: dict[str, Piece] = {}
        self.radiator = self._own("radiator", "radiator")
        self.heater = self._own("heater", "heater_core")
        self.upper, self.lower = self._radiator_goals()
        self.feed, self.back = self._heater_goals()
        self.at: dict[tuple[str, str], list[tuple[Part, Port]]] = {}
        for part in question.snapshot.parts.values():
            if question.usable(part.number) and (limit is None or limit.get(part.number, 0) > 0):
                for port in part.ports:
                    if port.role in ("mount", "line"):
                        self.at.setdefault((port.connection, port.end), []).append((part, port))
        self.settled: dict[tuple[str, str], Bundles] = {}
        """For whoever combines them: all that settles a pump's ports together."""
        self._closed: dict[tuple[Open, int], Bundles] = {}
        self._lines: dict[tuple[object, ...], Bundles] = {}

    # --- what the asker has -----------------------------------------------------------------------------------

    def name_of(self, piece: Piece, slot: str) -> str:
        """The number of a part, or a name of our own for a described one; remembers it."""
        name = f"~{slot}" if piece.described else piece.number
        self.pieces[name] = piece
        return name

    def piece(self, name: str) -> Piece:
        return self.pieces[name] if name in self.pieces else self.question.piece(name)

    def _own(self, field: str, kind: str) -> Piece | None:
        given = getattr(self.question.build, field)
        if given is UNSET or given == "none" or (field == "heater" and isinstance(given, str) and is_size(given)):
            return None
        return self.question.slot(given, kind)

    def _sized(self, size: str) -> Connection | None:
        wanted = parse_size(size)
        known = [one for one in self.connections.values() if one.size is not None and parse_size(one.size) == wanted]
        return known[0] if known else None

    def _given_port(self, name: str, connection: Connection | None, side: Side | None = None) -> Goal | None:
        if connection is None:
            return None
        port = Port(name, "coolant_in", connection.name, connection.ends[0], side=side)
        return Goal("", port, sided=True, sides=() if side is None else (side,))

    def _radiator_goals(self) -> tuple[Goal | None, Goal | None]:
        ports = self.question.build.radiator_ports
        if ports is not UNSET:
            goals = []
            for name, port in (("upper", ports.upper), ("lower", ports.lower)):
                connection = (
                    self._sized(port.size) if port.size is not UNSET else self.connections.get(str(port.connection))
                )
                goals.append(self._given_port(name, connection, None if port.side is UNSET else port.side))
            return goals[0], goals[1]
        return self._port_goal(self.radiator, "coolant_in", sided=True), self._port_goal(
            self.radiator, "coolant_out", sided=True
        )

    def _port_goal(self, piece: Piece | None, role: str, *, sided: bool = False) -> Goal | None:
        if piece is None:
            return None
        ports = ports_of(piece, role)
        sides = EITHER if ports and ports[0].side is None else (ports[0].side,) if ports and ports[0].side else ()
        return Goal(piece.number, ports[0], sided, sides) if ports else None

    def _heater_goals(self) -> tuple[Goal | None, Goal | None]:
        given = self.question.build.heater
        if isinstance(given, str) and is_size(given):
            goal = self._given_port("heater", self._sized(given))
            return (None, None) if goal is None else (goal._replace(sided=False), goal._replace(sided=False))
        return self._port_goal(self.heater, "heater_feed"), self._port_goal(self.heater, "heater_return")

    @property
    def coolant_asked(self) -> bool:
        if self.question.build.radiator_ports is not UNSET:
            return True
        # Of a radiator with a port that nobody states nothing can be asked.
        return self.question.build.radiator is not UNSET and self.upper is not None and self.lower is not None

    @property
    def heater_asked(self) -> bool:
        if self.heater is not None and (self.feed is None or self.back is None):
            return False  # nobody states where its ports are
        return self.question.build.heater is not UNSET

    @property
    def no_heater(self) -> bool:
        return self.question.build.heater == "none"

    # --- joints -----------------------------------------------------------------------------------------------

    def meeting(self, port: Port, kinds: tuple[str, ...]) -> list[tuple[Part, Port]]:
        """Parts of these kinds with a port on the other end."""
        other = self.connections[port.connection].other_end(port.end)
        return [pair for pair in self.at.get((port.connection, other), []) if pair[0].kind in kinds]

    def joint(self, one: Open, other: Open) -> Bundle | None:
        """Gasket or O-ring and bolts of two ports that meet; None where what they need may not be used."""
        connection = self.connections[one.port.connection]
        gasket = None
        if connection.seal in ("gasket", "o_ring"):
            required = {port.gasket for port in (one.port, other.port) if port.gasket is not None}
            if len(required) > 1:
                return None
            gasket = required.pop() if required else connection.gasket
            if gasket is None and connection.seal == "gasket":
                return None
            if gasket is not None and not self.question.usable(gasket):
                return None
        bolted: tuple[Bolted, ...] = ()
        if connection.bolts:
            inner, outer = (one, other) if one.port.end == connection.ends[0] else (other, one)
            counted = gasket if gasket is not None and connection.seal == "gasket" else ""
            bolted = (Bolted(inner.part, outer.part, connection.name, counted),)
        return Bundle(() if gasket is None else ((gasket, connection.pieces_per_layer),), bolted)

    def kept(self, bundles: Iterable[Bundle]) -> Bundles:
        if self.limit is None:
            return undominated(set(bundles))
        limit = self.limit
        return frozenset(
            bundle for bundle in bundles if all(limit.get(part, 0) >= count for part, count in bundle.parts)
        )

    def all_of(self, each: Iterable[Bundles]) -> Bundles:
        """Every choice of one from each."""
        found = NOTHING
        for bundles in each:
            found = self.kept(together(one, other) for one in found for other in bundles)
        return found

    def one_of(self, each: Iterable[Bundles]) -> Bundles:
        return self.kept(bundle for bundles in each for bundle in bundles)

    def with_part(self, here: Open, part: Part, port: Port, rest: Bundles) -> Bundles:
        """A part put on, with its joint and what settles its other ports."""
        joint = self.joint(here, Open(part.number, port))
        if joint is None:
            return IMPOSSIBLE
        mine = together(joint, Bundle(((part.number, 1),)))
        return self.kept(together(mine, bundle) for bundle in rest)

    # --- closing ----------------------------------------------------------------------------------------------

    def closed(self, here: Open, left: int = MOST_PARTS) -> Bundles:
        """By a plug or a cap, or a fitting whose other ports are closed."""
        if left == 0:
            return IMPOSSIBLE
        key = here, left
        if key not in self._closed:
            found = []
            for part, port in self.meeting(here.port, ("plug", "cap", "fitting")):
                others = [other for other in part.ports if other is not port] if part.kind == "fitting" else []
                rest = self.all_of(self.closed(Open(part.number, other), left - 1) for other in others)
                found.append(self.with_part(here, part, port, rest))
            self._closed[key] = self.one_of(found)
        return self._closed[key]

    # --- leading on -------------------------------------------------------------------------------------------

    def line(
        self,
        here: Open,
        goal: Goal | None,
        course: Course = ANY_WAY,
        *,
        thermostat: bool = False,
        anywhere: bool = False,
    ) -> Bundles:
        """Through fittings and hoses to the goal; with `thermostat`, through exactly one housing of a line too.

        `anywhere`: the port where it starts has no side by nature.
        """
        if goal is None:
            return IMPOSSIBLE
        sides: Sides = ()
        if goal.sided and goal.sides and not anywhere:
            sides = EITHER if here.port.side is None else (here.port.side,)
        if course.ports:
            course = course._replace(ports=(*course.ports, goal.port.connection))
        return self._line(here, goal, MOST_PARTS, "", thermostat, course._replace(sides=sides))

    def _line(self, here: Open, goal: Goal, left: int, next_: str, thermostat: bool, course: Course) -> Bundles:
        course = course._replace(over=course.over | {here.port.connection})
        key = here, goal, left, next_, thermostat, course
        if key not in self._lines:
            found = [self._arriving(here, goal, next_, thermostat, course)]
            bent = self._bent(here, course)
            if left and bent is not None and self._wide(course) != "fails":
                kinds = ("fitting", "hose", "thermostat_housing") if thermostat else ("fitting", "hose")
                for part, port in self.meeting(here.port, kinds):
                    if next_ in ("", part.number):
                        found.append(self._through(here, goal, left, part, port, thermostat, bent))
            self._lines[key] = self.one_of(found)
        return self._lines[key]

    def _arriving(self, here: Open, goal: Goal, next_: str, thermostat: bool, course: Course) -> Bundles:
        connection = self.connections[here.port.connection]
        meets = goal.port.connection == connection.name and goal.port.end == connection.other_end(here.port.end)
        if not meets or thermostat or next_ not in ("", goal.part):
            return IMPOSSIBLE
        tests = [*course.outlet, *self._outlet(course)]
        if course.sides:
            right = [OPPOSITE.get(one) != other for one in course.sides for other in goal.sides]
            if not any(right):
                return IMPOSSIBLE
            tests += [] if all(right) else [(course.code, "measure_first")]
        if course.ports:
            tests.append(("line_size", self._wide(course)))
        joint = self.joint(here, Open(goal.part, goal.port))
        if joint is None or any(verdict == "fails" for _, verdict in tests):
            return IMPOSSIBLE
        return frozenset([joint._replace(tests=tuple(sorted(tests)))])

    def _through(
        self, here: Open, goal: Goal, left: int, part: Part, port: Port, thermostat: bool, course: Course
    ) -> Bundles:
        """On through this part, entered by this port."""
        molded = molded_onto(part, here.part)
        sides = crossed(course.sides) if part.attributes.get("crosses") else course.sides
        if molded is None or (course.sides and not sides):
            return IMPOSSIBLE
        if part.kind == "thermostat_housing":
            if port.role != "line" or not has_thermostat(part):
                return IMPOSSIBLE
            thermostat = False
        others = [other for other in part.ports if other is not port]
        found = []
        for leading in others:
            if leading.role in ("line", "mount"):
                rest = [self._side_port(part, other, left - 1) for other in others if other is not leading]
                onward = (leading.side,) if leading.side and course.sides else sides
                points = self._pointed(here, course, leading)
                behind = course._replace(sides=onward, points=points)
                ahead = self._line(Open(part.number, leading), goal, left - 1, molded, thermostat, behind)
                found.append(self.all_of([*rest, ahead]))
        return self.with_part(here, part, port, self.one_of(found))

    # --- how wide, and where the outlet points ----------------------------------------------------------------

    def size(self, name: str) -> int | None:
        """Nominal size of a connection, nm."""
        said = self.connections[name].size
        if said is None:
            return None
        sort, size = parse_size(said)
        return size * 25_400_000 // 16 if sort == "flare_37" else size

    def _wide(self, course: Course) -> Holds:
        """By trying what the sizes that nobody states could be."""
        if not course.ports:
            return "ok"
        if course.main and any(name in self.of_branches for name in course.over - set(course.ports)):
            return "fails"
        names = sorted({*course.over, *course.ports})
        choices = [(TINY, HUGE) if size is None else (size,) for size in map(self.size, names)]
        found = set()
        for sizes in product(*choices):
            of = dict(zip(names, sizes, strict=True))
            least = LEAST_SHARE * min(of[name] for name in course.ports)
            found.add(min(of[name] for name in course.over) >= least)
        return "measure_first" if len(found) == 2 else "ok" if True in found else "fails"

    @property
    def of_branches(self) -> set[str]:
        """Connections by which parts of the catalog take heaters, bypasses and vents, and never a main line."""
        roles: dict[str, set[str]] = {}
        for part in self.question.snapshot.parts.values():
            for port in part.ports:
                roles.setdefault(port.connection, set()).add(port.role)
        return {
            name
            for name, found in roles.items()
            if found & {"heater_feed", "heater_return", "bypass", "vent"} and not found & {"coolant_in", "coolant_out"}
        }

    def _pointed(self, here: Open, course: Course, leading: Port) -> tuple[str | None, str | None] | None:
        """Where the outlet points behind a part that is bolted, pressed or screwed to it."""
        if course.points is None:
            return None
        if self.connections[here.port.connection].bolts:
            return leading.side, leading.direction
        return leading.side or course.points[0], leading.direction or course.points[1]

    def _bent(self, here: Open, course: Course) -> Course | None:
        """What is found of the outlet where a hose or a flare bends the line; None where it points elsewhere."""
        if course.points is None or self.connections[here.port.connection].sort not in FLEXIBLE:
            return course
        found = self._outlet(course)
        if any(verdict == "fails" for _, verdict in found):
            return None
        return course._replace(points=None, outlet=tuple(found))

    def _outlet(self, course: Course) -> list[tuple[str, str]]:
        return [] if course.points is None else self.outlet_tests(course.points)

    def outlet_tests(self, points: tuple[str | None, str | None]) -> list[tuple[str, str]]:
        """What the build says of the outlet, held against where one points."""
        must = self.question.build.must
        wanted = (("outlet_side", must.outlet_side, points[0]), ("outlet_direction", must.outlet_direction, points[1]))
        return [
            (code, "measure_first" if has is None else "ok" if has == want else "fails")
            for code, want, has in wanted
            if want is not UNSET
        ]

    def bare_outlet(self, plate: Piece) -> list[tuple[str, str]]:
        """The same where no line is asked for: the port itself, or a neck that could be bolted to it."""
        ports = ports_of(plate, "coolant_out")
        if self.coolant_asked and ports:
            return []
        points: list[tuple[str | None, str | None]] = [(port.side, port.direction) for port in ports]
        points += [one for port in ports for one in self._necks(port, (port.side, port.direction), MOST_PARTS)]
        if not points and any(ports_of(plate, role) for role in WATER):
            return [(code, "fails") for code, _ in self.outlet_tests((None, None))]
        tried = [self.outlet_tests(one) for one in points or [(None, None)]]
        return max(tried, key=lambda tests: sorted(WORST.index(verdict) for _, verdict in tests))

    def _necks(
        self, port: Port, points: tuple[str | None, str | None], left: int
    ) -> list[tuple[str | None, str | None]]:
        """Where what is bolted, pressed or screwed to a port points, one upon the other."""
        connection = self.connections[port.connection]
        if connection.sort in FLEXIBLE or not left:
            return []
        found: list[tuple[str | None, str | None]] = []
        other = connection.other_end(port.end)
        for neck in self.question.snapshot.parts.values():  # whether they are on a list or not
            mounts = [one for one in neck.ports if (one.connection, one.end) == (port.connection, other)]
            if neck.kind != "fitting" or not self.question.usable(neck.number):
                continue
            for mount in mounts:
                for leading in neck.ports:
                    if leading is mount or leading.role not in ("line", "mount"):
                        continue
                    then: tuple[str | None, str | None] = (leading.side, leading.direction)
                    if not connection.bolts:
                        then = (leading.side or points[0], leading.direction or points[1])
                    found += [then, *self._necks(leading, then, left - 1)]
        return found

    def _side_port(self, part: Part, port: Port, left: int) -> Bundles:
        here = Open(part.number, port)
        return self.put_in(here) if port.role == "thermostat" else self.closed(here, left)

    def put_in(self, here: Open) -> Bundles:
        """A thermostat in its place."""
        return self.one_of(
            self.with_part(here, part, port, NOTHING) for part, port in self.meeting(here.port, ("thermostat",))
        )

    # --- housings ---------------------------------------------------------------------------------------------

    def housing(self, here: Open, heater_return: str, outlets: list[Port], feeds: list[Port]) -> Bundles:
        """A thermostat housing, its lower line and its other ports.

        `heater_return`: what becomes of its return from the heater, `open`, `closed` or `heater` (to the asker's).
        """
        found = []
        for part, port in self.meeting(here.port, ("thermostat_housing",)):
            if port.role != "mount" or not has_thermostat(part):
                continue
            others = sorted((other for other in part.ports if other is not port), key=lambda one: one.name)
            returns = [other for other in others if other.role == "heater_return"]
            if heater_return == "heater" and not returns:
                continue
            each = []
            for other in others:
                open_ = Open(part.number, other)
                if other.role == "coolant_in":
                    each.append(self.line(open_, self.lower, main_line("inlet_path", outlets)))
                elif other.role == "thermostat":
                    each.append(self.put_in(open_))
                elif other.role == "heater_return" and heater_return == "open":
                    each.append(frozenset([Bundle(opens=((part.number, other.name),))]))
                elif other.role == "heater_return" and heater_return == "heater" and other is returns[0]:
                    each.append(self.line(open_, self.back, heater_line(feeds)))
                else:
                    each.append(self.closed(open_))
            found.append(self.with_part(here, part, port, self.all_of(each)))
        return self.one_of(found)

    # --- obligations ------------------------------------------------------------------------------------------

    def of_pump(self, pump: Piece) -> list[Obligation]:
        """What a pump driven by the belt raises, as far as the build asks about it."""
        name = self.name_of(pump, "pump")
        found: list[Obligation] = []
        through_housing = (
            self.heater_asked
            and not self.no_heater
            and bool(ports_of(pump, "heater_feed"))
            and not ports_of(pump, "heater_return")
        )
        if self.coolant_asked:
            outlets, feeds = ports_of(pump, "coolant_out"), ports_of(pump, "heater_feed")
            lines = [self.line(Open(name, port), self.upper, self.from_outlet(port)) for port in outlets]
            found += [Obligation("outlet", "outlet_path", line) for line in lines]
            returning = "heater" if through_housing else "closed" if self.heater_asked else "open"
            housings = [self.housing(Open(name, port), returning, outlets, feeds) for port in ports_of(pump, "housing")]
            found += [Obligation("housing", "inlet_path", housing) for housing in housings]
            inlets = [
                self.line(Open(name, port), self.lower, main_line("inlet_path", [port, *outlets]))
                for port in ports_of(pump, "coolant_in")
            ]
            found += [Obligation("inlet", "inlet_path", line) for line in inlets]
            if through_housing and not ports_of(pump, "housing"):
                found.append(Obligation("heater return", "heater_path", IMPOSSIBLE))
            found += self._bypasses(name, pump)
            found += self._vents_and_sensors(name, pump)
        if self.heater_asked:
            found += self._heaters(name, pump)
        found += self._fans(name, pump)
        return found

    def from_outlet(self, port: Port) -> Course:
        must = self.question.build.must
        asked = must.outlet_side is not UNSET or must.outlet_direction is not UNSET
        return main_line("outlet_path", [port])._replace(points=(port.side, port.direction) if asked else None)

    def of_remote(self, plate: Piece, pump: Piece) -> list[Obligation]:
        """What an outlet plate and a pump that runs elsewhere raise."""
        name, pump_name = self.name_of(plate, "plate"), self.name_of(pump, "remote_pump")
        found: list[Obligation] = []
        if self.coolant_asked:
            lacking = [role for role in ("vent", "sensor") if not ports_of(plate, role)]
            found += [Obligation(role, "vent", IMPOSSIBLE) for role in lacking]
            inside = bool(plate.part.attributes.get("thermostat_included")) or bool(ports_of(plate, "thermostat"))
            outs, ins = ports_of(plate, "coolant_out"), ports_of(plate, "coolant_in")
            out_lines = [
                self.line(Open(name, port), self.upper, self.from_outlet(port), thermostat=not inside) for port in outs
            ]
            found.append(Obligation("outlet", "outlet_path", self._one_mouth(name, outs, out_lines)))
            in_lines = [self._to_remote(Open(name, port), pump_name, pump) for port in ins]
            found.append(Obligation("inlet", "inlet_path", self._one_mouth(name, ins, in_lines)))
            seats = [self.put_in(Open(name, port)) for port in ports_of(plate, "thermostat")]
            found += [Obligation("thermostat", "thermostat", seat) for seat in seats]
            found += self._bypasses(name, plate)
            found += self._vents_and_sensors(name, plate)
        if self.heater_asked:
            found += self._heaters(name, plate)
        if self.fan_of_engine:
            found.append(Obligation("fan", "hub", IMPOSSIBLE))
        return found

    def _one_mouth(self, name: str, mouths: list[Port], lines: list[Bundles]) -> Bundles:
        found = []
        for place, line in enumerate(lines):
            shut = [self.closed(Open(name, port)) for other, port in enumerate(mouths) if other != place]
            found.append(self.all_of([*shut, line]))
        return self.one_of(found)

    def _to_remote(self, here: Open, pump_name: str, pump: Piece) -> Bundles:
        outs, ins = ports_of(pump, "coolant_out"), ports_of(pump, "coolant_in")
        return self.all_of(
            [
                self.line(here, Goal(pump_name, outs[0]), main_line("inlet_path", [here.port])),
                self.line(Open(pump_name, ins[0]), self.lower, main_line("inlet_path", ins[:1]), anywhere=True),
            ]
            if outs and ins
            else [IMPOSSIBLE]
        )

    def _bypasses(self, name: str, pump: Piece) -> list[Obligation]:
        engine = self.question.engine
        engine_name = self.name_of(engine, "engine")
        own, of_engine = ports_of(pump, "bypass"), ports_of(engine, "bypass")
        if not own:
            return [Obligation("bypass", "bypass", self.closed(Open(engine_name, port))) for port in of_engine]
        goal = Goal(engine_name, of_engine[0]) if of_engine else None
        return [
            Obligation(
                "bypass", "bypass", self.closed(Open(name, port)) if goal is None else self.line(Open(name, port), goal)
            )
            for port in own
        ]

    def _vents_and_sensors(self, name: str, pump: Piece) -> list[Obligation]:
        goal = self._port_goal(self.radiator, "vent")
        found = []
        for port in ports_of(pump, "vent"):
            here = Open(name, port)
            found.append(Obligation("vent", "vent", self.closed(here) if goal is None else self.line(here, goal)))
        sensors = [self.closed(Open(name, port)) for port in ports_of(pump, "sensor")]
        return found + [Obligation("sensor", "vent", plug) for plug in sensors]

    def _heaters(self, name: str, pump: Piece) -> list[Obligation]:
        feeds, returns = ports_of(pump, "heater_feed"), ports_of(pump, "heater_return")
        led: list[tuple[Port, Goal | None]] = []
        if not self.no_heater:
            if not any(ports_of(pump, role) for role in WATER):
                return []  # nobody states any of its ports
            if not feeds:
                return [Obligation("heater feed", "heater_path", IMPOSSIBLE)]
            led = [(feeds[0], self.feed)] + ([(returns[0], self.back)] if returns else [])
        looped: tuple[Port, ...] = ()
        found = []
        if self.no_heater and pump.part.attributes.get("bypass") == "heater" and feeds:
            goal = Goal(name, returns[0]) if returns else None
            loop = self.line(Open(name, feeds[0]), goal, heater_line(feeds[:1]))
            found.append(Obligation("heater loop", "heater_path", loop))
            looped = (feeds[0], *returns[:1])
        for port, goal in led:
            found.append(Obligation(port.role, "heater_path", self.line(Open(name, port), goal, heater_line([port]))))
        done = [port for port, _ in led] + list(looped)
        rest = [port for port in (*feeds, *returns) if port not in done]
        return found + [Obligation(port.role, "heater_path", self.closed(Open(name, port))) for port in rest]

    # --- fans -------------------------------------------------------------------------------------------------

    @property
    def named_fan(self) -> Piece | None:
        given = self.question.build.fan
        if given is UNSET or given in ("mechanical", "electric", "none"):
            return None
        return self.question.slot(given, "fan")

    @property
    def fan_of_engine(self) -> bool:
        fan = self.named_fan
        if fan is None:
            return self.question.build.fan == "mechanical"
        return fan.part.attributes.get("driven_by") == "engine"

    @property
    def silent_fan(self) -> Piece | None:
        """The named fan, where it turns with the engine and does not state what it bolts to."""
        fan = self.named_fan
        return None if fan is None or not self.fan_of_engine or ports_of(fan, "mount") else fan

    def _fans(self, name: str, pump: Piece) -> list[Obligation]:
        if not self.fan_of_engine:
            return []
        ports = ports_of(pump, "fan")
        if ports and self.silent_fan is not None:
            return []  # nobody says what it bolts to
        if pump.described and not ports:
            return []  # nobody says where a fan goes
        found = self.one_of(self._fan_on(Open(name, port), MOST_PARTS) for port in ports[:1])
        return [Obligation("fan", "hub", found)]

    def _fan_on(self, here: Open, left: int) -> Bundles:
        """A fan, or an adapter and a fan on it."""
        if not left:
            return IMPOSSIBLE
        wanted = self.named_fan
        found = []
        for part, port in self.meeting(here.port, ("fan_adapter", "fan")):
            if part.kind == "fan":
                if part.attributes.get("driven_by") == "engine" and (wanted is None or wanted.number == part.number):
                    found.append(self.with_part(here, part, port, frozenset([Bundle(fan=(part.number,))])))
            else:
                for other in part.ports:
                    if other.role == "fan":
                        ahead = self._fan_on(Open(part.number, other), left - 1)
                        mine = frozenset([Bundle(fan=(part.number,))])
                        found.append(self.with_part(here, part, port, self.all_of([mine, ahead])))
        return self.one_of(found)


def molded_onto(part: Part, before: str) -> str | None:
    """The part that must come next: "" any, None where this hose is molded for other parts than the one before."""
    if part.kind != "hose" or part.attributes.get("shape") != "molded":
        return ""
    ends = [str(part.attributes.get("molded_from")), str(part.attributes.get("molded_to"))]
    if before not in ends:
        return None
    ends.remove(before)
    return ends[0]


def crossed(sides: Sides) -> Sides:
    """The sides behind a hose that crosses; it leads nowhere from the middle."""
    return tuple(sorted(OPPOSITE[side] for side in sides if side in OPPOSITE))


def main_line(code: str, ports: list[Port]) -> Course:
    """A main line that must be as wide as these ports, but for its leeway."""
    return Course(code, tuple(port.connection for port in ports), main=True)


def heater_line(ports: list[Port]) -> Course:
    return Course("heater_path", tuple(port.connection for port in ports))


WORST = ("fails", "measure_first", "ok")


def ports_of(piece: Piece, role: str) -> list[Port]:
    """Ports of a role, by name."""
    return sorted((port for port in piece.part.ports if port.role == role), key=lambda port: port.name)


def has_thermostat(part: Part) -> bool:
    """The thermostat comes with the housing, or has a place in it."""
    return bool(part.attributes.get("thermostat_included")) or any(port.role == "thermostat" for port in part.ports)


def is_size(text: str) -> bool:
    """Whether it is said as a size."""
    return text.startswith("-") or text.endswith("hose")
