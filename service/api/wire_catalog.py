"""What the service answers of the catalog itself: parts, connections, releases; and of its own health."""

from typing import Annotated, Literal

from msgspec import UNSET, Meta, UnsetType

from catalog.domain import Direction, Kind, Role, RuleKind, Seal, Side, Status, Surface, TakenWith
from service.api.wire import Money, ReleaseName, Text, Wire

Millimetres = Annotated[float, Meta(description="Millimetres.")]


class Measure(Wire, frozen=True, kw_only=True):
    """A dimension from one named face to another: it lies in nominal - minus to nominal + plus."""

    nominal_mm: Annotated[float, Meta(description="Millimetres.")]
    plus_mm: Annotated[float, Meta(ge=0, description="What it may be more, mm.")]
    minus_mm: Annotated[float, Meta(ge=0, description="What it may be less, mm.")]
    taken_with: Annotated[TakenWith, Meta(description="How it was measured.")]
    source: Annotated[str, Meta(description="Who says so; absent at detail=brief.")] | UnsetType = UNSET


class Band(Wire, frozen=True, kw_only=True):
    """Where a belt can run: along z from the pump's flange, or from a loose pulley's mounting face."""

    from_mm: Millimetres
    to_mm: Millimetres
    surface: Annotated[Surface, Meta(description="Ribbed or smooth.")]
    grooves: Annotated[int, Meta(ge=0, description="Grooves of a ribbed band; 0 on a smooth one.")]


class Port(Wire, frozen=True, kw_only=True):
    """One part's end of a connection."""

    name: Annotated[str, Meta(description="The port's name on the part.")]
    role: Annotated[Role, Meta(description="What the port is for.")]
    connection: Annotated[str, Meta(description="The connection it is an end of.")]
    end: Annotated[str, Meta(description="Which end of the connection it is.")]
    channel: Annotated[str, Meta(description="Which channel, where a face has two.")] | UnsetType = UNSET
    side: Annotated[Side, Meta(description="As seen from behind the engine.")] | UnsetType = UNSET
    direction: Annotated[Direction, Meta(description="Where it points.")] | UnsetType = UNSET
    wet: Annotated[bool, Meta(description="Whether coolant stands behind it.")]
    gasket: Annotated[str, Meta(description="The gasket that it requires.")] | UnsetType = UNSET


class Rule(Wire, frozen=True, kw_only=True):
    """What is known between parts beyond their measures."""

    name: Annotated[str, Meta(description="The rule's name.")]
    kind: Annotated[RuleKind, Meta(description="What the rule says.")]
    part: Annotated[str, Meta(description="The part that it is said of.")]
    others: Annotated[list[str], Meta(description="The parts that it names besides.")]
    settles: Annotated[list[str], Meta(description="The checks that a tested fit settles.")]
    source: Annotated[str, Meta(description="Who says so; absent at detail=brief.")] | UnsetType = UNSET


class Retired(Wire, frozen=True, kw_only=True):
    """Since when a part is offered no more; `replaced_by` of the part names what takes its place."""

    release: Annotated[ReleaseName, Meta(description="The release that retired it.")]
    on: Annotated[str, Meta(description="The day that release was published (ISO 8601).")]
    text: Text | UnsetType = UNSET


class Part(Wire, frozen=True, kw_only=True):
    """Anything with a part number."""

    number: Annotated[str, Meta(description="The part number.")]
    name: Annotated[str, Meta(description="What the catalog calls it.")]
    kind: Annotated[Kind, Meta(description="Its kind.")]
    status: Annotated[Status, Meta(description="Retired parts are offered no more.")]
    recommended: Annotated[bool, Meta(description="Whether the shop recommends it.")]
    aliases: Annotated[list[str], Meta(description="Other numbers that it is known by.")]
    attributes: Annotated[dict[str, bool | int | str], Meta(description="What is so of it besides its measures.")]
    bands: Annotated[list[Band], Meta(description="Where a belt can run; the first is centred on the belt's plane.")]
    measures: Annotated[dict[str, Measure], Meta(description="Its measures by name.")]
    ports: Annotated[list[Port], Meta(description="Where it meets others.")]
    rules: Annotated[list[Rule], Meta(description="Rules that name it.")]
    price: Annotated[Money, Meta(description="Price of one piece.")] | UnsetType = UNSET
    replaced_by: Annotated[str, Meta(description="The part that takes its place.")] | UnsetType = UNSET
    retired: Annotated[Retired, Meta(description="Since when it is retired; absent while it is not.")] | UnsetType = (
        UNSET
    )


class PartAnswer(Part, frozen=True, kw_only=True):
    """A part, and the release that says so."""

    release: Annotated[ReleaseName, Meta(description="The release that it follows from.")]


class PartsPage(Wire, frozen=True, kw_only=True):
    """One page of the parts of a release, by part number."""

    release: Annotated[ReleaseName, Meta(description="The release that it follows from.")]
    parts: Annotated[list[Part], Meta(description="In the order of their part numbers.")]
    next: Annotated[str, Meta(description="The cursor of the next page; absent on the last.")] | UnsetType = UNSET


class Connection(Wire, frozen=True, kw_only=True):
    """A way in which two parts meet."""

    name: Annotated[str, Meta(description="The connection's name.")]
    title: Annotated[str, Meta(description="The connection in words.")]
    sort: Annotated[str, Meta(description="What sort it is: a face, a hose, a thread ...")]
    ends: Annotated[list[str], Meta(description="Its two ends, the one nearer the block first.")]
    seal: Annotated[Seal, Meta(description="How it seals.")]
    pieces_per_layer: Annotated[int, Meta(ge=1, description="Pieces that make one layer.")]
    gasket: Annotated[str, Meta(description="The gasket of a joint that requires no other.")] | UnsetType = UNSET
    bolts: Annotated[int, Meta(ge=0, description="Bolts that hold it.")]
    size: (
        Annotated[
            str, Meta(description='What people call it: "1 1/2 in hose", "-16", "1/2 in pipe thread", "1 1/2 in bore".')
        ]
        | UnsetType
    ) = UNSET


class ConnectionAnswer(Connection, frozen=True, kw_only=True):
    """A connection, and the release that says so."""

    release: Annotated[ReleaseName, Meta(description="The release that it follows from.")]


class Connections(Wire, frozen=True, kw_only=True):
    """Every connection of a release."""

    release: Annotated[ReleaseName, Meta(description="The release that it follows from.")]
    connections: Annotated[list[Connection], Meta(description="In the order of their names.")]


class Release(ReleaseName, frozen=True, kw_only=True):
    """A published, numbered, immutable state of the catalog."""

    published_on: Annotated[str, Meta(description="The day it was published (ISO 8601).")]
    note: Annotated[str, Meta(description="What changed, in words.")]
    seal: (
        Annotated[
            str,
            Meta(
                description="SHA-256 over what the release says of itself, its digest included, and over the seal of "
                "the release before it. Absent where the release was published by printed statements."
            ),
        ]
        | UnsetType
    ) = UNSET


class Releases(Wire, frozen=True, kw_only=True):
    """Every release of the catalog."""

    releases: Annotated[list[Release], Meta(description="In the order of their numbers.")]


class Alive(Wire, frozen=True, kw_only=True):
    """The process runs."""

    status: Annotated[Literal["alive"], Meta(description="Always `alive`.")]


class Ready(Wire, frozen=True, kw_only=True):
    """A release of the catalog is loaded and verified, and answers."""

    status: Annotated[Literal["ready"], Meta(description="Always `ready`; else a problem document.")]
    release: Annotated[ReleaseName, Meta(description="The release that answers where none is asked for.")]
    newest: Annotated[int, Meta(ge=0, description="Number of the newest release that the database named.")]
    stale: Annotated[
        bool, Meta(description="Whether there may be a newer release than the one that answers; `fault` says why.")
    ]
    age_seconds: Annotated[
        float, Meta(ge=0, description="Seconds since the release that answers was last known to be the newest.")
    ]
    fault: (
        Annotated[
            str,
            Meta(description="Why the database cannot be read, or its newest release not be loaded, in a sentence."),
        ]
        | UnsetType
    ) = UNSET
