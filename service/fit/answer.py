"""What the engine answers, as data: lengths in nanometres, no sentences. Words are made from it by `wording`."""

from collections.abc import Iterable, Mapping
from fractions import Fraction
from typing import Any, Literal

import msgspec

from catalog.domain import Direction, Kind, Price, Role, Side, TakenWith
from catalog.units import NM_PER_MM
from service.fit.build import Build, Work
from service.fit.kept import Derived
from service.fit.taking import Length as Length  # noqa: PLC0414  (part of what a check is, and so imported from here)
from service.fit.taking import Settling
from service.fit.told import Caution, Note, Told
from service.fit.told import Facts as Facts  # noqa: PLC0414  (part of what a check is, and so imported from here)

Code = Literal[
    "reading",
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
    "line_size",
    "hub",
    "rule",
    "price",
    "work",
    "without",
    "outlet_side",
    "outlet_direction",
]
CheckVerdict = Literal["ok", "measure_first", "fails", "not_asked"]


def worst(verdicts: Iterable[CheckVerdict]) -> CheckVerdict:
    """The verdict of all of them: `fails` where any does, else `measure_first` where any asks for it, else `ok`."""
    found = set(verdicts)
    return "fails" if "fails" in found else "measure_first" if "measure_first" in found else "ok"


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
    settle: Settling | None = None
    """What would settle it, where it must be measured first and the answer is to be explained."""


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
    work: Work = "bolt_on"
    """What connecting it takes at least, whichever part of the catalog meets it."""


class Offer(msgspec.Struct, frozen=True):
    """A part that would go well and that nothing needs, by the stable code of its reason."""

    part: str
    name: str
    price: Price | None
    why: str


class Spare(msgspec.Struct, frozen=True):
    """What a check leaves beside its limit, nm; options are ranked by the one over the other."""

    code: Code
    margin: Length
    limit: Length
    beyond: bool
    """Whether the limit is the least that must be there, so that the margin lies beyond it; else inside it."""

    @property
    def share(self) -> Fraction:
        """Margin over its limit; over 1 mm where that is nothing."""
        return Fraction(self.margin) / (self.limit or NM_PER_MM)


class AboveNext(msgspec.Struct, frozen=True):
    """The ranking key on which an option stands above the next, and both values."""

    key: str
    this: Any
    next: Any
    this_spare: Spare | None = None
    """For the key `margin` that of the check with the least margin over its limit."""
    next_spare: Spare | None = None


class Window(msgspec.Struct, frozen=True):
    """Total thickness of plates and gaskets that would serve; open above where `to` is None."""

    from_: Length
    to: Length | None


class Option(msgspec.Struct, frozen=True):
    """One way to do it."""

    rank: int
    pump: str
    name: str
    """What the catalog calls the pump, or the asker who describes it."""
    plates: tuple[str, ...]
    """From the block outward, one entry a layer."""
    work: Work
    verdict: Literal["ok", "measure_first"]
    recommended: bool
    buy_price: Price | None
    least_margin: Length | None
    least_margin_check: Code | None
    """The check whose margin that is."""
    thickness_window: Window | None
    stack: tuple[Layer, ...]
    parts_list: tuple[ListedPart, ...]
    checks: tuple[Check, ...]
    open_ports: tuple[OpenPort, ...]
    cautions: tuple[Caution, ...]
    notes: tuple[Note, ...]
    offers: tuple[Offer, ...]
    above_next: AboveNext | None
    derived: "Derived[Option] | None" = None
    """What follows from the same before it has a place among others, where other questions have it too."""


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
    derived: "Derived[RuledOut] | None" = None
    """What follows from it, where other questions have it too."""


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
    """A least change of the build that gives an option: parts taken instead, wishes given up, lengths changed."""

    give_up: tuple[str, ...]
    """Wishes: never what is on the car."""
    swap: Mapping[str, Any]
    """By field, what to say there instead."""
    move: Mapping[str, int]
    """By field, the least length that serves, nm."""
    names: Mapping[str, str]
    """By field, what the catalog calls the part that is taken instead."""
    swap_price: Price | None
    """What the parts taken instead cost; None where none is taken or one has no price."""
    price: Price | None
    """What must be bought in all, what is swapped in included; None where some of it has no price."""
    unpriced: tuple[str, ...]
    """Fields whose part that is taken instead must be bought and has no price."""
    best: Option
    """The first option of the build so changed."""


class Challenged(msgspec.Struct, frozen=True):
    """A reading of the asker's that contradicts the part it is of, nm: it replaces nothing."""

    part: str
    name: str
    measure: str
    read: int
    known: int
    """What the catalog says."""
    beyond: int
    """By how much they differ beyond the doubts of both."""
    rests_on: RestsOn
    """The measure of the catalog."""


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
    told: Told
    """What it did not look at, does not know, warns of and notes."""
    replaced: tuple[Replaced, ...]
    """Retired parts that the build names, each answered with the part that replaces it."""
    challenged: tuple[Challenged, ...]
    """Readings that contradict the parts they are of."""
    options: tuple[Option, ...]
    pumps_that_fit: int
    """Pumps with an option, listed or not."""
    fitting: tuple[str, ...]
    """Their part numbers, in order."""
    ruled_out: tuple[RuledOut, ...]
    ruled_out_total: int
    conflicts: tuple[Conflict, ...]
    remedies: tuple[Remedy, ...]
    ask_again_without: tuple[str, ...]
    """Fields that say what is on the car, each of which left out gives an option that is then not checked for it."""
    truncated: bool
    """Whether there may be more conflicts or remedies than these."""
    decided: bool
    explanation: "Explanation | None" = None
    """What explains the ranking, where it was asked for."""

    @property
    def not_checked(self) -> tuple[str, ...]:
        """The build's fields that were not looked at."""
        return self.told.not_checked


# --- what explains a ranking ---------------------------------------------------------------------------------


class Read(msgspec.Struct, frozen=True):
    """A reading as it might come out, nm."""

    part: str
    measure: str
    value: int
    taken_with: TakenWith


class Outcome(msgspec.Struct, frozen=True):
    """The answer if the readings come out like this."""

    likelihood: float
    readings: tuple[Read, ...]
    verdict: Literal["fits", "measure_first", "blocked"]
    pump: str
    """The pump of its first option; empty where there is none."""
    name: str
    plates: tuple[str, ...]


class EitherWay(msgspec.Struct, frozen=True):
    """What becomes of the answer on either side of the check that the first option hangs on most."""

    code: Code
    zone: str
    holds: Outcome
    fails: Outcome


class Change(msgspec.Struct, frozen=True):
    """What one value of a field left out would do to the listed options."""

    value: str
    """A part number, or a word such as `none`; empty for a length."""
    name: str
    less_than: Length | None
    falls_away: tuple[int, ...]
    """Ranks of the listed options that do not hold with it."""
    first: int | None
    """Rank, as listed now, of the option that would be first of those that stay; None where none does."""
    measure_first: tuple[int, ...] = ()
    """Of those that stay, the ones that must then be measured first."""


class OpenQuestion(msgspec.Struct, frozen=True):
    """A field left out that would change the listed options, with each value that was tried."""

    asks: str
    changes: tuple[Change, ...]
    untried: int
    """Further values that the catalog has."""
    listed: int
    """How many options are listed."""


class Expected(msgspec.Struct, frozen=True):
    """A part that the asker would have expected in the first option, and where it is instead."""

    part: str
    name: str
    kind: Kind
    why: Literal["recommended", "at_hand"]
    where: Literal["listed", "fits", "ruled_out", "not_used", "not_asked", "another_named"]
    """In a listed option; in one that is not listed; ruled out; in none at all; of a field that the build leaves
    out, or that names another part."""
    rank: int | None = None
    """Of the best listed option with it."""
    above: AboveNext | None = None
    """Why the first option stands above that one."""
    ruled_out: RuledOut | None = None
    reason: str = ""
    """Why a pump at hand was not looked at: `unwanted`, `retired`, `another_named`, `other_drive`, `other_face`."""


class Explanation(msgspec.Struct, frozen=True):
    """What explains a ranking: which question to settle first, what to ask, and why the first is first."""

    either_way: EitherWay | None
    open_questions: tuple[OpenQuestion, ...]
    expected_first: tuple[Expected, ...]
