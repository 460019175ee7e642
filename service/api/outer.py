"""Around the whole application, because Litestar's own middleware does not see its 404s and 405s:
request ids, HEAD, the count of requests, and a problem document for what fails outside a route.
"""

import os
import time
from typing import Any, Final

from litestar.types import ASGIApp, Message, Receive, Scope, Send

from service.api.again import ROUTE, Again
from service.api.metrics import UNMATCHED, Metrics
from service.api.problems import PROBLEM_TYPE
from service.api.refusals import REQUEST_ID, document

Headers = list[tuple[bytes, bytes]]
_ALWAYS: Final[Headers] = [(b"x-content-type-options", b"nosniff")]


class Outer:
    """An ASGI application around another."""

    def __init__(self, app: ASGIApp, metrics: Metrics, again: Again) -> None:
        self._app = app
        self._metrics = metrics
        self._again = again

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request, or pass on what is none."""
        inner: dict[str, Any] = {**scope, REQUEST_ID: os.urandom(16).hex()}
        if inner["type"] != "http":
            await self._app(scope, receive, send)
            return
        started = time.perf_counter()
        method: str = inner["method"]
        question, receive = await self._again.read(inner, receive)
        found = None if question is None else self._again.answer(question, method)
        if found is not None:
            status, headers, content, route = found
            sending = _Sending(send, inner[REQUEST_ID], without_body=method == "HEAD")
            await sending.whole(status, headers, content)
            self._metrics.count(route, method, status, time.perf_counter() - started)
            return
        inner["method"] = "GET" if method == "HEAD" else method
        sending = _Sending(send, inner[REQUEST_ID], without_body=method == "HEAD")
        try:
            await self._app(inner, receive, sending)  # type: ignore[arg-type]
        except Exception as error:
            status, said, content = document(error, scope["path"], inner[REQUEST_ID])
            if sending.status:
                raise
            lines = said | {"content-type": PROBLEM_TYPE, "content-length": str(len(content))}
            await sending.whole(
                status, [(name.lower().encode(), value.encode()) for name, value in lines.items()], content
            )
        finally:
            route = inner.get(ROUTE) or UNMATCHED
            self._metrics.count(route, method, sending.status or 500, time.perf_counter() - started)
            if question is not None:
                self._again.learn(question, inner, sending.status, sending.headers)


class _Sending:
    """The way out: adds what every response carries, and leaves out the body of an answer to HEAD."""

    def __init__(self, send: Send, request_id: str, *, without_body: bool) -> None:
        self._send = send
        self._request_id = request_id.encode()
        self._without_body = without_body
        self.status = 0
        self.headers: Headers = []
        """Those of the application, before what every response carries is added."""

    async def __call__(self, message: Message) -> None:
        changed: dict[str, Any] = dict(message)
        if message["type"] == "http.response.start":
            self.status = message["status"]
            self.headers = [(name, _with_head(name, value)) for name, value in message["headers"]]
            changed["headers"] = [*self.headers, (b"x-request-id", self._request_id), *_ALWAYS]
        elif message["type"] == "http.response.body" and self._without_body:
            changed["body"] = b""
        await self._send(changed)  # type: ignore[arg-type]

    async def whole(self, status: int, headers: Headers, content: bytes) -> None:
        """Send a whole response."""
        await self({"type": "http.response.start", "status": status, "headers": headers})
        await self({"type": "http.response.body", "body": content, "more_body": False})


def _with_head(name: bytes, value: bytes) -> bytes:
    """An Allow header that lets GET through lets HEAD through."""
    if name.lower() != b"allow":
        return value
    methods = [method.strip() for method in value.split(b",")]
    if b"GET" not in methods or b"HEAD" in methods:
        return value
    return b", ".join(sorted([*methods, b"HEAD"]))
