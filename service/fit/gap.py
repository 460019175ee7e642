"""Room in front of the engine: between the radiator's core and the fan or the pump, and behind the fan.

The distances are those of a truck maker's operator's manual, 2006, p. 143: blades 1 in from what is in front of them,
3/4 in at the least, and 3/8 in from any part of the engine behind them.
"""

from math import inf
from typing import Final, NamedTuple

from catalog.domain import Part
from service.fit.answer import Check, CheckVerdict, Facts, RestsOn, worst
from service.fit.axis import AxialTest
from service.fit.belt import rests
from service.fit.question import Question
from service.fit.seats import Reach
from service.fit.stack import NOTHING, Sum
from service.fit.unknown import Missing, missing_attributes, missing_measures, not_known

FRONT_LEAST: Final = 19_000_000
"""Least room in front of an engine-driven fan: 3/4 in, which the manual gives as 19 mm."""
FRONT_ADVISED: Final = 25_400_000
"""Room in front of it that is advised, 1 in."""
BEHIND_LEAST: Final = 9_525_000
"""Least room between what turns or heats and what stands still, 3/8 in."""
_SOURCE: Final = RestsOn(
    standard="room about a fan: 3/4 in in front, 3/8 in behind (a truck maker's operator's manual, 2006, p. 143)"
)


def bare_gap(question: Question, part: Part) -> tuple[list[AxialTest], list[Check]]:
    """Room between the core, with the radiator's own fan where one is named, and the foremost point of the pump.

    A named fan may have to be turned by the pump as long as nobody says what turns it, wherever the core stands.
    """
    core, fan = question.core_distance, question.slots.get("fan")
    on_radiator = fan if fan is not None and fan.attributes.get("driven_by") != "engine" else None
    unsaid = [] if on_radiator is None else missing_attributes((on_radiator, "driven_by"))
    if core is None and not unsaid:
        return [], [Check("radiator_gap", "not_asked", "field_left_out", {"field": "core_distance"})]
    missing = [] if core is None else missing_measures((part, "nose"))
    missing += unsaid
    if core is not None and on_radiator is not None:
        missing += missing_measures((on_radiator, "depth"))
    if core is None or missing:
        return [], [not_known(question.stated, "radiator_gap", missing)]
    depth = NOTHING if on_radiator is None else Sum.of(on_radiator.measures["depth"])
    base = NOTHING + core - depth - Sum.of(part.measures["nose"])
    reason = "fan_of_unknown_depth" if question.build.fan == "electric" else "room_before_pump"
    facts: Facts = {"pump": part.name, "seat": part.kind, "fan": None if on_radiator is None else on_radiator.name}
    based_on = (rests(part, "nose"), *(() if on_radiator is None else (rests(on_radiator, "depth"),)), _SOURCE)
    return [
        AxialTest("radiator_gap", reason, base, -1, BEHIND_LEAST, at_least=True, facts=facts, rests_on=based_on)
    ], []


class Extent(NamedTuple):
    """How far a fan with its adapters reaches, nm from its seat on the pump; None where that is not known."""

    ahead: int | None
    """To the foremost point of the fan, at the least that this can be."""
    behind: int | None
    """To the rearmost point of the fan, forward, at the most that this can be."""


def extents(fans: list[list[Part]]) -> tuple[Extent, ...]:
    """The extents of these fans, each after its adapters, but for those that reach farther both ways than another."""
    found = sorted({_extent(parts) for parts in fans}, key=lambda each: (_ahead(each), -_behind(each)))
    kept: list[Extent] = []
    for each in found:
        if not kept or _behind(each) > _behind(kept[-1]):
            kept.append(each)
    return tuple(kept)


def _extent(parts: list[Part]) -> Extent:
    *adapters, fan = parts
    between = [adapter.measures.get("thickness") for adapter in adapters]
    depth, back = fan.measures.get("depth"), fan.measures.get("depth_behind")
    low = sum(measure.low for measure in between if measure is not None)
    high = sum(measure.high for measure in between if measure is not None)
    # Where a measure is missing nothing is asked of either gap.
    known = depth is not None and None not in between
    return Extent(
        low + depth.low if known and depth is not None else None,
        high - back.low if known and back is not None else None,
    )


def _ahead(extent: Extent) -> float:
    return -inf if extent.ahead is None else extent.ahead


def _behind(extent: Extent) -> float:
    return inf if extent.behind is None else extent.behind


def fan_reach(question: Question, pump: Part, extent: Extent) -> Reach:
    """Where the pump's flange may be so that such a fan may have room: nm, as a seat is looked up."""
    face = pump.measures.get(_seat(pump))
    drive = question.slots.get("accessory_drive")
    nose = None if drive is None else drive.measures.get("nose")
    if face is None or extent.ahead is None:
        return (None, None)
    core = question.core_distance
    most = None if core is None else core - FRONT_LEAST - face.low - extent.ahead
    least = None if nose is None or extent.behind is None else BEHIND_LEAST + nose.low - face.high - extent.behind
    return (least, most)


def fan_tests(question: Question, pump: Part, adapters: list[Part], fan: Part) -> tuple[list[AxialTest], list[Check]]:
    """Room in front of an engine-driven fan and behind it, on its pump with what lies between."""
    seat = [(pump, _seat(pump)), *((adapter, "thickness") for adapter in adapters)]
    facts = {"fan": fan.name, "pump": pump.name}
    tests, checks = list[AxialTest](), list[Check]()
    core, drive = question.core_distance, question.slots.get("accessory_drive")
    if core is None:
        checks.append(Check("radiator_gap", "not_asked", "field_left_out", {"field": "core_distance"}, zone="front"))
    elif missing := missing_measures(*seat, (fan, "depth")):
        checks.append(not_known(question.stated, "radiator_gap", missing, "front", facts))
    else:
        base = NOTHING + core - _total(seat) - Sum.of(fan.measures["depth"])
        based_on = (*(rests(part, name) for part, name in (*seat[:1], (fan, "depth"), *seat[1:])), _SOURCE)
        tests.append(
            AxialTest("radiator_gap", "room_before_fan", base, -1, FRONT_LEAST, True, "front", facts, based_on)
        )
    if drive is None:
        return tests, checks
    behind = {**facts, "drive": drive.name}
    if missing := missing_measures(*seat, (fan, "depth_behind"), (drive, "nose")):
        checks.append(not_known(question.stated, "radiator_gap", missing, "behind", behind))
    else:
        base = _total(seat) - Sum.of(fan.measures["depth_behind"]) - Sum.of(drive.measures["nose"])
        based_on = (*(rests(part, name) for part, name in (*seat, (fan, "depth_behind"), (drive, "nose"))), _SOURCE)
        tests.append(
            AxialTest("radiator_gap", "room_behind_fan", base, 1, BEHIND_LEAST, True, "behind", behind, based_on)
        )
    return tests, checks


def _seat(pump: Part) -> str:
    """The measure of a fan's seat: a hub that takes no pulley of its own can only be that."""
    bare = any(port.role == "hub" for port in pump.ports)
    return "hub_face" if "fan_face" not in pump.measures and "hub_face" in pump.measures and not bare else "fan_face"


def _total(seat: list[Missing]) -> Sum:
    total = NOTHING
    for part, name in seat:
        total += Sum.of(part.measures[name])
    return total


def fan_verdict(question: Question, pump: Part, parts: list[Part], flange: Sum) -> CheckVerdict:
    """The worst verdict of the room about the fan at the end of these parts."""
    *adapters, fan = parts
    tests, checks = fan_tests(question, pump, adapters, fan)
    return worst([*(check.verdict for check in checks), *(test.verdict(flange) for test in tests)])


def fan_checks(question: Question, pump: Part, parts: list[Part], flange: Sum) -> list[Check]:
    """Room about the fan at the end of these parts: adapters, then the fan."""
    *adapters, fan = parts
    tests, checks = fan_tests(question, pump, adapters, fan)
    return [*checks, *(test.check(flange) for test in tests)]
