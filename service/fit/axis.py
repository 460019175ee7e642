"""One axis settles the rest: every clearance is a sum along z, held against a limit.

z = 0 is the block's pump face, positive toward the radiator. The flange of the pump sits at the total
thickness of the gaskets and plates under it, and each test asks where that flange may be.
"""

from fractions import Fraction
from math import ceil, floor
from typing import Final

import msgspec

from catalog.units import NM_PER_MM
from service.fit.answer import Check, CheckVerdict, Code, Facts, Length, RestsOn, Spare, Window
from service.fit.stack import Sum, likelihood


class AxialTest(msgspec.Struct, frozen=True):
    """`base + towards * z` must lie in [-limit, limit], or, where `at_least`, must be no less than the limit.

    A limit that is computed from measures lies within `limit_doubt` of `limit`, which is its middle. It holds for
    certain only where it holds at the limit that asks most, and fails only where it fails at the one that asks least.
    `towards` is -1 where moving the pump forward lowers the value, +1 where it raises it, 0 where the pump
    does not matter.
    """

    code: Code
    reason: str
    base: Sum
    towards: int
    limit: Length
    at_least: bool = False
    zone: str = ""
    facts: Facts = {}
    rests_on: tuple[RestsOn, ...] = ()
    limit_doubt: Length = 0
    """Plus and minus of the limit."""

    @property
    def strictest(self) -> Length:
        """The limit where it asks most."""
        return self.limit + self.limit_doubt if self.at_least else self.limit - self.limit_doubt

    @property
    def mildest(self) -> Length:
        """The limit where it asks least."""
        return self.limit - self.limit_doubt if self.at_least else self.limit + self.limit_doubt

    def value(self, z: Sum) -> Sum:
        """The value where the pump's flange sits at z."""
        if self.towards == 0:
            return self.base
        return self.base + z if self.towards > 0 else self.base - z

    def verdict(self, z: Sum) -> CheckVerdict:
        """`ok` where it holds everywhere within the doubt, `fails` where it holds nowhere, else `measure_first`."""
        value, strictest, mildest = self.value(z), self.strictest, self.mildest
        if self.at_least:
            return "ok" if value.low >= strictest else "fails" if value.high < mildest else "measure_first"
        if max(abs(value.low), abs(value.high)) <= strictest:
            return "ok"
        return "fails" if value.low > mildest or value.high < -mildest else "measure_first"

    def margin(self, z: Sum) -> Length:
        """How far inside the limit the value lies, unequal tolerances re-centred; negative outside."""
        middle, limit = self.value(z).middle, self.limit
        return middle - limit if self.at_least else limit - max(middle, -middle)

    def relative_margin(self, z: Sum) -> Fraction:
        """Margin over its limit."""
        return Fraction(self.margin(z)) / (self.limit or NM_PER_MM)

    def shortfall(self, z: Sum) -> int:
        """By how much the middle misses the limit, in half nanometres to the one below; 0 inside."""
        base, towards = self.base, self.towards
        twice = base.low + base.high + towards * (z.low + z.high)
        limit = floor(2 * self.limit)
        return max(0, limit - twice if self.at_least else abs(twice) - limit)

    def possible_flange(self) -> tuple[int | None, int | None]:
        """The test does not fail where the flange's [low, high] meets this closed interval; None is no bound."""
        within = floor(self.mildest)
        if self.towards == 0:
            return (None, None) if self.verdict(self.base) != "fails" else (1, 0)
        if self.at_least:
            least = ceil(self.mildest)
            return (least - self.base.high, None) if self.towards > 0 else (None, self.base.high - least)
        if self.towards > 0:
            return (-within - self.base.high, within - self.base.low)
        return (self.base.low - within, self.base.high + within)

    def sure_flange(self) -> tuple[int | None, int | None]:
        """The test is `ok` where the flange's [low, high] lies inside this closed interval; None is no bound."""
        within = floor(self.strictest)
        if self.towards == 0:
            return (None, None) if self.verdict(self.base) == "ok" else (1, 0)
        if self.at_least:
            least = ceil(self.strictest)
            return (least - self.base.low, None) if self.towards > 0 else (None, self.base.low - least)
        if self.towards > 0:
            return (-within - self.base.low, within - self.base.high)
        return (self.base.high - within, self.base.low + within)

    def window(self) -> Window | None:
        """Flange positions at which it holds with every part at its middle; None where the pump does not matter."""
        if self.towards == 0:
            return None
        middle = self.base.middle
        if self.at_least:
            return (
                Window(self.limit - middle, None) if self.towards > 0 else Window(_FARTHEST_BACK, middle - self.limit)
            )
        return Window(middle - self.limit, middle + self.limit)

    def check(self, z: Sum, verdict: CheckVerdict | None = None) -> Check:
        """The test as a check of an option."""
        value = self.value(z)
        found = verdict or self.verdict(z)
        doubtful = value.widened(ceil(self.limit_doubt))
        margin = self.margin(z)
        limit = float(self.limit)
        return Check(
            code=self.code,
            verdict=found,
            reason=self.reason,
            facts=self.facts,
            value=value.middle,
            limit=self.limit,
            margin=margin,
            worst_case=margin - value.half - self.limit_doubt,
            rss=margin - doubtful.rss_half,
            likelihood=(
                likelihood(doubtful, limit if self.at_least else -limit, None if self.at_least else limit)
                if found == "measure_first"
                else None
            ),
            rests_on=self.rests_on,
            zone=self.zone,
        )


_FARTHEST_BACK: Final = -(10**12)
"""Where nothing limits how far back the flange may sit; a window begins at the bare block anyway."""


def relative_margin(check: Check) -> Fraction | None:
    """Margin over its limit, by which options are ranked; None where the check has no numbers.

    Only the pump's own place ranks: the room for a fan and the bolts of its circuits are chosen with their parts.
    """
    if check.margin is None or check.limit is None or check.code == "radiator_gap":
        return None
    if check.reason == "tested_fit" or check.facts.get("of_block") is False:
        return None
    return Fraction(check.margin) / (check.limit or NM_PER_MM)


def spare_of(check: Check | None) -> Spare | None:
    """What a check leaves beside its limit; None where it has no numbers."""
    if check is None or check.margin is None or check.limit is None:
        return None
    beyond = check.code == "cover" or check.facts.get("binds") == "least"
    return Spare(check.code, check.margin, check.limit, beyond)


def common_window(windows: list[Window]) -> Window | None:
    """What serves every one of them, from the bare block outward; None where nothing does."""
    from_: Length = max([0, *(window.from_ for window in windows)])
    ends = [window.to for window in windows if window.to is not None]
    to = min(ends) if ends else None
    if to is not None and to < from_:
        return None
    return Window(from_, to)
