"""Words on a chart cover no result, over invented terms of every kind; the demo's own lines are in test_demo.py."""
import random
from dataclasses import replace
from datetime import timedelta

import pytest

from progress.drawing import charts
from progress.drawing.layout import layout
from progress.drawing.notes import placed_points
from progress.drawing.parts import (
    Break,
    Cap,
    Chart,
    ChartSide,
    EndLabel,
    Event,
    GradeWord,
    Holiday,
    Knot,
    LevelSince,
    Point,
    Target,
)
from tests.progress.chart_cases import MONDAY, day


def covered(chart: Chart, size: str) -> list[str]:
    """The words of the drawing that lie on a ring or a dot."""
    plan = layout(chart, size)
    reach = plan.size.radius
    points = [(place.x, place.y) for place in placed_points(chart, plan.size, plan.scale)]
    return [
        words.text for words in plan.words() if words.text
        for x, y in points
        if words.box.left - reach < x < words.box.right + reach and words.box.top - reach < y < words.box.bottom + reach
    ]


def random_chart(seed: int) -> Chart:
    """A term of any kind: some results or sixty, two feet or none, breaks, caps, pain, growth, long words."""
    pick = random.Random(seed)
    kind = pick.choice(["count", "count", "hold", "grade"])
    top = {"count": pick.choice([12, 25, 60]), "hold": pick.choice([8, 40]), "grade": 2}[kind]
    week = pick.randint(3, 13)
    as_of = day(week, pick.randint(0, 5))
    breaks = tuple(
        Break(day(w, pick.randint(0, 4)), "class run, stopped at 16", "heel to the string: a new line")
        for w in sorted(pick.sample(range(2, 12), pick.randint(0, 2))) if w < week
    )
    sides = tuple(_side(pick, key, kind, top, week, breaks) for key in pick.choice([("L", "R"), ("L", "R"), ("",)]))
    target = Target(pick.uniform(0.3, 1.0) * top, pick.choice([None, day(4, 1)]), "target 20, set 5 October")
    events = tuple(
        Event(day(pick.randint(1, week), pick.randint(0, 5)), pick.choice(["pain", "growth"]),
              pick.choice(["again", "left Achilles, sharp, 6 of 10", "20 October, height +0.9 cm since September"]))
        for _ in range(pick.randint(0, 4))
    )
    return Chart(
        key="any", title="Rises, one foot", unit="" if kind == "grade" else "rises", kind=kind, starts_on=MONDAY,
        ends_on=day(13, 5), as_of=as_of, sides=sides, sentence="", as_of_words="30 November",
        target=target if pick.random() < 0.8 else None, holidays=(Holiday("half-term", day(7, 0), day(7, 6)),),
        breaks=breaks, events=events, caps=(Cap(0.7 * top, MONDAY, as_of, "arrow: at least 16"),) * (kind == "count"),
        grades=(GradeWord(0, "lost"), GradeWord(1, "corrected"), GradeWord(2, "clean")) * (kind == "grade"),
        bad_day_words="one bad day counts little", held_back_words="waiting to be confirmed",
    )  # fmt: skip


def _side(pick: random.Random, key: str, kind: str, top: float, week: int, breaks) -> ChartSide:
    name = {"L": "Left", "R": "Right", "": ""}[key]
    # A foot has one score a day.
    some = min(pick.choice([1, 6, 12, 25, 60]), 7 * week)
    days = [MONDAY + timedelta(days=each) for each in sorted(pick.sample(range(7 * week), some))]
    start, pace = pick.uniform(0.2, 0.7) * top, pick.uniform(-0.02, 0.05) * top
    values = [max(0.0, start + pace * (on - MONDAY).days / 7 + pick.gauss(0, 0.12) * top) for on in days]
    values = [float(round(min(v, 2.0))) if kind == "grade" else float(round(v)) if kind == "count" else v + 0.3
              for v in values]
    points = tuple(
        Point(on, value, capped=value > 0.65 * top and kind == "count", bad_day=pick.random() < 0.05,
              held_back=pick.random() < 0.03, words="a result")
        for on, value in zip(days, values, strict=True)
    )
    wide = 0.15 * top
    knots = tuple(
        Knot(day(w, 6), level, level - wide / 3, level + wide / 3, level - wide, level + wide,
             sum(each.on <= day(w, 6) for each in breaks))
        for w in range(1, week) if (level := max(0.4, start + pace * w)) is not None
    )
    verdict = pick.choice(["stalled", "slipping", "gaining", "not_clear"])
    since = LevelSince(day(pick.randint(1, week), 0), f"{name.lower()} stalled since about week 7", None)
    end = EndLabel(f"{name} {top}", "level likely 12 to 14", verdict=verdict, verdict_word=verdict,
                   band="hatched: single counts")
    return ChartSide(key, name, points, knots, end, since if verdict in ("stalled", "slipping") else None)


@pytest.mark.parametrize("size", charts.SIZES)
def test_no_words_cover_a_result_over_five_hundred_terms(size):
    found = {seed: words for seed in range(500) if (words := covered(random_chart(seed), size))}
    assert found == {}


def test_a_word_on_a_result_would_be_seen():
    chart = random_chart(2)
    plan = layout(chart, "large")
    [first, *_more] = placed_points(chart, plan.size, plan.scale)
    on_it = replace(plan.axis[0], x=first.x, y=first.y)
    assert on_it.box.left - plan.size.radius < first.x < on_it.box.right + plan.size.radius
