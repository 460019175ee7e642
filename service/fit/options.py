"""One option assessed: a mounting on a seat, its checks, its parts list and its price."""

from collections.abc import Iterator
from typing import Final

import msgspec
from msgspec import UNSET

from catalog.domain import Part, Price
from catalog.standards.belts import LEAST_DIAMETER_PK
from catalog.vocabulary import WORK
from service.fit.answer import (
    Caution,
    Check,
    CheckVerdict,
    Facts,
    Layer,
    ListedPart,
    RestsOn,
)
from service.fit.axis import relative_margin
from service.fit.belt import rests
from service.fit.bolts import Bolted, bolt_group, clamped_groups
from service.fit.graph import ConstraintGraph
from service.fit.mounting import Mounting
from service.fit.paths import Seat
from service.fit.question import Question
from service.fit.rules import rule_on, settle
from service.fit.stack import NOTHING, Sum

SMALL_PULLEY: Final = "small_pulley"
ORDER: Final = (
    # The order in which checks are told, and in which the first failing one is named.
    "face",
    "without",
    "hub",
    "belt",
    "rotation",
    "belt_plane",
    "cover",
    "carried_parts",
    "crank",
    "bolts",
    "rule",
    "outlet_side",
    "outlet_direction",
    "work",
    "price",
)
_PLACE: Final = {code: place for place, code in enumerate(ORDER)}


class Assessed(msgspec.Struct, frozen=True):
    """A mounting on a seat with every check made."""

    mounting: Mounting
    seat: Seat
    checks: tuple[Check, ...]
    lines: tuple[ListedPart, ...]
    bolted: tuple[Bolted, ...]
    work: str
    price: Price | None
    """What must be bought costs this; None where a part to buy has no price."""

    @property
    def verdict(self) -> CheckVerdict:
        """`fails` where any check does, else `measure_first` where any asks for it, else `ok`."""
        found = {check.verdict for check in self.checks}
        return "fails" if "fails" in found else "measure_first" if "measure_first" in found else "ok"

    @property
    def least_margin(self) -> Check | None:
        """The check with the least relative margin, settled ones aside; None where no check has numbers."""
        known = [
            (margin, check)
            for check in self.checks
            if check.reason != "tested_fit" and (margin := relative_margin(check)) is not None
        ]
        return min(known, key=lambda pair: pair[0])[1] if known else None


def assess(graph: ConstraintGraph, question: Question, mounting: Mounting, seat: Seat) -> Assessed:
    """Make every check of a mounting on a seat."""
    bolted = tuple(
        bolt_group(graph, question, group, place)
        for place, group in enumerate(clamped_groups(question, seat, mounting.pump))
    )
    own = own_parts(mounting, seat, bolted)
    present = {part.number: part for part in question.slots.values() if part.kind not in ("water_pump", "pulley")}
    present |= {part.number: part for part, *_ in own}
    present[mounting.pump.number] = mounting.pump
    plates = seat.key
    ruling = rule_on(graph, question, present, plates)
    required = [(part, "required", 1, "required", {"by": rule.part}) for part, rule in ruling.brought]
    lines = _lines(question, [*own, *required])
    along = _along(seat)
    checks = [*mounting.static, *(_resting(check, along) for check in mounting.axial_checks(seat.flange))]
    checks = [*checks, *(group.check for group in bolted), ruling.check]
    checks = settle(graph, question, checks, present, plates, mounting.pulley)
    work = _hardest(graph, lines)
    price = _buy_price(graph, lines)
    checks += _limits(question, work, price)
    checks.sort(key=lambda check: (_PLACE[check.code], check.zone))
    return Assessed(mounting, seat, tuple(checks), lines, bolted, work, price)


def _along(seat: Seat) -> tuple[RestsOn, ...]:
    return tuple(dict.fromkeys(rests(piece, "thickness") for piece in _pieces(seat)))


def _pieces(seat: Seat) -> Iterator[Part]:
    """What takes room along the axis, from the block outward; an O-ring takes none."""
    for place, joint in enumerate(seat.joints):
        if joint.gasket is not None and joint.connection.seal == "gasket":
            yield joint.gasket
        if place < len(seat.plates):
            yield seat.plates[place]


def _resting(check: Check, along: tuple[RestsOn, ...]) -> Check:
    return msgspec.structs.replace(check, rests_on=(*check.rests_on, *along))


_Own = tuple[Part, str, int, str, Facts]


def own_parts(mounting: Mounting, seat: Seat, bolted: tuple[Bolted, ...]) -> list[_Own]:
    """What the option itself is made of, in the order in which it goes on: part, role, pieces, why."""
    own: list[_Own] = []
    for place, joint in enumerate(seat.joints):
        pieces = joint.connection.pieces_per_layer
        if joint.gasket is not None:
            facts = {"connection": joint.connection.title, "pieces": pieces}
            own.append((joint.gasket, "gasket", pieces, "seals", facts))
        if place < len(seat.plates):
            plate = seat.plates[place]
            facts = {"thickness": plate.measures["thickness"].nominal, "pieces": pieces}
            own.append((plate, "plate", pieces, "adapts" if plate.kind == "adapter_plate" else "moves_out", facts))
    own.append((mounting.pump, "pump", 1, "pump", {}))
    own += [
        (group.fasteners, "bolts", group.quantity, "clamps", group.check.facts)
        for group in bolted
        if group.fasteners is not None
    ]
    if mounting.pulley is not None:
        own.append((mounting.pulley, "pulley", 1, "takes_belt", {"pump": mounting.pump.name}))
    return own


def _lines(question: Question, own: list[_Own]) -> tuple[ListedPart, ...]:
    """One line a part number, quantities added up; parts that the build describes are the asker's own."""
    lines: dict[str, ListedPart] = {}
    for part, role, quantity, why, facts in own:
        if part.number in question.described:
            continue
        known = lines.get(part.number)
        total = quantity + (0 if known is None else known.quantity)
        at_hand = min(total, question.have.get(part.number, 0))
        if known is not None:
            lines[part.number] = msgspec.structs.replace(known, quantity=total, at_hand=at_hand)
        else:
            lines[part.number] = ListedPart(
                part.number, part.name, part.kind, role, total, at_hand, part.price, why, facts
            )
    return tuple(lines.values())


def _hardest(graph: ConstraintGraph, lines: tuple[ListedPart, ...]) -> str:
    works = [str(graph.snapshot.parts[line.part].attributes.get("work", WORK[0])) for line in lines]
    return max(works, key=WORK.index, default=WORK[0])


def _buy_price(graph: ConstraintGraph, lines: tuple[ListedPart, ...]) -> Price | None:
    total = 0
    for line in lines:
        buy = line.quantity - line.at_hand
        if buy and line.price is None:
            return None
        total += buy * (line.price.amount if line.price is not None else 0)
    return Price(total, graph.snapshot.currency)


def _limits(question: Question, work: str, price: Price | None) -> list[Check]:
    """The asker's own limits on the whole option."""
    must, checks = question.build.must, []
    if must.work_at_most is not UNSET:
        good = WORK.index(work) <= WORK.index(must.work_at_most)
        checks.append(Check("work", "ok" if good else "fails", "work", {"work": work, "limit": must.work_at_most}))
    if question.price_at_most is not None:
        limit = question.price_at_most
        good = price is not None and price.amount <= limit
        currency = price.currency if price is not None else ""
        facts: Facts = {"price": None if price is None else price.amount, "limit": limit, "currency": currency}
        reason = "no_price" if price is None else "price"
        checks.append(Check("price", "ok" if good else "fails", reason, facts))
    return checks


def stack(assessed: Assessed) -> tuple[Layer, ...]:
    """The pieces from the block outward with the pump last, every part at its middle."""
    layers, at = [], NOTHING
    for piece in _pieces(assessed.seat):
        to = at + Sum.of(piece.measures["thickness"])
        layers.append(Layer(piece.number, at.middle, to.middle))
        at = to
    flange = assessed.mounting.pump.measures.get("flange_thickness")
    end = at if flange is None else at + Sum.of(flange)
    return (*layers, Layer(assessed.mounting.pump.number, at.middle, end.middle))


def cautions(assessed: Assessed) -> tuple[Caution, ...]:
    """The dangers that go with the option's parts."""
    found = [Caution("hot_coolant"), Caution("belt_and_fan")]
    if assessed.bolted:
        found.append(Caution("torque"))
    wet = [group.check.facts["holder"] for group in assessed.bolted if group.holder.attributes.get("wet_holes") is True]
    found += [Caution("sealant", {"holder": holder}) for holder in wet]
    pulley = assessed.mounting.pulley or assessed.mounting.pump
    diameter = pulley.measures.get("diameter")
    if diameter is not None and small_pulley(pulley, diameter.nominal):
        found.append(Caution(SMALL_PULLEY, {"pulley": pulley.name, "diameter": diameter.nominal}))
    return (*found, Caution("glycol"), Caution("last_word"))


def small_pulley(pulley: Part, diameter: int) -> bool:
    """Whether a PK pulley is smaller than ISO 9981 recommends."""
    return pulley.attributes.get("profile") == "PK" and diameter < LEAST_DIAMETER_PK
