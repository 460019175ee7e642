"""A build: what the asker has and must have, as it is sent. Every limit is in the types."""

from typing import Annotated, Any, Final, Literal

import msgspec
from msgspec import UNSET, Meta, UnsetType

from catalog.domain import Direction, Role, Side, Surface, TakenWith
from catalog.standards.flares import SIZE
from catalog.units import LENGTH_PATTERN
from catalog.vocabulary import MEASURE_NAME, PART_NUMBER

PartNumber = Annotated[str, Meta(pattern=PART_NUMBER, description="A part number or an alias, in any case.")]
Length = (
    Annotated[float, Meta(ge=-10_000, le=10_000, description="Millimetres.")]
    | Annotated[
        str, Meta(pattern=LENGTH_PATTERN, max_length=40, description='"146 mm", "14.6 cm", "5.75 in", "5 3/4 in".')
    ]
)
LENGTH_NOT_NEGATIVE: Final = LENGTH_PATTERN.replace("[-+]?", r"\+?", 1)
HEATER: Final = f"({PART_NUMBER})|({SIZE})"
NotNegative = (
    Annotated[float, Meta(ge=0, le=10_000, description="Millimetres, not negative.")]
    | Annotated[
        str,
        Meta(
            pattern=LENGTH_NOT_NEGATIVE,
            max_length=40,
            description="A length with a unit, not negative.",
        ),
    ]
)
ShortText = Annotated[str, Meta(min_length=1, max_length=80)]
MeasureName = Annotated[str, Meta(pattern=MEASURE_NAME, max_length=80)]
Work = Literal["bolt_on", "hand_fit", "press", "weld", "machining"]
RankKey = Literal["work", "recommended", "price", "margin", "parts", "length"]


class Reading(msgspec.Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True):
    """A length, what it was taken with, and its doubt where it is not the tool's usual one."""

    value: Length
    taken_with: TakenWith = "tape"
    plus_minus: Length | UnsetType = UNSET


class DescribedBand(
    msgspec.Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True, rename={"from_": "from"}
):
    """Where a belt can run on a described pulley."""

    from_: Length
    to: Length
    surface: Surface = "ribbed"
    grooves: Annotated[int, Meta(ge=0, le=20)] = 0


class DescribedPort(msgspec.Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True):
    """How a described part meets others: the name of a connection of the catalog."""

    role: Role
    connection: Annotated[str, Meta(min_length=1, max_length=80)]
    side: Side | UnsetType = UNSET
    direction: Direction | UnsetType = UNSET
    wet: bool = False


class Described(msgspec.Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True):
    """A part that the catalog does not hold, by its own measures."""

    name: ShortText
    measures: Annotated[dict[MeasureName, Reading], Meta(max_length=40)] = {}
    attributes: Annotated[
        dict[Annotated[str, Meta(max_length=40)], bool | int | Annotated[str, Meta(max_length=80)]], Meta(max_length=20)
    ] = {}
    bands: Annotated[list[DescribedBand], Meta(max_length=8)] = []
    ports: Annotated[list[DescribedPort], Meta(max_length=20)] = []


PartReference = PartNumber | Described
HeaterReference = (
    Annotated[
        str,
        Meta(
            pattern=HEATER,
            max_length=40,
            description='A heater core\'s part number, a size such as "5/8 in hose", or "none".',
        ),
    ]
    | Described
)
FanReference = (
    Annotated[str, Meta(pattern=PART_NUMBER, description='A fan\'s part number, "mechanical", "electric" or "none".')]
    | Described
)


class Measured(msgspec.Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True):
    """The asker's own reading of a part of the catalog; it replaces the catalog's."""

    part: PartNumber
    measure: MeasureName
    value: Length
    taken_with: TakenWith = "tape"
    plus_minus: Length | UnsetType = UNSET


Size = Annotated[str, Meta(pattern=SIZE, max_length=40, description='"1 1/2 in hose", "38 mm hose" or "-16".')]


class RadiatorPort(msgspec.Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True):
    """One port of the asker's own radiator: a connection of the catalog or a size, and the side it is on."""

    connection: Annotated[str, Meta(min_length=1, max_length=80)] | UnsetType = UNSET
    size: Size | UnsetType = UNSET
    side: Side | UnsetType = UNSET


class RadiatorPorts(msgspec.Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True):
    """Both ports of the asker's own radiator: coolant enters by the upper one and leaves by the lower one."""

    upper: RadiatorPort
    lower: RadiatorPort


class Amount(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """An amount of money in major units."""

    amount: Annotated[float, Meta(ge=0, le=1_000_000_000)]
    currency: Annotated[str, Meta(pattern="^[A-Z]{3}$", description="ISO 4217.")]


class Must(msgspec.Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True):
    """What an option must keep to."""

    outlet_side: Literal["left", "right"] | UnsetType = UNSET
    outlet_direction: Direction | UnsetType = UNSET
    work_at_most: Work | UnsetType = UNSET
    price_at_most: Amount | UnsetType = UNSET
    without: Annotated[list[PartNumber], Meta(max_length=100, description="Part numbers not to use.")] = []


class Build(msgspec.Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True):
    """What the asker has and must have. A field left out asks nothing.

    `engine`, `have` and `measured` are facts; all else is a requirement.
    """

    engine: PartReference
    accessory_drive: PartReference | UnsetType = UNSET
    front_cover: PartReference | UnsetType = UNSET
    pump: PartReference | UnsetType = UNSET
    pulley: PartReference | UnsetType = UNSET
    crank_pulley: PartReference | UnsetType = UNSET
    radiator: PartReference | UnsetType = UNSET
    radiator_ports: RadiatorPorts | UnsetType = UNSET
    core_distance: NotNegative | UnsetType = UNSET
    heater: HeaterReference | UnsetType = UNSET
    fan: FanReference | UnsetType = UNSET
    pump_drive: Literal["belt", "remote"] = "belt"
    have: Annotated[list[PartNumber], Meta(max_length=100, description="Pieces at hand, one entry a piece.")] = []
    measured: Annotated[list[Measured], Meta(max_length=100)] = []
    must: Must = msgspec.field(default_factory=Must)
    rank_by: Annotated[list[RankKey], Meta(max_length=6)] = []
    limit: Annotated[int, Meta(ge=1, le=50, description="Options wanted.")] = 10
    paths_per_pump: Annotated[int, Meta(ge=1, le=50, description="Options listed for one pump at most.")] = 2


class Fault(msgspec.Struct, frozen=True):
    """Something in a build that satisfies the schema but is not so."""

    pointer: str
    slug: str
    """`unknown-part`, `wrong-kind`, `unknown-measure` ...: the last part of the problem's type."""
    message: str
    nearest: tuple[str, ...] = ()
    asked: str = ""
    """The part number or alias that this release does not hold."""
    releases: tuple[int, ...] = ()
    """Other releases that do hold it, where whoever asks can tell: the engine knows only its own."""


class BuildError(Exception):
    """A build names what is not so; `faults` lists every such place."""

    slug = "faulty-build"
    """The kind of problem where the faults are of several kinds."""

    def __init__(self, faults: list[Fault]) -> None:
        super().__init__("; ".join(fault.message for fault in faults))
        self.faults = faults


Facts = dict[str, Any]
