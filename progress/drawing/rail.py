"""Places the time rail: dates, week numbers, holidays as gaps, events as ticks with their words; prints
nothing.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from progress.drawing.parts import Chart, Event, Holiday
from progress.drawing.scales import Scales
from progress.drawing.shown import in_term
from progress.drawing.sizes import Size, row_height
from progress.drawing.text import Words, text_width
from studio.voice import Voice

_DAY = timedelta(days=1)


@dataclass(frozen=True)
class Tick:
    """Something on the rail: kind "pain" or "growth" (a tick up to ``top``), "name" or "gap" (a
    holiday's name above the rail or inside it, no tick). ``row``: the row of its words above the rail, 0
    the lowest.
    """

    kind: str
    x: float
    row: int
    words: Words
    top: float = 0.0


def rail_gaps(chart: Chart, scale: Scales) -> tuple[tuple[float, float], ...]:
    """Where the rail is open: the holidays, cut to the plot."""
    found = []
    for holiday in chart.holidays:
        start, end = scale.x(holiday.from_on, 0), scale.x(holiday.to_on + _DAY, 0)
        start, end = max(start, scale.left), min(end, scale.right)
        if start < end:
            found.append((start, end))
    return tuple(sorted(found))


def rail_words(chart: Chart, size: Size, scale: Scales, rail: float, voice: Voice) -> tuple[Words, ...]:
    """Dates of the Mondays and week numbers under the rail, and the holidays' names inside it."""
    week_width = 7 * scale.day_width
    date_y, week_y = (
        (rail + size.text * 1.3, rail + size.text * 2.57) if size.dates else (0, rail + size.text * 1.35)
    )
    first = voice.gettext("week")
    found = []
    if not size.dates or text_width(f"{first} 1", size.text) > week_width - 6:
        spelled = "1"
        if size.dates and text_width(first, size.text) + 6 < scale.left:
            found.append(Words(first, 0, week_y, size.text))
    else:
        spelled = f"{first} 1"
    for every in range(size.weeks_every, scale.weeks + 1):
        weeks = [Words(spelled, scale.left + 1, week_y, size.text)]
        weeks += [
            _under(scale, week, str(week + 1), week_y, size) for week in range(every, scale.weeks, every)
        ]
        dates = _dates(scale, every, date_y, size, voice) if size.dates else []
        rows = (*itertools.pairwise(weeks), *itertools.pairwise(dates))
        if all(a.box.right + 2 < b.box.left for a, b in rows):
            break
    return (*found, *dates, *weeks)


def _under(scale: Scales, week: int, text: str, y: float, size: Size, ink: str = "ink") -> Words:
    return Words(text, scale.x(scale.monday + 7 * week * _DAY, 0) + 1, y, size.text, ink)


def _dates(scale: Scales, every: int, y: float, size: Size, voice: Voice) -> list[Words]:
    """The Mondays, the month only where it changes."""
    found, month = [], None
    for week in range(0, scale.weeks, every):
        monday = scale.monday + 7 * week * _DAY
        text = str(monday.day) if monday.month == month else _short_day(monday, voice)
        found.append(_under(scale, week, text, y, size, "soft"))
        month = monday.month
    return found


def _short_day(on: date, voice: Voice) -> str:
    say = voice.gettext
    months = (
        say("Jan"), say("Feb"), say("Mar"), say("Apr"), say("May"), say("Jun"),
        say("Jul"), say("Aug"), say("Sep"), say("Oct"), say("Nov"), say("Dec"),
    )  # fmt: skip
    return say("%(day)s %(month)s") % {"day": on.day, "month": months[on.month - 1]}


def place_events(chart: Chart, size: Size, scale: Scales) -> tuple[list[Tick], int]:
    """Events and holiday names above the rail, and how many rows their words take; `on_rail` gives them
    height.

    From the last event back to the first: words right of the tick, else left of it, else a row higher.
    So a higher tick always stands left of the lower ones its words pass over, and no tick runs through
    words.
    """
    if not size.notes:
        return [], 0
    shown = sorted((e for e in chart.events if in_term(chart, e.on)), key=lambda event: event.on)
    placed: list[Tick] = []
    gaps = rail_gaps(chart, scale)
    for index in range(len(shown) - 1, -1, -1):
        earlier = [scale.x(event.on) for event in shown[:index]]
        placed.append(_event(shown[index], scale.x(shown[index].on), size, placed, earlier, gaps))
    names = [_holiday(holiday, scale, size, placed) for holiday in shown_holidays(chart, scale)]
    # In print a name that does not fit its gap is left out: the gap says enough beside the dates.
    placed += [name for name in names if name.kind == "gap" or not size.print]
    rows = 1 + max((int(tick.row) for tick in placed if tick.kind != "gap"), default=-1)
    return placed, rows


def shown_holidays(chart: Chart, scale: Scales) -> list[Holiday]:
    """The holidays that leave a gap in the rail, in order."""
    ends = [(h, scale.x(h.from_on, 0), scale.x(h.to_on + _DAY, 0)) for h in chart.holidays]
    inside = [h for h, start, end in ends if end > scale.left and start < scale.right]
    return sorted(inside, key=lambda holiday: holiday.from_on)


def on_rail(tick: Tick, rail: float, size: Size) -> Tick:
    """The same tick at its height: its words stand above the rail, a holiday's name inside it."""
    up = tick.row * row_height(size)
    y = rail + size.text * 0.28 if tick.kind == "gap" else rail - size.text * 0.73 - up
    return replace(tick, top=rail - size.text * 1.73 - up, words=replace(tick.words, y=y))


def _event(
    event: Event,
    x: float,
    size: Size,
    placed: Sequence[Tick],
    earlier: Sequence[float],
    gaps: Sequence[tuple[float, float]],
) -> Tick:
    """The event in the lowest row where its words are free: to the right, unless they would run over a
    holiday that they need not, else to the left.
    """
    ink = "stop" if event.kind == "pain" else "ink"
    highest = len(placed) + len(earlier) + 2
    wide = text_width(event.words, size.text)
    over_gap = any(x < end and start < x + 10 + wide for start, end in gaps)
    ways = [("start", 10), ("end", -10)]
    for row in range(highest + 1):
        for anchor, away in reversed(ways) if over_gap else ways:
            words = Words(event.words, x + away, -row * row_height(size), size.text, ink, anchor, plate=True)
            box = words.box
            under = sum(box.left - 3 < other < box.right + 3 for other in earlier)
            # Earlier ticks come after this one: words over them must leave at least a row for each.
            fits = box.left >= 0 and box.right <= size.width and under <= row
            if fits and _is_free(words, row, placed) and not _runs_through(x, row, placed):
                return Tick(event.kind, x, row, words)
    # Wider than both sides of its tick: over the whole width, in the first free row above.
    row, start = 1, max(0.0, min(x + 10, size.width - wide))
    words = Words(event.words, start, -row * row_height(size), size.text, ink, plate=True)
    while not _is_free(words, row, placed):
        row += 1
        words = replace(words, y=-row * row_height(size))
    return Tick(event.kind, x, row, words)


def _holiday(holiday: Holiday, scale: Scales, size: Size, placed: Sequence[Tick]) -> Tick:
    """The name inside its gap; where the gap is too narrow, above it."""
    start, end = (
        max(scale.left, scale.x(holiday.from_on, 0)),
        min(scale.right, scale.x(holiday.to_on + _DAY, 0)),
    )
    middle, row = (start + end) / 2, 0
    words = Words(holiday.name, middle, 0, size.text - 1, "soft", "middle", "italic")
    wide = text_width(holiday.name, words.size)
    # Down to 12 px it may shrink to fit.
    fits = min(words.size, words.size * (end - start - 2) / max(wide, 1))
    if fits >= 12 or wide + 8 <= end - start:  # noqa: PLR2004
        return Tick("gap", middle, 0, replace(words, size=int(fits * 2) / 2))
    words = replace(words, x=max(wide / 2, min(middle, size.width - wide / 2)))
    while not _is_free(words, row, placed):
        row += 1
        words = replace(words, y=-row * row_height(size))
    return Tick("name", middle, row, words)


def _is_free(words: Words, row: int, placed: Sequence[Tick]) -> bool:
    """Whether the words touch no placed words and no placed tick that reaches their row."""
    box = words.box
    stems = [tick.x for tick in placed if tick.kind in ("pain", "growth") and tick.row >= row]
    return not any(box.grown(2).shared(tick.words.box) for tick in placed if tick.kind != "gap") and not any(
        box.left - 4 < stem < box.right + 4 for stem in stems
    )


def _runs_through(x: float, row: int, placed: Sequence[Tick]) -> bool:
    return any(
        tick.row <= row and tick.words.box.left - 4 < x < tick.words.box.right + 4
        for tick in placed
        if tick.kind != "gap"
    )
