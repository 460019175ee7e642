"""Tolerance stacks: worked examples of handbooks through the engine's own sums."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalog.domain import Measure
from service.fit.stack import NOTHING, Sum

NM_PER_INCH = 25_400_000
NM_PER_MM = 1_000_000

Term = tuple[str, str, str]
"""Signed nominal, plus, minus; the plus and minus of a negative term are on its magnitude."""


def measure(nominal: str, plus: str, minus: str, unit: int) -> Measure:
    length, above, below = (int(Decimal(number) * unit) for number in (nominal, plus, minus))
    return Measure("thickness", length, above, below, "drawing", "worked example")


def stack(terms: list[Term], unit: int) -> Sum:
    total = NOTHING
    for nominal, plus, minus in terms:
        term = Sum.of(measure(nominal.lstrip("-"), plus, minus, unit))
        total = total - term if nominal.startswith("-") else total + term
    return total


def as_drawn(terms: list[Term]) -> Decimal:
    return sum((Decimal(nominal) for nominal, _, _ in terms), Decimal(0))


# Drake 1999, ch. 9, motor assembly, inches.
MOTOR: list[Term] = [
    ("-.375", "0", ".031"),  # screw thread length
    (".032", ".002", ".002"),  # washer
    (".060", ".003", ".003"),
    (".438", "0", ".015"),
    (".120", ".005", ".005"),
    ("1.500", ".010", ".004"),
    (".120", ".005", ".005"),
    (".438", "0", ".015"),
    (".450", ".007", ".007"),  # pulley casting
    ("-3.019", ".012", "0"),  # shaft
    (".300", ".030", ".030"),  # tapped hole depth
]


def test_motor_assembly_is_re_centred_on_its_middle_limits() -> None:
    # Same chapter: the sum as drawn is 0.0640, the gap on the mid-limits 0.0615.
    assert as_drawn(MOTOR) == Decimal("0.0640")
    assert Fraction(stack(MOTOR, NM_PER_INCH).middle) / NM_PER_INCH == Fraction("0.0615")


def test_motor_assembly_worst_case() -> None:
    # Same chapter: +-0.0955, so -0.0340 to +0.1570.
    gap = stack(MOTOR, NM_PER_INCH)
    assert gap.count == 11
    assert Fraction(gap.half) / NM_PER_INCH == Fraction("0.0955")
    assert Fraction(gap.low, NM_PER_INCH) == Fraction("-0.0340")
    assert Fraction(gap.high, NM_PER_INCH) == Fraction("0.1570")


def test_motor_assembly_root_sum_square() -> None:
    # Same chapter: +-0.03808, so 0.02342 to 0.09958.
    gap = stack(MOTOR, NM_PER_INCH)
    rss = gap.rss_half / NM_PER_INCH
    assert rss == pytest.approx(0.03808, abs=5e-6)
    assert float(gap.middle) / NM_PER_INCH - rss == pytest.approx(0.02342, abs=5e-6)
    assert float(gap.middle) / NM_PER_INCH + rss == pytest.approx(0.09958, abs=5e-6)


def test_motor_assembly_modified_root_sum_square() -> None:
    # Same chapter: +-0.05047, so 0.011 to 0.112. Its factor Cf = 1.325510 by a formula that is from memory and
    # reproduces that result.
    gap = stack(MOTOR, NM_PER_INCH)
    assert gap.modified_rss_factor == pytest.approx(1.325510, abs=5e-7)
    modified = gap.modified_rss_half / NM_PER_INCH
    assert modified == pytest.approx(0.05047, abs=5e-6)
    assert float(gap.middle) / NM_PER_INCH - modified == pytest.approx(0.011, abs=5e-4)
    assert float(gap.middle) / NM_PER_INCH + modified == pytest.approx(0.112, abs=5e-4)


def test_shaft_and_bearings_in_a_housing() -> None:
    # Chase 2004, ch. 7, inches: inputs from memory; results computed.
    terms: list[Term] = [
        ("-.0505", ".0015", ".0015"),
        ("8.000", ".008", ".008"),
        ("-.5093", ".0025", ".0025"),
        (".400", ".002", ".002"),
        ("-7.711", ".006", ".006"),
        (".400", ".002", ".002"),
        ("-.5093", ".0025", ".0025"),
    ]
    gap = stack(terms, NM_PER_INCH)
    assert Fraction(gap.middle) / NM_PER_INCH == Fraction("0.0199")  # printed as .020
    assert Fraction(gap.half) / NM_PER_INCH == Fraction("0.0245")
    assert gap.rss_half / NM_PER_INCH == pytest.approx(0.01108, abs=5e-6)


def test_three_blocks_in_a_housing() -> None:
    # A worked example on the web, inches: gap 0.020, worst case +-0.015 (0.005 to 0.035), RSS +-0.00794 (0.012 to
    # 0.028).
    terms: list[Term] = [
        ("4.020", ".005", ".005"),
        ("-2.000", ".005", ".005"),
        ("-1.500", ".003", ".003"),
        ("-.500", ".002", ".002"),
    ]
    gap = stack(terms, NM_PER_INCH)
    assert Fraction(gap.middle) / NM_PER_INCH == Fraction("0.020")
    assert Fraction(gap.half) / NM_PER_INCH == Fraction("0.015")
    assert (Fraction(gap.low, NM_PER_INCH), Fraction(gap.high, NM_PER_INCH)) == (Fraction("0.005"), Fraction("0.035"))
    rss = gap.rss_half / NM_PER_INCH
    assert rss == pytest.approx(0.0079373, abs=1e-7)  # its last digit, and the sum rounded down to the nanometre
    assert 0.020 - rss == pytest.approx(0.012, abs=5e-4)
    assert 0.020 + rss == pytest.approx(0.028, abs=5e-4)


def test_metric_stack_with_one_sided_tolerances() -> None:
    # github phcreery/dimstack, tests/test_mitcalc.py, mm: as drawn 0.25, on the mid-limits 0.40, worst case
    # +-0.383, RSS +-0.17825. "-1.75 -.06" may be 0.06 less in magnitude, and so on.
    terms: list[Term] = [
        ("208", ".036", ".036"),
        ("-1.75", "0", ".06"),
        ("-23", "0", ".12"),
        ("20", ".026", ".026"),
        ("-200", ".145", ".145"),
        ("20", ".026", ".026"),
        ("-23", "0", ".12"),
    ]
    gap = stack(terms, NM_PER_MM)
    assert as_drawn(terms) == Decimal("0.25")
    assert Fraction(gap.middle) / NM_PER_MM == Fraction("0.40")
    assert Fraction(gap.half) / NM_PER_MM == Fraction("0.383")
    assert gap.rss_half / NM_PER_MM == pytest.approx(0.17825, abs=5e-6)


def test_a_single_term_and_none() -> None:
    # By definition (Scholz 1995): one term's worst case, root sum square and modified root sum square are its own
    # tolerance.
    one = Sum.of((9_000, 11_000))
    assert (one.middle, one.half) == (Fraction(10_000), Fraction(1_000))
    assert one.rss_half == one.modified_rss_half == 1_000
    assert (NOTHING.middle, NOTHING.half) == (Fraction(0), Fraction(0))
    assert NOTHING.rss_half == NOTHING.modified_rss_half == 0


LIMITS = st.lists(
    st.tuples(st.integers(-(10**9), 10**9), st.integers(0, 10**7)).map(lambda term: (term[0], term[0] + term[1])),
    min_size=1,
    max_size=8,
)


@given(LIMITS, st.integers(-(10**9), 10**9))
def test_sums_by_their_definition(limits: list[tuple[int, int]], shift: int) -> None:
    # Scholz 1995: worst case adds tolerances, root sum square adds their squares; a constant moves the limits alone.
    total = sum((Sum.of(limit) for limit in limits), NOTHING) + shift
    assert total.low == sum(low for low, _ in limits) + shift
    assert total.high == sum(high for _, high in limits) + shift
    square = sum(Fraction(high - low, 2) ** 2 for low, high in limits)
    assert total.rss_half**2 <= square < (total.rss_half + 1) ** 2
    assert total.rss_half <= total.half
    turned = NOTHING - total
    assert (turned.low, turned.high, turned.rss_half) == (-total.high, -total.low, total.rss_half)
    assert total - shift == sum((Sum.of(limit) for limit in limits), NOTHING)
