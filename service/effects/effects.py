"""The effects of a release on builds: each asked before and after, compared, and traced to the edits that did it."""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Executor, Future, as_completed
from functools import lru_cache
from itertools import islice, product
from typing import Final

import msgspec
from msgspec import UNSET, UnsetType

from catalog.domain import Kind, Release, Snapshot
from service.effects.causes import Cause, Causes
from service.effects.edits import Edit, edits_between
from service.effects.outcome import Change, Outcome, outcome_of
from service.fit.build import Build
from service.fit.graph import ConstraintGraph

LEAST_SHARE: Final = 8
MOST_SHARES: Final = 512
"""Builds go to an executor in shares of at least eight, at most so many of them."""
Progress = Callable[[int, int], None]
"""Told how many builds are compared, of how many."""


class Effect(msgspec.Struct, frozen=True, omit_defaults=True):
    """One build whose answer changes."""

    build: Build
    before: Outcome
    after: Outcome
    causes: tuple[Cause, ...]
    """Of each change the edits that did it, with the changes that have the same cause taken together."""

    @property
    def changes(self) -> tuple[Change, ...]:
        """Everything that changes."""
        return tuple(change for cause in self.causes for change in cause.changes)


class Share(msgspec.Struct, frozen=True):
    """What is found of one share of the builds."""

    effects: tuple[tuple[int, Effect], ...] = ()
    """Each with the place of its build in the share."""
    undecided: int = 0
    refused: int = 0


class Effects(msgspec.Struct, frozen=True):
    """What a release changes: its edits, and the builds that they reach."""

    before: Release
    after: Release
    builds: int
    """Builds that were compared."""
    undecided: int
    """Builds of which a search reached its step limit; the comparison is not certain there."""
    refused: int
    """Builds that both releases refuse, because they name what is not so."""
    edits: tuple[Edit, ...]
    effects: tuple[Effect, ...]
    """In the order of the builds."""

    def count(self) -> dict[str, int]:
        """How many builds change in each way; a build may change in several."""
        counted = Counter(change for effect in self.effects for change in effect.changes)
        return {change: counted[change] for change in ("gained", "lost", "first_option", "price", "verdict")}


def every_build(*snapshots: Snapshot, most: int | None = None) -> list[Build]:
    """Every engine with every drive and every cover that any of the releases holds, in order of part numbers.

    Only the first `most` of them where that is given.
    """

    def numbers(kind: Kind) -> list[str]:
        return sorted({part.number for one in snapshots for part in one.parts.values() if part.kind == kind})

    drives: list[str | UnsetType] = [*numbers("accessory_drive")] or [UNSET]
    covers: list[str | UnsetType] = [*numbers("front_cover")] or [UNSET]
    return [
        Build(engine=engine, accessory_drive=drive, front_cover=cover)
        for engine, drive, cover in islice(product(numbers("engine"), drives, covers), most)
    ]


def effects_of(
    before: Snapshot,
    after: Snapshot,
    builds: Sequence[Build],
    executor: Executor | None = None,
    progress: Progress = lambda _done, _of: None,
) -> Effects:
    """Compare the answers to builds in two releases.

    Parameters
    ----------
    executor
        Any executor of the `concurrent.futures` kind, of this machine or of a cluster whose workers have this
        package; without one the work is done here. The result is the same, whichever it is.
    progress
        Told after each share of the builds.
    """
    size = max(LEAST_SHARE, -(-len(builds) // MOST_SHARES))
    shares = [tuple(builds[start : start + size]) for start in range(0, len(builds), size)]
    releases = _encode(before), _encode(after)
    found = [Share()] * len(shares)
    done = 0
    progress(done, len(builds))
    for place, result in _run(releases, shares, executor):
        found[place] = result
        done += len(shares[place])
        progress(done, len(builds))
    return Effects(
        before=before.release,
        after=after.release,
        builds=len(builds),
        undecided=sum(share.undecided for share in found),
        refused=sum(share.refused for share in found),
        edits=edits_between(before, after),
        # With the build as it was given: what comes back from another process is equal, but not written alike.
        effects=tuple(
            msgspec.structs.replace(effect, build=given[place])
            for given, share in zip(shares, found, strict=True)
            for place, effect in share.effects
        ),
    )


def compare(before: bytes, after: bytes, builds: tuple[Build, ...]) -> Share:
    """One share of the work, as an executor's worker does it.

    What is found follows from the share alone, so that it is the same wherever it is worked on.
    """
    old, new = _graph(before), _graph(after)
    causes = Causes(old.snapshot, new.snapshot)
    effects, undecided, refused = [], 0, 0
    for place, build in enumerate(builds):
        this, that = outcome_of(old, build), outcome_of(new, build)
        undecided += not (this.decided and that.decided)
        refused += this.verdict == that.verdict == "refused"
        found = causes.of(build, this, that)
        if found:
            effects.append((place, Effect(build, this, that, found)))
    return Share(tuple(effects), undecided, refused)


def _run(
    releases: tuple[bytes, bytes], shares: Iterable[tuple[Build, ...]], executor: Executor | None
) -> Iterator[tuple[int, Share]]:
    if executor is None:
        for place, share in enumerate(shares):
            yield place, compare(*releases, share)
        return
    futures: dict[Future[Share], int] = {
        executor.submit(compare, *releases, share): place for place, share in enumerate(shares)
    }
    try:
        for future in as_completed(futures):
            yield futures[future], future.result()
    finally:
        for future in futures:
            future.cancel()


_encode = msgspec.msgpack.Encoder().encode


@lru_cache(maxsize=2)
def _graph(content: bytes) -> ConstraintGraph:
    """The graph of a release as it is sent; a worker makes it once for all of its shares."""
    return ConstraintGraph(msgspec.msgpack.decode(content, type=Snapshot))
