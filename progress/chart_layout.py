"""Finds the place of every line and word of a chart, so that no words cover each other; prints nothing."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from datetime import date, timedelta

from progress.chart_notes import place_notes
from progress.chart_parts import Chart, ChartSide, EndLabel, Event
from progress.chart_scales import SIZES, Scales, Size, in_term, lines, row_height, scales, shown_points, ticks
from progress.chart_text import Box, Words, push_apart, text_width, wrap
from progress.voice import PLAIN, Voice

_DAY = timedelta(days=1)
# Half of the 14 px of paper at a break, and the distance of its words from its middle (look/notes.md section 5).
BREAK_HALF, _BREAK_WORDS = 7.0, 12.0
# How far right of the as-of line the bracket stands and the leader starts.
_BRACKET, _LEADER = 12.4, 19.6


@dataclass(frozen=True)
class Since:
    """A "level since" line at ``y``: dotted from ``dotted`` to ``solid``, solid to ``end``; its words on a plate."""

    y: float
    dotted: float
    solid: float
    end: float
    words: Words


@dataclass(frozen=True)
class Tick:
    """An event on the rail: its place, its top, and its words (or a holiday's name, without a tick)."""

    kind: str
    x: float
    top: float
    words: Words


@dataclass(frozen=True)
class Ending:
    """What stands at the end of a side's line: bracket, leader, side mark, words and the verdict's mark."""

    side: str
    label: EndLabel
    mark: tuple[float, float]
    words: tuple[Words, ...]
    verdict_at: tuple[float, float] | None = None
    bracket: tuple[float, float, float] | None = None  # x, top, bottom
    leader: tuple[tuple[float, float], ...] = ()


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
        return found + [words for ending in self.endings for words in ending.words]


def layout(chart: Chart, size: str = "large", voice: Voice = PLAIN) -> Layout:
    """Lay out a chart at one of the named `SIZES` (KeyError for another).

    Words are measured with `text_width`; rows are added above the plot and above the rail as words need them.
    """
    paper = SIZES[size]
    since_sides = _since_sides(chart, paper)
    flat = scales(chart, paper, since_rows=len(since_sides))
    breaks = tuple(_break_x(chart, flat, item.on) for item in chart.breaks if in_term(chart, item.on))
    header, rows = _header(chart, paper, flat, breaks)
    scale = scales(chart, paper, since_rows=len(since_sides), header_rows=rows)
    gaps = _gaps(chart, scale)
    events, event_rows = _events(chart, paper, scale, gaps)
    rail = scale.bottom + paper.rail_gap + max(0, event_rows - 1) * row_height(paper)
    events = tuple(_on_rail(event, rail, paper) for event in events)
    since = _since(chart, paper, scale, since_sides)
    rail_words = _rail_words(chart, paper, scale, rail, voice)
    note = _note(chart, paper, scale, rail)
    height = max(words.box.bottom for words in (*rail_words, *note)) + 4
    as_of, endings = _as_of_x(chart, scale), _endings(chart, paper, scale, rail)
    taken = [words.box for words in (*header, *(item.words for item in since))]
    taken += [Box(e.bracket[0] - 4, e.bracket[1], e.bracket[0] + 4, e.bracket[2]) for e in endings if e.bracket]
    notes, note_leaders = place_notes(chart, paper, scale, as_of, breaks, taken)
    return Layout(
        chart, paper, scale, height, rail, as_of, header, breaks, _axis(chart, paper, scale), rail_words + note,
        gaps, events, since, notes, note_leaders, endings,
    )  # fmt: skip


def _as_of_x(chart: Chart, scale: Scales) -> float:
    """The as-of line; a day after the term's end stands at its end, a day before it at its start."""
    return scale.x(min(max(chart.as_of, chart.starts_on), chart.ends_on))


def _break_x(chart: Chart, scale: Scales, on: date) -> float:
    """Half way between the last result before and the first one of the new protocol, at most a day early."""
    days = [p.on for side in chart.sides for p in shown_points(chart, side)]
    before, after = [d for d in days if d < on], [d for d in days if d >= on]
    start = scale.x(on, 0)
    if not before or not after:
        return start
    return max((scale.x(max(before)) + scale.x(min(after))) / 2, start - scale.day_width)


def _header(chart: Chart, size: Size, scale: Scales, breaks: tuple[float, ...]) -> tuple[tuple[Words, ...], int]:
    """Unit, protocol words and the as-of words above the plot, in as many rows as they need."""
    as_of = _as_of_x(chart, scale)
    first = size.header - size.text * 0.95 if size.notes else size.header - 11
    wanted = [(chart.unit, 0.0, "start", scale.left + 160, "soft")] if chart.unit else []
    if size.notes:
        shown = [item for item in chart.breaks if in_term(chart, item.on)]
        edges = [scale.left, *breaks, size.width]
        for index, item in enumerate(shown, start=1):
            room = edges[index] - edges[index - 1] - 2 * _BREAK_WORDS
            wanted.append((item.old_words, edges[index] - _BREAK_WORDS, "end", max(room, 110), "soft"))
            room = edges[index + 1] - edges[index] - 2 * _BREAK_WORDS
            wanted.append((item.new_words, edges[index] + _BREAK_WORDS, "start", max(room, 110), "ink"))
        wanted.append((chart.as_of_words, as_of + 6.5, "start", 400, "ink"))
    placed: list[Words] = []
    for text, x, anchor, room, ink in wanted:
        broken = wrap(text, room, size.text)
        x, anchor = _kept_inside(broken, x, anchor, size)
        placed += _in_free_rows(broken, x, anchor, ink, size, placed)
    rows = 1 + max((round(-words.y / row_height(size)) for words in placed), default=0)
    down = first + (rows - 1) * row_height(size)
    moved = tuple(
        Words(w.text, w.x, down + w.y, w.size, w.ink, w.anchor, plate=bool(breaks) and w.ink != "none")
        for w in placed
    )
    return moved, rows


def _kept_inside(broken: tuple[str, ...], x: float, anchor: str, size: Size) -> tuple[float, str]:
    widest = max((text_width(line, size.text) for line in broken), default=0)
    if anchor == "end" and x - widest < 0:
        return 0.0, "start"
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


def _gaps(chart: Chart, scale: Scales) -> tuple[tuple[float, float], ...]:
    """Where the rail is open: the holidays, cut to the plot."""
    found = []
    for holiday in chart.holidays:
        start, end = scale.x(holiday.from_on, 0), scale.x(holiday.to_on + _DAY, 0)
        start, end = max(start, scale.left), min(end, scale.right)
        if start < end:
            found.append((start, end))
    return tuple(sorted(found))


def _rail_words(chart: Chart, size: Size, scale: Scales, rail: float, voice: Voice) -> tuple[Words, ...]:
    """Dates of the Mondays and week numbers under the rail, and the holidays' names inside it."""
    week_width = 7 * scale.day_width
    date_y, week_y = (rail + size.text * 1.3, rail + size.text * 2.57) if size.dates else (0, rail + size.text * 1.35)
    first = voice.gettext("week")
    found, month = [], None
    if not size.dates or text_width(f"{first} 1", size.text) > week_width - 6:
        spelled = "1"
        if size.dates and text_width(first, size.text) + 6 < scale.left:
            found.append(Words(first, 0, week_y, size.text))
    else:
        spelled = f"{first} 1"
    every = _week_step(size, week_width, voice)
    for week in range(0, scale.weeks, every):
        monday = scale.monday + 7 * week * _DAY
        x = scale.x(monday, 0) + 1
        found.append(Words(spelled if week == 0 else str(week + 1), x, week_y, size.text))
        if size.dates:
            named = monday.month != month
            text = _short_day(monday, voice) if named else str(monday.day)
            found.append(Words(text, x, date_y, size.text, "soft"))
            month = monday.month
    return tuple(found)


def _week_step(size: Size, week_width: float, voice: Voice) -> int:
    widest = 1.5 + max(text_width(_short_day(date(2026, month, 28), voice), size.text) for month in range(1, 13))
    needed = widest + 3 if size.dates else text_width("00", size.text) + 4
    return max(size.weeks_every, -int(-needed // week_width))


def _short_day(on: date, voice: Voice) -> str:
    say = voice.gettext
    months = (
        say("Jan"), say("Feb"), say("Mar"), say("Apr"), say("May"), say("Jun"),
        say("Jul"), say("Aug"), say("Sep"), say("Oct"), say("Nov"), say("Dec"),
    )  # fmt: skip
    return say("%(day)s %(month)s") % {"day": on.day, "month": months[on.month - 1]}


def _note(chart: Chart, size: Size, scale: Scales, rail: float) -> tuple[Words, ...]:
    if not chart.note or not size.notes:
        return ()
    broken = wrap(chart.note, size.width - scale.left, size.text)
    y = rail + size.text * 5.05
    return tuple(
        Words(line, scale.left, y + index * row_height(size), size.text, "soft") for index, line in enumerate(broken)
    )


def _events(
    chart: Chart, size: Size, scale: Scales, gaps: tuple[tuple[float, float], ...]
) -> tuple[list[Tick], int]:
    """Events and holiday names above the rail; rows count upwards from it (``top`` holds the row until then)."""
    if not size.notes:
        return [], 0
    found: list[Tick] = []
    shown = sorted((e for e in chart.events if in_term(chart, e.on)), key=lambda event: event.on)
    stems = [scale.x(event.on) for event in shown]
    for holiday, (start, end) in zip(_shown_holidays(chart, scale), gaps, strict=True):
        inside = text_width(holiday.name, size.text - 1) + 8 <= end - start
        middle = Words(holiday.name, (start + end) / 2, 0, size.text - 1, "soft", "middle", "italic")
        found.append(Tick("gap" if inside else "name", (start + end) / 2, 0, middle))
    placed = [tick.words for tick in found if tick.kind == "name"]
    for event, x in zip(shown, stems, strict=True):
        words, row = _event_words(event, x, size, placed, [other for other in stems if other != x])
        placed.append(words)
        found.append(Tick(event.kind, x, row, words))
    rows = 1 + max((int(tick.top) for tick in found if tick.kind != "gap"), default=-1)
    return found, rows


def _shown_holidays(chart: Chart, scale: Scales) -> list:
    inside = [h for h in chart.holidays if scale.x(h.to_on + _DAY, 0) > scale.left and scale.x(h.from_on, 0) < scale.right]
    return sorted(inside, key=lambda holiday: holiday.from_on)


def _event_words(event: Event, x: float, size: Size, placed: list[Words], stems: list[float]) -> tuple[Words, int]:
    """Right of the tick when there is room, else left of it, else a row higher."""
    ink = "stop" if event.kind == "pain" else "ink"
    for row in itertools.count():
        for anchor, away in (("start", 10), ("end", -10)):
            words = Words(event.words, x + away, -row * row_height(size), size.text, ink, anchor, plate=True)
            box = words.box.grown(2)
            crossed = any(box.left < stem < box.right for stem in stems)
            if box.left < 0 or box.right > size.width or any(box.shared(old.box) for old in placed):
                continue
            # In the lowest row every neighbour's tick stands in the way; higher up only the plate would cut it.
            if not crossed or row > len(stems):
                return words, row
        if row > len(stems) + 2:
            words = Words(event.words, 0, -row * row_height(size), size.text, ink, plate=True)
            return words, row
    raise AssertionError("rows never run out")


def _on_rail(tick: Tick, rail: float, size: Size) -> Tick:
    """The same tick at its height: words stand above the rail, a holiday's name inside it."""
    w, tall = tick.words, size.text * 1.73
    if tick.kind == "gap":
        y = rail + size.text * 0.28
    else:
        y = rail - size.text * 0.73 + w.y
    words = Words(w.text, w.x, y, w.size, w.ink, w.anchor, w.weight, w.plate)
    return Tick(tick.kind, tick.x, rail - tall + w.y, words)


def _since_sides(chart: Chart, size: Size) -> list[ChartSide]:
    if not size.notes:
        return []
    return [s for s in chart.sides if s.level_since and in_term(chart, s.level_since.solid_from)]


def since_foot(size: Size) -> float:
    """Px from the foot of the plot up to the lowest "level since" line."""
    return size.plot_height * 0.072


def _since(chart: Chart, size: Size, scale: Scales, sides: list[ChartSide]) -> tuple[Since, ...]:
    found = []
    for row, side in enumerate(sides):
        since = side.level_since
        y = round(scale.bottom - since_foot(size)) + 0.5 - row * row_height(size)
        end, solid = _as_of_x(chart, scale), scale.x(since.solid_from, 0)
        dotted = max(scale.left, scale.x(since.dotted_from, 0)) if since.dotted_from else solid
        wide = text_width(since.words, size.text)
        if end - solid >= wide + 5 * size.text:
            x, anchor = end - 3.6 * size.text, "end"
        elif end - dotted >= wide + 2 * size.text:
            x, anchor = (end + dotted) / 2, "middle"
        elif dotted - 8 - wide >= scale.left:
            x, anchor = dotted - 8, "end"
        else:
            x, anchor = end + 10, "start"
        words = Words(since.words, x, y + size.text * 0.33, size.text, "ink", anchor, plate=True)
        found.append(Since(y, min(dotted, solid), solid, end, words))
    return tuple(found)


def _endings(chart: Chart, size: Size, scale: Scales, rail: float) -> tuple[Ending, ...]:
    sides = [side for side in chart.sides if side.end]
    if size.labels == "none" or not sides:
        return ()
    last = {id(side): _last_level(chart, side) for side in sides}
    default = (scale.top + scale.bottom) / 2
    wanted = [scale.y(last[id(side)][0]) if last[id(side)] else default for side in sides]
    if size.labels == "stack":
        order = sorted(range(len(sides)), key=lambda index: wanted[index])
        top = scale.top + size.label_text * 0.8
        return tuple(_ending(sides[i], size, scale, top + rank * size.block) for rank, i in enumerate(order))
    places = push_apart(wanted, size.block, scale.top - 10, rail - size.block * 0.35)
    brackets = _brackets(scale, _as_of_x(chart, scale), [last[id(side)] for side in sides])
    return tuple(
        _ending(side, size, scale, place, bracket, level)
        for side, place, bracket, level in zip(sides, places, brackets, wanted, strict=True)
    )


def _last_level(chart: Chart, side: ChartSide) -> tuple[float, float | None, float | None] | None:
    """Level and its range at the end of the line; the last result and no range where there is no line."""
    drawn = lines(chart, side)
    if drawn:
        knot = drawn[-1][-1]
        return knot.level, knot.level_low, knot.level_high
    points = shown_points(chart, side)
    return (points[-1].value, None, None) if points else None


def _brackets(scale: Scales, as_of: float, ranges: list) -> list[tuple[float, float, float] | None]:
    """Beside the as-of line; a bracket that would touch the one before stands one step further right."""
    found: list[tuple[float, float, float] | None] = []
    for item in ranges:
        if item is None or item[1] is None:
            found.append(None)
            continue
        top, bottom = scale.y(item[2]), scale.y(item[1])
        step = 0
        while any(b and b[0] == as_of + _BRACKET + step and b[1] < bottom + 4 and top < b[2] + 4 for b in found):
            step += 10
        found.append((as_of + _BRACKET + step, max(top, scale.top), min(bottom, scale.bottom)))
    return found


def _ending(
    side: ChartSide,
    size: Size,
    scale: Scales,
    y: float,
    bracket: tuple[float, float, float] | None = None,
    level: float | None = None,
) -> Ending:
    """One end label with its mark's middle at ``y``."""
    end, mark_x = side.end, scale.right + size.mark
    x = mark_x + size.label_text * 0.68
    words = [Words(end.level, x, y + size.label_text * 0.34, size.label_text, "ink", weight="semibold")]
    verdict_at, line = None, y + size.label_text * 0.34
    if size.labels == "leaders" and end.likely:
        line += 22 if size.verdicts else size.text * 1.4
        words.append(Words(end.likely, x, line, size.text + (1 if size.verdicts else 0), "soft"))
    if size.verdicts and end.verdict_word:
        line += 24 if size.labels == "leaders" else 22.5
        verdict_at = (x, line - 13)
        words.append(_verdict_words(end, x + (27.5 if size.labels == "leaders" else 25.5), line))
    if size.verdicts and size.labels == "leaders" and end.rate:
        line += 23
        words.append(Words(end.rate, x, line, 16))
    return Ending(
        side.side, end, (mark_x, y), tuple(words), verdict_at, bracket, _leader(bracket, level, mark_x, y, scale)
    )


def _verdict_words(end: EndLabel, x: float, y: float) -> Words:
    needs_someone = end.verdict in ("stalled", "slipping")
    ink = "ink" if needs_someone else "accent" if end.verdict in ("gaining", "at_target") else "soft"
    return Words(end.verdict_word, x, y, 17, ink, weight="semibold" if needs_someone else "regular")


def _leader(bracket, level: float | None, mark_x: float, y: float, scale: Scales) -> tuple[tuple[float, float], ...]:
    if bracket is None or level is None:
        return ()
    start, end = bracket[0] + _LEADER - _BRACKET, mark_x - 9
    level = min(max(level, scale.top), scale.bottom)
    if end - start < 4:
        start = end - 4
    if bracket[1] <= y <= bracket[2]:
        return ((start, y), (end, y))
    turn = max(start, end - 34)
    return ((start, level), (turn, level), (max(turn, end - 8), y), (end, y))
