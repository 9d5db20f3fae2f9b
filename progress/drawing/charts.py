"""The door to the charts: one frozen description (`Chart`) and what is drawn from it; knows no database
and no clock.

``svg(chart, size)`` is the first paint everywhere, the parents' page and print; ``figure(chart)`` is the
same chart for the interactive drawing that loads on a tap; ``labels(chart)`` are the end labels as HTML, and
``axis(chart)`` the numbers that stay while it is scrolled, for narrow screens.
"""

from progress.drawing.figure import figure
from progress.drawing.parts import (
    Break,
    Cap,
    Chart,
    ChartSide,
    EndLabel,
    Event,
    GradeWord,
    Holiday,
    Knot,
    LevelSince,
    Point,
    Target,
)
from progress.drawing.sizes import SIZES
from progress.drawing.svg import axis, labels, svg, values

__all__ = [
    "SIZES", "Break", "Cap", "Chart", "ChartSide", "EndLabel", "Event", "GradeWord", "Holiday", "Knot",
    "LevelSince", "Point", "Target", "axis", "figure", "labels", "svg", "values",
]
