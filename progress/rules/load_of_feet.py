"""How many rises a student did in each week, by kind, and when that jumps. Pure: knows no Django, no clock.

The rule is the studio's own: no published limit for children in ballet was found. It only asks to look.
"""
from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

# No step of a ladder adds more than half to the dose before it, so what is above is more than one step at once.
DEFAULT_PERCENT = 50
# The weeks that a week is compared with, and how many of them there must be.
WEEKS_BEFORE, FEWEST_BEFORE = 3, 2
# Fewer than this more is no load to speak of: a set of twelve on one foot and one on the other.
SMALLEST_JUMP = 24


@dataclass(frozen=True)
class Done:
    """What one entry of the log adds: its day, its kind of load, and repetitions (each foot's where it is one)."""

    on: dt.date
    kind: str
    repetitions: int


@dataclass(frozen=True)
class Jump:
    """A week with more of one kind than the rule allows. `before`: the mean of the weeks it is compared with."""

    week: int
    kind: str
    repetitions: int
    before: float

    @property
    def percent_more(self) -> int:
        return round(100 * (self.repetitions / self.before - 1))


def weekly_load(done: Iterable[Done], *, first_monday: dt.date) -> dict[int, dict[str, int]]:
    """Return week of the term -> kind -> repetitions; week 1 begins on `first_monday`.

    >>> monday = dt.date(2026, 1, 5)
    >>> weekly_load([Done(monday, "one_foot", 12), Done(monday + dt.timedelta(8), "one_foot", 16)], first_monday=monday)
    {1: {'one_foot': 12}, 2: {'one_foot': 16}}
    """
    weeks: dict[int, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    for each in done:
        if each.kind and each.repetitions:
            weeks[(each.on - first_monday).days // 7 + 1][each.kind] += each.repetitions
    return {week: dict(kinds) for week, kinds in sorted(weeks.items())}


def jumps(
    by_week: Mapping[int, Mapping[str, int]], *, class_weeks: Iterable[int], percent: int = DEFAULT_PERCENT
) -> list[Jump]:
    """Return the weeks in which one kind of load jumped, oldest first.

    by_week: as `weekly_load` gives it; class_weeks: weeks in which the class was logged at all, so that holidays
    are left out and a week of absence counts as nothing. A week is compared with the mean of the up to three
    class weeks before it; fewer than two, or nothing of the kind in them, is no comparison.

    >>> even = {week: {"one_foot": 48} for week in (1, 2, 3)}
    >>> jumps(even | {4: {"one_foot": 72}}, class_weeks=[1, 2, 3, 4])
    []
    >>> [found] = jumps(even | {4: {"one_foot": 96}}, class_weeks=[1, 2, 3, 4])
    >>> found.week, found.percent_more
    (4, 100)
    """
    weeks, found = sorted(set(class_weeks)), []
    for at, week in enumerate(weeks):
        before = weeks[max(0, at - WEEKS_BEFORE):at]
        if len(before) < FEWEST_BEFORE:
            continue
        for kind, repetitions in sorted(by_week.get(week, {}).items()):
            mean = sum(by_week.get(each, {}).get(kind, 0) for each in before) / len(before)
            more = repetitions - mean
            if mean > 0 and more >= SMALLEST_JUMP and more * 100 > percent * mean:
                found.append(Jump(week, kind, repetitions, mean))
    return found
