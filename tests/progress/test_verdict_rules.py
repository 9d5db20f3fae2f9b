"""In which order the verdicts are asked, and how long a flag is kept."""

import numpy as np
import pytest

from progress.judging.engine import ruling
from progress.judging.engine.ruling import VERDICTS, rule


def said(*weeks: dict) -> list[str]:
    """The verdict of each week; what is not named is a long term that gains."""
    usual = {
        "results": 10, "span_weeks": 9.0, "p_gain": 0.9, "p_flat_below": 0.05, "p_slip": 0.05, "p_reached": 0.0,
        "results_in_gain": 10,
    }
    rows = [usual | week for week in weeks]
    arrays = {name: np.array([[row[name]] for row in rows]) for name in usual}
    return [VERDICTS[code] for code in rule(**arrays)[:, 0]]


STALL = {"p_gain": 0.2, "p_flat_below": 0.7, "p_slip": 0.1}


@pytest.mark.parametrize("short", [{"results": 3}, {"span_weeks": 2.9}])
def test_too_early_comes_before_everything(short):
    assert said(STALL | short | {"p_reached": 1.0}) == ["too_early"]


def test_at_target_comes_before_stalled_but_not_before_slipping():
    assert said(STALL | {"p_reached": 0.60}) == ["at_target"]
    assert said({"p_gain": 0.1, "p_flat_below": 0.2, "p_slip": 0.7, "p_reached": 0.9}) == ["slipping"]


@pytest.mark.parametrize(("stands", "verdict"), [(0.66, "stalled"), (0.659, "not_clear")])
def test_the_flag_needs_sixty_six_in_a_hundred(stands, verdict):
    assert said({"p_gain": 1 - stands, "p_flat_below": stands, "p_slip": 0.0}) == [verdict]


def test_the_likelier_of_stalled_and_slipping_is_said():
    assert said({"p_gain": 0.2, "p_flat_below": 0.35, "p_slip": 0.45}) == ["slipping"]


def test_a_flag_is_kept_until_below_fifty_eight_and_not_regained_there():
    def week(stands: float) -> dict:
        return {"p_gain": 1 - stands, "p_flat_below": stands, "p_slip": 0.0}

    told = said(week(0.63), week(0.70), week(0.60), week(0.58), week(0.57), week(0.63), week(0.66))
    assert told == ["not_clear", "stalled", "stalled", "stalled", "not_clear", "not_clear", "stalled"]


def test_a_flag_does_not_outlive_the_target():
    assert said(STALL, STALL | {"p_reached": 0.7}, {"p_gain": 0.36, "p_flat_below": 0.64, "p_slip": 0.0}) == [
        "stalled", "at_target", "not_clear",
    ]  # fmt: skip


@pytest.mark.parametrize(("p_gain", "verdict"), [(0.65, "gaining"), (0.64, "not_clear")])
def test_gaining_needs_sixty_five_in_a_hundred(p_gain, verdict):
    assert said({"p_gain": p_gain, "p_flat_below": 1 - p_gain, "p_slip": 0.0}) == [verdict]


@pytest.mark.parametrize(("results", "verdict"), [(2, "gaining"), (1, "not_clear")])
def test_one_result_makes_no_gain(results, verdict):
    assert said({"results_in_gain": results}) == [verdict]


def test_a_run_begins_with_its_first_flag_and_ends_with_it():
    codes = np.array([[ruling.GAINING, ruling.STALLED], [ruling.STALLED, ruling.SLIPPING], [ruling.AT_TARGET] * 2])
    assert ruling.run_began(codes).tolist() == [[-1, 0], [1, 0], [-1, -1]]
