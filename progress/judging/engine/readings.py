"""What three weighted stories say at one moment: pace with its limits, level, chance and time of the target.

Knows arrays only: no student, no date, no verdict. Shapes are (rows, n): way of going by line.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from progress.judging.engine import normal

# Quantiles of the 80 % limits: 1.2816 standard normal deviations.
LIMIT = 1.2815515655446004
# Weeks ahead; beyond a year: "not at this pace".
_AHEAD = np.array([0, 1, 2, 3, 4.5, 6, 8, 11, 15, 20, 28, 38, 52])
_BISECTIONS = 6


@dataclass(frozen=True)
class Stories:
    """Weight, level, pace and their (co)variances of every way of going, (rows, n); weights sum to one."""

    weight: np.ndarray
    level: np.ndarray
    pace: np.ndarray
    level_variance: np.ndarray
    pace_variance: np.ndarray
    covariance: np.ndarray


def mixed(weight: np.ndarray, mean: np.ndarray, variance: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return mean and variance of a mixture over axis 0; weights sum to one there.

    >>> mean, variance = mixed(np.array([[.5], [.5]]), np.array([[0.], [2.]]), np.zeros((2, 1)))
    >>> mean.tolist(), variance.tolist()
    ([1.0], [1.0])
    """
    centre = (weight * mean).sum(axis=0)
    return centre, (weight * (variance + (mean - centre) ** 2)).sum(axis=0)


def mixture_limits(
    weight: np.ndarray, mean: np.ndarray, sd: np.ndarray, below: float | np.ndarray, above: float | np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Return the points of a normal mixture that leave the share `below` under the first, `above` over the second.

    weight, mean, sd: (stories, n), sd > 0; 0 < below, above < 0.5, of all or (n,). The bracket is that of the
    one-sided Chebyshev inequality (Cantelli); bisection, then one straight-line step: within 0.02 of the mixture's sd
    of the exact point for stories as they come (measured), within 0.06 whatever they are.
    """
    centre, variance = mixed(weight, mean, sd * sd)
    left = np.stack(np.broadcast_arrays(below, above, centre)[:2])
    odds = np.sqrt(left / (1.0 - left))
    far, near = np.sqrt(variance) / odds, np.sqrt(variance) * odds
    low, high = np.stack((centre - far[0], centre - near[1])), np.stack((centre + near[0], centre + far[1]))
    at_low, at_high = np.zeros(low.shape), np.ones(high.shape)
    wanted = np.stack((left[0], 1.0 - left[1]))
    scale = 1.0 / sd
    for _ in range(_BISECTIONS):
        middle = 0.5 * (low + high)
        at_middle = (weight * normal.near_cdf((middle[:, None, :] - mean) * scale)).sum(axis=1)
        under = at_middle < wanted
        low, at_low = np.where(under, middle, low), np.where(under, at_middle, at_low)
        high, at_high = np.where(under, high, middle), np.where(under, at_high, at_middle)
    step = (wanted - at_low) / np.maximum(at_high - at_low, 1e-300)
    point = low + np.clip(step, 0.0, 1.0) * (high - low)
    return point[0], point[1]


def chance_at_least(stories: Stories, threshold: np.ndarray) -> np.ndarray:
    """Return, per way and line (rows, n), the chance that the level is at or above `threshold` (n,).

    An infinite threshold (no target) gives 0.
    """
    sd = np.sqrt(np.maximum(stories.level_variance, 1e-12))
    return normal.cdf((stories.level - threshold) / sd)


def weeks_until(stories: Stories, target: np.ndarray) -> np.ndarray:
    """Return weeks (3, n) until the target is reached with 10, 50 and 90 % chance; inf beyond a year.

    target: (n,), inf where there is none. P(level in h weeks >= target) with every story going on as it
    goes now, at fixed h up to a year, joined by straight lines; the first crossing counts. 0 where the
    chance is that high already.
    """
    chosen = np.flatnonzero(np.isfinite(target))
    weeks = np.full((3, target.size), np.inf)
    if chosen.size == 0:
        return weeks
    ahead = _AHEAD[:, None, None]
    pick = [
        array[:, chosen]
        for array in (
            stories.level - target,
            stories.pace,
            stories.level_variance,
            stories.covariance,
            stories.pace_variance,
            stories.weight,
        )
    ]
    above, pace, level_variance, covariance, pace_variance, weight = pick
    variance = level_variance + ahead * (2.0 * covariance + ahead * pace_variance)
    score = (above + ahead * pace) / np.sqrt(np.maximum(variance, 1e-12))
    chance = (weight * normal.near_cdf(score)).sum(axis=1)
    chance = np.maximum.accumulate(chance, axis=0)
    for row, wanted in enumerate((0.1, 0.5, 0.9)):
        weeks[row, chosen] = _first_crossing(chance, wanted)
    return weeks


def _first_crossing(chance: np.ndarray, wanted: float) -> np.ndarray:
    reached = chance >= wanted
    after = reached.argmax(axis=0)
    before = np.maximum(after - 1, 0)
    line = np.arange(chance.shape[1])
    low, high = chance[before, line], chance[after, line]
    share = np.where(high > low, (wanted - low) / np.where(high > low, high - low, 1.0), 0.0)
    crossing = _AHEAD[before] + np.clip(share, 0.0, 1.0) * (_AHEAD[after] - _AHEAD[before])
    crossing = np.where(after == 0, 0.0, crossing)
    return np.where(reached.any(axis=0), crossing, np.inf)
