"""A request that was answered before is answered alike, and as without keeping anything (RFC 9111, section 4)."""

import re
import threading
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from litestar.testing import TestClient

from catalog.database import DatabaseFault
from catalog.seals import seal_of
from service.api import route_fits
from service.api.app import OPERATIONS, PAGES, create_app
from service.api.exchange import ANSWERS_AT_ONCE
from service.api.live import Live
from service.api.operations import CatalogQuery, Operation
from service.api.settings import Settings
from tests.service.api.conftest import NEEDED, Client
from tests.service.api.test_error_shape import ask
from tests.support import CatalogFolder, small_edits

OWN = {"x-request-id", "server-timing"}
# W3C Server Timing, section "The Server-Timing header field": a name, then parameters `dur` and `desc`.
TIMING = re.compile(r"[a-z]+(;(dur=[0-9]+\.[0-9]{3}|desc=[a-z]+))+(, [a-z]+(;(dur=[0-9]+\.[0-9]{3}|desc=[a-z]+))+)*")


@pytest.fixture(scope="module")
def forgetful(demo_url: str) -> Iterator[Client]:
    """The service as it is where it keeps nothing."""
    with TestClient(create_app(Settings(database=demo_url, cache_mb=0))) as found:
        yield found


def told(response: Any) -> tuple[int, dict[str, str], bytes]:
    """All of a response but what tells one request from another."""
    return (
        response.status_code,
        {name: value for name, value in response.headers.items() if name not in OWN},
        response.content,
    )


@pytest.mark.parametrize("operation", [each for each in OPERATIONS if each.cached], ids=lambda each: each.name)
def test_the_second_answer_is_the_first(client: Client, forgetful: Client, operation: Operation) -> None:
    needed = NEEDED.get(operation.name, {})
    asked: list[tuple[dict[str, str], str]] = [({}, "identity"), ({}, "gzip")]
    if issubclass(operation.query, CatalogQuery):
        brief = {"detail": "brief"}
        pinned, inches = brief | {"release": "8"}, brief | {"units": "in"}
        asked = [({}, "zstd"), (brief, "identity"), (pinned, "gzip"), (inches, "gzip")]
    for query, coding in asked:
        how: dict[str, Any] = {"params": needed | query, "headers": {"accept-encoding": coding}}
        first, second, alone = (told(ask(each, operation, **how)) for each in (client, client, forgetful))
        assert second == first == alone
        if operation.method == "GET":
            fresh = how | {"headers": how["headers"] | {"if-none-match": first[1]["etag"]}}
            assert told(ask(client, operation, **fresh)) == told(ask(forgetful, operation, **fresh))
            assert ask(client, operation, **fresh).status_code == 304


@pytest.mark.parametrize("path", [path for path in PAGES if path != "/metrics"])
def test_pages_are_the_same_again(client: Client, forgetful: Client, path: str) -> None:
    assert told(client.get(path)) == told(client.get(path)) == told(forgetful.get(path))


def test_server_timing_says_what_was_spent(client: Client, forgetful: Client) -> None:
    address = "/v1/fits?engine=ENG-R10&accessory_drive=DR-541&detail=brief&limit=3"
    headers = {"accept-encoding": "gzip"}
    first = client.get(address, headers=headers).headers["server-timing"]
    assert TIMING.fullmatch(first)
    assert [entry.split(";")[0] for entry in first.split(", ")] == [
        "cache", "decode", "wait", "answer", "encode", "compress",
    ]  # fmt: skip
    assert first.startswith("cache;desc=miss, ")
    assert client.get(address, headers=headers).headers["server-timing"] == "cache;desc=hit"
    # Another coding is made of what is kept, without finding the answer again.
    plain = client.get(address, headers={"accept-encoding": "identity"}).headers["server-timing"]
    assert plain.startswith("cache;desc=hit, ")
    assert "answer" not in plain
    assert "answer" in forgetful.get(address).headers["server-timing"]
    assert "answer" in client.get("/livez").headers["server-timing"]


def test_a_post_is_kept_by_all_that_its_answer_follows_from(client: Client) -> None:
    """RFC 9111, section 2: the key is more than the address where the content decides."""
    address = "/v1/fits?detail=brief"
    one, other = ({"engine": "ENG-R10", "accessory_drive": drive} for drive in ("DR-541", "DR-528"))
    first, second = client.post(address, json=one), client.post(address, json=other)
    assert first.content != second.content
    again = client.post(address, json=one)
    assert again.content == first.content
    assert again.headers["server-timing"] == "cache;desc=hit"
    # Written otherwise it is another request, but the same question.
    written = client.post(
        address,
        content=b'{ "accessory_drive": "DR-541",\n "engine": "ENG-R10" }',
        headers={"content-type": "application/json"},
    )
    assert written.content == first.content
    assert written.headers["server-timing"].startswith("cache;desc=hit, ")
    # What is refused is refused, whatever is known of a body.
    text = b'{"engine":"ENG-R10","accessory_drive":"DR-541"}'
    for fields, status in (({"content-type": "text/plain"}, 415), ({"content-encoding": "gzip"}, 415)):
        told = client.post(address, content=text, headers={"content-type": "application/json"} | fields)
        assert told.status_code == status


def test_many_who_ask_the_same_at_once_are_answered_once_and_keep_no_thread(
    demo_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun, go_on = threading.Event(), threading.Event()
    asked: list[int] = []
    answering: Any = vars(route_fits)["fit"]

    def slow(*arguments: Any, **named: Any) -> Any:
        asked.append(1)
        begun.set()
        assert go_on.wait(30)
        return answering(*arguments, **named)

    monkeypatch.setattr(route_fits, "fit", slow)
    many = 2 * ANSWERS_AT_ONCE
    address = "/v1/fits?engine=ENG-R10&accessory_drive=DR-541&detail=brief"
    for cache_mb in (1, 0):
        asked = []
        begun.clear()
        go_on.clear()
        app = create_app(Settings(database=demo_url, cache_mb=cache_mb))
        with TestClient(app) as client, ThreadPoolExecutor(many) as pool:
            found = [pool.submit(client.get, address) for _ in range(many)]
            assert begun.wait(30)
            # Threads are left for others, however many wait for that one.
            assert client.get("/v1/parts/WP-227").status_code == 200
            go_on.set()
            answers = [each.result(30) for each in found]
        assert {answer.content for answer in answers} == {answers[0].content}
        said = Counter(answer.headers["server-timing"].split(",")[0].removeprefix("cache;desc=") for answer in answers)
        assert said["miss"] == len(asked)
        assert said["joined"] + said["hit"] == many - len(asked)
        assert cache_mb == 0 or len(asked) == 1


def test_who_waited_for_one_that_failed_finds_out_anew(demo_url: str, monkeypatch: pytest.MonkeyPatch) -> None:
    begun, go_on = threading.Event(), threading.Event()
    answering: Any = vars(route_fits)["fit"]

    def failing_at_first(*arguments: Any, **named: Any) -> Any:
        if not begun.is_set():
            begun.set()
            assert go_on.wait(30)
            raise RuntimeError("only once")
        return answering(*arguments, **named)

    monkeypatch.setattr(route_fits, "fit", failing_at_first)
    address = "/v1/fits?engine=ENG-R10&accessory_drive=DR-541&detail=brief"
    app = create_app(Settings(database=demo_url))
    with TestClient(app) as client, ThreadPoolExecutor(4) as pool:
        first = pool.submit(client.get, address)
        assert begun.wait(30)
        others = [pool.submit(client.get, address) for _ in range(3)]
        time.sleep(0.2)
        go_on.set()
        assert first.result(30).status_code == 500
        assert [other.result(30).status_code for other in others] == [200] * 3


def test_what_breaks_a_rule_is_never_known(client: Client) -> None:
    for address in ("/v1/fits?engine=ENG-R10&pump=WP-1", "/v1/parts/none", "/v1/fits", "/v1/parts?limit=0"):
        first, second = client.get(address), client.get(address)
        assert first.status_code == second.status_code >= 400
        assert "etag" not in second.headers
        assert first.json() == second.json()


def test_metrics_count_hits_and_misses(client: Client) -> None:
    def counted() -> dict[str, float]:
        text = client.get("/metrics").text
        lines = [line.split() for line in text.splitlines() if line.startswith("beltplane_cache_")]
        return {name.removeprefix("beltplane_cache_").removesuffix("_total"): float(value) for name, value in lines}

    address = "/v1/fits?engine=ENG-R10&accessory_drive=DR-541&detail=brief&limit=2"
    before = counted()
    for _ in range(3):
        client.get(address)
    client.head(address)
    after = counted()
    assert after["misses"] == before["misses"] + 1
    assert after["hits"] == before["hits"] + 3
    assert before["bytes"] < after["bytes"]
    assert before["entries"] < after["entries"]
    assert {"evicted"} <= set(after)
    text = client.get("/metrics").text
    assert 'beltplane_requests_total{method="HEAD",route="/v1/fits",status="200"}' in text


def price(amount: int) -> dict[str, Any]:
    return {"edit": "revise_part", "number": "G-1", "price": f"{amount}.00 USD"}


@pytest.fixture
def catalog(tmp_path: Path) -> CatalogFolder:
    """A catalog of two releases."""
    found = CatalogFolder(tmp_path / "migrations", f"sqlite:///{tmp_path / 'catalog.db'}")
    found.publish(*small_edits())
    found.publish(price(5))
    return found


@pytest.fixture
def app_of_two(catalog: CatalogFolder) -> Iterator[tuple[Client, Live]]:
    """A service over it, with its holder of releases, which looks only where a test says so."""
    app = create_app(Settings(database=catalog.url))
    with TestClient(app) as client:
        yield client, app._again.live


def test_a_release_published_is_answered_from_at_once(catalog: CatalogFolder, app_of_two: tuple[Client, Live]) -> None:
    client, live = app_of_two
    unpinned, pinned = "/v1/fits?engine=E-1", "/v1/fits?engine=E-1&release=2"
    before = {address: told(client.get(address)) for _ in range(2) for address in (unpinned, pinned)}
    catalog.publish(price(6))
    live.look()
    assert client.get(unpinned).headers["catalog-release"] == "3"
    assert client.get(unpinned, headers={"if-none-match": before[unpinned][1]["etag"]}).status_code == 200
    assert told(client.get(pinned)) == before[pinned]


def test_what_is_stale_says_so_whatever_is_known(
    app_of_two: tuple[Client, Live], monkeypatch: pytest.MonkeyPatch
) -> None:
    client, live = app_of_two
    address = "/v1/fits?engine=E-1"
    fresh = [client.get(address) for _ in range(2)][-1]
    assert fresh.headers["server-timing"] == "cache;desc=hit"

    def away() -> None:
        raise DatabaseFault("away")

    with monkeypatch.context() as patched:
        patched.setattr(live, "_follow", away)
        live.look()
        stale = client.get(address)
        assert stale.headers["catalog-stale"] == "0"
        assert stale.content == fresh.content
        # RFC 9111, section 3.2: 304 has the fields that a cache is to take over.
        again = client.get(address, headers={"if-none-match": fresh.headers["etag"]})
        assert (again.status_code, "catalog-stale" in again.headers) == (304, True)
    live.look()
    assert told(client.get(address)) == told(fresh)


def test_a_release_withdrawn_is_410_whatever_is_known(catalog: CatalogFolder, app_of_two: tuple[Client, Live]) -> None:
    client, live = app_of_two
    pinned = "/v1/fits?engine=E-1&release=2"
    assert [client.get(pinned).status_code for _ in range(2)] == [200, 200]
    catalog.downgrade(1)
    live.look()
    assert client.get(pinned).status_code == 410
    assert client.get("/v1/fits?engine=E-1").headers["catalog-release"] == "1"


def test_the_same_content_under_another_name_is_another_answer(
    catalog: CatalogFolder, app_of_two: tuple[Client, Live]
) -> None:
    client, live = app_of_two
    addresses = ("/v1/releases/2", "/v1/releases/1/changes?since=2")
    before = {address: client.get(address) for address in addresses}
    catalog.downgrade(1)
    catalog.write(price(5), number=2, digest=catalog.digests[2], name="renamed")
    catalog.upgrade()
    live.look()
    for address, known in before.items():
        after = client.get(address, headers={"if-none-match": known.headers["etag"]})
        assert (after.status_code, b"renamed" in after.content) == (200, True)


def test_the_same_release_after_another_one_has_another_tag(
    catalog: CatalogFolder, app_of_two: tuple[Client, Live]
) -> None:
    """Its seal covers the one before it, and the tag covers the seal."""
    client, live = app_of_two
    addresses = ("/v1/fits?engine=E-1&release=2", "/v1/releases/2", "/v1/releases")
    before = {address: client.get(address) for address in addresses}
    catalog.downgrade(0)
    catalog.write(*small_edits(), number=1, digest=catalog.digests[1], name="renamed")
    catalog.upgrade()
    live.look()
    for address, known in before.items():
        after = client.get(address, headers={"if-none-match": known.headers["etag"]})
        assert (after.status_code, after.headers["etag"] != known.headers["etag"]) == (200, True)
    assert client.get(addresses[0]).content == before[addresses[0]].content
    one, two = (client.get(f"/v1/releases/{number}").json() for number in (1, 2))
    assert one["seal"] == seal_of({**one, "currency": "USD"}, None)
    assert two["seal"] == seal_of({**two, "currency": "USD"}, one["seal"])
    assert client.get("/v1/releases").json()["releases"] == [one, two]


def test_bodies_in_pieces_and_too_large_ones_are_read_as_before(client: Client) -> None:
    def pieces() -> Iterator[bytes]:
        yield b'{"engine": "ENG-R10",'
        yield b' "accessory_drive": "DR-541"}'

    headers = {"content-type": "application/json"}
    whole = client.post("/v1/fits?detail=brief", json={"engine": "ENG-R10", "accessory_drive": "DR-541"})
    assert client.post("/v1/fits?detail=brief", content=pieces(), headers=headers).content == whole.content
    assert client.post("/v1/fits", content=b" " * 70_000, headers=headers).status_code == 413
    assert client.post("/v1/fits", content=iter([b" " * 70_000]), headers=headers).status_code == 413
