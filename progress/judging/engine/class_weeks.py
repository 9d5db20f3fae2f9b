"""Weeks in which a class stands still, and the class time that passes meanwhile; days are numbers here."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

DAYS_PER_WEEK = 7
# Fewer than a fifth of the students measured: the class does not meet (assumption).
FEWEST_SHARE = 0.2
# A student counts as one of the class for this many standing weeks after the last result.
MEMBER_WEEKS = 12
# A class measured less often than every second week has gaps by plan, not breaks.
LONGEST_USUAL_GAP_WEEKS = 2


@dataclass(frozen=True)
class ClassWeeks:
    """stands_still, returns: (weeks,) as in lines.Calendar; ends: class time at each week's end, in weeks."""

    stands_still: np.ndarray
    returns: np.ndarray
    ends: np.ndarray


def class_weeks(student: np.ndarray, week: np.ndarray, weeks: int) -> ClassWeeks:
    """Return which weeks stand still and how class time runs.

    student (m,): index of the student of each result; week (m,): whole week of each result, from 0; weeks:
    how many. A week is thin when fewer than a fifth of the present students (a result in the last 12
    standing weeks) have a result. From the second thin week in a row on time stands still, known when it
    happens; the first full week after that is a return. Classes measured every third week or less never
    stand still: their gaps are the plan.
    """
    students = int(student.max()) + 1 if student.size else 0
    seen = np.zeros((students, weeks), dtype=bool)
    seen[student, week] = True
    stands = np.zeros(weeks, dtype=bool)
    returns = np.zeros(weeks, dtype=bool)
    ends = np.zeros(weeks)
    last = np.full(students, -np.inf)
    time, thin_before, full = 0.0, False, []
    for now in range(weeks):
        present = last > time - MEMBER_WEEKS
        here = seen[:, now]
        thin = here.sum() < FEWEST_SHARE * max(1, (present | here).sum())
        stands[now] = thin and thin_before and _meets_weekly(full)
        returns[now] = now > 0 and stands[now - 1] and not stands[now]
        time += not stands[now]
        ends[now] = time
        last[here] = time
        thin_before = thin
        if not thin:
            full.append(now)
    return ClassWeeks(stands, returns, ends)


def _meets_weekly(full_weeks: list[int]) -> bool:
    gaps = np.diff(full_weeks[-8:])
    return gaps.size >= 2 and float(np.median(gaps)) <= LONGEST_USUAL_GAP_WEEKS


def class_time(calendar: ClassWeeks, week: np.ndarray, day_of_week: np.ndarray) -> np.ndarray:
    """Return class time at the end of a day: week (m,) index, day_of_week (m,) 0 Monday to 6 Sunday.

    The last day of a week is the week's end; in weeks that stand still no time passes.
    """
    passes = (~calendar.stands_still[week]).astype(float)
    left = (DAYS_PER_WEEK - 1 - day_of_week) / DAYS_PER_WEEK
    return calendar.ends[week] - passes * left
