"""The main question over HTTP: both ways of asking it, in both units, at both details, of any release."""

import subprocess
import sys
from typing import Any

import msgspec
import pytest

from service.api import wire
from service.fit.build import Build
from tests.service.api.conftest import Client
from tests.support import another_hash_seed

FLAT = {
    "engine": "eng-r20",
    "accessory_drive": "DR-541",
    "front_cover": "FC-R5",
    "have": "SP-14,SP-14",
    "without": "WP-241",
    "outlet_side": "left",
    "work_at_most": "hand_fit",
    "price_at_most": "400",
    "rank_by": "price,work",
    "limit": "3",
    "paths_per_pump": "1",
}
BUILD = {
    "engine": "ENG-R20",
    "limit": 3,
    "paths_per_pump": 1,
    "rank_by": ["price", "work"],
    "accessory_drive": "DR-541",
    "front_cover": "FC-R5",
    "have": ["SP-14", "SP-14"],
    "must": {
        "price_at_most": {"amount": 400.0, "currency": "USD"},
        "work_at_most": "hand_fit",
        "outlet_side": "left",
        "without": ["WP-241"],
    },
}


@pytest.mark.parametrize("more", [{}, {"units": "in"}, {"detail": "brief"}, {"release": "3"}, {"release": "latest"}])
def test_get_and_post_answer_the_same_bytes(client: Client, more: dict[str, str]) -> None:
    got = client.get("/v1/fits", params=FLAT | more)
    posted = client.post("/v1/fits", params=more, json=BUILD)
    assert got.status_code == posted.status_code == 200
    assert got.content == posted.content


def test_the_order_of_fields_and_of_parameters_changes_nothing(client: Client) -> None:
    turned = dict(reversed(BUILD.items()))
    assert client.post("/v1/fits", json=BUILD).content == client.post("/v1/fits", json=turned).content
    assert (
        client.get("/v1/fits", params=FLAT).content
        == client.get("/v1/fits", params=dict(reversed(FLAT.items()))).content
    )


def test_the_answer_is_what_the_contract_says(client: Client) -> None:
    response = client.post("/v1/fits", json=BUILD)
    answer = response.json()
    msgspec.convert(answer, wire.Answer)
    assert b"null" not in response.content
    assert answer["verdict"] == "fits"
    assert answer["release"]["number"] == int(response.headers["catalog-release"])
    assert msgspec.convert(answer["build"], Build) == msgspec.convert(BUILD, Build)
    first = answer["options"][0]
    assert first["stack"][-1]["part"] == first["pump"]
    assert first["stack"][0]["from_mm"] == 0
    assert all(
        below["to_mm"] == above["from_mm"] for below, above in zip(first["stack"], first["stack"][1:], strict=False)
    )
    assert first["buy_price"]["currency"] == "USD"
    assert all(line["quantity"] >= line["at_hand"] for line in first["parts_list"])
    spent = sum(line["price"]["amount"] * (line["quantity"] - line["at_hand"]) for line in first["parts_list"])
    assert first["buy_price"]["amount"] == pytest.approx(spent)
    assert "not_asked" in {check["verdict"] for check in first["checks"]}


def test_brief_leaves_out_prose_alternatives_and_what_checks_rest_on(client: Client) -> None:
    def names(value: Any) -> set[str]:
        if isinstance(value, dict):
            return set(value).union(*map(names, value.values()))
        return set().union(*map(names, value)) if isinstance(value, list) else set()

    full, brief = (
        client.post("/v1/fits", params={"detail": detail}, json=BUILD).json() for detail in ("full", "brief")
    )
    assert names(full) - names(brief) >= {"text", "why", "rests_on", "alternatives"}
    assert names(brief) <= names(full)
    for left, right in zip(full["options"], brief["options"], strict=True):
        assert [check["verdict"] for check in left["checks"]] == [check["verdict"] for check in right["checks"]]


def test_units_change_sentences_only(client: Client) -> None:
    def without_text(value: Any) -> Any:
        if isinstance(value, dict):
            return {name: without_text(item) for name, item in value.items() if name not in ("text", "why")}
        return [without_text(item) for item in value] if isinstance(value, list) else value

    metric, inches = (client.post("/v1/fits", params={"units": units}, json=BUILD) for units in ("mm", "in"))
    assert metric.content != inches.content
    assert without_text(metric.json()) == without_text(inches.json())
    assert " in " in inches.json()["options"][0]["checks"][3]["text"]


def test_nothing_fits_is_an_answer(client: Client) -> None:
    response = client.get("/v1/fits", params={"engine": "ENG-R20", "pump": "WP-227", "price_at_most": "0.01"})
    assert response.status_code == 200
    assert response.json()["verdict"] == "blocked"
    assert response.json()["options"] == []
    assert response.json()["ruled_out"]


def test_a_described_part(client: Client) -> None:
    drive = {
        "name": "my drive",
        "measures": {"belt_plane": {"value": "5 1/2 in", "taken_with": "tape"}},
        "attributes": {"ribs": 6},
    }
    response = client.post("/v1/fits", json={"engine": "ENG-R20", "accessory_drive": drive})
    assert response.status_code == 200
    assert response.json()["build"]["accessory_drive"]["name"] == "my drive"


def test_a_fault_of_get_points_to_the_parameter(client: Client) -> None:
    response = client.get("/v1/fits", params={"engine": "ENG-R20", "without": "SP-14,NO-1"})
    assert [error["pointer"] for error in response.json()["errors"]] == ["/without/1"]


def test_releases_answer_by_number_and_by_name(client: Client) -> None:
    releases = client.get("/v1/releases").json()["releases"]
    assert [release["number"] for release in releases] == list(range(1, len(releases) + 1))
    for release in releases:
        params = {"engine": "ENG-R10", "accessory_drive": "DR-541"}
        by_number = client.get("/v1/fits", params=params | {"release": str(release["number"])})
        by_name = client.get("/v1/fits", params=params | {"release": release["name"]})
        assert by_number.content == by_name.content
        assert by_number.json()["release"] == {name: release[name] for name in ("number", "name", "digest")}
        assert client.get(f"/v1/releases/{release['name']}").json() == release


ASK = """
import sys
from litestar.testing import TestClient
from service.api.app import create_app
from service.api.settings import Settings
with TestClient(create_app(Settings(database=sys.argv[1]))) as client:
    sys.stdout.buffer.write(client.get(sys.argv[2]).content)
"""
ADDRESS = "/v1/fits?engine=ENG-R20&accessory_drive=DR-541&front_cover=FC-R5&limit=50&paths_per_pump=50"


def test_the_same_bytes_under_any_hash_seed(demo_url: str, client: Client) -> None:
    found = subprocess.run(
        [sys.executable, "-c", ASK, demo_url, ADDRESS],
        env={"PYTHONHASHSEED": another_hash_seed()},
        capture_output=True,
        check=True,
    ).stdout
    assert len(found) > 1000
    assert found == client.get(ADDRESS).content


def test_an_explanation_comes_with_a_full_answer_only(client: Client) -> None:
    full, brief = (
        client.post("/v1/fits", params={"detail": detail}, json=BUILD).json() for detail in ("full", "brief")
    )
    assert {"open_questions", "expected_first"} <= set(full)
    assert not {"open_questions", "expected_first", "either_way"} & set(brief)
    assert [option.get("above_next", {}).keys() - {"text"} for option in full["options"]] == [
        option.get("above_next", {}).keys() for option in brief["options"]
    ]
    blocked = client.get("/v1/fits", params={"engine": "ENG-R20", "pump": "WP-227", "price_at_most": "0.01"}).json()
    assert not {"open_questions", "expected_first", "either_way"} & set(blocked)


def test_why_an_option_stands_above_the_next_has_its_numbers(client: Client) -> None:
    keys = ["price", "margin", "work", "parts", "length", "recommended"]
    seen = set()
    for first in keys:
        build = {"engine": "ENG-R20", "accessory_drive": "DR-541", "rank_by": [first], "limit": 20}
        for option in client.post("/v1/fits", json=build).json()["options"][:-1]:
            above = option["above_next"]
            seen.add(above["key"])
            if above["key"] in ("price", "parts", "margin"):
                assert above["difference"] == pytest.approx(above["next"] - above["this"], abs=0.0011)
                assert (above["difference"] > 0) == (above["key"] != "margin")
            if above["key"] in ("length", "margin"):
                assert above["difference_mm"] == pytest.approx(above["next_mm"] - above["this_mm"], abs=0.0011)
    assert {"price", "margin", "length"} <= seen


def test_what_is_not_known_says_what_to_read_and_what_to_look_at(client: Client) -> None:
    drive = {"name": "my drive", "measures": {"belt_plane": {"value": "141.7 mm"}}, "attributes": {"ribs": 6}}
    build = {"engine": "ENG-R20", "accessory_drive": drive, "front_cover": {"name": "my cover"}}
    answer = client.post("/v1/fits", json=build).json()
    assert answer["verdict"] == "measure_first"
    checks = {check["code"]: check for check in answer["options"][0]["checks"] if "settle" in check}
    assert {"belt", "rotation", "cover", "face"} <= set(checks)
    for check in checks.values():
        assert check["verdict"] == "measure_first"
        assert not {"likelihood", "value_mm", "margin_mm"} & set(check) or check["code"] == "belt_plane"
    assert checks["cover"]["settle"] == {
        "reason": "not_known",
        "readings": [
            {
                "part": "my cover",
                "measure": "cover_height",
                "from": "the block's pump face",
                "to": "the cover's front",
                "taken_with": "caliper",
                "doubt_then_mm": 0.2,
                "text": "Measure the cover height of my cover with a caliper, from the block's pump face to the "
                "cover's front; nothing is known of it so far.",
            }
        ],
        "text": "Once this is told, it can be checked.",
    }
    (looked,) = checks["rotation"]["settle"]["look_at"]
    assert (looked["part"], looked["fact"]) == ("my drive", "rotation")
    assert {one["fact"] for one in checks["belt"]["settle"]["look_at"]} == {"belt_side", "profile"}


def test_what_must_be_measured_first_says_how(client: Client) -> None:
    build: dict[str, Any] = {
        "engine": "ENG-R20",
        "front_cover": "FC-R5",
        "accessory_drive": {
            "name": "my drive",
            "measures": {"belt_plane": {"value": "5 3/4 in", "taken_with": "tape"}},
            "attributes": {"ribs": 6, "profile": "PK", "belt_side": "ribbed", "rotation": "clockwise"},
            "ports": [{"role": "mount", "connection": "rowanfinch_bracket"}],
        },
    }
    answer = client.post("/v1/fits", json=build).json()
    assert answer["verdict"] == "measure_first"
    (check,) = (one for one in answer["options"][0]["checks"] if one["verdict"] == "measure_first")
    (reading,) = check["settle"]["readings"]
    assert reading == {
        "part": "my drive",
        "measure": "belt_plane",
        "from": "the block's pump face",
        "to": "the belt's centre",
        "taken_with": "caliper",
        "expected_mm": 146.05,
        "doubt_mm": pytest.approx(1.5875, abs=0.001),  # 1/16 in, the doubt of a tape
        "doubt_then_mm": 0.2,
        "text": "Measure the belt plane of my drive with a caliper, from the block's pump face to the belt's centre: "
        "about 146 mm, known to plus or minus 1.6 mm so far.",
    }
    sides = answer["either_way"]["holds"], answer["either_way"]["fails"]
    assert sum(side["likelihood"] for side in sides) == pytest.approx(1)
    for side in sides:
        (read,) = side["readings"]
        drive = build["accessory_drive"] | {
            "measures": {"belt_plane": {"value": read["value_mm"], "taken_with": read["taken_with"]}}
        }
        again = client.post("/v1/fits", json=build | {"accessory_drive": drive}).json()
        assert (again["verdict"], again["options"][0]["pump"]) == (side["verdict"], side["pump"])
        assert again["options"][0]["plates"] == side["plates"]
