"""One option, assessed: what it is made of, its checks, and what is told with it."""

from collections.abc import Iterable, Iterator
from fractions import Fraction

import msgspec

from catalog.domain import Part, Price
from catalog.vocabulary import WORK
from service.fit.answer import Check, CheckVerdict, Layer, ListedPart, Offer, OpenPort, RestsOn, worst
from service.fit.axis import relative_margin
from service.fit.belt import rests
from service.fit.bill import Bill
from service.fit.bolts import Bolted
from service.fit.graph import ConstraintGraph
from service.fit.kept import Derived
from service.fit.mounting import Mounting
from service.fit.obligations import open_port
from service.fit.paths import Seat
from service.fit.question import Question
from service.fit.stack import NOTHING, Sum
from service.fit.standing import Standing
from service.fit.whole import Trees


class Assessed(msgspec.Struct, frozen=True):
    """A mounting on a seat, with the trees that settle its obligations and every check made."""

    mounting: Mounting
    seat: Seat
    trees: Trees
    own: tuple[Check, ...]
    """Every check but for the asker's limits on the whole."""
    lines: tuple[ListedPart, ...]
    bolted: tuple[Bolted, ...]
    work: int
    bill: Bill
    price: Price | None
    """What must be bought costs this; None where a part to buy has no price."""
    relative_margin: Fraction | None
    least_margin: Check | None
    """The check with the least relative margin, and that margin; None where none of its own place has numbers."""
    verdict: CheckVerdict
    """The worst of its checks."""
    doubts: tuple[int, bool] = (0, False)
    """How many groups its own bolts are to be measured first in, and whether anything of its circuits is."""
    tested: bool = False
    """Whether a tested fit speaks of its plates with its pump, or with any."""
    limits: tuple[Check, ...] = ()
    """The asker's limits on the whole."""
    stands: Standing | None = None
    """Where it stands but for the limits, where it is kept for other questions."""
    derived: "Derived[Assessed] | None" = None
    """What follows from it but for the limits, where it is kept for other questions."""

    @property
    def checks(self) -> tuple[Check, ...]:
        """Every check, in the order in which they are told."""
        return (*self.own, *self.limits) if self.limits else self.own

    def limited(self, limits: tuple[Check, ...]) -> "Assessed":
        """The same held to these limits."""
        own = worst(check.verdict for check in self.own)
        return msgspec.structs.replace(self, limits=limits, verdict=worst([own, *(check.verdict for check in limits)]))

    @property
    def work_name(self) -> str:
        """The hardest step, by name."""
        return WORK[self.work]

    @property
    def plates(self) -> tuple[str, ...]:
        """The plates from the block outward; the outlet plate of a remote pump is the last of them."""
        order = self.seat.order
        return order if self.mounting.remote is None else (*order, self.mounting.pump.number)

    @property
    def plates_key(self) -> tuple[str, ...]:
        """The plates with their counts, whatever their order."""
        return tuple(sorted(self.plates))


def tightest(checks: Iterable[Check]) -> tuple[Fraction | None, Check | None]:
    """The least relative margin and its check; None where no check of the pump's own place has numbers."""
    known = [(margin, check) for check in checks if (margin := relative_margin(check)) is not None]
    return min(known, key=lambda pair: pair[0]) if known else (None, None)


def pieces_along(seat: Seat) -> Iterator[Part]:
    """What takes room along the axis, from the block outward; an O-ring takes none."""
    for place, joint in enumerate(seat.joints):
        if joint.gasket is not None and joint.connection.seal == "gasket":
            yield joint.gasket
        if place < len(seat.plates):
            yield seat.plates[place]


def rests_along(seat: Seat) -> tuple[RestsOn, ...]:
    """The thicknesses that a place along the axis rests on."""
    return tuple(dict.fromkeys(rests(piece, "thickness") for piece in pieces_along(seat)))


def along(seat: Seat, checks: list[Check]) -> list[Check]:
    """Checks of the pump's place, which rest on the thicknesses under it as well."""
    rests = rests_along(seat)
    return [
        check if check.value is None else msgspec.structs.replace(check, rests_on=(*check.rests_on, *rests))
        for check in checks
    ]


def stack(option: Assessed) -> tuple[Layer, ...]:
    """The pieces from the block outward with the pump, or its outlet plate, last; every part at its middle."""
    layers, at = [], NOTHING
    for piece in pieces_along(option.seat):
        to = at + Sum.of(piece.measures["thickness"])
        layers.append(Layer(piece.number, at.middle, to.middle))
        at = to
    last = option.mounting.pump
    known = last.measures.get("flange_thickness") or last.measures.get("thickness")
    end = at if known is None else at + Sum.of(known)
    return (*layers, Layer(last.number, at.middle, end.middle))


def open_ports(graph: ConstraintGraph, mounting: Mounting, trees: Trees) -> tuple[OpenPort, ...]:
    """What the build did not ask about: the asker's own to connect."""
    raised = [
        open_port(graph, piece.part, port)
        for _, tree in trees
        for piece in tree.pieces()
        if piece.part is not None
        for port in piece.open
    ]
    return (*mounting.open, *raised)


def offers(graph: ConstraintGraph, question: Question, option: Assessed) -> tuple[Offer, ...]:
    """A cover for a fan thread that stays bare."""
    if any(name == "fan" for name, _ in option.trees):
        return ()
    return tuple(
        Offer(part.number, part.name, part.price, "covers_fan_thread")
        for port in option.mounting.pump.ports
        if port.role == "fan"
        for part, mount in graph.meeting(port)
        if part.kind == "cap" and mount.role == "mount" and question.allows(part)
    )
