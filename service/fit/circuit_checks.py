"""The checks of an option's circuits: that each line arrives, how wide it stays, its bolts, its fan, its thermostat."""

import msgspec

from catalog.domain import Part
from service.fit.answer import Check, Code, Facts
from service.fit.belt import rests
from service.fit.circuit import ON_BLOCK, Piece
from service.fit.gap import fan_checks
from service.fit.mounting import Mounting
from service.fit.options import along
from service.fit.paths import Seat
from service.fit.trees import Tree
from service.fit.unknown import not_known
from service.fit.whole import Settlement, Trees


def circuit_checks(settlement: Settlement, mounting: Mounting, seat: Seat, trees: Trees, groups: int) -> list[Check]:
    """Every check of the trees of an option; `groups` are the clamped groups before those of its circuits."""
    checks: list[Check] = []
    place, question = groups, settlement.question
    owed = settlement.obliged(mounting.pump, mounting.remote).obligations
    for obligation, (name, tree) in zip(owed, trees, strict=False):
        pieces = list(tree.pieces())
        checks += _of_lines(settlement, mounting, name, obligation.code, tree)
        for piece in pieces:
            if piece.bolt_check is not None:
                place += 1
                checks.append(_of_bolts(settlement, mounting.pump, piece.bolt_check, piece, str(place)))
        if name == "fan":
            parts = [piece.part for piece in pieces if piece.part is not None]
            checks += along(seat, fan_checks(question, mounting.pump, parts, seat.flange))
    if trees and settlement.asked.coolant:
        checks.append(_thermostat(settlement, mounting, trees))
    return checks


def _thermostat(settlement: Settlement, mounting: Mounting, trees: Trees) -> Check:
    """In which part the thermostat sits, separate or included."""
    parts = [piece.part for _, tree in trees for piece in tree.pieces() if piece.part is not None]
    holders = [part for part in parts if part.kind == "thermostat_housing"]
    has = any(part.kind == "thermostat" for part in parts)
    for part in (*holders, mounting.pump):
        if has or part.attributes.get("thermostat_included") is True:
            return Check("thermostat", "ok", "has_thermostat", {"part": part.name})
    return not_known(settlement.question.stated, "thermostat", [(mounting.pump, "thermostat_included")])


def _of_lines(settlement: Settlement, mounting: Mounting, name: str, code: Code, tree: Tree[Piece]) -> list[Check]:
    """That an obligation is met and by what; how narrow its lines are, and where the outlet points."""
    settled = _settled(name, code, mounting, list(tree.pieces()))
    lacks, checks = settlement.told_of_lines(tree, mounting.pump)
    if lacks:
        settled = Check(code, "measure_first", "not_known", {**settled.facts, "lacks": lacks}, zone=name)
    return [settled, *checks]


def _of_bolts(settlement: Settlement, pump: Part, check: Check, piece: Piece, zone: str) -> Check:
    """The check of a piece's bolts, resting on the very part whose holes hold them, not on one that is alike."""
    owner = settlement.graph.snapshot.parts.get(piece.spot.owner)
    if owner is None or owner.kind not in ON_BLOCK or owner.number == pump.number:
        return msgspec.structs.replace(check, zone=zone)
    own = [rests(pump, rest.measure) if rest.part == owner.number else rest for rest in check.rests_on]
    return msgspec.structs.replace(check, zone=zone, rests_on=tuple(own))


def _settled(name: str, code: Code, mounting: Mounting, pieces: list[Piece]) -> Check:
    """That an obligation is met, and by what."""
    on_the_way = [
        piece for piece in pieces if piece.spot.connection and piece.spot.goal not in ("closed", "thermostat")
    ]
    goal = on_the_way[0].spot.goal if on_the_way else "closed"
    parts = [piece.part.name for piece in on_the_way or pieces if piece.part is not None]
    crossing = next((piece.part.name for piece in pieces if piece.crosses and piece.part is not None), None)
    facts: Facts = {
        "pump": mounting.pump.name,
        "seat": mounting.pump.kind,
        "obligation": name,
        "parts": parts,
        "goal": goal,
        "crossing": crossing,
    }
    reason = "port_closed" if goal == "closed" else "line_arrives"
    return Check(code, "ok", reason, facts, zone=name)
