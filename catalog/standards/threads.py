"""Bolts: threads, stock lengths and their tolerances, and how deep a bolt must engage."""

from fractions import Fraction
from functools import cache
from typing import Final

from catalog.units import NM_PER_MM

STOCK_LENGTHS: Final = (12, 16, 20, 25, 30, 35, 40, 45, 50, 55, 60, 65, 70, 80, 90, 100, 110, 120, 130, 140, 150)
"""Lengths of ISO 4014 and ISO 4017, mm."""

_LENGTH_TOLERANCE: Final = (
    # Up to this length, plus and minus, mm: js15 for ISO 4014 and ISO 4017, and js17 beyond 150 mm, where they
    # are of product grade B (the rows above 100 mm from memory).
    (10, "0.29"),
    (16, "0.35"),
    (30, "0.42"),
    (50, "0.50"),
    (80, "0.60"),
    (120, "0.70"),
    (150, "0.80"),
    (180, "2.0"),
    (250, "2.3"),
    (315, "2.6"),
    (400, "2.85"),
    (500, "3.15"),
)

LEAST_ENGAGEMENT: Final = {"steel": Fraction(1), "cast_iron": Fraction(3, 2), "aluminium": Fraction(2)}
"""Least engagement in bolt diameters: aluminium by VDI 2230, cast iron by Roloff/Matek, steel by a fastener
supplier's handbook, p. 677. Sources disagree for steel (1 to 1.2). The engine maker's manual has the last word."""


def diameter(thread: str) -> int:
    """Nominal diameter of a metric thread, nm: "M8x1.25" is 8 mm."""
    return int(thread.removeprefix("M").partition("x")[0]) * NM_PER_MM


@cache
def least_engagement(thread: str, material: str) -> int:
    """Least length of engaged thread, nm."""
    return int(diameter(thread) * LEAST_ENGAGEMENT[material])


def length_tolerance(length: int) -> int:
    """Plus and minus of a bolt's length, nm; beyond 500 mm that of 500 mm."""
    fitting = (tolerance for limit, tolerance in _LENGTH_TOLERANCE if length <= limit * NM_PER_MM)
    return int(Fraction(next(fitting, _LENGTH_TOLERANCE[-1][1])) * NM_PER_MM)


def thread_length(thread: str, length: int) -> int:
    """Threaded length of a part-threaded bolt, nm (ISO 4014: 2d + 6 up to 125 mm, then 12, 25)."""
    mm = NM_PER_MM
    over = 6 if length <= 125 * mm else 12 if length <= 200 * mm else 25
    return 2 * diameter(thread) + over * mm


def stock_length_at_least(length: int) -> int | None:
    """The shortest stock length that is no shorter than this, nm; None beyond the longest."""
    return next((stock * NM_PER_MM for stock in STOCK_LENGTHS if stock * NM_PER_MM >= length), None)
