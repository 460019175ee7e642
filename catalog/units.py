"""Lengths and money as people write them, held as exact integers.

A length is held in nanometres: 1/64 in is 396,875 nm exactly (1 in = 25.4 mm exactly,
NIST SP 811), so no verdict depends on floating point. Money is held in the currency's
minor units (ISO 4217).
"""

import re
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from functools import cache, lru_cache
from typing import Final

import iso4217

NM_PER_MM: Final = 1_000_000
NM_PER_INCH: Final = 25_400_000
LENGTH_LIMIT: Final = 10_000 * NM_PER_MM
"""No length at the front of an engine is longer than 10 m; a larger one is a slip."""

_UNITS: Final = {"mm": NM_PER_MM, "cm": 10 * NM_PER_MM, "in": NM_PER_INCH, '"': NM_PER_INCH}
_LENGTH: Final = re.compile(
    r"""\s*(?P<sign>[-+]?)
        (?: (?P<whole>\d{1,9}) [\s-]+ (?P<over>\d{1,4})/(?P<under>\d{1,4})
          | (?P<top>\d{1,4})/(?P<bottom>\d{1,4})
          | (?P<decimal>\d{1,9}(?:\.\d{1,9})?|\.\d{1,9}) )
        \s*(?P<unit>mm|cm|in|")\s*""",
    re.VERBOSE | re.IGNORECASE | re.ASCII,
)
LENGTH_PATTERN: Final = (
    r"^\s*[-+]?(\d{1,9}[\s-]+\d{1,4}/\d{1,4}|\d{1,4}/\d{1,4}|\d{1,9}(\.\d{1,9})?|\.\d{1,9})"
    r"\s*([mMcC][mM]|[iI][nN]|\")\s*$"
)
"""The same grammar for the API's schema."""


@lru_cache(maxsize=1024)  # a catalog says "0.1 mm" more often than anything else
def parse_length(text: str) -> int:
    """Length in nanometres of ``"146 mm"``, ``"14.6 cm"``, ``"5.75 in"``, ``"5 3/4 in"``, ``'5-3/4"'``.

    Raises
    ------
    ValueError
        When there is no unit, the unit is unknown, or the length is beyond 10 m.
    """
    found = _LENGTH.fullmatch(text)
    if found is None:
        if re.fullmatch(r"\s*[-+]?[\d./ -]+\s*", text):
            raise ValueError(f'"{text}" has no unit; write it as "146 mm", "14.6 cm" or "5 3/4 in"')
        raise ValueError(f'"{text}" is not a length; write it as "146 mm", "14.6 cm" or "5 3/4 in"')
    if (found["under"] or found["bottom"] or "1").strip("0") == "":
        raise ValueError(f'"{text}" divides by zero')
    if found["decimal"] is not None:
        number = Fraction(Decimal(found["decimal"]))
    elif found["whole"] is not None:
        number = int(found["whole"]) + Fraction(int(found["over"]), int(found["under"]))
    else:
        number = Fraction(int(found["top"]), int(found["bottom"]))
    length = round(number * _UNITS[found["unit"].lower()])
    return _within_limit(-length if found["sign"] == "-" else length, text)


def from_millimetres(value: float) -> int:
    """Length in nanometres of a number of millimetres, as it is written (146.2 is 146,200,000 nm)."""
    try:
        exact = Decimal(repr(value)) * NM_PER_MM
        length = int(exact.to_integral_value())
    except (InvalidOperation, ValueError, OverflowError):
        raise ValueError(f"{value!r} is not a length in millimetres") from None
    return _within_limit(length, f"{value} mm")


def _within_limit(length: int, text: str) -> int:
    if abs(length) > LENGTH_LIMIT:
        raise ValueError(f'"{text}" is longer than the 10 m that anything here can be')
    return length


def length_text(length: int) -> str:
    """A length in millimetres, exactly, as `parse_length` reads it: 146,050,000 nm is ``"146.05 mm"``."""
    text = f"{Decimal(length) / NM_PER_MM:f}"
    return f"{text.rstrip('0').rstrip('.') if '.' in text else text} mm"


def millimetres(length: int | Fraction) -> float:
    """Millimetres, rounded to the 0.001 mm in which the API answers."""
    return round(length.numerator / (length.denominator * NM_PER_MM), 3) + 0.0


def parse_money(text: str) -> tuple[int, str]:
    """Minor units and currency of ``"149.00 USD"``.

    Raises
    ------
    ValueError
        When the amount is negative, has more decimals than the currency, or the currency
        is not one of ISO 4217.
    """
    found = re.fullmatch(r"\s*(\d{1,9}(?:\.\d{1,4})?)\s+([A-Z]{3})\s*", text, re.ASCII)
    if found is None:
        raise ValueError(f'"{text}" is not a price; write it as "149.00 USD"')
    return minor_units(Decimal(found[1]), found[2]), found[2]


def minor_units(amount: Decimal, currency: str) -> int:
    """Minor units of an amount: 149.00 USD is 14,900, 149 JPY is 149."""
    scaled = amount.scaleb(exponent(currency))
    if scaled != scaled.to_integral_value():
        raise ValueError(f"{amount} has more decimals than {currency} has")
    return int(scaled)


def amount_text(minor: int, currency: str) -> str:
    """The amount in major units, with the currency's decimals: 14,900 USD is ``"149.00"``."""
    return f"{Decimal(minor).scaleb(-exponent(currency)):f}"


@cache
def exponent(currency: str) -> int:
    """Decimals of a currency (ISO 4217).

    Raises
    ------
    ValueError
        When the currency is not one of ISO 4217.
    """
    try:
        return iso4217.Currency(currency).exponent or 0
    except ValueError:
        raise ValueError(f'"{currency}" is not a currency of ISO 4217') from None
