"""Content codings: which one a request is answered in, and bytes in it (RFC 9110, sections 8.4 and 12.5.3)."""

import re
import zlib
from collections.abc import Callable
from functools import lru_cache, partial
from typing import Final

import msgspec
import zstandard

from service.api.negotiation import QUALITY

LEAST_BYTES: Final = 1_000
"""Shorter answers are sent as they are: they fit into one packet either way."""
_LEVEL: Final = 3
_GZIP_WINDOW: Final = 31
"""What zlib calls a window of 32 kB in the frame of gzip (RFC 1952), without a name or a time."""
_ENTRY: Final = re.compile(r"\s*([A-Za-z0-9!#$%&'*+.^_`|~-]+)\s*(?:;\s*(.*))?")


class Coding(msgspec.Struct, frozen=True):
    """A content coding as it is applied here."""

    name: str
    """As `Content-Encoding` has it."""
    label: str
    """All that its bytes follow from besides the content: a strong tag must tell one library's from another's."""
    encode: Callable[[bytes], bytes]
    decode: Callable[[bytes], bytes]
    least: int = LEAST_BYTES
    """Content of fewer bytes is left as it is."""


IDENTITY: Final = Coding("identity", "identity", bytes, bytes)
GZIP: Final = Coding(
    "gzip",
    f"gzip {zlib.ZLIB_RUNTIME_VERSION} {_LEVEL}",
    partial(zlib.compress, level=_LEVEL, wbits=_GZIP_WINDOW),
    partial(zlib.decompress, wbits=_GZIP_WINDOW),
)
ZSTD: Final = Coding(
    "zstd",
    f"zstd {'.'.join(map(str, zstandard.ZSTD_VERSION))} {_LEVEL}",
    partial(zstandard.compress, level=_LEVEL),
    zstandard.decompress,
)
CODINGS: Final = (ZSTD, GZIP, IDENTITY)
"""Of those that a request likes equally well, the first is taken."""
_ALWAYS: Final = {
    coding.name: msgspec.structs.replace(coding, label=f"{coding.label} always", least=0) for coding in (ZSTD, GZIP)
}
"""The same for whoever takes nothing uncoded, however short; with a tag of its own, as the bytes may differ."""


@lru_cache(maxsize=1024)
def coding_for(accept_encoding: str | None) -> Coding | None:
    """The coding that an `Accept-Encoding` header asks for; None where there is none that it lets through.

    Without the header, or where it is empty, nothing is coded. What is not of its grammar is passed over.
    """
    if accept_encoding is None or not accept_encoding.strip():
        return IDENTITY
    stated = _qualities(accept_encoding)
    others = stated.get("*")
    # Where nothing is said of it, what is not coded is let through, behind all that is named.
    plain = stated.get("identity", 0.0005 if others is None else others)
    wanted = {
        ZSTD.name: stated.get(ZSTD.name, others or 0.0),
        GZIP.name: stated.get(GZIP.name, stated.get("x-gzip", others or 0.0)),
        IDENTITY.name: plain,
    }
    best = max(CODINGS, key=lambda coding: wanted[coding.name])
    if wanted[best.name] == 0:
        return None
    return _ALWAYS[best.name] if plain == 0 else best


def _qualities(header: str) -> dict[str, float]:
    found: dict[str, float] = {}
    for entry in header.split(","):
        read = _ENTRY.fullmatch(entry)
        if read is None:
            continue
        weight = 1.0
        if read[2] is not None:
            stated = QUALITY.fullmatch(read[2].strip())
            if stated is None:
                continue
            weight = float(stated[1])
        found[read[1].lower()] = min(weight, 1.0)
    return found
