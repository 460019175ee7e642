"""What must hold where parts meet: what seals a joint, and that sizes stated of one joint agree."""

import re
from collections.abc import Iterator
from itertools import permutations
from typing import Final

from catalog.domain import Connection, Part, Port, Snapshot
from catalog.standards.flares import SIZE, parse_size
from catalog.vocabulary import MEASURES

_SEALS: Final = {"sealant": "sealant", "clamp": "a clamp", "metal": "metal on metal", "none": "nothing"}
"""In words, what seals without a gasket or an O-ring."""
_SAID: Final = re.compile(rf"(?<![\w./-])(?:{SIZE.strip('^$')})(?!\w)")


def faults_of_joints(snapshot: Snapshot) -> Iterator[str]:
    """What is wrong with seals and sizes, a sentence each."""
    uses = dict[str, dict[str, str]]()
    for connection in snapshot.connections.values():
        yield from _takes(f"connection {connection.name} takes", connection.gasket, connection, uses)
        yield from _title(connection)
    for part in snapshot.parts.values():
        for port in part.ports:
            met = snapshot.connections.get(port.connection)
            if met is not None:
                yield from _takes(f"part {part.number}: port {port.name} requires", port.gasket, met, uses)
        if part.attributes.get("shape") == "molded":
            yield from _molded(snapshot, part)
    for part in snapshot.parts.values():
        if part.kind == "gasket":
            yield from _thickness(part, uses.get(part.number, {}))


def _takes(what: str, gasket: str | None, connection: Connection, uses: dict[str, dict[str, str]]) -> Iterator[str]:
    """A joint sealed by something else takes no gasket; else notes where this one lies, by the connection's seal."""
    if gasket is None:
        return
    if connection.seal in _SEALS:
        where = "" if what.startswith("connection") else f"connection {connection.name} "
        yield f"{what} {gasket}, and {where}is sealed by {_SEALS[connection.seal]}, without a gasket"
    else:
        uses.setdefault(gasket, {}).setdefault(connection.seal, connection.name)


def _thickness(part: Part, used: dict[str, str]) -> Iterator[str]:
    """A gasket adds its compressed thickness to what is stacked up; an O-ring lies in a groove and adds nothing."""
    what, o_ring, flat = f"part {part.number}", used.get("o_ring"), used.get("gasket")
    if o_ring is not None and flat is not None:
        yield f"{what} is a gasket on connection {flat} and an O-ring on connection {o_ring}; one part is not both"
    elif o_ring is not None and "thickness" in part.measures:
        yield f"{what}: no stack counts its thickness, for it is the O-ring of connection {o_ring}: leave it out"
    elif o_ring is None and "thickness" not in part.measures and part.status == "active":
        yield f"{what}: every gasket needs the measure thickness, {MEASURES['thickness'].meaning}"


def _title(connection: Connection) -> Iterator[str]:
    """The words for a connection and its ends say no other size than its own."""
    if connection.size is None:
        return
    try:
        size = parse_size(connection.size)
    except ValueError:
        return  # told of by itself
    for text in (connection.title, *connection.ends):
        for found in _SAID.finditer(text):
            try:
                other = parse_size(found[0])
            except ValueError:
                other = (connection.sort, 0)
            if other[0] == size[0] and other != size:
                yield f'connection {connection.name}: "{text}" says {found[0]}, and its size is {connection.size}'


def _molded(snapshot: Snapshot, part: Part) -> Iterator[str]:
    """One end of a molded hose meets a port of the one part that it names, its other end one of the other."""
    named = [snapshot.parts.get(str(part.attributes.get(name))) for name in ("molded_from", "molded_to")]
    one, other = named
    if one is None or other is None:
        return  # told of by itself
    if any(_meets(snapshot, a, one) and _meets(snapshot, b, other) for a, b in permutations(part.ports, 2)):
        return
    ends = " and ".join(_said(snapshot, port) for port in part.ports)
    yield (
        f"part {part.number}: it is molded from {one.number} to {other.number}, and its ends ({ends}) do not meet a "
        "port of each: the sizes of their ports disagree"
    )


def _meets(snapshot: Snapshot, port: Port, part: Part) -> bool:
    connection = snapshot.connections.get(port.connection)
    if connection is None or port.end not in connection.ends:
        return True  # told of by itself
    end = connection.other_end(port.end)
    return any(other.connection == port.connection and other.end == end for other in part.ports)


def _said(snapshot: Snapshot, port: Port) -> str:
    connection = snapshot.connections.get(port.connection)
    return port.connection if connection is None else connection.size or connection.name
