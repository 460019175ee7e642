"""The least relative margin that each pair of a front leaves at best, its bolts included, worked out once."""

from service.fit.bolt_sets import BoltSets
from service.fit.bolts import clamped_groups
from service.fit.front import Front, ranks
from service.fit.order import Column
from service.fit.question import Question
from service.fit.standing import AT_BEST, Less, less


class Margins:
    """For each pair of a front the margin that no option on it exceeds, whatever bolts it takes."""

    def __init__(self, front: Front, bolts: BoltSets, question: Question) -> None:
        self._bolts, self._question = bolts, question
        """The bolts are held, so that no others are known by their identity."""
        pairs = front.pairs
        columns = zip(pairs.mounting.tolist(), pairs.seat.tolist(), pairs.tested.tolist(), strict=True)
        found = [AT_BEST if tested else self._of(front, mounting, seat) for mounting, seat, tested in columns]
        self.column = Column.of(ranks(found))
        """For each pair the place of its margin among the distinct ones."""
        self._distinct = sorted(set(found))

    @property
    def weight(self) -> int:
        """Roughly how many bytes it takes."""
        return self.column.weight + 200 * len(self._distinct)

    def of(self, pair: int) -> Less:
        """The margin of a pair at best."""
        return self._distinct[int(self.column.numbers[pair])]

    def _of(self, front: Front, mounting: int, seat: int) -> Less:
        pump, place = front.mountings[mounting], front.seats[seat]
        own = pump.relative_margin(place.flange)
        groups = clamped_groups(self._question, place, pump.pump)
        known = [own, *(margin for group in groups if (margin := self._bolts.best_margin(group)) is not None)]
        return less(min((margin for margin in known if margin is not None), default=None))


def margins_of(front: Front, bolts: BoltSets, question: Question, *, shared: bool) -> Margins:
    """The margins of a front with these bolts, kept with it; `shared`: they are those of every such question."""

    def made() -> Margins:
        return Margins(front, bolts, question)

    return front.remembered("margins", made) if shared else front.kept.get(("margins", id(bolts)), made)
