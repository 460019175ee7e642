"""The total order of options: verdict, then the keys of the build, then part numbers."""

from collections.abc import Callable
from fractions import Fraction
from typing import Any, Final

from catalog.vocabulary import WORK
from service.fit.answer import AboveNext
from service.fit.axis import relative_margin
from service.fit.options import Assessed, least_margin

Key = tuple[Any, ...]


def _margin(option: Assessed) -> tuple[int, Fraction]:
    check = least_margin(option)
    margin = None if check is None else relative_margin(check)
    return (0, Fraction(0)) if margin is None else (1, -margin)


_KEYS: Final[dict[str, Callable[[Assessed], Any]]] = {
    "work": lambda option: WORK.index(option.work),
    "recommended": lambda option: not option.mounting.pump.recommended,
    "price": lambda option: (option.price is None, option.price.amount if option.price is not None else 0),
    "margin": _margin,
    "parts": lambda option: sum(line.quantity for line in option.lines),
    "length": lambda option: option.seat.flange.middle,
}


def order_key(option: Assessed, rank_keys: tuple[str, ...]) -> Key:
    """Sorts options, the best first; no two options of one answer share a key."""
    pulley = option.mounting.pulley
    return (
        option.verdict != "ok",
        *(_KEYS[key](option) for key in rank_keys),
        option.mounting.pump.number,
        option.seat.order,
        "" if pulley is None else pulley.number,
        sorted((line.part, line.quantity) for line in option.lines),
    )


def above_next(option: Assessed, following: Assessed | None, rank_keys: tuple[str, ...]) -> AboveNext | None:
    """The first key on which an option stands above the one that follows it."""
    if following is None:
        return None
    if option.verdict != following.verdict:
        return AboveNext("verdict", option.verdict, following.verdict)
    for key in rank_keys:
        if _KEYS[key](option) != _KEYS[key](following):
            return AboveNext(key, _told(key, option), _told(key, following))
    return AboveNext("part_numbers", option.mounting.pump.number, following.mounting.pump.number)


def _told(key: str, option: Assessed) -> Any:
    """The value of a key as it is told: the price itself, the margin itself."""
    if key == "price":
        return None if option.price is None else option.price.amount
    if key == "margin":
        check = least_margin(option)
        return None if check is None else check.margin
    if key == "recommended":
        return option.mounting.pump.recommended
    return option.work if key == "work" else _KEYS[key](option)
