"""Writing sheets: a release, or a template, as a workbook or as a folder of CSV files."""

import csv
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from catalog.making import Rows
from catalog.sheets.cells import CLEAR, QUOTED, guarded, write
from catalog.sheets.layout import SHEETS, WORDS, WORDS_HEADINGS, words
from catalog.sheets.rows import values_of
from catalog.sheets.source import MOST_COLUMNS

Lines = Iterable[Sequence[str]]


class TargetExists(Exception):
    """Where sheets are to be written something is already."""


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
    TargetExists
        When a file is there already; nothing is written.
    """
    is_workbook = target.suffix.lower() == ".xlsx"
    paths = [target] if is_workbook else [target / f"{name}.csv" for name in sheets]
    for path in paths:
        if path.exists():
            raise TargetExists(f"{path} is there already; name another place, or take it away first.")
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
    from xlsxwriter import Workbook  # takes a while, and few commands need it

    # Every cell is written as text, so no part number becomes a date and nothing a formula.
    with Workbook(path, {"strings_to_formulas": False, "strings_to_urls": False}) as book:
        book.set_properties({"author": "beltplane", "created": datetime(2026, 1, 1)})  # the same sheets, the same bytes
        text = book.add_format({"num_format": "@"})
        quoted = book.add_format({"num_format": "@", "quote_prefix": True})
        bold = book.add_format({"num_format": "@", "bold": True})
        for name, lines in sheets.items():
            sheet = book.add_worksheet(name)
            sheet.freeze_panes(1, 0)
            sheet.set_column(0, MOST_COLUMNS - 1, 22, text)
            for number, line in enumerate(lines):
                for place, cell in enumerate(line):
                    if cell:
                        form = bold if number == 0 else quoted if guarded(cell) != cell else text
                        sheet.write_string(number, place, _marked(cell), form)


def _marked(text: str) -> str:
    """A text that reading would take for another one, marked so that it does not."""
    return f"'{text}" if text == CLEAR or QUOTED.match(text) else text
