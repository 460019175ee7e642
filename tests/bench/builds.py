"""What is asked of a made catalog: a plain build, a whole one, and blocked ones, each blocked by something else."""

from collections.abc import Iterator
from itertools import count, permutations
from random import Random
from typing import Any, Final, NamedTuple

import msgspec

from catalog.domain import Part, Snapshot
from service.fit.build import Amount, Build


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


def anew(snapshot: Snapshot, build: Build) -> Iterator[Build]:
    """The build again and again, each time as a question that nobody asked before, of the same drive and cover.

    Every other one goes without one more hose, which no option of a plain build has; those between rank by other keys
    and list up to so many options for one pump.
    """
    hoses = [number for number, part in snapshot.parts.items() if part.kind == "hose"]
    keys = [list(each) for many in range(1, len(_RANKS) + 1) for each in permutations(_RANKS, many)]
    Random(1).shuffle(keys)
    for turn in count():
        more, at = divmod(turn, len(hoses))
        without = [hoses[at], *hoses[:more]]
        yield msgspec.structs.replace(build, must=msgspec.structs.replace(build.must, without=without))
        most, at = divmod(turn, len(keys))
        yield msgspec.structs.replace(build, rank_by=keys[at], paths_per_pump=2 + most)


_RANKS: Final = ("work", "recommended", "price", "margin", "parts", "length")


def limited(snapshot: Snapshot, build: Build) -> Iterator[Build]:
    """The build again and again, each time with another limit on the price, which hardly any option exceeds."""
    for cents in count(300_000):
        at_most = Amount(cents / 100, snapshot.currency)
        yield msgspec.structs.replace(build, must=msgspec.structs.replace(build.must, price_at_most=at_most))


def elsewhere(snapshot: Snapshot, build: Build) -> list[Build]:
    """The build with every other drive and cover that bolts to its engine's face."""
    drives = [number for number in sorted(snapshot.parts) if number.startswith("DR-000-")]
    covers = [number for number in sorted(snapshot.parts) if number.startswith("FC-000-")]
    found = [msgspec.structs.replace(build, accessory_drive=d, front_cover=c) for c in covers for d in drives]
    return [other for other in found if other != build]


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
