"""The OpenAPI document: valid, committed, and saying what is enforced.

After a change that is meant, write the committed document anew with `python -m tests.service.api.test_openapi`.
"""

import re
from pathlib import Path
from typing import Any

import msgspec
import pytest
from openapi_spec_validator import OpenAPIV31SpecValidator

from service.api.app import OPERATIONS
from service.api.openapi import document
from service.api.operations import BODY_LIMIT, Operation
from service.api.problems import Problem
from service.api.query import read_query
from service.fit import build, change
from service.identify import request
from tests.service.api.conftest import BODIES, NEEDED, Client

COMMITTED = Path(__file__).parent / "openapi.json"
ERRORS = re.compile("[45][0-9][0-9]")


def as_json() -> bytes:
    return msgspec.json.format(msgspec.json.encode(document(OPERATIONS)), indent=1) + b"\n"


def test_the_committed_document_is_that_of_the_code() -> None:
    assert COMMITTED.read_bytes() == as_json(), "run `python -m tests.service.api.test_openapi`, and look at the change"


def test_the_served_document_is_that_of_the_code(client: Client) -> None:
    assert client.get("/schema/openapi.json").content.strip() == as_json().strip()


def test_the_document_is_valid() -> None:
    # openapi-spec-validator checks against the OpenAPI Initiative's own schema of 3.1.
    OpenAPIV31SpecValidator(document(OPERATIONS)).validate()


def test_every_error_is_a_problem_document() -> None:
    for methods in document(OPERATIONS)["paths"].values():
        for operation in methods.values():
            for status, response in operation["responses"].items():
                if ERRORS.fullmatch(status):
                    assert response["content"] == {
                        "application/problem+json": {"schema": {"$ref": "#/components/schemas/Problem"}}
                    }


def test_every_struct_and_field_of_an_answer_is_described() -> None:
    silent = []
    for name, schema in document(OPERATIONS)["components"]["schemas"].items():
        if any(hasattr(module, name) for module in (build, change, request)) or name == "CandidatesBuild":
            continue  # what is sent is told by its names
        silent += [] if schema.get("description") else [name]
        silent += [f"{name}.{field}" for field, found in schema["properties"].items() if "description" not in found]
    assert silent == []


def test_no_field_is_ever_null() -> None:
    assert '"null"' not in as_json().decode()


def test_what_is_sent_is_closed_and_what_is_answered_is_open() -> None:
    schemas = document(OPERATIONS)["components"]["schemas"]
    assert schemas["Build"]["additionalProperties"] is False
    assert schemas["Must"]["additionalProperties"] is False
    assert "additionalProperties" not in schemas["Answer"]


def test_the_document_says_the_limits() -> None:
    about = document(OPERATIONS)["info"]["description"]
    assert str(BODY_LIMIT) in about
    fields = document(OPERATIONS)["components"]["schemas"]["Build"]["properties"]
    assert fields["have"]["maxItems"] == 100
    assert fields["limit"]["maximum"] == 50


PARAMETERS = [
    (operation, parameter)
    for operation in OPERATIONS
    for parameter in document(OPERATIONS)["paths"][operation.path][operation.method.lower()]["parameters"]
    if parameter["in"] != "header"
]


def values_beyond(schema: dict[str, Any]) -> list[str]:
    """Values, as they stand in an address, just beyond each limit that a schema states."""
    if "enum" in schema:
        return ["no-such-word", ""]
    found = []
    if schema["type"] in ("integer", "number"):
        found += [str(schema["minimum"] - 1), str(schema["maximum"] + 1), "x", ""]
        found += ["1.5"] if schema["type"] == "integer" else []
    if schema["type"] == "string":
        assert "pattern" in schema or "maxLength" in schema, "text without a limit"
        found += ["!", "x" * 500] if "pattern" in schema else ["", "x" * (schema["maxLength"] + 1)]
    if schema["type"] == "array":
        found += [",".join([value_within(schema["items"])] * (schema["maxItems"] + 1))]
        found += values_beyond(schema["items"])[:1]
    return found


def value_within(schema: dict[str, Any]) -> str:
    if "enum" in schema:
        return str(schema["enum"][0])
    return str(schema["maximum"]) if "maximum" in schema else "x"


@pytest.mark.parametrize(
    ("operation", "parameter"), PARAMETERS, ids=[f"{each.name}-{parameter['name']}" for each, parameter in PARAMETERS]
)
def test_a_parameter_is_held_to_its_schema(client: Client, operation: Operation, parameter: dict[str, Any]) -> None:
    schema, name = parameter["schema"], parameter["name"]
    for value in values_beyond(schema):
        if parameter["in"] == "path":
            response = client.get(operation.path.replace(f"{{{name}}}", value))
        else:
            path = operation.path.replace("{number}", "WP-227").replace("{name}", "rowanfinch_face")
            query = NEEDED.get(operation.name, {})
            how: dict[str, Any] = {"json": BODIES.get(operation.name, {"engine": "ENG-R10"})} if operation.body else {}
            response = client.request(operation.method, path, params=query | {name: value}, **how)
        assert response.status_code == 400, (value, response.text)
        places = {error["pointer"].split("/")[1] for error in response.json()["errors"]}
        assert places == {name}


@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda each: each.name)
def test_a_query_struct_is_what_the_document_shows(operation: Operation) -> None:
    shown = [parameter["name"] for each, parameter in PARAMETERS if each is operation and parameter["in"] == "query"]
    assert shown == list(operation.query.__struct_fields__) or set(shown) == set(operation.query.__struct_fields__)
    required = {p["name"] for each, p in PARAMETERS if each is operation and p["in"] == "query" and p["required"]}
    assert required == {field.name for field in msgspec.structs.fields(operation.query) if field.required}
    if not required:
        read_query(b"", operation.query)


def test_the_page_needs_no_network_and_no_script(client: Client) -> None:
    response = client.get("/schema")
    assert response.headers["content-type"] == "text/html; charset=utf-8"
    assert response.headers["content-security-policy"].startswith("default-src 'none'")
    text = response.text
    assert not re.search(r"(?:src|href)=\"(?!#|/schema/openapi\.json|/schema/reasons)", text)
    assert "://" not in text
    assert "<script" not in text
    for operation in OPERATIONS:
        assert f'id="{operation.name}"' in text
    for target in re.findall(r'href="#([^"]+)"', text):
        assert f'id="{target}"' in text


def test_problems_are_open_about_their_fields() -> None:
    assert {field.name for field in msgspec.structs.fields(Problem) if field.required} == {
        "type",
        "title",
        "status",
        "detail",
        "instance",
    }


if __name__ == "__main__":
    COMMITTED.write_bytes(as_json())
