"""Options by how much room they leave, and what is told of it."""

import re
from pathlib import Path

import msgspec
import pytest
from msgspec import convert

from catalog.database import open_read_only, reading
from catalog.domain import Connection, Kind, Measure, Part, Port, Price, Snapshot
from catalog.migrate import upgrade
from catalog.reader import read_snapshot
from service.fit.answer import Answer
from service.fit.build import Build
from service.fit.engine import fit
from service.fit.graph import ConstraintGraph
from service.fit.wording import above_next_text, answer_text, check_text
from tests.support import snapshot_of

MM = 1_000_000
DEMO = Path(__file__).parents[3] / "migrations" / "demo"


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Snapshot:
    url = f"sqlite:///{tmp_path_factory.mktemp('demo')}/catalog.sqlite"
    upgrade(url, DEMO)
    with reading(open_read_only(url)) as connection:
        return read_snapshot(connection)


def ask(snapshot: Snapshot, **build: object) -> Answer:
    return fit(ConstraintGraph(snapshot), convert(build, Build))


def sized(number: str, kind: Kind, ports: list[Port], cents: int = 0, **sizes: int) -> Part:
    measures = {name: Measure(name, mm * MM, 0, 0, "drawing", "") for name, mm in sizes.items()}
    holes: dict[str, bool | int | str] = {"thread": "M8x1.25", "hole_material": "cast_iron"} if kind == "engine" else {}
    bolts: dict[str, bool | int | str] = {"thread": "M8x1.25", "pieces": 1} if kind == "fastener_set" else {}
    price = Price(cents, "USD") if cents else None
    return Part(number, kind, number, attributes={**holes, **bolts}, measures=measures, ports=tuple(ports), price=price)


def test_what_has_no_margin_stands_last() -> None:
    # P-A clears the cover by 10 - 5 mm; P-B has nothing over it, so that nothing of it is held against a limit.
    face, mount = Port("face", "pump_face", "face", "block"), Port("mount", "mount", "face", "pump")
    free = sized("P-B", "water_pump", [mount], 1_000)
    snapshot = snapshot_of(
        [
            Part("E-1", "engine", "E-1", ports=(face,)),
            sized("C-1", "front_cover", [], cover_height=5),
            sized("P-A", "water_pump", [mount], 9_000, cover_room=10),
            msgspec.structs.replace(free, attributes={"free_zones": "centre"}),
        ],
        [Connection("face", "pump face", "face_pattern", ("block", "pump"), "none", 1, None, 1)],
    )
    asked = {"engine": "E-1", "front_cover": "C-1"}
    assert [option.pump for option in ask(snapshot, **asked).options] == ["P-B", "P-A"]  # the cheaper first
    first, last = ask(snapshot, **asked, rank_by=["margin"]).options
    assert (first.pump, last.pump) == ("P-A", "P-B")
    assert (first.least_margin_check, last.least_margin_check, last.least_margin) == ("cover", None, None)
    assert first.above_next is not None
    assert above_next_text(first.above_next) == (
        "Stands above the next because its tightest check leaves 233 % (cover, 3.5 mm beyond the least of 1.5 mm), "
        "and of the next no margin is known."
    )


def test_the_share_of_a_limit_is_told_with_the_check_that_it_is_of(demo: Snapshot) -> None:
    options = ask(demo, engine="ENG-R20", accessory_drive="DR-541", front_cover="FC-R5", rank_by=["margin"]).options
    shares = []
    for option in options:
        assert option.above_next is None or option.above_next.key in ("margin", "recommended", "price", "work")
        if option.above_next is not None and option.above_next.key == "margin":
            text = above_next_text(option.above_next)
            assert re.fullmatch(
                r"Stands above the next because its tightest check leaves more of its limit: "
                r"([\d.]+) % \((\w+), .* mm (beyond the least of|inside) .* mm\), "
                r"against ([\d.]+) % \((\w+), .* mm (beyond the least of|inside) .* mm\)\.",
                text,
            ), text
            shares += [tuple(float(share) for share in re.findall(r"([\d.]+) %", text))]
    assert len(shares) > 3
    assert all(this > other for this, other in shares)


def test_a_check_that_a_test_settled_keeps_its_numbers(demo: Snapshot) -> None:
    build = {"engine": "ENG-R20", "accessory_drive": "DR-541", "front_cover": "FC-R5", "pump": "WP-108"}
    option = next(one for one in ask(demo, **build).options if one.plates == ("SP-34",))
    (belt,) = (check for check in option.checks if check.reason == "tested_fit")
    assert (belt.code, belt.verdict, belt.value, belt.likelihood) == ("belt_plane", "ok", 900_000, None)
    assert None not in (belt.limit, belt.margin, belt.worst_case, belt.rss)
    assert check_text(belt) == (
        "This very combination was tried and fits (shop test car, 2024). By its measures: the belt on the pump runs "
        "0.9 mm behind the drive; 1.1 mm is allowed over the 210 mm span."
    )


def test_a_described_pump_keeps_the_name_that_it_is_given(demo: Snapshot) -> None:
    face = next(port for port in demo.parts["WP-227"].ports if port.role == "mount")
    described = {
        "name": "Grandad's pump",
        "measures": {"belt_plane": {"value": "141 mm", "taken_with": "drawing"}},
        "bands": [{"from": "130 mm", "to": "152 mm", "surface": "ribbed", "grooves": 6}],
        "ports": [{"role": "mount", "connection": face.connection}],
    }
    answer = ask(demo, engine="ENG-R20", accessory_drive="DR-541", pump=described)
    assert answer.options[0].name == "Grandad's pump"
    assert "the first" in answer_text(answer)
    assert "Grandad's pump" in answer_text(answer)
    assert "(described)" not in answer_text(answer)
