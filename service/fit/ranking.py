"""The total order of options: verdict, then the keys of the build, then part numbers."""

from fractions import Fraction
from typing import Any, Final

import msgspec

from service.fit.answer import AboveNext, Check, Length
from service.fit.bill import Bill
from service.fit.mounting import Mounting
from service.fit.options import Assessed
from service.fit.paths import Seat
from service.fit.whole import Settlement

Key = tuple[Any, ...]


class Standing(msgspec.Struct, frozen=True):
    """What decides the place of an option. Of each, the smaller stands first."""

    verdict: bool
    """True where something must be measured first."""
    work: int
    recommended: bool
    """False where the shop recommends the pump."""
    price: tuple[int, int]
    """Pieces to buy that have no price, then the sum of the others."""
    margin: tuple[int, Fraction]
    """(1, -relative margin), or (0, 0) where nothing limits."""
    parts: int
    length: Length
    numbers: Key

    def key(self, rank_keys: tuple[str, ...]) -> Key:
        """Sorts options by these keys, the best first; no two options of one answer share a key."""
        return (self.verdict, *(getattr(self, key) for key in rank_keys), self.numbers)


NO_LIMIT: Final = (0, Fraction(0))


def standing(option: Assessed) -> Standing:
    """Where an option stands."""
    names = tuple(name for _, tree in option.trees for name in tree.names)
    lines = sorted((line.part, line.quantity) for line in option.lines)
    return Standing(
        verdict=option.verdict != "ok",
        work=option.work,
        recommended=not option.mounting.chosen.recommended,
        price=(option.bill.unpriced, option.bill.known),
        margin=_margin(option),
        parts=option.bill.pieces,
        length=option.seat.flange.middle,
        numbers=(*_numbers(option.mounting, option.seat), option.bill.pieces, names, lines),
    )


def _margin(option: Assessed) -> tuple[int, Fraction]:
    return NO_LIMIT if option.relative_margin is None else (1, -option.relative_margin)


def _numbers(mounting: Mounting, seat: Seat) -> Key:
    pulley = mounting.pulley
    return (mounting.chosen.number, mounting.pump.number, seat.order, "" if pulley is None else pulley.number)


def bound(
    settlement: Settlement, mounting: Mounting, seat: Seat, stands_on: tuple[int, Bill], *, tested: bool
) -> Standing:
    """Where a mounting on a seat could stand at best, before its bolts and rules are known.

    `stands_on` is the work and the least bill of its stack. Never after the place where it does stand, so that
    whoever takes options in this order meets none too late.
    """
    question = settlement.question
    work, bill = stands_on
    circuits = settlement.least(mounting.pump, mounting.remote)
    # Where other keys come first, what is known of the margin is not worth reckoning for every seat.
    by_margin = question.rank_keys[0] == "margin" and not tested
    return Standing(
        verdict=not tested and mounting.verdict(seat.flange) != "ok",
        work=work,
        recommended=not mounting.chosen.recommended,
        price=(bill.unpriced + circuits.unpriced, bill.known + circuits.known),
        margin=mounting.relative_margin(seat.flange) if by_margin else NO_LIMIT,
        parts=bill.pieces + circuits.pieces,
        length=seat.flange.middle,
        numbers=(*_numbers(mounting, seat), 0, (), []),
    )


def above_next(option: Assessed, following: Assessed | None, rank_keys: tuple[str, ...]) -> AboveNext | None:
    """The first key on which an option stands above the one that follows it."""
    if following is None:
        return None
    if option.verdict != following.verdict:
        return AboveNext("verdict", option.verdict, following.verdict)
    this, next_ = standing(option), standing(following)
    for key in rank_keys:
        if getattr(this, key) != getattr(next_, key):
            if key == "margin":
                limits = [None if check is None else check.limit for check in _tightest(option, following)]
                return AboveNext(key, _told(key, option), _told(key, following), *limits)
            return AboveNext(key, _told(key, option), _told(key, following))
    return AboveNext("part_numbers", option.mounting.chosen.number, following.mounting.chosen.number)


def _tightest(*options: Assessed) -> tuple[Check | None, ...]:
    return tuple(option.least_margin for option in options)


def _told(key: str, option: Assessed) -> Any:
    """The value of a key as it is told: the price itself, the margin itself."""
    if key == "price":
        return None if option.price is None else option.price.amount
    if key == "margin":
        return None if option.least_margin is None else option.least_margin.margin
    if key == "recommended":
        return option.mounting.chosen.recommended
    if key == "parts":
        return option.bill.pieces
    return option.work_name if key == "work" else option.seat.flange.middle
