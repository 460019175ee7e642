"""What an answer tells once: what it did not look at, what is not known, cautions and notes; most on made-up checks."""

import re
from inspect import unwrap
from typing import Any

import msgspec
import pytest

from catalog.domain import Part, Snapshot
from service.fit import mounting
from service.fit.answer import Answer, Check
from service.fit.build import Build
from service.fit.cautions import CAUTIONS, NOTES
from service.fit.engine import fit
from service.fit.graph import ConstraintGraph
from service.fit.question import resolve
from service.fit.told import Caution, Lack, Note, Told, ToRead
from service.fit.told_once import (
    MOST_CALLING,
    merged_cautions,
    merged_notes,
    nobody_states,
    not_checked,
    not_known,
    together,
    told_of,
)
from service.fit.which import which_fit
from service.fit.wording import answer_text, note_text, told_once
from service.fit.wording.words import lower, pump_named

PUMP = Part("WP-1", "water_pump", "Fernbrook pump")
COVER = Part("FC-1", "front_cover", "Fernbrook cover")
PARTS = {part.number: part for part in (PUMP, COVER)}
ROOM = Lack("WP-1", "Fernbrook pump", "", "cover_room.sensor")
HEIGHT = Lack("FC-1", "Fernbrook cover", "front_cover", "cover_height.sensor")
TURNS = Lack("WP-1", "Fernbrook pump", "", "rotation")
ALL = ("accessory_drive", "front_cover", "crank_pulley", "radiator", "heater", "fan", "core_distance")


def lacking(*lacks: Lack, code: Any = "cover", zone: str = "") -> Check:
    return Check(code, "measure_first", "not_known", {"lacks": lacks}, zone=zone)


def build(**fields: Any) -> Build:
    return msgspec.convert({"engine": "ENG-R20", **fields}, Build)


@pytest.fixture(scope="module")
def graph(demo: Snapshot) -> ConstraintGraph:
    return ConstraintGraph(demo)


def test_what_touches_most_options_comes_first_then_what_opens_most_checks_then_the_check_told_first() -> None:
    checked = [
        [lacking(ROOM, zone="sensor"), lacking(TURNS, code="rotation")],
        [lacking(ROOM, HEIGHT, zone="sensor"), lacking(ROOM, zone="connector"), Check("belt", "ok", "belt_suits")],
        [],
    ]
    found = not_known(checked, PARTS.get)
    assert [(each.lack, each.options) for each in found] == [(ROOM, 2), (TURNS, 1), (HEIGHT, 1)]
    assert found[0].leaves_open == (("cover", "connector"), ("cover", "sensor"))
    assert found[0].reading == ToRead("the pump's flange", "its lowest point over the cover (sensor)", "caliper")
    assert found[1].reading is None, "no tool reads which way a pump turns"


def test_among_equals_what_opens_more_checks_comes_first_then_the_build_s_own_fields() -> None:
    own = msgspec.structs.replace(ROOM, part="my pump", field="pump")
    found = not_known([[lacking(ROOM, HEIGHT, own), lacking(TURNS, code="rotation")]], PARTS.get)
    assert [each.lack for each in found] == [TURNS, HEIGHT, own, ROOM]
    found = not_known(
        [[lacking(ROOM, HEIGHT), lacking(TURNS, code="rotation"), lacking(ROOM, code="crank")]], PARTS.get
    )
    assert [each.lack for each in found] == [ROOM, TURNS, HEIGHT]


def test_of_a_drive_without_a_word_more_its_belt_leads_and_not_what_it_bolts_to(graph: ConstraintGraph) -> None:
    found = [each.lack.fact for each in fit(graph, build(accessory_drive={"name": "p"})).told.not_known]
    assert found == ["ribs", "belt_side", "profile", "rotation", "belt_plane", "ports.carried", "ports.mount"]


def test_a_check_of_another_reason_lacks_nothing() -> None:
    doubt = Check("cover", "measure_first", "cover_clearance", {"lacks": (ROOM,)})
    assert not_known([[doubt]], PARTS.get) == ()


def test_what_nobody_states_is_a_note_a_check_in_the_order_of_checks() -> None:
    made = [[Check(code, "not_asked", "nobody_states") for code in ("cover", "rotation", "cover")]] * 2
    assert [note.check for note in nobody_states(made)] == ["rotation", "cover"]
    assert nobody_states([[Check("cover", "not_asked", "field_left_out", {"field": "front_cover"})]]) == []


def test_cautions_are_told_once_with_all_that_call_for_them_the_most_serious_first() -> None:
    found = merged_cautions(
        [
            [Caution("last_word"), Caution("torque", parts=("FS-1",))],
            [Caution("torque", parts=("FS-2", "FS-1")), Caution("hot_coolant"), Caution("last_word")],
        ]
    )
    assert found == (Caution("hot_coolant"), Caution("torque", parts=("FS-1", "FS-2")), Caution("last_word"))
    many = merged_cautions([[Caution("torque", parts=(f"FS-{place}",))] for place in range(MOST_CALLING + 1)])
    assert len(many[0].parts) == MOST_CALLING


def test_of_what_is_counted_the_most_is_told() -> None:
    assert merged_notes([[Note("clamps", count=4)], [Note("clamps", count=6)], [Note("clamps", count=2)]]) == (
        Note("clamps", count=6),
    )
    assert merged_notes([[Note("clamps")]]) == (Note("clamps"),)
    assert note_text(Note("clamps", count=6)) == (
        "Hose clamps are not on the list: one for each end of a hose, 6 at the most."
    )
    assert note_text(Note("clamps")) == "Hose clamps are not on the list: one for each end of a hose."


def test_every_code_has_its_place_and_its_words() -> None:
    assert sorted(CAUTIONS) == sorted(told_once.CODES["cautions"])
    assert sorted(NOTES) == sorted(told_once.CODES["notes"])


@pytest.mark.parametrize(
    ("fields", "left_out"),
    [
        ({}, ALL),
        ({"fan": "electric"}, ALL),
        ({"fan": "none"}, tuple(field for field in ALL if field != "fan")),
        ({"fan": "mechanical"}, tuple(field for field in ALL if field != "fan")),
        ({"core_distance": 150}, ALL[:-1]),
        ({"heater": "5/8 in hose"}, tuple(field for field in ALL if field != "heater")),
        (
            {"radiator_ports": {"upper": {"size": "-16", "side": "left"}, "lower": {"size": "-16"}}},
            (*(field for field in ALL if field != "radiator"), "radiator_ports"),
        ),
        (
            {"radiator_ports": {"upper": {"size": "-16", "side": "left"}, "lower": {"size": "-16", "side": "left"}}},
            tuple(field for field in ALL if field != "radiator"),
        ),
    ],
)
def test_fields_left_out_and_what_a_word_or_a_size_leaves_open(
    fields: dict[str, Any], left_out: tuple[str, ...]
) -> None:
    assert not_checked(build(**fields)) == left_out


def with_lacks(answer: Answer, *lacks: Lack) -> Answer:
    """The answer whose every option has a check that lacks these."""
    options = tuple(
        msgspec.structs.replace(option, verdict="measure_first", checks=(*option.checks, lacking(*lacks)))
        for option in answer.options
    )
    told = not_known([option.checks for option in options], PARTS.get)
    told_ = msgspec.structs.replace(answer.told, not_known=told[:50], not_known_total=len(told))
    return msgspec.structs.replace(answer, options=options, verdict="measure_first", told=told_)


def test_the_first_sentence_leads_with_what_was_not_checked_then_what_is_not_known(graph: ConstraintGraph) -> None:
    asked = build(accessory_drive="DR-541", front_cover="FC-R5", fan="electric")
    text = answer_text(with_lacks(fit(graph, asked), ROOM, HEIGHT))
    assert text.startswith(
        "Not checked, as not given: crank pulley, radiator, heater and distance to the radiator's core. "
        "Not checked, as what you give leaves it open: how deep the electric fan is. "
        "Not known: how tall Fernbrook cover is at the sensor and how much room Fernbrook pump leaves for a cover at "
        "the sensor. "
    )
    assert not re.search(r"\bfits\b|pumps? fit\b", text), "nothing is said to fit that was not checked"


def test_what_is_not_known_is_named_three_at_a_time(graph: ConstraintGraph) -> None:
    more = [Lack(f"WP-{place}", f"pump {place}", "", "nose") for place in range(5)]
    assert "and 2 more. " in answer_text(with_lacks(fit(graph, build()), *more))


def test_pumps_are_not_said_to_fit_where_some_must_be_measured_first(graph: ConstraintGraph) -> None:
    answer = fit(graph, build(accessory_drive="DR-541", front_cover="FC-R5", limit=50))
    assert {option.verdict for option in answer.options} == {"ok", "measure_first"}
    assert re.search(r"\d pumps fit or may fit once something is measured; the first, .*, fits\.$", answer_text(answer))
    sure = fit(graph, build(accessory_drive="DR-541", front_cover="FC-R5", pump="WP-227"))
    assert re.search(r"One pump fits; the first is the ", answer_text(sure))


def test_options_and_the_answer_say_the_same_codes(graph: ConstraintGraph) -> None:
    answer = fit(graph, build(accessory_drive="DR-541", front_cover="FC-R5", radiator="RD-30", heater="none"))
    told = answer.told
    assert {each.code for each in told.cautions} == {each.code for one in answer.options for each in one.cautions}
    assert {each.code for each in told.notes} == {each.code for one in answer.options for each in one.notes}
    assert {"sealant", "hose_lengths", "clamps", "sender"} <= {note.code for note in told.notes}
    assert not {each.code for each in told.cautions} & set(NOTES)
    for entries, order in ((told.cautions, CAUTIONS), (told.notes, NOTES)):
        places = [order.index(each.code) for each in entries]
        assert places == sorted(places)
        assert len({(each.code, str(each.facts)) for each in entries}) == len(entries)


@pytest.mark.parametrize(
    ("fields", "called_for"),
    [
        ({}, set()),
        ({"accessory_drive": "DR-541"}, {"sprung_tensioner"}),
        ({"accessory_drive": "DR-541", "fan": "none"}, {"sprung_tensioner"}),
        ({"accessory_drive": "DR-541", "fan": "electric"}, {"sprung_tensioner", "electric_fan"}),
        ({"fan": "mechanical"}, {"fan_blades"}),
        ({"pump_drive": "remote", "accessory_drive": "DR-558", "fan": "electric"}, {"remote_pump", "electric_fan"}),
    ],
)
def test_what_the_asker_s_own_parts_call_for(
    fields: dict[str, Any], called_for: set[str], graph: ConstraintGraph
) -> None:
    answer = fit(graph, build(**fields))
    assert answer.options
    codes = {caution.code for caution in answer.told.cautions}
    assert codes & {"sprung_tensioner", "electric_fan", "fan_blades", "remote_pump"} == called_for
    assert {"hot_coolant", "belt_and_fan", "eyes_and_stands", "glycol", "last_word"} <= codes


def test_a_blocked_build_tells_what_the_options_of_its_remedies_bear(graph: ConstraintGraph) -> None:
    answer = fit(graph, build(accessory_drive="DR-506", front_cover="FC-R5"))
    assert answer.remedies
    codes = {caution.code for caution in answer.told.cautions}
    assert codes == {each.code for remedy in answer.remedies for each in remedy.best.cautions}


unverified = unwrap(fit)
"""The verifier knows what the catalog says, not what is made up here."""


def with_rotation(monkeypatch: pytest.MonkeyPatch, check: Check) -> None:
    """Let every pump answer so to the check of the way that it turns."""
    monkeypatch.setattr(mounting, "rotation_check", lambda question, drive, pump: check)


@pytest.mark.parametrize("have", [[], ["WP-227"]], ids=["shared", "own"])
def test_what_a_check_lacks_reaches_answers_and_lines(
    demo: Snapshot, monkeypatch: pytest.MonkeyPatch, have: list[str]
) -> None:
    drive = Lack("DR-541", "Mapletern outer drive", "accessory_drive", "rotation")
    with_rotation(monkeypatch, Check("rotation", "measure_first", "not_known", {"lacks": (drive,)}))
    graph, asked = ConstraintGraph(demo), build(accessory_drive="DR-541", front_cover="FC-R5", have=have)
    answer = unverified(graph, asked)
    assert answer.verdict == "measure_first"
    (lack,) = answer.told.not_known
    assert (lack.lack, lack.leaves_open, lack.options) == (drive, (("rotation", ""),), len(answer.options))
    assert "Not known: which way round Mapletern outer drive turns. " in answer_text(answer)
    found = which_fit(graph, asked, ["WP-227", "SP-14", "DR-541", "WP-228"])
    assert [which.suits for which in found.parts] == ["measure_first", "measure_first", "measure_first", "no"]
    assert [each.lack for each in found.told.not_known] == [drive]
    assert found.told.not_known[0].options == 3


@pytest.mark.parametrize("have", [[], ["WP-227"]], ids=["shared", "own"])
def test_what_nobody_states_reaches_answers_and_lines(
    demo: Snapshot, monkeypatch: pytest.MonkeyPatch, have: list[str]
) -> None:
    facts = {"nobody": (("water_pump", "rotation"),)}
    with_rotation(monkeypatch, Check("rotation", "not_asked", "nobody_states", facts))
    graph, asked = ConstraintGraph(demo), build(accessory_drive="DR-541", front_cover="FC-R5", have=have)
    note = Note("nobody_states", check="rotation")
    answer = unverified(graph, asked)
    assert answer.verdict == "fits"
    assert [each for each in answer.told.notes if each.check] == [note]
    found = which_fit(graph, asked, ["WP-227", "FC-R5"])
    assert [which.suits for which in found.parts] == ["fits_with", "fits_with"]
    assert found.told.notes == (note,)


def test_a_blocked_build_tells_what_is_not_known_of_the_pumps_ruled_out(
    graph: ConstraintGraph,
) -> None:
    lack = Lack("DR-506", "a drive", "accessory_drive", "rotation")
    asked = build(accessory_drive="DR-506", front_cover="FC-R5")
    answer = fit(graph, asked, diagnose=False)
    missed = [msgspec.structs.replace(miss, check=lacking(lack)) for miss in answer.ruled_out]
    told = told_of(graph, resolve(graph.snapshot, asked), (), missed, ())
    assert [(each.lack, each.options) for each in told.not_known] == [(lack, len(missed))]


def test_several_answers_tell_each_thing_once() -> None:
    one = not_known([[lacking(ROOM, zone="sensor")], [lacking(ROOM, zone="sensor")]], PARTS.get)
    two = not_known([[lacking(ROOM, zone="connector"), lacking(TURNS, code="rotation")]], PARTS.get)
    found = together(
        [
            Told(("fan",), one, len(one), (Caution("glycol"),), (Note("clamps", count=2),)),
            Told(("fan", "heater"), two, len(two), (Caution("hot_coolant"),), (Note("clamps", count=4),)),
        ]
    )
    assert found.not_checked == ("fan", "heater")
    assert [(each.lack, each.options) for each in found.not_known] == [(ROOM, 2), (TURNS, 1)]
    assert found.not_known[0].leaves_open == (("cover", "connector"), ("cover", "sensor"))
    assert found.not_known_total == 2
    assert found.cautions == (Caution("hot_coolant"), Caution("glycol"))
    assert found.notes == (Note("clamps", count=4),)


@pytest.mark.parametrize(
    ("code", "zone", "said"),
    [
        ("bolts", "1", "the bolts"),
        ("radiator_gap", "front", "the room before the radiator"),
        ("radiator_gap", "behind", "the room behind the fan"),
        ("outlet_path", "outlet", "the way to the radiator"),
        ("heater_path", "heater_feed", "the way to the heater"),
        ("heater_path", "heater_return", "the way back from the heater"),
        ("cover", "", "the cover"),
        ("carried_parts", "tensioner", "the tensioner that the pump carries"),
        ("line_size", "upper", "the size of the line to the radiator's upper port"),
    ],
)
def test_where_a_check_is_made_is_said_in_words(code: str, zone: str, said: str) -> None:
    assert told_once.check_name(code, zone) == said


def test_groups_of_bolts_are_told_once() -> None:
    found = not_known([[lacking(TURNS, code="bolts", zone="1"), lacking(TURNS, code="bolts", zone="2")]], PARTS.get)
    assert "so this is not checked: the bolts. " in told_once.not_known_text(found[0])


@pytest.mark.parametrize(
    ("text", "facts", "said"),
    [
        ("Only 7.3 mm is free.", {}, "only 7.3 mm is free."),
        ("It is not known how.", {}, "it is not known how."),
        ("A belt is.", {}, "a belt is."),
        ("My pump has none.", {"part": "my pump"}, "my pump has none."),
        ("Fernbrook pump has none.", {"part": "Fernbrook pump"}, "Fernbrook pump has none."),
        ("Fernbrook pumps.", {"part": "Fernbrook pump"}, "fernbrook pumps."),
        ("Low (2) has none.", {"needs": [{"part": "Low (2)"}]}, "Low (2) has none."),
        ("WP-1 needs it.", {}, "WP-1 needs it."),
        ("VVT is.", {}, "VVT is."),
    ],
)
def test_a_sentence_within_another_begins_small_but_for_names(text: str, facts: dict[str, Any], said: str) -> None:
    assert lower(text, facts) == said


def test_a_described_pump_is_the_asker_s_wherever_it_is_named() -> None:
    assert pump_named("my pump (described)", "my pump") == "your pump (my pump)"
    assert pump_named("WP-1", "Fernbrook pump") == "the Fernbrook pump"


def test_sentences_of_what_is_not_known() -> None:
    found = not_known([[lacking(ROOM, zone="sensor"), lacking(TURNS, code="rotation")]], PARTS.get)
    said = [told_once.not_known_text(each) for each in found]
    assert said == [
        "It is not known which way round Fernbrook pump turns, so this is not checked: which way the pump turns. "
        "Look it up or see it on the part, and ask again with it.",
        "It is not known how much room Fernbrook pump leaves for a cover at the sensor, so this is not checked: "
        "the cover at its sensor. Measure it with a caliper, from the pump's flange to its lowest point over the cover "
        "(sensor).",
    ]
