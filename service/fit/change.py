"""A change to a build: what it gives up of what the build asks for, and what it says instead."""

from typing import Annotated, Literal

import msgspec
from msgspec import UNSET, Meta, UnsetType

from catalog.domain import Direction
from service.fit.build import (
    Amount,
    Build,
    FanReference,
    Fault,
    HeaterReference,
    Measured,
    NotNegative,
    PartNumber,
    PartReference,
    RadiatorPorts,
    RankKey,
    ShortText,
    Work,
)
from service.fit.requirements import Requirement, dropping, given


class PartialMust(msgspec.Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True):
    """The fields of `must` that change; the others stay."""

    outlet_side: Literal["left", "right"] | UnsetType = UNSET
    outlet_direction: Direction | UnsetType = UNSET
    work_at_most: Work | UnsetType = UNSET
    price_at_most: Amount | UnsetType = UNSET
    without: Annotated[list[PartNumber], Meta(max_length=100, description="Part numbers not to use.")] | UnsetType = (
        UNSET
    )


class PartialBuild(msgspec.Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True):
    """The fields of a build that change; the others stay."""

    engine: PartReference | UnsetType = UNSET
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
    pump_drive: Literal["belt", "remote"] | UnsetType = UNSET
    have: (
        Annotated[list[PartNumber], Meta(max_length=100, description="Pieces at hand, one entry a piece.")] | UnsetType
    ) = UNSET
    measured: Annotated[list[Measured], Meta(max_length=100)] | UnsetType = UNSET
    must: PartialMust | UnsetType = UNSET
    rank_by: Annotated[list[RankKey], Meta(max_length=6)] | UnsetType = UNSET
    limit: Annotated[int, Meta(ge=1, le=50, description="Changes nothing here.")] | UnsetType = UNSET
    paths_per_pump: Annotated[int, Meta(ge=1, le=50, description="Changes nothing here.")] | UnsetType = UNSET


class Change(msgspec.Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True):
    """One change to the build: it gives something up, sets something else, or both."""

    name: Annotated[ShortText, Meta(description="What the asker calls it; it is answered with it.")] | UnsetType = UNSET
    give_up: Annotated[
        list[Requirement],
        Meta(max_length=16, description="Fields of the build to leave out: `give_up` of a remedy serves as it is."),
    ] = []
    set: Annotated[
        PartialBuild,
        Meta(
            description="Fields of the build to say otherwise, `must` field by field and every list as a whole; `swap` "
            "and `move` of a remedy serve as they are. A radiator takes the place of `radiator_ports`, and the other "
            "way round."
        ),
    ] = msgspec.field(default_factory=PartialBuild)

    @property
    def sets(self) -> tuple[str, ...]:
        """The fields that it sets, those of `must` by names such as `must.outlet_side`."""
        own = [name for name in _said(self.set) if name != "must"]
        must = [] if self.set.must is UNSET else [f"must.{name}" for name in _said(self.set.must)]
        return (*own, *must)


def _said(fields: PartialBuild | PartialMust) -> list[str]:
    return [name for name in fields.__struct_fields__ if getattr(fields, name) is not UNSET]


def changed(build: Build, change: Change) -> Build:
    """The build with the change made."""
    build = dropping(build, change.give_up)
    own = {name: getattr(change.set, name) for name in _said(change.set) if name != "must"}
    for one, other in (("radiator", "radiator_ports"), ("radiator_ports", "radiator")):
        if one in own:  # two ways to say the same
            own.setdefault(other, UNSET)
    if change.set.must is not UNSET:
        must = {name: getattr(change.set.must, name) for name in _said(change.set.must)}
        own["must"] = msgspec.structs.replace(build.must, **must)
    return msgspec.structs.replace(build, **own)


def faults_of(build: Build, change: Change) -> list[Fault]:
    """What is wrong with a change by itself, at pointers into it."""
    if not change.give_up and not change.sets:
        return [Fault("", "no-change", "This change gives up nothing and sets nothing.")]
    asked, faults = given(build), []
    for place, field in enumerate(change.give_up):
        pointer = f"/give_up/{place}"
        if field in change.sets:
            faults.append(Fault(pointer, "contradiction", f"{field} is given up and set; do one of the two."))
        elif field not in asked:
            faults.append(Fault(pointer, "not-asked", f"The build does not ask for {field}, so it cannot give it up."))
    return faults
