"""The schema as one page for people: plain HTML without scripts, so that it needs no network."""

import base64
import hashlib
import re
from collections.abc import Iterable, Iterator
from html import escape
from typing import Any, Final

_STYLE: Final = (
    "body{font:16px/1.5 system-ui,sans-serif;max-width:60rem;margin:2rem auto;padding:0 1rem;color:#222;"
    "background:#fff}h2{border-bottom:1px solid #ccc;margin-top:2.5rem}code{font-size:.9em;overflow-wrap:anywhere}"
    "table{border-collapse:collapse;width:100%}td,th{border:1px solid #ccc;padding:.3rem .5rem;text-align:left;"
    "vertical-align:top}section{margin:1.5rem 0}nav li{list-style:none}"
)
CONTENT_SECURITY_POLICY: Final = (
    "default-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'; style-src 'sha256-"
    + base64.b64encode(hashlib.sha256(_STYLE.encode()).digest()).decode()
    + "'"
)

_LIMITS: Final = {
    "minimum": "from",
    "maximum": "to",
    "maxItems": "at most",
    "maxLength": "length at most",
    "pattern": "like",
}


def page(document: dict[str, Any]) -> str:
    """The OpenAPI document as HTML."""
    info = document["info"]
    title = escape(f"{info['title']} {info['version']}")
    return whole_page(
        title,
        [
            *(f"<p>{text(paragraph)}</p>" for paragraph in info["description"].strip().split("\n\n")),
            '<p>The same for programs: <a href="/schema/openapi.json">openapi.json</a>. '
            'What each reason in an answer means: <a href="/schema/reasons">reasons</a>.</p>',
            "<h2>Addresses</h2>",
            *_operations(document["paths"]),
            "<h2>Structures</h2>",
            *_schemas(document["components"]["schemas"]),
        ],
    )


def whole_page(title: str, lines: Iterable[str]) -> str:
    """A page with this title, which is HTML already."""
    return "\n".join(
        [
            '<!doctype html><html lang="en"><head><meta charset="utf-8">',
            '<meta name="viewport" content="width=device-width">',
            f"<title>{title}</title><style>{_STYLE}</style></head><body><h1>{title}</h1>",
            *lines,
            "</body></html>",
        ]
    )


def _operations(paths: dict[str, Any]) -> Iterator[str]:
    for path, methods in paths.items():
        for method, operation in methods.items():
            yield f'<section id="{escape(operation["operationId"])}">'
            yield f"<h3>{method.upper()} <code>{escape(path)}</code></h3>"
            yield f"<p>{text(operation['summary'])}. {text(operation.get('description', ''))}</p>"
            rows = [
                (item["name"], _type(item["schema"]), _needed(item["required"]), item.get("description", ""))
                for item in operation["parameters"]
            ]
            yield from _table(("parameter", "value", "", "meaning"), rows)
            if "requestBody" in operation:
                (content,) = operation["requestBody"]["content"].values()
                yield f"<p>Body: {_type(content['schema'])}</p>"
            yield from _table(("status", "body", "", "meaning"), [*_responses(operation["responses"])])
            yield "</section>"


def _responses(responses: dict[str, Any]) -> Iterator[tuple[str, str, str, str]]:
    for status, found in responses.items():
        bodies = (_type(item["schema"]) for item in found.get("content", {}).values())
        yield status, " or ".join(bodies), "", found["description"]


def _schemas(schemas: dict[str, Any]) -> Iterator[str]:
    for name, schema in schemas.items():
        yield f'<section id="schema-{escape(name)}"><h3>{escape(name)}</h3>'
        yield f"<p>{text(schema.get('description', ''))}</p>"
        needed = schema.get("required", ())
        rows = [
            (field, _type(found), _needed(field in needed), found.get("description", ""))
            for field, found in schema.get("properties", {}).items()
        ]
        yield from _table(("field", "value", "", "meaning"), rows)
        yield "</section>"


def _table(heads: tuple[str, ...], rows: list[tuple[str, str, str, str]]) -> Iterator[str]:
    if rows:
        yield "<table><tr>" + "".join(f"<th>{head}</th>" for head in heads) + "</tr>"
        for name, value, needed, meaning in rows:
            cells = (f"<code>{escape(name)}</code>", value, needed, text(meaning))
            yield "<tr>" + "".join(f"<td>{cell}</td>" for cell in cells) + "</tr>"
        yield "</table>"


def _needed(needed: bool) -> str:
    return "required" if needed else ""


def _type(schema: dict[str, Any]) -> str:
    """A schema in words, as HTML."""
    if "$ref" in schema:
        name = escape(schema["$ref"].rpartition("/")[2])
        return f'<a href="#schema-{name}">{name}</a>'
    for alternatives in ("anyOf", "allOf"):
        if alternatives in schema:
            return " or ".join(_type(item) for item in schema[alternatives])
    if "enum" in schema:
        return " | ".join(f"<code>{escape(str(item))}</code>" for item in schema["enum"])
    words = escape(schema.get("type", "anything"))
    if schema.get("type") == "array":
        words = f"list of {_type(schema.get('items', {}))}"
    elif isinstance(schema.get("additionalProperties"), dict):
        words = f"object of {_type(schema['additionalProperties'])}"
    said = [f"{word} <code>{escape(str(schema[name]))}</code>" for name, word in _LIMITS.items() if name in schema]
    default = schema.get("default")
    if default not in (None, [], {}):
        said.append(f"else <code>{escape(str(default))}</code>")
    return " ".join([words, *said])


def text(text: str) -> str:
    """Running text as HTML, with what stands between backticks as code."""
    return re.sub(r"`([^`]*)`", r"<code>\1</code>", escape(text))
