"""The edits that a migration can make, as they are written: what may be given, and of what type.

Lengths are strings with a unit ("146 mm", "5 3/4 in"), prices strings with a currency ("149.00 USD").
A field of a revision that is left out stays as it is.
"""

from typing import Annotated, Any, Literal

import msgspec
from msgspec import UNSET, Meta, UnsetType

from catalog.domain import (
    AttributeValue,
    Direction,
    Ease,
    Kind,
    Role,
    RuleKind,
    Seal,
    Side,
    Status,
    Surface,
    TakenWith,
)

Text = Annotated[str, Meta(min_length=1, max_length=400)]


class MeasureGiven(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A measure with more than its nominal length. What is left out is the default of how it was taken."""

    value: str
    plus: str | UnsetType = UNSET
    minus: str | UnsetType = UNSET
    taken_with: TakenWith = "drawing"
    source: Text | UnsetType = UNSET


class BandGiven(msgspec.Struct, frozen=True, forbid_unknown_fields=True, rename={"from_": "from"}):
    """Where a belt can run."""

    from_: str
    to: str
    surface: Surface
    grooves: Annotated[int, Meta(ge=0, le=100)] = 0


class PortGiven(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One part's end of a connection."""

    name: Text
    role: Role
    connection: Text
    end: Text
    channel: Text | None = None
    side: Side | None = None
    direction: Direction | None = None
    wet: bool = False
    gasket: Text | None = None


class CueGiven(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """What a person can see, count or read on a part."""

    name: Text
    question: Text
    answer: Text
    answers: list[Text]
    ease: Ease
    error_percent: Annotated[int, Meta(ge=0, le=100)]


class Gone(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Says in a revision that a port or a cue of this name is gone."""

    name: Text
    gone: Literal[True]


class AddPart(msgspec.Struct, frozen=True, forbid_unknown_fields=True, tag_field="edit", tag="add_part"):
    """A new part with all that is known of it."""

    number: Text
    kind: Kind
    name: Text
    status: Status = "active"
    recommended: bool = False
    price: str | None = None
    aliases: list[Text] = []
    measures: dict[str, str | MeasureGiven] = {}
    attributes: dict[str, AttributeValue] = {}
    bands: list[BandGiven] = []
    ports: list[PortGiven] = []
    cues: list[CueGiven] = []


class RevisePart(msgspec.Struct, frozen=True, forbid_unknown_fields=True, tag_field="edit", tag="revise_part"):
    """What changes of a part. None removes a measure, an attribute or the price; `aliases` and `bands`
    are whole new lists; a port or cue replaces the one of its name, or is `{"name": ..., "gone": True}`.
    """

    number: Text
    kind: Kind | UnsetType = UNSET
    name: Text | UnsetType = UNSET
    status: Status | UnsetType = UNSET
    recommended: bool | UnsetType = UNSET
    price: str | UnsetType | None = UNSET
    aliases: list[Text] | UnsetType = UNSET
    measures: dict[str, str | MeasureGiven | None] = {}
    attributes: dict[str, AttributeValue | None] = {}
    bands: list[BandGiven] | UnsetType = UNSET
    ports: list[dict[str, Any]] = []
    cues: list[dict[str, Any]] = []


class RetirePart(msgspec.Struct, frozen=True, forbid_unknown_fields=True, tag_field="edit", tag="retire_part"):
    """A part that is no longer offered; what is known of it stays."""

    number: Text
    replaced_by: Text | None = None


class RemovePart(msgspec.Struct, frozen=True, forbid_unknown_fields=True, tag_field="edit", tag="remove_part"):
    """A part that is gone with all that is known of it, as if it had never been added; older releases keep it."""

    number: Text


class AddConnection(msgspec.Struct, frozen=True, forbid_unknown_fields=True, tag_field="edit", tag="add_connection"):
    """A new way in which two parts meet; the first end is the one nearer the block."""

    name: Text
    title: Text
    sort: Text
    ends: tuple[Text, Text]
    seal: Seal
    pieces_per_layer: Annotated[int, Meta(ge=1, le=100)] = 1
    gasket: Text | None = None
    bolts: Annotated[int, Meta(ge=0, le=100)] = 0
    size: Text | None = None


class ReviseConnection(
    msgspec.Struct, frozen=True, forbid_unknown_fields=True, tag_field="edit", tag="revise_connection"
):
    """What changes of a connection."""

    name: Text
    title: Text | UnsetType = UNSET
    sort: Text | UnsetType = UNSET
    ends: tuple[Text, Text] | UnsetType = UNSET
    seal: Seal | UnsetType = UNSET
    pieces_per_layer: Annotated[int, Meta(ge=1, le=100)] | UnsetType = UNSET
    gasket: Text | UnsetType | None = UNSET
    bolts: Annotated[int, Meta(ge=0, le=100)] | UnsetType = UNSET
    size: Text | UnsetType | None = UNSET


class RetireConnection(
    msgspec.Struct, frozen=True, forbid_unknown_fields=True, tag_field="edit", tag="retire_connection"
):
    """A connection that is gone."""

    name: Text


class AddRule(msgspec.Struct, frozen=True, forbid_unknown_fields=True, tag_field="edit", tag="add_rule"):
    """A new rule between parts."""

    name: Text
    kind: RuleKind
    part: Text
    others: list[Text]
    settles: list[Text] = []
    source: str = ""


class ReviseRule(msgspec.Struct, frozen=True, forbid_unknown_fields=True, tag_field="edit", tag="revise_rule"):
    """What changes of a rule."""

    name: Text
    kind: RuleKind | UnsetType = UNSET
    part: Text | UnsetType = UNSET
    others: list[Text] | UnsetType = UNSET
    settles: list[Text] | UnsetType = UNSET
    source: str | UnsetType = UNSET


class RetireRule(msgspec.Struct, frozen=True, forbid_unknown_fields=True, tag_field="edit", tag="retire_rule"):
    """A rule that is gone."""

    name: Text


Edit = (
    AddPart
    | RevisePart
    | RetirePart
    | RemovePart
    | AddConnection
    | ReviseConnection
    | RetireConnection
    | AddRule
    | ReviseRule
    | RetireRule
)
