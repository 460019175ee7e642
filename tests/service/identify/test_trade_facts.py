"""What a counter knows of pumps (common practice, no source), held against the service on small catalogs."""

from typing import Any

import msgspec
import pytest

from catalog.domain import Cue, Measure, Part
from catalog.units import NM_PER_INCH, NM_PER_MM
from service.fit.graph import ConstraintGraph
from service.identify.answer import Answer
from service.identify.engine import identify
from service.identify.request import Identification
from tests.support import snapshot_of

NECK = ("straight", "raised")
SIDE = ("left", "right")
CAST = ("leaf", "ring")


def pump(number: str, inches: float, *, neck: str = "straight", side: str = "right", cast: str = "leaf") -> Part:
    """A pump with its reading from the mounting face to the pulley's crown, which is its foremost point here."""
    length = Measure("nose", round(inches * NM_PER_INCH), NM_PER_MM // 10, NM_PER_MM // 10, "drawing", "")
    cues = (
        Cue("neck", "Is the neck straight or raised?", neck, NECK, "in_car", 2),
        Cue("outlet_side", "Which side does the outlet point to?", side, SIDE, "in_car", 3),
        Cue("cast", "What is cast beside the bearing?", cast, CAST, "off_car", 3),
    )
    return Part(number, "water_pump", "Pump", measures={"nose": length}, cues=cues)


def ask(parts: list[Part], **raw: Any) -> Answer:
    return identify(ConstraintGraph(snapshot_of(parts)), msgspec.convert({"kind": "water_pump"} | raw, Identification))


def seen(**answers: str) -> list[dict[str, str]]:
    return [{"cue": cue, "answer": answer} for cue, answer in answers.items()]


def taped(value: str) -> list[dict[str, str]]:
    return [{"measure": "nose", "value": value, "taken_with": "tape"}]


def test_the_neck_tells_two_generations_of_working_vehicle_pumps_apart_at_sight() -> None:
    generations = [pump("P-OLD", 5.95, neck="straight"), pump("P-NEW", 5.95, neck="raised")]
    before = ask(generations)
    assert before.next_questions[0].name == "neck"
    assert before.next_questions[0].ease == "in_car"
    for answer, first in (("straight", "P-OLD"), ("raised", "P-NEW")):
        after = ask(generations, seen=seen(neck=answer))
        assert after.candidates[0].part.number == first
        assert after.candidates[0].probability > 0.9
    # A tape says nothing of which of the two it is.
    after = ask(generations, measured=taped("5 15/16 in"))
    assert after.candidates[0].probability == pytest.approx(after.candidates[1].probability)
    assert after.next_questions[0].name == "neck"


def test_the_outlets_side_separates_two_late_pumps_from_the_rest() -> None:
    rest = [pump(f"P-{place}", 5.75, cast=cast) for place, cast in enumerate(("leaf", "leaf", "ring", "ring"))]
    late = [pump("P-L1", 5.75, side="left"), pump("P-L2", 5.75, side="left")]
    answer = ask(rest + late, seen=seen(outlet_side="left"))
    assert sorted(answer.holds) == ["P-L1", "P-L2"]
    outcomes = {
        outcome.answer: set(outcome.parts)
        for question in ask(rest + late).next_questions
        if question.name == "outlet_side"
        for outcome in question.outcomes
    }
    assert outcomes["left"] == {"P-L1", "P-L2"}


GROUPS = [
    pump("P-40", 4.0),
    pump("P-55", 5.5),
    pump("P-575A", 5.75, cast="leaf"),
    pump("P-575B", 5.75, cast="ring"),
    pump("P-59", 5 + 15 / 16),
]


@pytest.mark.parametrize(
    ("reading", "group"),
    [("4 in", {"P-40"}), ("5 1/2 in", {"P-55"}), ("5 3/4 in", {"P-575A", "P-575B"}), ("5 15/16 in", {"P-59"})],
)
def test_readings_by_tape_to_the_crown_separate_the_groups(reading: str, group: set[str]) -> None:
    answer = ask(GROUPS, measured=taped(reading))
    assert set(answer.holds) == group
    assert sum(each.probability for each in answer.candidates if each.part.number in group) > 0.9


def test_but_not_the_two_that_read_alike_which_another_cue_must() -> None:
    answer = ask(GROUPS, measured=taped("5 3/4 in"))
    one, other = answer.candidates[:2]
    assert {one.part.number, other.part.number} == {"P-575A", "P-575B"}
    assert one.probability == pytest.approx(other.probability)
    assert answer.verdict == "narrowed"
    assert answer.next_questions[0].name == "cast"
    after = ask(GROUPS, measured=taped("5 3/4 in"), seen=seen(cast="ring"))
    assert after.candidates[0].part.number == "P-575B"
    assert after.candidates[0].probability > 0.9
