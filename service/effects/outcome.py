"""What of an answer is compared: whether there is one, its verdict, its first option and its price."""

from typing import Literal

import msgspec

from catalog.domain import Price
from service.fit.build import Build, BuildError
from service.fit.graph import ConstraintGraph
from service.fit.question import resolve
from service.fit.search import Search
from service.fit.whole import Settlement

Verdict = Literal["fits", "measure_first", "blocked", "refused"]
Change = Literal["gained", "lost", "first_option", "price", "verdict"]


class Piece(msgspec.Struct, frozen=True):
    """A part of the first option's list."""

    part: str
    quantity: int


class Outcome(msgspec.Struct, frozen=True, omit_defaults=True):
    """The answer to a build, as far as it is compared."""

    verdict: Verdict
    """`refused`: the build names what the release does not hold; it has no answer there."""
    decided: bool = True
    pump: str = ""
    plates: tuple[str, ...] = ()
    """From the block outward."""
    parts: tuple[Piece, ...] = ()
    price: Price | None = None
    """Of what is to be bought; absent where there is no option, or where a part has no price."""

    @property
    def answered(self) -> bool:
        """Whether there is an option."""
        return self.verdict in ("fits", "measure_first")

    @property
    def first(self) -> tuple[object, ...]:
        """What the first option is."""
        return (self.pump, self.plates, self.parts)

    def agrees(self, other: "Outcome", change: Change) -> bool:
        """Whether both say the same of what a change is about."""
        match change:
            case "gained" | "lost":
                return self.answered == other.answered
            case "first_option":
                return self.first == other.first
            case "price":
                return self.answered == other.answered and self.price == other.price
            case "verdict":
                return self.verdict == other.verdict


def outcome_of(graph: ConstraintGraph, build: Build) -> Outcome:
    """The outcome of a build in a release, as `fit` answers it; only the first option is looked for, so it is quick."""
    try:
        question = resolve(graph.snapshot, build)
    except BuildError:
        return Outcome("refused")
    search = Search(graph, question, Settlement(graph, question))
    search.rank(1, 1)
    decided = search.decided and search.settlement.decided
    if not search.listed:
        return Outcome("blocked", decided)
    first = search.listed[0]
    verdict: Verdict = "fits" if first.verdict == "ok" else "measure_first"
    pieces = tuple(Piece(line.part, line.quantity) for line in first.lines)
    return Outcome(verdict, decided, first.mounting.chosen.number, first.plates, pieces, first.price)


def changes_between(before: Outcome, after: Outcome) -> tuple[Change, ...]:
    """In what two outcomes differ; nothing where neither has an option."""
    if before.answered != after.answered:
        return ("gained",) if after.answered else ("lost",)
    if not before.answered:
        return ()
    changes: tuple[Change, ...] = ("first_option", "price", "verdict")
    return tuple(change for change in changes if not before.agrees(after, change))
