"""The storefront's filter over HTTP: a page of parts by POST and GET, the whole catalog, lines, and bad input."""

import json

import pytest

from service.api.route_parts import MOST_ON_A_PAGE
from service.fit.which import MOST_PARTS
from tests.service.api.conftest import Client

BUILD = {"engine": "ENG-R20", "accessory_drive": "DR-541", "front_cover": "FC-R5"}
PARTS = ["WP-108", "SP-34", "WP-227", "HS-38-1200", "WP-104"]
URL = "/v1/fits/parts"


def test_each_part_is_answered_in_the_order_in_which_it_was_asked(client: Client) -> None:
    answer = client.post(URL, json={"build": BUILD, "parts": PARTS})
    assert answer.status_code == 200
    found = answer.json()
    assert [line["part"] for line in found["parts"]] == PARTS
    first = found["parts"][0]
    assert first == {
        "part": "WP-108",
        "kind": "water_pump",
        "suits": "fits_with",
        "with": ["SP-34"],
        "text": "It fits with Rowanfinch pump spacer, 34 mm, checked against the engine, accessory drive and front "
        "cover.",
    }
    assert found["parts"][3]["suits"] == "not_concerned"
    assert sum(kind[verdict] for kind in found["kinds"] for verdict in kind if verdict != "kind") == len(PARTS)


def test_a_get_of_a_page_answers_the_same(client: Client) -> None:
    posted = client.post(URL, json={"build": BUILD, "parts": PARTS}).json()
    assert client.get(URL, params=BUILD | {"parts": ",".join(PARTS)}).json() == posted


def test_the_whole_catalog_has_a_line_a_part_and_counts_that_add_up(client: Client) -> None:
    found = client.post(URL, json={"build": BUILD, "parts": "all"}, params={"detail": "brief"}).json()
    numbers = [line["part"] for line in found["parts"]]
    assert numbers == sorted(numbers)
    assert len(numbers) > 400
    counted = sum(kind[verdict] for kind in found["kinds"] for verdict in kind if verdict != "kind")
    assert counted == len(numbers)
    coded = [line["code"] for line in found["parts"] if "code" in line]
    assert {each["code"]: each["parts"] for each in found["codes"]} == {code: coded.count(code) for code in set(coded)}
    assert not any("text" in line for line in found["parts"])


def test_lines_say_what_the_document_says(client: Client) -> None:
    asked = {"build": BUILD, "parts": "all"}
    lines = client.post(URL, json=asked, headers={"Accept": "application/x-ndjson"})
    assert lines.headers["content-type"].startswith("application/x-ndjson")
    told = [json.loads(line) for line in lines.text.splitlines()]
    assert told == client.post(URL, json=asked).json()["parts"]


@pytest.mark.parametrize(
    ("build", "against"),
    [
        ({"engine": "ENG-R20"}, "checked against the engine alone."),
        ({"engine": "ENG-R20", "accessory_drive": "DR-541"}, "checked against the engine and accessory drive."),
    ],
)
def test_a_line_says_what_its_part_was_checked_against(build: dict[str, str], against: str, client: Client) -> None:
    found = client.post(URL, json={"build": build, "parts": ["WP-108", "WP-227", "SP-34", "ENG-R20"]}).json()
    *others, engine = found["parts"]
    fitting = [line["text"] for line in others if line["suits"].startswith("fits")]
    assert fitting
    assert "against the engine" not in engine["text"], "it was not checked against itself"
    for text in fitting:
        assert text.endswith(against)
    assert found["text"].startswith("Not checked, as not given: ")
    assert "accessory_drive" in found["not_checked"] or "accessory_drive" in build
    assert {"hot_coolant", "last_word"} <= {caution["code"] for caution in found["cautions"]}


def test_what_does_not_suit_calls_for_no_caution(client: Client) -> None:
    found = client.post(URL, json={"build": {"engine": "ENG-G30"}, "parts": ["HS-38-1200"]}).json()
    assert found["parts"][0]["suits"] not in ("fits", "fits_with", "measure_first")
    assert found["cautions"] == found["notes"] == []


def test_every_fault_of_the_build_and_of_the_parts_is_named_at_once(client: Client) -> None:
    refused = client.post(URL, json={"build": {"engine": "ENG-R2O"}, "parts": ["WP-108", "WP-1O8"]})
    assert refused.status_code == 422
    assert [fault["pointer"] for fault in refused.json()["errors"]] == ["/build/engine", "/parts/1"]
    assert refused.json()["errors"][1]["nearest"][0] == "WP-108"


@pytest.mark.parametrize("parts", [[], ["WP-108"] * (MOST_PARTS + 1), "none", [1]])
def test_lists_are_bounded_and_are_lists_of_part_numbers(parts: object, client: Client) -> None:
    assert client.post(URL, json={"build": BUILD, "parts": parts}).status_code == 400


def test_as_many_parts_as_may_be_asked_for_fit_into_a_body(client: Client) -> None:
    answer = client.post(URL, json={"build": {"engine": "ENG-R20"}, "parts": ["WP-108"] * MOST_PARTS})
    assert answer.status_code == 200
    assert len(answer.json()["parts"]) == MOST_PARTS


def test_a_page_is_bounded(client: Client) -> None:
    parts = ",".join(["WP-108"] * (MOST_ON_A_PAGE + 1))
    assert client.get(URL, params=BUILD | {"parts": parts}).status_code == 400


def test_a_part_number_all_is_not_the_whole_catalog(client: Client) -> None:
    assert client.post(URL, json={"build": BUILD, "parts": "all"}).status_code == 200
    refused = client.post(URL, json={"build": BUILD, "parts": ["all"]})
    assert (refused.status_code, refused.json()["errors"][0]["pointer"]) == (422, "/parts/0")
