"""Two people's scores: kappa against statsmodels, the intraclass correlation against the published example."""
import math

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.inter_rater import cohens_kappa

from progress.rules.agreement import FEWEST_PAIRS, pair_agreement, student_point, weighted_kappa


@pytest.mark.parametrize("seed", range(6))
def test_weighted_kappa_is_that_of_statsmodels(seed):
    rng = np.random.default_rng(seed)
    first = rng.integers(0, 3, 40)
    second = np.clip(first + rng.integers(-1, 2, 40), 0, 2)
    table = np.zeros((3, 3))
    np.add.at(table, (first, second), 1)
    expected = cohens_kappa(table, wt="linear").kappa
    assert weighted_kappa(list(first), list(second), 3) == pytest.approx(expected, abs=1e-12)


def test_kappa_of_one_and_the_same_grade_says_nothing():
    assert weighted_kappa([2, 2, 2], [2, 2, 2], 3) is None


def test_two_trials_of_weirs_data_give_the_published_correlation():
    # Weir JP (2005) J Strength Cond Res 19(1):231-240, data set A: ICC 2,1 is 0.95 (recomputed 0.9500).
    first = [146, 148, 170, 90, 157, 156, 176, 205]
    second = [140, 152, 152, 99, 145, 153, 167, 218]
    agreed = pair_agreement(first, second, grades=None)
    assert agreed.figure == pytest.approx(0.9500, abs=5e-5)
    assert agreed.bias == pytest.approx(-2.75)
    # Student's t, not the normal: eight pairs know little of how far two people scatter.
    assert agreed.bias_low == pytest.approx(-2.75 - stats.t.ppf(0.975, 7) * 10.687 / math.sqrt(8), abs=1e-3)


@pytest.mark.parametrize("freedom", [FEWEST_PAIRS - 1, 5, 7, 12, 30, 500])
def test_the_point_of_students_t_is_scipys(freedom):
    assert student_point(freedom) == pytest.approx(stats.t.ppf(0.975, freedom), abs=0.001)


def test_too_few_pairs_say_nothing():
    few = [1.0] * (FEWEST_PAIRS - 1)
    assert pair_agreement(few, few, grades=None) is None
