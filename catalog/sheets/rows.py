"""A line of a sheet and a row of the database: the same facts, as values a column and as the table keeps them."""

from collections.abc import Sequence
from typing import Any, cast

import msgspec

from catalog.making import Rows
from catalog.sheets.layout import SHEETS, Sheet, Value

Row = tuple[Any, ...]
Content = dict[str, dict[tuple[Any, ...], Row]]
"""For each table its rows by their keys, which are their first columns."""

_KEYS = {sheet.table: sheet.keys for sheet in SHEETS.values()}
_texts = msgspec.json.Decoder(tuple[str, ...]).decode
_scalar = msgspec.json.Decoder(bool | int | str).decode


def content_of(rows: Rows) -> Content:
    """The rows by their keys."""
    return {table: {row[: _KEYS[table]]: row for row in rows.get(table, ())} for table in sorted(_KEYS)}


def rows_of(content: Content) -> Rows:
    """The rows in the order in which the reader gives them."""
    return {table: [rows[key] for key in sorted(rows)] for table, rows in content.items()}


def key_of(sheet: Sheet, values: Sequence[Value]) -> tuple[Any, ...]:
    """What names a line's row in its table."""
    key = tuple(values[: sheet.keys])
    if sheet.name == "bands":
        return key[0], cast("int", key[1]) - 1
    return key


def values_of(sheet: Sheet, row: Row) -> list[Value]:
    """The values of a row, a column each."""
    match sheet.name:
        case "connections":
            name, title, sort, ends, *rest = row
            return [name, title, sort, *_texts(ends), *rest]
        case "bands":
            return [row[0], row[1] + 1, *row[2:]]
        case "attributes":
            return [row[0], row[1], _scalar(row[2])]
        case "cues":
            return [*row[:4], _texts(row[4]), *row[5:]]
        case "rules":
            return [*row[:3], _texts(row[3]), _texts(row[4]), row[5]]
        case "prices":
            return [row[0], (row[1], row[2])]
        case _:
            return list(row)


def row_of(sheet: Sheet, values: Sequence[Value]) -> Row:
    """The row that a line's values make."""
    match sheet.name:
        case "connections":
            name, title, sort, first, second, *rest = values
            return (name, title, sort, _json([first, second]), *rest)
        case "bands":
            return (*key_of(sheet, values), *values[2:])
        case "attributes":
            return (values[0], values[1], _json(values[2]))
        case "cues":
            return (*values[:4], _json(values[4]), *values[5:])
        case "rules":
            return (*values[:3], _json(values[3]), _json(values[4]), values[5])
        case "prices":
            return (values[0], *cast("tuple[int, str]", values[1]))
        case _:
            return tuple(values)


def _json(value: object) -> str:
    return msgspec.json.encode(value, order="deterministic").decode()
