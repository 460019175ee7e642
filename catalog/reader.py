"""Reading one release: SQL rows to an immutable snapshot, and the digest of what they say."""

import hashlib
from collections.abc import Sequence
from operator import itemgetter
from typing import Final

import msgspec
import sqlalchemy as sa

from catalog import tables
from catalog.database import NotAsPublished
from catalog.domain import Release, Snapshot
from catalog.making import Making, Row, Rows
from catalog.releases import find_release, list_releases
from catalog.seals import check_seal

_AT_ONCE: Final = 5_000
"""Rows fetched at a time, so that a driver does not hold a whole table beside ours."""


class WrongDigest(NotAsPublished):
    """The rows of a release are not what was published."""


def read_snapshot(connection: sa.Connection, reference: int | str | None = None) -> Snapshot:
    """Everything that a release says; `reference` is its number or name, None the newest.

    Parts, connections and rules come in the order of their keys, whatever the order of the rows.

    Raises
    ------
    UnknownRelease, WithdrawnRelease
    WrongDigest
        When the rows do not give the digest under which the release was published.
    WrongSeal
        When what the release says of itself, or the chain of seals, is not as it was published.
    """
    release, currency = find_release(connection, reference)
    check_seal(connection, release.number)
    making, digest, shared = Making(), _Digest(), _Texts()
    unforeseen: Exception | None = None
    for table in tables.VERSIONED:
        rows = _rows_of(connection, table, release.number, shared)
        digest.add(table, rows)
        try:
            making.add(table.name, rows)
        except Exception as failed:
            # Rows that were tampered with may make no sense; that their digest is wrong tells more.
            unforeseen = unforeseen or failed
    found = digest.text()
    if found != release.digest:
        raise WrongDigest(
            f"Release {release.number} does not hold what was published: its digest is {found}, not {release.digest}."
        )
    if unforeseen is not None:
        raise unforeseen
    snapshot = making.snapshot(release, currency)
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
    shared = _Texts()
    return {str(table.name): _rows_of(connection, table, number, shared) for table in tables.VERSIONED}


class _Texts(dict[str, str]):
    """Texts that were read: most stand in many rows ("drawing", a part's number), and one object serves for all."""

    def __missing__(self, text: str) -> str:
        self[text] = text
        return text


def _rows_of(connection: sa.Connection, table: sa.Table, number: int, shared: _Texts) -> list[Row]:
    query = sa.select(*tables.content_of(table)).where(tables.seen_by(table, number))
    result = connection.execute(query, execution_options={"yield_per": _AT_ONCE})
    rows = [tuple([shared[value] if type(value) is str else value for value in row]) for row in result]
    # Sorted here: databases order text by their own collations. The key columns come first.
    rows.sort(key=itemgetter(*range(len(tables.key_of(table)))))
    return rows


def digest_of(rows: Rows) -> str:
    """SHA-256 of the canonical JSON of the rows: `{"alias": [{...}, ...], "attribute": ...}` in UTF-8.

    Object keys are sorted, nulls left out, no blanks; lists and attribute values are the JSON text
    that the table holds. Release numbers and times play no part.
    """
    digest = _Digest()
    for table in tables.VERSIONED:
        digest.add(table, rows[table.name])
    return digest.text()


class _Digest:
    """That digest, table by table in the order of their names."""

    def __init__(self) -> None:
        self._digest = hashlib.sha256()
        self._encode = msgspec.json.Encoder(order="sorted").encode
        self._before = b"{"

    def add(self, table: sa.Table, rows: Sequence[Row]) -> None:
        names = [str(column.name) for column in tables.content_of(table)]
        digest, encode = self._digest, self._encode
        digest.update(self._before + encode(str(table.name)) + b":[")
        separator = b""
        for row in rows:
            content = {name: value for name, value in zip(names, row, strict=True) if value is not None}
            digest.update(separator + encode(content))
            separator = b","
        digest.update(b"]")
        self._before = b","

    def text(self) -> str:
        self._digest.update(b"}")
        return f"sha256:{self._digest.hexdigest()}"
