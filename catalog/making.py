"""From the rows of a release to its structs, table by table.

Of a hundred thousand parts most are alike in some way. What rows say alike is one object, which is what a large
catalog takes a third of the memory for; and no table's rows are needed once the next one's are read.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import cache
from typing import Any, Final

import msgspec

from catalog.domain import AttributeValue, Band, Connection, Cue, Measure, Part, Port, Price, Release, Rule, Snapshot

NO_CURRENCY: Final = "XXX"
"""ISO 4217's code for no currency: of a catalog without a price."""
Row = tuple[Any, ...]
Rows = Mapping[str, Sequence[Row]]
"""For each versioned table its rows' content, in the order of the table's columns, sorted by key."""


def snapshot_from(rows: Rows, release: Release, currency: str | None = None) -> Snapshot:
    """The structs that the rows say; the currency is that of the prices where it is left out."""
    making = Making()
    for table, found in rows.items():
        making.add(table, found)
    return making.snapshot(release, currency)


class Making:
    """A snapshot in the making: give it the rows of every table, then ask for it."""

    def __init__(self) -> None:
        self._made: dict[str, Any] = {}

    def add(self, table: str, rows: Sequence[Row]) -> None:
        """Take over all rows of one table."""
        self._made[table] = _MAKE[table](rows)

    def snapshot(self, release: Release, currency: str | None = None) -> Snapshot:
        """The snapshot; the currency is that of the prices where it is left out."""
        made = self._made
        prices: dict[str, Price] = made["price"]
        currency = currency or min({price.currency for price in prices.values()}, default=NO_CURRENCY)
        none: tuple[Any, ...] = ()
        nothing: dict[str, Any] = {}
        parts = {
            number: Part(
                number,
                kind,
                name,
                status,
                recommended,
                made["alias"].get(number, none),
                made["attribute"].get(number, nothing),
                made["measure"].get(number, nothing),
                made["band"].get(number, none),
                made["port"].get(number, none),
                made["cue"].get(number, none),
                prices.get(number),
            )
            for number, kind, name, status, recommended in made["part"]
        }
        return Snapshot(release, currency, parts, made["connection"], made["rule"])


def sharing(snapshot: Snapshot, other: Snapshot | None) -> Snapshot:
    """The same snapshot, with what another says alike in the other's objects: a release changes few parts.

    So two releases beside each other take little more memory than one.
    """
    if other is None:
        return snapshot
    parts: dict[str, Part] = {}
    for number, part in snapshot.parts.items():
        before = other.parts.get(number)
        if before is None or not _same(before, part):
            parts[number] = part
        else:
            parts[before.number] = before
    connections = {
        name: known if (known := other.connections.get(name)) == connection else connection
        for name, connection in snapshot.connections.items()
    }
    return msgspec.structs.replace(snapshot, parts=parts, connections=connections)


def _same(one: Part, other: Part) -> bool:
    """Whether two parts are equal; that something is so (True) is not that there is 1 of it, though Python says so."""
    if one != other:
        return False
    mine, theirs = one.attributes, other.attributes
    return mine is theirs or all(type(mine[name]) is type(theirs[name]) for name in mine)


def _by_part(pairs: Iterable[tuple[str, Any]], make: Callable[[tuple[Any, ...]], Any]) -> dict[str, Any]:
    """What is made of all that goes with each part."""
    found: dict[str, list[Any]] = {}
    for part, item in pairs:
        found.setdefault(part, []).append(item)
    once = cache(make)
    return {part: once(tuple(items)) for part, items in found.items()}


def _aliases(rows: Sequence[Row]) -> dict[str, tuple[str, ...]]:
    return _by_part(((part, alias) for alias, part in rows), tuple)


def _attributes(rows: Sequence[Row]) -> dict[str, dict[str, AttributeValue]]:
    return _by_part(((row[0], row[1:]) for row in rows), lambda items: {name: _attribute(text) for name, text in items})


def _measures(rows: Sequence[Row]) -> dict[str, dict[str, Measure]]:
    measure = cache(Measure)
    return _by_part(((row[0], row[1:]) for row in rows), lambda items: {item[0]: measure(*item) for item in items})


def _bands(rows: Sequence[Row]) -> dict[str, tuple[Band, ...]]:
    return _by_part(((row[0], row[2:]) for row in rows), lambda items: tuple([Band(*item) for item in items]))


def _ports(rows: Sequence[Row]) -> dict[str, tuple[Port, ...]]:
    port = cache(Port)
    return _by_part(((row[0], row[1:]) for row in rows), lambda items: tuple([port(*item) for item in items]))


def _cues(rows: Sequence[Row]) -> dict[str, tuple[Cue, ...]]:
    cue = cache(_cue)
    return _by_part(((row[0], row[1:]) for row in rows), lambda items: tuple([cue(*item) for item in items]))


def _cue(name: str, question: str, answer: str, answers: str, ease: Any, error_percent: int) -> Cue:
    return Cue(name, question, answer, _texts(answers), ease, error_percent)


def _prices(rows: Sequence[Row]) -> dict[str, Price]:
    price = cache(Price)
    return {part: price(amount, currency) for part, amount, currency in rows}


def _connections(rows: Sequence[Row]) -> dict[str, Connection]:
    return {
        name: Connection(name, title, sort, msgspec.json.decode(ends, type=tuple[str, str]), *rest)
        for name, title, sort, ends, *rest in rows
    }


def _rules(rows: Sequence[Row]) -> tuple[Rule, ...]:
    return tuple(
        Rule(name, kind, part, _texts(others), _texts(settles), source)
        for name, kind, part, others, settles, source in rows
    )


_texts: Final = msgspec.json.Decoder(tuple[str, ...]).decode
_attribute: Final = msgspec.json.Decoder(AttributeValue).decode
_MAKE: Final[Mapping[str, Callable[[Sequence[Row]], Any]]] = {
    "alias": _aliases,
    "attribute": _attributes,
    "band": _bands,
    "connection": _connections,
    "cue": _cues,
    "measure": _measures,
    "part": list,
    "port": _ports,
    "price": _prices,
    "rule": _rules,
}
