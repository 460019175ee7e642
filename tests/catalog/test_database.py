"""Opening a catalog: nothing is written through it, and what is wrong is said in one plain sentence."""

import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic import command

from catalog import database, tables
from catalog.database import DatabaseFault, open_for_migration, open_read_only, reading
from catalog.migrate import configuration, upgrade
from catalog.reader import read_snapshot
from tests.support import CatalogFolder, small_edits


@pytest.fixture
def published(tmp_path: Path, url: str) -> CatalogFolder:
    catalog = CatalogFolder(tmp_path / "migrations", url)
    catalog.publish(*small_edits())
    return catalog


def sentence_of(url: str) -> str:
    with pytest.raises(DatabaseFault) as caught:
        open_read_only(url)
    sentence = str(caught.value)
    assert "\n" not in sentence
    assert sentence.endswith(".")
    return sentence


@pytest.mark.parametrize(
    "statement",
    [
        sa.delete(tables.part),
        sa.insert(tables.alias).values(alias="x", part="P-1", since=1),
        sa.text("CREATE TABLE x (y INTEGER)"),
    ],
)
def test_nothing_is_written_through_a_read_only_engine(published: CatalogFolder, statement: sa.Executable) -> None:
    engine = open_read_only(published.url)
    with pytest.raises(DatabaseFault, match=r"read.?only"), reading(engine) as connection:
        connection.execute(statement)
    with reading(engine) as connection:
        assert len(read_snapshot(connection).parts) == 5
    engine.dispose()


def test_a_reader_sees_one_moment(tmp_path: Path, postgres_url: str) -> None:
    """In PostgreSQL; in SQLite a reader holds the writer up instead, until it is done."""
    catalog = CatalogFolder(tmp_path / "migrations", postgres_url)
    catalog.publish(*small_edits())
    engine = open_read_only(postgres_url)
    with reading(engine) as connection:
        before = read_snapshot(connection)
        catalog.publish({"edit": "revise_part", "number": "P-1", "name": "x"})
        assert read_snapshot(connection) == before
    with reading(engine) as connection:
        assert read_snapshot(connection).release.number == 2
    engine.dispose()


def test_a_missing_file(tmp_path: Path) -> None:
    path = tmp_path / "no.db"
    assert sentence_of(f"sqlite:///{path}") == (
        f"There is no catalog database at {path}; `beltplane catalog upgrade` makes one."
    )
    assert not path.exists()


def test_an_empty_database(url: str) -> None:
    if url.startswith("sqlite"):
        Path(url.removeprefix("sqlite:///")).touch()
    assert "holds no catalog; `beltplane catalog upgrade` makes one." in sentence_of(url)


def test_a_database_whose_migrations_were_all_undone(published: CatalogFolder) -> None:
    published.downgrade(0)
    command.downgrade(configuration(published.url, published.folder), "schema@base")
    assert "holds no catalog" in sentence_of(published.url)


def test_a_database_without_a_release(url: str, tmp_path: Path) -> None:
    command.upgrade(configuration(url, tmp_path), "schema@head")
    assert "holds no release; `beltplane catalog upgrade` publishes them." in sentence_of(url)


def test_another_schema_revision(published: CatalogFolder) -> None:
    engine = open_for_migration(published.url)
    with engine.begin() as connection:
        connection.execute(sa.text("UPDATE alembic_version SET version_num = 'old' WHERE version_num = 'schema_0003'"))
    assert "is at revision old, test_0001 and this program needs schema_0003" in sentence_of(published.url)


def test_a_file_that_is_no_database(tmp_path: Path) -> None:
    path = tmp_path / "text.db"
    path.write_text("This is a letter, not a database. " * 50)
    assert sentence_of(f"sqlite:///{path}") == f"{path} is not an SQLite database."


@pytest.fixture
def locked(tmp_path: Path, sqlite_url: str, monkeypatch: pytest.MonkeyPatch) -> Iterator[CatalogFolder]:
    """A catalog in a file that another program holds for itself."""
    catalog = CatalogFolder(tmp_path / "migrations", sqlite_url)
    catalog.publish(*small_edits())
    monkeypatch.setattr(database, "WAIT_SECONDS", 0.1)
    monkeypatch.setattr(database, "UPGRADE_WAIT_SECONDS", 0.1)
    other = sqlite3.connect(sqlite_url.removeprefix("sqlite:///"), isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    yield catalog
    other.close()


def test_a_locked_database(locked: CatalogFolder, tmp_path: Path) -> None:
    sentence = f"{tmp_path / 'catalog.db'} is locked by another program; try again when that has finished."
    assert sentence_of(locked.url) == sentence
    with pytest.raises(DatabaseFault) as caught:
        upgrade(locked.url, locked.folder)
    assert str(caught.value) == sentence


def test_a_database_that_is_locked_while_in_use(
    tmp_path: Path, sqlite_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    CatalogFolder(tmp_path / "migrations", sqlite_url).publish(*small_edits())
    monkeypatch.setattr(database, "WAIT_SECONDS", 0.1)
    engine = open_read_only(sqlite_url)
    other = sqlite3.connect(sqlite_url.removeprefix("sqlite:///"), isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    with pytest.raises(DatabaseFault, match="is locked by another program"), reading(engine) as connection:
        read_snapshot(connection)
    other.close()
    with reading(engine) as connection:
        read_snapshot(connection)
    engine.dispose()


def test_two_migrations_of_one_postgres_database_do_not_interleave(
    tmp_path: Path, postgres_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    catalog = CatalogFolder(tmp_path / "migrations", postgres_url)
    catalog.publish(*small_edits())
    monkeypatch.setattr(database, "UPGRADE_WAIT_SECONDS", 1)
    other = sa.create_engine(postgres_url, poolclass=sa.NullPool)
    with other.connect() as connection:
        connection.execute(sa.text("SELECT pg_advisory_lock(1650816116)"))
        with pytest.raises(DatabaseFault, match="is locked by another program"):
            catalog.upgrade()
    catalog.upgrade()


def test_a_server_that_is_not_there(tmp_path: Path) -> None:
    sentence = sentence_of(f"postgresql://me:secret@/catalog?host={tmp_path}")
    assert sentence.startswith("The database catalog at ")
    assert "secret" not in sentence


@pytest.mark.parametrize("url", ["catalog.db", "", "mysql://x/y", "oracle+odd://x", "sqlite://", "sqlite:///:memory:"])
def test_an_address_that_is_none(url: str) -> None:
    with pytest.raises(DatabaseFault):
        open_read_only(url)
    with pytest.raises(DatabaseFault):
        open_for_migration(url)


def leave_in_the_middle(path: Path, copy: Path) -> None:
    """Make `copy` what a writer that is killed in the middle of its writing leaves of the file at `path`."""
    writer = sqlite3.connect(path, isolation_level=None)
    writer.execute("PRAGMA cache_size = 1")  # so that changed pages go to the file at once
    writer.execute("BEGIN IMMEDIATE")
    numbers = "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n LIMIT 9000) SELECT i FROM n"
    writer.execute(f"CREATE TABLE filler AS {numbers}")
    for table in tables.VERSIONED:
        writer.execute(f"DELETE FROM {table.name}")
    copy.write_bytes(path.read_bytes())
    journal = path.with_name(f"{path.name}-journal").read_bytes()
    copy.with_name(f"{copy.name}-journal").write_bytes(journal)
    writer.close()


def test_a_reader_undoes_what_a_killed_upgrade_has_half_written(
    tmp_path: Path, sqlite_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    catalog = CatalogFolder(tmp_path / "migrations", sqlite_url)
    catalog.publish(*small_edits())
    copy = tmp_path / "copy.db"
    leave_in_the_middle(tmp_path / "catalog.db", copy)
    monkeypatch.setattr(database, "_finish_rollback", lambda path: None)  # as for one who may not write to the file
    assert sentence_of(f"sqlite:///{copy}") == (
        f"{copy} was left in the middle of an upgrade; `beltplane catalog upgrade` puts it right."
    )
    monkeypatch.undo()
    engine = open_read_only(f"sqlite:///{copy}")
    with reading(engine) as connection:
        assert len(read_snapshot(connection).parts) == 5
    engine.dispose()
    assert not copy.with_name("copy.db-journal").exists()
