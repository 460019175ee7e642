"""What stands on a seat at best: each choice of bolts is assessed, but for those that could not stand first."""

from collections.abc import Iterable, Iterator, Set
from functools import cached_property
from itertools import product

import msgspec

from service.fit.assessor import Assessor
from service.fit.bolt_sets import Room
from service.fit.bolts import clamped_groups
from service.fit.kept import Derived
from service.fit.limits import held_to
from service.fit.mounting import Mounting, plates_of
from service.fit.options import Assessed, along
from service.fit.paths import Seat
from service.fit.ranking import rank_on_seat, standing
from service.fit.standing import Standing
from service.fit.whole import Settlement


def assess(settlement: Settlement, mounting: Mounting, seat: Seat) -> Assessed:
    """The best whole list of a mounting on a seat; one that fails, with its reasons, where there is none."""
    rank_keys = settlement.question.rank_keys
    if settlement.shared_by is None:
        return _best_of(_assessors(settlement, mounting, seat, limited=settlement.limits), rank_keys)
    pulley = None if mounting.pulley is None else mounting.pulley.number
    # What is kept holds the seat, so that no other is known by its identity.
    key = (settlement.shared_by, mounting.chosen.number, mounting.pump.number, pulley, id(seat))
    shared = settlement.graph.options.get(key, lambda: Shared(_assessors(settlement, mounting, seat, limited=True)))
    return shared.best_within(settlement) if settlement.limits else shared.best(rank_keys)


def _best_of(assessors: Iterable[Assessor], rank_keys: tuple[str, ...]) -> Assessed:
    """The best list with any of these choices of bolts; those that could not stand before it are not looked into."""
    best: tuple[Assessor, Assessed] | None = None
    for assessor in assessors:
        if best is not None and best[1].verdict != "fails" and not assessor.could_stand_before(*best):
            continue
        found = assessor.assessed()
        if best is None or rank_on_seat(found, rank_keys) < rank_on_seat(best[1], rank_keys):
            best = assessor, found
    assert best is not None
    return best[1]


class Shared:
    """What stands on a seat where the front alone decides it, with each choice of bolts, before limits are looked at.

    Whoever asks no more of it than its front shares it, and what is told of it.
    """

    def __init__(self, assessors: Iterable[Assessor]) -> None:
        by_doubt: dict[int, list[Assessor]] = {}
        for assessor in assessors:
            by_doubt.setdefault(assessor.doubts, []).append(assessor)
        self._choices = [by_doubt[doubts] for doubts in sorted(by_doubt)]
        """Those with the fewest doubts first."""
        self._options: list[list[Assessed]] = []
        """What was made of them so far."""

    def best(self, rank_keys: tuple[str, ...]) -> Assessed:
        """The one that stands first; one that fails only where all do."""
        few = self._worth_ranking
        return few[0] if len(few) == 1 else min(few, key=lambda option: rank_on_seat(option, rank_keys))

    def best_within(self, settlement: Settlement) -> Assessed:
        """The same under the limits of the build."""
        rank_keys, best = settlement.question.rank_keys, None
        for options in self._by_doubt():
            for option in (held_to(settlement, option) for option in options):
                if best is None or rank_on_seat(option, rank_keys) < rank_on_seat(best, rank_keys):
                    best = option
            if best is not None and best.verdict != "fails":
                break
        assert best is not None
        return best

    def _by_doubt(self) -> Iterator[list[Assessed]]:
        """The options, those with the fewest doubts first."""
        for doubts, choices in enumerate(self._choices):
            if doubts == len(self._options):
                found = (each.unlimited(()) for each in choices)
                self._options.append(
                    [msgspec.structs.replace(each, derived=Derived(each), stands=standing(each)) for each in found]
                )
            yield self._options[doubts]

    @cached_property
    def _worth_ranking(self) -> list[Assessed]:
        """Those than which no other stands before by every ranking; mostly it is but one."""
        options = next(filter(_no_set_would_mend, self._by_doubt()), None) or self._options[0]
        holding = [option for option in options if option.verdict != "fails"] or options
        stands = [standing(option) for option in holding]
        return [
            option
            for option, own in zip(holding, stands, strict=True)
            if not any(_always_before(other, own) for other in stands)
        ]

    @property
    def weight(self) -> int:
        """Roughly how many bytes it takes, the sentences of one of them included; measured on made catalogs."""
        return 20_000 + 8_000 * sum(map(len, self._choices))


def _no_set_would_mend(options: list[Assessed]) -> bool:
    """Whether one of them holds, or each fails by something that other bolts than the best cannot change."""
    return any(option.verdict != "fails" for option in options) or not any(map(_hangs_on_bolts, options))


def _hangs_on_bolts(option: Assessed) -> bool:
    """Whether an option could hold with a worse set of bolts: what a rule forbids, or what was tried with it."""
    return option.tested or all(check.verdict != "fails" or check.code == "rule" for check in option.own)


def _always_before(one: Standing, other: Standing) -> bool:
    """Whether of two options on one seat the one stands before the other by every ranking.

    Every ranking has work, price and margin somewhere, and its last resort, the numbers, tells the bolts apart.
    """
    pairs = [(getattr(one, key), getattr(other, key)) for key in ("verdict", "work", "price", "margin", "parts")]
    if any(a > b for a, b in pairs):
        return False
    # How many pieces there are is in some rankings only, and hence decides nothing here.
    return any(a < b for a, b in pairs[:-1]) or one.numbers < other.numbers


def _assessors(
    settlement: Settlement, mounting: Mounting, seat: Seat, *, limited: bool, numbers: Set[str] | None = None
) -> list[Assessor]:
    """What stands there with each choice of bolts that is worth looking into, those with the fewest doubts first.

    `limited` is whether the whole is, or may come to be, held to limits of the build. With `numbers`, only with one of
    these sets in some group.
    """
    tested = plates_of(mounting, seat) in settlement.graph.tested_plates(mounting.pump.number)
    room = Room(None if tested else mounting.relative_margin(seat.flange), limited)
    groups = list(enumerate(clamped_groups(settlement.question, seat, mounting.pump), 1))
    choices = [settlement.bolts.bolted(group, str(place), room) for place, group in groups]
    checks = along(seat, mounting.axial_checks(seat.flange))
    every = [choices]
    if numbers is not None:
        every = [
            [*choices[: place - 1], wanted, *choices[place:]]
            for place, group in groups
            if (wanted := settlement.bolts.bolted(group, str(place), Room(only=numbers))) and wanted[0].fasteners
        ]
    found = [Assessor(settlement, mounting, seat, bolted, checks) for each in every for bolted in product(*each)]
    return sorted(found, key=lambda assessor: assessor.doubts)


def assess_with(settlement: Settlement, mounting: Mounting, seat: Seat, numbers: Set[str]) -> list[Assessed]:
    """What holds there with one of these parts: as bolts between block and pump, or in its circuits."""
    found, sets = list[Assessed](), numbers & settlement.graph.numbers_of_kind("fastener_set")
    if sets:
        chosen = _assessors(settlement, mounting, seat, limited=True, numbers=sets)
        found += [assessor.assessed() for assessor in chosen]
    if not settlement.asks_nothing:
        assessors = _assessors(settlement, mounting, seat, limited=settlement.limits)
        found += [option for assessor in assessors if (option := assessor.through(numbers)) is not None]
    return [option for option in found if option.verdict != "fails"]
