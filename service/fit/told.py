"""What an answer says once, before all else, as data: what it did not look at, does not know, warns of and notes."""

from collections.abc import Mapping
from typing import Any

import msgspec

from catalog.domain import TakenWith

Facts = Mapping[str, Any]


class Lack(msgspec.Struct, frozen=True, order=True):
    """A fact that a check needs and that neither the release nor the asker states."""

    part: str
    """Number of the part, or the name of a described one."""
    name: str
    field: str
    """The field of the build that names the part; empty where an option brings it itself."""
    fact: str
    """A measure (`cover_room.sensor`), an attribute (`rotation`), or `bands`, or a port by its role (`ports.mount`).

    Of a port of several its `side`, `direction` or `port_size`, with the port behind a dot (`side.upper`).
    """


class Caution(msgspec.Struct, frozen=True):
    """A danger that goes with the option, by its stable code."""

    code: str
    facts: Facts = {}
    parts: tuple[str, ...] = ()
    """Numbers of the parts that call for it; none where every option does."""


class Note(msgspec.Struct, frozen=True):
    """Something to buy or to see to besides the list, or that no release states, by its stable code."""

    code: str
    facts: Facts = {}
    parts: tuple[str, ...] = ()
    """Numbers of the parts that call for it."""
    count: int | None = None
    """Pieces, of what is counted; of several options the most."""
    check: str = ""
    """Of `nobody_states`: the check whose facts no part of that kind states."""


class ToRead(msgspec.Struct, frozen=True):
    """A reading that would tell what is not known: from which face to which, with what."""

    from_: str
    to: str
    taken_with: TakenWith


class NotKnown(msgspec.Struct, frozen=True):
    """A fact that is lacking though the build names the part, or an option brings it, and what that leaves open."""

    lack: Lack
    leaves_open: tuple[tuple[str, str], ...]
    """Codes of checks, each with its zone, in the order in which they are told."""
    options: int
    """How many of the options, and of the pumps ruled out, it leaves open."""
    reading: ToRead | None
    """None where it is no measure: it is to be looked up then, or seen on the part."""


class Told(msgspec.Struct, frozen=True):
    """What stands once at the top of an answer."""

    not_checked: tuple[str, ...] = ()
    """Fields of the build that were left out, that a word leaves open, or that name a part of unknown ports."""
    not_known: tuple[NotKnown, ...] = ()
    """What decides most first: what touches most options, then what opens most checks."""
    not_known_total: int = 0
    """All such facts, told or not."""
    cautions: tuple[Caution, ...] = ()
    """The most serious first."""
    notes: tuple[Note, ...] = ()
