"""A publishing migration that is killed, that fails anywhere, or that meets another one at work.

`BELTPLANE_TEST_EFFORT=50 .venv/bin/pytest tests/catalog/test_interrupted.py` kills 200 times and fails every statement.
"""

import json
import os
import random
import select
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import pytest
import sqlalchemy as sa

from catalog import tables
from catalog.database import open_for_migration, open_read_only, reading
from catalog.migrate import upgrade
from catalog.reader import read_snapshot
from catalog.releases import list_releases
from tests.support import CatalogFolder, Edit, effort, small_edits

ROOT = Path(__file__).parents[2]
LAST = 3


def caps(number: int) -> list[Edit]:
    """The edits of a release that takes a while: new parts, and all those of the release before revised."""
    new: list[Edit] = [
        {"edit": "add_part", "number": f"C-{number}-{place}", "kind": "cap", "name": "Cap", "price": "1.00 USD"}
        for place in range(40)
    ]
    old: list[Edit] = [
        {"edit": "revise_part", "number": f"C-{number - 1}-{place}", "name": f"Cap {number}", "price": "2.00 USD"}
        for place in range(40 if number > 2 else 0)
    ]
    return [*new, *old, {"edit": "revise_part", "number": "P-1", "name": f"Pump {number}"}]


@pytest.fixture
def catalog(tmp_path: Path, url: str) -> CatalogFolder:
    """A catalog of three releases, of which the first is published."""
    made = CatalogFolder(tmp_path / "migrations", url)
    made.publish(*small_edits())
    for number in range(2, LAST + 1):
        made.publish(*caps(number))
    made.downgrade(1)
    return made


def newest(catalog: CatalogFolder) -> int:
    """The newest release, after a look that it and all before it are whole and that nothing is there beyond it."""
    engine = open_read_only(catalog.url)
    with reading(engine) as connection:
        numbers = [release.number for release in list_releases(connection)]
        assert numbers == list(range(1, len(numbers) + 1))
        for number in numbers:
            assert read_snapshot(connection, number).release.digest == catalog.digests[number]
        for table in tables.VERSIONED:
            span = sa.select(sa.func.max(table.c.since), sa.func.max(table.c.until))
            assert all(end is None or end <= numbers[-1] for end in connection.execute(span).one())
    engine.dispose()
    return numbers[-1]


@pytest.fixture
def worker() -> Iterator[subprocess.Popen[str]]:
    process = subprocess.Popen(
        [sys.executable, "-m", "tests.catalog.upgrade_worker"],
        cwd=ROOT,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
    )
    yield process
    process.communicate()


def run(worker: "subprocess.Popen[str]", catalog: CatalogFolder, kill_after: float | None = None) -> int:
    """Run the upgrade in a process of its own, perhaps for some seconds only; gives its exit status."""
    assert worker.stdin is not None
    assert worker.stdout is not None
    worker.stdin.write(json.dumps([catalog.url, str(catalog.folder)]) + "\n")
    worker.stdin.flush()
    process = int(worker.stdout.readline())
    if kill_after is not None:
        select.select([worker.stdout], [], [], kill_after)  # until then, or until it is done
        with suppress(ProcessLookupError):  # it was done already
            os.kill(process, signal.SIGKILL)
    return int(worker.stdout.readline())


def test_an_upgrade_killed_at_any_moment(catalog: CatalogFolder, worker: "subprocess.Popen[str]") -> None:
    """The next start sees a whole release, the old or a new one; run again, the upgrade completes."""
    start = time.monotonic()
    assert run(worker, catalog) == 0
    takes = time.monotonic() - start
    catalog.downgrade(1)
    chance = random.Random(1)
    killed, stopped_at = 0, set()
    while killed < 2 * effort():
        before = newest(catalog)
        start = time.monotonic()
        status = run(worker, catalog, kill_after=chance.uniform(0, takes))
        if status == 0:  # the first one was slow, and most moments would come after the end
            takes = min(takes, time.monotonic() - start)
        killed += status == -signal.SIGKILL
        after = newest(catalog)
        assert before <= after
        stopped_at.add(after)
        if status == 0 or chance.random() < 0.5:
            assert run(worker, catalog) == 0
            assert newest(catalog) == LAST
            catalog.downgrade(1)
    if effort() > 4:
        assert stopped_at == set(range(1, LAST + 1)), "the moments were everywhere"


@pytest.mark.parametrize("direction", ["up", "down"])
def test_a_migration_that_breaks_anywhere_leaves_nothing_behind(
    tmp_path: Path, url: str, direction: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The n-th statement fails, for every n (without effort every eleventh) until the migration gets through."""
    catalog = CatalogFolder(tmp_path / "migrations", url)
    catalog.publish(*small_edits())
    catalog.publish(
        {"edit": "revise_part", "number": "P-1", "name": "x", "price": None},
        {"edit": "retire_part", "number": "S-1", "replaced_by": "P-1"},
    )
    catalog.downgrade(1)
    if direction == "down":
        catalog.upgrade()
    before = newest(catalog)
    every = max(1, 11 // effort())
    for failing in range(1, 500, every):
        try:
            with statement_fails(failing):
                catalog.upgrade() if direction == "up" else catalog.downgrade(1)
        except Broken:
            assert newest(catalog) == before
        else:
            break
    assert failing > 20, "it did break on the way"
    assert newest(catalog) == (2 if direction == "up" else 1)


class Broken(Exception):
    pass


@contextmanager
def statement_fails(number: int) -> Iterator[None]:
    """Have the n-th statement from now on fail, whichever engine runs it."""
    count = 0

    def fail(*_: object) -> None:
        nonlocal count
        count += 1
        if count == number:
            raise Broken

    sa.event.listen(sa.Engine, "before_cursor_execute", fail)
    try:
        yield
    finally:
        sa.event.remove(sa.Engine, "before_cursor_execute", fail)


def renamed_twice(tmp_path: Path, url: str) -> CatalogFolder:
    """A catalog of three small releases, of which the first is published."""
    catalog = CatalogFolder(tmp_path / "migrations", url)
    catalog.publish(*small_edits())
    for number in range(2, LAST + 1):
        catalog.publish({"edit": "revise_part", "number": "P-1", "name": f"Pump {number}"})
    catalog.downgrade(1)
    return catalog


def test_of_two_upgrades_at_once_one_waits(tmp_path: Path, url: str) -> None:
    """Both end well, and every release is published once."""
    catalog = renamed_twice(tmp_path, url)
    program = f"from catalog.migrate import upgrade; upgrade({catalog.url!r}, {str(catalog.folder)!r})"
    running = [
        subprocess.Popen([sys.executable, "-c", program], cwd=ROOT, stderr=subprocess.PIPE, text=True) for _ in range(2)
    ]
    assert [process.communicate()[1] for process in running] == ["", ""]
    assert newest(catalog) == LAST


@pytest.mark.parametrize("turn", [1, 3])
def test_an_upgrade_that_another_one_overtakes_goes_on_from_there(tmp_path: Path, sqlite_url: str, turn: int) -> None:
    """In SQLite the lock is free for a moment between two migrations, and another upgrade may take it."""
    catalog = renamed_twice(tmp_path, sqlite_url)
    program = f"from catalog.migrate import upgrade; upgrade({catalog.url!r}, {str(catalog.folder)!r})"
    count = 0

    def overtake(connection: object, cursor: object, statement: str, *_: object) -> None:
        nonlocal count
        count += statement == "BEGIN IMMEDIATE"
        if statement == "BEGIN IMMEDIATE" and count == turn:
            subprocess.run([sys.executable, "-c", program], cwd=ROOT, check=True)

    sa.event.listen(sa.Engine, "before_cursor_execute", overtake)
    try:
        upgrade(catalog.url, catalog.folder)
    finally:
        sa.event.remove(sa.Engine, "before_cursor_execute", overtake)
    assert count >= turn
    assert newest(catalog) == LAST


def test_readers_of_sqlite_go_on_while_a_migration_works(tmp_path: Path, sqlite_url: str) -> None:
    """What it writes, however much, goes to the file at the end only."""
    catalog = CatalogFolder(tmp_path / "migrations", sqlite_url)
    catalog.publish(*small_edits())
    engine = open_for_migration(sqlite_url)
    with engine.begin() as connection:
        rows = [{"alias": f"A-{place}", "part": "P-1", "since": 2} for place in range(100_000)]
        connection.execute(sa.insert(tables.alias), rows)
        reader = open_read_only(sqlite_url)
        with reading(reader) as other:
            assert read_snapshot(other).release.number == 1
        reader.dispose()
        connection.rollback()
