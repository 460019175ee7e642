"""What is said of lines: how narrow they are, which hoses serve, what housings there are, and what nobody states."""

from collections.abc import Callable
from typing import TYPE_CHECKING, Final

from service.fit.wording.words import LINE_WORDS, OUTLET_WORDS, listed, measure_text, named, upper

if TYPE_CHECKING:
    from service.fit.wording.checks import _Say

LINES: Final = {
    # The lines of which it is told how narrow they are.
    "upper": "line to the radiator's upper port",
    "lower": "line from the radiator's lower port",
    "pumped": "line from the pump elsewhere",
    "heater_feed": "line to the heater",
    "heater_return": "line back from the heater",
    "loop": "loop from the heater feed to the heater return",
}
LACKS: Final = ("side", "direction", "port_size")
"""What may be lacking of a port in a line; what it means for the line is told with it."""


def _hoses(say: "_Say") -> str:
    start, end = LINE_WORDS[say.fact("obligation")]
    where = f"from {start} of {say.fact('pump')} to {end}"
    if say.check.reason == "hoses_cross":
        return f"Every hose that could lead {where} crosses to the other side, and the line must not."
    return f"The line {where} must cross to the other side, and no hose that could serve does."


def _housings(say: "_Say") -> str:
    faces = named(list(say.fact("faces")))
    pump = upper(say.fact("pump"))
    return f"The housings that there are have another face: {faces}. {pump} has this: {say.fact('own')}."


def _housing(say: "_Say") -> str:
    faces = named(list(say.fact("faces")))
    return f"{upper(say.fact('part'))} has this face: {say.fact('own')}. The pump has another: {faces}."


def _size(say: "_Say") -> str:
    line, narrowest = _line(say), f"{say.fact('narrowest_said')} ({say.fact_length('narrowest', 1)})"
    if say.check.facts.get("of") is None:
        return f"{line} is {narrowest} at its narrowest."
    port = f"its smaller port is {say.fact('of_said')} ({say.fact_length('of', 1)})"
    if say.check.reason == "line_stays_wide":
        return f"{line} is {narrowest} at its narrowest; {port}."
    narrows = "narrows" if say.check.verdict == "ok" else "would narrow"
    return f"{line} {narrows} to {narrowest}; {port}, and {say.limit} is the least."


def _one_size(say: "_Say") -> str:
    return f"{_line(say)} is of one size from end to end."


def _through_branch(say: "_Say") -> str:
    return f"{_line(say)} would run through a joint for a heater, a bypass or a vent: {say.fact('through')}."


def not_known(say: "_Say") -> str:
    """What nobody states, and what hangs on it."""
    lacks = f"it is not known {listed([measure_text(lack.fact, lack.name) for lack in say.fact('lacks')])}"
    if say.check.code == "line_size":
        return f"{_line(say)} may be too narrow: {lacks}."
    if "wanted" in say.check.facts:
        return f"{upper(lacks)}; you ask for an outlet that {OUTLET_WORDS[say.fact('wanted')]}."
    parts = f" This list takes {listed(say.fact('parts'))}." if say.fact("parts") else ""
    return f"{upper(lacks)}, and which hose serves hangs on it.{parts}"


def _line(say: "_Say") -> str:
    return f"The {LINES[say.fact('line')]}"


TOLD: Final[dict[str, "Callable[[_Say], str]"]] = {
    "hoses_cross": _hoses,
    "no_hose_crosses": _hoses,
    "housings_of_another_face": _housings,
    "housing_of_another_face": _housing,
    "line_stays_wide": _size,
    "line_narrows": _size,
    "line_too_narrow": _size,
    "line_of_one_size": _one_size,
    "line_through_branch": _through_branch,
}
"""By reason how it is told."""
