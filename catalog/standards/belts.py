"""V-ribbed belts: profiles, widths, and how far out of line a belt may run."""

from fractions import Fraction
from typing import Final

RIB_PITCH: Final = {"PH": 1_600_000, "PJ": 2_340_000, "PK": 3_560_000, "PL": 4_700_000, "PM": 9_400_000}
"""Rib pitch by profile, nm (ISO 9982)."""

LEAST_DIAMETER_PK: Final = 45_000_000
"""Least recommended effective diameter of a PK pulley, nm (ISO 9981:2020, 5.2)."""

DEFAULT_SLOPE: Final = Fraction(1, 192)
"""1/16 in per ft of span, 0.5208 mm per 100 mm: this project's default.

It is stricter than the industry's limit and the chirp guideline, so that what passes it passes both; it is an exact
ratio, and what a fitter reads off a straight edge and a rule (a belt maker's maintenance manual, 2008)."""

INDUSTRY_SLOPE: Final = Fraction(58, 10_000)
"""0.58 mm per 100 mm of span, the most between two pulleys (SAE J1596, pulley misalignment)."""

CHIRP_GUIDELINE: Final = Fraction(575_965, 100_000_000)
"""tan 0.33 degrees: the largest entry angle into a grooved pulley (SAE 1999-01-1709)."""

QUARTER_DEGREE: Final = Fraction(436_335, 100_000_000)
"""tan 0.25 degrees: the other wording of a belt maker's maintenance manual, 2008."""

DEFAULT_SPAN: Final = 150_000_000
"""Span taken where a drive does not state its shortest one, nm (common practice, no source)."""


def belt_width(profile: str, ribs: int) -> int:
    """Nominal width of a belt, nm: ribs times pitch (ISO 9981)."""
    return ribs * RIB_PITCH[profile]


def allowed_offset(span: int | Fraction, slope: Fraction = DEFAULT_SLOPE) -> Fraction:
    """How far out of line the belt may run over a span, nm."""
    return span * slope


def groove_positions(grooves: int, ribs: int, profile: str) -> list[int]:
    """Where a belt's centre can sit on a band, nm from the band's centre, with the whole belt on it.

    Empty where the belt has more ribs than the band has grooves.
    """
    pitch = RIB_PITCH[profile]
    return [(2 * first - (grooves - ribs)) * pitch // 2 for first in range(grooves - ribs + 1)]
