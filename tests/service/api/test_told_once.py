"""What every answer says once at its top: in words there, by code in the options."""

from typing import Any

import pytest

from tests.service.api.conftest import Client

BUILD = {"engine": "ENG-R20", "accessory_drive": "DR-541", "front_cover": "FC-R5", "radiator": "RD-30"}
BLOCKED = {"engine": "ENG-R20", "accessory_drive": "DR-506", "front_cover": "FC-R5"}
TOP = ("not_checked", "not_known", "cautions", "notes")
ASKED: dict[str, dict[str, Any]] = {
    "/v1/fits": BUILD,
    "/v1/fits/parts": {"build": BUILD, "parts": "all"},
    "/v1/fits/compare": {"build": BUILD, "changes": [{"give_up": ["front_cover"]}, {"set": {"fan": "electric"}}]},
    "/v1/identifications/fits": {
        "identification": {
            "kind": "water_pump",
            "measured": [{"measure": "nose", "value": "6 1/8 in"}],
            "seen": [{"cue": "heater_pipes", "answer": "up"}],
        },
        "build": BUILD,
    },
}


def ask(client: Client, url: str, body: dict[str, Any], **params: str) -> Any:
    answer = client.post(url, json=body, params=params)
    assert answer.status_code == 200, answer.text
    return answer.json()


@pytest.mark.parametrize("url", ASKED)
def test_every_answer_says_it_at_its_top(url: str, client: Client) -> None:
    found = ask(client, url, ASKED[url])
    assert found["text"].startswith("Not checked, as not given: crank pulley, heater, fan and distance")
    assert {"crank_pulley", "heater", "fan", "core_distance"} <= set(found["not_checked"])
    assert found["cautions"][0]["code"] == "hot_coolant"
    assert found["cautions"][-1]["code"] == "last_word"
    assert {"sealant", "hose_lengths", "clamps", "sender"} & {note["code"] for note in found["notes"]}
    for entry in (*found["cautions"], *found["notes"]):
        assert entry["text"].endswith(".")
    assert found["not_known_total"] == len(found["not_known"])


@pytest.mark.parametrize("url", ASKED)
def test_brief_keeps_codes_and_fields(url: str, client: Client) -> None:
    full, brief = (ask(client, url, ASKED[url], detail=detail) for detail in ("full", "brief"))
    for name in TOP:
        assert brief[name] == [
            entry if isinstance(entry, str) else {key: value for key, value in entry.items() if key != "text"}
            for entry in full[name]
        ]


@pytest.mark.parametrize("build", [BUILD, BLOCKED])
def test_options_bear_codes_whose_words_stand_at_the_top(build: dict[str, Any], client: Client) -> None:
    found = ask(client, "/v1/fits", build)
    options = [*found["options"], *(remedy["best"] for remedy in found["remedies"])]
    assert options
    for name in ("cautions", "notes"):
        told = {entry["code"] for entry in found[name]}
        assert {entry["code"] for option in options for entry in option[name]} == told
        assert not any("text" in entry for option in options for entry in option[name])


def test_a_get_says_it_too(client: Client) -> None:
    found = client.get("/v1/fits", params=BUILD).json()
    posted = ask(client, "/v1/fits", BUILD)
    assert {name: found[name] for name in TOP} == {name: posted[name] for name in TOP}


def test_a_comparison_words_it_once_for_all(client: Client) -> None:
    found = ask(client, "/v1/fits/compare", ASKED["/v1/fits/compare"])
    top = {caution["code"] for caution in found["cautions"]}
    assert "electric_fan" in top, "only a change calls for it"
    without, electric = found["changes"]
    assert without["not_checked"] == ["front_cover", *found["not_checked"]]
    assert "fan" in electric["not_checked"]
    assert without["text"].startswith("Not checked, as not given: front cover. Without the front cover, ")
    assert electric["text"].startswith(
        "Not checked, as what you give leaves it open: how deep the electric fan is. With "
    )
    for change in found["changes"]:
        assert {caution["code"] for caution in change["cautions"]} <= top
        assert not any("text" in entry for name in ("cautions", "notes", "not_known") for entry in change[name])


def test_too_many_candidates_say_what_nobody_gave(client: Client) -> None:
    found = ask(
        client, "/v1/identifications/fits", {"identification": {"kind": "front_cover"}, "build": {"engine": "ENG-R20"}}
    )
    if found["verdict"] == "ask_first":
        assert "front_cover" not in found["not_checked"]
    asked = {"identification": {"kind": "water_pump"}, "build": BUILD}
    first = ask(client, "/v1/identifications/fits", asked)
    assert first["verdict"] == "ask_first"
    assert first["text"].startswith("Not checked, as not given: crank pulley, heater, fan and distance")
    assert first["cautions"] == first["notes"] == []
