"""The command line: what it prints, where faults go, and its exit status (0 answered, 1 failed, 2 wrong usage)."""

import json
import re
import socket
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from http.client import HTTPConnection
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from catalog.domain import Snapshot
from service.api import live as live_module
from service.api.command import main
from service.api.readings import parse_reading
from service.fit.graph import ConstraintGraph
from tests.service.api.conftest import DEMO, Client
from tests.support import CatalogFolder, small_edits

FIT = ["fit", "--engine", "ENG-R20", "--drive", "DR-541", "--cover", "FC-R5"]


@pytest.fixture
def run(demo_url: str, monkeypatch: pytest.MonkeyPatch) -> Any:
    def run(*arguments: str, stdin: str | None = None) -> Result:
        return CliRunner().invoke(main, arguments, input=stdin)

    monkeypatch.setenv("BELTPLANE_DATABASE", demo_url)
    return run


def words(text: str) -> str:
    return " ".join(text.split())


def test_fit_prints_a_table_with_reasons(run: Any) -> None:
    result = run(*FIT, "--limit", "2")
    assert result.exit_code == 0
    assert result.stderr == ""
    assert "\x1b" not in result.stdout
    assert max(map(len, result.stdout.splitlines())) <= 100
    said = words(result.stdout)
    assert said.startswith("Not checked, as not given: ")
    assert "Fits, from release 12 (joints)." in said
    expected = ("WP-227", "least margin", "what and why", "is needed.", "Ruled out", "Cautions", "Notes", "mechanic")
    for word in expected:
        assert word in said


def test_fit_answers_what_the_service_answers(run: Any, client: Client) -> None:
    result = run(
        *FIT,
        *("--have", "SP-14", "--have", "SP-14", "--without", "WP-241", "--outlet-side", "left"),
        *("--price-at-most", "400 USD", "--rank-by", "price,work", "--limit", "3", "--units", "in", "--json"),
        *("--measured", "WP-227 belt_plane=5 in caliper", "--release", "4"),
    )
    build = {
        "engine": "ENG-R20",
        "accessory_drive": "DR-541",
        "front_cover": "FC-R5",
        "have": ["SP-14", "SP-14"],
        "must": {
            "without": ["WP-241"],
            "outlet_side": "left",
            "price_at_most": {"amount": 400, "currency": "USD"},
        },
        "rank_by": ["price", "work"],
        "limit": 3,
        "measured": [{"part": "WP-227", "measure": "belt_plane", "value": "5 in", "taken_with": "caliper"}],
    }
    assert json.loads(result.stdout) == client.post("/v1/fits?units=in&release=4", json=build).json()


def test_a_build_from_a_file_and_from_standard_input(run: Any, tmp_path: Path) -> None:
    build = {"engine": "ENG-R20", "accessory_drive": "DR-506", "have": ["SP-14"], "must": {"without": ["WP-241"]}}
    file = tmp_path / "build.json"
    file.write_text(json.dumps(build))
    one = run("fit", "--file", str(file), "--drive", "DR-541", "--have", "SP-06", "--without", "WP-242", "--json")
    other = run(
        "fit",
        "--file",
        "-",
        "--drive",
        "DR-541",
        "--have",
        "SP-06",
        "--without",
        "WP-242",
        "--json",
        stdin=json.dumps(build),
    )
    assert one.exit_code == 0
    assert one.stdout == other.stdout
    understood = json.loads(one.stdout)["build"]
    assert understood["accessory_drive"] == "DR-541"
    assert understood["have"] == ["SP-06", "SP-14"]
    assert understood["must"]["without"] == ["WP-241", "WP-242"]


def test_blocked_is_an_answer(run: Any) -> None:
    result = run(*FIT, "--price-at-most", "0.01 USD")
    assert result.exit_code == 0
    assert result.stdout.startswith("Not checked, as not given: ")
    assert "Blocked, from release" in words(result.stdout)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["fit"], ["--engine: is required"]),
        (["fit", "--engine", "a b"], ["--engine: must be a part number"]),
        (["fit", "--engine", "ENG-R2", "--cover", "DR-541"], ["--engine: There is", "ENG-R20", "--cover: DR-541 is"]),
        ([*FIT, "--release", "99"], ["no release 99"]),
        ([*FIT, "--limit", "51"], ["--limit"]),
        ([*FIT, "--rank-by", "beauty,work"], ["--rank-by", "must be one of"]),
        ([*FIT, "--price-at-most", "400"], ["--price-at-most", "149.00 USD"]),
        ([*FIT, "--price-at-most", "400 EUR"], ["--price-at-most", "USD"]),
        ([*FIT, "--measured", "belt_plane"], ["--measured", "is not a reading"]),
        ([*FIT, "--measured", "WP-227 belt_plane=5 3/4"], ["--measured: ", "has no unit"]),
        ([*FIT, "--measured", "WP-227 belt_plane=5 furlong tape"], ["--measured: ", "is not a length"]),
        ([*FIT, "--measured", "WP-227 colour=5 mm"], ["--measured: ", "has no measure"]),
        ([*FIT, "--file", "nowhere.json"], ["nowhere.json"]),
        ([*FIT, "--colour", "red"], ["--colour"]),
        (["catalog", "show", "NO-1"], ['no part or release "NO-1"']),
        (["catalog", "show", "WP-227", "--release", "99"], ["99"]),
        (["serve", "--port", "0"], ["--port"]),
        (["brew"], ["brew"]),
    ],
)  # fmt: skip
def test_wrong_usage_is_2_and_told_on_standard_error(run: Any, arguments: list[str], says: list[str]) -> None:
    result = run(*arguments)
    assert result.exit_code == 2
    assert result.stdout == ""
    for each in says:
        assert each in result.stderr
    assert "Traceback" not in result.stderr


def test_a_file_that_is_no_build(run: Any) -> None:
    for text, says in (("[]", "must hold an object"), ("{", "not JSON"), ('{"have": 5, "must": 6, "x": 1}', "/x")):
        result = run(*FIT, "--file", "-", "--have", "SP-14", "--without", "SP-14", stdin=text)
        assert result.exit_code == 2
        assert says in result.stderr


def test_show(run: Any) -> None:
    assert "autumn" in run("catalog", "show").stdout
    assert "7120-527" in run("catalog", "show", "wp-227").stdout
    assert "WP-104" in run("catalog", "show", "spring").stdout
    assert "WP-227" not in run("catalog", "show", "1").stdout
    assert run("catalog", "show", "WP-227", "--release", "1").exit_code == 2


def test_upgrade_makes_a_catalog_and_may_be_repeated(tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path / 'new.db'}"
    for _ in range(2):
        result = CliRunner().invoke(main, ["--database", url, "catalog", "upgrade", "--folder", str(DEMO)])
        assert result.exit_code == 0
        assert re.search(r"at release \d+ \(\w+\)", result.stdout)


def test_upgrade_lists_every_fault_of_a_release(tmp_path: Path) -> None:
    catalog = CatalogFolder(tmp_path / "migrations", f"sqlite:///{tmp_path / 'new.db'}")
    catalog.write(*small_edits(), number=1, digest="sha256:0")
    arguments = ["--database", catalog.url, "catalog", "upgrade", "--folder", str(catalog.folder)]
    result = CliRunner().invoke(main, arguments)
    assert result.exit_code == 1
    assert "digest" in result.stderr
    assert "Traceback" not in result.stderr


def test_downgrade_withdraws_the_newest_release_only(tmp_path: Path) -> None:
    catalog = CatalogFolder(tmp_path / "catalog", f"sqlite:///{tmp_path / 'catalog.db'}")
    catalog.publish(*small_edits())
    catalog.publish({"edit": "retire_part", "number": "S-1"})

    def downgrade(number: int) -> Result:
        arguments = ["--database", catalog.url, "catalog", "downgrade", str(number), "--folder", str(catalog.folder)]
        return CliRunner().invoke(main, arguments)

    wrong = downgrade(1)
    assert wrong.exit_code == 2
    assert "Only the newest release can be withdrawn, and that is 2." in words(wrong.stderr)
    assert words(downgrade(2).stdout) == "Release 2 (release-2) is withdrawn."
    assert words(downgrade(1).stdout) == "Release 1 (release-1) is withdrawn."
    none = downgrade(1)
    assert none.exit_code == 1
    assert "no release" in words(none.stderr).lower()


def test_sql_is_printed_without_a_database(tmp_path: Path) -> None:
    arguments = ["--database", "postgresql://nobody@nowhere/nothing", "catalog", "sql"]
    whole = CliRunner().invoke(main, arguments)
    assert whole.exit_code == 0
    assert whole.stdout.count("INSERT INTO release ") == whole.stdout.count("COMMIT;") - 3  # three of the schema
    last = CliRunner().invoke(main, [*arguments, "--from", "catalog_0011"])
    assert last.stdout.count("INSERT INTO release ") == 1
    wrong = CliRunner().invoke(main, [*arguments, "--from", "nowhere"])
    assert (wrong.exit_code, wrong.stdout) == (1, "")
    assert "Can't locate revision" in wrong.stderr


def test_help_says_the_exit_status(run: Any) -> None:
    assert "nothing fits is an answer" in words(run("--help").stdout)
    assert "nothing fits is an answer" in words(run("fit", "--help").stdout)


@pytest.fixture
def missing(tmp_path: Path) -> str:
    return f"sqlite:///{tmp_path / 'missing.db'}"


@pytest.fixture
def empty(tmp_path: Path) -> str:
    sqlite3.connect(tmp_path / "empty.db").close()
    return f"sqlite:///{tmp_path / 'empty.db'}"


@pytest.fixture
def other_revision(tmp_path: Path) -> str:
    connection = sqlite3.connect(tmp_path / "other.db")
    connection.execute("CREATE TABLE alembic_version (version_num TEXT)")
    connection.execute("INSERT INTO alembic_version VALUES ('schema_9999')")
    connection.commit()
    connection.close()
    return f"sqlite:///{tmp_path / 'other.db'}"


@pytest.fixture
def locked(tmp_path: Path, demo_url: str) -> Iterator[str]:
    path = tmp_path / "locked.db"
    path.write_bytes(Path(demo_url.removeprefix("sqlite:///")).read_bytes())
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("BEGIN EXCLUSIVE")
    yield f"sqlite:///{path}"
    connection.close()


@pytest.mark.parametrize("state", ["missing", "empty", "other_revision", "locked"])
@pytest.mark.parametrize("command", [["serve"], FIT])
def test_a_catalog_that_cannot_be_used_is_told_in_one_sentence(
    request: pytest.FixtureRequest, state: str, command: list[str]
) -> None:
    url = request.getfixturevalue(state)
    result = CliRunner().invoke(main, ["--database", url, *command])
    assert result.exit_code == 1
    assert result.stdout == ""
    (line,) = result.stderr.splitlines()
    assert line.startswith("Error: ")


def test_a_port_in_use_is_told_in_one_sentence(run: Any) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        result = run("serve", "--port", str(taken.getsockname()[1]))
    assert result.exit_code == 1
    (line,) = result.stderr.splitlines()
    assert "cannot be used" in line


def test_who_starts_the_workers_holds_no_catalog(run: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """What it held, each worker would hold as well."""
    held: list[Snapshot] = []

    def hold(snapshot: Snapshot) -> ConstraintGraph:
        held.append(snapshot)
        return ConstraintGraph(snapshot)

    monkeypatch.setattr(live_module, "ConstraintGraph", hold)
    with socket.create_server(("127.0.0.1", 0)) as taken:
        assert "cannot be used" in run("serve", "--port", str(taken.getsockname()[1])).stderr
    assert not held
    assert run(*FIT).exit_code == 0
    assert held


def test_serve_answers_quickly_and_stops_when_told(demo_url: str) -> None:
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    arguments = ["--database", demo_url, "serve", "--port", str(port), "--workers", "2"]
    code = f"from service.api.command import main; main({arguments!r})"
    served = subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    try:
        connection = wait_for(port)
        times = []
        for _ in range(100):
            started = time.perf_counter()
            connection.request("GET", "/v1/releases/1")
            response = connection.getresponse()
            assert response.status == 200
            assert response.read()
            times.append(time.perf_counter() - started)
        connection.close()
        # 40 ms is what a connection without TCP_NODELAY costs.
        assert sorted(times)[50] < 0.03
    finally:
        served.terminate()
        output, _ = served.communicate(timeout=20)
    assert b"Traceback" not in output
    assert served.returncode == 0


def wait_for(port: int) -> HTTPConnection:
    """A kept connection to the service, once it answers."""
    for _ in range(100):
        connection = HTTPConnection("127.0.0.1", port, timeout=10)
        try:
            connection.request("GET", "/readyz")
            assert connection.getresponse().read()
        except ConnectionError:
            connection.close()
            time.sleep(0.2)
        else:
            return connection
    raise AssertionError("the service did not start")


@pytest.mark.parametrize(
    ("text", "reading"),
    [
        (
            "WP-227 belt_plane=5 3/4 in tape",
            {"part": "WP-227", "measure": "belt_plane", "value": "5 3/4 in", "taken_with": "tape"},
        ),
        ("WP-227 cover_room.sensor = 40 mm", {"part": "WP-227", "measure": "cover_room.sensor", "value": "40 mm"}),
        (
            '  X nose=5-3/4" +/- 1/16 in caliper ',
            {"part": "X", "measure": "nose", "value": '5-3/4"', "plus_minus": "1/16 in", "taken_with": "caliper"},
        ),
    ],
)
def test_readings(text: str, reading: dict[str, str]) -> None:
    assert parse_reading(text) == reading


@pytest.mark.parametrize("text", ["", "WP-227", "WP-227 belt_plane", "belt_plane=5 in", "WP-227 belt_plane="])
def test_what_is_no_reading(text: str) -> None:
    with pytest.raises(ValueError, match="is not a reading"):
        parse_reading(text)
