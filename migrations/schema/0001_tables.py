"""The tables of the catalog: versioned rows and releases."""

import sqlalchemy as sa
from alembic import op

revision = "schema_0001"
down_revision = None
branch_labels = ("schema",)
depends_on = None


def upgrade() -> None:
    op.create_table(
        "release",
        sa.Column("number", sa.Integer(), nullable=False, autoincrement=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("digest", sa.Text(), nullable=False),
        sa.Column("published_on", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("currency", sa.Text(), nullable=False),
        sa.Column("status", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("number", name="pk_release"),
        sa.UniqueConstraint("name", name="uq_release_name"),
        sa.CheckConstraint("status IN ('published', 'withdrawn')", name=op.f("ck_release_status")),
    )
    create_versioned(
        "alias",
        ("alias",),
        sa.Column("alias", sa.Text(), nullable=False),
        sa.Column("part", sa.Text(), nullable=False),
    )
    create_versioned(
        "attribute",
        ("part", "name"),
        sa.Column("part", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("value", sa.Text(), nullable=False),
    )
    create_versioned(
        "band",
        ("part", "place"),
        sa.Column("part", sa.Text(), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("start_at", sa.BigInteger(), nullable=False),
        sa.Column("end_at", sa.BigInteger(), nullable=False),
        sa.Column("surface", sa.Text(), nullable=False),
        sa.Column("grooves", sa.Integer(), nullable=False),
    )
    create_versioned(
        "connection",
        ("name",),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("sort", sa.Text(), nullable=False),
        sa.Column("ends", sa.Text(), nullable=False),
        sa.Column("seal", sa.Text(), nullable=False),
        sa.Column("pieces_per_layer", sa.Integer(), nullable=False),
        sa.Column("gasket", sa.Text(), nullable=True),
        sa.Column("bolts", sa.Integer(), nullable=False),
    )
    create_versioned(
        "cue",
        ("part", "name"),
        sa.Column("part", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("question", sa.Text(), nullable=False),
        sa.Column("answer", sa.Text(), nullable=False),
        sa.Column("answers", sa.Text(), nullable=False),
        sa.Column("ease", sa.Text(), nullable=False),
        sa.Column("error_percent", sa.Integer(), nullable=False),
    )
    create_versioned(
        "measure",
        ("part", "name"),
        sa.Column("part", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("nominal", sa.BigInteger(), nullable=False),
        sa.Column("plus", sa.BigInteger(), nullable=False),
        sa.Column("minus", sa.BigInteger(), nullable=False),
        sa.Column("taken_with", sa.Text(), nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
    )
    create_versioned(
        "part",
        ("number",),
        sa.Column("number", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("status", sa.Text(), nullable=False),
        sa.Column("recommended", sa.Boolean(), nullable=False),
    )
    create_versioned(
        "port",
        ("part", "name"),
        sa.Column("part", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("role", sa.Text(), nullable=False),
        sa.Column("connection", sa.Text(), nullable=False),
        sa.Column("end", sa.Text(), nullable=False),
        sa.Column("channel", sa.Text(), nullable=True),
        sa.Column("side", sa.Text(), nullable=True),
        sa.Column("direction", sa.Text(), nullable=True),
        sa.Column("wet", sa.Boolean(), nullable=False),
        sa.Column("gasket", sa.Text(), nullable=True),
    )
    create_versioned(
        "price",
        ("part",),
        sa.Column("part", sa.Text(), nullable=False),
        sa.Column("amount", sa.BigInteger(), nullable=False),
        sa.Column("currency", sa.Text(), nullable=False),
    )
    create_versioned(
        "rule",
        ("name",),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("part", sa.Text(), nullable=False),
        sa.Column("others", sa.Text(), nullable=False),
        sa.Column("settles", sa.Text(), nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
    )
    op.create_index("ix_alias_part", "alias", ["part"])


def create_versioned(name: str, key: tuple[str, ...], *columns: sa.Column) -> None:
    """A table of rows that are true from one release until another, with at most one open row a key."""
    op.create_table(
        name,
        *columns,
        sa.Column("since", sa.Integer(), nullable=False),
        sa.Column("until", sa.Integer(), nullable=True),
        sa.PrimaryKeyConstraint(*key, "since", name=f"pk_{name}"),
        sa.CheckConstraint("until IS NULL OR until > since", name=op.f(f"ck_{name}_until_after_since")),
    )
    still_open = sa.text("until IS NULL")
    op.create_index(
        f"uq_{name}_open", name, list(key), unique=True, sqlite_where=still_open, postgresql_where=still_open
    )


def downgrade() -> None:
    for name in (
        "alias",
        "attribute",
        "band",
        "connection",
        "cue",
        "measure",
        "part",
        "port",
        "price",
        "rule",
        "release",
    ):
        op.drop_table(name)
