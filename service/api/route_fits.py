"""What fits: the main question, asked by POST with a whole build or by GET with its flat fields."""

from typing import Annotated, Any, Final, Literal

import msgspec
from msgspec import UNSET, Meta, UnsetType

from catalog.domain import Direction, Snapshot
from catalog.vocabulary import PART_NUMBER
from service.api import encoded, render, wire
from service.api.faults import checked
from service.api.operations import FROM_THE_CATALOG, Asked, CatalogQuery, Operation, Reply
from service.fit.build import HEATER, LENGTH_NOT_NEGATIVE, Build, BuildError, Fault, PartNumber, RankKey, Work
from service.fit.engine import fit
from service.fit.graph import ConstraintGraph
from service.fit.paths import MOST_PLATES
from service.fit.search import MOST_SEATS
from service.fit.trees import MOST_PARTS
from service.fit.whole import MOST_COMBINATIONS

_encode = msgspec.json.Encoder(order="deterministic").encode
MUST: Final = ("outlet_side", "outlet_direction", "work_at_most", "without")
"""Parameters that are fields of `must`; `price_at_most` is one too, in the catalog's currency."""


LengthParameter = Annotated[
    str, Meta(pattern=LENGTH_NOT_NEGATIVE, max_length=40, description='With its unit, such as "270 mm" or "10 5/8 in".')
]
HeaterParameter = Annotated[
    str,
    Meta(
        pattern=HEATER,
        max_length=40,
        description='A heater core\'s part number, a size such as "5/8 in hose", or "none".',
    ),
]
FanParameter = Annotated[
    str, Meta(pattern=PART_NUMBER, description='A fan\'s part number, "mechanical", "electric" or "none".')
]


class FitsQuery(CatalogQuery, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """The flat fields of a build as parameters."""

    engine: PartNumber
    accessory_drive: PartNumber | UnsetType = UNSET
    front_cover: PartNumber | UnsetType = UNSET
    pump: PartNumber | UnsetType = UNSET
    pulley: PartNumber | UnsetType = UNSET
    crank_pulley: PartNumber | UnsetType = UNSET
    radiator: PartNumber | UnsetType = UNSET
    core_distance: LengthParameter | UnsetType = UNSET
    heater: HeaterParameter | UnsetType = UNSET
    fan: FanParameter | UnsetType = UNSET
    pump_drive: Literal["belt", "remote"] | UnsetType = UNSET
    have: (
        Annotated[list[PartNumber], Meta(max_length=100, description="Pieces at hand, one entry a piece.")] | UnsetType
    ) = UNSET
    outlet_side: Literal["left", "right"] | UnsetType = UNSET
    outlet_direction: Direction | UnsetType = UNSET
    work_at_most: Work | UnsetType = UNSET
    price_at_most: (
        Annotated[
            float, Meta(ge=0, le=1_000_000_000, description="An amount in major units of the catalog's currency.")
        ]
        | UnsetType
    ) = UNSET
    without: Annotated[list[PartNumber], Meta(max_length=100, description="Part numbers not to use.")] | UnsetType = (
        UNSET
    )
    rank_by: (
        Annotated[list[RankKey], Meta(max_length=6, description="Ranking keys, the weightiest first.")] | UnsetType
    ) = UNSET
    limit: Annotated[int, Meta(ge=1, le=50, description="Options wanted; 10 where it is left out.")] | UnsetType = UNSET
    paths_per_pump: (
        Annotated[int, Meta(ge=1, le=50, description="Options listed for one pump at most; 2 where it is left out.")]
        | UnsetType
    ) = UNSET


def build_of(query: FitsQuery, snapshot: Snapshot) -> Build:
    """The build that the parameters make."""
    own = {*CatalogQuery.__struct_fields__, "parts"}
    given = {
        name: value
        for name in query.__struct_fields__
        if name not in own and (value := getattr(query, name)) is not UNSET
    }
    must: dict[str, Any] = {name: given.pop(name) for name in MUST if name in given}
    if "price_at_most" in given:
        must["price_at_most"] = {"amount": given.pop("price_at_most"), "currency": snapshot.currency}
    return checked(given | ({"must": must} if must else {}), Build)


def _get(asked: Asked) -> Reply:
    return _get_from(asked, asked.live.graph(asked.query.reference))


def _get_from(asked: Asked, graph: ConstraintGraph) -> Reply:
    query: FitsQuery = asked.query
    return _reply(query, graph, build_of(query, graph.snapshot), flat=True)


def _post(asked: Asked) -> Reply:
    return _post_from(asked, asked.live.graph(asked.query.reference))


def _post_from(asked: Asked, graph: ConstraintGraph) -> Reply:
    return _reply(asked.query, graph, asked.body, flat=False)


def _reply(query: CatalogQuery, graph: ConstraintGraph, build: Build, *, flat: bool) -> Reply:
    snapshot = graph.snapshot
    manner = render.Manner(units=query.units, detail=query.detail, currency=snapshot.currency)

    def make() -> wire.Answer:
        try:
            return encoded.answer(fit(graph, build, explain=manner.full), snapshot.release, manner)
        except BuildError as error:
            raise BuildError([flattened(fault) for fault in error.faults]) if flat else error from None

    key = ("fits", _encode(build).decode(), query.units, query.detail)
    return Reply(make=make, release=snapshot.release, key=key, pinned=query.reference is not None)


def flattened(fault: Fault) -> Fault:
    """The fault with a pointer to the parameter: `/must/without/0` is `/without/0` there."""
    return msgspec.structs.replace(fault, pointer=fault.pointer.removeprefix("/must"))


_ABOUT = (
    "Every feasible pump and face path is considered. Nothing fits is an answer too, with verdict `blocked`. "
    f"A search looks at {MOST_SEATS:,} pumps on face paths at most, at {MOST_PLATES} plates on each, at {MOST_PARTS} "
    f"parts from a port to its end and at {MOST_COMBINATIONS:,} combinations of them for one option; one that would "
    "need more says `decided: false`, never that nothing fits. "
    "A field left out asks nothing. Safe to repeat: it changes nothing."
)
_PROBLEMS = FROM_THE_CATALOG | {
    422: "The build names what is not so: an unknown part, a part of the wrong kind, a length beyond 10 m."
}
OPERATIONS: Final = (
    Operation(
        method="POST",
        path="/v1/fits",
        name="ask_fits",
        tag="fits",
        summary="What fits this build, and why",
        description=_ABOUT,
        answer=_post,
        ahead=_post_from,
        query=CatalogQuery,
        body=Build,
        result=wire.Answer,
        problems=_PROBLEMS,
    ),
    Operation(
        method="GET",
        path="/v1/fits",
        name="get_fits",
        tag="fits",
        summary="What fits the build that these parameters make, and why",
        description=_ABOUT,
        answer=_get,
        ahead=_get_from,
        query=FitsQuery,
        result=wire.Answer,
        problems=_PROBLEMS,
    ),
)
