"""The operations by which migrations edit the catalog: `op.add_part(...)` ... `op.publish_release(...)`.

Edits are collected on the migration context and written together when the release is published.
"""

import hashlib
from pathlib import Path
from typing import Any

import msgspec
from alembic.operations import MigrateOperation, Operations
from alembic.runtime.migration import MigrationContext
from alembic.util import CommandError

from catalog.edit_rows import Changes
from catalog.edit_values import Edit
from catalog.publish import publish, withdraw

_OPTION = "catalog_changes"
_PUBLISHED = "catalog_published"


class CatalogEdit(MigrateOperation):
    """The edits of the catalog; what each may be given stands in catalog/edit_values.py."""

    @classmethod
    def add_part(cls, operations: Operations, number: str, **fields: Any) -> None:
        """Add a part with its measures, attributes, bands, ports, cues, aliases and price."""
        _collect(operations, {"edit": "add_part", "number": number, **fields})

    @classmethod
    def revise_part(cls, operations: Operations, number: str, **fields: Any) -> None:
        """Change what is given of a part; the rest stays."""
        _collect(operations, {"edit": "revise_part", "number": number, **fields})

    @classmethod
    def retire_part(cls, operations: Operations, number: str, **fields: Any) -> None:
        """Stop offering a part, `replaced_by` another where there is one."""
        _collect(operations, {"edit": "retire_part", "number": number, **fields})

    @classmethod
    def remove_part(cls, operations: Operations, number: str) -> None:
        """Take a part out with all that is known of it; a part that was ever sold is better retired."""
        _collect(operations, {"edit": "remove_part", "number": number})

    @classmethod
    def add_connection(cls, operations: Operations, name: str, **fields: Any) -> None:
        """Add a way in which two parts meet."""
        _collect(operations, {"edit": "add_connection", "name": name, **fields})

    @classmethod
    def revise_connection(cls, operations: Operations, name: str, **fields: Any) -> None:
        """Change what is given of a connection; the rest stays."""
        _collect(operations, {"edit": "revise_connection", "name": name, **fields})

    @classmethod
    def retire_connection(cls, operations: Operations, name: str) -> None:
        """Remove a connection that no port uses any more."""
        _collect(operations, {"edit": "retire_connection", "name": name})

    @classmethod
    def add_rule(cls, operations: Operations, name: str, **fields: Any) -> None:
        """Add a rule between parts."""
        _collect(operations, {"edit": "add_rule", "name": name, **fields})

    @classmethod
    def revise_rule(cls, operations: Operations, name: str, **fields: Any) -> None:
        """Change what is given of a rule; the rest stays."""
        _collect(operations, {"edit": "revise_rule", "name": name, **fields})

    @classmethod
    def retire_rule(cls, operations: Operations, name: str) -> None:
        """Remove a rule."""
        _collect(operations, {"edit": "retire_rule", "name": name})

    @classmethod
    def apply_edits(cls, operations: Operations, file: str, sha256: str) -> None:
        """Take edits from a JSON-lines file beside the migration: `{"edit": "add_part", "number": ...}` a line."""
        context = operations.migration_context
        changes = changes_of(context)
        path = Path(context.opts["catalog_folder"]) / file
        if path.parent != Path(context.opts["catalog_folder"]) or not path.is_file():
            raise CommandError(f"{file} is not a file beside the migration")
        decode = msgspec.json.Decoder(Edit).decode
        with path.open("rb") as lines:
            found = hashlib.file_digest(lines, "sha256").hexdigest()
            if found != sha256.removeprefix("sha256:"):
                raise CommandError(f"{file} is not what the migration was written for: its SHA-256 is {found}")
            lines.seek(0)
            for place, line in enumerate(lines, start=1):
                try:
                    changes.add(decode(line))
                except msgspec.DecodeError as fault:  # a ValidationError is one too
                    changes.faults.append(f"{file}, line {place}: {fault}")

    @classmethod
    def publish_release(
        cls, operations: Operations, number: int, *, name: str, on: str, digest: str, note: str = ""
    ) -> None:
        """Write the collected edits as release `number`, check the whole catalog, and compare its digest.

        Raises
        ------
        CatalogFaults
            Lists everything that is wrong; the migration leaves nothing behind.
        """
        context = operations.migration_context
        if context.opts.setdefault(_PUBLISHED, []):
            raise CommandError("one migration publishes one release")
        publish(context, changes_of(context), number, name=name, on=on, note=note, digest=digest)
        context.opts[_PUBLISHED].append(number)
        context.opts[_OPTION] = Changes()

    @classmethod
    def withdraw_release(cls, operations: Operations, number: int) -> None:
        """Undo `publish_release(number)`: what it added goes, what it closed is open again."""
        withdraw(operations.migration_context, number)


for _name in (
    "add_part",
    "revise_part",
    "retire_part",
    "remove_part",
    "add_connection",
    "revise_connection",
    "retire_connection",
    "add_rule",
    "revise_rule",
    "retire_rule",
    "apply_edits",
    "publish_release",
    "withdraw_release",
):
    Operations.register_operation(_name)(CatalogEdit)


def changes_of(context: MigrationContext) -> Changes:
    """The edits that this migration has collected."""
    changes: Changes = context.opts.setdefault(_OPTION, Changes())
    return changes


def finish_migration(context: MigrationContext, *, must_publish: bool) -> None:
    """Refuse a migration that has left edits unpublished, or that had to publish; make ready for the next.

    Raises
    ------
    CommandError
    """
    changes = changes_of(context)
    if changes.count or changes.faults:
        raise CommandError("the migration leaves edits unpublished: end it with op.publish_release")
    if must_publish and not context.opts.get(_PUBLISHED):
        raise CommandError("the migration publishes no release: end it with op.publish_release")
    context.opts[_PUBLISHED] = []


def _collect(operations: Operations, given: dict[str, Any]) -> None:
    changes = changes_of(operations.migration_context)
    try:
        changes.add(msgspec.convert(given, Edit))
    except msgspec.ValidationError as fault:
        subject = given.get("number", given.get("name"))
        changes.faults.append(f"{given['edit']} {subject}: {fault}")
