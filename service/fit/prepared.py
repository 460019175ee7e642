"""A release made ready for the questions that the one before it was asked last, so that none of them comes late."""

from collections.abc import Callable
from contextlib import suppress

from service.fit.build import BuildError
from service.fit.engine import fit
from service.fit.front import fronts_of
from service.fit.graph import ConstraintGraph


def prepare(graph: ConstraintGraph, before: ConstraintGraph, is_enough: Callable[[], bool]) -> None:
    """Work out what the builds need that were asked of the release before, the last of them first.

    A build that names what this release does not hold, or holds otherwise, is passed over.
    """
    for front in fronts_of(before):
        if is_enough():
            return
        with suppress(BuildError):
            fit(graph, front.asked, diagnose=False)
