"""The seventh release of the demo: radiators, heater cores, and molded hoses that fit one pair of parts.

A radiator without a price is one that its owner has.
"""

from typing import Any

from alembic import op

revision = "catalog_0007"
down_revision = "catalog_0006"
branch_labels = None
depends_on = None

FIRST_ENDS = {"hose": "spigot", "flare": "male", "press": "bore", "weld": "bung"}


def upgrade() -> None:
    add_radiators()
    add_heater_cores()
    add_molded_hoses()
    op.publish_release(
        7,
        name="radiators",
        on="2026-11-16",
        note="Radiators, heater cores, and the molded hoses that fit them",
        digest="sha256:01a6f1cce9d05986b9c3006c77d4244c34d48d7c25d5b51e6a2d7ee0e39b6725",
    )


def downgrade() -> None:
    op.withdraw_release(7)


def port(name: str, role: str, connection: str, side: str | None = None) -> dict[str, Any]:
    """A wet port on the first end of a connection."""
    end = FIRST_ENDS[connection.partition("_")[0]]
    return {"name": name, "role": role, "connection": connection, "end": end, "side": side, "wet": True}


def add_radiators() -> None:
    for number, name, upper, lower, vent, price in (
        ("RD-30", "Passenger radiator with a vent", "left hose_38", "right hose_32", "hose_6", "189.00 USD"),
        ("RD-31", "Passenger radiator", "right hose_38", "left hose_38", None, "179.00 USD"),
        ("RD-32", "Passenger radiator, narrow", "right hose_32", "right hose_32", None, "165.00 USD"),
        ("RD-40", "Passenger radiator, 38 mm necks", "left hose_38_metric", "left hose_38_metric", None, None),
        ("RD-50", "Radiator with 1 1/2 in bungs to weld to", "right weld_38", "left weld_38", None, "219.00 USD"),
        ("RD-51", "Radiator with 1 1/4 in bungs to weld to", "left weld_32", "left weld_32", None, "209.00 USD"),
        ("RD-60", "Radiator with -16 flares", "left flare_16", "right flare_16", None, "329.00 USD"),
        ("RD-61", "Radiator with -16 flares and a vent", "right flare_16", "right flare_16", "hose_6", "345.00 USD"),
        ("RD-70", "Truck radiator", "left hose_38", "right hose_44", None, None),
        ("RD-71", "Truck radiator, wide", "right hose_44", "left hose_44", "hose_10", None),
        ("RD-80", "Stationary radiator", "centre hose_38", "right hose_38", None, "149.00 USD"),
        ("RD-90", "Track radiator with -20 flares", "right flare_20", "left flare_20", "flare_6", None),
        ("RD-91", "Track radiator, double pass", "left flare_20", "left flare_20", "flare_6", "389.00 USD"),
    ):
        (upper_side, upper_end), (lower_side, lower_end) = upper.split(), lower.split()
        ports = [
            port("upper", "coolant_in", upper_end, upper_side),
            port("lower", "coolant_out", lower_end, lower_side),
        ]
        if vent:
            ports.append(port("vent", "vent", vent))
        op.add_part(number, kind="radiator", name=name, price=price, ports=ports)


def add_heater_cores() -> None:
    for number, name, feed, back, price in (
        ("HX-16", "Heater core, 5/8 in nipples", "hose_16", "hose_16", "79.00 USD"),
        ("HX-19", "Heater core, 3/4 in nipples", "hose_19", "hose_19", "84.00 USD"),
        ("HX-40", "Truck heater core, 3/4 in feed, 5/8 in return", "hose_19", "hose_16", "88.00 USD"),
        ("HX-41", "Heater core, 5/8 in feed, 3/4 in return", "hose_16", "hose_19", "86.00 USD"),
        ("HX-10F", "Heater core, -10 flares", "flare_10", "flare_10", "129.00 USD"),
        ("HX-45", "Heater core, 1/2 in flares, 45 degrees", "flare_45_8", "flare_45_8", "95.00 USD"),
        ("HX-00", "Heater core without nipples", "press_19", "press_19", None),
    ):
        ports = [port("feed", "heater_feed", feed), port("return", "heater_return", back)]
        op.add_part(number, kind="heater_core", name=name, price=price, ports=ports)


ENDS = {
    "WP-108": ("hose_38", "Ashplover short pump"),
    "WP-127": ("hose_38", "Ashplover middle pump"),
    "WP-206": ("hose_38", "Mossheron short pump"),
    "WP-227": ("hose_38", "Mossheron middle pump"),
    "WP-241": ("hose_38", "Mossheron outer pump"),
    "WP-253": ("hose_38", "Mossheron working pump"),
    "NK-M10": ("hose_38", "Mossheron left neck"),
    "NK-G10": ("hose_32", "Greyalder left neck"),
    "TH-A10": ("hose_38", "Ashplover housing, right"),
    "TH-A13": ("hose_32", "Ashplover housing, left"),
    "TH-M10": ("hose_38", "Mossheron housing, right forward"),
    "TH-M11": ("hose_38", "Mossheron housing, left forward"),
    "TH-M12": ("hose_38", "Mossheron housing, right up"),
    "TH-M14": ("hose_44", "Mossheron housing, right back"),
    "TH-G10": ("hose_32", "Greyalder housing, left forward"),
    "TH-G12": ("hose_38", "Greyalder housing, left up"),
}
UPPER = {"RD-30": "hose_38", "RD-31": "hose_38", "RD-32": "hose_32", "RD-70": "hose_38", "RD-71": "hose_44"}
LOWER = {"RD-30": "hose_32", "RD-31": "hose_38", "RD-32": "hose_32", "RD-70": "hose_44", "RD-71": "hose_44"}
RADIATORS = {
    "RD-30": "passenger radiator with a vent",
    "RD-31": "passenger radiator",
    "RD-32": "narrow passenger radiator",
    "RD-70": "truck radiator",
    "RD-71": "wide truck radiator",
}


def add_molded_hoses() -> None:
    """One hose for one pair of parts; the first ten are upper hoses, the others lower ones."""
    for number, start, end, price in (
        ("HM-101", "WP-108", "RD-31", "18.50"),
        ("HM-102", "WP-108", "RD-32", "19.80"),
        ("HM-103", "WP-127", "RD-30", "18.90"),
        ("HM-104", "WP-227", "RD-31", "20.50"),
        ("HM-105", "WP-227", "RD-32", "21.40"),
        ("HM-106", "WP-253", "RD-70", "21.00"),
        ("HM-107", "WP-206", "RD-70", "22.00"),
        ("HM-108", "NK-M10", "RD-70", "20.80"),
        ("HM-109", "WP-241", "RD-71", "25.50"),
        ("HM-110", "NK-G10", "RD-30", "21.60"),
        ("HM-201", "TH-M10", "RD-30", "19.50"),
        ("HM-202", "TH-M10", "RD-70", "24.50"),
        ("HM-203", "TH-M10", "RD-32", "19.90"),
        ("HM-204", "TH-M11", "RD-31", "18.20"),
        ("HM-205", "TH-M11", "RD-71", "24.90"),
        ("HM-206", "TH-M12", "RD-70", "25.20"),
        ("HM-207", "TH-M14", "RD-70", "22.60"),
        ("HM-208", "TH-A10", "RD-30", "19.10"),
        ("HM-209", "TH-A10", "RD-70", "24.10"),
        ("HM-210", "TH-A13", "RD-31", "19.40"),
        ("HM-211", "TH-G10", "RD-31", "20.20"),
        ("HM-212", "TH-G12", "RD-71", "25.80"),
    ):
        other = (UPPER if number < "HM-200" else LOWER)[end]
        first, holder = ENDS[start]
        place = "upper" if number < "HM-200" else "lower"
        op.add_part(
            number,
            kind="hose",
            name=f"Molded {place} hose from {holder} to {RADIATORS[end]}",
            price=f"{price} USD",
            attributes={"shape": "molded", "molded_from": start, "molded_to": end},
            ports=[
                {"name": "one", "role": "line", "connection": first, "end": "hose", "wet": True},
                {"name": "other", "role": "line", "connection": other, "end": "hose", "wet": True},
            ],
        )
