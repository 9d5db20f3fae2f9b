"""The pace of the story that is said, and its limits: one word and one range, never those of two stories.

Knows arrays only.
"""

from __future__ import annotations

import numpy as np

from progress.judging.engine import ruling
from progress.judging.engine.gain_range import gain_range
from progress.judging.engine.history import History
from progress.judging.engine.plain_sight import Sunk
from progress.judging.engine.points import Points
from progress.judging.engine.readings import LIMIT, mixture_limits
from progress.judging.engine.stories import FLAT, SLIPPING, STORY_OF_ROW

# What the 80 % limits of the pace leave below and above them while no story is said.
SHARE_BELOW, SHARE_ABOVE = 0.15, 0.06
# The same within one story.
SHARE_WITHIN = 0.14
# "Level" means less than a gain worth a word, either way: its pace is not a point (sd in usual gains).
LEVEL_PACE_SD = 0.25
_SLIPS = [row for row, story in enumerate(STORY_OF_ROW) if story == SLIPPING]
_LEVELS = [row for row, story in enumerate(STORY_OF_ROW) if story == FLAT]
_WAYS = {ruling.SLIPPING: _SLIPS, ruling.STALLED: _LEVELS, ruling.DROPPED: _LEVELS}


def _of_stories(history: History, week: int, at: np.ndarray, code: np.ndarray, gain: np.ndarray):
    # Pace and limits of the lines `at`, of the story that is said, or of all.
    weight, pace, sd = (each[week][:, at] for each in (history.way_weight, history.way_pace, history.way_pace_sd))
    told = np.zeros(code.size, dtype=bool)
    for verdict, of_story in _WAYS.items():
        own = [row for row in of_story if row < len(weight)]
        said = (code == verdict) & (weight[own].sum(axis=0) > 1e-12)
        others = np.ones(len(weight), dtype=bool)
        others[own] = False
        weight[np.ix_(others, said)] = 0.0
        told |= said
        if FLAT in own:
            sd[:, said] = np.maximum(sd[:, said], LEVEL_PACE_SD * gain[said])
    weight /= weight.sum(axis=0)
    below, above = np.where(told, SHARE_WITHIN, SHARE_BELOW), np.where(told, SHARE_WITHIN, SHARE_ABOVE)
    low, high = mixture_limits(weight, pace, sd, below, above)
    # A few very fast ways may draw the mean out of the range.
    return np.clip((weight * pace).sum(axis=0), low, high), low, high


def said_pace(
    history: History, codes: np.ndarray, seen_sinking: Sunk, points: Points, gain: np.ndarray
) -> dict[str, np.ndarray]:
    """Return rate, rate_low and rate_high (weeks, n) of what the codes say; zero in weeks that were not read in full.

    seen_sinking: where few results sink, the pace is that of their straight line; points: the results, of which a gain
    is the straight line, and while it is too early for a word nothing else; gain (n,): a usual one a week.
    """
    in_full = history.way_weight.sum(axis=(1, 2)) > 0.0
    rate, low, high = (np.zeros(codes.shape) for _ in range(3))
    for week in np.flatnonzero(in_full).tolist():
        at = np.flatnonzero(codes[week] != ruling.GAINING)
        rate[week, at], low[week, at], high[week, at] = _of_stories(history, week, at, codes[week, at], gain[at])
    at = np.nonzero((codes == ruling.GAINING) & in_full[:, None])
    rate[at], low[at], high[at] = gain_range(points, history, at, gain)
    at = np.nonzero((codes == ruling.TOO_EARLY) & in_full[:, None] & (points.last > 0))
    at = tuple(each[points.begins[points.last[at]] < points.last[at]] for each in at)
    rate[at], error, _middle = points.through(points.begins[points.last[at]], points.last[at])
    low[at], high[at] = rate[at] - LIMIT * error, rate[at] + LIMIT * error
    at = np.nonzero(seen_sinking.since >= 0)
    spread = LIMIT * seen_sinking.error[at]
    rate[at] = seen_sinking.slope[at]
    low[at], high[at] = rate[at] - spread, rate[at] + spread
    return {name: np.round(each, 9) for name, each in (("rate", rate), ("rate_low", low), ("rate_high", high))}
