"""Draws the term as a rail of weeks with this week standing on it; knows only numbers of weeks."""
from collections.abc import Iterable
from dataclasses import dataclass

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


def term_ruler(*, weeks: int, week: int, is_inside: bool, holidays: Iterable[tuple[int, int]]) -> Ruler:
    """The rail of `weeks` weeks; `holidays` are its gaps, each from its first to its last week, counted from 1.

    >>> rail = term_ruler(weeks=4, week=2, is_inside=True, holidays=[(3, 3)])
    >>> rail.pieces, rail.bar
    (((0, 44), (66, 88)), 22)
    """
    gaps = {each for first, last in holidays for each in range(first, last + 1)}
    pieces, posts, start = [], [], 0
    for each in range(1, weeks + 1):
        if each in gaps:
            if (each - 1) * WEEK_PX > start:
                pieces.append((start, (each - 1) * WEEK_PX))
                posts.append((each - 1) * WEEK_PX)
            start = each * WEEK_PX
            posts.append(start)
    pieces.append((start, weeks * WEEK_PX))
    ticks = tuple(each * WEEK_PX for each in range(weeks + 1) if each * WEEK_PX not in posts)
    return Ruler(
        width=weeks * WEEK_PX, ticks=ticks, pieces=tuple(pieces), posts=tuple(posts),
        bar=(week - 1) * WEEK_PX if is_inside else None, week=week, weeks=weeks,
    )
