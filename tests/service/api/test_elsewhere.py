"""A part that the release asked does not hold, and that another one does, over HTTP and on the command line."""

from collections.abc import Iterator
from typing import Any

import pytest
from click.testing import CliRunner
from litestar.testing import TestClient

from service.api.app import create_app
from service.api.command import main
from service.api.elsewhere import found_in
from service.api.settings import Settings
from tests.service.api.conftest import Client
from tests.support import CatalogFolder, small_edits


@pytest.fixture(scope="module")
def catalog(tmp_path_factory: pytest.TempPathFactory) -> CatalogFolder:
    """Four releases: the second adds a spacer, the third drops the pump's alias, the last is withdrawn."""
    folder = tmp_path_factory.mktemp("elsewhere")
    catalog = CatalogFolder(folder / "migrations", f"sqlite:///{folder / 'catalog.db'}")
    small = small_edits()
    spacer = next(edit for edit in small if edit.get("number") == "S-1")
    catalog.publish(*small)
    catalog.publish({**spacer, "number": "S-2", "aliases": ["old-2"]})
    catalog.publish({"edit": "revise_part", "number": "P-1", "aliases": []})
    catalog.publish({**spacer, "number": "S-4"})
    catalog.downgrade(3)
    return catalog


@pytest.fixture(scope="module")
def small(catalog: CatalogFolder) -> Iterator[Client]:
    with TestClient(create_app(Settings(database=catalog.url))) as client:
        yield client


def errors(response: Any) -> list[tuple[str, list[int] | None]]:
    assert response.status_code in (404, 422)
    return [(error["pointer"], error.get("releases")) for error in response.json()["errors"]]


def test_each_unknown_part_says_where_it_is(small: Client) -> None:
    build = {"engine": "E-1", "have": ["s-2", "S-9", "OLD-2"], "must": {"without": ["S-4"]}}
    response = small.post("/v1/fits", json=build, params={"release": "1"})
    assert errors(response) == [("/have/0", [2, 3]), ("/have/1", None), ("/have/2", [2, 3]), ("/must/without/0", None)]
    assert [error["message"] for error in response.json()["errors"]] == [
        'There is no part "s-2" in release 1. It is in releases 2 and 3.',
        'There is no part "S-9" in release 1.',
        'There is no part "OLD-2" in release 1. It is in releases 2 and 3.',
        'There is no part "S-4" in release 1.',  # its release was withdrawn
    ]
    assert errors(small.get("/v1/fits", params={"engine": "E-1", "have": "S-2", "release": "1"})) == [
        ("/have/0", [2, 3])
    ]


def test_a_change_says_so_too(small: Client) -> None:
    body = {"build": {"engine": "E-1"}, "changes": [{"set": {"have": ["S-2"]}}]}
    response = small.post("/v1/fits/compare", json=body, params={"release": "1"})
    assert errors(response) == [("/changes/0/set/have/0", [2, 3])]


def test_one_part_by_its_number(small: Client) -> None:
    response = small.get("/v1/parts/S-2", params={"release": "1"})
    assert response.json()["type"] == "/problems/unknown-part"
    assert errors(response) == [("/number", [2, 3])]
    assert response.json()["detail"] == 'There is no part "S-2" in release 1. It is in releases 2 and 3.'
    assert errors(small.get("/v1/parts/S-4")) == [("/number", None)]
    assert errors(small.get("/v1/parts/99-1")) == [("/number", [1, 2])]


def test_the_command_line(catalog: CatalogFolder) -> None:
    runner = CliRunner(env={"BELTPLANE_DATABASE": catalog.url})
    for words in (["fit", "--engine", "E-1", "--have", "S-2"], ["catalog", "show", "S-2"]):
        result = runner.invoke(main, [*words, "--release", "1"])
        assert result.exit_code == 2
        assert "It is in releases 2 and 3." in result.output


def test_releases_in_words() -> None:
    assert found_in([]) == ""
    assert found_in([4]) == " It is in release 4."
    assert found_in([1, 2, 3, 5, 7, 8]) == " It is in releases 1 to 3, 5 and 7 and 8."
