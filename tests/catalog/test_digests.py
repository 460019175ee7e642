"""The demo's published releases, for good: what stands here is never changed, only added to.

A digest is the SHA-256 of what a release says. It is worked out afresh from the rows, on the newest schema, so that
neither a migration of the catalog nor one of the schema can change what was published, together with the literal in
the migration or without it.
"""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic import command
from alembic.script import ScriptDirectory

from catalog.database import open_for_migration, open_read_only, reading
from catalog.migrate import configuration, downgrade, upgrade
from catalog.reader import WrongDigest, digest_of, read_snapshot, rows_at
from catalog.releases import list_releases
from catalog.seals import seal_of
from catalog.tables import SCHEMA_REVISION
from tests.support import CatalogFolder

PUBLISHED = [
    (1, "spring", "2026-03-02", "sha256:0a9524a6c2ad052f0a6e9a7708476b4cda3ce307ecfb73d0e61b14fd18dc5830"),
    (2, "second-family", "2026-04-20", "sha256:708060d84ca164c8cc2f5f6e466fa968db93eed6e7d114dd2d5f452cd47f4cba"),
    (3, "summer", "2026-06-15", "sha256:7d22cd181875f4898243597870c6674a64508f9af3442573df2cf4df581651b4"),
    (4, "autumn", "2026-10-05", "sha256:0c2c473b6dfdd7e9056579c9fa0ba87ccc77dee6c0f9182e8d6e8a603229c7b5"),
    (5, "lines", "2026-11-02", "sha256:620c6589762a202edf652ec81df17f77cc9b476e8ef08229ff958e197dbb04ec"),
    (6, "housings", "2026-11-09", "sha256:411bff5e6ce490909b0335fe9e42025be3d734a2a8d19304c0627de25781f1fc"),
    (7, "radiators", "2026-11-16", "sha256:01a6f1cce9d05986b9c3006c77d4244c34d48d7c25d5b51e6a2d7ee0e39b6725"),
    (8, "fans", "2026-11-23", "sha256:6436c44bdc5d48d47c66fc94d1fa1555fb11c6c9a5217a00a1d2e938f5753934"),
    (9, "cues", "2026-11-25", "sha256:2bb70a645c5992d8b3bd3f68e124545e03ac42b439f76388fbd58b6c2e2fe093"),
    (10, "connectors", "2026-11-26", "sha256:e011ad1c1c080e16a2821bce377ab8b7ea01f3db8eeeb8f8171d77c898a5a691"),
    (11, "covers", "2026-11-27", "sha256:3d83f1cb1abd6dfc1ab52076d9f99bd70cf4200dc3cbb7e033b0b210b8f731b7"),
    (12, "joints", "2026-11-27", "sha256:b1e82d678b16abbbd69766d4b939af09f9995ab381f54695c54ed589e0454fb2"),
]
"""Number, name, day and digest of every published release of the demo, the oldest first."""


@pytest.fixture(scope="module")
def url(tmp_path_factory: pytest.TempPathFactory) -> str:
    url = f"sqlite:///{tmp_path_factory.mktemp('digests') / 'catalog.db'}"
    upgrade(url)
    return url


def test_published_releases_never_change(url: str) -> None:
    engine = open_read_only(url)
    with reading(engine) as connection:
        found = [
            (release.number, release.name, release.published_on, digest_of(rows_at(connection, release.number)))
            for release in list_releases(connection)
        ]
    engine.dispose()
    assert found == PUBLISHED, "A published release is not changed; a new one is added at the end of this list."


def test_releases_differ() -> None:
    assert len({digest for *_, digest in PUBLISHED}) == len(PUBLISHED)


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE price SET amount = amount + 1 WHERE rowid IN (SELECT max(rowid) FROM price WHERE since = 1)",
        "UPDATE measure SET plus = plus + 1 WHERE rowid IN (SELECT max(rowid) FROM measure WHERE since = 1)",
        "UPDATE part SET name = name || ' ' WHERE rowid IN (SELECT max(rowid) FROM part WHERE since = 1)",
        "DELETE FROM rule WHERE rowid IN (SELECT max(rowid) FROM rule WHERE since = 1)",
        "UPDATE connection SET size = '-16' WHERE rowid IN (SELECT max(rowid) FROM connection WHERE since = 1)",
    ],
    ids=["price", "measure", "part", "rule", "connection"],
)
def test_a_digest_tells_one_row_that_is_not_as_published(tmp_path: Path, url: str, statement: str) -> None:
    copy = tmp_path / "catalog.db"
    copy.write_bytes(Path(url.removeprefix("sqlite:///")).read_bytes())
    engine = open_for_migration(f"sqlite:///{copy}")
    with engine.begin() as connection:
        assert connection.execute(sa.text(statement)).rowcount == 1
        assert digest_of(rows_at(connection, 1)) != PUBLISHED[0][-1]
        with pytest.raises(WrongDigest):
            read_snapshot(connection, 1)
    engine.dispose()


EARLIER = Path(__file__).parent / "earlier_schemas"
"""For each schema before the newest a catalog as it stood then: `sqlite3 catalog.db .dump` of what was published."""
THEN = {
    "schema_0001": [
        "sha256:a9e7670957171a2c3ba3feb89c50688468b0678af54aba439379a57c8bd98ee1",
        "sha256:7c29701a264cc12e84d3b2dc2bf9c7a7ec23919ff11e141224a8ab241ae0b0bc",
        "sha256:6e98c09eea446ff16e9c83903021d41ead8cddea9d8fed95b20f1806865716e7",
    ],
    "schema_0002": [
        "sha256:a9e7670957171a2c3ba3feb89c50688468b0678af54aba439379a57c8bd98ee1",
        "sha256:ef96300aa1efd840348b68722d9ce4d51b09e05a2b906cdcb6bdb6a237877bc9",
        "sha256:efd0aec9912ad3e5c3c4dfab90398eef4fdae08ab0f94926935513a29a4e54cc",
    ],
}
"""The digests of the releases in each, as they were published."""


def folder_of(url: str, folder: Path) -> Path:
    """Migrations for a catalog that is there already: they publish nothing and only stand for its releases."""
    catalog = CatalogFolder(folder, url)
    for number in (1, 2, 3):
        catalog.write(number=number)
    return folder


@pytest.mark.parametrize("schema", sorted(THEN))
def test_what_was_published_on_an_earlier_schema_keeps_its_digest_on_every_later_one(
    tmp_path: Path, schema: str
) -> None:
    path = tmp_path / "catalog.db"
    with closing(sqlite3.connect(path)) as old:
        old.executescript((EARLIER / f"{schema}.sql").read_text())
    url = f"sqlite:///{path}"
    settings = configuration(url, folder_of(url, tmp_path / "migrations"))
    later = [
        script.revision for script in ScriptDirectory.from_config(settings).iterate_revisions("schema@head", schema)
    ]
    for revision in reversed(later):
        command.upgrade(settings, revision)
    engine = open_read_only(url)
    with reading(engine) as connection:
        for number, digest in enumerate(THEN[schema], start=1):
            assert digest_of(rows_at(connection, number)) == digest
            assert read_snapshot(connection, number).release.digest == digest
        before = None
        for row in connection.execute(sa.text("SELECT * FROM release ORDER BY number")).mappings():
            published = row["status"] == "published"
            assert row["seal"] == (seal_of(row, before) if published else None)
            before = row["seal"]
    engine.dispose()
    downgrade(url, tmp_path / "migrations", revision="test_0002")
    engine = open_read_only(url)
    with reading(engine) as connection:
        assert read_snapshot(connection).release.digest == THEN[schema][1]
    engine.dispose()


def test_every_earlier_schema_has_its_catalog(tmp_path: Path) -> None:
    """Who adds a schema's migration adds a dump made on the schema before it."""
    scripts = ScriptDirectory.from_config(configuration(f"sqlite:///{tmp_path / 'x.db'}", tmp_path))
    earlier = {script.revision for script in scripts.iterate_revisions("schema@head", "base")} - {SCHEMA_REVISION}
    assert earlier == set(THEN) == {path.stem for path in EARLIER.glob("*.sql")}
