"""What everyone can see in a line without any story: it does not move at all, or few results sink clearly.

Knows arrays only. A line that hardly wobbles says more than the usual wobble grants it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from progress.judging.engine.class_arrays import ClassArrays
from progress.judging.engine.history import History
from progress.judging.engine.lines import EXACT
from progress.judging.engine.points import last_so_far
from progress.judging.engine.stretch import WORTHWHILE_SHARE

# So many results over so many weeks, that scatter round their straight line less than this share of the usual wobble
# (of simulated lines of usual wobble about one in two hundred by chance), with no room for a gain worth a word.
STEADY_RESULTS, STEADY_WEEKS, STEADY_SHARE, STEADY_ERRORS = 7, 5.7, 0.3, 1.5
# With few results in a term the stories hold back; a straight line through them that sinks by so much of the level (a
# hold: of the seconds), by so many errors of its slope, is seen by everyone.
SUNK_SHARE, SUNK_ERRORS, SUNK_RESULTS, SUNK_MOST_RESULTS, SUNK_WEEKS = 0.25, 2.0, 4, 7, 7.0


@dataclass(frozen=True)
class Sunk:
    """Where few results of a term sink, (weeks, n): week of the first of them (-1: they do not), slope, error."""

    since: np.ndarray
    slope: np.ndarray
    error: np.ndarray


def either(first: Sunk, second: Sunk) -> Sunk:
    """Return the first where it says something, else the second."""
    parts = zip(vars(first).values(), vars(second).values(), strict=True)
    return Sunk(*(np.where(first.since >= 0, one, other) for one, other in parts))


def steady(each: ClassArrays, held: np.ndarray, history: History) -> tuple[np.ndarray, np.ndarray]:
    """Return (weeks, n) twice: the last results hardly wobble, and bring no gain worth a word; or surely bring one."""
    line, week, time, value = (each.arrays[name][~held] for name in ("line", "week", "time", "value"))
    usable = (each.arrays["bound"][~held] == EXACT) & each.columns["shows_wobble"][line]
    shape = history.count.shape
    if line.size < STEADY_RESULTS:
        return np.zeros(shape, dtype=bool), np.zeros(shape, dtype=bool)
    place = np.arange(line.size)
    late = line * (time.max() + STEADY_WEEKS + 1.0) + time
    begins = np.minimum(np.searchsorted(late, late - STEADY_WEEKS, side="right") - 1, place - STEADY_RESULTS + 1)
    opens = np.maximum.accumulate(np.where(each.arrays["opens_line"][~held] | ~usable, place, 0))
    first = np.searchsorted(line, line)
    fits = (begins >= 0) & (begins >= np.maximum(first, opens)) & usable
    slope, spread, width = _straight_line(np.maximum(begins, 0), place, time, value)
    usual, rounding = history.error[week, line], np.sqrt(each.columns["rounding"][line])
    doubt = STEADY_ERRORS * np.maximum(spread, rounding) / np.sqrt(np.maximum(width, 1e-9))
    fits &= spread <= STEADY_SHARE * usual
    worth = WORTHWHILE_SHARE * each.columns["gain"][line]
    last = last_so_far(shape, week, line)
    level, rising = fits & (slope + doubt < worth), fits & (slope - doubt > 0.5 * worth)
    return (last >= 0) & level[last], (last >= 0) & rising[last]


def _straight_line(begins, ends, time, value) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    # Slope, scatter round it and sum of squares of the times, of the results from `begins` to `ends`.
    off_time, off_value = time - time.mean(), value - value.mean()
    parts = (np.ones(time.size), off_time, off_value, off_time**2, off_time * off_value, off_value**2)
    sums = [np.concatenate(([0.0], np.cumsum(part))) for part in parts]
    n, t, y, tt, ty, yy = (each[ends + 1] - each[begins] for each in sums)
    width, shared, height = tt - t * t / n, ty - t * y / n, yy - y * y / n
    slope = shared / np.maximum(width, 1e-9)
    return slope, np.sqrt(np.maximum(height - slope * shared, 0.0) / np.maximum(n - 2.0, 1.0)), width


def sunk(each: ClassArrays, held: np.ndarray, history: History) -> Sunk:
    """Return where the few results of a term and protocol lie on a line that clearly sinks."""
    line, week, time, value = (each.arrays[name][~held] for name in ("line", "week", "time", "value"))
    shape = history.count.shape
    none = Sunk(np.full(shape, -1), np.zeros(shape), np.zeros(shape))
    if not line.size:
        return none
    place, term = np.arange(line.size), np.cumsum(each.calendar.returns)[week]
    exact = each.arrays["bound"][~held] == EXACT
    anew = each.arrays["opens_line"][~held] | ~exact | np.r_[True, (np.diff(line) != 0) | (np.diff(term) != 0)]
    begins = np.maximum.accumulate(np.where(anew, place, 0))
    count = place - begins + 1
    slope, spread, width = _straight_line(begins, place, time, value)
    error = np.maximum(spread, history.error[week, line]) / np.sqrt(np.maximum(width, 1e-9))
    middle = _mean(begins, place, value)
    gone = time - time[begins]
    is_count = each.columns["loss"][0][line] > 0.0
    is_hold = np.array([measure.scale == "hold" for measure in each.measures], dtype=bool)[line]
    # What there was at the start of the straight line, and the loss that is a word.
    much = np.where(is_count, SUNK_SHARE * (middle - 0.5 * slope * gone), np.where(is_hold, SUNK_SHARE, np.inf))
    found = exact & (count >= SUNK_RESULTS) & (count <= SUNK_MOST_RESULTS) & (gone >= SUNK_WEEKS)
    found &= (slope < -SUNK_ERRORS * error) & (-slope * gone >= much)
    last = last_so_far(shape, week, line)
    told = (last >= 0) & found[last]
    return Sunk(
        np.where(told, week[begins[last]], -1), np.where(told, slope[last], 0.0), np.where(told, error[last], 0.0)
    )


def _mean(begins: np.ndarray, ends: np.ndarray, value: np.ndarray) -> np.ndarray:
    sums = np.concatenate(([0.0], np.cumsum(value)))
    return (sums[ends + 1] - sums[begins]) / (ends + 1 - begins)
