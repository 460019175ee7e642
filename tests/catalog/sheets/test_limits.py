"""Sheets that are too large, or made to be: refused with a sentence, in little memory, and nothing is laid."""

import re
import subprocess
import sys
from io import BytesIO
from pathlib import Path
from zipfile import ZIP_DEFLATED, ZipFile

import pytest

from catalog.propose import EMPTY
from catalog.sheets import read_xlsx, source
from catalog.sheets.write import write_sheets
from tests.catalog.sheets.support import csv_file, faults, workbook

PARTS = [("number", "kind", "name"), ("FN-1", "fan", "Fan")]


def changed(path: Path, part: str, change: bytes | tuple[bytes, bytes], *, add: bool = False) -> Path:
    """The workbook with one part of its package replaced, or with one thing in it replaced by another."""
    whole = BytesIO(path.read_bytes())
    with ZipFile(whole) as old, ZipFile(path, "w", ZIP_DEFLATED) as new:
        for name in old.namelist():
            content = old.read(name)
            if name == part:
                content = content.replace(*change, 1) if isinstance(change, tuple) else change
            new.writestr(name, content)
        if add:
            assert isinstance(change, bytes)
            new.writestr(part, change)
    return path


SHEET = "xl/worksheets/sheet1.xml"
BOMB = b'<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]><worksheet/>'


@pytest.mark.parametrize(
    ("part", "change", "told"),
    [
        (SHEET, BOMB, "declares a document type, which no workbook does"),
        ("xl/workbook.xml", BOMB, "declares a document type"),
        (SHEET, b"<a>" * 100 + b"</a>" * 100, "nested deeper than 64 elements"),
        (SHEET, (b'<row r="2"', b'<row r="900000"'), "reaches to row 900,000; at most 500,000 rows are read"),
        (SHEET, (b'r="B2"', b'r="XFD2"'), "reaches to column 16,384; at most 100 are read"),
        (SHEET, b"<worksheet", "cannot be read as a workbook"),
        (SHEET, b"<row>" + b"<c/>" * 20_001 + b"</row>", "has more cells than a spreadsheet has columns"),
        (SHEET, b"<row><c><v>" + b"1" * 600_000 + b"</v></c></row>", "a text has more than 500,000 characters"),
        ("xl/styles.xml", b"<a>" + b" " * 17 * 2**20 + b"</a>", "xl/styles.xml unpacks to more than 16 MB"),
    ],
    ids=["entities", "entities2", "deep", "row", "column", "broken", "cells", "text", "part"],
)
def test_workbooks_that_are_made_to_harm(
    tmp_path: Path, part: str, change: bytes | tuple[bytes, bytes], told: str
) -> None:
    path, _ = workbook(tmp_path, "ours", {"parts": PARTS})
    assert told in faults(EMPTY, changed(path, part, change))[0]


def test_a_text_that_the_workbook_does_not_hold(tmp_path: Path) -> None:
    write_sheets(tmp_path / "ours.xlsx", {"parts": PARTS})
    path = changed(tmp_path / "ours.xlsx", SHEET, (b"<v>0</v>", b"<v>99</v>"))
    assert "cannot be read (list index out of range); save the workbook again" in faults(EMPTY, path)[0]


def test_a_workbook_that_unpacks_to_gigabytes_is_not_unpacked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(read_xlsx, "MOST_UNPACKED", 2 * 2**20)
    path, _ = workbook(tmp_path, "ours", {"parts": PARTS})
    changed(path, SHEET, (b"</worksheet>", b" " * 3 * 2**20 + b"</worksheet>"))
    assert path.stat().st_size < 20_000
    assert "unpacks to more than 2 MB; split it, or take CSV" in faults(EMPTY, path)[0]


def test_what_a_package_says_of_its_sizes_is_held_to(tmp_path: Path) -> None:
    """A package whose directory says that a part is small: Python reads no more, and the part is broken."""
    path, _ = workbook(tmp_path, "ours", {"parts": PARTS})
    with ZipFile(path) as package:
        size = package.getinfo(SHEET).file_size
    data = path.read_bytes()
    lying = data.replace(size.to_bytes(4, "little"), (100).to_bytes(4, "little"))
    assert lying != data
    path.write_bytes(lying)
    assert "cannot be read as a workbook" in faults(EMPTY, path)[0]


def test_files_rows_and_columns_have_limits(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(source, "MOST_BYTES", 100)
    large = csv_file(tmp_path, "parts", *PARTS, ("FN-2", "fan", "x" * 100))
    assert re.match(r"parts\.csv: has 0\.0 MB; at most 100 files of 64 MB each, 500,000 rows", faults(EMPTY, large)[0])
    monkeypatch.undo()
    monkeypatch.setattr("catalog.sheets.apply.MOST_ROWS", 3)
    several = [csv_file(tmp_path / str(place), "parts", *PARTS[:1], (f"FN-{place}", "fan", "x")) for place in range(3)]
    assert "the sheets go on beyond the limit" in faults(EMPTY, *several)[0]
    wide = csv_file(tmp_path / "wide", "parts", ("number", "kind", "name"), ("FN-1", "fan", "Fan", *["x"] * 98))
    assert "row 2: has 101 cells; at most 100 are read" in faults(EMPTY, wide)[0]


def test_many_faults_in_little_memory(tmp_path: Path) -> None:
    """10,000 lines, each with two faults; larger ones are in tests/bench."""
    lines = [(f"P-{number}", "nothing", "", "x") for number in range(10_000)]
    file = csv_file(tmp_path, "parts", ("number", "kind", "name", "status"), *lines)
    script = (
        "import sys, resource\n"
        "from pathlib import Path\n"
        "from catalog.propose import EMPTY\n"
        "from catalog.sheets.apply import apply_sheets\n"
        "before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss\n"
        "_, _, faults = apply_sheets(EMPTY, [Path(sys.argv[1])], whole=False)\n"
        "print(faults.count, len(faults.told), (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) // 1024)\n"
    )
    done = subprocess.run([sys.executable, "-c", script, str(file)], capture_output=True, text=True, check=True)
    count, told, megabytes = map(int, done.stdout.split())
    assert (count, told) == (20_000, 100)
    assert megabytes < 100
