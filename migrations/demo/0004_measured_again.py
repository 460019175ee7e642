"""The fourth release of the demo: a pump measured again, another retired, a fit that was tried."""

from alembic import op

revision = "catalog_0004"
down_revision = "catalog_0003"
branch_labels = None
depends_on = None

BENCH = {"plus": "0.1 mm", "minus": "0.1 mm", "taken_with": "caliper", "source": "shop bench, five pieces"}


def upgrade() -> None:
    measure_the_middle_pump_again()
    op.revise_part("FC-R5", measures={"cover_height": {"value": "55.5 mm", **BENCH}})
    op.revise_part("WP-140", price="179.00 USD", recommended=False)
    op.revise_part("SP-40", price="49.00 USD")
    op.retire_part("WP-104", replaced_by="WP-108")
    op.add_rule(
        "short_pump_on_the_outer_drive",
        kind="tested_fit",
        part="WP-108",
        others=["DR-541", "SP-34"],
        settles=["belt_plane"],
        source="shop test car, 2024",
    )
    op.revise_rule("two_spacers_leaked", source="the joint between the two spacers wept; shop test cars, 2024 and 2025")
    op.publish_release(
        4,
        name="autumn",
        on="2026-10-05",
        note="WP-227 measured again; WP-104 replaced by WP-108; a tested fit of WP-108 on DR-541",
        digest="sha256:0c2c473b6dfdd7e9056579c9fa0ba87ccc77dee6c0f9182e8d6e8a603229c7b5",
    )


def downgrade() -> None:
    op.withdraw_release(4)


def measure_the_middle_pump_again() -> None:
    """Five pieces on the bench sat 0.2 mm farther out than the drawing said."""
    op.revise_part(
        "WP-227",
        measures={
            "belt_plane": {"value": "127.2 mm", **BENCH},
            "pulley_front": {"value": "139.7 mm", **BENCH},
        },
        bands=[{"from": "116.2 mm", "to": "138.2 mm", "surface": "ribbed", "grooves": 6}],
    )
