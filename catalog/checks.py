"""What must hold of a whole catalog before it is published. Pure: a snapshot in, a list of faults out."""

import re
from collections.abc import Iterable, Iterator

import networkx as nx

from catalog.checks_of_joints import faults_of_joints
from catalog.checks_of_parts import faults_of_part
from catalog.domain import Connection, Cue, Part, Port, Rule, Snapshot
from catalog.standards.flares import parse_size
from catalog.vocabulary import CENTRE, NAME, PART_NUMBER, RESERVED, SETTLED_BY_TEST, free_zones


def check_snapshot(snapshot: Snapshot) -> list[str]:
    """Everything that is wrong with a catalog, a sentence each; empty where nothing is."""
    faults = list(_names(snapshot))
    for connection in snapshot.connections.values():
        faults += _connection(snapshot, connection)
    for part in snapshot.parts.values():
        faults += faults_of_part(part)
        faults += _ports(snapshot, part)
        faults += _references(snapshot, part)
        if part.status == "active":
            faults += _needed_ports(snapshot, part)
    for rule in snapshot.rules:
        faults += _rule(snapshot, rule)
    faults += faults_of_joints(snapshot)
    faults += _free_zones(snapshot)
    faults += _cues(snapshot)
    faults += _replacement_cycles(snapshot.rules)
    faults += _currencies(snapshot.parts.values())
    return faults


def _free_zones(snapshot: Snapshot) -> Iterator[str]:
    """A zone that no cover names is a slip of the pen: nothing would ever be held against it."""
    covers = (part for part in snapshot.parts.values() if part.kind == "front_cover")
    named = {name.partition(".")[2] for cover in covers for name in cover.measures if name.startswith("cover_height")}
    for part in snapshot.parts.values():
        for zone in sorted(free_zones(part) - named):
            yield f"part {part.number}: free_zones names {zone or CENTRE}, which no cover of the catalog has"


def _names(snapshot: Snapshot) -> Iterator[str]:
    """Numbers, aliases and connection names share one space, in any case."""
    taken = {name.casefold(): f"connection {name}" for name in snapshot.connections}
    for part in snapshot.parts.values():
        for title, reference in [("", part.number), *((f": alias {alias}", alias) for alias in part.aliases)]:
            what = f"part {part.number}{title}"
            if not re.fullmatch(PART_NUMBER, reference):
                yield f"{what} is not made as part numbers are: at most 40 letters, digits, full stops, _ and -"
            if reference.casefold() in RESERVED:
                yield f"{what} is a word that means something in a build"
            if reference.casefold() in taken:
                yield f"{what} is also the name of {taken[reference.casefold()]}"
            taken[reference.casefold()] = f"part {part.number}"


def _is_gasket(snapshot: Snapshot, number: str) -> bool:
    part = snapshot.parts.get(number)
    return part is not None and part.kind == "gasket"


def _connection(snapshot: Snapshot, connection: Connection) -> Iterator[str]:
    what = f"connection {connection.name}"
    if not re.fullmatch(NAME, connection.name):
        yield f"{what} is not named in lower case words joined by underscores"
    if connection.ends[0] == connection.ends[1]:
        yield f"{what} has two ends of one name"
    if connection.pieces_per_layer < 1 or connection.bolts < 0:
        yield f"{what} needs one piece a layer at least, and no fewer than no bolts"
    if connection.seal == "gasket" and connection.gasket is None:
        yield f"{what} seals by a gasket and names none"
    if connection.gasket is not None and not _is_gasket(snapshot, connection.gasket):
        yield f"{what} takes {connection.gasket}, which is not a gasket of this catalog"
    yield from _size(connection)


def _size(connection: Connection) -> Iterator[str]:
    """A size is one that people say, and a 37-degree flare is one of the published ones."""
    if connection.size is None:
        if connection.sort == "flare_37":
            yield f"connection {connection.name} is a 37-degree flare and says no size"
        return
    try:
        sort, _ = parse_size(connection.size)
    except ValueError as fault:
        yield f"connection {connection.name}: {fault}"
        return
    # What is said of the size of other joints is theirs alone.
    if sort != connection.sort and {sort, connection.sort} & {"flare_37", "hose"}:
        yield f"connection {connection.name} is of sort {connection.sort} and its size is that of a {sort}"


def _references(snapshot: Snapshot, part: Part) -> Iterator[str]:
    """Attributes that name another part name one that is there."""
    for name in ("molded_from", "molded_to", "belt_without_pump"):
        other = part.attributes.get(name)
        if other is not None and other not in snapshot.parts:
            yield f"part {part.number}: {name} names {other}, which is no part of this catalog"
    molded = part.attributes.get("shape") == "molded"
    if molded != ("molded_from" in part.attributes and "molded_to" in part.attributes):
        yield f"part {part.number}: a molded hose, and no other, says molded_from and molded_to"


def _ports(snapshot: Snapshot, part: Part) -> Iterator[str]:
    for port in part.ports:
        what = f"part {part.number}: port {port.name}"
        connection = snapshot.connections.get(port.connection)
        if not re.fullmatch(NAME, port.name):
            yield f"{what} is not named in lower case words joined by underscores"
        if connection is None:
            yield f"{what} is on connection {port.connection}, which there is not"
        elif port.end not in connection.ends:
            yield f"{what} is the end {port.end} of {connection.name}, whose ends are {' and '.join(connection.ends)}"
        if port.gasket is not None and not _is_gasket(snapshot, port.gasket):
            yield f"{what} requires {port.gasket}, which is not a gasket of this catalog"


def _needed_ports(snapshot: Snapshot, part: Part) -> Iterator[str]:
    """A part that stands in the stack needs the faces by which it does; the first end is nearer the block."""
    what = f"part {part.number}: every {part.kind} needs"
    faces = [port for port in part.ports if port.role == "pump_face" and _place(snapshot, port) == 0]
    mounts = [port for port in part.ports if port.role == "mount" and _place(snapshot, port) == 1]
    if part.kind == "engine" and not faces:
        yield f"{what} a pump_face on the first end of a connection"
    if part.kind == "water_pump" and not mounts:
        yield f"{what} a mount on the second end of a connection"
    if part.kind in {"spacer", "adapter_plate"}:
        one_each = len(faces) == len(mounts) == 1
        same = one_each and faces[0].connection == mounts[0].connection
        if not one_each or same != (part.kind == "spacer"):
            which = "the same connection" if part.kind == "spacer" else "two different connections"
            yield f"{what} one mount (second end) and one pump_face (first end) on {which}"


def _place(snapshot: Snapshot, port: Port) -> int | None:
    connection = snapshot.connections.get(port.connection)
    if connection is None or port.end not in connection.ends:
        return None
    return connection.ends.index(port.end)


def _rule(snapshot: Snapshot, rule: Rule) -> Iterator[str]:
    what = f"rule {rule.name}"
    if not re.fullmatch(NAME, rule.name):
        yield f"{what} is not named in lower case words joined by underscores"
    if not rule.others:
        yield f"{what} names no other part"
    if not rule.kind.startswith("tested") and len(set(rule.others)) != len(rule.others):
        # A tested combination may hold two of one spacer.
        yield f"{what} names a part twice"
    for number in (rule.part, *rule.others):
        if number not in snapshot.parts:
            yield f"{what} names part {number}, which there is not"
    if rule.part in rule.others:
        yield f"{what} is about part {rule.part} and itself"
    if rule.settles and rule.kind != "tested_fit":
        yield f"{what} settles checks and is not a tested fit"
    for code in rule.settles:
        if code not in SETTLED_BY_TEST:
            yield f"{what} settles {code}, which no test settles"


def _cues(snapshot: Snapshot) -> Iterator[str]:
    """A cue is one question with the same answers wherever it stands, or what was seen would mean two things."""
    asked: dict[str, tuple[str, Cue]] = {}
    for part in snapshot.parts.values():
        for cue in part.cues:
            first, known = asked.setdefault(cue.name, (part.number, cue))
            if (cue.question, cue.answers, cue.ease) != (known.question, known.answers, known.ease):
                yield f"part {part.number}: cue {cue.name} asks something else than that of part {first}"


def _replacement_cycles(rules: Iterable[Rule]) -> Iterator[str]:
    """Each part from which replacements lead back to itself."""
    replaced: nx.DiGraph[str] = nx.DiGraph()
    for rule in rules:
        if rule.kind == "replaced_by":
            replaced.add_edges_from((rule.part, other) for other in rule.others)
    for parts in sorted(sorted(parts) for parts in nx.strongly_connected_components(replaced)):
        for part in parts:
            if len(parts) > 1 or replaced.has_edge(part, part):
                yield f"part {part} is replaced, step by step, by itself"


def _currencies(parts: Iterable[Part]) -> Iterator[str]:
    currencies = sorted({part.price.currency for part in parts if part.price is not None})
    if len(currencies) > 1:
        yield f"prices are in {' and '.join(currencies)}; a catalog has one currency"
    for part in parts:
        if part.price is not None and part.price.amount < 0:
            yield f"part {part.number}: its price is negative"
