"""A made catalog release after release: one SQLite file for each, so that publishing is the work of a moment.

What is measured is how a service takes a release up, not how one is published; the file that is served is exchanged
for the one with a release more, as whole as a migration's transaction leaves it.
"""

import os
import shutil
from http.client import HTTPConnection
from pathlib import Path
from tempfile import mkdtemp

from catalog.migrate import upgrade
from tests.bench.published import write_next
from tests.bench.setting import Setting


def successive(setting: Setting, parts: int, releases: int) -> list[Path]:
    """Files of the made catalog of this size: with the first release, with two, and so on."""
    first = Path(setting.database(parts).removeprefix("sqlite:///"))
    # A folder of its own: another measurement's further releases are none of these.
    folder = Path(mkdtemp(dir=setting.folder))
    migrations = folder / "migrations"
    shutil.copytree(setting.folder / f"migrations_{parts}", migrations)
    found, snapshot = [first], setting.made(parts).snapshot
    for number in range(2, releases + 1):
        snapshot = write_next(snapshot, migrations)
        path = folder / f"{number}.sqlite"
        shutil.copyfile(found[-1], path)
        upgrade(f"sqlite:///{path}", migrations)
        found.append(path)
    setting.forget()
    return found


def publish(state: Path, served: Path) -> None:
    """Put a copy of the file where the served one is, in one step."""
    beside = served.with_suffix(".new")
    shutil.copyfile(state, beside)
    os.replace(beside, served)


def answering_release(port: int, address: str) -> int:
    """Ask, and give the number of the release that answered."""
    connection = HTTPConnection("127.0.0.1", port, timeout=600)
    connection.request("GET", address)
    response = connection.getresponse()
    response.read()
    connection.close()
    assert response.status == 200, response.status
    return int(response.headers["Catalog-Release"])
