"""A query string as the operation's query struct, with every fault of it at once."""

from typing import Any, TypeVar
from urllib.parse import parse_qsl

import msgspec

from service.api.faults import InvalidRequest, Wrong, checked, escaped, faults_of, number, schema_of

T = TypeVar("T", bound=msgspec.Struct)


def properties_of(query: type[msgspec.Struct]) -> dict[str, Any]:
    """The JSON Schema of each parameter of a query struct, in their order."""
    schema = schema_of(query)
    found: dict[str, Any] = schema["$defs"][query.__name__]["properties"]
    return found


def read_query(query_string: bytes, query: type[T]) -> T:
    """The parameters as a query struct.

    Raises
    ------
    InvalidRequest
        For parameters that are unknown, stand twice or break their schema, and for bytes that are no text.
    """
    try:
        pairs = parse_qsl(query_string.decode("ascii"), keep_blank_values=True, errors="strict")
    except ValueError:
        raise InvalidRequest([Wrong("", "the query string is not UTF-8, percent-encoded")]) from None
    properties = properties_of(query)
    values: dict[str, Any] = {}
    wrong: list[Wrong] = []
    for name, text in pairs:
        pointer = f"/{escaped(name)}"
        if name not in properties:
            known = f"; known are {', '.join(properties)}" if properties else ""
            wrong.append(Wrong(pointer, f'there is no query parameter "{name}" here{known}'))
        elif name in values:
            wrong.append(Wrong(pointer, f'the query parameter "{name}" stands twice'))
        else:
            values[name] = _value(text, properties[name])
    if wrong:
        raise InvalidRequest(wrong + faults_of(values, query))
    return checked(values, query)


def _value(text: str, schema: dict[str, Any]) -> Any:
    """The text as the schema's type, or the text itself where it is none of that type."""
    if schema.get("type") == "array":
        return text.split(",") if text else []
    if schema.get("type") in ("integer", "number"):
        try:
            return number(text) if text.strip("0123456789.eE+-") == "" else text
        except ValueError:
            return text
    return text
