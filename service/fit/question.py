"""A build resolved against a release: references become parts, readings replace measures, faults are gathered."""

import re
from collections import Counter
from collections.abc import Mapping
from decimal import Decimal
from typing import Any, Final

import msgspec
from msgspec import UNSET

from catalog.domain import Kind, Part, Snapshot
from catalog.standards.flares import SIZE
from catalog.units import NM_PER_MM, minor_units
from service.fit.answer import Challenged
from service.fit.build import Build, BuildError, Described, RadiatorPort
from service.fit.readings import Reader, a_kind

SLOTS: Final[dict[str, Kind]] = {
    "engine": "engine",
    "accessory_drive": "accessory_drive",
    "front_cover": "front_cover",
    "pump": "water_pump",
    "pulley": "pulley",
    "crank_pulley": "crank_pulley",
    "radiator": "radiator",
    "heater": "heater_core",
    "fan": "fan",
}
"""The fields of a build that name one part, with the kind that each takes."""

WORDS: Final[dict[str, tuple[str, ...]]] = {"heater": ("none",), "fan": ("mechanical", "electric", "none")}
"""What a field may say instead of naming a part."""

RANK_KEYS: Final = ("work", "recommended", "price", "margin")
"""The order of ranking where the build states none."""


_CHOSEN: Final[tuple[Kind, ...]] = ("water_pump", "pulley", "remote_pump")


class Question(msgspec.Struct, frozen=True):
    """A build whose every name has been found. A slot that was left out is absent from `slots`."""

    build: Build
    slots: Mapping[str, Part]
    overlay: Mapping[str, Part]
    """Parts as the asker has read them, by number."""
    read: frozenset[str]
    """Numbers of the parts of which the asker gave a reading."""
    described: frozenset[str]
    have: Mapping[str, int]
    without: frozenset[str]
    core_distance: int | None
    """From the block's pump face to the radiator's core, nm."""
    price_at_most: int | None
    rank_keys: tuple[str, ...]
    replaced: tuple[tuple[str, str, str], ...]
    stated: frozenset[tuple[Kind, str]]
    """What at least one part of a kind in the release states: what none does nobody can be asked for."""
    challenged: tuple[Challenged, ...] = ()
    """Readings that contradict the parts they are of, and so replace nothing."""

    @property
    def doubted(self) -> frozenset[str]:
        """Numbers of the parts of which a reading is challenged."""
        return frozenset(each.part for each in self.challenged)

    @property
    def standing(self) -> list[Part]:
        """The parts of the build that every option has, whatever it chooses to put on the block."""
        return [part for part in self.slots.values() if part.kind not in _CHOSEN]

    def part(self, part: Part) -> Part:
        """The part, with the asker's own readings where there are any."""
        return self.overlay.get(part.number, part)

    def allows(self, part: Part) -> bool:
        """Whether the part may be chosen: on sale, and not one to do without."""
        return part.status == "active" and part.number not in self.without


def resolve(snapshot: Snapshot, build: Build) -> Question:
    """Find every name of the build in the release.

    Raises
    ------
    BuildError
        With every fault of the build, when there is any.
    """
    return _Resolver(snapshot, build).question()


class _Resolver(Reader):
    def __init__(self, snapshot: Snapshot, build: Build) -> None:
        super().__init__(snapshot)
        self.build = build
        self.replaced: list[tuple[str, str, str]] = []

    def question(self) -> Question:
        build = self.build
        have = Counter(part.number for part in self._parts(build.have, "/have"))
        without = frozenset(part.number for part in self._parts(build.must.without, "/must/without"))
        overlay, readings = self.readings(build.measured)
        slots, canonical = self._slots(have, overlay)
        canonical |= self._radiator_ports()
        core = None if build.core_distance is UNSET else self.length(build.core_distance, "/core_distance")
        if core is not None:
            canonical["core_distance"] = core / NM_PER_MM
        price = self._price()
        if self.faults:
            raise BuildError(self.faults)
        canonical_build = msgspec.structs.replace(
            build,
            **canonical,
            have=sorted(have.elements()),
            measured=readings,
            must=msgspec.structs.replace(build.must, without=sorted(without)),
            rank_by=list(dict.fromkeys(build.rank_by)),
        )
        return Question(
            build=canonical_build,
            slots=slots,
            overlay=overlay,
            read=frozenset((*overlay, *(each.part for each in self.challenged))),
            described=frozenset(
                part.number for slot, part in slots.items() if isinstance(getattr(build, slot), Described)
            ),
            have=have,
            without=without,
            core_distance=core,
            price_at_most=price,
            rank_keys=tuple(dict.fromkeys((*build.rank_by, *RANK_KEYS))),
            replaced=tuple(self.replaced),
            stated=self.snapshot.stated,
            challenged=tuple(self.challenged),
        )

    def _parts(self, references: list[str], pointer: str) -> list[Part]:
        found = [self.find(reference, f"{pointer}/{place}") for place, reference in enumerate(references)]
        return [part for part in found if part is not None]

    def _slots(self, have: Mapping[str, int], overlay: Mapping[str, Part]) -> tuple[dict[str, Part], dict[str, Any]]:
        slots: dict[str, Part] = {}
        canonical: dict[str, Any] = {}
        for slot, kind in SLOTS.items():
            reference = getattr(self.build, slot)
            if reference is UNSET:
                continue
            if isinstance(reference, Described):
                slots[slot], canonical[slot] = self.described(reference, slot, kind)
                continue
            if reference.casefold() in WORDS.get(slot, ()):
                canonical[slot] = reference.casefold()
                continue
            if slot == "heater" and re.fullmatch(SIZE, reference):
                canonical[slot] = self.size(reference, "/heater")
                continue
            part = self.find(reference, f"/{slot}")
            if part is None:
                continue
            if part.kind != kind:
                message = f"{part.number} is {a_kind(part.kind)}, and {slot} takes {a_kind(kind)}."
                self.fault(f"/{slot}", "wrong-kind", message)
                continue
            part = self._replacement(slot, part, have)
            slots[slot], canonical[slot] = overlay.get(part.number, part), part.number
        return slots, canonical

    def _radiator_ports(self) -> dict[str, Any]:
        ports = self.build.radiator_ports
        if ports is UNSET:
            return {}
        if self.build.radiator is not UNSET:
            self.fault("/radiator_ports", "contradiction", "Name the radiator or its ports, not both.")
        named = {"upper": ports.upper, "lower": ports.lower}
        return {
            "radiator_ports": msgspec.structs.replace(
                ports, **{name: self._radiator_port(port, f"/radiator_ports/{name}") for name, port in named.items()}
            )
        }

    def _radiator_port(self, port: RadiatorPort, pointer: str) -> RadiatorPort:
        if (port.connection is UNSET) == (port.size is UNSET):
            self.fault(pointer, "contradiction", "Give a connection or a size, and not both.")
        if port.size is UNSET:
            return port
        return msgspec.structs.replace(port, size=self.size(port.size, f"{pointer}/size"))

    def _replacement(self, slot: str, part: Part, have: Mapping[str, int]) -> Part:
        """The part that replaces a retired one; the retired one itself where it is at hand or nothing does."""
        asked = part
        while part.status == "retired" and part.number not in have:
            rule = next((r for r in self.snapshot.rules if r.kind == "replaced_by" and r.part == part.number), None)
            if rule is None or (newer := self.snapshot.parts[rule.others[0]]).kind != asked.kind:
                break
            part = newer
        if part is not asked:
            self.replaced.append((slot, asked.number, part.number))
        return part

    def _price(self) -> int | None:
        limit = self.build.must.price_at_most
        if limit is UNSET:
            return None
        if self.snapshot.currency and limit.currency != self.snapshot.currency:
            self.fault(
                "/must/price_at_most/currency",
                "wrong-currency",
                f"Prices here are in {self.snapshot.currency}, not {limit.currency}.",
            )
            return None
        try:
            return minor_units(Decimal(repr(limit.amount)), limit.currency)
        except ValueError as error:
            self.fault("/must/price_at_most/amount", "invalid-amount", f"{error}.")
            return None
