"""One request and its response: read the whole of it, answer or refuse, in one way for every operation."""

from asyncio import get_running_loop
from collections.abc import Callable, Coroutine
from concurrent.futures import ThreadPoolExecutor
from typing import Any, Final

from litestar import Request
from litestar.handlers import HTTPRouteHandler

from service.api import conditional
from service.api.ahead import make_ahead
from service.api.answering import JSON_TYPE, Answering, basis_of
from service.api.elsewhere import with_releases
from service.api.faults import InvalidRequest, Wrong, faults_of, parse_json
from service.api.faults import checked as converted
from service.api.kept import BeingMade, Kept, MakeAhead
from service.api.live import Live
from service.api.negotiation import accepts, field, is_json
from service.api.operations import Asked, Operation, Reply
from service.api.problems import Refusal
from service.api.query import read_query
from service.api.sent import Sent
from service.api.spent import Spent
from service.fit.build import BuildError

ANSWERS_AT_ONCE: Final = 16
"""Further requests wait: more threads would make none of them quicker, and all of them hungrier."""
_THREADS: Final = ThreadPoolExecutor(ANSWERS_AT_ONCE, "answering")


def handler(operation: Operation, live: Live, kept: Kept) -> HTTPRouteHandler:
    """The operation as a route of Litestar."""

    async def handle(request: Request[Any, Any, Any]) -> Sent:
        spent = Spent()
        accept = field(request.headers, "accept")
        known = (JSON_TYPE, *operation.other_types)
        if not any(accepts(accept, media_type) for media_type in known):
            raise Refusal("not-acceptable", f"This address answers {' or '.join(known)} only.")
        answering = Answering(request, kept, spent)
        asked = await _read(operation, request, live, accept)
        spent.mark("decode")
        while True:
            try:
                return await get_running_loop().run_in_executor(_THREADS, _respond, operation, asked, answering, kept)
            except BeingMade as being_made:
                await answering.wait_for(being_made)

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


def _typed(handle: Callable[..., Coroutine[Any, Any, Sent]]) -> Callable[..., Any]:
    """The handler with annotations that Litestar can read whatever module asks for them."""
    handle.__annotations__ = {"request": Request, "return": Sent}
    return handle


async def _read(operation: Operation, request: Request[Any, Any, Any], live: Live, accept: str | None) -> Asked:
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
    return Asked(live=live, query=query, path=path, body=body, accept=accept)


def _check_form(request: Request[Any, Any, Any]) -> None:
    if not is_json(request.headers.get("content-type")):
        raise Refusal("unsupported-media-type", f"Send the body as {JSON_TYPE}, in UTF-8.")
    if request.headers.get("content-encoding", "identity").strip().lower() != "identity":
        raise Refusal("unsupported-media-type", "Send the body without a content coding.")


def _respond(operation: Operation, asked: Asked, answering: Answering, kept: Kept) -> Sent:
    answering.spent.mark("wait")
    try:
        reply = operation.answer(asked)
        if not operation.cached:
            return answering.uncached(answering.plain(reply.make))
        ahead = None if reply.pinned else make_ahead(operation, asked, answering.coding, kept)
        return _answered(reply, asked.live, answering, ahead)
    except BuildError as error:
        raise with_releases(asked.live, error) from None


def _answered(reply: Reply, live: Live, answering: Answering, ahead: MakeAhead | None) -> Sent:
    headers = {"Cache-Control": conditional.PINNED if reply.pinned else conditional.UNPINNED}
    standing = live.standing()
    if standing.stale and not reply.pinned:
        headers["Catalog-Stale"] = str(int(standing.age))
    if reply.release is not None:
        headers["Catalog-Release"] = str(reply.release.number)
    headers.update(reply.headers)
    if reply.key is None:
        content = answering.plain(reply.make)
        return answering.cached(lambda: content, (content.body,), headers, learn=False)
    basis = basis_of(reply, reply.key)
    return answering.cached(lambda: answering.plain(reply.make), basis, headers, learn=True, ahead=ahead)
