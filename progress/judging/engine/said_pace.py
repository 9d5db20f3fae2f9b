"""The pace of the story that is said, and its limits: one word and one range, never those of two stories.

Knows arrays only.
"""

from __future__ import annotations

import numpy as np

from progress.judging.engine import ruling
from progress.judging.engine.history import History
from progress.judging.engine.plain_sight import Sunk
from progress.judging.engine.readings import LIMIT, mixture_limits
from progress.judging.engine.stories import FLAT, GAINING, GAINS, RULES, SLIPPING, STORY_OF_ROW

# What the 80 % limits of the pace leave below and above them while no story is said.
SHARE_BELOW, SHARE_ABOVE = 0.15, 0.06
# The same within one story.
SHARE_WITHIN = 0.14
# "Level" means less than a gain worth a word, either way: its pace is not a point (sd in usual gains).
LEVEL_PACE_SD = 0.25
# How fast a gain goes, before the results say it (sd in usual gains): slow, usual and fast ones are held alike.
OPEN_PACE_SD = 2.0
# The least upper end of a gain that is said, in usual gains.
LEAST_HIGH = 0.4
_SLIPS = [row for row, story in enumerate(STORY_OF_ROW) if story == SLIPPING]
_LEVELS = [row for row, story in enumerate(STORY_OF_ROW) if story == FLAT]


def _open_minded(pace: np.ndarray, sd: np.ndarray, row: int, gain: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    # Which story it is, a usual gain helps to tell; how fast it goes, the results say themselves: the prior of the
    # pace is taken out and a wide one put in its place.
    rules = RULES.rows
    mean, narrow, wide = (each * gain for each in (rules.pace_mean[row], rules.pace_sd[row], OPEN_PACE_SD))
    told = np.maximum(1.0 / sd**2 - 1.0 / narrow**2, 0.0)
    middle = pace / sd**2 - mean / narrow**2
    precision = told + 1.0 / wide**2
    usual = RULES.pace_mean[GAINING] * gain
    return np.where(told > 0.0, middle + usual / wide**2, usual / wide**2) / precision, 1.0 / np.sqrt(precision)


def _fitting(rate, low, high, gains: np.ndarray, gain: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    # A gain that is said is no loss: what lies below nothing is cut off. The pace keeps inside its range, which a few
    # very fast ways may draw its mean out of.
    cut = gains & (low < 0.0)
    low = np.where(cut, 0.0, low)
    high = np.where(cut, np.maximum(high, LEAST_HIGH * gain), high)
    return np.clip(np.where(cut, np.maximum(rate, 0.5 * high), rate), low, high), low, high


def said_pace(history: History, codes: np.ndarray, seen_sinking: Sunk, gain: np.ndarray) -> dict[str, np.ndarray]:
    """Return rate, rate_low and rate_high (weeks, n) of what the codes say; zero in weeks that were not read in full.

    seen_sinking: where few results sink, the pace is that of their straight line; gain (n,): a usual one a week,
    working scale.
    """
    weeks = np.flatnonzero(history.way_weight.sum(axis=(1, 2)) > 0.0)
    rate, low, high = (np.zeros(codes.shape) for _ in range(3))
    rows = history.way_weight.shape[1]
    ways = {ruling.GAINING: GAINS, ruling.SLIPPING: _SLIPS, ruling.STALLED: _LEVELS, ruling.DROPPED: _LEVELS}
    for week in weeks.tolist():
        code, weight = codes[week], history.way_weight[week].copy()
        sd = history.way_pace_sd[week].copy()
        told = np.zeros(code.size, dtype=bool)
        for verdict, of_story in ways.items():
            own = [row for row in of_story if row < rows]
            said = (code == verdict) & (weight[own].sum(axis=0) > 1e-12)
            others = np.ones(rows, dtype=bool)
            others[own] = False
            weight[np.ix_(others, said)] = 0.0
            told |= said
            if FLAT in own:
                sd[:, said] = np.maximum(sd[:, said], LEVEL_PACE_SD * gain[said])
        weight /= weight.sum(axis=0)
        pace = history.way_pace[week].copy()
        gains = code == ruling.GAINING
        for row in (row for row in GAINS if row < rows):
            pace[row, gains], sd[row, gains] = _open_minded(pace[row, gains], sd[row, gains], row, gain[gains])
        rate[week] = (weight * pace).sum(axis=0)
        below, above = np.where(told, SHARE_WITHIN, SHARE_BELOW), np.where(told, SHARE_WITHIN, SHARE_ABOVE)
        low[week], high[week] = mixture_limits(weight, pace, sd, below, above)
        rate[week], low[week], high[week] = _fitting(rate[week], low[week], high[week], gains, gain)
    at = np.nonzero(seen_sinking.since >= 0)
    spread = LIMIT * seen_sinking.error[at]
    rate[at] = seen_sinking.slope[at]
    low[at], high[at] = rate[at] - spread, rate[at] + spread
    return {name: np.round(each, 9) for name, each in (("rate", rate), ("rate_low", low), ("rate_high", high))}
