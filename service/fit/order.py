"""Rows in the order of several columns, of which mostly only the first few are wanted."""

from collections.abc import Iterator
from functools import cached_property
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

Integers = NDArray[np.int64]
FIRST: Final = 256
"""So many are found without sorting all."""
_BITS: Final = 62


class Column(msgspec.Struct, frozen=True):
    """What rows are ordered by: numbers from 0 on, and how many bits the greatest takes."""

    numbers: Integers
    bits: int

    @classmethod
    def of(cls, numbers: Integers) -> "Column":
        """The column of these numbers, the least of which becomes 0."""
        least = int(numbers.min()) if len(numbers) else 0
        return cls(numbers - least, (int(numbers.max()) - least).bit_length() if len(numbers) else 0)

    @property
    def weight(self) -> int:
        """How many bytes it takes."""
        return self.numbers.nbytes


class Order:
    """The places of rows in the order of their columns, the first column counting most; no two rows are alike.

    Columns are packed into as few as hold them, so that mostly one is sorted.
    """

    def __init__(self, columns: list[Column]) -> None:
        self._count = len(columns[0].numbers)
        self._packed = _packed(columns)

    def __len__(self) -> int:
        return self._count

    @property
    def weight(self) -> int:
        """How many bytes it takes at most."""
        return 8 * self._count * (1 + len(self._packed))

    def __iter__(self) -> Iterator[int]:
        """The places in order, sorted no further than they are asked for."""
        yield from self._first
        yield from self.all[FIRST:].tolist()

    @cached_property
    def _first(self) -> list[int]:
        if len(self._packed) == 1 and self._count > FIRST:
            (column,) = self._packed
            places = np.argpartition(column, FIRST)[:FIRST]
            places = places[column[places].argsort()]
        else:
            places = self.all[:FIRST]
        found: list[int] = places.tolist()
        return found

    @cached_property
    def key(self) -> Integers:
        """For each row a number that orders it so."""
        if len(self._packed) == 1:
            return self._packed[0]
        found = np.empty(self._count, dtype=np.int64)
        found[self.all] = np.arange(self._count)
        return found

    @cached_property
    def all(self) -> Integers:
        """All places in order."""
        if len(self._packed) == 1:
            return self._packed[0].argsort()
        return np.lexsort(self._packed[::-1]) if self._packed else np.arange(self._count)


def _packed(columns: list[Column]) -> list[Integers]:
    """Fewer columns that give the same order."""
    packed: list[Integers] = []
    room = 0
    for column in columns:
        if column.bits > room:
            packed.append(column.numbers.copy())
            room = _BITS - column.bits
        elif packed and column.bits:
            packed[-1] <<= column.bits
            packed[-1] |= column.numbers
            room -= column.bits
    return packed
