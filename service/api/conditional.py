"""Entity tags and what a cache may keep (RFC 9110 section 13, RFC 9111)."""

import hashlib
import re
from typing import Final

VARY: Final = "Accept, Accept-Encoding"
PINNED: Final = "public, max-age=86400"
UNPINNED: Final = "no-cache"
"""A new program may word a sentence better and a new release may say more, so it is asked again each time."""
NEVER: Final = "no-store"
_TAG: Final = re.compile(r'(?:W/)?("[^"]*")')


def entity_tag(*parts: str | bytes) -> str:
    """A strong tag over everything that the bytes of an answer follow from."""
    digest = hashlib.sha256()
    for part in parts:
        data = part.encode() if isinstance(part, str) else part
        digest.update(len(data).to_bytes(8, "big") + data)
    return f'"{digest.hexdigest()[:32]}"'


def matches(if_none_match: str | None, tag: str) -> bool:
    """Whether an `If-None-Match` header names this tag (weak comparison, as RFC 9110 has it)."""
    if if_none_match is None:
        return False
    return if_none_match.strip() == "*" or tag in _TAG.findall(if_none_match)
