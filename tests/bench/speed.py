"""How many lines a second the filter follows, with every week's verdict, interval and projection; knows no truth."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pymannkendall
from scipy import stats

from progress.judging.engine import ruling
from progress.judging.engine.history import Recorder
from progress.judging.engine.lines import Calendar, Lines, Results
from progress.judging.engine.plain_sight import Sunk
from progress.judging.engine.points import points_of
from progress.judging.engine.said_pace import said_pace
from progress.judging.engine.school_arrays import LINES_PER_PASS
from progress.judging.engine.trend import follow
from progress.judging.engine.whole_term import level_margin
from progress.judging.judgement import judge_class
from tests.bench.true_lines import MEASURES
from tests.bench.worlds import classes
from tests.progress.lines_of import NO_CAPS, seen_in

POINTS, WEEKS, PER_WEEK = 30, 24, 1.25


def lines_per_second(count: int, seed: int = 1) -> float:
    """Lines of 30 results in 24 weeks, on any days, judged in passes: weekly verdicts of all, by the
    processor time of one core (other work on the machine does not count)."""
    rng = np.random.default_rng(seed)
    spent = 0.0
    for start in range(0, count, LINES_PER_PASS):
        results, lines, calendar = _batch(rng, min(LINES_PER_PASS, count - start))
        began = time.process_time()
        recorder = Recorder(lines.prior_level + 11.0, NO_CAPS, lines.gain)
        held = follow(results, lines, calendar, each_week=recorder)
        read = recorder.history()
        points = points_of(
            vars(results) | {"topped": held}, held, read, returns=calendar.returns[:, 0], rounding=lines.rounding,
            graded=held[: lines.gain.size] & False,
        )  # fmt: skip
        margin = level_margin(points, [(n // 2, "rises", "LR"[n % 2]) for n in range(lines.gain.size)], lines.gain)
        codes = ruling.rule(
            results=read.count, span_weeks=read.time, p_gain=read.p_gain, p_flat_below=read.p_flat_below,
            p_slip=read.p_slips, p_reached=read.p_reached,
            results_in_gain=ruling.results_since(read.count, read.began_gain),
            seen=replace(seen_in(read), level_margin=margin),
        )  # fmt: skip
        none = Sunk(np.full(codes.shape, -1), np.zeros(codes.shape), np.zeros(codes.shape))
        said_pace(read, codes, none, points, lines.gain)
        spent += time.process_time() - began
    return count / spent


def _batch(rng: np.random.Generator, count: int) -> tuple[Results, Lines, Calendar]:
    day = np.sort(rng.integers(0, 7 * WEEKS, (count, POINTS)), axis=1).ravel()
    line = np.repeat(np.arange(count), POINTS)
    time_weeks = (day + 1) / 7.0
    value = np.rint(np.repeat(rng.normal(14, 4, count), POINTS) + 0.5 * time_weeks + rng.normal(0, 2.4, day.size))
    nothing, one = np.zeros(day.size, dtype=bool), np.ones(count)
    results = Results(
        line=line, week=day // 7, time=time_weeks, value=value, bound=np.zeros(day.size, dtype=np.int8),
        error=np.full(day.size, 2.4), opens_line=nothing, confirmed=nothing, impossible=nothing,
    )  # fmt: skip
    lines = Lines(14.0 * one, 6.0 * one, 0.65 * one, 2.4 * one, one / 1.2, one / 30.0, one / 12.0,
                  np.outer([0.45, 6.0, 0.2, 1.8], one))
    ends = np.repeat(np.arange(1.0, WEEKS + 1.0)[:, None], count, axis=1)
    still = np.zeros((WEEKS, count), dtype=bool)
    return results, lines, Calendar(ends, still, still)


def class_milliseconds(measures: int) -> tuple[float, int]:
    """Best of nine: one class of twelve, both feet, from facts to finished lines with their knots; and its lines."""
    (world,) = classes("plain", 1, seed=5)
    facts = [fact for fact in world.facts if fact.measure in list(MEASURES)[:measures]]
    spent = []
    for _ in range(9):
        began = time.process_time()
        judgement = judge_class(facts, measures=MEASURES, targets=world.targets, as_of=world.day())
        spent.append(1000.0 * (time.process_time() - began))
    return min(spent), len(judgement.lines)


def loops_per_second(count: int = 400, seed: int = 1) -> dict[str, float]:
    """The same lines in a loop over scipy's theilslopes and over pymannkendall, for a single week's answer."""
    results, _, _ = _batch(np.random.default_rng(seed), count)
    times, values = results.time.reshape(count, POINTS), results.value.reshape(count, POINTS)
    spent = {}
    for name, answer in (
        ("scipy theilslopes", lambda t, y: stats.theilslopes(y, t, 0.8)),
        ("pymannkendall original_test", lambda t, y: pymannkendall.original_test(y)),
    ):
        began = time.process_time()
        for line in range(count):
            answer(times[line], values[line])
        spent[name] = count / (time.process_time() - began)
    return spent
