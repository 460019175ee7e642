"""What lies exactly on a limit, a nanometre beside it, and what counts where two options are weighed: small catalogs.

Limits and words are those of the contributor's guide, except where a standard is named. A length is in mm, or a pair of
it and its doubt in nm.
"""

from collections.abc import Iterable
from typing import Any, Final

import pytest
from msgspec.structs import replace

from catalog.domain import Band, Connection, Kind, Measure, Part, Port, Price, Rule, Seal
from service.fit.answer import Answer, Option
from service.fit.build import Amount, Build, Must
from service.fit.engine import fit
from service.fit.graph import ConstraintGraph
from service.fit.which import Suits, which_fit
from tests.support import snapshot_of

MM: Final = 1_000_000
DOUBT: Final = 200_000
Length = float | tuple[float, int] | tuple[float, int, int]
"""mm, the doubt in nm, and so many nm beside the mm."""


def measures(**lengths: Length) -> dict[str, Measure]:
    found = {}
    for name, length in lengths.items():
        mm, doubt, beside = (*length, 0, 0)[:3] if isinstance(length, tuple) else (length, 0, 0)
        nominal = round(mm * MM) + int(beside)
        found[name] = Measure(name.replace("__", "."), nominal, int(doubt), int(doubt), "drawing", "drawing")
    return found


def port(role: str, connection: str, end: str, *, wet: bool = False) -> Port:
    return Port(role, role, connection, end, wet=wet)  # type: ignore[arg-type]


def part(number: str, kind: Kind, ports: Iterable[Port] = (), *, price: int | None = 1000, **fields: Any) -> Part:
    money = None if price is None else Price(price, "USD")
    return Part(number=number, kind=kind, name=number, ports=tuple(ports), price=money, **fields)


def connection(name: str, sort: str, ends: tuple[str, str], seal: Seal, **fields: Any) -> Connection:
    return Connection(name, name, sort, ends, seal, **fields)


CONNECTIONS: Final = [
    connection("face", "face", ("block", "pump"), "gasket", gasket="gasket", bolts=4),
    connection("bracket", "face", ("head", "bracket"), "none"),
    connection("cover", "face", ("block", "cover"), "none"),
    connection("fan", "fan_thread", ("nose", "nut"), "none"),
]


def engine(depth: Length = 100) -> Part:
    ports = (port("pump_face", "face", "block"), port("drive_face", "bracket", "head"))
    holes = {"thread": "M8x1.25", "hole_material": "aluminium"}
    return part(
        "engine",
        "engine",
        (*ports, port("cover_face", "cover", "block")),
        measures=measures(hole_depth=depth),
        attributes=holes,
    )


GASKET: Final = part("gasket", "gasket", measures=measures(thickness=1), price=100)
"""With it under a pump the flange sits at 1 mm."""


def pump(number: str = "pump", *, fan: bool = False, price: int | None = 10_000, **lengths: Length) -> Part:
    """A pump whose belt runs 100 mm in front of its flange, unless it is said."""
    sizes = measures(**{"belt_plane": 100, "flange_thickness": 14, **lengths})
    middle = sizes["belt_plane"].nominal
    half = 3 * 3_560_000  # six ribs of PK (ISO 9982): the belt has one place to run
    return part(
        number,
        "water_pump",
        (port("mount", "face", "pump", wet=True), *([port("fan", "fan", "nose")] if fan else [])),
        price=price,
        measures=sizes,
        attributes={"rotation": "clockwise", "profile": "PK"},
        bands=(Band(middle - half, middle + half, "ribbed", 6),),
    )


def drive(plane: Length) -> Part:
    """A drive with a span of 192 mm, so that the belt may run 1 mm out of line (1/192 of it)."""
    return part(
        "drive",
        "accessory_drive",
        (port("mount", "bracket", "bracket"),),
        measures=measures(belt_plane=plane, shortest_span=192),
        attributes={"ribs": 6, "profile": "PK", "belt_side": "ribbed", "rotation": "clockwise"},
    )


def cover(height: Length) -> Part:
    return part("cover", "front_cover", (port("mount", "cover", "cover"),), measures=measures(cover_height=height))


def spacer(thickness: Length) -> Part:
    ports = (port("mount", "face", "pump"), port("pump_face", "face", "block"))
    return part("spacer", "spacer", ports, measures=measures(thickness=thickness))


def bolts(number: str = "bolts", length: Length = 60, *, price: int | None = 500, **fields: Any) -> Part:
    """Bolts that hold a pump on its gasket where they are 31 mm or longer: 16 mm engage, two diameters in aluminium."""
    sizes = measures(length=length, **fields.pop("sizes", {}))
    attributes = {"thread": "M8x1.25", "pieces": 4, **fields}
    return part(number, "fastener_set", price=price, measures=sizes, attributes=attributes)


def graph(*parts: Part, rules: Iterable[Rule] = ()) -> ConstraintGraph:
    return ConstraintGraph(snapshot_of([GASKET, *parts], CONNECTIONS, rules))


def asked(over: ConstraintGraph, **fields: Any) -> Answer:
    named = {name: name for name in ("engine", *fields.pop("names", ()))}
    return fit(over, Build(**(named | fields)))


def listed(option: Option) -> set[str]:
    return {line.part for line in option.parts_list}


def suits(over: ConstraintGraph, number: str, **fields: Any) -> Suits:
    """Whether a part suits, as it is told of every part."""
    named = {name: name for name in ("engine", *fields.pop("names", ()))}
    (found,) = which_fit(over, Build(**(named | fields)), [number]).parts
    return found.suits


def usd(cents: int) -> Must:
    return Must(price_at_most=Amount(cents / 100, "USD"))


# --- verdicts: `ok` everywhere within the doubt, `fails` nowhere within it ------------------------------------------

AT_LEAST: Final = [
    (DOUBT, "fits"),
    (DOUBT - 1, "measure_first"),
    (-DOUBT, "measure_first"),
    (-DOUBT - 1, "blocked"),
]
"""By how many nm a value with that doubt lies beyond the least, and what is said of it: a limit that is met holds."""
WITHIN: Final = [
    (MM - DOUBT, "fits"),
    (MM - DOUBT + 1, "measure_first"),
    (MM + DOUBT, "measure_first"),
    (MM + DOUBT + 1, "blocked"),
]
"""By how many nm a value with that doubt lies beside the middle, where 1 mm is allowed."""


@pytest.mark.parametrize(("beyond", "verdict"), AT_LEAST)
def test_a_cover_exactly_as_near_as_it_may_be(beyond: int, verdict: str) -> None:
    """1 mm of gasket, 50 mm of room, 49.5 mm of cover: 1.5 mm of air, the least."""
    over = graph(engine(), pump(cover_room=(50, DOUBT, beyond)), cover(49.5), bolts())
    assert asked(over, names=["front_cover"], front_cover="cover").verdict == verdict
    assert suits(over, "pump", front_cover="cover") == {"blocked": "no"}.get(verdict, verdict)


@pytest.mark.parametrize(("beyond", "verdict"), AT_LEAST)
def test_a_radiator_exactly_as_near_as_it_may_be(beyond: int, verdict: str) -> None:
    """3/8 in between the pump's nose and the core."""
    over = graph(engine(), pump(nose=(130, DOUBT, -beyond)), bolts())
    assert asked(over, core_distance=1 + 130 + 9.525).verdict == verdict


@pytest.mark.parametrize(("beyond", "verdict"), AT_LEAST)
def test_a_fan_exactly_as_near_as_it_may_be(beyond: int, verdict: str) -> None:
    """19 mm between an engine-driven fan and the core: an option that holds by its other checks alone is in doubt."""
    blades = part("blades", "fan", (port("mount", "fan", "nut"),), measures=measures(depth=60))
    blades = replace(blades, attributes={"driven_by": "engine"})
    over = graph(engine(), pump(fan=True, fan_face=(140, DOUBT, -beyond)), blades, bolts())
    build: dict[str, Any] = {"fan": "mechanical", "core_distance": 1 + 140 + 60 + 19}
    assert asked(over, **build).verdict == verdict
    assert suits(over, "pump", **build) == {"blocked": "no"}.get(verdict, verdict)
    assert suits(over, "blades", **build) == {"blocked": "no", "fits": "fits_with"}.get(verdict, verdict)


@pytest.mark.parametrize("side", [1, -1])
@pytest.mark.parametrize(("beside", "verdict"), WITHIN)
def test_a_belt_exactly_as_far_out_of_line_as_it_may_be(beside: int, verdict: str, side: int) -> None:
    over = graph(engine(), pump(), drive((101, DOUBT, side * beside)), bolts())
    assert asked(over, accessory_drive="drive").verdict == verdict


@pytest.mark.parametrize(("beyond", "verdict"), AT_LEAST)
def test_bolts_exactly_as_long_as_they_must_be(beyond: int, verdict: str) -> None:
    over = graph(engine(), pump(), bolts(length=(31, DOUBT, beyond)))
    assert asked(over).verdict == verdict
    # A washer takes as much of the length.
    washer = graph(engine(), pump(), bolts(length=(32.5, DOUBT, beyond), sizes={"washer_thickness": 1.5}))
    assert asked(washer).verdict == verdict


def test_bolts_that_surely_hold_go_before_such_as_may() -> None:
    """A washer with a doubt of its own makes the shorter ones doubtful."""
    washer = bolts("washer", 32.5, sizes={"washer_thickness": (1.5, 1)})
    over = graph(engine(), pump(), washer, bolts("sure", 40))

    assert asked(over).verdict == "fits"
    assert "sure" in listed(asked(over).options[0])


@pytest.mark.parametrize(("beyond", "verdict"), AT_LEAST)
def test_bolts_exactly_as_long_as_the_hole_is_deep(beyond: int, verdict: str) -> None:
    over = graph(engine(depth=(20, 0, beyond)), pump(), bolts(length=(35, DOUBT)))
    assert asked(over).verdict == verdict


@pytest.mark.parametrize(("beside", "fits"), [(0, True), (1, False)])
def test_two_checks_that_leave_one_place_leave_it(beside: int, fits: bool) -> None:
    """The belt wants the flange at 12 mm at most, the cover at 12 mm at least; a nanometre more, and nothing serves."""
    parts = (engine(), pump(cover_room=50), drive(111), cover((60.5, 0, beside)))
    build = {"accessory_drive": "drive", "front_cover": "cover"}
    (missed,) = asked(graph(*parts, bolts()), **build).ruled_out
    window = missed.thickness_window
    assert (None if window is None else (window.from_, window.to)) == ((12 * MM, 12 * MM) if fits else None)

    # There a spacer of 10 mm and two gaskets put it.
    answer = asked(graph(*parts, spacer(10), bolts(), bolts("longer", 70)), **build)
    assert answer.verdict == ("fits" if fits else "blocked")


# --- what counts where options are weighed ---------------------------------------------------------------------------


@pytest.mark.parametrize("fan", [True, False], ids=["fan", "bare"])
def test_room_before_the_radiator_does_not_count_as_margin(fan: bool) -> None:
    """The belt of the first has nine tenths of its limit left, that of the second half; its room is the wider."""
    blades = part("blades", "fan", (port("mount", "fan", "nut"),), measures=measures(depth=10))
    blades = replace(blades, attributes={"driven_by": "engine"})
    ahead = {"fan_face": 140, "nose": 140} if fan else {"nose": 150}
    less = {name: length - 80 for name, length in ahead.items()}
    first = pump("first", fan=fan, belt_plane=100.1, **ahead)
    second = pump("second", fan=fan, belt_plane=100.5, **less)
    over = graph(engine(), first, second, drive(101), blades, bolts())
    build: dict[str, Any] = {"accessory_drive": "drive", "rank_by": ["margin"]}
    # 2 mm more than the least, or half a millimetre.
    room = {"fan": "mechanical", "core_distance": 172} if fan else {"core_distance": 161.025}
    answer = asked(over, **build, **room)

    assert [option.pump for option in answer.options] == ["first", "second"]
    assert answer.options[0].above_next is not None
    assert answer.options[0].above_next.key == "margin"


def test_of_bolts_that_do_not_hold_the_nearest_is_told() -> None:
    over = graph(engine(), pump(), bolts("far too short", 20), bolts("near", 28), bolts("far too long", 150))
    (missed,) = asked(over).ruled_out

    assert missed.check.facts["bolts"] == "near"
    assert missed.short_by == 3 * MM


def test_the_work_of_bolts_counts() -> None:
    over = graph(engine(), pump(), bolts("cheap", price=500, work="press"), bolts("easy", price=900, work="bolt_on"))

    assert "easy" in listed(asked(over).options[0])
    assert "easy" in listed(asked(over, must=Must(work_at_most="hand_fit")).options[0])
    assert "cheap" in listed(asked(over, rank_by=["price"]).options[0])


def test_the_washers_of_bolts_count() -> None:
    """With a washer of 2 mm, 18 of 20 mm engage: less beyond the least of 16 than without."""
    washer = bolts("washer", 35, price=500, sizes={"washer_thickness": 2})
    over = graph(engine(), pump(), washer, bolts("bare", 35, price=900))

    assert "washer" in listed(asked(over).options[0])
    assert "bare" in listed(asked(over, rank_by=["margin"]).options[0])
    # Where it is so thick that too little engages, the dear ones are what is left.
    thick = bolts("washer", 35, price=500, sizes={"washer_thickness": (4, 0, 1)})
    assert "bare" in listed(asked(graph(engine(), pump(), thick, bolts("bare", 35, price=900))).options[0])


def test_of_bolts_equal_in_the_ranking_the_shortest_are_taken() -> None:
    """The belt leaves least, so that no key tells the sets apart; the numbers would have the longer ones first."""
    over = graph(engine(), pump(belt_plane=99.05), drive(101), bolts("a", 61), bolts("b", 60), bolts("c", 60.5))

    assert "b" in listed(asked(over, accessory_drive="drive").options[0])


@pytest.mark.parametrize("unpriced", ["pump", "gasket", "bolts", "blades"])
def test_what_has_no_price_is_within_no_price(unpriced: str) -> None:
    """Nobody can say that it costs no more; what is at hand need not be paid."""
    blades = part("blades", "fan", (port("mount", "fan", "nut"),), measures=measures(depth=60))
    blades = replace(blades, attributes={"driven_by": "engine"})
    parts = {each.number: each for each in (GASKET, engine(), pump(fan=True, fan_face=140), blades, bolts())}
    parts[unpriced] = replace(parts[unpriced], price=None)
    over = ConstraintGraph(snapshot_of(parts.values(), CONNECTIONS))
    build: dict[str, Any] = {"fan": "mechanical"} if unpriced == "blades" else {}

    assert asked(over, **build).verdict == "fits"
    answer = asked(over, **build, must=usd(100_000))
    assert answer.verdict == "blocked"
    assert [(missed.check.code, missed.check.reason) for missed in answer.ruled_out] == [("price", "no_price")]
    assert suits(over, "pump", **build, must=usd(100_000)) == "no"
    assert asked(over, **build, must=usd(100_000), have=[unpriced]).verdict == "fits"


@pytest.mark.parametrize(("cents", "verdict"), [(12_600, "fits"), (12_599, "blocked")])
def test_what_a_rule_brings_counts_against_the_price(cents: int, verdict: str) -> None:
    """Pump 100.00, gasket 1.00, bolts 5.00, and the bracket of 20.00 that the pump requires."""
    over = graph(engine(), pump(), bracket(2_000), bolts(), rules=[BRACKET])

    assert asked(over, must=usd(cents)).verdict == verdict
    assert suits(over, "pump", must=usd(cents)) == {"blocked": "no"}.get(verdict, verdict)


@pytest.mark.parametrize(("cents", "fitting"), [(12_600, ("pump", "second")), (12_599, ("pump",))])
@pytest.mark.parametrize("brought", [True, False])
def test_pumps_that_are_not_listed_are_held_to_the_price(cents: int, fitting: tuple[str, ...], brought: bool) -> None:
    """The second takes 126.00 as well, by itself or with what it requires; but one option is wanted."""
    second = pump("second", price=10_000 if brought else 12_000)
    rules = [replace(BRACKET, part="second")] if brought else []
    over = graph(engine(), pump(), second, bracket(2_000), bolts(), rules=rules)

    assert asked(over, must=usd(cents), limit=1).fitting == fitting
    assert asked(over, must=usd(cents), limit=1).options[0].pump == "pump"


def test_what_a_rule_brings_without_a_price_is_within_no_price() -> None:
    over = graph(engine(), pump(), bracket(None), bolts(), rules=[BRACKET])

    assert asked(over).verdict == "fits"
    assert asked(over, must=usd(100_000)).verdict == "blocked"
    assert asked(over, must=usd(100_000), have=["bracket"]).verdict == "fits"


def test_what_a_rule_brings_counts_in_the_ranking() -> None:
    """The pump that costs less alone costs more with what it requires, and is harder to fit, and is of more parts."""
    other = pump("other", price=11_000)
    over = graph(engine(), pump(), other, bracket(2_000), bolts(), rules=[BRACKET])
    for keys in (["price"], ["parts"]):
        assert [option.pump for option in asked(over, rank_by=keys).options] == ["other", "pump"]

    hard = bracket(0, work="press")
    over = graph(engine(), pump(), other, hard, bolts(), rules=[BRACKET])
    assert [option.pump for option in asked(over, rank_by=["work"]).options] == ["other", "pump"]
    assert [option.pump for option in asked(over, must=Must(work_at_most="hand_fit")).options] == ["other"]


def bracket(price: int | None, **attributes: Any) -> Part:
    return part("bracket", "fitting", price=price, attributes=attributes)


BRACKET: Final = Rule("bracket", "requires", "pump", ("bracket",), source="bench")
