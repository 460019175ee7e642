"""Reading what a request says, with every fault of it at once.

msgspec stops at the first fault, so a value that does not convert is walked along the JSON Schema that
msgspec makes of its type: the same schema that the OpenAPI document shows.
"""

import json
import math
import re
from collections.abc import Callable, Iterator, Mapping
from functools import cache
from typing import Any, Final, TypeVar

import msgspec

from catalog.standards.flares import SIZE
from catalog.units import LENGTH_PATTERN, parse_length
from catalog.vocabulary import PART_NUMBER
from service.fit.build import HEATER, LENGTH_NOT_NEGATIVE

T = TypeVar("T")
Schema = Mapping[str, Any]
DEPTH_LIMIT = 32
_TYPES: Mapping[str, tuple[str, Callable[[Any], bool]]] = {
    "object": ("an object", lambda value: isinstance(value, dict)),
    "array": ("a list", lambda value: isinstance(value, list)),
    "string": ("text", lambda value: isinstance(value, str)),
    "boolean": ("true or false", lambda value: isinstance(value, bool)),
    "integer": ("a whole number", lambda value: isinstance(value, int) and not isinstance(value, bool)),
    "number": ("a number", lambda value: isinstance(value, int | float) and not isinstance(value, bool)),
}


class Wrong(msgspec.Struct, frozen=True):
    """One fault: a JSON pointer to the place and a sentence."""

    pointer: str
    message: str


class InvalidRequest(Exception):
    """A request breaks its schema; `faults` lists every place."""

    def __init__(self, faults: list[Wrong]) -> None:
        super().__init__("; ".join(f"{fault.pointer}: {fault.message}" for fault in faults))
        self.faults = faults


def parse_json(body: bytes) -> Any:
    """The value of a JSON text (RFC 8259), strictly.

    Raises
    ------
    InvalidRequest
        For bytes that are not UTF-8, a lone surrogate, NaN and Infinity, a number beyond a double,
        a name twice in one object, and nesting deeper than 32.
    """
    try:
        text = body.decode("utf-8")
    except UnicodeDecodeError as error:
        raise InvalidRequest([Wrong("", f"the body is not UTF-8 (byte {error.start})")]) from None
    if _depth(text) > DEPTH_LIMIT:
        raise InvalidRequest([Wrong("", f"the body is nested deeper than {DEPTH_LIMIT}")])
    try:
        value = json.loads(text, object_pairs_hook=_object, parse_constant=_no_constant, parse_float=number)
        if "\\u" in text:
            json.dumps(value, ensure_ascii=False).encode()
    except json.JSONDecodeError as error:
        raise InvalidRequest(
            [Wrong("", f"the body is not JSON: {error.msg} (line {error.lineno}, column {error.colno})")]
        ) from None
    except UnicodeEncodeError:
        raise InvalidRequest([Wrong("", "the body holds half of a surrogate pair")]) from None
    except ValueError as error:
        raise InvalidRequest([Wrong("", f"the body is not JSON as RFC 8259 has it: {error}")]) from None
    return value


def number(text: str) -> int | float:
    """A JSON number; one without a fraction is whole, however it is written (JSON Schema counts 10.0 as such)."""
    value = float(text)
    if not math.isfinite(value):
        raise ValueError(f"{text[:40]} is beyond what a number can be")
    return int(value) if value.is_integer() and abs(value) < 2**53 else value


def checked(value: Any, wanted: type[T], pointer: str = "") -> T:
    """The value as a `wanted` struct.

    Raises
    ------
    InvalidRequest
        With every fault of the value.
    """
    try:
        return msgspec.convert(value, wanted)
    except msgspec.ValidationError as error:
        found = faults_of(value, wanted, pointer)
        raise InvalidRequest(found or [Wrong(pointer, str(error))]) from None


def faults_of(value: Any, wanted: Any, pointer: str = "") -> list[Wrong]:
    """Every fault of a decoded value against a type, in the order of the value."""
    schema = schema_of(wanted)
    return list(_walk(value, schema, schema.get("$defs", {}), pointer))


@cache
def schema_of(wanted: Any) -> Schema:
    """The JSON Schema of a type, as msgspec makes it."""
    return msgspec.json.schema(wanted)


def _walk(value: Any, schema: Schema, known: Schema, pointer: str) -> Iterator[Wrong]:
    if "$ref" in schema:
        yield from _walk(value, known[schema["$ref"].rpartition("/")[2]], known, pointer)
    elif "anyOf" in schema:
        yield from _walk_either(value, schema["anyOf"], known, pointer)
    elif "type" in schema and not _TYPES[schema["type"]][1](value):
        yield Wrong(pointer, f"must be {_TYPES[schema['type']][0]}")
    elif "enum" in schema and value not in schema["enum"]:
        yield Wrong(pointer, f"must be one of {', '.join(map(str, schema['enum']))}")
    else:
        yield from _limits(value, schema, pointer)
        if isinstance(value, dict):
            yield from _walk_object(value, schema, known, pointer)
        elif isinstance(value, list) and "items" in schema:
            for place, item in enumerate(value):
                yield from _walk(item, schema["items"], known, f"{pointer}/{place}")


def _walk_either(value: Any, branches: list[Schema], known: Schema, pointer: str) -> Iterator[Wrong]:
    words = []
    for branch in branches:
        plain = known[branch["$ref"].rpartition("/")[2]] if "$ref" in branch else branch
        word, holds = _TYPES[plain["type"]]
        if holds(value):
            yield from _walk(value, plain, known, pointer)
            return
        words.append(word)
    yield Wrong(pointer, f"must be {' or '.join(words)}")


def _walk_object(value: dict[str, Any], schema: Schema, known: Schema, pointer: str) -> Iterator[Wrong]:
    properties: Schema = schema.get("properties", {})
    others = schema.get("additionalProperties", True)
    for name, item in value.items():
        place = f"{pointer}/{escaped(name)}"
        if name in properties:
            yield from _walk(item, properties[name], known, place)
        elif others is False:
            yield Wrong(place, f"is not known here; known are {', '.join(properties)}")
        elif isinstance(others, dict):
            yield from _limits(name, schema.get("propertyNames", {}), place)
            yield from _walk(item, others, known, place)
    for name in schema.get("required", ()):
        if name not in value:
            yield Wrong(f"{pointer}/{escaped(name)}", "is required")


def _limits(value: Any, schema: Schema, pointer: str) -> Iterator[Wrong]:
    if isinstance(value, str):
        if len(value) < schema.get("minLength", 0):
            yield Wrong(pointer, "must not be empty")
        elif len(value) > schema.get("maxLength", math.inf):
            yield Wrong(pointer, f"must have at most {schema['maxLength']} characters")
        elif "pattern" in schema and re.search(schema["pattern"], value) is None:
            yield Wrong(pointer, _pattern_message(value, schema["pattern"]))
    elif isinstance(value, list | dict):
        most = schema.get("maxItems" if isinstance(value, list) else "maxProperties", math.inf)
        if len(value) > most:
            yield Wrong(pointer, f"must have at most {most} entries")
    elif isinstance(value, int | float):
        if value < schema.get("minimum", -math.inf):
            yield Wrong(pointer, f"must be at least {schema['minimum']}")
        elif value > schema.get("maximum", math.inf):
            yield Wrong(pointer, f"must be at most {schema['maximum']}")


def _pattern_message(value: str, pattern: str) -> str:
    if pattern == LENGTH_PATTERN:
        try:
            parse_length(value)
        except ValueError as error:
            return str(error)
    return _PATTERNS.get(pattern, f"must match {pattern}")


_PATTERNS: Final = {
    PART_NUMBER: "must be a part number: up to 40 letters, digits, full stops, _ and -, a letter or a digit first",
    LENGTH_NOT_NEGATIVE: 'must be a length that is not negative, with its unit: "270 mm", "14.6 cm" or "5 3/4 in"',
    SIZE: 'must be a size: "1 1/2 in hose", "38 mm hose" or "-16"',
    HEATER: 'must be a heater core\'s part number, a size such as "5/8 in hose" or "-8", or "none"',
}
"""What a pattern asks for, in words."""


def escaped(name: str) -> str:
    """A name as one step of a JSON pointer (RFC 6901)."""
    return name.replace("~", "~0").replace("/", "~1")


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    value = dict(pairs)
    if len(value) < len(pairs):
        names = [name for name, _ in pairs]
        raise ValueError(f'"{next(name for name in names if names.count(name) > 1)[:80]}" stands twice in one object')
    return value


def _no_constant(name: str) -> None:
    raise ValueError(f"{name} is no number")


def _depth(text: str) -> int:
    """How deep arrays and objects are nested; 0 where there are too few of them for that to matter."""
    if text.count("[") + text.count("{") <= DEPTH_LIMIT:
        return 0  # Whatever of them stands in strings, it is not too deep.
    depth = deepest = 0
    for token in re.finditer(r'"(?:[^"\\]|\\.)*"?|[\[{]|[\]}]', text):
        if token[0] in ("[", "{"):
            depth += 1
            deepest = max(deepest, depth)
        elif token[0] in ("]", "}"):
            depth -= 1
    return deepest
