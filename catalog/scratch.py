"""A catalog on a scratch copy: what a migration would publish, without publishing it."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

import sqlalchemy as sa
from alembic.script import ScriptDirectory
from alembic.util import CommandError

from catalog.database import DatabaseFault, open_for_migration, open_read_only, plain_faults, reading
from catalog.migrate import configuration, upgrade
from catalog.publish import BATCH
from catalog.tables import metadata

_version = sa.Table("alembic_version", sa.MetaData(), sa.Column("version_num", sa.String(32), primary_key=True))


@contextmanager
def published_on_a_copy(url: str, migration: Path) -> Iterator[str]:
    """The address of a scratch copy of the catalog, with a migration (and what comes before it) published there.

    Parameters
    ----------
    url
        The catalog's database, SQLite or PostgreSQL; it is only read.
    migration
        A file in the folder of the catalog's migrations.

    Raises
    ------
    DatabaseFault
        When the database cannot be read, or the file is no migration of its catalog.
    CatalogFaults
        When the release is faulty.
    """
    folder = migration.absolute().parent
    with TemporaryDirectory(prefix="beltplane-") as name:
        scratch = f"sqlite:///{Path(name) / 'scratch.sqlite'}"
        revision = _revision_of(scratch, migration)
        copy_catalog(url, scratch)
        upgrade(scratch, folder, revision)
        yield scratch


def copy_catalog(url: str, to_url: str) -> None:
    """Copy every row of a catalog, as one moment has them, to a database that is empty.

    Raises
    ------
    DatabaseFault
    """
    engine, target = open_read_only(url), open_for_migration(to_url)
    try:
        with plain_faults(target.url), reading(engine) as source, target.begin() as into:
            for tables in (metadata, _version.metadata):
                tables.create_all(into)
                for table in tables.sorted_tables:
                    for rows in source.execute(sa.select(table)).mappings().partitions(BATCH):
                        into.execute(sa.insert(table), [dict(row) for row in rows])
    finally:
        engine.dispose()
        target.dispose()


def _revision_of(url: str, migration: Path) -> str:
    """The revision that the file is."""
    try:
        scripts = ScriptDirectory.from_config(configuration(url, migration.absolute().parent))
        for script in scripts.walk_revisions():
            if Path(script.path).resolve() == migration.resolve():
                return script.revision
    except (CommandError, SyntaxError) as fault:
        raise DatabaseFault(f"{migration} cannot be read as a migration: {fault}") from fault
    raise DatabaseFault(f"{migration} is no migration of a catalog; it stands in the folder of the others.")
