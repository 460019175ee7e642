"""The eleventh release of the demo: what keeps the first generation's cover from an engine with variable valve timing.

The facts are invented like all else: no height decides this, but what the cover was cast without.
"""

from alembic import op

revision = "catalog_0011"
down_revision = "catalog_0010"
branch_labels = None
depends_on = None

VVT_ENGINES = ("ENG-R20", "ENG-R22")


def upgrade() -> None:
    for engine in VVT_ENGINES:
        op.add_rule(
            f"{engine.lower().replace('-', '_')}_takes_no_first_generation_cover",
            kind="excludes",
            part=engine,
            others=["FC-R1"],
            source="the first generation's cover has no room for the cam phaser and no port for its oil valve",
        )
    op.publish_release(
        11,
        name="covers",
        on="2026-11-27",
        note="The first generation's front cover does not go on the VVT engines",
        digest="sha256:3d83f1cb1abd6dfc1ab52076d9f99bd70cf4200dc3cbb7e033b0b210b8f731b7",
    )


def downgrade() -> None:
    op.withdraw_release(11)
