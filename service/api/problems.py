"""Problem documents (RFC 9457): every way in which the service says no."""

from typing import Annotated, Final

import msgspec
from msgspec import UNSET, Meta, UnsetType

PROBLEM_TYPE: Final = "application/problem+json"


class ProblemError(msgspec.Struct, frozen=True, kw_only=True):
    """One fault of a request."""

    pointer: Annotated[
        str,
        Meta(
            description="JSON pointer (RFC 6901) into the body, or into the object that the parameters make; "
            "empty for the whole."
        ),
    ]
    message: Annotated[str, Meta(description="What is wrong there, in one sentence.")]
    type: (
        Annotated[str, Meta(description="The problem's type, where one document holds faults of several types.")]
        | UnsetType
    ) = UNSET
    nearest: Annotated[list[str], Meta(description="What there is that comes nearest, best first.")] | UnsetType = UNSET
    releases: (
        Annotated[
            list[int],
            Meta(
                description="Releases that hold the part that the one asked does not, the oldest first; the newest "
                "100 of them. Absent where no release holds it."
            ),
        ]
        | UnsetType
    ) = UNSET


class Problem(msgspec.Struct, frozen=True, kw_only=True):
    """A problem document (RFC 9457). `type` is stable; sentences may change."""

    type: Annotated[str, Meta(description="The kind of problem, `/problems/<slug>`; a relative reference.")]
    title: Annotated[str, Meta(description="The kind of problem in words; the same for every case of it.")]
    status: Annotated[int, Meta(ge=400, le=599, description="The HTTP status of the response.")]
    detail: Annotated[str, Meta(description="What is wrong in this case.")]
    instance: Annotated[str, Meta(description="The path that was asked.")]
    errors: Annotated[list[ProblemError], Meta(description="Every fault of the request.")] | UnsetType = UNSET
    request_id: (
        Annotated[str, Meta(description="Names this request in the service's log (status 500 only).")] | UnsetType
    ) = UNSET


TITLES: Final = {
    "invalid-request": (400, "The request breaks its schema"),
    "not-found": (404, "There is nothing at this address"),
    "unknown-release": (404, "There is no such release"),
    "unknown-part": (404, "There is no such part"),
    "unknown-connection": (404, "There is no such connection"),
    "method-not-allowed": (405, "This address does not take this method"),
    "not-acceptable": (406, "No answer in a form that the request accepts"),
    "withdrawn-release": (410, "The release was withdrawn"),
    "body-too-large": (413, "The body is too large"),
    "unsupported-media-type": (415, "The body is not in a form that this address takes"),
    "wrong-cursor": (422, "The cursor belongs to another question"),
    "faulty-build": (422, "The build names what is not so"),
    "faulty-evidence": (422, "The identification names what is not so"),
    "internal-error": (500, "The service failed"),
    "catalog-unavailable": (503, "The catalog cannot be read"),
}
"""Slug, status and title of every problem; a build's faults add their own slugs at status 422."""
_OF_STATUS: Final = {status: slug for slug, (status, _) in reversed(TITLES.items())} | {404: "not-found"}


class Refusal(Exception):
    """A request that gets a problem document instead of an answer."""

    def __init__(
        self,
        slug: str,
        detail: str,
        *,
        errors: list[ProblemError] | None = None,
        status: int | None = None,
        headers: dict[str, str] | None = None,
    ) -> None:
        super().__init__(detail)
        self.slug = slug
        self.detail = detail
        self.errors = errors or []
        self.status = status or TITLES[slug][0]
        self.headers = headers or {}

    @classmethod
    def of_status(cls, status: int, headers: dict[str, str] | None = None) -> "Refusal":
        """A refusal of which only the HTTP status is known."""
        slug = _OF_STATUS.get(status, "invalid-request" if status < 500 else "internal-error")
        return cls(slug, TITLES[slug][1] + ".", status=status, headers=headers)

    def problem(self, instance: str, request_id: str) -> Problem:
        """The problem document of this refusal."""
        return Problem(
            type=f"/problems/{self.slug}",
            title=TITLES[self.slug][1] if self.slug in TITLES else self.slug.replace("-", " ").capitalize(),
            status=self.status,
            detail=self.detail,
            instance=instance,
            errors=self.errors or UNSET,
            request_id=request_id if self.status == 500 else UNSET,
        )
