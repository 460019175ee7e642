"""All sentences, rendered from the engine's data. Codes and numbers are the contract; the words may improve."""

from collections.abc import Callable
from decimal import ROUND_HALF_EVEN, Decimal
from fractions import Fraction
from typing import Any, Final, Literal

from catalog.units import NM_PER_INCH, NM_PER_MM, amount_text
from service.fit.answer import AboveNext, Answer, Caution, Check, Length, ListedPart, Offer, Replaced, RuledOut, Window

Units = Literal["mm", "in"]

_FIELDS: Final = {
    "engine": "engine",
    "accessory_drive": "accessory drive",
    "front_cover": "front cover",
    "pump": "pump",
    "pulley": "pulley",
    "crank_pulley": "crank pulley",
    "radiator": "radiator",
    "heater": "heater",
    "fan": "fan",
    "core_distance": "distance to the radiator's core",
}


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
        """A fact of the check."""
        return self.check.facts.get(name)

    def fact_length(self, name: str, places: int = 2) -> str:
        """A fact that is a length, to so many places."""
        return length_text(self.check.facts[name], self.units, places)

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
    def measure_first(self) -> str:
        """What to say where the doubt decides."""
        if self.check.verdict != "measure_first":
            return ""
        doubt = Fraction(self.check.margin or 0) - Fraction(self.check.worst_case or 0)
        chance = round(100 * (self.check.likelihood or 0))
        return (
            f" The tolerances add up to plus or minus {length_text(doubt, self.units, 1)}, "
            f"so measure first; it holds in about {chance} cases of 100."
        )

    @property
    def only(self) -> str:
        """Stresses a limit that is missed."""
        return "only " if self.check.verdict == "fails" else ""


def length_text(length: Length, units: Units, places: int = 1) -> str:
    """A length as a reader sees it: millimetres to one place or more, inches to two more than that."""
    unit, digits = (NM_PER_MM, places) if units == "mm" else (NM_PER_INCH, places + 1)
    exact = Fraction(length) / unit
    number = Decimal(exact.numerator) / Decimal(exact.denominator)
    rounded = number.quantize(Decimal(1).scaleb(-digits), rounding=ROUND_HALF_EVEN)
    text = f"{rounded:f}".rstrip("0").rstrip(".") if "." in f"{rounded:f}" else f"{rounded:f}"
    return f"{'0' if text in ('-0', '') else text} {units}"


_WORK: Final = {
    "bolt_on": "bolting on",
    "hand_fit": "fitting by hand",
    "press": "pressing in",
    "weld": "welding",
    "machining": "machining",
}


def _belt_suits(say: _Say) -> str:
    if say.fact("side") == "smooth":
        width, room = say.fact_length("width"), say.fact_length("room")
        return f"The belt's smooth back is {width} wide and runs on a smooth surface {room} wide."
    return f"The belt's {say.fact('ribs')} ribs run in the {say.fact('grooves')} grooves of {say.fact('pulley')}."


def _too_narrow(say: _Say) -> str:
    width, room = say.fact_length("width"), say.fact_length("room")
    return (
        f"The belt of {say.fact('drive')} is {width} wide; the smooth surface of {say.fact('pulley')} is {room} wide."
    )


def _cover(say: _Say) -> str:
    pump, cover = say.fact("pump"), say.fact("cover")
    where = f" at its {_words(say.check.zone)}" if say.check.zone else ""
    if (say.check.value or 0) < 0:
        return f"{pump} would run {say.value} into {cover}{where}; {say.limit} of air is needed."
    return f"{pump} clears {cover}{where} by {say.value}; {say.limit} is needed.{say.measure_first}"


def _belt_offset(say: _Say) -> str:
    allowed = (
        f"{say.only}{say.limit} is left on either side of it"
        if say.fact("smooth")
        else f"{say.only}{say.limit} is allowed over the {say.fact_length('span', 1)} span"
    )
    return f"The belt on {say.fact('pump')} runs {say.behind} the drive; {allowed}.{say.measure_first}"


def _carried(say: _Say) -> str:
    return (
        f"The {_words(say.fact('carried'))} of {say.fact('drive')} moves with {say.fact('pump')} and runs {say.behind} "
        f"the drive; {say.only}{say.limit} is allowed over the {say.fact_length('span', 1)} span.{say.measure_first}"
    )


def _crank(say: _Say) -> str:
    return (
        f"{say.fact('crank')} runs the belt {say.behind} the plane that the brackets of {say.fact('drive')} expect; "
        f"{say.only}{say.limit} is allowed over the {say.fact_length('span', 1)} span.{say.measure_first}"
    )


def _engagement(say: _Say) -> str:
    least, depth = say.fact_length("least", say.places), say.fact_length("depth", say.places)
    bolts = f"The {say.fact_length('bolt_length', 1)} bolts"
    if say.check.verdict != "fails":
        holder = say.fact("holder")
        return (
            f"{bolts} engage {say.value} of thread in {holder}; at least {least} must engage, "
            f"and the holes are {depth} deep.{say.measure_first}"
        )
    if say.fact("binds") == "depth":
        return (
            f"No bolts suit between {say.fact('holder')} and {say.fact('clamps')}: "
            f"{_lower(bolts)} would go {say.value} deep into holes of {depth}."
        )
    reach = "do not reach the thread" if (say.check.value or 0) <= 0 else f"engage only {say.value}"
    return (
        f"No bolts suit between {say.fact('holder')} and {say.fact('clamps')}: "
        f"{_lower(bolts)} {reach}; at least {least} must engage."
    )


def _lower(text: str) -> str:
    return text[0].lower() + text[1:]


def _measure_not_given(say: _Say) -> str:
    of = f" of {say.fact('of')}" if say.fact("of") else ""
    return f"Not checked: {_words(say.fact('measure'))}{of} is not known."


def _outlet(say: _Say) -> str:
    has = " and ".join(filter(None, say.fact("has") or [])) or "no way that is known"
    return f"The outlet of {say.fact('pump')} points {has}; you ask for {say.fact('wanted')}."


def _work(say: _Say) -> str:
    return f"The hardest step is {_WORK[say.fact('work')]}; you allow {_WORK[say.fact('limit')]} at most."


def _price(say: _Say) -> str:
    currency = say.fact("currency")
    cost, limit = (amount_text(say.fact(name), currency) for name in ("price", "limit"))
    return f"The parts to buy cost {cost} {currency}; you allow {limit} {currency}."


def _gap(say: _Say) -> str:
    what = {
        "room_before_pump": f"in front of {say.fact('pump')}",
        "fan_of_unknown_depth": f"in front of {say.fact('pump')} for a fan on the radiator, whose depth is not known",
        "room_before_fan": f"between {say.fact('fan')} and the radiator's core",
        "room_behind_fan": f"between {say.fact('fan')} and {say.fact('drive')} behind it",
    }[say.check.reason]
    if say.check.reason == "room_before_pump" and say.fact("fan"):
        what = f"between {say.fact('fan')} and {say.fact('pump')}"
    if (say.check.value or 0) < 0:
        return f"There is no room {what}: {say.value} is missing, and {say.limit} must stay free."
    return f"{say.value} is free {what}; {say.only}{say.limit} must stay free.{say.measure_first}".replace("only ", "")


def _line_arrives(say: _Say) -> str:
    start, end = _LINES[say.fact("obligation")]
    end = _GOALS.get(say.fact("goal"), end)
    parts = say.fact("parts")
    way = f"by {_listed(parts)}" if parts else "and meets it directly"
    crossing = f" {say.fact('crossing')} crosses to the other side." if say.fact("crossing") else ""
    return f"The way from {start} of {say.fact('pump')} leads to {end} {way}.{crossing}"


def _port_closed(say: _Say) -> str:
    start, _ = _LINES[say.fact("obligation")]
    return f"{_upper(start)} of {say.fact('pump')} is closed by {_listed(say.fact('parts'))}."


def _nothing_leads(say: _Say) -> str:
    start, end = _LINES[say.fact("obligation")]
    return f"No parts that may be used lead from {start} of {say.fact('pump')} to {end}."


def _size_unknown(say: _Say) -> str:
    _, end = _LINES[say.fact("obligation")]
    return f"Nothing in this catalog meets {end} of {say.fact('said')}."


def _upper(text: str) -> str:
    return text[0].upper() + text[1:]


_LINES: Final = {
    # Where each obligation starts, and where it must lead.
    "outlet": ("the outlet", "the radiator's upper port"),
    "inlet": ("the inlet", "the radiator's lower port"),
    "heater_feed": ("the heater feed", "the heater"),
    "heater_return": ("the heater return", "the heater"),
    "bypass": ("the bypass", "its end"),
    "vent": ("the vent", "its end"),
    "sensor": ("the sensor port", "its end"),
    "fan": ("the fan seat", "a fan"),
}
_GOALS: Final = {
    "loop": "the heater return, in a loop",
    "bypass": "the engine's bypass port",
    "vent": "the radiator's vent",
    "housing": "the radiator's lower port through a thermostat housing",
    "housing_with_return": "the radiator's lower port and the heater through a thermostat housing",
}

_TOLD: Final[dict[str, Callable[[_Say], str]]] = {
    "belt_suits": _belt_suits,
    "too_narrow": _too_narrow,
    "belt_offset": _belt_offset,
    "crank_offset": _crank,
    "cover_clearance": _cover,
    "carried_offset": _carried,
    "engagement": _engagement,
    "bolts_not_given": _measure_not_given,
    "measure_not_given": _measure_not_given,
    "room_before_pump": _gap,
    "fan_of_unknown_depth": _gap,
    "room_before_fan": _gap,
    "room_behind_fan": _gap,
    "line_arrives": _line_arrives,
    "port_closed": _port_closed,
    "nothing_leads": _nothing_leads,
    "size_unknown": _size_unknown,
    "work": _work,
    "price": _price,
    "outlet_side": _outlet,
    "outlet_direction": _outlet,
}

_PLAIN: Final = {
    "faces_meet": "Every face meets its own from the block of {engine} to the pump.",
    "does_not_bolt_on": "{part} bolts to the {connection}, which {engine} does not have.",
    "no_path": "No stack of up to {plates} plates leads from {engine} to {pump}.",
    "named_and_unwanted": "You ask for {part} and also to do without it.",
    "has_own_pulley": "{pump} has a pulley of its own and takes no separate one.",
    "pulley_fits": "{pulley} bolts to the hub of {pump}.",
    "pulley_does_not_fit": "{pulley} does not bolt to the hub of {pump}.",
    "no_pulley": "{pump} has a bare hub, and no pulley that may be used bolts to it.",
    "no_surface": "{pulley} has no {side} surface for the belt of {drive}.",
    "wrong_profile": "The belt of {drive} has {profile} ribs; {pulley} has {has} grooves.",
    "too_few_grooves": "The belt of {drive} has {ribs} ribs; {pulley} has {grooves} grooves.",
    "ribs_not_given": "Not checked: how many ribs the belt of {drive} has is not known.",
    "turns_right": "The belt of {drive} turns {pump} {wanted}, as it must turn.",
    "turns_wrong": "The belt of {drive} turns the pump {wanted}; {pump} must turn {turns}.",
    "rotation_not_given": "Not checked: which way {pump} must turn, or the belt turns it, is not known.",
    "no_common_zone": "Not checked: no zone is known where {pump} lies over {cover}.",
    "carries_nothing": "{pump} carries only its pulley, so nothing else moves with it.",
    "no_carrier": "The {carried} of {drive} bolts to the pump, and {pump} has no place for it.",
    "no_outlet": "{pump} has no outlet that could lead to the radiator.",
    "no_inlet": "{pump} has no inlet that could come from the radiator.",
    "no_heater_feed": "{pump} has no port that feeds a heater.",
    "no_heater_return": "{pump} has no port that takes the heater's return.",
    "no_fan_port": "{pump} has no place for a fan that turns with the engine.",
    "no_place_for_vent": "{part} has no vent return; without one a remote pump is not complete.",
    "no_place_for_sender": "{part} has no place for a temperature sender; without one a remote pump is not complete.",
    "has_thermostat": "The thermostat is in {part}.",
    "thermostat_elsewhere": "Not checked: where the thermostat of {pump} sits is not known.",
    "belt_without_pump": "{drive} has a belt of its own length for an engine whose belt drives no pump.",
    "belt_lost_a_pulley": "The belt of {drive} no longer runs over a pump, so its length must be measured first.",
    "pump_is_belt_driven": "{pump} is driven by the belt and sits on the block; it is no remote pump.",
    "no_bolts": "No bolts with the thread {thread} of {holder} may be used.",
    "field_left_out": "Not checked: no {field} was given.",
    "excludes": "{part} does not go with {other}.",
    "requires": "{part} needs {other}, which is not in this build.",
    "tested_no_fit": "{part} with {other} was tried and did not fit ({source}).",
    "rules_met": "Every part that another one needs is in the list.",
    "no_rule_against": "No rule of the catalog speaks against this combination.",
    "tested_fit": "This very combination was tried and fits ({source}).",
    "no_price": "A part to buy has no price, so no price limit can be met.",
}

_CAUTIONS: Final = {
    "hot_coolant": "Coolant is hot and under pressure: let the engine cool, then release the pressure slowly.",
    "belt_and_fan": "Keep hands and clothes away from belt and fan, and disconnect the battery before you work there.",
    "torque": "Check how deep every bolt engages, and tighten it to the torque and in the order of the engine maker's "
    "manual.",
    "sealant": "The bolt holes of {holder} open into coolant: seal the threads.",
    "small_pulley": "{pulley} is {diameter} across; 45 mm is the least recommended for this belt (ISO 9981).",
    "heater_loop": "The heater's circuit is the only way round the shut thermostat: loop it, never plug it.",
    "fan_blades": "A fan with a bent or cracked blade can come apart: do not straighten it, replace it like for like.",
    "tight_fan": "{gap} is free in front of the fan; 25 mm is advised.",
    "remote_pump": "The remote pump must run before the engine is hot: wire it as its maker says, with a fuse.",
    "glycol": "Coolant with glycol is poisonous and tastes sweet: keep it from children and animals, and dispose of it "
    "by local rules.",
    "last_word": "The engine maker's manual, local codes and a licensed mechanic have the last word.",
}

_WHY: Final[dict[str, str]] = {
    "pump": "The pump of this option.",
    "seals": "Seals a joint on the {connection}{layer}.",
    "moves_out": "Moves the pump out by {thickness}{layer}.",
    "adapts": "Leads from one face to another and is {thickness} thick{layer}.",
    "clamps": "Hold {clamps} to {holder}.",
    "takes_belt": "Takes the belt on the bare hub of {pump}.",
    "required": "{by} needs it.",
    "seals_part": "Seals {part}{layer}.",
    "leads_out": "Leads the coolant out of the block to {pump}.",
    "belt": "The belt of {drive} where no pump is driven.",
    "leads_on": "Part of the way from {start} to {end}.",
    "crosses": "Crosses to the other side on the way from {start} to {end}.",
    "closes": "Closes a port on the way from {start}.",
    "thermostat_housing": "Holds the thermostat.",
    "thermostat": "The thermostat.",
    "remote_pump": "The pump of this option, wherever it is put.",
    "fan": "The fan that turns with the engine.",
    "fan_adapter": "Carries the fan on the pump.",
}

_KEYS: Final = {
    "verdict": "it holds everywhere within the tolerances and the next must be measured first",
    "work": "its hardest step is {this}, against {next}",
    "recommended": "the shop recommends its pump",
    "price": "the parts to buy cost {this}, against {next}",
    "margin": "its tightest clearance has more to spare: {this} inside the limit, against {next}",
    "parts": "it takes fewer pieces: {this}, against {next}",
    "length": "the pump sits nearer the block: {this}, against {next}",
    "part_numbers": "all else is equal, and its part number comes first",
}

REASONS: Final = tuple(sorted({*_TOLD, *_PLAIN}))
"""Every reason code of a check."""


def check_text(check: Check, units: Units = "mm") -> str:
    """One sentence that tells a check, or two where it must be measured first."""
    told = _TOLD.get(check.reason)
    if told is not None:
        return told(_Say(check, units))
    facts = {name: _words(value) if name == "carried" else value for name, value in check.facts.items()}
    if "field" in facts:
        facts["field"] = _FIELDS[facts["field"]]
    return _PLAIN[check.reason].format(**facts)


def why_text(line: ListedPart, units: Units = "mm") -> str:
    """Why a part is on the list."""
    facts = {name: length_text(value, units) if name == "thickness" else value for name, value in line.facts.items()}
    if "obligation" in facts:
        facts["start"], facts["end"] = _LINES[facts["obligation"]]
    pieces = line.facts.get("pieces", 1)
    facts["layer"] = f"; a layer is {pieces} pieces" if isinstance(pieces, int) and pieces > 1 else ""
    return _WHY[line.why].format(**facts)


def caution_text(caution: Caution, units: Units = "mm") -> str:
    """A caution as a sentence."""
    facts = {
        name: length_text(value, units) if isinstance(value, int | Fraction) else value
        for name, value in caution.facts.items()
    }
    return _CAUTIONS[caution.code].format(**facts)


def above_next_text(above: AboveNext, units: Units = "mm", currency: str = "") -> str:
    """Why an option stands above the next."""
    this, next_ = (_key_value(above.key, value, units, currency) for value in (above.this, above.next))
    return f"Stands above the next because {_KEYS[above.key].format(this=this, next=next_)}."


def _key_value(key: str, value: Any, units: Units, currency: str) -> str:
    if key == "price":
        return "an unknown sum" if value is None else f"{amount_text(value, currency)} {currency}"
    if key in ("margin", "length"):
        return "no limit at all" if value is None else length_text(value, units, 2)
    return _WORK.get(str(value), str(value))


def ruled_out_text(ruled_out: RuledOut, units: Units = "mm") -> str:
    """Why a pump has no option, and the thickness that would mend it."""
    text = check_text(ruled_out.check, units)
    if ruled_out.plates:
        text = f"Its nearest try is on {_listed(list(ruled_out.plates))}: {text}"
    window = ruled_out.thickness_window
    if window is not None and ruled_out.short_by is not None:
        text += f" It would take {window_text(window, units)} of plates and gaskets in all."
    return text


def window_text(window: Window, units: Units = "mm") -> str:
    """A window of total thickness."""
    if window.to is None:
        return f"at least {length_text(window.from_, units)}"
    return f"{length_text(window.from_, units)} to {length_text(window.to, units)}"


def offer_text(offer: Offer) -> str:
    """Why a part is offered that nothing needs."""
    return _OFFERS[offer.why].format(name=offer.name)


_OFFERS: Final = {"covers_fan_thread": "{name} would cover the bare fan thread; nothing needs it."}


def replaced_text(replaced: Replaced) -> str:
    """That a retired part was answered with its replacement."""
    return f"{replaced.asked} is retired; {replaced.answered} replaces it and is answered for."


def answer_text(answer: Answer, units: Units = "mm") -> str:
    """The answer in one sentence, led by what was not checked."""
    lead = ""
    if answer.not_checked:
        lead = f"Not checked, as not given: {_listed([_FIELDS[field] for field in answer.not_checked])}. "
    if not answer.decided:
        return f"{lead}The search reached its limit before every way was looked at, so this is not decided."
    if not answer.options:
        return lead + _blocked_text(answer, units)
    first = answer.options[0]
    name = next((line.name for line in first.parts_list if line.role == "pump"), first.pump)
    how = (
        f"with {len(first.plates)} {'plate' if len(first.plates) == 1 else 'plates'} under it"
        if first.plates
        else "straight on"
    )
    many = answer.pumps_that_fit
    pumps = "One pump" if many == 1 else f"{many} pumps"
    if answer.verdict == "measure_first":
        return f"{lead}{pumps} may fit once something is measured; the first to try is the {name} {how}."
    return f"{lead}{pumps} fit{'s' if many == 1 else ''}; the first is the {name} {how}."


def _blocked_text(answer: Answer, units: Units) -> str:
    if not answer.ruled_out:
        return "Nothing fits: no pump in this release reaches the pump face of this engine."
    nearest = answer.ruled_out[0]
    many = answer.ruled_out_total
    of = "the one pump" if many == 1 else f"none of the {many} pumps"
    fails = "does not pass" if many == 1 else "passes"
    return (
        f"Nothing fits: {of} that could go on this engine {fails} every check. "
        f"Nearest is the {nearest.name}: {check_text(nearest.check, units)}"
    )


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _words(name: Any) -> str:
    return str(name).replace("_", " ").replace(".", ", ")
