"""What explains a ranking: what to measure and what follows, what to tell, and why the expected is not first."""

from typing import Final

from catalog.standards.belts import RIB_PITCH
from service.fit.answer import Change, EitherWay, Expected, OpenQuestion, Outcome
from service.fit.taking import Looking, Settling, Taking
from service.fit.wording.answers import ruled_out_text
from service.fit.wording.options import key_values
from service.fit.wording.words import FIELDS, Units, length_text, listed, lower, measure_text, upper, words

_HOLDS: Final = {
    "belt_plane": "the belt on the pump meets the drive's plane",
    "carried_parts": "the {zone} meets the drive's plane",
    "crank": "the crank pulley meets the drive's plane",
    "cover": "the pump has room over the cover{at}",
    "radiator_gap": "there is room enough {where}",
    "bolts": "the bolts suit their holes",
}
_ASKS: Final = {
    "accessory_drive": "Which accessory drive do you have?",
    "front_cover": "Which front cover does the engine have?",
    "crank_pulley": "Which crank pulley do you have?",
    "radiator": "Which radiator does the car have?",
    "core_distance": "How far is it from the block's pump face to the radiator's core?",
    "heater": "Which heater does the car have?",
    "fan": "Which fan does the car have?",
}
_WORDS: Final = {
    ("heater", "none"): "no heater",
    ("fan", "none"): "no fan",
    ("fan", "electric"): "a fan on the radiator",
    ("fan", "mechanical"): "a fan that turns with the engine",
}
_FIRST: Final = {
    "verdict": "the first holds everywhere within the tolerances, and option {rank} must be measured first",
    "work": "the hardest step of the first is {this}, that of option {rank} is {next}",
    "recommended": "the shop recommends the pump of the first",
    "price": "the parts to buy cost {this} for the first and {next} for option {rank}",
    "margin": "the tightest check of the first leaves more of its limit: {this}, against {next}",
    "parts": "the first needs {this} pieces, option {rank} needs {next}",
    "length": "the pump of the first sits nearer the block: {this}, against {next}",
    "part_numbers": "all else is equal, and the part number of the first comes first",
}
_NOT_LOOKED_AT: Final = {
    "unwanted": "you ask to do without it",
    "retired": "it is retired",
    "another_named": "you ask for another pump",
    "other_drive": "it is not driven in the way that you ask for",
    "other_face": "it bolts to another face than this engine has",
}


def taking_text(taking: Taking, units: Units = "mm") -> str:
    """What to measure, with what, from which face to which."""
    what = (
        f"Measure the {words(taking.measure)} of {_called(taking.part, taking.name)} with a {taking.taken_with}, "
        f"from {taking.from_} to {taking.to}"
    )
    if taking.expected is None or taking.doubt is None:
        return f"{what}; nothing is known of it so far."
    expected, doubt = length_text(taking.expected, units), length_text(taking.doubt, units)
    return f"{what}: about {expected}, known to plus or minus {doubt} so far."


def looking_text(looking: Looking, units: Units = "mm") -> str:
    """What to look at or to count."""
    called = _called(looking.part, looking.name)
    told = _LOOK_AT.get(looking.fact)
    if told is None:
        return f"Find out {measure_text(looking.fact, called)}."
    return told.format(of=called, pitch=length_text(RIB_PITCH["PK"], units, 2))


_LOOK_AT: Final = {
    "rotation": "See from the front of the engine which way round {of} turns: clockwise or counterclockwise.",
    "ribs": "Count the ribs of the belt of {of}.",
    "bands": "Count the grooves of {of}, and measure where they begin and end.",
    "profile": "Measure how far apart the ribs of {of} stand, from ridge to ridge: {pitch} is profile PK.",
    "belt_side": "Look which side of the belt of {of} runs on the pump: its ribs or its smooth back.",
    "hole_material": "Look what the threaded holes of {of} are cut in: aluminium, cast iron or steel.",
    "driven_by": "Look whether {of} turns with the engine or sits on the radiator.",
    "ports.carrier": "Look whether {of} has bosses for a tensioner or an idler, and which.",
    "ports.fan": "Look whether {of} has a place for a fan, and how the fan is held there.",
    "ports.carried": "Look whether a tensioner or an idler of {of} bolts to the pump.",
}


def _called(part: str, name: str) -> str:
    """A part by name and number; what the asker describes has no number."""
    return name if part.startswith(name) else f"{name} ({part})"


def settling_text(settling: Settling) -> str:
    """What is left open once everything is measured that can be."""
    if settling.reason == "not_known":
        many = len(settling.readings) + len(settling.look_at)
        return f"Once {'this is' if many == 1 else f'these {many} are'} told, it can be checked."
    if settling.reason == "belt_length":
        return (
            "Measure the way of the belt round the pulleys that it keeps, with a tape; it needs a belt of that length."
        )
    if settling.reason == "nothing_finer":
        return "No caliper or tape measures finer than what is known already, so only trying it on decides."
    many = len(settling.readings)
    reading = "this reading" if many == 1 else f"these {many} readings"
    chance = settling.leaves_open or 0
    left = "fewer than 1 case" if chance < 0.005 else f"about {_cases(chance)}"
    return f"After {reading} it is still open in {left} of 100."


def _cases(chance: float) -> str:
    cases = max(1, round(100 * chance))
    return "1 case" if cases == 1 else f"{cases} cases"


def either_way_text(either: EitherWay) -> str:
    """What the answer is on either side."""
    where = "behind the fan" if either.zone == "behind" else "in front of the radiator's core"
    at = f" at its {words(either.zone)}" if either.zone else ""
    holds = _HOLDS[either.code].format(zone=words(either.zone), at=at, where=where)
    return (
        f"If {holds}, as in about {_cases(either.holds.likelihood)} of 100, {_outcome(either.holds)}; "
        f"if not, {_outcome(either.fails)}."
    )


def _outcome(outcome: Outcome) -> str:
    if outcome.verdict == "blocked":
        return "nothing fits"
    on = f" on {listed(list(outcome.plates))}" if outcome.plates else " straight on the block"
    if outcome.verdict == "measure_first":
        return f"the first to try is {_called(outcome.pump, outcome.name)}{on}, and more must be measured"
    return f"{_called(outcome.pump, outcome.name)}{on} fits"


def open_question_text(question: OpenQuestion, units: Units = "mm") -> str:
    """What to tell, and which of the listed options each answer leaves."""
    groups: dict[tuple[tuple[int, ...], int | None, tuple[int, ...]], list[Change]] = {}
    for change in _worth_telling(question):
        groups.setdefault((change.falls_away, change.first, change.measure_first), []).append(change)
    ordered = sorted(groups, key=lambda key: -len(key[0]))
    told = [f"with {_said(question.asks, groups[key], units)} {_left(question, *key)}" for key in ordered]
    more = f" The catalog has {question.untried} more, not tried." if question.untried else ""
    return f"{_ASKS[question.asks]} {upper('; '.join(told))}.{more}"


def _worth_telling(question: OpenQuestion) -> tuple[Change, ...]:
    """Of distances, that at which the first option falls away, then those where the first and the last of all do."""
    changes = question.changes
    if question.asks != "core_distance":
        return changes
    first = next((change for change in changes if 1 in change.falls_away), changes[0])
    least = min(changes, key=lambda change: len(change.falls_away))
    most = max(changes, key=lambda change: len(change.falls_away))
    return tuple(dict.fromkeys((most, first, least)))


def _said(field: str, changes: list[Change], units: Units) -> str:
    """The values that come to the same; more than two parts are called by their numbers alone."""
    parts = sum(bool(change.name) for change in changes)
    each = []
    for change in changes:
        if change.less_than is not None:
            each.append(f"less than {length_text(change.less_than, units)}")
        elif (field, change.value) in _WORDS:
            each.append(_WORDS[field, change.value])
        else:
            each.append(change.value if parts > 2 else f"{change.name} ({change.value})")
    return each[0] if len(each) == 1 else f"{', '.join(each[:-1])} or {each[-1]}"


def _left(question: OpenQuestion, falls: tuple[int, ...], first: int | None, unsure: tuple[int, ...]) -> str:
    """Which options hold; of one that must be measured first nothing more is said than that it stays."""
    stays = [rank for rank in range(1, question.listed + 1) if rank not in falls]
    if not stays:
        return "none of the options fits" if question.listed > 1 else "the option does not fit"
    comes_first = f", and option {first} comes first" if first != stays[0] else ""
    if question.listed == 1:
        return "the option stays and must be measured first" if unsure else "the option fits"
    fit = "stay" if unsure else "fit"
    if not falls:
        return f"all {question.listed} options {fit}{comes_first}{_measured(unsure, stays, 'each')}"
    if len(stays) < len(falls):
        named = _options(stays, "stays" if unsure else "fits", fit)
        return f"only {named}{comes_first}{_measured(unsure, stays, 'each')}"
    falling = _options(list(falls), "no longer fits", "no longer fit")
    return f"{falling}{comes_first}{_measured(unsure, stays, 'what stays')}"


def _measured(unsure: tuple[int, ...], stays: list[int], every: str) -> str:
    """Which of those that stay must be measured first."""
    if not unsure:
        return ""
    if len(unsure) < len(stays):
        return f", and {_options(list(unsure), 'must', 'must')} be measured first"
    return f", and {'it' if len(stays) == 1 and every == 'each' else every} must be measured first"


def _options(ranks: list[int], one: str, many: str) -> str:
    if len(ranks) == 1:
        return f"option {ranks[0]} {one}"
    return f"options {listed([str(rank) for rank in ranks])} {many}"


def expected_text(expected: Expected, units: Units = "mm", currency: str = "") -> str:
    """Where a part is that one would have expected in the first option."""
    what = f"{expected.name} ({expected.part})"
    lead = f"The shop recommends {what}" if expected.why == "recommended" else f"You have {what}"
    if expected.where == "listed" and expected.above is not None:
        this, next_ = key_values(expected.above, units, currency)
        why = _FIRST[expected.above.key].format(this=this, next=next_, rank=expected.rank)
        return f"{lead}, which comes with option {expected.rank}: {why}."
    if expected.where == "fits":
        pump = expected.kind in ("water_pump", "remote_pump")
        how = "has an option too, below those listed" if pump else "serves in an option below those listed"
        return f"{lead}, which {how}."
    if expected.where == "not_used":
        return f"{lead}, which no option needs."
    if expected.where == "not_asked":
        return f"{lead}, which was not checked: name it as the {FIELDS[expected.reason]} of the build."
    if expected.where == "another_named":
        return f"{lead}, which was not checked: the build names another {FIELDS[expected.reason]}."
    if expected.ruled_out is not None:
        why = lower(ruled_out_text(expected.ruled_out, units), expected.ruled_out.check.facts)
        return f"{lead}, which does not fit: {why}"
    return f"{lead}, which was not looked at: {_NOT_LOOKED_AT[expected.reason]}."
