"""The maths of identification against published examples, through the service's own code."""

import math
from fractions import Fraction

import numpy as np
import pytest

from catalog.domain import Measure, Part
from catalog.units import NM_PER_INCH, NM_PER_MM
from catalog.vocabulary import DEFAULT_TOLERANCE
from service.identify.information import Array, entropy, expected_gain, gaussian, posterior, trapezoid_weights
from service.identify.model import ReadingModel


def at(x: float, means: list[float], sigma: float) -> Array:
    return gaussian(np.array([x]), np.array(means), np.full(len(means), sigma))[:, 0]


def test_two_parts_and_one_reading() -> None:
    # Bayes' theorem with normal densities; scipy.stats.norm gives the same: means 38.1 and 41.3, sigma 1.5, x = 40.0.
    found = posterior(np.array([0.5, 0.5]), at(40.0, [38.1, 41.3], 1.5))
    assert found == pytest.approx([0.394923, 0.605077], abs=5e-7)
    assert math.log(found[1] / found[0]) == pytest.approx(0.4266667, abs=5e-8)


def test_three_parts_and_two_readings() -> None:
    # Gaussian naive Bayes; scipy.stats.norm gives the same.
    readings = at(39.0, [38.1, 38.1, 44.45], 1.5), at(115.0, [110.0, 118.0, 110.0], 3.0)
    found = posterior(np.array([0.5, 0.3, 0.2]), *readings)
    assert found == pytest.approx([0.406486, 0.593249, 0.000264664], abs=5e-7)
    assert found.tolist() == posterior(np.array([0.5, 0.3, 0.2]), *reversed(readings)).tolist()


WEATHER = {
    # Quinlan 1986, table 1: by answer, days of class P and N.
    "outlook": {"sunny": (2, 3), "overcast": (4, 0), "rain": (3, 2)},
    "temperature": {"hot": (2, 2), "mild": (4, 2), "cool": (3, 1)},
    "humidity": {"high": (3, 4), "normal": (6, 1)},
    "windy": {"true": (3, 3), "false": (6, 2)},
}


def test_quinlans_weather() -> None:
    prior = np.array([9 / 14, 5 / 14])
    assert float(entropy(prior)) == pytest.approx(0.940286, abs=5e-7)
    gains = {
        name: expected_gain(prior, np.array([[p / 9 for p, _ in days.values()], [n / 5 for _, n in days.values()]]))
        for name, days in WEATHER.items()
    }
    expected = {"outlook": 0.246750, "humidity": 0.151836, "windy": 0.048127, "temperature": 0.029223}
    assert gains == pytest.approx(expected, abs=5e-7)
    assert max(gains, key=lambda name: gains[name]) == "outlook"


def weighing(size: int) -> Array:
    """What the scales do for each of 24 hypotheses (ball, heavy or light): left down, balanced, right down."""
    rows = []
    for ball in range(12):
        for heavy in (True, False):
            side = 0 if ball < size else 2 if ball < 2 * size else 1
            rows.append([side == (0 if heavy else 2), side == 1, side == (2 if heavy else 0)])
    return np.array(rows, dtype=float)


@pytest.mark.parametrize(
    ("size", "bits"), [(1, 0.8167), (2, 1.2516), (3, 1.5), (4, math.log2(3)), (5, 1.4834), (6, 1.0)]
)
def test_twelve_balls(size: int, bits: float) -> None:
    # MacKay 2003, exercise 4.1: the first weighing.
    assert expected_gain(np.full(24, 1 / 24), weighing(size)) == pytest.approx(bits, abs=5e-5)


def test_yes_or_no() -> None:
    # Shannon 1948 for the entropies; Lindley 1956 for the expected information.
    prior = np.array([0.5, 0.25, 0.25])
    assert float(entropy(prior)) == pytest.approx(1.5)
    assert expected_gain(prior, np.array([[1, 0], [0, 1], [0, 1]], dtype=float)) == pytest.approx(1.0)
    assert expected_gain(prior, np.array([[1, 0], [1, 0], [0, 1]], dtype=float)) == pytest.approx(0.811278, abs=5e-7)
    wrong = np.array([[0.9, 0.1], [0.1, 0.9], [0.1, 0.9]])
    assert expected_gain(prior, wrong) == pytest.approx(0.531004, abs=5e-7)


def test_eight_equal_parts() -> None:
    prior = np.full(8, 1 / 8)
    assert expected_gain(prior, np.array([[1, 0]] * 4 + [[0, 1]] * 4, dtype=float)) == pytest.approx(1.0)
    one_of_seven = np.array([[1, 0]] + [[0, 1]] * 7, dtype=float)
    assert expected_gain(prior, one_of_seven) == pytest.approx(0.543564, abs=5e-7)


@pytest.mark.parametrize(("ratio", "bits"), [(3, 1.660964), (2, 1.160964)])
def test_a_normal_prior_and_a_normal_reading(ratio: float, bits: float) -> None:
    # Lindley 1956, the normal case: half the binary logarithm of 1 + (tau/sigma)^2.
    values = np.linspace(-8 * ratio, 8 * ratio, 1201)
    prior = np.exp(-0.5 * (values / ratio) ** 2)
    x = np.linspace(-10 * ratio - 8, 10 * ratio + 8, 1601)
    found = expected_gain(prior / prior.sum(), gaussian(x, values, np.ones(len(values))), trapezoid_weights(x))
    assert found == pytest.approx(bits, abs=2e-6)


@pytest.mark.parametrize(("sigma", "bits"), [(1.5, 0.933550), (3, 0.523293), (6, 0.177765)])
def test_what_measuring_would_tell(sigma: float, bits: float) -> None:
    # scipy.integrate.quad over the mixture of two normal densities at 38.1 and 44.45.
    x = np.arange(38.1 - 10 * sigma, 44.45 + 10 * sigma, sigma / 4)
    table = gaussian(x, np.array([38.1, 44.45]), np.full(2, sigma))
    assert expected_gain(np.full(2, 0.5), table, trapezoid_weights(x)) == pytest.approx(bits, abs=5e-7)


def test_an_instrument_read_to_a_mark_is_evenly_spread() -> None:
    # JCGM 100:2008, 4.3.7: a resolution q has the standard uncertainty q over the root of 12.
    for resolution, expected in (
        (Fraction(254, 160), 0.458272),
        (Fraction(254, 320), 0.229136),
        (Fraction(1), 0.288675),
    ):
        doubt = int(resolution * NM_PER_MM / 2)
        exact = Measure("length", 40 * NM_PER_MM, 0, 0, "drawing", "")
        part = Part("H-1", "hose", "Hose", measures={"length": exact})
        assert ReadingModel([part], "length", doubt).sigma[0] == pytest.approx(expected, abs=5e-7)
    # The tape's usual doubt is a sixteenth to either side.
    assert DEFAULT_TOLERANCE["tape"] == NM_PER_INCH // 16
