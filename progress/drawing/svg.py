"""Prints a laid-out chart as SVG: classes for the page's colours, literal colours for print, no inline
style.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from html import escape

from progress.drawing import marks
from progress.drawing.ink import TOKENS, fill, stroke
from progress.drawing.layout import BREAK_HALF, Ending, Layout, layout
from progress.drawing.notes import ARROW, Placed, cap_span, placed_points, target_start
from progress.drawing.parts import Chart, ChartSide
from progress.drawing.scales import curve, knot_places, level_places, ticks
from progress.drawing.shown import lines
from progress.drawing.text import Words
from studio.voice import PLAIN, Voice

_WEIGHTS = {"regular": "", "semibold": ' font-weight="600"', "italic": ' font-style="italic"'}
# 45 degree hairlines 6 px apart: a square tile of 6 times the root of two.
_TILE = 8.485


def svg(chart: Chart, size: str = "large", voice: Voice = PLAIN) -> str:
    """The chart as one ``<svg>`` element at one of `sizes.SIZES`: "large" (1312 px wide), "tablet" (944),
    "upright" (712), "phone" (740, to be scrolled beside its `axis`), both without end labels, which are left
    to `labels`, "small" (634), "middle" (712), "a4" (674), "a4-small" (326), "a4-family" (326, without labels).

    On screen the band of each side has a group of its own, so that the page can show the other one; on
    paper there is the one of ``chart.shaded``. Brackets show while the page tells how sure it is.

    ``voice`` says the few fixed words (months, "week"). Read aloud it is its title and
    ``chart.sentence``. Ids start with ``chart.key`` and the size, so two sizes of one chart may stand on
    one page. Deterministic; KeyError for an unknown size.
    """
    plan = layout(chart, size, voice)
    stem = escape(f"{chart.key}-{size}", quote=True)
    sides = sorted(chart.sides, key=lambda side: side.side == "L")
    banded = [side for side in sides if side.side == chart.shaded or not plan.size.print or plan.size.both_bands]
    body = [
        _defs(plan, stem),
        _grid(plan),
        *(_band(plan, side, stem) for side in banded),
        _target(plan),
        _caps(plan),
        *(draw_level(plan, side, stem) for side in sides),
        draw_breaks(plan),
        _since(plan),
        draw_as_of(plan),
        draw_points(plan),
        _notes(plan),
        draw_rail(plan),
        *(_ending(ending, chart.shaded) for ending in plan.endings),
        *(draw_words(words) for words in (*plan.header, *(() if size == "phone" else plan.axis), *plan.rail_words)),
    ]
    cut = _axis_width(plan) if size == "phone" else 0
    wide, high = f"{plan.size.width - cut:g}", f"{plan.height:.0f}"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="chart chart-{size}" width="{wide}" height="{high}"'
        f' viewBox="{cut:g} 0 {wide} {high}" role="img" aria-labelledby="{stem}-title {stem}-desc"'
        f' font-family="\'Source Sans 3\', sans-serif"><title id="{stem}-title">{escape(chart.title)}</title>'
        f'<desc id="{stem}-desc">{escape(chart.sentence)}</desc>{"".join(body)}</svg>'
    )


def axis(chart: Chart, voice: Voice = PLAIN) -> str:
    """The numbers beside a "phone" chart, a drawing of its own that stays while the chart is scrolled; for
    the eye only.
    """
    plan = layout(chart, "phone", voice)
    wide, high = f"{_axis_width(plan):g}", f"{plan.height:.0f}"
    return (
        f'<svg class="chart chart-axis" width="{wide}" height="{high}" viewBox="0 0 {wide} {high}" aria-hidden="true"'
        f' font-family="\'Source Sans 3\', sans-serif">{"".join(draw_words(words) for words in plan.axis)}</svg>'
    )


def _axis_width(plan: Layout) -> float:
    """Up to the rings of a first day, which stand left of it."""
    return plan.scale.left - plan.size.nudge - plan.size.radius - 1


def values(chart: Chart) -> list[str]:
    """What each result says of itself, in the order in which every drawing has its rings and dots."""
    plan = layout(chart, "large")
    return [place.point.words for place in placed_points(chart, plan.size, plan.scale)]


def labels(chart: Chart) -> str:
    """The end labels as an HTML list (``<ul class="chart-labels">``), for above an "upright" or "phone" chart; the
    left foot first.

    Empty when no side has a label.
    """
    rows = []
    for side in sorted((side for side in chart.sides if side.end), key=lambda side: side.side != "L"):
        end = side.end
        mark = marks.verdict(end.verdict, had=end.had, needed=end.needed) if end.verdict else ""
        rows.append(
            f'<li class="chart-label"><span class="chart-label-level">{marks.side(side.side)}'
            f' {escape(end.level)}</span>'
            f' <span class="chart-label-verdict chart-label-{end.verdict.replace("_", "-")}">{mark}'
            f' {escape(end.verdict_word or end.state)}</span></li>'
        )  # fmt: skip
    return f'<ul class="chart-labels">{"".join(rows)}</ul>' if rows else ""


def _n(value: float) -> str:
    return (
        f"{value:.1f}".removesuffix(".0").replace("-0", "0")
        if abs(value) < 1
        else f"{value:.1f}".removesuffix(".0")
    )


def _line(x1: float, y1: float, x2: float, y2: float) -> str:
    return f"M{_n(x1)} {_n(y1)}L{_n(x2)} {_n(y2)}"


def _path(attributes: str, d: str, more: str = "") -> str:
    return f'<path {attributes}{more} d="{d}"/>' if d else ""


def draw_words(words: Words) -> str:
    """One line of words, on its plate where it has one."""
    if not words.text:
        return ""
    anchor = "" if words.anchor == "start" else f' text-anchor="{words.anchor}"'
    ink = "ink" if words.ink == "words" else words.ink
    text = (
        f'<text {fill(ink)} x="{_n(words.x)}" y="{_n(words.y)}" font-size="{words.size:g}"{anchor}'
        f"{_WEIGHTS[words.weight]}>{escape(words.text)}</text>"
    )
    if not words.plate:
        return text
    box = words.box
    return (
        f'<rect {fill("paper")} x="{_n(box.left - 4)}" y="{_n(box.top)}"'
        f' width="{_n(box.right - box.left + 8)}" height="{_n(box.bottom - box.top)}"/>{text}'
    )


def _defs(plan: Layout, stem: str) -> str:
    s, tile, half = plan.scale, _TILE, _TILE / 2
    hatch = _path(
        stroke("hatch", 0.75), f"M{_n(-half)} {_n(half)}L{_n(half)} {_n(-half)}M0 {tile}L{tile} 0"
        f"M{_n(half)} {_n(tile + half)}L{_n(tile + half)} {_n(half)}",
    )  # fmt: skip
    return (
        f'<defs><clipPath id="{stem}-plot"><rect x="{_n(s.left)}" y="{_n(s.top)}"'
        f' width="{_n(s.right - s.left)}" height="{_n(s.bottom - s.top)}"/></clipPath>'
        f'<pattern id="{stem}-hatch" width="{tile}" height="{tile}"'
        f' patternUnits="userSpaceOnUse">{hatch}</pattern></defs>'
    )


def _grid(plan: Layout) -> str:
    s, target = plan.scale, plan.chart.target.value if plan.chart.target else None
    pieces = _between_breaks(plan)
    d = "".join(
        _line(x1, s.y(value), x2, s.y(value))
        for value, _ in ticks(plan.chart, s)
        if value != target
        for x1, x2 in pieces
    )
    return _path(stroke("line", 1), d)


def _between_breaks(plan: Layout) -> list[tuple[float, float]]:
    edges = [plan.scale.left - BREAK_HALF, *plan.breaks, plan.scale.right + BREAK_HALF]
    return [(a + BREAK_HALF, b - BREAK_HALF) for a, b in itertools.pairwise(edges) if b - a > 2 * BREAK_HALF]


def _curve_path(places: Sequence[tuple[float, float]], start: str = "M") -> str:
    head = f"{start}{_n(places[0][0])} {_n(places[0][1])}"
    return head + "".join("C" + " ".join(_n(number) for number in piece) for piece in curve(places))


def _band(plan: Layout, side: ChartSide, stem: str) -> str:
    """Right (and no side): a flat band; left: hairlines between two edges. Grades cut it at their ends."""
    area, edges = "", ""
    for line in lines(plan.chart, side):
        top, foot = (knot_places(plan.chart, plan.scale, line, pick) for pick in ("band_high", "band_low"))
        back = [(-x, y) for x, y in reversed(foot)]
        below = "".join(
            "C" + " ".join(_n(-n if i % 2 == 0 else n) for i, n in enumerate(piece)) for piece in curve(back)
        )
        area += _curve_path(top) + f"L{_n(foot[-1][0])} {_n(foot[-1][1])}" + below + "Z"
        edges += _curve_path(top) + _curve_path(foot)
    clip = f' clip-path="url(#{stem}-plot)"'
    if side.side != "L":
        band = _path(fill("band"), area, clip)
    else:
        band = _path(f'fill="url(#{stem}-hatch)"', area, clip) + _path(stroke("edge", 1), edges, clip)
    return band if plan.size.both_bands else _of_band(side.side, plan.chart.shaded, band)


def _of_band(side: str, shaded: str, drawn: str) -> str:
    """What shows with the band of one side: hidden while that of the other side does."""
    if not drawn:
        return ""
    hidden = "" if side == shaded else ' display="none"'
    return f'<g class="chart-band" data-band="{side}"{hidden}>{drawn}</g>'


def draw_level(plan: Layout, side: ChartSide, stem: str) -> str:
    """The line of one side, cut to the plot that `stem` names."""
    d = "".join(_curve_path(places) for places in level_places(plan.chart, plan.size, plan.scale, side))
    clip, width = f' clip-path="url(#{stem}-plot)"', plan.size.level
    if side.side != "L":
        return _path(stroke("accent", width), d, clip)
    double = _path(stroke("accent", width * 5 / 3), d, clip)
    return double + _path(stroke("paper", width * 2 / 3), d, clip)


def _target(plan: Layout) -> str:
    if not plan.chart.target:
        return ""
    y, start = plan.scale.y(plan.chart.target.value), target_start(plan.chart, plan.scale, plan.breaks)
    return _path(stroke("ink", 1.2, "7 5"), _line(start, y, plan.scale.right, y))


def _caps(plan: Layout) -> str:
    found = ""
    for cap in plan.chart.caps:
        start, end = cap_span(cap, plan.scale, plan.breaks)
        if start < end:
            y = plan.scale.y(cap.value)
            found += _line(start, y, end, y)
    return _path(stroke("ink", 1, "1.5 3.5"), found)


def draw_breaks(plan: Layout) -> str:
    """Where a protocol ends: paper with two lines."""
    s, top = plan.scale, plan.size.header * 0.24
    foot = s.bottom + (4 if plan.size.notes else 0)
    paper = "".join(
        f'<rect {fill("paper")} x="{_n(x - BREAK_HALF)}" y="{_n(s.top - 2)}" width="{2 * BREAK_HALF:g}"'
        f' height="{_n(s.bottom - s.top + 4)}"/>' for x in plan.breaks
    )  # fmt: skip
    return paper + _path(
        stroke("ink", 1.2),
        "".join(_line(x + side, top, x + side, foot) for x in plan.breaks for side in (-2.6, 2.6)),
    )


def _since(plan: Layout) -> str:
    dotted = "".join(_line(s.dotted, s.y, s.solid, s.y) for s in plan.since if s.dotted < s.solid)
    solid = "".join(
        _line(s.solid, s.y, s.end, s.y) + _line(s.end, s.y - 4, s.end, s.y + 4) for s in plan.since
    )
    found = _path(stroke("ink", 1.2, "1.6 4"), dotted) + _path(stroke("ink", 1.2), solid)
    return found + "".join(draw_words(s.words) for s in plan.since)


def draw_as_of(plan: Layout) -> str:
    """The line of the day that is known."""
    s, x = plan.scale, plan.as_of
    said = [words.y + 7 for words in plan.header if words.text == plan.chart.as_of_words]
    return _path(
        stroke("ink", 1), _line(x, min([s.top - 7, *said]), x, s.bottom + 3 if plan.size.notes else plan.rail)
    )


def draw_points(plan: Layout) -> str:
    """Every result: a ring, a dot, an arrow, brackets."""
    points = placed_points(plan.chart, plan.size, plan.scale)
    radius = plan.size.radius
    ring = f'class="chart-point chart-ring" fill="{TOKENS["paper"]}" stroke="{TOKENS["ink"]}"'
    dot = f'class="chart-point chart-dot" fill="{TOKENS["ink"]}" stroke="{TOKENS["paper"]}"'
    found = _path(
        stroke("ink", max(1.1, 1.4 * radius / 4.6)),
        "".join(_arrow(p, radius) for p in points if p.point.capped),
    )
    for left, attributes, width in ((True, ring, max(1.2, 1.6 * radius / 4.6)), (False, dot, 1)):
        circles = "".join(
            f'<circle cx="{_n(p.x)}" cy="{_n(p.y)}" r="{radius - (width / 2 if left else 0):g}"/>'
            for p in points
            if (p.side == "L") == left
        )
        found += f'<g {attributes} stroke-width="{width:.2g}">{circles}</g>' if circles else ""
    held = "".join(_brackets(p, radius) for p in points if p.point.held_back)
    return found + _path(stroke("ink", 1.2), held)


def _arrow(place: Placed, radius: float) -> str:
    tip, wing = place.y - radius * ARROW, radius * 0.8
    return (
        _line(place.x, place.y - radius, place.x, tip)
        + _line(place.x - wing, tip + wing, place.x, tip)
        + _line(place.x, tip, place.x + wing, tip + wing)
    )


def _brackets(place: Placed, radius: float) -> str:
    out, tall = radius + 3.2, radius + 2.4
    return "".join(
        f"M{_n(place.x + sign * (out - 1.6))} {_n(place.y - tall)}"
        f"Q{_n(place.x + sign * (out + 1.8))} {_n(place.y)}"
        f" {_n(place.x + sign * (out - 1.6))} {_n(place.y + tall)}"
        for sign in (-1, 1)
    )


def _notes(plan: Layout) -> str:
    leaders = "".join(_line(*leader) for leader in plan.note_leaders)
    return _path(stroke("edge", 1), leaders) + "".join(draw_words(words) for words in plan.notes)


def draw_rail(plan: Layout) -> str:
    """The rail of the weeks with what stands on it."""
    s, y, gaps = plan.scale, plan.rail, plan.gaps
    ends = [s.left, *(edge for gap in gaps for edge in gap), s.right]
    d = "".join(_line(ends[i], y, ends[i + 1], y) for i in range(0, len(ends), 2) if ends[i] < ends[i + 1])
    posts = [x for x in ends[1:-1] if s.left < x < s.right]
    d += "".join(_line(x, y - 5, x, y + 5) for x in posts)
    weeks = [s.left + 7 * s.day_width * week for week in range(s.weeks + 1)]
    open_air = [x for x in weeks if any(a - 0.5 <= x <= b + 0.5 for a, b in gaps)]
    d += "".join(_line(x, y, x, y + 5) for x in weeks if x not in open_air)
    return _path(stroke("ink", 1), d) + "".join(_event(event, plan.rail) for event in plan.events)


def _event(event, rail: float) -> str:
    if event.kind == "pain":
        return draw_words(event.words) + _path(stroke("stop", 4), _line(event.x, event.top, event.x, rail))
    if event.kind == "growth":
        rod = _line(event.x, event.top, event.x, rail)
        for y in (event.top + 0.7, event.top + 13.6):
            rod += _line(event.x - 4, y, event.x + 4, y)
        return draw_words(event.words) + _path(stroke("ink", 1.3), rod)
    return draw_words(event.words)


def draw_side(side: str, x: float, y: float, radius: float) -> str:
    """A ring for the left, a dot for the right and for no side."""
    if side != "L":
        return f'<circle {fill("ink")} cx="{_n(x)}" cy="{_n(y)}" r="{radius:g}"/>'
    return (
        f'<circle class="chart-ring" fill="{TOKENS["paper"]}" stroke="{TOKENS["ink"]}" stroke-width="1.7"'
        f' cx="{_n(x)}" cy="{_n(y)}" r="{radius - 0.5:g}"/>'
    )


def _ending(ending: Ending, shaded: str) -> str:
    found = "".join(draw_words(words) for words in ending.words)
    if ending.band_words:
        found += _of_band(ending.side, shaded, draw_words(ending.band_words))
    if ending.bracket:
        x, top, foot = ending.bracket
        feet = "".join(_line(x - 4, y, x + 4, y) for y in (top, foot))
        bracket = _path(stroke("ink", 1.4), _line(x, top, x, foot) + feet)
        found += f'<g class="chart-bracket">{bracket}</g>'
    if ending.leader:
        steps = "L".join(f"{_n(x)} {_n(y)}" for x, y in ending.leader)
        found += _path(stroke("edge", 1), f"M{steps}")
    size = ending.words[0].size
    radius = 5.7 if size > 20 else 4.4 if size < 16 else 5.2  # noqa: PLR2004
    found += draw_side(ending.side, *ending.mark, radius)
    if ending.verdict_at and ending.label.verdict:
        shape = marks.verdict_strokes(ending.label.verdict, had=ending.label.had, needed=ending.label.needed)
        scaled = " scale(.9)" if not ending.leader and ending.bracket is None else ""
        at = " ".join(_n(place) for place in ending.verdict_at)
        found += f'<g transform="translate({at}){scaled}">{shape}</g>'
    return found
