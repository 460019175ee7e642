"""What an answer tells once at its top, gathered from its options and from what is ruled out."""

from collections.abc import Callable, Iterable, Sequence
from typing import Final, TypeVar

import msgspec
from msgspec import UNSET

from catalog.domain import Part
from service.fit.answer import Check, Option, Remedy, RuledOut
from service.fit.assessor import PLACE
from service.fit.build import Build
from service.fit.cautions import CAUTIONS, NOTES, always, notes_of_part, of_build, of_part
from service.fit.graph import ConstraintGraph
from service.fit.question import SLOTS, Question
from service.fit.told import Caution, Lack, Note, NotKnown, Told
from service.fit.unknown import reading_of

MOST_NOT_KNOWN: Final = 50
"""Facts that are not known told one by one; the total counts them all."""
MOST_CALLING: Final = 20
"""Parts named beside a caution or a note."""
ASKING: Final = ("accessory_drive", "front_cover", "crank_pulley", "radiator", "heater", "fan", "core_distance")
"""Fields that ask for checks, so that what is left out of them is told."""
_FIELDS: Final = (*SLOTS, "radiator_ports", "core_distance")
Entry = TypeVar("Entry", Caution, Note)


def not_checked(build: Build) -> tuple[str, ...]:
    """The fields that would have asked for checks and were left out, or say too little to check them."""
    ports = build.radiator_ports
    given = {field for field in ASKING if getattr(build, field) is not UNSET}
    if ports is not UNSET:
        given.add("radiator")
    found = [field for field in ASKING if field not in given or _is_open(build, field)]
    sided = ports is UNSET or (ports.upper.side is not UNSET and ports.lower.side is not UNSET)
    return tuple(found if sided else [*found, "radiator_ports"])


def _is_open(build: Build, field: str) -> bool:
    """Whether a field is given by a word that leaves a check open: nobody knows how deep such a fan is."""
    return field == "fan" and build.fan == "electric"


def told_of(
    graph: ConstraintGraph,
    question: Question,
    options: Sequence[Option],
    ruled_out: Sequence[RuledOut],
    remedies: Sequence[Remedy],
) -> Told:
    """What is told once of an answer with these options; where there are none, of what is ruled out.

    The options that remedies would give bear codes, so that what these mean is told as well.
    """
    checked: list[Iterable[Check]] = [option.checks for option in options]
    if not options:
        checked += [[miss.check] for miss in ruled_out]
    warned = [*options, *(remedy.best for remedy in remedies)]
    lacks = not_known(checked, lambda number: part_of(graph, question, number))
    return Told(
        not_checked=not_checked(question.build),
        not_known=lacks[:MOST_NOT_KNOWN],
        not_known_total=len(lacks),
        cautions=merged_cautions(option.cautions for option in warned),
        notes=merged_notes([*(option.notes for option in warned), nobody_states(checked)]),
    )


def told_of_parts(
    graph: ConstraintGraph,
    question: Question,
    suiting: Sequence[Part],
    unchecked: Sequence[Iterable[Check]],
) -> Told:
    """What is told once of parts held against a build: what those that suit call for, and what was not checked."""
    lacks = not_known(unchecked, lambda said: part_of(graph, question, said))
    general = [*always(), *of_build(question)] if suiting else []
    return Told(
        not_checked=not_checked(question.build),
        not_known=lacks[:MOST_NOT_KNOWN],
        not_known_total=len(lacks),
        cautions=merged_cautions([general, *map(of_part, suiting)]),
        notes=merged_notes([*map(notes_of_part, suiting), nobody_states(unchecked)]),
    )


def together(each: Sequence[Told]) -> Told:
    """What several answers tell, each thing once: what any does not check, and the facts in the order of the answers.

    Of a fact that several lack, all that it leaves open, and the most options that it touches in one of them.
    """
    lacks: dict[tuple[str, str], NotKnown] = {}
    for lack in (lack for told in each for lack in told.not_known):
        key = (lack.lack.part, lack.lack.fact)
        known = lacks.setdefault(key, lack)
        opened = sorted({*known.leaves_open, *lack.leaves_open}, key=lambda each: (_place(each[0]), each[1]))
        most = max(known.options, lack.options)
        lacks[key] = msgspec.structs.replace(known, leaves_open=tuple(opened), options=most)
    total = max([len(lacks), *(told.not_known_total for told in each)])
    return Told(
        not_checked=tuple(dict.fromkeys(field for told in each for field in told.not_checked)),
        not_known=tuple(lacks.values())[:MOST_NOT_KNOWN],
        not_known_total=total,
        cautions=merged_cautions(told.cautions for told in each),
        notes=merged_notes(told.notes for told in each),
    )


def not_known(checked: Iterable[Iterable[Check]], part: Callable[[str], Part | None]) -> tuple[NotKnown, ...]:
    """The facts that checks lack, each once, what decides most first.

    That is what touches most options, then what opens most checks, then what opens the check that is told first, but
    for the face; equals stand in the order of the build's fields.
    `checked` has the checks of each option, or of each pump that is ruled out.
    """
    lacks: dict[tuple[str, str], Lack] = {}
    opened: dict[tuple[str, str], set[tuple[str, str]]] = {}
    touched: dict[tuple[str, str], int] = {}
    for checks in checked:
        own: set[tuple[str, str]] = set()
        for check in checks:
            for lack in check.facts["lacks"] if check.reason == "not_known" else ():
                key = (lack.part, lack.fact)
                lacks.setdefault(key, lack)
                opened.setdefault(key, set()).add((check.code, check.zone))
                own.add(key)
        for key in own:
            touched[key] = touched.get(key, 0) + 1

    def decides(key: tuple[str, str]) -> tuple[int, int, tuple[bool, int], int, tuple[str, str]]:
        field = lacks[key].field
        # What the asker's own parts bolt to is the same under every pump, so that it tells none from another.
        first = min((code == "face", _place(code)) for code, _ in opened[key])
        own = _FIELDS.index(field) if field in _FIELDS else len(_FIELDS)
        return -touched[key], -len(opened[key]), first, own, key

    return tuple(
        NotKnown(
            lack=lacks[key],
            leaves_open=tuple(sorted(opened[key], key=lambda each: (_place(each[0]), each[1]))),
            options=touched[key],
            reading=None if (of := part(lacks[key].part)) is None else reading_of(of, lacks[key].fact),
        )
        for key in sorted(lacks, key=decides)
    )


def nobody_states(checked: Iterable[Iterable[Check]]) -> list[Note]:
    """A note for each check whose facts no part of that kind in the release states, in the order of checks."""
    found = {check.code for checks in checked for check in checks if check.reason == "nobody_states"}
    return [Note("nobody_states", check=code) for code in sorted(found, key=_place)]


def _place(code: str) -> int:
    return {str(code): place for code, place in PLACE.items()}[code]


def part_of(graph: ConstraintGraph, question: Question, said: str) -> Part | None:
    """The part that a lack names: one of the build by number or, where it is described, by name; else the release's."""
    for part in question.slots.values():
        if said in (part.number, part.name):
            return part
    return graph.snapshot.parts.get(said)


def merged_cautions(each: Iterable[Iterable[Caution]]) -> tuple[Caution, ...]:
    """Cautions of several, once each with all parts that call for it, the most serious first."""
    found = _merged(each)
    return tuple(sorted(found, key=lambda caution: CAUTIONS.index(caution.code)))


def merged_notes(each: Iterable[Iterable[Note]]) -> tuple[Note, ...]:
    """Notes of several, once each with all parts that call for it; of pieces the most that any of them wants."""
    listed = [list(notes) for notes in each]
    most: dict[str, int] = {}
    for note in (note for notes in listed for note in notes if note.count is not None):
        most[note.code] = max(most.get(note.code, 0), note.count or 0)
    found = _merged([msgspec.structs.replace(note, count=most.get(note.code)) for note in notes] for notes in listed)
    return tuple(sorted(found, key=lambda note: NOTES.index(note.code)))


def _merged(each: Iterable[Iterable[Entry]]) -> list[Entry]:
    found: dict[object, Entry] = {}
    parts: dict[object, dict[str, None]] = {}
    for entries in each:
        for entry in entries:
            key = _key(entry)
            if key not in found:
                found[key], parts[key] = entry, dict.fromkeys(entry.parts)
            elif entry.parts:
                parts[key].update(dict.fromkeys(entry.parts))
    return [
        msgspec.structs.replace(entry, parts=tuple(list(parts[key])[:MOST_CALLING])) for key, entry in found.items()
    ]


def _key(entry: Caution | Note) -> object:
    """What makes two the same thing to say."""
    about = entry.check if isinstance(entry, Note) else ""
    return (entry.code, about, *sorted(entry.facts.items())) if entry.facts or about else entry.code
