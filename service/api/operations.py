"""What an operation of the API is: the one description that routing, checking and the OpenAPI document share."""

from collections.abc import Callable, Mapping
from typing import Annotated, Any, Final, Literal

import msgspec
from msgspec import UNSET, Meta, UnsetType

from catalog.domain import Release
from catalog.vocabulary import PART_NUMBER
from service.api.live import Live
from service.api.render import Detail, Units
from service.fit.graph import ConstraintGraph

BODY_LIMIT: Final = 64 * 1024
"""Bytes that a request's body may have."""
RELEASE_PATTERN: Final = r"^([1-9][0-9]{0,8}|[A-Za-z][A-Za-z0-9._-]{0,39})$"
ReleaseReference = Annotated[
    str, Meta(pattern=RELEASE_PATTERN, description="A release by number or name; `latest` is the newest.")
]
PathPart = Annotated[str, Meta(pattern=PART_NUMBER, description="A part number or an alias, in any case.")]
PathConnection = Annotated[str, Meta(pattern=r"^[a-z][a-z0-9_]{0,79}$", description="A connection's name.")]


class NoQuery(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The query of an operation that takes none."""


class CatalogQuery(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The query of every operation that answers from the catalog."""

    release: (
        Annotated[
            str,
            Meta(
                pattern=RELEASE_PATTERN,
                description="The release to answer from, by number or name; the newest where it is left out "
                "or `latest`.",
            ),
        ]
        | UnsetType
    ) = UNSET
    units: Annotated[
        Units, Meta(description="Units of the sentences; fields ending in `_mm` are millimetres always.")
    ] = "mm"
    detail: Annotated[
        Detail, Meta(description="`brief` leaves out sentences, alternatives and what facts rest on.")
    ] = "full"

    @property
    def reference(self) -> str | None:
        """The release asked for; None for the newest."""
        return None if self.release is UNSET or self.release == "latest" else self.release


class Asked(msgspec.Struct, frozen=True):
    """A request that has been read and found whole."""

    live: Live
    query: Any
    """An instance of the operation's query struct."""
    path: Mapping[str, str]
    body: Any = None
    accept: str | None = None
    """The request's `Accept` header."""


class Text(msgspec.Struct, frozen=True):
    """An answer that is no JSON: its text, sent in UTF-8, and its media type."""

    text: str
    media_type: str


class Reply(msgspec.Struct, frozen=True):
    """What an operation answers.

    `key` is everything besides the release that the answer follows from; with it an unchanged answer
    need not be worked out again. `release` is absent where the answer follows from none.
    """

    make: Callable[[], msgspec.Struct | Text]
    release: Release | None = None
    key: tuple[str, ...] | None = None
    pinned: bool = False
    headers: Mapping[str, str] = {}
    """Fields of the response's head besides those that every answer has."""


class Operation(msgspec.Struct, frozen=True, kw_only=True):
    """One method at one address."""

    method: Literal["GET", "POST"]
    path: str
    name: str
    """The OpenAPI operationId."""
    summary: str
    description: str = ""
    tag: str
    answer: Callable[[Asked], Reply]
    result: type[msgspec.Struct]
    other_types: tuple[str, ...] = ()
    """Media types besides JSON in which it can answer, as text."""
    query: type[msgspec.Struct] = NoQuery
    path_parameters: Mapping[str, Any] = {}
    cached: bool = True
    """Whether an answer may be kept by anyone; one that may not has no tag and is not coded."""
    body: type[msgspec.Struct] | None = None
    body_limit: int = BODY_LIMIT
    """Bytes that its body may have."""
    ahead: Callable[[Asked, ConstraintGraph], Reply] | None = None
    """The same answer from a release that does not answer yet, for those that follow from the release alone."""
    problems: Mapping[int, str] = {}
    """Statuses of its own problems, each with when it comes."""
    links: Mapping[str, Mapping[str, Any]] = {}
    headers: Mapping[str, str] = {}
    """What each field of the response's head says that this operation has besides the usual ones."""


FROM_THE_CATALOG: Final = {
    404: "There is no such release.",
    410: "The release was withdrawn.",
    503: "The catalog cannot be read.",
}
