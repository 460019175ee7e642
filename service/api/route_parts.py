"""Which parts suit a build: the storefront's filter, for a page of parts or the whole catalog."""

from typing import Annotated, Final

import msgspec
from msgspec import Meta

from service.api import render, render_parts
from service.api.negotiation import accepts
from service.api.operations import FROM_THE_CATALOG, Asked, CatalogQuery, Operation, Reply, Text
from service.api.route_fits import FitsQuery, build_of, flattened
from service.api.wire_parts import BuildWithParts, PartsSuit
from service.fit.build import Build, BuildError, Fault, PartNumber
from service.fit.graph import ConstraintGraph
from service.fit.which import MOST_PARTS, which_fit

NDJSON: Final = "application/x-ndjson"
MOST_ON_A_PAGE: Final = 48
BODY_LIMIT: Final = 320 * 1024
"""Bytes: a build, and as many part numbers as may be asked for, each as long as one can be."""
_encode = msgspec.json.Encoder(order="deterministic").encode


class PartsQuery(FitsQuery, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """The flat fields of a build as parameters, and a page of parts."""

    parts: Annotated[
        list[PartNumber],
        Meta(min_length=1, max_length=MOST_ON_A_PAGE, description="Part numbers or aliases, answered in their order."),
    ]


def _post(asked: Asked) -> Reply:
    return _post_from(asked, asked.live.graph(asked.query.reference))


def _post_from(asked: Asked, graph: ConstraintGraph) -> Reply:
    body: BuildWithParts = asked.body
    return _reply(asked, graph, body.build, None if isinstance(body.parts, str) else body.parts, flat=False)


def _get(asked: Asked) -> Reply:
    return _get_from(asked, asked.live.graph(asked.query.reference))


def _get_from(asked: Asked, graph: ConstraintGraph) -> Reply:
    query: PartsQuery = asked.query
    return _reply(asked, graph, build_of(query, graph.snapshot), query.parts, flat=True)


def _reply(asked: Asked, graph: ConstraintGraph, build: Build, said: list[str] | None, *, flat: bool) -> Reply:
    query: CatalogQuery = asked.query
    snapshot = graph.snapshot
    manner = render.Manner(units=query.units, detail=query.detail, currency=snapshot.currency)
    lines = accepts(asked.accept, NDJSON) and not accepts(asked.accept, "application/json")

    def make() -> PartsSuit | Text:
        try:
            found = which_fit(graph, build, said)
        except BuildError as error:
            raise BuildError([flattened(fault) if flat else _inside(fault) for fault in error.faults]) from None
        if lines:
            return Text(render_parts.one_a_line(found, snapshot, manner), NDJSON)
        return render_parts.parts(found, snapshot, manner)

    form = "lines" if lines else "json"
    key = ("parts", _encode(build).decode(), _encode(said).decode(), query.units, query.detail, form)
    return Reply(make=make, release=snapshot.release, key=key, pinned=query.reference is not None)


def _inside(fault: Fault) -> Fault:
    """The fault with a pointer into the body: all but the parts stand under `build`."""
    inside = fault.pointer.startswith("/parts")
    return fault if inside else msgspec.structs.replace(fault, pointer=f"/build{fault.pointer}")


_ABOUT: Final = (
    "For each part: whether any option that keeps the build's requirements holds it, be it listed by `/v1/fits` or "
    "not, and what goes with it. Limits on price and work are kept for all that sits on the block or lies under it; "
    "of hoses, fittings and what else the lines are made of it is said whether a line of an option can lead through "
    "it, whatever that comes to. The limits of `/v1/fits` hold here too. Safe to repeat: it changes nothing."
)
_PROBLEMS: Final = FROM_THE_CATALOG | {
    422: "The build or the list of parts names what is not so: an unknown part, a part of the wrong kind."
}
OPERATIONS: Final = (
    Operation(
        method="POST",
        path="/v1/fits/parts",
        name="ask_which_parts_fit",
        tag="fits",
        summary="Which of these parts suit this build",
        description=(
            f'Takes up to {MOST_PARTS:,} part numbers, or `"all"`. Asked with `Accept: {NDJSON}` it answers a line a '
            f"part, without the counts. {_ABOUT}"
        ),
        answer=_post,
        ahead=_post_from,
        query=CatalogQuery,
        body=BuildWithParts,
        body_limit=BODY_LIMIT,
        result=PartsSuit,
        other_types=(NDJSON,),
        problems=_PROBLEMS,
    ),
    Operation(
        method="GET",
        path="/v1/fits/parts",
        name="get_which_parts_fit",
        tag="fits",
        summary="Which parts of a page suit the build that these parameters make",
        description=f"Takes up to {MOST_ON_A_PAGE} part numbers, separated by commas. {_ABOUT}",
        answer=_get,
        ahead=_get_from,
        query=PartsQuery,
        result=PartsSuit,
        other_types=(NDJSON,),
        problems=_PROBLEMS,
    ),
)
