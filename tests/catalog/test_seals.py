"""Seals: over a release's own row and the seal before it, on SQLite and PostgreSQL alike.

SHA-256 is that of FIPS 180-4, here by way of the standard library over a text written out by hand.
"""

import hashlib
from pathlib import Path

import pytest
import sqlalchemy as sa

from catalog import tables
from catalog.database import DatabaseFault, open_for_migration, open_read_only, reading
from catalog.propose import newest_of
from catalog.publish import CatalogFaults
from catalog.reader import read_snapshot
from catalog.releases import find_release, list_releases
from catalog.seals import WrongSeal, seal_of
from tests.catalog.test_migrate import run_as_printed, sql_of
from tests.support import CatalogFolder, Edit, small_edits


def rename(name: str) -> Edit:
    return {"edit": "revise_part", "number": "P-1", "name": name}


@pytest.fixture
def catalog(tmp_path: Path, url: str) -> CatalogFolder:
    """A catalog of three releases."""
    made = CatalogFolder(tmp_path / "migrations", url)
    made.publish(*small_edits())
    made.publish(rename("Second"))
    made.publish(rename("Third"))
    return made


def seals(catalog: CatalogFolder) -> dict[int, str | None]:
    engine = open_read_only(catalog.url)
    with reading(engine) as connection:
        found = {release.number: release.seal for release in list_releases(connection)}
    engine.dispose()
    return found


def faulty(catalog: CatalogFolder) -> list[int]:
    """The published releases that are refused for their seals."""
    engine = open_read_only(catalog.url)
    found = []
    with reading(engine) as connection:
        for release in list_releases(connection):
            try:
                read_snapshot(connection, release.number)
            except WrongSeal:
                found.append(release.number)
    engine.dispose()
    return found


def change(catalog: CatalogFolder, statement: str) -> None:
    engine = open_for_migration(catalog.url)
    with engine.begin() as connection:
        assert connection.execute(sa.text(statement)).rowcount == 1
    engine.dispose()


def test_a_seal_is_over_the_row_and_the_seal_before(catalog: CatalogFolder) -> None:
    before = ""
    for number, digest in catalog.digests.items():
        row = f'"currency":"USD","digest":"{digest}","name":"release-{number}","note":"","number":{number}'
        text = f'{{{before}{row},"published_on":"2026-01-01"}}'
        seal = f"sha256:{hashlib.sha256(text.encode()).hexdigest()}"
        assert seals(catalog)[number] == seal
        before = f'"before":"{seal}",'


def test_a_seal_is_worked_out_in_the_same_way_for_good() -> None:
    row = {
        "number": 1,
        "name": "spring",
        "digest": "sha256:0",
        "published_on": "2026-03-02",
        "note": "½",
        "currency": "USD",
    }
    assert seal_of(row | {"status": "withdrawn"}, None) == (
        "sha256:" + hashlib.sha256(
            '{"currency":"USD","digest":"sha256:0","name":"spring","note":"½","number":1,"published_on":"2026-03-02"}'
            .encode()
        ).hexdigest()
    )  # fmt: skip


COLUMNS = {
    "number": "4",
    "name": "'summer'",
    "digest": "'sha256:0'",
    "published_on": "'2026-01-02'",
    "note": "' '",
    "currency": "'EUR'",
    "seal": "'sha256:0'",
}


@pytest.mark.parametrize("column", COLUMNS)
def test_a_change_of_any_column_of_a_release_is_found(catalog: CatalogFolder, column: str) -> None:
    change(catalog, f"UPDATE release SET {column} = {COLUMNS[column]} WHERE number = 3")
    assert faulty(catalog) == [4 if column == "number" else 3]
    with pytest.raises(
        DatabaseFault, match="is not as it was published: its own row, or the seal of the release before"
    ):
        newest_of(catalog.url, catalog.folder)


def test_every_column_is_sealed() -> None:
    """Besides `status`, which a withdrawal changes; a new column has to be thought of here."""
    assert {column.name for column in tables.release.columns} == {*COLUMNS, "status"}


def test_a_broken_chain_is_found(catalog: CatalogFolder) -> None:
    change(catalog, "UPDATE release SET seal = 'sha256:0' WHERE number = 2")
    assert faulty(catalog) == [2, 3]
    with pytest.raises(CatalogFaults, match="Release 3 is not as it was published"):
        catalog.publish(rename("Fourth"))


@pytest.mark.parametrize("seal", ["NULL", "''"])
def test_a_seal_that_was_taken_away_is_missed(catalog: CatalogFolder, seal: str) -> None:
    change(catalog, f"UPDATE release SET seal = {seal} WHERE number = 1")
    assert faulty(catalog) == [1, 2]


@pytest.mark.parametrize(
    "statement",
    ["DELETE FROM release WHERE number = 2", "UPDATE release SET status = 'withdrawn' WHERE number = 2"],
    ids=["deleted", "called withdrawn"],
)
def test_a_release_missing_from_the_chain_is_found(catalog: CatalogFolder, statement: str) -> None:
    change(catalog, statement)
    assert faulty(catalog) == [3]


def test_a_withdrawn_release_comes_again_under_its_seal(catalog: CatalogFolder) -> None:
    there = seals(catalog)
    catalog.downgrade(1)
    assert seals(catalog) == {1: there[1]}
    catalog.upgrade()
    assert seals(catalog) == there
    assert faulty(catalog) == []


def test_withdrawn_releases_are_not_in_the_chain(catalog: CatalogFolder) -> None:
    there = seals(catalog)
    catalog.downgrade(1)
    for number in (2, 3):
        (catalog.folder / f"test_{number:04}.py").unlink()
    catalog.publish(rename("Fourth"), number=4)
    engine = open_read_only(catalog.url)
    with reading(engine) as connection:
        row = connection.execute(sa.text("SELECT * FROM release WHERE number = 4")).mappings().one()
    engine.dispose()
    assert seals(catalog) == {1: there[1], 4: seal_of(row, there[1])}
    assert faulty(catalog) == []


def test_a_number_that_comes_again_under_another_name_is_sealed_anew_and_so_is_what_follows(
    catalog: CatalogFolder,
) -> None:
    there = seals(catalog)
    catalog.downgrade(1)
    path = catalog.folder / "test_0002.py"
    path.write_text(path.read_text().replace("name='release-2'", "name='another-name'"))
    catalog.upgrade()
    now = seals(catalog)
    assert [number for number in now if now[number] != there[number]] == [2, 3]
    assert faulty(catalog) == []


def test_printed_statements_leave_the_seal_out_and_the_next_publication_fills_it_in(catalog: CatalogFolder) -> None:
    there = seals(catalog)
    catalog.downgrade(1)
    run_as_printed(catalog.url, sql_of(catalog, "test_0001", catalog.url))
    assert seals(catalog) == {1: there[1], 2: None, 3: None}
    assert faulty(catalog) == []
    catalog.publish(rename("Fourth"))
    assert {number: seal for number, seal in seals(catalog).items() if number != 4} == there
    assert None not in seals(catalog).values()
    assert faulty(catalog) == []


def test_the_schemas_migration_seals_what_is_there(catalog: CatalogFolder) -> None:
    there = seals(catalog)
    catalog.downgrade(2)
    engine = open_for_migration(catalog.url)
    with engine.begin() as connection:
        connection.execute(sa.text("ALTER TABLE release DROP COLUMN seal"))
        before = "UPDATE alembic_version SET version_num = 'schema_0002' WHERE version_num = 'schema_0003'"
        connection.execute(sa.text(before))
    engine.dispose()
    catalog.upgrade()
    assert seals(catalog) == there
    assert faulty(catalog) == []


def test_a_release_is_found_with_its_seal(catalog: CatalogFolder) -> None:
    engine = open_read_only(catalog.url)
    with reading(engine) as connection:
        assert find_release(connection)[0].seal == seals(catalog)[3]
    engine.dispose()
