"""A catalog is one line of releases: the ways in which Alembic would let it become anything else are refused.

Its own behaviour is that of Alembic's documentation: branches, merge points, `depends_on`, partial revision
identifiers and relative ones, `stamp`.
"""

from pathlib import Path

import pytest
from alembic import command
from alembic.util import CommandError

from catalog.database import DatabaseFault, open_read_only, reading
from catalog.migrate import configuration
from catalog.publish import CatalogFaults
from catalog.releases import list_releases
from tests.support import CatalogFolder, Edit, small_edits


def rename(name: str) -> Edit:
    return {"edit": "revise_part", "number": "P-1", "name": name}


@pytest.fixture
def two(catalog: CatalogFolder) -> CatalogFolder:
    """A catalog of two releases."""
    catalog.publish(*small_edits())
    catalog.publish(rename("second"))
    return catalog


def numbers(url: str) -> list[int]:
    """The published releases."""
    engine = open_read_only(url)
    with reading(engine) as connection:
        found = [release.number for release in list_releases(connection)]
    engine.dispose()
    return found


def change(path: Path, old: str, new: str, name: str = "") -> Path:
    """Write a migration anew (under another file name), with one thing changed."""
    text = path.read_text()
    assert old in text
    path = path.with_name(name or path.name)
    path.write_text(text.replace(old, new))
    return path


def refused(catalog: CatalogFolder, match: str) -> None:
    with pytest.raises(DatabaseFault, match=match):
        catalog.upgrade()
    assert numbers(catalog.url) == [1, 2], "what was published stays"


def test_two_migrations_after_one_are_refused(two: CatalogFolder) -> None:
    """Two people made the next release, each in a branch of the repository; both were merged."""
    change(two.folder / "test_0002.py", "'test_0002'", "'other_0002'", "other.py")
    refused(two, "other_0002 and test_0002 both follow test_0001: a catalog is one line of releases")


def test_a_merge_of_two_is_refused(two: CatalogFolder) -> None:
    path = two.write(rename("third"), number=3)
    change(path, "'test_0002'", "('test_0002', 'schema_0003')")
    refused(two, "test_0003 belongs neither|test_0003 merges others")


def test_a_dependency_is_refused(two: CatalogFolder) -> None:
    path = two.write(rename("third"), number=3)
    change(path, "depends_on = None", "depends_on = 'schema_0001'")
    refused(two, "test_0003 has depends_on")


def test_a_revision_that_is_there_twice_is_refused(two: CatalogFolder) -> None:
    """Alembic warns, and takes one of the two."""
    path = two.write(rename("third"), number=3)
    change(path, "'third'", "'other'", "copy.py")
    refused(two, "test_0003 is present more than once")


def test_a_revision_that_follows_none_there_is_refused(two: CatalogFolder) -> None:
    path = two.write(rename("third"), number=3)
    change(path, "'test_0002'", "'test_0009'")
    refused(two, "test_0009 referenced from test_0002|test_0009")


def test_a_lost_migration_is_told(two: CatalogFolder) -> None:
    (two.folder / "test_0002.py").unlink()
    refused(two, "the database is at revision test_0002, which is not in these folders")


def test_releases_are_published_in_the_order_of_their_numbers(two: CatalogFolder) -> None:
    two.publish(rename("fourth"), number=4)
    change(two.write(rename("third"), number=5), "publish_release(5", "publish_release(3")
    with pytest.raises(CatalogFaults, match="release 4 is already published; the next number is larger than that"):
        two.upgrade()
    assert numbers(two.url) == [1, 2, 4]


@pytest.mark.parametrize("destination", ["head", "heads", "+1"])
def test_an_upgrade_that_does_not_say_which_branch_is_refused(two: CatalogFolder, destination: str) -> None:
    two.write(rename("third"), number=3)
    with pytest.raises(CommandError):
        command.upgrade(configuration(two.url, two.folder), destination)
    assert numbers(two.url) == [1, 2]


@pytest.mark.parametrize("destination", ["base", "schema@base", "schema@-1", "-1"])
def test_a_downgrade_takes_no_schema_from_under_a_catalog(two: CatalogFolder, destination: str) -> None:
    with pytest.raises(CommandError):
        command.downgrade(configuration(two.url, two.folder), destination)
    assert numbers(two.url) == [1, 2]


def test_a_downgrade_by_one_of_the_catalogs_branch_withdraws_the_newest(two: CatalogFolder) -> None:
    command.downgrade(configuration(two.url, two.folder), "catalog@-1")
    assert numbers(two.url) == [1]
    command.upgrade(configuration(two.url, two.folder), "catalog@+1")
    assert numbers(two.url) == [1, 2]


def test_one_step_at_a_time_is_the_same_as_all(two: CatalogFolder, tmp_path: Path) -> None:
    other = CatalogFolder(two.folder, f"sqlite:///{tmp_path / 'steps.db'}")
    settings = configuration(other.url, other.folder)
    for destination in ("schema@+1", "schema@head", "catalog@+1", "test_0002"):
        command.upgrade(settings, destination)
    assert numbers(other.url) == [1, 2]


def test_a_stamp_is_refused(two: CatalogFolder) -> None:
    """It would mark a release as published without a row of it."""
    two.write(rename("third"), number=3)
    with pytest.raises(CommandError, match="a stamp would say that releases are published which are not"):
        command.stamp(configuration(two.url, two.folder), "test_0003")
    with pytest.raises(CommandError, match="a purge would forget which releases are published"):
        command.stamp(configuration(two.url, two.folder), "base", purge=True)
    assert numbers(two.url) == [1, 2]


def test_a_revision_of_no_branch_is_not_made(two: CatalogFolder) -> None:
    with pytest.raises(CommandError):
        command.revision(configuration(two.url, two.folder), "x")
    assert sorted(path.name for path in two.folder.glob("*.py")) == ["test_0001.py", "test_0002.py"]
