"""Names the sizes a chart is drawn at, each measured off the drawn screens; knows no chart."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Size:
    """How large a chart is drawn, px. Labels: "leaders" at the lines' ends, "stack" beside the plot,
    "none".

    ``rail_gap``: from the foot of the plot to the time rail; ``pad_*``: free room inside the plot above
    and below the values, and above a target for its words; ``notes``: whether words inside the plot,
    events and protocol words are written. ``weeks_every``: each how-manieth week has its number.
    ``unit``: whether the unit stands above the axis; where it does not, the page's heading has it.
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
    unit: bool = True

    @property
    def print(self) -> bool:
        """Whether it is drawn on white print paper."""
        return self.name.startswith("a4")

    @property
    def both_bands(self) -> bool:
        """Whether a family reads it: both bands are drawn, because nothing there shows the other one."""
        return self.name.endswith("family")

    @property
    def nudge(self) -> float:
        """How far left is drawn left of its day, and right to the right of it."""
        return self.radius * 0.8


# Sizes measured off the drawn screens. "upright" and "phone" leave the end labels to the page, "phone" is scrolled
# sideways beside its numbers; "middle" is "small" on a tablet.
_LARGE = Size("large", 1312, 292, 44, 258, 34, 44, 15, 22, 4.6, 3, 28, 11, 34, "leaders", 88, 27, unit=False)
_TABLET = Size("tablet", 944, 292, 44, 232, 34, 44, 15, 20, 4.6, 3, 28, 11, 34, "leaders", 88, 27, unit=False)
_UPRIGHT = Size("upright", 712, 264, 34, 8, 34, 44, 14, 20, 4.6, 3, 28, 11, 34, "none", 0, 0, unit=False)
_PHONE = Size("phone", 780, 264, 40, 20, 34, 44, 15, 20, 4.6, 3, 28, 11, 34, "none", 0, 0, unit=False)
_SMALL = Size(
    "small", 634, 132, 34, 180, 25, 10, 14, 17, 4, 2.4, 13, 9, 29, "stack", 60, 20,
    notes=False, dates=False, unit=False,
)  # fmt: skip
_MIDDLE = Size(
    "middle", 712, 132, 34, 150, 25, 10, 14, 17, 4, 2.4, 13, 9, 29, "stack", 60, 20,
    notes=False, dates=False, unit=False,
)  # fmt: skip
_A4 = Size(
    "a4", 674, 104, 34, 148, 22, 29, 12, 14, 3.1, 2.2, 15, 6, 20, "leaders", 34, 16, verdicts=False, unit=False,
)  # fmt: skip
_A4_SMALL = Size(
    "a4-small", 326, 62, 28, 78, 10, 7, 12, 13, 3.1, 2.2, 9, 6, 17, "stack", 26, 12,
    notes=False, dates=False, verdicts=False, weeks_every=2, unit=False,
)  # fmt: skip
# As wide as the text of the family's page on a phone.
_FAMILY = Size(
    "family", 346, 170, 26, 8, 22, 10, 14, 14, 3.6, 2.4, 13, 9, 13, "none", 0, 0,
    notes=False, dates=False, verdicts=False, weeks_every=2,
)  # fmt: skip
# The same on paper, half as wide as the letter: beside the table.
_A4_FAMILY = Size(
    "a4-family", 326, 132, 26, 8, 20, 8, 12, 13, 3.1, 2.2, 11, 7, 12, "none", 0, 0,
    notes=False, dates=False, verdicts=False, weeks_every=2,
)  # fmt: skip
# A term on one line (term_line.py).
_LINE = Size("line", 1000, 90, 176, 84, 24, 36, 14, 15, 3.2, 2, 8, 8, 8, "none", 0, 0, dates=False, unit=False)
_ALL = (_LARGE, _TABLET, _UPRIGHT, _PHONE, _SMALL, _MIDDLE, _LINE, _A4, _A4_SMALL, _FAMILY, _A4_FAMILY)
SIZES = {size.name: size for size in _ALL}


def row_height(size: Size) -> float:
    """Px from one line of chart words to the next."""
    return round(size.text * 1.25)
