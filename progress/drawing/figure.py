"""Draws a chart as a plotly figure, a plain dict for JSON: the same places as the SVG; imports no
plotly.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date, datetime, time, timedelta

from progress.drawing.ink import PROPERTIES, TOKENS
from progress.drawing.parts import Chart, ChartSide, Point
from progress.drawing.scales import Scales, break_x, curve, knot_places, level_places, scales, ticks
from progress.drawing.shown import in_term, lines, nudges, shown_points
from progress.drawing.sizes import SIZES
from studio.voice import PLAIN, Voice

_INK, _SOFT, _PAPER = TOKENS["ink"], TOKENS["soft"], TOKENS["paper"]
# Places along one piece of the curve between two knots: at 78 px a week the eye sees no corner.
_STEPS = 8
_DIAMETER = 9.2
_FAMILY = "'Source Sans 3', sans-serif"


def figure(chart: Chart, voice: Voice = PLAIN) -> dict:
    """The chart as ``{"data": [...], "layout": {...}}`` for plotly, with the places of the "large" SVG.

    One trace of results for each side (``meta`` names its side), hover text from each point's words.
    Colours are those of the light scheme; ``layout["meta"]["tokens"]`` maps each to the page's custom
    property, so that the script can repaint them before it draws. Numbers are finite; dates are ISO
    strings.
    """
    paper = SIZES["large"]
    since = sum(1 for side in chart.sides if side.level_since)
    scale = scales(chart, paper, since_rows=since)
    sides = sorted(chart.sides, key=lambda side: side.side == "L")
    data = [trace for side in sides for trace in _bands(chart, scale, side)]
    data += [trace for side in sides for trace in _levels(chart, scale, side)]
    for side in reversed(sides):
        data += _results(chart, scale, side)
    data += _events(chart, scale)
    return {"data": data, "layout": _layout(chart, scale, voice)}


def _moment(scale: Scales, on: date, shift_px: float = 0.0) -> str:
    noon = datetime.combine(on, time(12)) + timedelta(days=shift_px / scale.day_width)
    return noon.isoformat(timespec="seconds")


def _stroke(colour: str, width: float, dash: str = "solid") -> dict:
    return {"color": colour, "width": width, "dash": dash}


def _run(scale: Scales, knots: Sequence[tuple[float, float]]) -> tuple[list[str], list[float]]:
    """The same monotone curve as in the SVG, px turned back into dense days and values."""
    places = [knots[0]]
    for piece in curve(knots):
        x0, y0 = places[-1]
        for step in range(1, _STEPS + 1):
            t, u = step / _STEPS, 1 - step / _STEPS
            weights = (3 * u * u * t, 3 * u * t * t, t**3)
            places.append(
                (
                    u**3 * x0 + sum(w * x for w, x in zip(weights, piece[::2], strict=True)),
                    u**3 * y0 + sum(w * y for w, y in zip(weights, piece[1::2], strict=True)),
                )
            )
    days = [
        (
            datetime.combine(scale.monday, time()) + timedelta(days=(x - scale.left) / scale.day_width)
        ).isoformat(timespec="seconds")
        for x, _ in places
    ]
    return days, [round(scale.value(y), 4) for _, y in places]


def _bands(chart: Chart, scale: Scales, side: ChartSide) -> list[dict]:
    found = []
    for line in lines(chart, side):
        days, top = _run(scale, knot_places(chart, scale, line, "band_high"))
        _, foot = _run(scale, knot_places(chart, scale, line, "band_low"))
        trace = {
            "type": "scatter",
            "mode": "lines",
            "x": days + days[::-1],
            "y": top + foot[::-1],
            "fill": "toself",
            "hoverinfo": "skip",
            "line": _stroke(TOKENS["edge"], 0),
            "fillcolor": TOKENS["band"],
        }
        found.append(trace)
        if side.side == "L":
            trace["fillcolor"] = "rgba(0,0,0,0)"
            trace["fillpattern"] = {
                "shape": "/",
                "size": 8,
                "solidity": 0.1,
                "fgcolor": TOKENS["hatch"],
                "bgcolor": "rgba(0,0,0,0)",
            }
            found += [_curve_trace(days, edge, TOKENS["edge"], 1) for edge in (top, foot)]
    return found


def _curve_trace(days: list[str], values: list[float], colour: str, width: float) -> dict:
    line = _stroke(colour, width)
    return {"type": "scatter", "mode": "lines", "x": days, "y": values, "hoverinfo": "skip", "line": line}


def _levels(chart: Chart, scale: Scales, side: ChartSide) -> list[dict]:
    found = []
    for places in level_places(chart, SIZES["large"], scale, side):
        days, levels = _run(scale, places)
        strokes = [(TOKENS["accent"], 5), (_PAPER, 2)] if side.side == "L" else [(TOKENS["accent"], 3)]
        found += [_curve_trace(days, levels, *stroke) for stroke in strokes]
    return found


def _results(chart: Chart, scale: Scales, side: ChartSide) -> list[dict]:
    points = shown_points(chart, side)
    if not points:
        return []
    nudge = SIZES["large"].nudge
    days = [
        _moment(scale, point.on, steps * nudge)
        for point, steps in zip(points, nudges(points, side.side), strict=True)
    ]
    left = side.side == "L"
    trace = {
        "type": "scatter",
        "mode": "markers",
        "x": days,
        "y": [point.value for point in points],
        "name": side.name,
        "meta": {"side": side.side},
        "text": [point.words for point in points],
        "hovertemplate": "%{text}<extra></extra>",
        "marker": {
            "symbol": "circle",
            "size": _DIAMETER,
            "opacity": 1,
            "color": _PAPER if left else _INK,
            "line": {"color": _INK if left else _PAPER, "width": 1.6 if left else 1},
        },
    }
    return [trace, *_signs_over(points, days)]


def _signs_over(points: Sequence[Point], days: list[str]) -> list[dict]:
    signs = [_sign(point) for point in points]
    if not any(signs):
        return []
    return [
        {
            "type": "scatter",
            "mode": "text",
            "x": days,
            "y": [point.value for point in points],
            "text": signs,
            "hoverinfo": "skip",
            "textposition": ["top center" if point.capped else "middle center" for point in points],
            "textfont": {"color": _INK, "size": 15},
        }
    ]


def _events(chart: Chart, scale: Scales) -> list[dict]:
    """Ticks at the foot of the plot; their words come when they are pointed at."""
    found = []
    for event in chart.events:
        if in_term(chart, event.on):
            colour, width = (TOKENS["stop"], 4) if event.kind == "pain" else (_INK, 1.5)
            found.append(
                {
                    "type": "scatter",
                    "mode": "markers",
                    "x": [_moment(scale, event.on)],
                    "y": [round(scale.value(scale.bottom - 9), 4)],
                    "text": [event.words],
                    "hovertemplate": "%{text}<extra></extra>",
                    "meta": {"event": event.kind},
                    "marker": {"symbol": "line-ns", "size": 16, "line": {"color": colour, "width": width}},
                }
            )
    return found


def _sign(point: Point) -> str:
    """The arrow of "at least", or the brackets of a value that waits to be confirmed."""
    return "↑" if point.capped else "(\u2003)" if point.held_back else ""


def _layout(chart: Chart, scale: Scales, voice: Voice) -> dict:
    return {
        "meta": {
            "tokens": {TOKENS[name]: f"--{PROPERTIES[name]}" for name in TOKENS},
            "sentence": chart.sentence,
        },
        "paper_bgcolor": _PAPER,
        "plot_bgcolor": _PAPER,
        "showlegend": False,
        "hovermode": "closest",
        "dragmode": "pan",
        "height": 430,
        "margin": {"l": 54, "r": 24, "t": 40, "b": 56},
        "font": {"family": _FAMILY, "size": 15, "color": _INK},
        "hoverlabel": {
            "bgcolor": _PAPER,
            "bordercolor": _INK,
            "font": {"color": _INK, "size": 15, "family": _FAMILY},
        },
        "xaxis": _weeks_axis(scale, voice),
        "yaxis": _values_axis(chart, scale),
        "shapes": _shapes(chart, scale),
        "annotations": _annotations(chart, scale),
    }


def _weeks_axis(scale: Scales, voice: Voice) -> dict:
    start = datetime.combine(scale.monday, time())
    mondays = [start + timedelta(weeks=week) for week in range(scale.weeks)]
    first = voice.gettext("week")
    return {
        "type": "date",
        "range": [start.isoformat(), (start + timedelta(weeks=scale.weeks)).isoformat()],
        "showgrid": False,
        "zeroline": False,
        "linecolor": _INK,
        "ticks": "outside",
        "tickvals": [day.isoformat() for day in mondays],
        "tickcolor": _INK,
        "ticktext": [f"{first} 1", *(str(week) for week in range(2, scale.weeks + 1))],
    }


def _values_axis(chart: Chart, scale: Scales) -> dict:
    marks = ticks(chart, scale)
    return {
        "type": "log" if scale.log else "linear",
        "title": {"text": chart.unit},
        "zeroline": False,
        "range": [math.log10(scale.low), math.log10(scale.high)] if scale.log else [scale.low, scale.high],
        "tickvals": [value for value, _ in marks],
        "ticktext": [text for _, text in marks],
        "gridcolor": TOKENS["line"],
        "tickfont": {"color": _SOFT},
    }


def _upright(day: str, stroke: dict) -> dict:
    place = {"xref": "x", "yref": "paper", "x0": day, "x1": day, "y0": 0, "y1": 1}
    return {"type": "line", "line": stroke, **place}


def _break_moment(chart: Chart, scale: Scales, on: date) -> str:
    days = (break_x(chart, scale, on) - scale.left) / scale.day_width
    return (datetime.combine(scale.monday, time()) + timedelta(days=days)).isoformat(timespec="seconds")


def _as_of(chart: Chart) -> date:
    return min(max(chart.as_of, chart.starts_on), chart.ends_on)


def _shapes(chart: Chart, scale: Scales) -> list[dict]:
    found = [_upright(_moment(scale, _as_of(chart)), _stroke(_INK, 1))]
    for item in chart.breaks:
        if in_term(chart, item.on):
            edge = _break_moment(chart, scale, item.on)
            # Under the results, so that the paper of the break covers none of them.
            strokes = (_stroke(_PAPER, 14), _stroke(_INK, 6.5), _stroke(_PAPER, 4.5))
            found += [{**_upright(edge, stroke), "layer": "between"} for stroke in strokes]
    if chart.target:
        since = max(chart.target.set_on or chart.starts_on, chart.starts_on)
        end = datetime.combine(scale.monday, time()) + timedelta(weeks=scale.weeks)
        y, line = chart.target.value, _stroke(_INK, 1.2, "7px,5px")
        found.append(
            {"type": "line", "x0": since.isoformat(), "x1": end.isoformat(), "y0": y, "y1": y, "line": line}
        )
    return found


def _annotations(chart: Chart, scale: Scales) -> list[dict]:
    found = []

    def write(text: str, day: str, y: float, anchor: str, colour: str = _INK) -> None:
        if text:
            found.append(
                {
                    "text": _plain(text),
                    "x": day,
                    "xref": "x",
                    "y": y,
                    "yref": "paper",
                    "showarrow": False,
                    "xanchor": anchor,
                    "yanchor": "bottom",
                    "xshift": 8 if anchor == "left" else -8,
                    "font": {"color": colour, "size": 14},
                }
            )

    write(chart.as_of_words, _moment(scale, _as_of(chart)), 1, "left")
    for item in chart.breaks:
        if in_term(chart, item.on):
            edge = _break_moment(chart, scale, item.on)
            write(item.old_words, edge, 1, "right", _SOFT)
            write(item.new_words, edge, 1, "left")
    if chart.target and chart.target.words:
        since = max(chart.target.set_on or chart.starts_on, chart.starts_on)
        y = math.log10(chart.target.value) if scale.log else chart.target.value
        write(chart.target.words, since.isoformat(), y, "left")
        found[-1]["yref"] = "y"
    return found


def _plain(text: str) -> str:
    """Plotly reads a few tags in its text; words are words."""
    return text.replace("&", "&amp;").replace("<", "&lt;")
