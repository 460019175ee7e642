"""What stands on a seat at best: each choice of bolts is assessed, but for those that could not stand first."""

from collections.abc import Iterable, Iterator
from functools import cached_property, partial
from itertools import product

import msgspec

from service.fit.assessor import Assessor
from service.fit.bolts import clamped_groups
from service.fit.kept import Derived
from service.fit.limits import held_to
from service.fit.mounting import Mounting
from service.fit.options import Assessed
from service.fit.paths import Seat
from service.fit.ranking import standing
from service.fit.standing import Key, Standing
from service.fit.whole import Settlement


def assess(settlement: Settlement, mounting: Mounting, seat: Seat) -> Assessed:
    """The best whole list of a mounting on a seat; one that fails, with its reasons, where there is none."""
    rank_keys = settlement.question.rank_keys
    if settlement.shared_by is None:
        return _best_of(_assessors(settlement, mounting, seat), rank_keys)
    pulley = None if mounting.pulley is None else mounting.pulley.number
    # What is kept holds the seat, so that no other is known by its identity.
    key = (settlement.shared_by, mounting.chosen.number, mounting.pump.number, pulley, id(seat))
    shared = settlement.graph.options.get(key, lambda: Shared(_assessors(settlement, mounting, seat)))
    if not settlement.limits:
        return shared.best(rank_keys)
    return min(map(partial(held_to, settlement), shared.options), key=partial(_place, rank_keys))


def _place(rank_keys: tuple[str, ...], option: Assessed) -> tuple[bool, Key]:
    """Sorts options, one that fails after all others."""
    return option.verdict == "fails", standing(option).key(rank_keys)


def _best_of(assessors: Iterable[Assessor], rank_keys: tuple[str, ...]) -> Assessed:
    """The best list with any of these choices of bolts; those that could not stand before it are not looked into."""
    best: tuple[Assessor, Assessed] | None = None
    for assessor in assessors:
        if best is not None and best[1].verdict != "fails" and not assessor.could_stand_before(*best):
            continue
        found = assessor.assessed()
        if best is None or _place(rank_keys, found) < _place(rank_keys, best[1]):
            best = assessor, found
    assert best is not None
    return best[1]


class Shared:
    """What stands on a seat where the front alone decides it, with each choice of bolts, before limits are looked at.

    Whoever asks no more of it than its front shares it, and what is told of it.
    """

    def __init__(self, assessors: Iterable[Assessor]) -> None:
        found = (each.unlimited(()) for each in assessors)
        self.options = [
            msgspec.structs.replace(option, derived=Derived(option), stands=standing(option)) for option in found
        ]

    def best(self, rank_keys: tuple[str, ...]) -> Assessed:
        """The one that stands first; one that fails only where all do."""
        few = self._worth_ranking
        # All of them hold or none does, so the verdict need not be looked at.
        return few[0] if len(few) == 1 else min(few, key=lambda option: standing(option).key(rank_keys))

    @cached_property
    def _worth_ranking(self) -> list[Assessed]:
        """Those than which no other stands before by every ranking; mostly it is but one."""
        holding = [option for option in self.options if option.verdict != "fails"] or self.options
        stands = [standing(option) for option in holding]
        return [
            option
            for option, own in zip(holding, stands, strict=True)
            if not any(_always_before(other, own) for other in stands)
        ]

    @property
    def weight(self) -> int:
        """Roughly how many bytes it takes, the sentences of one of them included; measured on made catalogs."""
        return 20_000 + 8_000 * len(self.options)


def _always_before(one: Standing, other: Standing) -> bool:
    """Whether of two options on one seat the one stands before the other by every ranking.

    Every ranking has work, price and margin somewhere, and its last resort, the numbers, begin with the pieces.
    """
    pairs = [(getattr(one, key), getattr(other, key)) for key in ("verdict", "work", "price", "margin", "parts")]
    return all(a <= b for a, b in pairs) and (any(a < b for a, b in pairs) or one.numbers < other.numbers)


def _assessors(settlement: Settlement, mounting: Mounting, seat: Seat) -> Iterator[Assessor]:
    """What stands there with each choice of bolts."""
    groups = clamped_groups(settlement.question, seat, mounting.pump)
    choices = [settlement.bolts.shortest(group, str(place)) for place, group in enumerate(groups, 1)]
    return (Assessor(settlement, mounting, seat, bolted) for bolted in product(*choices))
