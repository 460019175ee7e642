"""What the reference page is made of: an entry a code, with examples from which the wording module makes sentences."""

from fractions import Fraction
from typing import Any, Final

import msgspec

from catalog.units import NM_PER_MM
from service.fit.answer import Check, CheckVerdict, Code
from service.fit.told import Lack

MM: Final = NM_PER_MM


class Entry(msgspec.Struct, frozen=True):
    """One code with its heading, its meaning, the field or fact that it hangs on, and examples of it."""

    code: str
    heading: str
    meaning: str
    hangs_on: str
    examples: tuple[Any, ...]


class Section(msgspec.Struct, frozen=True):
    """Codes of one kind."""

    title: str
    about: str
    entries: tuple[Entry, ...]


PUMP = "Mossheron middle pump"
DRIVE = "Rowanfinch wide drive"
PULLEY = "Mossheron pulley, 6 grooves"
COVER = "tall cover"
ENGINE = "Rowanfinch 20 block"
FACTS: Final = {"pump": PUMP, "drive": DRIVE, "pulley": PULLEY, "cover": COVER, "engine": ENGINE}


def check(code: Code, verdict: CheckVerdict, reason: str, facts: dict[str, Any] | None = None, **numbers: Any) -> Check:
    """An example of a check, with the names that most sentences take."""
    return Check(code, verdict, reason, FACTS | (facts or {}), **numbers)


def lacking(*facts: tuple[str, str]) -> dict[str, Any]:
    """What a check lacks, by the name of the part and the fact."""
    return {"lacks": tuple(Lack("", name, "", fact) for name, fact in facts)}


def within(
    code: Code, verdict: CheckVerdict, reason: str, value: float, limit: float, doubt: float = 0.4, **more: Any
) -> Check:
    """A check with numbers: mm from the middle, mm allowed, mm of doubt either way."""
    facts = {name: more.pop(name) for name in list(more) if name not in ("zone", "at_least")}
    nm, most, half = (Fraction(round(length * 1000)) * MM / 1000 for length in (value, limit, doubt))
    margin = nm - most if more.pop("at_least", False) else most - abs(nm)
    likely = 0.62 if verdict == "measure_first" else None
    numbers = {"value": nm, "limit": most, "margin": margin, "worst_case": margin - half, "likelihood": likely}
    return check(code, verdict, reason, facts, **numbers, **more)
