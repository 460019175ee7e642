"""Running the migrations: the schema's first, then the catalog's."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final, TextIO

from alembic import command
from alembic.config import Config
from alembic.util import CommandError

from catalog.database import DatabaseFault, open_for_migration, plain_faults
from catalog.publish import CatalogFaults
from catalog.tables import SCHEMA_REVISION

ROOT: Final = Path(__file__).resolve().parent.parent
DATABASE_SETTING: Final = "BELTPLANE_DATABASE"
CATALOG_SETTING: Final = "BELTPLANE_CATALOG"


def upgrade(url: str | None = None, catalog_folder: str | Path | None = None, revision: str = "catalog@head") -> None:
    """Bring a database to the newest schema and the newest release of a catalog, making it where there is none.

    Parameters
    ----------
    url
        The database; the setting BELTPLANE_DATABASE where it is left out.
    catalog_folder
        The folder of the catalog's migrations; the setting BELTPLANE_CATALOG, else the demo.
    revision
        The catalog's revision to go up to.

    Raises
    ------
    DatabaseFault
        When the database cannot be used, or holds something else.
    CatalogFaults
        When a release is faulty; what was published before it stays.
    """
    settings = configuration(url, catalog_folder)
    folder = (settings.get_version_locations_list() or [""])[-1]
    if not any(Path(folder).glob("*.py")):
        raise DatabaseFault(f"{folder} holds no release yet; `beltplane catalog propose` writes the first.")
    _run(url, catalog_folder, "upgrade", "schema@head")
    _run(url, catalog_folder, "upgrade", revision)


def downgrade(url: str | None = None, catalog_folder: str | Path | None = None, *, revision: str) -> None:
    """Withdraw the releases after a revision of the catalog (`catalog@base`: all of them); raises as `upgrade`."""
    _run(url, catalog_folder, "downgrade", revision)


def print_sql(
    dialect_url: str, out: TextIO, catalog_folder: str | Path | None = None, start: str | None = None
) -> None:
    """Print the statements that `upgrade` would run, without a database.

    Parameters
    ----------
    dialect_url
        A URL of the kind of database (postgresql://...); it is not connected to.
    out
        Where they are printed.
    catalog_folder
        As for `upgrade`.
    start
        The catalog's revision that the database is at, on the newest schema; None for an empty database.

    Raises
    ------
    DatabaseFault, CatalogFaults
    """
    settings = configuration(dialect_url, catalog_folder)
    settings.output_buffer = out
    with _plain_refusals():
        if start is None:
            command.upgrade(settings, "schema@head", sql=True)
        command.upgrade(settings, f"{start or SCHEMA_REVISION}:catalog@head", sql=True)


def configuration(url: str | None = None, catalog_folder: str | Path | None = None) -> Config:
    """Alembic's configuration for a database and a catalog's folder."""
    url = url or os.environ.get(DATABASE_SETTING)
    if not url:
        raise DatabaseFault(f"No database is named; set {DATABASE_SETTING}, for example to sqlite:///catalog.db")
    folder = Path(catalog_folder or os.environ.get(CATALOG_SETTING) or ROOT / "migrations" / "demo").absolute()
    if not folder.is_dir():
        raise DatabaseFault(f"There is no folder of a catalog's migrations at {folder}.")
    settings = Config()
    migrations = ROOT / "migrations"
    settings.set_main_option("script_location", str(migrations).replace("%", "%%"))
    settings.set_main_option("path_separator", "newline")
    locations = f"{migrations / 'schema'}\n{folder}"
    settings.set_main_option("version_locations", locations.replace("%", "%%"))
    settings.attributes["url"] = url
    return settings


def _run(url: str | None, catalog_folder: str | Path | None, direction: str, revision: str) -> None:
    settings = configuration(url, catalog_folder)
    engine = open_for_migration(settings.attributes["url"])
    try:
        with plain_faults(engine.url), _plain_refusals():
            getattr(command, direction)(settings, revision)
    finally:
        engine.dispose()


@contextmanager
def _plain_refusals() -> Iterator[None]:
    """Turn what Alembic refuses into a DatabaseFault; the faults of a release stay what they are."""
    try:
        yield
    except CatalogFaults:
        raise
    except CommandError as fault:
        raise DatabaseFault(str(fault)) from fault
