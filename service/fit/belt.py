"""The belt: where on a pulley it can run, whether it suits, and the plane that it runs in."""

from fractions import Fraction
from typing import Final

import msgspec

from catalog.domain import Band, Part, Port
from catalog.standards.belts import DEFAULT_SPAN, allowed_offset, belt_width, groove_positions
from service.fit.answer import Check, CheckVerdict, Facts, Length, RestsOn
from service.fit.axis import AxialTest
from service.fit.graph import ConstraintGraph
from service.fit.question import Question
from service.fit.stack import Sum

ALIGNMENT: Final = RestsOn(
    standard="at most 1/16 in per ft of span between V-ribbed pulleys (this project's default, contributor's guide, "
    "Checks, belt_plane; stricter than SAE J1596, 1989, pulley misalignment: 0.58 mm per 100 mm)"
)
RIB_PITCH_STANDARD: Final = RestsOn(standard="rib pitch by profile (ISO 9982)")


class Place(msgspec.Struct, frozen=True):
    """One place on a pulley where the whole belt can run: nm from the first band's centre, and its limit."""

    shift: int
    limit: Length


class Running(msgspec.Struct, frozen=True):
    """What a pulley offers to the drive's belt: the belt check and the places where it can run."""

    check: Check
    places: tuple[Place, ...]


def rests(part: Part, measure: str) -> RestsOn:
    """The measure that a fact comes from."""
    found = part.measures[measure]
    return RestsOn(part=part.number, measure=measure, taken_with=found.taken_with, source=found.source)


def entry_limit(drive: Part) -> Length:
    """How far out of line the belt may enter a ribbed pulley beside the drive's shortest span, nm."""
    span = drive.measures.get("shortest_span")
    return allowed_offset(DEFAULT_SPAN if span is None else span.nominal)


def running(question: Question, drive: Part, pulley: Part) -> Running:
    """Which bands of the pulley suit the drive's belt, and the places on them."""
    side, profile, ribs = (drive.attributes.get(name) for name in ("belt_side", "profile", "ribs"))
    bands = pulley.bands
    if not bands and pulley.number in question.described:
        bands = (Band(0, 0, "ribbed", ribs if isinstance(ribs, int) else 0),)
    facts = {"drive": drive.name, "pulley": pulley.name, "ribs": ribs, "profile": profile, "side": side}
    if not bands:
        return Running(_belt("not_asked", "bands_not_known", facts), ())
    suited = [band for band in bands if band.surface == side]
    if not suited:
        return Running(_belt("fails", "no_surface", facts), ())
    ribbed = side == "ribbed"
    first = bands[0].centre
    if not isinstance(ribs, int):
        places = [Place(b.centre - first, entry_limit(drive) if ribbed else Fraction(b.width, 2)) for b in suited]
        return Running(_belt("not_asked", "ribs_not_given", facts), tuple(places))
    has = pulley.attributes.get("profile")
    if ribbed and has is not None and has != profile:
        return Running(_belt("fails", "wrong_profile", {**facts, "has": has}), ())
    width = belt_width(str(profile), ribs)
    if ribbed:
        roomy = [band for band in suited if band.grooves >= ribs]
        grooves = max(band.grooves for band in suited)
        if not roomy:
            return Running(_belt("fails", "too_few_grooves", {**facts, "grooves": grooves}), ())
        places = [
            Place(band.centre - first + position, entry_limit(drive))
            for band in roomy
            for position in groove_positions(band.grooves, ribs, str(profile))
        ]
        return Running(_belt("ok", "belt_suits", {**facts, "grooves": grooves}), tuple(places))
    wide = [band for band in suited if band.width >= width]
    room = max(band.width for band in suited)
    if not wide:
        return Running(_belt("fails", "too_narrow", {**facts, "width": width, "room": room}), ())
    places = [Place(band.centre - first, Fraction(band.width - width, 2)) for band in wide]
    return Running(_belt("ok", "belt_suits", {**facts, "width": width, "room": room}), tuple(places))


def _belt(verdict: CheckVerdict, reason: str, facts: Facts) -> Check:
    return Check("belt", verdict, reason, facts, rests_on=(RIB_PITCH_STANDARD,))


def belt_plane_tests(drive: Part, pump: Part, pulley: Part | None, places: tuple[Place, ...]) -> tuple[AxialTest, ...]:
    """One test a place where the belt can run; the best of them decides. Empty where a measure is not known."""
    plane = drive.measures.get("belt_plane")
    if pulley is None:
        own = pump.measures.get("belt_plane")
        pulley_plane, rest = (None if own is None else Sum.of(own)), [(pump, "belt_plane")]
    else:
        hub = pump.measures.get("hub_face")
        pulley_plane = None if hub is None else Sum.of(hub) + Sum.of(pulley.measures["offset"])
        rest = [(pump, "hub_face"), (pulley, "offset")]
    if plane is None or pulley_plane is None:
        return ()
    base = Sum.of(plane) - pulley_plane
    based_on = (*(rests(part, name) for part, name in ((drive, "belt_plane"), *rest)), *_span_rests(drive), ALIGNMENT)
    facts = {"drive": drive.name, "pump": pump.name, "span": _span(drive), "smooth": _smooth(drive)}
    return tuple(
        AxialTest("belt_plane", "belt_offset", base - place.shift, -1, place.limit, facts=facts, rests_on=based_on)
        for place in places
    )


def crank_check(question: Question, drive: Part, crank: Part) -> Check:
    """Whether the asker's crank pulley puts the belt in the plane that the drive's brackets expect."""
    engine = question.slots["engine"]
    offer = running(question, _ribbed(drive), crank)
    if offer.check.verdict == "fails" or not offer.places:
        return msgspec.structs.replace(offer.check, code="crank")
    plane, face, offset = (
        drive.measures.get("belt_plane"),
        engine.measures.get("crank_face"),
        crank.measures.get("offset"),
    )
    if plane is None or face is None or offset is None:
        lacking = (engine, "crank_face") if face is None else (crank, "offset") if offset is None else None
        of, missing = lacking or (drive, "belt_plane")
        return Check("crank", "not_asked", "measure_not_given", {"measure": missing, "of": of.name})
    base = Sum.of(plane) - (Sum.of(face) + Sum.of(offset))
    based_on = (rests(drive, "belt_plane"), rests(engine, "crank_face"), rests(crank, "offset"), ALIGNMENT)
    facts = {"drive": drive.name, "crank": crank.name, "span": _span(drive)}
    tests = [
        AxialTest("crank", "crank_offset", base - place.shift, 0, place.limit, facts=facts, rests_on=based_on)
        for place in offer.places
    ]
    return best_of(tests, base).check(base)


def _ribbed(drive: Part) -> Part:
    """The drive as its crank pulley meets it: whatever side runs on the pump, the ribs run on the crank."""
    return msgspec.structs.replace(drive, attributes={**drive.attributes, "belt_side": "ribbed"})


def best_of(tests: "list[AxialTest] | tuple[AxialTest, ...]", z: Sum) -> AxialTest:
    """The test with the largest margin; the first of equals."""
    return max(tests, key=lambda test: test.margin(z))


def rotation_check(drive: Part, pump: Part) -> Check:
    """Whether the pump turns the way in which this belt turns it."""
    wanted, turns = drive.attributes.get("rotation"), pump.attributes.get("rotation")
    facts = {"drive": drive.name, "pump": pump.name, "wanted": wanted, "turns": turns}
    if wanted is None or turns is None:
        return Check("rotation", "not_asked", "rotation_not_given", facts)
    if wanted == turns:
        return Check("rotation", "ok", "turns_right", facts)
    return Check("rotation", "fails", "turns_wrong", facts)


def carried_tests(graph: ConstraintGraph, drive: Part, pump: Part) -> tuple[list[AxialTest], list[Check]]:
    """Parts of the drive that bolt to the pump move with it: a test for each, or a check where there is none."""
    carried = [port for port in drive.ports if port.role == "carried"]
    if not carried:
        return [], [Check("carried_parts", "ok", "carries_nothing", {"pump": pump.name})]
    tests: list[AxialTest] = []
    checks: list[Check] = []
    for port in carried:
        facts = {"drive": drive.name, "pump": pump.name, "carried": port.name, "span": _span(drive)}
        if not _carrier(graph, pump, port):
            checks.append(Check("carried_parts", "fails", "no_carrier", facts, zone=port.name))
            continue
        face, offset = _named(pump, "carrier_face", port.name), _named(drive, "carried_offset", port.name)
        plane = drive.measures.get("belt_plane")
        if plane is None or face not in pump.measures or offset not in drive.measures:
            lacking = (drive, "belt_plane") if plane is None else (drive, offset) if face in pump.measures else None
            of, missing = lacking or (pump, face)
            unknown = {**facts, "measure": missing, "of": of.name}
            checks.append(Check("carried_parts", "not_asked", "measure_not_given", unknown, zone=port.name))
            continue
        base = Sum.of(plane) - (Sum.of(pump.measures[face]) + Sum.of(drive.measures[offset]))
        based_on = (rests(drive, "belt_plane"), rests(pump, face), rests(drive, offset), *_span_rests(drive), ALIGNMENT)
        tests.append(
            AxialTest(
                "carried_parts",
                "carried_offset",
                base,
                -1,
                entry_limit(drive),
                zone=port.name,
                facts=facts,
                rests_on=based_on,
            )
        )
    return tests, checks


def _carrier(graph: ConstraintGraph, pump: Part, carried: Port) -> bool:
    end = graph.connection(carried.connection).other_end(carried.end)
    return any(
        port.role == "carrier" and port.connection == carried.connection and port.end == end for port in pump.ports
    )


def _named(part: Part, measure: str, suffix: str) -> str:
    """The measure of just this carried part where it has one, else the plain one."""
    own = f"{measure}.{suffix}"
    return own if own in part.measures else measure


def _span(drive: Part) -> int:
    span = drive.measures.get("shortest_span")
    return DEFAULT_SPAN if span is None else span.nominal


def _span_rests(drive: Part) -> tuple[RestsOn, ...]:
    return (rests(drive, "shortest_span"),) if "shortest_span" in drive.measures else ()


def _smooth(drive: Part) -> bool:
    return drive.attributes.get("belt_side") == "smooth"
