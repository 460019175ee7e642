"""The newest release of the demo catalog, for tests that need no service."""

import pytest

from catalog.database import open_read_only, reading
from catalog.domain import Snapshot
from catalog.migrate import upgrade
from catalog.reader import read_snapshot


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Snapshot:
    url = f"sqlite:///{tmp_path_factory.mktemp('demo') / 'catalog.db'}"
    upgrade(url)
    engine = open_read_only(url)
    try:
        with reading(engine) as connection:
            return read_snapshot(connection)
    finally:
        engine.dispose()
