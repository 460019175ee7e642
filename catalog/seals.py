"""The seal of a release: over what it says of itself and over the seal before, so that releases make a chain.

The digest covers what a release holds; the seal covers its own row as well. Of the row it leaves out `status`, which
a withdrawal changes. The seal before is that of the release which was the newest when this one was published. Withdrawn
releases are not in the chain. Only the newest release can be withdrawn, so what is published keeps the one before
it. A number that is published again is sealed anew over the row that it has then, and so is whatever follows it.
"""

import hashlib
from collections.abc import Mapping
from typing import Any, Final

import msgspec
import sqlalchemy as sa

from catalog.database import NotAsPublished

_SEALED: Final = ("number", "name", "digest", "published_on", "note", "currency")
# Not the table of the code, which moves on: the schema's migration that fills the seals in uses this as well.
_release: Final = sa.table("release", *(sa.column(name) for name in (*_SEALED, "status", "seal")))
_PUBLISHED: Final = sa.select(_release).where(_release.c.status == "published").order_by(_release.c.number)


class WrongSeal(NotAsPublished):
    """What a release says of itself, or the release before it, is not what was published."""


def seal_of(row: Mapping[str, Any] | sa.RowMapping, before: str | None) -> str:
    """SHA-256 of the canonical JSON of a release's own row and the seal before, for good.

    `{"before":"sha256:...","currency":"USD","digest":"sha256:...","name":"spring","note":"...","number":2,
    "published_on":"2026-03-02"}` in UTF-8, keys sorted, no blanks; `before` is left out where there is none.
    """
    said = {name: row[name] for name in _SEALED} | ({} if before is None else {"before": before})
    return f"sha256:{hashlib.sha256(msgspec.json.encode(said, order='sorted')).hexdigest()}"


def seal_unsealed(connection: sa.Connection) -> None:
    """Give each published release its seal that has none: one just published, or one from printed statements."""
    before = None
    for row in connection.execute(_PUBLISHED).mappings().all():
        seal = row["seal"]
        if seal is None:
            seal = seal_of(row, before)
            connection.execute(sa.update(_release).where(_release.c.number == row["number"]).values(seal=seal))
        before = seal


def check_seal(connection: sa.Connection, number: int) -> None:
    """Refuse a published release whose seal is not that of its row and of the seal before.

    From printed statements the newest releases have no seal, and are taken as they are: the next publication seals
    them. One without a seal below one that has a seal has lost it.

    Raises
    ------
    WrongSeal
    """
    before, after, own = None, [], None
    for row in connection.execute(_PUBLISHED).mappings():
        if row["number"] < number:
            before = row["seal"]
        elif row["number"] == number:
            own = row
        else:
            after.append(row["seal"])
    if own is None or (own["seal"] is None and not any(after)):
        return
    right = seal_of(own, before)
    if own["seal"] != right:
        raise WrongSeal(
            f"Release {number} is not as it was published: its own row, or the seal of the release before it, was "
            f"changed since. Its seal would be {right}, not {own['seal'] or 'none'}."
        )
