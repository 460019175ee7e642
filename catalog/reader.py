"""Reading one release: SQL rows to an immutable snapshot, and the digest of what they say."""

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

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
from catalog.releases import find_release

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
    return snapshot_from(rows, release, currency)


def rows_at(connection: sa.Connection, number: int) -> Rows:
    """The rows that release `number` sees."""
    found: dict[str, list[tuple[Any, ...]]] = {}
    for table in tables.VERSIONED:
        query = sa.select(*tables.content_of(table)).where(tables.seen_by(table, number))
        key = len(tables.key_of(table))
        # Sorted here: databases order text by their own collations. The key columns come first.
        found[table.name] = sorted((tuple(row) for row in connection.execute(query)), key=lambda row: row[:key])
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


def snapshot_from(rows: Rows, release: Release, currency: str) -> Snapshot:
    """The structs that the rows say."""
    aliases = _by_part((part, alias) for alias, part in rows["alias"])
    attributes = _by_part(rows["attribute"])
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
            tuple(row[0] for row in aliases.get(number, ())),
            {name: _attribute(value) for name, value in attributes.get(number, ())},
            {measure.name: measure for (measure,) in measures.get(number, ())},
            tuple(row[0] for row in bands.get(number, ())),
            tuple(row[0] for row in ports.get(number, ())),
            tuple(row[0] for row in cues.get(number, ())),
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


def _by_part(rows: Iterable[tuple[Any, ...]]) -> dict[str, list[tuple[Any, ...]]]:
    """Rows without their first column, by that column."""
    found: dict[str, list[tuple[Any, ...]]] = {}
    for part, *rest in rows:
        found.setdefault(part, []).append(tuple(rest))
    return found


def _cue(name: str, question: str, answer: str, answers: str, ease: Any, error_percent: int) -> Cue:
    return Cue(name, question, answer, _texts(answers), ease, error_percent)


def _texts(text: str) -> tuple[str, ...]:
    return msgspec.json.decode(text, type=tuple[str, ...])


def _attribute(text: str) -> AttributeValue:
    value: AttributeValue = msgspec.json.decode(text, type=AttributeValue)
    return value
