"""Readings that contradict the part they are of: is it this part at all?

Such a reading replaces nothing: what follows goes by the catalog, and whatever takes the part must be measured first.
"""

from collections.abc import Mapping
from typing import Final

from catalog.domain import Measure, Part
from service.fit.answer import Challenged, RestsOn

ALLOWANCE: Final = 3_000_000
"""How far beyond both doubts a reading may lie from what the catalog says, nm (common practice, no source).

Hubs are pressed on a little differently and cast faces are ground again; whoever reads to the wrong face, or a part of
another number, is mostly farther off.
"""


def challenge(part: Part, read: Measure) -> Challenged | None:
    """The challenge of a reading of a part as the catalog has it; None where they go together, or nothing is known."""
    known = _known(part.measures, read.name)
    if known is None:
        return None
    name, low, high, nominal = known
    if max(read.low - high, low - read.high) <= ALLOWANCE:
        return None
    return Challenged(
        part=part.number,
        name=part.name,
        measure=read.name,
        read=read.nominal,
        known=nominal,
        beyond=max(read.low - high, low - read.high),
        rests_on=RestsOn(part.number, name, part.measures[name].taken_with, part.measures[name].source),
    )


def _known(measures: Mapping[str, Measure], name: str) -> tuple[str, int, int, int] | None:
    """What the catalog says of a measure: which it is from, its limits and its nominal.

    The front edge of a pulley lies ahead of the belt's plane by the pulley's own offset.
    """
    own = measures.get(name)
    if own is not None:
        return name, own.low, own.high, own.nominal
    plane, offset = measures.get("belt_plane"), measures.get("front_offset")
    if name != "pulley_front" or plane is None or offset is None:
        return None
    return "belt_plane", plane.low + offset.low, plane.high + offset.high, plane.nominal + offset.nominal
