"""How Alembic meets the database. The catalog's operations on `op` come with catalog.edits."""

import os
import warnings
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from alembic import context
from alembic.runtime.migration import MigrationContext, MigrationInfo
from alembic.script import Script
from alembic.script.revision import RevisionError
from alembic.util import CommandError

from catalog import database, tables
from catalog.database import open_for_migration
from catalog.edits import finish_migration
from catalog.migrate import CATALOG_SETTING, DATABASE_SETTING

REACHED = "catalog_reached"
"""The option of the migration context that holds the revisions which the database is at, by this run's own steps."""


class MovedOn(Exception):
    """Another upgrade has taken the database further between two migrations of this one: plan again."""


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
    for revision in script.walk_revisions():
        check_line(revision)


def check_line(revision: Script) -> None:
    """Refuse what is not one line of releases: each migration follows one and is followed by one."""
    if revision.is_branch_point:
        after = " and ".join(sorted(revision.nextrev))
        raise CommandError(
            f"revisions {after} both follow {revision.revision}: a catalog is one line of releases; "
            "let one of them follow the other"
        )
    if revision.is_merge_point:
        raise CommandError(f"revision {revision.revision} merges others: a catalog is one line of releases")
    if revision.dependencies:
        raise CommandError(f"revision {revision.revision} has depends_on: the schema is upgraded first anyway")


@contextmanager
def strictly() -> Iterator[None]:
    """Refuse what Alembic only warns of: a revision that is there twice, or follows none, or may be one of two."""
    with warnings.catch_warnings():
        warnings.simplefilter("error", UserWarning)
        try:
            yield
        except (UserWarning, RevisionError) as fault:
            raise CommandError(str(fault)) from fault


def check_heads(heads: tuple[str, ...]) -> None:
    """Refuse a database that holds the releases of another catalog."""
    known = {revision.revision for revision in script.walk_revisions()}
    for head in heads:
        if head not in known:
            raise CommandError(
                f"the database is at revision {head}, which is not in these folders: it holds another catalog, "
                "or a newer state of this one (BELTPLANE_CATALOG names the folder of its migrations)"
            )


def check_steps(steps: list[Any], heads: tuple[str, ...]) -> None:
    """Refuse to move a catalog without its schema, or the schema from under a catalog."""
    if any(step.info.is_stamp for step in steps):
        raise CommandError("a stamp would say that releases are published which are not: upgrade instead")
    upwards = all(step.info.is_upgrade for step in steps)
    moved = {branch_of(revision) for step in steps for revision in step.info.up_revision_ids}
    # Printed statements start from one stated revision; where that is the catalog's it cannot say where the schema is.
    unstated = context.is_offline_mode() and all(branch_of(head) == "catalog" for head in heads)
    if "catalog" in moved and tables.SCHEMA_REVISION not in heads and not unstated:
        raise CommandError("the schema is not at its newest revision: upgrade to schema@head first")
    if "schema" in moved and not upwards and any(branch_of(head) == "catalog" for head in heads):
        raise CommandError("the database holds a catalog: downgrade to catalog@base before the schema")


def print_check(migration: MigrationContext, heads: tuple[str, ...]) -> None:
    """Have the printed statements break at once on a database that is not where they start (a column is not null)."""
    for head in heads:
        there = f"SELECT 1 FROM alembic_version WHERE version_num = '{head}'"
        migration.impl.static_output(f"-- Breaks off where the database is not at {head}")
        migration.impl.static_output(
            f"INSERT INTO alembic_version (version_num) SELECT NULL WHERE NOT EXISTS ({there});\n"
        )


def guarded(plan: Callable[..., Iterable[Any]]) -> Callable[..., Iterator[Any]]:
    """Alembic's plan, if nothing speaks against it."""

    def steps(heads: tuple[str, ...], migration: MigrationContext) -> Iterator[Any]:
        check_heads(heads)
        with strictly():
            planned = list(plan(heads, migration))
        check_steps(planned, heads)
        migration.opts[REACHED] = set(heads)
        if context.is_offline_mode():
            print_check(migration, heads)
        for step in planned:
            # The lock of SQLite is let go between two migrations. It is taken again by this look, for the next one.
            if not context.is_offline_mode() and set(migration.get_current_heads()) != migration.opts[REACHED]:
                raise MovedOn
            yield step

    return steps


def after_step(*, ctx: MigrationContext, step: MigrationInfo, heads: set[str], **_: Any) -> None:
    """Roll a migration back that has not published what it edited."""
    ctx.opts[REACHED] = set(heads)
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
            # Another upgrade is waited for; a table that somebody holds is not, for all its readers would wait too.
            connection.execute(sa.text(f"SET lock_timeout = '{database.UPGRADE_WAIT_SECONDS}s'"))
            connection.execute(sa.text(f"SELECT pg_advisory_lock({LOCK})"))
            connection.execute(sa.text(f"SET lock_timeout = '{database.WAIT_SECONDS}s'"))
            connection.commit()
        done = False
        while not done:
            context.configure(connection=connection, **options())
            try:
                run_guarded(connection=connection)
                done = True
            except MovedOn:
                connection.rollback()


def run_guarded(**target: Any) -> None:
    """Run with a look at the plan first: Alembic's own plan is known only once it is configured."""
    plan = context.get_context().opts["fn"]
    if context.get_context().purge:
        raise CommandError("a purge would forget which releases are published")
    context.configure(fn=guarded(plan), **target, **options())
    with context.begin_transaction():
        context.run_migrations()


with strictly():
    check_folders()
run()
