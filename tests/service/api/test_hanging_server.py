"""A PostgreSQL server that hangs: its processes are stopped, and its machine goes on holding every connection."""

import os
import signal
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import pytest
import sqlalchemy as sa
from litestar.testing import TestClient

from catalog import database, postgresql
from catalog.database import DatabaseFault, open_read_only, reading
from service.api import live as live_module
from service.api.app import create_app
from service.api.settings import Settings
from tests.catalog.conftest import postgres_server, postgres_url  # noqa: F401  (fixtures)
from tests.service.api.test_live import FITS, eventually, price
from tests.support import CatalogFolder, small_edits


@contextmanager
def hanging(server: str) -> Iterator[None]:
    """Stop every process of the server, and let them go on at the end, come what may."""
    engine = sa.create_engine(server, poolclass=sa.NullPool)
    with engine.connect() as connection:
        processes = list(connection.scalars(sa.text("SELECT pid FROM pg_stat_activity WHERE pid <> pg_backend_pid()")))
        folder = Path(str(connection.scalar(sa.text("SHOW data_directory"))))
    processes.insert(0, int((folder / "postmaster.pid").read_text().split()[0]))

    def send(what: signal.Signals) -> None:
        for process in processes:
            with suppress(ProcessLookupError):
                os.kill(process, what)

    # Whoever waits for ever after all fails the test, and does not hold it up.
    at_last = threading.Timer(60, send, (signal.SIGCONT,))
    at_last.start()
    try:
        send(signal.SIGSTOP)
        yield
    finally:
        at_last.cancel()
        send(signal.SIGCONT)


@pytest.fixture
def impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    """Everything is given up sooner, so that the tests are short; the driver allows no less for a connection."""
    monkeypatch.setitem(database._GIVES_UP, "connect_timeout", 2)
    monkeypatch.setattr(postgresql, "SILENT_SECONDS", 1)
    monkeypatch.setattr(live_module, "STALE_SECONDS", 1.0)
    monkeypatch.setattr("service.api.watch.LOOK_SECONDS", 0.1)


@pytest.mark.usefixtures("impatient")
def test_a_question_that_is_under_way_is_given_up(
    tmp_path: Path,
    postgres_server: str,  # noqa: F811
    postgres_url: str,  # noqa: F811
) -> None:
    CatalogFolder(tmp_path / "migrations", postgres_url).publish(*small_edits())
    engine = open_read_only(postgres_url)
    # A long answer is not silence: there is a word now and then.
    with reading(engine) as connection:
        connection.execute(sa.text("SELECT repeat('x', 8000), pg_sleep(0.05) FROM generate_series(1, 40)")).all()
    started = time.monotonic()
    with (
        pytest.raises(DatabaseFault, match="the server has said nothing for 1 s"),
        reading(engine) as connection,
        hanging(postgres_server),
    ):
        connection.execute(sa.text("SELECT 1"))
    assert time.monotonic() - started < 10
    with reading(engine) as connection:
        assert connection.scalar(sa.text("SELECT 1")) == 1
    engine.dispose()


@pytest.mark.usefixtures("impatient")
def test_memory_answers_while_the_server_hangs_and_it_is_met_again(
    tmp_path: Path,
    postgres_server: str,  # noqa: F811
    postgres_url: str,  # noqa: F811
) -> None:
    catalog = CatalogFolder(tmp_path / "migrations", postgres_url)
    for edits in (small_edits(), [price(5)], [price(6)]):
        catalog.publish(*edits)

    with TestClient(create_app(Settings(database=postgres_url))) as client:
        before = client.get(FITS)
        assert before.headers["catalog-release"] == "3"
        with hanging(postgres_server):
            started = time.monotonic()
            # Asked before it is known that nobody answers: it waits, but not for ever.
            assert client.get(f"{FITS}&release=1").status_code == 503
            assert time.monotonic() - started < 10
            ready = client.get("/readyz")
            assert (ready.status_code, ready.json()["stale"]) == (200, True)
            # At first nothing is known but that there is no answer, then that there is none to a new connection.
            assert "has not answered" in ready.json()["fault"] or "timeout" in ready.json()["fault"]
            eventually(lambda: "timeout" in client.get("/readyz").json()["fault"], 20)
            started = time.monotonic()
            answer = client.get(FITS)
            assert answer.content == before.content
            assert int(answer.headers["catalog-stale"]) >= 1
            for path in (f"{FITS}&release=1", "/v1/parts/G-1/history"):
                assert client.get(path).status_code == 503
            assert time.monotonic() - started < 1, "at once, not after a wait for the server"
        eventually(lambda: not client.get("/readyz").json()["stale"])
        assert "catalog-stale" not in client.get(FITS).headers
        assert client.get(f"{FITS}&release=1").status_code == 200
        assert client.get("/v1/parts/G-1/history").json()["total"] == 3
        catalog.publish(price(7))
        eventually(lambda: client.get(FITS).headers["catalog-release"] == "4")
