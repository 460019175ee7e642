"""The codes of what an option says besides its checks: why a part is listed, offers, why it ranks there."""

from typing import Any, Final

from catalog.domain import Kind, Price
from service.fit.answer import AboveNext, Facts, ListedPart, Offer, Spare
from service.fit.wording.entries import MM, PUMP, Entry, Section


def _why(code: str, heading: str, meaning: str, kind: Kind, *facts: Facts) -> Entry:
    examples = tuple(ListedPart("X-1", "x", kind, "", 1, 0, None, code, each) for each in facts or ({},))
    return Entry(code, heading, meaning, "parts_list", examples)


_COVER: Final = Spare("cover", 300_000, 1_500_000, beyond=True)


def _margins(this: Spare, next_: Spare | None) -> AboveNext:
    return AboveNext("margin", this.margin, None if next_ is None else next_.margin, this, next_)


def _key(code: str, heading: str, meaning: str, *pairs: tuple[Any, Any]) -> Entry:
    return Entry(code, heading, meaning, "rank_by", tuple(AboveNext(code, *pair) for pair in pairs))


_LINE: Final = {"obligation": "outlet"}
_WHY: Final = (
    _why("pump", "The pump", "What the option is about.", "water_pump"),
    _why(
        "seals",
        "A gasket between block and pump",
        "A joint of the stack takes it.",
        "gasket",
        {"connection": "Alder pump face", "pieces": 1},
        {"connection": "Alder pump face", "pieces": 2},
    ),
    _why("moves_out", "A spacer", "Moves the pump toward the radiator.", "spacer", {"thickness": 14 * MM, "pieces": 2}),
    _why("adapts", "An adapter plate", "Leads from one face to another.", "adapter_plate", {"thickness": 22 * MM}),
    _why("clamps", "Bolts", "Hold one group of parts.", "fastener_set", {"clamps": "the pump", "holder": "the block"}),
    _why("takes_belt", "A separate pulley", "The pump has a bare hub.", "pulley"),
    _why(
        "required",
        "A needed part",
        "A rule says that another part needs it.",
        "fitting",
        {"by": PUMP},
        {"by": PUMP, "source": "sold without"},
    ),
    _why("seals_part", "A gasket on the way", "A joint of a line takes it.", "gasket", {"part": "the housing"}),
    _why("leads_out", "An outlet plate", "Leads to a pump elsewhere.", "outlet_plate", {"pump": "the remote pump"}),
    _why("belt", "A belt for no pump", "The drive takes it where no pump is driven.", "belt"),
    _why("leads_on", "Part of a line", "Leads on from a port toward its end.", "hose", _LINE),
    _why("crosses", "A part that crosses", "Leads to the other side of the engine.", "hose", _LINE),
    _why("closes", "A plug on the way", "Closes a port of a part on the way.", "plug", _LINE),
    _why("closes_port", "A plug", "Closes a port of the pump.", "plug", {"obligation": "heater_feed"}),
    _why("thermostat_housing", "A thermostat housing", "Holds the thermostat.", "thermostat_housing"),
    _why("thermostat", "The thermostat", "Goes into its housing.", "thermostat"),
    _why("remote_pump", "A pump elsewhere", "Driven by no belt.", "remote_pump"),
    _why("fan", "A fan", "Turns with the engine.", "fan"),
    _why("fan_adapter", "A fan adapter", "Lies between pump and fan.", "fan_adapter"),
)

_OFFERS: Final = (
    Entry(
        "covers_fan_thread",
        "A cap for the fan thread",
        "The pump has a thread for a fan, and the build asks for none.",
        "fan",
        (Offer("FC-1", "fan thread cap", Price(900, "USD"), "covers_fan_thread"),),
    ),
)

_KEYS: Final = (
    _key(
        "verdict", "Nothing to measure", "Options that are ok stand first, whatever the order.", ("ok", "measure_first")
    ),
    _key("work", "Work", "The lighter hardest step stands first.", ("bolt_on", "weld")),
    _key("recommended", "Recommendation", "What the shop recommends stands first.", (True, False)),
    _key(
        "price", "Price", "The cheaper list stands first, one without a price last.", (28_700, 30_100), (28_700, None)
    ),
    Entry(
        "margin",
        "Margin",
        "The larger least margin over its limit stands first; what has none that is known stands last.",
        "rank_by",
        (
            _margins(Spare("belt_plane", 800_000, 1_100_000, False), _COVER),
            _margins(Spare("bolts", 3_200_000, 16 * MM, True), Spare("bolts", 4 * MM, 25 * MM, False)),
            _margins(Spare("crank", 301_000, 1_500_000, False), Spare("carried_parts", 300_000, 1_500_000, False)),
            _margins(_COVER, None),
        ),
    ),
    _key("parts", "Pieces", "Fewer pieces stand first.", (5, 7)),
    _key("length", "Length", "The pump nearer the block stands first.", (14 * MM, 18 * MM)),
    _key("part_numbers", "Part numbers", "All else is equal.", ("WP-108", "WP-227")),
)

SECTIONS: Final = (
    Section("Why a part is listed", "What each line of `parts_list` is for.", _WHY),
    Section("Offers", "What would go well and nothing needs.", _OFFERS),
    Section("Why an option stands above the next", "The first key on which two options differ.", _KEYS),
)
