"""Sums along the axis with their tolerances: worst case, root sum square and modified root sum square.

The method is that of F. Scholz, "Tolerance Stack Analysis Methods" (Boeing, 1995) and P. Drake (ed.),
*Dimensioning and Tolerancing Handbook* (McGraw-Hill, 1999), chapter 9: unequal tolerances are first
re-centred on the middle of their limits. All lengths are integer nanometres.
"""

from fractions import Fraction
from math import erf, isqrt, sqrt
from typing import Final

import msgspec

from catalog.domain import Measure


def halved(number: int) -> int | Fraction:
    """Half of a whole number, exactly, and whole itself where it can be, with which it is quicker to reckon."""
    return Fraction(number, 2) if number & 1 else number >> 1


class Sum(msgspec.Struct, frozen=True):
    """A sum of measures: it lies in [low, high] nm; `square` is the sum of the squared widths of its terms."""

    low: int
    high: int
    square: int
    count: int

    @classmethod
    def of(cls, measure: Measure | tuple[int, int]) -> "Sum":
        """The sum of one measure, or of one term that lies between two limits."""
        low, high = (measure.low, measure.high) if isinstance(measure, Measure) else measure
        return cls(low, high, (high - low) ** 2, 1)

    def __add__(self, other: "Sum | int") -> "Sum":
        if isinstance(other, int):
            return Sum(self.low + other, self.high + other, self.square, self.count)
        return Sum(self.low + other.low, self.high + other.high, self.square + other.square, self.count + other.count)

    def __sub__(self, other: "Sum | int") -> "Sum":
        if isinstance(other, int):
            return self + -other
        return Sum(self.low - other.high, self.high - other.low, self.square + other.square, self.count + other.count)

    def widened(self, doubt: int) -> "Sum":
        """The same with one term more that is 0 give or take `doubt`: what it is held against is not known exactly."""
        return self + Sum.of((-doubt, doubt)) if doubt else self

    @property
    def middle(self) -> int | Fraction:
        """The middle of the limits: the nominal value once unequal tolerances are re-centred."""
        return halved(self.low + self.high)

    @property
    def half(self) -> int | Fraction:
        """Worst-case tolerance: plus and minus around the middle."""
        return halved(self.high - self.low)

    @property
    def rss_half(self) -> int:
        """Root-sum-square tolerance around the middle, to the nanometre below."""
        return isqrt(self.square // 4)

    @property
    def modified_rss_factor(self) -> float:
        """Drake's factor Cf = 0.5 (Twc - Trss) / (Trss (sqrt n - 1)) + 1; 1 for a single term or no tolerance."""
        rss = sqrt(self.square) / 2
        if self.count < 2 or rss == 0:
            return 1.0
        return 0.5 * (float(self.half) - rss) / (rss * (sqrt(self.count) - 1)) + 1

    @property
    def modified_rss_half(self) -> float:
        """Root-sum-square tolerance widened by that factor: parts are not as centred as the plain form hopes."""
        return self.modified_rss_factor * sqrt(self.square) / 2


NOTHING: Final = Sum(0, 0, 0, 0)


def likelihood(value: Sum, low: float | None, high: float | None) -> float:
    """How likely the value lies between the limits, 0.01 to 0.99.

    The value is taken as normal about its middle, its modified root-sum-square tolerance as three
    standard deviations. Only told, never decided by.
    """
    deviation = value.modified_rss_half / 3 or 1.0
    middle = float(value.middle)

    def below(limit: float) -> float:
        return 0.5 * (1 + erf((limit - middle) / (deviation * sqrt(2))))

    chance = (1.0 if high is None else below(high)) - (0.0 if low is None else below(low))
    return min(0.99, max(0.01, round(chance, 2)))
