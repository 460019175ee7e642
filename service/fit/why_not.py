"""Why a build has no option, and what would give it one."""

from typing import Final

import msgspec

from service.fit.answer import Conflict, Remedy
from service.fit.conflicts import clash
from service.fit.diagnosis import MOST_CONFLICTS, conflict
from service.fit.graph import ConstraintGraph
from service.fit.question import Question
from service.fit.remedies import ask_again_without, remedies
from service.fit.tries import Tries


class WhyNot(msgspec.Struct, frozen=True):
    """Every minimal conflict of a blocked build, every minimal remedy, and what it could be asked again without."""

    conflicts: tuple[Conflict, ...] = ()
    remedies: tuple[Remedy, ...] = ()
    ask_again_without: tuple[str, ...] = ()
    """Fields that say what is on the car, without any one of which there is an option."""
    truncated: bool = False
    """Whether there may be more conflicts or remedies."""
    decided: bool = True


NOTHING_WRONG: Final = WhyNot()


def why_not(graph: ConstraintGraph, question: Question) -> WhyNot:
    """Why a question without an option has none."""
    tries = Tries(graph, question)
    found = clash(tries.requirements, tries.meets, MOST_CONFLICTS)
    mended = remedies(tries, found.corrections)
    return WhyNot(
        conflicts=tuple(conflict(tries, requirements) for requirements in found.conflicts),
        remedies=mended.found,
        ask_again_without=ask_again_without(found.corrections),
        truncated=found.truncated or mended.truncated,
        decided=found.decided,
    )
