"""A scratch copy of a catalog, and a proposed migration published there and nowhere else."""

from pathlib import Path

import pytest
import sqlalchemy as sa

from catalog.database import DatabaseFault, open_read_only, reading
from catalog.publish import CatalogFaults
from catalog.reader import read_snapshot
from catalog.releases import list_releases
from catalog.scratch import copy_catalog, published_on_a_copy
from catalog.tables import metadata
from tests.support import CatalogFolder, Edit, small_edits

DEARER: Edit = {"edit": "revise_part", "number": "G-1", "price": "5.00 USD"}


def rows(url: str) -> dict[str, list[tuple[object, ...]]]:
    engine = open_read_only(url)
    with reading(engine) as connection:
        found = {
            table.name: sorted((tuple(row) for row in connection.execute(sa.select(table))), key=repr)
            for table in metadata.sorted_tables
        }
        versions = sorted(connection.scalars(sa.text("SELECT version_num FROM alembic_version")))
    engine.dispose()
    return found | {"alembic_version": [(version,) for version in versions]}


def test_a_proposed_migration_is_published_on_the_copy_only(tmp_path: Path, url: str) -> None:
    catalog = CatalogFolder(tmp_path / "migrations", url)
    catalog.publish(*small_edits())
    before = rows(url)
    copy = f"sqlite:///{tmp_path / 'copy.db'}"
    copy_catalog(url, copy)
    assert rows(copy) == before
    with pytest.raises(CatalogFaults) as faulty, published_on_a_copy(url, catalog.write(DEARER, number=2)):
        pass
    digest = str(faulty.value).split('"')[1]
    second = catalog.write(DEARER, number=2, digest=digest)
    catalog.write({"edit": "revise_part", "number": "G-9", "name": "not there"}, number=3)
    with published_on_a_copy(url, second) as scratch:
        engine = open_read_only(scratch)
        with reading(engine) as connection:
            assert [release.number for release in list_releases(connection)] == [1, 2], "none that comes after it"
            assert read_snapshot(connection).release.digest == digest
        engine.dispose()
        file = Path(scratch.removeprefix("sqlite:///"))
        assert file.exists()
    assert not file.exists()
    assert rows(url) == before


def test_a_file_that_is_no_migration(catalog: CatalogFolder) -> None:
    catalog.publish(*small_edits())
    other = catalog.folder.parent / "other"
    other.mkdir()
    for name, text in (("plain.py", "x = 1\n"), ("broken.py", "def\n"), ("notes.txt", "x\n")):
        file = other / name
        file.write_text(text)
        with pytest.raises(DatabaseFault, match=r"other/\w+.\w+ (is no migration|cannot be read as a migration)"):
            published_on_a_copy(catalog.url, file).__enter__()
        file.unlink()
