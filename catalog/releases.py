"""The published states of the catalog: which there are, and finding one by number or name."""

from collections.abc import Iterable

import sqlalchemy as sa

from catalog.domain import Release
from catalog.tables import alias, part, release

_COLUMNS = (release.c.number, release.c.name, release.c.digest, release.c.published_on, release.c.note, release.c.seal)
_LARGEST = 2**31 - 1


class UnknownRelease(Exception):
    """There is no such release."""

    def __init__(self, reference: int | str | None) -> None:
        super().__init__("No release is published." if reference is None else f"There is no release {reference}.")
        self.reference = reference


class WithdrawnRelease(Exception):
    """The release was withdrawn; its number is not used again for other content."""

    def __init__(self, number: int, name: str) -> None:
        super().__init__(f"Release {number} ({name}) was withdrawn.")
        self.number = number
        self.name = name


def list_releases(connection: sa.Connection) -> list[Release]:
    """All published releases, the oldest first; withdrawn ones are left out."""
    query = sa.select(*_COLUMNS).where(release.c.status == "published").order_by(release.c.number)
    return [Release(*row) for row in connection.execute(query)]


def releases_holding(connection: sa.Connection, references: Iterable[str]) -> dict[str, list[int]]:
    """The published releases that hold a part under each of these numbers or aliases, in any case, the oldest first.

    A reference that no release holds is absent; the keys are casefolded.
    """
    wanted = sorted({reference.casefold() for reference in references})
    published = [number for (number,) in connection.execute(_published.order_by(release.c.number))]
    found: dict[str, set[int]] = {}
    for table, column in ((part, part.c.number), (alias, alias.c.alias)):
        # Part numbers and aliases are ASCII, so the database's lower() folds them as we do.
        query = sa.select(column, table.c.since, table.c.until).where(sa.func.lower(column).in_(wanted))
        for reference, since, until in connection.execute(query):
            seen = {number for number in published if since <= number and (until is None or number < until)}
            found.setdefault(reference.casefold(), set()).update(seen)
    return {reference: sorted(found[reference]) for reference in wanted if found.get(reference)}


_published = sa.select(release.c.number).where(release.c.status == "published")


def find_release(connection: sa.Connection, reference: int | str | None = None) -> tuple[Release, str]:
    """The release of this number or name (None: the newest) and the currency of its prices.

    Raises
    ------
    UnknownRelease, WithdrawnRelease
    """
    query = sa.select(*_COLUMNS, release.c.currency, release.c.status)
    if isinstance(reference, str) and reference.isascii() and reference.isdigit():
        reference = int(reference) if len(reference) < 11 else _LARGEST + 1
    if reference is None:
        query = query.where(release.c.status == "published").order_by(release.c.number.desc()).limit(1)
    elif isinstance(reference, str):
        query = query.where(release.c.name == reference)
    elif 0 < reference <= _LARGEST:
        query = query.where(release.c.number == reference)
    else:
        raise UnknownRelease(reference)
    row = connection.execute(query).one_or_none()
    if row is None:
        raise UnknownRelease(reference)
    *content, currency, status = row
    found = Release(*content)
    if status == "withdrawn":
        raise WithdrawnRelease(found.number, found.name)
    return found, currency
