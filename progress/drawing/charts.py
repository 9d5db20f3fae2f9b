"""The door to the charts: one frozen description (`Chart`) and what is drawn from it; knows no database
and no clock.

``svg(chart, size)`` is the first paint everywhere, the parents' page and print; ``figure(chart)`` is the
same chart for the interactive drawing that loads on a tap; ``labels(chart)`` are the end labels as HTML,
for the phone.
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
from progress.drawing.svg import labels, svg

__all__ = [
    "SIZES",
    "Break",
    "Cap",
    "Chart",
    "ChartSide",
    "EndLabel",
    "Event",
    "GradeWord",
    "Holiday",
    "Knot",
    "LevelSince",
    "Point",
    "Target",
    "figure",
    "labels",
    "svg",
]
