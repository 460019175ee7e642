"""What the shop has learned of a family: fits tested on cars, parts that may not be together or that need another."""

from tests.bench.family import Family


def add_rules(family: Family) -> None:
    """What the shop has learned: fits tested on cars, parts that may not be together, parts that need another."""
    dice = family.dice
    spacers = [number for number in family.shelf.parts if number.startswith(f"SP-{family.number:03}-")]
    covers, drives = ([family.id(prefix, place) for place in range(1, 5)] for prefix in ("FC", "DR"))
    cap = family.id("CV", "boot")
    family.shelf.add(cap, "cap", f"{family.title} rubber boot", cents=family.cents(3, 9))
    for place, pump in enumerate(family.pumps):
        name = f"{family.key}_{place + 1:04}"
        roll = dice.whole(0, 99)
        if roll < 5:
            drive = dice.one(drives)
            settles = ("belt_plane", "cover")
            family.shelf.rule(f"{name}_tested", "tested_fit", pump.number, (drive, dice.one(covers)), settles=settles)
        elif roll < 8:
            others = (dice.one(spacers), dice.one(drives))
            family.shelf.rule(f"{name}_touched", "tested_no_fit", pump.number, others)
        elif roll < 12:
            family.shelf.rule(f"{name}_needs", "requires", pump.number, (cap,))
        elif roll < 16:
            family.shelf.rule(f"{name}_not_with", "excludes", pump.number, (dice.one(family.housings).number,))
        elif roll < 17 and place:
            newer = family.pumps[place - 1].number
            family.shelf.rule(f"{name}_replaced", "replaced_by", pump.number, (newer,))
