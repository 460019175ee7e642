"""Why nothing fits, and what would: the asker's own words first, the fix last."""

from collections.abc import Callable, Mapping
from typing import Any, Final

from catalog.units import NM_PER_MM, amount_text
from service.fit.answer import Conflict, Obstacle, Remedy
from service.fit.build import Amount, Build, Described, RadiatorPort, RadiatorPorts
from service.fit.requirements import said
from service.fit.wording.checks import check_text
from service.fit.wording.words import WORK_WORDS, Units, length_text, listed, lower, upper, window_text

_NAMED: Final = {
    "accessory_drive": "accessory drive",
    "front_cover": "front cover",
    "crank_pulley": "crank pulley",
    "pump": "pump",
    "pulley": "pump pulley",
    "radiator": "radiator",
}
"""Fields that name a part, as they are called."""


def requirement_text(build: Build, field: str) -> str:
    """What the asker asked for in a field, as they would say it: "your front cover (FC-R5)"."""
    return _asked(field, said(build, field))


def _asked(field: str, value: Any) -> str:
    if field in _NAMED:
        return f"your {_NAMED[field]} ({_name(value)})"
    if isinstance(value, RadiatorPorts):
        return f"your radiator ({_port(value.upper)} above, {_port(value.lower)} below)"
    return _WISHES[field](value)


def _name(value: Any) -> str:
    return value.name if isinstance(value, Described) else str(value)


def _fan(value: Any) -> str:
    words = {"mechanical": "a fan driven by the engine", "electric": "an electric fan", "none": "no fan"}
    return words.get(value, f"your fan ({_name(value)})") if isinstance(value, str) else f"your fan ({_name(value)})"


def _nm(millimetres: float) -> int:
    return round(millimetres * NM_PER_MM)


def _port(port: RadiatorPort) -> str:
    what = port.size if isinstance(port.size, str) else port.connection
    return f"{what} {port.side}" if isinstance(port.side, str) else str(what)


def _money(amount: Amount) -> str:
    return f"{amount.amount:.2f}".removesuffix(".00") + f" {amount.currency}"


_WISHES: Final[Mapping[str, Callable[[Any], str]]] = {
    "core_distance": lambda value: f"your radiator's core {length_text(_nm(value), 'mm')} from the block",
    "heater": lambda value: "no heater" if value == "none" else f"your heater ({_name(value)})",
    "fan": _fan,
    "pump_drive": lambda _: "a pump that is not on the engine",
    "must.without": lambda value: f"doing without {listed(list(value))}",
    "must.work_at_most": lambda value: f"nothing harder than {WORK_WORDS[value]}",
    "must.price_at_most": lambda value: f"at most {_money(value)}",
    "must.outlet_side": lambda value: f"an outlet on the {value}",
    "must.outlet_direction": lambda value: f"an outlet that points {value}",
}


def conflict_text(build: Build, conflict: Conflict, units: Units = "mm") -> str:
    """A conflict in one sentence: what clashes, then from each side what meets the rest and how it fails."""
    asked = [requirement_text(build, field) for field in conflict.requirements]
    sides = [_obstacle_clause(build, conflict, obstacle, units) for obstacle in conflict.obstacles]
    if not asked:
        return f"No pump fits this engine, whatever else is asked: {'; '.join(sides)}."
    together = " together" if len(asked) > 1 else ""
    leaves = "leave" if len(asked) > 1 else "leaves"
    told = f": {'; '.join(sides)}" if sides else ""
    return upper(f"{listed(asked)} {leaves} no option{together}{told}.")


def obstacle_text(build: Build, conflict: Conflict, obstacle: Obstacle, units: Units = "mm") -> str:
    """One side of a conflict as a sentence of its own."""
    return upper(f"{_obstacle_clause(build, conflict, obstacle, units)}.")


def _obstacle_clause(build: Build, conflict: Conflict, obstacle: Obstacle, units: Units) -> str:
    """Who comes nearest, what it suits, and how it fails."""
    others = [field for field in conflict.requirements if field != obstacle.requirement]
    on = f" on {listed(list(obstacle.plates))}" if obstacle.plates else ""
    who = f"the {obstacle.name}{on}"
    how = lower(check_text(obstacle.check, units).removesuffix(".")).replace("; ", ", and ")
    if obstacle.window is not None and obstacle.check.margin is not None:
        how += f" (it needs {window_text(obstacle.window, units)} of plates and gaskets)"
    if not others or obstacle.requirement in ("pump", "pulley", "pump_drive"):
        return f"nearest is {who}, but {how}"
    suited = listed([requirement_text(build, field) for field in others]) if len(others) < 3 else "all the rest"
    return f"{who} suits {suited}, but {how}"


def remedy_text(build: Build, remedy: Remedy, units: Units = "mm") -> str:
    """What to change, and what that gives."""
    del units
    steps = [_swap_step(build, field, value) for field, value in remedy.swap.items()]
    steps += [_give_up_step(build, remedy, field) for field in remedy.give_up]
    only = "Only together: " if len(steps) > 1 else ""
    return f"{only}{upper_unless(only, listed(steps))}; then {_gives(remedy)}."


def upper_unless(lead: str, text: str) -> str:
    """The text, with a capital where nothing leads it."""
    return text if lead else upper(text)


def _swap_step(build: Build, field: str, value: Any) -> str:
    now = requirement_text(build, field)
    if isinstance(value, RadiatorPorts):
        return f"take a radiator with {_port(value.upper)} above and {_port(value.lower)} below"
    if field == "fan":
        return f"take {_fan(value).replace('your fan', 'the fan')} instead of {now}"
    return f"take {value} instead of {now}"


def _give_up_step(build: Build, remedy: Remedy, field: str) -> str:
    asked = requirement_text(build, field)
    best = remedy.best
    match field:
        case "pump":
            return f"take the pump {best.pump} instead of {asked}"
        case "pump_drive":
            return f"take a pump that the belt drives, {best.pump}"
        case "must.price_at_most" if best.buy_price is not None:
            cost = f"{amount_text(best.buy_price.amount, best.buy_price.currency)} {best.buy_price.currency}"
            return f"allow {cost} instead of {asked}"
        case "must.work_at_most":
            return f"allow {WORK_WORDS[best.work]} instead of {asked}"
        case "must.without":
            used = [line.part for line in best.parts_list if line.part in build.must.without]
            return f"use {listed(used)} after all" if used else f"give up {asked}"
    return f"give up {asked}"


def _gives(remedy: Remedy) -> str:
    best = remedy.best
    on = f" on {listed(list(best.plates))}" if best.plates else ""
    cost = ""
    if best.buy_price is not None:
        cost = f", with parts to buy for {amount_text(best.buy_price.amount, best.buy_price.currency)} "
        cost += best.buy_price.currency
    fits = "fits" if best.verdict == "ok" else "may fit once something is measured"
    return f"the {_pump_name(remedy)}{on} {fits}{cost}"


def _pump_name(remedy: Remedy) -> str:
    names: Mapping[str, str] = {line.part: line.name for line in remedy.best.parts_list}
    return names.get(remedy.best.pump, remedy.best.pump)
