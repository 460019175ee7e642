"""Parts that the asker would have expected in the first option, and where they are instead.

The shop's recommended pumps, where the first option's pump is none, and every part at hand that it does not use.
"""

from typing import Final

import msgspec
from msgspec import UNSET

from catalog.domain import Part
from service.fit.answer import Expected
from service.fit.missed import Missed
from service.fit.question import SLOTS, Question
from service.fit.ranking import above_next
from service.fit.search import Search
from service.fit.which import with_option

MOST_EXPECTED: Final = 20
"""Such parts told of one answer."""
_IN_FIELDS: Final = {kind: field for field, kind in SLOTS.items() if field not in ("pump", "pulley", "fan")}
"""Kinds that no parts list holds: the build names them, each in its field."""


def expected_first(search: Search, missed: Missed | None) -> tuple[Expected, ...]:
    """Each expected part that the first option does not have: pumps first, in order of part number."""
    first = search.listed[0]
    question, parts = search.question, search.graph.snapshot.parts
    used = {line.part for line in first.lines} | {part.number for part in question.slots.values()}
    found = [
        _at_hand(search, parts[number], missed) for number in question.have if number not in used and number in parts
    ]
    if not first.mounting.chosen.recommended:
        found += [
            _pump(search, part, "recommended", missed)
            for part in _reachable(search, missed)
            if part.recommended and part.number not in question.have
        ]
    told = _with_option(search, [one for one in found if one is not None])
    told.sort(key=lambda one: (one.kind not in ("water_pump", "remote_pump"), one.part))
    return tuple(told[:MOST_EXPECTED])


def _with_option(search: Search, found: list[Expected]) -> list[Expected]:
    """The same; what no listed option uses may still serve in another one, if it is decided which there are."""
    if not (search.decided and search.settlement.decided):
        return [one for one in found if one.where != "not_used"]
    parts = [search.graph.snapshot.parts[one.part] for one in found if one.where == "not_used"]
    held = with_option(search, parts) if parts else frozenset()
    return [msgspec.structs.replace(one, where="fits") if one.part in held else one for one in found]


def _reachable(search: Search, missed: Missed | None) -> list[Part]:
    """Pumps on this face, wherever they sit."""
    numbers = sorted(search.fitting | (frozenset() if missed is None else missed.numbers))
    parts = search.graph.snapshot.parts
    return [parts[number] for number in numbers if number in parts]


def _at_hand(search: Search, part: Part, missed: Missed | None) -> Expected | None:
    if part.kind in ("water_pump", "remote_pump"):
        return _pump(search, part, "at_hand", missed)
    for rank, option in enumerate(search.listed, 1):
        if any(line.part == part.number for line in option.lines):
            return _listed(search, part, "at_hand", rank)
    field = _IN_FIELDS.get(part.kind, "")
    left_out = getattr(search.question.build, field, None) is UNSET
    where = "not_used" if not field else "not_asked" if left_out else "another_named"
    return Expected(part.number, part.name, part.kind, "at_hand", where, reason=field)  # type: ignore[arg-type]


def _pump(search: Search, part: Part, why: str, missed: Missed | None) -> Expected | None:
    for rank, option in enumerate(search.listed, 1):
        if option.mounting.chosen.number == part.number:
            return _listed(search, part, why, rank)
    if part.number in search.fitting:
        return Expected(part.number, part.name, part.kind, why, "fits")  # type: ignore[arg-type]
    miss = None if missed is None else missed.of(part.number)
    reason = "" if miss is not None else _not_looked_at(search.question, part)
    if miss is None and not search.decided:
        return None
    return Expected(part.number, part.name, part.kind, why, "ruled_out", ruled_out=miss, reason=reason)  # type: ignore[arg-type]


def _listed(search: Search, part: Part, why: str, rank: int) -> Expected:
    first, option = search.listed[0], search.listed[rank - 1]
    above = above_next(first, option, search.question.rank_keys)
    return Expected(part.number, part.name, part.kind, why, "listed", rank, above)  # type: ignore[arg-type]


def _not_looked_at(question: Question, part: Part) -> str:
    """Why a pump was not looked at."""
    if part.number in question.without:
        return "unwanted"
    if part.status != "active":
        return "retired"
    if "pump" in question.slots:
        return "another_named"
    remote = question.build.pump_drive == "remote"
    return "other_drive" if remote != (part.kind == "remote_pump") else "other_face"
