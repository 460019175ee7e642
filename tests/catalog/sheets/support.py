"""Sheets for tests: a release to lay them over, files made in the test, and the faults that come of them."""

import csv
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from catalog.making import Rows
from catalog.propose import EMPTY, faults_of
from catalog.sheets.apply import checked_sheets
from catalog.sheets.example import example_lines
from catalog.sheets.faults import SheetFaults
from catalog.sheets.write import write_sheets

Line = Sequence[Any]


def example(folder: Path) -> Rows:
    """The small catalog of twelve parts."""
    write_sheets(folder / "example", example_lines())
    rows, _ = checked_sheets(EMPTY, [folder / "example"], whole=False, check=faults_of)
    return rows


def csv_file(folder: Path, name: str, *lines: Line, **how: Any) -> Path:
    """A CSV file in UTF-8, its cells as they are given."""
    path = folder / f"{name}.csv"
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("w", encoding=how.pop("encoding", "utf-8"), newline="") as file:
        csv.writer(file, **how).writerows(lines)
    return path


def text_file(folder: Path, name: str, text: str | bytes) -> Path:
    """A CSV file with exactly this in it."""
    path = folder / f"{name}.csv"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return path


def workbook(folder: Path, name: str, sheets: dict[str, Iterable[Line]]) -> tuple[Path, Any]:
    """A workbook as another library writes it; it may be changed and saved again."""
    book = openpyxl.Workbook()
    book.remove(book["Sheet"])
    for title, lines in sheets.items():
        sheet = book.create_sheet(title)
        for line in lines:
            sheet.append(list(line))
    path = folder / f"{name}.xlsx"
    book.save(path)
    return path, book


def laid(release: Rows, *paths: Path, whole: bool = False) -> Rows:
    rows, _ = checked_sheets(release, paths, whole=whole, check=faults_of)
    return rows


def faults(release: Rows, *paths: Path, whole: bool = False) -> list[str]:
    """The faults, each with its place, the folder left out."""
    with pytest.raises(SheetFaults) as caught:
        laid(release, *paths, whole=whole)
    folder = str(paths[0].parent) + "/"
    return [str(fault).replace(folder, "") for fault in caught.value.faults.told]
