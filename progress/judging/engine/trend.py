"""The switching linear model: follows many lines of results at once, week by week, each result seen once.

Knows arrays only: no student, no Django, no clock. A line is one student, measure and side; time is in weeks.
Literature: multiple-model filtering and Bayesian change points; censored normal likelihood (Tobin 1958);
mixtures collapsed to their first two moments.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import numpy as np

from progress.judging.engine import hypotheses, learning
from progress.judging.engine.lines import Calendar, Lines, Moment, Results, result_variance
from progress.judging.engine.readings import Stories
from progress.judging.engine.stories import LOST, RULES, Rules


def follow(
    results: Results,
    lines: Lines,
    calendar: Calendar,
    *,
    each_week: Callable[[Moment], None],
    rules: Rules = RULES,
    state: hypotheses.State | None = None,
) -> np.ndarray:
    """Follow every line through all weeks; call `each_week` with the Moment at each week's end.

    state: as it is before the first week (see resuming.py), changed in place; None: nothing is known yet.

    Only results so far are used, so the readings are those that would have been made then. Cost is linear in
    results. Returns (m,) True for the results held back: above the cap, or further than `held_back_sd`
    predictive SD from every story after `held_back_after` counted results, and not confirmed. Held-back
    results change nothing. Lines without a result are not live; their readings are the prior's.
    """
    state = hypotheses.start(lines, rules) if state is None else state
    held_back = np.zeros(results.line.size, dtype=bool)
    passes = _passes(results)
    for week in range(calendar.ends.shape[0]):
        hypotheses.restart_after_break(state, week, calendar.returns[week])
        for rows, taken in passes.get(week, ()):
            held_back[rows] = learning.take(state, week, taken)
        hypotheses.pass_time(state, calendar.ends[week])
        stories = hypotheses.collapsed(state)
        each_week(_moment(state, week, stories))
        if week + 1 < calendar.ends.shape[0]:
            hypotheses.learn_own_pace(state, stories, _term_ends(calendar, week))
            hypotheses.cross_week(state, week, stories, ~calendar.stands_still[week])
    return held_back


def _term_ends(calendar: Calendar, week: int) -> np.ndarray:
    now = calendar.stands_still[week]
    return now & ~calendar.stands_still[week - 1] if week else now


def _passes(results: Results) -> dict[int, list[tuple[np.ndarray, Results]]]:
    # All first results of a week together, then all second ones, with their rows: each line at most once in a pass.
    if results.line.size == 0:
        return {}
    key = results.line.astype(np.int64) * (int(results.week.max()) + 1) + results.week
    opens = np.r_[True, key[1:] != key[:-1]]
    place = np.arange(key.size)
    rank = place - np.maximum.accumulate(np.where(opens, place, 0))
    label = results.week.astype(np.int64) * (int(rank.max()) + 1) + rank
    order = np.argsort(label, kind="stable")
    cuts = [0, *(np.flatnonzero(np.diff(label[order])) + 1).tolist(), order.size]
    ordered = [array[order] for array in vars(results).values()]
    passes: dict[int, list[tuple[np.ndarray, Results]]] = {}
    for start, stop in pairwise(cuts):
        taken = Results(*(array[start:stop] for array in ordered))
        passes.setdefault(int(taken.week[0]), []).append((order[start:stop], taken))
    return passes


def _moment(state: hypotheses.State, week: int, stories: Stories) -> Moment:
    every, order = slice(None), state.order
    return Moment(
        week=week,
        stories=stories,
        live=state.count > 0,
        count=state.count.copy(),
        line_count=state.line_count.copy(),
        error=np.sqrt(result_variance(state.lines, every, state.lines.error, state.usual_level)),
        rounding=state.lines.rounding,
        slot_weight=state.weight[:, order],
        slot_began=state.began[:, order],
        slot_pace=state.pace[:, order],
        slot_pace_sd=np.sqrt(np.maximum(state.pace_variance[:, order], 1e-12)),
        slot_before=state.before[order],
        slot_level=state.level[-2, order] if len(state.level) > LOST else state.level[0, order],
        last_time=state.last_time.copy(),
        time=state.time.copy(),
    )
