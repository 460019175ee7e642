"""A catalog in the making: draws with names, and parts added in the very form in which the reader gives them."""

from collections.abc import Iterable, Mapping, Sequence
from random import Random
from typing import TypeVar

from catalog.domain import (
    AttributeValue,
    Band,
    Connection,
    Cue,
    Direction,
    Kind,
    Measure,
    Part,
    Port,
    Price,
    Release,
    Role,
    Rule,
    RuleKind,
    Seal,
    Side,
    Snapshot,
    TakenWith,
)
from catalog.standards.belts import RIB_PITCH
from catalog.vocabulary import DEFAULT_TOLERANCE

CURRENCY = "USD"
T = TypeVar("T")


def nm(mm: float) -> int:
    """Millimetres, to a hundredth, as nanometres."""
    return round(mm * 100) * 10_000


def measure(
    name: str, mm: float, *, within: float | None = None, taken_with: TakenWith = "drawing", source: str = "drawing"
) -> Measure:
    """A measure with the tool's usual doubt, or with its own."""
    doubt = DEFAULT_TOLERANCE[taken_with] if within is None else nm(within)
    return Measure(name, nm(mm), doubt, doubt, taken_with, source)


def ribbed(centre: int, grooves: int, profile: str = "PK") -> Band:
    """A ribbed band, as wide as its grooves and half a groove more."""
    half = (2 * grooves + 1) * RIB_PITCH[profile] // 4
    return Band(centre - half, centre + half, "ribbed", grooves)


def smooth(centre: int, width: float) -> Band:
    """A smooth band."""
    half = nm(width) // 2
    return Band(centre - half, centre + half, "smooth", 0)


class Dice:
    """Draws with names, from one source of randomness."""

    def __init__(self, seed: str) -> None:
        self.random = Random(seed)

    def one(self, values: Sequence[T]) -> T:
        return values[int(self.random.random() * len(values))]

    def whole(self, low: int, high: int) -> int:
        return low + int(self.random.random() * (high - low + 1))

    def chance(self, percent: float) -> bool:
        return self.random.random() * 100 < percent


class Shelf:
    """Parts, connections and rules so far."""

    def __init__(self) -> None:
        self.parts: dict[str, Part] = {}
        self.connections: dict[str, Connection] = {}
        self.rules: dict[str, Rule] = {}
        self.counts: dict[Kind, int] = {}

    def snapshot(self) -> Snapshot:
        """What is on the shelf, in the order in which a database would give it."""
        release = Release(1, "assortment", "sha256:" + "0" * 64, "2026-01-05", "")
        return Snapshot(
            release,
            CURRENCY,
            {number: self.parts[number] for number in sorted(self.parts)},
            {name: self.connections[name] for name in sorted(self.connections)},
            tuple(self.rules[name] for name in sorted(self.rules)),
        )

    def add(
        self,
        number: str,
        kind: Kind,
        name: str,
        *,
        cents: int | None = None,
        ports: Iterable[Port] = (),
        measures: Iterable[Measure] = (),
        attributes: Mapping[str, AttributeValue] | None = None,
        bands: Sequence[Band] = (),
        aliases: Iterable[str] = (),
        cues: Iterable[Cue] = (),
        recommended: bool = False,
    ) -> Part:
        """Put a part on the shelf."""
        if number in self.parts:
            message = f"{number} is there already"
            raise ValueError(message)
        given = attributes or {}
        part = self.parts[number] = Part(
            number,
            kind,
            name,
            "active",
            recommended,
            tuple(sorted(aliases)),
            {key: given[key] for key in sorted(given)},
            {one.name: one for one in sorted(measures, key=lambda one: one.name)},
            tuple(bands),
            tuple(sorted(ports, key=lambda port: port.name)),
            tuple(sorted(cues, key=lambda cue: cue.name)),
            None if cents is None else Price(cents, CURRENCY),
        )
        self.counts[kind] = self.counts.get(kind, 0) + 1
        return part

    def connect(
        self,
        name: str,
        title: str,
        sort: str,
        ends: tuple[str, str],
        seal: Seal,
        *,
        pieces: int = 1,
        gasket: str | None = None,
        bolts: int = 0,
        size: str | None = None,
    ) -> None:
        """Add a way in which two parts meet."""
        self.connections[name] = Connection(name, title, sort, ends, seal, pieces, gasket, bolts, size)

    def rule(
        self,
        name: str,
        kind: RuleKind,
        part: str,
        others: Iterable[str],
        *,
        settles: tuple[str, ...] = (),
        source: str = "shop car",
    ) -> None:
        """Add a rule between parts."""
        self.rules[name] = Rule(name, kind, part, tuple(others), settles, source)

    def inner(
        self,
        name: str,
        role: Role,
        connection: str,
        side: Side | None = None,
        direction: Direction | None = None,
        *,
        channel: str | None = None,
        gasket: str | None = None,
        wet: bool = True,
    ) -> Port:
        """A port on the first end, the one nearer the block: spigot, male, hole, hub."""
        end = self.connections[connection].ends[0]
        return Port(name, role, connection, end, channel, side, direction, wet, gasket)

    def outer(self, name: str, role: Role, connection: str, *, gasket: str | None = None, wet: bool = True) -> Port:
        """A port on the second end: hose, female, plug, pulley."""
        return Port(name, role, connection, self.connections[connection].ends[1], None, None, None, wet, gasket)
