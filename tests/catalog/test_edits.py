"""Each operation and its faults."""

import hashlib
import json
from typing import Any

import pytest

from catalog.database import DatabaseFault, open_read_only, reading
from catalog.domain import Band, Measure, Part, Price, Rule, Snapshot
from catalog.publish import CatalogFaults
from catalog.reader import read_snapshot
from tests.support import CatalogFolder, Edit, small_edits

MM = 1_000_000


def newest(catalog: CatalogFolder, reference: int | None = None) -> Snapshot:
    engine = open_read_only(catalog.url)
    try:
        with reading(engine) as connection:
            return read_snapshot(connection, reference)
    finally:
        engine.dispose()


@pytest.fixture
def published(catalog: CatalogFolder) -> CatalogFolder:
    catalog.publish(*small_edits())
    return catalog


def faults_of(catalog: CatalogFolder, *edits: Edit) -> list[str]:
    with pytest.raises(CatalogFaults) as caught:
        catalog.publish(*edits)
    return caught.value.faults


def pump(snapshot: Snapshot) -> Part:
    return snapshot.parts["P-1"]


def revise(**fields: Any) -> Edit:
    return {"edit": "revise_part", "number": "P-1", **fields}


def test_an_added_part_is_read_back_whole(published: CatalogFolder) -> None:
    snapshot = newest(published)
    part = pump(snapshot)
    assert part.measures["belt_plane"] == Measure("belt_plane", 146 * MM, MM // 10, MM // 10, "drawing", "drawing")
    # Minus is left out: the caliper's default, common practice, no source.
    assert part.measures["cover_room"] == Measure("cover_room", 57 * MM, MM // 5, MM // 5, "caliper", "bench")
    assert part.bands == (Band(135 * MM, 157 * MM, "ribbed", 6),)
    assert part.price == Price(14_900, "USD")
    assert part.aliases == ("99-1",)
    assert part.attributes == {"rotation": "clockwise", "profile": "PK"}
    assert [port.name for port in part.ports] == ["mount", "outlet"]
    assert part.cues[0].answers == ("left", "right")
    assert part.recommended
    assert snapshot.currency == "USD"
    assert snapshot.connections["alder_block"].ends == ("block", "pump")
    assert snapshot.rules == (Rule("p1_on_s1", "tested_fit", "P-1", ("S-1", "S-1"), ("cover",), "bench"),)


def test_a_drawn_bolt_has_its_standards_tolerance(published: CatalogFolder) -> None:
    """ISO 4014, js15: 45 mm is within 0.50 mm either way."""
    length = newest(published).parts["F-1"].measures["length"]
    assert (length.plus, length.minus) == (500_000, 500_000)
    length_only = {"edit": "revise_part", "number": "F-1", "measures": {"length": "50 mm"}}
    assert faults_of(published, length_only) == [
        "part F-1: measure length: a revision of a length states plus and minus, or the part's kind"
    ]
    published.publish({**length_only, "kind": "fastener_set"})
    assert newest(published).parts["F-1"].measures["length"].plus == 500_000


def test_a_revision_changes_what_it_names_and_nothing_else(published: CatalogFolder) -> None:
    before = pump(newest(published))
    published.publish(
        revise(
            name="Longer pump",
            measures={"belt_plane": "147 mm", "flange_thickness": None, "nose": "170 mm"},
            attributes={"rotation": None, "generation": "second"},
            bands=[{"from": "136 mm", "to": "158 mm", "surface": "ribbed", "grooves": 6}],
            ports=[
                {"name": "outlet", "gone": True},
                {"name": "mount", "role": "mount", "connection": "alder_block", "end": "pump"},
            ],
            cues=[{"name": "outlet_side", "gone": True}],
            aliases=["99-2", "99-1"],
            price=None,
        )
    )
    part = pump(newest(published))
    assert part.name == "Longer pump"
    assert sorted(part.measures) == ["belt_plane", "cover_room", "nose"]
    assert part.measures["cover_room"] == before.measures["cover_room"]
    assert part.attributes == {"generation": "second", "profile": "PK"}
    assert [(port.name, port.wet) for port in part.ports] == [("mount", False)]
    assert part.cues == ()
    assert part.aliases == ("99-1", "99-2")
    assert part.price is None
    assert part.recommended == before.recommended
    assert pump(newest(published, 1)) == before


def test_retiring_a_part_keeps_what_is_known_of_it(published: CatalogFolder) -> None:
    before = newest(published).parts["S-1"]
    published.publish({"edit": "retire_part", "number": "S-1", "replaced_by": "P-1"})
    snapshot = newest(published)
    assert snapshot.parts["S-1"].status == "retired"
    assert snapshot.parts["S-1"].measures == before.measures
    assert Rule("replaced_s_1", "replaced_by", "S-1", ("P-1",)) in snapshot.rules


def test_a_retired_part_is_offered_again(published: CatalogFolder) -> None:
    before = newest(published).parts["P-1"]
    published.publish(revise(status="retired", recommended=False, price="99.00 USD"))
    assert newest(published).parts["P-1"].status == "retired"
    published.publish(revise(status="active", recommended=True, price="149.00 USD"))
    assert newest(published).parts["P-1"] == before
    published.publish({**small_edits()[5], "number": "F-2", "status": "retired"})
    assert newest(published).parts["F-2"].status == "retired"


def test_a_removed_part_is_gone_and_older_releases_keep_it(published: CatalogFolder) -> None:
    (fault, _) = faults_of(published, {"edit": "remove_part", "number": "P-1"})
    assert fault == "rule p1_on_s1 names part P-1, which there is not"
    published.publish({"edit": "remove_part", "number": "P-1"}, {"edit": "retire_rule", "name": "p1_on_s1"})
    snapshot = newest(published)
    assert "P-1" not in snapshot.parts
    assert snapshot.find("99-1") is None
    assert pump(newest(published, 1)).aliases == ("99-1",)
    assert faults_of(published, {"edit": "remove_part", "number": "P-1"}) == ["there is no part P-1 to edit"]


def test_connections_and_rules_are_revised_and_retired(published: CatalogFolder) -> None:
    published.publish(
        {"edit": "revise_connection", "name": "alder_block", "bolts": 6, "title": "Alder face"},
        {"edit": "revise_rule", "name": "p1_on_s1", "settles": [], "source": "again"},
        {
            "edit": "add_connection",
            "name": "unused",
            "title": "Unused",
            "sort": "face",
            "ends": ["a", "b"],
            "seal": "none",
        },
    )
    snapshot = newest(published)
    assert snapshot.connections["alder_block"].bolts == 6
    assert snapshot.connections["alder_block"].gasket == "G-1"
    assert snapshot.rules == (Rule("p1_on_s1", "tested_fit", "P-1", ("S-1", "S-1"), (), "again"),)
    published.publish({"edit": "retire_rule", "name": "p1_on_s1"}, {"edit": "retire_connection", "name": "unused"})
    assert newest(published).rules == ()
    assert sorted(newest(published).connections) == ["alder_block"]


def test_an_alias_moves_from_one_part_to_another_in_one_release(published: CatalogFolder) -> None:
    published.publish(revise(aliases=[]), {"edit": "revise_part", "number": "S-1", "aliases": ["99-1"]})
    found = newest(published).find("99-1")
    assert found is not None
    assert found.number == "S-1"


@pytest.mark.parametrize(
    ("edit", "fault"),
    [
        ({"edit": "revise_part", "number": "P-9", "name": "x"}, "there is no part P-9 to edit"),
        ({"edit": "revise_part", "number": "P-9", "price": "1 USD"}, "there is no part P-9 to edit"),
        ({"edit": "retire_part", "number": "P-9"}, "there is no part P-9 to edit"),
        ({"edit": "revise_connection", "name": "x", "bolts": 1}, "there is no connection x to edit"),
        ({"edit": "retire_connection", "name": "x"}, "there is no connection x to edit"),
        ({"edit": "revise_rule", "name": "x", "source": "y"}, "there is no rule x to edit"),
        ({"edit": "retire_rule", "name": "x"}, "there is no rule x to edit"),
        (revise(measures={"nose": None}), "there is no measure nose of part P-1 to edit"),
        (revise(attributes={"work": None}), "there is no attribute work of part P-1 to edit"),
        (revise(ports=[{"name": "vent", "gone": True}]), "there is no port vent of part P-1 to edit"),
        (revise(cues=[{"name": "x", "gone": True}]), "there is no cue x of part P-1 to edit"),
        ({"edit": "revise_part", "number": "E-1", "price": None}, "there is no price of part E-1 to edit"),
        ({"edit": "add_part", "number": "P-1", "kind": "cap", "name": "x"}, "part P-1 is there already"),
        (
            {"edit": "add_part", "number": "C-1", "kind": "cap", "name": "x", "aliases": ["99-1"]},
            "alias 99-1 is there already",
        ),
        (
            {"edit": "add_rule", "name": "p1_on_s1", "kind": "requires", "part": "P-1", "others": ["S-1"]},
            "rule p1_on_s1 is there already",
        ),
        (
            {
                "edit": "add_connection",
                "name": "alder_block",
                "title": "x",
                "sort": "face",
                "ends": ["a", "b"],
                "seal": "none",
            },
            "connection alder_block is there already",
        ),
        ({"edit": "revise_rule", "name": "p1_on_s1"}, "rule p1_on_s1: the revision changes nothing"),
        (revise(kind="pumpp"), "revise_part P-1: Invalid enum value 'pumpp' - at `$.kind`"),
        (revise(colour="red"), "revise_part P-1: Object contains unknown field `colour`"),
        (revise(price="1.999 USD"), "part P-1: price: 1.999 has more decimals than USD has"),
        (
            revise(measures={"nose": "nine"}),
            'part P-1: measure nose: "nine" is not a length; write it as "146 mm", "14.6 cm" or "5 3/4 in"',
        ),
        (revise(aliases=["99-7", "99-7"]), "part P-1: alias 99-7 is given twice"),
        (revise(ports=[{"name": "x", "gone": True}, {"name": "x", "gone": True}]), "part P-1: port x is given twice"),
        (revise(ports=[{"name": "x", "gone": False}]), "part P-1: port x: Invalid enum value False - at `$.gone`"),
        (revise(ports=[{"name": "x"}]), "part P-1: port x: Object missing required field `role`"),
        (revise(name="two\nlines"), "part P-1: name holds a character that cannot be printed"),
        (
            revise(measures={"nose": {"value": "1 mm", "source": "\x00"}}),
            "measure P-1: source holds a character that cannot be printed",
        ),
    ],
)
def test_a_faulty_edit_is_named(published: CatalogFolder, edit: Edit, fault: str) -> None:
    assert fault in faults_of(published, edit)


def test_a_part_is_edited_once_a_release(published: CatalogFolder) -> None:
    twice = "part P-1: it is edited twice in one release; put it in one edit"
    assert faults_of(published, revise(name="x"), revise(recommended=False)) == [twice]
    assert faults_of(published, revise(name="x"), {"edit": "retire_part", "number": "P-1"}) == [twice]


def test_every_fault_of_the_edits_is_listed(published: CatalogFolder) -> None:
    faults = faults_of(
        published, revise(price="1 dollar", measures={"nose": "1"}), {"edit": "retire_rule", "name": "x"}
    )
    assert len(faults) == 2  # what was given is put right before the database is read
    assert faults_of(published, {"edit": "retire_rule", "name": "x"}, {"edit": "retire_rule", "name": "y"}) == [
        "there is no rule x to edit",
        "there is no rule y to edit",
    ]


def write_edits(catalog: CatalogFolder, text: str) -> str:
    (catalog.folder / "0002_edits.jsonl").write_text(text)
    return hashlib.sha256(text.encode()).hexdigest()


def run_file(catalog: CatalogFolder, sha256: str, file: str = "0002_edits.jsonl") -> None:
    catalog.publish({"edit": "apply_edits", "file": file, "sha256": sha256})


def test_edits_in_a_file_do_what_they_do_in_a_migration(published: CatalogFolder) -> None:
    edits = [revise(name="From a file"), {"edit": "add_part", "number": "C-1", "kind": "cap", "name": "Cap"}]
    run_file(published, write_edits(published, "".join(json.dumps(edit) + "\n" for edit in edits)))
    assert pump(newest(published)).name == "From a file"
    assert newest(published).parts["C-1"].kind == "cap"


def test_a_file_is_taken_only_as_it_was_signed(published: CatalogFolder) -> None:
    sha256 = write_edits(published, json.dumps(revise(name="x")))
    write_edits(published, json.dumps(revise(name="y")))
    with pytest.raises(DatabaseFault, match=r"0002_edits\.jsonl is not what the migration was written for"):
        run_file(published, sha256)


@pytest.mark.parametrize("file", ["missing.jsonl", "../catalog.db", "/etc/hostname"])
def test_a_file_stands_beside_the_migration(published: CatalogFolder, file: str) -> None:
    with pytest.raises(DatabaseFault, match="is not a file beside the migration"):
        run_file(published, "0" * 64, file)


def test_faults_in_a_file_name_its_lines(published: CatalogFolder) -> None:
    sha256 = write_edits(published, '{"edit": "retire_rule"}\n{"edit": "paint_part"}\nnonsense\n')
    with pytest.raises(CatalogFaults) as caught:
        run_file(published, sha256)
    assert [fault.split(":")[0] for fault in caught.value.faults] == [
        f"0002_edits.jsonl, line {line}" for line in (1, 2, 3)
    ]
