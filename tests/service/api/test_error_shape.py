"""One shape of error for every route and every status (RFC 9457): pinned here and nowhere else."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import msgspec
import pytest
from litestar.testing import TestClient

from catalog.migrate import upgrade
from service.api import route_fits
from service.api.app import OPERATIONS, PAGES, create_app
from service.api.live import Live
from service.api.operations import Operation
from service.api.problems import Problem
from service.api.settings import Settings
from tests.service.api.conftest import BODIES, DEMO, NEEDED, Client
from tests.support import CatalogFolder, small_edits

PATHS = sorted({operation.path for operation in OPERATIONS} | set(PAGES))
FIELDS = {"type", "title", "status", "detail", "instance"}
BODY = b'{"engine": "ENG-R20", "pump": "WP-227"}'
JSON = {"content-type": "application/json"}


def url_of(operation: Operation) -> str:
    """An address at which the operation answers."""
    path = operation.path.replace("/parts/{number}", "/parts/WP-227").replace("/releases/{number}", "/releases/1")
    return path.replace("{name}", "rowanfinch_face")


def body_of(operation: Operation) -> bytes:
    return msgspec.json.encode(BODIES[operation.name]) if operation.name in BODIES else BODY


def ask(client: Client, operation: Operation, **how: Any) -> Any:
    if operation.body is not None:
        how = {"content": body_of(operation)} | how | {"headers": JSON | how.get("headers", {})}
    return client.request(operation.method, url_of(operation), **how)


def check_problem(response: Any, status: int, slug: str, more: frozenset[str] = frozenset()) -> dict[str, Any]:
    assert response.status_code == status, response.text
    assert response.headers["content-type"] == "application/problem+json"
    assert response.headers["cache-control"] == "no-store"
    assert response.headers["x-request-id"]
    found: dict[str, Any] = response.json()
    assert set(found) - {"errors"} == FIELDS | more
    msgspec.convert(found, Problem)
    assert found["type"] == f"/problems/{slug}"
    assert found["status"] == status
    assert unquote(found["instance"]) == response.request.url.path
    assert None not in found.values()
    for error in found.get("errors", []):
        assert {"pointer", "message"} <= set(error) <= {"pointer", "message", "type", "nearest", "releases"}
        assert error["pointer"] == "" or error["pointer"].startswith("/")
    return found


@pytest.mark.parametrize("path", ["/", "/v1", "/v1/nothing", "/v2/fits", "/schema/nothing", "/v1/parts/a/b", "/%ff"])
@pytest.mark.parametrize("method", ["GET", "POST", "DELETE"])
def test_404(client: Client, path: str, method: str) -> None:
    response = client.request(method, path)
    assert response.status_code == 404
    assert response.json()["type"] == "/problems/not-found"
    assert response.headers["content-type"] == "application/problem+json"


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize("method", ["PUT", "PATCH", "DELETE", "TRACE"])
def test_405_names_the_methods_that_are_allowed(client: Client, path: str, method: str) -> None:
    url = path.replace("{number}", "1").replace("{name}", "x")
    check_problem(response := client.request(method, url), 405, "method-not-allowed")
    taken = {operation.method for operation in OPERATIONS if operation.path == path} or {"GET"}
    assert set(response.headers["allow"].split(", ")) == taken | {"OPTIONS"} | ({"HEAD"} if "GET" in taken else set())


@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda each: each.name)
def test_400_unknown_parameter(client: Client, operation: Operation) -> None:
    query = NEEDED.get(operation.name, {})
    found = check_problem(ask(client, operation, params=query | {"colour~/": "red"}), 400, "invalid-request")
    assert [error["pointer"] for error in found["errors"]] == ["/colour~0~1"]
    assert '"colour~/"' in found["errors"][0]["message"]


@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda each: each.name)
@pytest.mark.parametrize("accept", ["text/html", "application/json;q=0", "*/*;q=0", "image/*, text/*"])
def test_406(client: Client, operation: Operation, accept: str) -> None:
    response = ask(client, operation, params=NEEDED.get(operation.name, {}), headers={"accept": accept})
    if "text/*" in accept and "text/csv" in operation.other_types:
        assert response.headers["content-type"] == "text/csv; charset=utf-8"
    else:
        check_problem(response, 406, "not-acceptable")


@pytest.mark.parametrize("operation", [each for each in OPERATIONS if each.body], ids=lambda each: each.name)
class TestBodies:
    def test_413(self, client: Client, operation: Operation) -> None:
        body = body_of(operation)
        body += b" " * (operation.body_limit + 1 - len(body))
        check_problem(ask(client, operation, content=body), 413, "body-too-large")
        assert ask(client, operation, content=body[:-1]).status_code == 200

    def test_413_without_a_stated_length(self, client: Client, operation: Operation) -> None:
        def pieces() -> Iterator[bytes]:
            yield body_of(operation)
            for _ in range(operation.body_limit // 1024 + 1):
                yield b" " * 1024

        check_problem(ask(client, operation, content=pieces()), 413, "body-too-large")

    @pytest.mark.parametrize(
        "headers",
        [
            {"content-type": "text/plain"},
            {"content-type": ""},
            {"content-type": "application/json; charset=latin-1"},
            {"content-type": "application/jsonx"},
            {"content-encoding": "gzip"},
        ],
    )
    def test_415(self, client: Client, operation: Operation, headers: dict[str, str]) -> None:
        check_problem(ask(client, operation, headers=headers), 415, "unsupported-media-type")


@pytest.mark.parametrize("operation", [each for each in OPERATIONS if 410 in each.problems], ids=lambda each: each.name)
class TestReleases:
    def ask_release(self, client: Client, operation: Operation, release: str) -> Any:
        if "/releases/" in operation.path:
            return client.get(f"/v1/releases/{release}")
        needed = NEEDED.get(operation.name, {}) | ({"engine": "E-1"} if operation.name == "get_fits" else {})
        params = {"release": release} | needed
        return ask(client, operation, params=params)

    @pytest.mark.parametrize("release", ["99", "999999999", "midsummer"])
    def test_404_unknown(self, client: Client, operation: Operation, release: str) -> None:
        check_problem(self.ask_release(client, operation, release), 404, "unknown-release")

    @pytest.mark.parametrize("release", ["0", "-1", "1.5", "1e9999", "a b"])
    def test_400_no_release_at_all(self, client: Client, operation: Operation, release: str) -> None:
        check_problem(self.ask_release(client, operation, release), 400, "invalid-request")

    def test_410_withdrawn(self, withdrawn: Client, operation: Operation) -> None:
        check_problem(self.ask_release(withdrawn, operation, "2"), 410, "withdrawn-release")


@pytest.fixture(scope="module")
def withdrawn(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Client]:
    """A catalog whose second release has been withdrawn."""
    folder = tmp_path_factory.mktemp("withdrawn")
    catalog = CatalogFolder(folder / "migrations", f"sqlite:///{folder / 'catalog.db'}")
    catalog.publish(*small_edits())
    catalog.publish({"edit": "retire_part", "number": "S-1"})
    catalog.downgrade(1)
    with TestClient(create_app(Settings(database=catalog.url))) as client:
        yield client


def test_422_lists_every_fault_with_its_nearest(client: Client) -> None:
    build = {"engine": "ENG-R2", "front_cover": "DR-541", "have": ["WP-22"], "must": {"without": ["WP-24"]}}
    found = check_problem(client.post("/v1/fits", json=build), 422, "faulty-build")
    assert {error["pointer"]: error["type"] for error in found["errors"]} == {
        "/engine": "/problems/unknown-part",
        "/front_cover": "/problems/wrong-kind",
        "/have/0": "/problems/unknown-part",
        "/must/without/0": "/problems/unknown-part",
    }
    nearest = {error["pointer"]: error.get("nearest") for error in found["errors"]}
    assert "ENG-R20" in nearest["/engine"]
    assert nearest["/front_cover"] is None


def test_422_of_one_kind_bears_its_type(client: Client) -> None:
    check_problem(client.post("/v1/fits", json={"engine": "ENG-99"}), 422, "unknown-part")
    check_problem(client.get("/v1/fits", params={"engine": "FC-R1"}), 422, "wrong-kind")


def test_404_of_parts_and_connections(client: Client) -> None:
    found = check_problem(client.get("/v1/parts/WP-22"), 404, "unknown-part")
    assert "WP-227" in found["errors"][0]["nearest"]
    check_problem(client.get("/v1/connections/rowanfinch"), 404, "unknown-connection")


def test_500_says_nothing_of_its_inside(
    client: Client, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def fail(*_: object, **__: object) -> None:
        raise RuntimeError("the secret of the house")

    monkeypatch.setattr(route_fits, "fit", fail)
    response = client.post("/v1/fits", json={"engine": "ENG-R20"})
    found = check_problem(response, 500, "internal-error", frozenset({"request_id"}))
    assert found["request_id"] == response.headers["x-request-id"]
    assert "secret" not in response.text
    assert "RuntimeError" not in response.text
    assert found["request_id"] in caplog.text
    assert "the secret of the house" in caplog.text


def test_500_outside_a_route(demo_url: str) -> None:
    app = create_app(Settings(database=demo_url))
    inside = app._app

    async def fail(scope: Any, receive: Any, send: Any) -> None:
        if scope["type"] == "http":
            raise RuntimeError("the secret of the house")
        await inside(scope, receive, send)

    app._app = fail
    with TestClient(app) as client:
        check_problem(client.get("/livez"), 500, "internal-error", frozenset({"request_id"}))


@pytest.mark.parametrize("operation", [each for each in OPERATIONS if 503 in each.problems], ids=lambda each: each.name)
def test_503_without_a_catalog(tmp_path: Path, operation: Operation) -> None:
    url = f"sqlite:///{tmp_path / 'secret' / 'catalog.db'}"
    with TestClient(create_app(Settings(database=url))) as client:
        query = NEEDED.get(operation.name, {})
        response = ask(client, operation, params=query)
        found = check_problem(response, 503, "catalog-unavailable")
        assert response.headers["retry-after"] == "5"
        # Only the readiness check, which operators read, says which file it is.
        assert ("secret" in found["detail"]) == (operation.path == "/readyz")


def test_once_the_catalog_is_there_it_is_answered_from(tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path / 'catalog.db'}"
    with TestClient(create_app(Settings(database=url))) as client:
        assert client.get("/readyz").status_code == 503
        upgrade(url, DEMO)
        assert client.get("/readyz").status_code == 200
        assert client.get("/v1/parts").status_code == 200


def test_only_so_many_releases_are_held(demo_url: str) -> None:
    live = Live(demo_url)
    for release in live.releases():
        live.graph(str(release.number))
    assert live.graph("latest") is live.graph()
    assert live.graph() is live.graph(live.graph().snapshot.release.name)
    assert live.newest_held() == len(live.releases())
    live.close()
