"""Which backups stay and which make room; knows no Django and no disk."""
import datetime as dt
from collections.abc import Callable, Iterable

# Our choice: a week day by day, a month week by week, a year month by month.
DAYS, WEEKS, MONTHS = 7, 5, 12


def kept(moments: Iterable[dt.datetime]) -> set[dt.datetime]:
    """Of the moments at which backups were made those that stay: the last of each of the latest seven days, five weeks
    and twelve months that have one. Days without a backup do not count, so a computer that was off all summer keeps
    what it had.

    >>> days = [dt.datetime(2026, 3, day, 3) for day in range(1, 32)]
    >>> sorted(moment.day for moment in kept(days))
    [8, 15, 22, 25, 26, 27, 28, 29, 30, 31]
    """
    newest_first = sorted(set(moments), reverse=True)
    return (
        _last_of_each(newest_first, dt.datetime.date, DAYS)
        | _last_of_each(newest_first, lambda moment: moment.isocalendar()[:2], WEEKS)
        | _last_of_each(newest_first, lambda moment: (moment.year, moment.month), MONTHS)
    )


def _last_of_each(newest_first: list[dt.datetime], span: Callable, count: int) -> set[dt.datetime]:
    found: dict = {}
    for moment in newest_first:
        found.setdefault(span(moment), moment)
    return set(list(found.values())[:count])
