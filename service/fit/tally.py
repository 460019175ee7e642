"""What a list comes to, reckoned from what is taken without making its lines."""

from collections.abc import Iterable
from typing import Final, NamedTuple

from catalog.domain import Part, Port
from catalog.vocabulary import WORK
from service.fit.answer import OpenPort
from service.fit.bill import Bill
from service.fit.graph import ConstraintGraph, is_kit
from service.fit.question import Question

_WORK: Final = {name: place for place, name in enumerate(WORK)}


class Take(NamedTuple):
    """A part with how many pieces one use of it takes."""

    part: Part
    quantity: int
    of_block: bool = True
    """False where a kit holds another joint than the block's."""


def work_of(part: Part) -> int:
    """The step of fitting a part, by its place in the order of work."""
    return _WORK[str(part.attributes["work"])] if "work" in part.attributes else 0


def least_work(graph: ConstraintGraph, port: Port) -> int:
    """What connecting an open port takes at least: the lightest of all that meets it; nothing where nothing does."""
    end = (port.connection, port.end)
    if end not in graph.least_work:
        graph.least_work[end] = min((work_of(part) for part, _ in graph.meeting(port)), default=0)
    return graph.least_work[end]


def work_of_open(ports: Iterable[OpenPort]) -> int:
    """The hardest step that open ports will take in any case."""
    return max((_WORK[port.work] for port in ports), default=0)


def tally(question: Question, takes: Iterable[Take]) -> tuple[int, Bill]:
    """The hardest work and the bill of all that is taken, as its lines would have them.

    Parts that the build describes are the asker's own. Quantities add up, but for a kit, whose bolts for the block
    and for other joints come together.
    """
    totals: dict[str, tuple[Part, int]] = {}
    kits: dict[str, tuple[int, int]] = {}
    for part, quantity, of_block in takes:
        number = part.number
        if is_kit(part):
            block, other = kits.get(number, (0, 0))
            kits[number] = block, other = (block + quantity, other) if of_block else (block, other + quantity)
            totals[number] = part, max(block, other)
        else:
            known = totals.get(number)
            totals[number] = part, quantity + (0 if known is None else known[1])
    work = 0
    for part, _ in totals.values():
        if part.number not in question.described:
            work = max(work, work_of(part))
    return work, bill_of(question, totals.values())


def bill_of(question: Question, parts: Iterable[tuple[Part, int]]) -> Bill:
    """The bill of parts, each with how many it takes."""
    unpriced = known = pieces = 0
    for part, quantity in parts:
        if part.number in question.described:
            continue
        buy = max(0, quantity - question.have.get(part.number, 0))
        pieces += quantity
        if part.price is None:
            unpriced += buy
        else:
            known += buy * part.price.amount
    return Bill(unpriced, known, pieces)
