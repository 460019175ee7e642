"""How Alembic meets the database. The catalog's operations on `op` come with catalog.edits."""

import os
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from alembic import context
from alembic.runtime.migration import MigrationContext, MigrationInfo
from alembic.util import CommandError

from catalog import tables
from catalog.database import WAIT_SECONDS, open_for_migration
from catalog.edits import finish_migration
from catalog.migrate import CATALOG_SETTING, DATABASE_SETTING

LOCK = 1_650_816_116  # any number, the same for all who migrate
config = context.config
script = context.script
catalog_folder = (config.get_version_locations_list() or [""])[-1]


def branch_of(revision: str) -> str:
    """The branch of a revision: `schema` or `catalog`."""
    found = script.get_revision(revision)
    labels = found.branch_labels if found is not None else set()
    if labels not in ({"schema"}, {"catalog"}):
        raise CommandError(
            f'revision {revision} belongs neither to "schema" nor to "catalog": label the first one of its branch'
        )
    return next(iter(labels))


def check_folders() -> None:
    """Refuse bare `heads` and migrations that are not of two branches."""
    try:
        destination = context.get_revision_argument()
    except KeyError:  # commands that go nowhere, such as `current`
        destination = None
    if isinstance(destination, tuple):
        raise CommandError('"heads" mixes the schema with the catalog: upgrade to schema@head, then to catalog@head')
    folder = os.environ.get(CATALOG_SETTING)
    if folder and "url" not in config.attributes and Path(folder).absolute() != Path(catalog_folder).absolute():
        raise CommandError(
            f"{CATALOG_SETTING} names another folder than {catalog_folder}: use `beltplane catalog upgrade`"
        )
    branches = [branch_of(base) for base in script.get_bases()]
    if len(branches) != len(set(branches)):
        raise CommandError("the folders hold more than one catalog; a database holds one")


def check_heads(heads: tuple[str, ...]) -> None:
    """Refuse a database that holds the releases of another catalog."""
    known = {revision.revision for revision in script.walk_revisions()}
    for head in heads:
        if head not in known:
            raise CommandError(
                f"the database is at revision {head}, which is not in these folders: it holds another catalog, "
                "or a newer state of this one"
            )


def check_steps(steps: list[Any], heads: tuple[str, ...]) -> None:
    """Refuse to move a catalog without its schema, or the schema from under a catalog."""
    upwards = all(step.info.is_upgrade for step in steps)
    moved = {branch_of(revision) for step in steps for revision in step.info.up_revision_ids}
    # A printed downgrade starts from one stated revision and cannot say where the schema is.
    unstated = context.is_offline_mode() and not upwards
    if "catalog" in moved and tables.SCHEMA_REVISION not in heads and not unstated:
        raise CommandError("the schema is not at its newest revision: upgrade to schema@head first")
    if "schema" in moved and not upwards and any(branch_of(head) == "catalog" for head in heads):
        raise CommandError("the database holds a catalog: downgrade to catalog@base before the schema")


def guarded(plan: Callable[..., Iterable[Any]]) -> Callable[..., list[Any]]:
    """Alembic's plan, if nothing speaks against it."""

    def steps(heads: tuple[str, ...], migration: MigrationContext) -> list[Any]:
        check_heads(heads)
        planned = list(plan(heads, migration))
        check_steps(planned, heads)
        return planned

    return steps


def after_step(*, ctx: MigrationContext, step: MigrationInfo, **_: Any) -> None:
    """Roll a migration back that has not published what it edited."""
    is_upgrade = step.is_migration and step.is_upgrade
    publishes = is_upgrade and any(branch_of(revision) == "catalog" for revision in step.up_revision_ids)
    finish_migration(ctx, must_publish=publishes)


def options() -> dict[str, Any]:
    """What both ways of running have in common."""
    return {
        "target_metadata": tables.metadata,
        "transactional_ddl": True,
        "transaction_per_migration": True,
        "on_version_apply": after_step,
        "catalog_folder": catalog_folder,
    }


def run() -> None:
    """Migrate the database, or print the statements."""
    url = config.attributes.get("url") or os.environ.get(DATABASE_SETTING)
    if not url:
        raise CommandError(f"no database is named; set {DATABASE_SETTING}, for example to sqlite:///catalog.db")
    engine = open_for_migration(url)
    if context.is_offline_mode():
        # Named parameters, or a driver's own style would print every % twice.
        target = {"url": engine.url, "literal_binds": True, "dialect_opts": {"paramstyle": "named"}}
        context.configure(**target, **options())
        run_guarded(**target)
        return
    with engine.connect() as connection:
        if engine.dialect.name == "postgresql":
            connection.execute(sa.text(f"SET lock_timeout = '{WAIT_SECONDS}s'"))
            connection.execute(sa.text(f"SELECT pg_advisory_lock({LOCK})"))
            connection.commit()
        context.configure(connection=connection, **options())
        run_guarded(connection=connection)


def run_guarded(**target: Any) -> None:
    """Run with a look at the plan first: Alembic's own plan is known only once it is configured."""
    plan = context.get_context().opts["fn"]
    context.configure(fn=guarded(plan), **target, **options())
    with context.begin_transaction():
        context.run_migrations()


check_folders()
run()
