"""From whatever was raised to a problem document, and what of it goes to the log."""

import logging
from typing import Any, Final
from urllib.parse import quote

import msgspec
from litestar import Request, Response
from litestar.exceptions import HTTPException
from msgspec import UNSET

from catalog.database import DatabaseFault
from catalog.releases import UnknownRelease, WithdrawnRelease
from service.api import conditional
from service.api.faults import InvalidRequest
from service.api.problems import PROBLEM_TYPE, ProblemError, Refusal
from service.fit.build import BuildError

REQUEST_ID: Final = "beltplane.request_id"
"""Where the ASGI scope keeps the id of the request."""
RETRY: Final = {"Retry-After": "5"}
log: Final = logging.getLogger("beltplane")


def refuse(request: Request[Any, Any, Any], error: Exception) -> Response[bytes]:
    """The problem document for an exception; one that nobody foresaw is logged and says nothing of its inside."""
    request_id = str(request.scope.get(REQUEST_ID, ""))
    status, headers, content = document(error, request.scope["path"], request_id)
    return Response(content, status_code=status, headers=headers, media_type=PROBLEM_TYPE)


def document(error: Exception, path: str, request_id: str) -> tuple[int, dict[str, str], bytes]:
    """Status, headers and body of the problem document for an exception."""
    refusal = _refusal(error)
    if refusal.status == 500:
        log.error("request %s failed", request_id, exc_info=error)
    elif refusal.status > 500:
        log.warning("request %s failed: %s", request_id, error)
    problem = refusal.problem(quote(path, errors="replace"), request_id)
    headers = {"Cache-Control": conditional.NEVER, "Vary": conditional.VARY} | refusal.headers
    return refusal.status, headers, msgspec.json.encode(problem)


def _refusal(error: Exception) -> Refusal:
    match error:
        case Refusal():
            return error
        case InvalidRequest():
            errors = [ProblemError(pointer=fault.pointer, message=fault.message) for fault in error.faults]
            messages = [f"{fault.pointer} {fault.message}".strip() for fault in errors]
            return Refusal("invalid-request", _detail(messages), errors=errors)
        case BuildError():
            return _faulty_build(error)
        case UnknownRelease() if error.reference is not None:
            return Refusal("unknown-release", str(error))
        case WithdrawnRelease():
            return Refusal("withdrawn-release", str(error))
        case UnknownRelease() | DatabaseFault():
            return Refusal("catalog-unavailable", "The catalog cannot be read; /readyz says why.", headers=RETRY)
        case HTTPException():
            return Refusal.of_status(error.status_code, dict(error.headers or {}))
        case _:
            return Refusal("internal-error", "The service failed; its log has more under the request id.")


def _faulty_build(error: BuildError) -> Refusal:
    slugs = list(dict.fromkeys(fault.slug for fault in error.faults))
    errors = [
        ProblemError(
            pointer=fault.pointer,
            message=fault.message,
            type=f"/problems/{fault.slug}",
            nearest=list(fault.nearest) or UNSET,
            releases=list(fault.releases) or UNSET,
        )
        for fault in error.faults
    ]
    slug = slugs[0] if len(slugs) == 1 else error.slug
    return Refusal(slug, _detail([fault.message for fault in error.faults]), errors=errors, status=422)


def _detail(messages: list[str]) -> str:
    if len(messages) == 1:
        return messages[0][:1].upper() + messages[0][1:]
    return f"There are {len(messages)} faults; errors lists each."
