"""The fit question as one OR-Tools CP-SAT model: a flow of joints from the engine through plates to a pump.

Every joint that can be made is a 0/1 variable in each of four steps; what flows in flows out; thicknesses, checks,
fasteners, rules, work and price are linear in them. It gives the set of feasible (pump, plates) pairs and the key of
the best option by verdict, work, recommendation and price. Sums are integers: half nanometres where a middle or a
groove position may be halved, limits in 1/384 nm (a span over 192, halved). No code is shared with the engine, nor
with the enumeration.
"""

from collections import Counter
from collections.abc import Iterable
from decimal import Decimal
from math import ceil
from typing import Any, NamedTuple

from msgspec import UNSET
from ortools.sat.python import cp_model

from catalog.domain import Connection, Part, Port, Rule, Snapshot
from catalog.standards.belts import DEFAULT_SPAN, RIB_PITCH
from catalog.standards.threads import LEAST_ENGAGEMENT, diameter
from catalog.units import from_millimetres, minor_units, parse_length
from catalog.vocabulary import DEFAULT_TOLERANCE, WORK
from service.fit.build import Build
from tests.oracles.brute_force import OF_WATER

Literal = cp_model.IntVar
FAR = 10**10
GAP = 1_500_000
DEAR = 10**8
STEPS = range(4)
FIXED = {"engine", "accessory_drive", "front_cover", "crank_pulley"}
"""Kinds that only the build brings."""
CHOSEN = {"water_pump", "pulley", "spacer", "adapter_plate"}
"""Kinds that only the path brings."""
ME = ""
"""The number of a part that the build describes."""


class Row(NamedTuple):
    """A joint that can be made: from the part nearer the block to the next one out."""

    inner: str
    outer: str
    connection: str
    gasket: str | None


CARRIES = (
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
"""Roles of ports that the asker must connect where the build asks nothing of coolant."""


class Spot(NamedTuple):
    """Where a belt can sit: half nanometres from the first band's centre, and the limit in 1/384 nm.

    The limit is the middle of what it can be, `doubt` what it can be more or less.
    """

    shift: int
    limit: int
    doubt: int = 0


class Item:
    """A part with the asker's readings: low and high by measure, and what it is otherwise."""

    def __init__(self, number: str, sort: str) -> None:
        self.number = number
        self.sort = sort
        self.size: dict[str, tuple[int, int]] = {}
        self.nominal: dict[str, int] = {}
        self.traits: dict[str, Any] = {}
        self.bands: list[tuple[int, int, str, int]] = []
        self.ports: list[Port] = []
        self.own = number == ME
        self.touched = self.own
        """Described, or read by the asker: a tested fit says nothing of it."""

    def put(self, name: str, nominal: int, low: int, high: int) -> None:
        self.size[name], self.nominal[name] = (low, high), nominal


def nm(length: float | str) -> int:
    return parse_length(length) if isinstance(length, str) else from_millimetres(length)


def around(reading: Any) -> tuple[int, int, int]:
    doubt = DEFAULT_TOLERANCE[reading.taken_with] if reading.plus_minus is UNSET else nm(reading.plus_minus)
    middle = nm(reading.value)
    return middle, middle - doubt, middle + doubt


class Model:
    """The model of one build against one catalog."""

    def __init__(self, snapshot: Snapshot, build: Build) -> None:
        self.snapshot, self.build = snapshot, build
        self.model = cp_model.CpModel()
        self.out = {self._number(reference) for reference in build.must.without}
        self.have = Counter(self._number(reference) for reference in build.have)
        self.items: dict[str, Item] = {}
        self.unbelieved = {self._number(one.part) for one in build.measured if not self._believable(one)}
        """Parts of which a reading contradicts the catalog: whatever takes them must be measured first."""
        self.belt_ribs: int | None = None
        self.drive = self._slot("accessory_drive")
        self.belt_ribs = None if self.drive is None else self.drive.traits.get("ribs")
        engine = self._slot("engine")
        assert engine is not None
        self.engine = engine
        self.cover, self.crank = self._slot("front_cover"), self._slot("crank_pulley")
        self.named_pump, self.named_pulley = self._slot("pump"), self._slot("pulley")
        self.plates = self._all("spacer", "adapter_plate")
        self.pumps = self._all("water_pump") if self.named_pump is None else [self.named_pump]
        self.pumps = [pump for pump in self.pumps if pump.number not in self.out]
        self.doubtful: list[Literal] = []
        """One for each check that a reading must settle first."""
        self.quantity: dict[str, Any] = {}
        self.present: dict[str, Any] = {}
        self.truth = self.model.new_constant(1)
        self._flow()
        self._pulleys()
        self._bolts()
        self._rules()
        self._tested()
        self.doubtful += [self.present[number] for number in sorted(self.unbelieved) if number in self.present]
        self._face_and_outlets()
        self._belt()
        self._crank()
        self._cover()
        self._carried()
        self._money_and_work()
        self.model.add_decision_strategy(
            [used for step in self.flow for used in step.values()] + [pair for _, _, pair in self.pairs],
            cp_model.CHOOSE_FIRST,
            cp_model.SELECT_MAX_VALUE,
        )

    # --- answers

    def feasible_paths(self) -> set[tuple[str, tuple[str, ...]]]:
        """Pump ("" where described) and sorted plates of everything feasible."""
        self.model.clear_objective()  # type: ignore[no-untyped-call]
        solver = _solver()
        solver.parameters.enumerate_all_solutions = True
        collector = _Collector(self)
        status = solver.solve(self.model, collector)
        assert status in (cp_model.OPTIMAL, cp_model.INFEASIBLE), solver.status_name(status)
        return collector.found

    def best_key(self) -> tuple[str, str, bool, int | None] | None:
        """Verdict, work, recommended and price of the best option; None where nothing fits."""
        model = self.model
        doubt = self._any("doubt", self.doubtful)
        price_key = model.new_int_var(0, DEAR, "price_key")
        model.add(price_key == DEAR).only_enforce_if(self.unpriced)
        model.add(price_key == self.total).only_enforce_if(~self.unpriced)
        unloved = sum(self.is_pump[pump.number] for pump in self.pumps if not self._recommended(pump))
        model.minimize(((doubt * len(WORK) + self.work) * 2 + unloved) * (DEAR + 1) + price_key)
        solver = _solver()
        if solver.solve(model) == cp_model.INFEASIBLE:
            return None
        verdict = "measure_first" if solver.value(doubt) else "ok"
        price = None if solver.value(self.unpriced) else solver.value(self.total)
        return verdict, WORK[solver.value(self.work)], not solver.value(unloved), price

    # --- parts

    def _number(self, reference: str) -> str:
        part = self.snapshot.find(reference)
        assert part is not None
        return part.number

    def _usable(self, number: str) -> bool:
        return self.snapshot.parts[number].status == "active" and number not in self.out

    def _all(self, *kinds: str) -> list[Item]:
        parts = [part for part in self.snapshot.parts.values() if part.kind in kinds]
        return [self._item(part) for part in parts if self._usable(part.number)]

    def _recommended(self, item: Item) -> bool:
        return not item.own and self.snapshot.parts[item.number].recommended

    def _item(self, part: Part) -> Item:
        if part.number in self.items:
            return self.items[part.number]
        item = self.items[part.number] = Item(part.number, part.kind)
        for name, measure in part.measures.items():
            item.put(name, measure.nominal, measure.nominal - measure.minus, measure.nominal + measure.plus)
        item.traits = dict(part.attributes)
        item.bands = [(band.from_, band.to, band.surface, band.grooves) for band in part.bands]
        item.ports = list(part.ports)
        for reading in self.build.measured:
            if self._number(reading.part) == part.number:
                item.touched = True
                if not self._believable(reading):
                    continue
                item.put(reading.measure, *around(reading))
                if reading.measure == "pulley_front":
                    self._plane_of_front(item)
        return item

    def _believable(self, reading: Any) -> bool:
        """Whether a reading is at most 3 mm beyond both doubts from what the catalog says, where it says anything."""
        known = self.snapshot.parts[self._number(reading.part)].measures
        terms = [reading.measure] if reading.measure in known else []
        if not terms and reading.measure == "pulley_front" and "belt_plane" in known:
            terms = ["belt_plane", "front_offset"]
        least = sum(known[name].nominal - known[name].minus for name in terms)
        most = sum(known[name].nominal + known[name].plus for name in terms)
        _, low, high = around(reading)
        return not terms or (low - most <= 3_000_000 and least - high <= 3_000_000)

    def _plane_of_front(self, item: Item) -> None:
        front, offset = item.size["pulley_front"], item.size["front_offset"]
        nominal = item.nominal["pulley_front"] - item.nominal["front_offset"]
        item.put("belt_plane", nominal, front[0] - offset[1], front[1] - offset[0])

    def _slot(self, name: str) -> Item | None:
        given = getattr(self.build, name)
        if given is UNSET:
            return None
        if isinstance(given, str):
            return self._item(self.snapshot.parts[self._number(given)])
        item = Item(ME, {"pump": "water_pump"}.get(name, name))
        for measure, reading in given.measures.items():
            item.put(measure, *around(reading))
        if "pulley_front" in item.size and "belt_plane" not in item.size and name == "pump":
            self._plane_of_front(item)
        item.traits = dict(given.attributes)
        item.bands = [(nm(band.from_), nm(band.to), band.surface, band.grooves) for band in given.bands]
        for port in given.ports:
            ends = self.snapshot.connections[port.connection].ends
            end = ends[1] if port.role == "mount" else ends[0]
            side, direction = port.side or None, port.direction or None
            item.ports.append(Port(port.role, port.role, port.connection, end, None, side, direction))
        return item

    # --- what nobody states

    def _said(self, kind: str, fact: str) -> bool:
        """Whether some part of a kind in the catalog states it: a measure whatever its zone, a trait, or a mount."""
        for part in self.snapshot.parts.values():
            if part.kind == kind:
                measured = {name.split(".")[0] for name in part.measures}
                roles = {f"a {port.role} port" for port in part.ports}
                if fact in {*measured, *part.attributes, *roles, *(["bands"] if part.bands else [])}:
                    return True
        return False

    def _lacking(self, *wanted: tuple[Item, str]) -> list[tuple[str, str]]:
        """Those measures and traits that an item does not state, by kind and name."""
        return [(item.sort, name) for item, name in wanted if name not in item.size and name not in item.traits]

    def _unknown(self, name: str, when: Any, lacking: list[tuple[str, str]], settled: Any = None) -> None:
        """A check that lacks something is in doubt; but where no part of the kind states it, nothing is asked."""
        if lacking and all(self._said(kind, fact) for kind, fact in lacking):
            self.doubtful.append(self._both(name, [when] if settled is None else [when, ~settled]))

    # --- small constraints

    def _both(self, name: str, literals: Iterable[Any]) -> Literal:
        """A literal that is true just when all are."""
        literals = list(literals)
        both = self.model.new_bool_var(name)
        self.model.add_bool_and(literals).only_enforce_if(both)
        self.model.add_bool_or([both, *(~literal for literal in literals)])
        return both

    def _any(self, name: str, literals: Iterable[Any]) -> Literal:
        """A literal that is true just when one at least is."""
        literals = list(literals)
        some = self.model.new_bool_var(name)
        self.model.add_bool_or([*literals, ~some])
        for literal in literals:
            self.model.add_implication(literal, some)
        return some

    def _holds(self, name: str, low: Any) -> Literal:
        """A literal that is true just when the sum is 0 or more."""
        holds = self.model.new_bool_var(name)
        self.model.add(low >= 0).only_enforce_if(holds)
        self.model.add(low <= -1).only_enforce_if(~holds)
        return holds

    def _as_literal(self, name: str, total: Any) -> Literal:
        """A literal equal to a sum that is 0 or 1."""
        literal = self.model.new_bool_var(name)
        self.model.add(total == literal)
        return literal

    def _check(self, name: str, when: Any, ok: Literal, possible: Any, settled: Any) -> None:
        """Where it is asked: possible, or settled by a test; and in doubt while it is not ok."""
        self.model.add_bool_or([~when, settled, possible])
        self.doubtful.append(self._both(name, [when, ~ok, ~settled]))

    def _within(self, name: str, low: Any, high: Any, spot: Spot, scale: int) -> tuple[Literal, Literal]:
        """Whether |d| <= limit everywhere, and whether somewhere; d times scale is in the limit's unit."""
        least, most = spot.limit - spot.doubt, spot.limit + spot.doubt
        ok = self._both(name, [self._holds(name, least - scale * high), self._holds(name, least + scale * low)])
        possible = self._both(name, [self._holds(name, most - scale * low), self._holds(name, most + scale * high)])
        return ok, possible

    # --- the path

    def _rows(self, inner: Item, outers: list[Item]) -> Iterable[Row]:
        for face in (port for port in inner.ports if port.role == "pump_face"):
            connection = self.snapshot.connections[face.connection]
            for outer in outers:
                for mount in (port for port in outer.ports if port.role == "mount"):
                    if mount.connection != face.connection or face.end == mount.end:
                        continue
                    if connection.seal not in ("gasket", "o_ring"):
                        yield Row(inner.number, outer.number, connection.name, None)
                        continue
                    wanted = {face.gasket, mount.gasket} - {None} or {connection.gasket}
                    if len(wanted) == 1:
                        gasket = next(iter(wanted))
                        if gasket is None and connection.seal == "o_ring":
                            yield Row(inner.number, outer.number, connection.name, None)
                        if gasket is not None and self._usable(gasket):
                            yield Row(inner.number, outer.number, connection.name, gasket)

    def _flow(self) -> None:
        """One joint from the engine; each plate reached is left again; the last joint reaches a pump."""
        model = self.model
        self.flow: list[dict[tuple[int, Row], Literal]] = []
        for step in STEPS:
            inners = [self.engine] if step == 0 else self.plates
            outers = self.pumps if step == 3 else [*self.plates, *self.pumps]
            rows = [row for inner in inners for row in self._rows(inner, outers)]
            self.flow.append({(place, row): model.new_bool_var(f"step{step}_{row}") for place, row in enumerate(rows)})
        model.add(sum(self.flow[0].values()) == 1)
        self.at = [
            {
                item.number: self._as_literal(f"at{step}_{item.number}", self._into(step, item))
                for item in self._reached(step)
            }
            for step in STEPS
        ]
        for step in range(3):
            for plate in self.plates:
                leaving = [used for (_, row), used in self.flow[step + 1].items() if row.inner == plate.number]
                model.add(sum(leaving) == self.at[step][plate.number])
        self.is_pump = {
            pump.number: self._as_literal(f"pump_{pump.number}", sum(self.at[step][pump.number] for step in STEPS))
            for pump in self.pumps
        }
        model.add_exactly_one(self.is_pump.values())
        self.count = {plate.number: sum(self.at[step][plate.number] for step in range(3)) for plate in self.plates}
        self._stack()

    def _reached(self, step: int) -> list[Item]:
        return self.pumps if step == 3 else [*self.plates, *self.pumps]

    def _into(self, step: int, item: Item) -> Any:
        return sum(used for (_, row), used in self.flow[step].items() if row.outer == item.number)

    def _stack(self) -> None:
        """Flange z from plates and gaskets, and how many pieces of each."""
        low: Any = 0
        high: Any = 0
        gaskets: dict[str, list[Literal]] = {}
        for (_, row), used in (item for step in STEPS for item in self.flow[step].items()):
            pieces = self.snapshot.connections[row.connection].pieces_per_layer
            for number in (row.gasket, row.outer if row.outer not in self.is_pump else None):
                if number is None:
                    continue
                if number == row.outer or self._seal(row) == "gasket":
                    size = self._item(self.snapshot.parts[number]).size["thickness"]
                    low, high = low + size[0] * used, high + size[1] * used
                self.quantity[number] = self.quantity.get(number, 0) + pieces * used
            if row.gasket is not None:
                gaskets.setdefault(row.gasket, []).append(used)
        self.low, self.high = self.model.new_int_var(-FAR, FAR, "low"), self.model.new_int_var(-FAR, FAR, "high")
        self.model.add(self.low == low)
        self.model.add(self.high == high)
        for number, joints in gaskets.items():
            self.present[number] = self._any(f"has_{number}", joints)
        for plate in self.plates:
            self.present[plate.number] = self._any(
                f"has_{plate.number}", [self.at[step][plate.number] for step in range(3)]
            )
        for pump in self.pumps:
            if not pump.own:
                self.present[pump.number] = self.is_pump[pump.number]
                self.quantity[pump.number] = self.is_pump[pump.number]

    def _seal(self, row: Row) -> str:
        """An O-ring lies in its groove and adds nothing to the stack."""
        return self.snapshot.connections[row.connection].seal

    def _hub(self, pump: Item) -> Port | None:
        return None if pump.bands else next((port for port in pump.ports if port.role == "hub"), None)

    def _pulleys(self) -> None:
        """Which pulley, or none, with which pump: a literal for each pair that a hub allows."""
        self.pairs: list[tuple[Item, Item | None, Literal]] = []
        for pump in self.pumps:
            hub = self._hub(pump)
            choices: list[Item | None] = [None]
            if self.named_pulley is not None:
                choices = [] if self.named_pulley.number in self.out else [self.named_pulley]
            elif hub is not None and self.drive is not None:
                choices = [*self._all("pulley")]
            fitting = [pulley for pulley in choices if pulley is None or self._meets(hub, pulley)]
            pairs = [self.model.new_bool_var(f"{pump.number}_with_{place}") for place in range(len(fitting))]
            self.model.add(sum(pairs) == self.is_pump[pump.number])
            self.pairs += [(pump, pulley, pair) for pulley, pair in zip(fitting, pairs, strict=True)]
        numbers = sorted({pulley.number for _, pulley, _ in self.pairs if pulley is not None and not pulley.own})
        for number in numbers:
            with_it = [pair for _, pulley, pair in self.pairs if pulley is not None and pulley.number == number]
            self.present[number] = self._any(f"has_{number}", with_it)
            self.quantity[number] = self.present[number]

    def _meets(self, hub: Port | None, pulley: Item) -> bool:
        return hub is not None and any(
            port.role == "mount" and port.connection == hub.connection and port.end != hub.end for port in pulley.ports
        )

    # --- bolts

    def _bolts(self) -> None:
        """Groups by the step at which their holder stands: the engine before the first, tapped plates after theirs."""
        self.chosen: dict[str, list[Literal]] = {}
        self._group(-1, self.engine, self.truth)
        for step in range(3):
            for plate in self.plates:
                if "hole_depth" in plate.size:
                    self._group(step, plate, self.at[step][plate.number])

    def _layer(self, step: int) -> tuple[Any, Any]:
        """What is clamped at one step: a gasket and a plate, a tapped plate's flange, or the pump's flange."""
        low: Any = 0
        high: Any = 0
        for (_, row), used in self.flow[step].items():
            sizes = []
            if row.gasket is not None and self._seal(row) == "gasket":
                sizes.append(self._item(self.snapshot.parts[row.gasket]).size["thickness"])
            outer = next(item for item in self._reached(step) if item.number == row.outer)
            tapped = "hole_depth" in outer.size
            if outer.sort == "water_pump":
                sizes.append(outer.size.get("flange_thickness", (0, 0)))
            else:
                sizes.append(outer.size.get("flange_thickness" if tapped else "thickness", outer.size["thickness"]))
            for size in sizes:
                low, high = low + size[0] * used, high + size[1] * used
        return low, high

    def _group(self, step: int, holder: Item, held: Any) -> None:
        holes = self._lacking(*((holder, name) for name in ("hole_depth", "thread", "hole_material")))
        if holes:
            self._unheld(step, holder, held, holes)
            return
        model, name = self.model, f"group{step}_{holder.number}"
        low, high = model.new_int_var(-FAR, FAR, name), model.new_int_var(-FAR, FAR, name)
        lows: list[Literal] = []
        highs: list[Literal] = []
        reaching: Any = held
        unknown = []
        for outer in range(step + 1, 4):
            for number, sums in (("low", lows), ("high", highs)):
                part = model.new_int_var(-FAR, FAR, f"{name}_{outer}_{number}")
                model.add(part == self._layer(outer)[number == "high"]).only_enforce_if(reaching)
                model.add(part == 0).only_enforce_if(~reaching)
                sums.append(part)
            unknown += [
                self._both(name, [reaching, self.at[outer][pump.number]])
                for pump in self.pumps
                if "flange_thickness" not in pump.size
            ]
            if outer < 3:
                taps = [self.at[outer][plate.number] for plate in self.plates if "hole_depth" in plate.size]
                reaching = self._both(name, [reaching, *(~tap for tap in taps)])
        model.add(low == sum(lows))
        model.add(high == sum(highs))
        asked = self._both(name, [held, ~self._any(name, unknown)])
        self._unknown(name, self._any(name, unknown), [("water_pump", "flange_thickness")])
        connections: dict[str, list[Literal]] = {}
        for (_, row), used in self.flow[step + 1].items():
            if row.inner == holder.number:
                connections.setdefault(row.connection, []).append(used)
        candidates = self._candidates(name, holder, low, high)
        for connection, uses in connections.items():
            here = self._both(name, [asked, self._any(name, uses)])
            self._choose(f"{name}_{connection}", self.snapshot.connections[connection], here, candidates)

    def _unheld(self, step: int, holder: Item, held: Any, holes: list[tuple[str, str]]) -> None:
        """A group whose holes are not all known is in doubt, unless it ends at a flange of which nobody knows."""
        name, reaching, ends = f"unheld{step}_{holder.number}", held, []
        for outer in range(step + 1, 4):
            pumps = [pump for pump in self.pumps if "flange_thickness" not in pump.size]
            ends += [self._both(name, [reaching, self.at[outer][pump.number]]) for pump in pumps]
            if outer < 3:
                taps = [self.at[outer][plate.number] for plate in self.plates if "hole_depth" in plate.size]
                reaching = self._both(name, [reaching, *(~tap for tap in taps)])
        nobody = not self._said("water_pump", "flange_thickness")
        self._unknown(name, self._both(name, [held, ~self._any(name, ends if nobody else [])]), holes)

    def _candidates(self, name: str, holder: Item, low: Any, high: Any) -> list[tuple[Item, Literal, Literal]]:
        """Each fastener set of the thread, whether it holds for sure, and whether it may hold."""
        least = int(diameter(holder.traits["thread"]) * LEAST_ENGAGEMENT[holder.traits["hole_material"]])
        depth = holder.size["hole_depth"]
        candidates = []
        for bolt in self._all("fastener_set"):
            if bolt.traits["thread"] != holder.traits["thread"]:
                continue
            washer, length = bolt.size.get("washer_thickness", (0, 0)), bolt.size["length"]
            shortest, longest = length[0] - washer[1] - high, length[1] - washer[0] - low
            believed = self.model.new_constant(int(bolt.number not in self.unbelieved))
            sure = self._both(
                name, [believed, self._holds(name, shortest - least), self._holds(name, depth[0] - longest)]
            )
            maybe = self._both(
                name,
                [
                    self._holds(name, longest - least),
                    self._holds(name, depth[1] - shortest),
                    self.model.new_constant(int(depth[1] >= least)),
                ],
            )
            candidates.append((bolt, sure, maybe))
        return candidates

    def _choose(
        self, name: str, connection: Connection, here: Literal, candidates: list[tuple[Item, Literal, Literal]]
    ) -> None:
        """One of those that are sure or may hold."""

        def sets(bolt: Item) -> int:
            return max(1, ceil(connection.bolts / int(bolt.traits["pieces"])))

        picks = []
        for bolt, sure, maybe in candidates:
            for allowed in (self._both(name, [here, sure]), self._both(name, [here, maybe, ~sure])):
                pick = self.model.new_bool_var(f"{name}_{bolt.number}")
                self.model.add_implication(pick, allowed)
                picks.append(pick)
                self.chosen.setdefault(bolt.number, []).append(pick)
                self.quantity[bolt.number] = self.quantity.get(bolt.number, 0) + sets(bolt) * pick
            self.doubtful.append(picks[-1])
        self.model.add(sum(picks) == here)

    # --- rules

    def _rules(self) -> None:
        """Nothing may be missing, excluded or known not to fit, once all that is required is there."""
        for number, picks in self.chosen.items():
            self.present[number] = self._any(f"has_{number}", picks)
        for item in (self.engine, self.drive, self.cover, self.crank):
            if item is not None and not item.own:
                self.present[item.number] = self.truth
        self._bring_in()
        for rule in self.snapshot.rules:
            if rule.part in self.present:
                self._obey(rule)

    def _bring_in(self) -> None:
        """What is required comes in, step by step, until nothing more can."""
        requires = [rule for rule in self.snapshot.rules if rule.kind == "requires"]
        kinds = {number: part.kind for number, part in self.snapshot.parts.items()}
        free = sorted({other for rule in requires for other in rule.others if kinds[other] not in FIXED | CHOSEN})
        free = [number for number in free if self._usable(number)]
        at_first = dict(self.present)
        for _ in free:
            now = dict(self.present)
            for number in free:
                asking = [now[rule.part] for rule in requires if number in rule.others and rule.part in now]
                self.present[number] = self._any(
                    f"needs_{number}", [*asking, *([now[number]] if number in now else [])]
                )
        for number in free:
            brought = [self.present[number]] + ([~at_first[number]] if number in at_first else [])
            self.quantity[number] = self.quantity.get(number, 0) + self._both(f"brings_{number}", brought)

    def _obey(self, rule: Rule) -> None:
        there = self.present[rule.part]
        if rule.kind == "excludes":
            for other in rule.others:
                if other in self.present:
                    self.model.add_bool_or([~there, ~self.present[other]])
        elif rule.kind == "tested_no_fit":
            self.model.add(self._very(rule) == 0)
        elif rule.kind == "requires":
            for other in rule.others:
                kind = self.snapshot.parts[other].kind
                if kind == "pulley" and self.build.pulley is UNSET and self.build.accessory_drive is UNSET:
                    continue  # nothing asks for a pulley, so that it is the asker's to say
                if kind not in FIXED or getattr(self.build, kind) is not UNSET:
                    self.model.add_bool_or([~there, *([self.present[other]] if other in self.present else [])])

    def _very(self, rule: Rule) -> Literal:
        """The rule's parts are all there, and these plates as often as it names them and no other."""
        named = Counter([rule.part, *rule.others])
        plates = {
            number: times
            for number, times in named.items()
            if self.snapshot.parts[number].kind in ("spacer", "adapter_plate", "outlet_plate")
        }
        never = self.model.new_constant(0)
        literals = [self.present.get(number, never) for number in named]
        for plate in self.plates:
            difference = self.count[plate.number] - plates.get(plate.number, 0)
            literals += [self._holds(rule.name, difference), self._holds(rule.name, -difference)]
        return self._both(rule.name, literals)

    def _tested(self) -> None:
        """For each check that a test can settle: a literal that one does."""
        never = self.model.new_constant(0)
        found: dict[str, list[Literal]] = {}
        for rule in self.snapshot.rules:
            if rule.kind != "tested_fit" or self.drive is self.cover is None:
                continue
            very = self._very(rule)
            named = {rule.part, *rule.others}
            turned = [
                pair
                for pump, pulley, pair in self.pairs
                if {pump.number, *([] if pulley is None else [pulley.number])} <= named
                and not pump.touched
                and (pulley is None or not pulley.touched)
            ]
            right_pump = self._any(rule.name, turned)
            covered_pump = self._any(
                rule.name,
                [self.is_pump[pump.number] for pump in self.pumps if pump.number in named and not pump.touched],
            )
            stack = [
                *self.plates,
                *(
                    self._item(self.snapshot.parts[number])
                    for number in self.present
                    if self.snapshot.parts[number].kind == "gasket"
                ),
            ]
            read = self._any(rule.name, [used for item in stack if item.touched for used in self._laid(item.number)])
            drive = self.drive is not None and self.drive.number in named and not self.drive.touched
            cover = self.cover is not None and self.cover.number in named and not self.cover.touched
            cranked = all(
                item is not None and item.number in named and not item.touched
                for item in (self.engine, self.drive, self.crank)
            )
            for code in rule.settles:
                if code in ("belt", "rotation") and drive:
                    found.setdefault(code, []).append(self._both(rule.name, [very, right_pump]))
                elif code in ("belt_plane", "carried_parts") and drive:
                    found.setdefault(code, []).append(self._both(rule.name, [very, right_pump, ~read]))
                elif code == "cover" and cover:
                    found.setdefault(code, []).append(self._both(rule.name, [very, covered_pump, ~read]))
                elif code == "crank" and cranked:
                    found.setdefault(code, []).append(very)
        codes = ("belt", "belt_plane", "rotation", "carried_parts", "cover", "crank")
        self.settled = {code: self._any(code, found[code]) if code in found else never for code in codes}

    def _laid(self, number: str) -> list[Literal]:
        """The joints at which a plate or a gasket is laid in the stack."""
        return [
            used for step in STEPS for (_, row), used in self.flow[step].items() if number in (row.outer, row.gasket)
        ]

    # --- checks

    def _face_and_outlets(self) -> None:
        bolted = [item for item in (self.drive, self.cover, self.crank) if item is not None]
        silent = [item.sort for item in bolted if not any(port.role == "mount" for port in item.ports)]
        self._unknown("face", self.truth, [(sort, "a mount port") for sort in silent])
        for item in bolted:
            for mount in item.ports:
                if mount.role == "mount" and not any(
                    port.connection == mount.connection and port.end != mount.end for port in self.engine.ports
                ):
                    self.model.add_bool_or([])
        must = self.build.must
        for pump in self.pumps:
            outlets = [port for port in pump.ports if port.role == "coolant_out"]
            mouths = [(port.side, port.direction) for port in outlets] or (
                [] if any(port.role in OF_WATER for port in pump.ports) else [(None, None)]
            )
            pairs = ((must.outlet_side, 0), (must.outlet_direction, 1))
            asked = [(wanted, which) for wanted, which in pairs if wanted is not UNSET]
            fair = [all(mouth[which] in (None, wanted) for wanted, which in asked) for mouth in mouths]
            sure = [all(mouth[which] == wanted for wanted, which in asked) for mouth in mouths]
            if asked and not any(fair):
                self.model.add(self.is_pump[pump.number] == 0)
            elif asked and not any(sure):
                self.doubtful.append(self.is_pump[pump.number])

    def _ribbed_at(self, shift: int) -> Spot:
        """A spot between ribbed pulleys: 1/192 of the span, so that half nanometres of it are 1/384 nm of the limit."""
        assert self.drive is not None
        least, most = self.drive.size.get("shortest_span", (DEFAULT_SPAN, DEFAULT_SPAN))
        return Spot(shift, least + most, most - least)

    def _run(self, item: Item, side: str | None) -> tuple[list[Spot] | None, list[tuple[str, str]]]:
        """The places for the belt on a pulley, None where they are not known, and what is lacking to say that it suits.

        No place at all where the belt cannot run there.
        """
        drive, ribs = self.drive, self.belt_ribs
        assert drive is not None
        belt, own = drive.traits.get("profile"), item.traits.get("profile")
        lacking = [(drive.sort, name) for name in ("profile", "ribs") if name not in drive.traits]
        lacking += [] if side else [(drive.sort, "belt_side")]
        may_be_ribbed = side != "smooth" and (not item.bands or any(band[2] == "ribbed" for band in item.bands))
        lacking += [(item.sort, "profile")] if may_be_ribbed and own is None else []
        if not item.bands:
            lacking.append((item.sort, "bands"))
            return ([self._ribbed_at(0)] if side == "ribbed" else None), lacking
        spots: list[Spot] = []
        for start, end, kind, grooves in item.bands:
            shift = start + end - item.bands[0][0] - item.bands[0][1]
            if side not in (None, kind) or (kind == "ribbed" and belt and own and belt != own):
                continue
            pitch = RIB_PITCH.get(belt or (own if kind == "ribbed" else None) or "", None)
            if ribs is None or (pitch is None and (kind == "smooth" or grooves > ribs)):
                return None, lacking
            if kind == "smooth" and end - start >= ribs * (pitch or 0):
                spots.append(Spot(shift, 192 * (end - start - ribs * (pitch or 0))))
            elif kind == "ribbed":
                spots += [
                    self._ribbed_at(shift + (2 * left - grooves + ribs) * (pitch or 0))
                    for left in range(grooves - ribs + 1)
                ]
        return spots, lacking

    def _belt(self) -> None:
        if self.drive is None:
            return
        turn = self.drive.traits.get("rotation")
        for pump in self.pumps:
            here, turns = self.is_pump[pump.number], pump.traits.get("rotation")
            self._unknown(
                "rotation", here, self._lacking((self.drive, "rotation"), (pump, "rotation")), self.settled["rotation"]
            )
            if None not in (turn, turns) and turn != turns:
                self.model.add_bool_or([~here, self.settled["rotation"]])
        for pump, pulley, pair in self.pairs:
            if pulley is None and self._hub(pump) is not None:
                continue
            name = f"{pump.number}_{pulley and pulley.number}"
            spots, lacking = self._run(pulley or pump, self.drive.traits.get("belt_side"))
            if spots == []:
                self.model.add_bool_or([~pair, self.settled["belt"]])
                continue
            self._unknown(name, pair, lacking, self.settled["belt"])
            planes = [(pump, "belt_plane")] if pulley is None else [(pump, "hub_face"), (pulley, "offset")]
            missing = self._lacking((self.drive, "belt_plane"), *planes)
            if spots is None or missing:
                more = self._unplaced(pulley or pump) if spots is None else []
                self._unknown(name, pair, [*missing, *more], self.settled["belt_plane"])
                continue
            plane, *terms = [item.size[measure] for item, measure in ((self.drive, "belt_plane"), *planes)]
            low = plane[0] - self.high - sum(term[1] for term in terms)
            high = plane[1] - self.low - sum(term[0] for term in terms)
            self._best_spot(name, pair, low, high, spots)

    def _unplaced(self, item: Item) -> list[tuple[str, str]]:
        """What is lacking to say where the belt runs on a pulley, where that is not known."""
        assert self.drive is not None
        if not item.bands:
            return [(item.sort, "bands")] if "belt_side" in self.drive.traits else [(self.drive.sort, "belt_side")]
        return [(self.drive.sort, "ribs" if self.belt_ribs is None else "profile")]

    def _best_spot(self, name: str, pair: Literal, low: Any, high: Any, spots: list[Spot]) -> None:
        """The spot with the largest margin, the first of equals, decides."""
        middle = self.model.new_int_var(-4 * FAR, 4 * FAR, name)
        self.model.add(middle == low + high)  # twice the middle, in half nanometres
        bests: list[Any] = []
        for place, spot in enumerate(spots):
            wins = [
                self._beats(name, middle, spot, other, strictly=number < place)
                for number, other in enumerate(spots)
                if number != place
            ]
            bests.append(self._both(name, [pair, *wins]))
            ok, possible = self._within(name, 2 * low - spot.shift, 2 * high - spot.shift, spot, 192)
            self._check(name, bests[-1], ok, possible, self.settled["belt_plane"])
        self.model.add(sum(bests) == pair)

    def _beats(self, name: str, middle: Literal, spot: Spot, other: Spot, *, strictly: bool) -> Literal:
        """Whether one spot's margin is the larger: a bound on the middle, as their difference only rises or falls.

        Written with absolute values it is the same, but the solver's bounds then creep a nanometre at a time.
        """

        def lead(at: int) -> bool:
            mine = spot.limit - 192 * abs(at - spot.shift)
            return mine - (other.limit - 192 * abs(at - other.shift)) >= int(strictly)

        rising = spot.shift >= other.shift
        below, above = -4 * FAR - 1, 4 * FAR + 1
        while above - below > 1:  # the least place that leads, or that no longer does
            at = (below + above) // 2
            below, above = (below, at) if lead(at) is rising else (at, above)
        return self._holds(name, middle - above if rising else below - middle)

    def _crank(self) -> None:
        """Nothing of it depends on the path: it is worked out beforehand."""
        if self.crank is None or self.drive is None:
            return
        spots, lacking = self._run(self.crank, "ribbed")
        if spots == []:
            self.model.add_bool_or([self.settled["crank"]])
            return
        wanted = ((self.drive, "belt_plane"), (self.engine, "crank_face"), (self.crank, "offset"))
        missing = self._lacking(*wanted)
        more = self._unplaced(self.crank) if spots is None else []
        self._unknown("crank", self.truth, [*lacking, *missing, *more], self.settled["crank"])
        if spots is None or missing:
            return
        plane, seat, offset = [item.size[name] for item, name in wanted]
        low, high = plane[0] - seat[1] - offset[1], plane[1] - seat[0] - offset[0]
        spot = max(spots, key=lambda spot: spot.limit - 192 * abs(low + high - spot.shift))
        ok, possible = self._within("crank", 2 * low - spot.shift, 2 * high - spot.shift, spot, 192)
        if [*lacking, *more] and not all(self._said(kind, fact) for kind, fact in [*lacking, *more]):
            ok = possible  # then nothing is asked, but what fails fails
        self._check("crank", self.truth, ok, possible, self.settled["crank"])

    def _cover(self) -> None:
        for pump in [] if self.cover is None else self.pumps:
            assert self.cover is not None
            here, settled = self.is_pump[pump.number], self.settled["cover"]
            free = str(pump.traits.get("free_zones", "")).split(", ")
            heights = {name: size for name, size in self.cover.size.items() if name.startswith("cover_height")}
            if not heights:
                self._unknown("cover", here, [(self.cover.sort, "cover_height")], settled)
            for name, height in heights.items():
                room = pump.size.get(name.replace("cover_height", "cover_room"))
                if room is not None:
                    ok = self._holds(name, self.low + room[0] - height[1] - GAP)
                    possible = self._holds(name, self.high + room[1] - height[0] - GAP)
                    self._check(name, here, ok, possible, settled)
                elif (name.partition(".")[2] or "centre") not in free:
                    self._unknown(name, here, [(pump.sort, "cover_room")], settled)

    def _carried(self) -> None:
        if self.drive is not None and not self.drive.ports:
            lacking = [(self.drive.sort, "a carried port")]
            self._unknown("carried", self.truth, lacking, self.settled["carried_parts"])
        for port in [] if self.drive is None else [port for port in self.drive.ports if port.role == "carried"]:
            for pump in self.pumps:
                self._carried_by(port, pump)

    def _carried_by(self, port: Port, pump: Item) -> None:
        assert self.drive is not None
        here, settled = self.is_pump[pump.number], self.settled["carried_parts"]
        if pump.own and not any(boss.role == "carrier" for boss in pump.ports):
            self._unknown(port.name, here, [(pump.sort, "a carrier port")], settled)
            return
        if not any(
            boss.role == "carrier" and boss.connection == port.connection and boss.end != port.end
            for boss in pump.ports
        ):
            self.model.add_bool_or([~here, settled])
            return
        face = pump.size.get(f"carrier_face.{port.name}", pump.size.get("carrier_face"))
        offset = self.drive.size.get(f"carried_offset.{port.name}", self.drive.size.get("carried_offset"))
        plane = self.drive.size.get("belt_plane")
        if face is None or offset is None or plane is None:
            lacking = [(pump.sort, "carrier_face")] if face is None else []
            lacking += [(self.drive.sort, "carried_offset")] if offset is None else []
            lacking += [(self.drive.sort, "belt_plane")] if plane is None else []
            self._unknown(port.name, here, lacking, settled)
            return
        low = plane[0] - self.high - face[1] - offset[1]
        high = plane[1] - self.low - face[0] - offset[0]
        ok, possible = self._within(port.name, low, high, self._ribbed_at(0), 384)
        self._check(port.name, here, ok, possible, settled)

    def _money_and_work(self) -> None:
        model, must = self.model, self.build.must
        total: Any = 0
        unpriced: list[Literal] = []
        steps: list[Any] = [model.new_constant(0)]
        for number, quantity in self.quantity.items():
            part = self.snapshot.parts[number]
            buy = model.new_int_var(0, 1000, f"buy_{number}")
            model.add_max_equality(buy, [quantity - self.have[number], model.new_constant(0)])
            if part.price is None:
                unpriced.append(self._holds(number, buy - 1))
            else:
                total += part.price.amount * buy
            steps.append(WORK.index(str(part.attributes.get("work", "bolt_on"))) * self._holds(number, quantity - 1))
        steps += [self._least_to_connect(pump) * self.is_pump[pump.number] for pump in self.pumps]
        self.total = total
        self.unpriced = self._any("unpriced", unpriced)
        self.work = model.new_int_var(0, len(WORK) - 1, "work")
        model.add_max_equality(self.work, steps)
        if must.price_at_most is not UNSET:
            model.add(self.unpriced == 0)
            model.add(total <= minor_units(Decimal(repr(must.price_at_most.amount)), must.price_at_most.currency))
        if must.work_at_most is not UNSET:
            model.add(self.work <= WORK.index(must.work_at_most))

    def _least_to_connect(self, pump: Item) -> int:
        """The work that the pump's open ports will take whatever meets them: for each the lightest there is."""
        bare = not pump.bands and self.drive is None and self.named_pulley is None
        most = 0
        for port in pump.ports:
            if not (port.wet or port.role in CARRIES or (port.role == "hub" and bare)) or port.role == "mount":
                continue
            lightest = [
                WORK.index(str(part.attributes.get("work", "bolt_on")))
                for part in self.snapshot.parts.values()
                if part.status == "active"
                and any(other.connection == port.connection and other.end != port.end for other in part.ports)
            ]
            most = max(most, min(lightest, default=0))
        return most


def _solver() -> cp_model.CpSolver:
    """One worker that decides the path first: the rest follows, while bounds of nanometres creep for seconds."""
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.search_branching = cp_model.FIXED_SEARCH
    solver.parameters.cp_model_presolve = False
    solver.parameters.cp_model_probing_level = 0
    solver.parameters.linearization_level = 0
    return solver


class _Collector(cp_model.CpSolverSolutionCallback):
    """Keeps the pump and the plates of every solution."""

    def __init__(self, owner: Model) -> None:
        super().__init__()
        self.owner = owner
        self.found: set[tuple[str, tuple[str, ...]]] = set()

    def on_solution_callback(self) -> None:
        pump = next(number for number, used in self.owner.is_pump.items() if self.boolean_value(used))
        plates = [
            number
            for at in self.owner.at[:3]
            for number, used in at.items()
            if number not in self.owner.is_pump and self.boolean_value(used)
        ]
        self.found.add((pump, tuple(sorted(plates))))
