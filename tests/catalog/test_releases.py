"""Publishing, withdrawing and reading old releases, on SQLite and PostgreSQL alike."""

from pathlib import Path

import msgspec
import pytest
import sqlalchemy as sa

from catalog import tables
from catalog.database import DatabaseFault, open_for_migration, open_read_only, reading
from catalog.migrate import upgrade
from catalog.publish import CatalogFaults
from catalog.reader import WrongDigest, digest_of, read_snapshot, rows_at
from catalog.releases import UnknownRelease, WithdrawnRelease, find_release, list_releases
from tests.support import CatalogFolder, Edit, small_edits

SMALL_DIGEST = "sha256:a9e7670957171a2c3ba3feb89c50688468b0678af54aba439379a57c8bd98ee1"
"""Of `small_edits`: what is published keeps its digest for good, so this literal never changes."""


def rename(number: str, name: str) -> Edit:
    return {"edit": "revise_part", "number": number, "name": name}


def read(url: str, number: int | None = None) -> bytes:
    """All that a release says, as bytes."""
    engine = open_read_only(url)
    try:
        with reading(engine) as connection:
            return msgspec.json.encode(read_snapshot(connection, number))
    finally:
        engine.dispose()


def everything(url: str) -> dict[str, list[tuple[object, ...]]]:
    """Every row of every table, in order."""
    engine = open_for_migration(url)
    with engine.connect() as connection:
        return {
            table.name: sorted((tuple(row) for row in connection.execute(sa.select(table))), key=repr)
            for table in tables.metadata.sorted_tables
        }


@pytest.fixture
def sqlite_catalog(tmp_path: Path, sqlite_url: str) -> CatalogFolder:
    return CatalogFolder(tmp_path / "migrations", sqlite_url)


@pytest.fixture
def catalog(tmp_path: Path, url: str) -> CatalogFolder:
    return CatalogFolder(tmp_path / "migrations", url)


def test_the_same_edits_have_the_same_digest_on_every_database(catalog: CatalogFolder) -> None:
    assert catalog.publish(*small_edits()) == SMALL_DIGEST


def test_the_order_of_edits_does_not_matter(catalog: CatalogFolder) -> None:
    assert catalog.publish(*reversed(small_edits())) == SMALL_DIGEST


def test_the_way_to_a_state_does_not_matter(catalog: CatalogFolder) -> None:
    catalog.publish(*small_edits())
    assert catalog.publish(rename("P-1", "Other")) != SMALL_DIGEST
    assert catalog.publish(rename("P-1", "Alder pump")) == SMALL_DIGEST


def test_old_releases_say_the_same_after_every_edit_and_downgrade(catalog: CatalogFolder) -> None:
    catalog.publish(*small_edits())
    said = {1: read(catalog.url, 1)}
    for number, edit in [
        (2, rename("P-1", "Second")),
        (3, {"edit": "retire_part", "number": "S-1", "replaced_by": "P-1"}),
        (4, {"edit": "retire_rule", "name": "p1_on_s1"}),
    ]:
        catalog.publish(edit)
        said[number] = read(catalog.url, number)
        assert {old: read(catalog.url, old) for old in said} == said
    for left in (3, 2, 1):
        catalog.downgrade(left)
        assert {old: read(catalog.url, old) for old in range(1, left + 1)} == {
            old: said[old] for old in range(1, left + 1)
        }
        assert read(catalog.url) == said[left]
    catalog.upgrade()
    assert {old: read(catalog.url, old) for old in said} == said


def test_a_downgrade_leaves_only_the_withdrawn_number(catalog: CatalogFolder) -> None:
    catalog.publish(*small_edits())
    before = everything(catalog.url)
    catalog.publish(
        {
            "edit": "revise_part",
            "number": "P-1",
            "name": "x",
            "price": None,
            "measures": {"nose": "9 mm", "belt_plane": "146 mm"},
        },
        {"edit": "retire_part", "number": "S-1"},
        {"edit": "revise_connection", "name": "alder_block", "bolts": 1},
    )
    catalog.downgrade(1)
    after = everything(catalog.url)
    assert [row for row in after["release"] if row[0] == 1] == before.pop("release")
    assert [(row[0], row[-2]) for row in after.pop("release")] == [(1, "published"), (2, "withdrawn")]
    assert after == before


def test_a_withdrawn_number_takes_the_same_content_again_and_no_other(catalog: CatalogFolder) -> None:
    catalog.publish(*small_edits())
    catalog.publish(rename("P-1", "Second"))
    catalog.downgrade(1)
    catalog.upgrade()
    assert b"Second" in read(catalog.url, 2)
    catalog.downgrade(1)
    with pytest.raises(CatalogFaults, match="release 2 was withdrawn and may be published again only as it was"):
        catalog.publish(rename("P-1", "Other"), number=2)
    with pytest.raises(WithdrawnRelease):
        read(catalog.url, 2)


def test_unknown_and_withdrawn_releases_are_told_apart(catalog: CatalogFolder) -> None:
    catalog.publish(*small_edits())
    catalog.publish(rename("P-1", "Second"))
    catalog.downgrade(1)
    engine = open_read_only(catalog.url)
    with reading(engine) as connection:
        assert [release.number for release in list_releases(connection)] == [1]
        for same in (None, 1, "1", "release-1"):
            assert find_release(connection, same)[0].digest == SMALL_DIGEST
        for unknown in (3, 0, -1, 10**12, "9" * 40, "spring", "", "²"):
            with pytest.raises(UnknownRelease):
                find_release(connection, unknown)
        for withdrawn in (2, "release-2"):
            with pytest.raises(WithdrawnRelease, match=r"Release 2 \(release-2\) was withdrawn."):
                find_release(connection, withdrawn)
    engine.dispose()


def test_a_wrong_digest_names_the_right_one(catalog: CatalogFolder) -> None:
    catalog.write(*small_edits(), number=1, digest="sha256:" + "0" * 64)
    with pytest.raises(CatalogFaults) as caught:
        catalog.upgrade()
    assert caught.value.faults == [f'the digest is "{SMALL_DIGEST}", not "sha256:{"0" * 64}" as the migration says']


def test_a_failed_migration_leaves_nothing_behind_and_can_be_run_again(catalog: CatalogFolder) -> None:
    catalog.publish(*small_edits())
    before = everything(catalog.url)
    with pytest.raises(CatalogFaults) as caught:  # found only once all rows are written
        catalog.publish(
            rename("P-1", "x"),
            {"edit": "add_part", "number": "G-2", "kind": "gasket", "name": "No thickness"},
            {"edit": "add_part", "number": "C-1", "kind": "cap", "name": "Cap", "price": "1 EUR"},
        )
    assert (
        "part G-2: every gasket needs the measure thickness, from face to face (a gasket: compressed; an O-ring has "
        "none)" in caught.value.faults
    )
    assert "prices are in EUR and USD; a catalog has one currency" in caught.value.faults
    assert len(caught.value.faults) == 3  # and the digest
    assert everything(catalog.url) == before
    catalog.publish(rename("P-1", "x"))
    assert b'"x"' in read(catalog.url)


def test_a_first_migration_that_fails_leaves_an_empty_catalog(catalog: CatalogFolder) -> None:
    with pytest.raises(CatalogFaults):
        catalog.publish({"edit": "add_part", "number": "none", "kind": "cap", "name": "x"})
    assert not any(everything(catalog.url).values())
    catalog.publish(*small_edits())


@pytest.mark.parametrize(
    ("line", "fault"),
    [
        ("op.publish_release(0, name='a', on='2026-01-01', digest='')", "number 0 is not a positive whole number"),
        ("op.publish_release(2, name='2a', on='2026-01-01', digest='')", '"2a" is no name of a release'),
        ("op.publish_release(2, name='Latest', on='2026-01-01', digest='')", '"Latest" is no name of a release'),
        ("op.publish_release(2, name='a', on='20260101', digest='')", '"20260101" is not a date as 2026-03-02'),
        ("op.publish_release(2, name='a', on='soon', digest='')", '"soon" is not a date as 2026-03-02'),
        ("op.publish_release(1, name='a', on='2026-01-01', digest='')", "release 1 is already published"),
        ("op.publish_release(2, name='release-1', on='2026-01-01', digest='')", "release 1 already has the name"),
    ],
)
def test_a_releases_own_faults(sqlite_catalog: CatalogFolder, line: str, fault: str) -> None:
    sqlite_catalog.publish(*small_edits())
    sqlite_catalog.write_lines([line], [], number=2)
    with pytest.raises(CatalogFaults, match=fault):
        sqlite_catalog.upgrade()


@pytest.mark.parametrize(
    ("lines", "fault"),
    [
        (["op.retire_rule('p1_on_s1')"], "leaves edits unpublished"),
        (["pass"], "publishes no release"),
        (
            [
                f"op.publish_release({number}, name='r{number}', on='2026-01-01', digest='{SMALL_DIGEST}')"
                for number in (2, 3)
            ],
            "one migration publishes one release",
        ),
    ],
)
def test_a_migration_publishes_one_release(sqlite_catalog: CatalogFolder, lines: list[str], fault: str) -> None:
    sqlite_catalog.publish(*small_edits())
    before = everything(sqlite_catalog.url)
    sqlite_catalog.write_lines(lines, [], number=2)
    with pytest.raises(DatabaseFault, match=fault):
        sqlite_catalog.upgrade()
    assert everything(sqlite_catalog.url) == before


def test_only_the_newest_release_is_withdrawn(sqlite_catalog: CatalogFolder) -> None:
    sqlite_catalog.publish(*small_edits())
    sqlite_catalog.publish(rename("P-1", "x"))
    path = sqlite_catalog.folder / "test_0002.py"
    # One character more, so that no compiled file of the same second and size stands for it.
    path.write_text(path.read_text().replace("withdraw_release(2)", "withdraw_release(+1)"))
    with pytest.raises(DatabaseFault, match="release 1 is not the newest published one"):
        sqlite_catalog.downgrade(1)


def test_a_catalog_without_a_price_has_no_currency(sqlite_catalog: CatalogFolder) -> None:
    sqlite_catalog.publish({"edit": "add_part", "number": "C-1", "kind": "cap", "name": "Cap"})
    assert b'"currency":"XXX"' in read(sqlite_catalog.url)


def test_content_that_was_tampered_with_is_not_read(catalog: CatalogFolder) -> None:
    catalog.publish(*small_edits())
    engine = open_for_migration(catalog.url)
    with engine.begin() as connection:
        connection.execute(sa.update(tables.measure).values(nominal=1))
    with pytest.raises(WrongDigest, match="Release 1 does not hold what was published"):
        read(catalog.url)


def test_the_digest_leaves_release_numbers_out(catalog: CatalogFolder) -> None:
    catalog.publish(*small_edits(), number=7)
    assert catalog.digests[7] == SMALL_DIGEST
    engine = open_read_only(catalog.url)
    with reading(engine) as connection:
        assert digest_of(rows_at(connection, 7)) == digest_of(rows_at(connection, 99)) == SMALL_DIGEST
    engine.dispose()


def test_text_of_any_script_and_any_sign_survives(catalog: CatalogFolder) -> None:
    name = "37° fitting, 100% 'brass' \"½\" \\ -- ünïcode 部品 :name"
    catalog.publish({"edit": "add_part", "number": "C-1", "kind": "cap", "name": name})
    assert msgspec.json.decode(read(catalog.url))["parts"]["C-1"]["name"] == name


def test_the_demo_has_the_same_digests_everywhere(url: str) -> None:
    """Its digests are literals in its migrations, so that it publishes at all is the check."""
    upgrade(url)
    engine = open_read_only(url)
    with reading(engine) as connection:
        assert len(list_releases(connection)) >= 3
        read_snapshot(connection)
    engine.dispose()
