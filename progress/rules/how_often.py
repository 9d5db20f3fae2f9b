"""How soon a plateau shows, by how often the class is measured: the judge's own figures, from simulation. Pure."""
from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class Rhythm:
    """weeks: of class time until half of true stalls are said, the mean of two simulated worlds, rounded up."""

    key: str
    weeks: int


# Measured: tests/bench/rhythm.py, half said after 8 and 9, 10 and 12, 12 and 13 weeks (30 November 2026).
TWICE, WEEKLY, SECOND = RHYTHMS = (Rhythm("twice", 9), Rhythm("weekly", 11), Rhythm("second", 13))


def answer_day(rhythm: Rhythm, class_days: Iterable[dt.date]) -> dt.date | None:
    """Return the class day on which half of the plateaus that begin now are said; None where the days end before.

    class_days: the days still to come on which the class meets, of one term; a week without one does not count.

    >>> days = [dt.date(2026, 1, 6) + dt.timedelta(weeks=week) for week in range(12)]
    >>> answer_day(WEEKLY, days), answer_day(SECOND, days)
    (datetime.date(2026, 3, 17), None)
    """
    by_week: dict[tuple[int, int], dt.date] = {}
    for day in sorted(class_days):
        by_week.setdefault(day.isocalendar()[:2], day)
    first_of_each = list(by_week.values())
    return first_of_each[rhythm.weeks - 1] if len(first_of_each) >= rhythm.weeks else None


def weeks_left(class_days: Iterable[dt.date]) -> int:
    """Return in how many weeks the class still meets."""
    return len({day.isocalendar()[:2] for day in class_days})
