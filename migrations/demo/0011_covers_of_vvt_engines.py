"""The eleventh release of the demo: what keeps the first generation's cover from an engine with variable valve timing.

The facts are invented like all else: no height decides this, but what the cover was cast without.
"""

from alembic import op

revision = "catalog_0011"
down_revision = "catalog_0009"
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
        on="2026-12-03",
        note="The first generation's front cover does not go on the VVT engines",
        digest="sha256:78f767e03a85b9b32a293c2373edca25f750f91e9a18d243441d454f087e2863",
    )


def downgrade() -> None:
    op.withdraw_release(11)
