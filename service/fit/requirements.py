"""The requirements of a build: all that it asks for beyond its engine, what is at hand and what was measured."""

from collections.abc import Collection
from typing import Any, Final, Literal, get_args

import msgspec
from msgspec import UNSET

from service.fit.build import Build, Must
from service.fit.question import Question

Requirement = Literal[
    # What one would part with last stands first: what is there already, then what is chosen, then wishes.
    "accessory_drive",
    "front_cover",
    "crank_pulley",
    "pump",
    "pulley",
    "radiator",
    "radiator_ports",
    "core_distance",
    "heater",
    "fan",
    "pump_drive",
    "must.without",
    "must.work_at_most",
    "must.price_at_most",
    "must.outlet_direction",
    "must.outlet_side",
]
REQUIREMENTS: Final[tuple[str, ...]] = get_args(Requirement)
"""Fields of a build that ask for something, the most wanted first."""


def said(build: Build, field: str) -> Any:
    """What a build says in a field such as `front_cover` or `must.outlet_side`."""
    return getattr(build.must, field[5:]) if field.startswith("must.") else getattr(build, field)


def given(build: Build) -> tuple[str, ...]:
    """The requirements that a build states; `pump_drive` where it is no belt, `must.without` where it names any."""
    nothing = {"pump_drive": "belt", "must.without": []}
    return tuple(field for field in REQUIREMENTS if said(build, field) not in (UNSET, nothing.get(field, UNSET)))


def dropping(build: Build, fields: Collection[str]) -> Build:
    """The build without these requirements."""
    defaults = {"pump_drive": "belt", "without": []}
    must = {field[5:]: defaults.get(field[5:], UNSET) for field in fields if field.startswith("must.")}
    own = {field: defaults.get(field, UNSET) for field in fields if not field.startswith("must.")}
    changed: Must = msgspec.structs.replace(build.must, **must)
    return msgspec.structs.replace(build, **own, must=changed)


def keeping(build: Build, fields: Collection[str]) -> Build:
    """The build with none but these requirements."""
    return dropping(build, [field for field in REQUIREMENTS if field not in fields])


def keeping_of(question: Question, fields: Collection[str]) -> Question:
    """The question of the build with none but these requirements, without finding its names again."""
    slots = {slot: part for slot, part in question.slots.items() if slot == "engine" or slot in fields}
    numbers = {part.number for part in slots.values()}
    return msgspec.structs.replace(
        question,
        build=keeping(question.build, fields),
        slots=slots,
        described=frozenset(number for number in question.described if number in numbers),
        without=question.without if "must.without" in fields else frozenset(),
        core_distance=question.core_distance if "core_distance" in fields else None,
        price_at_most=question.price_at_most if "must.price_at_most" in fields else None,
        replaced=tuple(replaced for replaced in question.replaced if replaced[0] in slots),
    )
