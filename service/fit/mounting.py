"""A pump with its pulley: all that can be said of it before the plates under it are known."""

from collections.abc import Iterator
from fractions import Fraction
from typing import Any, Final

import msgspec

from catalog.domain import Part, Port, Role
from service.fit.answer import Check, CheckVerdict, Code, Facts, Length, OpenPort, Window, worst
from service.fit.axis import AxialTest, common_window, relative_margin
from service.fit.belt import belt_plane_tests, best_of, carried_tests, crank_check, rotation_check, running
from service.fit.challenged import challenges
from service.fit.circuit import Goal
from service.fit.cover import cover_tests
from service.fit.gap import bare_gap, fan_reach
from service.fit.graph import ConstraintGraph
from service.fit.obligations import asks_for_fan
from service.fit.outlets import outlet_checks
from service.fit.paths import MOST_PLATES, Seat
from service.fit.question import Question
from service.fit.seats import Reach
from service.fit.stack import Sum
from service.fit.unknown import Missing, not_known
from service.fit.unsettled import unsettled_checks
from service.fit.whole import Settlement


class Mounting(msgspec.Struct, frozen=True):
    """A pump and its pulley, the checks that no plate changes, and the tests that wait for the flange's place."""

    pump: Part
    """What sits on the block: a pump, or the outlet plate that leads to a remote one."""
    pulley: Part | None
    remote: Part | None
    static: tuple[Check, ...]
    belt: tuple[AxialTest, ...]
    """Places where the belt can run: one of them must hold."""
    axial: tuple[AxialTest, ...]
    """Each of these must hold."""
    fan: tuple[Reach, ...] = ()
    """Where the flange may be so that a fan has room, once for each fan and its adapters; empty where none is asked."""
    open: tuple[OpenPort, ...] = ()
    """Ports that the build does not ask about."""

    @property
    def chosen(self) -> Part:
        """The pump itself, wherever it sits."""
        return self.remote or self.pump

    @property
    def hopeless(self) -> bool:
        """Whether a check that no plate changes fails."""
        return any(check.verdict == "fails" for check in self.static)

    @property
    def reach(self) -> tuple[Reach, ...]:
        """Where the flange may be so that no axial test fails: once for each place of the belt with each fan."""
        axial = [test.possible_flange() for test in self.axial]
        belts: list[Reach] = [test.possible_flange() for test in self.belt] or [_ANYWHERE]
        return tuple(_common([*axial, belt, fan]) for belt in belts for fan in self.fan or (_ANYWHERE,))

    @property
    def sure(self) -> tuple[Reach, ...]:
        """Where the flange lies inside so that every axial test is `ok`: once for each place of the belt.

        The places of a belt share one doubt, so that where any of them is `ok` the best is.
        """
        axial = [test.sure_flange() for test in self.axial]
        belts: list[Reach] = [test.sure_flange() for test in self.belt] or [_ANYWHERE]
        return tuple(_common([*axial, belt]) for belt in belts)

    def has_room_for_fan(self, flange: Sum) -> bool:
        """Whether some fan has room with the flange there; also where no fan is asked for."""
        return not self.fan or any(_within(reach, flange) for reach in self.fan)

    def possible(self, flange: Sum) -> bool:
        """Whether no axial test fails with the flange there."""
        tests = self.axial
        return (
            all(_meets(test, flange) for test in tests)
            and (not self.belt or any(_meets(test, flange) for test in self.belt))
            and self.has_room_for_fan(flange)
        )

    def verdict(self, flange: Sum) -> CheckVerdict:
        """The verdict of all that is known before bolts and rules."""
        static = (check.verdict for check in self.static)
        return worst([*static, *(test.verdict(flange) for test in self.deciding(flange))])

    def relative_margin(self, flange: Sum) -> Fraction | None:
        """The least margin over its limit; None where nothing limits."""
        margins = [test.relative_margin(flange) for test in self.deciding(flange) if test.code != "radiator_gap"]
        margins += [margin for check in self.static if (margin := relative_margin(check)) is not None]
        return min(margins, default=None)

    def deciding(self, flange: Sum) -> list[AxialTest]:
        """The tests that count with the flange there: of the belt's places, only the best."""
        return [best_of(self.belt, flange), *self.axial] if self.belt else list(self.axial)

    def axial_checks(self, flange: Sum) -> list[Check]:
        """The axial tests as checks, the belt's by the best place for it."""
        return [test.check(flange) for test in self.deciding(flange)]

    def shortfall(self, flange: Sum) -> int:
        """By how much the axial tests miss in sum, every part at its middle, in half nanometres; 0 where all hold."""
        missed = sum(test.shortfall(flange) for test in self.axial)
        return missed + min((test.shortfall(flange) for test in self.belt), default=0)

    def window(self, flange: Sum) -> Window | None:
        """The total thickness that would serve, nearest to this one; None where nothing does or nothing asks."""
        fixed = [window for test in self.axial if (window := test.window()) is not None]
        if not fixed and not self.belt:
            return None
        belts = [[window] for test in self.belt if (window := test.window()) is not None] or [[]]
        found = [window for belt in belts if (window := common_window(fixed + belt)) is not None]
        return min(found, key=lambda window: (_distance(window, flange.middle), window.from_), default=None)


def _common(reaches: list[Reach]) -> Reach:
    """What a flange must reach to be within each of these."""
    least = max((low for low, _ in reaches if low is not None), default=None)
    most = min((high for _, high in reaches if high is not None), default=None)
    return least, most


def _meets(test: AxialTest, flange: Sum) -> bool:
    return _within(test.possible_flange(), flange)


def _within(reach: Reach, flange: Sum) -> bool:
    low, high = reach
    return (low is None or flange.high >= low) and (high is None or flange.low <= high)


def _distance(window: Window, z: Length) -> Length:
    if z < window.from_:
        return window.from_ - z
    return z - window.to if window.to is not None and z > window.to else 0


def mountings(settlement: Settlement, part: Part) -> Iterator[Mounting]:
    """What sits on the block, with each pulley that it can take, or with each pump that it can lead to."""
    for mounting in dry_mountings(settlement.graph, settlement.question, part):
        yield with_circuits(settlement, mounting)


def with_circuits(settlement: Settlement, mounting: Mounting) -> Mounting:
    """The mounting with what the coolant, the heater and the fan ask of it and rule out from the start."""
    pump, question = mounting.pump, settlement.question
    extents = settlement.fan_extents(pump) if asks_for_fan(question) else ()
    return msgspec.structs.replace(
        mounting,
        static=(*mounting.static, *_of_circuits(settlement, pump, mounting.remote)),
        fan=tuple(dict.fromkeys(fan_reach(question, pump, extent) for extent in extents)),
        open=settlement.obliged(pump, mounting.remote).open,
    )


def dry_mountings(graph: ConstraintGraph, question: Question, part: Part) -> Iterator[Mounting]:
    """The same before the circuits are looked at, which takes longer than all the rest."""
    face = mount_check(graph, question)
    if question.build.pump_drive == "remote":
        for remote in remote_pumps(graph, question):
            static = [face, *_of_belt_without_pump(question, part, remote)]
            yield _mounting(graph, question, (part, None, remote), static)
        return
    for pulley, hub in _pulleys(graph, question, part):
        static = [face, *_without(question, part, pulley), *hub]
        yield _mounting(graph, question, (part, pulley, None), static)


def _mounting(
    graph: ConstraintGraph,
    question: Question,
    parts: tuple[Part, Part | None, Part | None],
    static: list[Check],
) -> Mounting:
    part, pulley, remote = parts
    drive, cover, crank = (question.slots.get(slot) for slot in ("accessory_drive", "front_cover", "crank_pulley"))
    belt: tuple[AxialTest, ...] = ()
    axial: list[AxialTest] = []
    if drive is None:
        static += [_left_out(code, "accessory_drive") for code in _OF_DRIVE]
    elif remote is None:
        static.append(rotation_check(question, drive, part))
        if pulley is not None or not _is_bare(part):  # else nothing is there for the belt to run on
            offer = running(question, drive, pulley or part)
            static.append(offer.check)
            belt, missing = belt_plane_tests(drive, part, pulley, offer)
            if missing and offer.check.verdict != "fails":
                static.append(not_known(question.stated, "belt_plane", missing))
        tests, checks = carried_tests(graph, question, drive, part)
        axial += tests
        static += checks
    if crank is None or drive is None:
        static.append(_left_out("crank", "crank_pulley" if crank is None else "accessory_drive"))
    else:
        static.append(crank_check(question, drive, crank))
    if cover is None:
        static.append(_left_out("cover", "front_cover"))
    else:
        tests, checks = cover_tests(question, cover, part)
        axial += tests
        static += checks
    if not asks_for_fan(question):
        tests, checks = bare_gap(question, part)
        axial += tests
        static += checks
    static += challenges(question, [*question.standing, part, pulley, remote])
    return Mounting(part, pulley, remote, tuple(static), belt, tuple(axial))


_ANYWHERE: Final[Reach] = (None, None)


_OF_DRIVE: Final[tuple[Code, ...]] = ("belt", "belt_plane", "rotation", "carried_parts")


def _of_circuits(settlement: Settlement, part: Part, remote: Part | None) -> list[Check]:
    """What the coolant, the heater and the fan rule out from the start, and what of them was not asked."""
    owed = settlement.obliged(part, remote)
    checks = list(owed.faults)
    if not settlement.asked.coolant:
        checks += [_not_asked(settlement, code, "radiator") for code in _OF_COOLANT]
    if settlement.asked.heater is None:
        checks.append(_not_asked(settlement, "heater_path", "heater"))
    checks += outlet_checks(settlement, part)
    for obligation in owed.obligations:
        if settlement.first(obligation.root) is None:
            checks += unsettled_checks(settlement, obligation, part, remote)
    return checks


def _not_asked(settlement: Settlement, code: Code, slot: str) -> Check:
    """Why the lines to the radiator or the heater were not looked at: it was left out, or where its ports are."""
    lacking = settlement.asked.unknown.get(slot)
    if lacking is None:
        return _left_out(code, slot)
    part = settlement.question.slots[slot]
    missing = [(part, f"ports.{_ROLES[goal]}") for goal in lacking]
    return not_known(settlement.question.stated, code, missing)


_ROLES: Final[dict[Goal, Role]] = {
    "upper": "coolant_in",
    "lower": "coolant_out",
    "heater_feed": "heater_feed",
    "heater_return": "heater_return",
}
"""The port of the asker's own that lines to these goals must find."""
_OF_COOLANT: Final[tuple[Code, ...]] = ("outlet_path", "inlet_path", "thermostat")


def remote_pumps(graph: ConstraintGraph, question: Question) -> list[Part]:
    """Remote pumps that may be chosen, or just the one that is named."""
    named = question.slots.get("pump")
    found = [question.part(part) for part in graph.of_kind("remote_pump") if question.allows(part)]
    return found if named is None else [named]


def _of_belt_without_pump(question: Question, plate: Part, remote: Part) -> list[Check]:
    """What it means for the belt that no pump is driven by it."""
    drive = question.slots.get("accessory_drive")
    checks = []
    if remote.kind != "remote_pump":
        facts = {"pump": remote.name}
        return [Check("face", "fails", "pump_is_belt_driven", facts)]
    if drive is None:
        return []
    facts = {"drive": drive.name, "pump": remote.name, "plate": plate.name}
    known = "belt_without_pump" in drive.attributes
    checks.append(
        Check("belt", "ok", "belt_without_pump", facts)
        if known
        else Check("belt", "measure_first", "belt_lost_a_pulley", facts)
    )
    carried = [port for port in drive.ports if port.role == "carried"]
    for port in carried:
        gone = {**facts, "carried": port.name}
        checks.append(Check("carried_parts", "fails", "no_carrier", gone, zone=port.name))
    if not carried:
        checks.append(Check("carried_parts", "ok", "nothing_carried", facts))
    return checks


def _left_out(code: Code, field: str) -> Check:
    return Check(code, "not_asked", "field_left_out", {"field": field})


def _is_bare(pump: Part) -> bool:
    """Whether a pump has a hub and no band of its own, so that it takes a separate pulley."""
    return not pump.bands and any(port.role == "hub" for port in pump.ports)


def _without(question: Question, pump: Part, pulley: Part | None) -> list[Check]:
    return [
        Check("without", "fails", "named_and_unwanted", {"part": part.name})
        for part in (pump, pulley)
        if part is not None and part.number in question.without
    ]


def _pulleys(graph: ConstraintGraph, question: Question, pump: Part) -> Iterator[tuple[Part | None, tuple[Check, ...]]]:
    """Each pulley that the pump can take, with the check of its hub; no pulley for a pump that has its own."""
    named = question.slots.get("pulley")
    hubs = [port for port in pump.ports if port.role == "hub"]
    facts: dict[str, Any] = {"pump": pump.name, "pulley": None if named is None else named.name}
    if pump.bands or not hubs:
        yield None, () if named is None else (Check("hub", "fails", "has_own_pulley", facts),)
    elif named is not None:
        fits = any(_takes(graph, hub, port) for hub in hubs for port in named.ports)
        check = Check("hub", "ok" if fits else "fails", "pulley_fits" if fits else "pulley_does_not_fit", facts)
        yield (named if fits else None), (check,)
    elif "accessory_drive" not in question.slots:
        yield None, (_left_out("hub", "accessory_drive"),)
    else:
        found = {
            part.number: question.part(part)
            for hub in hubs
            for part, port in graph.meeting(hub)
            if part.kind == "pulley" and port.role == "mount" and question.allows(part)
        }
        if not found:
            known = [part.name for hub in hubs for part, port in graph.meeting(hub) if part.kind == "pulley"]
            facts["known"] = sorted(known)
            yield None, (Check("hub", "fails", "no_pulley_allowed" if known else "no_pulley", facts),)
        for _, pulley in sorted(found.items()):
            yield pulley, (Check("hub", "ok", "pulley_fits", {**facts, "pulley": pulley.name}),)


def _takes(graph: ConstraintGraph, inner: Port, outer: Port) -> bool:
    """Whether two ports are the two ends of one connection, the second a mount."""
    return (
        outer.role == "mount"
        and outer.connection == inner.connection
        and outer.end == graph.connection(inner.connection).other_end(inner.end)
    )


def unreached(question: Question, pump: Part) -> Check:
    """Why no path leads to a pump: nothing in the catalog leads to its face, or that face is not known."""
    facts: Facts = {"pump": pump.name, "engine": question.slots["engine"].name, "plates": MOST_PLATES}
    if not any(port.role == "mount" for port in pump.ports):
        return Check("face", "not_asked", "mount_not_known", facts)
    return Check("face", "fails", "no_path", facts)


def mount_check(graph: ConstraintGraph, question: Question) -> Check:
    """Whether the drive, the cover and the crank pulley of the build bolt to its engine."""
    engine, missing = question.slots["engine"], list[Missing]()
    for field in ("accessory_drive", "front_cover", "crank_pulley"):
        part = question.slots.get(field)
        if part is None:
            continue
        mounts = [port for port in part.ports if port.role == "mount"]
        missing += [] if mounts else [(part, "ports.mount")]
        for port in mounts:
            if not any(_takes(graph, seat, port) for seat in engine.ports):
                connection = graph.connection(port.connection).title
                facts: Facts = {"part": part.name, "engine": engine.name, "connection": connection, "field": field}
                return Check("face", "fails", "does_not_bolt_on", facts)
    if missing:
        return not_known(question.stated, "face", missing)
    return Check("face", "ok", "faces_meet", {"engine": engine.name})


def plates_of(mounting: Mounting, place: Seat) -> tuple[str, ...]:
    """The plates of an option with their counts, whatever their order; the outlet plate of a remote pump is one."""
    return place.key if mounting.remote is None else tuple(sorted((*place.key, mounting.pump.number)))
