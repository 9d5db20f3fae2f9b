"""One description, two drawings: they show the same results at the same places, and no words cover each
other.
"""

import itertools
import json
import re
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import plotly.graph_objects as go
import pytest
from defusedxml import ElementTree

from progress.drawing import charts
from progress.drawing.ink import style_rules
from progress.drawing.layout import layout
from progress.drawing.scales import scales
from studio.voice import PLAIN
from tests.progress.chart_cases import AS_OF, CASES, HOLDS, NO_RESULTS, PLAIN_TERM, RISING, day, points, side

ALL = [pytest.param(chart, id=name) for name, chart in CASES.items()]
EVERY_SIZE = [pytest.param(chart, size, id=f"{name}, {size}") for name, chart in CASES.items() for size in charts.SIZES]
SVG = "{http://www.w3.org/2000/svg}"


def circles(drawing: str, kind: str) -> list[tuple[float, float]]:
    """Middles of the rings ("chart-ring") or dots ("chart-dot") among the results."""
    groups = [g for g in ElementTree.fromstring(drawing).iter(f"{SVG}g") if kind in g.get("class", "").split()]
    return [(float(c.get("cx")), float(c.get("cy"))) for g in groups for c in g]


def plotted(figure: dict, *, left: bool) -> list[tuple[datetime, float]]:
    """Days and values of the results of one side in the interactive figure."""
    traces = [t for t in figure["data"] if "side" in t.get("meta", {}) and (t["meta"]["side"] == "L") == left]
    return [(datetime.fromisoformat(x), y) for t in traces for x, y in zip(t["x"], t["y"], strict=True)]


@pytest.mark.parametrize("chart", ALL)
def test_svg_and_figure_show_the_same_results_at_the_same_places(chart):
    figure, drawing, scale = charts.figure(chart), charts.svg(chart), layout(chart).scale
    start = datetime.combine(scale.monday, datetime.min.time())
    for kind, left in (("chart-ring", True), ("chart-dot", False)):
        drawn, shown = circles(drawing, kind), plotted(figure, left=left)
        assert len(drawn) == len(shown)
        for (x, y), (moment, value) in zip(drawn, shown, strict=True):
            days = (x - scale.left) / scale.day_width
            # Px are written with one decimal: 0.06 px, in days across and in px down.
            assert abs(start + timedelta(days=days) - moment) < timedelta(days=0.06 / scale.day_width, seconds=1)
            assert abs(scale.y(value) - y) < 0.06


def test_every_result_of_the_term_known_by_the_as_of_day_is_drawn_and_no_other():
    late = replace(PLAIN_TERM.sides[0], points=points([*RISING, 19, 20]))
    chart = replace(PLAIN_TERM, starts_on=day(2, 0), sides=(late,))
    assert len(circles(charts.svg(chart), "chart-ring")) == sum(day(2, 0) <= p.on <= AS_OF for p in late.points) == 11


@pytest.mark.parametrize("chart", ALL)
def test_plotly_accepts_the_figure_and_it_is_plain_json(chart):
    figure = charts.figure(chart)
    go.Figure(figure)
    assert json.loads(json.dumps(figure, allow_nan=False)) == figure


def test_every_colour_of_the_figure_can_be_repainted_by_the_page():
    figure = charts.figure(PLAIN_TERM)
    used = set(re.findall(r'"(#[0-9A-F]{6})"', json.dumps([figure["data"], {**figure["layout"], "meta": None}])))
    assert used <= set(figure["layout"]["meta"]["tokens"])
    page = Path("static/css/risebook.css").read_text(encoding="utf-8")
    assert all(f"{name}:" in page for name in figure["layout"]["meta"]["tokens"].values())


@pytest.mark.parametrize(("chart", "size"), EVERY_SIZE)
def test_the_drawing_is_whole_finite_and_free_of_inline_style(chart, size):
    drawing = charts.svg(chart, size)
    root = ElementTree.fromstring(drawing)
    assert root.get("role") == "img" and root.find(f"{SVG}desc").text == chart.sentence
    assert not re.search(r"\sstyle=|<style|<script|\bnan\b|\binf\b", drawing)
    ids = re.findall(r' id="([^"]+)"', drawing)
    assert len(ids) == len(set(ids))
    assert set(re.findall(r"url\(#([^)]+)\)", drawing)) <= set(ids)


@pytest.mark.parametrize(("chart", "size"), EVERY_SIZE)
def test_no_words_cover_each_other_or_leave_the_drawing(chart, size):
    plan = layout(chart, size)
    words = [w for w in plan.words() if w.text]
    for one, other in itertools.combinations(words, 2):
        assert one.box.shared(other.box) == 0, (one.text, other.text)
    for one in words:
        assert one.box.left >= -0.5 and one.box.right <= plan.size.width + 0.5, one.text
        assert one.box.top >= -0.5 and one.box.bottom <= plan.height + 0.5, one.text


@pytest.mark.parametrize("chart", ALL)
def test_no_words_inside_the_plot_cover_a_result(chart):
    plan = layout(chart)
    middles = circles(charts.svg(chart), "chart-ring") + circles(charts.svg(chart), "chart-dot")
    for words in (*plan.notes, *(s.words for s in plan.since)):
        assert not [place for place in middles if words.box.grown(plan.size.radius - 1).holds(*place)], words.text


@pytest.mark.parametrize("size", charts.SIZES)
def test_equal_values_of_left_and_right_stay_apart(size):
    drawing = charts.svg(CASES["equal levels"], size)
    radius = charts.SIZES[size].radius
    pairs = zip(circles(drawing, "chart-ring"), circles(drawing, "chart-dot"), strict=True)
    assert all(right - left >= 1.5 * radius and y == z for (left, y), (right, z) in pairs)


def test_equal_levels_are_drawn_as_two_lines():
    left, right = re.findall(r'chart-stroke-accent"[^>]*clip-path[^>]* d="M([^C]+)C', charts.svg(CASES["equal levels"]))
    # As wide as half of both lines together: 5 px and 3 px, with one px of air.
    assert abs(float(right.split()[1]) - float(left.split()[1])) == pytest.approx(5, abs=0.2)


def test_twins_of_one_side_on_one_day_stay_apart():
    twice = replace(PLAIN_TERM.sides[0], points=points([12]) + points([12]))
    (x1, _), (x2, _) = circles(charts.svg(replace(PLAIN_TERM, sides=(twice,))), "chart-ring")
    assert abs(x1 - x2) >= charts.SIZES["large"].radius


def test_levels_never_join_across_a_break():
    drawing = charts.svg(CASES["two breaks"])
    core = re.search(r'chart-stroke-paper"[^>]*clip-path[^>]* d="([^"]+)"', drawing).group(1)
    assert core.count("M") == 3


def test_a_hold_stands_on_a_log_axis_and_a_count_on_a_linear_one():
    hold, count = layout(HOLDS).scale, layout(PLAIN_TERM).scale
    assert hold.y(5) - hold.y(10) == pytest.approx(hold.y(10) - hold.y(20))
    assert count.y(10) - count.y(15) == pytest.approx(count.y(15) - count.y(20))
    assert hold.value(hold.y(7.3)) == pytest.approx(7.3) and count.value(count.y(7.3)) == pytest.approx(7.3)


@pytest.mark.parametrize("chart", ALL)
def test_every_result_lies_inside_the_plot(chart):
    for size in charts.SIZES:
        scale, reach = layout(chart, size).scale, charts.SIZES[size].nudge + 0.1
        for x, y in circles(charts.svg(chart, size), "chart-ring") + circles(charts.svg(chart, size), "chart-dot"):
            assert scale.left - reach <= x <= scale.right + reach and scale.top <= y <= scale.bottom


def test_brackets_of_equal_levels_stand_beside_each_other():
    first, second = (ending.bracket for ending in layout(CASES["equal levels"]).endings)
    assert abs(first[0] - second[0]) >= 8


def test_labels_at_the_ends_keep_the_order_of_their_lines():
    plan = layout(CASES["left above right"])
    left, right = plan.endings
    assert left.side == "L" and left.mark[1] + 88 <= right.mark[1]


def test_a_line_level_since_before_the_term_is_solid_from_the_start_of_the_term():
    since = replace(PLAIN_TERM.sides[0].level_since, dotted_from=None)
    plan = layout(replace(PLAIN_TERM, starts_on=day(8, 0), sides=(replace(PLAIN_TERM.sides[0], level_since=since),)))
    assert [(s.dotted, s.solid) for s in plan.since] == [(plan.scale.left, plan.scale.left)]


def test_words_from_people_are_escaped():
    chart = replace(PLAIN_TERM, sentence="a < b & c", title='"<b>"', as_of_words="<i>today</i>")
    root = ElementTree.fromstring(charts.svg(chart))
    assert root.find(f"{SVG}desc").text == "a < b & c"
    assert "<i>today</i>" in [text.text for text in root.iter(f"{SVG}text")]


def test_the_phone_has_its_labels_as_a_list_and_not_in_the_drawing():
    assert "likely 17 to 19" not in charts.svg(PLAIN_TERM, "phone")
    listed = ElementTree.fromstring(charts.labels(PLAIN_TERM))
    levels = ["".join(row.find("span").itertext()).strip() for row in listed]
    assert levels == ["Left 18", "Right 18"]
    assert charts.labels(NO_RESULTS) == ""


def test_the_style_sheet_repaints_exactly_the_inks_there_are():
    assert style_rules() in Path("static/css/chart.css").read_text(encoding="utf-8")


def test_fixed_words_come_from_the_voice():
    drawing = charts.svg(PLAIN_TERM, "large", replace(PLAIN, gettext=_german))
    assert ">Woche 1<" in drawing and ">2 März<" in drawing


def _german(text: str) -> str:
    return {"week": "Woche", "Mar": "März"}.get(text, text)


@pytest.mark.parametrize(
    "wrong",
    [{"kind": "line"}, {"ends_on": day(0, 0)}, {"kind": "grade"}, {"sides": (side("R", [float("nan")]),)}],
    ids=["unknown kind", "term ends first", "grades without words", "not a number"],
)
def test_a_chart_that_cannot_be_drawn_is_refused(wrong):
    with pytest.raises(ValueError):
        replace(PLAIN_TERM, **wrong)


def test_the_axis_holds_still_whatever_the_order_of_points_and_sides():
    turned = tuple(replace(s, points=s.points[::-1], knots=s.knots[::-1]) for s in PLAIN_TERM.sides)
    assert scales(replace(PLAIN_TERM, sides=turned), charts.SIZES["large"]) == scales(PLAIN_TERM, charts.SIZES["large"])
    assert charts.svg(replace(PLAIN_TERM, sides=turned)) == charts.svg(PLAIN_TERM)
