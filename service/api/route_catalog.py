"""What the catalog knows: its parts, its connections, its releases."""

import base64
import binascii
import hashlib
from bisect import bisect_right
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Annotated, Final

import msgspec
from msgspec import UNSET, Meta, UnsetType

from catalog.domain import Kind, Part, Release, Snapshot
from service.api import render, render_catalog, wire_catalog
from service.api.elsewhere import MOST_RELEASES, found_in
from service.api.operations import (
    FROM_THE_CATALOG,
    Asked,
    CatalogQuery,
    NoQuery,
    Operation,
    PathConnection,
    PathPart,
    ReleaseReference,
    Reply,
)
from service.api.problems import ProblemError, Refusal
from service.fit.readings import nearest_references

_encode = msgspec.json.Encoder(order="deterministic").encode


class PartsQuery(CatalogQuery, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Which parts, and which page of them."""

    kind: Annotated[Kind, Meta(description="Parts of this kind only.")] | UnsetType = UNSET
    q: (
        Annotated[
            str,
            Meta(min_length=1, max_length=80, description="Parts with this in a number, an alias or the name only."),
        ]
        | UnsetType
    ) = UNSET
    limit: Annotated[int, Meta(ge=1, le=200, description="Parts on a page.")] = 50
    cursor: (
        Annotated[
            str,
            Meta(
                pattern="^[A-Za-z0-9_-]{1,400}$",
                description="`next` of the page before; it holds for the same release, kind and q only.",
            ),
        ]
        | UnsetType
    ) = UNSET


class Cursor(msgspec.Struct, frozen=True, array_like=True):
    """Where the next page starts: of which release, under which filter, after which part."""

    release: int
    filter: str
    after: str

    def text(self) -> str:
        """The cursor as the API hands it out."""
        return base64.urlsafe_b64encode(msgspec.json.encode(self)).decode().rstrip("=")

    @classmethod
    def parse(cls, text: str, of: str = "parts") -> "Cursor":
        """The cursor of a text that the API handed out; any other is refused."""
        try:
            return msgspec.json.decode(base64.urlsafe_b64decode(text + "=" * (-len(text) % 4)), type=cls)
        except (binascii.Error, ValueError):
            raise wrong_cursor(f"This is no cursor that a page of {of} handed out.") from None


def wrong_cursor(detail: str) -> Refusal:
    """The refusal of a cursor that does not belong to the question."""
    return Refusal("wrong-cursor", detail, errors=[ProblemError(pointer="/cursor", message=detail)])


def _filter_hash(query: PartsQuery) -> str:
    words = _encode([query.kind if query.kind is not UNSET else "", query.q if query.q is not UNSET else ""])
    return hashlib.sha256(words).hexdigest()[:16]


def _list_parts(asked: Asked) -> Reply:
    query: PartsQuery = asked.query
    cursor = None if query.cursor is UNSET else Cursor.parse(query.cursor)
    if cursor is not None and cursor.filter != _filter_hash(query):
        raise wrong_cursor("The cursor belongs to another kind or q.")
    # A cursor keeps to the release of its first page, so that paging never tears when a new one is published.
    reference = query.reference if cursor is None or query.reference is not None else str(cursor.release)
    snapshot = asked.live.graph(reference).snapshot
    if cursor is not None and cursor.release != snapshot.release.number:
        raise wrong_cursor("The cursor belongs to another release.")
    return _reply(query, snapshot, lambda: _page(query, snapshot, cursor), "parts", pinned=reference is not None)


def _page(query: PartsQuery, snapshot: Snapshot, cursor: Cursor | None) -> wire_catalog.PartsPage:
    parts = [snapshot.parts[number] for number in sorted(snapshot.parts)]
    found = [part for part in parts if _wanted(part, query)]
    start = 0 if cursor is None else bisect_right([part.number for part in found], cursor.after)
    page = found[start : start + query.limit]
    more = start + query.limit < len(found)
    manner = _manner(query, snapshot)
    return wire_catalog.PartsPage(
        release=render.release_name(snapshot.release),
        parts=[
            render_catalog.part(part, snapshot.rules, manner, snapshot.retired_in.get(part.number)) for part in page
        ],
        next=Cursor(snapshot.release.number, _filter_hash(query), page[-1].number).text() if more else UNSET,
    )


def _wanted(part: Part, query: PartsQuery) -> bool:
    if query.kind is not UNSET and part.kind != query.kind:
        return False
    return query.q is UNSET or any(
        query.q.casefold() in text.casefold() for text in (part.number, part.name, *part.aliases)
    )


def find_part(asked: Asked, snapshot: Snapshot) -> Part:
    """The part of the path's number or alias; a refusal names the nearest, and releases that hold it."""
    number = asked.path["number"]
    part = snapshot.find(number)
    if part is None:
        releases = asked.live.releases_holding([number]).get(number.casefold(), [])
        message = f'There is no part "{number}" in release {snapshot.release.number}.' + found_in(releases)
        nearest = list(nearest_references(snapshot, number))
        errors = [
            ProblemError(
                pointer="/number",
                message=message,
                nearest=nearest or UNSET,
                releases=releases[-MOST_RELEASES:] or UNSET,
            )
        ]
        raise Refusal("unknown-part", message, errors=errors)
    return part


def _get_part(asked: Asked) -> Reply:
    query: CatalogQuery = asked.query
    snapshot = asked.live.graph(query.reference).snapshot
    part = find_part(asked, snapshot)
    retired_in = snapshot.retired_in.get(part.number)

    def make() -> wire_catalog.PartAnswer:
        found = render_catalog.part(part, snapshot.rules, _manner(query, snapshot), retired_in)
        return wire_catalog.PartAnswer(**render.with_release(found, snapshot.release))

    reply = _reply(query, snapshot, make, "part", part.number)
    if retired_in is None:
        return reply
    pin = "" if query.reference is None else f"?release={snapshot.release.number}"
    return msgspec.structs.replace(reply, headers=_notice(part, snapshot, retired_in, pin))


def _notice(part: Part, snapshot: Snapshot, retired_in: Release, pin: str) -> dict[str, str]:
    """What the response's head says of a retired part.

    `Deprecation` (RFC 9745) has the day as a date of RFC 9651, the relation `deprecation` leads to why, and
    `successor-version` (RFC 5829) to what takes its place.
    """
    day = datetime.fromisoformat(retired_in.published_on).replace(tzinfo=UTC)
    links = [f'</v1/parts/{part.number}/history{pin}>; rel="deprecation"; type="application/json"']
    instead = [rule.others for rule in snapshot.rules if rule.kind == "replaced_by" and rule.part == part.number]
    links += [f'</v1/parts/{number}{pin}>; rel="successor-version"' for number, *_ in instead[:1]]
    return {"Deprecation": f"@{int(day.timestamp())}", "Link": ", ".join(links)}


def _list_connections(asked: Asked) -> Reply:
    query: CatalogQuery = asked.query
    snapshot = asked.live.graph(query.reference).snapshot

    def make() -> wire_catalog.Connections:
        return wire_catalog.Connections(
            release=render.release_name(snapshot.release),
            connections=[
                render_catalog.connection(snapshot.connections[name]) for name in sorted(snapshot.connections)
            ],
        )

    return _reply(query, snapshot, make, "connections")


def _get_connection(asked: Asked) -> Reply:
    query: CatalogQuery = asked.query
    snapshot = asked.live.graph(query.reference).snapshot
    found = snapshot.connections.get(asked.path["name"])
    if found is None:
        message = f'There is no connection "{asked.path["name"]}" in release {snapshot.release.number}.'
        raise Refusal("unknown-connection", message, errors=[ProblemError(pointer="/name", message=message)])

    def make() -> wire_catalog.ConnectionAnswer:
        return wire_catalog.ConnectionAnswer(**render.with_release(render_catalog.connection(found), snapshot.release))

    return _reply(query, snapshot, make, "connection", found.name)


def _reply(
    query: CatalogQuery,
    snapshot: Snapshot,
    make: Callable[[], msgspec.Struct],
    *key: str,
    pinned: bool | None = None,
) -> Reply:
    return Reply(
        make=make,
        release=snapshot.release,
        key=(*key, _encode(msgspec.structs.replace(query, release=UNSET)).decode()),
        pinned=query.reference is not None if pinned is None else pinned,
    )


def _manner(query: CatalogQuery, snapshot: Snapshot) -> render.Manner:
    return render.Manner(units=query.units, detail=query.detail, currency=snapshot.currency)


def _list_releases(asked: Asked) -> Reply:
    releases = asked.live.releases()
    return Reply(make=lambda: wire_catalog.Releases(releases=[release_on_the_wire(release) for release in releases]))


def _get_release(asked: Asked) -> Reply:
    reference = asked.path["number"]
    release = asked.live.graph(reference).snapshot.release
    return Reply(
        make=lambda: release_on_the_wire(release), release=release, key=("release",), pinned=reference != "latest"
    )


def release_on_the_wire(release: Release) -> wire_catalog.Release:
    """A release as it is answered."""
    return wire_catalog.Release(
        number=release.number,
        name=release.name,
        digest=release.digest,
        published_on=release.published_on,
        note=release.note,
        seal=release.seal or UNSET,
    )


OPERATIONS: Final = (
    Operation(
        method="GET",
        path="/v1/parts",
        name="list_parts",
        tag="parts",
        summary="The parts of a release, page by page",
        answer=_list_parts,
        query=PartsQuery,
        result=wire_catalog.PartsPage,
        problems=FROM_THE_CATALOG | {422: "The cursor belongs to another question, or is none."},
        links={
            "next_page": {"operationId": "list_parts", "parameters": {"query.cursor": "$response.body#/next"}},
            "first_part": {
                "operationId": "get_part",
                "parameters": {"path.number": "$response.body#/parts/0/number"},
            },
        },
    ),
    Operation(
        method="GET",
        path="/v1/parts/{number}",
        name="get_part",
        tag="parts",
        summary="One part, by its number or an alias, in any case",
        answer=_get_part,
        query=CatalogQuery,
        path_parameters={"number": PathPart},
        result=wire_catalog.PartAnswer,
        headers={
            "Deprecation": "Of a retired part: the day since which it is so (RFC 9745), as `@` and seconds since 1970.",
            "Link": "Of a retired part: its history (`deprecation`) and what takes its place (`successor-version`).",
        },
        problems=FROM_THE_CATALOG | {404: "There is no such part (errors names the nearest) or no such release."},
    ),
    Operation(
        method="GET",
        path="/v1/connections",
        name="list_connections",
        tag="connections",
        summary="Every way in which two parts meet",
        answer=_list_connections,
        query=CatalogQuery,
        result=wire_catalog.Connections,
        problems=FROM_THE_CATALOG,
        links={
            "first_connection": {
                "operationId": "get_connection",
                "parameters": {"path.name": "$response.body#/connections/0/name"},
            }
        },
    ),
    Operation(
        method="GET",
        path="/v1/connections/{name}",
        name="get_connection",
        tag="connections",
        summary="One connection",
        answer=_get_connection,
        query=CatalogQuery,
        path_parameters={"name": PathConnection},
        result=wire_catalog.ConnectionAnswer,
        problems=FROM_THE_CATALOG | {404: "There is no such connection or no such release."},
    ),
    Operation(
        method="GET",
        path="/v1/releases",
        name="list_releases",
        tag="releases",
        summary="Every published release, the oldest first",
        answer=_list_releases,
        query=NoQuery,
        result=wire_catalog.Releases,
        problems={503: FROM_THE_CATALOG[503]},
        links={
            "first_release": {
                "operationId": "get_release",
                "parameters": {"path.number": "$response.body#/releases/0/number"},
            }
        },
    ),
    Operation(
        method="GET",
        path="/v1/releases/{number}",
        name="get_release",
        tag="releases",
        summary="One release, by its number or name",
        answer=_get_release,
        path_parameters={"number": ReleaseReference},
        result=wire_catalog.Release,
        problems=FROM_THE_CATALOG,
    ),
)
