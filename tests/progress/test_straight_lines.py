"""Straight lines through points: against numpy's least squares, and what bends them and what does not."""

import datetime as dt

import numpy as np
import pytest

from progress.judging.engine import normal
from progress.judging.engine.class_arrays import class_arrays
from progress.judging.engine.points import FIRST_WEIGHTS, points_of
from progress.judging.engine.school_arrays import follow_classes
from progress.judging.engine.whole_term import NOTHING, level_margin
from tests.progress.test_faces import MEASURES, facts

LEVEL = "14 15 13 16 14 12 15 14"


def points(results):
    arrays = class_arrays(results, measures=MEASURES, targets={}, as_of=max(each.on for each in results))
    (each,) = follow_classes([arrays])
    graded = np.array([one.scale == "grade" for one in arrays.measures])
    told = points_of(
        arrays.arrays, each.held_back, each.history,
        returns=arrays.calendar.returns, rounding=arrays.columns["rounding"], graded=graded,
    )  # fmt: skip
    return told, each


def test_slope_and_error_are_those_of_weighted_least_squares():
    told, _each = points(facts("9 11 8 12 11 13 12 15"))
    weight = np.r_[FIRST_WEIGHTS, np.ones(6)]
    # numpy's polyfit takes the square root of our weights.
    fit, covariance = np.polyfit(told.time, told.value, 1, w=np.sqrt(weight), cov="unscaled")
    slope, error, middle = told.through(np.array([0]), np.array([7]))
    assert slope[0] == pytest.approx(fit[0]) and error[0] == pytest.approx(told.error[7] * np.sqrt(covariance[0, 0]))
    assert middle[0] == pytest.approx(np.average(told.time, weights=weight))


def test_one_accident_hardly_bends_a_line():
    (bent, _) = points(facts(LEVEL[:-2] + "2"))
    as_written = np.polyfit(np.arange(8.0), np.array([14, 15, 13, 16, 14, 12, 15, 2]), 1)[0]
    assert bent.through(np.array([0]), np.array([7]))[0][0] > 0.7 * as_written


def test_who_was_stopped_early_is_no_point_and_a_new_protocol_begins_anew():
    told, _each = points(facts("14 15 6+ 14 | 9 10 9 10"))
    assert told.line.size == 7 and told.begins.tolist() == [0, 0, 0, 3, 3, 3, 3]


def test_level_in_one_term_says_nothing_in_the_next_before_there_is_a_result():
    others = [each for n in range(5) for each in facts("12 13 12 13 14 14 15 15 - - - - 15 16 16", student=f"s{n}")]
    told, each = points(others + facts(LEVEL))
    margin = level_margin(told, each.arrays.keys, each.arrays.columns["gain"])
    assert margin[7, 0] > NOTHING and (margin[12:, 0] == NOTHING).all()


def test_fewer_than_six_results_or_weeks_say_nothing_about_a_term():
    told, each = points(facts(LEVEL))
    margin = level_margin(told, each.arrays.keys, each.arrays.columns["gain"])[:, 0]
    assert (margin[:6] == NOTHING).all() and margin[7] > NOTHING


def test_a_line_that_wobbles_less_than_usual_is_known_better():
    (quiet, _), (loud, _) = points(facts("14 14 14 14 14 14 14 14")), points(facts("14 18 10 17 11 18 10 15"))
    ends = np.array([0]), np.array([7])
    assert quiet.own_error(*ends)[0] < 0.8 * quiet.through(*ends)[1][0]
    assert loud.own_error(*ends)[0] > loud.through(*ends)[1][0]


def test_the_quick_normal_is_within_two_millionths_of_the_exact_one_and_never_falls():
    at = np.linspace(-9.5, 9.5, 100_001)
    quick = normal.near_cdf(at)
    assert np.abs(quick - normal.cdf(at)).max() < 2e-6 and (np.diff(quick) >= 0.0).all()


def test_results_of_another_week_day_change_nothing_before_them():
    start = facts(LEVEL)
    later = [*start, *facts("15", student="Jo")]
    assert dt.timedelta(0) <= start[-1].on - later[-1].on
    (_, one), (_, two) = points(start), points(later)
    assert np.array_equal(one.level_margin[:, 0], two.level_margin[:, 0])
