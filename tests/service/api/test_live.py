"""Following the catalog: switching to a new release, staying at the old one, the database away, older releases."""

import sys
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import msgspec
import pytest
import sqlalchemy as sa
from litestar.testing import TestClient

from catalog.database import DatabaseFault, open_for_migration
from catalog.reader import read_snapshot
from catalog.releases import WithdrawnRelease
from service.api import live as live_module
from service.api import readied, route_fits
from service.api.app import OPERATIONS, create_app
from service.api.live import Live
from service.api.older import KEPT
from service.api.operations import Operation
from service.api.settings import Settings
from service.fit.build import Build
from service.fit.engine import fit
from service.fit.front import fronts_of
from tests.catalog.conftest import postgres_server, run  # noqa: F401  (the first is a fixture)
from tests.service.api.test_error_shape import ask
from tests.support import CatalogFolder, Edit, small_edits

FITS = "/v1/fits?engine=E-1"


def price(euros: int) -> Edit:
    return {"edit": "revise_part", "number": "G-1", "price": f"{euros}.00 USD"}


def eventually(holds: Callable[[], bool], seconds: float = 10) -> float:
    """Wait until it holds; gives how long that took."""
    started = time.monotonic()
    while not holds():
        assert time.monotonic() < started + seconds
        time.sleep(0.02)
    return time.monotonic() - started


def change(url: str, *statements: str) -> None:
    engine = open_for_migration(url)
    with engine.begin() as connection:
        for statement in statements:
            connection.execute(sa.text(statement))
    engine.dispose()


@pytest.fixture
def catalog(tmp_path: Path) -> CatalogFolder:
    """A catalog of one release."""
    found = CatalogFolder(tmp_path / "migrations", f"sqlite:///{tmp_path / 'catalog.db'}")
    found.publish(*small_edits())
    return found


@pytest.fixture
def live(catalog: CatalogFolder) -> Iterator[Live]:
    """What holds its releases, looking when the test says so."""
    found = Live(catalog.url)
    found.watched = True
    found.look()
    yield found
    found.close()


def test_a_new_release_answers_within_two_seconds(catalog: CatalogFolder) -> None:
    with TestClient(create_app(Settings(database=catalog.url))) as client:
        before = client.get(FITS)
        assert before.headers["catalog-release"] == "1"
        catalog.publish(price(5))
        # Two seconds where the test has a core to itself; it shares it with others.
        assert eventually(lambda: client.get(FITS).headers["catalog-release"] == "2") < 4
        assert [release["number"] for release in client.get("/v1/releases").json()["releases"]] == [1, 2]
        assert client.get(f"{FITS}&release=1").content == before.content
        assert "catalog-stale" not in client.get(FITS).headers
        metrics = client.get("/metrics").text
        for line in ("release 2.0", "newest_release 2.0", "stale 0.0", "load_failures_total 0.0"):
            assert f"beltplane_catalog_{line}\n" in metrics
        catalog.downgrade(1)
        eventually(lambda: client.get(FITS).headers["catalog-release"] == "1")
        assert client.get(f"{FITS}&release=2").status_code == 410


def test_releases_share_the_parts_that_they_say_alike(catalog: CatalogFolder, live: Live) -> None:
    live.watched = True
    before = live.graph().snapshot
    catalog.publish(price(7))
    live.look()
    after = live.graph().snapshot
    assert after.release.number == 2
    assert {number for number in after.parts if after.parts[number] is not before.parts.get(number)} == {"G-1"}
    assert all(after.connections[name] is before.connections[name] for name in after.connections)
    with live.reading() as connection:
        assert after == read_snapshot(connection)


def test_a_release_is_made_ready_for_what_is_asked_before_it_answers(catalog: CatalogFolder, live: Live) -> None:
    fit(live.graph(), msgspec.convert({"engine": "E-1"}, Build))
    catalog.publish(price(7))
    live.look()
    assert live.graph().snapshot.release.number == 2
    assert "E-1" in {front.asked.engine for front in fronts_of(live.graph())}


def test_what_is_asked_again_and_again_is_at_hand_when_a_release_answers(catalog: CatalogFolder) -> None:
    once, gone = f"{FITS}&detail=brief", f"{FITS}&without=F-1"
    coded = {"accept-encoding": "gzip"}
    with TestClient(create_app(Settings(database=catalog.url))) as client:
        for address in (FITS, FITS, gone, gone, once):
            assert client.get(address, headers=coded).headers["catalog-release"] == "1"
        catalog.publish(price(5), {"edit": "remove_part", "number": "F-1"})
        eventually(lambda: client.get("/v1/parts").headers["catalog-release"] == "2")
        found = {address: client.get(address, headers=coded) for address in (FITS, once, gone)}
        assert "cache;desc=hit" in found[FITS].headers["server-timing"]
        assert "cache;desc=miss" in found[once].headers["server-timing"]
        assert found[gone].status_code == 422  # names what this release does not hold, so nothing was made of it
    with TestClient(create_app(Settings(database=catalog.url, cache_mb=0))) as fresh:
        alone = fresh.get(FITS, headers=coded)
        assert alone.content == found[FITS].content
        assert alone.headers["etag"] == found[FITS].headers["etag"]


def test_whoever_reads_a_release_beside_another_gives_way(monkeypatch: pytest.MonkeyPatch) -> None:
    set_to: list[float] = []
    monkeypatch.setattr(sys, "getswitchinterval", lambda: 0.0005)
    monkeypatch.setattr(sys, "setswitchinterval", set_to.append)
    with pytest.raises(RuntimeError), readied.giving_way():
        raise RuntimeError("not foreseen")
    assert set_to == [readied.HANDED_OVER_SECONDS, 0.0005]


def test_a_release_that_cannot_be_made_ready_answers_nevertheless(
    catalog: CatalogFolder, live: Live, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: Any) -> None:
        raise RuntimeError("not foreseen")

    monkeypatch.setattr(readied, "prepare", fail)
    catalog.publish(price(7))
    live.look()
    assert live.graph().snapshot.release.number == 2
    assert not live.standing().fault


def test_a_request_finishes_on_the_release_that_it_began_with(
    catalog: CatalogFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun, go_on = threading.Event(), threading.Event()
    answering: Any = vars(route_fits)["fit"]

    def slow(*arguments: Any, **named: Any) -> Any:
        begun.set()
        assert go_on.wait(20)
        return answering(*arguments, **named)

    settings = Settings(database=catalog.url, cache_mb=0)
    with TestClient(create_app(settings)) as client, ThreadPoolExecutor(1) as other:
        pinned = client.get(f"{FITS}&release=1").content
        monkeypatch.setattr(route_fits, "fit", slow)
        asked = other.submit(client.get, FITS)
        assert begun.wait(10)
        catalog.publish(price(5))
        eventually(lambda: client.get("/v1/parts").headers["catalog-release"] == "2")
        go_on.set()
        answer = asked.result(20)
        assert answer.headers["catalog-release"] == "1"
        assert answer.content == pinned
        assert client.get(FITS).headers["catalog-release"] == "2"


@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda each: each.name)
def test_a_request_asks_for_the_newest_release_once(
    catalog: CatalogFolder, monkeypatch: pytest.MonkeyPatch, operation: Operation
) -> None:
    # One that asked twice could answer from two releases, where one is published in between.
    asked = []
    now = Live._now

    def counted(live: Live) -> Any:
        asked.append(1)
        return now(live)

    with TestClient(create_app(Settings(database=catalog.url))) as client:
        monkeypatch.setattr(Live, "_now", counted)
        assert ask(client, operation, params={"engine": "E-1"} if operation.name == "get_fits" else {}).status_code
        assert len(asked) <= 1


TAMPER = (
    "UPDATE price SET amount = amount + 1 WHERE since = 2",
    "UPDATE price SET amount = amount - 1 WHERE since = 2",
)


def test_a_release_that_is_not_as_published_leaves_the_old_one(
    catalog: CatalogFolder, live: Live, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    old = live.graph()
    catalog.publish(price(5))
    change(catalog.url, TAMPER[0])
    for _ in range(3):
        standing = live.look()
        assert standing.release is not None
        assert (standing.release.number, standing.newest, standing.stale) == (1, 2, True)
        assert "Release 2 does not hold what was published" in standing.fault
        assert standing.failures == 1, "not tried again and again"
    assert live.graph() is old
    assert [release.number for release in live.releases()] == [1]
    with pytest.raises(DatabaseFault, match="Release 2 does not hold"):
        live.graph("2")
    assert live.standing().failures == 1
    monkeypatch.setattr(live_module, "AGAIN_SECONDS", -1e9)
    live._refused.clear()
    assert live.look().failures == 2
    assert sum("Release 2 does not hold" in record.getMessage() for record in caplog.records) == 1
    live._refused.clear()
    change(catalog.url, TAMPER[1])
    standing = live.look()
    assert (standing.fault, standing.stale) == ("", False)
    assert live.graph().snapshot.release.number == 2
    assert "is read again" in caplog.records[-1].getMessage()
    change(catalog.url, TAMPER[0])
    with pytest.raises(DatabaseFault, match="Release 2 does not hold"):
        Live(catalog.url).ready()


@pytest.mark.parametrize(
    ("changed", "said"),
    [("currency = 'EUR'", "currency = 'USD'"), ("note = 'x'", "note = ''"), ("seal = 'x'", "")],
)
def test_a_release_that_says_something_else_of_itself_leaves_the_old_one(
    catalog: CatalogFolder, live: Live, caplog: pytest.LogCaptureFixture, changed: str, said: str
) -> None:
    old = live.graph()
    catalog.publish(price(5))
    change(catalog.url, f"UPDATE release SET {changed} WHERE number = 2")
    for _ in range(3):
        standing = live.look()
        assert standing.release is not None
        assert (standing.release.number, standing.newest, standing.failures) == (1, 2, 1)
        assert "Release 2 is not as it was published" in standing.fault
    assert live.graph() is old
    with pytest.raises(DatabaseFault, match="Release 2 is not as it was published"):
        live.graph("2")
    assert sum("Release 2 is not as" in record.getMessage() for record in caplog.records) == 1
    if said:
        change(catalog.url, f"UPDATE release SET {said} WHERE number = 2")
        live._refused.clear()
        assert live.look().fault == ""
        assert live.graph().snapshot.release.number == 2


def test_a_release_that_cannot_be_loaded_leaves_the_old_one(
    catalog: CatalogFolder, live: Live, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def fail(*_: object) -> None:
        raise KeyError("G-9")

    with monkeypatch.context() as patch:
        patch.setattr(live_module, "ConstraintGraph", fail)
        catalog.publish(price(5))
        assert "Release 2 (release-2) cannot be loaded: KeyError: 'G-9'" in live.look().fault
        live.look()
    assert live.graph().snapshot.release.number == 1
    assert sum(record.exc_info is not None for record in caplog.records) == 1
    # Withdrawn, the catalog is in order again; the next one is loaded.
    catalog.downgrade(1)
    assert live.look().fault == ""
    catalog.upgrade()
    assert live.look().fault != "", "not tried again so soon"
    live._refused.clear()
    assert live.look().newest == 2
    assert live.graph().snapshot.release.number == 2


def test_a_service_that_starts_takes_the_newest_release_that_loads(catalog: CatalogFolder) -> None:
    catalog.publish(price(5))
    change(catalog.url, TAMPER[0])
    with TestClient(create_app(Settings(database=catalog.url))) as client:
        ready = client.get("/readyz")
        assert ready.status_code == 200
        assert {name: ready.json()[name] for name in ("status", "newest", "stale")} == {
            "status": "ready",
            "newest": 2,
            "stale": True,
        }
        assert ready.json()["release"]["number"] == 1
        assert "Release 2 does not hold what was published" in ready.json()["fault"]
        answer = client.get(FITS)
        assert (answer.headers["catalog-release"], answer.headers["catalog-stale"]) == ("1", "0")
        assert "catalog-stale" not in client.get(f"{FITS}&release=1").headers, "what is pinned is never stale"
        metrics = client.get("/metrics").text
        for line in ("release 1.0", "newest_release 2.0", "stale 1.0", "load_failures_total 1.0"):
            assert f"beltplane_catalog_{line}\n" in metrics


def test_without_the_database_memory_answers(
    catalog: CatalogFolder, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr("service.api.watch.LOOK_SECONDS", 0.05)
    for number in range(5, 5 + KEPT + 1):
        catalog.publish(price(number))
    file = Path(catalog.url.removeprefix("sqlite:///"))
    with TestClient(create_app(Settings(database=catalog.url))) as client:
        before = client.get(FITS)
        client.get(f"{FITS}&release=2")
        file.rename(file.with_suffix(".away"))
        eventually(lambda: client.get("/readyz").json()["stale"])
        assert "no catalog database" in client.get("/readyz").json()["fault"]
        time.sleep(1.1)
        answer = client.get(FITS)
        assert answer.content == before.content
        assert answer.headers["etag"] == before.headers["etag"]
        assert 1 <= int(answer.headers["catalog-stale"]) < 60
        assert client.get(FITS, headers={"If-None-Match": before.headers["etag"]}).headers["catalog-stale"]
        assert client.get("/v1/releases").status_code == 200
        assert client.get(f"{FITS}&release=2").status_code == 200, "held"
        assert client.get(f"{FITS}&release=1").status_code == 503, "not held"
        assert "beltplane_catalog_stale 1.0\n" in client.get("/metrics").text
        file.with_suffix(".away").rename(file)
        eventually(lambda: not client.get("/readyz").json()["stale"])
        assert "catalog-stale" not in client.get(FITS).headers
        assert client.get(f"{FITS}&release=1").status_code == 200
    told = [record.getMessage() for record in caplog.records if record.name == "beltplane"]
    assert len([text for text in told if "no catalog database" in text]) == 1
    assert len([text for text in told if "is read again" in text]) == 1


def test_without_postgresql_memory_answers(tmp_path: Path, postgres_server: str) -> None:  # noqa: F811
    run(postgres_server, "CREATE DATABASE away")
    url = sa.make_url(postgres_server).set(database="away").render_as_string(hide_password=False)
    catalog = CatalogFolder(tmp_path / "migrations", url)
    catalog.publish(*small_edits())
    live = Live(url)
    live.watched = True
    assert not live.look().stale
    gone = "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = 'away'"
    run(postgres_server, "ALTER DATABASE away ALLOW_CONNECTIONS false", gone)
    standing = live.look()
    assert standing.stale
    assert "away" in standing.fault
    assert live.graph().snapshot.release.number == 1
    run(postgres_server, "ALTER DATABASE away ALLOW_CONNECTIONS true")
    assert not live.look().stale
    run(postgres_server, gone)
    catalog.publish(price(5))
    assert live.look().newest == 2, "a connection that died in the meantime is made anew"
    assert live.graph().snapshot.release.number == 2
    live.close()
    run(postgres_server, "DROP DATABASE away")


def test_another_catalog_in_the_place_of_the_database(tmp_path: Path, catalog: CatalogFolder, live: Live) -> None:
    catalog.publish(price(5))
    live.look()
    assert live.graph("1").snapshot.parts["G-1"].price != live.graph().snapshot.parts["G-1"].price
    other = CatalogFolder(tmp_path / "other", f"sqlite:///{tmp_path / 'other.db'}")
    other.publish(*small_edits()[:-1])
    other.publish(price(7))
    (tmp_path / "other.db").replace(catalog.url.removeprefix("sqlite:///"))
    assert not live.look().stale
    assert live.graph("1").snapshot.release.digest == other.digests[1]
    assert live.graph("2") is live.graph()
    assert live.graph().snapshot.release.digest == other.digests[2]


def test_a_release_that_takes_long_to_load_is_told_and_the_database_is_there(
    catalog: CatalogFolder, live: Live, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun, go_on = threading.Event(), threading.Event()
    reading: Any = vars(live_module)["read_snapshot"]

    def slow(*arguments: Any) -> Any:
        begun.set()
        assert go_on.wait(20)
        return reading(*arguments)

    catalog.publish(price(5))
    monkeypatch.setattr(live_module, "STALE_SECONDS", 0.1)
    monkeypatch.setattr(live_module, "read_snapshot", slow)
    with ThreadPoolExecutor(1) as other:
        looking = other.submit(live.look)
        assert begun.wait(10)
        eventually(lambda: live.standing().stale)
        assert live.standing().fault == "Release 2 is being loaded."
        assert live.releases_holding(["G-1"]) == {"g-1": [1, 2]}, "the database is asked"
        go_on.set()
        assert looking.result(20).fault == ""
    assert live.newest_held() == 2


def test_a_withdrawn_release_is_not_answered_from_memory(catalog: CatalogFolder, live: Live) -> None:
    catalog.publish(price(5))
    live.look()
    assert live.graph("release-2") is live.graph()
    catalog.downgrade(1)
    live.look()
    assert live.newest_held() == 1
    with pytest.raises(WithdrawnRelease):
        live.graph("2")


def test_an_older_release_is_loaded_once_however_many_ask(
    catalog: CatalogFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    for number in range(5, 5 + KEPT + 2):
        catalog.publish(price(number))
    live = Live(catalog.url)
    live.watched = True
    live.look()
    loads: list[int] = []
    at_once, most = 0, 0
    reading: Any = vars(live_module)["read_snapshot"]

    def slow(connection: sa.Connection, number: int) -> Any:
        nonlocal at_once, most
        loads.append(number)
        at_once += 1
        most = max(most, at_once)
        time.sleep(0.1)
        at_once -= 1
        return reading(connection, number)

    monkeypatch.setattr(live_module, "read_snapshot", slow)
    with ThreadPoolExecutor(24) as many:
        asked = ["1", "release-1", "2"] * 8
        graphs = list(many.map(live.graph, asked))
    assert [graph.snapshot.release.number for graph in graphs] == [1, 1, 2] * 8
    assert len({id(graph) for graph in graphs}) == 2
    assert sorted(loads) == [1, 2]
    assert most == 1, "one after the other, so that memory stays bounded"
    for number in range(1, KEPT + 3):
        live.graph(str(number))
    loads.clear()
    live.graph(str(KEPT + 2))
    live.graph("1")
    assert loads == [1], "the longest unused was given up"
    live.close()


def test_faults_of_a_load_reach_all_who_wait(catalog: CatalogFolder, live: Live) -> None:
    catalog.publish(price(5))
    live.look()
    live._older.clear()
    change(catalog.url, "UPDATE price SET amount = amount + 1 WHERE since = 1")

    def ask_for_it(_: int) -> str:
        with pytest.raises(DatabaseFault) as raised:
            live.graph("1")
        return str(raised.value)

    with ThreadPoolExecutor(8) as many:
        assert all("Release 1 does not hold" in text for text in many.map(ask_for_it, range(8)))
    assert live.standing().failures == 1
    assert not live.look().stale, "what answers is not that one"
