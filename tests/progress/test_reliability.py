"""Published worked examples of reliability; row numbers are those of the project's table of check values."""

import numpy as np
import pytest

from progress.rules import reliability as rel

# Weir (2005), data set A: eight subjects, two trials.
WEIR = np.array([[146, 148, 170, 90, 157, 156, 176, 205], [140, 152, 152, 99, 145, 153, 167, 218]]).T
# Shrout & Fleiss (1979): six targets, four judges.
SHROUT = np.array([[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]])


def test_row_13_weirs_typical_error():
    assert rel.agreement(WEIR).sem == pytest.approx(7.5569, abs=5e-5)


def test_row_14_weirs_errors_of_estimate_and_prediction():
    found = rel.agreement(WEIR)
    assert found.sd_total == pytest.approx(31.749, abs=5e-4)
    assert rel.estimate_error(31.749, 0.9470) == pytest.approx(7.1118, abs=0.002)
    assert rel.prediction_error(31.749, 0.9470) == pytest.approx(10.197, abs=0.003)
    assert rel.estimate_error(found.sd_total, found.icc_3) == pytest.approx(7.11, abs=0.005)
    assert rel.prediction_error(found.sd_total, found.icc_3) == pytest.approx(10.197, abs=0.0005)


def test_row_15_weirs_minimal_difference():
    assert rel.smallest_real_change(rel.agreement(WEIR).sem) == pytest.approx(20.947, abs=0.001)


def test_row_16_weirs_intraclass_correlations():
    found = rel.agreement(WEIR)
    assert [found.icc_1, found.icc_2, found.icc_3] == pytest.approx([0.9501, 0.9500, 0.9470], abs=5e-5)


def test_row_17_shrout_and_fleiss_six_correlations():
    found = rel.agreement(SHROUT)
    single = [found.icc_1, found.icc_2, found.icc_3]
    mean = [found.icc_1_mean, found.icc_2_mean, found.icc_3_mean]
    assert [round(value, 2) for value in single + mean] == [0.17, 0.29, 0.71, 0.44, 0.62, 0.91]


def test_row_18_jacobson_and_truax_index():
    assert rel.sem_from_icc(7.5, 0.80) == pytest.approx(3.354, abs=5e-4)
    assert rel.reliable_change(32.5, 47.5, 7.5, 0.80) == pytest.approx(3.162, abs=5e-4)


def test_row_19_reliable_change_of_another_pair():
    assert rel.smallest_real_change(rel.sem_from_icc(7.6, 0.95)) == pytest.approx(4.71, abs=0.005)


@pytest.mark.parametrize(("sem", "change"), [(2.07, 5.738), (3.3, 9.147)])
def test_rows_20_and_23_smallest_real_change(sem, change):
    assert rel.smallest_real_change(sem) == pytest.approx(change, abs=5e-4)


def test_row_21_error_from_sd_and_correlation():
    sem = rel.sem_from_icc(4.8, 0.70)
    assert sem == pytest.approx(2.629, abs=5e-4)
    assert rel.smallest_real_change(sem) == pytest.approx(7.287, abs=5e-4)
    assert rel.smallest_real_change(sem, rel.Z90) == pytest.approx(6.12, abs=0.005)


def test_row_22_error_from_limits_of_agreement():
    spread = rel.sd_difference_from_limits(-6.2, 6.5)
    sem = rel.sem_from_differences(spread)
    assert [spread, sem] == pytest.approx([3.240, 2.291], abs=5e-4)
    assert rel.smallest_real_change(sem) == pytest.approx(6.35, abs=0.005)


def test_rows_41_and_42_a_ninety_per_cent_rule_fails_half_of_all_equal_feet():
    assert rel.side_index(18, 20) == 90.0
    assert rel.chance_index_below(90.0, 20.0, 2.5) == pytest.approx(0.52, abs=0.02)


@pytest.mark.parametrize("scores", [[[1.0, 2.0]], [[1.0], [2.0]], [[1.0, np.nan], [2.0, 3.0]]])
def test_scores_with_gaps_or_too_few_are_refused(scores):
    with pytest.raises(ValueError):
        rel.agreement(np.array(scores))


def test_an_impossible_correlation_is_refused():
    with pytest.raises(ValueError):
        rel.sem_from_icc(4.8, 1.2)
