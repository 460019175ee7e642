"""What the service answers about changes: between two releases, and of one part over all of them."""

from typing import Annotated, Any

from msgspec import UNSET, Meta, UnsetType

from catalog.what_changed import Subject, What
from service.api.wire import ReleaseName, Text, Wire

Value = Annotated[
    Any, Meta(description="As the part, connection or rule itself has it; absent where there is none on this side.")
]


class FieldChange(Wire, frozen=True, kw_only=True):
    """One thing that is said otherwise."""

    field: Annotated[str, Meta(description="`price`, `bands` ..., or with a name: `measures.belt_plane`.")]
    before: Value | UnsetType = UNSET
    after: Value | UnsetType = UNSET


class Change(Wire, frozen=True, kw_only=True):
    """All that changes of one part, connection or rule."""

    subject: Annotated[Subject, Meta(description="What it is that changes.")]
    name: Annotated[str, Meta(description="Its number or name.")]
    title: Annotated[str, Meta(description="What people call it.")]
    what: Annotated[What, Meta(description="What becomes of it; `restored` is a retired part offered again.")]
    fields: Annotated[list[FieldChange], Meta(description="What a revision changes; empty of what is new or gone.")]
    replaced_by: Annotated[str, Meta(description="The part that takes the place of a retired one.")] | UnsetType = UNSET
    text: Text | UnsetType = UNSET


class Changes(Wire, frozen=True, kw_only=True):
    """What one release says otherwise than another."""

    release: Annotated[ReleaseName, Meta(description="The release asked about.")]
    since: (
        Annotated[ReleaseName, Meta(description="The release it is compared with; absent for the first one.")]
        | UnsetType
    ) = UNSET
    total: Annotated[int, Meta(ge=0, description="All changes, on this page or not.")]
    changes: Annotated[list[Change], Meta(description="Parts, then connections, then rules, each by name.")]
    next: Annotated[str, Meta(description="The cursor of the next page; absent on the last.")] | UnsetType = UNSET
    text: Text | UnsetType = UNSET


class ReleaseChanges(Wire, frozen=True, kw_only=True):
    """What one release changed of a part."""

    release: Annotated[ReleaseName, Meta(description="The release that changed it.")]
    published_on: Annotated[str, Meta(description="The day it was published (ISO 8601).")]
    changes: Annotated[list[Change], Meta(description="Of the part itself, then of rules that name it.")]


class History(Wire, frozen=True, kw_only=True):
    """Every release that changed a part, or a rule that names it."""

    release: Annotated[ReleaseName, Meta(description="The release up to which it is told.")]
    number: Annotated[str, Meta(description="The part's number.")]
    name: Annotated[str, Meta(description="What the catalog calls it.")]
    total: Annotated[int, Meta(ge=0, description="Releases that changed it, listed or not.")]
    history: Annotated[
        list[ReleaseChanges],
        Meta(description="The newest first; for older ones than `limit` lists, ask with an older `release`."),
    ]
