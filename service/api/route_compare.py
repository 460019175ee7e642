"""What if: one build beside changes of it."""

from typing import Final

import msgspec

from service.api import render, render_compare
from service.api.operations import FROM_THE_CATALOG, Asked, CatalogQuery, Operation, Reply
from service.api.wire_compare import BuildWithChanges, Comparison
from service.fit.compare import MOST_CHANGES, compare

_encode = msgspec.json.Encoder(order="deterministic").encode


def _post(asked: Asked) -> Reply:
    query: CatalogQuery = asked.query
    body: BuildWithChanges = asked.body
    graph = asked.live.graph(query.reference)
    snapshot = graph.snapshot
    manner = render.Manner(units=query.units, detail=query.detail, currency=snapshot.currency)
    return Reply(
        make=lambda: render_compare.comparison(compare(graph, body.build, body.changes), snapshot, manner),
        release=snapshot.release,
        key=("compare", _encode(body).decode(), query.units, query.detail),
        pinned=query.reference is not None,
    )


OPERATIONS: Final = (
    Operation(
        method="POST",
        path="/v1/fits/compare",
        name="compare_fits",
        tag="fits",
        summary="What would fit if something about this build were otherwise",
        description=(
            f"Takes one build and 1 to {MOST_CHANGES} changes to it, and answers the build itself and each change, all "
            "from the same release: verdict, best option, pumps that appeared and went, price difference. What "
            "`/v1/fits` offers as a remedy is such a change. Only the best option is answered, so `limit` and "
            "`paths_per_pump` change nothing. Each question has the limits of `/v1/fits`. Safe to repeat: it changes "
            "nothing."
        ),
        answer=_post,
        query=CatalogQuery,
        body=BuildWithChanges,
        result=Comparison,
        problems=FROM_THE_CATALOG
        | {422: "The build or a change names what is not so, or a change gives up what the build does not ask for."},
    ),
)
