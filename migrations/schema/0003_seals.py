"""Releases have seals, each over its own row and the seal before; those that are there get theirs."""

import sqlalchemy as sa
from alembic import op

from catalog.seals import seal_unsealed

revision = "schema_0003"
down_revision = "schema_0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("release", sa.Column("seal", sa.Text(), nullable=True))
    # Printed statements leave them out: what they would be computed from is not there to be read.
    if not op.get_context().as_sql:
        seal_unsealed(op.get_bind())


def downgrade() -> None:
    op.drop_column("release", "seal")
