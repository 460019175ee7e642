"""What to read, or to look at, so that a check can be decided; lengths in nm."""

from fractions import Fraction
from typing import Literal

import msgspec

from catalog.domain import TakenWith

Length = int | Fraction


class Taking(msgspec.Struct, frozen=True):
    """A reading worth taking: of what, from which face to which, with what; lengths in nm."""

    part: str
    name: str
    measure: str
    from_: str
    to: str
    taken_with: TakenWith
    expected: Length | None
    """The middle of what it can be as far as is known; None where nothing is."""
    doubt: Length | None
    """Plus and minus around that, as far as is known."""
    doubt_then: Length
    """Plus and minus once it is read."""


class Looking(msgspec.Struct, frozen=True):
    """What to look at or to count on a part."""

    part: str
    name: str
    fact: str
    """An attribute, `bands`, or a port by its role, as `Lack` has them."""


class Settling(msgspec.Struct, frozen=True):
    """What would settle a check that must be measured first."""

    reason: Literal["readings", "nothing_finer", "belt_length", "not_known"]
    """Readings settle it; no tool reads finer; the length of a belt decides; what it needs is not known at all."""
    readings: tuple[Taking, ...] = ()
    look_at: tuple[Looking, ...] = ()
    leaves_open: float | None = None
    """The chance, 0 to 1, that the check still hangs on the doubt once they are taken."""
