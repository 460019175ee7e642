"""The cover: whether the pump clears it, zone by zone."""

from typing import Final

from catalog.domain import Part
from catalog.vocabulary import free_zones
from service.fit.answer import Check
from service.fit.axis import AxialTest
from service.fit.belt import rests
from service.fit.question import Question
from service.fit.stack import Sum
from service.fit.unknown import not_known

AIR_GAP: Final = 1_500_000
"""Least air between pump and cover, nm (common practice, no source)."""


def cover_tests(question: Question, cover: Part, pump: Part) -> tuple[list[AxialTest], list[Check]]:
    """A test for each zone that the cover names, or a check where the pump states no room there, or that it is free."""
    tests, checks, free = list[AxialTest](), list[Check](), free_zones(pump)
    facts = {"pump": pump.name, "seat": pump.kind, "cover": cover.name}
    zones = [name for name in sorted(cover.measures) if name.partition(".")[0] == "cover_height"]
    if not zones:
        checks.append(not_known(question.stated, "cover", [(cover, "cover_height")], about=facts))
    for name in zones:
        zone = name.partition(".")[2]
        room = f"cover_room.{zone}" if zone else "cover_room"
        if room not in pump.measures:
            checks.append(
                Check("cover", "ok", "zone_is_free", facts, zone=zone)
                if zone in free
                else not_known(question.stated, "cover", [(pump, room)], zone, facts)
            )
            continue
        base = Sum.of(pump.measures[room]) - Sum.of(cover.measures[name])
        rest = (rests(pump, room), rests(cover, name))
        tests.append(AxialTest("cover", "cover_clearance", base, 1, AIR_GAP, True, zone, facts, rest))
    return tests, checks
