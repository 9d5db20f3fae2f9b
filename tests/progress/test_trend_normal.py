"""The judge's own normal distribution against scipy's."""

import numpy as np
import pytest
from scipy import special

from progress.judging.engine import normal


def test_the_distribution_function_is_scipys():
    x = np.linspace(-12.0, 12.0, 200_001)
    assert np.abs(normal.cdf(x) - special.ndtr(x)).max() < 1e-13


def test_the_lower_tail_is_right_relative_to_itself():
    x = np.linspace(-9.0, 0.0, 50_001)
    assert np.abs(normal.cdf(x) / special.ndtr(x) - 1.0).max() < 1e-9


@pytest.mark.parametrize("end, value", [(np.inf, 1.0), (-np.inf, 0.0)])
def test_the_ends_are_reached_without_a_warning(end, value):
    assert normal.cdf(np.array([end]))[0] == pytest.approx(value, abs=1e-18)


def test_the_inverse_mills_ratio_is_scipys_far_into_the_tail():
    a = np.linspace(-30.0, 60.0, 90_001)
    tail, ratio = normal.upper_mills(a)
    # density / tail = sqrt(2 / pi) / erfcx(a / sqrt 2), which does not underflow.
    reference = np.sqrt(2.0 / np.pi) / special.erfcx(a / np.sqrt(2.0))
    assert np.abs(ratio - reference).max() < 1e-8
    assert np.abs(tail - special.ndtr(-a)).max() < 1e-13
