"""How a part came to be what it is: every release that changed it, read from its rows alone."""

from typing import Any

import sqlalchemy as sa

from catalog import tables
from catalog.domain import Release, Snapshot
from catalog.making import snapshot_from
from catalog.releases import list_releases
from catalog.what_changed import Change, changes_between

Spanned = tuple[int, int | None, tuple[Any, ...]]
"""A row's `since`, its `until` and what it says."""


def history_of(connection: sa.Connection, part: str, up_to: int) -> list[tuple[Release, list[Change]]]:
    """The releases up to this one that changed a part or a rule that names it, the oldest first.

    Parameters
    ----------
    connection
        A connection of an engine that `open_read_only` made.
    part
        The part's number, as the catalog writes it.
    up_to
        Number of the last release to look at.
    """
    spanned = {table.name: _rows_about(connection, table, part, up_to) for table in tables.VERSIONED}
    ends = {end for rows in spanned.values() for since, until, _ in rows for end in (since, until)}
    found = []
    before: Snapshot | None = None
    for release in list_releases(connection):
        if release.number in ends and release.number <= up_to:
            after = _snapshot(spanned, release)
            changes = changes_between(before, after)
            if changes:
                found.append((release, changes))
            before = after
    return found


def _rows_about(connection: sa.Connection, table: sa.Table, part: str, up_to: int) -> list[Spanned]:
    """What a table has ever said of a part, sorted by key."""
    if table is tables.connection:
        return []
    own = table.c.number if table is tables.part else table.c.part
    about: sa.ColumnElement[bool] = own == part
    if table is tables.rule:
        about = sa.or_(about, table.c.others.contains(f'"{part}"', autoescape=True))
    query = sa.select(table.c.since, table.c.until, *tables.content_of(table)).where(about, table.c.since <= up_to)
    rows = [(since, until, tuple(content)) for since, until, *content in connection.execute(query)]
    return sorted(rows, key=lambda row: row[2][: len(tables.key_of(table))])


def _snapshot(spanned: dict[str, list[Spanned]], release: Release) -> Snapshot:
    number = release.number
    rows = {
        name: [content for since, until, content in rows if since <= number and (until is None or until > number)]
        for name, rows in spanned.items()
    }
    currencies = {row[2] for row in rows["price"]}
    return snapshot_from(rows, release, min(currencies, default=""))
