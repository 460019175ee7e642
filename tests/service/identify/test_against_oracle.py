"""Random catalogs: the same probabilities and gains as an independent computation, and what must hold of any."""

import math
from typing import Any

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalog.domain import Cue, Measure, Part
from catalog.units import NM_PER_INCH, NM_PER_MM
from service.fit.graph import ConstraintGraph
from service.identify.engine import identify
from service.identify.evidence import Evidence, resolve
from service.identify.information import posterior
from service.identify.model import likelihoods, prior
from service.identify.questions import APART, LEAST_GAIN, Questions
from service.identify.request import Identification
from tests.oracles import identification as oracle
from tests.support import snapshot_of

CUES = {
    "side": ("left", "right"),
    "count": ("2", "3", "4"),
    "mark": ("star", "ring", "bar", "none"),
    "same": ("yes", "no"),
}
MEASURES = ("nose", "flange_thickness", "cover_room")
SIXTEENTH = NM_PER_INCH // 16


@st.composite
def parts(draw: st.DrawFn) -> tuple[Part, ...]:
    """Two to seven pumps with some of the cues and measures; all that state `same` answer it alike."""
    errors = {name: draw(st.integers(0, 30)) for name in CUES}
    found = []
    for number in range(draw(st.integers(2, 7))):
        cues = [
            Cue(
                name,
                f"{name}?",
                "yes" if name == "same" else draw(st.sampled_from(answers)),
                answers,
                "in_car",
                errors[name],
            )
            for name, answers in CUES.items()
            if draw(st.integers(0, 5))
        ]
        lengths = {name: draw(st.integers(10, 200)) * NM_PER_MM for name in MEASURES if draw(st.integers(0, 4))}
        found.append(
            Part(
                f"P-{number}",
                "water_pump",
                "Pump",
                attributes={"how_common": draw(st.integers(1, 9))} if draw(st.booleans()) else {},
                measures={
                    name: Measure(
                        name, length, draw(st.integers(0, NM_PER_MM)), draw(st.integers(0, NM_PER_MM)), "drawing", ""
                    )
                    for name, length in lengths.items()
                },
                cues=tuple(cues),
            )
        )
    return tuple(found)


@st.composite
def questions(draw: st.DrawFn) -> tuple[ConstraintGraph, Identification]:
    """A catalog, and evidence that is mostly of one of its parts."""
    made = draw(parts())
    known_cues = {cue.name for part in made for cue in part.cues}
    known_measures = {name for part in made for name in part.measures}
    true = draw(st.sampled_from(made))
    seen = []
    for name in sorted(known_cues):
        own = next((cue.answer for cue in true.cues if cue.name == name), CUES[name][0])
        said = draw(st.sampled_from([None, own, own, *CUES[name], "cannot tell"]))
        seen += [] if said is None else [{"cue": name, "answer": said}]
    measured = []
    for name in sorted(known_measures):
        own_measure = true.measures.get(name)
        near = (100 * NM_PER_MM if own_measure is None else own_measure.nominal) / NM_PER_MM
        off = draw(st.sampled_from([None, 0.0, 0.5, -1.2, 3.0, 40.0]))
        measured += [] if off is None else [{"measure": name, "value": max(0.0, near + off)}]
    raw = {
        "kind": "water_pump",
        "seen": seen,
        "measured": measured,
        "prior": draw(st.sampled_from(["catalog", "even"])),
    }
    return ConstraintGraph(snapshot_of(made)), msgspec.convert(raw, Identification)


def chances_of(evidence: Evidence) -> list[float]:
    even = evidence.asked.prior == "even"
    return [float(each) for each in posterior(prior(evidence.candidates, even=even), *likelihoods(evidence))]


@given(questions())
@settings(max_examples=80)
def test_probabilities_are_those_of_an_independent_computation(
    question: tuple[ConstraintGraph, Identification],
) -> None:
    graph, asked = question
    evidence = resolve(graph, asked)
    expected = oracle.posterior(
        evidence.candidates, evidence.cues, evidence.seen, evidence.readings, even=asked.prior == "even"
    )
    assert chances_of(evidence) == pytest.approx(expected, rel=1e-9, abs=1e-12)
    answer = identify(graph, asked)
    assert sum(each.probability for each in answer.candidates) + answer.none_of_these == pytest.approx(1, abs=1e-9)


@given(questions(), st.randoms(use_true_random=False))
@settings(max_examples=30)
def test_the_order_of_evidence_does_not_matter(question: tuple[ConstraintGraph, Identification], random: Any) -> None:
    graph, asked = question
    seen, measured = list(asked.seen), list(asked.measured)
    random.shuffle(seen)
    random.shuffle(measured)
    shuffled = msgspec.structs.replace(asked, seen=seen, measured=measured)
    assert identify(graph, shuffled) == identify(graph, asked)
    evidence = resolve(graph, asked)
    found = likelihoods(evidence)
    random.shuffle(found)
    before = prior(evidence.candidates, even=asked.prior == "even")
    assert posterior(before, *found).tolist() == posterior(before, *likelihoods(evidence)).tolist()


@given(questions())
@settings(max_examples=30)
def test_what_a_question_is_worth(question: tuple[ConstraintGraph, Identification]) -> None:
    graph, asked = question
    evidence = resolve(graph, asked)
    chances = np.array(chances_of(evidence))
    everything = oracle.bits(chances.tolist())
    left = Questions(evidence.candidates)
    ranked = {each.question.name: each.gain for each in left.ranked(chances, frozenset(), {})}
    for each in left.all:
        gain = ranked.get(each.name, 0.0)
        assert 0 <= gain <= everything + 1e-9
        if each.sort != "cue":
            continue
        assert gain <= math.log2(len(each.answers)) + 1e-9
        expected = oracle.gain_of_cue(chances.tolist(), evidence.candidates, evidence.cues[each.name])
        if each.name in ranked:
            assert gain == pytest.approx(expected, abs=1e-9)
        else:
            assert expected <= LEAST_GAIN + 1e-9
    done = set(evidence.seen) | evidence.untold | {reading.name for reading in evidence.readings}
    answer = identify(graph, asked)
    assert not done & {each.name for each in answer.next_questions}
    assert all(each.gain + APART * each.tells_apart > LEAST_GAIN for each in answer.next_questions)
    assert all(0 <= each.tells_apart <= 1 for each in answer.next_questions)


@given(questions())
@settings(max_examples=4)
def test_what_measuring_is_worth(question: tuple[ConstraintGraph, Identification]) -> None:
    graph, asked = question
    evidence = resolve(graph, asked)
    chances = np.array(chances_of(evidence))
    left = Questions(evidence.candidates)
    ranked = {each.question.name: each.gain for each in left.ranked(chances, frozenset(), {})}
    for each in left.all:
        if each.sort == "measure":
            reading = Measure(each.name, 0, SIXTEENTH, SIXTEENTH, "tape", "")
            expected = oracle.gain_of_reading(chances.tolist(), evidence.candidates, reading)
            # Readings beyond the range are left out by both; the grid and quad differ by what they cut off there.
            assert ranked.get(each.name, 0.0) == pytest.approx(expected, abs=max(LEAST_GAIN, 2e-3))


@given(questions())
@settings(max_examples=30)
def test_how_easily_one_part_is_taken_for_another(question: tuple[ConstraintGraph, Identification]) -> None:
    """Beside a count in plain words: for each part whether any other agrees with it in all that was told."""
    graph, asked = question
    evidence = resolve(graph, asked)
    left = Questions(evidence.candidates)
    told: dict[str, int | None] = {**dict.fromkeys(evidence.seen), **{r.name: r.plus for r in evidence.readings}}

    def apart(one: Part, other: Part, name: str, doubt: int | None) -> bool:
        if doubt is None:
            own = {cue.answer for part in (one, other) for cue in part.cues if cue.name == name}
            return len(own) > 1
        lengths = [part.measures[name].nominal for part in (one, other) if name in part.measures]
        return len(lengths) > 1 and abs(lengths[0] - lengths[1]) > 2 * doubt

    def alike(one: Part, other: Part) -> bool:
        return not any(apart(one, other, name, doubt) for name, doubt in told.items())

    parts = evidence.candidates
    taken = [any(alike(one, other) for other in parts if other is not one) for one in parts]
    assert left.mistakable(told) == pytest.approx(sum(taken) / len(taken))
    assert left.mistakable(told) <= left.mistakable({}) <= 1


@given(parts())
@settings(max_examples=20)
def test_a_question_that_all_answer_alike_tells_them_not_apart(made: tuple[Part, ...]) -> None:
    """It can still tell that it is none of these; among those that are, nothing moves but by what is not stated."""
    stating = [part for part in made if any(cue.name == "same" for cue in part.cues)]
    if len(stating) < len(made):
        return
    graph = ConstraintGraph(snapshot_of(made))
    asked = msgspec.convert({"kind": "water_pump"}, Identification)
    told = msgspec.convert({"kind": "water_pump", "seen": [{"cue": "same", "answer": "yes"}]}, Identification)
    before, after = chances_of(resolve(graph, asked)), chances_of(resolve(graph, told))
    for one, other in zip(before[:-1], after[:-1], strict=True):
        assert one / sum(before[:-1]) == pytest.approx(other / sum(after[:-1]))


@given(questions())
@settings(max_examples=30)
def test_a_reading_of_nothing_lowers_every_candidate(question: tuple[ConstraintGraph, Identification]) -> None:
    graph, asked = question
    evidence = resolve(graph, asked)
    left = [name for name in MEASURES if all(name in part.measures for part in evidence.candidates)]
    left = [name for name in left if name not in {reading.measure for reading in asked.measured}]
    untold = {each.cue for each in asked.seen}
    if not left or left[0] in untold:
        return
    far = {"measure": left[0], "value": "5000 mm"}
    raw = msgspec.to_builtins(asked)
    clashing = msgspec.convert(raw | {"measured": [*raw.get("measured", []), far]}, Identification)
    before, after = chances_of(evidence), chances_of(resolve(graph, clashing))
    assert all(later <= sooner for sooner, later in zip(before[:-1], after[:-1], strict=True))
    assert after[-1] > before[-1] or before[-1] == pytest.approx(1)
    assert any(said.name == left[0] for said in identify(graph, clashing).clashes)
