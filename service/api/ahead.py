"""An answer made from a release that does not answer yet, so that it is at hand when that one does."""

from contextlib import suppress

from service.api.answering import basis_of, encoded, held_by, in_coding, tag_of
from service.api.codings import Coding
from service.api.kept import BeingMade, Kept, MakeAhead
from service.api.operations import Asked, Operation
from service.fit.graph import ConstraintGraph


def make_ahead(operation: Operation, asked: Asked, coding: Coding, kept: Kept) -> MakeAhead | None:
    """What answers this question from another release, and keeps that; None where it follows from more than one."""
    answer = operation.ahead
    if answer is None:
        return None

    def make(graph: ConstraintGraph) -> None:
        reply = answer(asked, graph)
        if reply.key is None:
            return
        basis = basis_of(reply, reply.key)
        with suppress(BeingMade):  # for who asked for that release by its number
            kept.make(tag_of(coding, basis), lambda: in_coding(encoded(reply.make()), coding), held_by(basis), make)

    return make
