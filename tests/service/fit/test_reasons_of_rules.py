"""What the catalog knows of parts together is told with how it knows it, wherever a part is said not to fit."""

from pathlib import Path
from typing import Any

import pytest
from msgspec import convert

from catalog.database import open_read_only, reading
from catalog.domain import Connection, Part, Port, Rule
from catalog.migrate import upgrade
from catalog.reader import read_snapshot
from service.fit.build import Build
from service.fit.engine import fit
from service.fit.graph import ConstraintGraph
from service.fit.which import Which, which_fit
from service.fit.wording import conflict_text, ruled_out_text
from service.fit.wording.parts import WHY, which_text
from tests.support import snapshot_of

DEMO = Path(__file__).parents[3] / "migrations" / "demo"
IDLER = "(the wide pulley runs into the drive's lower idler; shop test car, 2023)"


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> ConstraintGraph:
    url = f"sqlite:///{tmp_path_factory.mktemp('demo')}/catalog.sqlite"
    upgrade(url, DEMO)
    with reading(open_read_only(url)) as connection:
        return ConstraintGraph(read_snapshot(connection))


def which(graph: ConstraintGraph, number: str, **build: Any) -> Which:
    (found,) = which_fit(graph, convert(build, Build), [number]).parts
    return found


def test_a_pump_that_a_rule_excludes_is_told_by_the_rule(demo: ConstraintGraph) -> None:
    build = {"engine": "ENG-R20", "accessory_drive": "DR-541", "front_cover": "FC-R5"}
    missed = next(each for each in fit(demo, convert(build, Build)).ruled_out if each.pump == "WP-117")
    text = f"Ashplover wide pump, pulley two belts wide does not go with Mapletern outer drive {IDLER}."
    assert ruled_out_text(missed) == text
    assert missed.thickness_window is None
    (rest,) = missed.check.rests_on
    assert (rest.rule, rest.source) == ("wide_pulley_meets_idler", IDLER[1:-1])
    found = which(demo, "WP-117", **build)
    assert (found.suits, which_text(found, demo.snapshot.parts)) == ("no", text)
    conflict = fit(demo, convert({**build, "pump": "WP-117"}, Build)).conflicts[0]
    assert IDLER in conflict_text(convert({**build, "pump": "WP-117"}, Build), conflict)


def test_a_rule_stands_before_what_another_plate_would_mend(demo: ConstraintGraph) -> None:
    # Its belt runs some 41 mm off without plates; no plate makes a pump go with a drive that it does not go with.
    build = {"engine": "ENG-R20", "accessory_drive": "DR-541", "front_cover": "FC-R5"}
    spacers = [part.number for part in demo.of_kind("spacer")]
    answer = fit(demo, convert({**build, "must": {"without": spacers}}, Build))
    missed = next(each for each in answer.ruled_out if each.pump == "WP-117")
    assert (missed.check.code, missed.short_by, missed.thickness_window) == ("rule", None, None)


def test_a_part_beside_the_build_is_told_by_its_rule(demo: ConstraintGraph) -> None:
    lines = {"accessory_drive": "DR-541", "radiator": "RD-31", "heater": "none"}
    found = which(demo, "TH-M14", engine="ENG-R20", front_cover="FC-R6", **lines)
    assert which_text(found, demo.snapshot.parts).endswith(
        "does not go with Rowanfinch tall VVT front cover, late (the neck runs into the cover's corner)."
    )
    assert found.check is not None
    assert [rest.rule for rest in found.check.rests_on] == ["back_housing_meets_late_cover"]
    free = which(demo, "TH-M14", engine="ENG-R20", front_cover="FC-R5", **lines)
    assert free.suits == "fits_with"
    fan = which(demo, "FN-M50", engine="ENG-R20", accessory_drive="DR-558", front_cover="FC-R5", fan="mechanical")
    assert (fan.suits, fan.why) == ("no", "")
    assert "a blade touched the idler" in which_text(fan, demo.snapshot.parts)


def small(*rules: Rule) -> ConstraintGraph:
    """An engine with two spacers that nothing tells apart but the rules, and a pump that takes one of them."""

    def part(number: str, kind: str, *ports: Port) -> Part:
        return Part(number, kind, f"the {number}", ports=ports)  # type: ignore[arg-type]

    face, mount = Port("face", "pump_face", "block_face", "block"), Port("mount", "mount", "block_face", "pump")
    other = Port("mount", "mount", "other_face", "pump")
    pulley = Port("mount", "mount", "other_face", "pump")
    return ConstraintGraph(
        snapshot_of(
            [
                part("E-1", "engine", face),
                part("D-1", "accessory_drive"),
                part("P-1", "water_pump", mount),
                part("P-2", "water_pump", other),
                part("U-1", "pulley", pulley),
            ],
            [
                Connection("block_face", "block face", "face_pattern", ("block", "pump"), "none"),
                Connection("other_face", "other face", "face_pattern", ("block", "pump"), "none"),
            ],
            rules,
        )
    )


def test_a_needed_part_that_is_missing_is_told_with_its_source() -> None:
    graph = small(Rule("needs", "requires", "P-1", ("U-1",), source="sold without one"))
    missed = fit(graph, convert({"engine": "E-1", "accessory_drive": "D-1"}, Build)).ruled_out[0]
    assert ruled_out_text(missed) == "The P-1 needs the U-1, which is not in this build (sold without one)."
    assert [(rest.rule, rest.source) for rest in missed.check.rests_on] == [("needs", "sold without one")]


def test_what_an_option_may_yet_choose_is_not_held_against_a_part() -> None:
    needs_pump = small(Rule("needs", "requires", "U-1", ("P-2",), source="bench"))
    asked = which(needs_pump, "U-1", engine="E-1", accessory_drive="D-1")
    assert which_text(asked, needs_pump.snapshot.parts) == WHY["not_used"]
    named = which(needs_pump, "U-1", engine="E-1", accessory_drive="D-1", pump="P-1")
    assert which_text(named, needs_pump.snapshot.parts) == "The U-1 needs the P-2, which is not in this build (bench)."


def test_a_rule_between_others_says_nothing_of_a_part() -> None:
    clash = (Rule("clash", "excludes", "D-1", ("E-1",), source="bench"), Rule("own", "excludes", "U-1", ("P-2",)))
    graph = small(*clash)
    found = which(graph, "U-1", engine="E-1", accessory_drive="D-1")
    assert which_text(found, graph.snapshot.parts) == WHY["not_used"]
