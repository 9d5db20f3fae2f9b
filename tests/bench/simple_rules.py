"""Five rules that people use by hand, as scores to compare the judge with; they know one line's days and values."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import combinations

import numpy as np


@dataclass(frozen=True)
class MannKendall:
    """S, its variance with ties, and z with the continuity correction (0 for S = 0)."""

    s: int
    variance: float
    z: float


def mann_kendall(values: np.ndarray) -> MannKendall:
    """Mann-Kendall trend of values in order of time (Mann 1945, Kendall 1975; ties as in USEPA 2009).

    >>> mann_kendall(np.array([1, 2, 3, 4, 5, 16, 7])).s
    19
    """
    n = len(values)
    s = int(np.sign(np.subtract.outer(values, values)[np.tril_indices(n, -1)]).sum())
    ties = np.unique(values, return_counts=True)[1]
    variance = (n * (n - 1) * (2 * n + 5) - float((ties * (ties - 1) * (2 * ties + 5)).sum())) / 18.0
    return MannKendall(s, variance, (s - np.sign(s)) / math.sqrt(variance) if variance > 0 else 0.0)


def pair_slopes(times: np.ndarray, values: np.ndarray) -> np.ndarray:
    """All slopes between results at different times, sorted."""
    first, second = np.triu_indices(len(times), 1)
    span = times[second] - times[first]
    return np.sort((values[second] - values[first])[span != 0] / span[span != 0])


def theil_sen(times: np.ndarray, values: np.ndarray, z: float) -> tuple[float, float, float]:
    """Median slope and its limits at +-z (Sen 1968; ordered slopes at M1 and M2 + 1, interpolated)."""
    slopes = pair_slopes(times, values)
    reach = z * math.sqrt(mann_kendall(values).variance)
    places = np.arange(1, slopes.size + 1)
    low, high = (slopes.size - reach) / 2.0, (slopes.size + reach) / 2.0 + 1.0
    return float(np.median(slopes)), float(np.interp(low, places, slopes)), float(np.interp(high, places, slopes))


def exact_tail(n: int, s: int) -> float:
    """One-sided probability of S or more for n results without ties, from the number of inversions."""
    ways = np.ones(1)
    for size in range(2, n + 1):
        ways = np.convolve(ways, np.ones(size))
    scores = n * (n - 1) // 2 - 2 * np.arange(ways.size)
    return float(ways[scores >= s].sum() / ways.sum())


@dataclass(frozen=True)
class SimpleRule:
    """name; score(times in weeks, values) larger = less gain; own: the threshold people use."""

    name: str
    score: Callable[[np.ndarray, np.ndarray, float], float]
    own: float
    fewest: int


def since_best(times: np.ndarray, values: np.ndarray, smallest: float) -> float:
    """How many results ago the best one was set."""
    return float(len(values) - 1 - int(np.argmax(values)))


def against_four_weeks(times: np.ndarray, values: np.ndarray, smallest: float) -> float:
    """How much the last result is below that of four weeks or more ago."""
    before = np.flatnonzero(times <= times[-1] - 4.0)
    return float(values[before[-1]] - values[-1]) if before.size else -math.inf


def straight_line(times: np.ndarray, values: np.ndarray, smallest: float) -> float:
    """Minus the t of a straight line through the last six weeks."""
    recent = times > times[-1] - 6.0
    x, y = times[recent], values[recent]
    if x.size < 4 or np.ptp(x) == 0:
        return -math.inf
    x = x - x.mean()
    slope = (x * y).sum() / (x * x).sum()
    rest = y - y.mean() - slope * x
    error = math.sqrt(max((rest * rest).sum() / (x.size - 2) / (x * x).sum(), 1e-12))
    return -slope / error


def rank_trend(times: np.ndarray, values: np.ndarray, smallest: float) -> float:
    """Minus the z of Mann and Kendall over the last eight weeks."""
    recent = times > times[-1] - 8.0
    return -mann_kendall(values[recent]).z if recent.sum() >= 4 else -math.inf


def upper_limit(times: np.ndarray, values: np.ndarray, smallest: float) -> float:
    """How far the upper 80 % limit of the median slope over eight weeks lies below the smallest gain of interest."""
    recent = times > times[-1] - 8.0
    if recent.sum() < 5 or np.ptp(times[recent]) < 5.0:
        return -math.inf
    return smallest - theil_sen(times[recent], values[recent], 1.2816)[2]


RULES = (
    SimpleRule("no new best in the last 3", since_best, 3.0, 4),
    SimpleRule("last <= four weeks ago", against_four_weeks, 0.0, 4),
    SimpleRule("straight line over 6 weeks, t", straight_line, 0.0, 4),
    # Not significantly rising: z below 1.645.
    SimpleRule("Mann-Kendall, 8 weeks", rank_trend, -1.645, 4),
    SimpleRule("Theil-Sen, 8 weeks, upper limit", upper_limit, 0.0, 5),
)


def all_orders_have_s(n: int) -> list[int]:
    """S of every order of n values, for checking `exact_tail` by counting."""
    from itertools import permutations

    return [sum(np.sign(b - a) for a, b in combinations(order, 2)) for order in permutations(range(n))]
