"""`POST /v1/identifications` and `GET /v1/parts/sheet` on the wire: every fault at once, limits, forms."""

from typing import Any

import pytest

from tests.service.api.conftest import Client


def post(client: Client, asked: dict[str, Any], **params: str) -> Any:
    return client.post("/v1/identifications", json=asked, params=params)


def faults(response: Any, status: int, slug: str) -> dict[str, dict[str, Any]]:
    assert response.status_code == status, response.text
    found = response.json()
    assert found["type"] == f"/problems/{slug}"
    return {error["pointer"]: error for error in found["errors"]}


def test_every_fault_comes_at_once_with_the_nearest(client: Client) -> None:
    asked = {
        "kind": "water_pump",
        "seen": [
            {"cue": "outletside", "answer": "left"},
            {"cue": "neck", "answer": "bolted"},
            {"cue": "sender", "answer": "yes"},
            {"cue": "sender", "answer": "no"},
            {"cue": "nose", "answer": "6 in"},
        ],
        "measured": [
            {"measure": "cover_height", "value": "3 in"},
            {"measure": "belt_plain", "value": "3 in"},
            {"measure": "nose", "value": "-6 in"},
            {"measure": "diameter", "value": "1/0 in"},
        ],
        "fits_on": ["ENG-R2"],
        "years": {"from": 2010, "to": 2001},
    }
    found = faults(post(client, asked), 422, "faulty-evidence")
    assert {pointer: error["type"].removeprefix("/problems/") for pointer, error in found.items()} == {
        "/seen/0/cue": "unknown-cue",
        "/seen/1/answer": "unknown-answer",
        "/seen/3": "duplicate-answer",
        "/seen/4/cue": "unknown-cue",
        "/measured/0/measure": "unknown-measure",
        "/measured/1/measure": "unknown-measure",
        "/measured/2/value": "invalid-length",
        "/measured/3/value": "invalid-length",
        "/fits_on/0": "unknown-part",
        "/years": "impossible-years",
    }
    assert found["/seen/0/cue"]["nearest"][0] == "outlet_side"
    assert found["/seen/1/answer"]["nearest"][0] == "bolted on"
    assert found["/seen/4/cue"]["nearest"] == ["nose"]
    assert found["/measured/1/measure"]["nearest"][0] == "belt_plane"
    assert found["/measured/0/measure"]["nearest"]
    assert "ENG-R20" in found["/fits_on/0"]["nearest"]


@pytest.mark.parametrize(
    ("asked", "pointer"),
    [
        ({"kind": "carburettor"}, "/kind"),
        ({"seen": [{"cue": "neck", "answer": "x"}] * 41}, "/seen"),
        ({"measured": [{"measure": "nose", "value": 1}] * 21}, "/measured"),
        ({"fits_on": ["ENG-R20"] * 11}, "/fits_on"),
        ({"years": {"from": 1899}}, "/years/from"),
        ({"years": {"to": 20044}}, "/years/to"),
        ({"number": "#"}, "/number"),
        ({"number": "1" * 41}, "/number"),
        ({"limit": 0}, "/limit"),
        ({"limit": 51}, "/limit"),
        ({"questions": 21}, "/questions"),
        ({"prior": "loud"}, "/prior"),
        ({"seen": [{"cue": "neck", "answer": ""}]}, "/seen/0/answer"),
        ({"measured": [{"measure": "nose", "value": "6"}]}, "/measured/0/value"),
        ({"colour": "red"}, "/colour"),
    ],
)
def test_what_breaks_the_schema(client: Client, asked: dict[str, Any], pointer: str) -> None:
    assert pointer in faults(post(client, asked), 400, "invalid-request")


def test_a_kind_that_the_release_does_not_hold(client: Client) -> None:
    found = faults(post(client, {"kind": "radiator"}, release="1"), 422, "no-such-kind")
    assert "water_pump" in found["/kind"]["nearest"]


def test_no_evidence_is_answered_with_a_question(client: Client) -> None:
    found = post(client, {}).json()
    assert found["verdict"] == "unknown"
    assert found["next_questions"][0]["asks"] == "kind"
    assert "water_pump" in found["next_questions"][0]["answers"]
    assert found["text"].endswith("What sort of part is it?")


def test_an_answer_is_whole_and_repeatable(client: Client) -> None:
    asked = {
        "kind": "water_pump",
        "seen": [{"cue": "outlet_side", "answer": "LEFT"}, {"cue": "neck", "answer": "cannot tell"}],
        "measured": [{"measure": "nose", "value": "6 1/8 in"}],
        "years": {"from": 2010},
        "limit": 3,
        "questions": 2,
    }
    response = post(client, asked)
    found = response.json()
    assert response.headers["catalog-release"] == str(found["release"]["number"])
    assert len(found["candidates"]) == 3
    assert len(found["next_questions"]) == 2
    assert found["identification"]["seen"] == [
        {"cue": "neck", "answer": "cannot tell"},
        {"cue": "outlet_side", "answer": "left"},
    ]
    assert found["identification"]["measured"][0]["value"] == 155.575
    assert found["considered"] == 16
    assert [each["rank"] for each in found["candidates"]] == [1, 2, 3]
    worths = [question["worth"] for question in found["next_questions"]]
    assert worths == sorted(worths, reverse=True)
    # The canonical form asks the same again, to the byte.
    again = post(client, found["identification"])
    assert again.content == response.content
    brief = post(client, asked, detail="brief")
    assert '"text"' not in brief.text
    assert brief.json()["next_questions"][0]["question"]
    assert "6 1/8 in" in post(client, asked | {"measured": []}, units="in").text


def test_a_release_without_cues_is_asked_by_tape(client: Client) -> None:
    found = post(client, {"kind": "front_cover"}, release="8").json()
    assert [question["asks"] for question in found["next_questions"]] == ["measure"]


def test_the_sheet_in_both_forms(client: Client) -> None:
    as_json = client.get("/v1/parts/sheet", params={"kind": "water_pump"})
    assert as_json.headers["content-type"] == "application/json"
    found = as_json.json()
    assert [row["part"] for row in found["rows"]] == sorted(row["part"] for row in found["rows"])
    assert set(found["questions"]) >= {"neck", "outlet_side"}
    by_format = client.get("/v1/parts/sheet", params={"kind": "water_pump", "format": "csv"})
    by_accept = client.get("/v1/parts/sheet", params={"kind": "water_pump"}, headers={"accept": "text/csv"})
    assert by_format.headers["content-type"] == by_accept.headers["content-type"] == "text/csv; charset=utf-8"
    assert by_format.content == by_accept.content
    assert by_format.headers["etag"] == by_accept.headers["etag"] != as_json.headers["etag"]
    assert by_format.text.startswith("part,name,")
    again = client.get(
        "/v1/parts/sheet",
        params={"kind": "water_pump", "format": "csv"},
        headers={"if-none-match": by_format.headers["etag"]},
    )
    assert again.status_code == 304
    refused = client.get(
        "/v1/parts/sheet", params={"kind": "water_pump", "format": "csv"}, headers={"accept": "application/json"}
    )
    assert refused.status_code == 406


def test_the_sheet_stands_beside_the_parts(client: Client) -> None:
    assert client.get("/v1/parts/WP-241").status_code == 200
    assert "/kind" in faults(client.get("/v1/parts/sheet"), 400, "invalid-request")
    assert client.get("/v1/parts/sheets").status_code == 404
