"""The core of a question in numpy: every pump on every stack at once."""

from itertools import combinations_with_replacement

import numpy as np

from tests.bench.core import Core


class NumpyPeer:
    """Arrays of places and of stacks of at most so many plates, made beforehand; the question is one broadcast."""

    def __init__(self, core: Core, most: int) -> None:
        stacks = [
            stack
            for count in range(1, most + 1)
            for stack in combinations_with_replacement(range(len(core.plates)), count)
        ]
        plates = core.plates
        self._stacks = stacks
        self._low = np.array([core.base[0] + sum(plates[at].low for at in stack) for stack in stacks])
        self._high = np.array([core.base[1] + sum(plates[at].high for at in stack) for stack in stacks])
        self._cents = np.array([sum(plates[at].cents for at in stack) for stack in stacks])
        self._asked, self._places = core.asked, core.places
        self._belt = np.array([place.belt for place in core.places])
        self._limit = np.array([place.limit for place in core.places])
        self._rooms = np.array([place.rooms for place in core.places])
        self._clockwise = np.array([place.rotation == "clockwise" for place in core.places])
        self._pump_cents = np.array([place.cents for place in core.places])
        self._stacking = np.array([place.stacks for place in core.places])
        self._alone = np.array([place.alone for place in core.places])

    def best(self) -> list[tuple[int, str, tuple[int, ...]]]:
        """The ten cheapest: cents, pump, places of its plates."""
        asked = self._asked
        turns = self._clockwise == (asked.rotation == "clockwise")
        over_cover = (np.array(asked.heights) - self._rooms).max(axis=1)
        least = np.maximum(asked.belt[0] - self._belt[:, 1] - self._limit, over_cover)
        greatest = asked.belt[1] - self._belt[:, 0] + self._limit
        on_stack = turns & self._stacking
        fits = (self._high >= least[:, None]) & (self._low <= greatest[:, None]) & on_stack[:, None]
        at, stack = np.nonzero(fits)
        alone = np.nonzero(turns & (self._alone[:, 1] >= least) & (self._alone[:, 0] <= greatest))[0]
        cents = np.concatenate((self._pump_cents[at] + self._cents[stack], self._pump_cents[alone]))
        if not len(cents):
            return []
        count = min(10, len(cents))
        first = np.argpartition(cents, count - 1)[:count]
        first = first[np.argsort(cents[first], kind="stable")]
        return [
            (int(cents[one]), self._places[at[one]].pump, self._stacks[stack[one]])
            if one < len(at)
            else (int(cents[one]), self._places[alone[one - len(at)]].pump, ())
            for one in first
        ]
