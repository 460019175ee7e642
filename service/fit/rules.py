"""Rules of the catalog between the parts of one option, and the checks that a tested fit settles."""

from collections.abc import Mapping, Sequence
from typing import Any

import msgspec
from msgspec import UNSET

from catalog.domain import PLATES, Part, Rule
from service.fit.answer import Check, RestsOn
from service.fit.graph import ConstraintGraph
from service.fit.question import SLOTS, Question

_SLOT_OF = {kind: slot for slot, kind in SLOTS.items()}
_ABOUT = {
    # The slots that each check is about; the separate pulley goes with the pump.
    "belt_plane": ("water_pump", "accessory_drive"),
    "belt": ("water_pump", "accessory_drive"),
    "rotation": ("water_pump", "accessory_drive"),
    "carried_parts": ("water_pump", "accessory_drive"),
    "cover": ("water_pump", "front_cover"),
    "crank": ("engine", "accessory_drive", "crank_pulley"),
}
_CHOSEN = {"water_pump", "remote_pump", "pulley", *PLATES}
"""Kinds of which an option takes what serves, where the build names none."""
_OF_THE_BELT = ("belt_plane", "belt", "rotation", "carried_parts")
_ALONG_THE_AXIS = ("belt_plane", "cover", "carried_parts")


class Ruling(msgspec.Struct, frozen=True):
    """What the rules say of an option: the rule check, and the parts that a rule brings in."""

    check: Check
    brought: tuple[tuple[Part, Rule], ...]


def rule_on(graph: ConstraintGraph, question: Question, present: Mapping[str, Part], plates: tuple[str, ...]) -> Ruling:
    """Follow the rules from every part present; `plates` is the option's multiset of plates, sorted."""
    parts, brought = dict(present), list[tuple[Part, Rule]]()
    waiting, met = sorted(parts), False
    while waiting:
        for rule in graph.rules_of(waiting.pop(0)):
            if rule.kind != "requires":
                continue
            met = True
            for number in rule.others:
                other = graph.snapshot.parts[number]
                if number in parts or _left_to_the_asker(question, other):
                    continue
                if not _can_be_brought(question, other):
                    return _broken(rule, parts[rule.part], other)
                parts[number] = other
                brought.append((other, rule))
                waiting.append(number)
    for number in sorted(parts):
        for rule in graph.rules_of(number):
            clash = _clash(graph, rule, parts, plates)
            if clash is not None:
                return _broken(rule, parts[rule.part], clash, _members(graph, rule))
    left = _left_out(graph, parts) if met else None
    return Ruling(left or Check("rule", "ok", "rules_met" if met else "no_rule_against"), tuple(brought))


def _left_out(graph: ConstraintGraph, parts: Mapping[str, Part]) -> Check | None:
    """That parts of the list need others of the car's own, of which the build says nothing; None where none does."""
    left = [
        (parts[number], graph.snapshot.parts[other], rule)
        for number in sorted(parts)
        for rule in graph.rules_of(number)
        if rule.kind == "requires"
        for other in rule.others
        if other not in parts
    ]
    if not left:
        return None
    needs = [{"part": part.name, "other": other.name, "field": _SLOT_OF[other.kind]} for part, other, _ in left]
    rests_on = tuple(RestsOn(rule=rule.name, source=rule.source) for *_, rule in left)
    return Check("rule", "not_asked", "requires_left_out", {"needs": needs}, rests_on=rests_on)


def against(graph: ConstraintGraph, question: Question, part: Part) -> Check | None:
    """What the rules say against a part beside the very parts that the build names; None where they say nothing.

    What an option may yet choose, such as a pump that the part needs, is not held against it.
    """
    if part.number not in graph.ruled:
        return None
    present = {each.number: each for each in (*question.slots.values(), question.part(part))}
    check = rule_on(graph, question, present, ()).check
    if check.verdict != "fails" or part.number not in check.facts["numbers"]:
        return None
    other = graph.snapshot.parts.get(check.facts["numbers"][1])
    slot = None if other is None else _SLOT_OF.get(other.kind, "")
    open_ = other is not None and other.kind in _CHOSEN and slot not in question.slots
    return None if check.reason == "requires" and open_ else check


def _clash(graph: ConstraintGraph, rule: Rule, parts: Mapping[str, Part], plates: tuple[str, ...]) -> Part | None:
    """The other part with which the parts present may not be; None where the rule holds."""
    if rule.kind == "excludes":
        return next((parts[number] for number in rule.others if number in parts), None)
    if rule.kind == "tested_no_fit" and holds_for(rule, graph, parts, plates):
        return graph.snapshot.parts[rule.others[0]]
    return None


def _members(graph: ConstraintGraph, rule: Rule) -> list[str]:
    """What was tried with a part that did not fit: the combination is all of it, so that all of it is told."""
    return [graph.snapshot.parts[number].name for number in rule.others] if rule.kind == "tested_no_fit" else []


def _broken(rule: Rule, part: Part, other: Part, others: Sequence[str] = ()) -> Ruling:
    facts: dict[str, Any] = {"part": part.name, "other": other.name, "source": rule.source}
    facts["numbers"] = (part.number, other.number)
    if others:
        facts["others"] = list(others)
    return Ruling(Check("rule", "fails", rule.kind, facts, rests_on=(RestsOn(rule=rule.name, source=rule.source),)), ())


def _left_to_the_asker(question: Question, other: Part) -> bool:
    """A required part of the car's own, such as its drive or its radiator, is asked for where the build says which."""
    slot = _SLOT_OF.get(other.kind)
    if slot is None or slot == "pump" or getattr(question.build, slot) is not UNSET:
        return False
    # A pulley is chosen with every option where there is a drive, and with none where there is not.
    return slot != "pulley" or question.build.accessory_drive is UNSET


def _can_be_brought(question: Question, other: Part) -> bool:
    """Whether the part can simply be added: it has no place of its own in the stack."""
    return other.kind not in {*SLOTS.values(), *PLATES} and question.allows(other)


def holds_for(rule: Rule, graph: ConstraintGraph, present: Mapping[str, Part], plates: tuple[str, ...]) -> bool:
    """Whether a tested combination is this very one: all its parts are there, and just its plates."""
    members = (rule.part, *rule.others)
    own = sorted(n for n in members if graph.snapshot.parts[n].kind in PLATES)
    return tuple(own) == plates and all(number in present for number in members)


def settle(
    graph: ConstraintGraph,
    question: Question,
    checks: list[Check],
    present: Mapping[str, Part],
    plates: tuple[str, ...],
    pulley: Part | None,
) -> list[Check]:
    """The checks, those that a tested fit of this very combination settles turned to ok."""
    fits = [
        rule
        for number in sorted(present)
        for rule in graph.rules_of(number)
        if rule.kind == "tested_fit" and holds_for(rule, graph, present, plates)
    ]
    return [_settled(question, check, fits, present, pulley) for check in checks] if fits else checks


def _settled(
    question: Question, check: Check, fits: list[Rule], present: Mapping[str, Part], pulley: Part | None
) -> Check:
    about = _about(check, present, pulley)
    along = {n for n, part in present.items() if part.kind in {*PLATES, "gasket"}}
    read = (about | along if check.code in _ALONG_THE_AXIS else about) & question.read
    if check.reason == "field_left_out" or read:
        return check
    for rule in fits:
        if check.code in rule.settles and about and about <= {rule.part, *rule.others}:
            rest = RestsOn(rule=rule.name, source=rule.source)
            return msgspec.structs.replace(
                check,
                verdict="ok",
                reason="tested_fit",
                facts={**check.facts, "source": rule.source, "reckoned": "" if check.value is None else check.reason},
                likelihood=None,
                rests_on=(rest, *check.rests_on),
            )
    return check


def _about(check: Check, present: Mapping[str, Part], pulley: Part | None) -> set[str]:
    kinds = _ABOUT.get(check.code, ())
    about = {number for number, part in present.items() if part.kind in kinds}
    with_pulley = about and pulley is not None and check.code in _OF_THE_BELT
    return about | {pulley.number} if with_pulley and pulley is not None else about
