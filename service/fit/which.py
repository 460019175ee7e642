"""Which parts of the catalog suit a build: whether any option holds a part, be it listed or not.

What sits on the block or lies under it is looked for among the pairs of the front, best first; what carries coolant,
closes a port or turns air is looked for among the trees that settle an obligation of any pump with an option.
"""

from collections.abc import Iterable, Iterator, Sequence
from itertools import chain
from typing import Final, Literal

import msgspec

from catalog.domain import Kind, Part
from service.fit.answer import Check, RuledOut
from service.fit.bolts import clamped_groups
from service.fit.build import Build, BuildError, Fault
from service.fit.gap import extents, fan_reach, fan_verdict
from service.fit.graph import ConstraintGraph
from service.fit.missed import Missed
from service.fit.mounting import Mounting
from service.fit.obligations import asks_for_fan
from service.fit.paths import Seat
from service.fit.question import SLOTS, resolve
from service.fit.reachable import Line, lines_through
from service.fit.readings import nearest_references
from service.fit.search import Placed, Search
from service.fit.seats import Reach
from service.fit.whole import settlement_of

MOST_PARTS: Final = 5_000
"""Parts asked for by number at once."""
MOST_NEAREST: Final = 20
"""Unknown numbers for which the likeliest known ones are looked up."""
Suits = Literal["fits", "fits_with", "measure_first", "no", "not_concerned"]
_IN_LINES: Final[tuple[Kind, ...]] = ("hose", "fitting", "plug", "cap", "thermostat_housing", "thermostat")
_OF_FANS: Final[tuple[Kind, ...]] = ("fan", "fan_adapter")
_PUMPS: Final[tuple[Kind, ...]] = ("water_pump", "remote_pump")
_ON_BLOCK: Final[tuple[Kind, ...]] = ("pulley", "spacer", "adapter_plate", "outlet_plate", "gasket", "fastener_set")


class Which(msgspec.Struct, frozen=True):
    """Whether a part suits the build, and what goes with it or stands in its way."""

    part: Part
    suits: Suits
    with_: tuple[str, ...] = ()
    """Numbers of what else the best option with it takes: the pump where it is none, plates and a pulley."""
    check: Check | None = None
    """Of a part to measure first what hangs on the doubt."""
    ruled_out: RuledOut | None = None
    """Of a pump that does not fit its nearest miss."""
    why: str = ""
    """Of another part that does not suit, or is not concerned, the stable code of the reason."""


class Found(msgspec.Struct, frozen=True):
    """Every part that was asked for, in the order in which it was; and the build as understood."""

    build: Build
    parts: tuple[Which, ...]
    decided: bool


def which_fit(graph: ConstraintGraph, build: Build, references: Sequence[str] | None) -> Found:
    """Whether each of these parts suits the build, or every part of the catalog where none is named.

    Raises
    ------
    BuildError
        When the build or a reference names what the release does not hold, or holds otherwise; a fault of a
        reference points to `/parts`.
    """
    faults: list[Fault] = []
    parts = _named(graph, references, faults)
    try:
        question = resolve(graph.snapshot, build)
    except BuildError as error:
        raise BuildError([*error.faults, *faults]) from None
    if faults:
        raise BuildError(faults)
    with settlement_of(graph, question) as settlement:
        search = Search(graph, question, settlement)
        found = _Findings(search, parts)
        told = tuple(found.told(part) for part in parts)
        return Found(question.build, told, search.decided and settlement.decided)


def _named(graph: ConstraintGraph, references: Sequence[str] | None, faults: list[Fault]) -> list[Part]:
    snapshot = graph.snapshot
    if references is None:
        return [snapshot.parts[number] for number in sorted(snapshot.parts)]
    parts = []
    for place, reference in enumerate(references):
        part = snapshot.find(reference)
        if part is not None:
            parts.append(part)
            continue
        message = f'There is no part "{reference}" in release {snapshot.release.number}.'
        nearest = nearest_references(snapshot, reference) if len(faults) < MOST_NEAREST else ()
        faults.append(Fault(f"/parts/{place}", "unknown-part", message, nearest, asked=reference))
    return parts


class _Findings:
    """What is found out for one question, no more of it than the parts asked for need."""

    def __init__(self, search: Search, parts: list[Part]) -> None:
        self._search, self._question = search, search.question
        rules = [rule for rule in search.graph.snapshot.rules if rule.kind == "requires"]
        self._givers = {rule.part for rule in rules}
        """Parts with a rule that requires another."""
        self._required = {number for rule in rules for number in rule.others} & {part.number for part in parts}
        self._own = {part.number for part in search.question.slots.values()}
        concerned = [part for part in parts if self._not_concerned(part) is None]
        self._any_sure = False
        self._best: dict[str, tuple[Placed, bool]] = {}
        """By part number the best pair with it that holds, and whether it holds for certain."""

        def of_kinds(*kinds: Kind) -> set[str]:
            return {part.number for part in concerned if part.kind in kinds}

        lines, fans, pumps = of_kinds(*_IN_LINES, "fastener_set", "gasket"), of_kinds(*_OF_FANS), of_kinds(*_PUMPS)
        asks = not search.settlement.asks_nothing
        self._pumps: dict[tuple[str, str], tuple[Placed, bool]] = {}
        """By number each pump that was looked at and has an option, with what sits on the block for it: its best pair,
        and whether that holds for certain."""
        self._look(of_kinds(*_ON_BLOCK, *_PUMPS) | fans, all_pumps=asks and bool(lines))
        self._lines: dict[str, Line] = {}
        if asks:
            self._lines = lines_through(search, [placed for placed, _ in self._pumps.values()], lines - self._sure())
        self._missed: Missed | None = None
        if pumps and search.decided:
            search.fitting |= {chosen for chosen, _ in self._pumps}
            self._missed = search.missed()

    def _sure(self) -> set[str]:
        return {number for number, (_, sure) in self._best.items() if sure}

    def told(self, part: Part) -> Which:
        """What is said of a part."""
        why = self._not_concerned(part)
        if why is not None and part.number not in self._best:
            return Which(part, "not_concerned", why=why)
        if part.number in self._own:
            return self._of_the_build(part)
        if part.status != "active" or part.number in self._question.without:
            return Which(part, "no", why="retired" if part.status != "active" else "unwanted")
        best = self._best.get(part.number)
        if best is not None:
            return self._with_pair(part, *best)
        line = self._lines.get(part.number)
        if line is not None:
            return Which(part, "fits_with" if line.sure else "measure_first", (line.pump,), line.check)
        miss = None if self._missed is None else self._missed.of(part.number)
        if miss is not None:
            return Which(part, "no", ruled_out=miss)
        return Which(part, "no", why="other_face" if part.kind in _PUMPS else "not_used")

    def _of_the_build(self, part: Part) -> Which:
        """A part that the build names: it suits where anything does."""
        best = min(self._pumps.values(), key=lambda each: not each[1], default=None)
        if best is None:
            return Which(part, "no", why="nothing_fits")
        return Which(part, "fits") if best[1] else Which(part, "measure_first", check=self._search.doubt(best[0]))

    def _with_pair(self, part: Part, placed: Placed, sure: bool) -> Which:
        mounting, seat = placed
        taken = (mounting.chosen, *seat.plates, mounting.pulley, *((mounting.pump,) if mounting.remote else ()))
        numbers = dict.fromkeys(each.number for each in taken if each is not None)
        with_ = tuple(number for number in numbers if number != part.number)
        if sure:
            return Which(part, "fits_with" if with_ else "fits", with_)
        return Which(part, "measure_first", with_, self._search.doubt(placed))

    def _not_concerned(self, part: Part) -> str | None:
        """Why the build asks nothing of such a part, by a stable code; None where it does."""
        kind, question = part.kind, self._question
        remote = question.build.pump_drive == "remote"
        if part.number in self._own:
            return None
        if kind in ("water_pump", "remote_pump") and (kind == "remote_pump") != remote:
            return "other_drive"
        if kind in ("water_pump", "remote_pump") and "pump" in question.slots:
            return "another_named"
        if kind in SLOTS.values() and kind not in ("water_pump", "pulley", "fan"):
            return "of_the_car"
        if kind == "pulley" and ("accessory_drive" not in question.slots or remote):
            return "not_asked"
        if kind in ("outlet_plate", "belt") and not remote:
            return "not_asked"
        if kind in _OF_FANS and not asks_for_fan(question):
            return "not_asked"
        asked = self._search.settlement.asked
        if kind in _IN_LINES and not asked.coolant and asked.heater is None:
            return "not_asked"
        return None

    def _look(self, wanted: set[str], *, all_pumps: bool) -> None:
        """Find the best pair that holds for each part wanted, and for each pump where all are needed."""
        search, pairs = self._search, self._search.front.pairs
        held = _Held(search, wanted)
        every = all_pumps or bool(self._required)
        for pair in search.waiting:
            mine = held.by(pair)
            if self._any_sure and not every and not mine:
                continue
            known = self._pumps.get(_key(search.front.mountings[int(pairs.mounting[pair])]))
            may_be_sure = bool(pairs.sure[pair] or pairs.tested[pair])
            open_ = {number for number in mine if self._is_open(number, may_be_sure)}
            for_pump = not self._any_sure or (all_pumps and (known is None or (may_be_sure and not known[1])))
            requires = bool(self._required - self._best.keys()) and self._gives(pair)
            if open_ or for_pump or requires:
                placed = search.placed(pair)
                verdict = search.verdict(placed)
                if verdict != "fails":
                    open_ |= (search.required(placed) & self._required) if requires else set()
                    self._note(placed, held, open_, sure=verdict == "ok")

    def _note(self, placed: Placed, held: "_Held", numbers: set[str], *, sure: bool) -> None:
        """Keep a pair that holds for its pump and for these parts, where none so good is known."""
        self._any_sure = self._any_sure or sure
        key = _key(placed.mounting)
        if key not in self._pumps or (sure and not self._pumps[key][1]):
            self._pumps[key] = (placed, sure)
        for number in numbers:
            known, own = self._best.get(number), sure and held.surely(placed, number)
            if (known is None or (own and not known[1])) and held.goes_with(placed, number):
                self._best[number] = (placed, own)

    def _is_open(self, number: str, may_be_sure: bool) -> bool:
        """Whether a pair with this part could tell more of it than is known."""
        known = self._best.get(number)
        return known is None or (may_be_sure and not known[1])

    def _gives(self, pair: int) -> bool:
        """Whether a part of this pair, or one that the build names, has a rule that requires another."""
        search, pairs = self._search, self._search.front.pairs
        mounting, seat = search.front.mountings[int(pairs.mounting[pair])], search.front.seats[int(pairs.seat[pair])]
        return not self._givers.isdisjoint({*self._own, *_on_pair(mounting, seat)})


def _key(mounting: Mounting) -> tuple[str, str]:
    return mounting.chosen.number, mounting.pump.number


class _Held:
    """Which of the parts wanted each pair of the front holds: on the block, under it, as bolts, or as a fan."""

    def __init__(self, search: Search, wanted: set[str]) -> None:
        self._search = search
        front, parts = search.front, search.graph.snapshot.parts
        self._on_block = _wanted(map(_on_block, front.mountings), wanted)
        self._under = _wanted(map(_under, front.seats), wanted)
        self._bolts = {number for number in wanted if parts[number].kind == "fastener_set"}
        self._fans = {number for number in wanted if parts[number].kind in _OF_FANS}
        self._clamping: dict[object, set[str]] = {}
        self._reaching: dict[str, list[tuple[Reach, set[str]]]] = {}

    def by(self, pair: int) -> set[str]:
        """Numbers of the parts wanted that a pair holds."""
        pairs = self._search.front.pairs
        place, at = int(pairs.mounting[pair]), int(pairs.seat[pair])
        found = self._on_block.get(place, _NONE) | self._under.get(at, _NONE)
        if self._bolts:
            found |= self._clamped(place, at)
        return found | self._with_room(place, at) if self._fans else found

    def goes_with(self, placed: Placed, number: str) -> bool:
        """Whether no rule keeps a set of bolts or a fan from an option there; what the pair holds is judged with it."""
        chosen = number in self._bolts or number in self._fans
        return not chosen or self._search.goes_with(placed, self._search.graph.snapshot.parts[number])

    def surely(self, placed: Placed, number: str) -> bool:
        """Whether a fan has room there everywhere within the doubt, with some of its adapters; any other part has."""
        if number not in self._fans:
            return True
        question, mounting = self._search.question, placed.mounting
        rooms = (
            fan_verdict(question, mounting.pump, parts, placed.seat.flange)
            for parts in self._search.settlement.fans(mounting.pump)
            if number in {part.number for part in parts}
        )
        return "ok" in rooms

    def _with_room(self, place: int, at: int) -> set[str]:
        """The fans and adapters that may have room on a seat."""
        front, question = self._search.front, self._search.question
        pump, flange = front.mountings[place].pump, front.seats[at].flange
        if pump.number not in self._reaching:
            reaching: dict[Reach, set[str]] = {}
            for parts in self._search.settlement.fans(pump):
                reach = fan_reach(question, pump, extents([parts])[0])
                reaching.setdefault(reach, set()).update({part.number for part in parts} & self._fans)
            self._reaching[pump.number] = list(reaching.items())
        return {
            number
            for (low, high), numbers in self._reaching[pump.number]
            if (low is None or flange.high >= low) and (high is None or flange.low <= high)
            for number in numbers
        }

    def _clamped(self, place: int, at: int) -> set[str]:
        """The sets that hold some group; groups follow from the seat and the thickness of the pump's flange."""
        front = self._search.front
        mounting, seat = front.mountings[place], front.seats[at]
        flange = mounting.pump.measures.get("flange_thickness")
        key = (at, None if flange is None else (flange.low, flange.high))
        if key not in self._clamping:
            bolts, found = self._search.settlement.bolts, set[str]()
            for group in clamped_groups(self._search.question, seat, mounting.pump):
                first = bolts.first_that_holds(group)
                found |= {part.number for part, _ in bolts.that_hold(group)}
                found |= {first.number} if first is not None and first != "not_asked" else set()
            self._clamping[key] = found & self._bolts
        return self._clamping[key]


_NONE: Final[set[str]] = set()


def _wanted(members: Iterable[Iterator[Part | None]], wanted: set[str]) -> dict[int, set[str]]:
    """By place, the parts wanted among these."""
    found = ({part.number for part in each if part is not None and part.number in wanted} for each in members)
    return {place: numbers for place, numbers in enumerate(found) if numbers}


def _under(seat: Seat) -> Iterator[Part | None]:
    yield from seat.plates
    yield from (joint.gasket for joint in seat.joints)


def _on_block(mounting: Mounting) -> Iterator[Part | None]:
    yield from (mounting.pump, mounting.pulley, mounting.remote)


def _on_pair(mounting: Mounting, seat: Seat) -> set[str]:
    return {part.number for part in chain(_on_block(mounting), _under(seat)) if part is not None}
