"""Which open ports of a pump the build asks to have settled, in which ways, and which stay the asker's own."""

from typing import Final

import msgspec
from msgspec import UNSET

from catalog.domain import Part, Port, Role
from catalog.vocabulary import WORK
from service.fit.answer import Check, Code, OpenPort
from service.fit.bore import Bore
from service.fit.build import Work
from service.fit.circuit import Asked, Goal, Spot
from service.fit.graph import ConstraintGraph
from service.fit.question import Question
from service.fit.tally import least_work
from service.fit.unknown import leaves_out, not_known
from service.fit.ways import Ways

ORDER: Final = ("outlet", "inlet", "heater_feed", "heater_return", "bypass", "vent", "sensor", "fan")
"""The order in which obligations are told, and in which their parts go on."""
_CODES: Final[dict[str, Code]] = {
    "outlet": "outlet_path",
    "inlet": "inlet_path",
    "heater_feed": "heater_path",
    "heater_return": "heater_path",
    "bypass": "bypass",
    "vent": "vent",
    "sensor": "vent",
    "fan": "hub",
}
COOLANT: Final[tuple[Role, ...]] = ("coolant_out", "coolant_in", "housing", "bypass", "vent", "sensor", "thermostat")
HEATER: Final[tuple[Role, ...]] = ("heater_feed", "heater_return")


class Obligation(msgspec.Struct, frozen=True):
    """Something to settle: alternatives, each a set of spots that must all be settled."""

    name: str
    code: Code
    root: Spot


class Obliged(msgspec.Struct, frozen=True):
    """What a pump, or an outlet plate with its remote pump, must settle; and what makes it hopeless from the start."""

    obligations: tuple[Obligation, ...]
    faults: tuple[Check, ...]
    open: tuple[OpenPort, ...]


Alternatives = tuple[tuple[Spot, ...], ...]


def obliged(ways: Ways, question: Question, part: Part, remote: Part | None) -> Obliged:
    """The obligations of a part that sits on the block: a pump, or an outlet plate that leads to a remote pump."""
    asked = ways.asked
    found: list[tuple[str, Alternatives]] = []
    faults: list[Check] = []
    if asked.coolant:
        coolant, missing = _coolant(ways, part, remote)
        found += coolant
        faults += missing
    if asked.heater is not None:
        heater, missing = _heater(ways, question, part)
        found += heater
        faults += missing
    if asks_for_fan(question):
        ports = [port for port in part.ports if port.role == "fan"]
        fan = question.slots.get("fan")
        if ports and fan is not None and not any(port.role == "mount" for port in fan.ports):
            faults.append(not_known(question.stated, "hub", [(fan, "ports.mount")]))
        elif ports:
            found.append(("fan", ((ways.spot(part, ports[0], "fan"),),)))
        elif leaves_out(question, part, "fan"):
            faults.append(not_known(question.stated, "hub", [(part, "ports.fan")]))
        else:
            reason = "no_fan_port" if remote is None else "remote_turns_no_fan"
            faults.append(Check("hub", "fails", reason, {"pump": part.name}))
    obligations = [
        Obligation(name, _CODES[name], ways.root(alternatives))
        for name, alternatives in sorted(found, key=lambda pair: ORDER.index(pair[0]))
    ]
    return Obliged(tuple(obligations), tuple(faults), open_ports_of(ways.graph, asked, question, part, remote))


def asks_for_fan(question: Question) -> bool:
    """Whether the pump must drive a fan."""
    fan = question.slots.get("fan")
    return question.build.fan == "mechanical" or (fan is not None and fan.attributes.get("driven_by") == "engine")


def _coolant(ways: Ways, part: Part, remote: Part | None) -> tuple[list[tuple[str, Alternatives]], list[Check]]:
    found: list[tuple[str, Alternatives]] = []
    faults: list[Check] = []
    name = part.name if remote is None else remote.name

    known = remote is not None or ports_known(part)

    def missing(code: Code, reason: str) -> None:
        lacking: dict[Code, str] = {"outlet_path": "ports.coolant_out", "inlet_path": "ports.coolant_in"}
        faults.append(
            Check(code, "fails", reason, {"pump": name, "part": part.name})
            if known
            else not_known(ways.question.stated, code, [(part, lacking[code])])
        )

    by_role: dict[Role, list[Port]] = {}
    for port in sorted(part.ports, key=lambda port: port.name):
        by_role.setdefault(port.role, []).append(port)
    upper, lower = _ends_of_coolant(part, remote)
    outlets = by_role.get("coolant_out", [])
    if outlets:
        found.append(("outlet", _one_of(ways, part, outlets, upper, [], remote)))
    else:
        missing("outlet_path", "no_outlet")
    inlets: list[Alternatives] = []
    if "housing" in by_role:
        inlets += _housings(ways, part, by_role["housing"], outlets)
    if "coolant_in" in by_role:
        inlets.append(_one_of(ways, part, by_role["coolant_in"], lower, outlets, remote))
    found += [("inlet", inlet) for inlet in inlets]
    if not inlets:
        missing("inlet_path", "no_inlet")
    found += _bypass(ways, part, by_role.get("bypass", []))
    vent: Goal = "vent" if ways.asked.ends.get("vent") else "closed"
    found += [("vent", ((ways.spot(part, port, vent),),)) for port in by_role.get("vent", [])]
    found += [("sensor", ((ways.spot(part, port, "closed"),),)) for port in by_role.get("sensor", [])]
    found += [("inlet", ((ways.spot(part, port, "thermostat"),),)) for port in by_role.get("thermostat", [])]
    if remote is not None:
        for role, reason in (("vent", "no_place_for_vent"), ("sensor", "no_place_for_sender")):
            if role not in by_role:
                missing("vent", reason)
    return found, faults


def ports_known(part: Part) -> bool:
    """Whether any port of coolant or heater of the part is known: then what it lacks it has not, else who knows."""
    return any(port.role in COOLANT + HEATER for port in part.ports)


def _ends_of_coolant(part: Part, remote: Part | None) -> tuple[Goal, Goal]:
    """Where the outlet and the inlet must lead; a plate without a thermostat takes one in the line."""
    if remote is None:
        return "upper", "lower"
    has = part.attributes.get("thermostat_included") is True or any(port.role == "thermostat" for port in part.ports)
    return ("upper" if has else "upper_by_thermostat"), "pumped"


def _one_of(
    ways: Ways, part: Part, ports: list[Port], goal: Goal, outlets: list[Port], remote: Part | None
) -> Alternatives:
    """One mouth leads on, the other ports are closed: an alternative for each mouth.

    The line is as wide as the mouth, where it leads, and `outlets`, but for the leeway that it has.
    """
    pumped = goal == "pumped" and remote is not None
    number = remote.number if remote is not None and pumped else ""
    if remote is not None:
        outlets = [port for port in remote.ports if port.role == "coolant_out"] if pumped else []
    found = []
    for mouth in ports:
        bore = ways.bore(goal, [mouth.connection, *(port.connection for port in outlets)])
        points = (mouth.side, mouth.direction) if goal in OF_OUTLET and wants_outlet(ways.question) else None
        led_on = ways.spot(part, mouth, goal, bores=(bore,), points=points)._replace(remote=number)
        found.append(tuple(led_on if port is mouth else ways.spot(part, port, "closed") for port in ports))
    return tuple(found)


OF_OUTLET: Final[tuple[Goal, ...]] = ("upper", "upper_by_thermostat")
"""Goals of the line from the outlet."""


def wants_outlet(question: Question) -> bool:
    """Whether the build says where the outlet must point."""
    must = question.build.must
    return must.outlet_side is not UNSET or must.outlet_direction is not UNSET


def _housings(ways: Ways, part: Part, ports: list[Port], outlets: list[Port]) -> list[Alternatives]:
    """A housing on each of these: its line is held against the outlet, and its heater's return against the feed."""
    goal: Goal = "housing_with_return" if _return_on_housing(ways, part) else "housing"
    bores: tuple[Bore, ...] = (ways.bore("lower", [port.connection for port in outlets]),)
    if goal == "housing_with_return":
        feeds = [port.connection for port in part.ports if port.role == "heater_feed"]
        bores = (*bores, ways.bore("heater_return", feeds))
    return [((ways.spot(part, port, goal, bores=bores),),) for port in ports]


def _return_on_housing(ways: Ways, part: Part) -> bool:
    return ways.asked.heater == "lines" and not any(port.role == "heater_return" for port in part.ports)


def _bypass(ways: Ways, part: Part, ports: list[Port]) -> list[tuple[str, Alternatives]]:
    """The pump's bypass leads to the engine's own where there is one; either is closed where the other is missing."""
    engine = ways.question.slots["engine"]
    own = [port for port in engine.ports if port.role == "bypass"]
    goal: Goal = "bypass" if own else "closed"
    found: list[tuple[str, Alternatives]] = [("bypass", ((ways.spot(part, port, goal),),)) for port in ports]
    if not ports:
        found += [("bypass", ((ways.spot(engine, port, "closed"),),)) for port in own]
    return found


def _heater(ways: Ways, question: Question, part: Part) -> tuple[list[tuple[str, Alternatives]], list[Check]]:
    feeds, returns = (
        sorted((port for port in part.ports if port.role == role), key=lambda port: port.name) for role in HEATER
    )
    closed: list[tuple[str, Alternatives]] = [
        *(("heater_feed", ((ways.spot(part, port, "closed"),),)) for port in feeds),
        *(("heater_return", ((ways.spot(part, port, "closed"),),)) for port in returns),
    ]
    if question.build.heater == "none":
        if part.attributes.get("bypass") != "heater" or not feeds or not returns:
            return closed, []
        end = returns[0]
        bore = ways.bore("loop", [feeds[0].connection, end.connection])
        loop = ways.spot(part, feeds[0], "loop", bores=(bore,))._replace(loop=f"{end.connection} {end.end}")
        rest = [pair for pair, port in zip(closed, (*feeds, *returns), strict=True) if port not in (feeds[0], end)]
        return [("heater_feed", ((loop,),)), *rest], []
    facts = {"pump": part.name}
    if not ports_known(part):
        missing = [(part, f"ports.{role}") for role in HEATER]
        return [], [not_known(question.stated, "heater_path", missing)]
    if not feeds:
        return [], [Check("heater_path", "fails", "no_heater_feed", facts)]
    lines: list[tuple[str, Alternatives]] = [("heater_feed", _to_heater(ways, part, feeds[0], "heater_feed"))]
    if returns:
        lines.append(("heater_return", _to_heater(ways, part, returns[0], "heater_return")))
    elif not any(port.role == "housing" for port in part.ports):
        return [], [Check("heater_path", "fails", "no_heater_return", facts)]
    rest = [pair for pair, port in zip(closed, (*feeds, *returns), strict=True) if port not in (feeds[0], *returns[:1])]
    return [*lines, *rest], []


def _to_heater(ways: Ways, part: Part, port: Port, goal: Goal) -> Alternatives:
    return ((ways.spot(part, port, goal, bores=(ways.bore(goal, [port.connection]),)),),)


def open_ports_of(
    graph: ConstraintGraph, asked: Asked, question: Question, part: Part, remote: Part | None
) -> tuple[OpenPort, ...]:
    """The ports of coolant and heater, what else is wet, and a bare hub, that the build does not ask about."""
    settled: set[Role] = {"mount"}
    if asked.coolant:
        settled |= set(COOLANT)
    if asked.heater is not None:
        settled |= set(HEATER)
    if asks_for_fan(question):
        settled.add("fan")
    bare_hub = not part.bands and "pulley" not in question.slots and "accessory_drive" not in question.slots
    owners = [part] if remote is None or asked.coolant else [part, remote]
    return tuple(
        open_port(graph, owner, port)
        for owner in owners
        for port in owner.ports
        if port.role not in settled and (port.wet or port.role in COOLANT + HEATER or (port.role == "hub" and bare_hub))
    )


def open_port(graph: ConstraintGraph, part: Part, port: Port) -> OpenPort:
    """A port as it is listed for the asker to connect."""
    work: Work = WORK[least_work(graph, port)]
    return OpenPort(part.number, port.name, port.role, port.connection, port.side, port.direction, port.wet, work)
