"""Which part is this: what the asker has, from what can be seen, read and measured on it."""

from typing import Final

import msgspec

from service.api import render, wire_candidates, wire_identify
from service.api.operations import FROM_THE_CATALOG, Asked, CatalogQuery, Operation, Reply
from service.identify import engine
from service.identify.builds import MOST_CANDIDATES, CandidatesBuild, fit_candidates
from service.identify.model import NONE_PRIOR
from service.identify.questions import MISTAKABLE_AT_MOST
from service.identify.request import Identification

_encode = msgspec.json.Encoder(order="deterministic").encode


def _identify(asked: Asked) -> Reply:
    query: CatalogQuery = asked.query
    graph = asked.live.graph(query.reference)
    snapshot = graph.snapshot
    manner = render.Manner(units=query.units, detail=query.detail, currency=snapshot.currency)

    def make() -> wire_identify.IdentificationAnswer:
        return wire_identify.answer(engine.identify(graph, asked.body), snapshot.release, manner)

    key = ("identification", _encode(asked.body).decode(), query.units, query.detail)
    return Reply(make=make, release=snapshot.release, key=key, pinned=query.reference is not None)


def _fit_candidates(asked: Asked) -> Reply:
    query: CatalogQuery = asked.query
    graph = asked.live.graph(query.reference)
    snapshot = graph.snapshot
    manner = render.Manner(units=query.units, detail=query.detail, currency=snapshot.currency)

    def make() -> wire_candidates.CandidatesAnswer:
        return wire_candidates.answer(fit_candidates(graph, asked.body), snapshot.release, manner)

    key = ("candidates", _encode(asked.body).decode(), query.units, query.detail)
    return Reply(make=make, release=snapshot.release, key=key, pinned=query.reference is not None)


_ABOUT = (
    "Candidates come with probabilities, and with what speaks for each and against it. Next questions come best first, "
    "by what an answer is expected to tell for its trouble; what would change nothing is not asked. "
    f"Verdict `identified`: the first candidate is at least {engine.IDENTIFIED:.0%} probable, and that the "
    f"catalog does not hold the part at most {engine.NONE_AT_MOST:.1%} (before any evidence {NONE_PRIOR:.0%}); nothing "
    f"speaks against it, and what was told would take at most {MISTAKABLE_AT_MOST:.1%} of the kind for another part. "
    "No evidence at all is answered with what to look at first. Safe to repeat: it changes nothing."
)
OPERATIONS: Final = (
    Operation(
        method="POST",
        path="/v1/identifications",
        name="identify_part",
        tag="identifications",
        summary="Which part this is, and what to look at next",
        description=_ABOUT,
        answer=_identify,
        query=CatalogQuery,
        body=Identification,
        result=wire_identify.IdentificationAnswer,
        problems=FROM_THE_CATALOG
        | {422: "It names what is not so: an unknown cue, answer, measure or part, impossible years."},
    ),
    Operation(
        method="POST",
        path="/v1/identifications/fits",
        name="fit_candidates",
        tag="identifications",
        summary="What fits whichever of the candidates it is, and which question decides",
        description="The build leaves out the field of the part in question. Each part that `holds` holds takes its "
        f"place, at hand, as long as there are {MOST_CANDIDATES} at most; with more left, verdict `ask_first`. "
        "Safe to repeat: it changes nothing.",
        answer=_fit_candidates,
        query=CatalogQuery,
        body=CandidatesBuild,
        result=wire_candidates.CandidatesAnswer,
        problems=FROM_THE_CATALOG | {422: "The identification or the build names what is not so."},
    ),
)
