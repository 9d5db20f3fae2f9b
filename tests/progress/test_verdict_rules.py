"""In which order the verdicts are asked, and how long a flag is kept."""

import numpy as np
import pytest

from progress.judging.engine import ruling
from progress.judging.engine.ruling import FLAG_CHANCE, KEPT_BELOW, VERDICTS, Seen, rule


def said(*weeks: dict) -> list[str]:
    """The verdict of each week; what is not named is a long term that gains."""
    usual = {
        "results": 10, "span_weeks": 9.0, "p_gain": 0.9, "p_flat_below": 0.05, "p_slip": 0.05, "p_reached": 0.0,
        "results_in_gain": 10,
    }
    rows = [usual | {name: value for name, value in week.items() if name not in SEEN} for week in weeks]
    arrays = {name: np.array([[row[name]] for row in rows]) for name in usual}
    seen = {name: np.array([[week.get(name, none)] for week in weeks]) for name, none in SEEN.items()}
    told = rule(**arrays, seen=Seen(**seen, stretch_from=STRETCH_FROM, lost_from=LOST_FROM))
    return [VERDICTS[code] for code in told[:, 0]]


STRETCH_FROM, LOST_FROM = np.array([0.85]), np.array([0.75])
SEEN = {
    "p_stretch": 0.0, "level_margin": -5.0, "is_steady": False, "is_rising": False, "has_sunk": False, "p_lost": 0.0,
    "loss": 0.0, "least_loss": 5.0, "late_lost": 0.0, "late_risen": 0.0, "level": 20.0, "loss_before": 20.0,
}
STALL = {"p_gain": 0.2, "p_flat_below": 0.7, "p_slip": 0.1}
LOST = {"p_gain": 0.1, "p_lost": 0.8, "late_lost": 0.8, "loss": 10.0, "level": 10.0}


@pytest.mark.parametrize("short", [{"results": 3}, {"span_weeks": 2.9}])
def test_too_early_comes_before_everything(short):
    assert said(STALL | short | {"p_reached": 1.0}) == ["too_early"]


def test_at_target_comes_before_stalled_but_not_before_slipping():
    assert said(STALL | {"p_reached": 0.60}) == ["at_target"]
    assert said({"p_gain": 0.1, "p_flat_below": 0.17, "p_slip": 0.73, "p_reached": 0.9}) == ["slipping"]


@pytest.mark.parametrize(("stands", "verdict"), [(0.72, "stalled"), (0.719, "not_clear")])
def test_the_flag_needs_seventy_two_in_a_hundred_at_the_usual_rhythm(stands, verdict):
    assert said({"p_gain": 1 - stands, "p_flat_below": stands, "p_slip": 0.0}) == [verdict]


def test_the_likelier_of_stalled_and_slipping_is_said():
    assert said({"p_gain": 0.2, "p_flat_below": 0.35, "p_slip": 0.45}) == ["slipping"]


def test_a_flag_is_kept_until_below_sixty_four_and_not_regained_there():
    def week(stands: float) -> dict:
        return {"p_gain": 1 - stands, "p_flat_below": stands, "p_slip": 0.0}

    assert pytest.approx(0.64) == FLAG_CHANCE - KEPT_BELOW
    told = said(week(0.69), week(0.76), week(0.66), week(0.641), week(0.63), week(0.69), week(0.72))
    assert told == ["not_clear", "stalled", "stalled", "stalled", "not_clear", "not_clear", "stalled"]


def test_a_flag_does_not_outlive_the_target():
    assert said(STALL, STALL | {"p_reached": 0.7}, {"p_gain": 0.36, "p_flat_below": 0.69, "p_slip": 0.0}) == [
        "stalled", "at_target", "not_clear",
    ]  # fmt: skip


@pytest.mark.parametrize(("p_gain", "verdict"), [(0.65, "gaining"), (0.64, "not_clear")])
def test_gaining_needs_sixty_five_in_a_hundred(p_gain, verdict):
    assert said({"p_gain": p_gain, "p_flat_below": 1 - p_gain, "p_slip": 0.0}) == [verdict]


@pytest.mark.parametrize(("results", "verdict"), [(2, "gaining"), (1, "not_clear")])
def test_one_result_makes_no_gain(results, verdict):
    assert said({"results_in_gain": results}) == [verdict]


@pytest.mark.parametrize(("missing", "verdict"), [
    ({}, "stalled"), ({"p_stretch": 0.84}, "not_clear"), ({"results": 5}, "not_clear"),
    ({"span_weeks": 5.6}, "not_clear"), ({"p_flat_below": 0.44, "p_gain": 0.5}, "not_clear"),
])
def test_a_stretch_without_a_gain_is_a_stall_although_last_week_is_not(missing, verdict):
    week = {"p_stretch": 0.85, "p_flat_below": 0.46, "p_gain": 0.49, "results": 6, "span_weeks": 6.0}
    assert said(week | missing) == [verdict]


@pytest.mark.parametrize(("missing", "verdict"), [
    ({}, "stalled"), ({"level_margin": -0.1}, "not_clear"), ({"results": 5}, "not_clear"),
    ({"p_reached": 0.1}, "not_clear"), ({"p_flat_below": 0.52, "p_gain": 0.48}, "not_clear"),
    ({"late_lost": 0.6}, "not_clear"),
])
def test_a_whole_term_without_a_gain_is_a_stall_although_last_week_is_not(missing, verdict):
    week = {"level_margin": 0.0, "p_flat_below": 0.54, "p_slip": 0.0, "p_gain": 0.46, "results": 6, "span_weeks": 6.0}
    assert said(week | missing) == [verdict]


def test_a_term_found_level_is_kept_so_until_it_clearly_is_not():
    week = {"p_flat_below": 0.54, "p_slip": 0.0, "p_gain": 0.46, "results": 8, "span_weeks": 8.0}
    told = said(*(week | {"level_margin": margin} for margin in (-0.4, 0.0, -0.4, -0.6, -0.4)))
    assert told == ["not_clear", "stalled", "stalled", "not_clear", "not_clear"]
    better = {"level_margin": 0.5, "p_flat_below": 0.50, "p_gain": 0.50}
    assert said(week | {"level_margin": 0.5}, week | better) == ["stalled", "not_clear"]


def test_few_results_are_no_line_that_sinks_while_a_sudden_loss_may_be_behind_it():
    sinks = {"has_sunk": True, "p_gain": 0.3, "p_flat_below": 0.3, "p_slip": 0.3}
    assert said(sinks) == ["slipping"] and said(sinks | {"late_lost": 0.3}) == ["not_clear"]


def test_a_line_that_does_not_move_at_all_is_level_and_one_that_climbs_evenly_gains():
    assert said({"is_steady": True, "p_gain": 0.55, "p_flat_below": 0.4}) == ["stalled"]
    assert said({"is_rising": True, "p_gain": 0.55, "p_flat_below": 0.4}) == ["gaining"]


def test_few_results_that_sink_clearly_slip_unless_they_are_on_the_way_back():
    sinks = {"has_sunk": True, "p_gain": 0.3, "p_flat_below": 0.5, "p_slip": 0.1}
    assert said(sinks, sinks | {"p_gain": 0.6}) == ["slipping", "not_clear"]


@pytest.mark.parametrize(("missing", "verdict"), [
    ({}, "dropped"), ({"p_lost": 0.74}, "not_clear"), ({"loss": 4.9}, "not_clear"), ({"results": 3}, "too_early"),
])
def test_a_loss_is_said_when_it_is_believed_and_large_enough(missing, verdict):
    assert said(LOST | missing) == [verdict]


def test_a_loss_is_said_for_four_weeks_and_no_longer():
    after = {"p_gain": 0.2, "p_flat_below": 0.75, "p_slip": 0.05, "level": 10.0}
    assert said(LOST, LOST, *[after] * 4) == ["dropped"] * 4 + ["stalled"] * 2


def test_a_loss_is_taken_back_when_half_of_it_is_there_again():
    assert said(LOST, LOST | {"level": 15.5, "p_lost": 0.1}, LOST | {"p_lost": 0.1})[1:] == ["not_clear"] * 2


def test_a_sudden_change_that_is_likely_is_asked_about_before_anything_is_said_of_it():
    assert said(STALL | {"late_lost": 0.5}) == ["not_clear"]
    assert said({"late_risen": 0.5}) == ["not_clear"]


def test_a_run_begins_with_its_first_flag_and_ends_with_it():
    codes = np.array([[ruling.GAINING, ruling.STALLED], [ruling.STALLED, ruling.SLIPPING], [ruling.AT_TARGET] * 2])
    assert ruling.run_began(codes).tolist() == [[-1, 0], [1, 0], [-1, -1]]
