"""Who it is, worked out once more: plain loops, exact fractions for cues, scipy's densities and integrals for readings.

Written from DEVELOPERS.md alone; nothing of service/identify is imported but the request.
"""

import math
from collections.abc import Mapping, Sequence
from fractions import Fraction

from scipy.integrate import quad  # type: ignore[import-untyped]
from scipy.stats import norm, uniform  # type: ignore[import-untyped]

from catalog.domain import Cue, Measure, Part
from catalog.units import NM_PER_MM

NOT_HELD = Fraction(5, 100)
GROSS = 0.02
MARGIN = 25.0


def chance_of_answer(part: Part | None, cue: Cue, answer: str) -> Fraction:
    """Of this answer, if it is this part; None is a part that the catalog does not hold."""
    own = None if part is None else next((each for each in part.cues if each.name == cue.name), None)
    if own is None:
        return Fraction(1, len(cue.answers))
    wrong = Fraction(own.error_percent, 100) if len(cue.answers) > 1 else Fraction(0)
    return 1 - wrong if own.answer == answer else wrong / max(1, len(cue.answers) - 1)


def density(parts: Sequence[Part], part: Part | None, reading: Measure, x: float) -> float:
    """Of a reading x in mm with the instrument of `reading`, if it is this part."""
    middles = [middle(each.measures[reading.name]) for each in parts if reading.name in each.measures]
    low, high = min(middles) - MARGIN, max(middles) + MARGIN
    anything = float(uniform.pdf(low, loc=low, scale=high - low))
    own = None if part is None else part.measures.get(reading.name)
    if own is None:
        return anything
    tolerance = (own.high - own.low) / 2 / NM_PER_MM
    doubt = reading.plus / NM_PER_MM
    sigma = math.sqrt(tolerance**2 / 3 + doubt**2 / 3)
    return (1 - GROSS) * float(norm.pdf(x, middle(own), sigma)) + GROSS * anything


def middle(measure: Measure) -> float:
    return (measure.low + measure.high) / 2 / NM_PER_MM


def posterior(
    parts: Sequence[Part], cues: Mapping[str, Cue], seen: Mapping[str, str], readings: Sequence[Measure], *, even: bool
) -> list[float]:
    """Probability of each part and, last, of none of them."""
    common = [Fraction(1) if even else Fraction(int(part.attributes.get("how_common", 1))) for part in parts]
    weights = [(1 - NOT_HELD) * each / sum(common) for each in common] + [NOT_HELD]
    found = []
    for weight, part in zip(weights, [*parts, None], strict=True):
        chance = float(weight * math.prod(chance_of_answer(part, cues[name], answer) for name, answer in seen.items()))
        for reading in readings:
            chance *= density(parts, part, reading, reading.nominal / NM_PER_MM)
        found.append(chance)
    return [chance / sum(found) for chance in found]


def bits(probabilities: Sequence[float]) -> float:
    return -sum(each * math.log2(each) for each in probabilities if each > 0)


def gain_of_cue(chances: Sequence[float], parts: Sequence[Part], cue: Cue) -> float:
    """Bits that the answer is expected to tell, as the entropy before less the expected entropy after."""
    after = 0.0
    for answer in cue.answers:
        joint = [
            chance * float(chance_of_answer(part, cue, answer))
            for chance, part in zip(chances, [*parts, None], strict=True)
        ]
        if sum(joint) > 0:
            after += sum(joint) * bits([each / sum(joint) for each in joint])
    return bits(chances) - after


def gain_of_reading(chances: Sequence[float], parts: Sequence[Part], reading: Measure) -> float:
    """The same for a reading: the entropy of what would be read, less what is left of it for each part."""
    middles = sorted({middle(part.measures[reading.name]) for part in parts if reading.name in part.measures})
    low, high = middles[0] - MARGIN, middles[-1] + MARGIN

    def mixture(x: float) -> float:
        each = [density(parts, part, reading, x) for part in [*parts, None]]
        mixed = sum(chance * one for chance, one in zip(chances, each, strict=True))
        return sum(chance * one * math.log2(one / mixed) for chance, one in zip(chances, each, strict=True) if one > 0)

    found, _ = quad(mixture, low, high, points=middles[:40], limit=400, epsabs=1e-7)
    return float(found)
