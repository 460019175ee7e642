"""A build that carries an identification's candidates in place of one part: what holds whichever of them it is."""

from collections.abc import Sequence
from typing import Final, Literal

import msgspec
import numpy as np
from msgspec import UNSET

from catalog.domain import Kind
from service.fit import engine
from service.fit.answer import Answer as FitAnswer
from service.fit.answer import Option
from service.fit.build import Build, BuildError, Fault
from service.fit.graph import ConstraintGraph
from service.fit.question import SLOTS, resolve
from service.fit.readings import words
from service.fit.told import Told
from service.fit.told_once import not_checked, together
from service.identify.answer import Answer, NextQuestion
from service.identify.engine import identify
from service.identify.information import expected_gain
from service.identify.questions import LEAST_GAIN, TROUBLE, Questions, Worth
from service.identify.request import EvidenceError, Identification

MOST_CANDIDATES: Final = 8
"""Candidates for which a build is worked out; with more left, a question comes first."""
_FIELDS: Final[dict[Kind, str]] = {kind: field for field, kind in SLOTS.items()}
Parts = tuple[tuple[str, int], ...]
"""Part numbers with quantities, in order."""


class CandidatesBuild(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """An identification, and the build that the part is for; the build leaves that part's field out."""

    identification: Identification
    build: Build


class CandidateFit(msgspec.Struct, frozen=True):
    """What fits if it is this part, which counts as at hand."""

    part: str
    probability: float
    verdict: Literal["fits", "measure_first", "blocked"]
    options: tuple[Option, ...]


class SharedOption(msgspec.Struct, frozen=True):
    """One way that holds whichever of the candidates it is."""

    pump: str | None
    """Where the candidates are not pumps themselves."""
    plates: tuple[str, ...]
    verdict: Literal["ok", "measure_first"]
    """The worst of them."""
    parts: Parts
    """Parts of every list, the candidates left out."""
    depends: tuple[tuple[str, Parts], ...]
    """For each candidate the further parts of its own list."""


class CandidatesFit(msgspec.Struct, frozen=True):
    """The answer of a build for all candidates together."""

    field: str
    identification: Answer
    verdict: Literal["holds", "depends", "blocked", "ask_first"]
    candidates: tuple[CandidateFit, ...]
    holds_for_all: tuple[SharedOption, ...]
    decides: NextQuestion | None
    """The question that best tells apart the candidates for which the answer differs."""
    build: Build
    """As it was asked, without the part in question."""
    told: Told
    """What the answers for all candidates tell together; before any is worked out, only what nobody gave."""


def fit_candidates(graph: ConstraintGraph, asked: CandidatesBuild) -> CandidatesFit:
    """Work out the build for every candidate that the identification holds.

    Raises
    ------
    BuildError
        With every fault, its pointer into `identification` or into `build`.
    """
    field, faults = _field(asked)
    found: Answer | None = None
    try:
        wanted = max(asked.identification.limit, MOST_CANDIDATES)
        found = identify(graph, msgspec.structs.replace(asked.identification, limit=wanted))
    except EvidenceError as error:
        faults += [_under("/identification", fault) for fault in error.faults]
    if found is None or field is None or faults:
        raise EvidenceError(faults + _faults_of_build(graph, asked.build))
    if len(found.holds) > MOST_CANDIDATES:
        decides = found.next_questions[0] if found.next_questions else None
        left_out = tuple(each for each in not_checked(asked.build) if each != field)
        return CandidatesFit(field, found, "ask_first", (), (), decides, asked.build, Told(left_out))
    chances = {each.part.number: each.probability for each in found.candidates}
    answers = [_fit(graph, asked.build, field, number) for number in found.holds]
    fits = [
        CandidateFit(number, chances.get(number, 0.0), answer.verdict, answer.options)
        for number, answer in zip(found.holds, answers, strict=True)
    ]
    shared = _shared(fits, field)
    blocked = all(each.verdict == "blocked" for each in fits)
    return CandidatesFit(
        field=field,
        identification=found,
        verdict="holds" if shared else "blocked" if blocked else "depends",
        candidates=tuple(fits),
        holds_for_all=shared,
        decides=_decides(graph, found, fits),
        build=asked.build,
        told=together([answer.told for answer in answers]),
    )


def _field(asked: CandidatesBuild) -> tuple[str | None, list[Fault]]:
    kind = asked.identification.kind
    if kind is UNSET:
        message = "Say what kind of part it is: a build needs to know whose place it takes."
        return None, [Fault("/identification/kind", "kind-needed", message, tuple(sorted(_FIELDS)))]
    field = _FIELDS.get(kind)
    if field is None:
        message = f"A build has no place for a {words(kind)}."
        return None, [Fault("/identification/kind", "wrong-kind", message, tuple(sorted(_FIELDS)))]
    if field != "engine" and getattr(asked.build, field) is not UNSET:
        message = f"Leave {field} out: the identification's candidates take its place."
        return field, [Fault(f"/build/{field}", "contradiction", message)]
    return field, []


def _fit(graph: ConstraintGraph, build: Build, field: str, number: str) -> FitAnswer:
    """The build with this candidate in hand; every option that there is, to find those that all share."""
    own = {field: number, "have": [*build.have, number], "limit": 50, "paths_per_pump": 50}
    try:
        return engine.fit(graph, msgspec.structs.replace(build, **own), diagnose=False)
    except BuildError as error:
        raise EvidenceError([_under("/build", fault) for fault in error.faults]) from None


def _faults_of_build(graph: ConstraintGraph, build: Build) -> list[Fault]:
    try:
        resolve(graph.snapshot, build)
    except BuildError as error:
        return [_under("/build", fault) for fault in error.faults]
    return []


def _under(place: str, fault: Fault) -> Fault:
    return msgspec.structs.replace(fault, pointer=f"{place}{fault.pointer}")


Way = tuple[str | None, tuple[str, ...]]


def _ways(candidate: CandidateFit, field: str) -> dict[Way, Option]:
    """Its options by pump and plates, the best of each first."""
    found: dict[Way, Option] = {}
    for option in candidate.options:
        found.setdefault((None if field == "pump" else option.pump, option.plates), option)
    return found


def _shared(fits: Sequence[CandidateFit], field: str) -> tuple[SharedOption, ...]:
    """Ways that all candidates have, in the order of the likeliest one's."""
    ways = [_ways(each, field) for each in fits]
    names = {each.part for each in fits}
    shared = []
    for way in ways[0] if ways else ():
        if not all(way in others for others in ways):
            continue
        options = [others[way] for others in ways]
        lists = [
            {(listed.part, listed.quantity) for listed in option.parts_list if listed.part not in names}
            for option in options
        ]
        common = set.intersection(*lists)
        depends = tuple(
            (each.part, tuple(sorted(own - common))) for each, own in zip(fits, lists, strict=True) if own - common
        )
        unsure = any(option.verdict == "measure_first" for option in options)
        shared.append(SharedOption(*way, "measure_first" if unsure else "ok", tuple(sorted(common)), depends))
    return tuple(shared)


def _decides(graph: ConstraintGraph, found: Answer, fits: Sequence[CandidateFit]) -> NextQuestion | None:
    """The question worth most for what fits: candidates with the same verdict and ways count as one."""
    sorts: dict[tuple[object, ...], list[int]] = {}
    for place, each in enumerate(fits):
        ways = tuple(sorted(option.plates for option in each.options))
        sorts.setdefault((each.verdict, ways), []).append(place)
    if len(sorts) < 2:
        return None
    chances = np.array([each.probability for each in fits])
    questions = Questions([graph.snapshot.parts[each.part] for each in fits])
    asked = found.asked
    done = {seen.cue for seen in asked.seen} | {taken.measure for taken in asked.measured}
    shares = np.array([chances[places].sum() for places in sorts.values()])
    ranked = []
    for question in questions.all:
        rows = [
            (chances[places, None] * question.table[question.row[places]]).sum(axis=0) / chances[places].sum()
            for places in sorts.values()
        ]
        gain = expected_gain(shares / shares.sum(), np.array(rows), question.weights)
        if question.name not in done and gain > LEAST_GAIN:
            ranked.append((-round(gain / TROUBLE[question.ease], 9), question.name, gain, question))
    if not ranked:
        return None
    _, _, gain, question = min(ranked, key=lambda each: each[:2])
    return questions.told(Worth(question, gain, 0.0), np.append(chances, 0.0))
