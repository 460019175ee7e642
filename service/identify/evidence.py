"""An identification resolved against a release: names found, readings taken into nanometres, faults gathered."""

from collections.abc import Mapping

import msgspec
from msgspec import UNSET

from catalog.domain import Cue, Kind, Measure, Part
from catalog.units import NM_PER_MM
from catalog.vocabulary import measure_word
from service.fit.build import Measured
from service.fit.graph import ConstraintGraph
from service.fit.readings import Reader, a_kind, closest, upper, words
from service.identify.meets import meeting
from service.identify.request import CANNOT_TELL, EvidenceError, Identification, Seen, Taken, Years


class Evidence(msgspec.Struct, frozen=True):
    """What is known of the part. Every name in it has been found in the release."""

    asked: Identification
    """As understood: in one canonical form and order."""
    candidates: tuple[Part, ...]
    """Every part that it may be, in order of part number."""
    cues: Mapping[str, Cue]
    """Each cue that some candidate has."""
    seen: Mapping[str, str]
    """Answers by cue, in the order of the cues' names."""
    untold: frozenset[str]
    """Cues and measures that the asker cannot tell."""
    readings: tuple[Measure, ...]
    number: str | None
    meets: Mapping[str, frozenset[str]]
    """For each part of `fits_on` the numbers of the parts that can meet it."""
    years: tuple[int, int] | None


def resolve(graph: ConstraintGraph, asked: Identification) -> Evidence:
    """Find every name of the identification in the release.

    Raises
    ------
    EvidenceError
        With every fault, when there is any.
    """
    return _Resolver(graph, asked).evidence()


class _Resolver(Reader):
    def __init__(self, graph: ConstraintGraph, asked: Identification) -> None:
        super().__init__(graph.snapshot)
        self.graph = graph
        self.asked = asked
        parts = sorted(graph.snapshot.parts.values(), key=lambda part: part.number)
        self.candidates = tuple(part for part in parts if asked.kind is UNSET or part.kind == asked.kind)
        self.cues = {cue.name: cue for part in reversed(self.candidates) for cue in part.cues}
        self.kind_of_measure: dict[str, Kind] = {
            name: part.kind for part in reversed(self.candidates) for name in part.measures
        }

    def evidence(self) -> Evidence:
        asked = self.asked
        if not self.candidates:
            self.fault(
                "/kind",
                "no-such-kind",
                f"Release {self.snapshot.release.number} holds no {words(str(asked.kind))}.",
                tuple(sorted({part.kind for part in self.snapshot.parts.values()})),
            )
        seen, untold = self._seen() if self.candidates else ({}, set())
        readings = self._readings() if self.candidates else []
        for place, cannot in enumerate(asked.seen):
            if cannot.cue in untold and cannot.cue in {reading.name for reading in readings}:
                self.fault(f"/seen/{place}", "contradiction", f"{cannot.cue} is measured, and said not to be told.")
        met = [self.find(reference, f"/fits_on/{place}") for place, reference in enumerate(asked.fits_on)]
        years = self._years()
        if self.faults:
            raise EvidenceError(self.faults)
        on = {part.number: meeting(self.graph, part) for part in met if part is not None}
        return Evidence(
            asked=self._canonical(seen, untold, readings, sorted(on)),
            candidates=self.candidates,
            cues=dict(sorted(self.cues.items())),
            seen=dict(sorted(seen.items())),
            untold=frozenset(untold),
            readings=tuple(readings),
            number=None if asked.number is UNSET else " ".join(asked.number.split()),
            meets=dict(sorted(on.items())),
            years=years,
        )

    def _canonical(
        self, seen: dict[str, str], untold: set[str], readings: list[Measure], on: list[str]
    ) -> Identification:
        told = seen | dict.fromkeys(untold, CANNOT_TELL)
        return msgspec.structs.replace(
            self.asked,
            seen=[Seen(cue, answer) for cue, answer in sorted(told.items())],
            measured=[
                Taken(reading.name, reading.nominal / NM_PER_MM, reading.taken_with, reading.plus / NM_PER_MM)
                for reading in readings
            ],
            fits_on=on,
        )

    def _seen(self) -> tuple[dict[str, str], set[str]]:
        seen: dict[str, str] = {}
        untold: set[str] = set()
        for place, each in enumerate(self.asked.seen):
            pointer = f"/seen/{place}"
            cannot = each.answer.casefold() == CANNOT_TELL
            if each.cue in seen or each.cue in untold:
                self.fault(pointer, "duplicate-answer", f"{each.cue} is answered twice.")
            elif cannot and (each.cue in self.cues or each.cue in self.kind_of_measure):
                untold.add(each.cue)
            elif each.cue not in self.cues:
                self._unknown_cue(each, f"{pointer}/cue")
            else:
                answers = {answer.casefold(): answer for answer in self.cues[each.cue].answers}
                answer = answers.get(" ".join(each.answer.split()).casefold())
                if answer is None:
                    self._unknown_answer(each, list(answers.values()), f"{pointer}/answer")
                else:
                    seen[each.cue] = answer
        return seen, untold

    def _unknown_cue(self, each: Seen, pointer: str) -> None:
        if each.cue in self.kind_of_measure:
            message = f'{each.cue} is a measure: give it under measured, or answer "{CANNOT_TELL}".'
            self.fault(pointer, "unknown-cue", message, (each.cue,))
            return
        what = "No part" if self.asked.kind is UNSET else f"No {words(self.asked.kind)}"
        known = sorted(self.cues)
        self.fault(
            pointer,
            "unknown-cue",
            f'{what} of the catalog has a cue "{each.cue}"; there are {", ".join(known) or "none"}.',
            closest(each.cue, known) or tuple(known[:3]),
        )

    def _unknown_answer(self, each: Seen, answers: list[str], pointer: str) -> None:
        told = "; ".join(answers)
        self.fault(
            pointer,
            "unknown-answer",
            f'"{each.answer}" is no answer to {each.cue}; answers are {told}; and {CANNOT_TELL}.',
            closest(each.answer, answers) or tuple(answers[:3]),
        )

    def _readings(self) -> list[Measure]:
        taken: dict[str, Measure] = {}
        for place, reading in enumerate(self.asked.measured):
            pointer = f"/measured/{place}"
            kind = self.kind_of_measure.get(reading.measure)
            if kind is None:
                self._unknown_measure(reading, f"{pointer}/measure")
                kind = self._kind_that_could(reading.measure)
                if kind is None:
                    continue
            measure = self._measure(kind, reading.measure, _as_in_a_build(reading), pointer)
            if measure is not None and measure.name in taken:
                self.fault(pointer, "duplicate-reading", f"{measure.name} is read twice.")
            elif measure is not None:
                taken[measure.name] = measure
        return [taken[name] for name in sorted(taken)]

    def _kind_that_could(self, name: str) -> Kind | None:
        """A kind whose parts might state the measure: its value is looked at even where none does."""
        word = measure_word(name)
        kinds = {part.kind for part in self.candidates}
        return None if word is None else next((kind for kind in word.kinds if kind in kinds), None)

    def _unknown_measure(self, reading: Taken, pointer: str) -> None:
        known = sorted(self.kind_of_measure)
        what = "part" if self.asked.kind is UNSET else words(self.asked.kind)
        self.fault(
            pointer,
            "unknown-measure",
            f'No {what} of the catalog states a measure "{reading.measure}"; '
            f"{upper(a_kind(what)) if self.asked.kind is not UNSET else 'They'} can have {', '.join(known) or 'none'}.",
            closest(reading.measure, known) or tuple(known[:3]),
        )

    def _years(self) -> tuple[int, int] | None:
        years = Years() if self.asked.years is UNSET else self.asked.years
        given = [year for year in (years.from_, years.to) if year is not UNSET]
        if not given:
            return None
        first, last = given[0], given[-1]
        if first > last:
            self.fault("/years", "impossible-years", f"The years end in {last}, before they begin in {first}.")
        return first, last


def _as_in_a_build(reading: Taken) -> Measured:
    return Measured("unknown", reading.measure, reading.value, reading.taken_with, reading.plus_minus)
