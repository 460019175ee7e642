"""The check that a part of an option is the part that the asker has: no reading of it is challenged."""

from collections.abc import Iterable

from catalog.domain import Part
from service.fit.answer import Challenged, Check
from service.fit.circuit import Piece, pieces_parts
from service.fit.paths import Seat
from service.fit.question import Question


def challenges(question: Question, parts: Iterable[Part | None]) -> list[Check]:
    """A check for each challenged reading of these parts, each once."""
    if not question.challenged:
        return []
    present = {part.number for part in parts if part is not None}
    return [_check(each) for each in question.challenged if each.part in present]


def _check(each: Challenged) -> Check:
    facts = {"name": each.name, "part": each.part, "measure": each.measure, "read": each.read, "has": each.known}
    zone = f"{each.part}.{each.measure}"
    return Check("reading", "measure_first", "reading_contradicts", facts, rests_on=(each.rests_on,), zone=zone)


def under(seat: Seat) -> list[Part | None]:
    """What lies between block and pump."""
    return [*seat.plates, *(joint.gasket for joint in seat.joints)]


def in_question(question: Question, piece: Piece) -> bool:
    """Whether a piece of a line takes a part of which a reading is challenged."""
    return bool(question.challenged) and bool(challenges(question, [part for part, _ in pieces_parts(piece)]))
