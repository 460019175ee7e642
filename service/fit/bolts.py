"""Bolts, by clamped group: from the threaded hole that holds the group to the head of the bolt."""

from collections.abc import Mapping
from fractions import Fraction
from functools import cached_property
from typing import Final

import msgspec

from catalog.domain import Connection, Kind, Part
from catalog.standards.threads import least_engagement
from catalog.units import NM_PER_MM
from service.fit.answer import Check, CheckVerdict, Length, RestsOn
from service.fit.belt import rests
from service.fit.graph import is_kit
from service.fit.paths import Seat
from service.fit.question import Question
from service.fit.stack import NOTHING, Sum, likelihood

ENGAGEMENT: Final = RestsOn(
    standard="least thread engagement in bolt diameters: steel 1, cast iron 1.5, aluminium 2 (VDI 2230; Roloff/Matek; "
    "a fastener supplier's handbook, p. 677)"
)


class Group(msgspec.Struct, frozen=True):
    """What one set of bolts clamps: everything from the holding part's face up to the clamped part's flange."""

    holder: Part
    connection: Connection
    """The first joint of the group, whose bolts these are."""
    clamped: Sum | None
    """None where the thickness of the pump's flange is not known."""
    last: Part
    based_on: tuple[RestsOn, ...]
    of_block: bool = True
    """False for joints other than those between block and pump, for which a kit has bolts of their own."""


class Bolted(msgspec.Struct, frozen=True):
    """A group's check and the bolts that were chosen for it."""

    check: Check
    fasteners: Part | None
    quantity: int
    holder: Part


def clamped_groups(question: Question, seat: Seat, pump: Part) -> list[Group]:
    """The groups of a seat: a plate with threaded holes of its own ends one and holds the next."""
    groups = []
    holder, connection = question.slots["engine"], seat.joints[0].connection
    clamped, based_on = NOTHING, list[RestsOn]()
    for place, joint in enumerate(seat.joints):
        clamped += joint.thickness
        if joint.gasket is not None and joint.thickness is not NOTHING:
            based_on.append(rests(joint.gasket, "thickness"))
        part = pump if place == len(seat.plates) else seat.plates[place]
        ends_group = part is pump or "hole_depth" in part.measures
        flange = part is pump or (ends_group and "flange_thickness" in part.measures)
        if part.kind == "outlet_plate" and "flange_thickness" not in part.measures:
            flange = False
        measure = "flange_thickness" if flange else "thickness"
        known = measure in part.measures
        if known:
            clamped += Sum.of(part.measures[measure])
            based_on.append(rests(part, measure))
        if ends_group:
            groups.append(Group(holder, connection, clamped if known else None, part, tuple(based_on)))
            if part is not pump:
                holder, connection = part, seat.joints[place + 1].connection
                clamped, based_on = NOTHING, []
    return groups


def lacking(holder: Part) -> list[str]:
    """What of a part's threaded holes is not known."""
    depth = [] if "hole_depth" in holder.measures else ["hole_depth"]
    return depth + [name for name in ("thread", "hole_material") if name not in holder.attributes]


def spoken_part(part: Part) -> str:
    """What an option has only one of is called by its kind."""
    kinds: dict[Kind, str] = {
        "engine": "the block",
        "water_pump": "the pump",
        "outlet_plate": "the outlet plate",
        "thermostat_housing": "the thermostat housing",
    }
    return kinds.get(part.kind, part.name)


def length_of(part: Part, *, of_block: bool) -> str:
    """Which length of a set counts in a joint between block and pump, and which in another."""
    return "length.housing" if is_kit(part) and not of_block else "length"


class Fit:
    """One set of bolts in one group: engagement = length - washer - clamped."""

    def __init__(self, question: Question, group: Group, part: Part) -> None:
        assert group.clamped is not None
        thread, material = str(part.attributes["thread"]), str(group.holder.attributes["hole_material"])
        self.part, self.group = part, group
        self.measure = length_of(part, of_block=group.of_block)
        kit = self.measure != "length"
        self.length = part.measures[self.measure]
        washer = part.measures.get("washer_thickness")
        grip = group.clamped if washer is None else group.clamped + Sum.of(washer)
        self.engagement = Sum.of(self.length) - grip
        self.depth = Sum.of(group.holder.measures["hole_depth"])
        self.least = least_engagement(thread, material)
        pieces = int(part.attributes.get("housing_pieces" if kit else "pieces", 1))
        self.quantity = max(1, -(-group.connection.bolts // pieces))
        cost = _cost(question, part, self.quantity)
        self.order = (self.length.nominal, cost is None, cost or 0, part.number)

    @property
    def margins(self) -> tuple[Length, Length]:
        """How much more than the least engages, and how much of the hole is left."""
        return self.engagement.middle - self.least, self.depth.middle - self.engagement.middle

    @property
    def relative_margin(self) -> Fraction:
        """The margin of its check over the limit, as options are ranked by it."""
        margin, limit, _ = self._tightest
        return Fraction(margin) / (limit or NM_PER_MM)

    @property
    def _tightest(self) -> tuple[Length, Length, bool]:
        """The margin, what it is held against, and whether that is the depth of the hole."""
        engaged, left = self.margins
        return (left, self.depth.middle, True) if left < engaged else (engaged, self.least, False)

    def bolted(self, facts: Mapping[str, object], zone: str) -> Bolted:
        """The group held by this set."""
        return Bolted(self.check(facts, zone), self.part, self.quantity, self.group.holder)

    @cached_property
    def verdict(self) -> CheckVerdict:
        """`ok` where enough engages and the hole is deep enough everywhere within the doubt."""
        engagement, depth, least = self.engagement, self.depth, self.least
        if engagement.low >= least and engagement.high <= depth.low:
            return "ok"
        if engagement.high < least or engagement.low > depth.high or depth.high < least:
            return "fails"
        return "measure_first"

    def check(self, facts: Mapping[str, object], zone: str) -> Check:
        """The set in this group as a check of an option."""
        engagement, depth = self.engagement, self.depth
        margin, limit, shallow = self._tightest
        slack = depth - engagement if shallow else engagement - self.least
        washer = (rests(self.part, "washer_thickness"),) if "washer_thickness" in self.part.measures else ()
        return Check(
            code="bolts",
            verdict=self.verdict,
            reason="engagement",
            facts={
                **facts,
                "bolts": self.part.name,
                "bolt_length": self.length.nominal,
                "least": self.least,
                "depth": depth.middle,
                "binds": "depth" if shallow else "least",
                "of_block": self.group.of_block,
            },
            value=engagement.middle,
            limit=limit,
            margin=margin,
            worst_case=min(engagement.low - self.least, depth.low - engagement.high),
            rss=margin - slack.rss_half,
            likelihood=likelihood(slack, 0, None) if self.verdict == "measure_first" else None,
            rests_on=(
                rests(self.part, self.measure),
                *washer,
                *self.group.based_on,
                rests(self.group.holder, "hole_depth"),
                ENGAGEMENT,
            ),
            zone=zone,
        )


def _cost(question: Question, part: Part, quantity: int) -> int | None:
    """What must be paid for the sets that are not at hand; None where they have no price."""
    buy = quantity - min(quantity, question.have.get(part.number, 0))
    return 0 if buy == 0 else None if part.price is None else part.price.amount * buy
