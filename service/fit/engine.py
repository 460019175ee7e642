"""The fit engine: ranked options for a build, and, where nothing fits, why not and what would."""

from typing import Final

from service.fit.answer import Answer, Replaced
from service.fit.build import Build
from service.fit.explain import explained
from service.fit.graph import ConstraintGraph
from service.fit.question import resolve
from service.fit.search import Search, told
from service.fit.told_once import told_of
from service.fit.whole import settlement_of
from service.fit.why_not import NOTHING_WRONG, why_not

MOST_RULED_OUT: Final = 20


def fit(graph: ConstraintGraph, build: Build, *, explain: bool = False, diagnose: bool = True) -> Answer:
    """Ranked options for a build, each with its checks, and the pumps that are ruled out.

    Every feasible pump and face path of at most three plates is considered. With `explain` the answer says as well
    what would settle what is in doubt, what to ask, and why the first option is first; that takes about as long again.
    Where nothing fits, it says why and what would, unless `diagnose` is left out; that takes several times as long.

    Raises
    ------
    BuildError
        When the build names what the release does not hold, or holds otherwise.
    """
    question = resolve(graph.snapshot, build)
    with settlement_of(graph, question) as settlement:
        return _answer(Search(graph, question, settlement), explain=explain, diagnose=diagnose)


def _answer(search: Search, *, explain: bool, diagnose: bool) -> Answer:
    graph, question, build = search.graph, search.question, search.question.build
    search.run(build.limit, build.paths_per_pump)
    listed = search.listed
    why = why_not(graph, question) if diagnose and search.decided and not listed else NOTHING_WRONG
    missed = search.missed() if search.decided else None
    ruled_out, total = ([], 0) if missed is None else missed.told(MOST_RULED_OUT)
    options = tuple(
        told(search.settlement, option, following, rank)
        for rank, (option, following) in enumerate(zip(listed, [*listed[1:], None][: len(listed)], strict=True), 1)
    )
    answer = Answer(
        build=question.build,
        verdict="blocked" if not listed else "fits" if listed[0].verdict == "ok" else "measure_first",
        told=told_of(graph, question, options, ruled_out, why.remedies),
        replaced=tuple(Replaced(*replaced) for replaced in question.replaced),
        challenged=question.challenged,
        options=options,
        pumps_that_fit=len(search.fitting),
        fitting=tuple(sorted(search.fitting)),
        ruled_out=tuple(ruled_out),
        ruled_out_total=total,
        conflicts=why.conflicts,
        remedies=why.remedies,
        ask_again_without=why.ask_again_without,
        truncated=why.truncated,
        decided=search.decided and search.settlement.decided and why.decided,
    )
    return explained(search, answer, missed) if explain else answer
