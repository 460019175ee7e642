"""${message}"""

from alembic import op

revision = ${repr(up_revision)}
down_revision = ${repr(down_revision)}
branch_labels = ${repr(branch_labels)}
depends_on = None


def upgrade() -> None:
    ${upgrades if upgrades else 'op.publish_release(0, name="", on="", note="", digest="")'}


def downgrade() -> None:
    ${downgrades if downgrades else "op.withdraw_release(0)"}
