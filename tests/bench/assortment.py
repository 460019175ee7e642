"""Believable catalogs of any size: `snapshot(parts, seed, on_face)`. All names are coined and all numbers invented.

The asked face, that of the first family, is the same whatever the size of the catalog: it depends on the seed and on
`on_face` alone. What grows is everything else: other makers' families, and hoses, fittings and bolts by the thousand.
"""

from typing import Final

from catalog.domain import Side, Snapshot
from tests.bench.around import add_fans, add_heaters, add_housings, add_outlet_plates, add_radiators
from tests.bench.family import Family
from tests.bench.lines import Stock, add_connections
from tests.bench.pump import add_pump
from tests.bench.rules import add_rules
from tests.bench.shelf import Dice, Shelf

_WOODS = [
    "Rowan",
    "Hazel",
    "Maple",
    "Alder",
    "Birch",
    "Cedar",
    "Willow",
    "Linden",
    "Juniper",
    "Sorrel",
    "Bracken",
    "Thistle",
    "Sedge",
    "Larch",
    "Aspen",
    "Hornbeam",
    "Spindle",
    "Medlar",
    "Tansy",
    "Yarrow",
]
_BIRDS = [
    "whimbrel",
    "dunlin",
    "godwit",
    "siskin",
    "linnet",
    "pipit",
    "dotterel",
    "sanderling",
    "phalarope",
    "turnstone",
    "lapwing",
    "fieldfare",
    "wheatear",
    "bunting",
]
LEAST: Final = 1_000
"""The smallest catalog."""
_SHARES: Final = {"hose": 44, "fitting": 21, "fastener_set": 10, "closure": 4}
"""What lines and bolts there are of a hundred parts; families are the rest."""


def snapshot(parts: int, seed: int = 1, on_face: int | None = None) -> Snapshot:
    """A catalog of so many parts; the same one for the same arguments.

    Parameters
    ----------
    parts
        How many parts in all, 1,000 at least.
    seed
        Names the catalog.
    on_face
        How many pumps sit on the asked face: 100 at 1,000 parts and 400 above, where it is left out.

    Raises
    ------
    ValueError
        When the parts of the asked face alone are more than that.
    """
    if parts < LEAST:
        raise ValueError(f"a catalog has {LEAST} parts at least")
    on_face = (100 if parts < 5_000 else 400) if on_face is None else on_face
    shelf = Shelf()
    add_connections(shelf)
    families = _asked_face(shelf, seed, on_face)
    dice = Dice(f"{seed} others")
    stock = Stock(shelf, Dice(f"{seed} stock"))
    stock.add_basics()
    stock.add_block_bolts()
    others = _other_families(shelf, dice, parts, len(families))
    _fill(shelf, stock, dice, others, parts)
    return shelf.snapshot()


def _asked_face(shelf: Shelf, seed: int, on_face: int) -> list[Family]:
    """The asked family and its neighbour, whose pumps it takes by adapter plates or on a second face.

    No outlet points to the right on either, so that there is a side which nothing serves.
    """
    dice = Dice(f"{seed} asked face")
    sides: tuple[Side, ...] = ("left", "left", "centre")
    first, second = (Family(shelf, dice, number, _title(number), sides) for number in (0, 1))
    _add(first, on_face)
    _add(second, max(4, on_face // 5), small=True)
    first.add_engines(second)
    second.add_engines()
    for place, (thickness, tapped) in enumerate(((20, True), (28, False)), start=1):
        first.add_adapter(second, place, thickness, tapped=tapped)
    second.add_adapter(first, 1, 24, tapped=True)
    stock = Stock(shelf, dice)
    for family in (first, second):
        add_rules(family)
        for _ in range(on_face // 8):
            _molded(stock, dice, family, prefix="HM0")
    return [first, second]


def _add(family: Family, pumps: int, *, small: bool = False) -> None:
    """All that a family sells but its engines, its adapter plates and what is known of it."""
    family.add_front(small=small)
    for place in range(pumps):
        add_pump(family, place)
    for add in (add_housings, add_radiators, add_heaters, add_fans, add_outlet_plates):
        add(family)


def _title(number: int) -> str:
    """A coined name for a family."""
    count = len(_WOODS) * len(_BIRDS)
    wood, bird = divmod((number * 97) % count, len(_BIRDS))
    again = number // count
    return f"{_WOODS[wood]}{_BIRDS[bird]}" + (f"{again + 1}" if again else "")


def _other_families(shelf: Shelf, dice: Dice, parts: int, number: int) -> list[Family]:
    """Families until they are their share; one small one at least."""
    share = parts * (100 - sum(_SHARES.values())) // 100
    found: list[Family] = []
    while not found or len(shelf.parts) < share:
        sides: tuple[Side, ...] = dice.one((("left",), ("left", "right"), ("right", "centre", "left")))
        family = Family(shelf, dice, number + len(found), _title(number + len(found)), sides)
        room = max(3, share - len(shelf.parts) - 80)
        pumps = min(dice.one((8, 12, 20, 30, 45, 70, 110, 180, 320)), room)
        _add(family, pumps, small=True)
        family.add_engines(found[-1] if found and dice.chance(20) else None)
        if found:
            family.add_adapter(dice.one(found), 1, dice.whole(12, 40), tapped=dice.chance(50))
        add_rules(family)
        found.append(family)
    return found


def _fill(shelf: Shelf, stock: Stock, dice: Dice, families: list[Family], parts: int) -> None:
    """Hoses, fittings, bolts and closures, in their proportions, until there are so many parts."""
    wheel = tuple(name for name, share in _SHARES.items() for _ in range(share))
    if len(shelf.parts) > parts:
        message = f"{len(shelf.parts)} parts belong to the asked face and to what it needs; ask for more in all"
        raise ValueError(message)
    while len(shelf.parts) < parts:
        kind = dice.one(wheel)
        if kind == "hose":
            if dice.chance(60):
                _molded(stock, dice, dice.one(families))
            else:
                stock.hose()
        elif kind == "fitting":
            stock.fitting(tuple(dice.one(families).quick))
        elif kind == "fastener_set":
            stock.fasteners()
        else:
            stock.closure()


def _molded(stock: Stock, dice: Dice, family: Family, prefix: str = "HM") -> None:
    """A molded hose of a family: a pump's outlet to a radiator, or a radiator to a housing's neck."""
    radiator = dice.one(family.radiators)
    ends = {port.name: port.connection for port in radiator.ports}
    if dice.chance(60):
        part, name, end = dice.one(family.pumps), "outlet", "upper"
    else:
        part, name, end = dice.one(family.housings), "neck", "lower"
    connection = next(port.connection for port in part.ports if port.name == name)
    stock.molded((part, connection), (radiator, ends[end]), prefix=prefix)
