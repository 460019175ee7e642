"""The OpenAPI 3.1 document, made from the operations and from the structs that check and answer.

Everything in it is what is enforced: parameters and bodies are checked along these very schemas.
"""

import inspect
from collections.abc import Iterable, Mapping
from typing import Any, Final

import msgspec

from service.api import conditional, spent
from service.api.answering import JSON_TYPE, PROGRAM_VERSION
from service.api.codings import CODINGS, IDENTITY, LEAST_BYTES
from service.api.faults import DEPTH_LIMIT
from service.api.operations import BODY_LIMIT, Operation
from service.api.problems import PROBLEM_TYPE, TITLES, Problem
from service.api.query import properties_of

JsonObject = dict[str, Any]
_REF: Final = "#/components/schemas/{name}"
_NOT_JSON: Final = f"The body is not {JSON_TYPE} in UTF-8, or has a content coding."
_COMMON: Final = {
    400: "The request breaks its schema; errors lists every fault.",
    406: "The request accepts no form or content coding in which this address answers.",
    500: "The service failed.",
}
_SPENT: Final[JsonObject] = {
    spent.HEADER: {
        "description": "What the answer took, in milliseconds, by step ("
        + "; ".join(f"`{step}`: {meaning}" for step, meaning in spent.STEPS.items())
        + "), and whether it was kept: `cache` with `hit`, `miss`, or `joined` where another request was finding it.",
        "schema": {"type": "string"},
    }
}
_HEADERS: Final[JsonObject] = {
    "ETag": {
        "description": "Strong tag of the answer, another one for each content coding.",
        "schema": {"type": "string"},
    },
    "Cache-Control": {
        "description": "A pinned answer may be kept a day; others are to be asked for again.",
        "schema": {"type": "string"},
    },
    "Catalog-Release": {"description": "Number of the release answered from.", "schema": {"type": "string"}},
    "Catalog-Stale": {
        "description": "Only where there may be a newer release, because the database cannot be read or what it holds "
        "cannot be loaded: whole seconds since the release answered from was last known to be the newest.",
        "schema": {"type": "string", "pattern": "^[0-9]+$"},
    },
    "Vary": {
        "description": "The fields of the request's head that the answer differs by.",
        "schema": {"type": "string", "const": conditional.VARY},
    },
    **_SPENT,
}
_NEVER: Final[JsonObject] = {
    "Cache-Control": {"description": "Nobody may keep it.", "schema": {"type": "string", "const": conditional.NEVER}}
}
_CODED: Final[JsonObject] = {
    "Content-Encoding": {
        "description": f"The content coding, where there is one: answers of {LEAST_BYTES} bytes and more are coded for "
        "who accepts it.",
        "schema": {"type": "string", "enum": [coding.name for coding in CODINGS if coding is not IDENTITY]},
    }
}
_ACCEPT_ENCODING: Final[JsonObject] = {
    "name": "Accept-Encoding",
    "in": "header",
    "required": False,
    "description": f"Which content codings the answer may have; known are {', '.join(each.name for each in CODINGS)}. "
    "Without it nothing is coded.",
    "schema": {"type": "string"},
}
_IF_NONE_MATCH: Final[JsonObject] = {
    "name": "If-None-Match",
    "in": "header",
    "required": False,
    "description": "ETags of answers at hand; where one of them is still right, 304 says so.",
    "schema": {"type": "string"},
}
_ABOUT: Final = f"""Which parts at the front of an engine go together, what else is needed, and why.

Every answer names the release of the catalog that it follows from and can be pinned to it with `release`.
Fields ending in `_mm` are millimetres. A field without a value is absent, never null.
Errors are problem documents (RFC 9457), `{PROBLEM_TYPE}`, with every fault of the request at once.
Unknown query parameters and fields are refused. A body has at most {BODY_LIMIT} bytes, where its
operation does not say otherwise, and is nested at most
{DEPTH_LIMIT} deep; no name stands twice in one object. HEAD is answered wherever GET is.
An answer that is pinned to a release may be kept a day; any other may be kept too, but is to be asked for again with
its ETag in If-None-Match, and is 304 then while it holds.
Within v1 fields and operations are added, none is taken away and none changes its meaning.

Answers do not replace the engine maker's manual: local codes and a licensed mechanic have the last word.

Kinds of problem: {", ".join(f"`/problems/{slug}`" for slug in TITLES)}; a build's faults have kinds of their own.
"""


def document(operations: Iterable[Operation]) -> JsonObject:
    """The OpenAPI document of these operations, as plain data."""
    operations = list(operations)
    types: list[type] = [Problem]
    paths: dict[str, JsonObject] = {}
    for operation in operations:
        types += [operation.result] if operation.body is None else [operation.body, operation.result]
        paths.setdefault(operation.path, {})[operation.method.lower()] = _operation(operation)
    paths["/metrics"] = {"get": _metrics()}
    _, schemas = msgspec.json.schema_components(list(dict.fromkeys(types)), ref_template=_REF)
    return {
        "openapi": "3.1.0",
        "info": {"title": "Beltplane", "version": PROGRAM_VERSION, "description": _ABOUT},
        "tags": [{"name": name} for name in dict.fromkeys([each.tag for each in operations])],
        "paths": paths,
        "components": {"schemas": _cleaned(dict(sorted(schemas.items())))},
    }


def _operation(operation: Operation) -> JsonObject:
    found: JsonObject = {
        "operationId": operation.name,
        "tags": [operation.tag],
        "summary": operation.summary,
        "parameters": [
            *(_path_parameter(name, wanted) for name, wanted in operation.path_parameters.items()),
            *_query_parameters(operation.query),
            *([_ACCEPT_ENCODING] if operation.cached else []),
            *([_IF_NONE_MATCH] if operation.cached and operation.method == "GET" else []),
        ],
        "responses": _responses(operation),
    }
    if operation.description:
        found["description"] = operation.description
    if operation.body is not None:
        found["requestBody"] = {"required": True, "content": {JSON_TYPE: {"schema": _ref(operation.body)}}}
    return found


def _path_parameter(name: str, wanted: Any) -> JsonObject:
    schema = dict(msgspec.json.schema(wanted))
    return {
        "name": name,
        "in": "path",
        "required": True,
        "description": schema.pop("description"),
        "schema": schema,
    }


def _query_parameters(query: type[msgspec.Struct]) -> Iterable[JsonObject]:
    needed = {field.name for field in msgspec.structs.fields(query) if field.required}
    for name, found in properties_of(query).items():
        schema = dict(found)
        parameter = {"name": name, "in": "query", "required": name in needed}
        if "description" in schema:
            parameter["description"] = schema.pop("description")
        if schema.get("type") == "array":
            parameter |= {"style": "form", "explode": False}
        yield parameter | {"schema": _cleaned(schema)}


def _responses(operation: Operation) -> JsonObject:
    own = {
        name: {"description": description, "schema": {"type": "string"}}
        for name, description in operation.headers.items()
    }
    answered: JsonObject = {
        "description": "The answer.",
        "headers": _HEADERS | _CODED | own if operation.cached else _NEVER | _SPENT,
        "content": {JSON_TYPE: {"schema": _ref(operation.result)}}
        | {media_type: {"schema": {"type": "string"}} for media_type in operation.other_types},
    }
    if operation.links:
        answered["links"] = dict(operation.links)
    responses: JsonObject = {"200": answered}
    if operation.cached and operation.method == "GET":
        responses["304"] = {
            "description": "Nothing has changed since the ETag in If-None-Match.",
            "headers": _HEADERS | own,
        }
    problems: Mapping[int, str] = _COMMON | _of_body(operation) | dict(operation.problems)
    for status in sorted(problems):
        responses[str(status)] = {
            "description": problems[status],
            "content": {PROBLEM_TYPE: {"schema": _ref(Problem)}},
        }
    return responses


def _of_body(operation: Operation) -> dict[int, str]:
    """The problems that a body brings with it."""
    if operation.body is None:
        return {}
    return {413: f"The body has more than {operation.body_limit} bytes.", 415: _NOT_JSON}


def _metrics() -> JsonObject:
    return {
        "operationId": "metrics",
        "tags": ["health"],
        "summary": "Measurements of the service, in the text form of Prometheus",
        "parameters": [],
        "responses": {
            "200": {
                "description": "The measurements.",
                "content": {"text/plain": {"schema": {"type": "string"}}},
            }
        },
    }


def _ref(struct: type[msgspec.Struct]) -> JsonObject:
    return {"$ref": _REF.format(name=struct.__name__)}


def _cleaned(value: Any) -> Any:
    """The schema with its descriptions as running text."""
    if isinstance(value, dict):
        return {
            name: inspect.cleandoc(item) if name == "description" and isinstance(item, str) else _cleaned(item)
            for name, item in value.items()
        }
    return [_cleaned(item) for item in value] if isinstance(value, list) else value
