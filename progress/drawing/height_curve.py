"""Draws a child's heights as a curve with the days below; knows days, centimetres and words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from html import escape

from progress.drawing.ink import fill, stroke
from progress.drawing.scales import curve
from progress.drawing.svg import draw_words
from progress.drawing.text import Words

_WIDE, _HIGH, _LEFT, _RIGHT, _TOP, _FOOT = 560, 190, 8, 96, 26, 44
# Two heights of a fortnight must not look like a growth spurt: the axis shows at least so many centimetres and days.
_LEAST_CM, _LEAST_DAYS = 6.0, 120
# A day with its year is at most so wide.
_DAY_WIDTH = 130


@dataclass(frozen=True)
class Height:
    """One height: its day, centimetres, and both in words ("14 February", "148.2 cm")."""

    on: date
    cm: float
    day: str
    words: str


def height_curve(heights: Sequence[Height], *, title: str) -> str:
    """An ``<svg>`` of the heights in order of day, the first and the last with their words; "" for fewer than two."""
    if len(heights) < 2:  # noqa: PLR2004
        return ""
    days = max((heights[-1].on - heights[0].on).days, _LEAST_DAYS)
    low, high = min(each.cm for each in heights), max(each.cm for each in heights)
    missing = max(0.0, _LEAST_CM - (high - low)) / 2
    low, span = low - missing, high - low + 2 * missing

    def place(each: Height) -> tuple[float, float]:
        x = _LEFT + (each.on - heights[0].on).days / days * (_WIDE - _LEFT - _RIGHT)
        return x, _HIGH - _FOOT - (each.cm - low) / span * (_HIGH - _FOOT - _TOP)

    places = [place(each) for each in heights]
    d = f"M{places[0][0]:.1f} {places[0][1]:.1f}" + "".join(
        "C" + " ".join(f"{number:.1f}" for number in piece) for piece in curve(places)
    )
    foot = _HIGH - _FOOT + 14
    found = f'<path {stroke("accent", 2.4)} d="{d}"/><path {stroke("ink", 1)} d="M{_LEFT} {foot}H{_WIDE - _RIGHT}"/>'
    for x, y in places:
        found += f'<circle {fill("ink")} cx="{x:.1f}" cy="{y:.1f}" r="4"/>'
        found += f'<path {stroke("ink", 1)} d="M{x:.1f} {foot}v5"/>'
    (x1, y1), (x2, y2) = places[0], places[-1]
    found += draw_words(Words(heights[0].words, x1, y1 - 12, 14))
    found += draw_words(Words(heights[-1].words, x2 + 12, y2 + 5, 16, weight="semibold"))
    if x2 - x1 < _DAY_WIDTH:
        found += draw_words(Words(f"{heights[0].day} – {heights[-1].day}", x1, foot + 20, 14, "soft"))
    else:
        found += draw_words(Words(heights[0].day, x1, foot + 20, 14, "soft"))
        found += draw_words(
            Words(heights[-1].day, x2, foot + 20, 14, "soft", "end" if x2 - x1 > 2 * _DAY_WIDTH else "start")
        )
    told = "; ".join(f"{each.day}: {each.words}" for each in heights)
    return (
        f'<svg class="chart height-curve" width="{_WIDE}" height="{_HIGH}" viewBox="0 0 {_WIDE} {_HIGH}" role="img"'
        f' aria-label="{escape(f"{title}. {told}", quote=True)}"'
        f' font-family="\'Source Sans 3\', sans-serif">{found}</svg>'
    )
