"""What an identification answers, as data: no sentences. Words are made from it by `wording`."""

from collections.abc import Mapping
from typing import Any, Literal

import msgspec

from catalog.domain import Ease, Part, TakenWith
from service.identify.request import Identification

Verdict = Literal["identified", "narrowed", "unknown"]
Sort = Literal["kind", "cue", "measure"]
Facts = Mapping[str, Any]


class Said(msgspec.Struct, frozen=True):
    """A piece of evidence that speaks for a candidate, or against it."""

    code: Literal["cue", "measure", "number", "fits_on", "years"]
    name: str
    """The cue, the measure, or the part that it must meet; empty for the others."""
    facts: Facts


class Candidate(msgspec.Struct, frozen=True):
    """A part that it may be."""

    part: Part
    probability: float
    speaks_for: tuple[Said, ...]
    speaks_against: tuple[Said, ...]
    replaced_by: str | None = None


class Outcome(msgspec.Struct, frozen=True):
    """What one answer to a question would leave: an answer of a cue, or a reading of about so many nm."""

    answer: str | None
    about: int | None
    parts: tuple[str, ...]
    more: int = 0
    """Parts beyond those listed."""


class NextQuestion(msgspec.Struct, frozen=True):
    """Something to look at or to measure next."""

    sort: Sort
    name: str
    question: str
    answers: tuple[str, ...]
    taken_with: TakenWith | None
    ease: Ease
    gain: float
    """Bits that it is expected to tell."""
    tells_apart: float
    """The share of the kind that it would tell from others besides, weighed by the chance that the catalog holds it."""
    worth: float
    """Both per unit of trouble; the next questions come by it."""
    outcomes: tuple[Outcome, ...]


class Answer(msgspec.Struct, frozen=True):
    """Who it may be, and what to ask next."""

    asked: Identification
    verdict: Verdict
    candidates: tuple[Candidate, ...]
    """The likeliest first, at most as many as asked for."""
    considered: int
    holds: tuple[str, ...]
    """The fewest candidates that together hold most of the probability, the likeliest first."""
    none_of_these: float
    mistakable: float
    """The share of the kind that what was told would not tell from another; a part that the catalog does not hold is
    as easily taken for one."""
    clashes: tuple[Said, ...]
    """What speaks against the likeliest candidate."""
    next_questions: tuple[NextQuestion, ...]
    alike: tuple[str, ...]
    """Of `holds`, those that no question left would tell from the likeliest."""
    evidence: int
    """Pieces of evidence that say something."""
    nearest_numbers: tuple[str, ...] = ()
    """Where the number read is nobody's: the catalog's that look most like it."""
