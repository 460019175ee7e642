"""Sheets laid over a release: what they add, revise, keep and take away, in every kind of file."""

from pathlib import Path

import pytest

from catalog.making import Rows
from catalog.propose import EMPTY
from catalog.reader import digest_of
from catalog.sheets.example import example_lines
from catalog.sheets.layout import SHEETS
from catalog.sheets.write import template_lines, write_sheets
from tests.catalog.sheets.support import csv_file, example, faults, laid, text_file, workbook

MM = 1_000_000
MEASURES = ("part", "measure", "value", "plus", "minus", "taken_with", "source")


@pytest.fixture(scope="module")
def release(tmp_path_factory: pytest.TempPathFactory) -> Rows:
    return example(tmp_path_factory.mktemp("example"))


def row(rows: Rows, table: str, *key: object) -> tuple[object, ...] | None:
    found = [each for each in rows[table] if each[: len(key)] == key]
    return found[0] if found else None


def test_a_partial_sheet_revises_what_it_names_and_nothing_else(release: Rows, tmp_path: Path) -> None:
    file = csv_file(tmp_path, "measures", ("part", "measure", "value"), ("FC-501", "cover_height", "2 in"))
    after = laid(release, file)
    # 1 in = 25.4 mm exactly (NIST SP 811); the tolerances and the source stay.
    assert row(after, "measure", "FC-501", "cover_height") == (
        *("FC-501", "cover_height", 50_800_000, MM // 5, MM // 5, "caliper", "shop bench"),
    )
    changed = {table: [each for each in after[table] if each not in release[table]] for table in after}
    assert [table for table, rows in changed.items() if rows] == ["measure"]


def test_a_reading_with_another_tool_takes_that_tools_tolerance(release: Rows, tmp_path: Path) -> None:
    """A tape's sixteenth either way: the default of catalog/vocabulary.py (common practice, no source)."""
    file = csv_file(tmp_path, "measures", MEASURES, ("FC-501", "cover_height", "48 mm", "", "", "tape", ""))
    assert row(laid(release, file), "measure", "FC-501", "cover_height") == (
        *("FC-501", "cover_height", 48 * MM, 1_587_500, 1_587_500, "tape", "tape"),
    )


def test_a_drawn_bolts_length_has_its_standards_tolerance(release: Rows) -> None:
    """ISO 4014, js15: 45 mm is within 0.50 mm either way."""
    found = row(release, "measure", "FS-45", "length")
    assert found is not None
    assert found[3:5] == (500_000, 500_000)


def test_an_empty_cell_changes_nothing_and_a_dash_empties(release: Rows, tmp_path: Path) -> None:
    headings = ("name", "gasket", "bolts")
    same = csv_file(tmp_path, "connections", headings, ("hazelrook_face", "", ""))
    assert digest_of(laid(release, same)) == digest_of(release)
    ports = csv_file(tmp_path, "ports", ("part", "name", "gasket", "side"), ("WP-501", "mount", "GK-501", "left"))
    given = laid(release, ports)
    port = row(given, "port", "WP-501", "mount")
    assert port is not None
    assert (port[6], port[9]) == ("left", "GK-501")
    emptied = csv_file(tmp_path / "next", "ports", ("part", "name", "gasket"), ("WP-501", "mount", "-"))
    port = row(laid(given, emptied), "port", "WP-501", "mount")
    assert port is not None
    assert (port[6], port[9]) == ("left", None)


def test_a_whole_sheet_retires_parts_and_takes_lines_away(release: Rows, tmp_path: Path) -> None:
    write_sheets(tmp_path / "all", example_lines())
    parts = tmp_path / "all" / "parts.csv"
    kept = [line for line in parts.read_text("utf-8-sig").splitlines() if not line.startswith("SP-508")]
    parts.write_text("\n".join(kept))
    rules = tmp_path / "all" / "rules.csv"
    rules.write_text(rules.read_text("utf-8-sig").splitlines()[0])
    prices = tmp_path / "all" / "prices.csv"
    prices.write_text("\n".join(line for line in prices.read_text("utf-8-sig").splitlines() if "WP-501" not in line))
    whole = laid(release, tmp_path / "all", whole=True)
    assert row(whole, "part", "SP-508") == ("SP-508", "spacer", "Hazelrook pump spacer, 8 mm", "retired", False)
    assert row(whole, "measure", "SP-508", "thickness") is not None, "what is known of a retired part stays"
    assert whole["rule"] == []
    assert row(whole, "price", "WP-501") is None
    partial = laid(release, tmp_path / "all")
    assert digest_of(partial) == digest_of(release)


def test_a_table_without_a_sheet_stays_under_whole(release: Rows, tmp_path: Path) -> None:
    write_sheets(tmp_path / "all", example_lines())
    assert digest_of(laid(release, tmp_path / "all" / "parts.csv", whole=True)) == digest_of(release)


def test_a_part_is_retired_and_offered_again(release: Rows, tmp_path: Path) -> None:
    headings = ("number", "status", "recommended")
    after = laid(release, csv_file(tmp_path, "parts", headings, ("WP-501", "retired", "no")))
    assert row(after, "part", "WP-501") == ("WP-501", "water_pump", "Hazelrook long pump", "retired", False)
    again = laid(after, csv_file(tmp_path / "b", "parts", headings, ("WP-501", "active", "yes")))
    assert digest_of(again) == digest_of(release)


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_every_kind_of_csv(release: Rows, tmp_path: Path, separator: str, encoding: str) -> None:
    lines = [("number", "name"), ("GK-501", "Dünne Dichtung, 1 mm")]
    file = csv_file(tmp_path, "parts", *lines, delimiter=separator, encoding=encoding)
    assert row(laid(release, file), "part", "GK-501") == ("GK-501", "gasket", "Dünne Dichtung, 1 mm", "active", False)


@pytest.mark.parametrize("name", ["parts", "Parts", "our parts 2026", "whatever"])
def test_a_sheet_is_known_by_its_name_or_its_headings(release: Rows, tmp_path: Path, name: str) -> None:
    file = csv_file(tmp_path, name, ("Number", " NAME "), ("GK-501", "Seal"))
    assert row(laid(release, file), "part", "GK-501") == ("GK-501", "gasket", "Seal", "active", False)


@pytest.mark.parametrize(
    ("text", "length"),
    [
        ("51 mm", 51 * MM),
        ("5.1 cm", 51 * MM),
        ("2 in", 50_800_000),
        ('2"', 50_800_000),
        ("2 1/64 in", 51_196_875),  # 1/64 in is 0.396875 mm exactly
        ("51,5 mm", 51_500_000),
        ("51.5mm", 51_500_000),
        ("'51 mm", None),
    ],
)
def test_lengths_as_people_type_them(release: Rows, tmp_path: Path, text: str, length: int | None) -> None:
    file = csv_file(tmp_path, "measures", MEASURES[:3], ("FC-501", "cover_height", text))
    if length is None:
        assert "is not a length" in faults(release, file)[0]
    else:
        found = row(laid(release, file), "measure", "FC-501", "cover_height")
        assert found is not None
        assert found[2] == length


@pytest.mark.parametrize("text", ["131.50 USD", "131,50 USD", "131.5 usd", "USD 131.50", "131.50USD"])
def test_prices_as_people_type_them(release: Rows, tmp_path: Path, text: str) -> None:
    file = csv_file(tmp_path, "prices", ("part", "price"), ("WP-501", text))
    assert row(laid(release, file), "price", "WP-501") == ("WP-501", 13_150, "USD")


def test_a_workbook_with_numbers_and_notes(release: Rows, tmp_path: Path) -> None:
    path, _ = workbook(
        tmp_path,
        "ours",
        {
            "aliases": [("alias", "part"), (71204808, "WP-501"), (71204809.0, "WP-501")],
            "parts": [("number", "recommended"), ("WP-502", True)],
            "attributes": [("part", "attribute", "value"), ("DR-501", "ribs", 5.0)],
            "notes of ours": [("call the foundry",)],
            "empty": [],
        },
    )
    after = laid(release, path)
    assert [each for each in after["alias"] if each[0].startswith("7120")] == [
        ("71204808", "WP-501"),
        ("71204809", "WP-501"),
    ]
    assert row(after, "part", "WP-502") == ("WP-502", "water_pump", "Hazelrook short pump", "active", True)
    assert row(after, "attribute", "DR-501", "ribs") == ("DR-501", "ribs", "5")


def test_lines_with_a_number_sign_and_empty_ones_are_passed_over(release: Rows, tmp_path: Path) -> None:
    file = text_file(tmp_path, "parts", "\n# ours,\nnumber,name\n#WP-1,none\n,\nGK-501,Seal\n\n")
    assert row(laid(release, file), "part", "GK-501") == ("GK-501", "gasket", "Seal", "active", False)


def test_the_template_says_nothing_and_its_examples_are_right(release: Rows, tmp_path: Path) -> None:
    for target in (tmp_path / "empty", tmp_path / "empty.xlsx"):
        write_sheets(target, template_lines())
        assert digest_of(laid(EMPTY, target)) == digest_of(EMPTY)
        assert digest_of(laid(release, target, whole=False)) == digest_of(release)
    for file in sorted((tmp_path / "empty").iterdir()):
        file.write_text(file.read_text("utf-8-sig").replace("# ", "", 1))
    after = laid(release, tmp_path / "empty")
    assert {name for name, sheet in SHEETS.items() if after[sheet.table] == []} == set()
    assert row(after, "rule", "hazelrook_pump_tried") is not None
    assert row(after, "measure", "WP-501", "belt_plane") == row(release, "measure", "WP-501", "belt_plane")


def test_semicolons_and_quotation_marks_in_a_list(release: Rows, tmp_path: Path) -> None:
    headings = ("part", "name", "question", "answer", "answers", "ease", "error_percent")
    line = ("GK-501", "mark", "What is on it?", "a; b", '"a; b"; "say ""x"""; plain', "in_car", "1")
    after = laid(release, csv_file(tmp_path, "cues", headings, line))
    found = row(after, "cue", "GK-501", "mark")
    assert found is not None
    assert found[4] == r'["a; b","say \"x\"","plain"]'
