"""How narrow a line may be: every nominal size along it, held against the smaller of the ports that it joins.

The size of a port may not be known. A line is then in doubt just where some size that the port could have would
decide: so each connection along a line is judged by itself, and no line need be followed to its end for it.
"""

from collections.abc import Iterable
from fractions import Fraction
from typing import Final, Literal, NamedTuple

from service.fit.graph import ConstraintGraph

NARROWEST: Final = Fraction(3, 4)
"""The least share of the smaller of its ports that a line may narrow to (common practice, no source)."""
Width = Literal["ok", "not_known", "fails"]


class Bore(NamedTuple):
    """The ports against which the sizes along a line are held."""

    main: bool
    """Whether it is a main line, which no connection of a heater, a bypass or a vent may be part of."""
    of: int | None
    """The smaller nominal size of its ports as far as they are known, nm."""
    said: str
    """How that one is called."""
    sure: bool
    """Whether the sizes of all of them are known."""
    free: tuple[str, ...]
    """Connections of its ports that are of no known size, or of a heater: a line may run on them all the same."""


def bore_of(graph: ConstraintGraph, ports: Iterable[str], *, main: bool) -> Bore:
    """The bore of a line between ports, each told by its connection."""
    names = sorted(set(ports))
    known = [(graph.sizes[name], graph.connection(name).size or "") for name in names if name in graph.sizes]
    of, said = min(known, default=(None, ""))
    free = tuple(name for name in names if name not in graph.sizes or name in graph.branches)
    return Bore(main, of, said, len(known) == len(names), free)


def width(graph: ConstraintGraph, bore: Bore, connection: str) -> Width:
    """Whether a line of this bore may run on a connection."""
    if connection in bore.free:
        return "ok"
    if bore.main and connection in graph.branches:
        return "fails"
    size = graph.sizes.get(connection)
    if size is None or bore.of is None:
        return "not_known"
    if size >= NARROWEST * bore.of:
        return "ok"
    return "fails" if bore.sure else "not_known"
