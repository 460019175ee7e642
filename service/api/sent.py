"""A whole response as an ASGI application: Litestar's own does more than is needed, and takes longer for it."""

from collections.abc import Mapping
from typing import NamedTuple

from litestar.types import Receive, Scope, Send


class Sent(NamedTuple):
    """Status, fields of the head, and body; to be sent at once."""

    status: int
    headers: list[tuple[bytes, bytes]]
    body: bytes

    @classmethod
    def of(cls, body: bytes, media_type: str, headers: Mapping[str, str]) -> "Sent":
        """A response that answers. Text is in UTF-8 and says so."""
        content_type = f"{media_type}; charset=utf-8" if media_type.startswith("text/") else media_type
        lines = _encoded(headers)
        lines += (b"content-type", content_type.encode()), (b"content-length", b"%d" % len(body))
        return cls(200, lines, body)

    @classmethod
    def unchanged(cls, headers: Mapping[str, str]) -> "Sent":
        """304: what the asker has is right (RFC 9110, section 15.4.5)."""
        return cls(304, _encoded(headers), b"")

    async def __call__(self, _: Scope, __: Receive, send: Send, /) -> None:
        """Send it."""
        await send({"type": "http.response.start", "status": self.status, "headers": self.headers})
        await send({"type": "http.response.body", "body": self.body, "more_body": False})


def _encoded(headers: Mapping[str, str]) -> list[tuple[bytes, bytes]]:
    return [(name.lower().encode(), value.encode("latin-1")) for name, value in headers.items()]
