"""Reading one release: SQL rows to an immutable snapshot, and the digest of what they say."""

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from operator import itemgetter
from typing import Any, Final, TypeVar

import msgspec
import sqlalchemy as sa

from catalog import tables
from catalog.database import DatabaseFault
from catalog.domain import (
    AttributeValue,
    Band,
    Connection,
    Cue,
    Measure,
    Part,
    Port,
    Price,
    Release,
    Rule,
    Snapshot,
)
from catalog.releases import find_release, list_releases

T = TypeVar("T")
NO_CURRENCY: Final = "XXX"
"""ISO 4217's code for no currency: of a catalog without a price."""
_AT_ONCE: Final = 5_000
"""Rows fetched at a time, so that a driver does not hold a whole table beside ours."""
Rows = Mapping[str, Sequence[tuple[Any, ...]]]
"""For each versioned table its rows' content, in the order of the table's columns, sorted by key."""


class WrongDigest(DatabaseFault):
    """The rows of a release are not what was published."""


def read_snapshot(connection: sa.Connection, reference: int | str | None = None) -> Snapshot:
    """Everything that a release says; `reference` is its number or name, None the newest.

    Parts, connections and rules come in the order of their keys, whatever the order of the rows.

    Raises
    ------
    UnknownRelease, WithdrawnRelease
    WrongDigest
        When the rows do not give the digest under which the release was published.
    """
    release, currency = find_release(connection, reference)
    rows = rows_at(connection, release.number)
    digest = digest_of(rows)
    if digest != release.digest:
        raise WrongDigest(
            f"Release {release.number} does not hold what was published: its digest is {digest}, not {release.digest}."
        )
    snapshot = snapshot_from(rows, release, currency)
    return msgspec.structs.replace(snapshot, retired_in=_retired_in(connection, release.number))


def _retired_in(connection: sa.Connection, number: int) -> dict[str, Release]:
    """Since which release each retired part is so; it may have been revised since."""
    part, before = tables.part, tables.part.alias()
    retired = sa.select(part.c.number).where(tables.seen_by(part, number), part.c.status == "retired")
    query = sa.select(before.c.number, before.c.since, before.c.status).where(
        before.c.number.in_(retired), before.c.since <= number
    )
    since: dict[str, int] = {}
    for key, start, status in sorted(tuple(row) for row in connection.execute(query)):
        if status == "retired":
            since.setdefault(key, start)
        else:
            since.pop(key, None)
    releases = {release.number: release for release in list_releases(connection)}
    return {key: releases[start] for key, start in since.items()}


def rows_at(connection: sa.Connection, number: int) -> Rows:
    """The rows that release `number` sees."""
    found: dict[str, list[tuple[Any, ...]]] = {}
    # Most texts stand in many rows ("drawing", a part's number): one object serves for all that are equal.
    shared: dict[str, str] = {}
    for table in tables.VERSIONED:
        query = sa.select(*tables.content_of(table)).where(tables.seen_by(table, number))
        result = connection.execute(query, execution_options={"yield_per": _AT_ONCE})
        rows = [
            tuple([shared.setdefault(value, value) if type(value) is str else value for value in row]) for row in result
        ]
        # Sorted here: databases order text by their own collations. The key columns come first.
        rows.sort(key=itemgetter(*range(len(tables.key_of(table)))))
        found[table.name] = rows
    return found


def digest_of(rows: Rows) -> str:
    """SHA-256 of the canonical JSON of the rows: `{"alias": [{...}, ...], "attribute": ...}` in UTF-8.

    Object keys are sorted, nulls left out, no blanks; lists and attribute values are the JSON text
    that the table holds. Release numbers and times play no part.
    """
    digest = hashlib.sha256()
    encode = msgspec.json.Encoder(order="sorted").encode
    before = b"{"
    for table in tables.VERSIONED:
        names = [str(column.name) for column in tables.content_of(table)]
        digest.update(before + encode(str(table.name)) + b":[")
        separator = b""
        for row in rows[table.name]:
            content = {name: value for name, value in zip(names, row, strict=True) if value is not None}
            digest.update(separator + encode(content))
            separator = b","
        digest.update(b"]")
        before = b","
    digest.update(b"}")
    return f"sha256:{digest.hexdigest()}"


def snapshot_from(rows: Rows, release: Release, currency: str | None = None) -> Snapshot:
    """The structs that the rows say; the currency is that of the prices where it is left out."""
    if currency is None:
        currency = min((row[2] for row in rows["price"]), default=NO_CURRENCY)
    aliases = _by_part((part, alias) for alias, part in rows["alias"])
    attributes = _by_part((part, (name, _attribute(value))) for part, name, value in rows["attribute"])
    measures = _by_part((row[0], Measure(*row[1:])) for row in rows["measure"])
    bands = _by_part((row[0], Band(*row[2:])) for row in rows["band"])
    ports = _by_part((row[0], Port(*row[1:])) for row in rows["port"])
    cues = _by_part((row[0], _cue(*row[1:])) for row in rows["cue"])
    prices = {part: Price(amount, currency) for part, amount, currency in rows["price"]}
    parts = {
        number: Part(
            number,
            kind,
            name,
            status,
            recommended,
            tuple(aliases.get(number, ())),
            dict(attributes.get(number, ())),
            {measure.name: measure for measure in measures.get(number, ())},
            tuple(bands.get(number, ())),
            tuple(ports.get(number, ())),
            tuple(cues.get(number, ())),
            prices.get(number),
        )
        for number, kind, name, status, recommended in rows["part"]
    }
    connections = {
        name: Connection(name, title, sort, msgspec.json.decode(ends, type=tuple[str, str]), *rest)
        for name, title, sort, ends, *rest in rows["connection"]
    }
    rules = tuple(
        Rule(name, kind, part, _texts(others), _texts(settles), source)
        for name, kind, part, others, settles, source in rows["rule"]
    )
    return Snapshot(release, currency, parts, connections, rules)


def _by_part(pairs: Iterable[tuple[str, T]]) -> dict[str, list[T]]:
    """What goes with each part."""
    found: dict[str, list[T]] = {}
    for part, item in pairs:
        found.setdefault(part, []).append(item)
    return found


def _cue(name: str, question: str, answer: str, answers: str, ease: Any, error_percent: int) -> Cue:
    return Cue(name, question, answer, _texts(answers), ease, error_percent)


_texts: Final = msgspec.json.Decoder(tuple[str, ...]).decode
_attribute: Final = msgspec.json.Decoder(AttributeValue).decode
