"""The first weeks on pointe: for how long heel and big toe are asked about, and minutes by week. Pure; no student.

Eight weeks of asking, and which places are asked about, are the studio's own rule.
"""
import datetime as dt
from collections import defaultdict
from collections.abc import Iterable

ASKED_WEEKS = 8
# What was said of heel and big toe after a class.
FINE, HURTS, NOT_ASKED = "fine", "hurts", "not_asked"


def week_of(began_on: dt.date, on: dt.date) -> int:
    """The week since the first day, 1 for the first seven days.

    >>> day = dt.date(2031, 9, 8)
    >>> [week_of(day, day + dt.timedelta(days)) for days in (0, 6, 7)]
    [1, 1, 2]
    """
    return (on - began_on).days // 7 + 1


def is_asked(began_on: dt.date | None, on: dt.date) -> bool:
    """True in the first eight weeks, and before the first day: nobody begins without being asked.

    >>> day = dt.date(2031, 9, 8)
    >>> [is_asked(day, day + dt.timedelta(days)) for days in (0, 55, 56)], is_asked(None, day)
    ([True, True, False], True)
    """
    return began_on is None or week_of(began_on, on) <= ASKED_WEEKS


def minutes_by_week(times: Iterable[tuple[dt.date, int]]) -> list[tuple[dt.date, int]]:
    """(Monday, minutes) of every week from the first to the last, those without any too.

    >>> day = dt.date(2031, 9, 9)
    >>> found = minutes_by_week([(day, 10), (day + dt.timedelta(2), 15), (day + dt.timedelta(14), 15)])
    >>> [minutes for _monday, minutes in found]
    [25, 0, 15]
    """
    weeks: dict[dt.date, int] = defaultdict(int)
    for on, minutes in times:
        weeks[on - dt.timedelta(days=on.weekday())] += minutes
    if not weeks:
        return []
    first, last = min(weeks), max(weeks)
    mondays = [first + dt.timedelta(weeks=week) for week in range((last - first).days // 7 + 1)]
    return [(monday, weeks.get(monday, 0)) for monday in mondays]
