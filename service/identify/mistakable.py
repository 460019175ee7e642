"""How easily what was told of a part would take one part of a kind for another, reckoned from the catalog itself.

A part that the catalog does not hold is mostly a relative of one that it does: of one make, and different in a few
things. How often such a one is taken for its relative is estimated by leaving out each part of the catalog in turn: it
is taken for another where another agrees with it in all that was told (as cross-validation leaves one out: Stone,
J. R. Stat. Soc. B 36:111, 1974).
"""

from collections.abc import Callable, Iterable, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from catalog.domain import Part

MOST_LEFT_OUT: Final = 100
"""Parts left out in turn, spread evenly over the kind where it has more."""
Flags = NDArray[np.bool_]


class Mistakable:
    """For parts of one kind the share that answers would not tell from another."""

    def __init__(self, parts: Sequence[Part]) -> None:
        self._parts = parts
        self._left_out = np.arange(0, len(parts), max(1, -(-len(parts) // MOST_LEFT_OUT)))
        self._agree: dict[str, Flags] = {}

    def agreeing_in(self, agreeing: Iterable[Flags]) -> Flags:
        """For each part left out (rows) whether another (columns) agrees with it in all of these."""
        others: Flags = np.ones((len(self._left_out), len(self._parts)), dtype=bool)
        others[np.arange(len(self._left_out)), self._left_out] = False
        for flags in agreeing:
            others &= flags
        return others

    def in_answer(self, cue: str) -> Flags:
        """Where two parts have the same answer to a cue; one of which the catalog does not say it may have any."""

        def made() -> Flags:
            answers = [next((own.answer for own in part.cues if own.name == cue), "") for part in self._parts]
            codes = {answer: place for place, answer in enumerate(dict.fromkeys(["", *answers]))}
            found = np.array([codes[answer] for answer in answers])
            mine = found[self._left_out]
            same: Flags = (mine[:, None] == found) | (mine == 0)[:, None] | (found == 0)
            return same

        return self._known(cue, made)

    def in_reading(self, measure: str, doubt: int) -> Flags:
        """Where two parts read alike, with an instrument of this doubt in nm, plus and minus."""

        def made() -> Flags:
            stated = [part.measures.get(measure) for part in self._parts]
            found = np.array([np.nan if each is None else each.nominal for each in stated])
            apart: Flags = np.abs(found[self._left_out][:, None] - found) > 2 * doubt
            return ~apart

        return self._known(f"{measure} {doubt}", made)

    def _known(self, key: str, make: Callable[[], Flags]) -> Flags:
        if key not in self._agree:
            self._agree[key] = make()
        return self._agree[key]


def share(others: Flags) -> float:
    """The share of parts left out with which another agrees."""
    return float(others.any(axis=1).mean()) if len(others) else 0.0
