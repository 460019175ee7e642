"""Where an option stands among others: all that decides it, and the key by which it is sorted."""

from collections.abc import Callable
from fractions import Fraction
from functools import lru_cache
from operator import attrgetter
from typing import Any, Final

import msgspec

from service.fit.answer import Length

Key = tuple[Any, ...]
Less = tuple[int, float, Fraction]
"""A margin as options are ranked by it: (1, its negative), or (2, 0) where no check tells one.

Before the fraction stands the float nearest to it: no float is nearer to another fraction in the other direction, so
mostly the fractions need not be compared, which takes longer than all else of a key.
"""
NO_MARGIN: Final[Less] = (2, 0.0, Fraction(0))
"""Of what no margin is known none can be promised: it stands last."""
AT_BEST: Final[Less] = (0, 0.0, Fraction(0))
"""Before any margin: where it is not looked at, or may turn out either way."""


def less(margin: Fraction | None) -> Less:
    """A relative margin as options are ranked by it."""
    return NO_MARGIN if margin is None else (1, -float(margin), -margin)


class Standing(msgspec.Struct, frozen=True):
    """What decides the place of an option. Of each, the smaller stands first."""

    verdict: bool
    """True where something must be measured first."""
    work: int
    recommended: bool
    """False where the shop recommends the pump."""
    price: tuple[int, int]
    """Pieces to buy that have no price, then the sum of the others."""
    margin: Less
    parts: int
    length: Length
    numbers: Key

    def key(self, rank_keys: tuple[str, ...]) -> Key:
        """Sorts options by these keys, the best first; no two options of one answer share a key."""
        return _getter(rank_keys)(self)  # type: ignore[no-any-return]


@lru_cache(maxsize=64)
def _getter(rank_keys: tuple[str, ...]) -> Callable[[Standing], Any]:
    """A tuple of what decides by these keys; quicker than asking for one after the other."""
    return attrgetter("verdict", *rank_keys, "numbers")
