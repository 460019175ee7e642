"""Reading XLSX. Every part of the package is looked through before it is opened: sizes, and what XML must not hold."""

import warnings
import zipfile
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any, Final
from xml.parsers import expat

from openpyxl import load_workbook

from catalog.sheets.source import (
    MOST_CHARACTERS,
    MOST_COLUMNS,
    MOST_ROWS,
    MOST_UNPACKED,
    Cell,
    Row,
    Table,
    Unreadable,
    Wrong,
)

ENDINGS: Final = (".xlsx", ".xlsm")
MOST_OF_A_PART: Final = 16 * 2**20
"""Bytes of a part that is neither a sheet nor the table of texts, unpacked: those are read as a whole."""
MOST_TEXTS: Final = 2_000_000
MOST_SHEETS: Final = 100
MOST_DEPTH: Final = 64
_SHEETS: Final = "xl/worksheets/"
_TEXTS: Final = "xl/sharedStrings.xml"


class _Extent:
    """How far the used cells of a sheet reach, and which ranges are merged."""

    def __init__(self) -> None:
        self.row = 0
        self.column = 0
        self.merged: list[str] = []


def open_tables(path: Path, stack: ExitStack) -> list[Table]:
    """The sheets of a workbook, which is closed with the stack.

    Raises
    ------
    Unreadable, OSError
    """
    with path.open("rb") as file:
        start = file.read(8)
    if start.startswith(b"\xd0\xcf\x11\xe0"):
        raise Unreadable("is an old workbook (.xls) or one with a password; save it as .xlsx without a password")
    try:
        extents = _looked_through(path)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of what a workbook has besides cells
            book: Any = load_workbook(path, read_only=True, keep_links=False)
        stack.callback(book.close)
        # Which part of the package a sheet is, openpyxl tells nowhere else.
        found = [(sheet, sheet._worksheet_path.lstrip("/")) for sheet in book.worksheets]
    except (Unreadable, MemoryError):
        raise
    except Exception as fault:  # a broken package fails in as many ways as it has parts
        raise Unreadable(f"cannot be read as a workbook ({fault}); open it and save it again as .xlsx") from fault
    return [
        Table(f"{path}, sheet {sheet.title}", sheet.title, _reader(sheet, extents.get(part, _Extent())), True)
        for sheet, part in found
    ]


def _reader(sheet: Any, extent: _Extent) -> Callable[[], Iterator[tuple[int, Row]]]:
    def rows() -> Iterator[tuple[int, Row]]:
        if extent.merged:
            raise Unreadable(
                f"cells are merged ({', '.join(extent.merged[:5])}{' ...' if len(extent.merged) > 5 else ''}); "
                "unmerge them and fill each cell"
            )
        if extent.row > MOST_ROWS:
            raise Unreadable(f"reaches to row {extent.row:,}; at most {MOST_ROWS:,} rows are read")
        if extent.column > MOST_COLUMNS:
            raise Unreadable(f"reaches to column {extent.column:,}; at most {MOST_COLUMNS} are read")
        if not extent.row:
            return
        sheet.reset_dimensions()  # what a sheet says of its own size may be wrong
        found = sheet.iter_rows(min_row=1, max_row=extent.row, max_col=extent.column)
        number = 0
        try:
            while True:
                with warnings.catch_warnings():
                    warnings.simplefilter("ignore")
                    cells = next(found, None)
                if cells is None:
                    return
                number += 1
                yield number, [_cell(cell) for cell in cells]
        except (ValueError, TypeError, KeyError, IndexError, OverflowError) as fault:
            raise Unreadable(f"cannot be read ({fault}); save the workbook again", number + 1) from fault

    return rows


def _cell(cell: Any) -> Cell:
    value, sort = cell.value, cell.data_type
    if value is None:
        return ""
    if sort == "f":
        text = getattr(value, "text", value)
        return Wrong(f"holds a formula ({str(text)[:60]}); put its value there instead (copy, then paste as values)")
    if sort == "e":
        return Wrong(f"holds a spreadsheet's error ({value}); write the value")
    match value:
        case bool():
            return "yes" if value else "no"
        case int():
            return str(value)
        case float():
            return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
        case datetime() | date() | time() | timedelta():
            return Wrong(
                f"is a date or a time ({value}), made by the spreadsheet program of what was typed; "
                "format the column as text and type it again"
            )
    text = str(value)
    return (
        text
        if len(text) <= MOST_CHARACTERS
        else Wrong(f"has {len(text):,} characters; at most {MOST_CHARACTERS:,} are read")
    )


def _looked_through(path: Path) -> dict[str, _Extent]:
    """Refuse a package that would unpack to more than the limits; for each sheet its extent."""
    extents: dict[str, _Extent] = {}
    with zipfile.ZipFile(path) as package:
        parts = [part for part in package.infolist() if part.filename.lower().endswith((".xml", ".rels"))]
        names = [part.filename for part in parts]
        if len(set(names)) != len(names) or len(parts) > 10 * MOST_SHEETS:
            raise Unreadable("is no workbook as spreadsheet programs write it: its parts are too many, or there twice")
        if sum(name.startswith(_SHEETS) and name.endswith(".xml") for name in names) > MOST_SHEETS:
            raise Unreadable(f"has more than {MOST_SHEETS} sheets")
        # Python reads no more of a part than the package says that it has.
        if sum(part.file_size for part in parts) > MOST_UNPACKED:
            raise Unreadable(f"unpacks to more than {MOST_UNPACKED // 2**20} MB; split it, or take CSV")
        for part in parts:
            name = part.filename
            is_sheet = name.startswith(_SHEETS) and name.endswith(".xml")
            if not is_sheet and name != _TEXTS and part.file_size > MOST_OF_A_PART:
                raise Unreadable(f"its part {name} unpacks to more than {MOST_OF_A_PART // 2**20} MB")
            with package.open(part) as stream:
                look = _Look(name, is_sheet)
                look.through(stream)
            if is_sheet:
                extents[name] = look.extent
    return extents


class _Look:
    """One pass over the XML of a part."""

    def __init__(self, part: str, is_sheet: bool) -> None:
        self.part = part
        self.extent = _Extent()
        self.depth = self.texts = self.cells = self.characters = 0
        self._at = (0, 0)
        self.parser = expat.ParserCreate()
        self.parser.buffer_text = True
        self.parser.StartDoctypeDeclHandler = self._doctype
        self.parser.StartElementHandler = self._start
        self.parser.EndElementHandler = self._end
        if is_sheet or part == _TEXTS:
            self.parser.CharacterDataHandler = self._characters

    def through(self, stream: Any) -> None:
        self.parser.ParseFile(stream)

    def _doctype(self, *_: object) -> None:
        # ECMA-376 part 2 forbids declarations of a document type; with one, a few bytes can mean gigabytes.
        raise Unreadable(f"its part {self.part} declares a document type, which no workbook does")

    def _start(self, tag: str, attributes: dict[str, str]) -> None:
        self.depth += 1
        self.characters = 0
        if self.depth > MOST_DEPTH:
            raise Unreadable(f"its part {self.part} is nested deeper than {MOST_DEPTH} elements")
        name = tag.rpartition(":")[2]
        if name == "c":
            self._cell(attributes.get("r", ""))
        elif name in ("v", "is", "f"):
            self.extent.row = max(self.extent.row, self._at[0])
            self.extent.column = max(self.extent.column, self._at[1])
        elif name == "row":
            given = attributes.get("r", "")
            self._at = (int(given) if given.isdigit() and len(given) < 10 else self._at[0] + 1, 0)
            self.cells = 0
        elif name == "si":
            self.texts += 1
            if self.texts > MOST_TEXTS:
                raise Unreadable(f"has more than {MOST_TEXTS:,} different texts; split it, or take CSV")
        elif name == "mergeCell" and len(self.extent.merged) < 100:
            self.extent.merged.append(attributes.get("ref", "?")[:40])

    def _cell(self, reference: str) -> None:
        self.cells += 1
        if self.cells > 20_000:
            raise Unreadable(f"row {self._at[0]:,} has more cells than a spreadsheet has columns")
        column = 0
        for letter in reference:
            if not letter.isalpha():
                break
            column = min(column * 26 + ord(letter.upper()) - 64, 1_000_000)
        self._at = (self._at[0], column or self._at[1] + 1)

    def _characters(self, text: str) -> None:
        self.characters += len(text)
        if self.characters > 50 * MOST_CHARACTERS:
            raise Unreadable(f"a text has more than {50 * MOST_CHARACTERS:,} characters")

    def _end(self, _: str) -> None:
        self.depth -= 1
