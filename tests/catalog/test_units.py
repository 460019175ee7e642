"""Lengths and money: against the definition of the inch and of the currencies' minor units."""

import re
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalog import units

# 1 in = 25.4 mm exactly (1959; NIST SP 811 and ISO 80000-3, from memory; the products computed).
INCHES_IN_MM = [
    ("5/8 in", "15.875"),
    ("3/4 in", "19.05"),
    ("1 in", "25.4"),
    ("1-1/4 in", "31.75"),
    ("1-1/2 in", "38.1"),
    ("1-3/4 in", "44.45"),
    ("2 in", "50.8"),
]


@pytest.mark.parametrize(("inches", "millimetres"), INCHES_IN_MM)
def test_inches_are_exact_millimetres(inches: str, millimetres: str) -> None:
    length = units.parse_length(inches)
    assert length == Decimal(millimetres) * 1_000_000
    assert units.parse_length(f"{millimetres} mm") == length
    assert units.from_millimetres(float(millimetres)) == length
    assert units.millimetres(length) == float(millimetres)


def test_sixty_fourths_and_sixteenths_are_whole_nanometres() -> None:
    # 25.4 mm / 64 = 396,875 nm and 25.4 mm / 16 = 1,587,500 nm: neither is a whole number of micrometres.
    assert units.parse_length("1/64 in") == 396_875
    assert units.parse_length("1/16 in") == 1_587_500


def test_metric_hose_sizes_are_not_the_inch_sizes_beside_them() -> None:
    # 38 mm against 1 1/2 in (38.1) and 32 mm against 1 1/4 in (31.75): computed from 1 in = 25.4 mm.
    assert units.parse_length("1 1/2 in") - units.parse_length("38 mm") == 100_000
    assert units.parse_length("32 mm") - units.parse_length("1 1/4 in") == 250_000


@pytest.mark.parametrize(
    "text", ["146.05 mm", "14.605 cm", "5.75 in", "5 3/4 in", '5-3/4"', "5 - 3/4 IN", "23/4 in", '  5.75"  ', "+5.75in"]
)
def test_every_way_of_writing_one_length(text: str) -> None:
    assert units.parse_length(text) == 146_050_000
    assert re.fullmatch(units.LENGTH_PATTERN, text)


def test_negative_lengths() -> None:
    assert units.parse_length("-1.5 mm") == -1_500_000
    assert units.parse_length("-1 1/2 in") == -38_100_000


@pytest.mark.parametrize("text", ["146", "5 3/4", "1.5", "-3"])
def test_a_length_without_a_unit_says_so(text: str) -> None:
    with pytest.raises(ValueError, match="no unit"):
        units.parse_length(text)


@pytest.mark.parametrize(
    "text",
    ["", "mm", "146 furlong", "146 m", "nan mm", "inf mm", "1e3 mm", "1,5 mm", "5 3/4 3/4 in", "\u0665 mm", "- 5 mm"],
)
def test_what_is_no_length_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="is not a length"):
        units.parse_length(text)
    assert not re.fullmatch(units.LENGTH_PATTERN, text, re.ASCII)


def test_division_by_zero_is_refused() -> None:
    with pytest.raises(ValueError, match="divides by zero"):
        units.parse_length("1/0 in")
    with pytest.raises(ValueError, match="divides by zero"):
        units.parse_length("5 3/00 in")


@pytest.mark.parametrize("text", ["10000.1 mm", "-400 in", "999999999 cm"])
def test_absurd_lengths_are_refused(text: str) -> None:
    with pytest.raises(ValueError, match="longer than the 10 m"):
        units.parse_length(text)


@pytest.mark.parametrize("value", [float("nan"), float("inf"), float("-inf"), 1e300, 10_000.5])
def test_absurd_millimetres_are_refused(value: float) -> None:
    with pytest.raises(ValueError, match=r"is not a length|longer than"):
        units.from_millimetres(value)


def test_millimetres_are_taken_as_written() -> None:
    assert units.from_millimetres(146.2) == 146_200_000
    assert units.from_millimetres(0.1 + 0.2) == 300_000
    assert units.from_millimetres(146) == 146_000_000


@given(st.integers(0, 300), st.sampled_from([2, 4, 8, 16, 32, 64]), st.data())
def test_a_tape_reading_is_its_exact_fraction(whole: int, under: int, data: st.DataObject) -> None:
    over = data.draw(st.integers(0, under))
    assert units.parse_length(f"{whole} {over}/{under} in") == (whole + Fraction(over, under)) * 25_400_000


@given(st.integers(-10_000_000, 10_000_000))
def test_thousandths_of_a_millimetre_come_back_as_they_went_in(thousandths: int) -> None:
    length = thousandths * 1_000
    assert units.from_millimetres(units.millimetres(length)) == length


def test_output_is_rounded_to_a_thousandth_and_never_minus_zero() -> None:
    assert units.millimetres(1_234_567) == 1.235
    assert units.millimetres(Fraction(1, 3)) == 0.0
    assert str(units.millimetres(-1)) == "0.0"


# Minor units of ISO 4217 as listed: 2 decimals for USD, EUR and GBP, none for JPY, 3 for BHD and KWD, 4 for CLF.
@pytest.mark.parametrize(
    ("currency", "decimals"), [("USD", 2), ("EUR", 2), ("GBP", 2), ("JPY", 0), ("BHD", 3), ("KWD", 3), ("CLF", 4)]
)
def test_minor_units_of_currencies(currency: str, decimals: int) -> None:
    assert units.exponent(currency) == decimals
    assert units.parse_money(f"149 {currency}") == (149 * 10**decimals, currency)
    assert units.amount_text(149 * 10**decimals, currency) == f"{149:.{decimals}f}"


def test_money_as_people_write_it() -> None:
    assert units.parse_money("149.00 USD") == (14_900, "USD")
    assert units.amount_text(14_905, "USD") == "149.05"
    assert units.amount_text(5, "USD") == "0.05"


@pytest.mark.parametrize(
    "text", ["149.00", "-1 USD", "149.001 USD", "1.5 JPY", "149 usd", "149 QQQ", "$149", "nan USD"]
)
def test_what_is_no_price_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"is not a price|more decimals|is not a currency"):
        units.parse_money(text)
