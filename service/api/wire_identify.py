"""What an identification answers on the wire, and its rendering. Fields ending in `_mm` are millimetres."""

from typing import Annotated, Final, Literal

import msgspec
from msgspec import UNSET, Meta, UnsetType

from catalog.domain import Ease, Kind, Release, Status, TakenWith
from catalog.units import millimetres
from service.api import render
from service.api.wire import ReleaseName, Text, Wire
from service.api.wire_told import Caution
from service.identify import answer as found
from service.identify import engine, wording
from service.identify.questions import APART, MISTAKABLE_AT_MOST
from service.identify.request import Identification

Probability = Annotated[float, Meta(ge=0, le=1, description="Rounded to four places; all of them sum to 1 before.")]


class Said(Wire, frozen=True, kw_only=True):
    """A piece of evidence that speaks for a part or against it."""

    code: Annotated[
        Literal["cue", "measure", "number", "fits_on", "years"], Meta(description="What kind of evidence it is.")
    ]
    name: Annotated[str, Meta(description="The cue, the measure, or the part that it must meet.")] | UnsetType = UNSET
    text: Text | UnsetType = UNSET


class Candidate(Wire, frozen=True, kw_only=True):
    """A part that it may be."""

    rank: Annotated[int, Meta(ge=1, description="1 is the likeliest.")]
    part: Annotated[str, Meta(description="Its number.")]
    name: Annotated[str, Meta(description="Its name.")]
    kind: Annotated[Kind, Meta(description="Its kind.")]
    status: Annotated[Status, Meta(description="Whether it is still offered.")]
    replaced_by: Annotated[str, Meta(description="The part offered in place of a retired one.")] | UnsetType = UNSET
    probability: Probability
    speaks_for: Annotated[list[Said], Meta(description="Evidence that suits it.")]
    speaks_against: Annotated[list[Said], Meta(description="Evidence that clashes with it.")]
    text: Text | UnsetType = UNSET


class NoneOfThese(Wire, frozen=True, kw_only=True):
    """That the catalog does not hold the part."""

    probability: Probability
    text: Text | UnsetType = UNSET


class Outcome(Wire, frozen=True, kw_only=True):
    """What one answer to a question would leave of the leading candidates."""

    answer: Annotated[str, Meta(description="An answer of the cue, or a kind.")] | UnsetType = UNSET
    about_mm: Annotated[float, Meta(description="A reading of about so many millimetres.")] | UnsetType = UNSET
    parts: Annotated[list[str], Meta(description="The leading candidates that would answer so.")]
    more: Annotated[int, Meta(ge=0, description="Parts beyond those listed.")] = 0


class NextQuestion(Wire, frozen=True, kw_only=True):
    """Something to look at or to measure next."""

    asks: Annotated[
        Literal["kind", "cue", "measure"],
        Meta(description="Answer it in `kind`, in `seen` or in `measured`; `cannot tell` in `seen`."),
    ]
    name: Annotated[str, Meta(description="The cue or the measure.")]
    question: Annotated[str, Meta(description="In plain words.")]
    answers: Annotated[list[str], Meta(description="Its possible answers; empty for a measure.")]
    taken_with: Annotated[TakenWith, Meta(description="The instrument of a measure.")] | UnsetType = UNSET
    ease: Annotated[Ease, Meta(description="Whether it shows in the car, off the car, or needs a tool.")]
    gain_bits: Annotated[float, Meta(ge=0, description="Information that the answer is expected to give, in bits.")]
    tells_apart: Annotated[
        float,
        Meta(
            ge=0,
            le=1,
            description="The share of its kind that the answer would tell from others besides, so that a part which "
            "the catalog does not hold is not taken for one of them.",
        ),
    ]
    worth: Annotated[
        float,
        Meta(
            ge=0,
            description=f"Both per unit of trouble, `tells_apart` as {APART:g} bits for all: the next questions come "
            "by it.",
        ),
    ]
    settles: Annotated[list[Outcome], Meta(description="What each answer would leave.")]
    text: Text | UnsetType = UNSET


class Thresholds(Wire, frozen=True, kw_only=True):
    """What the verdict goes by."""

    identified_from: Annotated[float, Meta(description="The first candidate is at least as probable as this ...")]
    none_at_most: Annotated[float, Meta(description="... and `none_of_these` at most as probable as this.")]
    mistakable_at_most: Annotated[
        float,
        Meta(
            description="... and `mistakable` at most this, or what it is with every question answered where that is "
            "more; and nothing speaks against the candidate. Neither is asked of a part whose own number was read."
        ),
    ]
    unknown_from: Annotated[float, Meta(description="`none_of_these` is at least as probable as this.")]
    holds: Annotated[float, Meta(description="The share of what is left to the candidates that `holds` holds.")]


class IdentificationAnswer(Wire, frozen=True, kw_only=True):
    """Which part it may be, how probably, and what to ask next."""

    release: Annotated[ReleaseName, Meta(description="The release answered from.")]
    identification: Annotated[Identification, Meta(description="As it was understood, in one canonical form.")]
    verdict: Annotated[
        Literal["identified", "narrowed", "unknown"],
        Meta(
            description="`identified`: the first candidate is it, by the thresholds. `narrowed`: `holds` is at most "
            "half of the parts considered. `unknown`: too little is known, or it is probably not in the catalog."
        ),
    ]
    text: Text | UnsetType = UNSET
    candidates: Annotated[list[Candidate], Meta(description="The likeliest first.")]
    considered: Annotated[int, Meta(ge=0, description="Parts that it may be.")]
    holds: Annotated[
        list[str], Meta(description="The fewest parts that hold most of the probability, likeliest first; 50 at most.")
    ]
    none_of_these: Annotated[NoneOfThese, Meta(description="That the catalog does not hold the part.")]
    mistakable: Annotated[
        float,
        Meta(
            ge=0,
            le=1,
            description="The share of the parts of its kind that what was told would not tell from another: as easily "
            "is a part that the catalog does not hold taken for one of them.",
        ),
    ]
    clashes: Annotated[list[Said], Meta(description="What speaks against the first candidate.")]
    next_questions: Annotated[list[NextQuestion], Meta(description="The best first.")]
    alike: Annotated[list[str], Meta(description="Parts among `holds` that nothing in the catalog tells apart.")]
    nearest_numbers: Annotated[
        list[str], Meta(description="Where the number is nobody's: the catalog's numbers that look most like it.")
    ]
    thresholds: Annotated[Thresholds, Meta(description="What the verdict goes by.")]
    send: (
        Annotated[str, Meta(description="What to photograph and send where questions do not settle it.")] | UnsetType
    ) = UNSET
    cautions: Annotated[list[Caution], Meta(description="What to mind before buying.")]


MOST_HELD: Final = 50
"""Parts of `holds` that are told, at most."""
THRESHOLDS: Final = Thresholds(
    identified_from=engine.IDENTIFIED,
    none_at_most=engine.NONE_AT_MOST,
    mistakable_at_most=MISTAKABLE_AT_MOST,
    unknown_from=engine.UNKNOWN,
    holds=engine.MOST,
)


def answer(given: found.Answer, release: Release, manner: render.Manner) -> IdentificationAnswer:
    """The identification on the wire."""
    kind = given.candidates[0].part.kind if given.candidates else ""
    wants_photograph = manner.full and given.verdict != "identified"
    return IdentificationAnswer(
        release=render.release_name(release),
        identification=given.asked,
        verdict=given.verdict,
        text=wording.answer_text(given) if manner.full else UNSET,
        candidates=[_candidate(rank, each, manner) for rank, each in enumerate(given.candidates, start=1)],
        considered=given.considered,
        holds=list(given.holds[:MOST_HELD]),
        none_of_these=NoneOfThese(
            probability=_rounded(given.none_of_these), text=wording.none_text(given) if manner.full else UNSET
        ),
        mistakable=_rounded(given.mistakable),
        clashes=[_said(said, manner, speaks_for=False) for said in given.clashes],
        next_questions=[question_on_the_wire(question, manner) for question in given.next_questions],
        alike=list(given.alike),
        nearest_numbers=list(given.nearest_numbers),
        thresholds=THRESHOLDS,
        send=wording.send_text(kind) if wants_photograph else UNSET,
        cautions=[Caution(code="compare_first", text=wording.CAUTION if manner.full else UNSET)],
    )


def _candidate(rank: int, each: found.Candidate, manner: render.Manner) -> Candidate:
    return Candidate(
        rank=rank,
        part=each.part.number,
        name=each.part.name,
        kind=each.part.kind,
        status=each.part.status,
        replaced_by=each.replaced_by or UNSET,
        probability=_rounded(each.probability),
        speaks_for=[_said(said, manner, speaks_for=True) for said in each.speaks_for],
        speaks_against=[_said(said, manner, speaks_for=False) for said in each.speaks_against],
        text=wording.candidate_text(each) if manner.full else UNSET,
    )


def _said(said: found.Said, manner: render.Manner, *, speaks_for: bool) -> Said:
    text = wording.said_text(said, manner.units, speaks_for=speaks_for) if manner.full else UNSET
    return Said(code=said.code, name=said.name or UNSET, text=text)


def question_on_the_wire(question: found.NextQuestion, manner: render.Manner) -> NextQuestion:
    """A next question on the wire."""
    return NextQuestion(
        asks=question.sort,
        name=question.name,
        question=question.question,
        answers=list(question.answers),
        taken_with=UNSET if question.taken_with is None else question.taken_with,
        ease=question.ease,
        gain_bits=_rounded(question.gain),
        tells_apart=_rounded(question.tells_apart),
        worth=_rounded(question.worth),
        settles=[
            Outcome(
                answer=UNSET if outcome.answer is None else outcome.answer,
                about_mm=UNSET if outcome.about is None else millimetres(outcome.about),
                parts=list(outcome.parts),
                more=outcome.more,
            )
            for outcome in question.outcomes
        ],
        text=wording.settles_text(question, manner.units) if manner.full else UNSET,
    )


def _rounded(value: float) -> float:
    return round(value, 4) + 0.0


def to_json(given: IdentificationAnswer) -> str:
    """The answer as the service gives it, indented."""
    return msgspec.json.format(msgspec.json.encode(given, order="deterministic"), indent=2).decode()
