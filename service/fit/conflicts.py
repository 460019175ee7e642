"""Minimal conflicts and minimal corrections of any set of requirements, given only whether a subset can be met.

A conflict is a set that cannot be met together though each smaller set can; a correction is a set whose giving
up lets the rest be met though no smaller set does. Each family is the minimal hitting sets of the other
(R. Reiter, "A theory of diagnosis from first principles", Artificial Intelligence 32, 1987), so both are found
together: a hitting set of the corrections known so far is either a conflict, or can be met and grows into what
one more correction leaves (D. Gunopulos et al., "Discovering all most specific sentences", TODS 28, 2003).
"""

from collections.abc import Callable, Iterable, Sequence

import msgspec

Names = tuple[str, ...]
Meets = Callable[[frozenset[str]], bool | None]
"""Whether these requirements can be met together; None where that was not decided.

Who can meet a set can meet every smaller one.
"""


class Clash(msgspec.Struct, frozen=True):
    """Why requirements cannot all be met. Members stand in the order of the requirements."""

    conflicts: tuple[Names, ...]
    """Fewest members first; of as many, first the one whose least wanted member is wanted most."""
    corrections: tuple[Names, ...]
    """Fewest members first; of as many, first the one that gives up what is wanted least."""
    truncated: bool
    """Whether the search stopped at its limit, so that there may be more of either."""
    decided: bool
    """False where for some set it was not decided whether it can be met. No conflict rests on such a set, and a
    correction is then perhaps not minimal."""


def clash(requirements: Sequence[str], meets: Meets, most: int) -> Clash:
    """Every minimal conflict and every minimal correction of requirements that cannot all be met.

    Parameters
    ----------
    requirements
        The most wanted first.
    meets
        Asked once for each set that no earlier answer settles.
    most
        Conflicts and corrections to stop at, of each.
    """
    asked = _Asked(meets)
    everything = frozenset(requirements)
    place = {name: number for number, name in enumerate(requirements)}
    if asked.meets(everything):
        return Clash((), (), truncated=False, decided=asked.decided)
    conflicts: list[frozenset[str]] = []
    corrections: list[frozenset[str]] = []
    hitting = [frozenset[str]()]
    while len(conflicts) < most and len(corrections) < most:
        untried = [candidate for candidate in hitting if candidate not in conflicts]
        if not untried:
            break
        candidate = min(untried, key=lambda names: _wanted(names, place))
        if not asked.meets(candidate):
            conflicts.append(candidate)
            continue
        met = candidate
        for name in requirements:
            if name not in met and asked.meets(met | {name}):
                met |= {name}
        corrections.append(everything - met)
        hitting = minimal_hitting_sets(corrections)
    truncated = any(candidate not in conflicts for candidate in hitting)
    sure = sorted(filter(asked.sure, conflicts), key=lambda names: _wanted(names, place))
    return Clash(
        conflicts=tuple(_in_order(c, place) for c in sure),
        corrections=tuple(_in_order(c, place) for c in sorted(corrections, key=lambda names: _unwanted(names, place))),
        truncated=truncated,
        decided=asked.decided,
    )


def minimal_hitting_sets(family: Iterable[frozenset[str]]) -> list[frozenset[str]]:
    """Every minimal set that has a member in common with each set of the family, by Berge's multiplication."""
    found = [frozenset[str]()]
    for members in family:
        missed = [names for names in found if not names & members]
        kept = [names for names in found if names & members]
        grown = {names | {member} for names in missed for member in members}
        kept += [names for names in grown if not any(known <= names for known in kept)]
        found = kept
    return found


class _Asked:
    """Answers remembered: what is within a set that can be met can be met, what holds one that cannot, cannot."""

    def __init__(self, meets: Meets) -> None:
        self._meets = meets
        self._met: list[frozenset[str]] = []
        self._unmet: list[frozenset[str]] = []
        self._open: list[frozenset[str]] = []

    @property
    def decided(self) -> bool:
        return not self._open

    def meets(self, names: frozenset[str]) -> bool:
        """Whether these can be met; False where that was not decided."""
        if any(names <= known for known in self._met):
            return True
        if any(names >= known for known in (*self._unmet, *self._open)):
            return False
        answer = self._meets(names)
        (self._open if answer is None else self._met if answer else self._unmet).append(names)
        return bool(answer)

    def sure(self, names: frozenset[str]) -> bool:
        """Whether it is certain that these cannot be met."""
        return any(names >= known for known in self._unmet)


def _wanted(names: frozenset[str], place: dict[str, int]) -> tuple[int, list[int]]:
    return len(names), sorted((place[name] for name in names), reverse=True)


def _unwanted(names: frozenset[str], place: dict[str, int]) -> tuple[int, list[int]]:
    return len(names), sorted(-place[name] for name in names)


def _in_order(names: frozenset[str], place: dict[str, int]) -> Names:
    return tuple(sorted(names, key=place.__getitem__))
