"""Places the words inside the plot (target, cap, bad day, held back) where they hide no result; prints
nothing.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

from progress.drawing.parts import Cap, Chart, Point
from progress.drawing.scales import Scales
from progress.drawing.shown import lines, nudges, shown_points
from progress.drawing.sizes import Size
from progress.drawing.text import Box, Words, best_place

# An arrow "at least" ends 11 px above the edge of a point of radius 4.6 as drawn; so in proportion.
ARROW = 15.6 / 4.6


@dataclass(frozen=True)
class Placed:
    """A point where it is drawn: its side, its place in px."""

    side: str
    x: float
    y: float
    point: Point


def placed_points(chart: Chart, size: Size, scale: Scales) -> list[Placed]:
    """Every point the chart shows, left ones first, nudged to their side of the day."""
    found = []
    for side in sorted(chart.sides, key=lambda side: side.side == "R"):
        points = shown_points(chart, side)
        for point, steps in zip(points, nudges(points, side.side), strict=True):
            found.append(
                Placed(side.side, scale.x(point.on) + steps * size.nudge, scale.y(point.value), point)
            )
    return found


def place_notes(
    chart: Chart, size: Size, scale: Scales, as_of: float, breaks: Sequence[float], taken: Sequence[Box]
) -> tuple[tuple[Words, ...], tuple[tuple[float, float, float, float], ...]]:
    """The words inside the plot, and for each that points at a result a leader (x1, y1, x2, y2).

    ``taken``: boxes already covered by other words; ``as_of`` and ``breaks`` in px. Words that find no place
    off a result are left out: the line or the mark that they name is still there.
    """
    points = placed_points(chart, size, scale)
    results = _point_boxes(points, size)
    upright = _upright(scale, as_of, breaks)
    blocked = [*taken, *results, *upright]
    specks = _specks(chart, scale)
    room = Box(scale.left, scale.top - 6, scale.right, scale.bottom - 2)
    words: list[Words] = []
    leaders: list[tuple[float, float, float, float]] = []

    def put(candidates: list[Words], within: Box = room) -> Words | None:
        best = best_place(candidates, blocked, specks, within)
        if any(best.box.shared(box) for box in results):
            return None
        if any(best.box.shared(box) for box in upright):
            best = replace(best, plate=True)
        words.append(best)
        blocked.append(best.box)
        return best

    if chart.target and chart.target.words:
        start = target_start(chart, scale, breaks)
        texts = _whole_then_short(chart.target.words)
        any(put(_target_places(chart, size, scale, as_of, start, text)) for text in texts)
    if not size.notes:
        return tuple(words), ()
    for cap in chart.caps:
        capped = [p.x for p in points if p.point.capped and cap.from_on <= p.point.on <= cap.to_on]
        if cap.words and capped:
            start, end = cap_span(cap, scale, breaks)
            put(_cap_places(cap, size, scale, sorted(capped)), Box(start, room.top, end, room.bottom))
    for flag, text in (("bad_day", chart.bad_day_words), ("held_back", chart.held_back_words)):
        flagged = [p for p in points if getattr(p.point, flag)]
        if text and flagged:
            last = max(flagged, key=lambda p: p.x)
            placed = put(_point_places(last, text, size))
            leaders += [_leader(last, placed, size)] if placed else []
    return tuple(words), tuple(leaders)


def _upright(scale: Scales, as_of: float, breaks: Sequence[float]) -> list[Box]:
    """The as-of line and the breaks, as boxes that words had better leave free."""
    halves = {as_of: 2.0, **dict.fromkeys(breaks, 10.0)}
    return [Box(x - half, scale.top, x + half, scale.bottom) for x, half in halves.items()]


def _whole_then_short(words: str) -> tuple[str, ...]:
    """Where the whole does not fit, the target without its day."""
    short = words.split(",")[0]
    return (words,) if short == words else (words, short)


def target_start(chart: Chart, scale: Scales, breaks: Sequence[float]) -> float:
    """Where the target's line starts: the day it was set, or the edge of a break within a day of it."""
    set_on = chart.target.set_on if chart.target else None
    if set_on is None or set_on <= chart.starts_on:
        return scale.left
    start = min(scale.x(set_on, 0), scale.right)
    near = [x + 7 for x in breaks if abs(x - start) <= 2 * scale.day_width]
    return max([start if not near else near[0]])


def cap_span(cap: Cap, scale: Scales, breaks: Sequence[float]) -> tuple[float, float]:
    """Where a cap's dotted line runs, cut to the plot and to a break within two days of its end."""
    start, end = max(scale.left, scale.x(cap.from_on, 0)), min(scale.right, scale.x(cap.to_on, 1))
    for x in breaks:
        if abs(x - end) <= 2 * scale.day_width:
            end = x - 7
        if abs(x - start) <= 2 * scale.day_width:
            start = x + 7
    return start, end


def _point_boxes(points: Sequence[Placed], size: Size) -> list[Box]:
    found = []
    for place in points:
        reach = size.radius + 1.5
        up = size.radius * ARROW + 3 if place.point.capped else reach
        found.append(Box(place.x - reach, place.y - max(up, reach), place.x + reach, place.y + reach))
    return found


def _specks(chart: Chart, scale: Scales) -> list[tuple[float, float]]:
    """Points along the drawn lines, about one every 6 px: enough to feel a line under a word."""
    found = []
    for side in chart.sides:
        for line in lines(chart, side):
            for a, b in zip(line, line[1:], strict=False):
                steps = max(1, int((scale.x(b.on) - scale.x(a.on)) / 6))
                # A level weighs twice; a flat band has no edge that a word could cut.
                for pick in ("level", "level", *(("band_low", "band_high") if side.side == "L" else ())):
                    y1, y2 = scale.y(getattr(a, pick)), scale.y(getattr(b, pick))
                    x1, x2 = scale.x(a.on), scale.x(b.on)
                    found += [
                        (x1 + (x2 - x1) * n / steps, y1 + (y2 - y1) * n / steps) for n in range(steps + 1)
                    ]
    return found


def _target_places(
    chart: Chart, size: Size, scale: Scales, as_of: float, start: float, text: str
) -> list[Words]:
    """Along the target's line, above it before below it, from its start on; last, after the as-of line."""
    y = scale.y(chart.target.value)
    found = []
    for drop in (-size.text * 0.45, size.text * 1.1):
        steps = int(max(0, as_of - start) // 20)
        found += [Words(text, start + 6 + 20 * n, y + drop, size.text) for n in range(steps + 1)]
        found.append(Words(text, scale.right, y + drop, size.text, anchor="end"))
    return found


def _cap_places(cap: Cap, size: Size, scale: Scales, capped: list[float]) -> list[Words]:
    y, middle = scale.y(cap.value), sum(capped) / len(capped)
    found = [
        Words(
            cap.words, capped[0] + size.radius * 4.6, y - size.text * 1.7, size.text, "soft", "end", "italic"
        )
    ]
    for drop in (-1.75, 1.35, -2.8, 2.4, -4, 4, 6):
        for shift in (0, -60, 60, -120, 120, -180, 180):
            place = (middle + shift, y + drop * size.text)
            found.append(Words(cap.words, *place, size.text, "soft", "middle", "italic"))
    return found


def _point_places(place: Placed, text: str, size: Size) -> list[Words]:
    """Around a result: below right of it first, then the other corners, then further out."""
    found = []
    for out in (1, 1.6, 2.4, 3.4):
        for down in (1.9 * out, -1.15 * out):
            for anchor, right in (("start", 1.18), ("end", -1.18)):
                x, y = place.x + right * size.text * out, place.y + down * size.text
                found.append(Words(text, x, y, size.text, "soft", anchor, "italic", plate=True))
    # Among many results no near corner is free: then further off, the nearest first.
    steps = sorted(itertools.product(range(-9, 10), range(-14, 15)), key=lambda s: abs(s[0]) + 2 * abs(s[1]))
    for across, down in steps:
        x, y = place.x + 3 * size.text * across, place.y + 0.8 * size.text * down
        if across:
            anchor = "start" if across > 0 else "end"
            found.append(Words(text, x, y, size.text, "soft", anchor, "italic", plate=True))
    return found


def _leader(place: Placed, words: Words, size: Size) -> tuple[float, float, float, float]:
    """From the edge of the point to the near corner of its words."""
    box = words.box
    x2 = box.left - 4 if words.anchor == "start" else box.right + 4
    y2 = (box.top + box.bottom) / 2 if box.top > place.y else box.bottom - 3
    far = max(1.0, ((x2 - place.x) ** 2 + (y2 - place.y) ** 2) ** 0.5)
    part = min(1.0, (size.radius + 2) / far)
    return place.x + (x2 - place.x) * part, place.y + (y2 - place.y) * part, x2, y2
