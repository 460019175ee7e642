"""Why a build has no option, and what would give it one."""

from typing import Final

import msgspec

from service.fit.answer import Conflict, Remedy
from service.fit.conflicts import clash
from service.fit.diagnosis import MOST_CONFLICTS, conflict
from service.fit.graph import ConstraintGraph
from service.fit.question import Question
from service.fit.remedies import MOST_REMEDIES, remedies
from service.fit.tries import Tries


class WhyNot(msgspec.Struct, frozen=True):
    """Every minimal conflict of a blocked build, and every minimal remedy."""

    conflicts: tuple[Conflict, ...] = ()
    remedies: tuple[Remedy, ...] = ()
    truncated: bool = False
    """Whether there may be more of either."""
    decided: bool = True


NOTHING_WRONG: Final = WhyNot()


def why_not(graph: ConstraintGraph, question: Question) -> WhyNot:
    """Why a question without an option has none."""
    tries = Tries(graph, question)
    found = clash(tries.requirements, tries.meets, MOST_CONFLICTS)
    mended = remedies(tries, found.corrections)
    return WhyNot(
        conflicts=tuple(conflict(tries, requirements) for requirements in found.conflicts),
        remedies=tuple(mended[:MOST_REMEDIES]),
        truncated=found.truncated or len(mended) > MOST_REMEDIES,
        decided=found.decided,
    )
