"""Reading CSV: UTF-8 with or without a byte-order mark, or UTF-16 with one; separated by commas, semicolons or tabs."""

import csv
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Final

from catalog.sheets.layout import SHEETS
from catalog.sheets.source import MOST_CHARACTERS, MOST_COLUMNS, Cell, Row, Table, Unreadable, Wrong

_HEADINGS: Final = frozenset(heading for sheet in SHEETS.values() for heading in sheet.headings)
_SEPARATORS: Final = (",", ";", "\t")


def open_tables(path: Path, _: ExitStack) -> list[Table]:
    """The one table of a CSV file.

    Raises
    ------
    Unreadable, OSError
    """
    with path.open("rb") as file:
        start = file.read(8)
    if start.startswith(b"PK\x03\x04"):
        raise Unreadable("is a workbook and not CSV; name it .xlsx, or save it as CSV UTF-8")
    if start.startswith(b"\xd0\xcf\x11\xe0"):
        raise Unreadable("is an old workbook (.xls) or one with a password; save it as .xlsx or CSV UTF-8")
    encoding = "utf-16" if start.startswith((b"\xff\xfe", b"\xfe\xff")) else "utf-8-sig"
    return [Table(str(path), path.stem, lambda: _rows(path, encoding))]


def _rows(path: Path, encoding: str) -> Iterator[tuple[int, Row]]:
    # A byte that is no UTF-8 becomes a lone surrogate, and is told of with its row and column.
    errors = "surrogateescape" if encoding == "utf-8-sig" else "replace"
    with path.open(encoding=encoding, errors=errors, newline="") as file:
        separator, skip = _separator(file)
        file.seek(0)
        for _ in range(skip):
            file.readline()
        csv.field_size_limit(max(csv.field_size_limit(), 4 * MOST_CHARACTERS))
        reader = csv.reader(file, delimiter=separator, strict=True)
        number = skip
        while True:
            number += 1
            try:
                cells = next(reader)
            except StopIteration:
                return
            except (csv.Error, UnicodeError) as fault:
                raise Unreadable(_reason(fault), number) from fault
            if len(cells) > MOST_COLUMNS and any(cells[MOST_COLUMNS:]):
                raise Unreadable(f"has {len(cells):,} cells; at most {MOST_COLUMNS} are read", number)
            yield number, [_cell(text) for text in cells[:MOST_COLUMNS]]


def _separator(file: object) -> tuple[str, int]:
    """The separator that makes the most headings of the first line, and how many lines to pass over before them."""
    line = file.readline(MOST_COLUMNS * 200)  # type: ignore[attr-defined]
    if line.lower().startswith("sep=") and len(line.strip()) == 5:
        return line.strip()[4], 1
    known = [
        sum(word.strip().strip('"').strip().lower() in _HEADINGS for word in line.split(mark)) for mark in _SEPARATORS
    ]
    best = max(range(len(_SEPARATORS)), key=lambda place: (known[place], line.count(_SEPARATORS[place])))
    return _SEPARATORS[best], 0


def _reason(fault: Exception) -> str:
    text = str(fault)
    if "field limit" in text:
        return (
            f"a cell has more than {4 * MOST_CHARACTERS:,} characters, perhaps because a quotation mark opens it "
            "and none closes it"
        )
    if "expected after" in text or "unexpected end of data" in text:
        return (
            "a quotation mark opens a cell and is not closed where the cell ends; "
            'within quotation marks write a quotation mark twice ("5 3/4""")'
        )
    return f"cannot be read: {text}"


def _cell(text: str) -> Cell:
    if text.isascii():
        return text if len(text) <= MOST_CHARACTERS else Wrong(_too_long(text))
    if len(text) > MOST_CHARACTERS:
        return Wrong(_too_long(text))
    if any("\ud800" <= letter <= "\udfff" or letter == "\ufffd" for letter in text):
        raw = text.encode("utf-8", "surrogateescape")
        guess = raw.decode("cp1252", "replace")[:60]
        return Wrong(f'is not in UTF-8 (is it "{guess}"?); save the file as "CSV UTF-8"')
    return text


def _too_long(text: str) -> str:
    return f"has {len(text):,} characters; at most {MOST_CHARACTERS:,} are read"
