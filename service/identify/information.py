"""Bayes and the information that a question is worth, over any hypotheses.

A question is a table: for each hypothesis (rows) how probable each outcome is (columns). Outcomes of a reading lie on a
grid, and `weights` then holds the width of each grid cell, so that sums become integrals by the trapezoidal rule.
"""

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Array: TypeAlias = NDArray[np.float64]
Rows: TypeAlias = NDArray[np.intp]


def posterior(prior: Array, *likelihoods: Array) -> Array:
    """Probabilities after evidence, in whatever order it came: prior times every likelihood, made to sum to 1.

    Worked out in logarithms, so that much evidence does not underflow. A prior or likelihood of zero rules out.
    """
    with np.errstate(divide="ignore"):
        logs = np.log(prior) + sum(np.log(np.sort(np.stack(likelihoods), axis=0))) if likelihoods else np.log(prior)
    weights: Array = np.exp(logs - np.max(logs))
    found: Array = weights / weights.sum()
    return found


def entropy(probabilities: Array, axis: int = 0) -> Array:
    """Shannon's entropy in bits along an axis; what is impossible adds nothing."""
    safe = np.where(probabilities > 0, probabilities, 1.0)
    found: Array = -(safe * np.log2(safe)).sum(axis=axis)
    return found


def expected_gain(prior: Array, table: Array, weights: Array | None = None) -> float:
    """Bits that the answer is expected to tell of the hypotheses (Lindley, Ann. Math. Stat. 27:986, 1956).

    `prior` is of shape (hypotheses,), `table` (hypotheses, outcomes), `weights` (outcomes,) or absent where the
    outcomes are counted. Never negative, and never more than the entropy of the prior.
    """
    joint = prior[:, None] * table
    outcome = joint.sum(axis=0)
    safe = np.where(outcome > 0, outcome, 1.0)
    after = entropy(joint / safe)
    chances = outcome if weights is None else outcome * weights
    before = float(entropy(prior))
    total = float(chances.sum())
    # A grid holds all but a sliver of the outcomes: what it leaves out is taken to tell nothing.
    return min(max(0.0, total * before - float((chances * after).sum())), before)


def gaussian(x: Array, mean: Array, sigma: Array) -> Array:
    """Density of the normal distribution at each x (columns) for each mean and sigma (rows)."""
    scaled = (x[None, :] - mean[:, None]) / sigma[:, None]
    found: Array = np.exp(-0.5 * scaled * scaled) / (sigma[:, None] * np.sqrt(2 * np.pi))
    return found


def trapezoid_weights(grid: Array) -> Array:
    """Width that each point of a rising grid stands for."""
    steps = np.diff(grid)
    found: Array = np.concatenate(([steps[0] / 2], (steps[:-1] + steps[1:]) / 2, [steps[-1] / 2]))
    return found
