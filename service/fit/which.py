"""Which parts of the catalog suit a build: whether any option holds a part, be it listed or not.

What is said of a part is what the best option with it says, so that it is what `fit` answers where the part is named.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from functools import cached_property
from typing import Final, Literal

import msgspec

from catalog.domain import Kind, Part
from service.fit.answer import Challenged, Check, RuledOut
from service.fit.best_with import BestWith
from service.fit.build import Build, BuildError, Fault
from service.fit.front import Front
from service.fit.graph import ConstraintGraph, runs_of
from service.fit.holding import OF_FANS, holders_of
from service.fit.kept import Derived
from service.fit.missed import Missed
from service.fit.obligations import asks_for_fan
from service.fit.options import Assessed
from service.fit.question import SLOTS, resolve
from service.fit.readings import nearest_references
from service.fit.rules import against
from service.fit.search import Search
from service.fit.told import Told
from service.fit.told_once import told_of_parts
from service.fit.unsettled import other_face
from service.fit.whole import settlement_of

MOST_PARTS: Final = 5_000
"""Parts asked for by number at once."""
MOST_NEAREST: Final = 20
"""Unknown numbers for which the likeliest known ones are looked up."""
Suits = Literal["fits", "fits_with", "measure_first", "no", "not_concerned"]
_IN_LINES: Final[tuple[Kind, ...]] = ("hose", "fitting", "plug", "cap", "thermostat_housing", "thermostat")
_PUMPS: Final[tuple[Kind, ...]] = ("water_pump", "remote_pump")


class Which(msgspec.Struct, frozen=True):
    """Whether a part suits the build, and what goes with it or stands in its way."""

    part: Part
    suits: Suits
    with_: tuple[str, ...] = ()
    """Numbers of what else the best option with it takes: the pump where it is none, each plate, and a pulley."""
    check: Check | None = None
    """Of a part to measure first what hangs on the doubt; of one that does not suit the rule that speaks against it,
    or what a housing's face is."""
    unchecked: tuple[Check, ...] = ()
    """What was not checked there for want of a fact."""
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
    told: Told
    """What was not checked, what is not known, and what those that suit call for."""
    challenged: tuple[Challenged, ...] = ()
    """Readings that contradict the parts they are of."""

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
        suiting = [which.part for which in told.values() if which.suits not in ("no", "not_concerned")]
        unchecked = [which.unchecked for which in told.values()]
        once = told_of_parts(graph, question, suiting, unchecked)
        return Found(question.build, parts, runs, kinds, told, others, decided, once, question.challenged)


def with_option(search: Search, parts: Sequence[Part]) -> frozenset[str]:
    """Numbers of those of these parts that some option of the question holds, listed or not."""
    found = _Findings(search, frozenset(), parts).all()
    return frozenset(number for number, each in found.items() if each.suits not in ("no", "not_concerned"))


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
        self._search, self._question, self._best = search, search.question, BestWith(search)
        graph, self._own = search.graph, _own(search)
        known = graph.snapshot.parts
        asked = known.keys() if parts is None else {part.number for part in parts}
        barred = graph.inactive | self._question.without
        concerned = {number for number in asked if known[number].kind not in unasked}
        wanted = self._best.everywhere() & (concerned | (graph.required & asked)) - barred - self._own
        self._options: dict[str, Assessed] = {}
        """By part number the best option with it."""
        for number in sorted(wanted):
            option = self._best.of(number)
            if option is not None:
                self._options[number] = option
        pumps = {number for number in concerned if known[number].kind in _PUMPS}
        self._missed: Missed | None = None
        if pumps and search.decided:
            search.fitting |= {option.mounting.chosen.number for option in self._options.values()}
            self._missed = search.missed()
        missed = frozenset[str]() if self._missed is None else self._missed.numbers
        told = {*self._options, *(self._own & asked), *((missed | barred) & concerned)}
        may_have_reason = graph.ruled | graph.numbers_of_kind("thermostat_housing")
        told |= {number for number in may_have_reason & concerned if self._reason(known[number]) is not None}
        self._met = [known[number] for number in sorted(told)]
        """The parts of which something is found: those that the build asks about, and what a rule brings."""

    def all(self) -> dict[str, Which]:
        """What is said of the parts of which more is to be said than of others of their kind."""
        return {part.number: self._told(part) for part in self._met}

    def _told(self, part: Part) -> Which:
        """What is said of a part that is concerned."""
        if part.number in self._own:
            first = self._first
            return (
                Which(part, "no", why="nothing_fits") if first is None else _held(part, first, self._question.described)
            )
        if part.status != "active" or part.number in self._question.without:
            return Which(part, "no", why="retired" if part.status != "active" else "unwanted")
        option = self._options.get(part.number)
        if option is not None:
            return _held(part, option, self._question.described)
        reason = self._reason(part)
        miss = None if reason is not None or self._missed is None else self._missed.of(part.number)
        return Which(part, "no", check=reason, ruled_out=miss)

    def _reason(self, part: Part) -> Check | None:
        """The rule that speaks against a part beside the build's own, or that a housing has a face of no pump here.

        Of a pump its nearest miss tells it.
        """
        if part.kind in _PUMPS:
            return None
        graph = self._search.graph
        pumps = [option.mounting.pump for option in self._options.values()]
        pumps = pumps or [mounting.pump for mounting in self._search.front.mountings]
        return against(graph, self._question, part) or other_face(graph, part, pumps)

    @cached_property
    def _first(self) -> Assessed | None:
        """The best option of all, which holds whatever the build names."""
        return self._best.first()


def _held(part: Part, option: Assessed, described: frozenset[str]) -> Which:
    """What is said of a part that is held by this option at best; what the asker describes is no part to take."""
    pulley = option.mounting.pulley
    taken = [option.mounting.chosen.number, *option.plates, *([] if pulley is None else [pulley.number])]
    with_ = [number for number in taken if number not in described]
    if part.number in with_:
        with_.remove(part.number)
    unchecked = _lacking(option.checks)
    if option.verdict == "ok":
        return Which(part, "fits_with" if with_ else "fits", tuple(with_), unchecked=unchecked)
    doubt = next(check for check in option.checks if check.verdict == "measure_first")
    return Which(part, "measure_first", tuple(with_), doubt, unchecked)


def _lacking(checks: Iterable[Check]) -> tuple[Check, ...]:
    """Those that lack a fact, of the part at hand or of all parts of the release."""
    return tuple(check for check in checks if check.reason in ("not_known", "nobody_states"))
