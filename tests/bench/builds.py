"""What is asked of a made catalog: a plain build, a whole one, and blocked ones, each blocked by something else."""

from collections.abc import Iterator
from typing import Any, Final, NamedTuple

import msgspec

from catalog.domain import Part, Snapshot
from service.fit.build import Build


class Builds(NamedTuple):
    """Builds for one made catalog; those of `blocked` by what blocks them."""

    plain: Build
    whole: Build
    blocked: dict[str, Build]


_PLAIN: Final[dict[str, Any]] = {
    "engine": "EN-000-0001",
    "accessory_drive": "DR-000-0004",
    "front_cover": "FC-000-0001",
}
_WHOLE: Final[dict[str, Any]] = {
    **_PLAIN,
    "crank_pulley": "CP-000-0004",
    "radiator": "RD-000-0001",
    "core_distance": "330 mm",
    "heater": "HC-000-0001",
    "fan": "mechanical",
}
_FACES: Final = {"WP": ("WP-000", "WP-001"), "PU": ("PU-000", "PU-001")}


def builds(snapshot: Snapshot) -> Builds:
    """The builds. Each blocked one names an engine, which is a fact, and eight requirements."""
    blocked = {
        # A belt runs 45 mm and more in front of its pump's room: no stack lifts a pump over the tallest cover and
        # leaves the belt in the innermost plane.
        "plane_behind_cover": _asked(
            accessory_drive="DR-000-0001",
            crank_pulley="CP-000-0001",
            front_cover="FC-000-0004",
            must={"work_at_most": "press"},
        ),
        # No outlet of the asked face or its neighbour points there.
        "outlet_side": _asked(must={"outlet_side": "right"}),
        "price": _asked(must=_at_most(snapshot, 40)),
        "core_distance": _asked(core_distance="150 mm", must={"work_at_most": "press"}),
        # The plane that this crank pulley gives is another drive's.
        "crank_pulley": _asked(crank_pulley="CP-000-0002", must=_at_most(snapshot, 900)),
        # The longest pump is too long for the innermost plane, whatever is put under it.
        "pump": _asked(accessory_drive="DR-000-0001", crank_pulley="CP-000-0001", pump=_longest(snapshot)),
        # The outermost plane leaves no room for a fan that the pump drives; another drive, or another fan, has room.
        "drive_fan_and_core": _asked(
            accessory_drive="DR-000-0006",
            crank_pulley="CP-000-0006",
            core_distance="240 mm",
            must={"work_at_most": "press"},
        ),
        # The smooth side of the belt runs on pumps and pulleys that the asker will not have.
        "drive_and_without": _asked(
            accessory_drive="DR-000-0007",
            crank_pulley="CP-000-0007",
            must={"without": sorted(_smooth(snapshot)), **_at_most(snapshot, 2_000)},
        ),
    }
    return Builds(msgspec.convert(_PLAIN, Build), msgspec.convert(_WHOLE, Build), blocked)


def flat(build: Build) -> dict[str, str]:
    """The fields of a build that are plain text, as a GET takes them; the plain build has no others."""
    return {name: value for name, value in msgspec.to_builtins(build).items() if isinstance(value, str)}


def _asked(**fields: Any) -> Build:
    return msgspec.convert(_WHOLE | fields, Build)


def _at_most(snapshot: Snapshot, amount: int) -> dict[str, Any]:
    return {"price_at_most": {"amount": amount, "currency": snapshot.currency}}


def _of_the_faces(snapshot: Snapshot, prefix: str) -> Iterator[Part]:
    return (part for number, part in snapshot.parts.items() if number.startswith(_FACES[prefix]))


def _longest(snapshot: Snapshot) -> str:
    """The pump with a ribbed pulley of its own, and a seat for a fan, whose belt runs farthest out."""
    pumps = [
        part
        for part in _of_the_faces(snapshot, "WP")
        if part.number.startswith("WP-000")
        and len(part.bands) == 1
        and part.bands[0].grooves in (6, 7, 8)
        and "fan_face" in part.measures
    ]
    return max(pumps, key=lambda part: (part.bands[0].centre, part.number)).number


def _smooth(snapshot: Snapshot) -> Iterator[str]:
    """Pumps that a smooth belt turns the right way, and pulleys on which it could run."""
    for part in (*_of_the_faces(snapshot, "WP"), *_of_the_faces(snapshot, "PU")):
        if any(band.surface == "smooth" for band in part.bands) and part.attributes.get("rotation") != "clockwise":
            yield part.number
