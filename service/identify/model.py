"""How probable each piece of evidence is if the part is this one, that one, or none of the catalog's.

Hypotheses are the candidates in their order and, last, `none of these`. Each likelihood is an array over them.

- A cue is answered wrongly at the catalog's own error rate, and then by any of the other answers alike.
- A reading lies about the part's own dimension with the instrument's doubt and the part's tolerance together, each
  taken as evenly spread over its range (GUM, JCGM 100:2008, 4.3.7: half its width over the root of 3); one reading in
  fifty is of something else and may be anything.
- A part that the catalog does not hold may give any answer, and any reading in the range of the catalog's and a margin.
- A candidate of which the catalog does not say the cue or the measure is like one that it does not hold, in this; one
  that has nothing to look at or to measure there is not answered about but by mistake.
"""

import math
from collections.abc import Sequence
from fractions import Fraction
from typing import Final

import numpy as np

from catalog.domain import Cue, Measure, Part, Role
from catalog.units import NM_PER_MM
from catalog.vocabulary import DEFAULT_TOLERANCE
from service.identify.evidence import Evidence
from service.identify.information import Array, Rows, gaussian, trapezoid_weights

NONE_PRIOR: Final = 0.05
"""How probable it is before any evidence that the catalog does not hold the part (common practice, no source)."""
GROSS: Final = 0.02
"""Share of readings that are of something else: the wrong face, the wrong mark (common practice, no source)."""
MISREAD_NUMBER: Final = 0.02
"""Share of numbers that are read wrongly (common practice, no source)."""
SWAPPED: Final = 0.02
"""Share of parts that are not what the engine they come off would take (common practice, no source)."""
OUT_OF_YEARS: Final = 0.1
"""Share of parts that are older or newer than what they come off (common practice, no source)."""
UNHELD: Final = 0.2
"""Least chance that a part which the catalog does not hold suits the place or the years that are told of it."""
ABSENT: Final = 0.002
"""Chance that an answer is given on a sort of part of which the question makes no sense."""
MARGIN: Final = 25.0
"""How far beyond the catalog's own a reading of a part that it does not hold may lie, mm."""
MOST_POINTS: Final = 4_000
"""Points of the grid on which a reading's worth is worked out, at most ..."""
MOST_CELLS: Final = 2_000_000
"""... and points times rows, in a catalog of very many dimensions."""


def prior(candidates: Sequence[Part], *, even: bool) -> Array:
    """Probabilities before any evidence: even, or by how common the catalog says each is (1 where it does not)."""
    weights = np.array([1.0 if even else _common(part) for part in candidates])
    found: Array = np.append(weights / weights.sum() * (1 - NONE_PRIOR), NONE_PRIOR)
    return found


def _common(part: Part) -> float:
    stated = part.attributes.get("how_common", 1)
    return float(stated) if isinstance(stated, int) else 1.0


def cue_table(candidates: Sequence[Part], cue: Cue) -> Array:
    """Probability of each of the cue's answers (columns) for each hypothesis (rows)."""
    width = len(cue.answers)
    kinds = {part.kind for part in candidates if any(own.name == cue.name for own in part.cues)}
    rows = [_cue_row(part, cue, width, sensible=part.kind in kinds) for part in candidates]
    return np.array([*rows, np.full(width, 1 / width)])


def _cue_row(part: Part, cue: Cue, width: int, *, sensible: bool) -> Array:
    own = next((own for own in part.cues if own.name == cue.name), None)
    if own is None:
        return np.full(width, (1.0 if sensible else ABSENT) / width)
    wrong = own.error_percent / 100 if width > 1 else 0.0
    return np.array([1 - wrong if answer == own.answer else wrong / max(1, width - 1) for answer in cue.answers])


class ReadingModel:
    """What readings of one measure to expect of each hypothesis. Lengths are millimetres here, as floating point.

    `doubt` is the instrument's, plus or minus, in nanometres.
    """

    def __init__(self, candidates: Sequence[Part], measure: str, doubt: int) -> None:
        own = [part.measures.get(measure) for part in candidates]
        kinds = {part.kind for part, found in zip(candidates, own, strict=True) if found is not None}
        stated = [found for found in own if found is not None]
        mean = [0.0 if found is None else _middle(found) for found in own]
        sigma = [1.0 if found is None else _sigma(found, doubt) for found in own]
        lacking = [1.0 if part.kind in kinds and not has_no(part, measure) else ABSENT for part in candidates]
        known = [float(found is not None) for found in own]
        # Candidates that read alike share a row, so that a large catalog makes no larger a table than its dimensions.
        alike, row = np.unique(np.column_stack([mean, sigma, lacking, known]), axis=0, return_inverse=True)
        self.mean, self.sigma, self._lacking, self.known = (*alike.T[:3], alike.T[3] > 0)
        self.row: Rows = np.append(row.reshape(-1), len(alike))
        """For each hypothesis its row of the table."""
        self.low = min(_middle(found) for found in stated) - MARGIN
        self.high = max(_middle(found) for found in stated) + MARGIN

    def table(self, x: Array) -> Array:
        """Density of each reading in mm (columns) for hypotheses that read alike (rows), none of these the last."""
        anything = 1 / (self.high - self.low)
        near = (1 - GROSS) * gaussian(x, self.mean, self.sigma) + GROSS * anything
        rows = np.where(self.known[:, None], near, (self._lacking * anything)[:, None])
        return np.vstack([rows, np.full(len(x), anything)])

    def grid(self) -> tuple[Array, Array]:
        """Readings that could come, and the width that each stands for: finer than the finest doubt."""
        step = float(self.sigma[self.known].min()) / 4
        points = min(MOST_POINTS, MOST_CELLS // (len(self.mean) + 1), int((self.high - self.low) / step) + 2)
        x = np.linspace(self.low, self.high, points)
        return x, trapezoid_weights(x)


_PORT_OF: Final[dict[str, Role]] = {"hub_face": "hub", "fan_face": "fan", "carrier_face": "carrier"}


def has_no(part: Part, measure: str) -> bool:
    """Whether a pump has nothing to take this measure to: no pulley of its own, no bare hub, no seat for a fan."""
    if part.kind != "water_pump" or measure in part.measures:
        return False
    if measure in ("belt_plane", "pulley_front"):
        return not part.bands
    wanted = _PORT_OF.get(measure.partition(".")[0])
    return wanted is not None and all(port.role != wanted for port in part.ports)


def _middle(measure: Measure) -> float:
    return float(Fraction(measure.low + measure.high, 2) / NM_PER_MM)


def _sigma(measure: Measure, doubt: int) -> float:
    tolerance = (measure.high - measure.low) / 2
    return max(math.hypot(tolerance, doubt) / math.sqrt(3) / NM_PER_MM, 1e-3)


def reading_likelihood(candidates: Sequence[Part], reading: Measure) -> Array:
    """Density of the asker's reading for each hypothesis."""
    model = ReadingModel(candidates, reading.name, reading.plus)
    found: Array = model.table(np.array([reading.nominal / NM_PER_MM]))[model.row, 0]
    return found


def number_likelihood(candidates: Sequence[Part], number: str) -> Array:
    """Chance to read this number on each hypothesis: its own number or alias, or a wrong one."""
    wanted = _plain(number)
    hits = [any(_plain(own) == wanted for own in (part.number, *part.aliases)) for part in candidates]
    if any(hits):
        wrong = MISREAD_NUMBER / len(candidates)
        return np.array([1 - MISREAD_NUMBER if hit else wrong for hit in hits] + [wrong])
    # A number of no candidate is a wrongly read one of theirs, or that of a part that the catalog does not hold.
    return np.array([MISREAD_NUMBER] * len(candidates) + [1.0])


def _plain(number: str) -> str:
    return "".join(letter for letter in number.casefold() if letter.isalnum())


def meeting_likelihood(candidates: Sequence[Part], met: frozenset[str]) -> Array:
    """Chance that each hypothesis came off, or must meet, a part that these can meet."""
    return _with_unheld([1.0 if part.number in met else SWAPPED for part in candidates])


def years_likelihood(candidates: Sequence[Part], years: tuple[int, int]) -> Array:
    """Chance that each hypothesis came off something of these model years."""
    return _with_unheld([1.0 if within_years(part, years) else OUT_OF_YEARS for part in candidates])


def _with_unheld(chances: list[float]) -> Array:
    """With the chance for a part that the catalog does not hold: as for its own, and more where none suits."""
    return np.array([*chances, max(UNHELD, sum(chances) / len(chances))])


def within_years(part: Part, years: tuple[int, int]) -> bool:
    """Whether the part was made in any of these years; one that does not say when may have been."""
    first, last = part.attributes.get("first_year"), part.attributes.get("last_year")
    after = isinstance(first, int) and years[1] < first
    before = isinstance(last, int) and years[0] > last
    return not (after or before)


def likelihoods(evidence: Evidence) -> list[Array]:
    """A likelihood for each piece of evidence."""
    parts = evidence.candidates
    found = [
        cue_table(parts, evidence.cues[name])[:, evidence.cues[name].answers.index(answer)]
        for name, answer in evidence.seen.items()
    ]
    found += [reading_likelihood(parts, reading) for reading in evidence.readings]
    if evidence.number is not None:
        found.append(number_likelihood(parts, evidence.number))
    found += [meeting_likelihood(parts, met) for met in evidence.meets.values()]
    if evidence.years is not None:
        found.append(years_likelihood(parts, evidence.years))
    return found


TAPE: Final = DEFAULT_TOLERANCE["tape"]
"""Doubt of the tape with which a reading is asked for, nm."""
