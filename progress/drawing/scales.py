"""Turns the days and values of a chart into places on the paper: sizes, scales, ticks and the curve
through the knots. Both drawings (SVG and interactive) read their places here; knows no words and no ink.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from progress.drawing.parts import Chart, ChartSide, Knot
from progress.drawing.range import value_range
from progress.drawing.shown import lines, shown_points, value_ends
from progress.drawing.sizes import Size, row_height
from progress.drawing.text import text_width

# Counts are read by steps of this family; holds by halving and doubling (a log axis).
_STEPS = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000)
_HOLD_TICKS = (1, 2, 5, 10, 20, 40, 80, 160, 320, 640)
_MOST_TICKS = 3
_WEEK = 7


@dataclass(frozen=True)
class Scales:
    """Where days and values lie. ``left``, ``right``, ``top``, ``bottom``: the plot in px; ``low``,
    ``high``: its values; ``log``: whether the value axis is logarithmic; ``monday``: the first day of
    week 1; ``weeks``: how many.
    """

    left: float
    right: float
    top: float
    bottom: float
    low: float
    high: float
    log: bool
    monday: date
    weeks: int

    @property
    def day_width(self) -> float:
        """Px a day."""
        return (self.right - self.left) / (self.weeks * _WEEK)

    def x(self, on: date, part: float = 0.5) -> float:
        """Px across: ``part`` of the day gone (0 its start, 0.5 noon)."""
        return self.left + ((on - self.monday).days + part) * self.day_width

    def y(self, value: float) -> float:
        """Px down. On a log axis nothing lies lower than a quarter of its foot; else nothing is clipped."""
        if self.log:
            value, low, high = math.log(max(value, self.low / 4)), math.log(self.low), math.log(self.high)
        else:
            low, high = self.low, self.high
        return self.bottom - (value - low) / (high - low) * (self.bottom - self.top)

    def value(self, y: float) -> float:
        """The value that lies at ``y`` px: `y` read backwards."""
        part = (self.bottom - y) / (self.bottom - self.top)
        if self.log:
            return self.low * (self.high / self.low) ** part
        return self.low + part * (self.high - self.low)


def scales(chart: Chart, size: Size, *, since_rows: int = 0, header_rows: int = 1) -> Scales:
    """The scales of one chart at one size.

    ``since_rows``: rows of "level since" words kept free at the foot; ``header_rows``: rows of words
    above the plot.
    """
    monday_ordinal = chart.starts_on.toordinal() - chart.starts_on.weekday()
    weeks = (chart.ends_on.toordinal() - monday_ordinal) // _WEEK + 1
    top = header_height(chart, size) + (header_rows - 1) * row_height(size)
    right = size.width - _label_gutter(chart, size)
    low, high = value_range(chart, size, since_rows)
    return Scales(
        left=min(_gutter(chart, size), right / 2),
        right=right,
        top=top,
        bottom=top + size.plot_height,
        low=low,
        high=high,
        log=chart.kind == "hold",
        monday=date.fromordinal(monday_ordinal),
        weeks=weeks,
    )


def header_height(chart: Chart, size: Size) -> float:
    """Px above the plot for one row of words; a small chart has room for its unit only where it has one."""
    has_unit = chart.unit and size.unit
    return size.header if size.notes or not has_unit else max(size.header, size.text + 11)


def _label_gutter(chart: Chart, size: Size) -> float:
    """As wide as the size says, and wider for longer words; never more than two fifths of the drawing."""
    if size.labels == "none":
        return size.label_gutter
    wide = [0.0]
    for end in (side.end for side in chart.sides if side.end):
        wide.append(text_width(end.level, size.label_text, "semibold"))
        if size.verdicts:
            wide.append(28 + text_width(end.verdict_word, 17, "semibold"))
        told = (end.state, end.band) if size.verdicts else (end.likely, end.state)
        wide += [text_width(words, size.text + 1) for words in told if size.labels == "leaders" or words == end.state]
    needed = size.mark + size.label_text * 0.68 + max(wide) + 4
    return min(max(size.label_gutter, needed), size.width * 0.4)


def _gutter(chart: Chart, size: Size) -> float:
    if chart.kind != "grade":
        return size.gutter
    return max(
        size.gutter,
        max(text_width(grade.word, size.text) for grade in chart.grades) + (10 if size.print else 19),
    )


def break_x(chart: Chart, scale: Scales, on: date) -> float:
    """Px of a break: half way between the last result before and the first one of the new protocol, at
    most a day early.
    """
    days = [p.on for side in chart.sides for p in shown_points(chart, side)]
    before, after = [d for d in days if d < on], [d for d in days if d >= on]
    start = scale.x(on, 0)
    if not before or not after:
        return start
    return max((scale.x(max(before)) + scale.x(min(after))) / 2, start - scale.day_width)


def knot_places(chart: Chart, scale: Scales, line: Sequence[Knot], pick: str) -> list[tuple[float, float]]:
    """Px of one value ("level", "band_low", ...) of each knot of a line; a grade is cut at the ends of
    its scale.
    """
    low, high = value_ends(chart)
    return [(scale.x(knot.on), scale.y(min(max(getattr(knot, pick), low), high))) for knot in line]


def level_places(chart: Chart, size: Size, scale: Scales, side: ChartSide) -> list[list[tuple[float, float]]]:
    """Px of the level of each line of a side. Where the other side's level runs nearer than the two
    lines are wide, both give way by half (left upwards when they are equal), so that neither is hidden.
    """
    others = [
        place for other in chart.sides if other is not side for place in _levels_of(chart, scale, other)
    ]
    gap, up = size.level * 5 / 3, -1 if side.side == "L" else 1
    found = []
    for places in _levels_of(chart, scale, side):
        moved = []
        for x, y in places:
            near = next((other for line in others if (other := _height_at(line, x)) is not None), None)
            if near is not None and abs(y - near) < gap:
                away = up if y == near else math.copysign(1, y - near)
                y += away * (gap - abs(y - near)) / 2  # noqa: PLW2901
            moved.append((x, y))
        found.append(moved)
    return found


def _levels_of(chart: Chart, scale: Scales, side: ChartSide) -> list[list[tuple[float, float]]]:
    return [knot_places(chart, scale, line, "level") for line in lines(chart, side)]


def _height_at(line: Sequence[tuple[float, float]], x: float) -> float | None:
    """Height of a line at x, straight between its knots; None beside it."""
    for (x1, y1), (x2, y2) in itertools.pairwise(line):
        if x1 <= x <= x2:
            return y1 + (y2 - y1) * (x - x1) / (x2 - x1)
    return None


def ticks(chart: Chart, scale: Scales) -> list[tuple[float, str]]:
    """The values that have a number (or a grade's word) beside the plot, from low to high: three or four
    of them.
    """
    if chart.kind == "grade":
        return _grade_ticks(chart, scale)
    if chart.kind == "hold":
        inside = [value for value in _HOLD_TICKS if scale.low <= value <= scale.high]
        values = inside[-_MOST_TICKS - 1 :] or [round((scale.low * scale.high) ** 0.5)]
        return [(float(value), str(value)) for value in values]
    for step in _STEPS:
        first = max(0, math.ceil(scale.low / step))
        values = [step * times for times in range(first, math.floor(scale.high / step) + 1)]
        if len(values) <= _MOST_TICKS:
            break
    return [(float(value), str(value)) for value in values]


def _grade_ticks(chart: Chart, scale: Scales) -> list[tuple[float, str]]:
    # Words closer than 17 px would touch; then every second, third ... word is written, the first one
    # always.
    grades = sorted(chart.grades, key=lambda grade: grade.value)
    apart = abs(scale.y(grades[0].value) - scale.y(grades[1].value))
    every = max(1, math.ceil(17 / apart))
    return [(grade.value, grade.word) for grade in grades[::every]]


def curve(places: Sequence[tuple[float, float]]) -> list[tuple[float, float, float, float, float, float]]:
    """Cubic Bézier pieces (two handles and an end) of the monotone curve through ``places`` (x strictly
    rising).

    The curve never overshoots its knots: where they rise it rises. Fewer than two places give no piece.
    Source: Fritsch and Carlson, Monotone piecewise cubic interpolation, SIAM J. Numer. Anal. 17 (1980)
    238-246.
    """
    steps = [(b[0] - a[0], b[1] - a[1]) for a, b in itertools.pairwise(places)]
    if not steps:
        return []
    slopes = [rise / run for run, rise in steps]
    inner = [0.0 if a * b <= 0 else (a + b) / 2 for a, b in itertools.pairwise(slopes)]
    tangents = [slopes[0], *inner, slopes[-1]]
    for index, slope in enumerate(slopes):
        if slope == 0:
            tangents[index] = tangents[index + 1] = 0.0
            continue
        before, after = tangents[index] / slope, tangents[index + 1] / slope
        length = math.hypot(before, after)
        # Within a circle of radius 3 the piece is monotone (the theorem's sufficient condition).
        if length > 3:  # noqa: PLR2004
            tangents[index], tangents[index + 1] = (3 / length * part * slope for part in (before, after))
    return [
        (
            x + run / 3,
            y + tangents[i] * run / 3,
            x + 2 * run / 3,
            y + rise - tangents[i + 1] * run / 3,
            x + run,
            y + rise,
        )
        for i, ((x, y), (run, rise)) in enumerate(zip(places, steps, strict=False))
    ]
