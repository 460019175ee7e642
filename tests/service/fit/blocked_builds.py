"""Builds of the demo catalog that nothing fits, each for another reason; asked of the engine and of the service."""

from typing import Any, Final


def usd(amount: float) -> dict[str, Any]:
    return {"amount": amount, "currency": "USD"}


_TALL: Final = {"engine": "ENG-R20", "accessory_drive": "DR-541", "front_cover": "FC-R5"}
BLOCKED: Final[dict[str, dict[str, Any]]] = {
    "a drive near the block behind a tall cover": {**_TALL, "accessory_drive": "DR-506"},
    "a crank pulley of another plane": {**_TALL, "crank_pulley": "CP-558"},
    "too little money": {**_TALL, "crank_pulley": "CP-541", "must": {"price_at_most": usd(100)}},
    "a pump whose outlet points the other way": {**_TALL, "pump": "WP-227", "must": {"outlet_side": "left"}},
    "a pump of another family": {"engine": "ENG-G30", "accessory_drive": "DR-G33", "pump": "WP-227"},
    "a drive of another family": {
        "engine": "ENG-G30",
        "accessory_drive": "DR-541",
        "front_cover": "FC-G1",
        "must": {"work_at_most": "bolt_on"},
    },
    "a radiator too near for the fan": {
        "engine": "ENG-R22",
        "accessory_drive": "DR-558",
        "front_cover": "FC-R5",
        "fan": "mechanical",
        "core_distance": "150 mm",
    },
    "a core too near for an electric fan of any depth": {
        "engine": "ENG-R20",
        "accessory_drive": "DR-552",
        "fan": "electric",
        "core_distance": 60,
    },
    "a core too near for a fan that may meet what is behind it": {
        "engine": "ENG-R20",
        "accessory_drive": "DR-552",
        "front_cover": "FC-R5",
        "fan": "FN-M50",
        "core_distance": 266,
    },
    "a core a little too near for the fan": {
        "engine": "ENG-R22",
        "accessory_drive": "DR-558",
        "front_cover": "FC-R5",
        "fan": "mechanical",
        "core_distance": "265 mm",
    },
    "a fan whose blade meets the idler": {
        "engine": "ENG-R22",
        "accessory_drive": "DR-558",
        "front_cover": "FC-R5",
        "fan": "FN-M50",
        "core_distance": "400 mm",
    },
    "a deep fan on a drive that it meets, and a core too near": {
        "engine": "ENG-R22",
        "accessory_drive": "DR-558",
        "front_cover": "FC-R5",
        "fan": "FN-M50",
        "core_distance": "266 mm",
    },
    "a pump elsewhere that must turn a fan": {
        "engine": "ENG-R10",
        "accessory_drive": "DR-528",
        "front_cover": "FC-R1",
        "pump_drive": "remote",
        "fan": "mechanical",
    },
    "a hose that nothing meets": {
        **_TALL,
        "heater": "none",
        "radiator_ports": {
            "upper": {"size": "2 1/2 in hose", "side": "left"},
            "lower": {"size": "1 1/2 in hose", "side": "left"},
        },
    },
    "a smooth belt, a tall cover and a ribbed pump": {
        "engine": "ENG-R20",
        "accessory_drive": "DR-628",
        "front_cover": "FC-R6",
        "pump": "WP-227",
    },
    "a whole truck for too little money": {
        "engine": "ENG-R22",
        "accessory_drive": "DR-558",
        "front_cover": "FC-R5",
        "crank_pulley": "CP-558",
        "radiator": "RD-70",
        "core_distance": "290 mm",
        "heater": "HX-40",
        "fan": "mechanical",
        "must": {"outlet_side": "left", "price_at_most": usd(500)},
    },
    "a loose pulley for a pump that has its own": {**_TALL, "pump": "WP-227", "pulley": "PU-34"},
    "a drive by the asker's own tape": {
        "engine": "ENG-R20",
        "front_cover": "FC-R5",
        "accessory_drive": {
            "name": "my drive",
            "measures": {"belt_plane": {"value": "4 in", "taken_with": "tape"}},
            "attributes": {"ribs": 6, "profile": "PK", "belt_side": "ribbed", "rotation": "clockwise"},
        },
    },
}
