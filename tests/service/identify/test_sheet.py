"""The reference sheet against the engine's own answers, and its cells."""

import csv
import io
from fractions import Fraction

import pytest

from catalog.domain import Cue, Measure, Part
from service.api.route_sheet import as_csv
from service.fit.build import Build, Must
from service.fit.engine import fit
from service.fit.graph import ConstraintGraph
from service.identify.sheet import sheet
from tests.support import snapshot_of


@pytest.mark.parametrize("pump", ["WP-117", "WP-139", "WP-227", "WP-228", "WP-242", "WP-252", "WP-G31"])
def test_planes_and_covers_are_those_of_whole_answers(graph: ConstraintGraph, pump: str) -> None:
    row = next(row for row in sheet(graph, "water_pump").rows if row.part.number == pump)
    plates = [part.number for kind in ("spacer", "adapter_plate") for part in graph.of_kind(kind)]
    engine = "ENG-G30" if pump.startswith("WP-G") else "ENG-R12"

    def straight_on(**slots: str) -> bool:
        build = Build(engine=engine, pump=pump, must=Must(without=plates), limit=1, **slots)  # type: ignore[arg-type]
        return bool(fit(graph, build).options)

    drives = {part.number for part in graph.of_kind("accessory_drive") if straight_on(accessory_drive=part.number)}
    assert {served.drive for served in row.planes_served} == drives
    covers = {part.number for part in graph.of_kind("front_cover") if straight_on(front_cover=part.number)}
    assert set(row.covers) == covers


def test_the_tallest_cover_is_the_room_and_the_gasket_less_the_air(graph: ConstraintGraph) -> None:
    # By hand: WP-241's room is 58.5 less 0.1, the gasket 0.7 less 0.05, the air 1.5: 57.55 mm.
    row = next(row for row in sheet(graph, "water_pump").rows if row.part.number == "WP-241")
    assert Fraction(row.tallest_cover or 0, 1_000_000) == Fraction("57.55")
    assert row.housing == "Mossheron thermostat housing face of the second generation, four bolts"


def test_csv_reads_back_as_it_is(graph: ConstraintGraph) -> None:
    text = as_csv(sheet(graph, "water_pump"), "mm")
    assert text.endswith("\r\n")
    rows = list(csv.DictReader(io.StringIO(text, newline="")))
    assert [row["part"] for row in rows] == [part.number for part in graph.of_kind("water_pump")]
    assert all(len(row) == len(rows[0]) and None not in row for row in rows)
    wide = next(row for row in rows if row["part"] == "WP-117")
    assert wide["planes_served"] == "DR-506 (106.7 mm); DR-528 (128.0 mm)"
    assert float(wide["belt_plane_mm"]) == 116.7
    inches = list(csv.DictReader(io.StringIO(as_csv(sheet(graph, "water_pump"), "in"), newline="")))
    assert float(inches[0]["belt_plane_in"]) == pytest.approx(106 / 25.4, abs=5e-4)


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t=", " =", "\r", "\n@"])
def test_no_cell_is_a_formula(start: str) -> None:
    # OWASP, "CSV Injection": a cell that starts with =, +, -, @, a tab or a line break is run by spreadsheets.
    cue = Cue("mark", "What is cast on it?", f"{start}1", (f"{start}1", "none"), "in_car", 1)
    deep = Measure("hub_face", -1_000_000, 0, 0, "drawing", "")
    part = Part("P-1", "water_pump", f"{start}HYPERLINK", measures={"hub_face": deep}, cues=(cue,))
    text = as_csv(sheet(ConstraintGraph(snapshot_of([part])), "water_pump"), "mm")
    row = next(csv.DictReader(io.StringIO(text, newline="")))
    assert row["name"] == f"'{start}HYPERLINK"
    assert row["mark"] == f"'{start}1"
    # A number stays a number.
    assert float(row["hub_face_mm"]) == -1.0
