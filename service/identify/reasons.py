"""What speaks for a candidate and what against it, piece by piece of the evidence."""

from collections.abc import Iterable, Mapping
from typing import Final

import msgspec

from catalog.domain import Measure, Part
from service.identify.answer import Said
from service.identify.evidence import Evidence
from service.identify.model import number_likelihood, reading_likelihood, within_years

CLASHES: Final = 0.5
"""A reading less likely than this beside one of anything speaks against a candidate."""


def reasons(evidence: Evidence, part: Part) -> tuple[tuple[Said, ...], tuple[Said, ...]]:
    """Evidence for the part and evidence against it, each in the order of the evidence."""
    told: list[tuple[bool, Said]] = [
        *_cues(evidence.seen, part),
        *_readings(evidence.readings, part),
        *_others(evidence, part),
    ]
    return tuple(said for speaks, said in told if speaks), tuple(said for speaks, said in told if not speaks)


def clash(part: Part, seen: Mapping[str, str], readings: Iterable[Measure]) -> bool:
    """Whether any of these answers or readings speaks against the part."""
    return not all(speaks for speaks, _ in (*_cues(seen, part), *_readings(readings, part)))


def _cues(seen: Mapping[str, str], part: Part) -> list[tuple[bool, Said]]:
    own = {cue.name: cue for cue in part.cues}
    return [
        (
            own[name].answer == answer,
            Said("cue", name, {"question": own[name].question, "seen": answer, "has": own[name].answer}),
        )
        for name, answer in seen.items()
        if name in own
    ]


def _readings(readings: Iterable[Measure], part: Part) -> list[tuple[bool, Said]]:
    found: list[tuple[bool, Said]] = []
    for reading in readings:
        own = part.measures.get(reading.name)
        if own is None:
            continue
        likely = reading_likelihood((part,), reading)
        facts = {
            "read": reading.nominal,
            "has": own.nominal,
            "off": reading.nominal - own.nominal,
            "doubt": reading.plus,
            "taken_with": reading.taken_with,
        }
        found.append(
            (bool(likely[0] >= CLASHES * likely[1]), Said("measure", reading.name, msgspec.to_builtins(facts)))
        )
    return found


def _others(evidence: Evidence, part: Part) -> list[tuple[bool, Said]]:
    found: list[tuple[bool, Said]] = []
    if evidence.number is not None:
        likely = number_likelihood((part,), evidence.number)
        own = [part.number, *part.aliases]
        found.append((bool(likely[0] > 0.5), Said("number", "", {"read": evidence.number, "own": own})))
    found += [(part.number in met, Said("fits_on", on, {"on": on})) for on, met in evidence.meets.items()]
    if evidence.years is not None:
        years = (part.attributes.get("first_year"), part.attributes.get("last_year"))
        if years != (None, None):
            facts = {"asked": list(evidence.years), "years": list(years)}
            found.append((within_years(part, evidence.years), Said("years", "", facts)))
    return found
