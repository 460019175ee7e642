"""Writing sheets: a release, or a template, as a workbook or as a folder of CSV files."""

import csv
import io
import re
import zipfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Final

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.styles import Font

from catalog.reader import Rows
from catalog.sheets.cells import guarded, write
from catalog.sheets.layout import SHEETS, WORDS, WORDS_HEADINGS, words
from catalog.sheets.rows import values_of

Lines = Iterable[Sequence[str]]
_NEEDS_APOSTROPHE: Final = re.compile(r"'+\s*[=+\-@|%\t\r\n＝＋－＠]|-$")
"""Texts of a workbook that reading would take for others: a cell that is text runs no formula by itself."""


def release_lines(rows: Rows) -> Mapping[str, Lines]:
    """For each sheet its headings and a line for each row of a release."""
    return {name: _lines_of(name, rows) for name in SHEETS}


def template_lines() -> Mapping[str, Lines]:
    """For each sheet its headings and one example line, which starts with # and so is passed over."""
    return {
        name: [sheet.headings, [f"# {sheet.columns[0].example}", *(column.example for column in sheet.columns[1:])]]
        for name, sheet in SHEETS.items()
    } | {WORDS: [WORDS_HEADINGS, *words()]}


def write_sheets(target: Path, sheets: Mapping[str, Lines]) -> list[Path]:
    """Write sheets to a workbook where the target ends in .xlsx, else to CSV files in a folder.

    A file is written beside its place and renamed into it. The order and the bytes follow from the sheets alone.

    Returns
    -------
    The files.

    Raises
    ------
    FileExistsError
        When a file is there already; nothing is written.
    """
    is_workbook = target.suffix.lower() == ".xlsx"
    paths = [target] if is_workbook else [target / f"{name}.csv" for name in sheets]
    for path in paths:
        if path.exists():
            raise FileExistsError(f"{path} is there already; name another place, or take it away first.")
    parent = target.parent if is_workbook else target
    parent.mkdir(parents=True, exist_ok=True)
    with TemporaryDirectory(prefix=".sheets-", dir=parent) as folder:
        written = [Path(folder) / path.name for path in paths]
        if is_workbook:
            _workbook(written[0], sheets)
        else:
            for path, lines in zip(written, sheets.values(), strict=True):
                _csv(path, lines)
        for temporary, path in zip(written, paths, strict=True):
            temporary.replace(path)
    return paths


def _lines_of(name: str, rows: Rows) -> Iterator[Sequence[str]]:
    sheet = SHEETS[name]
    yield sheet.headings
    for row in rows[sheet.table]:
        yield [write(column, value) for column, value in zip(sheet.columns, values_of(sheet, row), strict=True)]


def _csv(path: Path, lines: Lines) -> None:
    # With the byte-order mark, or some spreadsheet programs take UTF-8 for an older encoding.
    with path.open("w", encoding="utf-8-sig", newline="") as file:
        writer = csv.writer(file, lineterminator="\r\n")
        for line in lines:
            writer.writerow([guarded(text) for text in line])


def _workbook(path: Path, sheets: Mapping[str, Lines]) -> None:
    book = Workbook(write_only=True)
    book.properties.created = book.properties.modified = datetime(2026, 1, 1)
    book.properties.creator = "beltplane"
    for name, lines in sheets.items():
        sheet = book.create_sheet(name)
        sheet.freeze_panes = "A2"
        for place in range(1, 11):
            sheet.column_dimensions[chr(ord("A") + place - 1)].width = 22
        for number, line in enumerate(lines):
            sheet.append([_cell(sheet, text, heading=number == 0) for text in line])
    whole = io.BytesIO()
    book.save(whole)
    _with_fixed_times(whole, path)


def _cell(sheet: Any, text: str, *, heading: bool) -> Any:
    """A cell that is text, whatever it looks like: no part number becomes a date, and nothing a formula."""
    cell = WriteOnlyCell(sheet)
    if text:
        cell._value = f"'{text}" if _NEEDS_APOSTROPHE.match(text) else text
        cell.data_type = "s"
    cell.number_format = "@"
    if text.startswith(("=", "+", "-", "@")):
        cell.quotePrefix = True
    if heading:
        cell.font = Font(bold=True)
    return cell


def _with_fixed_times(whole: io.BytesIO, path: Path) -> None:
    """The package with one time for all of its parts, so that the same sheets are the same bytes."""
    with zipfile.ZipFile(whole) as old, zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as new:
        for part in old.infolist():
            entry = zipfile.ZipInfo(part.filename, (2026, 1, 1, 0, 0, 0))
            entry.compress_type = zipfile.ZIP_DEFLATED
            with old.open(part) as source, new.open(entry, "w") as target:
                while block := source.read(1 << 20):
                    target.write(block)
