"""The cover: whether the pump clears it, zone by zone."""

from typing import Final

from catalog.domain import Part
from service.fit.answer import Check
from service.fit.axis import AxialTest
from service.fit.belt import rests
from service.fit.stack import Sum

AIR_GAP: Final = 1_500_000
"""Least air between pump and cover, nm (common practice, no source)."""


def cover_tests(cover: Part, pump: Part) -> tuple[list[AxialTest], list[Check]]:
    """One test for each zone that both name; a check that was not asked where they name none in common."""
    tests = []
    for name in sorted(cover.measures):
        plain, _, zone = name.partition(".")
        room = f"cover_room.{zone}" if zone else "cover_room"
        if plain != "cover_height" or room not in pump.measures:
            continue
        base = Sum.of(pump.measures[room]) - Sum.of(cover.measures[name])
        tests.append(
            AxialTest(
                "cover",
                "cover_clearance",
                base,
                1,
                AIR_GAP,
                at_least=True,
                zone=zone,
                facts={"pump": pump.name, "seat": pump.kind, "cover": cover.name},
                rests_on=(rests(pump, room), rests(cover, name)),
            )
        )
    if tests:
        return tests, []
    return [], [
        Check("cover", "not_asked", "no_common_zone", {"pump": pump.name, "seat": pump.kind, "cover": cover.name})
    ]
