"""V-ribbed belts: against the standards, a belt maker's maintenance manual, 2008, and a published guideline."""

from fractions import Fraction
from math import atan, degrees, radians, tan

import pytest

from catalog.standards import belts

NM = 1_000_000


# ISO 9982.
@pytest.mark.parametrize(("profile", "pitch"), [("PH", 1.60), ("PJ", 2.34), ("PK", 3.56), ("PL", 4.70), ("PM", 9.40)])
def test_rib_pitch(profile: str, pitch: float) -> None:
    assert belts.RIB_PITCH[profile] == round(pitch * NM)
    assert len(belts.RIB_PITCH) == 5


# Width = ribs x 3.56 mm: the formula of ISO 9981 from memory, the pitch of ISO 9982; products computed.
@pytest.mark.parametrize(("ribs", "width"), [(3, 10.68), (4, 14.24), (5, 17.80), (6, 21.36), (7, 24.92), (8, 28.48)])
def test_width_of_a_pk_belt(ribs: int, width: float) -> None:
    assert belts.belt_width("PK", ribs) == round(width * NM)


def test_least_diameter_of_a_pk_pulley() -> None:
    # 45 mm, ISO 9981:2020, 5.2.
    assert belts.LEAST_DIAMETER_PK == 45 * NM


# mm per 100 mm = 100 tan a (computed). 0.33 degrees: SAE 1999-01-1709, abstract. 0.25 degrees: a belt maker's
# maintenance manual, 2008.
@pytest.mark.parametrize(
    ("slope", "angle", "per_100_mm"),
    [(belts.CHIRP_GUIDELINE, 0.33, "0.575965"), (belts.QUARTER_DEGREE, 0.25, "0.436335")],
)
def test_entry_angles_as_slopes(slope: Fraction, angle: float, per_100_mm: str) -> None:
    assert slope == Fraction(per_100_mm) / 100
    assert float(slope) == pytest.approx(tan(radians(angle)), abs=1e-8)
    assert belts.allowed_offset(100 * NM, slope) == Fraction(per_100_mm) * NM


def test_the_default_is_stricter_than_the_industrys_limit() -> None:
    # SAE J1596, pulley misalignment: 0.58 mm per 100 mm, told there as 0.33 degrees (0.3323 computed).
    assert belts.allowed_offset(100 * NM, belts.INDUSTRY_SLOPE) == 580_000
    assert degrees(atan(belts.INDUSTRY_SLOPE)) == pytest.approx(0.3323, abs=5e-5)
    assert belts.DEFAULT_SLOPE < belts.CHIRP_GUIDELINE < belts.INDUSTRY_SLOPE


def test_the_two_wordings_of_the_belt_makers_manual_disagree_and_one_is_the_default() -> None:
    # A belt maker's maintenance manual, 2008, says "within 1/4 degree or 1/16 in per ft" for V-ribbed belts.
    # 1/16 in per ft is 1/192, or 0.2984 degrees (computed), so the two halves are not the same limit.
    assert Fraction(1, 16) / 12 == Fraction(1, 192) == belts.DEFAULT_SLOPE
    assert degrees(atan(belts.DEFAULT_SLOPE)) == pytest.approx(0.2984, abs=5e-5)
    assert degrees(atan(belts.QUARTER_DEGREE)) == pytest.approx(0.25, abs=1e-6)
    # The default is 1/16 in per ft: what a fitter measures with a straight edge and a rule, an exact ratio,
    # and inside the chirp guideline, so that a belt which passes it passes that too.
    assert belts.allowed_offset(192 * NM) == NM
    assert belts.QUARTER_DEGREE < belts.DEFAULT_SLOPE < belts.CHIRP_GUIDELINE


# Offset over span: angles computed with atan; the limits are the three above.
@pytest.mark.parametrize(
    ("offset", "span", "angle", "quarter_degree", "default", "chirp"),
    [
        (1_000_000, 200 * NM, 0.2865, False, True, True),
        (1_500_000, 200 * NM, 0.4297, False, False, False),
        (1_100_000, 200 * NM, 0.3151, False, False, True),
        (870_000, 200 * NM, 0.2492, True, True, True),
    ],
)
def test_offset_over_a_span(
    offset: int, span: int, angle: float, quarter_degree: bool, default: bool, chirp: bool
) -> None:
    assert degrees(atan(offset / span)) == pytest.approx(angle, abs=5e-5)
    assert (offset <= belts.allowed_offset(span, belts.QUARTER_DEGREE)) is quarter_degree
    assert (offset <= belts.allowed_offset(span)) is default
    assert (offset <= belts.allowed_offset(span, belts.CHIRP_GUIDELINE)) is chirp


def test_groove_positions_by_hand() -> None:
    # By hand: six ribs on six grooves sit in the middle; on seven they sit half a pitch to either side;
    # on twelve there are seven places, one pitch (3.56 mm) apart; seven ribs do not go on six grooves.
    assert belts.groove_positions(6, 6, "PK") == [0]
    assert belts.groove_positions(7, 6, "PK") == [-1_780_000, 1_780_000]
    assert belts.groove_positions(12, 6, "PK") == [3_560_000 * place for place in range(-3, 4)]
    assert belts.groove_positions(6, 7, "PK") == []


@pytest.mark.parametrize("grooves", range(1, 13))
@pytest.mark.parametrize("ribs", range(1, 9))
def test_every_groove_position_keeps_the_whole_belt_on_its_grooves(grooves: int, ribs: int) -> None:
    pitch = belts.RIB_PITCH["PK"]
    grooved = [(2 * groove - grooves + 1) * pitch // 2 for groove in range(grooves)]
    for position in belts.groove_positions(grooves, ribs, "PK"):
        ribbed = [position + (2 * rib - ribs + 1) * pitch // 2 for rib in range(ribs)]
        assert set(ribbed) <= set(grooved)
