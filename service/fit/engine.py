"""The fit engine: ranked options for a build, and, where nothing fits, why not and what would."""

from typing import Final

import msgspec
from msgspec import UNSET

from service.fit.answer import Answer, Conflict, Remedy, Replaced
from service.fit.build import Build
from service.fit.conflicts import clash
from service.fit.diagnosis import MOST_CONFLICTS, conflict
from service.fit.graph import ConstraintGraph
from service.fit.question import Question, resolve
from service.fit.remedies import MOST_REMEDIES, remedies
from service.fit.search import Search, told
from service.fit.tries import Tries
from service.fit.whole import Settlement

MOST_RULED_OUT: Final = 20
_MAY_ASK: Final = ("accessory_drive", "front_cover", "crank_pulley", "radiator", "heater", "fan")
"""Fields that ask for checks; the first sentence says which were left out."""


def fit(graph: ConstraintGraph, build: Build) -> Answer:
    """Ranked options for a build, each with its checks, and the pumps that are ruled out.

    Every feasible pump and face path of at most three plates is considered.

    Raises
    ------
    BuildError
        When the build names what the release does not hold, or holds otherwise.
    """
    question = resolve(graph.snapshot, build)
    search = Search(graph, question, Settlement(graph, question))
    search.run(build.limit, build.paths_per_pump)
    listed = search.listed
    why = _explained(graph, question) if search.decided and not listed else _NOTHING
    ruled_out = search.ruled_out() if search.decided else []
    return Answer(
        build=question.build,
        verdict="blocked" if not listed else "fits" if listed[0].verdict == "ok" else "measure_first",
        not_checked=_left_out(question),
        replaced=tuple(Replaced(*replaced) for replaced in question.replaced),
        options=tuple(
            told(search.settlement, option, following, rank)
            for rank, (option, following) in enumerate(zip(listed, [*listed[1:], None][: len(listed)], strict=True), 1)
        ),
        pumps_that_fit=len(search.fitting),
        ruled_out=tuple(ruled_out[:MOST_RULED_OUT]),
        ruled_out_total=len(ruled_out),
        conflicts=why.conflicts,
        remedies=why.remedies,
        truncated=why.truncated,
        decided=search.decided and search.settlement.decided and why.decided,
    )


class _Why(msgspec.Struct, frozen=True):
    """Why nothing fits, and what would."""

    conflicts: tuple[Conflict, ...] = ()
    remedies: tuple[Remedy, ...] = ()
    truncated: bool = False
    decided: bool = True


_NOTHING: Final = _Why()


def _explained(graph: ConstraintGraph, question: Question) -> _Why:
    tries = Tries(graph, question)
    found = clash(tries.requirements, tries.meets, MOST_CONFLICTS)
    mended = remedies(tries, found.corrections)
    return _Why(
        conflicts=tuple(conflict(tries, requirements) for requirements in found.conflicts),
        remedies=tuple(mended[:MOST_REMEDIES]),
        truncated=found.truncated or len(mended) > MOST_REMEDIES,
        decided=found.decided,
    )


def _left_out(question: Question) -> tuple[str, ...]:
    """The fields that would have asked for checks and were left out."""
    build = question.build
    given = {field for field in _MAY_ASK if getattr(build, field) is not UNSET}
    if build.radiator_ports is not UNSET:
        given.add("radiator")
    return tuple(field for field in _MAY_ASK if field not in given)
