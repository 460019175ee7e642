"""nginx before the service, configured as in `deploy/`, where nginx is there (RFC 9110, RFC 9111, RFC 9211)."""

import gzip
import os
import shutil
import subprocess
from collections.abc import Iterator
from http.client import HTTPConnection
from pathlib import Path

import pytest

from tests.serving import free_port, running, served
from tests.support import CatalogFolder, small_edits

CONFIGURATION = Path(__file__).parents[2] / "deploy" / "nginx.conf"
PINNED = "/v1/fits?engine=E-1&release=1"
pytestmark = pytest.mark.skipif(shutil.which("nginx") is None, reason="nginx is not there")


def configuration(folder: Path, port: int, service_port: int) -> Path:
    """The configuration with its places in a folder, and ports of its own."""
    text = CONFIGURATION.read_text()
    for place in ("/run/", "/var/cache/nginx/", "/var/log/nginx/"):
        text = text.replace(place, f"{folder}/")
    text = text.replace("listen 80;", f"listen 127.0.0.1:{port};")
    text = text.replace("server 127.0.0.1:8080 ", f"server 127.0.0.1:{service_port} ")
    # What nginx spools goes where the test may write, and so do its workers.
    spools = ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
    own = "".join(f"{name}_temp_path {folder}/{name}; " for name in spools)
    text = text.replace("http {", f"http {{ {own} error_log {folder}/error.log;")
    text = ("user root root;\n" if os.geteuid() == 0 else "") + f"daemon off;\n{text}"
    path = folder / "nginx.conf"
    path.write_text(text)
    return path


@pytest.fixture(scope="module")
def port(tmp_path_factory: pytest.TempPathFactory) -> Iterator[int]:
    """Where nginx listens, before a service over a small catalog."""
    folder = tmp_path_factory.mktemp("nginx")
    catalog = CatalogFolder(folder / "migrations", f"sqlite:///{folder / 'catalog.db'}")
    catalog.publish(*small_edits())
    port = free_port()
    with served(catalog.url) as service:
        path = configuration(folder, port, service.port)
        checked = subprocess.run(["nginx", "-t", "-c", path], capture_output=True, text=True, check=False)
        assert checked.returncode == 0, checked.stderr
        assert "warn" not in checked.stderr
        with running(["nginx", "-c", str(path)], port, "/readyz", 20):
            yield port


def ask(
    port: int, method: str, address: str, body: bytes | None = None, **fields: str
) -> tuple[int, dict[str, str], bytes]:
    connection = HTTPConnection("127.0.0.1", port, timeout=20)
    headers = {name.replace("_", "-"): value for name, value in fields.items()}
    connection.putrequest(method, address, skip_accept_encoding=True)
    for name, value in (headers | ({} if body is None else {"Content-Length": str(len(body))})).items():
        connection.putheader(name, value)
    connection.endheaders(body)
    response = connection.getresponse()
    found = response.status, {name.lower(): value for name, value in response.getheaders()}, response.read()
    connection.close()
    return found


def test_what_is_pinned_is_kept_once_for_each_coding(port: int) -> None:
    status, plain, body = ask(port, "GET", PINNED)
    assert (status, plain["cache-status"]) == (200, "nginx; fwd=miss")
    hit = ask(port, "GET", PINNED)[1]
    assert (hit["cache-status"], "server-timing" in plain, "server-timing" in hit) == ("nginx; hit", True, False)
    _, coded, content = ask(port, "GET", PINNED, accept_encoding="gzip, deflate, br")
    assert coded["cache-status"] == "nginx; fwd=miss"
    assert gzip.decompress(content) == body
    assert coded["etag"] != plain["etag"]
    for same in ("gzip", "br, GZIP;q=0.8", "deflate, gzip;q=1.0, *;q=0.5", "x-gzip"):
        status, again, kept = ask(port, "GET", PINNED, accept_encoding=same)
        assert (status, again["cache-status"], kept) == (200, "nginx; hit", content)
    # RFC 9110, sections 9.3.2 and 13.1.2, also where it is nginx that answers.
    _, head, nothing = ask(port, "HEAD", PINNED, accept_encoding="gzip")
    assert (head["content-length"], nothing) == (str(len(content)), b"")
    assert ask(port, "GET", PINNED, accept_encoding="gzip", if_none_match=coded["etag"])[0] == 304
    assert ask(port, "GET", PINNED, if_none_match=coded["etag"])[0] == 200


def test_what_the_request_rules_out_is_ruled_out(port: int) -> None:
    assert "content-encoding" not in ask(port, "GET", PINNED, accept_encoding="gzip;q=0, zstd;q=0.0")[1]
    assert "content-encoding" not in ask(port, "GET", PINNED, accept_encoding="")[1]
    assert ask(port, "GET", PINNED, accept_encoding="gzip, identity;q=0")[1]["content-encoding"] == "gzip"
    assert ask(port, "GET", PINNED, accept_encoding="identity;q=0")[0] == 406
    assert ask(port, "GET", PINNED, accept="text/csv")[0] == 406
    for accept in ("text/html, application/xml;q=0.9, */*;q=0.8", "application/json", "*/*"):
        assert ask(port, "GET", PINNED, accept=accept)[0] == 200


def test_what_is_not_pinned_is_asked_for_each_time(port: int) -> None:
    address = "/v1/fits?engine=E-1"
    for _ in range(2):
        status, fields, _ = ask(port, "GET", address)
        assert (status, fields["cache-status"], fields["cache-control"]) == (200, "nginx; fwd=miss", "no-cache")
    assert ask(port, "GET", address, if_none_match=fields["etag"])[0] == 304


def test_everything_else_goes_through(port: int) -> None:
    build = b'{"engine": "E-1"}'
    status, _, body = ask(port, "POST", "/v1/fits?release=1", build, content_type="application/json")
    assert (status, body) == (200, ask(port, "GET", PINNED)[2])
    assert ask(port, "POST", "/v1/fits", b" " * 327_681, content_type="application/json")[0] == 413
    assert ask(port, "GET", "/v1/parts/none?release=1")[1]["content-type"] == "application/problem+json"
    assert b"beltplane_cache_hits_total" in ask(port, "GET", "/metrics")[2]
