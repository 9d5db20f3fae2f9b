"""The results of one class as points, and straight lines through any run of them; knows arrays only."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from progress.judging.engine.history import History
from progress.judging.engine.lines import AT_LEAST, EXACT

# A result further from its level than so many errors is pulled in: one accident bends no line.
CLIP_ERRORS = 2.0
# A student who is measured in a new way gets used to it first (common practice, no source): the first two count less.
FIRST_WEIGHTS = (0.4, 0.7)
# How many points the usual wobble is worth beside a line's own (assumption).
USUAL_POINTS = 6.0
# A grade was seen to the nearest whole grade: its open ends lie half a grade further out.
_HALF_GRADE = 0.5
# Keeps the times of one line apart from those of the next.
_ROOM = 1000.0


@dataclass(frozen=True)
class Points:
    """Results that say where a line stands, (m,), in order of line and day; those of somebody stopped early left out.

    line, week, time: as in lines.Results; value: working scale, pulled in to two errors from the level; error: of one
    result; weight: of it in a straight line; begins: place of the first of the same term and protocol; capped: one of
    these was at the cap; term: number of the class's term; last (weeks, n): place of the last one known, -1 before the
    first; term_now (weeks,): number of the term in each week.
    """

    line: np.ndarray
    week: np.ndarray
    time: np.ndarray
    value: np.ndarray
    error: np.ndarray
    weight: np.ndarray
    begins: np.ndarray
    capped: np.ndarray
    term: np.ndarray
    last: np.ndarray
    term_now: np.ndarray

    @cached_property
    def _middle(self) -> float:
        return float(self.time.mean()) if self.time.size else 0.0

    @cached_property
    def _sums(self) -> list[np.ndarray]:
        time, value = self.time - self._middle, self.value - (self.value.mean() if self.value.size else 0.0)
        parts = (np.ones(time.size), time, value, time * time, time * value, value * value)
        return [np.concatenate(([0.0], np.cumsum(self.weight * part))) for part in parts]

    def through(self, first: np.ndarray, last: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Return the slope a week of the straight lines through the points `first` to `last` (places, of one line
        each), its error, and the mean time of the points."""
        n, t, y, tt, ty, _yy = (each[last + 1] - each[first] for each in self._sums)
        n = np.maximum(n, 1e-9)
        width = np.maximum(tt - t * t / n, 1e-9)
        return (ty - t * y / n) / width, self.error[last] / np.sqrt(width), t / n + self._middle

    def own_error(self, first: np.ndarray, last: np.ndarray) -> np.ndarray:
        """Return the error of that slope where a line's own wobble round it counts, too: the more, the more points."""
        n, t, y, tt, ty, yy = (each[last + 1] - each[first] for each in self._sums)
        n = np.maximum(n, 1e-9)
        width = np.maximum(tt - t * t / n, 1e-9)
        off = np.maximum(yy - y * y / n - (ty - t * y / n) ** 2 / width, 0.0)
        more = np.maximum(last - first - 1.0, 0.0)
        own = off / np.maximum(more, 1.0)
        variance = (USUAL_POINTS * self.error[last] ** 2 + more * own) / (USUAL_POINTS + more)
        return np.sqrt(variance / width)

    def since_time(self, line: np.ndarray, time: np.ndarray) -> np.ndarray:
        """Return the place of the first point of `line` that is later than `time`."""
        each = float(self.time.max()) + _ROOM
        return np.searchsorted(self.line * each + self.time, line * each + np.maximum(time, -0.5 * _ROOM), side="right")

    def since_week(self, line: np.ndarray, week: np.ndarray) -> np.ndarray:
        """Return the place of the first point of `line` in `week` (fractional) or later."""
        each = float(self.week.max()) + _ROOM
        return np.searchsorted(self.line * each + self.week, line * each + np.maximum(week, -0.5 * _ROOM))


def points_of(
    arrays: Mapping[str, np.ndarray], held: np.ndarray, history: History, *,
    returns: np.ndarray, rounding: np.ndarray, graded: np.ndarray,
) -> Points:  # fmt: skip
    """Return the points of a class. arrays: of lines.Results, with `topped`; returns (weeks,): the class came back from
    a break in that week; rounding (n,): variance; graded (n,): the measure is a grade."""
    bound, on_grades = arrays["bound"], graded[arrays["line"]]
    used = ~held & ~((bound == AT_LEAST) & ~arrays["topped"] & ~on_grades)
    line, week, time, value = (arrays[name][used] for name in ("line", "week", "time", "value"))
    on_grades = on_grades[used]
    error = np.sqrt(history.error[week, line] ** 2 + rounding[line])
    level, room = history.level[week, line], CLIP_ERRORS * error
    pulled_in = np.clip(value, level - room, level + room)
    value = np.where(bound[used] == EXACT, pulled_in, value + np.where(on_grades, _HALF_GRADE * bound[used], 0.0))
    terms = np.cumsum(returns)
    place, term = np.arange(line.size), terms[week]
    opens = arrays["opens_line"][used] | np.r_[True, np.diff(line) != 0][: line.size]
    begins = _from_the_last(opens | np.r_[True, np.diff(term) != 0][: line.size], place)
    seen = place - _from_the_last(opens, place)
    topped = np.cumsum(arrays["topped"][used] & ~on_grades)
    before = np.where(begins > 0, topped[np.maximum(begins - 1, 0)], 0)
    weight = np.where(seen == 0, FIRST_WEIGHTS[0], np.where(seen == 1, FIRST_WEIGHTS[1], 1.0))
    last = last_so_far(history.count.shape, week, line)
    return Points(line, week, time, value, error, weight, begins, topped > before, term, last, terms)


def _from_the_last(opens: np.ndarray, place: np.ndarray) -> np.ndarray:
    return np.maximum.accumulate(np.where(opens, place, 0)) if place.size else place


def last_so_far(shape: tuple[int, int], week: np.ndarray, line: np.ndarray) -> np.ndarray:
    """Return (weeks, n) the place of the last result known at each week's end, -1 before the first."""
    last = np.full(shape, -1)
    np.maximum.at(last, (week, line), np.arange(line.size))
    return np.maximum.accumulate(last, axis=0)
