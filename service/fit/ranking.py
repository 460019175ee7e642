"""The total order of options: verdict, then the keys of the build, then part numbers."""

from collections.abc import Iterable
from typing import Any

import msgspec

from service.fit.answer import AboveNext
from service.fit.axis import spare_of
from service.fit.bill import Bill
from service.fit.bolts import Bolted
from service.fit.mounting import Mounting
from service.fit.options import Assessed
from service.fit.paths import Seat
from service.fit.standing import Key, Less, Standing, less
from service.fit.whole import Settlement


def standing(option: Assessed) -> Standing:
    """Where an option stands."""
    known = option.stands
    if known is None:
        return _standing(option)
    verdict = option.verdict != "ok"
    return known if known.verdict == verdict else msgspec.structs.replace(known, verdict=verdict)


def _standing(option: Assessed) -> Standing:
    names = tuple(name for _, tree in option.trees for name in tree.names)
    lines = sorted((line.part, line.quantity) for line in option.lines)
    return Standing(
        verdict=option.verdict != "ok",
        work=option.work,
        recommended=not option.mounting.chosen.recommended,
        price=(option.bill.unpriced, option.bill.known),
        margin=less(option.relative_margin),
        parts=option.bill.pieces,
        length=option.seat.flange.middle,
        numbers=(*_numbers(option.mounting, option.seat), bolts_key(option.bolted), option.bill.pieces, names, lines),
    )


def rank_on_seat(option: Assessed, rank_keys: tuple[str, ...]) -> tuple[object, ...]:
    """Sorts the options of one mounting on one seat: what holds, what holds for certain, the fewer doubts, the ranking.

    So a set of bolts that must be measured first is taken only where none that holds for certain makes an option.
    """
    return option.verdict == "fails", option.verdict != "ok", option.doubts, standing(option).key(rank_keys)


def bolts_key(bolted: Iterable[Bolted]) -> tuple[tuple[int, str], ...]:
    """What decides among options that differ in nothing else but their bolts: the shorter, then the number."""
    return tuple(
        (0, "") if (part := group.fasteners) is None else (part.measures["length"].nominal, part.number)
        for group in bolted
    )


def _numbers(mounting: Mounting, seat: Seat) -> Key:
    pulley = mounting.pulley
    return (mounting.chosen.number, mounting.pump.number, seat.order, "" if pulley is None else pulley.number)


def bound(
    settlement: Settlement,
    placed: tuple[Mounting, Seat],
    stands_on: tuple[int, Bill],
    margin: Less,
    *,
    sure: bool,
    bolted: Iterable[Bolted] = (),
) -> Standing:
    """Where a mounting on a seat could stand at best, before its bolts and rules are known.

    `stands_on` is the work and the least bill of its stack, `margin` what it leaves at best, `sure` whether all that is
    known of its place is `ok`, `bolted` its bolts where they are chosen. Never after the place where it does stand, so
    that whoever takes options in this order meets none too late.
    """
    (mounting, seat), (work, bill) = placed, stands_on
    circuits = settlement.least(mounting.pump, mounting.remote)
    return Standing(
        verdict=not sure,
        work=work,
        recommended=not mounting.chosen.recommended,
        price=(bill.unpriced + circuits.unpriced, bill.known + circuits.known),
        margin=margin,
        parts=bill.pieces + circuits.pieces,
        length=seat.flange.middle,
        numbers=(*_numbers(mounting, seat), bolts_key(bolted), 0, (), []),
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
                tightest = spare_of(option.least_margin), spare_of(following.least_margin)
                return AboveNext(key, _told(key, option), _told(key, following), *tightest)
            return AboveNext(key, _told(key, option), _told(key, following))
    return AboveNext("part_numbers", option.mounting.chosen.number, following.mounting.chosen.number)


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
