"""The demo, asked as people ask: what is answered, what is asked next, and what is never claimed."""

import pytest

from catalog.domain import Snapshot
from service.fit.graph import ConstraintGraph
from service.identify import engine, wording
from service.identify.meets import meeting
from tests.bench.identify import left_out, run
from tests.service.identify.conftest import Ask


def test_no_evidence_is_a_question(ask: Ask) -> None:
    answer = ask()
    assert answer.verdict == "unknown"
    assert [question.sort for question in answer.next_questions] == ["kind"]
    assert "Nothing is known of it yet" in wording.answer_text(answer)
    assert ask(kind="water_pump").next_questions[0].gain > 2


def test_looks_and_a_tape_identify_a_pump(ask: Ask) -> None:
    looks = {"heater_pipes": "up", "outlet_side": "right", "body_ribs": "4"}
    answer = ask(kind="water_pump", seen=looks, measured={"nose": "6 1/8 in"})
    assert answer.verdict == "identified"
    best = answer.candidates[0]
    assert best.part.number == "WP-241"
    assert best.probability >= engine.IDENTIFIED
    assert answer.none_of_these <= engine.NONE_AT_MOST
    assert {said.name for said in best.speaks_for} == {*looks, "nose"}
    assert best.speaks_against == ()
    # Of a part that the catalog does not hold and that looks the same, only its number tells.
    assert "It should bear the number 71205841; another means another part." in wording.answer_text(answer)


def test_cannot_tell_says_nothing_and_is_not_asked_again(ask: Ask) -> None:
    plain = ask(kind="water_pump", seen={"neck": "bolted on"})
    told = ask(kind="water_pump", seen={"neck": "bolted on", "nose": "cannot tell", "outlet_side": "CANNOT TELL"})
    assert [each.probability for each in told.candidates] == [each.probability for each in plain.candidates]
    assert "nose" in {question.name for question in plain.next_questions}
    assert not {"nose", "outlet_side"} & {question.name for question in told.next_questions}


def test_evidence_that_clashes_raises_none_of_these_and_is_named(ask: Ask) -> None:
    # Only WP-242 carries the tensioner, only WP-117 has twelve grooves.
    one = ask(kind="water_pump", seen={"tensioner": "yes"})
    both = ask(kind="water_pump", seen={"tensioner": "yes", "pulley_grooves": "12"})
    assert both.none_of_these > one.none_of_these
    assert both.candidates[0].probability < one.candidates[0].probability
    assert both.clashes
    assert {said.name for said in both.clashes} <= {"tensioner", "pulley_grooves"}
    against = wording.said_text(both.clashes[0], "in", speaks_for=False)
    assert "it has:" in against


def test_a_number_cast_on_it(ask: Ask) -> None:
    answer = ask(number="7120 5841")
    assert answer.verdict == "identified"
    assert answer.candidates[0].part.number == "WP-241"
    unknown = ask(number="71205847", kind="water_pump")
    assert unknown.verdict == "unknown"
    assert unknown.none_of_these > 0.5
    assert "71205841" in unknown.nearest_numbers


def test_a_retired_part_is_named_with_the_one_that_replaces_it(ask: Ask) -> None:
    answer = ask(number="71204804")
    assert answer.candidates[0].part.number == "WP-104"
    assert "WP-108 replaces it" in wording.answer_text(answer)


def test_what_it_came_off(ask: Ask, graph: ConstraintGraph) -> None:
    answer = ask(kind="water_pump", fits_on=["ENG-G30"])
    assert {answer.candidates[0].part.number, answer.candidates[1].part.number} == {"WP-G31", "WP-G32"}
    assert answer.candidates[2].probability < 0.03
    # An adapter plate takes a Greyalder pump to a Rowanfinch block, and no Rowanfinch pump to a Greyalder one.
    rowanfinch, greyalder = (meeting(graph, graph.snapshot.parts[number]) for number in ("ENG-R20", "ENG-G30"))
    assert {"WP-241", "WP-G31"} <= rowanfinch
    assert "WP-G31" in greyalder
    assert "WP-241" not in greyalder
    # A rule keeps the wide pump from the outer drive; both meet the same engines.
    drive = meeting(graph, graph.snapshot.parts["DR-541"])
    assert "WP-140" in drive
    assert "WP-117" not in drive


def test_the_years_speak_for_and_against(ask: Ask) -> None:
    answer = ask(kind="water_pump", years={"from": 2014, "to": 2015})
    late = {each.part.number for each in answer.candidates[:8]}
    assert late == {"WP-206", "WP-227", "WP-228", "WP-241", "WP-242", "WP-243", "WP-252", "WP-253"}
    assert all(each.speaks_against for each in answer.candidates[8:])


def test_two_that_look_alike_are_said_to_and_the_usual_one_stands_first(ask: Ask) -> None:
    looks = {
        "flange_bolts": "4",
        "points": "right, forward",
        "line_end": "a neck for a 1 1/2 in hose",
        "also": "nothing",
    }
    answer = ask(kind="thermostat_housing", seen=looks | {"housing_thermostat": "lifts out"})
    assert answer.alike == ("TH-M10", "TH-M09")
    assert answer.verdict == "narrowed"
    assert answer.next_questions == ()
    text = wording.answer_text(answer)
    assert "tells TH-M10 from TH-M09" in text
    assert "Photograph" in text
    even = ask(kind="thermostat_housing", seen=looks, prior="even")
    assert even.candidates[0].probability == pytest.approx(even.candidates[1].probability)


def test_once_the_kind_is_plain_it_is_not_asked(ask: Ask) -> None:
    answer = ask(seen={"heater_pipes": "up"})
    assert {question.sort for question in answer.next_questions} <= {"cue", "measure"}
    assert answer.candidates[0].part.kind == "water_pump"


def test_every_answer_has_its_sentences(ask: Ask) -> None:
    answer = ask(
        kind="water_pump",
        seen={"neck": "bolted on"},
        measured={"nose": "170 mm"},
        number="71205852",
        fits_on=["ENG-R22"],
        years={"from": 2012},
        questions=20,
        limit=50,
    )
    for units in ("mm", "in"):
        for candidate in answer.candidates:
            for said in candidate.speaks_for:
                assert wording.said_text(said, units, speaks_for=True).endswith(".")
            for said in candidate.speaks_against:
                assert wording.said_text(said, units, speaks_for=False).endswith(".")
        for question in answer.next_questions:
            assert wording.settles_text(question, units).endswith(".")
            assert question.question.endswith("?")


def test_simulated_callers(snapshot: Snapshot) -> None:
    """A short run of tests/bench/identify.py, which describes the callers; the longer one is a command."""
    found = run(snapshot, "water_pump", callers=12)
    assert found.right_of_identified >= 0.95
    assert found.stranger_named <= 0.08  # 0.05 in the long run; so few callers scatter
    assert found.mean_questions <= 1.15 * found.mean_questions_best_tree
    assert found.careful_mean_questions <= 1.15 * found.careful_mean_questions_best_tree
    assert found.mean_questions <= 0.7 * found.mean_questions_fixed


def test_a_pump_that_the_catalog_does_not_hold_is_not_called_its_relative(snapshot: Snapshot) -> None:
    """Each pump taken out of the catalog in turn, and asked about; 0.04 in the long run of the command."""
    assert left_out(snapshot, "water_pump", callers=6) <= 0.06


def test_what_clashes_or_could_be_a_relative_is_not_yet_identified(ask: Ask) -> None:
    looks = {"heater_pipes": "up", "outlet_side": "right"}
    few = ask(kind="water_pump", seen=looks, measured={"nose": "6 1/8 in"})
    assert few.candidates[0].part.number == "WP-241"
    assert few.mistakable > 0
    clashing = ask(kind="water_pump", seen=looks | {"body_ribs": "6"}, measured={"nose": "6 1/8 in"})
    assert clashing.verdict != "identified"
    told = ask(kind="water_pump", seen=looks | {"body_ribs": "4", "sender": "no"}, measured={"nose": "6 1/8 in"})
    assert [said.name for said in told.clashes] == ["sender"]
    assert told.verdict == "narrowed"
    assert "clashes with what was said of sender: look again" in wording.answer_text(told)
