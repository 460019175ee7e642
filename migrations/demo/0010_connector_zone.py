"""The tenth release of the demo: what the pumps of the first generation leave at the connector of the later covers.

The first covers have no connector, so nobody had looked. The short, wide and middle pumps end before it; the outer
ones reach over it, and were measured.
"""

from alembic import op

revision = "catalog_0010"
down_revision = "catalog_0009"
branch_labels = None
depends_on = None

BENCH = {"taken_with": "caliper", "source": "shop bench, one piece"}


def upgrade() -> None:
    for number in ("WP-104", "WP-108", "WP-117", "WP-127"):
        op.revise_part(number, attributes={"free_zones": "connector"})
    for number, room in (("WP-139", "57.5 mm"), ("WP-140", "53.5 mm")):
        op.revise_part(number, measures={"cover_room.connector": {"value": room, **BENCH}})
    op.publish_release(
        10,
        name="connectors",
        on="2026-11-26",
        note="What the first pumps leave at the connector of the later covers",
        digest="sha256:e011ad1c1c080e16a2821bce377ab8b7ea01f3db8eeeb8f8171d77c898a5a691",
    )


def downgrade() -> None:
    op.withdraw_release(10)
