"""Twenty releases are published to PostgreSQL under constant load on two workers: no request fails, none mixes two.

The default run publishes a few; all twenty, with more load, are behind
`BELTPLANE_TEST_RELEASES=20 pytest tests/service/api/test_constant_load.py`.
"""

import json
import os
import socket
import subprocess
import sys
import threading
import time
from collections import Counter
from http.client import HTTPConnection
from pathlib import Path

from litestar.testing import TestClient

from catalog.migrate import upgrade
from service.api.app import create_app
from service.api.settings import Settings
from tests.catalog.conftest import postgres_server, postgres_url  # noqa: F401  (fixtures)
from tests.support import CatalogFolder, small_edits

RELEASES = int(os.environ.get("BELTPLANE_TEST_RELEASES", "3"))
CLIENTS = 4
NOTICED_SECONDS = 2.0
BUILD = json.dumps({"engine": "E-1", "pump": "P-1", "must": {"price_at_most": {"amount": 900, "currency": "USD"}}})
QUESTIONS = (
    ("GET", "/v1/fits?engine=E-1&price_at_most=900", None),
    ("POST", "/v1/fits", BUILD),
    ("GET", "/v1/parts?limit=200", None),
    ("GET", "/v1/parts/G-1", None),
    ("GET", "/v1/connections/alder_block", None),
    ("GET", "/v1/releases/latest", None),
)
Answers = Counter[tuple[int, int, str, bytes]]
"""How often each answer came: question, status, the release that its header names, body."""


class Load(threading.Thread):
    """A client that asks one question after the other on a kept connection."""

    def __init__(self, port: int, first: int, stopped: threading.Event) -> None:
        super().__init__(daemon=True)
        self.answers: Answers = Counter()
        self.faults: list[str] = []
        self._port, self._place, self._stopped = port, first, stopped

    def run(self) -> None:
        connection = HTTPConnection("127.0.0.1", self._port, timeout=20)
        while not self._stopped.is_set():
            question = self._place % len(QUESTIONS)
            self._place += 1
            method, path, body = QUESTIONS[question]
            try:
                connection.request(method, path, body, {"Content-Type": "application/json"} if body else {})
                response = connection.getresponse()
                content = response.read()
            except OSError as fault:
                self.faults.append(repr(fault))
                connection.close()
                continue
            self.answers[question, response.status, response.headers.get("Catalog-Release", ""), content] += 1
        connection.close()


def small_steps(catalog: CatalogFolder) -> None:
    """Publish the releases, each of which answers every question differently."""
    catalog.publish(*small_edits())
    for number in range(2, RELEASES + 2):
        catalog.publish(
            {"edit": "revise_part", "number": "G-1", "name": f"Gasket of {number}", "price": f"{number}.00 USD"},
            {"edit": "revise_part", "number": "P-1", "name": f"Pump of {number}", "price": f"{100 + number}.00 USD"},
            {"edit": "revise_connection", "name": "alder_block", "title": f"Face of {number}"},
        )


def expected(url: str, number: int) -> list[bytes]:
    """Every question's answer, pinned to a release, of a service that stands still."""
    found = []
    with TestClient(create_app(Settings(database=url))) as client:
        for method, path, body in QUESTIONS:
            if path == "/v1/releases/latest":
                response = client.get(f"/v1/releases/{number}")
            else:
                pinned = f"{path}{'&' if '?' in path else '?'}release={number}"
                headers = {"Content-Type": "application/json"} if body else {}
                response = client.request(method, pinned, content=body, headers=headers)
            assert response.status_code == 200
            found.append(response.content)
    return found


def served_releases(port: int) -> set[str]:
    """The releases that some workers answer from, asked over fresh connections."""
    found = set()
    for _ in range(8):
        connection = HTTPConnection("127.0.0.1", port, timeout=20)
        connection.request("GET", "/v1/parts/G-1")
        response = connection.getresponse()
        assert response.read()
        found.add(response.headers["Catalog-Release"])
        connection.close()
    return found


def test_no_request_fails_or_mixes_releases_while_they_are_published(
    tmp_path: Path,
    postgres_url: str,  # noqa: F811
) -> None:
    catalog = CatalogFolder(tmp_path / "migrations", f"sqlite:///{tmp_path / 'catalog.db'}")
    small_steps(catalog)
    answers = {str(number): expected(catalog.url, number) for number in range(1, RELEASES + 2)}
    upgrade(postgres_url, catalog.folder, "test_0001")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    beltplane = Path(sys.executable).parent / "beltplane"
    command = [str(beltplane), "--database", postgres_url, "serve", "--port", str(port), "--workers", "2"]
    served = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    stopped = threading.Event()
    noticed: list[float] = []
    load = [Load(port, first, stopped) for first in range(CLIENTS)]
    try:
        wait_until_it_serves(port)
        for client in load:
            client.start()
        for number in range(2, RELEASES + 2):
            upgrade(postgres_url, catalog.folder, f"test_{number:04}")
            published = time.monotonic()
            while served_releases(port) != {str(number)}:
                assert time.monotonic() < published + 10
            noticed.append(round(time.monotonic() - published, 2))
        stopped.set()
        for client in load:
            client.join(30)
    finally:
        stopped.set()
        served.terminate()
        output, _ = served.communicate(timeout=20)
    assert b"Traceback" not in output
    assert [fault for client in load for fault in client.faults] == []
    asked: Answers = sum((client.answers for client in load), Counter())
    assert {status for _, status, _, _ in asked} == {200}
    mixed = [key for key in asked if key[3] != answers[key[2]][key[0]]]
    assert mixed == [], "every answer is, byte for byte, that of the one release that it names"
    assert {release for _, _, release, _ in asked} == set(answers), "each release was asked"
    # The workers and the load share two cores with other tests.
    assert max(noticed) < 2 * NOTICED_SECONDS
    print(f"{asked.total()} requests while {RELEASES} releases were published, noticed after {noticed} s")


def wait_until_it_serves(port: int) -> None:
    for _ in range(150):
        try:
            served_releases(port)
        except ConnectionError:
            time.sleep(0.2)
        else:
            return
    raise AssertionError("the service did not start")
