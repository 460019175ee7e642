"""The total order of options: verdict, then the keys of the build, then part numbers."""

from collections.abc import Mapping
from fractions import Fraction
from typing import Any, Final

import msgspec

from catalog.domain import Part
from catalog.vocabulary import WORK
from service.fit.answer import AboveNext
from service.fit.axis import relative_margin
from service.fit.mounting import Mounting
from service.fit.options import Assessed, own_parts
from service.fit.paths import Seat
from service.fit.question import Question

Key = tuple[Any, ...]


class Standing(msgspec.Struct, frozen=True):
    """What decides the place of an option. Of each, the smaller stands first."""

    verdict: bool
    """True where something must be measured first."""
    work: int
    recommended: bool
    """False where the shop recommends the pump."""
    price: tuple[bool, int]
    """Whether a part to buy has no price, then the sum."""
    margin: tuple[int, Fraction]
    """(1, -relative margin), or (0, 0) where nothing limits."""
    parts: int
    length: Fraction
    numbers: Key

    def key(self, rank_keys: tuple[str, ...]) -> Key:
        """Sorts options by these keys, the best first; no two options of one answer share a key."""
        return (self.verdict, *(getattr(self, key) for key in rank_keys), self.numbers)


NO_LIMIT: Final = (0, Fraction(0))


def standing(option: Assessed) -> Standing:
    """Where an option stands."""
    return Standing(
        verdict=option.verdict != "ok",
        work=WORK.index(option.work),
        recommended=not option.mounting.pump.recommended,
        price=(option.price is None, option.price.amount if option.price is not None else 0),
        margin=_margin(option),
        parts=sum(line.quantity for line in option.lines),
        length=option.seat.flange.middle,
        numbers=(*_numbers(option.mounting, option.seat), sorted((line.part, line.quantity) for line in option.lines)),
    )


def _margin(option: Assessed) -> tuple[int, Fraction]:
    check = option.least_margin
    margin = None if check is None else relative_margin(check)
    return NO_LIMIT if margin is None else (1, -margin)


def _numbers(mounting: Mounting, seat: Seat) -> Key:
    pulley = mounting.pulley
    return (mounting.pump.number, seat.order, "" if pulley is None else pulley.number)


def bound(question: Question, mounting: Mounting, seat: Seat, *, tested: bool) -> Standing:
    """Where a mounting on a seat could stand at best, before its bolts and rules are known.

    Never after the place where it does stand, so that whoever takes options in this order meets none too late.
    """
    pieces: dict[str, tuple[Part, int]] = {}
    for part, _, quantity, _, _ in own_parts(mounting, seat, ()):
        pieces[part.number] = (part, pieces.get(part.number, (part, 0))[1] + quantity)
    listed = {number: piece for number, piece in pieces.items() if number not in question.described}
    return Standing(
        verdict=not tested and mounting.verdict(seat.flange) != "ok",
        work=max((WORK.index(str(part.attributes.get("work", WORK[0]))) for part, _ in listed.values()), default=0),
        recommended=not mounting.pump.recommended,
        price=_least_price(question, listed),
        margin=NO_LIMIT if tested else mounting.relative_margin(seat.flange),
        parts=sum(quantity for _, quantity in listed.values()),
        length=seat.flange.middle,
        numbers=(*_numbers(mounting, seat), []),
    )


def _least_price(question: Question, pieces: Mapping[str, tuple[Part, int]]) -> tuple[bool, int]:
    total = 0
    for number, (part, quantity) in pieces.items():
        buy = max(0, quantity - question.have.get(number, 0))
        if buy and part.price is None:
            return (True, 0)
        total += buy * (part.price.amount if part.price is not None else 0)
    return (False, total)


def above_next(option: Assessed, following: Assessed | None, rank_keys: tuple[str, ...]) -> AboveNext | None:
    """The first key on which an option stands above the one that follows it."""
    if following is None:
        return None
    if option.verdict != following.verdict:
        return AboveNext("verdict", option.verdict, following.verdict)
    this, next_ = standing(option), standing(following)
    for key in rank_keys:
        if getattr(this, key) != getattr(next_, key):
            return AboveNext(key, _told(key, option), _told(key, following))
    return AboveNext("part_numbers", option.mounting.pump.number, following.mounting.pump.number)


def _told(key: str, option: Assessed) -> Any:
    """The value of a key as it is told: the price itself, the margin itself."""
    if key == "price":
        return None if option.price is None else option.price.amount
    if key == "margin":
        return None if option.least_margin is None else option.least_margin.margin
    if key == "recommended":
        return option.mounting.pump.recommended
    if key == "parts":
        return sum(line.quantity for line in option.lines)
    return option.work if key == "work" else option.seat.flange.middle
