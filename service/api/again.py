"""The short way: a request that says the same as one before it is answered from what is kept.

It goes past the router, the threads and the checks, since all that these look at is in what is compared: address,
query, body, and the fields of the head that an answer follows from. What was learnt of a request holds while the same
release answers and is known to be the newest; then the long way is gone again, and finds the answer by its tag.
"""

import hashlib
from collections.abc import Hashable, Iterable
from typing import Any, Final, NamedTuple

from litestar.types import Receive

from service.api import conditional, spent
from service.api.kept import Kept, Known
from service.api.live import Live
from service.api.operations import BODY_LIMIT

TAG: Final = "beltplane.tag"
"""Where the long way leaves, in the ASGI scope, the tag under which its answer is kept."""
ROUTE: Final = "path_template"
"""Where the router leaves the template of the route."""
_FIELDS: Final = (b"accept", b"accept-encoding", b"content-type", b"content-encoding")
_OWN: Final = (spent.HEADER.lower().encode(),)
_HIT: Final = (spent.HEADER.lower().encode(), spent.HIT.encode())
_STALE: Final = b"catalog-stale"
_NOT_IN_304: Final = (b"content-type", b"content-length", b"content-encoding")
Headers = list[tuple[bytes, bytes]]


class Question(NamedTuple):
    """What a request says, as far as its answer follows from it."""

    key: Hashable
    size: int
    """About what the key takes, in bytes."""
    serial: int
    """Which switch the release that answers came by, when the request was read."""
    if_none_match: str | None


class Again(NamedTuple):
    """Requests that were answered before."""

    live: Live
    kept: Kept

    async def read(self, scope: dict[str, Any], receive: Receive) -> tuple[Question | None, Receive]:
        """The question of a request, with what gives its body once more; None where it goes the long way anyhow."""
        serial = self.live.serial()
        method = scope["method"]
        if not serial or not self.kept.limit or method not in ("GET", "HEAD", "POST"):
            return None, receive
        fields: dict[bytes, bytes] = {}
        for name, value in scope["headers"]:
            fields[name] = fields[name] + b", " + value if name in fields else value
        body = b""
        if method == "POST":
            if not _is_short(fields.get(b"content-length")):
                return None, receive
            read = await _body(receive)
            body, receive = hashlib.sha256(read.content).digest() if read.whole else b"", read.again
            if not read.whole:
                return None, receive
        said = tuple(fields.get(name) for name in _FIELDS)
        key = (method == "POST", scope["path"], scope["query_string"], body, said)
        size = len(scope["path"]) + len(scope["query_string"]) + sum(len(text) for text in said if text)
        matches = fields.get(b"if-none-match")
        return Question(key, size, serial, None if matches is None else matches.decode("latin-1")), receive

    def answer(self, question: Question, method: str) -> tuple[int, Headers, bytes, str] | None:
        """Status, head, body and route of what is kept; None where it goes the long way."""
        known = self.kept.known(question.key)
        if known is None or known.serial != question.serial:
            return None
        if method != "POST" and conditional.matches(question.if_none_match, known.tag):
            self.kept.count(hit=True)
            headers = [pair for pair in known.headers if pair[0] not in _NOT_IN_304]
            return 304, [*headers, _HIT], b"", known.route
        content = self.kept.content(known.tag)
        if content is None:
            return None
        self.kept.count(hit=True)
        return 200, [*known.headers, _HIT], content.body, known.route

    def learn(
        self, question: Question, scope: dict[str, Any], status: int, headers: Iterable[tuple[bytes, bytes]]
    ) -> None:
        """Remember how a request was answered, if what it was answered with is kept."""
        own = tuple((name, value) for name, value in headers if name not in _OWN)
        # An answer that says how stale it is was given while the newest release was not known to answer.
        if status != 200 or TAG not in scope or any(name == _STALE for name, _ in own):
            return
        size = question.size + sum(len(name) + len(value) + 100 for name, value in own)
        self.kept.keep(question.key, Known(scope[TAG], own, question.serial, scope.get(ROUTE, "")), size)


class _Read(NamedTuple):
    content: bytes
    whole: bool
    again: Receive


def _is_short(content_length: bytes | None) -> bool:
    return content_length is not None and content_length.isdigit() and int(content_length) <= BODY_LIMIT


async def _body(receive: Receive) -> _Read:
    """The body of a request, and what gives its messages once more before all that follow."""
    messages: list[Any] = []
    content = b""
    while True:
        message = await receive()
        messages.append(message)
        if message["type"] != "http.request":
            break
        content += message.get("body", b"")
        if not message.get("more_body") or len(content) > BODY_LIMIT:
            break
    last = messages[-1]
    whole = last["type"] == "http.request" and not last.get("more_body")
    left = iter(messages)

    async def again() -> Any:
        for message in left:
            return message
        return await receive()

    return _Read(content, whole, again)
