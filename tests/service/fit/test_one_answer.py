"""One question has one answer, byte for byte, whatever the graph was asked before and however often."""

from collections import Counter
from collections.abc import Callable, Iterator
from inspect import unwrap
from itertools import combinations
from random import Random
from typing import Any, Final

import msgspec
import pytest

from catalog.domain import Kind, Part, Snapshot
from service.api import encoded, render, render_parts
from service.fit.build import Build, BuildError
from service.fit.engine import fit
from service.fit.graph import ConstraintGraph
from service.fit.question import SLOTS, resolve
from service.fit.which import which_fit
from tests.oracles.circuit_generator import seeded_case as circuit_case
from tests.oracles.generator import Case, seeded_case
from tests.support import effort

MM: Final = 1_000_000
PLAIN: Final = {"engine": "ENG-R20", "accessory_drive": "DR-552", "front_cover": "FC-R5"}
_KEEPS: Final[dict[Kind, int]] = {
    "water_pump": 2,
    "spacer": 3,
    "hose": 6,
    "fitting": 4,
    "fastener_set": 3,
    "thermostat_housing": 3,
    "radiator": 3,
    "fan": 2,
    "fan_adapter": 3,
    "plug": 3,
}
"""Of these kinds the thinned demo has every second, third ... part, so that a fresh graph answers sooner."""
_fit = unwrap(fit)
"""Not verified: other tests look at what is answered, these at whether it is the same."""
_encode = msgspec.json.Encoder(order="deterministic").encode
Asked = dict[str, Any]
"""Fields of a build; a wish has its whole name, such as `must.work_at_most`."""


@pytest.fixture(scope="module")
def thinned(demo: Snapshot) -> Snapshot:
    """The demo with fewer parts of the kinds that it has most of."""
    seen, kept = Counter[Kind](), dict[str, Part]()
    for number, part in sorted(demo.parts.items()):
        seen[part.kind] += 1
        takes_pulley = any(port.role == "hub" for port in part.ports)
        if number in PLAIN.values() or takes_pulley or seen[part.kind] % _KEEPS.get(part.kind, 1) == 0:
            kept[number] = part
    rules = tuple(rule for rule in demo.rules if kept.keys() >= {rule.part, *rule.others})
    return msgspec.structs.replace(demo, parts=kept, rules=rules)


def described(snapshot: Snapshot, number: str, random: Random) -> Asked:
    """A part as somebody tells of it who has one much like it, and has not looked at all of it."""
    part = snapshot.parts[number]
    outer = {connection.name: connection.ends[1] for connection in snapshot.connections.values()}
    return {
        "name": f"my {part.kind}",
        "measures": {
            name: {"value": measure.nominal / MM + random.choice((0, 0, 0.5)), "taken_with": "caliper"}
            for name, measure in sorted(part.measures.items())
            if random.random() < 0.9
        },
        "attributes": {name: value for name, value in sorted(part.attributes.items()) if random.random() < 0.9},
        "bands": [
            {"from": band.from_ / MM, "to": band.to / MM, "surface": band.surface, "grooves": band.grooves}
            for band in part.bands
        ],
        "ports": [
            {"role": port.role, "connection": port.connection, "wet": port.wet}
            | ({} if port.side is None else {"side": port.side})
            for port in part.ports
            if (port.role in ("mount", "carried", "line")) == (port.end == outer[port.connection])
        ],
    }


def said(snapshot: Snapshot, random: Random) -> dict[str, list[Any]]:
    """By field what builds say in it: parts by number and described, words, readings, wishes."""
    of_kind: dict[Kind, list[str]] = {}
    for number, part in sorted(snapshot.parts.items()):
        of_kind.setdefault(part.kind, []).append(number)
    found: dict[str, list[Any]] = {}
    for slot, kind in SLOTS.items():
        numbers = of_kind.get(kind, [])
        tellers = random.sample(numbers, min(2, len(numbers)))
        found[slot] = [described(snapshot, number, random) for number in tellers]
        found[slot] += random.sample(numbers, min(3, len(numbers)))
    found["heater"] += ["none", "5/8 in hose"]
    found["fan"] += ["mechanical", "electric", "none"]
    found["radiator_ports"] = [
        {"upper": {"size": "1 1/2 in hose", "side": upper}, "lower": {"size": lower}}
        for upper, lower in (("left", "1 3/4 in hose"), ("right", "2 1/2 in hose"))
    ]
    found["core_distance"] = ["290 mm", 330, "150 mm"]
    found["pump_drive"] = ["remote"]
    anything = [number for number, part in sorted(snapshot.parts.items()) if part.kind != "engine"]
    bolts = of_kind["fastener_set"]
    found["have"] = [random.choices(anything, k=size) for size in (1, 5, 40)]
    found["have"].append(bolts)
    found["measured"] = [[each] for each in readings(snapshot, random)]
    found["must.outlet_side"] = ["left", "right"]
    found["must.outlet_direction"] = ["forward"]
    found["must.work_at_most"] = ["bolt_on", "press"]
    found["must.price_at_most"] = [{"amount": each, "currency": snapshot.currency} for each in (90, 260)]
    found["must.without"] = [random.sample(anything, min(size, len(anything))) for size in (1, 5, 40)]
    found["must.without"].append(bolts[::2])
    found["rank_by"] = [["margin"], ["parts", "price"], ["length", "work"]]
    found["limit"] = [1, 30]
    found["paths_per_pump"] = [1, 5]
    return {field: values for field, values in found.items() if values}


def readings(snapshot: Snapshot, random: Random) -> Iterator[Asked]:
    """Of some part of each kind that is measured one measure, read a little beside what the catalog says."""
    kinds: dict[Kind, list[Part]] = {}
    for _, part in sorted(snapshot.parts.items()):
        if part.measures:
            kinds.setdefault(part.kind, []).append(part)
    for parts in kinds.values():
        named = [part for part in parts if part.number in PLAIN.values()]
        part = random.choice(named or parts)
        name, measure = random.choice(sorted(part.measures.items()))
        beside = random.choice((0.2, 2))
        yield {"part": part.number, "measure": name, "value": measure.nominal / MM + beside, "plus_minus": 0.1}


def whole(snapshot: Snapshot, engine: str, radiators: list[Any]) -> Iterator[Asked]:
    """A build with circuits, then with much of what they may take at hand, and with all of a kind of it read."""
    for radiator in radiators:
        base: Asked = {"engine": engine, "radiator": radiator, "heater": "none"}
        yield base
        parts = sorted(snapshot.parts.items())
        for kinds in (("hose", "fitting"), ("thermostat_housing", "fastener_set", "plug")):
            yield base | {"have": [number for number, part in parts if part.kind in kinds][::2][:100]}
        for kind, name in (("thermostat_housing", "flange_thickness"), ("water_pump", "hole_depth")):
            of_kind = [(number, part.measures[name]) for number, part in parts if name in part.measures]
            yield base | {
                "measured": [
                    {"part": number, "measure": name, "value": measure.nominal / MM + 4, "taken_with": "caliper"}
                    for number, measure in of_kind
                    if snapshot.parts[number].kind == kind
                ]
            }


def sent(asked: Asked) -> Build:
    """The build that says this."""
    own = {field: value for field, value in asked.items() if "." not in field}
    must = {field[5:]: value for field, value in asked.items() if "." in field}
    return msgspec.convert(own | {"must": must}, Build)


def is_sound(snapshot: Snapshot, build: Build) -> bool:
    """Whether the build names what there is, and nothing twice."""
    try:
        resolve(snapshot, build)
    except BuildError:
        return False
    return True


def builds(snapshot: Snapshot, engine: str, seed: int) -> list[Build]:
    """Builds of every shape: each field alone with each of its values, in each pair, and beside each described part."""
    random = Random(seed)
    values = said(snapshot, random)
    engines: list[Any] = values.pop("engine")
    drives = values["accessory_drive"]
    asked: list[Asked] = [{"engine": each} for each in (engine, *engines)]
    asked += [{"engine": engine, field: value} for field, each in values.items() for value in each]
    asked += whole(snapshot, engine, [value for value in values.get("radiator", []) if isinstance(value, str)][1:])
    for _ in range(effort()):
        for pair in combinations(values, 2):
            asked.append({"engine": engine} | {field: random.choice(values[field]) for field in pair})
        for field in (field for field in SLOTS if field in values):
            for part in (value for value in values[field] if isinstance(value, dict)):
                for crowd in (random.sample(sorted(values), 2) for _ in range(2)):
                    own = {"engine": random.choice((engine, *engines)), "accessory_drive": random.choice(drives)}
                    asked.append(own | {other: random.choice(values[other]) for other in crowd} | {field: part})
    return [build for build in map(sent, asked) if is_sound(snapshot, build)]


def answered(graph: ConstraintGraph, build: Build, *, explain: bool = True, parts: bool = False) -> bytes:
    """The answer as it is sent, with why nothing fits; what to ask and to measure; a line each, which parts suit."""
    manner = render.Manner(units="mm", detail="full", currency=graph.snapshot.currency)
    found = _fit(graph, build, explain=explain)
    lines = [_encode(encoded.answer(found, graph.snapshot.release, manner))]
    if parts:
        lines.append(render_parts.one_a_line(which_fit(graph, build, None), graph.snapshot, manner).encode())
    return b"\n".join(lines)


def hold(snapshot: Snapshot, asked: list[Build], seed: int) -> Counter[str]:
    """Ask all of one graph, twice and in an order of its own, and each of a graph that was asked nothing else.

    Gives how often each verdict came.
    """

    def answer(graph: ConstraintGraph, at: int) -> bytes:
        # Either takes as long as the answer itself, so a build in five asks for it.
        return answered(graph, asked[at], explain=at % 5 == 0, parts=at % 5 == 1)

    fresh = [answer(ConstraintGraph(snapshot), at) for at in range(len(asked))]
    graph, order = ConstraintGraph(snapshot), [*range(len(asked)), *range(len(asked))]
    Random(seed).shuffle(order)
    for at in order:
        assert answer(graph, at) == fresh[at], msgspec.json.encode(asked[at])
    return Counter(msgspec.json.decode(found.partition(b"\n")[0])["verdict"] for found in fresh)


def test_builds_of_every_shape_are_answered_as_by_a_fresh_graph(thinned: Snapshot) -> None:
    asked = builds(thinned, "ENG-R20", seed=1)
    verdicts = hold(thinned, asked, seed=2)
    assert len(asked) > 250
    assert min(verdicts["fits"], verdicts["blocked"]) > len(asked) // 6


def test_blocked_builds_with_a_described_pulley_are_answered_alike_when_asked_again(demo: Snapshot) -> None:
    """The kept front of engine and pulley holds the pulley of whoever asked first, which another's is not."""
    pulley = {
        "name": "my pulley",
        "measures": {"offset": {"value": "33.5 mm"}},
        "ports": [{"role": "mount", "connection": "pulley_circle"}],
    }
    graph, told = ConstraintGraph(demo), 0
    for number, part in sorted(demo.parts.items()):
        if part.kind == "accessory_drive":
            build = sent({"engine": "ENG-R12", "accessory_drive": number, "pulley": pulley})
            fresh = answered(ConstraintGraph(demo), build, explain=False)
            assert [answered(graph, build, explain=False) for _ in range(2)] == [fresh, fresh], number
            told += msgspec.json.decode(fresh)["verdict"] == "blocked"
    assert told > 4


def test_one_field_changed_after_the_plain_build_changes_the_answer_as_on_a_fresh_graph(thinned: Snapshot) -> None:
    values = said(thinned, Random(3))
    for field, each in values.items():
        for value in each if field == "measured" else (*each[: 2 * effort()], each[-1]):
            build = sent(PLAIN | {field: value})
            if is_sound(thinned, build):
                graph = ConstraintGraph(thinned)
                fit(graph, sent(PLAIN))
                assert answered(graph, build) == answered(ConstraintGraph(thinned), build), (field, value)


@pytest.mark.parametrize("make", [seeded_case, circuit_case], ids=["stacks", "circuits"])
def test_builds_of_random_catalogs_are_answered_as_by_a_fresh_graph(make: Callable[[int], Case]) -> None:
    """These have rules of every kind, tested fits, and parts alike in all but their numbers."""
    for seed in range(91_000, 91_000 + effort()):
        snapshot = make(seed).snapshot
        engine = next(number for number, part in snapshot.parts.items() if part.kind == "engine")
        hold(snapshot, builds(snapshot, engine, seed)[::3], seed)
