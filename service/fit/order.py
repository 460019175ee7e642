"""Rows in the order of several columns, of which mostly only the first few are wanted."""

from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

Integers = NDArray[np.int64]
FIRST: Final = 256
"""So many are found without sorting all."""
_BITS: Final = 62


class Order:
    """The places of rows in the order of their columns, the first column counting most; no two rows are alike.

    Columns are packed into as few as hold them, so that mostly one is sorted.
    """

    def __init__(self, columns: list[Integers]) -> None:
        self._count = len(columns[0])
        self._packed = _packed(columns)

    def __len__(self) -> int:
        return self._count

    @property
    def weight(self) -> int:
        """How many bytes it takes at most."""
        return 8 * self._count * (1 + len(self._packed))

    def __getitem__(self, at: int) -> int:
        """The place of the row that comes at this place in the order."""
        return int(self._first[at] if at < len(self._first) else self.all[at])

    @cached_property
    def _first(self) -> Integers:
        if len(self._packed) != 1 or self._count <= FIRST:
            return self.all[:FIRST]
        (column,) = self._packed
        places = np.argpartition(column, FIRST)[:FIRST]
        return places[column[places].argsort()]

    @cached_property
    def all(self) -> Integers:
        """All places in order."""
        if len(self._packed) == 1:
            return self._packed[0].argsort()
        return np.lexsort(self._packed[::-1]) if self._packed else np.arange(self._count)


def _packed(columns: list[Integers]) -> list[Integers]:
    """Fewer columns that give the same order."""
    packed: list[Integers] = []
    room = 0
    for column in columns:
        least = int(column.min()) if len(column) else 0
        bits = (int(column.max()) - least).bit_length() if len(column) else 0
        if bits > room:
            packed.append(column - least)
            room = _BITS - bits
        elif packed:
            packed[-1] = (packed[-1] << bits) | (column - least)
            room -= bits
    return packed
