"""Which parts of the catalog suit a build: whether any option holds a part, be it listed or not.

What sits on the block or lies under it is looked for among the pairs of the front, best first; what carries coolant,
closes a port or turns air is looked for among the trees that settle an obligation of any pump with an option.
"""

from collections import Counter
from collections.abc import Mapping, Sequence, Set
from typing import Final, Literal

import msgspec
import numpy as np

from catalog.domain import Kind, Part
from service.fit.answer import Check, RuledOut
from service.fit.best_pairs import BestPairs
from service.fit.build import Build, BuildError, Fault
from service.fit.front import Front
from service.fit.graph import ConstraintGraph, runs_of
from service.fit.holding import OF_FANS, Brings, Held, holders_of
from service.fit.kept import Derived
from service.fit.missed import Missed
from service.fit.mounting import Mounting
from service.fit.obligations import asks_for_fan
from service.fit.question import SLOTS, resolve
from service.fit.reachable import Line, lines_through
from service.fit.readings import nearest_references
from service.fit.search import Placed, Search
from service.fit.whole import settlement_of

MOST_PARTS: Final = 5_000
"""Parts asked for by number at once."""
MOST_NEAREST: Final = 20
"""Unknown numbers for which the likeliest known ones are looked up."""
FIRST_STEP: Final = 64
MOST_STEP: Final = 1_024
"""So many pairs are looked at before those are found anew that hold what is still looked for."""
Suits = Literal["fits", "fits_with", "measure_first", "no", "not_concerned"]
_IN_LINES: Final[tuple[Kind, ...]] = ("hose", "fitting", "plug", "cap", "thermostat_housing", "thermostat")
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
    derived: "Derived[Which] | None" = None
    """What follows from it, where other questions have it too."""


class Found(msgspec.Struct, frozen=True):
    """What is found of every part that was asked for; and the build as understood."""

    build: Build
    asked: Sequence[Part]
    """In the order in which they were asked for."""
    runs: Sequence[tuple[Kind, Sequence[str]]]
    """The same by number, in runs of one kind."""
    kinds: Mapping[Kind, int]
    """How many of each kind were asked for."""
    found: Mapping[str, Which]
    """By number those of which something is to be said on their own."""
    others: Mapping[Kind, tuple[Suits, str]]
    """By kind whether the rest suit, and why not by a stable code. Of a large catalog nearly all parts are of these."""
    decided: bool

    @property
    def parts(self) -> tuple[Which, ...]:
        """Every part that was asked for."""
        return tuple(map(self.which, self.asked))

    def which(self, part: Part) -> Which:
        """What is said of a part."""
        known = self.found.get(part.number)
        if known is not None:
            return known
        suits, why = self.others[part.kind]
        return Which(part, suits, why=why)


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
        kinds: Mapping[Kind, int] = graph.kinds if references is None else Counter(part.kind for part in parts)
        others = {kind: _at_worst(search, kind) for kind in kinds}
        unasked = frozenset(kind for kind, (suits, _) in others.items() if suits == "not_concerned")
        wanted = None if references is None else parts
        told = _shared(search, unasked, wanted) if search.is_bare else _Findings(search, unasked, wanted).all()
        decided = search.decided and settlement.decided
        runs = graph.runs if references is None else runs_of(parts)
        return Found(question.build, parts, runs, kinds, told, others, decided)


class Suiting:
    """What is told of parts beside every question of a front that asks no more and ranks by the same keys."""

    def __init__(self, front: Front) -> None:
        self.told: dict[str, Which] = {}
        self.looked_for: set[str] = set()
        """Numbers of the parts of which is known what is told, if anything."""
        self.every = False
        """Whether all parts of the catalog were looked for."""
        self.weight = 2_000 * len(holders_of(front).numbers)
        """Roughly how many bytes it takes in the end."""


def _shared(search: Search, unasked: frozenset[Kind], parts: Sequence[Part] | None) -> Mapping[str, Which]:
    """What is told of these parts where the front alone decides it: it is found once."""
    front, keys = search.front, search.question.rank_keys
    known: Suiting = front.kept.get(("suiting", keys), lambda: Suiting(front))
    own, required = _own(search), search.graph.required
    concerned = parts and [
        part for part in parts if part.kind not in unasked or part.number in own or part.number in required
    ]
    left = concerned and [part for part in concerned if part.number not in known.looked_for]
    if not known.every and (left is None or left):
        found = _Findings(search, unasked, left).all()
        known.told.update({n: msgspec.structs.replace(each, derived=Derived(each)) for n, each in found.items()})
        known.looked_for.update(part.number for part in left or ())
        known.every = left is None
    if concerned is None:
        return dict(known.told)
    return {part.number: known.told[part.number] for part in concerned if part.number in known.told}


def _own(search: Search) -> set[str]:
    """Numbers of the parts that the build names."""
    return {part.number for part in search.question.slots.values()}


def _at_worst(search: Search, kind: Kind) -> tuple[Suits, str]:
    """What is said of a part of a kind of which nothing is found."""
    why = _kind_not_concerned(search, kind)
    return ("no", "other_face" if kind in _PUMPS else "not_used") if why is None else ("not_concerned", why)


def _kind_not_concerned(search: Search, kind: Kind) -> str | None:
    question, asked = search.question, search.settlement.asked
    remote = question.build.pump_drive == "remote"
    if kind in _PUMPS and (kind == "remote_pump") != remote:
        return "other_drive"
    if kind in _PUMPS and "pump" in question.slots:
        return "another_named"
    if kind in SLOTS.values() and kind not in ("water_pump", "pulley", "fan"):
        return "of_the_car"
    asks: dict[Kind, bool] = {
        "pulley": "accessory_drive" in question.slots and not remote,
        **dict.fromkeys(("outlet_plate", "belt"), remote),
        **dict.fromkeys(OF_FANS, asks_for_fan(question)),
        **dict.fromkeys(_IN_LINES, asked.coolant or asked.heater is not None),
    }
    return None if asks.get(kind, True) else "not_asked"


def _named(graph: ConstraintGraph, references: Sequence[str] | None, faults: list[Fault]) -> Sequence[Part]:
    snapshot = graph.snapshot
    if references is None:
        return graph.in_order
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

    def __init__(self, search: Search, unasked: frozenset[Kind], parts: Sequence[Part] | None) -> None:
        """`parts` are None where the whole catalog is meant; of the kinds `unasked` the build asks nothing."""
        self._search, self._question, self._unasked = search, search.question, unasked
        known = search.graph.snapshot.parts
        asked = known.keys() if parts is None else {part.number for part in parts}
        self._required: dict[str, set[str]] = {}
        """By part with a rule that requires others, those of them that are asked for."""
        for rule in search.graph.snapshot.rules:
            if rule.kind == "requires" and (others := asked & set(rule.others)):
                self._required.setdefault(rule.part, set()).update(others)
        self._own = _own(search)
        by_kind = self._concerned(parts)
        self._any_sure = False
        self._surely: set[str] = set()
        """Numbers of the parts for which a pair is known that holds for certain."""
        self._best: dict[str, tuple[Placed, bool]] = {}
        """By part number the best pair with it that holds, and whether it holds for certain."""

        def of_kinds(*kinds: Kind) -> set[str]:
            return set[str]().union(*(by_kind.get(kind, ()) for kind in kinds))

        lines, fans, pumps = of_kinds(*_IN_LINES, "fastener_set", "gasket"), of_kinds(*OF_FANS), of_kinds(*_PUMPS)
        asks = not search.settlement.asks_nothing
        self._pumps: dict[tuple[str, str], tuple[Placed, bool]] = {}
        """By number each pump that was looked at and has an option, with what sits on the block for it: its best pair,
        and whether that holds for certain."""
        wanted = of_kinds(*_ON_BLOCK, *_PUMPS) | fans
        if search.is_bare:
            wanted -= self._found_alone(wanted)
        if wanted or self._required or not search.is_bare:
            held = Held(search, wanted, of_kinds("fastener_set") & wanted, fans)
            self._look(held, all_pumps=asks and bool(lines))
        self._lines: dict[str, Line] = {}
        if asks:
            # A line from a pump that holds for certain tells more than one from a pump that must be measured first.
            surest = sorted(self._pumps.values(), key=lambda each: not each[1])
            self._lines = lines_through(search, [placed for placed, _ in surest], lines - self._surely)
        self._missed: Missed | None = None
        if pumps and search.decided:
            search.fitting |= {placed.mounting.chosen.number for placed, _ in self._best.values()}
            search.fitting |= {chosen for chosen, _ in self._pumps}
            self._missed = search.missed()
        numbers = self._told_of(asked)
        self._met: list[Part] = [known[number] for number in sorted(numbers)]
        """The parts of which something is found: those that the build asks about, and what a rule brings."""

    def all(self) -> dict[str, Which]:
        """What is said of the parts of which more is to be said than of others of their kind."""
        return {part.number: self._told(part) for part in self._met}

    def _found_alone(self, wanted: set[str]) -> set[str]:
        """Look for parts one by one, where the front alone decides; gives which were looked for.

        What a rule may bring to a list, and bolts that a rule may keep from it, are looked for pair by pair.
        """
        graph = self._search.graph
        alone = wanted - graph.required - (graph.ruled & graph.numbers_of_kind("fastener_set"))
        best = BestPairs(self._search)
        for number, placed, sure in best.of(alone):
            self._best[number] = placed, sure
            self._surely |= {number} if sure else set()
        first = best.first() if self._own else None
        if first is not None:
            self._pumps[_key(first[0].mounting)] = first
            self._any_sure = first[1]
        return alone

    def _told_of(self, asked: Set[str]) -> set[str]:
        """Numbers of the parts of which more is to be said than of others of their kind."""
        known = self._search.graph.snapshot.parts
        found = self._best.keys() | (self._own & asked)
        missed = frozenset[str]() if self._missed is None else self._missed.numbers
        for number in (*self._lines, *missed, *(self._search.graph.inactive | self._question.without) & asked):
            if number in asked and known[number].kind not in self._unasked:
                found.add(number)
        return found

    def _told(self, part: Part) -> Which:
        """What is said of a part that is concerned."""
        if part.number in self._own:
            return self._of_the_build(part)
        if part.status != "active" or part.number in self._question.without:
            return Which(part, "no", why="retired" if part.status != "active" else "unwanted")
        best = self._best.get(part.number)
        if best is not None:
            return self._with_pair(part, *best)
        line = self._lines.get(part.number)
        if line is not None:
            return self._in_line(part, line)
        miss = None if self._missed is None else self._missed.of(part.number)
        return Which(part, "no", ruled_out=miss)

    def _in_line(self, part: Part, line: Line) -> Which:
        """A part of a line is no surer than the pump that the line starts at, with all else that it takes."""
        own = (each for (chosen, _), each in self._pumps.items() if chosen == line.pump)
        placed, sure = min(own, key=lambda each: not each[1])
        if line.sure and sure:
            return Which(part, "fits_with", (line.pump,))
        return Which(part, "measure_first", (line.pump,), line.check or self._search.doubt(placed))

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

    def _concerned(self, parts: Sequence[Part] | None) -> Mapping[Kind, Set[str]]:
        """By kind of which the build asks something the numbers of the parts asked for."""
        graph, found = self._search.graph, dict[Kind, set[str]]()
        if parts is None:
            return {kind: graph.numbers_of_kind(kind) for kind in graph.kinds if kind not in self._unasked}
        for part in parts:
            if part.kind not in self._unasked:
                found.setdefault(part.kind, set()).add(part.number)
        return found

    def _look(self, held: Held, *, all_pumps: bool) -> None:
        """Find the best pair that holds for each part wanted, and for each pump where all are needed."""
        search, pairs = self._search, self._search.front.pairs
        brings = Brings(search, self._required, self._own)
        order = np.array(search.waiting, dtype=np.int64)
        at_best = pairs.sure | pairs.tested
        after, step = 0, FIRST_STEP
        while after < len(order):
            # Most pairs hold nothing that is still looked for; which do is found anew now and then.
            every = all_pumps or not self._any_sure
            left = None if every else held.some(self._surely, brings.givers(self._best))
            rest = np.arange(after, len(order)) if left is None else after + np.flatnonzero(left[order[after:]])
            for position in rest[:step].tolist():
                after = position + 1
                pair = int(order[position])
                self._look_at(pair, held, brings, all_pumps=all_pumps, may_be_sure=bool(at_best[pair]))
                if not all_pumps and every and self._any_sure:
                    break
            else:
                after = after if len(rest) > step else len(order)
                step = min(2 * step, MOST_STEP)

    def _look_at(self, pair: int, held: Held, brings: Brings, *, all_pumps: bool, may_be_sure: bool) -> None:
        """See what a pair holds of the parts that are still looked for, and whether an option stands there."""
        search, pairs = self._search, self._search.front.pairs
        place, at = int(pairs.mounting[pair]), int(pairs.seat[pair])
        mine = held.by(place, at, self._surely)
        may_bring = brings.by(place, at, self._best)
        known = self._pumps.get(_key(search.front.mountings[place]))
        # What is known for certain can be told no better; what is known, only by a pair that may be certain.
        open_ = mine - (self._surely if may_be_sure else self._best.keys())
        for_pump = not self._any_sure or (all_pumps and (known is None or (may_be_sure and not known[1])))
        if open_ or for_pump or may_bring:
            verdict = search.verdict(pair)
            if verdict != "fails":
                placed = search.placed(pair)
                brought = search.required(placed) & may_bring if may_bring else _NONE
                self._note(placed, held, open_ | brought, sure=verdict == "ok")

    def _note(self, placed: Placed, held: Held, numbers: set[str], *, sure: bool) -> None:
        """Keep a pair that holds for its pump and for these parts, where none so good is known."""
        self._any_sure = self._any_sure or sure
        key = _key(placed.mounting)
        if key not in self._pumps or (sure and not self._pumps[key][1]):
            self._pumps[key] = (placed, sure)
        for number in numbers:
            known, own = self._best.get(number), sure and held.surely(placed, number)
            if (known is None or (own and not known[1])) and held.goes_with(placed, number):
                self._best[number] = (placed, own)
                self._surely |= {number} if own else set()


_NONE: Final[frozenset[str]] = frozenset()


def _key(mounting: Mounting) -> tuple[str, str]:
    return mounting.chosen.number, mounting.pump.number
