"""The tables of the catalog.

Every row but a release's own is true from one release until another: release r sees a row
when ``since <= r`` and (``until`` is null or ``until > r``). Rows are added or closed, never
changed. Lengths are nanometres; lists and attribute values are JSON text.
"""

from typing import Final

import sqlalchemy as sa

SCHEMA_REVISION: Final = "schema_0003"
"""The revision of migrations/schema that these tables stand for."""

metadata = sa.MetaData(
    naming_convention={
        "pk": "pk_%(table_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    }
)


def _text(name: str, *, optional: bool = False) -> sa.Column[str]:
    return sa.Column(name, sa.Text, nullable=optional)


def _whole(name: str) -> sa.Column[int]:
    return sa.Column(name, sa.Integer, nullable=False)


def _length(name: str) -> sa.Column[int]:
    return sa.Column(name, sa.BigInteger, nullable=False)


def _flag(name: str) -> sa.Column[bool]:
    return sa.Column(name, sa.Boolean, nullable=False)


def _versioned(
    name: str, key: tuple[str, ...], *columns: sa.Column[str] | sa.Column[int] | sa.Column[bool]
) -> sa.Table:
    table = sa.Table(
        name,
        metadata,
        *columns,
        sa.Column("since", sa.Integer, nullable=False),
        sa.Column("until", sa.Integer),
        sa.PrimaryKeyConstraint(*key, "since"),
        sa.CheckConstraint("until IS NULL OR until > since", name="until_after_since"),
        info={"key": key},
    )
    still_open = table.c.until.is_(None)
    sa.Index(
        f"uq_{name}_open",
        *(table.c[column] for column in key),
        unique=True,
        sqlite_where=still_open,
        postgresql_where=still_open,
    )
    return table


release = sa.Table(
    "release",
    metadata,
    sa.Column("number", sa.Integer, primary_key=True, autoincrement=False),
    _text("name"),
    _text("digest"),
    _text("published_on"),
    _text("note"),
    _text("currency"),
    _text("status"),
    _text("seal", optional=True),
    sa.UniqueConstraint("name"),
    sa.CheckConstraint("status IN ('published', 'withdrawn')", name="status"),
)

part = _versioned(
    "part", ("number",), _text("number"), _text("kind"), _text("name"), _text("status"), _flag("recommended")
)
alias = _versioned("alias", ("alias",), _text("alias"), _text("part"))
sa.Index(None, alias.c.part)
port = _versioned(
    "port",
    ("part", "name"),
    _text("part"),
    _text("name"),
    _text("role"),
    _text("connection"),
    _text("end"),
    _text("channel", optional=True),
    _text("side", optional=True),
    _text("direction", optional=True),
    _flag("wet"),
    _text("gasket", optional=True),
)
band = _versioned(
    "band",
    ("part", "place"),
    _text("part"),
    _whole("place"),
    _length("start_at"),
    _length("end_at"),
    _text("surface"),
    _whole("grooves"),
)
measure = _versioned(
    "measure",
    ("part", "name"),
    _text("part"),
    _text("name"),
    _length("nominal"),
    _length("plus"),
    _length("minus"),
    _text("taken_with"),
    _text("source"),
)
attribute = _versioned("attribute", ("part", "name"), _text("part"), _text("name"), _text("value"))
cue = _versioned(
    "cue",
    ("part", "name"),
    _text("part"),
    _text("name"),
    _text("question"),
    _text("answer"),
    _text("answers"),
    _text("ease"),
    _whole("error_percent"),
)
connection = _versioned(
    "connection",
    ("name",),
    _text("name"),
    _text("title"),
    _text("sort"),
    _text("ends"),
    _text("seal"),
    _whole("pieces_per_layer"),
    _text("gasket", optional=True),
    _whole("bolts"),
    _text("size", optional=True),
)
rule = _versioned(
    "rule", ("name",), _text("name"), _text("kind"), _text("part"), _text("others"), _text("settles"), _text("source")
)
price = _versioned(
    "price", ("part",), _text("part"), sa.Column("amount", sa.BigInteger, nullable=False), _text("currency")
)

VERSIONED: Final[tuple[sa.Table, ...]] = (
    alias, attribute, band, connection, cue, measure, part, port, price, rule,
)  # fmt: skip
"""The versioned tables in order of their names."""


def key_of(table: sa.Table) -> tuple[str, ...]:
    """Names of the columns that name a row within one release."""
    key: tuple[str, ...] = table.info["key"]
    return key


def content_of(table: sa.Table) -> list[sa.Column[object]]:
    """The columns that say something: all but `since` and `until`."""
    return [column for column in table.columns if column.name not in {"since", "until"}]


def seen_by(table: sa.Table, number: int) -> sa.ColumnElement[bool]:
    """Whether release `number` sees a row."""
    return sa.and_(table.c.since <= number, sa.or_(table.c.until.is_(None), table.c.until > number))
