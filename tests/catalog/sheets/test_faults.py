"""Every fault of a sheet is told with its file, row and column and what would be right, all at once."""

from datetime import date, datetime, timedelta
from pathlib import Path

import pytest
from openpyxl.styles import numbers

from catalog.making import Rows
from catalog.propose import EMPTY
from catalog.sheets.faults import MOST_FAULTS, SheetFaults, letter
from tests.catalog.sheets.support import csv_file, example, faults, laid, text_file, workbook

MEASURES = ("part", "measure", "value", "taken_with")


@pytest.fixture(scope="module")
def release(tmp_path_factory: pytest.TempPathFactory) -> Rows:
    return example(tmp_path_factory.mktemp("example"))


def test_all_faults_of_all_sheets_are_told_at_once(release: Rows, tmp_path: Path) -> None:
    parts = csv_file(
        tmp_path,
        "parts",
        ("number", "kind", "name", "status", "recommended"),
        ("WP-503", "waterpump", "Third pump", "", ""),
        ("WP-503", "water_pump", "Third pump again", "", ""),
        ("", "spacer", "No number", "", ""),
        ("SP-520", "spacer", "", "gone", "maybe"),
        ("wp-501", "gasket", "=A1", "", ""),
    )
    measures = csv_file(
        tmp_path,
        "measures",
        MEASURES,
        ("WP-501", "beltplane", "139 mm", ""),
        ("WP-501", "belt_plane", "139", ""),
        ("WP-501", "nose", "1,234 mm", "ruler"),
        ("WP-5O2", "nose", "141 mm", ""),
        ("GK-501", "belt_plane", "1 mm", ""),
        ("SP-508", "thickness", "2026-03-04", ""),
    )
    prices = csv_file(tmp_path, "prices", ("part", "price"), ("WP-501", "131.50"), ("WP-502", "99.999 USD"))
    found = faults(release, measures, prices, parts)
    assert found == [
        'parts.csv, row 2, column kind (B): "waterpump" should be one of engine, front_cover, water_pump, pulley, '
        "crank_pulley, accessory_drive, belt, spacer, adapter_plate, outlet_plate, gasket, fastener_set, "
        "thermostat_housing, thermostat, fitting, hose, plug, cap, radiator, heater_core, fan, fan_adapter, "
        'remote_pump; did you mean "water_pump"?',
        'parts.csv, row 3, column number (A): "WP-503" stands already in parts.csv, row 2',
        "parts.csv, row 4, column number (A): must be filled: part number: letters, digits, full stops, _ and -",
        'parts.csv, row 5, column status (D): "gone" should be one of active, retired',
        'parts.csv, row 5, column recommended (E): "maybe" should be yes or no',
        'measures.csv, row 2, column measure (B): there is no measure "beltplane"; did you mean "belt_plane"?',
        'measures.csv, row 3, column value (C): "139" has no unit; write it as "146 mm", "14.6 cm" or "5 3/4 in"',
        'measures.csv, row 4, column value (C): "1,234 mm" could be 1.234 or 1234; write decimals with a point',
        'measures.csv, row 4, column taken_with (D): "ruler" should be one of drawing, caliper, tape',
        'measures.csv, row 5, column part (A): there is no part "WP-5O2", neither in the catalog nor in these sheets; '
        'did you mean "WP-502"?',
        "measures.csv, row 6, column measure (B): no gasket has a measure belt_plane; a gasket has thickness",
        'measures.csv, row 7, column value (C): "2026-03-04" is a date, perhaps made by the spreadsheet program; '
        'format the column as text and write the length with its unit, as "3/4 in"',
        'prices.csv, row 2, column price (B): "131.50" has no currency; write it as "131.50 USD", in the currency of '
        "the catalog",
        "prices.csv, row 3, column price (B): 99.999 has more decimals than USD has",
        "parts.csv, row 6: part wp-501 is also the name of part WP-501",
        'parts.csv, row 6: part wp-501: the name "=A1" is empty or starts with =, +, - or @',
        "parts.csv, row 6: part wp-501: every gasket needs the measure thickness, from face to face (a gasket: "
        "compressed; an O-ring has none)",
    ]


def test_what_the_whole_catalog_needs_is_told_with_the_line(release: Rows, tmp_path: Path) -> None:
    parts = csv_file(
        tmp_path,
        "parts",
        ("number", "kind", "name"),
        ("SP-520", "spacer", "Thick spacer"),
        ("gk-501", "gasket", "Another gasket"),
    )
    measures = csv_file(
        tmp_path, "measures", MEASURES, ("WP-501", "belt_plane", "137.7 mm", ""), ("gk-501", "thickness", "1 mm", "")
    )
    bands = csv_file(
        tmp_path, "bands", ("part", "band", "from", "to", "surface"), ("WP-502", "3", "1 mm", "20 mm", "smooth")
    )
    assert faults(release, parts, measures, bands) == [
        "bands.csv, row 2: part WP-502 has a band 3 and no band 2",
        "parts.csv, row 3: part gk-501 is also the name of part GK-501",
        "parts.csv, row 2: part SP-520: every spacer needs the measure thickness, from face to face (a gasket: "
        "compressed; an O-ring has none)",
        "parts.csv, row 2: part SP-520: every spacer needs one mount (second end) and one pump_face (first end) on "
        "the same connection",
        "measures.csv, row 2: part WP-501: its first band is not centred on belt_plane; it would run from 126.7 mm "
        "to 148.7 mm",
    ]


def test_seals_and_sizes_that_contradict_are_told_with_the_line(release: Rows, tmp_path: Path) -> None:
    connections = csv_file(
        tmp_path,
        "connections",
        ("name", "title", "sort", "first_end", "second_end", "seal", "gasket", "size"),
        ("hazelrook_face", "Hazelrook pump face", "face", "block", "pump", "o_ring", "GK-501", ""),
        ("hazelrook_bead", "1 1/4 in hose on a bead", "hose", "spigot", "hose", "clamp", "", "1 1/2 in hose"),
    )
    ports = csv_file(
        tmp_path,
        "ports",
        ("part", "name", "role", "connection", "end", "gasket"),
        ("FC-501", "mount", "mount", "hazelrook_cover", "cover", "GK-501"),
    )
    assert faults(release, connections, ports) == [
        'connections.csv, row 3: connection hazelrook_bead: "1 1/4 in hose on a bead" says 1 1/4 in hose, and its size '
        "is 1 1/2 in hose",
        "ports.csv, row 2: part FC-501: port mount requires GK-501, and connection hazelrook_cover is sealed by "
        "sealant, without a gasket",
        "the catalog as it would be: part GK-501: no stack counts its thickness, for it is the O-ring of connection "
        "hazelrook_face: leave it out",
    ]


def test_ports_connections_and_rules_name_what_there_is(release: Rows, tmp_path: Path) -> None:
    ports = csv_file(
        tmp_path,
        "ports",
        ("part", "name", "role", "connection", "end", "gasket"),
        ("WP-501", "inlet", "coolant_inn", "hazelrook_face", "pump", ""),
        ("WP-501", "mount", "mount", "hazelrok_face", "pump", ""),
        ("WP-502", "mount", "mount", "hazelrook_face", "pmp", "SP-508"),
    )
    connections = csv_file(tmp_path, "connections", ("name", "gasket", "bolts"), ("hazelrook_face", "GK-502", "six"))
    rules = csv_file(
        tmp_path,
        "rules",
        ("name", "kind", "part", "others", "settles"),
        ("tried", "tested_fit", "WP-501", "SP-508; SP-50", "cover; bolts"),
    )
    attributes = csv_file(
        tmp_path,
        "attributes",
        ("part", "attribute", "value"),
        ("WP-501", "rotaton", "clockwise"),
        ("WP-501", "ribs", "6"),
        ("ENG-501", "thread", "M9"),
        ("ENG-501", "wet_holes", "perhaps"),
    )
    told = faults(release, ports, connections, rules, attributes)
    assert [fault.partition(":")[0] for fault in told] == [
        "connections.csv, row 2, column bolts (C)",
        "ports.csv, row 2, column role (C)",
        "ports.csv, row 3, column connection (D)",
        "ports.csv, row 4, column gasket (F)",
        "ports.csv, row 4, column end (E)",
        "attributes.csv, row 2, column attribute (B)",
        "attributes.csv, row 3, column attribute (B)",
        "attributes.csv, row 4, column value (C)",
        "attributes.csv, row 5, column value (C)",
        "rules.csv, row 2, column settles (E)",
    ]
    assert '"coolant_inn" should be one of' in told[1]
    assert 'did you mean "coolant_in"?' in told[1]
    assert '"hazelrok_face", neither in the catalog nor in these sheets; did you mean "hazelrook_face"?' in told[2]
    assert told[3].endswith('"SP-508" is a spacer and no gasket')
    assert told[4].endswith('"pmp" is no end of hazelrook_face, whose ends are block and pump')


@pytest.mark.parametrize(
    ("value", "told"),
    [
        ("=1+1", "holds a formula (=1+1); put its value there instead (copy, then paste as values)"),
        (date(2026, 3, 4), "is a date or a time (2026-03-04 00:00:00), made by the spreadsheet program"),
        (datetime(2026, 3, 4, 5), "is a date or a time (2026-03-04 05:00:00)"),
        (timedelta(hours=3), "is a date or a time"),
        ("#REF!", "holds a spreadsheet's error (#REF!); write the value"),
        (141, '"141" has no unit'),
        ("x" * 10_001, "has 10,001 characters; at most 10,000 are read"),
        ("141 mm\nabout", "is not a length"),
    ],
    ids=["formula", "date", "datetime", "time", "error", "number", "long", "break"],
)
def test_cells_of_a_workbook_that_hold_no_length(release: Rows, tmp_path: Path, value: object, told: str) -> None:
    path, _ = workbook(tmp_path, "ours", {"measures": [MEASURES[:3], ("DR-501", "belt_plane", value)]})
    (fault,) = faults(release, path)
    assert fault.startswith("ours.xlsx, sheet measures, row 2, column value (C): ")
    assert told in fault


def test_a_number_formatted_as_a_date_is_a_date(release: Rows, tmp_path: Path) -> None:
    """What a spreadsheet program makes of "3/4": the fourth of March, a number with a date's format."""
    path, book = workbook(tmp_path, "ours", {"aliases": [("alias", "part"), (46085, "WP-501")]})
    book["aliases"]["A2"].number_format = numbers.FORMAT_DATE_DMYSLASH
    book.save(path)
    assert "column alias (A): is a date or a time (2026-03-04 00:00:00)" in faults(release, path)[0]


def test_merged_cells_are_named(release: Rows, tmp_path: Path) -> None:
    lines = [("part", "price"), ("WP-501", "1 USD"), (None, "2 USD")]
    path, book = workbook(tmp_path, "ours", {"prices": lines})
    book["prices"].merge_cells("A2:A3")
    book.save(path)
    assert faults(release, path) == [
        "ours.xlsx, sheet prices: cells are merged (A2:A3); unmerge them and fill each cell"
    ]


def test_bytes_in_another_encoding_are_told_with_their_cells(release: Rows, tmp_path: Path) -> None:
    file = text_file(tmp_path, "parts", "number,name\nGK-501,Dünn\nSP-508,ok\nSP-514,größer\n".encode("cp1252"))
    assert faults(release, file) == [
        'parts.csv, row 2, column name (B): is not in UTF-8 (is it "Dünn"?); save the file as "CSV UTF-8"',
        'parts.csv, row 4, column name (B): is not in UTF-8 (is it "größer"?); save the file as "CSV UTF-8"',
    ]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "parts.csv: is empty; its first line holds the headings"),
        (
            "number,nmae\nA,B\n",
            'row 1, column (B): "nmae" is no heading of parts, which has number, kind, name, status',
        ),
        ("number,name,name\nA,B,C\n", 'row 1, column (C): the heading "name" is there twice'),
        ('number,name\nGK-501,"5" seal\n', "row 2: a quotation mark opens a cell and is not closed"),
        ('number,name\nGK-501,"seal\n', "row 2: a quotation mark opens a cell and is not closed"),
        ("number,name\nGK-501,seal, thin\n", 'row 2, column (C): "thin" stands beyond the headings'),
        ("number,name\nGK-501,se\0al\n", "row 2, column name (B): holds a line break or another character"),
        ("number,name\nGK-501," + "x" * 401 + "\n", "row 2, column name (B): has 401 characters; at most 400 are kept"),
        ("number,name\nGK-501," + "x" * 200_000 + "\n", "a cell has more than"),
        ("number\nNEW-1\n", "row 2: what is new in parts needs columns that this sheet has not: kind, name"),
        (b"PK\x03\x04rest", "is a workbook and not CSV; name it .xlsx"),
        (b"\xd0\xcf\x11\xe0rest", "is an old workbook (.xls) or one with a password"),
    ],
)
def test_csv_that_is_none(release: Rows, tmp_path: Path, text: str | bytes, told: str) -> None:
    (fault,) = faults(release, text_file(tmp_path, "parts", text))
    assert told in fault


def test_files_that_are_no_sheets(release: Rows, tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    (tmp_path / "notes.docx").write_text("x")
    (tmp_path / "old.xlsx").write_bytes(b"\xd0\xcf\x11\xe0")
    (tmp_path / "broken.xlsx").write_bytes(b"PK\x03\x04nothing")
    (tmp_path / "text.xlsx").write_text("number,name")
    names = ("empty", "notes.docx", "old.xlsx", "broken.xlsx", "text.xlsx", "missing.csv")
    told = faults(release, *(tmp_path / name for name in names))
    for fault, name in zip(told, names, strict=True):
        assert fault.startswith(f"{name}: ")
    assert "holds no file that ends in .csv or .xlsx" in told[0]
    assert "is neither .csv nor .xlsx" in told[1]


def test_a_workbook_whose_sheet_is_misnamed_is_a_fault(release: Rows, tmp_path: Path) -> None:
    path, _ = workbook(tmp_path, "ours", {"Sheet1": [("part", "value"), ("WP-501", "1 mm")]})
    assert "which sheet is this?" in faults(release, path)[0]


def test_faults_beyond_the_limit_are_counted(tmp_path: Path) -> None:
    lines = [(f"P-{number}", "nothing", "x") for number in range(MOST_FAULTS + 1_234)]
    file = csv_file(tmp_path, "parts", ("number", "kind", "name"), *lines)
    with pytest.raises(SheetFaults, match=r"1,334 faults:(.|\n)*\n  and 1,234 more$") as caught:
        laid(EMPTY, file)
    assert len(caught.value.faults.told) == MOST_FAULTS


def test_columns_have_the_letters_of_spreadsheets() -> None:
    """As openpyxl counts them."""
    from openpyxl.utils import get_column_letter

    assert [letter(number) for number in range(1, 800)] == [get_column_letter(number) for number in range(1, 800)]
