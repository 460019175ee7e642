"""What the service answers, field for field. A field without a value is absent, never null.

Fields ending in `_mm` are millimetres, rounded to 0.001 mm. Sentences, alternatives and what checks rest on
are absent at `detail=brief`.
"""

from typing import Annotated, Literal

import msgspec
from msgspec import UNSET, Meta, UnsetType

from catalog.domain import Direction, Kind, Role, Side
from service.api.wire_explain import AboveNext, EitherWay, ExpectedFirst, Questions, Settle
from service.api.wire_told import AllNotKnown, Caution, Cautions, NotChecked, Note, Notes, NotKnownTotal
from service.fit.answer import CheckVerdict, Code
from service.fit.build import Build, RadiatorPorts, Work
from service.fit.diagnosis import MOST_CONFLICTS
from service.fit.instead import MOST_TRIED
from service.fit.remedies import MOST_REMEDIES, MOST_SWAPS
from service.fit.requirements import Requirement

Text = Annotated[str, Meta(description="One plain sentence; absent at detail=brief.")]
Count = Annotated[int, Meta(ge=0)]


class Wire(msgspec.Struct, frozen=True, kw_only=True):
    """Base of everything that is answered."""


class Money(Wire, frozen=True, kw_only=True):
    """An amount of money in major units."""

    amount: Annotated[float, Meta(description="Major units of the currency: 149.5 is 149.50 USD.")]
    currency: Annotated[str, Meta(description="Currency (ISO 4217).")]


class ReleaseName(Wire, frozen=True, kw_only=True):
    """The release of the catalog that an answer follows from."""

    number: Annotated[int, Meta(description="The release's number, which pins it.")]
    name: Annotated[str, Meta(description="The release's name; it starts with a letter.")]
    digest: Annotated[str, Meta(description="Digest of the whole content of the release.")]


class RestsOn(Wire, frozen=True, kw_only=True):
    """Where a fact comes from: a measure of a part, a rule, or a standard."""

    part: Annotated[str, Meta(description="The part measured.")] | UnsetType = UNSET
    measure: Annotated[str, Meta(description="The measure's name.")] | UnsetType = UNSET
    taken_with: Annotated[str, Meta(description="How it was measured: drawing, caliper or tape.")] | UnsetType = UNSET
    source: Annotated[str, Meta(description="Who says so.")] | UnsetType = UNSET
    rule: Annotated[str, Meta(description="The name of a rule of the catalog.")] | UnsetType = UNSET
    standard: (
        Annotated[str, Meta(description="A published source with its clause or page, or this project's own limit.")]
        | UnsetType
    ) = UNSET


class Check(Wire, frozen=True, kw_only=True):
    """One test of an option: value, limit, margin, verdict, a sentence."""

    code: Annotated[Code, Meta(description="What is tested; a stable code.")]
    verdict: Annotated[
        CheckVerdict,
        Meta(
            description="`ok` holds everywhere within the doubt, `fails` nowhere, `measure_first` lies between, "
            "`not_asked` rests on a field that the build leaves out or on a fact that nobody states."
        ),
    ]
    reason: Annotated[str, Meta(description="Stable code of the sentence.")]
    zone: (
        Annotated[str, Meta(description="Which of several of the kind: a cover's zone, a clamped group.")] | UnsetType
    ) = UNSET
    value_mm: Annotated[float, Meta(description="What was worked out, mm.")] | UnsetType = UNSET
    limit_mm: Annotated[float, Meta(description="What it is held against, mm.")] | UnsetType = UNSET
    margin_mm: Annotated[float, Meta(description="Room left at the middle of the doubt, mm.")] | UnsetType = UNSET
    worst_case_mm: Annotated[float, Meta(description="Room left at worst case, mm.")] | UnsetType = UNSET
    rss_mm: Annotated[float, Meta(description="Room left by root sum square, mm.")] | UnsetType = UNSET
    likelihood: Annotated[float, Meta(ge=0, le=1, description="How likely it holds.")] | UnsetType = UNSET
    text: Text | UnsetType = UNSET
    rests_on: Annotated[list[RestsOn], Meta(description="Where the facts come from.")] | UnsetType = UNSET
    settle: Annotated[Settle, Meta(description="What to measure first; absent at detail=brief.")] | UnsetType = UNSET


class Layer(Wire, frozen=True, kw_only=True):
    """One piece of the stack between block and pump."""

    part: Annotated[str, Meta(description="Part number, or the name of a described part.")]
    from_mm: Annotated[float, Meta(description="Its rear face, mm from the block's pump face.")]
    to_mm: Annotated[float, Meta(description="Its front face, mm from the block's pump face.")]


class Alternative(Wire, frozen=True, kw_only=True):
    """Another part for the same role."""

    part: Annotated[str, Meta(description="Part number.")]
    price_difference: (
        Annotated[Money, Meta(description="What it costs more; absent where either has no price.")] | UnsetType
    ) = UNSET


class ListedPart(Wire, frozen=True, kw_only=True):
    """A part of the option to buy or already at hand."""

    part: Annotated[str, Meta(description="Part number.")]
    name: Annotated[str, Meta(description="What the catalog calls it.")]
    kind: Annotated[Kind, Meta(description="Its kind.")]
    role: Annotated[str, Meta(description="What it does in the option.")]
    quantity: Annotated[int, Meta(ge=1, description="Pieces that the option needs.")]
    at_hand: Annotated[int, Meta(ge=0, description="Pieces of these that the asker has.")]
    price: Annotated[Money, Meta(description="Price of one piece.")] | UnsetType = UNSET
    why: Annotated[str, Meta(description="Why it is there; absent at detail=brief.")] | UnsetType = UNSET
    alternatives: Annotated[list[Alternative], Meta(description="Others for the role.")] | UnsetType = UNSET


class OpenPort(Wire, frozen=True, kw_only=True):
    """A port that the build did not ask about: the asker's own to connect."""

    part: Annotated[str, Meta(description="Part number.")]
    port: Annotated[str, Meta(description="The port's name on the part.")]
    role: Annotated[Role, Meta(description="What the port is for.")]
    connection: Annotated[str, Meta(description="The connection it takes.")]
    side: Annotated[Side, Meta(description="As seen from behind the engine.")] | UnsetType = UNSET
    direction: Annotated[Direction, Meta(description="Where it points.")] | UnsetType = UNSET
    wet: Annotated[bool, Meta(description="Whether coolant stands behind it.")]
    work: (
        Annotated[
            Work,
            Meta(
                description="What connecting it takes at least, whichever part of the release meets it; absent where "
                "it may be bolted on. It counts in the option's `work`."
            ),
        ]
        | UnsetType
    ) = UNSET


class Offer(Wire, frozen=True, kw_only=True):
    """A part that would go well and that nothing needs."""

    part: Annotated[str, Meta(description="Part number.")]
    name: Annotated[str, Meta(description="What the catalog calls it.")]
    price: Annotated[Money, Meta(description="Price of one piece.")] | UnsetType = UNSET
    text: Text | UnsetType = UNSET


class Window(Wire, frozen=True, kw_only=True):
    """Total thickness of plates and gaskets that would serve; open above where `to_mm` is absent."""

    from_mm: Annotated[float, Meta(description="At least this, mm.")]
    to_mm: Annotated[float, Meta(description="At most this, mm.")] | UnsetType = UNSET


class Option(Wire, frozen=True, kw_only=True):
    """One way to do it."""

    rank: Annotated[int, Meta(ge=1, description="1 is the best.")]
    pump: Annotated[str, Meta(description="Part number, or the name of a described pump.")]
    name: Annotated[str, Meta(description="What the catalog calls the pump, or the asker who describes it.")]
    plates: Annotated[list[str], Meta(description="Plates from the block outward, one entry a layer.")]
    work: Annotated[Work, Meta(description="The hardest step, that of what its open ports will take included.")]
    verdict: Annotated[
        Literal["ok", "measure_first"], Meta(description="`measure_first` where a check hangs on the doubt.")
    ]
    recommended: Annotated[bool, Meta(description="Whether the shop recommends the pump.")]
    buy_price: (
        Annotated[Money, Meta(description="Of what is not at hand; absent where a part has no price.")] | UnsetType
    ) = UNSET
    least_margin_mm: Annotated[float, Meta(description="Least margin of all checks, mm.")] | UnsetType = UNSET
    least_margin_check: Annotated[Code, Meta(description="The check whose margin that is.")] | UnsetType = UNSET
    thickness_window: (
        Annotated[Window, Meta(description="Plates and gaskets that would serve with this pump.")] | UnsetType
    ) = UNSET
    stack: Annotated[list[Layer], Meta(description="From the block outward, gaskets included, the pump last.")]
    parts_list: Annotated[list[ListedPart], Meta(description="Everything to buy or at hand.")]
    checks: Annotated[list[Check], Meta(description="Every check made, and what was not asked.")]
    open_ports: Annotated[list[OpenPort], Meta(description="What the asker connects.")]
    cautions: Annotated[
        list[Caution],
        Meta(description="Dangers that go with it, by code; their sentences stand in the answer's own `cautions`."),
    ]
    notes: Annotated[
        list[Note],
        Meta(description="What it wants besides its list, by code; the sentences stand in the answer's own `notes`."),
    ]
    offers: Annotated[list[Offer], Meta(description="What would go well and nothing needs.")]
    above_next: Annotated[AboveNext, Meta(description="Why it stands above the next.")] | UnsetType = UNSET


class RuledOut(Wire, frozen=True, kw_only=True):
    """A pump on the same face without an option, by its nearest miss."""

    pump: Annotated[str, Meta(description="Part number.")]
    name: Annotated[str, Meta(description="What the catalog calls it.")]
    plates: Annotated[list[str], Meta(description="Plates of the nearest miss, from the block outward.")]
    code: Annotated[Code, Meta(description="The check that it fails.")]
    reason: Annotated[
        str, Meta(description="Stable code of the sentence; `mount_not_known` where nothing is known of its face.")
    ]
    short_by_mm: Annotated[float, Meta(description="How far it missed, mm.")] | UnsetType = UNSET
    thickness_window: Annotated[Window, Meta(description="Plates and gaskets that would mend it.")] | UnsetType = UNSET
    measuring: Annotated[
        bool,
        Meta(
            description="Whether measuring again could mend it: true where the miss rests on a reading of the asker's "
            "own; a miss by the catalog's measures lies beyond their whole doubt."
        ),
    ]
    text: Text | UnsetType = UNSET


class Fact(Wire, frozen=True, kw_only=True):
    """One side of a conflict: a pump that meets its other requirements, and the check by which it fails this one."""

    requirement: Annotated[Requirement, Meta(description="The field of the build.")] | UnsetType = UNSET
    pump: Annotated[str, Meta(description="Part number, or the name of a described pump.")]
    plates: Annotated[list[str], Meta(description="Plates under it, from the block outward.")]
    code: Annotated[Code, Meta(description="The check that it fails.")]
    reason: Annotated[str, Meta(description="Stable code of the sentence.")]
    value_mm: Annotated[float, Meta(description="What was worked out, mm.")] | UnsetType = UNSET
    limit_mm: Annotated[float, Meta(description="What it is held against, mm.")] | UnsetType = UNSET
    short_by_mm: Annotated[float, Meta(description="How far it misses, mm.")] | UnsetType = UNSET
    thickness_window: (
        Annotated[Window, Meta(description="Plates and gaskets that this requirement needs with this pump.")]
        | UnsetType
    ) = UNSET
    text: Text | UnsetType = UNSET
    rests_on: Annotated[list[RestsOn], Meta(description="Where the facts come from.")] | UnsetType = UNSET


class Conflict(Wire, frozen=True, kw_only=True):
    """Requirements that no option meets together. Minimal: any fewer of them are met."""

    requirements: Annotated[
        list[Requirement],
        Meta(description="Fields of the build; empty where no pump fits the engine whatever is asked."),
    ]
    facts: Annotated[list[Fact], Meta(description="What stands in the way, from each side.")]
    text: Text | UnsetType = UNSET


class Swap(Wire, frozen=True, kw_only=True):
    """By field of the build, what to say there instead."""

    accessory_drive: Annotated[str, Meta(description="Part number.")] | UnsetType = UNSET
    front_cover: Annotated[str, Meta(description="Part number.")] | UnsetType = UNSET
    crank_pulley: Annotated[str, Meta(description="Part number.")] | UnsetType = UNSET
    radiator: Annotated[str, Meta(description="Part number.")] | UnsetType = UNSET
    radiator_ports: Annotated[RadiatorPorts, Meta(description="The same ports, on other sides.")] | UnsetType = UNSET
    heater: Annotated[str, Meta(description="Part number.")] | UnsetType = UNSET
    fan: Annotated[str, Meta(description="Part number, `electric` or `mechanical`.")] | UnsetType = UNSET


class Move(Wire, frozen=True, kw_only=True):
    """By field of the build, the length to make it: the least that serves."""

    core_distance: Annotated[float, Meta(ge=0, description="Millimetres.")] | UnsetType = UNSET


class Remedy(Wire, frozen=True, kw_only=True):
    """A least change of the build that gives an option. No part of it does by itself.

    As a change of `POST /v1/fits/compare`, `give_up` goes as it is, and `swap` and `move` together under `set`.
    """

    give_up: Annotated[
        list[Requirement],
        Meta(description="Wishes to leave out: fields of `must`, `pump`, `pulley`, `pump_drive`; nothing of the car."),
    ]
    swap: Annotated[Swap, Meta(description="What to take instead of what is on the car.")] | UnsetType = UNSET
    move: (
        Annotated[
            Move,
            Meta(
                description="What to move, and how far at least. With a micrometre less the best option is not as "
                "sure: it is not `ok`, or, where none is at any distance, its room to the core is not. With the bare "
                "word `electric` the depth of the fan comes on top."
            ),
        ]
        | UnsetType
    ) = UNSET
    swap_price: (
        Annotated[Money, Meta(description="What the parts taken instead cost; absent where one has no price.")]
        | UnsetType
    ) = UNSET
    price: (
        Annotated[
            Money,
            Meta(
                description="What must be bought in all, what is swapped in included; absent where a price is lacking."
            ),
        ]
        | UnsetType
    ) = UNSET
    best: Annotated[Option, Meta(description="The first option of the build so changed.")]
    text: Text | UnsetType = UNSET


class Replaced(Wire, frozen=True, kw_only=True):
    """A field of the build that named a retired part, answered for the part that takes its place."""

    field: Annotated[str, Meta(description="The build's field.")]
    asked: Annotated[str, Meta(description="The part number asked for.")]
    answered: Annotated[str, Meta(description="The part number answered for.")]
    text: Text | UnsetType = UNSET


class Challenged(Wire, frozen=True, kw_only=True):
    """A reading that contradicts the part it is of: it replaces nothing, and what takes the part is measured first."""

    part: Annotated[str, Meta(description="Part number.")]
    measure: Annotated[str, Meta(description="What was read.")]
    read_mm: Annotated[float, Meta(description="The reading, mm.")]
    has_mm: Annotated[float, Meta(description="What the catalog says, mm.")]
    beyond_mm: Annotated[float, Meta(gt=0, description="How far apart they are beyond the doubts of both, mm.")]
    text: Text | UnsetType = UNSET


class Answer(Wire, frozen=True, kw_only=True):
    """The answer to a build. Nothing fits is an answer too: verdict `blocked`."""

    release: Annotated[ReleaseName, Meta(description="The release that it follows from.")]
    build: Annotated[Build, Meta(description="The build as understood, in one canonical form.")]
    verdict: Annotated[
        Literal["fits", "measure_first", "blocked"],
        Meta(description="`fits`: an option is ok. `measure_first`: only after a reading. `blocked`: none."),
    ]
    text: Text | UnsetType = UNSET
    not_checked: NotChecked
    not_known: AllNotKnown
    not_known_total: NotKnownTotal
    cautions: Cautions
    notes: Notes
    replaced: Annotated[list[Replaced], Meta(description="Retired parts that the build names.")]
    challenged: Annotated[list[Challenged], Meta(description="Readings that contradict the parts they are of.")]
    options: Annotated[list[Option], Meta(description="In rank order, the best first.")]
    pumps_that_fit: Annotated[int, Meta(ge=0, description="Pumps with an option, listed or not.")]
    ruled_out: Annotated[
        list[RuledOut], Meta(description="Pumps on the same face without an option, nearest misses first, at most 20.")
    ]
    ruled_out_total: Annotated[int, Meta(ge=0, description="All such pumps.")]
    conflicts: Annotated[
        list[Conflict],
        Meta(
            description="Where nothing fits: every minimal set of requirements that no option meets together, fewest "
            f"first; at most {MOST_CONFLICTS}.",
        ),
    ]
    remedies: Annotated[
        list[Remedy],
        Meta(
            description="Where nothing fits: every minimal change that gives an option. Parts taken instead stand "
            "first, then wishes given up, then what is to be moved, within each what costs least in all; at most "
            f"{MOST_REMEDIES}. Instead of one part {MOST_TRIED} others are tried at most, the same sort first, and "
            f"{MOST_SWAPS} told of one set of fields.",
        ),
    ]
    ask_again_without: Annotated[
        list[Requirement],
        Meta(
            description="Where nothing fits: fields that say what is on the car, without any one of which there is an "
            "option. What is left out is then not checked, so this is an offer to ask again, and no remedy."
        ),
    ]
    ask_again_text: Text | UnsetType = UNSET
    truncated: Annotated[bool, Meta(description="Whether there may be more conflicts or remedies than these.")]
    decided: Annotated[bool, Meta(description="False where the search reached its step limit.")]
    either_way: (
        Annotated[EitherWay, Meta(description="Of a first option that must be measured first; detail=full only.")]
        | UnsetType
    ) = UNSET
    open_questions: Questions | UnsetType = UNSET
    expected_first: ExpectedFirst | UnsetType = UNSET
