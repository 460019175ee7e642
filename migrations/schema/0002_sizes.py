"""Connections may say the size by which people call them."""

import sqlalchemy as sa
from alembic import op

revision = "schema_0002"
down_revision = "schema_0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("connection", sa.Column("size", sa.Text(), nullable=True))


def downgrade() -> None:
    op.drop_column("connection", "size")
