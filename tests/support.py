"""Small catalogs for tests: made in memory, or published through migrations in a temporary folder."""

import os
import re
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from catalog.domain import Connection, Part, Release, Rule, Snapshot
from catalog.migrate import downgrade, upgrade
from catalog.publish import CatalogFaults


def effort() -> int:
    """How many times as hard the tests that scale are to try: 1, or what BELTPLANE_TEST_EFFORT says."""
    return int(os.environ.get("BELTPLANE_TEST_EFFORT", "1"))


def another_hash_seed() -> str:
    """A seed of Python's hashes that is not this process's own: sets come in another order under it."""
    return "2" if os.environ.get("PYTHONHASHSEED") == "1" else "1"


Edit = dict[str, Any]
"""One edit as in a JSON-lines file: `{"edit": "add_part", "number": "P-1", ...}`."""


def snapshot_of(parts: Iterable[Part], connections: Iterable[Connection] = (), rules: Iterable[Rule] = ()) -> Snapshot:
    """A catalog in memory, in the order in which the reader would give it; nothing is checked."""
    parts = sorted(parts, key=lambda part: part.number)
    currencies = sorted({part.price.currency for part in parts if part.price is not None})
    return Snapshot(
        Release(1, "test", "sha256:" + "0" * 64, "2026-01-01", ""),
        currencies[0] if currencies else "XXX",
        {part.number: part for part in parts},
        {connection.name: connection for connection in sorted(connections, key=lambda one: one.name)},
        tuple(sorted(rules, key=lambda rule: rule.name)),
    )


class CatalogFolder:
    """A folder of migrations that grows by one release at a time, and the database that it is published to."""

    def __init__(self, folder: Path, url: str) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self.folder = folder
        self.url = url
        self.digests: dict[int, str] = {}

    def publish(self, *edits: Edit, number: int | None = None) -> str:
        """Write a migration of these edits with its right digest and run it; gives the digest.

        Raises CatalogFaults where the edits are faulty, and takes the migration out of the folder again.
        """
        number = number or len(self.digests) + 1
        path = self.write(*edits, number=number)
        try:
            upgrade(self.url, self.folder)
        except CatalogFaults as fault:
            found = re.search(r'digest is "(sha256:[0-9a-f]{64})"', str(fault))
            if len(fault.faults) != 1 or found is None:
                path.unlink()
                raise
            self.write(*edits, number=number, digest=found[1])
            upgrade(self.url, self.folder)
            self.digests[number] = found[1]
        return self.digests[number]

    def write(self, *edits: Edit, number: int, digest: str = "", publish: bool = True, name: str = "") -> Path:
        """Write the migration of release `number` and leave it unrun."""
        lines = [
            f"op.{edit['edit']}(**{ {name: value for name, value in edit.items() if name != 'edit'}!r})"
            for edit in edits
        ]
        if publish:
            name = name or f"release-{number}"
            lines.append(f"op.publish_release({number}, name={name!r}, on='2026-01-01', digest={digest!r})")
        return self.write_lines(lines, [f"op.withdraw_release({number})"], number=number)

    def write_lines(self, up: Iterable[str], down: Iterable[str], *, number: int) -> Path:
        """Write a migration with these statements."""
        before = sorted(path.stem for path in self.folder.glob("test_*.py") if path.stem < f"test_{number:04}")
        text = [
            "from alembic import op",
            f"revision = 'test_{number:04}'",
            f"down_revision = {before[-1] if before else None!r}",
            f"branch_labels = {None if before else ('catalog',)!r}",
            "depends_on = None",
            "def upgrade():",
            *(f"    {line}" for line in up),
            "def downgrade():",
            *(f"    {line}" for line in down or ["pass"]),
            "",
        ]
        path = self.folder / f"test_{number:04}.py"
        path.write_text("\n".join(text))
        return path

    def upgrade(self) -> None:
        """Run what is not yet run."""
        upgrade(self.url, self.folder)

    def downgrade(self, number: int) -> None:
        """Withdraw the releases after `number` (0: all)."""
        downgrade(self.url, self.folder, revision=f"test_{number:04}" if number else "catalog@base")


def small_edits() -> list[Edit]:
    """The least catalog in which something fits: a block, a gasket, a spacer, bolts and a pump."""
    return [
        {
            "edit": "add_connection",
            "name": "alder_block",
            "title": "Alder pump face",
            "sort": "face",
            "ends": ["block", "pump"],
            "seal": "gasket",
            "pieces_per_layer": 2,
            "gasket": "G-1",
            "bolts": 8,
        },
        {
            "edit": "add_part",
            "number": "E-1",
            "kind": "engine",
            "name": "Alder block",
            "attributes": {"thread": "M8x1.25", "hole_material": "aluminium"},
            "measures": {"hole_depth": "30 mm"},
            "ports": [{"name": "pump_face", "role": "pump_face", "connection": "alder_block", "end": "block"}],
        },
        {
            "edit": "add_part",
            "number": "G-1",
            "kind": "gasket",
            "name": "Alder gasket",
            "measures": {"thickness": "1 mm"},
            "price": "4.00 USD",
        },
        {
            "edit": "add_part",
            "number": "P-1",
            "kind": "water_pump",
            "name": "Alder pump",
            "recommended": True,
            "price": "149.00 USD",
            "aliases": ["99-1"],
            "attributes": {"rotation": "clockwise", "profile": "PK"},
            "measures": {
                "belt_plane": "146 mm",
                "cover_room": {"value": "57 mm", "plus": "0.2 mm", "taken_with": "caliper", "source": "bench"},
                "flange_thickness": "20 mm",
            },
            "bands": [{"from": "135 mm", "to": "157 mm", "surface": "ribbed", "grooves": 6}],
            "ports": [
                {"name": "mount", "role": "mount", "connection": "alder_block", "end": "pump", "wet": True},
                {"name": "outlet", "role": "coolant_out", "connection": "alder_block", "end": "pump", "side": "left"},
            ],
            "cues": [
                {
                    "name": "outlet_side",
                    "question": "Which way does the outlet point?",
                    "answer": "left",
                    "answers": ["left", "right"],
                    "ease": "in_car",
                    "error_percent": 3,
                }
            ],
        },
        {
            "edit": "add_part",
            "number": "S-1",
            "kind": "spacer",
            "name": "Alder spacer",
            "measures": {"thickness": "10 mm"},
            "ports": [
                {"name": "rear", "role": "mount", "connection": "alder_block", "end": "pump"},
                {"name": "front", "role": "pump_face", "connection": "alder_block", "end": "block"},
            ],
        },
        {
            "edit": "add_part",
            "number": "F-1",
            "kind": "fastener_set",
            "name": "Bolts M8 x 45",
            "attributes": {"thread": "M8x1.25", "pieces": 8},
            "measures": {"length": "45 mm"},
        },
        {
            "edit": "add_rule",
            "name": "p1_on_s1",
            "kind": "tested_fit",
            "part": "P-1",
            "others": ["S-1", "S-1"],
            "settles": ["cover"],
            "source": "bench",
        },
    ]
