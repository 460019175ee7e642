"""Between the loading of a release and its first answer: it is made ready for what is being asked, within bounds."""

import logging
import sys
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from typing import Final

from service.api.kept import MakeAhead
from service.fit.build import BuildError
from service.fit.graph import ConstraintGraph
from service.fit.prepared import prepare

READY_SECONDS: Final = 2.0
"""How long that may take; the build that is looked at then is still finished."""
log: Final = logging.getLogger("beltplane")


HANDED_OVER_SECONDS: Final = 0.0001
"""How long whoever reads a release keeps the interpreter while another thread waits for it."""
MOST_AHEAD: Final = 500
"""Answers made ahead at most."""
Answers = Callable[[int], Iterable[MakeAhead]]
"""What makes the answers that are asked for again and again, so many at most, the last used first."""


@contextmanager
def giving_way() -> Iterator[None]:
    """While a release is read beside the one that answers: whoever is asked has the interpreter back the sooner.

    For one thread at a time, in a process that does nothing else.
    """
    before = sys.getswitchinterval()
    sys.setswitchinterval(min(before, HANDED_OVER_SECONDS))
    try:
        yield
    finally:
        sys.setswitchinterval(before)


def make_ready(graph: ConstraintGraph, before: ConstraintGraph | None, answers: Answers) -> None:
    """Make the release ready for what the one before it, if any, was asked last; it answers also where that fails."""
    if before is None:
        return
    enough = time.monotonic() + READY_SECONDS
    try:
        prepare(graph, before, lambda: time.monotonic() > enough)
        for make in answers(MOST_AHEAD):
            if time.monotonic() > enough:
                break
            with suppress(BuildError):
                make(graph)
    except Exception:
        log.exception("release %s could not be made ready for what is asked", graph.snapshot.release.number)
