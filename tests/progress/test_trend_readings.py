"""Limits, projections and merged hypotheses against scipy's root finder and exact moments."""

import numpy as np
import pytest
from scipy import optimize, stats

from progress.judging.engine import hypotheses
from progress.judging.engine.readings import Stories, mixture_limits, weeks_until
from progress.judging.engine.said_pace import SHARE_ABOVE, SHARE_BELOW
from progress.judging.engine.stories import RULES
from tests.progress.lines_of import plain_lines

RNG = np.random.default_rng(12)


def some_stories(count: int) -> Stories:
    weight = RNG.dirichlet([1.0, 1.0, 0.5], count).T
    pace = np.array([[0.6], [0.0], [-0.5]]) + 0.1 * RNG.normal(size=(3, count))
    level_variance, pace_variance = RNG.uniform(0.5, 4.0, (3, count)), RNG.uniform(0.002, 0.09, (3, count))
    covariance = RNG.uniform(-0.9, 0.9, (3, count)) * np.sqrt(level_variance * pace_variance)
    return Stories(weight, 15.0 + RNG.normal(size=(3, count)), pace, level_variance, pace_variance, covariance)


@pytest.mark.parametrize(("below", "above"), [(0.1, 0.1), (SHARE_BELOW, SHARE_ABOVE)])
def test_the_limits_of_the_pace_leave_their_shares_on_either_side(below, above):
    stories = some_stories(300)
    sd = np.sqrt(stories.pace_variance)
    limits = mixture_limits(stories.weight, stories.pace, sd, below, above)
    for limit, share in zip(limits, (below, 1.0 - above), strict=True):
        for line in range(300):
            part = [each[:, line] for each in (stories.weight, stories.pace, sd)]
            exact = optimize.brentq(lambda x, p=part, s=share: (p[0] * stats.norm.cdf(x, p[1], p[2])).sum() - s, -5, 5)
            mean = (part[0] * part[1]).sum()
            whole = np.sqrt((part[0] * (part[2] ** 2 + (part[1] - mean) ** 2)).sum())
            assert limit[line] == pytest.approx(exact, abs=0.02 * whole)


def test_a_few_lines_far_below_do_not_pull_the_lower_limit_with_them():
    # 92 in 100 within a hair of zero: the tenth from below is among them, above the mean of -0.8.
    low, high = mixture_limits(
        np.array([[0.01], [0.91], [0.08]]), np.array([[0.5], [0.0], [-10.0]]), np.full((3, 1), 0.01), 0.1, 0.1
    )
    assert [low[0], high[0]] == pytest.approx([-0.02, 0.02], abs=0.06 * 2.72)


def test_weeks_to_target_are_the_roots_of_the_stories_going_on():
    stories, target = some_stories(60), np.full(60, 19.0)
    found = weeks_until(stories, target)

    def chance(ahead: float, line: int) -> float:
        level, pace, v_level, v_pace, cover = (
            each[:, line]
            for each in (
                stories.level,
                stories.pace,
                stories.level_variance,
                stories.pace_variance,
                stories.covariance,
            )
        )
        sd = np.sqrt(v_level + 2 * ahead * cover + ahead**2 * v_pace)
        return float((stories.weight[:, line] * stats.norm.cdf((level + ahead * pace - 19.0) / sd)).sum())

    grid = np.arange(0.0, 52.01, 0.02)
    for line in range(0, 60, 3):
        chances = np.maximum.accumulate([chance(ahead, line) for ahead in grid[::10]])
        for row, share in enumerate((0.1, 0.5, 0.9)):
            reached = np.flatnonzero(chances >= share)
            exact = grid[::10][reached[0]] if reached.size else np.inf
            assert found[row, line] == pytest.approx(exact, rel=0.1, abs=0.4)


def test_no_target_is_never_reached():
    assert np.isinf(weeks_until(some_stories(4), np.full(4, np.inf))).all()


def test_merging_the_oldest_weeks_changes_no_moment_of_a_story():
    state = hypotheses.start(plain_lines(5), RULES)
    shape = state.weight.shape
    state.order = list(range(RULES.slots))
    state.count[:] = 1
    state.weight[:] = RNG.dirichlet(np.ones(shape[0] * shape[1]), 5).T.reshape(shape)
    state.level[:], state.pace[:] = RNG.normal(15, 3, shape), RNG.normal(0.3, 0.3, shape)
    state.level_variance[:], state.pace_variance[:] = RNG.uniform(0.5, 3, shape), RNG.uniform(0.01, 0.1, shape)
    state.covariance[:] = RNG.uniform(-0.05, 0.05, shape)
    before = hypotheses.collapsed(state)
    # Nobody moves: only the slots are merged to make room.
    hypotheses.cross_week(state, 9, before, np.zeros(5, dtype=bool))
    after = hypotheses.collapsed(state)
    for name in vars(before):
        assert getattr(after, name) == pytest.approx(getattr(before, name), abs=1e-12)
