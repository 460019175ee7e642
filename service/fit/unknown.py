"""What nobody states is unknown: a check that lacks a fact says which, and holds nothing for certain.

Where the release or the description of a named part lacks what a check needs, it is `measure_first`, and what it lacks
is told. Only where no part of the kind in the whole release states it, nobody could be asked for it part by part: then
the check is `not_asked`.
"""

from collections.abc import Iterable, Sequence

import msgspec

from catalog.domain import Kind, Part, Role, TakenWith
from catalog.vocabulary import faces, measure_word
from service.fit.answer import Check, Code, Facts
from service.fit.question import Question
from service.fit.told import Lack, ToRead

Missing = tuple[Part, str]
"""A part and a fact that it does not state: a measure, an attribute, `bands`, or `ports.role`."""
Stated = frozenset[tuple[Kind, str]]
"""What at least one part of a kind in the release states."""


_BY_TAPE = ("shortest_span",)
"""Measures that are mostly longer than a caliper reaches, where nothing is known of how long this one is."""


def reading_of(part: Part, fact: str) -> ToRead | None:
    """With what a fact of a part is read, and from which face to which; None for what is no measure."""
    if measure_word(fact) is None:
        return None
    tool: TakenWith = "tape" if fact in _BY_TAPE or part.kind == "hose" else "caliper"
    return ToRead(*faces(part, fact), tool)


def missing_measures(*wanted: Missing) -> list[Missing]:
    """Those of these measures that their parts do not state."""
    return [(part, name) for part, name in wanted if name not in part.measures]


def missing_attributes(*wanted: Missing) -> list[Missing]:
    """Those of these attributes that their parts do not state."""
    return [(part, name) for part, name in wanted if name not in part.attributes]


def leaves_out(question: Question, part: Part, role: Role) -> bool:
    """Whether the asker describes the part and names no port of that sort: it may have one all the same."""
    return part.number in question.described and not any(port.role == role for port in part.ports)


def not_known(
    stated: Stated, code: Code, missing: Sequence[Missing], zone: str = "", about: Facts | None = None
) -> Check:
    """A check that cannot be made, as these facts are missing; `about` is what else is told with it."""
    facts = dict(about or {})
    wanted = list(dict.fromkeys((part.kind, fact) for part, fact in missing))
    nobody = tuple((kind, fact) for kind, fact in wanted if not _is_stated(stated, kind, fact))
    if nobody:
        return Check(code, "not_asked", "nobody_states", {**facts, "nobody": nobody}, zone=zone)
    lacks = tuple(dict.fromkeys(Lack(part.number, part.name, "", fact) for part, fact in missing))
    return Check(code, "measure_first", "not_known", {**facts, "lacks": lacks}, zone=zone)


def _is_stated(stated: Stated, kind: Kind, fact: str) -> bool:
    plain, _, role = fact.partition(".")
    if plain != "ports":
        return (kind, plain) in stated
    # A thermostat housing's face is where coolant and the heater's return enter a pump that has one.
    housed = role in ("coolant_in", "heater_return") and (kind, "ports.housing") in stated
    return housed or (kind, fact) in stated


def with_fields(question: Question, checks: Iterable[Check]) -> list[Check]:
    """The checks, what they lack told with the field of the build that names the part.

    What an option brings itself is of no field. A check may be shared by questions that name the part and others
    that do not, so this comes last.
    """
    field_of = {part.number: field for field, part in question.slots.items()}
    return [_with_fields(check, field_of) if check.reason == "not_known" else check for check in checks]


def _with_fields(check: Check, field_of: dict[str, str]) -> Check:
    lacks = tuple(
        msgspec.structs.replace(lack, field=field_of.get(lack.part, lack.field)) for lack in check.facts["lacks"]
    )
    return msgspec.structs.replace(check, facts={**check.facts, "lacks": lacks})


def lacks_of(checks: Iterable[Check]) -> list[Lack]:
    """What these checks lack, what decides most first: what more of them wait for, then as they are told."""
    found: dict[Lack, int] = {}
    for check in checks:
        if check.reason == "not_known":
            for lack in check.facts["lacks"]:
                found[lack] = found.get(lack, 0) + 1
    return sorted(found, key=lambda lack: -found[lack])
