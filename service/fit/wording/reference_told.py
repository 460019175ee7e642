"""The codes of what an answer tells once: cautions and notes."""

from typing import Any, Final

from service.fit.told import Caution, Note
from service.fit.wording.entries import MM, PUMP, Entry, Section


def _caution(code: str, heading: str, meaning: str, hangs_on: str, **facts: Any) -> Entry:
    return Entry(code, heading, meaning, hangs_on, (Caution(code, facts),))


def _note(heading: str, meaning: str, hangs_on: str, *examples: Note) -> Entry:
    return Entry(examples[0].code, heading, meaning, hangs_on, examples)


_CAUTIONS: Final = (
    _caution("hot_coolant", "Hot coolant", "Goes with every option.", "every option"),
    _caution("belt_and_fan", "Belt and fan", "Goes with every option.", "every option"),
    _caution("electric_fan", "A fan that starts by itself", "The fan is electric.", "fan"),
    _caution("fan_blades", "Blades of a fan", "A fan turns with the engine.", "fan"),
    _caution("sprung_tensioner", "A sprung tensioner", "A belt drive is named.", "accessory_drive"),
    _caution("eyes_and_stands", "Eyes, and a vehicle that is held up", "Goes with every option.", "every option"),
    _caution("heater_loop", "A loop in place of the heater", "The heater's circuit is the only bypass.", "heater"),
    _caution("remote_pump", "A pump elsewhere", "The pump is not driven by the belt.", "pump_drive"),
    _caution("tight_fan", "Little room in front of a fan", "Less is free than is advised.", "core_distance"),
    _caution("torque", "Torque of the bolts", "Goes with every option that is bolted.", "bolts"),
    _caution("skilled_work", "Work for those who do it", "Something is pressed, welded or machined.", "work"),
    _caution(
        "small_pulley",
        "A small pulley",
        "The pulley is smaller across than is recommended for its belt (ISO 9981).",
        "pump, pulley",
        pulley=PUMP,
        diameter=42 * MM,
    ),
    _caution("glycol", "Glycol", "Goes with every option.", "every option"),
    _caution("last_word", "Who has the last word", "Goes with every option.", "every option"),
)
_NOTES: Final = (
    _note(
        "Holes that open into coolant",
        "The holes are wet, and their threads want sealant.",
        "bolts",
        Note("sealant", {"holder": "the block"}),
    ),
    _note("Lengths of hoses", "A hose is on the list.", "radiator, heater", Note("hose_lengths")),
    _note("Clamps", "Hoses need clamps, which are not on the list.", "radiator, heater", Note("clamps", count=4)),
    _note("A sensor port", "A plug closes the port of a sensor.", "radiator", Note("sender")),
    _note(
        "What nobody states",
        "A check is not asked, as no part of that kind in the release states what it takes.",
        "the release",
        Note("nobody_states", check="rotation"),
        Note("nobody_states", check="cover"),
    ),
)

SECTIONS: Final = (
    Section(
        "Cautions",
        "Dangers; their sentences stand once, in the answer's `cautions`, and each option's `cautions` have the codes "
        "of its own.",
        _CAUTIONS,
    ),
    Section(
        "Notes",
        "What is no danger, but to be bought besides the list, looked up or seen to at the bench; told as cautions "
        "are, in `notes`.",
        _NOTES,
    ),
)
