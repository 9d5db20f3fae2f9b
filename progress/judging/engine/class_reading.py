"""Reads out of one followed class what concerns more than one line: gaps between feet, class-wide stalls.

Knows the followed arrays of one class; no database, no words.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from dataclasses import dataclass, replace

import numpy as np

from progress.judging.engine import ruling
from progress.judging.engine.class_arrays import HALF_GRADE
from progress.judging.engine.class_stall import (
    JOINS_CHANCE,
    Stall,
    class_stalls,
    common_start,
    leans,
    log_bayes_factor,
    prior_no_gain,
)
from progress.judging.engine.facts import Gap, MeasureFacts
from progress.judging.engine.lines import EXACT
from progress.judging.engine.school_arrays import Followed
from progress.judging.engine.side_gap import limits80, side_gap
from progress.judging.engine.stories import SCALES

# A student not measured for four weeks of class time says nothing about the class now (assumption).
RECENT_WEEKS = 4.0
# As of every other number that is read.
GAP_DECIMALS = 9


def gap_limit(measure: MeasureFacts, level: float) -> float:
    """Return the difference between the feet that counts, on the working scale, at a level of that scale.

    15 % of the level for counts (never less than one repetition), 0.20 ln s, a quarter of a grade scale.
    """
    scale = SCALES[measure.scale]
    if scale.gap_limit_is_share_of_level:
        return max(1.0, scale.gap_limit * level)
    if measure.scale == "grade" and measure.lowest is not None and measure.highest is not None:
        return scale.gap_limit * (measure.highest - measure.lowest)
    # A grade without ends is taken as one of the scale 0 to 2.
    return scale.gap_limit * (2.0 if measure.scale == "grade" else 1.0)


def gap(followed: Followed, week: int, left: int, right: int) -> Gap | None:
    """Return the gap of a pair of columns after `week`, in raw unit; None if no day has both."""
    differences, times = _same_day(followed, week, left, right)
    if not differences:
        return None
    history, measure = followed.history, followed.arrays.measures[left]
    level = 0.5 * float(history.level[week, left] + history.level[week, right])
    error = 0.5 * float(history.error[week, left] + history.error[week, right])
    limit = gap_limit(measure, level)
    now = float(history.time[week, left])
    found = side_gap(differences, times, now=now, error=error, limit=limit)
    low, high = limits80(found)

    def raw(value: float) -> float:
        # Seconds apart at the level of this pair; counts and grades are as they are.
        apart = 2.0 * math.exp(level) * math.sinh(0.5 * value) if measure.scale == "hold" else value
        return round(apart, GAP_DECIMALS)

    return Gap(raw(found.mean), raw(low), raw(high), raw(limit), found.is_apart, found.days_both)


def _same_day(followed: Followed, week: int, left: int, right: int) -> tuple[list[float], list[float]]:
    days = [_days(followed, week, column) for column in (left, right)]
    both = sorted(days[0].keys() & days[1].keys())
    return [days[1][day][0] - days[0][day][0] for day in both], [days[0][day][1] for day in both]


def _days(followed: Followed, week: int, column: int) -> dict[int, tuple[float, float]]:
    # The last counted value of each day; a cap says only "at least" and cannot be compared.
    listed, at = followed.arrays.listed, followed.arrays.bounds_of_line
    start, stop = at[column], bisect_right(listed["week"], week, at[column], at[column + 1])
    halves = HALF_GRADE if followed.arrays.measures[column].scale == "grade" else 0.0
    own = (listed[name][start:stop] for name in ("day", "value", "bound", "time"))
    return {
        day: (value + halves * bound, time)
        for day, value, bound, time, held in zip(*own, followed.held_back[start:stop].tolist(), strict=True)
        if not held and (bound == EXACT or halves)
    }


def stalls(followed: Followed, week: int) -> tuple[Stall, ...]:
    """Return the class-wide stalls at the end of `week`; none that the week before did not lean towards."""
    now = _Speakers.of(followed, week)
    found = class_stalls(now.factor, now.stands, now.student)
    if not found or week == 0:
        return ()
    before = _Speakers.of(followed, week - 1)
    return tuple(_with_start(each, followed, week, now) for each in found if leans(each, before.factor, before.stands))


@dataclass(frozen=True)
class _Speakers:
    # Lines that say something in a week (columns), their prior, and per measure what class_stalls wants.
    columns: np.ndarray
    prior: np.ndarray
    factor: dict[str, np.ndarray]
    stands: dict[str, np.ndarray]
    student: dict[str, np.ndarray]

    @classmethod
    def of(cls, followed: Followed, week: int) -> _Speakers:
        history, codes = followed.history, followed.codes
        speaks = (history.time[week] - history.last_time[week] <= RECENT_WEEKS) & history.live[week]
        speaks &= (codes[week] != ruling.TOO_EARLY) & (codes[week] != ruling.AT_TARGET)
        columns = np.flatnonzero(speaks)
        if columns.size == 0:
            return cls(columns, np.zeros((0, 0)), {}, {}, {})
        prior = _prior(followed, week, columns)
        factors = log_bayes_factor(history.stand_since[week][:, columns], prior)
        factor, stands, who = {}, {}, {}
        keys = [followed.arrays.keys[column][1] for column in columns]
        for measure in dict.fromkeys(keys):
            own = np.array([key == measure for key in keys])
            students, member = np.unique(followed.arrays.columns["student"][columns[own]], return_inverse=True)
            summed = np.zeros((students.size, factors.shape[0]))
            np.add.at(summed, member, factors[:, own].T)
            mean = np.bincount(member, history.p_stand[week][columns[own]]) / np.bincount(member)
            factor[measure], stands[measure], who[measure] = summed, mean, students
        return cls(columns, prior, factor, stands, who)


def _with_start(stall: Stall, followed: Followed, week: int, now: _Speakers) -> Stall:
    # The score's own start is the one with the strongest evidence, not the likeliest: members say when it began.
    columns = now.columns
    keys = [followed.arrays.keys[column][1] for column in columns]
    member = np.isin(followed.arrays.columns["student"][columns], stall.members)
    member &= np.array([stall.measure in (None, key) for key in keys])
    chance = followed.history.stand_since[week][:, columns[member]]
    return replace(stall, back=common_start(chance, now.prior[:, member]))


def _prior(followed: Followed, week: int, columns: np.ndarray) -> np.ndarray:
    arrays, calendar = followed.arrays, followed.arrays.calendar
    width = followed.history.stand_since.shape[1]
    first = arrays.columns["first_week"][columns]
    return np.stack(
        [
            prior_no_gain(calendar.stands_still[: week + 1], calendar.returns[: week + 1], int(each), width)[-1]
            for each in first
        ],
        axis=1,
    )


def joins(stall: Stall, measure: str, p_no_gain: float) -> bool:
    """Return whether a line is told "so is most of the class"."""
    return stall.measure in (None, measure) and p_no_gain >= JOINS_CHANCE
