"""Places what stands at the end of the lines: bracket, leader, side mark, words and verdict mark; prints
nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

from progress.drawing.parts import Chart, ChartSide, EndLabel
from progress.drawing.scales import Scales
from progress.drawing.shown import lines, shown_points, value_ends
from progress.drawing.sizes import Size
from progress.drawing.text import Words, push_apart

# How far right of the as-of line the bracket stands and the leader starts.
_BRACKET, _LEADER = 12.4, 19.6


@dataclass(frozen=True)
class Ending:
    """What stands at the end of a side's line: bracket, leader, side mark, words, what its band is and the verdict's
    mark.
    """

    side: str
    label: EndLabel
    mark: tuple[float, float]
    words: tuple[Words, ...]
    band_words: Words | None = None
    verdict_at: tuple[float, float] | None = None
    bracket: tuple[float, float, float] | None = None  # x, top, bottom
    leader: tuple[tuple[float, float], ...] = ()


def as_of_x(chart: Chart, scale: Scales) -> float:
    """Px of the as-of line; a day after the term's end stands at its end, a day before it at its start."""
    return scale.x(min(max(chart.as_of, chart.starts_on), chart.ends_on))


def endings(chart: Chart, size: Size, scale: Scales, rail: float) -> tuple[Ending, ...]:
    """The end labels of all sides: at their lines' ends and pushed apart, or stacked beside the plot, as
    the size says. ``rail``: px of the time rail, below which no label should reach.
    """
    sides = [side for side in chart.sides if side.end]
    if size.labels == "none" or not sides:
        return ()
    last = {id(side): _last_level(chart, side) for side in sides}
    default = (scale.top + scale.bottom) / 2
    wanted = [scale.y(last[id(side)][0]) if last[id(side)] else default for side in sides]
    if size.labels == "stack":
        order = sorted(range(len(sides)), key=lambda index: wanted[index])
        top = scale.top + size.label_text * (1.2 if size.print else 0.8)
        return tuple(_ending(sides[i], size, scale, top + rank * size.block) for rank, i in enumerate(order))
    places = push_apart(wanted, size.block, scale.top - 10, rail - size.block * 0.35)
    brackets = _brackets(size, scale, as_of_x(chart, scale), [last[id(side)] for side in sides])
    starts = [_line_end(chart, size, scale, side) for side in sides]
    return tuple(
        _ending(side, size, scale, place, bracket, (start, level))
        for side, place, bracket, start, level in zip(sides, places, brackets, starts, wanted, strict=True)
    )


def _line_end(chart: Chart, size: Size, scale: Scales, side: ChartSide) -> float:
    """Where a leader starts: where the line ends that rests, else right of the as-of line and its bracket."""
    drawn = lines(chart, side)
    if side.end and side.end.state and drawn:
        return scale.x(drawn[-1][-1].on) + 3 * size.radius
    return as_of_x(chart, scale) + _LEADER * size.radius / 4.6


def _last_level(chart: Chart, side: ChartSide) -> tuple[float, float | None, float | None] | None:
    """Level and its range at the end of the line; the last result and no range where there is no line."""
    drawn = lines(chart, side)
    if drawn:
        knot, (low, high) = drawn[-1][-1], value_ends(chart)
        return knot.level, max(low, knot.level_low), min(high, knot.level_high)
    points = shown_points(chart, side)
    return (points[-1].value, None, None) if points else None


def _brackets(
    size: Size, scale: Scales, as_of: float, ranges: list
) -> list[tuple[float, float, float] | None]:
    """Beside the as-of line; a bracket that would touch the one before stands one step further right."""
    found: list[tuple[float, float, float] | None] = []
    for item in ranges:
        if item is None or item[1] is None:
            found.append(None)
            continue
        top, bottom = scale.y(item[2]), scale.y(item[1])
        x = as_of + _BRACKET * size.radius / 4.6
        while any(b and b[0] == x and b[1] < bottom + 4 and top < b[2] + 4 for b in found):
            x += 10
        found.append((x, max(top, scale.top), min(bottom, scale.bottom)))
    return found


def _ending(
    side: ChartSide,
    size: Size,
    scale: Scales,
    y: float,
    bracket: tuple[float, float, float] | None = None,
    start: tuple[float, float] | None = None,
) -> Ending:
    """One end label with its mark's middle at ``y``; ``start``: where its leader begins."""
    end, mark_x = side.end, scale.right + size.mark
    x = mark_x + size.label_text * 0.68
    words = [Words(end.level, x, y + size.label_text * 0.34, size.label_text, "ink", weight="semibold")]
    verdict_at, line = None, y + size.label_text * 0.34
    said = end.state or ("" if size.verdicts else end.likely)
    if said and (size.labels == "leaders" or size.verdicts):
        line += 23 if size.verdicts else size.text * 1.4
        words.append(Words(said, x, line, size.text + (1 if size.verdicts else 0), "soft"))
    if size.verdicts and end.verdict_word:
        line += 24 if size.labels == "leaders" else 22.5
        verdict_at = (x, line - 13)
        words.append(_verdict_words(end, x + (27.5 if size.labels == "leaders" else 25.5), line))
    band = None
    if size.verdicts and size.labels == "leaders" and end.band:
        band = Words(end.band, x, line + 22, size.text, "soft")
    leader = _leader(bracket, start, mark_x, y, scale)
    return Ending(side.side, end, (mark_x, y), tuple(words), band, verdict_at, bracket, leader)


def _verdict_words(end: EndLabel, x: float, y: float) -> Words:
    needs_someone = end.verdict in ("stalled", "slipping", "dropped")
    ink = "ink" if needs_someone else "accent" if end.verdict in ("gaining", "at_target") else "soft"
    return Words(end.verdict_word, x, y, 17, ink, weight="semibold" if needs_someone else "regular")


def _leader(
    bracket, start: tuple[float, float] | None, mark_x: float, y: float, scale: Scales
) -> tuple[tuple[float, float], ...]:
    if bracket is None or start is None:
        return ()
    (start, level), end = start, mark_x - 9
    level = min(max(level, scale.top), scale.bottom)
    if end - start < 4:
        start = end - 4
    if abs(level - y) < 8:  # noqa: PLR2004
        return ((start, level), (end, y))
    turn = max(start, end - 34)
    return ((start, level), (turn, level), (max(turn, end - 8), y), (end, y))
