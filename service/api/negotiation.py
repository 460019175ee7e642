"""What a request accepts and what its body is (RFC 9110, sections 8.3 and 12.5.1)."""

import re
from typing import Final, Protocol

QUALITY: Final = re.compile(r"q\s*=\s*([01](?:\.\d{0,3})?)", re.IGNORECASE)


class Fields(Protocol):
    """The fields of a request's head."""

    def getall(self, key: str, default: list[str], /) -> list[str]:
        """Every line of a field."""


def field(fields: Fields, name: str) -> str | None:
    """A field of a request's head, its lines as one (RFC 9110, section 5.3); None where it is absent."""
    lines = fields.getall(name, [])
    return ", ".join(lines) if lines else None


def accepts(header: str | None, media_type: str) -> bool:
    """Whether an `Accept` header lets `media_type` through; one that is absent or empty lets all through."""
    if header is None or not header.strip():
        return True
    kind = media_type.partition("/")[0]
    rank_of = {media_type: 3, f"{kind}/*": 2, "*/*": 1}
    best, quality = 0, 0.0
    for entry in header.split(","):
        name, *parameters = entry.split(";")
        rank = rank_of.get(name.strip().lower(), 0)
        stated = next((found for found in map(QUALITY.fullmatch, map(str.strip, parameters)) if found), None)
        value = float(stated[1]) if stated else 1.0
        if rank > best or (rank == best and rank and value > quality):
            best, quality = rank, value
    return quality > 0


def is_json(header: str | None) -> bool:
    """Whether a `Content-Type` header says JSON in UTF-8."""
    name, *parameters = (header or "").split(";")
    if name.strip().lower() != "application/json":
        return False
    for parameter in parameters:
        key, _, value = parameter.partition("=")
        if key.strip().lower() == "charset" and value.strip().strip('"').lower() not in ("utf-8", "utf8"):
            return False
    return True
