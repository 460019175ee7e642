"""A proposal: a readable migration that publishes what it says, proven before it is in place, whole or not at all."""

import os
import subprocess
import sys
import threading
from concurrent.futures import ThreadPoolExecutor
from contextlib import nullcontext
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from catalog import propose as proposing
from catalog.database import DatabaseFault, open_read_only, reading
from catalog.making import Rows
from catalog.migrate import downgrade, upgrade
from catalog.propose import EMPTY, Newest, Proposal, newest_of, propose, put_in_place, state_of
from catalog.publish import CatalogFaults
from catalog.reader import digest_of
from catalog.releases import list_releases
from tests.catalog.sheets.support import csv_file, example, laid


class Shop:
    """A folder of its own, its database, and proposals of rows."""

    def __init__(self, folder: Path, url: str) -> None:
        self.folder = folder
        self.url = url
        folder.mkdir()

    def newest(self) -> Newest:
        return newest_of(self.url, self.folder)

    def propose(self, rows: Rows, note: str = "A change", **more: Any) -> Proposal:
        proposal = propose(self.newest(), rows, folder=self.folder, note=note, on="2026-03-02", **more)
        assert proposal is not None
        return proposal

    def publish(self, rows: Rows, note: str = "A change") -> None:
        put_in_place(self.propose(rows, note), self.url, self.folder)
        upgrade(self.url, self.folder)

    def files(self) -> dict[str, bytes]:
        return {path.name: path.read_bytes() for path in sorted(self.folder.iterdir()) if path.is_file()}

    def digests(self) -> list[str]:
        engine = open_read_only(self.url)
        with reading(engine) as connection:
            found = [release.digest for release in list_releases(connection)]
        engine.dispose()
        return found


@pytest.fixture(scope="module")
def rows(tmp_path_factory: pytest.TempPathFactory) -> Rows:
    return example(tmp_path_factory.mktemp("example"))


@pytest.fixture
def shop(tmp_path: Path, sqlite_url: str) -> Shop:
    return Shop(tmp_path / "front-parts", sqlite_url)


def measured(rows: Rows, folder: Path, value: str) -> Rows:
    return laid(rows, csv_file(folder, "measures", ("part", "measure", "value"), ("FC-501", "cover_height", value)))


def test_proposals_publish_what_they_say_on_both_databases(rows: Rows, tmp_path: Path, url: str) -> None:
    shop = Shop(tmp_path / "front-parts", url)
    shop.publish(rows, "Our first parts")
    later = measured(rows, tmp_path, "52 mm")
    shop.publish(later, "The cover measured again")
    shop.publish(rows, "Back again")
    assert shop.digests() == [digest_of(rows), digest_of(later), digest_of(rows)]
    newest = shop.newest()
    assert (newest.down_revision, newest.next_number) == ("front_parts_0003", 4)
    assert propose(newest, rows, folder=shop.folder, note="x") is None


def test_a_migration_reads_as_one_written_by_hand(rows: Rows, shop: Shop, tmp_path: Path) -> None:
    shop.publish(rows)
    proposal = shop.propose(measured(rows, tmp_path, "2 1/16 in"), 'The cover, "tall", measured again')
    assert proposal.file == "0002_the_cover_tall_measured_again.py"
    assert (
        proposal.text
        == '''"""The cover, \\"tall\\", measured again

1 part revised.
"""

from alembic import op

revision = "front_parts_0002"
down_revision = "front_parts_0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.revise_part(
        "FC-501", measures={"cover_height": {"value": "52.3875 mm", "taken_with": "caliper", "source": "shop bench"}}
    )
    op.publish_release(
        2,
        name="the-cover-tall-measured-again",
        on="2026-03-02",
        note='The cover, "tall", measured again',
        digest="DIGEST",
    )


def downgrade() -> None:
    op.withdraw_release(2)
'''.replace("DIGEST", proposal.heading.digest)
    )
    assert list(proposal.report) == ["FC-501: cover_height from 48 mm to 52.3875 mm (caliper)."]


def test_the_text_is_as_the_formatter_has_it(rows: Rows, shop: Shop, tmp_path: Path) -> None:
    file = tmp_path / "proposal.py"
    file.write_text(shop.propose(rows).text)
    ruff = Path(sys.executable).with_name("ruff")
    subprocess.run([ruff, "format", "--check", "--isolated", "--line-length", "120", file], check=True)


def test_more_than_a_thousand_edits_stand_in_a_file_beside(shop: Shop, tmp_path: Path) -> None:
    lines = [(f"FN-{number:04}", "fan", f"Fan {number}") for number in range(1_001)]
    many = laid(EMPTY, csv_file(tmp_path, "parts", ("number", "kind", "name"), *lines))
    shop.publish(many, "Many fans")
    assert list(shop.files()) == ["0001_many_fans.jsonl", "0001_many_fans.md", "0001_many_fans.py"]
    assert shop.files()["0001_many_fans.jsonl"].count(b"\n") == 1_001
    assert b"op.apply_edits(" in shop.files()["0001_many_fans.py"]
    assert shop.digests() == [digest_of(many)]


def test_going_back_leaves_no_trace_of_what_was_between(rows: Rows, shop: Shop, tmp_path: Path) -> None:
    """New parts, retired ones, moved aliases, prices: the same digest as before, and every release stays."""
    shop.publish(rows)
    folder = tmp_path / "change"
    files = [
        csv_file(folder, "parts", ("number", "kind", "name", "status"), ("FN-9", "fan", "Fan", ""), *retired()),
        csv_file(folder, "aliases", ("alias", "part"), ("90417731", "FN-9"), ("90417732", "FN-9")),
        csv_file(folder, "prices", ("part", "price"), ("FN-9", "9 USD"), ("CP-501", "9 USD")),
        csv_file(folder, "connections", ("name", "bolts"), ("hazelrook_face", "5")),
        csv_file(folder, "ports", ("part", "name", "side"), ("WP-501", "mount", "left")),
    ]
    later = laid(rows, *files)
    shop.publish(later)
    release, old = state_of(shop.url, 1)
    assert release.number == 1
    shop.publish(old, "Back")
    assert shop.digests() == [digest_of(rows), digest_of(later), digest_of(rows)]
    assert b'op.remove_part("FN-9")' in shop.files()["0003_back.py"]


def retired() -> list[tuple[str, str, str, str]]:
    return [("WP-501", "", "", "retired"), ("SP-508", "", "Old spacer", "retired")]


def test_a_proposal_that_is_not_published_is_in_the_way_of_the_next(rows: Rows, shop: Shop, tmp_path: Path) -> None:
    shop.publish(rows)
    put_in_place(shop.propose(measured(rows, tmp_path, "50 mm")), shop.url, shop.folder)
    with pytest.raises(DatabaseFault, match=r"^0002_a_change_2\.py is proposed and not published"):
        shop.newest()


@pytest.mark.parametrize("first", [True, False])
def test_of_two_proposals_at_the_same_moment_one_is_refused(
    rows: Rows, shop: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, first: bool
) -> None:
    """Both are proven before either is written; written both, the catalog would have two newest migrations."""
    if not first:
        shop.publish(rows)
    before = shop.files()
    proposals = [shop.propose(measured(rows, tmp_path, f"{number} mm"), f"Number {number}") for number in (50, 51)]
    both = threading.Barrier(2)
    writing = proposing._alone_in

    def at_the_same_moment(folder: Path) -> Any:
        both.wait(20)
        return writing(folder)

    monkeypatch.setattr(proposing, "_alone_in", at_the_same_moment)
    # The proof is not made by two threads of one process.
    monkeypatch.setattr(proposing, "published_on_a_copy", lambda *_: nullcontext())
    monkeypatch.setattr(proposing, "upgrade", lambda *_: None)

    def put(proposal: Proposal) -> str:
        try:
            return put_in_place(proposal, shop.url, shop.folder).name
        except DatabaseFault as fault:
            return str(fault)

    with ThreadPoolExecutor(2) as two:
        said = sorted(two.map(put, proposals), key=len)
    assert said[1].startswith(f"{said[0]} is proposed and not published.")
    assert {*shop.files()} - {*before} == {said[0], said[0].replace(".py", ".md")}
    upgrade(shop.url, shop.folder)


def test_a_withdrawn_number_is_not_used_again(rows: Rows, shop: Shop, tmp_path: Path) -> None:
    shop.publish(rows)
    shop.publish(measured(rows, tmp_path, "50 mm"), "Wrong")
    downgrade(shop.url, shop.folder, revision="front_parts_0001")
    for path in shop.folder.glob("0002_*"):
        path.unlink()
    proposal = shop.propose(measured(rows, tmp_path, "51 mm"), "Right")
    assert (proposal.file, proposal.heading.number) == ("0003_right.py", 3)
    shop.publish(measured(rows, tmp_path, "51 mm"), "Right")


def test_what_does_not_publish_is_not_put_in_place(rows: Rows, shop: Shop) -> None:
    proposal = shop.propose(rows)
    text = proposal.text.replace("48 mm", "49 mm")
    import msgspec

    with pytest.raises(CatalogFaults, match="the digest is"):
        put_in_place(msgspec.structs.replace(proposal, text=text), shop.url, shop.folder)
    assert shop.files() == {}
    assert not Path(shop.url.removeprefix("sqlite:///")).exists()


@pytest.mark.parametrize("fails_at", range(9))
def test_whatever_fails_on_the_way_nothing_is_left(
    rows: Rows, shop: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fails_at: int
) -> None:
    """The n-th call that touches the disk fails, for every n."""
    shop.publish(rows)
    before = shop.files()
    proposal = shop.propose(measured(rows, tmp_path, "50 mm"))
    monkeypatch.setattr(proposing, "published_on_a_copy", lambda *_: nullcontext())
    calls = 0

    def counted(real: Any) -> Any:
        def call(*arguments: Any, **named: Any) -> Any:
            nonlocal calls
            calls += 1
            if calls - 1 == fails_at:
                raise OSError(28, "No space left on device")
            return real(*arguments, **named)

        return call

    monkeypatch.setattr(os, "fsync", counted(os.fsync))
    monkeypatch.setattr(Path, "replace", counted(Path.replace))
    try:
        put_in_place(proposal, shop.url, shop.folder)
    except OSError:
        assert shop.files() == before
    else:
        assert calls <= fails_at
        assert set(shop.files()) == {*before, "0002_a_change_2.py", "0002_a_change_2.md"}


def test_the_newest_release_is_read_from_a_database_that_holds_it(shop: Shop, rows: Rows) -> None:
    put_in_place(shop.propose(rows), shop.url, shop.folder)
    with pytest.raises(DatabaseFault, match="There is no catalog database"):
        shop.newest()
    upgrade(shop.url, shop.folder)
    engine = sa.create_engine(shop.url)
    with engine.begin() as connection:
        connection.execute(sa.text("UPDATE price SET amount = amount + 1 WHERE part = 'WP-501'"))
    engine.dispose()
    with pytest.raises(DatabaseFault, match="does not hold what was published"):
        shop.newest()


def test_a_folder_named_as_the_demo_has_revisions_of_another_name(tmp_path: Path, sqlite_url: str, rows: Rows) -> None:
    assert Shop(tmp_path / "catalog", sqlite_url).propose(rows).heading.revision == "shop_0001"
