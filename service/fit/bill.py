"""What a list costs, in the ways in which options are ranked by it."""

from typing import Final, NamedTuple

from catalog.domain import Price
from service.fit.trees import Cost


class Bill(NamedTuple):
    """What must be bought: pieces without a price, and the sum of the others in minor units; and pieces in all."""

    unpriced: int
    known: int
    pieces: int

    def plus(self, other: "Bill") -> "Bill":
        """Both together."""
        return Bill(self.unpriced + other.unpriced, self.known + other.known, self.pieces + other.pieces)

    def less(self, other: "Bill") -> "Bill":
        """What is left without the other."""
        return Bill(self.unpriced - other.unpriced, self.known - other.known, self.pieces - other.pieces)

    def price(self, currency: str) -> Price | None:
        """The sum; None where a part to buy has no price."""
        return None if self.unpriced else Price(self.known, currency)

    def by(self, rank_keys: tuple[str, ...]) -> Cost:
        """By the ranking's keys that add up, in their order; then by pieces, so that nothing needless is listed."""
        costs: list[int] = []
        for key in rank_keys:
            if key == "price":
                costs += (self.unpriced, self.known)
            elif key == "parts":
                costs.append(self.pieces)
        return (*costs, self.pieces)

    @classmethod
    def of(cls, cost: Cost, rank_keys: tuple[str, ...]) -> "Bill":
        """The bill that gives this cost."""
        place = 1 if "parts" in rank_keys[: rank_keys.index("price")] else 0
        return cls(cost[place], cost[place + 1], cost[-1])


NO_BILL: Final = Bill(0, 0, 0)
