"""Draws a student's term on one line: one measure's results, what happened on the rail, the exercises as bars under
it; no verdict, no band. Knows only what it is handed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from html import escape

from progress.drawing.ink import fill, stroke
from progress.drawing.layout import Layout, layout
from progress.drawing.parts import Chart
from progress.drawing.svg import (
    draw_as_of,
    draw_breaks,
    draw_level,
    draw_points,
    draw_rail,
    draw_side,
    draw_words,
)
from progress.drawing.text import Words, text_width
from studio.voice import PLAIN, Voice

_ROW, _TALL, _DAY = 21.5, 16, timedelta(days=1)


@dataclass(frozen=True)
class Span:
    """One dose of an exercise from a day to a day, both included, and its words ("2 × 8")."""

    from_on: date
    to_on: date
    words: str


@dataclass(frozen=True)
class Bar:
    """An exercise with the doses of the term. ``paused_on``: since when it rests because of pain, with the words."""

    name: str
    spans: tuple[Span, ...]
    paused_on: date | None = None
    paused_words: str = ""


def term_line(chart: Chart, bars: Sequence[Bar], *, name: str, more: str = "", voice: Voice = PLAIN) -> str:
    """One ``<svg>`` of 1000 px; ``name`` stands beside the results ("rises, one foot"), ``more`` under the last bar.

    Read aloud it is its title, the chart's sentence and every exercise with its doses.
    """
    plan = layout(replace(chart, target=None, caps=(), unit="", sides=_plain_sides(chart)), "line", voice)
    left = plan.scale.left
    foot, stem = plan.rail + 34, escape(f"{chart.key}-line", quote=True)
    height = foot + _ROW * len(bars) + (22 if more else 4)
    body = [
        *(draw_level(plan, side, stem) for side in plan.chart.sides), draw_breaks(plan), draw_as_of(plan),
        draw_points(plan), draw_rail(plan),
        *(draw_words(each) for each in (*plan.header, *plan.rail_words, *plan.notes)),
        *_ends(plan), draw_words(Words(name, 0, (plan.scale.top + plan.scale.bottom) / 2, 15)),
        *(_bar(plan, bar, foot + _ROW * at, left) for at, bar in enumerate(bars)),
    ]
    if more:
        body.append(draw_words(Words(more, 0, height - 5, 14, "soft")))
    told = [chart.sentence, *(f"{bar.name}: {', '.join(span.words for span in bar.spans)}." for bar in bars)]
    clip = (
        f'<defs><clipPath id="{stem}-plot"><rect x="{left:g}" y="0" width="{plan.scale.right - left:.1f}"'
        f' height="{plan.rail:.1f}"/></clipPath></defs>'
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="chart chart-line" width="1000" height="{height:.0f}"'
        f' viewBox="0 0 1000 {height:.0f}" role="img" aria-labelledby="{stem}-title {stem}-desc"'
        f' font-family="\'Source Sans 3\', sans-serif"><title id="{stem}-title">{escape(chart.title)}</title>'
        f'<desc id="{stem}-desc">{escape(" ".join(told))}</desc>{clip}{"".join(body)}</svg>'
    )


def _plain_sides(chart: Chart) -> tuple:
    return tuple(replace(side, level_since=None, points=tuple(
        replace(point, bad_day=False, held_back=False) for point in side.points if not point.held_back
    )) for side in chart.sides)


def _ends(plan: Layout) -> list[str]:
    """The last values beside the last results, pushed apart."""
    found, below = [], 0.0
    ends = [(side.side, side.points) for side in plan.chart.sides if side.points]
    ranked = sorted(ends, key=lambda end: plan.scale.y(end[1][-1].value))
    for key, points in ranked:
        last = points[-1]
        y = max(plan.scale.y(last.value), below)
        below = y + 16
        x = max(plan.scale.x(last.on) + 18, plan.as_of + 10)
        found.append(draw_side(key, x, y, 4.4))
        found.append(draw_words(Words(f"{last.value:g}", x + 10, y + 5, 15, weight="semibold")))
    return found


def _bar(plan: Layout, bar: Bar, top: float, left: float) -> str:
    scale = plan.scale
    found = draw_words(Words(_short(bar.name, left - 10), 0, top + 12, 14))
    before = ""
    for span in bar.spans:
        x1, x2 = scale.x(span.from_on, 0), scale.x(span.to_on + _DAY, 0)
        found += f'<rect {fill("band")} x="{x1:.1f}" y="{top:.1f}" width="{max(x2 - x1, 2):.1f}" height="{_TALL}"/>'
        found += f'<path {stroke("ink", 2)} d="M{x1:.1f} {top:.1f}v{_TALL}"/>'
        if text_width(span.words, 13) + 12 <= x2 - x1 and (span.words != before or len(bar.spans) < 3):  # noqa: PLR2004
            found += draw_words(Words(span.words, x1 + 8, top + 12, 13))
        before = span.words
    if bar.paused_on is not None:
        x1, x2 = scale.x(bar.paused_on, 0), plan.as_of
        found += f'<path {stroke("stop", 1.6, "1.6 4")} d="M{x1:.1f} {top + 8:.1f}H{x2:.1f}"/>'
        if bar.paused_words:
            found += draw_words(Words(bar.paused_words, x2 + 9, top + 12, 14, "stop"))
    return found


def _short(name: str, room: float) -> str:
    """The name, cut at a word where the left column is narrower."""
    if text_width(name, 14) <= room:
        return name
    kept = name.split(" ")
    while len(kept) > 1 and text_width(" ".join(kept) + " …", 14) > room:
        kept.pop()
    return " ".join(kept).rstrip(",") + " …"
