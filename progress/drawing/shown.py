"""Says which points and lines of a chart are shown at all: its term, up to its as-of day; knows no places."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from datetime import date

from progress.drawing.parts import Chart, ChartSide, Knot, Point

_WEEK = 7


def in_term(chart: Chart, on: date) -> bool:
    """Whether the chart shows that day: inside its term and known by its as-of day."""
    return chart.starts_on <= on <= min(chart.ends_on, chart.as_of)


def shown_points(chart: Chart, side: ChartSide) -> tuple[Point, ...]:
    """The points of one side that the chart shows, in order of date."""
    return tuple(sorted((p for p in side.points if in_term(chart, p.on)), key=lambda point: point.on))


def nudges(points: Sequence[Point], side: str) -> list[float]:
    """For each point how many nudges from its day it is drawn: left -1, right +1, none 0; a twin (same
    side, day and value) stands one and a half further out for each before it, so that equal values never
    hide each other.
    """
    start, step = {"L": (-1.0, -1.5), "R": (1.0, 1.5), "": (0.0, 1.5)}[side]
    seen: dict[tuple[date, float], int] = {}
    places = []
    for point in points:
        twin = seen.get((point.on, point.value), 0)
        seen[point.on, point.value] = twin + 1
        places.append(start + step * twin)
    return places


def lines(chart: Chart, side: ChartSide) -> list[tuple[Knot, ...]]:
    """The knots of one side as lines, one for each unbroken run of a protocol, those outside the term
    left out.

    A knot less than half a week before the last of its line is dropped: the curve would kink there. A
    line needs two knots; a single one draws nothing.
    """
    shown = sorted((k for k in side.knots if in_term(chart, k.on)), key=lambda knot: knot.on)
    runs = [tuple(run) for _, run in itertools.groupby(shown, key=lambda knot: knot.protocol)]
    kept = [tuple(k for k in run[:-1] if (run[-1].on - k.on).days > _WEEK / 2) + run[-1:] for run in runs]
    # The last day stays even when every earlier knot of its line is that near: then the first one is put
    # back.
    kept = [
        line if len(line) > 1 else run[:1] + line
        for run, line in zip(runs, kept, strict=True)
        if len(run) > 1
    ]
    return [line for line in kept if line[0].on < line[-1].on]


def value_ends(chart: Chart) -> tuple[float, float]:
    """The lowest and highest value there can be: a grade's ends, for the other kinds minus and plus
    infinity.
    """
    if chart.kind != "grade":
        return -math.inf, math.inf
    return min(g.value for g in chart.grades), max(g.value for g in chart.grades)
