"""How fast a gain goes: the straight line through its results, and what is usual; knows arrays only.

Which story it is, a usual gain helps to tell; how fast it goes, the results say themselves, so that slow, usual and
fast gains are held alike.
"""

from __future__ import annotations

import numpy as np

from progress.judging.engine.history import History
from progress.judging.engine.points import Points

# Paces of a gain, in usual gains; before the results say it, slow ones are likelier than usual ones (they are called
# gains only when they have luck), and very fast ones are as likely as they are (those are at the target soon).
_EDGES = np.concatenate((np.arange(0.0, 1.6, 0.1), np.arange(1.6, 4.0, 0.2), np.arange(4.0, 9.1, 0.5)))
_PACES = 0.5 * (_EDGES[1:] + _EDGES[:-1])
SLOW_BELOW, FAST_FROM = 0.6, 1.55
SLOW_SHARE, FAST_SHARE, FAST_FADES = 6.4, 1.6, 20.0
_FAST = FAST_SHARE * np.exp(-(_PACES - FAST_FROM) / FAST_FADES)
_BEFORE = np.diff(_EDGES) * np.select([_PACES < SLOW_BELOW, _PACES < FAST_FROM], [SLOW_SHARE, 1.0], _FAST)
# What the 80 % range leaves below and above; chosen in simulation, on other seeds than the printed one (tests/bench).
SHARE_BELOW, SHARE_ABOVE = 0.155, 0.15
# Looked back over so many weeks at most, and at so many results at least.
LONGEST_WEEKS, FEWEST = 13.0, 4
# Form that lasts, and gains that level off: half of a pace is left after sixty weeks.
LASTING_ERRORS, LEVELS_OFF = 1.13, np.log(2.0) / 60.0


def gain_range(
    points: Points, history: History, at: tuple[np.ndarray, np.ndarray], gain: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return pace, lower and upper limit (k,) of the gains `at` (weeks, lines), working scale a week.

    Of the results since the gain began, of the present term; under a new protocol the old one's tell the pace, too.
    gain (n,): a usual one a week.
    """
    week, line = at
    if not week.size:
        return (np.zeros(0),) * 3
    last, usual = points.last[at], gain[line]
    slope, error, age = _straight_line(points, history, at, last)
    slope = slope / usual * (1.0 - LEVELS_OFF * age)
    error = LASTING_ERRORS * error / usual
    log = -0.5 * ((slope[:, None] - _PACES) / error[:, None]) ** 2
    weight = _BEFORE * np.exp(log - log.max(axis=1, keepdims=True))
    weight /= weight.sum(axis=1, keepdims=True)
    sums = np.concatenate((np.zeros((week.size, 1)), np.cumsum(weight, axis=1)), axis=1)
    low, high = _point(sums, SHARE_BELOW), _point(sums, 1.0 - SHARE_ABOVE)
    # Half way between what is likely and the straight line that everyone sees, well inside the range.
    inside = 0.1 * (high - low)
    rate = np.clip(0.5 * ((weight * _PACES).sum(axis=1) + slope), low + inside, high - inside)
    return rate * usual, low * usual, high * usual


def _straight_line(points: Points, history: History, at: tuple[np.ndarray, np.ndarray], last: np.ndarray):
    # Slope, its error, and how old its middle is.
    week, line = at
    now = history.time[at]
    oldest = points.since_time(line, now - LONGEST_WEEKS)
    began = np.minimum(points.since_week(line, history.began_gain[at] - 1.0), last - FEWEST + 1)
    begins = points.begins[last]
    slope, error, middle = points.through(np.maximum(np.maximum(began, oldest), begins), last)
    # The same term under the protocol before.
    before = np.maximum(begins - 1, 0)
    same = (begins > 0) & (points.line[before] == line) & (points.term[before] == points.term[last]) & (before > oldest)
    first = np.minimum(np.maximum(points.begins[before], oldest), before)
    old_slope, old_error, old_middle = points.through(first, before)
    told, old = error**-2, np.where(same, old_error**-2, 0.0)
    share = old / (told + old)
    return slope + share * (old_slope - slope), (told + old) ** -0.5, now - middle - share * (old_middle - middle)


def _point(sums: np.ndarray, share: float) -> np.ndarray:
    after = np.maximum((sums >= share).argmax(axis=1), 1)
    row = np.arange(after.size)
    low, high = sums[row, after - 1], sums[row, after]
    part = np.clip((share - low) / np.maximum(high - low, 1e-300), 0.0, 1.0)
    return _EDGES[after - 1] + part * (_EDGES[after] - _EDGES[after - 1])
