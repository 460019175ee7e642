"""The edits that lead from one state of the catalog to another, in the order of their names."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any, TypeVar

import msgspec
from msgspec import UNSET

from catalog.domain import Kind
from catalog.edit_values import (
    AddConnection,
    AddPart,
    AddRule,
    BandGiven,
    CueGiven,
    Edit,
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
from catalog.making import Rows
from catalog.standards.threads import length_tolerance
from catalog.units import amount_text, length_text
from catalog.vocabulary import DEFAULT_TOLERANCE

T = TypeVar("T")
Row = tuple[Any, ...]
Keyed = Mapping[str, Mapping[str, Any]]
"""For each part what it has, by name."""


def edits_between(before: Rows, after: Rows) -> list[Edit]:
    """One edit for each connection, part and rule that `after` says otherwise than `before`.

    Made in a migration, they lead from the one to the other exactly: the digest that `after` has is the digest of
    the release. What both say alike is in no edit.
    """
    old, new = _Parts(before), _Parts(after)
    edits: list[Edit] = list(_named(before, after, "connection", _connection, AddConnection, ReviseConnection))
    for number in sorted({*old.parts, *new.parts}):
        edit = _part_edit(number, old, new)
        if edit is not None:
            edits.append(edit)
    edits += _named(before, after, "rule", _rule, AddRule, ReviseRule)
    return edits


def _named(
    before: Rows, after: Rows, table: str, fields_of: Callable[[Row], dict[str, Any]], add: Any, revise: Any
) -> Iterator[Edit]:
    """Edits of what has a name and fields and nothing else."""
    old = {row[0]: row for row in before[table]}
    new = {row[0]: row for row in after[table]}
    for name in sorted({*old, *new}):
        if name not in new:
            yield RetireConnection(name) if table == "connection" else RetireRule(name)
        elif name not in old:
            yield add(name, **fields_of(new[name]))
        elif old[name] != new[name]:
            was, is_ = fields_of(old[name]), fields_of(new[name])
            yield revise(name, **{field: value for field, value in is_.items() if value != was[field]})


def _connection(row: Row) -> dict[str, Any]:
    _, title, sort, ends, seal, pieces, gasket, bolts, size = row
    return {
        "title": title,
        "sort": sort,
        "ends": tuple(_texts(ends)),
        "seal": seal,
        "pieces_per_layer": pieces,
        "gasket": gasket,
        "bolts": bolts,
        "size": size,
    }


def _rule(row: Row) -> dict[str, Any]:
    _, kind, part, others, settles, source = row
    return {"kind": kind, "part": part, "others": _texts(others), "settles": _texts(settles), "source": source}


class _Parts:
    """The rows of parts, each kind of row by part."""

    def __init__(self, rows: Rows) -> None:
        self.parts: dict[str, Row] = {row[0]: row for row in rows["part"]}
        self.aliases = _by_part((part, alias, alias) for alias, part in rows["alias"])
        self.measures = _by_part((row[0], row[1], row[2:]) for row in rows["measure"])
        self.attributes = _by_part((part, name, value) for part, name, value in rows["attribute"])
        self.bands = _by_part((row[0], row[1], row[2:]) for row in rows["band"])
        self.ports = _by_part((row[0], row[1], row[1:]) for row in rows["port"])
        self.cues = _by_part((row[0], row[1], row[1:]) for row in rows["cue"])
        self.prices = {part: (amount, currency) for part, amount, currency in rows["price"]}


def _by_part(items: Iterable[tuple[str, Any, T]]) -> dict[str, dict[Any, T]]:
    found: dict[str, dict[Any, T]] = {}
    for part, name, item in items:
        found.setdefault(part, {})[name] = item
    return found


def _part_edit(number: str, old: _Parts, new: _Parts) -> Edit | None:
    if number not in new.parts:
        return RemovePart(number)
    if number not in old.parts:
        return _added(number, new)
    fields = _revised(number, old, new)
    if not fields:
        return None
    # A plain retirement says of itself that the part is not recommended any more.
    retired = fields in ({"status": "retired"}, {"status": "retired", "recommended": False})
    if retired and not new.parts[number][4]:
        return RetirePart(number)
    return RevisePart(number, **fields)


def _added(number: str, new: _Parts) -> AddPart:
    _, kind, name, status, recommended = new.parts[number]
    price = new.prices.get(number)
    return AddPart(
        number,
        kind,
        name,
        status,
        recommended,
        None if price is None else _price(price),
        list(new.aliases.get(number, ())),
        {name: _measure(name, row, kind) for name, row in new.measures.get(number, {}).items()},
        {name: msgspec.json.decode(value) for name, value in new.attributes.get(number, {}).items()},
        [_band(row) for row in new.bands.get(number, {}).values()],
        [PortGiven(*row) for row in new.ports.get(number, {}).values()],
        [_cue(row) for row in new.cues.get(number, {}).values()],
    )


def _revised(number: str, old: _Parts, new: _Parts) -> dict[str, Any]:
    """The fields of a revision; empty where nothing differs."""
    fields: dict[str, Any] = {}
    was, is_ = old.parts[number], new.parts[number]
    for place, name in enumerate(("kind", "name", "status", "recommended"), start=1):
        if was[place] != is_[place]:
            fields[name] = is_[place]
    if old.prices.get(number) != new.prices.get(number):
        price = new.prices.get(number)
        fields["price"] = None if price is None else _price(price)
    if old.aliases.get(number) != new.aliases.get(number):
        fields["aliases"] = list(new.aliases.get(number, ()))
    if old.bands.get(number) != new.bands.get(number):
        fields["bands"] = [_band(row) for row in new.bands.get(number, {}).values()]
    measures = _changed(number, old.measures, new.measures)
    attributes = _changed(number, old.attributes, new.attributes)
    ports = _changed(number, old.ports, new.ports)
    cues = _changed(number, old.cues, new.cues)
    if measures:
        fields["measures"] = {name: row and _measure(name, row, None) for name, row in measures.items()}
    if attributes:
        fields["attributes"] = {
            name: None if value is None else msgspec.json.decode(value) for name, value in attributes.items()
        }
    if ports:
        fields["ports"] = [_item(name, row and PortGiven(*row)) for name, row in ports.items()]
    if cues:
        fields["cues"] = [_item(name, row and _cue(row)) for name, row in cues.items()]
    return fields


def _changed(number: str, old: Keyed, new: Keyed) -> dict[str, Any]:
    """What a part has otherwise than before, by name; None where it has it no more."""
    was, is_ = old.get(number, {}), new.get(number, {})
    return {name: is_.get(name) for name in sorted({*was, *is_}) if was.get(name) != is_.get(name)}


def _item(name: str, given: PortGiven | CueGiven | None) -> dict[str, Any]:
    return {"name": name, "gone": True} if given is None else plain(given)


def _measure(name: str, row: Row, kind: Kind | None) -> str | MeasureGiven:
    """A measure as a migration writes it: what is usual of how it was taken is left out.

    `kind` is None in a revision, which does not read what the part is: a length states its tolerances there.
    """
    nominal, plus, minus, taken, source = row
    usual = DEFAULT_TOLERANCE[taken]
    if name == "length" and taken == "drawing":
        usual = -1 if kind is None else length_tolerance(nominal) if kind == "fastener_set" else usual
    given = MeasureGiven(
        length_text(nominal),
        UNSET if plus == usual else length_text(plus),
        UNSET if minus == usual else length_text(minus),
        taken,
        UNSET if source == taken else source,
    )
    return given.value if given == MeasureGiven(given.value) else given


def _band(row: Row) -> BandGiven:
    start, end, surface, grooves = row
    return BandGiven(length_text(start), length_text(end), surface, grooves)


def _cue(row: Row) -> CueGiven:
    name, question, answer, answers, ease, error_percent = row
    return CueGiven(name, question, answer, _texts(answers), ease, error_percent)


def _price(price: tuple[int, str]) -> str:
    amount, currency = price
    return f"{amount_text(amount, currency)} {currency}"


def plain(given: msgspec.Struct) -> dict[str, Any]:
    """What a struct is given, by the names that a migration uses; what is usual is left out."""
    found = {}
    for field in msgspec.structs.fields(given):
        value = getattr(given, field.name)
        if value is UNSET or value == field.default:
            continue
        if field.default_factory is not msgspec.NODEFAULT and not value:
            continue
        found[field.encode_name] = _plain(value)
    return found


def _plain(value: Any) -> Any:
    match value:
        case msgspec.Struct():
            return plain(value)
        case dict():
            return {name: _plain(item) for name, item in value.items()}
        case list() | tuple():
            return [_plain(item) for item in value]
        case _:
            return value


_texts = msgspec.json.Decoder(list[str]).decode
