"""What sheets say of a catalog: their lines laid over a release. Nothing is written; every fault has its cell."""

from collections.abc import Iterable
from contextlib import ExitStack
from pathlib import Path
from typing import Any, Final, cast

import msgspec

from catalog.domain import Kind
from catalog.making import Rows
from catalog.sheets.cells import CLEAR, parse, unguarded
from catalog.sheets.faults import Faults, Place, SheetFaults
from catalog.sheets.layout import SHEETS, Column, Sheet, Value
from catalog.sheets.locate import follows, place_of
from catalog.sheets.recognise import Recognised, is_remark, recognised
from catalog.sheets.references import faults_of_line
from catalog.sheets.rows import Content, content_of, key_of, row_of, rows_of, values_of
from catalog.sheets.source import LIMITS, MOST_ROWS, Row, Unreadable, Wrong, tables_of
from catalog.standards.threads import length_tolerance
from catalog.vocabulary import DEFAULT_TOLERANCE

_ABSENT: Final = msgspec.UNSET


class Applied(msgspec.Struct):
    """A release with sheets laid over it."""

    content: Content
    seen: dict[tuple[str, tuple[Any, ...]], Place]
    """For each line its table and key, and where it stands."""
    faulty: set[str]
    """Names of parts, connections and rules of which a line has a fault: what follows from it is not told again."""
    notes: list[str]


def apply_sheets(release: Rows, paths: Iterable[Path], *, whole: bool) -> tuple[Rows, Applied, Faults]:
    """Lay sheets over a release.

    Parameters
    ----------
    release
        The rows of the newest release.
    paths
        Files, or folders of files.
    whole
        Whether each sheet says everything of its table: a line that is not there is gone (a part: retired), an
        empty cell is empty. Otherwise sheets add and revise only what they name, and an empty cell changes nothing.

    Returns
    -------
    The rows as they would be, where the lines stand, and the faults; with a fault the rows are of no use.
    """
    faults = Faults()
    applied = Applied(content_of(release), {}, set(), [])
    laying = _Laying(applied, faults, whole)
    with ExitStack() as stack:
        sheets = recognised(tables_of(paths, faults, stack), faults, applied.notes)
        for one in sheets:
            laying.lay(one)
    if whole:
        laying.take_away(list(dict.fromkeys(one.sheet.name for one in sheets)))
    laying.check_bands()
    return rows_of(applied.content), applied, faults


class _Laying:
    def __init__(self, applied: Applied, faults: Faults, whole: bool) -> None:
        self.applied = applied
        self.content = applied.content
        self.faults = faults
        self.whole = whole
        self.read = 0

    def lay(self, one: Recognised) -> None:
        """Lay the lines of one sheet over the content."""
        self._tell_missing_columns(one)
        try:
            for number, row in one.table.rows():
                self.read += 1
                if self.read > MOST_ROWS:
                    raise Unreadable(f"the sheets go on beyond the limit: {LIMITS}", number)
                if number > one.heading_row and not is_remark(row):
                    self._line(one, number, row)
        except Unreadable as fault:
            self.faults.add(Place(one.table.label, fault.row), str(fault))
        except OSError as fault:
            self.faults.add(Place(one.table.label), f"cannot be read: {fault.strerror or fault}")

    def _tell_missing_columns(self, one: Recognised) -> None:
        self.missing = [column for column in one.sheet.columns if column.required and column not in one.columns]
        self.told_missing = False

    def _line(self, one: Recognised, number: int, row: Row) -> None:
        """Lay one line over the content; where it is faulty, what it names is remembered as faulty."""
        sheet, before = one.sheet, self.faults.count
        texts = self._texts(one, number, row)
        given: dict[str, Value] = {}
        for column in sheet.columns[: sheet.keys]:
            self._cell(one, number, column, texts, given)
        if self.faults.count == before and self._is_new(one, number, given) and self._is_known(one, number, given):
            key = key_of(sheet, [given[column.heading] for column in sheet.columns[: sheet.keys]])
            for column in sheet.columns[sheet.keys :]:
                self._cell(one, number, column, texts, given)
            values = self._merged(one, number, key, given) if self.faults.count == before else None
            if values is not None and self._is_known(one, number, given, values):
                self.content[sheet.table][key] = row_of(sheet, values)
        if self.faults.count > before:
            self._taint(sheet, given)

    def _is_new(self, one: Recognised, number: int, given: dict[str, Value]) -> bool:
        """Whether no line before has the same name; where one has, that is told."""
        names = [given[column.heading] for column in one.sheet.columns[: one.sheet.keys]]
        here = Place(one.table.label, number)
        first = self.applied.seen.setdefault((one.sheet.table, key_of(one.sheet, names)), here)
        if first is not here:
            text = f'"{" ".join(map(str, names))}" stands already in {first}'
            self.faults.add(self._place(one, number, one.sheet.columns[0]), text)
        return first is here

    def _is_known(
        self, one: Recognised, number: int, given: dict[str, Value], values: list[Value] | None = None
    ) -> bool:
        """Whether the names that a line gives are known (without values: those in its key); each other is told."""
        before = self.faults.count
        names = (one.sheet, values, given, self.content, self.applied.faulty)
        for heading, text in faults_of_line(*names, hints=self.faults.room):
            column = next(column for column in one.sheet.columns if column.heading == heading)
            self.faults.add(self._place(one, number, column), text)
        return self.faults.count == before

    def _texts(self, one: Recognised, number: int, row: Row) -> dict[str, str]:
        """The cells of a line by heading; cells that hold no text are told of."""
        texts: dict[str, str] = {}
        for place, cell in enumerate(row, start=1):
            column = one.columns[place - 1] if place <= len(one.columns) else None
            if isinstance(cell, Wrong):
                if column is not None:
                    self.faults.add(Place(one.table.label, number, place, column.heading), cell.text)
            elif column is not None:
                texts[column.heading] = cell.strip()
            elif cell.strip() and place > len(one.columns):
                self.faults.add(
                    Place(one.table.label, number, place),
                    f'"{cell.strip()[:60]}" stands beyond the headings; a cell that holds the separator '
                    "stands in quotation marks",
                )
        return texts

    def _cell(
        self,
        one: Recognised,
        number: int,
        column: Column,
        texts: dict[str, str],
        given: dict[str, Value],
    ) -> None:
        """Take in one cell: into `given` where it says something."""
        text = texts.get(column.heading)
        if text is None:
            return
        if text == CLEAR or (not text and self.whole):
            if column.usual is not _ABSENT:
                given[column.heading] = column.usual
            else:
                self.faults.add(self._place(one, number, column), f"must be filled: {column.meaning}")
            return
        if not text:
            if column in one.sheet.columns[: one.sheet.keys]:
                self.faults.add(self._place(one, number, column), f"must be filled: {column.meaning}")
            return
        try:
            given[column.heading] = parse(
                column, unguarded(text), str(given.get("attribute", "")), hints=self.faults.room
            )
        except ValueError as fault:
            self.faults.add(self._place(one, number, column), str(fault))

    def _merged(
        self, one: Recognised, number: int, key: tuple[Any, ...], given: dict[str, Value]
    ) -> list[Value] | None:
        """The values of the whole line: what is given, over what is there, over what is usual."""
        sheet = one.sheet
        old = self.content[sheet.table].get(key)
        there: list[Value] | None = None if old is None else values_of(sheet, old)
        values: list[Value] = []
        complete = True
        for place, column in enumerate(sheet.columns):
            value = given.get(column.heading, _ABSENT)
            if value is not _ABSENT:
                before = there[place] if there is not None else None
                # Blanks at the ends of a text do not count.
                values.append(before if isinstance(before, str) and before.strip() == value else value)
            elif there is not None:
                values.append(there[place])
            elif not column.required:
                values.append(cast("Value", column.usual))
            else:
                complete = False
                if column in one.columns:
                    self.faults.add(self._place(one, number, column), f"must be filled: {column.meaning}")
                elif not self.told_missing:
                    self.told_missing = True
                    names = ", ".join(each.heading for each in self.missing)
                    self.faults.add(
                        Place(one.table.label, number),
                        f"what is new in {sheet.name} needs columns that this sheet has not: {names}",
                    )
        if complete and sheet.name == "measures":
            self._tolerances(values, there, given)
        return values if complete else None

    def _tolerances(self, values: list[Value], there: list[Value] | None, given: dict[str, Value]) -> None:
        """Fill in the tolerances and the source of a measure where its line leaves them out."""
        part, name, nominal, plus, minus, taken, source = values
        if there is not None and there[5] != taken:
            # Taken with something else: the old tolerances are those of another reading.
            plus, minus, source = (given.get(heading) for heading in ("plus", "minus", "source"))
        usual = DEFAULT_TOLERANCE[cast("Any", taken)]
        if name == "length" and taken == "drawing" and self._kind(part) == "fastener_set":
            usual = length_tolerance(cast("int", nominal))
        plus = usual if plus is None else plus
        minus = usual if minus is None else minus
        values[3:] = [plus, minus, taken, source or taken]

    def _kind(self, part: Value) -> Kind | None:
        row = self.content["part"].get((part,))
        return None if row is None else row[1]

    def take_away(self, given: list[str]) -> None:
        """Take out what whole sheets do not hold. A part is retired, and what is known of it stays."""
        parts_given = "parts" in given
        for name in given:
            table = SHEETS[name].table
            rows = self.content[table]
            for key in [key for key in rows if (table, key) not in self.applied.seen]:
                row = rows[key]
                if table == "part":
                    rows[key] = (*row[:3], "retired", False)
                elif table in ("connection", "rule") or not parts_given or self._stays(table, row):
                    del rows[key]

    def _stays(self, table: str, row: tuple[Any, ...]) -> bool:
        part = row[1] if table == "alias" else row[0]
        return ("part", (part,)) in self.applied.seen

    def check_bands(self) -> None:
        """Bands are counted without a gap."""
        places: dict[str, set[int]] = {}
        for part, place in self.content["band"]:
            places.setdefault(part, set()).add(place)
        for part in sorted(places):
            gap = set(range(len(places[part]))) - places[part]
            if gap and part not in self.applied.faulty:
                last = (part, max(places[part]))
                where = self.applied.seen.get(("band", last)) or Place("bands")
                self.applied.faulty.add(part)
                self.faults.add(where, f"part {part} has a band {last[1] + 1} and no band {min(gap) + 1}")

    def _place(self, one: Recognised, number: int, column: Column) -> Place:
        place = one.columns.index(column) + 1 if column in one.columns else 0
        return Place(one.table.label, number, place, column.heading)

    def _taint(self, sheet: Sheet, given: dict[str, Value]) -> None:
        for heading in ("number", "part", "name"):
            value = given.get(heading)
            if isinstance(value, str) and (heading != "name" or sheet.table in ("connection", "rule")):
                self.applied.faulty.add(value)


def checked_sheets(release: Rows, paths: Iterable[Path], *, whole: bool, check: Any) -> tuple[Rows, Applied]:
    """As `apply_sheets`, and the check of the whole catalog as it would be, each of its faults with its line.

    Raises
    ------
    SheetFaults
        With everything that is wrong.
    """
    rows, applied, faults = apply_sheets(release, paths, whole=whole)
    there = {name for table in ("part", "connection") for (name,) in applied.content[table]}
    missing = applied.faulty - there
    for text in check(rows):
        if not follows(text, applied.faulty, missing):
            faults.add(place_of(text, applied.seen) if faults.room else Place("the catalog as it would be"), text)
    if faults:
        raise SheetFaults(faults)
    return rows, applied
