"""The filter against statsmodels, exact enumeration and numerical integration."""

import itertools

import numpy as np
import pytest
from scipy import integrate, stats
from statsmodels.tsa.statespace.structural import UnobservedComponents

from progress.judging.engine.stories import RULES, Rules
from tests.progress.lines_of import one_story, three_stories, weekly

SERIES = [12.0, 14.0, np.nan, 13.0, 17.0, np.nan, np.nan, 18.0, 16.0, 21.0]


def test_one_story_without_bad_days_is_statsmodels_local_linear_trend():
    level, level_sd, pace, pace_sd, error = 14.0, 6.0, 0.6, 0.3, 2.4
    rules = one_story(pace_mean=1.0, pace_sd=0.5)
    moments, _ = weekly([SERIES], prior=(level, level_sd), gain=pace, error=error, rules=rules)
    model = UnobservedComponents(np.array(SERIES), "lltrend")
    model.ssm.initialize_known(np.array([level, pace]), np.diag([level_sd**2, pace_sd**2]))
    reference = model.filter([error**2, 0.0, 0.0])
    for week, moment in enumerate(moments):
        mean, cover = reference.filtered_state[:, week], reference.filtered_state_cov[:, :, week]
        ours = moment.stories
        assert [ours.level[0, 0], ours.pace[0, 0]] == pytest.approx(mean.tolist(), abs=1e-9)
        found = [ours.level_variance[0, 0], ours.covariance[0, 0], ours.pace_variance[0, 0]]
        assert found == pytest.approx([cover[0, 0], cover[0, 1], cover[1, 1]], abs=1e-9)


def path_weights(values: list[float], rules: Rules, *, prior: tuple[float, float], gain: float, error: float):
    """Weight of the last story from every path of stories, each followed exactly by Kalman's formulas."""
    total = np.zeros(3)
    means, spreads = np.array(rules.pace_mean) * gain, np.array(rules.pace_sd) * gain
    stay = 1.0 - rules.hazards.sum(axis=1)
    for path in itertools.product(range(3), repeat=len(values)):
        weight = rules.first_weights[path[0]]
        state, cover = np.array([prior[0], means[path[0]]]), np.diag([prior[1] ** 2, spreads[path[0]] ** 2])
        for week, value in enumerate(values):
            if week:
                before, now = path[week - 1], path[week]
                weight *= stay[now] if before == now else rules.hazards[before, now]
                if before != now:
                    state, cover = np.array([state[0], means[now]]), np.diag([cover[0, 0], spreads[now] ** 2])
                step = np.array([[1.0, 1.0], [0.0, 1.0]])
                state, cover = step @ state, step @ cover @ step.T
            spread = cover[0, 0] + error**2
            weight *= stats.norm.pdf(value, state[0], np.sqrt(spread))
            state = state + cover[:, 0] * (value - state[0]) / spread
            cover = cover - np.outer(cover[:, 0], cover[0]) / spread
        total[path[-1]] += weight
    return total / total.sum()


@pytest.mark.parametrize(
    "values",
    [
        [12, 13, 15, 14, 16, 17, 19],
        [14, 15, 16, 15, 15, 16, 15],
        [20, 19, 17, 17, 15, 14, 12],
        [9, 16, 11, 18, 9, 17, 12],
    ],
)
def test_story_weights_are_those_of_every_path_summed_up(values):
    rules = three_stories(bad_day_chance=0.0, held_back_sd=np.inf)
    values = [float(value) for value in values]
    exact = path_weights(values, rules, prior=(14.0, 6.0), gain=0.65, error=2.4)
    moments, _ = weekly([values], prior=(14.0, 6.0), gain=0.65, error=2.4, rules=rules)
    assert moments[-1].stories.weight[:, 0] == pytest.approx(exact, abs=0.02)


@pytest.mark.parametrize("cap", [10.0, 14.0, 25.0, 35.0])
def test_a_capped_result_teaches_what_integration_says(cap):
    level, spread, error = 14.0, 6.0, 2.4
    rules = one_story(pace_mean=1.0, pace_sd=0.5)
    moments, _ = weekly([[cap]], prior=(level, spread), gain=0.6, error=error, caps=cap, rules=rules)

    def density(x: float, power: int = 0) -> float:
        return x**power * stats.norm.pdf(x, level, spread) * stats.norm.sf((cap - x) / error)

    # Around the cap and the prior; beyond ten sd there is nothing.
    low, high = level - 10 * spread, level + 12 * spread
    mass, first, second = (
        integrate.quad(density, low, high, args=(power,), points=[cap, level], epsabs=1e-14, limit=400)[0]
        for power in range(3)
    )
    mean = first / mass
    assert moments[0].stories.level[0, 0] == pytest.approx(mean, abs=1e-6)
    assert moments[0].stories.level_variance[0, 0] == pytest.approx(second / mass - mean**2, abs=1e-5)


def test_the_mixture_of_usual_and_bad_days_keeps_both_moments():
    rules = three_stories(first_weights=(1.0, 0.0, 0.0), hazards=np.zeros((3, 3)))
    level, spread, error, value = 14.0, 2.0, 2.4, 25.0
    moments, _ = weekly([[value]], prior=(level, spread), gain=0.6, error=error, rules=rules)
    parts = []
    for chance, variance in ((0.96, error**2), (0.04, 16 * error**2)):
        total = spread**2 + variance
        gain = spread**2 / total
        weight = chance * stats.norm.pdf(value, level, np.sqrt(total))
        parts.append((weight, level + gain * (value - level), spread**2 * (1 - gain)))
    weights = np.array([part[0] for part in parts]) / sum(part[0] for part in parts)
    mean = sum(w * part[1] for w, part in zip(weights, parts, strict=True))
    variance = sum(w * (part[2] + (part[1] - mean) ** 2) for w, part in zip(weights, parts, strict=True))
    assert moments[0].stories.level[0, 0] == pytest.approx(mean, abs=1e-9)
    assert moments[0].stories.level_variance[0, 0] == pytest.approx(variance, abs=1e-9)


def test_weights_sum_to_one_and_variances_stay_positive_over_sixty_weeks():
    values = np.random.default_rng(5).normal(15.0, 3.0, (40, 60))
    moments, _ = weekly(values.tolist(), prior=(14.0, 6.0), gain=0.65, error=2.4)
    for moment in moments:
        assert moment.stories.weight.sum(axis=0) == pytest.approx(np.ones(40), abs=1e-12)
        assert (moment.stories.level_variance > 0).all() and (moment.stories.pace_variance > 0).all()
    assert moments[-1].slot_weight.shape[1] == RULES.slots


def test_a_line_comes_out_the_same_alone_and_among_others():
    values = np.random.default_rng(6).normal(15.0, 3.0, (30, 20))
    values[values > 18.0] = np.nan
    together, _ = weekly(values.tolist(), prior=(14.0, 6.0), gain=0.65, error=2.4)
    for line in (0, 7, 29):
        alone, _ = weekly([values[line].tolist()], prior=(14.0, 6.0), gain=0.65, error=2.4)
        assert together[-1].stories.weight[:, line] == pytest.approx(alone[-1].stories.weight[:, 0], abs=1e-12)
        assert together[-1].stories.level[:, line] == pytest.approx(alone[-1].stories.level[:, 0], abs=1e-12)


def test_a_typing_slip_waits_and_changes_nothing():
    usual = [12.0, 13.0, 14.0, 13.0, np.nan, 15.0]
    slip = [*usual[:4], 130.0, 15.0]
    clean, _ = weekly([usual], prior=(14.0, 6.0), gain=0.65, error=2.4)
    waits, held_back = weekly([slip], prior=(14.0, 6.0), gain=0.65, error=2.4)
    assert held_back.tolist() == [False] * 4 + [True, False]
    assert waits[-1].stories.weight[:, 0].tolist() == clean[-1].stories.weight[:, 0].tolist()
    counts, held_back = weekly([slip], prior=(14.0, 6.0), gain=0.65, error=2.4, confirmed=True)
    assert not held_back.any() and counts[-1].stories.level[0, 0] > clean[-1].stories.level[0, 0]
