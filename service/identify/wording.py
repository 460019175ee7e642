"""Every sentence of an identification, rendered from its data."""

from collections.abc import Callable, Sequence
from fractions import Fraction
from typing import Final

from msgspec import UNSET

from catalog.units import NM_PER_INCH
from service.fit.readings import upper, words
from service.fit.wording.told_once import lead_text
from service.fit.wording.words import Units, length_text
from service.identify.answer import Answer, Candidate, Facts, NextQuestion, Outcome, Said
from service.identify.builds import CandidatesFit, SharedOption

CAUTION: Final = (
    "Lay the part in hand beside the one that you order before anything is taken apart or run; the engine maker's "
    "manual, local codes and a licensed mechanic have the last word."
)
NEAREST: Final = 0.2
"""A candidate with this share of what is left to the candidates is told as the nearest."""
_VIEWS: Final = {
    "water_pump": "the whole pump from the front, from behind and from the side of its outlet",
    "front_cover": "the whole cover from the front, and its lower corners",
    "accessory_drive": "the whole drive from the front with its belt on, and from the side",
    "outlet_plate": "the whole plate from the front and from above, with a tape across an opening",
    "thermostat_housing": "the whole housing from the front and from below, with a tape across its end",
}
"""What to photograph of a kind, to settle what the questions do not."""


def answer_text(answer: Answer) -> str:
    """The first sentences of an answer: what it is, or what it may be, and what to do next."""
    said = {"identified": _identified, "narrowed": _narrowed, "unknown": _unknown}[answer.verdict](answer)
    said += [_alike(answer)] if answer.alike else []
    said += [_number(answer)] if answer.nearest_numbers else []
    if answer.verdict != "identified":
        said += [f"Next: {answer.next_questions[0].question}"] if answer.next_questions else [_no_question(answer)]
    return " ".join(said)


def _identified(answer: Answer) -> list[str]:
    best = answer.candidates[0]
    said = [f"It is {best.part.number}, {best.part.name} ({percent(best.probability)})."]
    if answer.clashes:
        said.append(f"{_count(len(answer.clashes), 'answer speaks', 'answers speak')} against it: look again.")
    if best.part.aliases and answer.asked.number is UNSET:
        said.append(f"It should bear the number {listed(best.part.aliases, 'or')}; another means another part.")
    if best.replaced_by is not None:
        said.append(f"It is no longer offered; {best.replaced_by} replaces it.")
    return said


def _narrowed(answer: Answer) -> list[str]:
    if len(answer.holds) == 1:
        best = f"It looks like {answer.holds[0]} ({percent(answer.candidates[0].probability)})"
        if answer.clashes:
            names = listed([_what(said) for said in answer.clashes], "and")
            return [f"{best}, but clashes with what was said of {names}: look again, it may be another part."]
        if answer.mistakable:
            return [f"{best}; another part could still look the same, so it is not yet sure."]
        return [f"{best}, and is not yet sure."]
    return [f"It is most likely {listed(answer.holds, 'or')}."]


def _unknown(answer: Answer) -> list[str]:
    if not answer.evidence:
        return [f"Nothing is known of it yet; it may be any of {answer.considered} parts."]
    if answer.none_of_these >= 0.5:
        said = [f"It is probably none of the catalog's ({percent(answer.none_of_these)})."]
        nearest = answer.candidates[0].part.number if answer.candidates else ""
        stands_out = bool(answer.candidates) and answer.candidates[0].probability >= NEAREST * (
            1 - answer.none_of_these
        )
        if answer.clashes and stands_out:
            names = listed([_what(said) for said in answer.clashes], "and")
            said.append(f"{nearest} comes nearest, and clashes with what was said of {names}.")
        return said
    return [f"What is known leaves {len(answer.holds)} of {answer.considered} parts."]


def _what(said: Said) -> str:
    """What a piece of evidence is about, in a few words."""
    by_code = {"number": "the number", "years": "the years", "fits_on": f"what it fits on ({said.name})"}
    return by_code.get(said.code) or words(said.name)


def _alike(answer: Answer) -> str:
    return f"Nothing that the catalog knows tells {listed(answer.alike, 'from')} by its looks."


def _number(answer: Answer) -> str:
    return f"The number is none of the catalog's; {listed(answer.nearest_numbers, 'or')} looks most like it."


def _no_question(answer: Answer) -> str:
    kind = answer.candidates[0].part.kind if answer.candidates else ""
    return f"No question is left that would tell more. {send_text(kind)}"


def send_text(kind: str) -> str:
    """What to photograph and send where questions do not settle it."""
    view = _VIEWS.get(kind, "the whole part from two sides")
    return f"Photograph {view}, and every number cast or stamped on it, and send that to the shop with the readings."


def none_text(answer: Answer) -> str:
    """How probable it is that the catalog does not hold the part."""
    if not answer.evidence:
        return f"Before anything is known, {percent(answer.none_of_these)} of parts are taken not to be in the catalog."
    return f"That the catalog does not hold it is {percent(answer.none_of_these)} probable."


def said_text(said: Said, units: Units, *, speaks_for: bool) -> str:
    """One piece of evidence, for a part or against it."""
    return upper(_SAID[said.code](said.facts, units, speaks_for))


def _cue(facts: Facts, _: Units, speaks_for: bool) -> str:
    return f'"{facts["question"]}" Seen: {facts["seen"]}; ' + (
        "so has it." if speaks_for else f"it has: {facts['has']}."
    )


def _reading(facts: Facts, units: Units, speaks_for: bool) -> str:
    read, has, off = (length_text(facts[name], units) for name in ("read", "has", "off"))
    off = off.removeprefix("-")
    tool = f"by {facts['taken_with']}, give or take {length_text(facts['doubt'], units)}"
    if speaks_for:
        return f"read {read} ({tool}), {off} from its {has}."
    return f"read {read} ({tool}); it has {has}, {off} away."


def _number_read(facts: Facts, _: Units, speaks_for: bool) -> str:
    own = listed(facts["own"], "or")
    return f'read "{facts["read"]}" on it; {"that is its number" if speaks_for else f"its numbers are {own}"}.'


def _fits_on(facts: Facts, _: Units, speaks_for: bool) -> str:
    return f"it {'can' if speaks_for else 'cannot'} meet {facts['on']}."


def _years(facts: Facts, _: Units, speaks_for: bool) -> str:
    first, last = facts["years"]
    made = f"from {first or 'the start'} to {last or 'today'}"
    asked = (
        f"{facts['asked'][0]} to {facts['asked'][1]}" if facts["asked"][0] != facts["asked"][1] else facts["asked"][0]
    )
    return f"it was made {made}; asked is {asked}." if speaks_for else f"it was made {made}, not in {asked}."


_SAID: Final[dict[str, Callable[[Facts, Units, bool], str]]] = {
    "cue": _cue,
    "measure": _reading,
    "number": _number_read,
    "fits_on": _fits_on,
    "years": _years,
}


def settles_text(question: NextQuestion, units: Units) -> str:
    """What a question would settle, answer by answer."""
    if question.sort == "kind":
        return f"Tells which of {len(question.outcomes)} sorts it is; the questions of that sort follow."
    if not question.outcomes:
        return "Tells whether the catalog holds it at all."
    if len(question.outcomes) == 1:
        parts = _parts(question.outcomes[0])
        return f"{_when(question.outcomes[0], units)} would confirm {parts}; anything else would speak against."
    return f"Settles: {'; '.join(f'{_when(outcome, units)}, {_parts(outcome)}' for outcome in question.outcomes)}."


def _when(outcome: Outcome, units: Units) -> str:
    return words(outcome.answer) if outcome.answer is not None else f"about {_on_a_tape(outcome.about or 0, units)}"


def _on_a_tape(length: int, units: Units) -> str:
    """A length as it is read off a tape: to the nearest 1/16 in, or whole millimetres."""
    if units == "mm":
        return length_text(length, units, 0)
    whole, over = divmod(round(Fraction(16 * length, NM_PER_INCH)), 16)
    part = Fraction(over, 16)
    return (
        f"{' '.join(each for each in (str(whole) if whole or not over else '', str(part) if over else '') if each)} in"
    )


def _parts(outcome: Outcome) -> str:
    return listed([*outcome.parts, *([f"{outcome.more} more"] if outcome.more else [])], "or")


def candidate_text(candidate: Candidate) -> str:
    """One line on a candidate."""
    later = f"; no longer offered, {candidate.replaced_by} replaces it" if candidate.replaced_by else ""
    return f"{candidate.part.number}, {candidate.part.name}: {percent(candidate.probability)}{later}."


def candidates_text(answer: CandidatesFit) -> str:
    """What was not checked, then what holds whichever of the candidates it is, and what decides where that matters."""
    return f"{lead_text(answer.build, answer.told)}{_candidates(answer)}"


def _candidates(answer: CandidatesFit) -> str:
    names = listed(answer.identification.holds, "or")
    if answer.verdict == "ask_first":
        decides = f" Next: {answer.decides.question}" if answer.decides else ""
        return (
            f"{len(answer.identification.holds)} candidates are too many to build with; first tell them apart.{decides}"
        )
    if answer.verdict == "blocked":
        return f"Whether it is {names}, nothing fits."
    if answer.verdict == "holds":
        ways = _count(len(answer.holds_for_all), "option holds", "options hold")
        said = f"{ways} whichever it is, {names}." if len(answer.candidates) > 1 else f"{ways} for {names}."
    else:
        said = f"What fits depends on whether it is {names}."
    return f"{said} What decides: {answer.decides.question}" if answer.decides else said


def shared_text(option: SharedOption) -> str:
    """One way that holds for all candidates, and what of its parts list still depends."""
    plates = f"with {listed(option.plates, 'and')}" if option.plates else "straight on, without a plate"
    way = f"{option.pump}, {plates}" if option.pump else upper(plates)
    sure = "" if option.verdict == "ok" else "; something must be measured first"
    depends = (
        "; the rest of the parts list depends on which it is" if option.depends else "; the parts list is the same"
    )
    return f"{way}{sure}{depends}."


def percent(probability: float) -> str:
    """A probability as people say it; never that something is certain or impossible."""
    if probability < 0.01:
        return "under 1 %"
    return "over 99 %" if probability > 0.99 else f"{round(100 * probability)} %"


def listed(names: Sequence[str], last: str) -> str:
    """Names in a row, the last one after a word of its own; at most eight of them."""
    told = [str(name) for name in names]
    if len(told) > 8:
        told = [*told[:7], f"{len(told) - 7} more"]
    return told[0] if len(told) == 1 else f"{', '.join(told[:-1])} {last} {told[-1]}"


def _count(number: int, one: str, many: str) -> str:
    return f"One {one}" if number == 1 else f"{number} {many}"
