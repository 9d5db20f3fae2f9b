"""Draws minutes week by week as columns with their numbers; knows weeks in words and numbers only."""
from collections.abc import Sequence
from html import escape

from progress.drawing.ink import fill, stroke
from progress.drawing.svg import draw_words
from progress.drawing.text import Words

_WIDE, _GAP, _HIGH, _HEAD, _FOOT = 34, 14, 110, 22, 26
# As wide as the words of a day are; every second week has its day where they would run into each other.
_DAY_WIDTH = 96


def minutes_svg(weeks: Sequence[tuple[str, int]], *, title: str) -> str:
    """An ``<svg>`` of (day, minutes), the first week at the left; "" for none. A week without any is a line."""
    if not weeks:
        return ""
    most = max(minutes for _day, minutes in weeks) or 1
    wide, ground = len(weeks) * (_WIDE + _GAP) + _DAY_WIDTH, _HEAD + _HIGH
    every, found = -(-_DAY_WIDTH // (_WIDE + _GAP)), f'<path {stroke("ink", 1)} d="M0 {ground}H{wide - _DAY_WIDTH}"/>'
    for at, (day, minutes) in enumerate(weeks):
        x, tall = at * (_WIDE + _GAP), round(_HIGH * minutes / most)
        found += f'<rect {fill("soft")} x="{x}" y="{ground - tall}" width="{_WIDE}" height="{tall}"/>'
        found += draw_words(Words(str(minutes), x + _WIDE / 2, ground - tall - 6, 14, anchor="middle"))
        if at % every == 0:
            found += draw_words(Words(day, x, ground + 18, 13, "soft"))
    told = "; ".join(f"{day}: {minutes}" for day, minutes in weeks)
    return (
        f'<svg class="chart minutes" width="{wide}" height="{ground + _FOOT}" viewBox="0 0 {wide} {ground + _FOOT}"'
        f' role="img" aria-label="{escape(f"{title}. {told}", quote=True)}"'
        f' font-family="\'Source Sans 3\', sans-serif">{found}</svg>'
    )
