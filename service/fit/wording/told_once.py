"""What an answer says once: what was not checked, what is not known, cautions, and notes."""

from collections.abc import Collection
from fractions import Fraction
from typing import Final

from msgspec import UNSET

from catalog.standards.belts import LEAST_DIAMETER_PK
from service.fit.build import Build
from service.fit.gap import FRONT_ADVISED
from service.fit.told import Caution, Note, NotKnown, Told
from service.fit.wording.lines import LINES
from service.fit.wording.words import FIELDS, Units, length_text, listed, measure_text, upper, words

MOST_NAMED: Final = 3
"""Facts that are not known told in the first sentence; the others are counted."""
_CAUTIONS: Final = {
    "hot_coolant": "Coolant is hot and under pressure: let the engine cool, then release the pressure slowly.",
    "belt_and_fan": "Keep hands and clothes away from belt and fan, and disconnect the battery before you work there.",
    "electric_fan": "An electric fan can start by itself, with the engine off and hot: disconnect it first.",
    "fan_blades": "A fan with a bent or cracked blade can come apart: do not straighten it, replace it like for like.",
    "sprung_tensioner": "A belt tensioner may be sprung: release it with the tool and in the way of the engine maker's "
    "manual.",
    "eyes_and_stands": "Wear eye protection, and never get under a vehicle that a jack alone holds up.",
    "heater_loop": "The heater's circuit is the only way round the shut thermostat: loop it, never plug it.",
    "remote_pump": "The remote pump must run before the engine is hot: wire it as its maker says, with a fuse.",
    "tight_fan": "Less is free in front of the fan than is advised, {advised}: see that nothing there can move.",
    "torque": "Check how deep every bolt engages, and tighten it to the torque and in the order of the engine maker's "
    "manual.",
    "skilled_work": "Leave pressing, welding and machining to those who do it for a living.",
    "small_pulley": "The belt's pulley ({pulley}) is {diameter} across; {least} is the least recommended for this belt "
    "(ISO 9981).",
    "glycol": "Coolant with glycol is poisonous and tastes sweet: keep it from children and animals, and dispose of it "
    "by local rules.",
    "last_word": "The engine maker's manual, local codes and a licensed mechanic have the last word.",
}
_NOTES: Final = {
    "sealant": "The bolt holes of {holder} open into coolant: seal the threads. Sealant is not on the list.",
    "hose_lengths": "Whether a hose is long enough is not checked: measure the way that it takes before you buy it.",
    "clamps": "Hose clamps are not on the list: one for each end of a hose{count}.",
    "sender": "A plug closes the sensor port; where the gauge or the engine's control needs it, put the sender there.",
    "nobody_states": "Not checked: {check}. No part of that kind in this release states what that takes.",
}
_CHECKS: Final = {
    "belt_plane": "the plane of the belt",
    "rotation": "which way the pump turns",
    "crank": "the crank pulley",
    "carried_parts": "the parts that the pump carries",
    "radiator_gap": "the room before the radiator",
    "outlet_path": "the way to the radiator",
    "inlet_path": "the way from the radiator",
    "heater_path": "the way to the heater",
    "line_size": "the size of the lines",
    "outlet_side": "the side of the outlet",
    "outlet_direction": "the direction of the outlet",
}
"""What a check is about, where its code does not say it with an article before it."""
_ZONED: Final = {
    "cover": "the cover at its {zone}",
    "carried_parts": "the {zone} that the pump carries",
    "line_size": "the size of the {line}",
}
"""What a check is about in each of its zones."""
_PLACES: Final = {
    ("radiator_gap", "behind"): "the room behind the fan",
    ("heater_path", "heater_return"): "the way back from the heater",
    ("vent", "sensor"): "the sensor port",
}
"""What a check is about in one of its zones alone."""
_LEFT_OPEN: Final = {
    "fan": "how deep the electric fan is",
    "radiator_ports": "on which side the radiator's ports are",
}
"""What a field leaves open that is given by a word or a size."""
CODES: Final = {"cautions": tuple(_CAUTIONS), "notes": tuple(_NOTES)}
"""Every code of a caution and of a note."""


def caution_text(caution: Caution, units: Units = "mm") -> str:
    """A caution as a sentence."""
    facts = {
        name: length_text(value, units) if isinstance(value, int | Fraction) else value
        for name, value in caution.facts.items()
    }
    published = {"least": LEAST_DIAMETER_PK, "advised": FRONT_ADVISED}
    return _CAUTIONS[caution.code].format(
        **facts, **{name: length_text(length, units) for name, length in published.items()}
    )


def note_text(note: Note) -> str:
    """A note as a sentence, or two."""
    count = "" if note.count is None else f", {note.count} at the most"
    return _NOTES[note.code].format(**note.facts, count=count, check=check_name(note.check))


def check_name(code: str, zone: str = "") -> str:
    """What a check is about: "the cover at its sensor"; a zone that says nothing to a reader is left out."""
    if zone and code in _ZONED:
        return _ZONED[code].format(zone=words(zone), line=LINES.get(zone, ""))
    return _PLACES.get((code, zone), _CHECKS.get(code, f"the {words(code)}"))


def not_known_text(not_known: NotKnown) -> str:
    """What is not known, what that leaves open, and how to find out."""
    checks = listed(list(dict.fromkeys(check_name(code, zone) for code, zone in not_known.leaves_open)))
    said = f"It is not known {_fact(not_known)}, so this is not checked: {checks}."
    reading = not_known.reading
    if reading is None:
        return f"{said} Look it up or see it on the part, and ask again with it."
    return f"{said} Measure it with a {reading.taken_with}, from {reading.from_} to {reading.to}."


def _fact(not_known: NotKnown) -> str:
    return measure_text(not_known.lack.fact, not_known.lack.name)


def lead_text(build: Build, told: Told) -> str:
    """What an answer leads with: what was not checked, then what is not known; empty where there is neither."""
    return f"{not_checked_text(build, told)}{_not_known(told)}"


def not_checked_text(build: Build, told: Told) -> str:
    """What was not checked: fields left out, what a word or a size leaves open, and parts of unknown ports."""
    named = {not_known.lack.field for not_known in told.not_known}
    left_out = [field for field in told.not_checked if getattr(build, field) is UNSET]
    given = [field for field in told.not_checked if field not in left_out and field not in named]
    lead = f"Not checked, as not given: {listed([FIELDS[field] for field in left_out])}. " if left_out else ""
    open_ = [_LEFT_OPEN[field] for field in given if field in _LEFT_OPEN]
    if open_:
        lead += f"Not checked, as what you give leaves it open: {listed(open_)}. "
    unknown = [FIELDS[field] for field in given if field not in _LEFT_OPEN]
    if unknown:
        lead += f"Not checked, as its ports are not known: {listed(unknown)}. "
    return lead


def _not_known(told: Told) -> str:
    if not told.not_known:
        return ""
    facts = [_fact(each) for each in told.not_known[:MOST_NAMED]]
    more = told.not_known_total - len(facts)
    return f"Not known: {listed([*facts, f'{more} more'] if more > 0 else facts)}. "


def against_text(build: Build, not_checked: Collection[str], part: str = "") -> str:
    """What a part was checked against: what else the build gives; empty where nothing that asks was left out."""
    left_out = [field for field in not_checked if getattr(build, field) is UNSET]
    if not left_out:
        return ""
    named = FIELDS | {"radiator_ports": "radiator's ports"}
    given = [
        name for field, name in named.items() if getattr(build, field) not in (UNSET, part) and field not in not_checked
    ]
    if not given:
        return "but nothing else is given to check it against"
    return f"checked against the {listed(given)}{' alone' if len(given) == 1 else ''}"


def parts_text(build: Build, told: Told) -> str:
    """What an answer about parts leads with."""
    against = against_text(build, told.not_checked)
    return f"{lead_text(build, told)}{upper(against)}." if against else lead_text(build, told).strip()
