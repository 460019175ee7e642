"""A build for all candidates of an identification: what holds whichever it is, and which question decides."""

from typing import Any

import pytest

from tests.service.api.conftest import Client

BUILD = {"engine": "ENG-R20", "accessory_drive": "DR-541", "front_cover": "FC-R5"}
OUTER = {"kind": "water_pump", "measured": [{"measure": "nose", "value": "6 1/8 in"}]}


def ask(client: Client, identification: dict[str, Any], build: dict[str, Any] | None = None, status: int = 200) -> Any:
    body = {"identification": identification, "build": BUILD if build is None else build}
    response = client.post("/v1/identifications/fits", json=body)
    assert response.status_code == status, response.text
    return response.json()


def seen(**answers: str) -> list[dict[str, str]]:
    return [{"cue": cue, "answer": answer} for cue, answer in answers.items()]


def test_what_holds_is_what_each_candidates_own_answer_says(client: Client) -> None:
    found = ask(client, OUTER | {"seen": seen(heater_pipes="up")})
    candidates = {each["part"] for each in found["candidates"]}
    assert candidates == {"WP-241", "WP-242"} == set(found["identification"]["holds"])
    own = {
        part: client.post(
            "/v1/fits", json=BUILD | {"pump": part, "have": [part], "limit": 50, "paths_per_pump": 50}
        ).json()
        for part in candidates
    }
    plates = [{tuple(option["plates"]) for option in answer["options"]} for answer in own.values()]
    assert {tuple(option["plates"]) for option in found["holds_for_all"]} == set.intersection(*plates)
    assert found["verdict"] == "holds"
    for option in found["holds_for_all"]:
        for quantity in option["parts"]:
            for answer in own.values():
                (mine,) = [each for each in answer["options"] if each["plates"] == option["plates"]]
                listed = {(each["part"], each["quantity"]) for each in mine["parts_list"]}
                assert (quantity["part"], quantity["quantity"]) in listed


def test_the_question_that_decides(client: Client) -> None:
    # WP-140 does not clear the tall cover where WP-241 does: what tells them apart decides what fits.
    found = ask(client, OUTER | {"seen": seen(sender="yes", outlet_side="right")})
    verdicts = {each["part"]: each["verdict"] for each in found["candidates"]}
    assert verdicts["WP-241"] == "fits"
    assert found["decides"]["name"] in {"heater_pipes", "housing_bolts", "body_ribs", "cover_room"}
    assert found["decides"]["question"] in found["text"]
    after = ask(client, OUTER | {"seen": seen(sender="yes", outlet_side="right", heater_pipes="up")})
    assert after["verdict"] == "holds"


def test_too_many_candidates_are_asked_about_first(client: Client) -> None:
    found = ask(client, {"kind": "water_pump"})
    assert found["verdict"] == "ask_first"
    assert found["candidates"] == []
    assert found["decides"]["name"] == found["identification"]["next_questions"][0]["name"]


def test_nothing_fits_any_of_them(client: Client) -> None:
    found = ask(client, OUTER, {"engine": "ENG-G30"})
    assert found["verdict"] == "blocked"
    assert "nothing fits" in found["text"]


def test_covers_are_candidates_too(client: Client) -> None:
    found = ask(
        client, {"kind": "front_cover", "seen": seen(bulge="yes")}, {"engine": "ENG-R20", "accessory_drive": "DR-541"}
    )
    assert found["field"] == "front_cover"
    assert {each["part"] for each in found["candidates"]} == {"FC-R5", "FC-R6"}
    assert all(option["pump"] for option in found["holds_for_all"])


@pytest.mark.parametrize(
    ("identification", "build", "pointers"),
    [
        ({}, {"engine": "ENG-R20"}, {"/identification/kind"}),
        ({"kind": "gasket"}, {"engine": "ENG-R20"}, {"/identification/kind"}),
        (OUTER, {"engine": "ENG-R20", "pump": "WP-241"}, {"/build/pump"}),
        (OUTER, {"engine": "ENG-X", "have": ["X-1"]}, {"/build/engine", "/build/have/0"}),
        (
            {"kind": "water_pump", "seen": seen(nek="x")},
            {"engine": "FC-R5", "pump": "WP-241"},
            {"/identification/seen/0/cue", "/build/pump", "/build/engine"},
        ),
    ],
)
def test_every_fault_of_both_at_once(
    client: Client, identification: dict[str, Any], build: dict[str, Any], pointers: set[str]
) -> None:
    found = ask(client, identification, build, 422)
    assert {error["pointer"] for error in found["errors"]} == pointers
