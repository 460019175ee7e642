"""What the service answers, field for field. A field without a value is absent, never null.

Fields ending in `_mm` are millimetres, rounded to 0.001 mm. Sentences, alternatives and what checks rest on
are absent at `detail=brief`.
"""

from typing import Annotated, Literal

import msgspec
from msgspec import UNSET, Meta, UnsetType

from catalog.domain import Direction, Kind, Role, RuleKind, Seal, Side, Status, Surface, TakenWith
from service.fit.answer import CheckVerdict, Code
from service.fit.build import Build, Work

Text = Annotated[str, Meta(description="One plain sentence; absent at detail=brief.")]
Millimetres = Annotated[float, Meta(description="Millimetres.")]
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
    standard: Annotated[str, Meta(description="A published standard or handbook.")] | UnsetType = UNSET


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


class Offer(Wire, frozen=True, kw_only=True):
    """A part that would go well and that nothing needs."""

    part: Annotated[str, Meta(description="Part number.")]
    name: Annotated[str, Meta(description="What the catalog calls it.")]
    price: Annotated[Money, Meta(description="Price of one piece.")] | UnsetType = UNSET
    text: Text | UnsetType = UNSET


class Caution(Wire, frozen=True, kw_only=True):
    """A danger that goes with the option."""

    code: Annotated[str, Meta(description="A stable code.")]
    text: Text | UnsetType = UNSET


class AboveNext(Wire, frozen=True, kw_only=True):
    """Why an option stands above the next."""

    key: Annotated[str, Meta(description="The first ranking key on which the two differ.")]
    text: Text | UnsetType = UNSET


class Window(Wire, frozen=True, kw_only=True):
    """Total thickness of plates and gaskets that would serve; open above where `to_mm` is absent."""

    from_mm: Annotated[float, Meta(description="At least this, mm.")]
    to_mm: Annotated[float, Meta(description="At most this, mm.")] | UnsetType = UNSET


class Option(Wire, frozen=True, kw_only=True):
    """One way to do it."""

    rank: Annotated[int, Meta(ge=1, description="1 is the best.")]
    pump: Annotated[str, Meta(description="Part number, or the name of a described pump.")]
    plates: Annotated[list[str], Meta(description="Plates from the block outward, one entry a layer.")]
    work: Annotated[Work, Meta(description="The hardest step.")]
    verdict: Annotated[
        Literal["ok", "measure_first"], Meta(description="`measure_first` where a check hangs on the doubt.")
    ]
    recommended: Annotated[bool, Meta(description="Whether the shop recommends the pump.")]
    buy_price: (
        Annotated[Money, Meta(description="Of what is not at hand; absent where a part has no price.")] | UnsetType
    ) = UNSET
    least_margin_mm: Annotated[float, Meta(description="Least margin of all checks, mm.")] | UnsetType = UNSET
    thickness_window: (
        Annotated[Window, Meta(description="Plates and gaskets that would serve with this pump.")] | UnsetType
    ) = UNSET
    stack: Annotated[list[Layer], Meta(description="From the block outward, gaskets included, the pump last.")]
    parts_list: Annotated[list[ListedPart], Meta(description="Everything to buy or at hand.")]
    checks: Annotated[list[Check], Meta(description="Every check made, and what was not asked.")]
    open_ports: Annotated[list[OpenPort], Meta(description="What the asker connects.")]
    cautions: Annotated[list[Caution], Meta(description="Dangers that go with it.")]
    offers: Annotated[list[Offer], Meta(description="What would go well and nothing needs.")]
    above_next: Annotated[AboveNext, Meta(description="Why it stands above the next.")] | UnsetType = UNSET


class RuledOut(Wire, frozen=True, kw_only=True):
    """A pump on the same face without an option, by its nearest miss."""

    pump: Annotated[str, Meta(description="Part number.")]
    name: Annotated[str, Meta(description="What the catalog calls it.")]
    plates: Annotated[list[str], Meta(description="Plates of the nearest miss, from the block outward.")]
    code: Annotated[Code, Meta(description="The check that it fails.")]
    short_by_mm: Annotated[float, Meta(description="How far it missed, mm.")] | UnsetType = UNSET
    thickness_window: Annotated[Window, Meta(description="Plates and gaskets that would mend it.")] | UnsetType = UNSET
    text: Text | UnsetType = UNSET


class Replaced(Wire, frozen=True, kw_only=True):
    """A field of the build that named a retired part, answered for the part that takes its place."""

    field: Annotated[str, Meta(description="The build's field.")]
    asked: Annotated[str, Meta(description="The part number asked for.")]
    answered: Annotated[str, Meta(description="The part number answered for.")]
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
    not_checked: Annotated[list[str], Meta(description="Fields of the build left out, which so ask nothing.")]
    replaced: Annotated[list[Replaced], Meta(description="Retired parts that the build names.")]
    options: Annotated[list[Option], Meta(description="In rank order, the best first.")]
    pumps_that_fit: Annotated[int, Meta(ge=0, description="Pumps with an option, listed or not.")]
    ruled_out: Annotated[
        list[RuledOut], Meta(description="Pumps on the same face without an option, nearest misses first, at most 20.")
    ]
    ruled_out_total: Annotated[int, Meta(ge=0, description="All such pumps.")]
    decided: Annotated[bool, Meta(description="False where the search reached its step limit.")]


class Measure(Wire, frozen=True, kw_only=True):
    """A dimension from one named face to another: it lies in nominal - minus to nominal + plus."""

    nominal_mm: Annotated[float, Meta(description="Millimetres.")]
    plus_mm: Annotated[float, Meta(ge=0, description="What it may be more, mm.")]
    minus_mm: Annotated[float, Meta(ge=0, description="What it may be less, mm.")]
    taken_with: Annotated[TakenWith, Meta(description="How it was measured.")]
    source: Annotated[str, Meta(description="Who says so; absent at detail=brief.")] | UnsetType = UNSET


class Band(Wire, frozen=True, kw_only=True):
    """Where a belt can run: along z from the pump's flange, or from a loose pulley's mounting face."""

    from_mm: Millimetres
    to_mm: Millimetres
    surface: Annotated[Surface, Meta(description="Ribbed or smooth.")]
    grooves: Annotated[int, Meta(ge=0, description="Grooves of a ribbed band; 0 on a smooth one.")]


class Port(Wire, frozen=True, kw_only=True):
    """One part's end of a connection."""

    name: Annotated[str, Meta(description="The port's name on the part.")]
    role: Annotated[Role, Meta(description="What the port is for.")]
    connection: Annotated[str, Meta(description="The connection it is an end of.")]
    end: Annotated[str, Meta(description="Which end of the connection it is.")]
    channel: Annotated[str, Meta(description="Which channel, where a face has two.")] | UnsetType = UNSET
    side: Annotated[Side, Meta(description="As seen from behind the engine.")] | UnsetType = UNSET
    direction: Annotated[Direction, Meta(description="Where it points.")] | UnsetType = UNSET
    wet: Annotated[bool, Meta(description="Whether coolant stands behind it.")]
    gasket: Annotated[str, Meta(description="The gasket that it requires.")] | UnsetType = UNSET


class Rule(Wire, frozen=True, kw_only=True):
    """What is known between parts beyond their measures."""

    name: Annotated[str, Meta(description="The rule's name.")]
    kind: Annotated[RuleKind, Meta(description="What the rule says.")]
    part: Annotated[str, Meta(description="The part that it is said of.")]
    others: Annotated[list[str], Meta(description="The parts that it names besides.")]
    settles: Annotated[list[str], Meta(description="The checks that a tested fit settles.")]
    source: Annotated[str, Meta(description="Who says so; absent at detail=brief.")] | UnsetType = UNSET


class Retired(Wire, frozen=True, kw_only=True):
    """Since when a part is offered no more; `replaced_by` of the part names what takes its place."""

    release: Annotated[ReleaseName, Meta(description="The release that retired it.")]
    on: Annotated[str, Meta(description="The day that release was published (ISO 8601).")]
    text: Text | UnsetType = UNSET


class Part(Wire, frozen=True, kw_only=True):
    """Anything with a part number."""

    number: Annotated[str, Meta(description="The part number.")]
    name: Annotated[str, Meta(description="What the catalog calls it.")]
    kind: Annotated[Kind, Meta(description="Its kind.")]
    status: Annotated[Status, Meta(description="Retired parts are offered no more.")]
    recommended: Annotated[bool, Meta(description="Whether the shop recommends it.")]
    aliases: Annotated[list[str], Meta(description="Other numbers that it is known by.")]
    attributes: Annotated[dict[str, bool | int | str], Meta(description="What is so of it besides its measures.")]
    bands: Annotated[list[Band], Meta(description="Where a belt can run; the first is centred on the belt's plane.")]
    measures: Annotated[dict[str, Measure], Meta(description="Its measures by name.")]
    ports: Annotated[list[Port], Meta(description="Where it meets others.")]
    rules: Annotated[list[Rule], Meta(description="Rules that name it.")]
    price: Annotated[Money, Meta(description="Price of one piece.")] | UnsetType = UNSET
    replaced_by: Annotated[str, Meta(description="The part that takes its place.")] | UnsetType = UNSET
    retired: Annotated[Retired, Meta(description="Since when it is retired; absent while it is not.")] | UnsetType = (
        UNSET
    )


class PartAnswer(Part, frozen=True, kw_only=True):
    """A part, and the release that says so."""

    release: Annotated[ReleaseName, Meta(description="The release that it follows from.")]


class PartsPage(Wire, frozen=True, kw_only=True):
    """One page of the parts of a release, by part number."""

    release: Annotated[ReleaseName, Meta(description="The release that it follows from.")]
    parts: Annotated[list[Part], Meta(description="In the order of their part numbers.")]
    next: Annotated[str, Meta(description="The cursor of the next page; absent on the last.")] | UnsetType = UNSET


class Connection(Wire, frozen=True, kw_only=True):
    """A way in which two parts meet."""

    name: Annotated[str, Meta(description="The connection's name.")]
    title: Annotated[str, Meta(description="The connection in words.")]
    sort: Annotated[str, Meta(description="What sort it is: a face, a hose, a thread ...")]
    ends: Annotated[list[str], Meta(description="Its two ends, the one nearer the block first.")]
    seal: Annotated[Seal, Meta(description="How it seals.")]
    pieces_per_layer: Annotated[int, Meta(ge=1, description="Pieces that make one layer.")]
    gasket: Annotated[str, Meta(description="The gasket of a joint that requires no other.")] | UnsetType = UNSET
    bolts: Annotated[int, Meta(ge=0, description="Bolts that hold it.")]
    size: Annotated[str, Meta(description='What people call it, such as "1 1/2 in hose" or "-16".')] | UnsetType = UNSET


class ConnectionAnswer(Connection, frozen=True, kw_only=True):
    """A connection, and the release that says so."""

    release: Annotated[ReleaseName, Meta(description="The release that it follows from.")]


class Connections(Wire, frozen=True, kw_only=True):
    """Every connection of a release."""

    release: Annotated[ReleaseName, Meta(description="The release that it follows from.")]
    connections: Annotated[list[Connection], Meta(description="In the order of their names.")]


class Release(ReleaseName, frozen=True, kw_only=True):
    """A published, numbered, immutable state of the catalog."""

    published_on: Annotated[str, Meta(description="The day it was published (ISO 8601).")]
    note: Annotated[str, Meta(description="What changed, in words.")]


class Releases(Wire, frozen=True, kw_only=True):
    """Every release of the catalog."""

    releases: Annotated[list[Release], Meta(description="In the order of their numbers.")]


class Alive(Wire, frozen=True, kw_only=True):
    """The process runs."""

    status: Annotated[Literal["alive"], Meta(description="Always `alive`.")]


class Ready(Wire, frozen=True, kw_only=True):
    """The catalog can be read and a release of it is loaded."""

    status: Annotated[Literal["ready"], Meta(description="Always `ready`; else a problem document.")]
    release: Annotated[ReleaseName, Meta(description="The newest release.")]
