"""The parts of an option as a shopping list: what each is for, how many, what is at hand, what it costs."""

from collections.abc import Iterator, Mapping

import msgspec

from catalog.domain import Part
from service.fit.answer import Facts, ListedPart
from service.fit.bill import Bill
from service.fit.bolts import Bolted
from service.fit.circuit import Piece
from service.fit.graph import is_kit
from service.fit.mounting import Mounting
from service.fit.paths import Seat
from service.fit.question import Question
from service.fit.tally import Take, work_of
from service.fit.whole import Settlement, Trees


class Use(msgspec.Struct, frozen=True):
    """One use of a part: its role, how many pieces it takes there, and why, by a stable code."""

    part: Part
    role: str
    quantity: int
    why: str
    facts: Facts = {}
    of_block: bool = True
    """False where a kit holds another joint than the block's."""


def stack_uses(mounting: Mounting, seat: Seat, bolted: tuple[Bolted, ...]) -> list[Use]:
    """From the block to the pump and its pulley, in the order in which they go on."""
    uses: list[Use] = []
    for place, joint in enumerate(seat.joints):
        pieces = joint.connection.pieces_per_layer
        if joint.gasket is not None:
            facts = {"connection": joint.connection.title, "pieces": pieces}
            uses.append(Use(joint.gasket, "gasket", pieces, "seals", facts))
        if place < len(seat.plates):
            plate = seat.plates[place]
            facts = {"thickness": plate.measures["thickness"].nominal, "pieces": pieces}
            uses.append(Use(plate, "plate", pieces, "adapts" if plate.kind == "adapter_plate" else "moves_out", facts))
    if mounting.remote is None:
        uses.append(Use(mounting.pump, "pump", 1, "pump"))
    else:
        uses.append(Use(mounting.pump, "plate", 1, "leads_out", {"pump": mounting.remote.name}))
    uses += [
        Use(group.fasteners, "bolts", group.quantity, "clamps", group.check.facts)
        for group in bolted
        if group.fasteners is not None
    ]
    if mounting.pulley is not None:
        uses.append(Use(mounting.pulley, "pulley", 1, "takes_belt", {"pump": mounting.pump.name}))
    return uses


def stack_takes(mounting: Mounting, seat: Seat) -> Iterator[Take]:
    """What these take but for the bolts, of a pump that the belt drives."""
    for place, joint in enumerate(seat.joints):
        for part in (joint.gasket, seat.plates[place] if place < len(seat.plates) else None):
            if part is not None:
                yield Take(part, joint.connection.pieces_per_layer)
    for part in (mounting.pump, mounting.pulley):
        if part is not None:
            yield Take(part, 1)


def extra_uses(settlement: Settlement, mounting: Mounting) -> list[Use]:
    """The belt that a drive takes without a pump, and a remote pump whose lines are the asker's own."""
    remote, drive = mounting.remote, settlement.question.slots.get("accessory_drive")
    if remote is None:
        return []
    extra = [] if settlement.asked.coolant else [Use(remote, "pump", 1, "pump")]
    belt = None if drive is None else drive.attributes.get("belt_without_pump")
    if drive is not None and belt is not None:
        extra.append(Use(settlement.graph.snapshot.parts[str(belt)], "belt", 1, "belt", {"drive": drive.name}))
    return extra


def extra_bill(settlement: Settlement, mounting: Mounting) -> tuple[int, Bill]:
    """The hardest work and the bill of these."""
    lines = lines_of(settlement.question, extra_uses(settlement, mounting))
    return hardest_work(settlement.graph.snapshot.parts, lines), cost_of(lines)


def circuit_uses(trees: Trees) -> Iterator[Use]:
    """The parts that settle each obligation, from the port to its end."""
    for name, tree in trees:
        first = {id(branch.piece) for branch in tree.branches}
        for piece in tree.pieces():
            yield from _piece_uses(name, piece, at_the_port=id(piece) in first)


def _piece_uses(name: str, piece: Piece, *, at_the_port: bool) -> Iterator[Use]:
    if piece.part is None:
        return
    if piece.gasket is not None:
        gasket, pieces = piece.gasket
        yield Use(gasket, "gasket", pieces, "seals_part", {"part": piece.part.name, "pieces": pieces})
    yield Use(
        piece.part,
        "pump" if piece.part.kind == "remote_pump" else name,
        1,
        _why(piece, at_the_port),
        {"obligation": name},
    )
    if piece.bolts is not None and piece.bolt_check is not None:
        bolts, quantity = piece.bolts
        yield Use(bolts, "bolts", quantity, "clamps", piece.bolt_check.facts, of_block=False)


def _why(piece: Piece, at_the_port: bool) -> str:
    assert piece.part is not None
    kind = piece.part.kind
    if kind in ("thermostat_housing", "thermostat", "remote_pump", "fan", "fan_adapter"):
        return kind
    if piece.spot.goal == "closed":
        return "closes_port" if at_the_port and piece.part.kind != "fitting" else "closes"
    return "crosses" if piece.crosses else "leads_on"


def lines_of(question: Question, uses: list[Use]) -> tuple[ListedPart, ...]:
    """One line a part number; parts that the build describes are the asker's own and are not listed.

    Quantities add up, but for a kit, whose bolts for the block and for other joints come together.
    """
    lines: dict[str, ListedPart] = {}
    counts: dict[str, dict[bool, int]] = {}
    for use in uses:
        part = use.part
        if part.number in question.described:
            continue
        count = counts.setdefault(part.number, {True: 0, False: 0})
        count[use.of_block] += use.quantity
        total = max(count.values()) if is_kit(part) else sum(count.values())
        at_hand = min(total, question.have.get(part.number, 0))
        known = lines.get(part.number)
        if known is not None:
            lines[part.number] = msgspec.structs.replace(known, quantity=total, at_hand=at_hand)
        else:
            lines[part.number] = ListedPart(
                part.number, part.name, part.kind, use.role, total, at_hand, part.price, use.why, use.facts
            )
    return tuple(lines.values())


def hardest_work(parts: Mapping[str, Part], lines: tuple[ListedPart, ...]) -> int:
    """The hardest step of fitting them, by its place in the order of work."""
    return max((work_of(parts[line.part]) for line in lines), default=0)


def cost_of(lines: tuple[ListedPart, ...]) -> Bill:
    """What the lines cost; a piece at hand costs nothing."""
    unpriced = known = 0
    for line in lines:
        buy = line.quantity - line.at_hand
        if line.price is None:
            unpriced += buy
        else:
            known += buy * line.price.amount
    return Bill(unpriced, known, sum(line.quantity for line in lines))
