"""What is refused before the engine is asked, and that every fault is listed, with its place."""

import json
import math
from typing import Any

import jsonschema_rs
import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.api.faults import InvalidRequest, checked, faults_of, parse_json
from service.api.negotiation import accepts, is_json
from service.fit.build import Build
from tests.service.api.conftest import Client

JSON = {"content-type": "application/json"}


def pointers(response: Any) -> list[str]:
    return [error["pointer"] for error in response.json()["errors"]]


def test_every_fault_of_a_build_is_listed_at_once(client: Client) -> None:
    build = {
        "front_cover": {"measures": {"cover_height": {"value": "57"}, "NO": {"value": "1 furlong"}}},
        "pump": 7,
        "have": ["ok", "", "not ok"],
        "measured": [{"part": "WP-227", "measure": "belt_plane", "value": 10_001, "taken_with": "eye"}],
        "must": {"outlet_side": "up", "colour": "red", "price_at_most": {"amount": -1, "currency": "usd"}},
        "limit": 0,
        "rank_by": ["beauty"],
        "windscreen": True,
    }
    response = client.post("/v1/fits", params={"units": "furlong", "brief": "1"}, json=build)
    assert response.status_code == 400
    assert sorted(pointers(response)) == sorted(
        [
            "/engine",
            "/front_cover/name",
            "/front_cover/measures/cover_height/value",
            "/front_cover/measures/NO",
            "/front_cover/measures/NO/value",
            "/pump",
            "/have/1",
            "/have/2",
            "/measured/0/value",
            "/measured/0/taken_with",
            "/must/outlet_side",
            "/must/colour",
            "/must/price_at_most/amount",
            "/must/price_at_most/currency",
            "/limit",
            "/rank_by/0",
            "/windscreen",
            "/brief",
            "/units",
        ]
    )


@pytest.mark.parametrize(
    ("length", "says"),
    [
        ("146", "has no unit"),
        ("5 3/4", "has no unit"),
        ("146 furlongs", "is not a length"),
        ("", "is not a length"),
        ("nan mm", "is not a length"),
        ("1e3 mm", "is not a length"),
        (10_001, "at most 10000"),
        (True, "must be a number or text"),
        (None, "must be a number or text"),
        ([], "must be a number or text"),
    ],
)
def test_lengths_that_break_the_schema(client: Client, length: Any, says: str) -> None:
    reading = {"part": "WP-227", "measure": "belt_plane", "value": length}
    response = client.post("/v1/fits", json={"engine": "ENG-R20", "measured": [reading]})
    assert response.status_code == 400
    assert pointers(response) == ["/measured/0/value"]
    assert says in response.json()["errors"][0]["message"]


@pytest.mark.parametrize("length", ["1/0 in", "999999999 mm", "500 in"])
def test_lengths_that_satisfy_the_schema_and_are_not_so(client: Client, length: str) -> None:
    reading = {"part": "WP-227", "measure": "belt_plane", "value": length}
    response = client.post("/v1/fits", json={"engine": "ENG-R20", "measured": [reading]})
    assert response.status_code == 422
    assert pointers(response) == ["/measured/0/value"]


def test_a_negative_length_where_there_is_none(client: Client) -> None:
    reading = {"part": "SP-14", "measure": "thickness", "value": "-14 mm"}
    response = client.post("/v1/fits", json={"engine": "ENG-R20", "measured": [reading]})
    assert response.status_code == 422


@pytest.mark.parametrize(
    ("body", "says"),
    [
        (b"", "not JSON"),
        (b"engine", "not JSON"),
        (b'{"engine": "ENG-R20",}', "not JSON"),
        (b'{"engine": "ENG-R20"} x', "not JSON"),
        (b'{"engine": "ENG-R20", "limit": NaN}', "NaN"),
        (b'{"engine": "ENG-R20", "limit": -Infinity}', "-Infinity"),
        (b'{"engine": "ENG-R20", "limit": 1e999}', "beyond"),
        (b'{"engine": "ENG-R20", "limit": ' + b"9" * 5000 + b"}", "not JSON"),
        (b'{"engine": "ENG-R20", "engine": "ENG-R20"}', "twice"),
        (b'{"engine": {"name": "x", "measures": {"nose": {"value": 1}, "nose": {"value": 2}}}}', "twice"),
        (b'{"engine": "\xff"}', "UTF-8"),
        (b'\xef\xbb\xbf{"engine": "ENG-R20"}', "not JSON"),
        (b'{"engine": "\\ud800"}', "surrogate"),
        (b"[" * 60_000, "nested deeper"),
        (b'{"a":' * 33 + b"1" + b"}" * 33, "nested deeper"),
    ],
)
def test_bodies_that_are_no_json(client: Client, body: bytes, says: str) -> None:
    response = client.post("/v1/fits", content=body, headers=JSON)
    assert response.status_code == 400
    assert pointers(response) == [""]
    assert says in response.json()["errors"][0]["message"]


def test_brackets_in_text_are_no_nesting(client: Client) -> None:
    engine = {"name": "[{" * 40}
    assert client.post("/v1/fits", json={"engine": engine}).status_code == 422


@pytest.mark.parametrize("body", ["[]", "7", "null", '"ENG-R20"', "{}"])
def test_bodies_that_are_no_build(client: Client, body: str) -> None:
    response = client.post("/v1/fits", content=body, headers=JSON)
    assert response.status_code == 400
    assert pointers(response) == (["/engine"] if body == "{}" else [""])


@pytest.mark.parametrize(("field", "limit"), [("have", 100), ("measured", 100), ("rank_by", 6), ("must/without", 100)])
def test_lists_over_their_limit(client: Client, field: str, limit: int) -> None:
    entry: Any = {
        "measured": {"part": "WP-227", "measure": "belt_plane", "value": "127 mm"},
        "rank_by": "work",
    }.get(field, "WP-227")
    for length, status in ((limit, 200), (limit + 1, 400)):
        entries = [entry] * length
        build: dict[str, Any] = {"must": {"without": entries}} if "/" in field else {field: entries}
        response = client.post(
            "/v1/fits", params={"detail": "brief"}, json={"engine": "ENG-R20", "pump": "WP-227"} | build
        )
        if field == "measured" and status == 200:
            continue  # one reading a hundred times over is the engine's to judge
        assert response.status_code == status, response.text
    assert pointers(response) == [f"/{field}"]


@pytest.mark.parametrize(
    "query",
    [
        "engine=ENG-R20&engine=ENG-R20",
        "engine=%FF",
        "engine=",
        "engine=ENG-R20&limit=",
        "engine=ENG-R20&limit=ten",
        "engine=ENG-R20&limit=1.5",
        "engine=ENG-R20&limit=51",
        "engine=ENG-R20&limit=nan",
        "engine=ENG-R20&price_at_most=nan",
        "engine=ENG-R20&price_at_most=1e999",
        "engine=ENG-R20&price_at_most=-1",
        "engine=ENG-R20&have=,",
        "engine=ENG-R20&rank_by=beauty",
        "engine=ENG-R20&measured=x",
        "engine=ENG-R20&must.without=x",
        "engine=ENG-R20&units=furlong",
        "engine=ENG-R20&detail=",
        "engine=ENG-R20&release=",
        "pump=WP-227",
        "é=1",
    ],
)
def test_bad_queries(client: Client, query: str) -> None:
    response = client.get(f"/v1/fits?{query}")
    assert response.status_code == 400
    assert response.json()["errors"]


def test_whole_numbers_may_be_written_with_a_fraction_of_nothing(client: Client) -> None:
    # JSON Schema, Draft 2020-12 validation, 6.1.1: 1.0 is an integer.
    plain = client.post("/v1/fits", json={"engine": "ENG-R20", "pump": "WP-227", "limit": 10})
    body = b'{"engine": "ENG-R20", "pump": "WP-227", "limit": 1.0e1}'
    assert client.post("/v1/fits", content=body, headers=JSON).content == plain.content


VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-3, 60)
    | st.floats(-20_000, 20_000)
    | st.sampled_from(["WP-227", "", "a b", "5 3/4 in", "12", "tape", "left", "work", "USD", "belt_plane", "x" * 90]),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(
            st.sampled_from(
                [*Build.__struct_fields__, "name", "measures", "value", "without", "part", "measure", "amount"]
            ),
            inner,
            max_size=4,
        )
    ),
    max_leaves=12,
)
GOOD: dict[str, Any] = {
    "engine": {"name": "mine", "measures": {"hole_depth": {"value": "25 mm"}}, "attributes": {"ribs": 6}},
    "pump": "WP-227",
    "have": ["SP-14", "SP-14"],
    "measured": [{"part": "WP-227", "measure": "belt_plane", "value": 127.5, "plus_minus": "1/16 in"}],
    "must": {"outlet_side": "left", "price_at_most": {"amount": 250, "currency": "USD"}, "without": ["SP-04"]},
    "rank_by": ["price"],
    "limit": 3,
}


def replaced(value: Any, path: list[int], new: Any) -> Any:
    """The value with what stands at the path put out for something new."""
    if not path or not isinstance(value, dict | list) or not value:
        return new
    keys: list[Any] = list(value) if isinstance(value, dict) else list(range(len(value)))
    key = keys[path[0] % len(keys)]
    copy = value.copy()
    copy[key] = replaced(value[key], path[1:], new)
    return copy


@given(st.lists(st.integers(0, 9), max_size=4), VALUES)
def test_the_faults_are_those_of_an_independent_validator(path: list[int], new: Any) -> None:
    # jsonschema-rs is a general-purpose validator of JSON Schema, Draft 2020-12.
    value = parse_json(json.dumps(replaced(GOOD, path, new)).encode())
    schema = msgspec.json.schema(Build)
    faults = faults_of(value, Build)
    assert bool(faults) != jsonschema_rs.is_valid(schema, value)
    try:
        msgspec.convert(value, Build)
    except msgspec.ValidationError:
        assert faults
    else:
        assert not faults


def test_the_faults_are_at_the_places_of_an_independent_validator() -> None:
    schema = jsonschema_rs.validator_for(msgspec.json.schema(Build))
    value = GOOD | {"pump": 7, "limit": 99, "have": ["", "a b"], "rank_by": [1]}
    places = {"".join(f"/{step}" for step in error.instance_path) for error in schema.iter_errors(value)}
    assert (
        {fault.pointer for fault in faults_of(value, Build)}
        == places
        == {"/pump", "/limit", "/have/0", "/have/1", "/rank_by/0"}
    )


def test_a_good_build_has_no_fault() -> None:
    assert faults_of(GOOD, Build) == []
    assert checked(GOOD, Build).limit == 3
    with pytest.raises(InvalidRequest):
        checked(GOOD | {"limit": math.nan}, Build)


@pytest.mark.parametrize(
    ("header", "taken"),
    [
        # RFC 9110, section 12.5.1: the most specific range decides, q=0 is "not acceptable".
        (None, True),
        ("", True),
        ("*/*", True),
        ("application/*;q=0.1", True),
        ("text/html, application/json;q=0.001", True),
        ("APPLICATION/JSON", True),
        ("application/json;q=0, */*", False),
        ("application/*;q=0, application/json", True),
        ("text/html", False),
        ("application/json-seq", False),
    ],
)
def test_accept(header: str | None, taken: bool) -> None:
    assert accepts(header, "application/json") is taken


def test_content_type() -> None:
    assert is_json("application/json")
    assert is_json('Application/JSON; Charset="UTF-8"')
    assert not is_json("application/problem+json")
    assert not is_json(None)
