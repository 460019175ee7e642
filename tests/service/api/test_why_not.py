"""Blocked builds asked of the service: what they are told can be sent straight back, and then something fits."""

from typing import Any

import pytest

from tests.service.api.conftest import Client
from tests.service.fit.blocked_builds import BLOCKED

TEXTS = {"text", "rests_on", "alternatives", "why"}


def ask(client: Client, build: dict[str, Any], **query: str) -> Any:
    response = client.post("/v1/fits", json=build | {"limit": 1}, params=query)
    assert response.status_code == 200, response.text
    return response.json()


def without_prose(value: Any) -> Any:
    if isinstance(value, dict):
        return {name: without_prose(each) for name, each in value.items() if name not in TEXTS}
    return [without_prose(each) for each in value] if isinstance(value, list) else value


@pytest.mark.parametrize("name", BLOCKED)
def test_every_remedy_sent_back_as_a_change_gives_the_option_that_it_shows(client: Client, name: str) -> None:
    answer = ask(client, BLOCKED[name])
    assert answer["verdict"] == "blocked"
    assert answer["decided"]
    for conflict in answer["conflicts"]:
        assert conflict["text"]
        assert conflict["facts"]
        assert all(fact["text"].endswith(".") for fact in conflict["facts"])
    changes = [
        {"give_up": remedy["give_up"], "set": remedy.get("swap", {}) | remedy.get("move", {})}
        for remedy in answer["remedies"]
    ]
    response = client.post("/v1/fits/compare", json={"build": BLOCKED[name], "changes": changes[:20]})
    assert response.status_code == 200, response.text
    for remedy, outcome in zip(answer["remedies"], response.json()["changes"], strict=False):
        assert outcome["verdict"] in ("fits", "measure_first")
        assert outcome["best"] == remedy["best"]


def test_the_numbers_of_a_conflict_are_fields_too(client: Client) -> None:
    answer = ask(client, BLOCKED["a drive near the block behind a tall cover"])
    (conflict,) = answer["conflicts"]
    assert conflict["requirements"] == ["accessory_drive", "front_cover"]
    by_field = {fact["requirement"]: fact for fact in conflict["facts"]}
    cover, drive = by_field["front_cover"], by_field["accessory_drive"]
    assert (cover["code"], drive["code"]) == ("cover", "belt_plane")
    for fact in (cover, drive):
        assert fact["short_by_mm"] == pytest.approx(
            fact["limit_mm"] - fact["value_mm"] if fact["code"] == "cover" else abs(fact["value_mm"]) - fact["limit_mm"]
        )
        assert {rest.get("part") for rest in fact["rests_on"]} & {"FC-R5", "DR-506"}
    assert drive["thickness_window"]["to_mm"] < cover["thickness_window"]["from_mm"]


def test_brief_has_the_same_without_prose(client: Client) -> None:
    build = BLOCKED["a radiator too near for the fan"]
    full, brief = ask(client, build), ask(client, build, detail="brief")
    assert brief["conflicts"] == without_prose(full["conflicts"])
    assert brief["remedies"] == without_prose(full["remedies"])


def test_a_build_that_fits_has_neither(client: Client) -> None:
    answer = ask(client, {"engine": "ENG-R20", "accessory_drive": "DR-541", "front_cover": "FC-R5"})
    assert (answer["conflicts"], answer["remedies"], answer["truncated"]) == ([], [], False)


def test_a_miss_by_ones_own_reading_says_to_measure_again(client: Client) -> None:
    build = BLOCKED["a drive near the block behind a tall cover"]
    assert not any(pump["measuring"] for pump in ask(client, build)["ruled_out"])
    own = ask(client, BLOCKED["a drive by the asker's own tape"])["ruled_out"]
    again = [pump for pump in own if pump["measuring"]]
    assert again
    assert all("your own reading" in pump["text"] for pump in again)
