"""The fifth release of the demo: hoses, flares, threads, and all that joins, reduces, turns and closes them.

A hose has two ends that go over spigots, a flare hose two swivelling female ends; every fitting between spigots
or male flares shows a spigot or a male flare, so that no line is closed without a hose. Prices are invented.
"""

from itertools import pairwise
from typing import Any

from alembic import op

revision = "catalog_0005"
down_revision = "catalog_0004"
branch_labels = None
depends_on = None

INCHES = {"44": "1 3/4 in", "38": "1 1/2 in", "32": "1 1/4 in", "19": "3/4 in", "16": "5/8 in", "10": "3/8 in"}
SIZES = {**INCHES, "06": "1/4 in", "38M": "38 mm"}
"""Hoses by inside diameter; 38 mm and 1 1/2 in are two connections."""
DASHES = (6, 8, 10, 12, 16, 20)
THREADS = {"12": "1/2 in", "38": "3/8 in", "14": "1/4 in"}
TAPERS = {"12": "taper_1_2", "38": "taper_3_8", "14": "taper_1_4"}


def upgrade() -> None:
    add_hose_connections()
    add_other_connections()
    add_straight_hoses()
    add_special_hoses()
    add_joiners()
    add_flare_hoses()
    add_flare_fittings()
    add_hose_to_flare()
    add_threaded_ends()
    add_pressed_and_welded_ends()
    add_closures()
    op.publish_release(
        5,
        name="lines",
        on="2026-11-02",
        note="Hoses, flares, threads, press-in and weld-on ends, and what joins and closes them",
        digest="sha256:620c6589762a202edf652ec81df17f77cc9b476e8ef08229ff958e197dbb04ec",
    )


def downgrade() -> None:
    op.withdraw_release(5)


def hose_name(size: str) -> str:
    """The connection of a hose size: those of the first release keep their names."""
    return {"06": "hose_6", "38M": "hose_38_metric"}.get(size, f"hose_{size}")


def add_hose_connections() -> None:
    for size, said in SIZES.items():
        if size in ("38", "32", "19", "16"):
            op.revise_connection(hose_name(size), size=f"{said} hose")
        else:
            op.add_connection(
                hose_name(size),
                title=f"{said} hose on a bead",
                sort="hose",
                ends=["spigot", "hose"],
                seal="clamp",
                size=f"{said} hose",
            )


def add_other_connections() -> None:
    for dash in DASHES:
        op.add_connection(
            f"flare_{dash}",
            title=f"-{dash} flare, 37 degrees (SAE J514)",
            sort="flare_37",
            ends=["male", "female"],
            seal="metal",
            size=f"-{dash}",
        )
    for name, title, sort, ends, seal in (
        ("flare_45_8", "1/2 in tube flare, 45 degrees, thread 3/4-16 as a -8", "flare_45", "male female", "metal"),
        *(
            (TAPERS[size], f"{said} taper pipe thread (ASME B1.20.1)", "thread", "hole plug", "sealant")
            for size, said in THREADS.items()
        ),
        ("thread_m12", "M12x1.5 thread with an O-ring", "thread", "hole plug", "o_ring"),
        ("press_38", "Bore for a 1 1/2 in press-in neck", "press", "bore tube", "sealant"),
        ("press_19", "Bore for a 3/4 in press-in nipple", "press", "bore tube", "sealant"),
        ("weld_38", "Bung for a 1 1/2 in tube", "weld", "bung tube", "none"),
        ("weld_32", "Bung for a 1 1/4 in tube", "weld", "bung tube", "none"),
    ):
        op.add_connection(name, title=title, sort=sort, ends=ends.split(), seal=seal)


def usd(cents: int) -> str:
    return f"{cents // 100}.{cents % 100:02} USD"


End = tuple[str, str]
"""Connection and end."""


def spigot(size: str) -> End:
    return (hose_name(size), "spigot")


def hose_end(size: str) -> End:
    return (hose_name(size), "hose")


def male(dash: int) -> End:
    return (f"flare_{dash}", "male")


def female(dash: int) -> End:
    return (f"flare_{dash}", "female")


def line(number: str, name: str, cents: int, one: End, other: End, **more: Any) -> None:
    """A hose or a fitting with two ends; `mounted`, the first is pressed, welded or screwed in."""
    first = "mount" if more.pop("mounted", False) else "line"
    direction = more.pop("direction", None)
    names = ("mount", "line") if first == "mount" else ("one", "other")
    op.add_part(
        number,
        kind=more.pop("kind", "fitting"),
        name=name,
        price=usd(cents),
        ports=[
            {"name": names[0], "role": first, "connection": one[0], "end": one[1], "wet": True},
            {
                "name": names[1],
                "role": "line",
                "connection": other[0],
                "end": other[1],
                "direction": direction,
                "wet": True,
            },
        ],
        **more,
    )


def hose(number: str, name: str, cents: int, one: End, other: End, length: int, **more: Any) -> None:
    """A straight hose; `crosses` one that leads from one side of the engine to the other."""
    line(
        number,
        name,
        cents,
        one,
        other,
        kind="hose",
        measures={"length": {"value": f"{length} mm", "plus": "5 mm", "minus": "5 mm"}},
        attributes={"shape": "straight", **more},
    )


def add_straight_hoses() -> None:
    radiator, heater, vent = (300, 450, 600, 750, 900, 1200), (600, 900, 1200, 1500, 1800, 2400), (600, 900, 1200, 1800)
    for size, lengths, start, by_100 in (
        ("38", radiator, 600, 200),
        ("32", radiator, 550, 180),
        ("44", radiator, 750, 240),
        ("38M", radiator, 650, 210),
        ("19", heater, 300, 90),
        ("16", heater, 280, 80),
        ("10", vent, 200, 60),
        ("06", vent, 150, 50),
    ):
        for length in lengths:
            cents = start + by_100 * length // 100
            name = f"Straight {SIZES[size]} hose, {length} mm"
            hose(f"HS-{size}-{length}", name, cents, hose_end(size), hose_end(size), length)


def add_special_hoses() -> None:
    """Hoses that lead round the front of the engine, and hoses with two sizes of end."""
    for size, length, cents in (
        ("38", 900, 4400),
        ("38", 1200, 5200),
        ("32", 900, 4100),
        ("32", 1200, 4900),
        ("44", 900, 4900),
        ("44", 1200, 5800),
    ):
        name = f"{SIZES[size]} hose that crosses the front of the engine, {length} mm"
        hose(f"CX-{size}-{length}", name, cents, hose_end(size), hose_end(size), length, crosses=True)
    for large, small, cents, length in (
        ("38", "32", 2250, 350),
        ("44", "38", 2600, 350),
        ("44", "32", 2750, 350),
        ("38M", "38", 2300, 350),
        ("19", "16", 1250, 900),
        ("10", "06", 850, 900),
    ):
        name = f"Stepped hose, {SIZES[large]} to {SIZES[small]}, {length} mm"
        hose(f"SH-{large}-{small}", name, cents, hose_end(large), hose_end(small), length)


def add_joiners() -> None:
    """Short tubes with a bead at each end, straight, reducing and bent, and tees."""
    same = {"44": 900, "38": 820, "32": 760, "38M": 830, "19": 450, "16": 430, "10": 320, "06": 300}
    for size, cents in same.items():
        line(f"JN-{size}", f"{SIZES[size]} hose joiner", cents, spigot(size), spigot(size))
    for large, small, cents in (
        ("44", "38", 1150),
        ("44", "32", 1180),
        ("38", "32", 1050),
        ("38M", "38", 1080),
        ("38M", "32", 1090),
        ("19", "16", 560),
        ("10", "06", 420),
    ):
        name = f"Reducer, {SIZES[large]} to {SIZES[small]} hose"
        line(f"RJ-{large}-{small}", name, cents, spigot(large), spigot(small))
    for size, cents in {"44": 1700, "38": 1500, "32": 1400, "19": 800, "16": 760}.items():
        for angle in (45, 90):
            name = f"{SIZES[size]} hose elbow, {angle} degrees"
            line(f"EJ-{size}-{angle}", name, cents + 2 * angle, spigot(size), spigot(size))
    for size, branch, cents in (("38", "06", 1900), ("32", "06", 1850), ("38", "19", 2200), ("19", "19", 980)):
        run = {"role": "line", "connection": hose_name(size), "end": "spigot", "wet": True}
        op.add_part(
            f"TJ-{size}-{branch}",
            kind="fitting",
            name=f"Tee, {SIZES[size]} hose with a {SIZES[branch]} branch",
            price=usd(cents),
            ports=[
                {"name": "one", **run},
                {"name": "other", **run},
                {"name": "branch", **run, "connection": hose_name(branch)},
            ],
        )


def add_flare_hoses() -> None:
    for dash, start, by_100 in ((6, 1800, 200), (8, 2200, 250), (10, 2600, 300), (12, 3100, 350), (16, 4200, 500)):
        add_flare_hoses_of(dash, start, by_100)
    add_flare_hoses_of(20, 4600, 600)


def add_flare_hoses_of(dash: int, start: int, by_100: int) -> None:
    for length in (300, 450, 600, 900, 1200, 1500):
        cents = start + by_100 * length // 100
        hose(f"FH-{dash:02}-{length}", f"Flare hose, -{dash}, {length} mm", cents, female(dash), female(dash), length)


def add_flare_fittings() -> None:
    for dash in DASHES:
        line(f"FU-{dash:02}", f"Flare union, -{dash}", 500 + 60 * dash, male(dash), male(dash))
        for angle in (45, 90):
            name = f"Flare elbow, -{dash}, {angle} degrees, swivel"
            line(f"FE-{dash:02}-{angle}", name, 900 + 90 * dash + angle, female(dash), male(dash))
    for small, large in pairwise(DASHES):
        cents = 900 + 100 * large
        line(f"FR-{large:02}-{small:02}", f"Flare reducer, -{large} to -{small}", cents, female(large), male(small))
        name = f"Flare expander, -{small} to -{large}"
        line(f"FX-{small:02}-{large:02}", name, cents + 50, female(small), male(large))


def add_hose_to_flare() -> None:
    for size, dash, cents in (
        ("44", 20, 4500),
        ("38", 20, 4300),
        ("32", 20, 4200),
        ("38", 16, 3900),
        ("32", 16, 3800),
        ("19", 12, 1900),
        ("19", 10, 1800),
        ("16", 10, 1700),
        ("16", 8, 1550),
        ("10", 6, 1200),
        ("06", 6, 1100),
    ):
        name = f"{SIZES[size]} hose to -{dash} flare"
        line(f"HF-{size}-{dash:02}F", f"{name}, swivel", cents, spigot(size), female(dash))
        line(f"HF-{size}-{dash:02}M", f"{name}, male", cents - 200, spigot(size), male(dash))
    for size, cents in (("19", 1600), ("16", 1500)):
        name = f"{SIZES[size]} hose to 1/2 in flare, 45 degrees, swivel"
        line(f"HF-{size}-45", name, cents, spigot(size), ("flare_45_8", "female"))


def add_threaded_ends() -> None:
    """Ends that are screwed into a hole with sealant: nipples for hoses, and male flares."""
    for thread, size, cents in (
        ("12", "19", 680),
        ("12", "16", 650),
        ("38", "16", 610),
        ("38", "10", 520),
        ("14", "06", 450),
    ):
        name = f"Nipple, {THREADS[thread]} taper thread to {SIZES[size]} hose"
        line(f"TN-{thread}-{size}", name, cents, (TAPERS[thread], "plug"), spigot(size), mounted=True)
        bent = f"{name}, 90 degrees"
        line(f"TN-{thread}-{size}-90", bent, cents + 240, (TAPERS[thread], "plug"), spigot(size), mounted=True)
    for thread, dash, cents in (("12", 10, 1100), ("12", 8, 1050), ("38", 8, 980), ("38", 6, 890), ("14", 6, 860)):
        name = f"{THREADS[thread]} taper thread to -{dash} flare"
        line(f"TF-{thread}-{dash:02}", name, cents, (TAPERS[thread], "plug"), male(dash), mounted=True)
    name = "3/8 in taper thread to 1/2 in flare, 45 degrees"
    line("TF-38-45", name, 790, ("taper_3_8", "plug"), ("flare_45_8", "male"), mounted=True)


def add_pressed_and_welded_ends() -> None:
    for number, what, cents, end in (
        ("PN-38-38", "1 1/2 in hose", 1450, spigot("38")),
        ("PN-38-32", "1 1/4 in hose", 1480, spigot("32")),
        ("PN-38-16F", "a -16 flare", 3400, male(16)),
        ("PN-38-20F", "a -20 flare", 3900, male(20)),
        ("PN-19-19", "3/4 in hose", 720, spigot("19")),
        ("PN-19-16", "5/8 in hose", 700, spigot("16")),
        ("PN-19-10F", "a -10 flare", 1650, male(10)),
    ):
        bore = ("press_38", "tube") if number.startswith("PN-38") else ("press_19", "tube")
        title = "Press-in neck" if bore[0] == "press_38" else "Replacement heater nipple, pressed in,"
        line(number, f"{title} for {what}", cents, bore, end, mounted=True, attributes={"work": "press"})
        line(
            f"{number}-90",
            f"{title} for {what}, bent upward",
            cents + 420,
            bore,
            end,
            mounted=True,
            direction="up",
            attributes={"work": "press"},
        )
    for number, what, cents, bung, end in (
        ("WB-38-38", "1 1/2 in hose", 1650, "weld_38", spigot("38")),
        ("WB-38-32", "1 1/4 in hose", 1680, "weld_38", spigot("32")),
        ("WB-38-44", "1 3/4 in hose", 1790, "weld_38", spigot("44")),
        ("WB-38-16F", "a -16 flare", 2900, "weld_38", male(16)),
        ("WB-38-20F", "a -20 flare", 3350, "weld_38", male(20)),
        ("WB-32-32", "1 1/4 in hose", 1590, "weld_32", spigot("32")),
        ("WB-32-16F", "a -16 flare", 2850, "weld_32", male(16)),
    ):
        name = f"Weld-on end for {what}"
        line(number, name, cents, (bung, "tube"), end, mounted=True, attributes={"work": "weld"})


def closure(number: str, kind: str, name: str, cents: int, end: End, **attributes: str) -> None:
    op.add_part(
        number,
        kind=kind,
        name=name,
        price=usd(cents),
        attributes=attributes,
        ports=[{"name": "mount", "role": "mount", "connection": end[0], "end": end[1], "wet": True}],
    )


def add_closures() -> None:
    """A plug or a cap for every kind of open port."""
    caps = {"44": 410, "38": 380, "32": 360, "38M": 390, "19": 260, "16": 240, "10": 190, "06": 170}
    for size, cents in caps.items():
        closure(f"CH-{size}", "cap", f"{SIZES[size]} hose cap, with its clamp", cents, hose_end(size))
        closure(f"PH-{size}", "plug", f"Plug for the end of a {SIZES[size]} hose", cents - 40, spigot(size))
    for dash, cents in {6: 420, 8: 480, 10: 560, 12: 650, 16: 790, 20: 950}.items():
        closure(f"CF-{dash:02}", "cap", f"Flare cap, -{dash}", cents, female(dash))
        closure(f"PF-{dash:02}", "plug", f"Flare plug, -{dash}", cents - 30, male(dash))
    closure("CF-45", "cap", "Cap for a 1/2 in flare, 45 degrees", 460, ("flare_45_8", "female"))
    closure("PF-45", "plug", "Plug for a 1/2 in flare, 45 degrees", 440, ("flare_45_8", "male"))
    for thread, cents in {"12": 340, "38": 290, "14": 250}.items():
        closure(f"PT-{thread}", "plug", f"{THREADS[thread]} taper thread plug", cents, (TAPERS[thread], "plug"))
    closure("PM-12", "plug", "M12x1.5 plug with its O-ring", 380, ("thread_m12", "plug"))
    for number, what, cents, end in (
        ("SE-12", "M12x1.5 with its O-ring", 1650, ("thread_m12", "plug")),
        ("SE-38", "3/8 in taper thread", 1490, ("taper_3_8", "plug")),
        ("SE-14", "1/4 in taper thread", 1420, ("taper_1_4", "plug")),
    ):
        closure(number, "fitting", f"Temperature sender, {what}", cents, end)
    closure("PP-38", "plug", "Cup plug for a 1 1/2 in bore", 310, ("press_38", "tube"), work="press")
    closure("PP-19", "plug", "Cup plug for a 3/4 in bore", 210, ("press_19", "tube"), work="press")
    closure("PW-38", "plug", "Disc for a 1 1/2 in bung", 230, ("weld_38", "tube"), work="weld")
    closure("PW-32", "plug", "Disc for a 1 1/4 in bung", 220, ("weld_32", "tube"), work="weld")
