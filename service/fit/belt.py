"""The belt: where on a pulley it can run, whether it suits, and the plane that it runs in."""

from fractions import Fraction
from typing import Final

import msgspec

from catalog.domain import Band, Part, Port
from catalog.standards.belts import DEFAULT_SPAN, allowed_offset, belt_width, groove_positions
from service.fit.answer import Check, CheckVerdict, Code, Facts, Length, RestsOn
from service.fit.axis import AxialTest
from service.fit.graph import ConstraintGraph
from service.fit.question import Question
from service.fit.stack import Sum
from service.fit.unknown import Missing, leaves_out, missing_attributes, missing_measures, not_known

ALIGNMENT: Final = RestsOn(
    standard="at most 1/16 in per ft of span between V-ribbed pulleys (this project's default, contributor's guide, "
    "Checks, belt_plane; stricter than SAE J1596, 1989, pulley misalignment: 0.58 mm per 100 mm)"
)
RIB_PITCH_STANDARD: Final = RestsOn(standard="rib pitch by profile (ISO 9982)")


class Place(msgspec.Struct, frozen=True):
    """One place on a pulley where the whole belt can run: nm from the first band's centre, and its limit."""

    shift: int
    limit: Length
    limit_doubt: Length = 0


class Running(msgspec.Struct, frozen=True):
    """What a pulley offers to the drive's belt: the belt check and the places where it can run."""

    check: Check
    places: tuple[Place, ...]
    """Empty where there are none, or where they are not all known."""
    missing: tuple[Missing, ...] = ()
    """What the check lacks."""
    unplaced: tuple[Missing, ...] = ()
    """What is lacking to say where the belt can run."""


def rests(part: Part, measure: str) -> RestsOn:
    """The measure that a fact comes from."""
    found = part.measures[measure]
    return RestsOn(part=part.number, measure=measure, taken_with=found.taken_with, source=found.source)


def entry_limit(drive: Part) -> tuple[Length, Length]:
    """How far out of line the belt may enter a ribbed pulley beside the drive's shortest span, and its doubt, nm."""
    span = _span(drive)
    return allowed_offset(span.middle), allowed_offset(span.half)


def running(question: Question, drive: Part, pulley: Part) -> Running:
    """Which bands of the pulley suit the drive's belt, and the places on them; nothing is taken from the other side."""
    side, profile, ribs = (drive.attributes.get(name) for name in ("belt_side", "profile", "ribs"))
    facts = {"drive": drive.name, "pulley": pulley.name, "ribs": ribs, "profile": profile, "side": side}
    of_side = [band for band in pulley.bands if side in (None, band.surface)]
    if pulley.bands and not of_side:
        return Running(_belt("fails", "no_surface", facts), ())
    has = pulley.attributes.get("profile")
    other_ribs = None not in (has, profile) and has != profile
    suited = [band for band in of_side if band.surface == "smooth" or not other_ribs]
    if of_side and not suited:
        return Running(_belt("fails", "wrong_profile", {**facts, "has": has}), ())
    places, unplaced = _places(drive, pulley, suited)
    if suited and not places and not unplaced:
        return Running(_no_room(drive, suited, facts), ())
    missing = missing_attributes((drive, "belt_side"), (drive, "profile"), (drive, "ribs"))
    missing += [] if pulley.bands else [(pulley, "bands")]
    if side != "smooth" and not all(band.surface == "smooth" for band in suited or [_RIBBED]):
        missing += missing_attributes((pulley, "profile"))
    if missing:
        check = not_known(question.stated, "belt", missing, about=facts)
        return Running(check, tuple(places), tuple(missing), tuple(unplaced))
    if side == "ribbed":
        facts |= {"grooves": max(band.grooves for band in suited)}
    else:
        facts |= {"width": _width(drive), "room": max(band.width for band in suited)}
    return Running(_belt("ok", "belt_suits", facts), tuple(places))


_RIBBED: Final = Band(0, 0, "ribbed", 0)
"""A band of which nothing is known may be ribbed."""


def _places(drive: Part, pulley: Part, suited: list[Band]) -> tuple[list[Place], list[Missing]]:
    """Every place where the whole belt can run on these bands; none, and what is lacking, where that is not known.

    Where no band is stated the belt's centre still runs where the pulley's own measure says.
    """
    side, ribs = drive.attributes.get("belt_side"), drive.attributes.get("ribs")
    if not suited:
        lacking: list[Missing] = [(drive, "belt_side")] if side is None else [(pulley, "bands")]
        return ([Place(0, *entry_limit(drive))], []) if side == "ribbed" else ([], lacking)
    if not isinstance(ribs, int):
        return [], [(drive, "ribs")]
    places: list[Place] = []
    first, width = pulley.bands[0].centre, _width(drive)
    # The grooves are the pulley's own, so that its profile tells them apart as well as the belt's does.
    pitch_of = drive.attributes.get("profile") or pulley.attributes.get("profile")
    for band in suited:
        if band.surface == "smooth":
            if width is None:
                return [], [(drive, "profile")]
            places += [Place(band.centre - first, Fraction(band.width - width, 2))] if band.width >= width else []
        elif band.grooves > ribs and pitch_of is None:
            return [], [(drive, "profile")]
        elif band.grooves >= ribs:
            positions = groove_positions(band.grooves, ribs, str(pitch_of)) if band.grooves > ribs else [0]
            places += [Place(band.centre - first + position, *entry_limit(drive)) for position in positions]
    return places, []


def _width(drive: Part) -> int | None:
    """The width of the drive's belt, nm; None where its ribs or their profile are not known."""
    ribs, profile = drive.attributes.get("ribs"), drive.attributes.get("profile")
    return belt_width(str(profile), ribs) if isinstance(ribs, int) and profile is not None else None


def _no_room(drive: Part, suited: list[Band], facts: Facts) -> Check:
    """Why none of these bands takes the whole belt."""
    grooves = max(band.grooves for band in suited)
    if grooves:
        return _belt("fails", "too_few_grooves", {**facts, "grooves": grooves})
    return _belt("fails", "too_narrow", {**facts, "width": _width(drive), "room": max(band.width for band in suited)})


def _belt(verdict: CheckVerdict, reason: str, facts: Facts) -> Check:
    return Check("belt", verdict, reason, facts, rests_on=(RIB_PITCH_STANDARD,))


def belt_plane_tests(
    drive: Part, pump: Part, pulley: Part | None, offer: Running
) -> tuple[tuple[AxialTest, ...], list[Missing]]:
    """One test a place where the belt can run, of which the best decides; none, and what is lacking, where it is."""
    rest = [(pump, "belt_plane")] if pulley is None else [(pump, "hub_face"), (pulley, "offset")]
    missing = [*missing_measures((drive, "belt_plane"), *rest), *offer.unplaced]
    if missing or not offer.places:
        return (), missing
    base = Sum.of(drive.measures["belt_plane"])
    for part, name in rest:
        base -= Sum.of(part.measures[name])
    based_on = (*(rests(part, name) for part, name in ((drive, "belt_plane"), *rest)), *_limit_rests(drive))
    facts = {"drive": drive.name, "pump": pump.name, **_span_facts(drive), "smooth": _smooth(drive)}
    return tuple(_at_place("belt_plane", "belt_offset", base, -1, place, facts, based_on) for place in offer.places), []


def _at_place(
    code: Code, reason: str, base: Sum, towards: int, place: Place, facts: Facts, based_on: tuple[RestsOn, ...]
) -> AxialTest:
    """The test of one place where the belt can run."""
    return AxialTest(
        code,
        reason,
        base - place.shift,
        towards,
        place.limit,
        facts=facts,
        rests_on=based_on,
        limit_doubt=place.limit_doubt,
    )


def crank_check(question: Question, drive: Part, crank: Part) -> Check:
    """Whether the asker's crank pulley puts the belt in the plane that the drive's brackets expect."""
    engine = question.slots["engine"]
    offer = running(question, _ribbed(drive), crank)
    if offer.check.verdict == "fails":
        return msgspec.structs.replace(offer.check, code="crank")
    measured = missing_measures((drive, "belt_plane"), (engine, "crank_face"), (crank, "offset"))
    missing = [*offer.missing, *offer.unplaced, *measured]
    found = None if measured or not offer.places else _crank_test(engine, drive, crank, offer.places)
    if found is not None and (found.verdict == "fails" or not missing):
        return found
    return not_known(question.stated, "crank", missing, about={"drive": drive.name, "crank": crank.name})


def _crank_test(engine: Part, drive: Part, crank: Part, places: tuple[Place, ...]) -> Check:
    """Whether the belt runs in the drive's plane on the best of these places."""
    base = Sum.of(drive.measures["belt_plane"])
    base -= Sum.of(engine.measures["crank_face"]) + Sum.of(crank.measures["offset"])
    measured = (rests(drive, "belt_plane"), rests(engine, "crank_face"), rests(crank, "offset"))
    based_on = (*measured, *_limit_rests(_ribbed(drive)))
    facts = {"drive": drive.name, "crank": crank.name, **_span_facts(drive)}
    tests = [_at_place("crank", "crank_offset", base, 0, place, facts, based_on) for place in places]
    return best_of(tests, base).check(base)


def _ribbed(drive: Part) -> Part:
    """The drive as its crank pulley meets it: whatever side runs on the pump, the ribs run on the crank."""
    return msgspec.structs.replace(drive, attributes={**drive.attributes, "belt_side": "ribbed"})


def best_of(tests: "list[AxialTest] | tuple[AxialTest, ...]", z: Sum) -> AxialTest:
    """The test with the largest margin; the first of equals."""
    return max(tests, key=lambda test: test.margin(z))


def rotation_check(question: Question, drive: Part, pump: Part) -> Check:
    """Whether the pump turns the way in which this belt turns it."""
    wanted, turns = drive.attributes.get("rotation"), pump.attributes.get("rotation")
    facts = {"drive": drive.name, "pump": pump.name, "wanted": wanted, "turns": turns}
    missing = missing_attributes((pump, "rotation"), (drive, "rotation"))
    if missing:
        return not_known(question.stated, "rotation", missing, about=facts)
    if wanted == turns:
        return Check("rotation", "ok", "turns_right", facts)
    return Check("rotation", "fails", "turns_wrong", facts)


def carried_tests(
    graph: ConstraintGraph, question: Question, drive: Part, pump: Part
) -> tuple[list[AxialTest], list[Check]]:
    """Parts of the drive that bolt to the pump move with it: a test for each, or a check where there is none."""
    stated = question.stated
    if not drive.ports:
        return [], [not_known(stated, "carried_parts", [(drive, "ports.carried")], about={"pump": pump.name})]
    carried = [port for port in drive.ports if port.role == "carried"]
    if not carried:
        return [], [Check("carried_parts", "ok", "carries_nothing", {"pump": pump.name})]
    tests: list[AxialTest] = []
    checks: list[Check] = []
    for port in carried:
        facts = {"drive": drive.name, "pump": pump.name, "carried": port.name, **_span_facts(drive)}
        if leaves_out(question, pump, "carrier"):
            checks.append(not_known(stated, "carried_parts", [(pump, "ports.carrier")], port.name, facts))
            continue
        if not _carrier(graph, pump, port):
            checks.append(Check("carried_parts", "fails", "no_carrier", facts, zone=port.name))
            continue
        wanted = (_named(pump, "carrier_face", port.name), _named(drive, "carried_offset", port.name))
        measures = ((drive, "belt_plane"), (pump, wanted[0]), (drive, wanted[1]))
        missing = missing_measures(*measures)
        if missing:
            checks.append(not_known(stated, "carried_parts", missing, port.name, facts))
            continue
        base = Sum.of(drive.measures["belt_plane"])
        base -= Sum.of(pump.measures[wanted[0]]) + Sum.of(drive.measures[wanted[1]])
        based_on = (*(rests(part, name) for part, name in measures), *_limit_rests(_ribbed(drive)))
        limit, doubt = entry_limit(drive)
        tests.append(
            AxialTest(
                "carried_parts",
                "carried_offset",
                base,
                -1,
                limit,
                zone=port.name,
                facts=facts,
                rests_on=based_on,
                limit_doubt=doubt,
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


def _span(drive: Part) -> Sum:
    """The shortest span beside the pump; a stated default, taken as it is, where the drive does not say."""
    span = drive.measures.get("shortest_span")
    return Sum.of((DEFAULT_SPAN, DEFAULT_SPAN) if span is None else span)


def _span_facts(drive: Part) -> dict[str, object]:
    """The span over which the belt may run out of line, and whether that is the drive's own or the stated default."""
    own = {} if "shortest_span" in drive.measures else {"span_taken": True}
    return {"span": _span(drive).middle, **own}


def _limit_rests(drive: Part) -> tuple[RestsOn, ...]:
    """What the limit of a ribbed pulley rests on; that of a smooth surface follows from its own width."""
    if _smooth(drive):
        return ()
    return (*((rests(drive, "shortest_span"),) if "shortest_span" in drive.measures else ()), ALIGNMENT)


def _smooth(drive: Part) -> bool:
    return drive.attributes.get("belt_side") == "smooth"
