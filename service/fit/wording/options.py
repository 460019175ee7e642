"""What an option says besides its checks: why each part is there, what is dangerous, why it stands where it does."""

from typing import Any, Final

from catalog.units import amount_text
from service.fit.answer import AboveNext, ListedPart, Offer, Spare
from service.fit.wording.words import LINE_WORDS, SPOKEN, WORK_WORDS, Units, length_text, upper

_WHY: Final[dict[str, str]] = {
    "pump": "The pump of this option.",
    "seals": "Seals a joint on the {connection}{layer}.",
    "moves_out": "Moves the pump out by {thickness}{layer}.",
    "adapts": "Leads from one face to another and is {thickness} thick{layer}.",
    "clamps": "Hold {clamps} to {holder}.",
    "takes_belt": "Takes the belt on the bare hub of {pump}.",
    "required": "{by} needs it{source}.",
    "seals_part": "Seals {part}{layer}.",
    "leads_out": "Leads the coolant out of the block to {pump}.",
    "belt": "The belt of {drive} where no pump is driven.",
    "leads_on": "Part of the way from {start} to {end}.",
    "crosses": "Crosses to the other side on the way from {start} to {end}.",
    "closes": "Closes a port on the way from {start}.",
    "closes_port": "Closes {start}.",
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
    "margin": "its tightest check leaves more of its limit: {this}, against {next}",
    "parts": "it takes fewer pieces: {this}, against {next}",
    "length": "the pump sits nearer the block: {this}, against {next}",
    "part_numbers": "all else is equal, and its part number comes first",
}


def why_text(line: ListedPart, units: Units = "mm") -> str:
    """Why a part is on the list."""
    facts = {name: length_text(value, units) if name == "thickness" else value for name, value in line.facts.items()}
    if "obligation" in facts:
        facts["start"], facts["end"] = LINE_WORDS[facts["obligation"]]
    facts["source"] = f": {source}" if (source := line.facts.get("source")) else ""
    pieces = line.facts.get("pieces", 1)
    facts["layer"] = f"; a layer is {pieces} pieces" if isinstance(pieces, int) and pieces > 1 else ""
    return _WHY[line.why].format(**(facts | SPOKEN))


def above_next_text(above: AboveNext, units: Units = "mm", currency: str = "") -> str:
    """Why an option stands above the next."""
    this, next_ = key_values(above, units, currency)
    if above.key == "margin" and above.next is None:
        return f"Stands above the next because its tightest check leaves {this}, and of the next no margin is known."
    return f"Stands above the next because {_KEYS[above.key].format(this=this, next=next_)}."


def key_values(above: AboveNext, units: Units, currency: str) -> tuple[str, str]:
    """Both values of a ranking key as they are told."""
    if above.key == "margin":
        return margins_text(above.this_spare, above.next_spare, units)
    this, next_ = (_key_value(above.key, value, units, currency) for value in (above.this, above.next))
    return this, next_


def margins_text(this: Spare | None, next_: Spare | None, units: Units) -> tuple[str, str]:
    """The shares of their limits that two checks leave, told apart, each with what is compared."""
    shares = [None if spare is None else spare.share for spare in (this, next_)]
    for places in range(4):
        told = ["" if share is None else f"{float(100 * share):.{places}f} %" for share in shares]
        if told[0] != told[1]:
            break
    first, second = (_margin_text(spare, share, units) for spare, share in zip((this, next_), told, strict=True))
    return first, second


def _margin_text(spare: Spare | None, share: str, units: Units) -> str:
    if spare is None:
        return "an unknown share"
    margin, limit = (length_text(length, units, 2) for length in (spare.margin, spare.limit))
    where = f"beyond the least of {limit}" if spare.beyond else f"inside {limit}"
    return f"{share} ({CHECK_WORDS[spare.code]}, {margin} {where})"


CHECK_WORDS: Final = {
    # The checks by whose margins options are ranked.
    "belt_plane": "belt",
    "carried_parts": "carried part",
    "cover": "cover",
    "crank": "crank pulley",
    "bolts": "bolts",
}


def _key_value(key: str, value: Any, units: Units, currency: str) -> str:
    if key == "price":
        return "an unknown sum" if value is None else f"{amount_text(value, currency)} {currency}"
    if key == "length":
        return length_text(value, units, 2)
    return WORK_WORDS.get(str(value), str(value))


def offer_text(offer: Offer) -> str:
    """Why a part is offered that nothing needs."""
    return upper(_OFFERS[offer.why].format(name=offer.name))


_OFFERS: Final = {"covers_fan_thread": "{name} would cover the bare fan thread; nothing needs it."}
CODES: Final = {
    "why": tuple(_WHY),
    "offers": tuple(_OFFERS),
    "above_next": tuple(_KEYS),
}
"""Every code that an option bears besides those of its checks, cautions and notes, by what it is a code of."""
