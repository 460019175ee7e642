"""Names that a line gives: whether there is such a part, connection, end, measure or attribute, and the nearest one."""

from collections.abc import Collection, Iterator, Sequence
from typing import Any, cast

from catalog.sheets.cells import nearest
from catalog.sheets.layout import SHEETS, Sheet, Value
from catalog.sheets.rows import Content, values_of
from catalog.vocabulary import ATTRIBUTES, MEASURES, measure_word

_NAME_PARTS = ("molded_from", "molded_to", "belt_without_pump")


def faults_of_line(
    sheet: Sheet,
    values: Sequence[Value] | None,
    given: dict[str, Value],
    content: Content,
    faulty: Collection[str],
    *,
    hints: bool,
) -> Iterator[tuple[str, str]]:
    """Heading and sentence of each name in a line that means nothing.

    Without `values` only what names the line is looked at, with them only the rest. A name in `faulty` is passed
    over: its own line has been told of. Without `hints` the nearest known name is not looked for, which is dear.
    """
    for column in sheet.columns:
        if (column in sheet.columns[: sheet.keys]) == (values is None) and column.refers is not None:
            for text in _unknown_of(column.refers, given.get(column.heading), content, faulty, hints):
                yield column.heading, text
    part = content["part"].get((given.get("part"),))
    if values is None and part is not None:
        yield from _words(sheet, str(part[1]), given)
    if values is not None and sheet.name == "ports":
        yield from _ends(values, content)
    if values is not None and given.get("attribute") in _NAME_PARTS:
        for text in _unknown_of("part", given.get("value"), content, faulty, hints):
            yield "value", text


def _unknown_of(refers: str, value: Value, content: Content, faulty: Collection[str], hints: bool) -> Iterator[str]:
    for name in value if isinstance(value, tuple) else (value,):
        if isinstance(name, str) and name not in faulty:
            yield from _unknown(refers, name, content, hints)


def _unknown(refers: str, name: str, content: Content, hints: bool) -> Iterator[str]:
    table = "connection" if refers == "connection" else "part"
    row = content[table].get((name,))
    if row is None:
        what = "gasket" if refers == "gasket" else table
        hint = ""
        if hints:
            hint = nearest(name, _gaskets(content) if refers == "gasket" else [key[0] for key in content[table]])
        yield f'there is no {what} "{name}", neither in the catalog nor in these sheets{hint}'
    elif refers == "gasket" and row[1] != "gasket":
        yield f'"{name}" is a {row[1]} and no gasket'


def _gaskets(content: Content) -> list[str]:
    return [number for number, kind, *_ in content["part"].values() if kind == "gasket"]


def _words(sheet: Sheet, kind: str, given: dict[str, Value]) -> Iterator[tuple[str, str]]:
    """Measures and attributes are of the closed lists, and of this kind of part."""
    if sheet.name == "measures":
        name = str(given["measure"])
        word = measure_word(name)
        if word is not None and kind in word.kinds:
            return
        of_kind = [each for each, about in MEASURES.items() if kind in about.kinds]
        if word is None:
            yield "measure", f'there is no measure "{name}"{nearest(name, of_kind)}'
        else:
            yield "measure", f"no {kind} has a measure {name}; a {kind} has {', '.join(of_kind) or 'none'}"
    if sheet.name == "attributes":
        name = str(given["attribute"])
        about = ATTRIBUTES.get(name)
        if about is not None and kind in about.kinds:
            return
        of_kind = [each for each, word in ATTRIBUTES.items() if kind in word.kinds]
        if about is None:
            yield "attribute", f'there is no attribute "{name}"{nearest(name, of_kind)}'
        else:
            yield "attribute", f"no {kind} has an attribute {name}; a {kind} has {', '.join(of_kind)}"


def _ends(values: Sequence[Value], content: Content) -> Iterator[tuple[str, str]]:
    """A port is one of its connection's two ends."""
    row: tuple[Any, ...] | None = content["connection"].get((values[3],))
    if row is None:
        return
    ends = cast("list[str]", values_of(SHEETS["connections"], row)[3:5])
    if values[4] not in ends:
        yield "end", f'"{values[4]}" is no end of {values[3]}, whose ends are {ends[0]} and {ends[1]}'
