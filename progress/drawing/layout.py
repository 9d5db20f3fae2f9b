"""Finds the place of every line and word of a chart, so that no words cover each other; prints nothing."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

from progress.drawing.ends import Ending, as_of_x, endings
from progress.drawing.notes import place_notes
from progress.drawing.parts import Chart, ChartSide
from progress.drawing.rail import Tick, on_rail, place_events, rail_gaps, rail_words
from progress.drawing.scales import Scales, break_x, header_height, scales, ticks
from progress.drawing.shown import in_term
from progress.drawing.sizes import SIZES, Size, row_height
from progress.drawing.text import Box, Words, text_width, wrap
from studio.voice import PLAIN, Voice

# Half of the 14 px of paper at a break, and the distance of its words from its middle (as drawn).
BREAK_HALF, _BREAK_WORDS = 7.0, 12.0


@dataclass(frozen=True)
class Since:
    """A "level since" line at ``y``: dotted from ``dotted`` to ``solid``, solid to ``end``; its words on
    a plate.
    """

    y: float
    dotted: float
    solid: float
    end: float
    words: Words


@dataclass(frozen=True)
class Layout:
    """A whole chart in px, ready to be printed."""

    chart: Chart
    size: Size
    scale: Scales
    height: float
    rail: float
    as_of: float
    header: tuple[Words, ...]
    breaks: tuple[float, ...]
    axis: tuple[Words, ...]
    rail_words: tuple[Words, ...]
    gaps: tuple[tuple[float, float], ...]
    events: tuple[Tick, ...]
    since: tuple[Since, ...]
    notes: tuple[Words, ...]
    note_leaders: tuple[tuple[float, float, float, float], ...]
    endings: tuple[Ending, ...]

    def words(self) -> list[Words]:
        """Every line of words on the chart."""
        found = [*self.header, *self.axis, *self.rail_words, *self.notes]
        found += [event.words for event in self.events] + [since.words for since in self.since]
        found += [ending.band_words for ending in self.endings if ending.band_words]
        return found + [words for ending in self.endings for words in ending.words]


def layout(chart: Chart, size: str = "large", voice: Voice = PLAIN) -> Layout:
    """Lay out a chart at one of the named `SIZES` (KeyError for another).

    Words are measured with `text_width`; rows are added above the plot and above the rail as words need
    them.
    """
    paper = SIZES[size]
    since_sides = _since_sides(chart, paper)
    flat = scales(chart, paper, since_rows=len(since_sides))
    breaks = tuple(break_x(chart, flat, item.on) for item in chart.breaks if in_term(chart, item.on))
    header, rows = _header(chart, paper, flat, breaks)
    scale = scales(chart, paper, since_rows=len(since_sides), header_rows=rows)
    placed, event_rows = place_events(chart, paper, scale)
    rail = scale.bottom + paper.rail_gap + max(0, event_rows - 1) * row_height(paper)
    events = tuple(on_rail(tick, rail, paper) for tick in placed)
    since = _since(paper, scale, since_sides, as_of_x(chart, scale), breaks)
    below = rail_words(chart, paper, scale, rail, voice)
    height = max(words.box.bottom for words in below) + 4
    as_of, ends = as_of_x(chart, scale), endings(chart, paper, scale, rail)
    taken = [words.box for words in (*header, *(item.words for item in since))]
    taken += [Box(e.bracket[0] - 4, e.bracket[1], e.bracket[0] + 4, e.bracket[2]) for e in ends if e.bracket]
    notes, note_leaders = place_notes(chart, paper, scale, as_of, breaks, taken)
    return Layout(
        chart, paper, scale, height, rail, as_of, header, breaks, _axis(chart, paper, scale), below,
        rail_gaps(chart, scale), events, since, notes, note_leaders, ends,
    )  # fmt: skip


def _header(chart: Chart, size: Size, scale: Scales, breaks: tuple[float, ...]) -> tuple[tuple[Words, ...], int]:
    """Unit, protocol words and the as-of words above the plot, in as many rows as they need."""
    as_of = as_of_x(chart, scale)
    first = size.header * 0.58 if size.notes else header_height(chart, size) - 11
    wanted = [(chart.unit, 0.0, "start", scale.left + 160, "soft")] if chart.unit and size.unit else []
    if size.notes:
        shown = [item for item in chart.breaks if in_term(chart, item.on)]
        edges = [scale.left if size.unit or size.name == "phone" else 0.0, *breaks, size.width]
        for index, item in enumerate(shown, start=1):
            room = edges[index] - edges[index - 1] - 2 * _BREAK_WORDS
            wanted.append((item.old_words, edges[index] - _BREAK_WORDS, "end", max(room, 110), "soft"))
            room = edges[index + 1] - edges[index] - 2 * _BREAK_WORDS
            wanted.append((item.new_words, edges[index] + _BREAK_WORDS, "start", max(room, 110), "ink"))
        wanted.append((chart.as_of_words, as_of + 6.5, "start", 400, "ink"))
    placed: list[Words] = []
    for text, x, anchor, room, ink in wanted:
        broken = wrap(text, room, size.text)
        x, anchor = _kept_inside(broken, x, anchor, size, scale.left if size.name == "phone" else 0.0)
        placed += _in_free_rows(broken, x, anchor, ink, size, placed)
    rows = 1 + max((round(-words.y / row_height(size)) for words in placed), default=0)
    down = first + (rows - 1) * row_height(size)
    moved = tuple(
        Words(w.text, w.x, down + w.y, w.size, w.ink, w.anchor, plate=bool(breaks) and w.ink != "none") for w in placed
    )
    return moved, rows


def _kept_inside(broken: tuple[str, ...], x: float, anchor: str, size: Size, left: float) -> tuple[float, str]:
    """``left``: where words may begin; a drawing that is scrolled beside its numbers has nothing left of its plot."""
    widest = max((text_width(line, size.text) for line in broken), default=0)
    if anchor == "end" and x - widest < left:
        return left, "start"
    if anchor == "start" and x + widest > size.width:
        return (x - 13, "end") if x - 13 - widest > 0 else (max(0.0, size.width - widest), "start")
    return x, anchor


def _in_free_rows(
    broken: tuple[str, ...], x: float, anchor: str, ink: str, size: Size, placed: list[Words]
) -> list[Words]:
    """The lines in the lowest rows that are free; row 0 is the lowest, baselines count upwards from it."""
    for row in itertools.count():
        tall = len(broken) - 1
        found = [
            Words(text, x, -(row + tall - index) * row_height(size), size.text, ink, anchor)
            for index, text in enumerate(broken)
        ]
        if not any(new.box.grown(3).shared(old.box) for new in found for old in placed):
            return found
    raise AssertionError("rows never run out")


def _axis(chart: Chart, size: Size, scale: Scales) -> tuple[Words, ...]:
    return tuple(
        Words(text, scale.left - 10, scale.y(value) + size.text * 0.33, size.text, "soft", "end")
        for value, text in ticks(chart, scale)
    )


def _since_sides(chart: Chart, size: Size) -> list[ChartSide]:
    if not size.notes:
        return []
    return [s for s in chart.sides if s.level_since and s.level_since.solid_from <= min(chart.ends_on, chart.as_of)]


def since_foot(size: Size) -> float:
    """Px from the foot of the plot up to the lowest "level since" line."""
    return size.plot_height * 0.072


def _since(
    size: Size, scale: Scales, sides: list[ChartSide], end: float, breaks: tuple[float, ...]
) -> tuple[Since, ...]:
    """The "level since" lines, one row each, their words clear of the breaks where the line is long
    enough.
    """
    found = []
    for row, side in enumerate(sides):
        since = side.level_since
        y = round(scale.bottom - since_foot(size)) + 0.5 - row * row_height(size)
        solid = max(scale.left, scale.x(since.solid_from, 0))
        dotted = max(scale.left, scale.x(since.dotted_from, 0)) if since.dotted_from else solid
        wide = text_width(since.words, size.text)
        if end - solid >= wide + 2.6 * size.text:
            x, anchor = end - min(3.6 * size.text, (end - solid - wide) / 2), "end"
        elif end - dotted >= wide + 2 * size.text:
            x, anchor = (end + dotted) / 2, "middle"
        elif dotted - 8 - wide >= scale.left:
            x, anchor = dotted - 8, "end"
        else:
            x, anchor = end + 10, "start"
        for middle in breaks:
            if anchor != "start" and x - wide - 8 < middle + BREAK_HALF and middle - BREAK_HALF < x + 8:
                x, anchor = min(end - 8, middle + BREAK_HALF + 12 + wide), "end"
        words = Words(since.words, x, y + size.text * 0.33, size.text, "ink", anchor, plate=True)
        found.append(Since(y, min(dotted, solid), solid, end, words))
    return tuple(found)
