"""Why nothing fits, and what would: the asker's own words first, the fix last."""

import re
from collections.abc import Callable, Mapping
from typing import Any, Final

from msgspec import UNSET

from catalog.domain import Price
from catalog.units import NM_PER_MM, amount_text
from service.fit.answer import Check, Conflict, Obstacle, Remedy
from service.fit.build import Amount, Build, Described, RadiatorPort, RadiatorPorts
from service.fit.requirements import said
from service.fit.wording.checks import check_within
from service.fit.wording.words import WORK_WORDS, Units, length_text, listed, pump_named, upper, window_text

_NAMED: Final = {
    "accessory_drive": "accessory drive",
    "front_cover": "front cover",
    "crank_pulley": "crank pulley",
    "pump": "pump",
    "pulley": "pump pulley",
    "radiator": "radiator",
}
"""Fields that name a part, as they are called."""
_WHICH_PUMP: Final = ("pump", "pulley", "pump_drive")
"""Requirements that need not be told of a pump that is named anyway."""


def requirement_text(build: Build, field: str, units: Units = "mm") -> str:
    """What the asker asked for in a field, as they would say it: "your front cover (FC-R5)"."""
    value = said(build, field)
    if field == "core_distance":
        return f"your radiator's core {length_text(round(value * NM_PER_MM), units)} from the block"
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


def _port(port: RadiatorPort) -> str:
    what = port.size if isinstance(port.size, str) else port.connection
    return f"{what} {port.side}" if isinstance(port.side, str) else str(what)


def _money(amount: Amount) -> str:
    return f"{amount.amount:.2f}".removesuffix(".00") + f" {amount.currency}"


_WISHES: Final[Mapping[str, Callable[[Any], str]]] = {
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
    sides = "; ".join(_side(build, conflict, obstacle, units) for obstacle in conflict.obstacles)
    told = f": {sides}" if sides else ""
    if not conflict.requirements:
        return f"No pump fits this engine, whatever else is asked{told}."
    return upper(f"{clash_text(build, conflict, units)}{told}.")


def clash_text(build: Build, conflict: Conflict, units: Units = "mm") -> str:
    """What leaves no option, without the reason: "your drive (DR-1) and your cover (FC-1) leave no option together"."""
    asked = [requirement_text(build, field, units) for field in conflict.requirements]
    if not asked:
        return "no pump fits this engine, whatever else is asked"
    return f"{listed(asked)} leave no option together" if len(asked) > 1 else f"{asked[0]} leaves no option"


def obstacle_text(build: Build, conflict: Conflict, obstacle: Obstacle, units: Units = "mm") -> str:
    """One side of a conflict as a sentence of its own."""
    return upper(f"{_side(build, conflict, obstacle, units)}.")


def _side(build: Build, conflict: Conflict, obstacle: Obstacle, units: Units) -> str:
    """Who comes nearest, what it suits, and how it fails."""
    how = clause(obstacle.check, units)
    if obstacle.check.code == "crank" or obstacle.check.reason == "does_not_bolt_on":
        return how  # whatever the pump
    if obstacle.window is not None and obstacle.check.value is not None:
        how += f" (it needs {window_text(obstacle.window, units)} of plates and gaskets)"
    who = f"{pump_named(obstacle.pump, obstacle.name)}{_on(obstacle.plates)}"
    others = [field for field in conflict.requirements if field not in (obstacle.requirement, *_WHICH_PUMP)]
    if not others:
        return f"nearest is {who}, but {how}"
    suited = listed([requirement_text(build, field, units) for field in others]) if len(others) < 3 else "all the rest"
    return f"{who} suits {suited}, but {how}"


def clause(check: Check, units: Units) -> str:
    """A check's sentence as part of a longer one; what it rests on, in brackets, stays as it is."""
    return re.sub(r"; (?![^(]*\))", ", and ", check_within(check, units).removesuffix("."))


def remedy_text(build: Build, remedy: Remedy, units: Units = "mm") -> str:
    """What to change, and what that gives."""
    steps = [_swap_step(build, remedy, field, units) for field in remedy.swap]
    steps += [_give_up_step(build, remedy, field, units) for field in remedy.give_up]
    # Of a fan that is no more than a word the depth is in no length, so that it must be added.
    unknown = any(check.reason == "fan_of_unknown_depth" for check in remedy.best.checks)
    more = " plus the depth of the fan" if unknown else ""
    far = [f"{length_text(length, units, at_least=True)}{more}" for length in remedy.move.values()]
    if not steps:
        return f"If the core stood {far[0]} from the block or more, {_gives(remedy, would=True)}.{_cost(remedy)}"
    steps += [f"move the radiator's core to {length} from the block or more" for length in far]
    lead = "Only together: " if len(steps) > 1 else ""
    change = listed(steps)
    return f"{lead}{change if lead else upper(change)}; then {_gives(remedy)}.{_cost(remedy)}"


def ask_again_text(build: Build, fields: tuple[str, ...], units: Units = "mm") -> str:
    """An offer to ask again without a part that is on the car; what comes of it is no yes."""
    named = [
        "the distance to the radiator's core"
        if field == "core_distance"
        else re.sub("^an? ", "the ", requirement_text(build, field, units))
        for field in fields
    ]
    return (
        f"You can ask again without {listed(named, 'or')}. "
        "What you leave out is then not checked: it is still on the car, and may stand in the way."
    )


def _swap_step(build: Build, remedy: Remedy, field: str, units: Units) -> str:
    value = remedy.swap[field]
    if isinstance(value, RadiatorPorts):
        return f"take a radiator with {_port(value.upper)} above and {_port(value.lower)} below"
    what = f"the {remedy.names[field]} ({value})" if field in remedy.names else _fan(value)
    asked = "radiator_ports" if field == "radiator" and build.radiator is UNSET else field
    return f"take {what} instead of {requirement_text(build, asked, units)}"


def _give_up_step(build: Build, remedy: Remedy, field: str, units: Units) -> str:
    asked, best = requirement_text(build, field, units), remedy.best
    match field:
        case "pump":
            return f"take the pump {best.pump} instead of {asked}"
        case "pulley":
            pulley = next((line.part for line in best.parts_list if line.role == "pulley"), None)
            return f"do without {asked}" if pulley is None else f"take the pump pulley {pulley} instead of {asked}"
        case "pump_drive":
            return f"take a pump that the belt drives, {best.pump}"
        case "must.price_at_most" if best.buy_price is not None:
            return f"allow {_price(best.buy_price)} instead of {asked}"
        case "must.work_at_most":
            return f"allow {WORK_WORDS[best.work]} instead of {asked}"
        case "must.without":
            used = [line.part for line in best.parts_list if line.part in build.must.without]
            return f"use {listed(used)} after all" if used else f"give up {asked}"
    return f"give up {re.sub('^an? ', 'the ', asked)}"


def _gives(remedy: Remedy, *, would: bool = False) -> str:
    best = remedy.best
    fits = "would fit" if would else "fits"
    if best.verdict != "ok":
        fits = f"{'might' if would else 'may'} fit once something is measured"
    return f"{pump_named(best.pump, best.name)}{_on(best.plates)} {fits}"


def _cost(remedy: Remedy) -> str:
    """What must be bought in all, what is swapped in included; what of that has no price is named."""
    own = remedy.best.buy_price
    if remedy.price is not None:
        bought = [f"the {_CALLED[field]}" for field in remedy.swap if field not in remedy.unpriced]
        with_them = f", {listed(bought)} included" if remedy.price != own else ""
        return f" Parts to buy: {_price(remedy.price)}{with_them}."
    if own is None:
        return ""
    more = remedy.swap_price if not remedy.unpriced else None
    priced = "" if more is None else f" and {_price(more)}"
    missing = [f"the {_CALLED[field]}" for field in remedy.unpriced]
    have = "has" if len(missing) == 1 else "have"
    return f" Parts to buy: {_price(own)}{priced} plus {listed(missing)}, which {have} no price here."


_CALLED: Final = {
    "accessory_drive": "drive",
    "front_cover": "cover",
    "crank_pulley": "crank pulley",
    "radiator": "radiator",
    "radiator_ports": "radiator",
    "heater": "heater",
    "fan": "fan",
}
"""What is swapped in, as it is called beside its price."""


def _on(plates: tuple[str, ...]) -> str:
    return f" on {listed(list(plates))}" if plates else ""


def _price(price: Price) -> str:
    return f"{amount_text(price.amount, price.currency)} {price.currency}"
