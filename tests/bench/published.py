"""A made catalog as a shop publishes one: a JSON-lines file of edits, and the migration that takes them in."""

import hashlib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, Final

import msgspec

from catalog.domain import Band, Connection, Measure, Part, Price, Release, Rule, Snapshot
from catalog.making import Rows
from catalog.reader import digest_of
from catalog.units import NM_PER_MM

REVISION: Final = "assortment_0001"
_FILE: Final = f"{REVISION}.jsonl"
_MIGRATION: Final = '''"""A made catalog."""

from alembic import op

revision = "{revision}"
down_revision = {before!r}
branch_labels = {labels!r}
depends_on = None


def upgrade():
    {edits}
    op.publish_release({number}, name="{name}", on="{on}", digest="{digest}")


def downgrade():
    op.withdraw_release({number})
'''


def write(snapshot: Snapshot, folder: Path) -> str:
    """Write the migration that publishes the snapshot, with its edits beside it; gives the digest that it will have."""
    folder.mkdir(parents=True, exist_ok=True)
    encode = msgspec.json.Encoder().encode
    content = b"".join(encode(edit) + b"\n" for edit in edits_of(snapshot))
    (folder / _FILE).write_bytes(content)
    digest = digest_of(rows_of(snapshot))
    release = snapshot.release
    text = _MIGRATION.format(
        revision=REVISION,
        before=None,
        labels=("catalog",),
        edits=f'op.apply_edits("{_FILE}", sha256="{hashlib.sha256(content).hexdigest()}")',
        number=release.number,
        name=release.name,
        on=release.published_on,
        digest=digest,
    )
    (folder / f"{REVISION}.py").write_text(text, encoding="utf-8")
    return digest


def write_next(snapshot: Snapshot, folder: Path) -> Snapshot:
    """Write the migration of the release that follows, in which one part costs otherwise; gives that release."""
    number = snapshot.release.number + 1
    part = next(part for part in snapshot.parts.values() if part.price is not None)
    assert part.price is not None
    price = msgspec.structs.replace(part.price, amount=part.price.amount + 1)
    parts = dict(snapshot.parts) | {part.number: msgspec.structs.replace(part, price=price)}
    after = msgspec.structs.replace(snapshot, parts=parts)
    digest = digest_of(rows_of(after))
    release = Release(number, f"release-{number}", digest, snapshot.release.published_on, "")
    text = _MIGRATION.format(
        revision=f"assortment_{number:04}",
        before=f"assortment_{number - 1:04}",
        labels=None,
        edits=f'op.revise_part("{part.number}", price="{_price(price)}")',
        number=number,
        name=release.name,
        on=release.published_on,
        digest=digest,
    )
    (folder / f"assortment_{number:04}.py").write_text(text, encoding="utf-8")
    return msgspec.structs.replace(after, release=release)


def edits_of(snapshot: Snapshot) -> Iterator[dict[str, Any]]:
    """The edits that make this catalog from nothing."""
    for connection in snapshot.connections.values():
        yield {"edit": "add_connection", **_given(connection)}
    for part in snapshot.parts.values():
        yield _edit_of(part)
    for rule in snapshot.rules:
        yield {"edit": "add_rule", **_given(rule)}


def _edit_of(part: Part) -> dict[str, Any]:
    price = part.price
    return {
        "edit": "add_part",
        "number": part.number,
        "kind": part.kind,
        "name": part.name,
        "recommended": part.recommended,
        "price": None if price is None else _price(price),
        "aliases": part.aliases,
        "measures": {name: _measure(measure) for name, measure in part.measures.items()},
        "attributes": dict(part.attributes),
        "bands": [_band(band) for band in part.bands],
        "ports": [_given(port) for port in part.ports],
        "cues": [_given(cue) for cue in part.cues],
    }


def _given(struct: msgspec.Struct) -> dict[str, Any]:
    return msgspec.structs.asdict(struct)


def _price(price: Price) -> str:
    return f"{price.amount // 100}.{price.amount % 100:02} {price.currency}"


def _measure(measure: Measure) -> dict[str, str]:
    lengths = {"value": measure.nominal, "plus": measure.plus, "minus": measure.minus}
    told = {"taken_with": measure.taken_with, "source": measure.source}
    return {name: _mm(length) for name, length in lengths.items()} | told


def _band(band: Band) -> dict[str, Any]:
    return {"from": _mm(band.from_), "to": _mm(band.to), "surface": band.surface, "grooves": band.grooves}


def _mm(length: int) -> str:
    """An exact length: six decimals of a millimetre are nanometres."""
    whole, rest = divmod(abs(length), NM_PER_MM)
    return f"{'-' if length < 0 else ''}{whole}.{rest:06} mm"


def rows_of(snapshot: Snapshot) -> Rows:
    """The rows that a database holds of this snapshot, sorted by their keys as the reader sorts them."""
    parts = snapshot.parts.values()
    rows: Mapping[str, list[tuple[Any, ...]]] = {
        "alias": [(alias, part.number) for part in parts for alias in part.aliases],
        "attribute": [(part.number, name, _json(value)) for part in parts for name, value in part.attributes.items()],
        "band": [
            (part.number, place, band.from_, band.to, band.surface, band.grooves)
            for part in parts
            for place, band in enumerate(part.bands)
        ],
        "connection": [_connection_row(connection) for connection in snapshot.connections.values()],
        "cue": [
            (part.number, cue.name, cue.question, cue.answer, _json(cue.answers), cue.ease, cue.error_percent)
            for part in parts
            for cue in part.cues
        ],
        "measure": [(part.number, *_values(measure)) for part in parts for measure in part.measures.values()],
        "part": [(part.number, part.kind, part.name, part.status, part.recommended) for part in parts],
        "port": [(part.number, *_values(port)) for part in parts for port in part.ports],
        "price": [(part.number, part.price.amount, part.price.currency) for part in parts if part.price is not None],
        "rule": [_rule_row(rule) for rule in snapshot.rules],
    }
    keys = {"alias": 1, "connection": 1, "part": 1, "price": 1, "rule": 1}
    return {name: sorted(found, key=lambda row: row[: keys.get(name, 2)]) for name, found in rows.items()}


def _values(struct: msgspec.Struct) -> tuple[Any, ...]:
    return msgspec.structs.astuple(struct)


def _connection_row(connection: Connection) -> tuple[Any, ...]:
    name, title, sort, ends, *rest = _values(connection)
    return (name, title, sort, _json(ends), *rest)


def _rule_row(rule: Rule) -> tuple[Any, ...]:
    return (rule.name, rule.kind, rule.part, _json(rule.others), _json(rule.settles), rule.source)


def _json(value: object) -> str:
    return msgspec.json.encode(value, order="deterministic").decode()
