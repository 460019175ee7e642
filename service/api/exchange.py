"""One request and its response: read the whole of it, answer or refuse, in one way for every operation."""

from collections.abc import Callable, Coroutine
from functools import partial
from importlib.metadata import version
from typing import Any, Final

import msgspec
from anyio.to_thread import run_sync
from litestar import Request, Response
from litestar.handlers import HTTPRouteHandler

from service.api import conditional
from service.api.elsewhere import with_releases
from service.api.faults import InvalidRequest, Wrong, faults_of, parse_json
from service.api.faults import checked as converted
from service.api.live import Live
from service.api.negotiation import accepts, is_json
from service.api.operations import Asked, Operation, Reply, Text
from service.api.problems import Refusal
from service.api.query import read_query
from service.fit.build import BuildError

JSON_TYPE: Final = "application/json"
PROGRAM_VERSION: Final = version("beltplane")
CODING: Final = "identity"
_encode = msgspec.json.Encoder(order="deterministic").encode


def handler(operation: Operation, live: Live) -> HTTPRouteHandler:
    """The operation as a route of Litestar."""

    async def handle(request: Request[Any, Any, Any]) -> Response[bytes]:
        known = (JSON_TYPE, *operation.other_types)
        if not any(accepts(request.headers.get("accept"), media_type) for media_type in known):
            raise Refusal("not-acceptable", f"This address answers {' or '.join(known)} only.")
        asked = await _read(operation, request, live)
        return await run_sync(partial(_respond, operation, asked, request.headers.get("if-none-match")))

    handle.__doc__ = operation.summary
    return HTTPRouteHandler(
        operation.path.replace("}", ":str}"),
        http_method=operation.method,
        name=operation.name,
        include_in_schema=False,
        status_code=200,
        media_type=JSON_TYPE,
        request_max_body_size=operation.body_limit,
    )(_typed(handle))


def _typed(handle: Callable[..., Coroutine[Any, Any, Response[bytes]]]) -> Callable[..., Any]:
    """The handler with annotations that Litestar can read whatever module asks for them."""
    handle.__annotations__ = {"request": Request, "return": Response}
    return handle


async def _read(operation: Operation, request: Request[Any, Any, Any], live: Live) -> Asked:
    """The request as the operation wants it.

    Raises
    ------
    Refusal, InvalidRequest
        The latter with every fault of path, query and body.
    """
    wrong: list[Wrong] = []
    path = {name: str(request.path_params[name]) for name in operation.path_parameters}
    for name, wanted in operation.path_parameters.items():
        wrong += faults_of(path[name], wanted, f"/{name}")
    query = body = None
    if operation.body is not None:
        _check_form(request)
        try:
            body = converted(parse_json(await request.body()), operation.body)
        except InvalidRequest as invalid:
            wrong += invalid.faults
    try:
        query = read_query(request.scope["query_string"], operation.query)
    except InvalidRequest as invalid:
        wrong += invalid.faults
    if wrong:
        raise InvalidRequest(wrong)
    return Asked(live=live, query=query, path=path, body=body, accept=request.headers.get("accept"))


def _check_form(request: Request[Any, Any, Any]) -> None:
    if not is_json(request.headers.get("content-type")):
        raise Refusal("unsupported-media-type", f"Send the body as {JSON_TYPE}, in UTF-8.")
    if request.headers.get("content-encoding", "identity").strip().lower() != "identity":
        raise Refusal("unsupported-media-type", "Send the body without a content coding.")


def _respond(operation: Operation, asked: Asked, if_none_match: str | None) -> Response[bytes]:
    try:
        return _answered(operation, asked, if_none_match)
    except BuildError as error:
        raise with_releases(asked.live, error) from None


def _answered(operation: Operation, asked: Asked, if_none_match: str | None) -> Response[bytes]:
    reply = operation.answer(asked)
    if not reply.cached:
        return _response(_encode(reply.make()), {"Cache-Control": conditional.NEVER})
    content = None if reply.key is not None else _encode(reply.make())
    tag = _tag(reply, content)
    headers = {
        "ETag": tag,
        "Cache-Control": conditional.PINNED if reply.pinned else conditional.UNPINNED,
        "Vary": conditional.VARY,
    }
    standing = asked.live.standing()
    if standing.stale and not reply.pinned:
        headers["Catalog-Stale"] = str(int(standing.age))
    if reply.release is not None:
        headers["Catalog-Release"] = str(reply.release.number)
    headers.update(reply.headers)
    if operation.method == "GET" and conditional.matches(if_none_match, tag):
        return Response(b"", status_code=304, headers=headers, media_type=JSON_TYPE)
    if content is not None:
        return _response(content, headers)
    made = reply.make()
    return _text(made, headers) if isinstance(made, Text) else _response(_encode(made), headers)


def _tag(reply: Reply, content: bytes | None) -> str:
    if content is not None:
        return conditional.entity_tag(PROGRAM_VERSION, CODING, content)
    digest = reply.release.digest if reply.release else ""
    number = str(reply.release.number) if reply.release else ""
    return conditional.entity_tag(PROGRAM_VERSION, CODING, number, digest, *(reply.key or ()))


def _text(made: Text, headers: dict[str, str]) -> Response[bytes]:
    return Response(made.text.encode(), status_code=200, headers=headers, media_type=made.media_type)


def _response(content: bytes, headers: dict[str, str]) -> Response[bytes]:
    return Response(content, status_code=200, headers=headers, media_type=JSON_TYPE)
