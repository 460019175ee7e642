"""What is said of a part beside a build: that it suits it, with what, or why not."""

from collections import Counter
from collections.abc import Mapping
from typing import Final

from catalog.domain import Part
from service.fit.which import Which
from service.fit.wording.answers import ruled_out_text
from service.fit.wording.checks import check_text, check_within
from service.fit.wording.words import Units, length_text, listed, words

WHY: Final = {
    "nothing_fits": "Nothing in the catalog fits this build, so neither does what it names.",
    "retired": "It is retired.",
    "unwanted": "The build asks to do without it.",
    "other_face": "It bolts to a face that nothing here leads to.",
    "not_used": "Nothing that fits this build has a place for it.",
    "other_drive": "The build asks for a pump that is driven another way.",
    "another_named": "The build names its pump already.",
    "of_the_car": "It is a part that a build names: say it in the build to ask about it.",
    "not_asked": "The build does not ask about what it would join.",
}
"""By the stable code of the reason."""


def which_text(which: Which, parts: Mapping[str, Part], units: Units = "mm", against: str = "") -> str:
    """Whether a part suits the build, in one sentence or two; `against` says to what it was held where not to all."""
    if which.ruled_out is not None:
        return ruled_out_text(which.ruled_out, units)
    if which.why:
        return WHY[which.why]
    if which.suits == "no" and which.check is not None:
        return check_text(which.check, units)
    names = [_counted(which, number, count, parts, units) for number, count in Counter(which.with_).items()]
    with_ = f" with {listed(names)}" if names else ""
    if which.suits != "measure_first":
        return f"It fits{with_}, {against}." if against else f"It fits this build{with_}."
    doubt = "" if which.check is None else f": {check_within(which.check, units)}"
    return f"It may fit this build{with_} once something is measured{doubt or '.'}"


_COUNTS: Final = {1: "one", 2: "two", 3: "three"}
"""An option has no more plates."""


def _counted(which: Which, number: str, count: int, parts: Mapping[str, Part], units: Units) -> str:
    """What goes with a part, with how many layers of it where that is more than one: a face may take two a layer."""
    part = parts.get(number)
    if number == which.part.number:
        return f"{_COUNTS[count]} more {'layer' if count == 1 else 'layers'} of these"
    if part is None or count == 1:
        return number if part is None else part.name
    thickness = length_text(part.measures["thickness"].nominal, units)
    return f"{_COUNTS[count]} layers of {thickness} {words(part.kind)}s"
