"""What the engine answers, as data: lengths in nanometres, no sentences. Words are made from it by `wording`."""

from collections.abc import Mapping
from fractions import Fraction
from typing import Any, Literal

import msgspec

from catalog.domain import Direction, Kind, Price, Role, Side
from service.fit.build import Build, Work

Code = Literal[
    "face",
    "belt_plane",
    "belt",
    "rotation",
    "crank",
    "cover",
    "carried_parts",
    "radiator_gap",
    "bolts",
    "outlet_path",
    "inlet_path",
    "thermostat",
    "heater_path",
    "bypass",
    "vent",
    "hub",
    "rule",
    "price",
    "work",
    "without",
    "outlet_side",
    "outlet_direction",
]
CheckVerdict = Literal["ok", "measure_first", "fails", "not_asked"]
Length = int | Fraction
Facts = Mapping[str, Any]


class RestsOn(msgspec.Struct, frozen=True):
    """Where a fact comes from: a measure of a part and how it was taken, a rule, or a standard."""

    part: str = ""
    measure: str = ""
    taken_with: str = ""
    source: str = ""
    rule: str = ""
    standard: str = ""


class Check(msgspec.Struct, frozen=True):
    """One test of an option. `reason` is the stable code of its sentence, `facts` what the sentence needs."""

    code: Code
    verdict: CheckVerdict
    reason: str
    facts: Facts = {}
    value: Length | None = None
    limit: Length | None = None
    margin: Length | None = None
    worst_case: Length | None = None
    """The margin at worst case."""
    rss: Length | None = None
    """The margin by root sum square."""
    likelihood: float | None = None
    rests_on: tuple[RestsOn, ...] = ()
    zone: str = ""
    """Which of several of the kind: a cover's zone, a carried part, a clamped group."""


class Layer(msgspec.Struct, frozen=True):
    """One piece of the stack between block and pump, nm from the block's pump face."""

    part: str
    from_: Length
    to: Length


class Alternative(msgspec.Struct, frozen=True):
    """Another part for the same role, and what the list would cost more with it; absent where a price is unknown."""

    part: str
    price_difference: Price | None


class ListedPart(msgspec.Struct, frozen=True):
    """A part of the option to buy or already at hand."""

    part: str
    name: str
    kind: Kind
    role: str
    quantity: int
    at_hand: int
    price: Price | None
    why: str
    """The stable code of the sentence that says why it is there."""
    facts: Facts = {}
    alternatives: tuple[Alternative, ...] = ()


class OpenPort(msgspec.Struct, frozen=True):
    """A port that the build did not ask about: the asker's own to connect."""

    part: str
    port: str
    role: Role
    connection: str
    side: Side | None = None
    direction: Direction | None = None
    wet: bool = False


class Offer(msgspec.Struct, frozen=True):
    """A part that would go well and that nothing needs, by the stable code of its reason."""

    part: str
    name: str
    price: Price | None
    why: str


class Caution(msgspec.Struct, frozen=True):
    """A danger that goes with the option, by its stable code."""

    code: str
    facts: Facts = {}


class AboveNext(msgspec.Struct, frozen=True):
    """The ranking key on which an option stands above the next, and both values."""

    key: str
    this: Any
    next: Any


class Window(msgspec.Struct, frozen=True):
    """Total thickness of plates and gaskets that would serve; open above where `to` is None."""

    from_: Length
    to: Length | None


class Option(msgspec.Struct, frozen=True):
    """One way to do it."""

    rank: int
    pump: str
    plates: tuple[str, ...]
    """From the block outward, one entry a layer."""
    work: Work
    verdict: Literal["ok", "measure_first"]
    recommended: bool
    buy_price: Price | None
    least_margin: Length | None
    thickness_window: Window | None
    stack: tuple[Layer, ...]
    parts_list: tuple[ListedPart, ...]
    checks: tuple[Check, ...]
    open_ports: tuple[OpenPort, ...]
    cautions: tuple[Caution, ...]
    offers: tuple[Offer, ...]
    above_next: AboveNext | None


class RuledOut(msgspec.Struct, frozen=True):
    """A pump on the same face without an option: the check that its nearest miss fails."""

    pump: str
    name: str
    plates: tuple[str, ...]
    check: Check
    short_by: Length | None
    thickness_window: Window | None
    measuring: bool
    """Whether measuring again could mend it: the miss rests on a reading of the asker's own."""


class Obstacle(msgspec.Struct, frozen=True):
    """A pump that meets every other requirement of a conflict, and the check by which it fails this one."""

    requirement: str
    """The field of the build; empty where the build requires nothing and still nothing fits."""
    pump: str
    name: str
    plates: tuple[str, ...]
    check: Check
    window: Window | None
    """Total thickness of plates and gaskets that this requirement needs with this pump, where it needs any."""


class Conflict(msgspec.Struct, frozen=True):
    """Requirements of the build that no option meets together, though any fewer of them are met."""

    requirements: tuple[str, ...]
    obstacles: tuple[Obstacle, ...]
    """What stands in the way, from each side that differs."""


class Remedy(msgspec.Struct, frozen=True):
    """A least change of the build that gives an option: requirements given up, or parts taken instead."""

    give_up: tuple[str, ...]
    swap: Mapping[str, Any]
    """By field, what to say there instead."""
    names: Mapping[str, str]
    """By field, what the catalog calls the part that is taken instead."""
    swap_price: Price | None
    """What the parts taken instead cost; None where none is taken or one has no price."""
    best: Option
    """The first option of the build so changed."""


class Replaced(msgspec.Struct, frozen=True):
    """A field of the build that named a retired part."""

    field: str
    asked: str
    answered: str


class Answer(msgspec.Struct, frozen=True):
    """The answer to a build."""

    build: Build
    """The build as understood, in one canonical form."""
    verdict: Literal["fits", "measure_first", "blocked"]
    not_checked: tuple[str, ...]
    """The build's fields that were left out and so asked nothing."""
    replaced: tuple[Replaced, ...]
    """Retired parts that the build names, each answered with the part that replaces it."""
    options: tuple[Option, ...]
    pumps_that_fit: int
    """Pumps with an option, listed or not."""
    ruled_out: tuple[RuledOut, ...]
    ruled_out_total: int
    conflicts: tuple[Conflict, ...]
    remedies: tuple[Remedy, ...]
    truncated: bool
    """Whether there may be more conflicts or remedies than these."""
    decided: bool
