"""What if, over HTTP: a build beside changes of it. Each answer is held against the main question's own."""

import subprocess
import sys
from typing import Any

import msgspec
import pytest

from service.api import wire_compare
from service.fit.build import Build, Must
from service.fit.change import PartialBuild, PartialMust
from tests.service.api.conftest import Client
from tests.support import another_hash_seed

BUILD: dict[str, Any] = {"engine": "ENG-R20", "accessory_drive": "DR-541", "front_cover": "FC-R5"}
CHANGES: list[dict[str, Any]] = [
    {"name": "any cover", "give_up": ["front_cover"]},
    {"set": {"front_cover": "fc-r2"}},
    {"give_up": ["front_cover"], "set": {"accessory_drive": "DR-528"}},
    {"set": {"pump_drive": "remote"}},
    {"set": {"must": {"outlet_side": "left", "price_at_most": {"amount": 1, "currency": "USD"}}}},
    {"set": {"have": ["WP-227", "SP-14", "SP-14"], "rank_by": ["price", "margin"]}},
    {"set": {"pump": "WP-227", "radiator": "RD-30", "heater": "none"}},
]


def ask(client: Client, build: dict[str, Any], changes: list[dict[str, Any]], **params: str) -> Any:
    response = client.post("/v1/fits/compare", json={"build": build, "changes": changes}, params=params)
    assert response.status_code == 200, response.text
    msgspec.convert(response.json(), wire_compare.Comparison)
    return response.json()


def fitting(client: Client, build: dict[str, Any]) -> set[str]:
    """Every pump with an option, by the main question with its lists at their longest."""
    build = build | {"limit": 50, "paths_per_pump": 1}
    answer = client.post("/v1/fits", json=build, params={"detail": "brief"}).json()
    pumps = {option["pump"] for option in answer["options"]}
    assert len(pumps) == answer["pumps_that_fit"]
    return pumps


@pytest.fixture(scope="module")
def found(client: Client) -> Any:
    return ask(client, BUILD, CHANGES)


def test_each_outcome_is_the_main_question_s(client: Client, found: Any) -> None:
    own_pumps = fitting(client, BUILD)
    for outcome in (found, *found["changes"]):
        answer = client.post("/v1/fits", json=outcome["build"] | {"limit": 2}).json()
        assert answer["build"] == outcome["build"] | {"limit": 2}
        for name in ("verdict", "pumps_that_fit", "not_checked", "replaced", "decided"):
            assert outcome[name] == answer[name]
        best = answer["options"][0] if answer["options"] else None
        if best is not None:
            best.pop("above_next", None)
            for check in best["checks"]:
                check.pop("settle", None)
        assert outcome.get("best") == best
        assert outcome["release"] == answer["release"] if outcome is found else "release" not in outcome
    for change in found["changes"]:
        pumps = fitting(client, change["build"])
        assert [pump["pump"] for pump in change["appeared"]] == sorted(pumps - own_pumps)
        assert [pump["pump"] for pump in change["went"]] == sorted(own_pumps - pumps)
        assert (change["appeared_total"], change["went_total"]) == (len(change["appeared"]), len(change["went"]))


def test_the_price_difference_is_of_the_best_options(found: Any) -> None:
    own = found["best"]["buy_price"]["amount"]
    for change in found["changes"]:
        if "best" in change:
            difference = change["best"]["buy_price"]["amount"] - own
            assert change["price_difference"] == {"amount": pytest.approx(difference), "currency": "USD"}
        else:
            assert "price_difference" not in change


def test_no_difference_where_a_price_is_not_known(client: Client) -> None:
    blocked = BUILD | {"must": {"price_at_most": {"amount": 1, "currency": "USD"}}}
    found = ask(client, blocked, [{"give_up": ["must.price_at_most"]}, {"set": {"pump": "WP-227"}}])
    assert "best" not in found
    freed, still = found["changes"]
    assert freed["verdict"] == "fits"
    assert "price_difference" not in freed
    assert freed["appeared_total"] == freed["pumps_that_fit"]
    assert still["verdict"] == "blocked"
    assert still["text"].endswith("nothing fits either.")


def test_a_remedy_is_a_change_as_it_is(client: Client) -> None:
    build = BUILD | {"crank_pulley": "CP-528", "must": {"outlet_direction": "up", "work_at_most": "bolt_on"}}
    blocked = client.post("/v1/fits", json=build).json()
    assert blocked["verdict"] == "blocked"
    remedies = blocked["remedies"]
    assert any("swap" in remedy for remedy in remedies)
    found = ask(
        client,
        build,
        [{"give_up": each["give_up"], "set": each.get("swap", {}) | each.get("move", {})} for each in remedies],
    )
    for remedy, change in zip(remedies, found["changes"], strict=True):
        assert change["verdict"] != "blocked"
        assert change["best"] == remedy["best"]
    assert "best" not in found


@pytest.mark.parametrize(("units", "said"), [("mm", "289.9 mm"), ("in", "11.411 in")])
def test_a_least_distance_is_told_no_less_than_it_is(client: Client, units: str, said: str) -> None:
    body = {"build": BUILD, "changes": [{"set": {"core_distance": 289.818}}]}
    change = client.post(f"/v1/fits/compare?units={units}", json=body).json()["changes"][0]
    assert f"With {said} to the radiator's core" in change["text"]


def test_a_change_is_merged_field_by_field(client: Client) -> None:
    build = BUILD | {"must": {"outlet_side": "left", "work_at_most": "weld"}, "have": ["SP-14"]}
    found = ask(
        client,
        build,
        [
            {"set": {"must": {"outlet_side": "right"}}},
            {"give_up": ["must.outlet_side"], "set": {"must": {"without": ["WP-227"]}}},
            {"set": {"have": []}},
            {"set": {"must": {}, "limit": 3}},
        ],
    )
    musts = [change["build"]["must"] for change in found["changes"]]
    assert musts == [
        {"outlet_side": "right", "work_at_most": "weld"},
        {"work_at_most": "weld", "without": ["WP-227"]},
        build["must"],
        build["must"],
    ]
    assert [change["build"].get("have") for change in found["changes"]] == [["SP-14"], ["SP-14"], None, ["SP-14"]]
    assert found["changes"][3]["build"]["limit"] == 3


def test_a_radiator_and_its_ports_take_each_other_s_place(client: Client) -> None:
    ports = {"upper": {"size": "1 1/2 in hose"}, "lower": {"size": "1 1/2 in hose"}}
    build = BUILD | {"pump": "WP-227"}
    (change,) = ask(client, build | {"radiator": "RD-30"}, [{"set": {"radiator_ports": ports}}])["changes"]
    assert "radiator" not in change["build"]
    (change,) = ask(client, build | {"radiator_ports": ports}, [{"set": {"radiator": "RD-30"}}])["changes"]
    assert "radiator_ports" not in change["build"]


def test_every_fault_of_every_change_at_once(client: Client) -> None:
    body = {
        "build": BUILD | {"have": ["NO-1"]},
        "changes": [
            {"set": {"front_cover": "FC-X"}},
            {"give_up": ["fan", "front_cover"], "set": {"front_cover": "FC-R1"}},
            {"name": "nothing"},
            {
                "set": {
                    "have": ["NO-2"],
                    "must": {"without": ["NO-3"], "price_at_most": {"amount": 1, "currency": "EUR"}},
                }
            },
            {"set": {"front_cover": "WP-227"}},
        ],
    }
    response = client.post("/v1/fits/compare", json=body)
    assert response.status_code == 422
    assert response.json()["type"] == "/problems/faulty-build"
    assert [(error["pointer"], error["type"].removeprefix("/problems/")) for error in response.json()["errors"]] == [
        ("/build/have/0", "unknown-part"),
        ("/changes/0/set/front_cover", "unknown-part"),
        ("/changes/1/give_up/0", "not-asked"),
        ("/changes/1/give_up/1", "contradiction"),
        ("/changes/2", "no-change"),
        ("/changes/3/set/have/0", "unknown-part"),
        ("/changes/3/set/must/without/0", "unknown-part"),
        ("/changes/3/set/must/price_at_most/currency", "wrong-currency"),
        ("/changes/4/set/front_cover", "wrong-kind"),
    ]


def test_what_breaks_the_schema_is_named_at_its_place(client: Client) -> None:
    body = {
        "build": {"engine": 7},
        "changes": [{"give_up": ["engine"]}, {"set": {"colour": "red"}}, {"set": {"must": {"work_at_most": "magic"}}}],
    }
    response = client.post("/v1/fits/compare", json=body)
    assert response.status_code == 400
    assert [error["pointer"] for error in response.json()["errors"]] == [
        "/build/engine",
        "/changes/0/give_up/0",
        "/changes/1/set/colour",
        "/changes/2/set/must/work_at_most",
    ]


@pytest.mark.parametrize(("count", "status"), [(0, 400), (1, 200), (20, 200), (21, 400)])
def test_one_to_twenty_changes(client: Client, count: int, status: int) -> None:
    build = {"engine": "ENG-R20", "pump": "WP-227"}
    changes = [{"set": {"accessory_drive": "DR-541"}}] * count
    response = client.post("/v1/fits/compare", json={"build": build, "changes": changes}, params={"detail": "brief"})
    assert response.status_code == status


def test_brief_leaves_the_prose_out_and_changes_no_number(client: Client) -> None:
    build = BUILD | {"pump": "WP-227"}
    brief = ask(client, build, CHANGES[:3], detail="brief")
    full = ask(client, build, CHANGES[:3])
    assert '"text"' not in msgspec.json.encode(brief).decode()
    for one, other in zip(brief["changes"], full["changes"], strict=True):
        assert {**one, "best": None} == {**{k: v for k, v in other.items() if k != "text"}, "best": None}
        assert one["best"]["buy_price"] == other["best"]["buy_price"]


def test_one_release_for_all_and_a_tag_of_its_own(client: Client) -> None:
    build = {"engine": "ENG-R10", "accessory_drive": "DR-528"}
    body = {"build": build, "changes": [{"give_up": ["accessory_drive"]}]}
    pinned = client.post("/v1/fits/compare", json=body, params={"release": "1"})
    assert pinned.headers["catalog-release"] == "1"
    assert pinned.json()["release"]["number"] == 1
    assert "max-age" in pinned.headers["cache-control"]
    again = client.post("/v1/fits/compare", json=body, params={"release": "1"})
    newest = client.post("/v1/fits/compare", json=body)
    assert pinned.headers["etag"] == again.headers["etag"] != newest.headers["etag"]
    assert newest.headers["cache-control"] == "no-cache"


def test_what_may_be_set_is_what_a_build_may_say() -> None:
    # The two are written out apart; msgspec's own schemas of them must tell the same fields with the same limits.
    for whole, partial in ((Build, PartialBuild), (Must, PartialMust)):
        one, other = (msgspec.json.schema(each)["$defs"] for each in (whole, partial))
        told, again = (defs[each.__name__]["properties"] for defs, each in ((one, whole), (other, partial)))
        assert set(told) == set(again)
        for name in set(told) - {"must"}:
            drop = {"default", "description"}
            assert {k: v for k, v in told[name].items() if k not in drop} == {
                k: v for k, v in again[name].items() if k not in drop
            }


ASK = """
import json, sys
from litestar.testing import TestClient
from service.api.app import create_app
from service.api.settings import Settings
with TestClient(create_app(Settings(database=sys.argv[1]))) as client:
    sys.stdout.buffer.write(client.post("/v1/fits/compare", json=json.loads(sys.argv[2])).content)
"""


def test_the_same_bytes_under_any_hash_seed(demo_url: str, client: Client) -> None:
    body = msgspec.json.encode({"build": BUILD, "changes": CHANGES[:3]})
    found = subprocess.run(
        [sys.executable, "-c", ASK, demo_url, body.decode()],
        env={"PYTHONHASHSEED": another_hash_seed()},
        capture_output=True,
        check=True,
    ).stdout
    assert len(found) > 1000
    assert found == client.post("/v1/fits/compare", json=msgspec.json.decode(body)).content
