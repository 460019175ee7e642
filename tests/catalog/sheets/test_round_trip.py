"""What an export writes is read back as the very same release, and no cell of it runs as a formula."""

import csv
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from zipfile import ZipFile

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalog.database import open_read_only, reading
from catalog.differences import edits_between
from catalog.edit_rows import Changes
from catalog.making import Rows
from catalog.migrate import upgrade
from catalog.propose import EMPTY
from catalog.reader import digest_of, rows_at
from catalog.releases import list_releases
from catalog.sheets.apply import apply_sheets
from catalog.sheets.cells import guarded, join_list, split_list, unguarded
from catalog.sheets.write import release_lines, write_sheets
from tests.catalog.sheets.support import laid

FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""How a cell begins that a spreadsheet program may run: OWASP, "CSV Injection"."""


@pytest.fixture(scope="module")
def releases(tmp_path_factory: pytest.TempPathFactory) -> dict[int, Rows]:
    """The rows of every release of the demo."""
    url = f"sqlite:///{tmp_path_factory.mktemp('demo') / 'catalog.db'}"
    upgrade(url)
    engine = open_read_only(url)
    with reading(engine) as connection:
        found = {release.number: rows_at(connection, release.number) for release in list_releases(connection)}
    engine.dispose()
    return found


@pytest.mark.parametrize("number", range(1, 9))
@pytest.mark.parametrize("ending", ["", ".xlsx"])
def test_export_and_propose_again_is_an_empty_change(
    releases: dict[int, Rows], tmp_path: Path, number: int, ending: str
) -> None:
    rows = releases[number]
    target = tmp_path / f"sheets{ending}"
    write_sheets(target, release_lines(rows))
    assert edits_between(rows, laid(rows, target, whole=True)) == []
    if ending == "":
        assert edits_between(rows, laid(rows, target)) == []
        assert digest_of(laid(EMPTY, target)) == digest_of(rows)
    if ending == "" and number in (4, 8):
        # Over the release before, whole sheets leave nothing of it but what is retired.
        assert digest_of(laid(releases[number - 1], target, whole=True)) == digest_of(rows)


def test_the_same_release_is_the_same_bytes(releases: dict[int, Rows], tmp_path: Path) -> None:
    for name in ("one.xlsx", "two.xlsx"):
        write_sheets(tmp_path / name, release_lines(releases[4]))
    assert (tmp_path / "one.xlsx").read_bytes() == (tmp_path / "two.xlsx").read_bytes()


@pytest.mark.parametrize(("before", "after"), [(1, 8), (8, 1), (3, 4), (4, 3)])
def test_edits_between_make_the_one_of_the_other(releases: dict[int, Rows], before: int, after: int) -> None:
    edits = edits_between(releases[before], releases[after])
    assert digest_of(edited(releases[before], edits)) == digest_of(releases[after])
    assert edits_between(releases[after], releases[after]) == []


def edited(rows: Rows, edits: Any) -> Rows:
    """The rows after edits, by what the migrations' own operations do to them, without a database."""
    from catalog import tables

    changes = Changes()
    for edit in edits:
        changes.add(edit)
    assert changes.faults == []
    names = {table.name: [str(column.name) for column in tables.content_of(table)] for table in tables.VERSIONED}
    found = {
        table: {row[: len(tables.key_of(tables.metadata.tables[table]))]: row for row in rows[table]} for table in rows
    }
    closed = {}
    for close in changes.closes:
        places = [names[close.table].index(column) for column in close.where]
        wanted = list(close.where.values())
        gone = [key for key, row in found[close.table].items() if [row[place] for place in places] == wanted]
        assert gone or not close.must_exist
        for key in gone:
            closed[close.table, key] = found[close.table].pop(key)
    for table, added in changes.inserts.items():
        for values_given in added.rows:
            row = dict(zip(added.columns, values_given, strict=True))
            values = tuple(row.get(name, default(table, name)) for name in names[table])
            found[table][values[: len(tables.key_of(tables.metadata.tables[table]))]] = values
    for copy in changes.copies:
        key = tuple(copy.key.values())
        old = dict(zip(names[copy.table], closed[copy.table, key], strict=True))
        found[copy.table][key] = tuple({**old, **copy.changes}.values())
    return {table: [found[table][key] for key in sorted(found[table])] for table in rows}


def default(table: str, name: str) -> object:
    return {"wet": False}.get(name)


text = st.text(st.characters(blacklist_categories=("C", "Z")) | st.just(" "), min_size=1, max_size=12).filter(str.strip)
wild = st.sampled_from(
    ["=1+1", "+1", "-", "-5", "@a", "'=x", "''-", '"', ";", "a;b", "# x", "yes", "1,5", "3/4", " x "]
)
words = text | wild
names = st.from_regex(r"\A[a-z][a-z0-9]{0,3}(_[a-z0-9]{1,3}){0,2}\Z")
numbers = st.from_regex(r"\A[A-Za-z0-9][A-Za-z0-9._-]{0,8}\Z")
lengths = st.integers(-10_000_000_000, 10_000_000_000)


def optional(values: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    return st.none() | values


@st.composite
def catalogs(draw: st.DrawFn) -> Rows:
    """Rows of a small catalog that need make no sense as an engine, only as rows: what any release may hold."""
    parts = draw(st.lists(numbers, min_size=1, max_size=4, unique_by=str.casefold))
    part = st.sampled_from(sorted(parts))
    found: dict[str, list[tuple[Any, ...]]] = {table: [] for table in EMPTY}
    found["part"] = [
        (number, "gasket", draw(words), draw(st.sampled_from(["active", "retired"])), draw(st.booleans()))
        for number in sorted(parts)
    ]
    aliases = draw(st.lists(numbers, max_size=3, unique=True))
    found["alias"] = [(alias, draw(part)) for alias in sorted(aliases)]
    connections = draw(st.lists(names, min_size=1, max_size=2, unique=True))
    ends = {name: draw(st.lists(words.map(str.strip), min_size=2, max_size=2, unique=True)) for name in connections}
    found["connection"] = [
        (
            *(name, draw(words), draw(words), texts(ends[name]), draw(st.sampled_from(["gasket", "none"]))),
            *(draw(st.integers(1, 9)), draw(optional(part)), draw(st.integers(0, 9)), draw(optional(words))),
        )
        for name in sorted(connections)
    ]
    for number in sorted(parts):
        for name in sorted(draw(st.lists(names, max_size=2, unique=True))):
            connection = draw(st.sampled_from(sorted(connections)))
            side, direction = draw(optional(st.just("left"))), draw(optional(st.just("up")))
            end, channel = draw(st.sampled_from(ends[connection])), draw(optional(words))
            fields = (side, direction, draw(st.booleans()), draw(optional(part)))
            found["port"].append((number, name, "line", connection, end, channel, *fields))
        for place in range(draw(st.integers(0, 2))):
            found["band"].append((number, place, draw(lengths), draw(lengths), "smooth", draw(st.integers(0, 9))))
        if draw(st.booleans()):
            taken = draw(st.sampled_from(["drawing", "tape"]))
            source = draw(words.map(str.strip) | st.just(taken))
            measured = (draw(lengths), abs(draw(lengths)), abs(draw(lengths)), taken, source)
            found["measure"].append((number, "thickness", *measured))
            found["attribute"].append((number, "generation", texts(draw(words))))
            found["attribute"].append((number, "work", '"bolt_on"'))
            found["price"].append((number, draw(st.integers(0, 99_999_999)), "USD"))
        for name in sorted(draw(st.lists(names, max_size=1))):
            answers = draw(st.lists(words, min_size=1, max_size=3, unique=True))
            found["cue"].append((number, name, draw(words), answers[0], texts(answers), "in_car", 5))
    for name in sorted(draw(st.lists(names, max_size=2, unique=True))):
        others, settles = draw(st.lists(part, min_size=1, max_size=3)), draw(st.lists(st.just("cover"), max_size=1))
        source = draw(words.map(str.strip) | st.just(""))
        found["rule"].append((name, "requires", draw(part), texts(others), texts(settles), source))
    return found


def texts(value: object) -> str:
    import msgspec

    return msgspec.json.encode(value).decode()


def cells(path: Path) -> Iterator[str]:
    for file in sorted(path.iterdir()):
        with file.open(encoding="utf-8-sig", newline="") as stream:
            for row in csv.reader(stream):
                yield from row


@given(rows=catalogs())
@settings(max_examples=30)
def test_any_catalog_comes_back_from_csv(rows: Rows) -> None:
    with TemporaryDirectory() as folder:
        target = Path(folder) / "sheets"
        write_sheets(target, release_lines(rows))
        for whole in (False, True):
            after, _, faults = apply_sheets(rows, [target], whole=whole)
            assert [str(fault) for fault in faults.told] == []
            assert edits_between(rows, after) == []
        assert [cell for cell in cells(target) if cell.lstrip(" ").startswith(FORMULA)] == []
        # Over nothing they are the same but for blanks at the ends of a text, which do not count.
        after, _, faults = apply_sheets(EMPTY, [target], whole=False)
        assert [str(fault) for fault in faults.told] == []


@given(rows=catalogs())
@settings(max_examples=6)
def test_any_catalog_comes_back_from_a_workbook(rows: Rows) -> None:
    with TemporaryDirectory() as folder:
        target = Path(folder) / "sheets.xlsx"
        write_sheets(target, release_lines(rows))
        after, _, faults = apply_sheets(rows, [target], whole=True)
        assert [str(fault) for fault in faults.told] == []
        assert edits_between(rows, after) == []
        with ZipFile(target) as package:
            sheets = [name for name in package.namelist() if name.startswith("xl/worksheets/")]
            assert not any(b"<f>" in package.read(name) or b"<f " in package.read(name) for name in sheets)
        book = openpyxl.load_workbook(target)
        sorts = {cell.data_type for sheet in book for line in sheet.iter_rows() for cell in line if cell.value}
        assert sorts == {"s"}


@given(before=catalogs(), after=catalogs())
@settings(max_examples=30)
def test_edits_lead_from_any_catalog_to_any_other(before: Rows, after: Rows) -> None:
    assert edited(before, edits_between(before, after)) == {table: list(after[table]) for table in before}


@given(text=words)
def test_the_apostrophe_goes_as_it_comes(text: str) -> None:
    assert unguarded(guarded(text)) == text
    assert not guarded(text).lstrip().startswith(FORMULA)


@given(items=st.lists(words))
def test_lists_come_back(items: list[str]) -> None:
    assert split_list(join_list(items)) == tuple(items)
