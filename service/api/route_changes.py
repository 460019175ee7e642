"""What changed: between two releases, and of one part over all of them."""

from bisect import bisect_right
from typing import Annotated, Final

import msgspec
from msgspec import UNSET, Meta, UnsetType

from catalog.domain import Release, Snapshot
from catalog.history import history_of
from catalog.what_changed import Change, changes_between
from service.api import render, render_changes, wire_changes
from service.api.operations import (
    FROM_THE_CATALOG,
    RELEASE_PATTERN,
    Asked,
    CatalogQuery,
    Operation,
    PathPart,
    ReleaseReference,
    Reply,
)
from service.api.render import Detail, Units
from service.api.route_catalog import Cursor, find_part, wrong_cursor
from service.fit import wording

ORDER: Final = ("part", "connection", "rule")


class ChangesQuery(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """With which release to compare, and which page of the changes."""

    since: (
        Annotated[
            str,
            Meta(
                pattern=RELEASE_PATTERN,
                description="The release to compare with, by number or name, older or newer; the one before it where "
                "it is left out.",
            ),
        ]
        | UnsetType
    ) = UNSET
    units: Annotated[Units, Meta(description="Units of the sentences.")] = "mm"
    detail: Annotated[Detail, Meta(description="`brief` leaves out sentences and what facts rest on.")] = "full"
    limit: Annotated[int, Meta(ge=1, le=500, description="Changes on a page.")] = 100
    cursor: (
        Annotated[
            str,
            Meta(
                pattern="^[A-Za-z0-9_-]{1,400}$",
                description="`next` of the page before; it holds for the same two releases only.",
            ),
        ]
        | UnsetType
    ) = UNSET


class HistoryQuery(CatalogQuery, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Up to which release, and how much of it."""

    limit: Annotated[int, Meta(ge=1, le=500, description="Releases listed, the newest ones.")] = 50


def _changes(asked: Asked) -> Reply:
    query: ChangesQuery = asked.query
    reference = asked.path["number"]
    after = asked.live.graph(reference).snapshot
    before = _before(asked, after)
    since = None if before is None else before.release
    pinned = reference != "latest" and query.since != "latest"
    question = f"since {'' if since is None else since.digest}"
    cursor = None if query.cursor is UNSET else Cursor.parse(query.cursor, "changes")
    if cursor is not None and (cursor.filter, cursor.release) != (question, after.release.number):
        raise wrong_cursor("The cursor belongs to two other releases.")

    def make() -> wire_changes.Changes:
        return _page(query, before, after, question, cursor)

    # The whole release that it is compared with, as for the other: a number may come again with another name.
    compared = "" if since is None else msgspec.json.encode(since).decode()
    key = ("changes", compared, msgspec.json.encode(query).decode())
    return Reply(make=make, release=after.release, key=key, pinned=pinned)


def _before(asked: Asked, after: Snapshot) -> Snapshot | None:
    """The snapshot to compare with: the one asked for, else the one published before; None where there is none."""
    if asked.query.since is not UNSET:
        return asked.live.graph(asked.query.since).snapshot
    older = [release.number for release in asked.live.releases() if release.number < after.release.number]
    return asked.live.graph(str(older[-1])).snapshot if older else None


def _page(
    query: ChangesQuery, before: Snapshot | None, after: Snapshot, question: str, cursor: Cursor | None
) -> wire_changes.Changes:
    manner = render.Manner(units=query.units, detail=query.detail, currency=after.currency)
    changes = changes_between(before, after)
    start = 0 if cursor is None else bisect_right([_place(change) for change in changes], cursor.after)
    page = changes[start : start + query.limit]
    more = start + query.limit < len(changes)
    since = None if before is None else before.release
    return wire_changes.Changes(
        release=render.release_name(after.release),
        since=UNSET if since is None else render.release_name(since),
        total=len(changes),
        changes=[render_changes.change(change, manner) for change in page],
        next=Cursor(after.release.number, question, _place(page[-1])).text() if more else UNSET,
        text=wording.changes_text(changes, since, after.release) if manner.full else UNSET,
    )


def _place(change: Change) -> str:
    """Where a change stands: texts in the order of the changes."""
    return f"{ORDER.index(change.subject)}{change.name}"


def _history(asked: Asked) -> Reply:
    query: HistoryQuery = asked.query
    snapshot = asked.live.graph(query.reference).snapshot
    part = find_part(asked, snapshot)
    with asked.live.reading() as connection:
        found = history_of(connection, part.number, snapshot.release.number)
    manner = render.Manner(units=query.units, detail=query.detail, currency=snapshot.currency)
    history = wire_changes.History(
        release=render.release_name(snapshot.release),
        number=part.number,
        name=part.name,
        total=len(found),
        history=[_entry(release, changes, manner) for release, changes in found[: -query.limit - 1 : -1]],
    )
    # Without a key: it follows from every release up to this one, so its tag is taken from the answer itself.
    return Reply(make=lambda: history, release=snapshot.release)


def _entry(release: Release, changes: list[Change], manner: render.Manner) -> wire_changes.ReleaseChanges:
    return wire_changes.ReleaseChanges(
        release=render.release_name(release),
        published_on=release.published_on,
        changes=[render_changes.change(change, manner) for change in changes],
    )


OPERATIONS: Final = (
    Operation(
        method="GET",
        path="/v1/releases/{number}/changes",
        name="list_changes",
        tag="releases",
        summary="What a release says otherwise than another, as data and in sentences",
        answer=_changes,
        path_parameters={"number": ReleaseReference},
        query=ChangesQuery,
        result=wire_changes.Changes,
        problems=FROM_THE_CATALOG | {422: "The cursor belongs to another question, or is none."},
        links={
            "next_page": {
                "operationId": "list_changes",
                "parameters": {"path.number": "$request.path.number", "query.cursor": "$response.body#/next"},
            }
        },
    ),
    Operation(
        method="GET",
        path="/v1/parts/{number}/history",
        name="get_part_history",
        tag="parts",
        summary="Every release that changed a part or a rule that names it",
        answer=_history,
        path_parameters={"number": PathPart},
        query=HistoryQuery,
        result=wire_changes.History,
        problems=FROM_THE_CATALOG | {404: "There is no such part (errors names the nearest) or no such release."},
    ),
)
