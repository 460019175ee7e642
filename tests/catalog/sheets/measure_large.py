"""Reads large sheets, clean and faulty, and prints seconds and memory (DEVELOPERS.md says how to run it)."""

import subprocess
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from tempfile import TemporaryDirectory

from catalog.sheets.write import write_sheets

_READ = """
import resource, sys, time
from pathlib import Path
from catalog.propose import EMPTY, faults_of
from catalog.differences import edits_between
from catalog.sheets.apply import checked_sheets
from catalog.sheets.faults import SheetFaults
try:
    rows, _ = checked_sheets(EMPTY, [Path(sys.argv[1])], whole=False, check=faults_of)
    outcome = f"{len(edits_between(EMPTY, rows)):,} edits"
except SheetFaults as fault:
    outcome = f"{fault.faults.count:,} faults, {len(fault.faults.told)} told"
memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
print(f"{outcome}; {time.process_time():.0f} s of one core, {memory} MB")
"""


def parts(number: int) -> Iterator[Sequence[str]]:
    yield ("number", "kind", "name", "status", "recommended")
    for place in range(number):
        yield (f"FN-{place:06}", "fan", f"Fan {place}", "active", "no")


def measures(number: int, *, text: str, source: str = "") -> Iterator[Sequence[str]]:
    yield ("part", "measure", "value", "plus", "minus", "taken_with", "source")
    for place in range(number):
        name = ("depth", "depth_behind")[place % 2]
        yield (
            f"FN-{place // 2:06}",
            name,
            f"{place % 90}{text}",
            "0.1 mm",
            "0.1 mm",
            "caliper",
            f"{source}bench {place}",
        )


def main() -> None:
    """Make the sheets in a temporary folder, and read each in a process of its own."""
    with TemporaryDirectory() as name:
        folder = Path(name)
        for title, target, lines, more in (
            ("200,000 lines of CSV", "clean", 200_000, {"text": ".5 mm"}),
            ("200,000 faulty lines of CSV", "faulty", 200_000, {"text": ",500 mm"}),
            ("300,000 lines of CSV, 50 MB and more", "large", 300_000, {"text": " mm", "source": "x" * 120}),
            ("200,000 lines of a workbook", "book.xlsx", 200_000, {"text": " mm"}),
        ):
            write_sheets(folder / target, {"parts": parts(lines // 2), "measures": measures(lines, **more)})
            size = (
                sum(path.stat().st_size for path in folder.glob(f"{target}/*.csv")) or (folder / target).stat().st_size
            )
            done = subprocess.run(
                [sys.executable, "-c", _READ, folder / target], capture_output=True, text=True, check=True
            )
            print(f"{title} ({size / 2**20:.0f} MB): {done.stdout.strip()}", flush=True)


if __name__ == "__main__":
    main()
