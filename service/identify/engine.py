"""The identification itself: evidence to probabilities, probabilities to a verdict and the next questions."""

from typing import Final

import numpy as np

from catalog.domain import Part
from service.fit.graph import ConstraintGraph
from service.fit.readings import nearest_references
from service.identify.answer import Answer, Candidate, Said, Verdict
from service.identify.evidence import Evidence, resolve
from service.identify.information import Array, posterior
from service.identify.model import likelihoods, prior
from service.identify.questions import Questions, Told
from service.identify.reasons import reasons
from service.identify.request import Identification

IDENTIFIED: Final = 0.95
"""A candidate at least as probable as this is the part ..."""
NONE_AT_MOST: Final = 0.005
"""... where it is no more probable than this that the catalog does not hold it."""
MOST: Final = 0.9
"""Of what is left to the candidates, the share that `holds` holds."""
ONE_KIND: Final = 0.9
"""Where one kind holds this share of what is left to the candidates, its questions are asked, not which kind it is."""
UNKNOWN: Final = 0.5
"""From here on it is more probable than not that the catalog does not hold it."""


def identify(graph: ConstraintGraph, asked: Identification) -> Answer:
    """Which part it may be, how probably, and what to ask next.

    Raises
    ------
    EvidenceError
        When the identification names what is not so.
    """
    evidence = resolve(graph, asked)
    found = likelihoods(evidence)
    chances = posterior(prior(evidence.candidates, even=asked.prior == "even"), *found)
    order = [int(place) for place in np.argsort(-np.round(chances[:-1], 12), kind="stable")]
    holds = _holds(chances, order)
    ranked = [evidence.candidates[place] for place in order]
    questions, within = _asked_of(evidence.candidates, chances)
    done = frozenset(evidence.seen) | evidence.untold | {reading.name for reading in evidence.readings}
    told: Told = {**dict.fromkeys(evidence.seen), **{reading.name: reading.plus for reading in evidence.readings}}
    ahead = [questions.told(worth, within) for worth in questions.ranked(within, done, told)[: asked.questions]]
    best = reasons(evidence, ranked[0])
    mistakable = questions.mistakable(told)
    apart = mistakable <= questions.most_mistakable and not best[1]
    sure = settled(chances) and (apart or _bears_its_number(best[0]))
    return Answer(
        asked=evidence.asked,
        verdict=_verdict(chances, len(holds), pieces=len(found), sure=sure),
        candidates=tuple(_candidate(graph, evidence, place, chances) for place in order[: asked.limit]),
        considered=len(order),
        holds=tuple(part.number for part in ranked[: len(holds)]),
        none_of_these=float(chances[-1]),
        mistakable=mistakable,
        clashes=best[1],
        next_questions=tuple(ahead),
        alike=_alike(ranked[: len(holds)]),
        evidence=len(found),
        nearest_numbers=_nearest_numbers(graph, evidence),
    )


def _candidate(graph: ConstraintGraph, evidence: Evidence, place: int, chances: Array) -> Candidate:
    part = evidence.candidates[place]
    speaks_for, speaks_against = reasons(evidence, part)
    rule = next((rule for rule in graph.rules_of(part.number) if rule.kind == "replaced_by"), None)
    return Candidate(part, float(chances[place]), speaks_for, speaks_against, rule.others[0] if rule else None)


def _holds(chances: Array, order: list[int]) -> list[int]:
    """The fewest candidates that hold most of what is left to the candidates together."""
    wanted = MOST * float(chances[:-1].sum())
    held = 0.0
    for count, place in enumerate(order, start=1):
        held += float(chances[place])
        if held >= wanted - 1e-9:
            return order[:count]
    return order


def settled(chances: Array) -> bool:
    """Whether these probabilities, the last of them that it is none of these, leave one part."""
    return bool(chances[:-1].max() >= IDENTIFIED and chances[-1] <= NONE_AT_MOST)


def _bears_its_number(speaks_for: tuple[Said, ...]) -> bool:
    return any(said.code == "number" for said in speaks_for)


def _verdict(chances: Array, holding: int, *, pieces: int, sure: bool) -> Verdict:
    if pieces and sure:
        return "identified"
    if chances[-1] >= UNKNOWN or not pieces or 2 * holding > len(chances) - 1 > 2:
        return "unknown"
    return "narrowed"


def _asked_of(candidates: tuple[Part, ...], chances: Array) -> tuple[Questions, Array]:
    """The questions about what is left, with its chances; while several kinds are, the first thing to ask is which."""
    places = _of_the_kind_left(candidates, chances)
    within = chances[[*places, len(chances) - 1]]
    return Questions([candidates[place] for place in places]), within / within.sum()


def _of_the_kind_left(candidates: tuple[Part, ...], chances: Array) -> list[int]:
    """Places of the candidates of the one kind that holds nearly all, or all places where none does."""
    everything = list(range(len(candidates)))
    total = float(chances[:-1].sum())
    for kind in sorted({part.kind for part in candidates}):
        places = [place for place in everything if candidates[place].kind == kind]
        if float(chances[places].sum()) >= ONE_KIND * total:
            return places
    return everything


def _alike(holding: list[Part]) -> tuple[str, ...]:
    """Candidates with the same answers and readings as the likeliest: no question tells them apart."""
    if len(holding) < 2 or len({part.kind for part in holding}) > 1:
        return ()
    first = holding[0]
    same = [part.number for part in holding if _looks(part) == _looks(first)]
    return tuple(same) if len(same) > 1 else ()


def _looks(part: Part) -> tuple[object, ...]:
    cues = sorted((cue.name, cue.answer) for cue in part.cues)
    lengths = sorted((name, measure.low, measure.high) for name, measure in part.measures.items())
    return (tuple(cues), tuple(lengths))


def _nearest_numbers(graph: ConstraintGraph, evidence: Evidence) -> tuple[str, ...]:
    if evidence.number is None or graph.snapshot.find(evidence.number) is not None:
        return ()
    return nearest_references(graph.snapshot, evidence.number)
