"""Writing a release: the collected changes, then the check of the whole catalog and its digest."""

import re
from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from itertools import islice
from typing import Any, Final

import sqlalchemy as sa
from alembic.runtime.migration import MigrationContext
from alembic.util import CommandError

from catalog import tables
from catalog.checks import check_snapshot
from catalog.domain import Release
from catalog.edit_rows import Added, Changes, Close, Copy, Row
from catalog.making import NO_CURRENCY, snapshot_from
from catalog.reader import digest_of, rows_at
from catalog.seals import WrongSeal, check_seal, seal_unsealed
from catalog.vocabulary import RESERVED

BATCH: Final = 5_000
"""Rows in one statement's worth of work: large enough to be quick, small enough to hold little memory."""


class CatalogFaults(CommandError):
    """A release cannot be published; `faults` lists every reason, a sentence each."""

    def __init__(self, number: int, faults: list[str]) -> None:
        lines = "".join(f"\n  - {fault}" for fault in faults)
        super().__init__(f"Release {number} is not published:{lines}")
        self.faults = faults


def publish(
    context: MigrationContext, changes: Changes, number: int, *, name: str, on: str, note: str, digest: str
) -> None:
    """Write the changes as release `number`, and check the outcome where there is a database to read."""
    faults = list(changes.faults) + _faults_of_release(number, name, on)
    connection = None if context.as_sql else context.connection
    if connection is not None and not faults:
        faults += _faults_of_history(connection, number, name, digest) + _missing(connection, changes)
    if faults:
        raise CatalogFaults(number, faults)
    _close(context, changes.closes, number)
    if connection is not None and (faults := _already_there(connection, changes)):
        raise CatalogFaults(number, faults)
    _insert(context, changes.inserts, number)
    _copy(context, changes.copies, number)
    changes.forget()  # before the whole catalog is read: a large one has not room for both
    _write_release(context, number, name=name, on=on, note=note, digest=digest)
    if connection is not None:
        seal_unsealed(connection)
    if connection is not None and (faults := _faults_of_outcome(connection, Release(number, name, digest, on, note))):
        raise CatalogFaults(number, faults)


def withdraw(context: MigrationContext, number: int) -> None:
    """Delete what release `number` added, open what it closed, and keep its number from other use."""
    if context.connection is not None and not context.as_sql:
        newest = _newest(context.connection)
        if newest != number:
            raise CommandError(f"release {number} is not the newest published one and cannot be withdrawn")
    for table in tables.VERSIONED:
        # Deleted first, so that no key has two open rows on the way.
        context.impl.execute(sa.delete(table).where(table.c.since == number))
        context.impl.execute(sa.update(table).where(table.c.until == number).values(until=sa.null()))
    release = tables.release
    context.impl.execute(sa.update(release).where(release.c.number == number).values(status="withdrawn"))


def _faults_of_release(number: int, name: str, on: str) -> list[str]:
    faults = []
    if not 0 < number < 2**31:
        faults.append(f"the release's number {number} is not a positive whole number")
    if not re.fullmatch(r"[A-Za-z][A-Za-z0-9._-]{0,39}", name) or name.lower() in RESERVED:
        faults.append(f'"{name}" is no name of a release: a letter first, then letters, digits, ".", "_" and "-"')
    try:
        canonical = date.fromisoformat(on).isoformat() == on
    except ValueError:
        canonical = False
    if not canonical:
        faults.append(f'"{on}" is not a date as 2026-03-02')
    return faults


def _newest(connection: sa.Connection) -> int | None:
    release = tables.release
    newest: int | None = connection.scalar(
        sa.select(sa.func.max(release.c.number)).where(release.c.status == "published")
    )
    return newest


def _faults_of_history(connection: sa.Connection, number: int, name: str, digest: str) -> list[str]:
    release = tables.release
    faults = []
    newest = _newest(connection)
    if newest is not None and newest >= number:
        faults.append(f"release {newest} is already published; the next number is larger than that")
    if newest is not None:
        try:
            check_seal(connection, newest)
        except WrongSeal as wrong:
            faults.append(str(wrong))
    known = connection.execute(sa.select(release.c.number, release.c.name, release.c.digest)).all()
    for old_number, old_name, old_digest in known:
        if old_number == number and old_digest != digest:
            faults.append(
                f"release {number} was withdrawn and may be published again only as it was, "
                f"with digest {old_digest}; take a new number for other content"
            )
        if old_number != number and old_name == name:
            faults.append(f'release {old_number} already has the name "{name}"')
    return faults


def _open_keys(connection: sa.Connection, table: sa.Table) -> set[tuple[Any, ...]]:
    columns = [table.c[name] for name in tables.key_of(table)]
    return {tuple(row) for row in connection.execute(sa.select(*columns).where(table.c.until.is_(None)))}


def _missing(connection: sa.Connection, changes: Changes) -> list[str]:
    """What edits name as being there and is not."""
    needed: dict[str, list[tuple[Any, ...]]] = {}
    for table, key in changes.needs:
        needed.setdefault(table, []).append((key,))
    for close in changes.closes:
        if close.must_exist:
            needed.setdefault(close.table, []).append(tuple(close.where.values()))
    faults = []
    for name, keys in needed.items():
        there = _open_keys(connection, tables.metadata.tables[name])
        faults += [f"there is no {_title(name, key)} to edit" for key in keys if key not in there]
    return faults


def _already_there(connection: sa.Connection, changes: Changes) -> list[str]:
    """What edits add though it is there (once all that they close is closed)."""
    faults = []
    for name in ("part", "connection", "rule", "alias"):
        added = changes.inserts.get(name)
        if added is not None:
            there = _open_keys(connection, tables.metadata.tables[name])
            faults += [f"{name} {key} is there already" for key, *_ in added.rows if (key,) in there]
    return faults


def _title(table: str, key: tuple[Any, ...]) -> str:
    if table in {"part", "connection", "rule"}:
        return f"{table} {key[0]}"
    return " ".join([table, *map(str, key[1:]), f"of part {key[0]}"])


def _batches(rows: Iterable[Row]) -> Iterator[list[Row]]:
    rows = iter(rows)
    while batch := list(islice(rows, BATCH)):
        yield batch


def _run(context: MigrationContext, build: Any, rows: Iterable[Row]) -> None:
    """Run one statement for many rows.

    `build` makes the statement from a function that gives a column's value: a parameter where rows go
    to a database in batches, the value itself where the statements are printed.
    """
    if context.as_sql or context.connection is None:
        for row in rows:
            context.impl.execute(build(lambda column, row=row: sa.literal(row[f"v_{column.name}"], column.type)))
        return
    statement = build(lambda column: sa.bindparam(f"v_{column.name}", type_=column.type))
    for batch in _batches(rows):
        context.connection.execute(statement, batch)


def _grouped(items: Iterable[tuple[tuple[str, ...], Row]]) -> Mapping[tuple[str, ...], list[Row]]:
    groups: dict[tuple[str, ...], list[Row]] = {}
    for shape, row in items:
        groups.setdefault(shape, []).append({f"v_{name}": value for name, value in row.items()})
    return groups


def _close(context: MigrationContext, closes: list[Close], number: int) -> None:
    for (name, *columns), rows in _grouped(((close.table, *close.where), close.where) for close in closes).items():
        table = tables.metadata.tables[name]

        def build(value: Any, table: sa.Table = table, columns: list[str] = columns) -> sa.Update:
            where = [table.c[column] == value(table.c[column]) for column in columns]
            return sa.update(table).where(*where, table.c.until.is_(None)).values(until=number)

        _run(context, build, rows)


def _insert(context: MigrationContext, inserts: Mapping[str, Added], number: int) -> None:
    for name, added in inserts.items():
        table = tables.metadata.tables[name]
        columns = (*added.columns, "since")
        rows: Iterator[Row] = (dict(zip(columns, (*row, number), strict=True)) for row in added.rows)
        if context.as_sql:
            context.impl.bulk_insert(table, list(rows))
        elif context.connection is not None:
            for batch in _batches(rows):
                context.connection.execute(sa.insert(table), batch)


def _copy(context: MigrationContext, copies: list[Copy], number: int) -> None:
    """Add the new row of what was revised, made from the row just closed."""
    groups = _grouped(((copy.table, *copy.changes), {**copy.key, **copy.changes}) for copy in copies)
    for (name, *columns), rows in groups.items():
        table = tables.metadata.tables[name]

        def build(value: Any, table: sa.Table = table, columns: list[str] = columns) -> sa.Insert:
            content = tables.content_of(table)
            taken = [value(column) if column.name in columns else column for column in content]
            (key,) = tables.key_of(table)
            closed = sa.select(*taken, sa.literal(number, sa.Integer)).where(
                table.c[key] == value(table.c[key]), table.c.until == number
            )
            return sa.insert(table).from_select([*(column.name for column in content), "since"], closed)

        _run(context, build, rows)


def _write_release(context: MigrationContext, number: int, *, name: str, on: str, note: str, digest: str) -> None:
    release, price = tables.release, tables.price
    # A number that was withdrawn is free again for the same content only; for other content its row
    # stays, and the insert that follows breaks the primary key.
    again = (release.c.number == number, release.c.status == "withdrawn", release.c.digest == digest)
    context.impl.execute(sa.delete(release).where(*again))
    currency = sa.select(sa.func.min(price.c.currency)).where(price.c.until.is_(None)).scalar_subquery()
    context.impl.execute(
        sa.insert(release).values(
            number=number,
            name=name,
            digest=digest,
            published_on=on,
            note=note,
            currency=sa.func.coalesce(currency, NO_CURRENCY),
            status="published",
        )
    )


def _faults_of_outcome(connection: sa.Connection, release: Release) -> list[str]:
    """What is wrong with the catalog as it now stands, and whether its digest is the stated one."""
    rows = rows_at(connection, release.number)
    digest = digest_of(rows)
    snapshot = snapshot_from(rows, release)
    del rows
    faults = check_snapshot(snapshot)
    if digest != release.digest:
        faults.append(f'the digest is "{digest}", not "{release.digest}" as the migration says')
    return faults
