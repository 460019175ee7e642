"""What the catalog knows, as immutable structs. Lengths are integer nanometres, money is minor units.

Nothing here knows how it is stored. Those that hold only texts and numbers are kept from the garbage collector
(gc=False): a large catalog has a million of them, and none can be part of a cycle.
"""

from collections.abc import Mapping
from functools import cached_property
from typing import Literal

import msgspec

Kind = Literal[
    "engine",
    "front_cover",
    "water_pump",
    "pulley",
    "crank_pulley",
    "accessory_drive",
    "belt",
    "spacer",
    "adapter_plate",
    "outlet_plate",
    "gasket",
    "fastener_set",
    "thermostat_housing",
    "thermostat",
    "fitting",
    "hose",
    "plug",
    "cap",
    "radiator",
    "heater_core",
    "fan",
    "fan_adapter",
    "remote_pump",
]
PLATES: frozenset[Kind] = frozenset({"spacer", "adapter_plate", "outlet_plate"})

Role = Literal[
    "mount",  # by which the part itself is held: to a block, a hub, a boss
    "pump_face",  # where an engine or a plate takes the next plate or the pump
    "cover_face",  # where an engine takes its front cover
    "drive_face",  # where an engine takes its accessory drive
    "crank",  # where an engine takes its crank pulley
    "housing",  # where a pump takes its thermostat housing
    "thermostat",  # where a housing takes a separate thermostat
    "coolant_out",
    "coolant_in",
    "heater_feed",
    "heater_return",
    "bypass",
    "vent",
    "sensor",
    "hub",  # where a pump takes a separate pulley
    "fan",  # where a pump takes a fan or a fan adapter
    "carrier",  # where a pump carries a tensioner or an idler of the drive
    "carried",  # what of a drive bolts to the pump
    "line",  # an end of a fitting or a hose
]
Side = Literal["left", "right", "centre"]
Direction = Literal["forward", "back", "up", "down", "out"]
TakenWith = Literal["drawing", "caliper", "tape"]
Surface = Literal["ribbed", "smooth"]
Status = Literal["active", "retired"]
Seal = Literal["gasket", "o_ring", "sealant", "clamp", "metal", "none"]
RuleKind = Literal["requires", "excludes", "replaced_by", "tested_fit", "tested_no_fit"]
Ease = Literal["in_car", "off_car", "with_tool"]
AttributeValue = bool | int | str


class Measure(msgspec.Struct, frozen=True, gc=False):
    """A dimension from one named face to another: it lies in [nominal - minus, nominal + plus] nm."""

    name: str
    nominal: int
    plus: int
    minus: int
    taken_with: TakenWith
    source: str

    @property
    def low(self) -> int:
        """The least that it can be, nm."""
        return self.nominal - self.minus

    @property
    def high(self) -> int:
        """The most that it can be, nm."""
        return self.nominal + self.plus


class Band(msgspec.Struct, frozen=True, gc=False):
    """Where a belt can run: nm along z from the pump's flange, or from a loose pulley's mounting face."""

    from_: int
    to: int
    surface: Surface
    grooves: int
    """Number of grooves of a ribbed band; 0 on a smooth one."""

    @property
    def centre(self) -> int:
        """Middle of the band, to the nanometre below."""
        return (self.from_ + self.to) // 2

    @property
    def width(self) -> int:
        """Width of the band, nm."""
        return self.to - self.from_


class Port(msgspec.Struct, frozen=True, gc=False):
    """One part's end of a connection."""

    name: str
    role: Role
    connection: str
    end: str
    channel: str | None = None
    side: Side | None = None
    direction: Direction | None = None
    wet: bool = False
    gasket: str | None = None
    """The gasket that this port requires, where it does not take the connection's own."""


class Cue(msgspec.Struct, frozen=True):
    """What a person can see, count or read on a part."""

    name: str
    question: str
    answer: str
    answers: tuple[str, ...]
    ease: Ease
    error_percent: int


class Price(msgspec.Struct, frozen=True, gc=False):
    """Price of one piece in minor units of the currency."""

    amount: int
    currency: str


class Part(msgspec.Struct, frozen=True):
    """Anything with a part number."""

    number: str
    kind: Kind
    name: str
    status: Status = "active"
    recommended: bool = False
    aliases: tuple[str, ...] = ()
    attributes: Mapping[str, AttributeValue] = {}
    measures: Mapping[str, Measure] = {}
    bands: tuple[Band, ...] = ()
    ports: tuple[Port, ...] = ()
    cues: tuple[Cue, ...] = ()
    price: Price | None = None


class Connection(msgspec.Struct, frozen=True):
    """A way in which two parts meet. The first end is the one nearer the block (`block`, `spigot`, `hub`)."""

    name: str
    title: str
    sort: str
    ends: tuple[str, str]
    seal: Seal
    pieces_per_layer: int = 1
    """How many pieces make one layer: a face in two halves takes two spacers and two gaskets."""
    gasket: str | None = None
    """The gasket that a joint takes where neither part requires another."""
    bolts: int = 0
    size: str | None = None
    """What people call it: "1 1/2 in hose", "-16"; a connection that nobody calls by a size has none."""

    def other_end(self, end: str) -> str:
        """The end that meets this one."""
        return self.ends[1] if end == self.ends[0] else self.ends[0]


class Rule(msgspec.Struct, frozen=True):
    """What is known between parts beyond their measures: an edge from `part` to each of `others`."""

    name: str
    kind: RuleKind
    part: str
    others: tuple[str, ...]
    settles: tuple[str, ...] = ()
    """The checks that a tested fit settles."""
    source: str = ""


class Release(msgspec.Struct, frozen=True):
    """A published, numbered, immutable state of the catalog."""

    number: int
    name: str
    digest: str
    published_on: str
    note: str
    seal: str | None = None
    """Of its own row and of the seal before (catalog.seals); None where printed statements made it."""


class Snapshot(msgspec.Struct, frozen=True, dict=True):
    """Everything that one release says."""

    release: Release
    currency: str
    parts: Mapping[str, Part]
    connections: Mapping[str, Connection]
    rules: tuple[Rule, ...]
    retired_in: Mapping[str, Release] = {}
    """By part number, the release since which a retired part is so."""

    @cached_property
    def _by_reference(self) -> Mapping[str, str]:
        references = {number.casefold(): number for number in self.parts}
        for part in self.parts.values():
            references.update({alias.casefold(): part.number for alias in part.aliases})
        return references

    @cached_property
    def stated(self) -> frozenset[tuple[Kind, str]]:
        """What at least one part of a kind states: measures without their suffix, attributes, `bands`, `ports.role`."""
        found: set[tuple[Kind, str]] = set()
        for part in self.parts.values():
            facts = [name.partition(".")[0] for name in part.measures]
            facts += [*part.attributes, *(f"ports.{port.role}" for port in part.ports)]
            found.update((part.kind, fact) for fact in facts)
            if part.bands:
                found.add((part.kind, "bands"))
        return frozenset(found)

    def find(self, reference: str) -> Part | None:
        """The part with this number or alias, whatever its case."""
        number = self._by_reference.get(reference.casefold())
        return None if number is None else self.parts[number]
