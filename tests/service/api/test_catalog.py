"""Parts, connections and pages of them."""

from typing import Any

import msgspec
import pytest

from catalog.domain import Kind
from service.api import wire_catalog
from tests.service.api.conftest import Client


def pages(client: Client, **params: Any) -> list[list[dict[str, Any]]]:
    """All pages of a question, asked as a client would: with the same parameters and each page's `next`."""
    found = []
    cursor: dict[str, str] = {}
    while True:
        response = client.get("/v1/parts", params=params | cursor)
        assert response.status_code == 200, response.text
        page = response.json()
        found.append(page["parts"])
        if "next" not in page:
            return found
        cursor = {"cursor": page["next"]}


@pytest.mark.parametrize("limit", [1, 7, 50, 200])
def test_pages_hold_every_part_once_in_order(client: Client, limit: int) -> None:
    whole = [part["number"] for page in pages(client, limit=200) for part in page]
    found = pages(client, limit=limit)
    assert [part["number"] for page in found for part in page] == whole == sorted(whole)
    assert all(len(page) == limit for page in found[:-1])
    assert 0 < len(found[-1]) <= limit


@pytest.mark.parametrize("kind", Kind.__args__)  # type: ignore[attr-defined]
def test_parts_of_a_kind(client: Client, kind: str) -> None:
    parts = [part for page in pages(client, limit=200) for part in page]
    wanted = [part for part in parts if part["kind"] == kind]
    assert [part for page in pages(client, kind=kind, limit=2) for part in page] == wanted


def test_parts_by_words(client: Client) -> None:
    def numbers(**params: str) -> list[str]:
        return [part["number"] for page in pages(client, **params) for part in page]

    assert numbers(q="wp-227") == ["WP-227"]
    assert numbers(q="7120-527") == ["WP-227"]
    assert "WP-227" in numbers(q="mossheron MIDDLE")
    assert numbers(q="no such words") == []
    assert set(numbers(q="outer", kind="water_pump")) < set(numbers(q="outer"))


def test_a_page_without_limit_has_fifty(client: Client) -> None:
    assert len(client.get("/v1/parts").json()["parts"]) == min(50, sum(map(len, pages(client, limit=200))))


def test_a_cursor_keeps_to_its_question(client: Client) -> None:
    page = client.get("/v1/parts", params={"limit": 2, "kind": "water_pump", "release": 3}).json()
    cursor = {"cursor": page["next"]}
    again = client.get("/v1/parts", params=cursor | {"kind": "water_pump"})
    assert again.json()["release"] == page["release"]
    assert again.json()["parts"][0]["number"] > page["parts"][-1]["number"]
    assert again.headers["cache-control"] == "public, max-age=86400"
    others: list[dict[str, Any]] = [
        {},
        {"kind": "spacer"},
        {"kind": "water_pump", "q": "x"},
        {"kind": "water_pump", "release": 1},
    ]
    for other in others:
        refused = client.get("/v1/parts", params=cursor | other)
        assert refused.status_code == 422
        assert refused.json()["type"] == "/problems/wrong-cursor"
    for cursor_text in ("x", "abcd", "bnVsbA", "W10", page["next"][:-3]):
        assert client.get("/v1/parts", params={"cursor": cursor_text, "kind": "water_pump"}).status_code == 422


@pytest.mark.parametrize("limit", ["0", "201", "-1", "x"])
def test_limits_of_a_page(client: Client, limit: str) -> None:
    assert client.get("/v1/parts", params={"limit": limit}).status_code == 400


@pytest.mark.parametrize("name", ["WP-227", "wp-227", "7120-527"])
def test_a_part_by_number_alias_and_any_case(client: Client, name: str) -> None:
    response = client.get(f"/v1/parts/{name}")
    part = response.json()
    msgspec.convert(part, wire_catalog.PartAnswer)
    assert part["number"] == "WP-227"
    assert "7120-527" in part["aliases"]
    band, plane = part["bands"][0], part["measures"]["belt_plane"]
    assert (band["from_mm"] + band["to_mm"]) / 2 == pytest.approx(plane["nominal_mm"], abs=0.001)
    assert set(plane) == {"nominal_mm", "plus_mm", "minus_mm", "taken_with", "source"}
    assert b"null" not in response.content


def test_a_replaced_part_names_its_successor(client: Client) -> None:
    part = client.get("/v1/parts/WP-104").json()
    assert part["status"] == "retired"
    assert part["replaced_by"] == "WP-108"
    assert "replaced_by" not in client.get("/v1/parts/WP-104?release=1").json()


def test_connections(client: Client) -> None:
    every = client.get("/v1/connections").json()
    names = [connection["name"] for connection in every["connections"]]
    assert names == sorted(names)
    for connection in every["connections"]:
        one = client.get(f"/v1/connections/{connection['name']}").json()
        assert one == connection | {"release": every["release"]}
        assert len(one["ends"]) == 2
