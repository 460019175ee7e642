"""The application: every operation as a route, the schema and its page, the metrics, all in the outer wrapper."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import Any, Final

import msgspec
from anyio.to_thread import run_sync
from litestar import Litestar, Request, Response, get, route
from litestar.exceptions import HTTPException
from litestar.handlers import HTTPRouteHandler

from service.api import (
    conditional,
    route_catalog,
    route_changes,
    route_compare,
    route_fits,
    route_health,
    route_identify,
    route_parts,
    route_sheet,
)
from service.api.again import Again
from service.api.answering import JSON_TYPE, Answering
from service.api.exchange import handler
from service.api.kept import Content, Kept
from service.api.live import Live
from service.api.metrics import TEXT_TYPE, Metrics
from service.api.openapi import document
from service.api.operations import BODY_LIMIT, NoQuery, Operation
from service.api.outer import Outer
from service.api.page import CONTENT_SECURITY_POLICY, page
from service.api.query import read_query
from service.api.reasons_page import reasons_page
from service.api.refusals import refuse
from service.api.sent import Sent
from service.api.settings import Settings
from service.api.spent import Spent
from service.api.watch import Watcher

OPERATIONS: Final[tuple[Operation, ...]] = (
    *route_fits.OPERATIONS,
    *route_parts.OPERATIONS,
    *route_compare.OPERATIONS,
    *route_identify.OPERATIONS,
    *route_sheet.OPERATIONS,
    *route_catalog.OPERATIONS,
    *route_changes.OPERATIONS,
    *route_health.OPERATIONS,
)


PAGES: Final = ("/schema", "/schema/openapi.json", "/schema/reasons", "/metrics")
"""Addresses that answer otherwise than an operation does."""


def create_app(settings: Settings, *, alone: bool = False) -> Outer:
    """The ASGI application over the catalog that the settings name.

    It starts even while the catalog cannot be read: `/readyz` says why, and questions are answered once it can.
    `alone` is for a process that does nothing else.
    """
    kept = Kept(settings.cache_mb * 1_000_000)
    live = Live(settings.database, alone=alone, answers=kept.asked_again)
    metrics = Metrics(kept.tally)

    @asynccontextmanager
    async def lifespan(_: Litestar) -> AsyncIterator[None]:
        # Here and not before: each worker process has a watcher of its own.
        watcher = Watcher(live, metrics.stand)
        await run_sync(watcher.start)
        yield
        await run_sync(watcher.stop)
        live.close()
        metrics.close()

    app = Litestar(
        # OPTIONS come first: Litestar adds one of its own to an address that has none yet.
        route_handlers=[
            *_options(),
            *(handler(operation, live, kept) for operation in OPERATIONS),
            *_pages(metrics, live, kept),
        ],
        exception_handlers={HTTPException: refuse, Exception: refuse},
        lifespan=[lifespan],
        openapi_config=None,
        request_max_body_size=BODY_LIMIT,
        logging_config=None,
    )
    return Outer(app, metrics, Again(live, kept))


def _pages(metrics: Metrics, live: Live, kept: Kept) -> list[HTTPRouteHandler]:
    schema = document(OPERATIONS)
    as_json = msgspec.json.format(msgspec.json.encode(schema), indent=1)
    as_html = page(schema).encode()
    reasons_as_html = reasons_page().encode()

    @get("/schema/openapi.json")
    async def openapi_json(request: Request[Any, Any, Any]) -> Sent:
        return _unchanging(request, kept, as_json, JSON_TYPE, {})

    @get("/schema")
    async def schema_page(request: Request[Any, Any, Any]) -> Sent:
        return _unchanging(request, kept, as_html, "text/html", {"Content-Security-Policy": CONTENT_SECURITY_POLICY})

    @get("/schema/reasons")
    async def reasons(request: Request[Any, Any, Any]) -> Sent:
        return _unchanging(
            request, kept, reasons_as_html, "text/html", {"Content-Security-Policy": CONTENT_SECURITY_POLICY}
        )

    @get("/metrics")
    async def measurements(request: Request[Any, Any, Any]) -> Response[bytes]:
        read_query(request.scope["query_string"], NoQuery)
        headers = {"Cache-Control": conditional.NEVER}
        metrics.stand(live.standing())
        return Response(metrics.text(), headers=headers, media_type=TEXT_TYPE)

    return [openapi_json, schema_page, reasons, measurements]


def _options() -> list[HTTPRouteHandler]:
    """OPTIONS of every address; Litestar's own would leave out all methods but the first handler's."""
    methods: dict[str, list[str]] = {path: ["GET"] for path in PAGES}
    for operation in OPERATIONS:
        methods.setdefault(operation.path.replace("}", ":str}"), []).append(operation.method)
    return [_options_of(path, ", ".join(sorted([*found, "OPTIONS"]))) for path, found in methods.items()]


def _options_of(path: str, allow: str) -> HTTPRouteHandler:
    @route(path, http_method=["OPTIONS"], status_code=204)
    async def options() -> Response[None]:
        return Response(None, status_code=204, headers={"Allow": allow})

    return options


def _unchanging(
    request: Request[Any, Any, Any], kept: Kept, content: bytes, media_type: str, headers: dict[str, str]
) -> Sent:
    """Something that changes with the program only."""
    answering = Answering(request, kept, Spent())
    read_query(request.scope["query_string"], NoQuery)
    headers = {"Cache-Control": conditional.UNPINNED} | headers
    return answering.cached(lambda: Content(content, media_type, "identity"), (content,), headers, learn=True)
