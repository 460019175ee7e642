"""What if: a build beside changes of it, each answered in full and told by what differs. Pure, like the engine."""

from typing import Final

import msgspec

from catalog.domain import Price, Snapshot
from service.fit.answer import Answer, Option
from service.fit.build import Build, BuildError, Fault
from service.fit.change import Change, changed, faults_of
from service.fit.engine import fit
from service.fit.graph import ConstraintGraph
from service.fit.question import resolve
from service.fit.told import Told
from service.fit.told_once import together

MOST_CHANGES: Final = 20


class Changed(msgspec.Struct, frozen=True):
    """A change of the build, and how its answer differs from the build's own."""

    change: Change
    answer: Answer
    appeared: tuple[str, ...] | None
    """Pumps that have an option only with the change; None where a search was not decided."""
    went: tuple[str, ...] | None
    """Pumps that have an option only without it; None where a search was not decided."""
    price_difference: Price | None
    """What its best option costs more than the build's own best; None where either is unknown."""


class Comparison(msgspec.Struct, frozen=True):
    """The build's own answer, and each change's. Every answer holds the best option alone."""

    answer: Answer
    changes: tuple[Changed, ...]
    told: Told
    """What all of them tell together; `not_checked` is of the build itself."""


def compare(graph: ConstraintGraph, build: Build, changes: list[Change]) -> Comparison:
    """Ask the build and each change of it; 21 questions at most.

    Raises
    ------
    BuildError
        With every fault of the build (at `/build/...`) and of each change (at `/changes/3/...`).
    """
    faults = _faults(graph.snapshot, build, changes)
    if faults:
        raise BuildError(faults)
    own = _answer(graph, build)
    changed_ = tuple(_changed(own, change, _answer(graph, changed(build, change))) for change in changes)
    told = together([own.told, *(change.answer.told for change in changed_)])
    return Comparison(own, changed_, msgspec.structs.replace(told, not_checked=own.not_checked))


def best(answer: Answer) -> Option | None:
    """The best option of an answer; None where it has none."""
    return answer.options[0] if answer.options else None


def _answer(graph: ConstraintGraph, build: Build) -> Answer:
    """The answer with the best option alone: all else is not told, and so not worked out."""
    found = fit(graph, msgspec.structs.replace(build, limit=1, paths_per_pump=1), diagnose=False)
    asked = msgspec.structs.replace(found.build, limit=build.limit, paths_per_pump=build.paths_per_pump)
    return msgspec.structs.replace(found, build=asked)


def _changed(own: Answer, change: Change, answer: Answer) -> Changed:
    decided = own.decided and answer.decided
    before, after = set(own.fitting), set(answer.fitting)
    return Changed(
        change=change,
        answer=answer,
        appeared=tuple(sorted(after - before)) if decided else None,
        went=tuple(sorted(before - after)) if decided else None,
        price_difference=_price_difference(best(own), best(answer)),
    )


def _price_difference(own: Option | None, other: Option | None) -> Price | None:
    if own is None or other is None or own.buy_price is None or other.buy_price is None:
        return None
    return Price(other.buy_price.amount - own.buy_price.amount, other.buy_price.currency)


def _faults(snapshot: Snapshot, build: Build, changes: list[Change]) -> list[Fault]:
    of_build = _faults_of_build(snapshot, build)
    found = [msgspec.structs.replace(fault, pointer=f"/build{fault.pointer}") for fault in of_build]
    for place, change in enumerate(changes):
        of_change = faults_of(build, change)
        if not of_change:
            of_change = [
                msgspec.structs.replace(fault, pointer=_pointer(change, fault.pointer))
                for fault in _faults_of_build(snapshot, changed(build, change))
                if fault not in of_build or _is_set(change, fault.pointer)
            ]
        found += [msgspec.structs.replace(fault, pointer=f"/changes/{place}{fault.pointer}") for fault in of_change]
    return found


def _faults_of_build(snapshot: Snapshot, build: Build) -> list[Fault]:
    try:
        resolve(snapshot, build)
    except BuildError as error:
        return error.faults
    return []


def _is_set(change: Change, pointer: str) -> bool:
    """Whether a place in the changed build is one that the change itself says."""
    steps = pointer.split("/")[1:]
    return ".".join(steps[:2] if steps[0] == "must" else steps[:1]) in change.sets


def _pointer(change: Change, pointer: str) -> str:
    """The place in the change that is at fault; the whole change where the build's own word clashes with it."""
    return f"/set{pointer}" if _is_set(change, pointer) else ""
