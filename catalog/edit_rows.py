"""What edits do to rows: rows to close, rows to add, rows to carry on with some columns changed.

Nothing here reads the database, so the same edits render the same statements anywhere.
"""

import re
from collections.abc import Callable, Iterable, Mapping
from typing import Any, TypeVar

import msgspec
from msgspec import UNSET

from catalog.domain import AttributeValue, Kind
from catalog.edit_values import (
    AddConnection,
    AddPart,
    AddRule,
    BandGiven,
    CueGiven,
    Edit,
    Gone,
    MeasureGiven,
    PortGiven,
    RemovePart,
    RetireConnection,
    RetirePart,
    RetireRule,
    ReviseConnection,
    RevisePart,
    ReviseRule,
)
from catalog.standards.threads import length_tolerance
from catalog.units import parse_length, parse_money
from catalog.vocabulary import DEFAULT_TOLERANCE

T = TypeVar("T")
Row = dict[str, Any]


class Close(msgspec.Struct, frozen=True):
    """Close the open rows of a table where these columns have these values."""

    table: str
    where: Row
    must_exist: bool


class Copy(msgspec.Struct, frozen=True):
    """Carry a closed row on, with some columns changed."""

    table: str
    key: Row
    changes: Row


class Added:
    """New rows of one table, as tuples: a hundred thousand parts make half a million of them."""

    def __init__(self, columns: tuple[str, ...]) -> None:
        self.columns = columns
        self.rows: list[tuple[Any, ...]] = []

    def add(self, row: Row) -> None:
        """Add a row; all rows of a table have the same columns, the key's first."""
        self.rows.append(tuple(row[column] for column in self.columns))


class Changes:
    """All that one migration does to the rows, and what is wrong with what it was given."""

    def __init__(self) -> None:
        self.count = 0
        self.faults: list[str] = []
        self.closes: list[Close] = []
        self.inserts: dict[str, Added] = {}
        self.copies: list[Copy] = []
        self.needs: list[tuple[str, str]] = []
        """Table and key of what must be open already, though its own row stays."""
        self._touched: set[tuple[str, str]] = set()
        self._aliases: set[str] = set()

    def forget(self) -> None:
        """Give up the rows, which are written."""
        self.closes.clear()
        self.inserts.clear()
        self.copies.clear()
        self.needs.clear()
        self._touched.clear()
        self._aliases.clear()

    def add(self, edit: Edit) -> None:
        """Take in one edit."""
        self.count += 1
        table, key = _subject(edit)
        if (table, key) in self._touched:
            self.faults.append(f"{table} {key}: it is edited twice in one release; put it in one edit")
            return
        self._touched.add((table, key))
        match edit:
            case AddPart():
                self._add_part(edit)
            case RevisePart():
                self._revise_part(edit)
            case RetirePart():
                self._retire_part(edit)
            case RemovePart():
                self._remove_part(edit)
            case AddConnection() | AddRule():
                self._insert(table, _stored(edit))
            case ReviseConnection() | ReviseRule():
                changes = _stored(edit)
                del changes["name"]
                if not changes:
                    self.faults.append(f"{table} {key}: the revision changes nothing")
                self._carry_on(table, {"name": key}, changes)
            case RetireConnection() | RetireRule():
                self.closes.append(Close(table, {"name": key}, must_exist=True))

    def _add_part(self, edit: AddPart) -> None:
        number = edit.number
        self._insert(
            "part",
            {
                "number": number,
                "kind": edit.kind,
                "name": edit.name,
                "status": edit.status,
                "recommended": edit.recommended,
            },
        )
        for name, measure in edit.measures.items():
            self._measure(number, name, measure, edit.kind)
        for name, value in edit.attributes.items():
            self._attribute(number, name, value)
        self._aliases_of(number, edit.aliases)
        self._bands(number, edit.bands)
        self._named("port", number, edit.ports)
        self._named("cue", number, edit.cues)
        if edit.price is not None:
            self._price(number, edit.price)

    def _revise_part(self, edit: RevisePart) -> None:
        number = edit.number
        given = {"kind": edit.kind, "name": edit.name, "status": edit.status, "recommended": edit.recommended}
        changes = {column: value for column, value in given.items() if value is not UNSET}
        if changes:
            self._carry_on("part", {"number": number}, changes)
        else:
            self.needs.append(("part", number))
        kind = None if edit.kind is UNSET else edit.kind
        for name, measure in edit.measures.items():
            self.closes.append(Close("measure", {"part": number, "name": name}, must_exist=measure is None))
            if measure is not None:
                self._measure(number, name, measure, kind)
        for name, value in edit.attributes.items():
            self.closes.append(Close("attribute", {"part": number, "name": name}, must_exist=value is None))
            if value is not None:
                self._attribute(number, name, value)
        if edit.aliases is not UNSET:
            self.closes.append(Close("alias", {"part": number}, must_exist=False))
            self._aliases_of(number, edit.aliases)
        if edit.bands is not UNSET:
            self.closes.append(Close("band", {"part": number}, must_exist=False))
            self._bands(number, edit.bands)
        if edit.price is not UNSET:
            self.closes.append(Close("price", {"part": number}, must_exist=edit.price is None))
            if edit.price is not None:
                self._price(number, edit.price)
        self._named("port", number, self._replaced("port", number, edit.ports, PortGiven))
        self._named("cue", number, self._replaced("cue", number, edit.cues, CueGiven))

    def _retire_part(self, edit: RetirePart) -> None:
        self._carry_on("part", {"number": edit.number}, {"status": "retired", "recommended": False})
        if edit.replaced_by is not None:
            name = "replaced_" + re.sub(r"[^a-z0-9]+", "_", edit.number.lower()).strip("_")
            self.add(AddRule(name, "replaced_by", edit.number, [edit.replaced_by]))

    def _remove_part(self, edit: RemovePart) -> None:
        self.closes.append(Close("part", {"number": edit.number}, must_exist=True))
        for table in ("alias", "attribute", "band", "cue", "measure", "port", "price"):
            self.closes.append(Close(table, {"part": edit.number}, must_exist=False))

    def _insert(self, table: str, row: Row) -> None:
        self._check_text(table, row, row)
        if table not in self.inserts:
            self.inserts[table] = Added(tuple(row))
        self.inserts[table].add(row)

    def _carry_on(self, table: str, key: Row, changes: Row) -> None:
        self._check_text(table, key, changes)
        self.closes.append(Close(table, key, must_exist=True))
        self.copies.append(Copy(table, key, changes))

    def _check_text(self, table: str, key: Row, row: Row) -> None:
        for column, value in row.items():
            if type(value) is str and not value.isprintable():
                self.faults.append(f"{table} {_first(key)}: {column} holds a character that cannot be printed")

    def _try(self, what: str, parse: Callable[[str], T], text: str, default: T) -> T:
        try:
            return parse(text)
        except ValueError as fault:
            self.faults.append(f"{what}: {fault}")
            return default

    def _measure(self, part: str, name: str, given: str | MeasureGiven, kind: Kind | None) -> None:
        what = f"part {part}: measure {name}"
        if isinstance(given, str):
            given = MeasureGiven(given)
        nominal = self._try(what, parse_length, given.value, 0)
        default = DEFAULT_TOLERANCE[given.taken_with]
        if name == "length" and given.taken_with == "drawing" and (given.plus is UNSET or given.minus is UNSET):
            # A bolt's drawn length has its standard's tolerance. A revision does not read what the part is.
            if kind is None:
                self.faults.append(f"{what}: a revision of a length states plus and minus, or the part's kind")
            elif kind == "fastener_set":
                default = length_tolerance(nominal)
        self._insert(
            "measure",
            {
                "part": part,
                "name": name,
                "nominal": nominal,
                "plus": default if given.plus is UNSET else self._try(what, parse_length, given.plus, 0),
                "minus": default if given.minus is UNSET else self._try(what, parse_length, given.minus, 0),
                "taken_with": given.taken_with,
                "source": given.taken_with if given.source is UNSET else given.source,
            },
        )

    def _attribute(self, part: str, name: str, value: AttributeValue) -> None:
        self._insert("attribute", {"part": part, "name": name, "value": _json(value)})

    def _aliases_of(self, part: str, aliases: Iterable[str]) -> None:
        for alias in aliases:
            if alias in self._aliases:
                self.faults.append(f"part {part}: alias {alias} is given twice")
            else:
                self._aliases.add(alias)
                self._insert("alias", {"alias": alias, "part": part})

    def _bands(self, part: str, bands: Iterable[BandGiven]) -> None:
        for place, band in enumerate(bands):
            what = f"part {part}: band {place + 1}"
            self._insert(
                "band",
                {
                    "part": part,
                    "place": place,
                    "start_at": self._try(what, parse_length, band.from_, 0),
                    "end_at": self._try(what, parse_length, band.to, 0),
                    "surface": band.surface,
                    "grooves": band.grooves,
                },
            )

    def _price(self, part: str, price: str) -> None:
        amount, currency = self._try(f"part {part}: price", parse_money, price, (0, ""))
        self._insert("price", {"part": part, "amount": amount, "currency": currency})

    def _named(self, table: str, part: str, items: Iterable[PortGiven | CueGiven]) -> None:
        names: set[str] = set()
        for item in items:
            if item.name in names:
                self.faults.append(f"part {part}: {table} {item.name} is given twice")
                continue
            names.add(item.name)
            self._insert(table, {"part": part, **_stored(item)})

    def _replaced(self, table: str, part: str, items: Iterable[Mapping[str, Any]], whole: type[T]) -> list[T]:
        """Close the ports or cues that a revision names, and give the new ones."""
        new: list[T] = []
        names: set[str] = set()
        for item in items:
            try:
                given = msgspec.convert(item, type=Gone) if "gone" in item else msgspec.convert(item, type=whole)
            except msgspec.ValidationError as fault:
                self.faults.append(f"part {part}: {table} {item.get('name', '')}: {fault}")
                continue
            name = item["name"]
            if name in names:
                self.faults.append(f"part {part}: {table} {name} is given twice")
                continue
            names.add(name)
            self.closes.append(Close(table, {"part": part, "name": name}, must_exist=isinstance(given, Gone)))
            if not isinstance(given, Gone):
                new.append(given)
        return new


def _subject(edit: Edit) -> tuple[str, str]:
    match edit:
        case AddPart() | RevisePart() | RetirePart() | RemovePart():
            return "part", edit.number
        case AddConnection() | ReviseConnection() | RetireConnection():
            return "connection", edit.name
        case AddRule() | ReviseRule() | RetireRule():
            return "rule", edit.name


def _stored(given: msgspec.Struct) -> Row:
    """The columns that a struct gives: what is left out stays out, lists become JSON text."""
    return {
        name: _json(value) if isinstance(value, list | tuple) else value
        for name in given.__struct_fields__
        if (value := getattr(given, name)) is not UNSET
    }


def _first(row: Row) -> str:
    return str(next(iter(row.values())))


def _json(value: object) -> str:
    return msgspec.json.encode(value, order="deterministic").decode()
