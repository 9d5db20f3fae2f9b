"""Draws the term as a rail of weeks with this week standing on it; knows only dates."""
import datetime as dt
from dataclasses import dataclass

from studio.models import Term

WEEK_PX = 22


@dataclass(frozen=True)
class Ruler:
    """Positions in pixels: tick marks, rail pieces between holidays, and this week's bar (None outside the term)."""

    width: int
    ticks: tuple[int, ...]
    pieces: tuple[tuple[int, int], ...]
    posts: tuple[int, ...]
    bar: int | None
    week: int
    weeks: int


def term_ruler(term: Term, today: dt.date) -> Ruler:
    weeks = term.week_count
    gaps = set()
    for holiday in term.holidays.all():
        first, last = term.week_number(holiday.starts_on), term.week_number(holiday.ends_on)
        if (holiday.ends_on - holiday.starts_on).days >= 4:
            gaps |= set(range(first, last + 1))
    pieces, posts, start = [], [], 0
    for week in range(1, weeks + 1):
        if week in gaps:
            if (week - 1) * WEEK_PX > start:
                pieces.append((start, (week - 1) * WEEK_PX))
                posts.append((week - 1) * WEEK_PX)
            start = week * WEEK_PX
            posts.append(start)
    pieces.append((start, weeks * WEEK_PX))
    ticks = tuple(week * WEEK_PX for week in range(weeks + 1) if week * WEEK_PX not in posts)
    week = term.week_number(today)
    inside = term.starts_on <= today <= term.ends_on
    return Ruler(
        width=weeks * WEEK_PX, ticks=ticks, pieces=tuple(pieces), posts=tuple(posts),
        bar=(week - 1) * WEEK_PX if inside else None, week=week, weeks=weeks,
    )
