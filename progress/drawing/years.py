"""Draws a student's years in one picture: a row a measure over all terms, classes above, pain and height beneath.

No verdict, no target and no band: what was counted, and when. Knows days, numbers and words.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from html import escape
from itertools import pairwise

from progress.drawing.ink import fill, stroke
from progress.drawing.svg import draw_words
from progress.drawing.text import Words, text_width

_WIDE, _LEFT, _RIGHT, _HEAD = 1200, 168, 64, 52
_ROW, _GAP, _BETWEEN, _RAIL = 78, 26, 22, 34
# Numbers beside each other on the rail of heights need so much room, px.
_APART = 52


@dataclass(frozen=True)
class TermSpan:
    """One term and the class in it, in words."""

    name: str
    class_name: str
    starts_on: date
    ends_on: date


@dataclass(frozen=True)
class Point:
    """One result: its day, side ("L", "R" or ""), value, that value in words, and by which protocol it was counted."""

    on: date
    side: str
    value: float
    words: str
    protocol: int


@dataclass(frozen=True)
class Row:
    """One measure. `changes`: first days of a newer protocol."""

    name: str
    points: tuple[Point, ...]
    changes: tuple[date, ...] = ()


@dataclass(frozen=True)
class Years:
    """The whole picture. pain: days; heights: (day, words); the words name the two rails and a change of protocol."""

    title: str
    terms: tuple[TermSpan, ...]
    rows: tuple[Row, ...]
    pain: tuple[date, ...]
    heights: tuple[tuple[date, str], ...]
    pain_words: str
    height_words: str
    change_words: str
    told: str


def years_svg(years: Years) -> str:
    """One ``<svg>`` of 1200 px; "" where there is no term or nothing was counted."""
    if not years.terms or not years.rows:
        return ""
    axis = _Axis(years.terms)
    rails = [each for each in (_pain(years, axis), _heights(years, axis)) if each]
    foot = _HEAD + len(years.rows) * (_ROW + _GAP)
    high = foot + len(rails) * _RAIL + 8
    body = _terms(years.terms, axis, high - 4)
    for at, row in enumerate(years.rows):
        body += _row(row, axis, _HEAD + at * (_ROW + _GAP), years.change_words)
    for at, rail in enumerate(rails):
        body += f'<g transform="translate(0 {foot + at * _RAIL})">{rail}</g>'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="chart chart-years" width="{_WIDE}" height="{high}"'
        f' viewBox="0 0 {_WIDE} {high}" role="img" aria-label="{escape(f"{years.title}. {years.told}", quote=True)}"'
        f' font-family="\'Source Sans 3\', sans-serif">{body}</svg>'
    )


class _Axis:
    """Terms side by side, as wide as they are long; the holidays between them are a gap, however long."""

    def __init__(self, terms: Sequence[TermSpan]):
        days = sum((term.ends_on - term.starts_on).days + 1 for term in terms)
        room = _WIDE - _LEFT - _RIGHT - _BETWEEN * (len(terms) - 1)
        self.terms, self.a_day, self.starts, x = terms, room / days, [], float(_LEFT)
        for term in terms:
            self.starts.append(x)
            x += ((term.ends_on - term.starts_on).days + 1) * self.a_day + _BETWEEN

    def x(self, on: date) -> float:
        """Where a day lies; a day of the holidays in the gap before the next term, others at the nearest end."""
        for term, start in zip(self.terms, self.starts, strict=True):
            if on < term.starts_on:
                return start - (_BETWEEN / 2 if start > _LEFT else 0)
            if on <= term.ends_on:
                return start + (on - term.starts_on).days * self.a_day
        return self.end(len(self.terms) - 1)

    def end(self, at: int) -> float:
        term = self.terms[at]
        return self.starts[at] + ((term.ends_on - term.starts_on).days + 1) * self.a_day


def _terms(terms: Sequence[TermSpan], axis: _Axis, foot: float) -> str:
    found = ""
    for at, term in enumerate(terms):
        x1, x2 = axis.starts[at], axis.end(at)
        found += f'<path {stroke("ink", 1)} d="M{x1:.1f} {_HEAD - 8}H{x2:.1f}"/>'
        found += f'<path {stroke("line", 1)} d="M{x1:.1f} {_HEAD - 8}V{foot:.1f}M{x2:.1f} {_HEAD - 8}V{foot:.1f}"/>'
        found += draw_words(Words(_cut(term.name, x2 - x1, 14), x1, 16, 14, weight="semibold"))
        found += draw_words(Words(_cut(term.class_name, x2 - x1, 14), x1, 34, 14, "soft"))
    return found


def _cut(words: str, room: float, size: float) -> str:
    """The words as far as there is room, cut at a letter."""
    if text_width(words, size) <= room:
        return words
    while words and text_width(f"{words}…", size) > room:
        words = words[:-1]
    return f"{words.rstrip()}…" if words else ""


def _row(row: Row, axis: _Axis, top: float, change_words: str) -> str:
    values = [point.value for point in row.points]
    low, high = min(values), max(values)
    span = (high - low) or 1.0

    def y(value: float) -> float:
        return top + _ROW - 8 - (value - low) / span * (_ROW - 16)

    found = draw_words(Words(_cut(row.name, _LEFT - 44, 15), 0, top + _ROW / 2 + 5, 15))
    extremes = {each.value: each.words for each in row.points}
    for value in dict.fromkeys((high, low)):
        found += draw_words(Words(extremes[value], _LEFT - 10, y(value) + 5, 13, "soft", "end"))
    for on in row.changes:
        x = axis.x(on) - 6
        found += f'<path {stroke("edge", 1.2, "4 3")} d="M{x:.1f} {top:.1f}v{_ROW}"/>'
        found += draw_words(Words(change_words, x + 4, top + _ROW + 12, 12, "soft"))
    for side in ("L", "R", ""):
        found += _side([point for point in row.points if point.side == side], axis, y)
    return found


def _side(points: Sequence[Point], axis: _Axis, y) -> str:
    """Left is open and right is filled; results of different protocols are never joined."""
    found = ""
    for before, after in pairwise(points):
        if before.protocol == after.protocol:
            found += (f'<path {stroke("edge", 1.2)} d="M{axis.x(before.on):.1f} {y(before.value):.1f}'
                      f'L{axis.x(after.on):.1f} {y(after.value):.1f}"/>')
    for point in points:
        ink = fill("paper" if point.side == "L" else "ink")
        x, at = axis.x(point.on), y(point.value)
        found += f'<circle {ink} cx="{x:.1f}" cy="{at:.1f}" r="3.6"/>'
        if point.side == "L":
            found += f'<circle {stroke("ink", 1.4)} cx="{x:.1f}" cy="{at:.1f}" r="3.6"/>'
    return found


def _pain(years: Years, axis: _Axis) -> str:
    if not years.pain:
        return ""
    found = draw_words(Words(years.pain_words, 0, 20, 15, "stop"))
    for on in years.pain:
        found += f'<path {stroke("stop", 3)} d="M{axis.x(on):.1f} 6v18"/>'
    return found


def _heights(years: Years, axis: _Axis) -> str:
    if not years.heights:
        return ""
    found, free = draw_words(Words(years.height_words, 0, 20, 15)), 0.0
    for on, words in years.heights:
        x = axis.x(on)
        found += f'<path {stroke("ink", 1)} d="M{x:.1f} 0v6"/>'
        if x >= free:
            found += draw_words(Words(words, x, 21, 13, "soft", "middle"))
            free = x + _APART
    return found
