"""Whether left and right differ by more than wobble, from days with both measured; knows numbers only."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from progress.judging.engine.readings import LIMIT

# One day's difference: the day's form cancels, so less than sqrt(2) SEM (simulated with lasting day form).
DIFFERENCE_SD_IN_ERRORS = 1.22
HALF_LIFE_WEEKS = 6.0
CLIP_SD = 2.5
# Most pairs of feet are nearly alike: the true gap is below the limit in four of five (assumption).
PRIOR_SD_IN_LIMITS = 0.8
APART_CHANCE = 0.60
# Never from one test (evidence 6: two equal legs fall below 90 % in half of all tests), nor from two.
FEWEST_DAYS = 3
_ROOT_2 = math.sqrt(2.0)


@dataclass(frozen=True)
class SideGap:
    """Posterior of right minus left on the working scale, and whether it likely exceeds the limit."""

    mean: float
    sd: float
    is_apart: bool
    days_both: int


def side_gap(
    difference: Sequence[float], weeks: Sequence[float], *, now: float, error: float, limit: float
) -> SideGap | None:
    """Return what same-day differences right minus left say about the gap; None without any.

    difference: working scale (counts, ln s, grades), in order of `weeks` (class time of each day); now: class
    time of the reading; error: typical error of one result; limit > 0: the gap that counts. Older days count
    half after six weeks; a day further than 2.5 sd from what is expected counts as 2.5 sd; the mean is
    shrunk towards none. `is_apart` needs three days.

    >>> gap = side_gap([6.0] * 6, range(6), now=5, error=2.4, limit=2.5)
    >>> round(gap.mean, 1), gap.is_apart
    (4.1, True)
    """
    if len(difference) == 0:
        return None
    sd = DIFFERENCE_SD_IN_ERRORS * error
    prior = 1.0 / (PRIOR_SD_IN_LIMITS * limit) ** 2
    total, share, before = 0.0, 0.0, weeks[0]
    mean, variance = 0.0, 1.0 / prior
    for value, week in zip(difference, weeks, strict=True):
        fading = 0.5 ** ((week - before) / HALF_LIFE_WEEKS)
        room = CLIP_SD * math.sqrt(sd * sd + variance)
        clipped = min(max(value, mean - room), mean + room)
        total, share, before = total * fading + clipped, share * fading + 1.0, week
        mean, variance = _posterior(total, share, sd, prior)
    fading = 0.5 ** ((now - before) / HALF_LIFE_WEEKS)
    mean, variance = _posterior(total * fading, share * fading, sd, prior)
    spread = math.sqrt(variance)
    chance = 0.5 * (math.erfc((limit - mean) / spread / _ROOT_2) + math.erfc((limit + mean) / spread / _ROOT_2))
    return SideGap(mean, spread, chance >= APART_CHANCE and len(difference) >= FEWEST_DAYS, len(difference))


def _posterior(total: float, share: float, sd: float, prior: float) -> tuple[float, float]:
    precision = share / sd**2 + prior
    return total / sd**2 / precision, 1.0 / precision


def limits80(gap: SideGap) -> tuple[float, float]:
    """Return the 80 % limits of a gap."""
    return gap.mean - LIMIT * gap.sd, gap.mean + LIMIT * gap.sd
