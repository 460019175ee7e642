"""Fields left out that would change the listed options: each is tried with what the catalog has for it.

An option falls away where its pump on its plates no longer holds, in whatever order and with whatever pulley: the
very checks of the search, made for that pump and those plates alone.
"""

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, nullcontext
from math import ceil
from typing import Any, Final

import msgspec
from msgspec import UNSET

from catalog.domain import Part
from catalog.units import NM_PER_MM
from service.fit.answer import Change, Check, Length, OpenQuestion
from service.fit.assess import assess
from service.fit.gap import bare_gap, fan_checks
from service.fit.graph import ConstraintGraph
from service.fit.instead import goes_on
from service.fit.mounting import Mounting, mountings, plates_of
from service.fit.obligations import asks_for_fan
from service.fit.options import Assessed
from service.fit.paths import Seat
from service.fit.question import SLOTS, WORDS, Question, resolve
from service.fit.ranking import standing
from service.fit.standing import Key
from service.fit.ways import asks_of_circuits
from service.fit.whole import Settlement, settlement_of

MOST_TRIED: Final = 8
"""Values of one field that are tried: words, then parts at hand, then recommended ones, then by part number."""
MOST_LINES: Final = {"radiator": 1, "heater": 2, "fan": 2}
"""The same where each value asks for new lines, which take long to find: of parts with the same ports only one."""
MOST_DISTANCES: Final = 3
"""Distances tried: where the first option falls away, where the first of all does, and where the last does."""
FIELDS: Final = ("accessory_drive", "front_cover", "crank_pulley", "radiator", "core_distance", "heater", "fan")
SeatsOf = Callable[[str], list[Seat]]
"""Every seat of a part that sits on the block, by its number."""


class Candidate(msgspec.Struct, frozen=True):
    """A value that a field left out could have; a length is an upper bound that lies just outside."""

    value: Any
    said: str
    name: str
    less_than: Length | None = None


def open_questions(settlement: Settlement, listed: list[Assessed], seats_of: SeatsOf) -> tuple[OpenQuestion, ...]:
    """The fields left out of a question that would change its listed options, the most decisive first."""
    trial = _Trial(settlement, listed, seats_of)
    found = []
    for place, field in enumerate(FIELDS):
        candidates = list(_candidates(settlement, listed, field))
        changes = trial.changes(field, candidates)
        if any(change.falls_away or change.first != 1 for change in changes):
            untried = 0 if field == "core_distance" else len(candidates) - len(changes)
            question = OpenQuestion(field, changes, untried, len(listed))
            found.append((_decisive(question), place, question))
    return tuple(question for _, _, question in sorted(found, key=lambda entry: entry[:2]))


def _decisive(question: OpenQuestion) -> tuple[bool, int, int]:
    """Whether the first option changes, how many fall away at most, and in all; the most decisive sorts first."""
    falls = [len(change.falls_away) for change in question.changes]
    return all(change.first == 1 for change in question.changes), -max(falls), -sum(falls)


def _candidates(settlement: Settlement, listed: list[Assessed], field: str) -> Iterator[Candidate]:
    """What a field could say, where it is left out."""
    graph, question = settlement.graph, settlement.question
    build = question.build
    if getattr(build, field) is not UNSET or (field == "radiator" and build.radiator_ports is not UNSET):
        return
    if field == "core_distance":
        yield from _distances(listed, question)
        return
    for word in WORDS.get(field, ()):
        yield Candidate(word, word, "")
    parts = [
        part
        for part in graph.of_kind(SLOTS[field])
        if question.allows(part) and _is_worth_trying(graph, question, field, part)
    ]
    parts.sort(key=lambda part: (part.number not in question.have, not part.recommended, part.number))
    for part in parts:
        yield Candidate(part.number, part.number, part.name)


def _is_worth_trying(graph: ConstraintGraph, question: Question, field: str, part: Part) -> bool:
    """Whether the part goes on the car at all, and a fan is more than its word.

    A fan on the radiator is no more than `electric` while the distance to the core is not known.
    """
    if field == "fan":
        by_engine = part.attributes.get("driven_by") == "engine"
        return by_engine or question.core_distance is not None or part.number in graph.ruled
    return goes_on(graph, question, field, part)


def _distances(listed: list[Assessed], question: Question) -> Iterator[Candidate]:
    """The distances to the radiator's core below which options fall away, that of the first one first."""
    needed = [room for option in listed if (room := _room_needed(question, option)) is not None]
    telling = (*needed[:1], max(needed), min(needed)) if needed else ()
    for room in list(dict.fromkeys(telling))[:MOST_DISTANCES]:
        if room > 0:
            yield Candidate((room - 1) / NM_PER_MM, "", "", room)


def _room_needed(question: Question, option: Assessed) -> int | None:
    """The least distance to the core at which an option does not fail with the fan that it has, nm."""
    at_the_face = msgspec.structs.replace(question, core_distance=0)
    pump, flange = option.mounting.pump, option.seat.flange
    if not asks_for_fan(question):
        tests, _ = bare_gap(at_the_face, pump)
        checks = [test.check(flange) for test in tests]
    else:
        tree = next((tree for name, tree in option.trees if name == "fan"), None)
        if tree is None:  # what the fan bolts to is not known
            return None
        parts = [piece.part for piece in tree.pieces() if piece.part is not None]
        checks = [check for check in fan_checks(at_the_face, pump, parts, flange) if check.zone == "front"]
    return max((room for check in checks if (room := _room(check)) is not None), default=None)


def _room(check: Check) -> int | None:
    """How much farther the core must be so that a check does not fail within its doubt, nm."""
    if check.value is None or check.limit is None or check.margin is None or check.worst_case is None:
        return None
    return ceil(check.limit - check.value - (check.margin - check.worst_case))


class _Trial:
    """The listed options, tried with one more field given."""

    def __init__(self, settlement: Settlement, listed: list[Assessed], seats_of: SeatsOf) -> None:
        self.settlement, self.listed = settlement, listed
        self._seats: dict[tuple[str, tuple[str, ...]], list[Seat]] = {}
        for number in dict.fromkeys(option.mounting.pump.number for option in listed):
            for seat in seats_of(number):
                self._seats.setdefault((number, seat.key), []).append(seat)

    def changes(self, field: str, candidates: list[Candidate]) -> tuple[Change, ...]:
        """What each of the values would do, as many as may be tried."""
        found: list[Change] = []
        lines = list[tuple[Part, ...]]()
        for candidate in candidates:
            if len(found) == MOST_TRIED:
                break
            question = self._asking(field, candidate)
            if not self._asks_for_lines(field, question):
                with self._settled(field, question) as settlement:
                    found.append(self._change(settlement, candidate, priced=True))
                continue
            part = question.slots.get(field)
            alike = () if part is None else self.settlement.graph.like(part)
            if len(lines) < MOST_LINES[field] and (not alike or alike not in lines):
                lines.append(alike)
                # Whoever names this very part asks the same of the circuits, so that its trees are kept for both.
                with settlement_of(self.settlement.graph, question) as settlement:
                    found.append(self._change(settlement, candidate, priced=False))
        return tuple(found)

    def _asking(self, field: str, candidate: Candidate) -> Question:
        build = msgspec.structs.replace(self.settlement.question.build, **{field: candidate.value})
        return resolve(self.settlement.graph.snapshot, build)

    def _asks_for_lines(self, field: str, question: Question) -> bool:
        """Whether new lines must be found with this field given, or the lines that there are be found anew."""
        return field in ("radiator", "heater") or (
            field == "fan" and asks_for_fan(question) and (self.settlement.asked.coolant or "heater" in question.slots)
        )

    def _settled(self, field: str, question: Question) -> AbstractContextManager[Settlement]:
        """The settlement with the field given; its trees are those without it where it asks nothing of them."""
        own = self.settlement
        alike = field == "fan" and not asks_for_fan(question)
        if alike or asks_of_circuits(question) == asks_of_circuits(own.question):
            return nullcontext(Settlement(own.graph, question, own))
        return settlement_of(own.graph, question)

    def _change(self, settlement: Settlement, candidate: Candidate, *, priced: bool) -> Change:
        """What becomes of the listed options; the price of new lines is not weighed where it takes long to find."""
        made: dict[str, list[Mounting]] = {}
        falls, stays, unsure = list[int](), list[tuple[Key, int]](), list[int]()
        for rank, option in enumerate(self.listed, 1):
            pump = option.mounting.pump
            if pump.number not in made:
                made[pump.number] = list(mountings(settlement, pump))
            holding = list(self._holding(settlement, option, made[pump.number]))
            keys: list[Key] = [()] if holding else []
            sure = any(mounting.verdict(seat.flange) == "ok" for mounting, seat in holding)
            if priced:
                keys = [key for place in holding if (key := _key(settlement, *place)) is not None]
                sure = bool(keys) and not min(keys)[0]
            if not keys:
                falls.append(rank)
                continue
            stays.append((min(keys), rank))
            unsure += [] if sure else [rank]
        first = min(stays)[1] if stays else None
        return Change(candidate.said, candidate.name, candidate.less_than, tuple(falls), first, tuple(unsure))

    def _holding(
        self, settlement: Settlement, option: Assessed, choices: list[Mounting]
    ) -> Iterator[tuple[Mounting, Seat]]:
        """The ways to have the pump of an option on its plates that nothing known beforehand rules out."""
        pump = option.mounting.pump
        tested = settlement.graph.tested_plates(pump.number)
        for seat in self._seats[pump.number, option.seat.key]:
            for mounting in choices:
                if mounting.chosen.number == option.mounting.chosen.number:
                    settled = bool(tested) and plates_of(mounting, seat) in tested
                    if settled or (not mounting.hopeless and mounting.possible(seat.flange)):
                        yield mounting, seat


def _key(settlement: Settlement, mounting: Mounting, seat: Seat) -> Key | None:
    """Where a pump on its seat stands; None where it does not hold."""
    option = assess(settlement, mounting, seat)
    return None if option.verdict == "fails" else standing(option).key(settlement.question.rank_keys)
