"""Finds the lowest and highest value of a chart's axis, with room for the words around the results."""

from __future__ import annotations

import math
from collections.abc import Sequence

from progress.drawing.parts import Chart
from progress.drawing.shown import lines, shown_points, value_ends
from progress.drawing.sizes import Size, row_height

# A flat term must look flat: the axis never shows less than this many rises, or this factor in seconds.
_LEAST_SPAN, _LEAST_FACTOR = 8.0, 4.0
# What an axis shows when there is nothing to show.
_EMPTY_RANGE = {"count": (0.0, 10.0), "hold": (5.0, 20.0)}


def value_range(chart: Chart, size: Size, since_rows: int) -> tuple[float, float]:
    """Lowest and highest value of the axis: everything drawn, with room for the words around it."""
    # The "stalled since" lines stand under every result, so that their words may stand anywhere along them.
    foot = since_rows * row_height(size) + size.pad_bottom + 9 if since_rows else size.pad_bottom
    if chart.kind == "grade":
        foot = max(size.pad_top + 4, foot)
        return _padded(*value_ends(chart), size.plot_height, foot, size.pad_top + 4)
    points = [p.value for side in chart.sides for p in shown_points(chart, side)]
    knots = [k for side in chart.sides for line in lines(chart, side) for k in line]
    target = [chart.target.value] if chart.target else []
    everything = points + [k.band_high for k in knots] + [k.level for k in knots] + target
    if not everything:
        return _EMPTY_RANGE[chart.kind]
    lows = [k.band_low for k in knots]
    if chart.kind == "hold":
        return _hold_range(everything, lows, target, (size, foot))
    low, high = min([*everything, *(max(0.0, value) for value in lows)]), max(everything)
    low, high = _at_least(low, high, _LEAST_SPAN)
    low, high = _padded(low, high, size.plot_height, foot, size.pad_top, target, size.pad_target)
    return float(math.floor(low)), float(math.ceil(high))


def _hold_range(
    values: list[float], lows: list[float], target: list[float], room: tuple[Size, float]
) -> tuple[float, float]:
    """The same in seconds: on the log axis the long lower tail of the band may be cut, never a result.

    ``room``: the size, and the px under the lowest of it.
    """
    size, foot = room
    # A hold shorter than a tenth of a second cannot be timed by hand.
    values, lows = [max(value, 0.1) for value in values], [max(value, 0.1) for value in lows]
    low = min(min(values), max(min(lows, default=0.0), min(values) * 0.8))
    ends = _at_least(math.log(low), math.log(max(values)), math.log(_LEAST_FACTOR))
    aims = [math.log(max(value, 0.1)) for value in target]
    ends = _padded(*ends, size.plot_height, foot, size.pad_top, aims, size.pad_target)
    return math.exp(ends[0]), math.exp(ends[1])


def _at_least(low: float, high: float, span: float) -> tuple[float, float]:
    missing = max(0.0, span - (high - low))
    return low - missing / 2, high + missing / 2


def _padded(
    low: float,
    high: float,
    height: float,
    foot: float,
    head: float,
    targets: Sequence[float] = (),
    over_target: float = 0.0,
) -> tuple[float, float]:
    """Ends of an axis on which low and high keep ``foot`` and ``head`` px from the edges, and targets
    ``over_target`` px from the head. Converges because every pad is below the height.
    """
    bottom, top = low, high
    for _ in range(12):
        unit = (top - bottom) / height
        bottom = low - foot * unit
        top = max([high + head * unit, *(value + over_target * unit for value in targets)])
    return bottom, top
