"""A migration as a person would write it: Python text that makes edits and publishes a release."""

import hashlib
from collections.abc import Sequence
from typing import Any, Final

import msgspec

from catalog.differences import plain
from catalog.edit_values import Edit

MOST_IN_TEXT: Final = 1_000
"""Edits that stand in the migration itself; more of them are lines of a file beside it."""
_WIDTH: Final = 120


class Heading(msgspec.Struct, frozen=True):
    """What a migration says of itself and of the release that it publishes."""

    revision: str
    down_revision: str | None
    number: int
    name: str
    on: str
    note: str
    digest: str
    summary: str
    """One line on what changes, for the head of the file."""


def edit_lines(edits: Sequence[Edit]) -> bytes | None:
    """The JSON lines of edits too many for the migration itself; None where they stand in it."""
    if len(edits) <= MOST_IN_TEXT:
        return None
    encode = msgspec.json.Encoder().encode
    return b"".join(encode({"edit": _operation(edit), **plain(edit)}) + b"\n" for edit in edits)


def migration_text(heading: Heading, edits: Sequence[Edit], *, beside: tuple[str, bytes] | None = None) -> str:
    """The migration's text.

    Parameters
    ----------
    beside
        Name and content of the file of edits beside it, where they do not stand in the migration.
    """
    if beside is None:
        statements = [_call(_operation(edit), plain(edit)) for edit in edits]
    else:
        file, content = beside
        statements = [_call("apply_edits", {"file": file, "sha256": hashlib.sha256(content).hexdigest()})]
    publish = {
        "number": heading.number,
        "name": heading.name,
        "on": heading.on,
        "note": heading.note,
        "digest": heading.digest,
    }
    statements.append(_call("publish_release", publish))
    label = "None" if heading.down_revision else '("catalog",)'
    return "\n".join([
        _docstring(heading),
        "",
        "from alembic import op",
        "",
        f"revision = {_literal(heading.revision)}",
        f"down_revision = {_literal(heading.down_revision)}",
        f"branch_labels = {label}",
        "depends_on = None",
        "",
        "",
        "def upgrade() -> None:",
        *statements,
        "",
        "",
        "def downgrade() -> None:",
        f"    op.withdraw_release({heading.number})",
        "",
    ])  # fmt: skip


def _docstring(heading: Heading) -> str:
    """The note and what changes, in lines that fit."""
    safe = [text.replace("\\", "\\\\").replace('"', '\\"') for text in (heading.note, heading.summary)]
    lines = [part for text in safe for part in [*_wrapped(text), ""]][:-1]
    if len(lines) == 1:
        return f'"""{lines[0]}"""'
    return '"""' + "\n".join(lines) + '\n"""'


def _wrapped(text: str) -> list[str]:
    lines = [""]
    for word in text.split():
        if lines[-1] and len(lines[-1]) + 1 + len(word) > _WIDTH - 6:
            lines.append("")
        lines[-1] = f"{lines[-1]} {word}".strip()
    return lines


def _operation(edit: Edit) -> str:
    return str(edit.__struct_config__.tag)


def _call(operation: str, fields: dict[str, Any]) -> str:
    """One statement of `upgrade`, on one line where that fits."""
    (_, first), *rest = fields.items()
    arguments = [("", first), *((f"{name}=", value) for name, value in rest)]
    flat = ", ".join(f"{name}{_literal(value)}" for name, value in arguments)
    line = f"    op.{operation}({flat})"
    if len(line) <= _WIDTH:
        return line
    if len(flat) + 8 <= _WIDTH:
        return f"    op.{operation}(\n        {flat}\n    )"
    lines = [f"        {name}{_value(value, 8, len(name))}," for name, value in arguments]
    return "\n".join([f"    op.{operation}(", *lines, "    )"])


def _value(value: Any, indent: int, before: int) -> str:
    """A value on one line where it fits behind what stands before it, else an item a line."""
    flat = _literal(value)
    if len(flat) + indent + before + 1 <= _WIDTH or not isinstance(value, dict | list) or not value:
        return flat
    inner, outer = " " * (indent + 4), " " * indent
    if isinstance(value, dict):
        items = []
        for name, item in value.items():
            head = f"{_literal(name)}: "
            items.append(f"{inner}{head}{_value(item, indent + 4, len(head))},")
        return "\n".join(["{", *items, outer + "}"])
    return "\n".join(["[", *(f"{inner}{_value(item, indent + 4, 0)}," for item in value), outer + "]"])


def _literal(value: Any) -> str:
    """A Python literal with double quotation marks, as the formatter would have it."""
    match value:
        case str() if value.isprintable():
            text = value.replace("\\", "\\\\")
            if '"' in text and "'" not in text:
                return f"'{text}'"
            return '"' + text.replace('"', '\\"') + '"'
        case dict():
            return "{" + ", ".join(f"{_literal(name)}: {_literal(item)}" for name, item in value.items()) + "}"
        case list():
            return "[" + ", ".join(map(_literal, value)) + "]"
        case _:
            return repr(value)
