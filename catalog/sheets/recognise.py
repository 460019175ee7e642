"""Which sheet a table is, by its name or its headings, and which column stands where."""

from collections.abc import Iterable

import msgspec

from catalog.sheets.cells import nearest
from catalog.sheets.faults import Faults, Place
from catalog.sheets.layout import SHEETS, WORDS, WORDS_HEADINGS, Column, Sheet
from catalog.sheets.source import Row, Table, Unreadable, Wrong


class Recognised(msgspec.Struct, frozen=True):
    """A table with the sheet that it is, the row of its headings, and for each of its columns what it holds."""

    table: Table
    sheet: Sheet
    heading_row: int
    columns: tuple[Column | None, ...]


def recognised(tables: Iterable[Table], faults: Faults, notes: list[str]) -> list[Recognised]:
    """The tables that are sheets of a catalog, parts and connections first; the others are faults.

    A sheet of a workbook without a heading that we know is passed over with a note: people keep notes there.
    """
    found: list[Recognised] = []
    for table in tables:
        try:
            number, row = _first_row(table)
        except Unreadable as fault:
            faults.add(Place(table.label, fault.row), str(fault))
            continue
        except OSError as fault:
            faults.add(Place(table.label), f"cannot be read: {fault.strerror or fault}")
            continue
        headings = [_heading(cell) for cell in row]
        if _is_words(table, headings):
            continue
        if not any(headings):
            if table.in_workbook:
                notes.append(f"{table.label} is empty and is passed over.")
            else:
                faults.add(Place(table.label), "is empty; its first line holds the headings")
            continue
        sheet = _sheet(table.title, headings)
        if sheet is not None:
            columns = _columns(table, sheet, number, headings, faults)
            if columns is not None:
                found.append(Recognised(table, sheet, number, columns))
        elif table.in_workbook and not _known(headings):
            notes.append(f"{table.label} has no heading of a catalog's sheets and is passed over.")
        else:
            faults.add(
                Place(table.label, number),
                f"which sheet is this? Name it after one of {', '.join(SHEETS)}, and give it that sheet's headings; "
                "`beltplane catalog template` writes them",
            )
    order = list(SHEETS)
    return sorted(found, key=lambda one: order.index(one.sheet.name))


def is_remark(row: Row) -> bool:
    """Whether a row is passed over: an empty one, or one whose first cell starts with #."""
    if not any(isinstance(cell, Wrong) or cell.strip() for cell in row):
        return True
    first = row[0]
    return isinstance(first, str) and first.lstrip().startswith("#")


def _first_row(table: Table) -> tuple[int, Row]:
    for number, row in table.rows():
        if not is_remark(row):
            return number, row
    return 0, []


def _heading(cell: str | Wrong) -> str:
    return "_".join(cell.strip().lower().split()) if isinstance(cell, str) else "?"


def _known(headings: list[str]) -> int:
    return max(len(set(sheet.headings) & set(headings)) for sheet in SHEETS.values())


def _is_words(table: Table, headings: list[str]) -> bool:
    return table.title.strip().lower() == WORDS and set(WORDS_HEADINGS[:4]) <= set(headings)


def _sheet(title: str, headings: list[str]) -> Sheet | None:
    """By its name, where it has the headings that name a line; else the only one that has all headings."""
    given = set(headings) - {""}
    named = SHEETS.get(title.strip().lower())
    if named is not None and _names_lines(named, given):
        return named
    words = title.lower().replace("-", " ").replace("_", " ").replace(".", " ").split()
    hinted = [sheet for sheet in SHEETS.values() if sheet.name in words and _names_lines(sheet, given)]
    if len(hinted) == 1:
        return hinted[0]
    fitting = [sheet for sheet in SHEETS.values() if given <= set(sheet.headings) and _names_lines(sheet, given)]
    return fitting[0] if len(fitting) == 1 else named


def _names_lines(sheet: Sheet, given: set[str]) -> bool:
    return set(sheet.headings[: sheet.keys]) <= given


def _columns(
    table: Table, sheet: Sheet, number: int, headings: list[str], faults: Faults
) -> tuple[Column | None, ...] | None:
    """What each column holds; None where the headings are faulty."""
    known = {column.heading: column for column in sheet.columns}
    columns: list[Column | None] = []
    before = faults.count
    for place, heading in enumerate(headings, start=1):
        where = Place(table.label, number, place)
        column = known.get(heading)
        if heading and column is None:
            faults.add(
                where,
                f'"{heading}" is no heading of {sheet.name}, which has {", ".join(known)}{nearest(heading, known)}',
            )
        elif column is not None and column in columns:
            faults.add(where, f'the heading "{heading}" is there twice')
        columns.append(column)
    for column in sheet.columns[: sheet.keys]:
        if column not in columns:
            faults.add(Place(table.label, number), f'the heading "{column.heading}" is missing: it names the line')
    return tuple(columns) if faults.count == before else None
