"""Turns the days and values of a chart into places on the paper: sizes, scales, ticks and the curve through the
knots. Both drawings (SVG and interactive) read their places here; knows no words and no ink."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from progress.chart_parts import Chart, ChartSide, Knot, Point
from progress.chart_text import text_width


@dataclass(frozen=True)
class Size:
    """How large a chart is drawn, px. Labels: "leaders" at the lines' ends, "stack" beside the plot, "none".

    ``rail_gap``: from the foot of the plot to the time rail; ``pad_*``: free room inside the plot above and below
    the values, and above a target for its words; ``notes``: whether words inside the plot, events and protocol
    words are written. ``weeks_every``: each how-manieth week has its number.
    """

    name: str
    width: float
    plot_height: float
    gutter: float
    label_gutter: float
    header: float
    rail_gap: float
    text: float
    label_text: float
    radius: float
    level: float
    pad_top: float
    pad_bottom: float
    pad_target: float
    labels: str
    block: float
    mark: float
    notes: bool = True
    dates: bool = True
    verdicts: bool = True
    weeks_every: int = 1

    @property
    def nudge(self) -> float:
        """How far left is drawn left of its day, and right to the right of it."""
        return self.radius * 0.8


# Sizes measured off the drawn screens: look/notes.md section 5. "tablet" and "phone" keep the height of "large".
_LARGE = Size("large", 1312, 292, 44, 258, 34, 44, 15, 22, 4.6, 3, 28, 11, 34, "leaders", 96, 27)
_TABLET = Size("tablet", 944, 292, 44, 232, 34, 44, 15, 20, 4.6, 3, 28, 11, 34, "leaders", 96, 27)
_PHONE = Size("phone", 780, 292, 40, 20, 34, 44, 15, 20, 4.6, 3, 28, 11, 34, "none", 0, 0)
_SMALL = Size(
    "small", 634, 132, 34, 180, 25, 10, 14, 17, 4, 2.4, 13, 9, 29, "stack", 60, 20, notes=False, dates=False
)
_A4 = Size("a4", 674, 152, 34, 148, 22, 29, 12, 14, 3.1, 2.2, 15, 6, 20, "leaders", 34, 16, verdicts=False)
_A4_SMALL = Size(
    "a4-small", 326, 82, 24, 78, 10, 7, 12, 13, 3.1, 2.2, 9, 6, 17, "stack", 26, 12,
    notes=False, dates=False, verdicts=False, weeks_every=2,
)  # fmt: skip
SIZES = {size.name: size for size in (_LARGE, _TABLET, _PHONE, _SMALL, _A4, _A4_SMALL)}

# Counts are read by steps of this family; holds by halving and doubling (the log axis of look/notes.md section 5).
_STEPS = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000)
_HOLD_TICKS = (1, 2, 5, 10, 20, 40, 80, 160, 320, 640)
_MOST_TICKS = 3
# A flat term must look flat: the axis never shows less than this many rises, or this factor in seconds.
_LEAST_SPAN, _LEAST_FACTOR = 8.0, 4.0
# What an axis shows when there is nothing to show.
_EMPTY_RANGE = {"count": (0.0, 10.0), "hold": (5.0, 20.0)}
_WEEK = 7


@dataclass(frozen=True)
class Scales:
    """Where days and values lie. ``left``, ``right``, ``top``, ``bottom``: the plot in px; ``low``, ``high``: its
    values; ``log``: whether the value axis is logarithmic; ``monday``: the first day of week 1; ``weeks``: how many.
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


def scales(chart: Chart, size: Size, *, since_rows: int = 0, header_rows: int = 1) -> Scales:
    """The scales of one chart at one size.

    ``since_rows``: rows of "level since" words kept free at the foot; ``header_rows``: rows of words above the plot.
    """
    monday_ordinal = chart.starts_on.toordinal() - chart.starts_on.weekday()
    weeks = (chart.ends_on.toordinal() - monday_ordinal) // _WEEK + 1
    top = size.header + (header_rows - 1) * row_height(size)
    right = size.width - size.label_gutter
    low, high = _value_range(chart, size, since_rows)
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


def row_height(size: Size) -> float:
    """Px from one line of chart words to the next."""
    return round(size.text * 1.25)


def _gutter(chart: Chart, size: Size) -> float:
    if chart.kind != "grade":
        return size.gutter
    return max(size.gutter, max(text_width(grade.word, size.text) for grade in chart.grades) + 18)


def in_term(chart: Chart, on: date) -> bool:
    """Whether the chart shows that day: inside its term and known by its as-of day."""
    return chart.starts_on <= on <= min(chart.ends_on, chart.as_of)


def shown_points(chart: Chart, side: ChartSide) -> tuple[Point, ...]:
    """The points of one side that the chart shows, in order of date."""
    return tuple(sorted((p for p in side.points if in_term(chart, p.on)), key=lambda point: point.on))


def nudges(points: Sequence[Point], side: str) -> list[float]:
    """For each point how many nudges from its day it is drawn: left -1, right +1, none 0; a twin (same side, day and
    value) stands one and a half further out for each before it, so that equal values never hide each other."""
    start, step = {"L": (-1.0, -1.5), "R": (1.0, 1.5), "": (0.0, 1.5)}[side]
    seen: dict[tuple[date, float], int] = {}
    places = []
    for point in points:
        twin = seen.get((point.on, point.value), 0)
        seen[point.on, point.value] = twin + 1
        places.append(start + step * twin)
    return places


def lines(chart: Chart, side: ChartSide) -> list[tuple[Knot, ...]]:
    """The knots of one side as lines, one for each unbroken run of a protocol, those outside the term left out.

    A knot less than half a week before the last of its line is dropped: the curve would kink there. A line needs two
    knots; a single one draws nothing.
    """
    shown = sorted((k for k in side.knots if in_term(chart, k.on)), key=lambda knot: knot.on)
    runs = [tuple(run) for _, run in itertools.groupby(shown, key=lambda knot: knot.protocol)]
    kept = [tuple(k for k in run[:-1] if (run[-1].on - k.on).days > _WEEK / 2) + run[-1:] for run in runs]
    # The last day stays even when every earlier knot of its line is that near: then the first one is put back.
    kept = [line if len(line) > 1 else run[:1] + line for run, line in zip(runs, kept, strict=True) if len(run) > 1]
    return [line for line in kept if line[0].on < line[-1].on]


def _value_range(chart: Chart, size: Size, since_rows: int) -> tuple[float, float]:
    """Lowest and highest value of the axis: everything drawn, with room for the words around it."""
    if chart.kind == "grade":
        values = [grade.value for grade in chart.grades]
        return _padded(min(values), max(values), [], size.plot_height, size.pad_top + 4, size.pad_top + 4)
    points = [p.value for side in chart.sides for p in shown_points(chart, side)]
    knots = [k for side in chart.sides for line in lines(chart, side) for k in line]
    target = [chart.target.value] if chart.target else []
    everything = points + [k.band_high for k in knots] + [k.level for k in knots] + target
    if not everything:
        return _EMPTY_RANGE[chart.kind]
    lows = [k.band_low for k in knots]
    if chart.kind == "hold":
        return _hold_range(everything, lows, target, size)
    low, high = min([*everything, *(max(0.0, value) for value in lows)]), max(everything)
    low, high = _at_least(low, high, _LEAST_SPAN)
    foot = max(size.pad_bottom, since_rows * row_height(size) + size.pad_bottom if since_rows else 0)
    lifted = [(value, foot) for value in _under_since(chart)]
    low, high = _padded(low, high, lifted, size.plot_height, size.pad_bottom, size.pad_top, target, size.pad_target)
    return float(math.floor(low)), float(math.ceil(high))


def _hold_range(values: list[float], lows: list[float], target: list[float], size: Size) -> tuple[float, float]:
    """The same in seconds: on the log axis the long lower tail of the band may be cut, never a result."""
    # A hold shorter than a tenth of a second cannot be timed by hand.
    values, lows = [max(value, 0.1) for value in values], [max(value, 0.1) for value in lows]
    low = max(min(lows, default=0.0), min(values) * 0.8)
    ends = _at_least(math.log(low), math.log(max(values)), math.log(_LEAST_FACTOR))
    aims = [math.log(max(value, 0.1)) for value in target]
    ends = _padded(*ends, [], size.plot_height, 0, size.pad_top, aims, size.pad_target)
    return math.exp(ends[0]), math.exp(ends[1])


def _at_least(low: float, high: float, span: float) -> tuple[float, float]:
    missing = max(0.0, span - (high - low))
    return low - missing / 2, high + missing / 2


def _padded(
    low: float,
    high: float,
    lifted: list[tuple[float, float]],
    height: float,
    foot: float,
    head: float,
    targets: Sequence[float] = (),
    over_target: float = 0.0,
) -> tuple[float, float]:
    """Ends of an axis on which low and high keep ``foot`` and ``head`` px from the edges, lifted values their own
    px from the foot, and targets ``over_target`` px from the head. Converges because every pad is below the height.
    """
    bottom, top = low, high
    for _ in range(12):
        unit = (top - bottom) / height
        bottom = min([low - foot * unit, *(value - pad * unit for value, pad in lifted)])
        top = max([high + head * unit, *(value + over_target * unit for value in targets)])
    return bottom, top


def _under_since(chart: Chart) -> list[float]:
    """The lowest things drawn above the "level since" lines, which must stay clear of them."""
    found = []
    for side in chart.sides:
        if side.level_since is None:
            continue
        since = side.level_since.dotted_from or side.level_since.solid_from
        for other in chart.sides:
            found += [p.value for p in shown_points(chart, other) if p.on >= since]
            found += [max(0.0, k.band_low) for line in lines(chart, other) for k in line if k.on >= since]
    return found


def ticks(chart: Chart, scale: Scales) -> list[tuple[float, str]]:
    """The values that have a number (or a grade's word) beside the plot, from low to high: three or four of them."""
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
    # Words closer than 17 px would touch; then every second, third ... word is written, the first one always.
    grades = sorted(chart.grades, key=lambda grade: grade.value)
    apart = abs(scale.y(grades[0].value) - scale.y(grades[1].value))
    every = max(1, math.ceil(17 / apart))
    return [(grade.value, grade.word) for grade in grades[::every]]


def curve(places: Sequence[tuple[float, float]]) -> list[tuple[float, float, float, float, float, float]]:
    """Cubic Bézier pieces (two handles and an end) of the monotone curve through ``places`` (x strictly rising).

    The curve never overshoots its knots: where they rise it rises. Fewer than two places give no piece.
    Source: Fritsch and Carlson, Monotone piecewise cubic interpolation, SIAM J. Numer. Anal. 17 (1980) 238-246.
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
        (x + run / 3, y + tangents[i] * run / 3, x + 2 * run / 3, y + rise - tangents[i + 1] * run / 3, x + run, y + rise)
        for i, ((x, y), (run, rise)) in enumerate(zip(places, steps, strict=False))
    ]
