"""Which edits did it: for each change the fewest that, made alone on the earlier release, bring it about.

The engine itself is asked, so what is named is no guess. Edits are taken away in halves and then in smaller shares
(delta debugging; A. Zeller and R. Hildebrandt, "Simplifying and isolating failure-inducing input", IEEE Transactions
on Software Engineering 28(2), 2002), after a first try with those that the build or either option names.
"""

from collections import OrderedDict
from collections.abc import Callable
from itertools import pairwise
from typing import Final

import msgspec
from msgspec import UNSET

from catalog.domain import Snapshot
from service.effects.edits import Edit, edits_between, with_edits
from service.effects.outcome import Change, Outcome, changes_between, outcome_of
from service.fit.build import Build
from service.fit.graph import ConstraintGraph

MOST_TRIES: Final = 60
"""Questions asked for the cause of one change; where they do not suffice, more edits may be named than needed."""
_GRAPHS: Final = 8
_NAMING: Final = ("engine", "accessory_drive", "front_cover", "pump", "pulley", "crank_pulley", "radiator", "heater")


class Cause(msgspec.Struct, frozen=True, omit_defaults=True):
    """What did something to a build: these edits, made alone on the earlier release, bring the changes about."""

    changes: tuple[Change, ...]
    edits: tuple[Edit, ...]
    least: bool = True
    """Whether none of the edits can be left out; else the search for fewer was given up."""


class Causes:
    """Finds what did it between two releases, for one build after another; a cause once found is tried first."""

    def __init__(self, before: Snapshot, after: Snapshot) -> None:
        self._before, self._after = before, after
        self._edits = edits_between(before, after)
        self._known: list[tuple[Edit, ...]] = []
        self._graphs: OrderedDict[tuple[Edit, ...], ConstraintGraph] = OrderedDict()

    def of(self, build: Build, before: Outcome, after: Outcome) -> tuple[Cause, ...]:
        """The causes of all that changes between two outcomes of a build."""
        named = self._named(build, before, after)
        asked: dict[tuple[Edit, ...], Outcome | None] = {self._edits: after}
        found: dict[tuple[tuple[Edit, ...], bool], list[Change]] = {}
        for change in changes_between(before, after):
            found.setdefault(self._of(change, build, after, named, asked), []).append(change)
        return tuple(Cause(tuple(changes), edits, least) for (edits, least), changes in found.items())

    def _of(
        self,
        change: Change,
        build: Build,
        after: Outcome,
        named: tuple[Edit, ...],
        asked: dict[tuple[Edit, ...], Outcome | None],
    ) -> tuple[tuple[Edit, ...], bool]:
        """The edits that bring one change about; `asked` keeps what was asked of this build already."""
        tries = 0

        def does(edits: tuple[Edit, ...]) -> bool:
            nonlocal tries
            if edits not in asked:
                tries += 1
                asked[edits] = self._outcome(edits, build)
            outcome = asked[edits]
            return outcome is not None and outcome.agrees(after, change)

        likely = [known for known in self._known if set(known) <= set(named)]
        edits = next((some for some in (*likely, named) if some and does(some)), self._edits)
        found, least = fewest(edits, does, lambda: tries < MOST_TRIES)
        if found not in self._known:
            self._known.append(found)
        return found, least

    def _named(self, build: Build, before: Outcome, after: Outcome) -> tuple[Edit, ...]:
        """The edits of what the build or either option names."""
        parts = {piece.part for outcome in (before, after) for piece in outcome.parts}
        parts |= {name for field in _NAMING if isinstance(name := getattr(build, field), str)}
        parts |= {*build.have, *(reading.part for reading in build.measured)}
        if build.fan is not UNSET and isinstance(build.fan, str):
            parts.add(build.fan)
        # A build names parts by alias and in any case.
        found = (snapshot.find(name) for name in sorted(parts) for snapshot in (self._before, self._after))
        numbers = {part.number for part in found if part is not None}
        rules = (*self._before.rules, *self._after.rules)
        names = {rule.name for rule in rules if not numbers.isdisjoint((rule.part, *rule.others))}
        return tuple(
            edit
            for edit in self._edits
            if edit.subject == "connection" or edit.name in (numbers if edit.subject == "part" else names)
        )

    def _outcome(self, edits: tuple[Edit, ...], build: Build) -> Outcome | None:
        """The outcome with these edits alone; None where they make no catalog that can be asked."""
        try:
            if edits not in self._graphs:
                self._graphs[edits] = ConstraintGraph(with_edits(self._before, self._after, edits))
                if len(self._graphs) > _GRAPHS:
                    self._graphs.popitem(last=False)
            self._graphs.move_to_end(edits)
            return outcome_of(self._graphs[edits], build)
        except Exception:
            # Some of the edits without the others may name what is not there; no release would be published so.
            return None


def fewest(
    edits: tuple[Edit, ...], does: Callable[[tuple[Edit, ...]], bool], may_go_on: Callable[[], bool]
) -> tuple[tuple[Edit, ...], bool]:
    """A part of the edits that still does it, and whether it is known that none of them can be left out."""
    shares = 2
    while len(edits) > 1:
        bounds = [share * len(edits) // shares for share in range(shares + 1)]
        pieces = [(edits[start:end], 2) for start, end in pairwise(bounds)]
        if shares > 2:
            pieces += [(edits[:start] + edits[end:], shares - 1) for start, end in pairwise(bounds)]
        for smaller, next_shares in pieces:
            if not may_go_on():
                return edits, False
            if does(smaller):
                edits, shares = smaller, next_shares
                break
        else:
            if shares == len(edits):
                break
            shares = min(len(edits), 2 * shares)
    return edits, True
