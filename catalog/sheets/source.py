"""Files of sheets as rows of cells, whatever the kind of file; what every kind has in common, and the limits."""

from collections.abc import Callable, Iterable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Final

import msgspec

from catalog.sheets.faults import Faults, Place

MOST_BYTES: Final = 64 * 2**20
"""Size of one file."""
MOST_FILES: Final = 100
MOST_ROWS: Final = 500_000
"""Rows of all files together, headings and empty ones included."""
MOST_COLUMNS: Final = 100
MOST_CHARACTERS: Final = 10_000
"""Characters of one cell."""
MOST_UNPACKED: Final = 512 * 2**20
"""Bytes of all XML of a workbook, unpacked."""
LIMITS: Final = (
    f"at most {MOST_FILES} files of {MOST_BYTES // 2**20} MB each, {MOST_ROWS:,} rows in all, "
    f"{MOST_COLUMNS} columns, {MOST_CHARACTERS:,} characters a cell"
)


class Wrong(msgspec.Struct, frozen=True):
    """A cell that holds no text, number or yes or no; `text` says what it holds and what would be right."""

    text: str


Cell = str | Wrong
Row = list[Cell]


class Table(msgspec.Struct, frozen=True):
    """One sheet of a file. `rows` reads it afresh, a row at a time, each with its number as spreadsheets count."""

    label: str
    """What a fault calls it: the file, and the sheet where the file has several."""
    title: str
    """By which it may be recognised: the file's name without its ending, or the sheet's."""
    rows: Callable[[], Iterator[tuple[int, Row]]]
    in_workbook: bool = False


class Unreadable(Exception):
    """A file, or the rest of it, cannot be read; the sentence says why and what would be right."""

    def __init__(self, text: str, row: int = 0) -> None:
        super().__init__(text)
        self.row = row


def tables_of(paths: Iterable[Path], faults: Faults, stack: ExitStack) -> list[Table]:
    """The sheets of files, and of the files in folders, open until the stack is; what cannot be read is a fault."""
    from catalog.sheets import read_csv, read_xlsx  # they need what stands above

    tables: list[Table] = []
    files = list(_files(paths, faults))
    if len(files) > MOST_FILES:
        faults.add(Place(str(files[MOST_FILES])), f"there are {len(files)} files; {LIMITS}")
        return tables
    for path in files:
        try:
            size = path.stat().st_size
            if size > MOST_BYTES:
                raise Unreadable(f"has {size / 2**20:.1f} MB; {LIMITS}")
            reader = read_xlsx if path.suffix.lower() in read_xlsx.ENDINGS else read_csv
            tables += reader.open_tables(path, stack)
        except Unreadable as fault:
            faults.add(Place(str(path)), str(fault))
        except OSError as fault:
            faults.add(Place(str(path)), f"cannot be read: {fault.strerror or fault}")
    return tables


_ENDINGS: Final = (".csv", ".txt", ".tsv", ".xlsx", ".xlsm")


def _files(paths: Iterable[Path], faults: Faults) -> Iterator[Path]:
    """Each file once, those of a folder by name; open spreadsheets' lock files are passed over."""
    seen: set[Path] = set()
    for path in paths:
        found = [path]
        if path.is_dir():
            found = sorted(
                one
                for one in path.iterdir()
                if one.suffix.lower() in _ENDINGS and not one.name.startswith(("~$", ".")) and one.is_file()
            )
            if not found:
                faults.add(Place(str(path)), "the folder holds no file that ends in .csv or .xlsx")
        for one in found:
            if one.suffix.lower() not in _ENDINGS:
                faults.add(Place(str(one)), "is neither .csv nor .xlsx; save it as one of these")
            elif (real := one.resolve()) not in seen:
                seen.add(real)
                yield one
