"""The reference sheet of a kind: every part with its readings, its cues, and what a pump serves bolted straight on.

Straight on is on the block with the gasket that the joint takes, and no plate.
"""

from collections.abc import Mapping, Sequence
from typing import Literal

import msgspec

from catalog.domain import Kind, Part, Port
from service.fit.belt import belt_plane_tests, best_of, carried_tests, rotation_check, running
from service.fit.build import Build
from service.fit.cover import AIR_GAP, cover_tests
from service.fit.graph import ConstraintGraph
from service.fit.paths import make_joint
from service.fit.question import Question, resolve
from service.fit.stack import Sum
from service.identify.meets import excluded


class Served(msgspec.Struct, frozen=True):
    """A drive in whose plane the pump's pulley runs, and whether that is sure."""

    drive: str
    plane: int
    """Of the belt, nm from the block's pump face."""
    verdict: Literal["ok", "measure_first"]


class Row(msgspec.Struct, frozen=True):
    """What the sheet says of one part; lengths in nm."""

    part: Part
    replaced_by: str | None
    housing: str | None
    """Title of the thermostat housing's face that the part has."""
    readings: Mapping[str, int]
    cues: Mapping[str, str]
    planes_served: tuple[Served, ...]
    tallest_cover: int | None
    """Height of the tallest cover that clears its middle."""
    covers: tuple[str, ...]
    """Covers that clear it in every zone."""


class Sheet(msgspec.Struct, frozen=True):
    """The table that a shop pins to the wall."""

    kind: Kind
    rows: tuple[Row, ...]
    readings: tuple[str, ...]
    """Every measure that some part of the kind states, in order."""
    cues: tuple[tuple[str, str], ...]
    """Every cue that some part of the kind has, with its question, in order."""


def sheet(graph: ConstraintGraph, kind: Kind) -> Sheet:
    """The sheet of a kind: every part of it in order of part number, retired ones too."""
    parts = graph.of_kind(kind)
    questions = {cue.name: cue.question for part in parts for cue in part.cues}
    return Sheet(
        kind=kind,
        rows=tuple(_row(graph, part) for part in parts),
        readings=tuple(sorted({name for part in parts for name in part.measures})),
        cues=tuple(sorted(questions.items())),
    )


def _row(graph: ConstraintGraph, part: Part) -> Row:
    seats = _seats(graph, part) if part.kind in ("water_pump", "outlet_plate") else []
    rule = next((rule for rule in graph.rules_of(part.number) if rule.kind == "replaced_by"), None)
    return Row(
        part=part,
        replaced_by=rule.others[0] if rule else None,
        housing=_housing(graph, part),
        readings={name: measure.nominal for name, measure in sorted(part.measures.items())},
        cues={cue.name: cue.answer for cue in sorted(part.cues, key=lambda cue: cue.name)},
        planes_served=_planes(graph, part, seats) if part.kind == "water_pump" else (),
        tallest_cover=_tallest(part, seats),
        covers=_covers(graph, part, seats),
    )


def _housing(graph: ConstraintGraph, part: Part) -> str | None:
    role = {"water_pump": "housing", "thermostat_housing": "mount"}.get(part.kind)
    port = next((port for port in part.ports if port.role == role), None)
    return None if port is None else graph.connection(port.connection).title


Seated = tuple[Question, Part, Sum]
"""An engine as a question of its own, the engine, and where the part's flange sits on it."""


def _seats(graph: ConstraintGraph, part: Part) -> list[Seated]:
    found: list[Seated] = []
    for mount in part.ports:
        if mount.role != "mount":
            continue
        for engine, face in graph.meeting(mount):
            if engine.kind == "engine":
                question = resolve(graph.snapshot, Build(engine=engine.number))
                joint = make_joint(graph, question, face, mount)
                if joint is not None:
                    found.append((question, engine, joint.thickness))
    return found


def _of_engine(graph: ConstraintGraph, engine: Part, role: str, kind: Kind) -> list[Part]:
    """Parts of a kind that meet a port of this role of the engine."""
    ports: Sequence[Port] = [port for port in engine.ports if port.role == role]
    return [part for port in ports for part, _ in graph.meeting(port) if part.kind == kind]


def _planes(graph: ConstraintGraph, pump: Part, seats: Sequence[Seated]) -> tuple[Served, ...]:
    found: dict[str, Served] = {}
    barred = excluded(graph, pump.number)
    for question, engine, flange in seats:
        for drive in _of_engine(graph, engine, "drive_face", "accessory_drive"):
            verdict = None if drive.number in barred else _serves(graph, question, drive, pump, flange)
            if verdict is not None:
                served = Served(drive.number, drive.measures["belt_plane"].nominal, verdict)
                found.setdefault(drive.number, served)
    return tuple(sorted(found.values(), key=lambda served: (served.plane, served.drive)))


def _serves(
    graph: ConstraintGraph, question: Question, drive: Part, pump: Part, flange: Sum
) -> Literal["ok", "measure_first"] | None:
    """Whether the belt of the drive runs on the pump's own pulley; None where it does not."""
    offer = running(question, drive, pump)
    tests, _ = belt_plane_tests(drive, pump, None, offer)
    carried, checks = carried_tests(graph, question, drive, pump)
    verdicts = [
        offer.check.verdict,
        rotation_check(question, drive, pump).verdict,
        *(check.verdict for check in checks),
    ]
    verdicts += [test.verdict(flange) for test in carried]
    if not tests:
        return None
    verdicts.append(best_of(tests, flange).verdict(flange))
    if "fails" in verdicts:
        return None
    return "measure_first" if "measure_first" in verdicts else "ok"


def _tallest(part: Part, seats: Sequence[Seated]) -> int | None:
    room = part.measures.get("cover_room")
    if room is None or not seats:
        return None
    return min(room.low + flange.low - AIR_GAP for _, _, flange in seats)


def _covers(graph: ConstraintGraph, part: Part, seats: Sequence[Seated]) -> tuple[str, ...]:
    found: set[str] = set()
    for question, engine, flange in seats:
        for cover in _of_engine(graph, engine, "cover_face", "front_cover"):
            tests, checks = cover_tests(question, cover, part)
            verdicts = [*(test.verdict(flange) for test in tests), *(check.verdict for check in checks)]
            if all(verdict == "ok" for verdict in verdicts):
                found.add(cover.number)
    return tuple(sorted(found))
