"""The limit: an exact Bayes rule that knows how the plain world makes its rises; no rule that looks at one foot can do
better on them.

It knows the law of the starts, paces and wobble, that a gain may end once and for good, and how often; it sees one
line's days and values.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from tests.bench.true_lines import FADES_WEEKS, PACES, STRANDS
from tests.bench.worlds import ACCIDENT_WOBBLE, CLASS_DAY, World

RISES = STRANDS[0]
# Chance a week that a gain ends: the judge's own, to level and to slipping together.
ENDS_A_WEEK = 0.0875
_PACES = 15
# Weeks of full gain that a gain which fades still brings, so many weeks after its first weaker one.
_FADED = np.concatenate(([0.0], np.cumsum(1.0 - np.arange(1, FADES_WEEKS) / FADES_WEEKS)))


@lru_cache
def paces_of(gains: str) -> np.ndarray:
    """Equally likely paces of a gaining child, in typical gains, of one of the ways of `true_lines.PACES`."""
    rng = np.random.default_rng(0)
    drawn = np.sort(np.concatenate([PACES[gains](rng, RISES) for _ in range(10_000)]))
    return drawn[((np.arange(_PACES) + 0.5) / _PACES * drawn.size).astype(int)]


def no_gain_chance(
    weeks: np.ndarray,
    times: np.ndarray,
    values: np.ndarray,
    variance: np.ndarray,
    count: int,
    paces: np.ndarray,
    *,
    fades: bool = False,
) -> np.ndarray:
    """Chance after each of `count` weeks that the gain has ended by then, from the results known by then.

    weeks: whole week of each result; times: weeks since the first class day; values: rises; variance: of each
    result; paces: equally likely ones, rises a week; fades: an end takes four weeks, as in the rough world, and
    its first week is meant. Exact sums over the week of the end and the pace, the start level N(mean, sd^2) of the
    world integrated out.

    >>> flat = no_gain_chance(np.arange(12), np.arange(12.0), np.full(12, 15.0), np.full(12, 5.8), 12, np.array([0.65]))
    >>> bool(flat[-1] > 0.95), bool(flat[3] < 0.8)
    (True, True)
    """
    ends = np.append(np.arange(count), np.inf)
    gained = np.minimum(times, ends[:, None])
    if fades:
        gained = gained + np.interp(times - gained, np.arange(FADES_WEEKS), _FADED)
    risen = paces[:, None, None] * gained
    off = values - RISES.start[0] - risen
    known = (weeks <= np.arange(count)[:, None]) / variance
    # log of the integral over the start: a normal with a common shift.
    precision = known.sum(axis=1) + 1.0 / RISES.start[1] ** 2
    first = np.einsum("wm,pcm->wpc", known, off)
    second = np.einsum("wm,pcm->wpc", known, off**2)
    log = -0.5 * (second - first**2 / precision[:, None, None])
    lasts = (1.0 - ENDS_A_WEEK) ** np.arange(count)
    prior = np.append(lasts * ENDS_A_WEEK, 0.0)
    weight = np.empty((count, paces.size, count + 1))
    for week in range(count):
        # Ends that lie ahead are all the same to the results so far.
        now = prior.copy()
        now[week + 1 :] = 0.0
        now[-1] = 1.0 - now.sum()
        weight[week] = now * np.exp(log[week] - log[week].max())
    total = weight.sum(axis=(1, 2))
    return 1.0 - weight[:, :, -1].sum(axis=1) / total


def exact_scores(
    world: World, key: tuple, *, gains: str = "working", told: bool = False, fades: bool = False
) -> np.ndarray:
    """The rule's chances for a line of rises, minus infinity where the judge may not speak yet either.

    told: also which results were accidents, and by how much each class week and assessor was off; without it the
    rule knows the published wobble only.
    """
    rows = [fact.key for fact in world.facts if (fact.student, fact.measure, fact.side) == key]
    days = np.array([(world.facts[row].on - world.day(0, 0)).days for row in rows])
    values = np.array([world.facts[row].value - (world.shifts[row] if told else 0.0) for row in rows])
    accident = np.array([world.accidents[row] and told for row in rows])
    variance = np.where(accident, ACCIDENT_WOBBLE**2, 1.0) * RISES.wobble**2 + 1.0 / 12.0
    times = (days - CLASS_DAY) / 7.0
    paces = RISES.gain * paces_of(gains)
    chance = no_gain_chance(days // 7, times, values, variance, world.weeks, paces, fades=fades)
    for week in range(world.weeks):
        seen = days[days // 7 <= week]
        if seen.size < 4 or np.ptp(seen) < 21:
            chance[week] = -np.inf
    return chance
