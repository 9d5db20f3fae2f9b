"""Draws one measure of one student over the term as a small strip: two lines, the last counts, the target, pain.

Pure. Every strip spans the same pace and is centred on the student's own lines: the same slope is the same pace in
every row, and the height of a line compares nobody.
"""
from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field

from progress.drawing.marks import ACCENT, INK, PAPER, SOFT, STOP

# What a strip spans from bottom to top, in the measure's own unit; a hold in logarithms, a factor of 2.7.
SPANS = {"count": 8.6, "seconds": math.log(2.7), "grade": 1.9}
SIZES = {"small": (78, 26), "large": (146, 31)}
# Ink and widths of a line: (colour, class, hollow, core, solid).
_INKS = {
    "needs_look": (INK, "ink", 4.4, 2.2, 2.6), "rising": (ACCENT, "accent", 3.6, 1.5, 1.9),
    "quiet": (SOFT, "soft", 3.6, 1.5, 1.9),
}
EDGE, FLOOR = 3.0, 4.0
# The last counts stand behind the end of their line, the left one first, so that equal ones both show.
BEHIND = {"L": 3.0, "R": 8.0, "": 5.0}


@dataclass(frozen=True)
class StripSide:
    """One foot. line: (share of the term from 0 to 1, level), oldest first; ink: "needs_look", "rising" or "quiet";
    last: the last count, None where nothing was counted or it waits to be confirmed; points: counts of a line that
    is too early to be drawn."""

    side: str
    line: tuple[tuple[float, float], ...] = ()
    ink: str = "quiet"
    last: float | None = None
    points: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True)
class Strip:
    """kind: "count", "seconds" or "grade"; pain: shares of the term at which it was reported."""

    kind: str
    sides: tuple[StripSide, ...]
    target: float | None = None
    pain: tuple[float, ...] = field(default=())


def svg(strip: Strip, *, size: str = "small") -> str:
    """The drawing, without words: what it shows is written beside it. KeyError for an unknown kind or size.

    >>> one = Strip("count", (StripSide("L", ((0.1, 8.0), (0.9, 12.0)), "rising", last=12.0),), target=10.0)
    >>> drawn = svg(one)
    >>> drawn.count("<path"), drawn.count("<circle"), "strip-target" in drawn
    (3, 1, True)
    """
    width, height = SIZES[size]
    scale = _Scale(strip, width, height)
    parts = []
    if strip.target is not None and 0 < (y := scale.y(strip.target)) < height:
        parts.append(
            f'<path class="mark-stroke-soft strip-target" fill="none" stroke="{SOFT}" stroke-dasharray="4 3.4"'
            f' d="M0 {y:.1f}H{width}"/>'
        )
    # A foot that needs a look is drawn last, above the other one.
    for side in sorted(strip.sides, key=lambda each: (each.ink == "needs_look", each.side)):
        parts += _line(side, scale)
    for side in strip.sides:
        parts += _counts(side, scale)
    parts += [
        f'<path class="mark-fill-stop" fill="{STOP}" d="M{scale.x(at) - 1.3:.1f} {height - 9}h2.6v9h-2.6z"/>'
        for at in strip.pain
    ]
    return (
        f'<svg class="strip strip-{size}" width="{width}" height="{height}" viewBox="0 0 {width} {height}"'
        f' aria-hidden="true" focusable="false">{"".join(parts)}</svg>'
    )


def rail(*, weeks: int, now: int | None, holidays: Iterable[tuple[int, int]], size: str = "small") -> str:
    """The weeks of the term over a column of strips, this week as a bar; holidays are gaps, in weeks from 1.

    >>> rail(weeks=4, now=2, holidays=[(3, 3)]).count("<path")
    2
    """
    width, height = SIZES[size][0], 9
    step = (width - 2 * EDGE - BEHIND["R"]) / weeks
    gaps = {week for first, last in holidays for week in range(first, last + 1)}
    path = "".join(
        f"M{EDGE + (week - 1) * step:.1f} 5.5h{step:.1f}M{EDGE + (week - 1) * step:.1f} 5.5v3"
        for week in range(1, weeks + 1) if week not in gaps
    )
    bar = "" if now is None else (
        f'<path class="mark-fill-accent" fill="{ACCENT}"'
        f' d="M{EDGE + (now - 1) * step:.1f} 1h{step:.1f}v4h-{step:.1f}z"/>'
    )
    return (
        f'<svg class="strip strip-{size}" width="{width}" height="{height}" viewBox="0 0 {width} {height}"'
        f' aria-hidden="true" focusable="false">'
        f'<path class="mark-stroke-soft" fill="none" stroke="{SOFT}" d="{path}"/>{bar}</svg>'
    )


class _Scale:
    """Where a share of the term and a value stand, in pixels."""

    def __init__(self, strip: Strip, width: float, height: float):
        self.width, self.height, self.is_log = width, height, strip.kind == "seconds"
        levels = [self._inner(y) for side in strip.sides for _x, y in (side.line or side.points)]
        levels = levels or [self._inner(side.last) for side in strip.sides if side.last is not None] or [0.0]
        self.middle = (min(levels) + max(levels)) / 2
        self.span = max(SPANS[strip.kind], (max(levels) - min(levels)) * 1.08)

    def _inner(self, value: float) -> float:
        return math.log(max(value, 0.5)) if self.is_log else value

    def x(self, share: float) -> float:
        return EDGE + min(max(share, 0.0), 1.0) * (self.width - 2 * EDGE - BEHIND["R"])

    def y(self, value: float) -> float:
        return self.height / 2 - (self._inner(value) - self.middle) * (self.height - 2 * FLOOR) / self.span

    def inside(self, value: float) -> float:
        return min(max(self.y(value), FLOOR), self.height - FLOOR)


def _line(side: StripSide, scale: _Scale) -> Iterable[str]:
    if len(side.line) < 2:
        return []
    colour, name, hollow, core, solid = _INKS[side.ink]
    path = "M" + "L".join(f"{scale.x(at):.1f} {scale.y(level):.1f}" for at, level in side.line)
    outer = hollow if side.side == "L" else solid
    drawn = [
        f'<path class="mark-stroke-{name}" fill="none" stroke="{colour}" stroke-width="{outer}"'
        f' stroke-linejoin="round" d="{path}"/>'
    ]
    if side.side == "L":
        drawn.append(f'<path class="strip-core" fill="none" stroke="{PAPER}" stroke-width="{core}" d="{path}"/>')
    return drawn


def _counts(side: StripSide, scale: _Scale) -> list[str]:
    drawn = [_mark(side.side, scale.x(at), scale.inside(value)) for at, value in side.points]
    if side.last is not None and not side.points:
        end = max((at for at, _level in side.line), default=1.0)
        drawn.append(_mark(side.side, scale.x(end) + BEHIND[side.side], scale.inside(side.last)))
    return drawn


def _mark(side: str, x: float, y: float) -> str:
    if side == "L":
        return (
            f'<circle class="mark-ring" fill="{PAPER}" stroke="{INK}" stroke-width="1.5"'
            f' cx="{x:.1f}" cy="{y:.1f}" r="2.6"/>'
        )
    return f'<circle class="mark-dot" fill="{INK}" cx="{x:.1f}" cy="{y:.1f}" r="2.9"/>'
