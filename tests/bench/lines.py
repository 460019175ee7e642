"""What every shop has in drawers: hoses, fittings, plugs, caps and bolts, few sizes in thousands of forms."""

from catalog.domain import Measure, Part
from catalog.standards.threads import STOCK_LENGTHS, length_tolerance
from catalog.units import NM_PER_MM
from tests.bench.shelf import Dice, Shelf, measure

HOSES = {
    "hose_51": "2 in",
    "hose_44": "1 3/4 in",
    "hose_38": "1 1/2 in",
    "hose_32": "1 1/4 in",
    "hose_25": "1 in",
    "hose_19": "3/4 in",
    "hose_16": "5/8 in",
    "hose_13": "1/2 in",
    "hose_10": "3/8 in",
    "hose_6": "1/4 in",
    "hose_45_metric": "45 mm",
    "hose_40_metric": "40 mm",
    "hose_38_metric": "38 mm",
    "hose_35_metric": "35 mm",
    "hose_30_metric": "30 mm",
    "hose_28_metric": "28 mm",
    "hose_18_metric": "18 mm",
    "hose_15_metric": "15 mm",
}
"""Hoses by inside diameter, each a connection of its own."""
MAINS = tuple(name for name in HOSES if int(name.split("_")[1]) >= 28)
SMALLS = tuple(name for name in HOSES if int(name.split("_")[1]) < 28)
DASHES = (4, 6, 8, 10, 12, 16, 20, 24)
THREADS = ("taper_1_8", "taper_1_4", "taper_3_8", "taper_1_2", "taper_3_4")
FAN_SEATS = ("fan_thread_right", "fan_thread_left")
MATERIALS = ("rubber", "reinforced rubber", "silicone", "lined silicone", "braided")
COLOURS = ("black", "blue", "grey", "red")
FINISHES = ("brass", "steel", "stainless steel", "aluminium", "black aluminium", "plastic")
ANGLES = ("straight", "30 degrees", "45 degrees", "90 degrees", "120 degrees", "180 degrees")
BOLT_FINISHES = ("zinc", "black", "stainless steel", "flanged", "waxed")


def add_connections(shelf: Shelf) -> None:
    """Sizes that many makers share."""
    for name, said in HOSES.items():
        size = f"{said} hose"
        shelf.connect(name, f"{size} on a bead", "hose", ("spigot", "hose"), "clamp", size=size)
    for dash in DASHES:
        title = f"-{dash} flare, 37 degrees"
        shelf.connect(f"flare_{dash}", title, "flare_37", ("male", "female"), "metal", size=f"-{dash}")
    shelf.connect("flare_45_8", "1/2 in tube flare, 45 degrees", "flare_45", ("male", "female"), "metal")
    for name in THREADS:
        shelf.connect(name, f"{name.replace('_', ' ')} in pipe thread", "thread", ("hole", "plug"), "sealant")
    shelf.connect("thread_m12", "M12x1.5 thread with an O-ring", "thread", ("hole", "plug"), "o_ring")
    shelf.connect("press_38", "Bore for a 1 1/2 in press-in neck", "press", ("bore", "tube"), "sealant")
    shelf.connect("weld_38", "Bung for a 1 1/2 in tube", "weld", ("bung", "tube"), "none")
    for name in FAN_SEATS:
        shelf.connect(name, f"{name.replace('_', ' ').capitalize()}-hand", "fan_thread", ("nose", "nut"), "none")
    shelf.connect("fan_bolts", "Fan on four studs", "fan_bolts", ("flange", "fan"), "none")
    for seat in (54, 62, 67):
        shelf.connect(f"thermostat_{seat}", f"{seat} mm thermostat seat", "seat", ("housing", "thermostat"), "none")


class Stock:
    """Adds pieces for lines one by one; the first of every size make sure that each can be led on and closed."""

    def __init__(self, shelf: Shelf, dice: Dice) -> None:
        self.shelf, self.dice = shelf, dice
        self._next: dict[str, int] = {}

    def _number(self, prefix: str) -> str:
        self._next[prefix] = self._next.get(prefix, 0) + 1
        return f"{prefix}-{self._next[prefix]:05}"

    def _cents(self, low: int, high: int) -> int | None:
        return None if self.dice.chance(1) else self.dice.whole(low, high) // 10 * 10 + self.dice.one((0, 5, 9))

    def add_basics(self) -> None:
        """One of everything that a line needs: a hose, a crossing hose, a cap and joiners of each size."""
        for size in HOSES:
            self.straight(size)
            self.cap(size)
        for size in ("hose_44", "hose_38", "hose_32", "hose_38_metric"):
            self.crossing(size)
        for one, other in (
            ("hose_38", "hose_32"),
            ("hose_44", "hose_38"),
            ("hose_38_metric", "hose_38"),
            ("hose_19", "hose_16"),
        ):
            self.between(one, other)
        for dash in DASHES:
            self.flare_hose(dash)
            self.cap(f"flare_{dash}")
        for thread in (*THREADS, "thread_m12"):
            self.plug(thread)
        for thread, size in (("taper_1_2", "hose_16"), ("taper_1_2", "hose_19"), ("taper_3_8", "hose_10")):
            self.nipple(thread, size)
        for dash, size in ((16, "hose_32"), (16, "hose_38"), (20, "hose_38"), (6, "hose_10"), (8, "hose_13")):
            self.between(f"flare_{dash}", size)
        self.nipple("press_38", "hose_38", work="press")
        self.nipple("weld_38", "hose_38", work="weld")
        for seat in FAN_SEATS:
            self.cap(seat)

    def hose(self) -> None:
        """A hose that is not made for two parts: straight, crossing, or with flare ends."""
        roll = self.dice.whole(0, 99)
        if roll < 76:
            self.straight(self.dice.one(tuple(HOSES)))
        elif roll < 86:
            self.crossing(self.dice.one(MAINS))
        else:
            self.flare_hose(self.dice.one(DASHES))

    def _hose(self, one: str, other: str, words: str, cents: int, *, crosses: bool = False) -> None:
        length = self.dice.whole(4, 48) * 50
        material, colour = self.dice.one(MATERIALS), self.dice.one(COLOURS)
        attributes: dict[str, bool | int | str] = {"shape": "straight"}
        if crosses:
            attributes["crosses"] = True
        self.shelf.add(
            self._number("HS"),
            "hose",
            f"{words}, {material}, {colour}, {length} mm",
            cents=self._cents(cents + length, cents + 4 * length),
            ports=(self.shelf.outer("one", "line", one), self.shelf.outer("other", "line", other)),
            measures=(measure("length", length, within=5),),
            attributes=attributes,
            recommended=self.dice.chance(3),
        )

    def straight(self, size: str) -> None:
        self._hose(size, size, f"Straight {HOSES[size]} hose", 300)

    def crossing(self, size: str) -> None:
        self._hose(size, size, f"{HOSES[size]} hose that crosses over", 1500, crosses=True)

    def flare_hose(self, dash: int) -> None:
        self._hose(f"flare_{dash}", f"flare_{dash}", f"Flare hose, -{dash}, swivel ends", 2500)

    def molded(self, one: tuple[Part, str], other: tuple[Part, str], prefix: str = "HM") -> None:
        """A hose that fits just these two parts, each at a port on this connection."""
        length = self.dice.whole(20, 90) * 10
        self.shelf.add(
            self._number(prefix),
            "hose",
            f"Molded hose, {one[0].name} to {other[0].name}",
            cents=self._cents(1400, 5800),
            ports=(self.shelf.outer("one", "line", one[1]), self.shelf.outer("other", "line", other[1])),
            measures=(measure("length", length, within=5),),
            attributes={"shape": "molded", "molded_from": one[0].number, "molded_to": other[0].number},
            aliases=(f"71{self.dice.whole(10**7, 10**8 - 1)}-{self.shelf.counts.get('hose', 0)}",)
            if self.dice.chance(30)
            else (),
        )

    def fitting(self, own: tuple[str, ...] = ()) -> None:
        """A fitting between sizes, into a thread, with three ends; or to a maker's own connection, one of `own`."""
        roll = self.dice.whole(0, 99)
        if own and roll < 45:
            self.between(self.dice.one(own), self.dice.one(SMALLS))
        elif roll < 65:
            sizes = MAINS if self.dice.chance(50) else SMALLS
            self.between(self.dice.one(sizes), self.dice.one(sizes))
        elif roll < 75:
            self.between(f"flare_{self.dice.one(DASHES)}", self.dice.one(tuple(HOSES)))
        elif roll < 82:
            self.between(f"flare_{self.dice.one(DASHES)}", f"flare_{self.dice.one(DASHES)}")
        elif roll < 96:
            self.nipple(self.dice.one(THREADS), self.dice.one(SMALLS))
        else:
            self.tee(self.dice.one(SMALLS), self.dice.one(SMALLS))

    def _form(self) -> str:
        return f"{self.dice.one(FINISHES)}, {self.dice.one(ANGLES)}"

    def between(self, one: str, other: str) -> None:
        """A joiner or a reducer."""
        titles = [self.shelf.connections[name].title.partition(" on ")[0] for name in (one, other)]
        self.shelf.add(
            self._number("FT"),
            "fitting",
            f"Fitting, {titles[0]} to {titles[1]}, {self._form()}",
            cents=self._cents(350, 3900),
            ports=(self.shelf.inner("one", "line", one), self.shelf.inner("other", "line", other)),
        )

    def nipple(self, thread: str, size: str, work: str = "") -> None:
        """An end for a hose, screwed, pressed or welded in."""
        self.shelf.add(
            self._number("NP"),
            "fitting",
            f"End for {HOSES[size]} hose, {thread.replace('_', ' ')}, {self._form()}",
            cents=self._cents(250, 2500),
            ports=(self.shelf.outer("mount", "mount", thread), self.shelf.inner("line", "line", size)),
            attributes={"work": work} if work else {},
        )

    def tee(self, size: str, branch: str) -> None:
        """A fitting with a third end."""
        self.shelf.add(
            self._number("TE"),
            "fitting",
            f"Tee, {HOSES[size]} hose with a {HOSES[branch]} branch, {self._form()}",
            cents=self._cents(600, 3000),
            ports=(
                self.shelf.inner("one", "line", size),
                self.shelf.inner("other", "line", size),
                self.shelf.inner("branch", "line", branch),
            ),
        )

    def closure(self) -> None:
        """A plug or a cap."""
        if self.dice.chance(50):
            self.plug(self.dice.one((*THREADS, "thread_m12")))
        else:
            self.cap(self.dice.one((*HOSES, *(f"flare_{dash}" for dash in DASHES))))

    def plug(self, thread: str) -> None:
        self.shelf.add(
            self._number("PL"),
            "plug",
            f"Plug, {thread.replace('_', ' ')}, {self.dice.one(FINISHES)}, form {self.dice.whole(1, 40)}",
            cents=self._cents(150, 1500),
            ports=(self.shelf.outer("mount", "mount", thread),),
        )

    def cap(self, name: str) -> None:
        title = self.shelf.connections[name].title.partition(" on ")[0]
        self.shelf.add(
            self._number("CA"),
            "cap",
            f"Cap for {title}, {self.dice.one(FINISHES)}, form {self.dice.whole(1, 40)}",
            cents=self._cents(150, 1500),
            ports=(self.shelf.outer("mount", "mount", name),),
        )

    def add_block_bolts(self) -> None:
        """Sets of every stock length for the usual block thread, and some for housings."""
        for length in STOCK_LENGTHS:
            if 25 <= length <= 150:
                self.bolts("M8x1.25", length, 8)
        for length in (16, 20, 25, 30, 35, 40):
            self.bolts("M6x1", length, 4)

    def fasteners(self) -> None:
        """A set of bolts of any thread, stock length and number."""
        thread = self.dice.one(("M6x1", "M8x1.25", "M8x1", "M10x1.5", "M10x1.25"))
        self.bolts(thread, self.dice.one(STOCK_LENGTHS), self.dice.one((1, 2, 3, 4, 6, 8, 10, 12)))

    def bolts(self, thread: str, length: int, pieces: int) -> None:
        """A set of bolts, most with washers; a few are kits with shorter bolts for a housing as well."""
        doubt = length_tolerance(length * NM_PER_MM)
        measures = [Measure("length", length * NM_PER_MM, doubt, doubt, "drawing", "stock length")]
        attributes: dict[str, bool | int | str] = {"thread": thread, "pieces": pieces}
        if self.dice.chance(70):
            measures.append(measure("washer_thickness", 1.6, within=0.2))
        if length >= 40 and self.dice.chance(2):
            short = length_tolerance(25 * NM_PER_MM)
            measures.append(Measure("length.housing", 25 * NM_PER_MM, short, short, "drawing", "stock length"))
            attributes["housing_pieces"] = 4
        self.shelf.add(
            self._number("FS"),
            "fastener_set",
            f"{pieces} bolts {thread} x {length}, {self.dice.one(BOLT_FINISHES)}, form {self.dice.whole(1, 30)}",
            cents=self._cents(100 + pieces * 20, 300 + pieces * 250),
            measures=measures,
            attributes=attributes,
        )
