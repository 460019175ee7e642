"""What each check says."""

from collections.abc import Callable
from fractions import Fraction
from typing import Any, Final

from catalog.units import amount_text
from catalog.vocabulary import CENTRE
from service.fit.answer import Check, Length
from service.fit.wording import lines, unknown
from service.fit.wording.words import (
    FIELDS,
    GOAL_WORDS,
    LINE_WORDS,
    OUTLET_WORDS,
    WORK_WORDS,
    Units,
    length_text,
    listed,
    lower,
    named,
    spoken,
    upper,
    words,
)


class _Say:
    """Lengths in the reader's units, a check's facts by name, and its value and limit told apart."""

    def __init__(self, check: Check, units: Units) -> None:
        self.check, self.units = check, units
        self.places = 1
        value, limit = check.value, check.limit
        if value is not None and limit is not None:
            size = abs(Fraction(value))
            while self.places < 4 and size != limit and self.length(size) == self.length(limit):
                self.places += 1

    def fact(self, name: str) -> Any:
        """A fact of the check; what there is only one of in an option is called by its kind."""
        return spoken(self.check.facts).get(name, self.check.facts.get(name))

    def fact_length(self, name: str, places: int = 2) -> str:
        """A fact that is a length, to so many places."""
        return length_text(self.check.facts[name], self.units, places)

    def fact_lengths(self, *names: str) -> tuple[str, ...]:
        """Facts that are lengths, to as many places as tell them apart."""
        lengths = {self.check.facts[name] for name in names}
        for places in (1, 2, 3):
            told = tuple(self.fact_length(name, places) for name in names)
            if len(set(told)) == len(lengths):
                break
        return told

    def length(self, length: Length | None) -> str:
        """A length in the reader's units, to as many places as tell value and limit apart."""
        return length_text(0 if length is None else length, self.units, self.places)

    @property
    def value(self) -> str:
        """The size of the value."""
        return self.length(abs(Fraction(self.check.value or 0)))

    @property
    def limit(self) -> str:
        """The limit."""
        return self.length(self.check.limit)

    @property
    def behind(self) -> str:
        """Which side of the drive's plane: a positive offset means that the pulley sits behind it."""
        value = self.check.value or 0
        return "in line with" if value == 0 else f"{self.value} {'behind' if value > 0 else 'ahead of'}"

    @property
    def span(self) -> str:
        """The span over which the belt may run out of line; what is taken where nobody states it is said to be so."""
        length = self.fact_length("span", 1)
        return (
            f"a span of {length}, taken as its own is not stated" if self.fact("span_taken") else f"the {length} span"
        )

    @property
    def measure_first(self) -> str:
        """What to say where the doubt decides."""
        if self.check.verdict != "measure_first":
            return ""
        doubt = Fraction(self.check.margin or 0) - Fraction(self.check.worst_case or 0)
        chance = round(100 * (self.check.likelihood or 0))
        return (
            f" The tolerances add up to plus or minus {length_text(doubt, self.units, 1)}, "
            f"so measure first; it holds in about {chance} {'case' if chance == 1 else 'cases'} of 100."
        )

    @property
    def only(self) -> str:
        """Stresses a limit that is missed."""
        return "only " if self.check.verdict == "fails" else ""


def _belt_suits(say: _Say) -> str:
    if say.fact("side") == "smooth":
        width, room = say.fact_lengths("width", "room")
        return f"The belt's smooth back is {width} wide and runs on a smooth surface {room} wide."
    return f"The belt's {say.fact('ribs')} ribs run in the {say.fact('grooves')} grooves of {say.fact('pulley')}."


def _too_narrow(say: _Say) -> str:
    width, room = say.fact_lengths("width", "room")
    return (
        f"The belt of {say.fact('drive')} is {width} wide; the smooth surface of {say.fact('pulley')} is {room} wide."
    )


def _cover(say: _Say) -> str:
    pump, cover = say.fact("pump"), say.fact("cover")
    where = f" at its {words(say.check.zone)}" if say.check.zone else ""
    if (say.check.value or 0) < 0:
        return f"{pump} would run {say.value} into {cover}{where}; {say.limit} of air is needed."
    return f"{pump} clears {cover}{where} by {say.only}{say.value}; {say.limit} is needed.{say.measure_first}"


def _belt_offset(say: _Say) -> str:
    allowed = (
        f"{say.only}{say.limit} is left on either side of it"
        if say.fact("smooth")
        else f"{say.only}{say.limit} is allowed over {say.span}"
    )
    return f"The belt on {say.fact('pump')} runs {say.behind} the drive; {allowed}.{say.measure_first}"


def _carried(say: _Say) -> str:
    return (
        f"The {words(say.fact('carried'))} of {say.fact('drive')} moves with {say.fact('pump')} and runs {say.behind} "
        f"the drive; {say.only}{say.limit} is allowed over {say.span}.{say.measure_first}"
    )


def _crank(say: _Say) -> str:
    return (
        f"{say.fact('crank')} runs the belt {say.behind} the plane that the brackets of {say.fact('drive')} expect; "
        f"{say.only}{say.limit} is allowed over {say.span}.{say.measure_first}"
    )


def _engagement(say: _Say) -> str:
    least, depth = say.fact_length("least", say.places), say.fact_length("depth", say.places)
    # Metric bolts are called by their length in millimetres, whatever the reader's units.
    bolts = f"The {length_text(say.check.facts['bolt_length'], 'mm')} bolts"
    if say.check.verdict != "fails":
        holder = say.fact("holder")
        return (
            f"{bolts} engage {say.value} of thread in {holder}; at least {least} must engage, "
            f"and the holes are {depth} deep.{say.measure_first}"
        )
    if say.fact("binds") == "depth":
        return (
            f"No bolts suit between {say.fact('holder')} and {say.fact('clamps')}: "
            f"{lower(bolts, {})} would go {say.value} deep into holes of {depth}."
        )
    reach = "do not reach the thread" if (say.check.value or 0) <= 0 else f"engage only {say.value}"
    return (
        f"No bolts suit between {say.fact('holder')} and {say.fact('clamps')}: "
        f"{lower(bolts, {})} {reach}; at least {least} must engage."
    )


def _zone_is_free(say: _Say) -> str:
    return f"Nothing of {say.fact('pump')} reaches over {say.fact('cover')} at its {words(say.check.zone or CENTRE)}."


def _outlet(say: _Say) -> str:
    ways = listed([OUTLET_WORDS[way] for way in say.fact("has")])
    outlet, wanted = f"The outlet of {say.fact('pump')}", OUTLET_WORDS[say.fact("wanted")]
    neck, takes_neck = say.check.facts.get("neck"), say.check.facts.get("takes_neck")
    if neck and takes_neck:
        asked = "as you ask" if say.check.verdict == "ok" else f"and you ask for one that {wanted}"
        return f"With {neck} on it, which this list does not hold, {lower(outlet, {})} {ways}, {asked}."
    outlet += f" with {neck} on it" if neck else ""
    if say.check.verdict != "ok":
        return f"{outlet} {ways}; you ask for one that {wanted}."
    return f"{outlet} {wanted}, as you ask{'; a neck that bolts to it may point elsewhere' if takes_neck else ''}."


def _work(say: _Say) -> str:
    return f"The hardest step is {WORK_WORDS[say.fact('work')]}; you allow {WORK_WORDS[say.fact('limit')]} at most."


def _work_of_open_port(say: _Say) -> str:
    what = f"the {words(say.fact('port'))} port of {say.fact('of')}"
    hard = f"Whatever you connect to {what} takes {WORK_WORDS[say.fact('work')]}"
    return f"{hard}; you allow {WORK_WORDS[say.fact('limit')]} at most."


def _price(say: _Say) -> str:
    currency = say.fact("currency")
    cost, limit = (amount_text(say.fact(name), currency) for name in ("price", "limit"))
    return f"The parts to buy cost {cost} {currency}; you allow {limit} {currency}."


def _gap(say: _Say) -> str:
    before = "the radiator's fan" if say.check.facts.get("fan") else "the radiator's core"
    inner, outer = {
        "room_before_pump": (say.fact("pump"), before),
        "fan_of_unknown_depth": (say.fact("pump"), "the radiator's core"),
        "room_before_fan": ("the fan", "the radiator's core"),
        "room_behind_fan": ("the fan", "the drive behind it"),
    }[say.check.reason]
    more = ", and a fan of a depth that is not known must fit in there" if say.check.reason in _FAN_TOO else ""
    if (say.check.value or 0) < 0:
        return f"{inner} would reach {say.value} into {outer}; {say.limit} must stay free{more}."
    free = f"{say.only}{say.value} is free between {inner} and {outer}"
    return f"{free}; {say.limit} must stay free{more}.{say.measure_first}"


_FAN_TOO: Final = ("fan_of_unknown_depth",)


def _line_arrives(say: _Say) -> str:
    start, end = LINE_WORDS[say.fact("obligation")]
    end = GOAL_WORDS.get(say.fact("goal"), end)
    parts = say.fact("parts")
    crossing = f" {upper(say.fact('crossing'))} crosses to the other side." if say.fact("crossing") else ""
    if not parts:
        return f"{upper(start)} of {say.fact('pump')} meets {end} directly."
    return f"From {start} of {say.fact('pump')} to {end}: {'; then '.join(parts)}.{crossing}"


def _port_closed(say: _Say) -> str:
    start, _ = LINE_WORDS[say.fact("obligation")]
    return f"{upper(start)} of {say.fact('pump')} is closed by {listed(say.fact('parts'))}."


def _nothing_leads(say: _Say) -> str:
    start, end = LINE_WORDS[say.fact("obligation")]
    allowed = ", leaving out those that you do without" if say.fact("without") else ""
    if say.fact("obligation") == "sensor":
        return f"No part of this catalog closes {start} of {say.fact('pump')}{allowed}."
    return f"No parts of this catalog lead from {start} of {say.fact('pump')} to {end}{allowed}."


def _size_unknown(say: _Say) -> str:
    _, end = LINE_WORDS[say.fact("obligation")]
    return f"No part of this release takes {say.fact('said')}, which you give for {end}."


def _tested_fit(say: _Say) -> str:
    tried = f"This very combination was tried and fits ({say.fact('source')})."
    reckoned = say.check.facts.get("reckoned")
    return f"{tried} By its measures: {lower(_TOLD[reckoned](say), say.check.facts)}" if reckoned else tried


def _rule(say: _Say) -> str:
    """What a rule says of two parts, and how the catalog knows it."""
    part, other, source = (say.check.facts.get(name, "") for name in ("part", "other", "source"))
    others = listed(list(say.check.facts.get("others", [other])))
    said = {
        "excludes": f"{part} does not go with {other}",
        "requires": f"{part} needs {other}, which is not in this build",
        "tested_no_fit": f"{part} with {others} was tried and did not fit",
    }[say.check.reason]
    return f"{said} ({source})." if source else f"{said}."


def _reading_contradicts(say: _Say) -> str:
    read, has = say.fact_lengths("read", "has")
    return (
        f"You read {read} for the {words(say.fact('measure'))} of {say.check.facts['name']}, where it has {has}. "
        "Read it again first; if it stays so, describe your part by its own measures."
    )


_TOLD: Final[dict[str, Callable[[_Say], str]]] = {
    "belt_suits": _belt_suits,
    "too_narrow": _too_narrow,
    "belt_offset": _belt_offset,
    "crank_offset": _crank,
    "cover_clearance": _cover,
    "carried_offset": _carried,
    "engagement": _engagement,
    "not_known": unknown.not_known,
    "nobody_states": unknown.nobody_states,
    "requires_left_out": unknown.requires_left_out,
    "zone_is_free": _zone_is_free,
    "room_before_pump": _gap,
    "fan_of_unknown_depth": _gap,
    "room_before_fan": _gap,
    "room_behind_fan": _gap,
    "line_arrives": _line_arrives,
    "port_closed": _port_closed,
    "nothing_leads": _nothing_leads,
    "size_unknown": _size_unknown,
    **lines.TOLD,
    "work": _work,
    "work_of_open_port": _work_of_open_port,
    "price": _price,
    "tested_fit": _tested_fit,
    "reading_contradicts": _reading_contradicts,
    **dict.fromkeys(("excludes", "requires", "tested_no_fit"), _rule),
    "outlet_side": _outlet,
    "outlet_direction": _outlet,
}

_PLAIN: Final = {
    "faces_meet": "Every face meets its own from the block to the pump.",
    "does_not_bolt_on": "{part} bolts to the {connection}, which {engine} does not have.",
    "no_path": "No stack of up to {plates} plates in this catalog leads from {engine} to {pump}.",
    "mount_not_known": "Not checked: by what face {pump} bolts on is not known.",
    "named_and_unwanted": "You ask for {part} and also to do without it.",
    "has_own_pulley": "{pump} has a pulley of its own and takes no separate one.",
    "pulley_fits": "{pulley} bolts to the hub of {pump}.",
    "pulley_does_not_fit": "{pulley} does not bolt to the hub of {pump}.",
    "no_pulley": "{pump} has a bare hub, and no pulley of this catalog bolts to it.",
    "no_pulley_allowed": "{pump} has a bare hub, and the pulleys that bolt to it are all among those that you do "
    "without or that are retired: {known}.",
    "no_surface": "{pulley} has no {side} surface for the belt of {drive}.",
    "wrong_profile": "The belt of {drive} has {profile} ribs; {pulley} has {has} grooves.",
    "too_few_grooves": "The belt of {drive} has {ribs} ribs; {pulley} has {grooves} grooves.",
    "turns_right": "The belt of {drive} turns {pump} {wanted}, as it must turn.",
    "turns_wrong": "The belt of {drive} turns the pump {wanted}; {pump} must turn {turns}.",
    "carries_nothing": "{pump} carries only its pulley, so nothing else moves with it.",
    "nothing_carried": "No part of {drive} bolts to the pump, so none is missed.",
    "no_carrier": "The {carried} of {drive} bolts to the pump, and {pump} has no place for it.",
    "no_outlet": "{pump} has no outlet that could lead to the radiator.",
    "no_inlet": "{pump} has no inlet that could come from the radiator.",
    "no_heater_feed": "{pump} has no port that feeds a heater.",
    "no_heater_return": "{pump} has no port that takes the heater's return.",
    "remote_turns_no_fan": "A pump elsewhere turns no fan.",
    "no_fan_port": "{pump} has no place for a fan that turns with the engine.",
    "no_place_for_vent": "{part} has no vent return; without one a remote pump is not complete.",
    "no_place_for_sender": "{part} has no place for a temperature sender; without one a remote pump is not complete.",
    "has_thermostat": "The thermostat sits in {part}.",
    "belt_without_pump": "{drive} has a belt of its own for a pump elsewhere.",
    "belt_lost_a_pulley": "The belt of {drive} no longer runs over a pump, so its length must be measured first.",
    "pump_is_belt_driven": "{pump} is driven by the belt and sits on the block; it is no remote pump.",
    "no_bolts": "No bolts of this catalog suit the thread of {holder}, {thread}.",
    "no_bolts_allowed": "The bolts that suit the thread of {holder}, {thread}, are all among those that you do without "
    "or that are retired: {known}.",
    "field_left_out": "Not checked: no {field} was given.",
    "rules_met": "Every part that another one needs is in the list.",
    "no_rule_against": "No rule of the catalog speaks against this combination.",
    "takes_unwanted": "It takes {parts}, which you ask to do without.",
    "no_price": "A part to buy has no price, so no price limit can be met.",
}
REASONS: Final = tuple(sorted({*_TOLD, *_PLAIN}))
"""Every reason code of a check."""
NOT_KNOWN: Final = (
    "field_left_out",
    "mount_not_known",
    "no_price",
    "nobody_states",
    "not_known",
    "requires_left_out",
)
"""The reasons that say that something is not known; no other sentence rests on what nobody states."""


def check_text(check: Check, units: Units = "mm") -> str:
    """One sentence that tells a check, or two where it must be measured first."""
    return upper(_told(check, units))


def check_within(check: Check, units: Units = "mm") -> str:
    """The same as part of a longer sentence."""
    return lower(check_text(check, units), check.facts)


def _told(check: Check, units: Units) -> str:
    told = _TOLD.get(check.reason)
    if told is not None:
        return told(_Say(check, units))
    facts = {name: words(value) if name == "carried" else value for name, value in check.facts.items()}
    if facts.get("known"):
        facts["known"] = named(list(facts["known"]))
    if isinstance(parts := facts.get("parts"), list):
        facts["parts"] = listed(parts)
    if "field" in facts:
        facts["field"] = FIELDS[facts["field"]]
    return _PLAIN[check.reason].format(**(facts | spoken(facts)))
