"""Face paths: from the block's pump face through plates and their gaskets to a pump's flange."""

from collections.abc import Iterator
from typing import Final

import msgspec

from catalog.domain import Connection, Part, Port
from service.fit.graph import ConstraintGraph
from service.fit.question import Question
from service.fit.stack import NOTHING, Sum

MOST_PLATES: Final = 3


class Joint(msgspec.Struct, frozen=True):
    """Where two parts meet on a face, with the gasket between them where it takes one."""

    connection: Connection
    gasket: Part | None

    @property
    def thickness(self) -> Sum:
        """The compressed gasket's thickness; an O-ring lies in its groove and adds nothing."""
        if self.gasket is None or self.connection.seal != "gasket":
            return NOTHING
        return Sum.of(self.gasket.measures["thickness"])


class FacePath(msgspec.Struct, frozen=True):
    """Plates from the block outward, the joint under each, and the port that is still open."""

    plates: tuple[Part, ...]
    joints: tuple[Joint, ...]
    open: Port
    total: Sum
    """Thickness so far: where the face of the open port sits."""


class Seat(msgspec.Struct, frozen=True):
    """A pump on the end of a face path."""

    plates: tuple[Part, ...]
    joints: tuple[Joint, ...]
    flange: Sum
    """Where the pump's flange sits."""

    @property
    def key(self) -> tuple[str, ...]:
        """The plates with their counts, whatever their order."""
        return tuple(sorted(plate.number for plate in self.plates))

    @property
    def order(self) -> tuple[str, ...]:
        """The plates from the block outward."""
        return tuple(plate.number for plate in self.plates)


def face_paths(graph: ConstraintGraph, question: Question) -> Iterator[FacePath]:
    """Every path of at most three plates from the engine's pump faces, each order of its plates that differs.

    Two neighbouring spacers of the same face whose ports ask for the same gaskets give the same joints in
    either order, so only the one in order of part number is walked.
    """
    for port in question.slots["engine"].ports:
        if port.role == "pump_face":
            yield from _extended(graph, question, FacePath((), (), port, NOTHING))


def _extended(graph: ConstraintGraph, question: Question, path: FacePath) -> Iterator[FacePath]:
    yield path
    if len(path.plates) == MOST_PLATES:
        return
    for found, mount in graph.meeting(path.open):
        if found.kind not in ("spacer", "adapter_plate") or mount.role != "mount" or not question.allows(found):
            continue
        plate = question.part(found)
        if path.plates and plate.number < path.plates[-1].number and _alike(plate, path.plates[-1]):
            continue
        joint = make_joint(graph, question, path.open, mount)
        if joint is None:
            continue
        total = path.total + joint.thickness + Sum.of(plate.measures["thickness"])
        for port in plate.ports:
            if port.role == "pump_face":
                yield from _extended(
                    graph, question, FacePath((*path.plates, plate), (*path.joints, joint), port, total)
                )


def _alike(one: Part, other: Part) -> bool:
    """Whether two plates can change places without changing a joint or a clamped group."""

    def ports(plate: Part) -> list[tuple[str, str, str, str | None]]:
        return sorted((port.role, port.connection, port.end, port.gasket) for port in plate.ports)

    return one.kind == other.kind == "spacer" and ports(one) == ports(other) and len(one.ports) == 2


def seat(graph: ConstraintGraph, question: Question, path: FacePath, mount: Port) -> Seat | None:
    """The pump with this mount at the end of the path; None where their joint cannot be sealed."""
    joint = make_joint(graph, question, path.open, mount)
    if joint is None:
        return None
    return Seat(path.plates, (*path.joints, joint), path.total + joint.thickness)


def make_joint(graph: ConstraintGraph, question: Question, inner: Port, outer: Port) -> Joint | None:
    """The joint of two ports that meet; None where they require different gaskets or theirs may not be used.

    An O-ring that is not listed for itself comes with its part.
    """
    connection = graph.connection(inner.connection)
    if connection.seal not in ("gasket", "o_ring"):
        return Joint(connection, None)
    required = {gasket for gasket in (inner.gasket, outer.gasket) if gasket is not None}
    if len(required) > 1:
        return None
    number = required.pop() if required else connection.gasket
    if number is None and connection.seal == "o_ring":
        return Joint(connection, None)
    gasket = None if number is None else graph.snapshot.parts.get(number)
    if gasket is None or not question.allows(gasket):
        return None
    return Joint(connection, question.part(gasket))
