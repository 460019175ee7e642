"""What changed: between two releases, of one part over all, and the notice on a retired part."""

import re
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import msgspec
import pytest
from litestar.testing import TestClient

from service.api import wire_catalog, wire_changes
from service.api.app import create_app
from service.api.settings import Settings
from tests.service.api.conftest import Client
from tests.support import CatalogFolder, small_edits


def changes(client: Client, path: str, **params: Any) -> dict[str, Any]:
    response = client.get(path, params=params)
    assert response.status_code == 200, response.text
    assert b"null" not in response.content
    found: dict[str, Any] = response.json()
    msgspec.convert(found, wire_changes.Changes)
    return found


def whole(client: Client, path: str, **params: Any) -> dict[str, Any]:
    """The changes with those of all pages."""
    found = page = changes(client, path, **params)
    while "next" in page:
        page = changes(client, path, **params, cursor=page["next"])
        assert page["total"] == found["total"]
        found["changes"] += page["changes"]
    return found


def said(client: Client, release: int) -> dict[tuple[str, str], Any]:
    """All that a release says, by subject and name: what its changes must lead from and to."""
    found: dict[tuple[str, str], Any] = {}
    cursor: dict[str, str] = {}
    while True:
        params: dict[str, Any] = {"release": release, "limit": 200, **cursor}
        page = client.get("/v1/parts", params=params).json()
        for part in page["parts"]:
            for rule in part.pop("rules"):
                found["rule", rule["name"]] = rule
            for derived in ("retired", "replaced_by"):
                part.pop(derived, None)
            found["part", part["number"]] = part
        if "next" not in page:
            break
        cursor = {"cursor": page["next"]}
    for connection in client.get("/v1/connections", params={"release": release}).json()["connections"]:
        found["connection", connection["name"]] = connection
    return found


@pytest.mark.parametrize(("since", "number"), [(1, 2), (2, 3), (3, 4), (1, 8), (8, 3), (4, 4)])
def test_the_changes_are_what_two_releases_say_otherwise(client: Client, since: int, number: int) -> None:
    """Against the parts and connections of both, asked one by one."""
    found = whole(client, f"/v1/releases/{number}/changes", since=since, limit=500)
    before, after = said(client, since), said(client, number)
    wanted = {key for key in before.keys() | after.keys() if before.get(key) != after.get(key)}
    assert {(change["subject"], change["name"]) for change in found["changes"]} >= wanted
    assert found["total"] == len(found["changes"])
    for change in found["changes"]:
        old, new = before.get((change["subject"], change["name"])), after.get((change["subject"], change["name"]))
        assert change["what"] in (
            {"added"} if old is None else {"removed"} if new is None else {"revised", "retired", "restored"}
        )
        for field in change["fields"]:
            group, _, name = field["field"].partition(".")
            assert old is not None
            assert new is not None
            if group in ("measures", "attributes"):
                assert field.get("before") == old[group].get(name)
                assert field.get("after") == new[group].get(name)
            elif group not in ("ports", "cues"):
                assert field.get("before") == old.get(group)
                assert field.get("after") == new.get(group)


def test_a_release_is_compared_with_the_one_before_where_none_is_named(client: Client) -> None:
    found = changes(client, "/v1/releases/4/changes")
    assert found["since"]["number"] == 3
    assert found == changes(client, "/v1/releases/autumn/changes", since="summer")
    first = changes(client, "/v1/releases/1/changes")
    assert "since" not in first
    assert {change["what"] for change in first["changes"]} == {"added"}


def test_the_sentences(client: Client) -> None:
    found = changes(client, "/v1/releases/4/changes", since=3)
    assert re.fullmatch(r"Release 4 \(autumn\) against release 3 \(summer\): .*1 part retired.*\.", found["text"])
    texts = {change["name"]: change["text"] for change in found["changes"]}
    assert texts["WP-104"] == ("Part WP-104 (Ashplover short pump, early casting) is retired, WP-108 takes its place.")
    assert texts["SP-40"] == "Part SP-40 (Rowanfinch pump spacer, 40 mm): price 52.00 USD, now 49.00 USD."
    assert texts["FC-R5"] == (
        "Part FC-R5 (Rowanfinch tall VVT front cover): measure cover_height 55.5 mm (+0.1 mm, -0.1 mm, drawing), "
        "now 55.5 mm (+0.1 mm, -0.1 mm, caliper, shop bench, five pieces)."
    )
    same = changes(client, "/v1/releases/4/changes", since=4)
    assert same["text"] == "Release 4 (autumn) says the same as release 4 (autumn)."
    brief = changes(client, "/v1/releases/4/changes", since=3, detail="brief")
    assert "text" not in brief
    assert not any("text" in change for change in brief["changes"])


@pytest.mark.parametrize("limit", [3, 7, 500])
def test_pages_of_changes_hold_each_once(client: Client, limit: int) -> None:
    every = whole(client, "/v1/releases/5/changes", since=4, limit=100)["changes"]
    assert len(every) > 100
    assert whole(client, "/v1/releases/5/changes", since=4, limit=limit)["changes"] == every
    places = [(["part", "connection", "rule"].index(change["subject"]), change["name"]) for change in every]
    assert places == sorted(set(places))


def test_a_cursor_keeps_to_its_two_releases(client: Client) -> None:
    cursor = changes(client, "/v1/releases/4/changes", since=1, limit=1)["next"]
    for path in ("/v1/releases/4/changes?since=2", "/v1/releases/5/changes?since=1"):
        refused = client.get(path, params={"cursor": cursor})
        assert (refused.status_code, refused.json()["type"]) == (422, "/problems/wrong-cursor")


def test_what_there_is_not(client: Client) -> None:
    for path in ("/v1/releases/99/changes", "/v1/releases/4/changes?since=99", "/v1/parts/WP-104/history?release=99"):
        assert client.get(path).json()["type"] == "/problems/unknown-release"
    gone = client.get("/v1/parts/WP-1044/history")
    assert gone.json()["type"] == "/problems/unknown-part"
    assert "WP-104" in gone.json()["errors"][0]["nearest"]
    assert client.get("/v1/releases/4/changes?limit=501").status_code == 400


def test_the_history_of_a_part_agrees_with_the_changes_of_every_release(client: Client) -> None:
    """Two ways to the same: the rows of one part, and the difference of whole releases."""
    numbers = [release["number"] for release in client.get("/v1/releases").json()["releases"]]
    by_release = {number: changes(client, f"/v1/releases/{number}/changes", limit=500)["changes"] for number in numbers}
    for part in ("WP-104", "WP-108", "SP-40", "FC-R5", "ENG-R20"):
        history = client.get(f"/v1/parts/{part}/history").json()
        msgspec.convert(history, wire_changes.History)
        found = {entry["release"]["number"]: entry["changes"] for entry in history["history"]}
        assert sorted(found, reverse=True) == list(found)
        assert history["total"] == len(found)
        for number in numbers:
            own = [change for change in found.get(number, []) if change["subject"] == "part"]
            assert own == [change for change in by_release[number] if change["name"] == part]
            rules = {change["name"] for change in found.get(number, []) if change["subject"] == "rule"}
            told = {
                change["name"]
                for change in by_release[number]
                if change["subject"] == "rule" and re.search(rf"\b{part}\b", change["title"])
            }
            assert rules == told


def test_a_history_ends_at_its_release_and_at_its_limit(client: Client) -> None:
    old = client.get("/v1/parts/71204804/history?release=3").json()
    assert (old["number"], old["release"]["number"]) == ("WP-104", 3)
    assert [entry["release"]["number"] for entry in old["history"]] == [1]
    newest = client.get("/v1/parts/WP-104/history?release=8&limit=1").json()
    assert newest["total"] == 2
    assert [entry["release"]["number"] for entry in newest["history"]] == [4]


def test_the_notice_on_a_retired_part(client: Client) -> None:
    """RFC 9745 section 2.1 with RFC 9651 section 3.3.7: a Date is `@` and seconds since 1970, UTC."""
    response = client.get("/v1/parts/WP-104")
    day = response.headers["deprecation"]
    assert re.fullmatch(r"@\d+", day)
    release = client.get("/v1/releases/4").json()
    assert datetime.fromtimestamp(int(day[1:]), UTC).isoformat() == f"{release['published_on']}T00:00:00+00:00"
    links = dict(re.findall(r'<([^>]*)>; rel="([a-z-]+)"', response.headers["link"]))
    assert links == {"/v1/parts/WP-104/history": "deprecation", "/v1/parts/WP-108": "successor-version"}
    for path in links:
        assert client.get(path).status_code == 200
    part = response.json()
    msgspec.convert(part, wire_catalog.PartAnswer)
    assert part["retired"] == {
        "release": {key: release[key] for key in ("number", "name", "digest")},
        "on": release["published_on"],
        "text": f"WP-104 is retired since release 4 (autumn) of {release['published_on']}; WP-108 takes its place.",
    }
    page = client.get("/v1/parts", params={"q": "WP-104"}).json()
    assert page["parts"][0]["retired"] == part["retired"]
    unchanged = client.get("/v1/parts/WP-104", headers={"If-None-Match": response.headers["etag"]})
    assert (unchanged.status_code, unchanged.headers["deprecation"]) == (304, day)


def test_no_notice_before_and_a_pinned_one_leads_to_pinned_answers(client: Client) -> None:
    before = client.get("/v1/parts/WP-104?release=3")
    assert "deprecation" not in before.headers
    assert "retired" not in before.json()
    assert "deprecation" not in client.get("/v1/parts/WP-108").headers
    pinned = client.get("/v1/parts/WP-104?release=5").headers["link"]
    assert "</v1/parts/WP-108?release=5>" in pinned
    assert "</v1/parts/WP-104/history?release=5>" in pinned


def test_a_retired_part_keeps_its_day_when_it_is_revised_and_loses_it_when_it_is_offered_again(tmp_path: Path) -> None:
    catalog = CatalogFolder(tmp_path / "catalog", f"sqlite:///{tmp_path / 'catalog.db'}")
    catalog.publish(*small_edits())
    catalog.publish({"edit": "retire_part", "number": "S-1"})
    catalog.publish({"edit": "revise_part", "number": "S-1", "name": "Old spacer"})
    with TestClient(create_app(Settings(database=catalog.url))) as client:
        part = client.get("/v1/parts/S-1").json()
        assert part["retired"]["release"]["number"] == 2
        assert part["retired"]["text"].endswith("; nothing is named in its place.")
        assert "successor-version" not in client.get("/v1/parts/S-1").headers["link"]
    catalog.downgrade(1)
    with TestClient(create_app(Settings(database=catalog.url))) as client:
        assert "retired" not in client.get("/v1/parts/S-1").json()
        for path in ("/v1/releases/3/changes", "/v1/releases/1/changes?since=3", "/v1/parts/S-1/history?release=2"):
            withdrawn = client.get(path)
            assert (withdrawn.status_code, withdrawn.json()["type"]) == (410, "/problems/withdrawn-release")
        assert [entry["release"]["number"] for entry in client.get("/v1/parts/S-1/history").json()["history"]] == [1]
