"""What a change of a build comes to, in one sentence: what changes, how many pumps fit then, and at what price."""

from collections import Counter
from collections.abc import Iterator
from decimal import Decimal
from typing import Any, Final

from msgspec import UNSET

from catalog.units import amount_text, from_millimetres, minor_units
from service.fit.answer import Answer, Option
from service.fit.build import Build, Described, RadiatorPort
from service.fit.compare import Changed, best
from service.fit.requirements import said
from service.fit.told import Told
from service.fit.wording.told_once import lead_text
from service.fit.wording.words import FIELDS, WORK_WORDS, Units, length_text, listed, pump_named, upper

MOST_NAMED: Final = 3
"""Part numbers told one by one; the others are counted."""
_FIELDS: Final = FIELDS | {
    "pulley": "separate pulley",
    "radiator_ports": "radiator's ports",
    "pump_drive": "pump elsewhere",
    "must.without": "list of parts to do without",
    "must.work_at_most": "limit on the work",
    "must.price_at_most": "limit on the price",
    "must.outlet_direction": "direction of the outlet",
    "must.outlet_side": "side of the outlet",
}
_WORDS: Final = {
    ("heater", "none"): "no heater",
    ("fan", "none"): "no fan",
    ("fan", "mechanical"): "a fan that turns with the engine",
    ("fan", "electric"): "an electric fan",
    ("pump_drive", "remote"): "a pump elsewhere",
    ("pump_drive", "belt"): "a pump that the belt drives",
}


def changed_text(own: Answer, changed: Changed, units: Units = "mm") -> str:
    """What is then not checked or not known besides, the change, and what fits with it against what fits without it."""
    known = {(each.lack.part, each.lack.fact) for each in own.told.not_known}
    lacks = [each for each in changed.answer.told.not_known if (each.lack.part, each.lack.fact) not in known]
    fields = tuple(field for field in changed.answer.not_checked if _is_news(own, changed.answer, field))
    besides = lead_text(changed.answer.build, Told(fields, tuple(lacks), len(lacks)))
    lead = upper(listed(list(_changes(own.build, changed, units))))
    return f"{besides}{lead}, {_outcome(own, changed)}."


def _is_news(own: Answer, then: Answer, field: str) -> bool:
    """Whether a field is not checked only then: left out, or given by a word that leaves something open."""
    given = getattr(own.build, field) is UNSET and getattr(then.build, field) is not UNSET
    return field not in own.not_checked or given


def _changes(before: Build, changed: Changed, units: Units) -> Iterator[str]:
    change, after = changed.change, changed.answer.build
    if change.give_up:
        yield f"without the {listed([_FIELDS[field] for field in change.give_up])}"
    if after.must.without and "must.without" in change.sets:
        yield f"without {_numbers(after.must.without)}"
    told = [_set(field, before, after, units) for field in change.sets if field not in _TOLD_ELSEWHERE]
    if "must.without" in change.sets and not after.must.without:
        told.append("every part allowed")
    if told:
        yield f"with {listed(told)}"
    elif set(change.sets) <= {"limit", "paths_per_pump"} and not change.give_up:
        yield "with nothing changed"


_TOLD_ELSEWHERE: Final = ("must.without", "limit", "paths_per_pump")


def _set(field: str, before: Build, after: Build, units: Units) -> str:
    """What a change sets, as a thing that one has or asks for; by the part that is answered for."""
    value = said(after, field)
    known = _WORDS.get((field, value)) if isinstance(value, str) else None
    if known is not None:
        return known
    if field in _TOLD:
        told: str = _TOLD[field](value)
        return told
    if field == "core_distance":
        # The least that serves may be sent back: what is told is no less than it, as where it was offered.
        return f"{length_text(from_millimetres(value), units, at_least=True)} to the radiator's core"
    old = said(before, field)
    named = isinstance(old, Described) or (isinstance(old, str) and (field, old) not in _WORDS)
    instead = f" instead of {_part(old)}" if named and old != value else ""
    return f"the {_FIELDS[field]} {_part(value)}{instead}"


def _part(value: Any) -> str:
    return f'"{value.name}"' if isinstance(value, Described) else str(value)


def _numbers(numbers: list[str]) -> str:
    counted = [number if count == 1 else f"{count} of {number}" for number, count in sorted(Counter(numbers).items())]
    more = len(counted) - MOST_NAMED
    return listed([*counted[:MOST_NAMED], *([f"{more} more"] if more > 0 else [])])


def _radiator_ports(ports: Any) -> str:
    return f"radiator ports of {_radiator_port(ports.upper)} above and {_radiator_port(ports.lower)} below"


def _radiator_port(port: RadiatorPort) -> str:
    size = port.connection if port.connection is not UNSET else port.size
    return f"{size}" + (f" on the {port.side}" if port.side is not UNSET else "")


def _price(limit: Any) -> str:
    minor = minor_units(Decimal(repr(limit.amount)), limit.currency)
    return f"{amount_text(minor, limit.currency)} {limit.currency} to spend at most"


def _measured(readings: Any) -> str:
    parts = list(dict.fromkeys(reading.part for reading in readings))
    return f"your readings of {_numbers(parts)}" if parts else "no readings of your own"


_TOLD: Final[dict[str, Any]] = {
    "radiator_ports": _radiator_ports,
    "have": lambda numbers: f"{_numbers(numbers)} at hand" if numbers else "nothing at hand",
    "measured": _measured,
    "rank_by": lambda keys: f"{', then '.join(keys)} ranked first" if keys else "the usual order of ranking",
    "must.work_at_most": lambda work: f"{WORK_WORDS[work]} as the hardest step",
    "must.price_at_most": _price,
    "must.outlet_direction": lambda way: f"an outlet that points {way}",
    "must.outlet_side": lambda side: f"an outlet on the {side}",
}
"""How the fields that name no single part are told."""


def _outcome(own: Answer, changed: Changed) -> str:
    answer, was, now = changed.answer, best(own), best(changed.answer)
    if not answer.decided:
        return "the search reached its limit, so what fits then is not decided"
    if now is None:
        many = own.pumps_that_fit
        lost = "the one pump that fits now does" if many == 1 else f"all {many} pumps that fit now do"
        return "nothing fits either" if was is None else f"nothing fits: {lost} not fit then"
    # Of several pumps the best option is looked at alone, so that some of the others may have to be measured first.
    fit = "fits" if answer.pumps_that_fit == 1 else "fit or may fit"
    if answer.verdict == "measure_first":
        fit = "may fit once something is measured"
    return f"{_pumps(own, changed, fit)}; {_first(was, now, changed)}"


def _pumps(own: Answer, changed: Changed, fit: str) -> str:
    many = changed.answer.pumps_that_fit
    pumps = "one pump" if many == 1 else f"{many} pumps"
    if changed.appeared is None or changed.went is None:
        return f"{pumps} {fit}"
    new, gone = len(changed.appeared), len(changed.went)
    if not own.fitting:
        return f"{pumps} {fit} where none does now"
    if not new and not gone:
        return f"the same {'pump' if many == 1 else pumps} {fit}"
    found = f", {'all' if new == many else new} of them new" if new and many > 1 else ", a new one" if new else ""
    lost = (
        f", and {gone} that {'fits' if gone == 1 else 'fit'} now no longer {'does' if gone == 1 else 'do'}"
        if gone
        else ""
    )
    return f"{pumps} {fit}{found}{lost}"


def _first(was: Option | None, now: Option, changed: Changed) -> str:
    same = was is not None and (was.pump, was.plates, _list(was)) == (now.pump, now.plates, _list(now))
    first = f"the best option {'stays' if same else 'is'} {pump_named(now.pump, now.name)}"
    difference = changed.price_difference
    if difference is None:
        return first
    if difference.amount == 0:
        return first if same else f"{first} and costs the same"
    more = "more" if difference.amount > 0 else "less"
    return (
        f"{first}, which costs {amount_text(abs(difference.amount), difference.currency)} {difference.currency} {more}"
    )


def _list(option: Option) -> list[tuple[str, int]]:
    return [(line.part, line.quantity) for line in option.parts_list]
