"""What a port left open will take in any case counts in an option's work, wherever work is counted."""

from typing import Any

import msgspec
import pytest

from catalog.domain import Snapshot
from catalog.vocabulary import WORK
from service.fit import wording
from service.fit.answer import Answer, Option
from service.fit.build import Build
from service.fit.engine import fit
from service.fit.graph import ConstraintGraph
from service.fit.which import which_fit

OTHERS = ["OP-L16", "OP-L20", "OP-N20", "OP-T20", "OP-X16", "OP-X20"]
PLATE = {"engine": "ENG-R10", "pump_drive": "remote", "must": {"without": OTHERS}}
"""Of the plates that lead to a pump elsewhere only the one with two press-in necks is left."""
PUMP = {"engine": "ENG-R20", "pump": "WP-139"}
"""Its two bores for the heater take a pressed-in nipple or a pressed-in plug."""


@pytest.fixture(scope="module")
def graph(demo: Snapshot) -> ConstraintGraph:
    return ConstraintGraph(demo)


def ask(graph: ConstraintGraph, build: dict[str, Any], **must: Any) -> Answer:
    asked = {**build, "must": {**build.get("must", {}), **must}, "limit": 50, "paths_per_pump": 50}
    return fit(graph, msgspec.convert(asked, Build))


def least(snapshot: Snapshot, part: str, port: str) -> str:
    """The lightest of all on sale that has the other end of a port."""
    (own,) = (each for each in snapshot.parts[part].ports if each.name == port)
    steps = [
        str(other.attributes.get("work", "bolt_on"))
        for other in snapshot.parts.values()
        for each in other.ports
        if other.status == "active" and each.connection == own.connection and each.end != own.end
    ]
    return min(steps, key=WORK.index, default="bolt_on")


def hardest(graph: ConstraintGraph, option: Option) -> str:
    parts = graph.snapshot.parts
    steps = [str(parts[line.part].attributes.get("work", "bolt_on")) for line in option.parts_list]
    return max([*steps, *(port.work for port in option.open_ports)], key=WORK.index)


@pytest.mark.parametrize("build", [PLATE, PUMP, {"engine": "ENG-R20"}, {"engine": "ENG-R22", "heater": "none"}])
def test_an_open_port_takes_what_the_lightest_that_meets_it_takes(
    graph: ConstraintGraph, build: dict[str, Any]
) -> None:
    answer = ask(graph, build)
    assert answer.options
    for option in answer.options:
        assert all(port.work == least(graph.snapshot, port.part, port.port) for port in option.open_ports)
        assert option.work == hardest(graph, option)


@pytest.mark.parametrize("build", [PLATE, PUMP])
def test_no_limit_is_kept_by_leaving_a_question_out(graph: ConstraintGraph, build: dict[str, Any]) -> None:
    assert {option.work for option in ask(graph, build).options} == {"press"}
    assert ask(graph, build, work_at_most="press").fitting == ask(graph, build).fitting != ()
    refused = ask(graph, build, work_at_most="hand_fit")
    assert refused.verdict == "blocked"
    assert "must.work_at_most" in [field for remedy in refused.remedies for field in remedy.give_up]
    (conflict,) = (each for each in refused.conflicts if "must.work_at_most" in each.requirements)
    said = wording.conflict_text(refused.build, conflict)
    assert ", but whatever you connect to" in said
    assert "takes pressing in, and you allow fitting by hand at most" in said


def test_the_bores_of_a_pump_no_longer_count_once_the_heater_says_how_they_are_closed(graph: ConstraintGraph) -> None:
    for heater in ("none", "HX-19"):
        assert ask(graph, PUMP | {"heater": heater}, work_at_most="hand_fit").verdict == "blocked"  # pressed in as well
    assert ask(graph, {"engine": "ENG-R20", "pump": "WP-140"}, work_at_most="bolt_on").verdict != "blocked"


def test_parts_agree(graph: ConstraintGraph) -> None:
    build = msgspec.convert({"engine": "ENG-R20", "must": {"work_at_most": "bolt_on"}}, Build)
    suits = {each.part.number: each.suits for each in which_fit(graph, build, ["WP-139", "WP-140"]).parts}
    assert suits["WP-139"] == "no"
    assert suits["WP-140"] != "no"
    free = which_fit(graph, Build(engine="ENG-R20"), ["WP-139"]).parts[0]
    assert free.suits != "no"


def test_lighter_work_stands_first(graph: ConstraintGraph) -> None:
    answer = fit(graph, Build(engine="ENG-R20", limit=50, paths_per_pump=1))
    works = [WORK.index(option.work) for option in answer.options if option.verdict == "ok"]
    assert works == sorted(works)
    assert "press" in [option.work for option in answer.options]


def test_a_port_that_a_housing_leaves_open_counts_too(demo: Snapshot) -> None:
    """The demo, but that all that meets the housing's heater pipe is pressed on."""
    (pipe,) = (port for port in demo.parts["TH-A16"].ports if port.role == "heater_return")
    pressed = {
        number: msgspec.structs.replace(part, attributes={**part.attributes, "work": "press"})
        for number, part in demo.parts.items()
        if any(port.connection == pipe.connection and port.end != pipe.end for port in part.ports)
    }
    graph = ConstraintGraph(msgspec.structs.replace(demo, parts={**demo.parts, **pressed}))
    housings = [part.number for part in graph.of_kind("thermostat_housing") if part.number != "TH-A16"]
    build = {"engine": "ENG-R20", "pump": "WP-140", "radiator": "RD-31"}
    must = {"without": housings, "work_at_most": "press"}
    answer = ask(graph, build | {"limit": 5}, **must)
    through = [option for option in answer.options if "TH-A16" in [port.part for port in option.open_ports]]
    assert through
    assert {option.work for option in through} == {"press"}
    assert all(option.work == hardest(graph, option) for option in answer.options)
    lighter = ask(graph, build, without=housings, work_at_most="hand_fit")
    assert not [option for option in lighter.options if "TH-A16" in [line.part for line in option.parts_list]]
