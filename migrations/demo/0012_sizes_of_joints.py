"""The twelfth release of the demo: the sizes of joints that nobody asks for by size, and the generation of housings."""

from alembic import op

revision = "catalog_0012"
down_revision = "catalog_0011"
branch_labels = None
depends_on = None

SIZES = {
    "taper_1_2": "1/2 in pipe thread",
    "taper_3_8": "3/8 in pipe thread",
    "taper_1_4": "1/4 in pipe thread",
    "flare_45_8": "1/2 in tube",
    "press_38": "1 1/2 in bore",
    "press_19": "3/4 in bore",
    "weld_38": "1 1/2 in bore",
    "weld_32": "1 1/4 in bore",
    "mossheron_neck": "1 1/2 in bore",
    "greyalder_neck": "1 1/4 in bore",
}
TITLES = {
    "ashplover_housing": "Ashplover thermostat housing face of the first generation, two bolts",
    "mossheron_housing": "Mossheron thermostat housing face of the second generation, four bolts",
}


def upgrade() -> None:
    for name, size in SIZES.items():
        op.revise_connection(name, size=size)
    for name, title in TITLES.items():
        op.revise_connection(name, title=title)
    op.publish_release(
        12,
        name="joints",
        on="2026-11-27",
        note="The sizes of threads, bores and neck faces, and the generation of each thermostat housing's face",
        digest="sha256:b1e82d678b16abbbd69766d4b939af09f9995ab381f54695c54ed589e0454fb2",
    )


def downgrade() -> None:
    op.withdraw_release(12)
