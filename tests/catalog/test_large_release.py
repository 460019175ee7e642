"""A release of very many parts is published within a minute and within 500 MB of memory.

Without effort a small one stands for it. This publishes 100,000 parts, then revises or retires every one of them, and
prints what that took: `BELTPLANE_TEST_EFFORT=100 .venv/bin/pytest -s tests/catalog/test_large_release.py`
"""

import hashlib
import json
import subprocess
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path

from tests.support import CatalogFolder, Edit, effort, small_edits

ROOT = Path(__file__).parents[2]
PARTS = min(100_000, 1_000 * effort())
SECONDS, MEGABYTES = 60, 500
PROGRAM = """
import sys, time
from pathlib import Path
from catalog.migrate import upgrade
from catalog.publish import CatalogFaults
start = time.monotonic()
try:
    upgrade(*sys.argv[1:])
except CatalogFaults as faults:
    print(*faults.faults, sep="\\n", file=sys.stderr)
# The peak of this process alone; what `getrusage` tells may be that of the one that started it.
peak = next(line for line in Path("/proc/self/status").read_text().splitlines() if line.startswith("VmHWM"))
print(time.monotonic() - start, int(peak.split()[1]) / 1024)
"""
KINDS = ("gasket", "water_pump", "spacer", "cap")


def added() -> Iterator[Edit]:
    """Parts like those of the small catalog, and as much known of each."""
    small = {edit["kind"]: edit for edit in small_edits() if edit["edit"] == "add_part"}
    small["cap"] = {"edit": "add_part", "kind": "cap", "name": "Cap", "price": "2.00 USD"}
    for place in range(PARTS):
        edit = {**small[KINDS[place % 4]], "number": f"N-{place}", "name": f"Part {place}"}
        if "aliases" in edit:
            edit["aliases"] = [f"A-{place}"]
        yield edit


def revised() -> Iterator[Edit]:
    """An edit of every one of them; spacers are retired, each for the next one."""
    for place in range(PARTS):
        number = f"N-{place}"
        if place % 4 == 2 and place + 4 < PARTS:
            yield {"edit": "retire_part", "number": number, "replaced_by": f"N-{place + 4}"}
        else:
            yield {"edit": "revise_part", "number": number, "name": f"Part {place} again", "price": "5.00 USD"}


def write(catalog: CatalogFolder, number: int, edits: Iterable[Edit]) -> None:
    """A migration whose edits live in a file beside it; its digest is put in once it is known."""
    content = "".join(json.dumps(edit) + "\n" for edit in edits).encode()
    (catalog.folder / f"{number}.jsonl").write_bytes(content)
    catalog.write_lines(
        [
            f"op.apply_edits('{number}.jsonl', sha256='{hashlib.sha256(content).hexdigest()}')",
            f"op.publish_release({number}, name='r{number}', on='2026-01-01', digest='?')",
        ],
        [f"op.withdraw_release({number})"],
        number=number,
    )


def publish(catalog: CatalogFolder, number: int) -> str:
    """Publish in a process of its own, and look at what that took; gives the digest where the migration has none."""
    arguments = [sys.executable, "-c", PROGRAM, catalog.url, str(catalog.folder)]
    done = subprocess.run(arguments, cwd=ROOT, capture_output=True, text=True, check=True)
    seconds, megabytes = map(float, done.stdout.split())
    print(f"{PARTS} parts, release {number}, {catalog.url[:10]}: {seconds:.1f} s, {megabytes:.0f} MB")
    assert seconds < SECONDS
    assert megabytes < MEGABYTES
    return done.stderr and done.stderr.split('"')[1]


def test_large_releases(tmp_path: Path, sqlite_url: str, postgres_url: str) -> None:
    here, there = (CatalogFolder(tmp_path / "migrations", url) for url in (sqlite_url, postgres_url))
    for number, edits in ((1, [*small_edits(), *added()]), (2, list(revised()))):
        write(here, number, edits)
        path = here.folder / f"test_{number:04}.py"
        path.write_text(path.read_text().replace("'?'", repr(publish(here, number))))
        for catalog in (here, there):
            assert publish(catalog, number) == "", "the same digest on both"
