"""Facts of the trade that the engine must reproduce: common practice, no source. The names are neutral."""

import pytest

from catalog.domain import Band, Connection, Kind, Measure, Part, Port, Price, Release, Snapshot
from catalog.units import parse_length
from service.fit.answer import Answer, Option
from service.fit.build import Build, Measured
from service.fit.engine import fit
from service.fit.graph import ConstraintGraph

PUMPS = {
    # Tape from the mounting face to the pulley's crown, belt plane, room for a cover (inches).
    # Common practice, no source: about 4 in on the tightest pump, a little under 5 1/2 on the middle one,
    # about 5 3/4 on two outer ones and just under 6 on the outermost. The last three share a belt plane.
    "tight": ("4 in", "3.6 in", "1.2 in"),
    "middle": ("5.45 in", "4.4 in", "1.7 in"),
    "outer-a": ("5.75 in", "5.2 in", "2.35 in"),
    "outer-b": ("5.75 in", "5.2 in", "2.4 in"),
    "outermost": ("5.95 in", "5.2 in", "1.9 in"),
}
DRIVES = {"inner-drive": "3.6 in", "second-drive": "4.4 in", "outer-drive": "5.2 in"}
FACTORY_GASKET, THIN_GASKET = "0.04 in", "0.02 in"


def nm(text: str) -> int:
    return parse_length(text)


def measures(**lengths: str) -> dict[str, Measure]:
    doubt = nm("0.005 in")
    return {name: Measure(name, nm(text), doubt, doubt, "caliper", "bench") for name, text in lengths.items()}


def port(role: str, connection: str, end: str, gasket: str | None = None) -> Port:
    return Port(name=role, role=role, connection=connection, end=end, gasket=gasket)  # type: ignore[arg-type]


def part(number: str, kind: Kind, **fields: object) -> Part:
    return Part(number=number, kind=kind, name=number, price=Price(1000, "USD"), **fields)  # type: ignore[arg-type]


def pump(number: str, tensioner: bool = False) -> Part:
    crown, plane, room = PUMPS[number]
    pitch, centre = nm("3.56 mm"), nm(plane)
    half = 3 * pitch
    # The middle pump's pulley is two belts wide: the inner belt runs behind the outer one, 0.8 in nearer the block.
    bands = [Band(centre - half, centre + half, "ribbed", 6)]
    if number == "middle":
        inner = nm("3.6 in")
        bands.append(Band(inner - half, inner + half, "ribbed", 6))
    offset = f"{(nm(crown) - nm(plane)) / 1e6} mm"
    sizes = measures(
        belt_plane=plane, pulley_front=crown, cover_room=room, front_offset=offset, flange_thickness="0.5 in"
    )
    ports = [port("mount", "block_face", "pump")]
    if tensioner:
        ports.append(port("carrier", "tensioner_boss", "boss"))
        sizes |= measures(carrier_face="2 in")
    return part(number, "water_pump", measures=sizes, bands=tuple(bands), ports=tuple(ports))


def spacer(number: str, thickness: str) -> Part:
    ports = (port("mount", "block_face", "pump", "thin"), port("pump_face", "block_face", "block", "thin"))
    return part(number, "spacer", measures=measures(thickness=thickness), ports=ports)


def drive(number: str, carried: bool = False) -> Part:
    sizes = measures(belt_plane=DRIVES[number], shortest_span="9 in")
    ports: tuple[Port, ...] = ()
    if carried:
        ports = (port("carried", "tensioner_boss", "arm"),)
        # In plane when the boss, 2 in ahead of the flange, sits on the factory gasket alone.
        in_plane = nm(DRIVES[number]) - nm("2 in") - nm(FACTORY_GASKET)
        sizes |= measures(carried_offset=f"{in_plane / 1e6} mm")
    return part(
        number,
        "accessory_drive",
        measures=sizes,
        ports=ports,
        attributes={"profile": "PK", "ribs": 6, "belt_side": "ribbed"},
    )


def catalog(*, tensioner: bool = False) -> ConstraintGraph:
    parts = [
        part(
            "block",
            "engine",
            measures=measures(hole_depth="1.2 in"),
            attributes={"thread": "M8x1.25", "hole_material": "cast_iron"},
            ports=(port("pump_face", "block_face", "block"),),
        ),
        part("factory", "gasket", measures=measures(thickness=FACTORY_GASKET)),
        part("thin", "gasket", measures=measures(thickness=THIN_GASKET)),
        part("tall-cover", "front_cover", measures=measures(cover_height="2.25 in")),
        *(pump(number, tensioner) for number in PUMPS),
        *(drive(number, tensioner) for number in DRIVES),
        *(spacer(f"spacer-{text[:-3]}", text) for text in ("0.76 in", "0.06 in", "0.36 in", "1.56 in")),
        *(
            part(
                f"bolts-{length}",
                "fastener_set",
                measures=measures(length=f"{length} mm"),
                attributes={"thread": "M8x1.25", "pieces": 8},
            )
            for length in range(25, 205, 5)
        ),
    ]
    connections = [
        Connection("block_face", "block face", "face", ("block", "pump"), "gasket", 2, "factory", 8),
        Connection("tensioner_boss", "tensioner boss", "boss", ("boss", "arm"), "none"),
    ]
    return ConstraintGraph(
        Snapshot(
            release=Release(1, "facts", "sha256:0", "2026-01-01", ""),
            currency="USD",
            parts={p.number: p for p in sorted(parts, key=lambda p: p.number)},
            connections={c.name: c for c in connections},
            rules=(),
        )
    )


def ask(graph: ConstraintGraph, **fields: object) -> Answer:
    return fit(graph, Build(engine="block", limit=50, paths_per_pump=50, **fields))  # type: ignore[arg-type]


def straight_on(answer: Answer) -> list[str]:
    return sorted(option.pump for option in answer.options if not option.plates)


def test_readings_identify_a_pump_they_are_not_planes() -> None:
    """Common practice, no source: three pumps of different readings share one belt plane."""
    answer = ask(catalog(), accessory_drive="outer-drive")

    assert straight_on(answer) == ["outer-a", "outer-b", "outermost"]


@pytest.mark.parametrize(
    ("drive_number", "pumps"), [("inner-drive", ["middle", "tight"]), ("second-drive", ["middle"])]
)
def test_the_middle_pump_serves_the_inner_two_planes(drive_number: str, pumps: list[str]) -> None:
    """Common practice, no source: its pulley is two belts wide."""
    assert straight_on(ask(catalog(), accessory_drive=drive_number)) == pumps


def test_with_no_spacer_only_the_two_outer_pumps_clear_a_tall_cover() -> None:
    """Common practice, no source: a tall VVT cover needs about 2 1/4 in of room."""
    assert straight_on(ask(catalog(), front_cover="tall-cover")) == ["outer-a", "outer-b"]


def test_the_reading_to_the_crown_enters_only_through_the_pulleys_own_offset() -> None:
    """A tape to the crown that reads as the catalog does leaves the plane where it is, with the tape's doubt."""
    reading = Measured("outer-a", "pulley_front", "5 3/4 in", "tape")
    answer = ask(catalog(), accessory_drive="outer-drive", pump="outer-a", measured=[reading])
    check = next(check for check in answer.options[0].checks if check.code == "belt_plane")

    # Drive 5.2 in, flange at the factory gasket's 0.04 in, crown 5.75 in less the offset of 0.55 in.
    assert check.value == nm("5.2 in") - nm("0.04 in") - (nm("5 3/4 in") - nm("0.55 in"))
    assert check.verdict == "measure_first"


def test_inner_pumps_go_outward_with_spacers_never_inward() -> None:
    """Common practice, no source: the tightest pump reaches every plane farther out; no outer one comes in."""
    graph = catalog()
    outward = ask(graph, accessory_drive="outer-drive", pump="tight")
    inward = ask(graph, accessory_drive="inner-drive", pump="outer-a")

    assert all(option.plates for option in outward.options)
    assert outward.options[0].plates == ("spacer-1.56",)
    assert inward.verdict == "blocked"
    assert inward.ruled_out[0].check.code == "belt_plane"
    assert inward.ruled_out[0].thickness_window is None, "no thickness, which is never negative, would mend it"


def test_spacers_come_with_a_thinner_gasket_than_the_factorys() -> None:
    """Common practice, no source."""
    option = ask(catalog(), accessory_drive="outer-drive", pump="tight").options[0]

    # Two thin gaskets of 0.02 in around a spacer of 1.56 in: 1.6 in in all, which is 5.2 in - 3.6 in.
    assert [layer.part for layer in option.stack] == ["thin", "spacer-1.56", "thin", "tight"]
    assert option.stack[-1].from_ == nm("1.6 in")


def test_a_face_in_two_halves_takes_two_pieces_a_layer() -> None:
    """Common practice, no source."""
    option = ask(catalog(), accessory_drive="outer-drive", pump="tight").options[0]

    # 1.6 in of stack, 0.5 in of flange and 1.5 x 8 mm of thread in cast iron: 65.3 mm, so a 70 mm bolt.
    assert {line.part: line.quantity for line in option.parts_list} == {
        "thin": 4,
        "spacer-1.56": 2,
        "tight": 1,
        "bolts-70": 1,
    }


def plates_of(answer: Answer, number: str) -> list[tuple[str, ...]]:
    return [option.plates for option in answer.options if option.pump == number]


def test_a_pump_that_carries_only_its_pulley_may_be_shifted_freely() -> None:
    """Common practice, no source: with no drive to hold it, every stack of spacers will do."""
    answer = ask(catalog(), pump="tight")

    assert len(answer.options) == 1 + 4 + 10 + 20, "none, one, two or three of four spacers"


def carried(option: Option) -> str:
    return next(check.verdict for check in option.checks if check.code == "carried_parts")


def test_a_pump_that_carries_the_tensioner_goes_only_as_far_as_the_tensioner_stays_in_plane() -> None:
    """Common practice, no source: the tensioner moves with the pump."""
    free = ask(catalog(), accessory_drive="second-drive", pump="tight")
    held = ask(catalog(tensioner=True), accessory_drive="second-drive", pump="tight")

    assert free.options[0].plates == ("spacer-0.76",)
    assert held.verdict == "blocked"
    assert held.ruled_out[0].check.code in ("belt_plane", "carried_parts"), "one of the two planes is always missed"
    assert held.ruled_out[0].thickness_window is None

    straight = ask(catalog(tensioner=True), accessory_drive="outer-drive", pump="outer-a").options[0]
    assert straight.plates == ()
    assert carried(straight) == "ok"
