"""Weights, levels and paces of every story and start week, and what time, weeks and breaks do to them.

Time passes, a result comes in, a week ends, a class returns from a break. Knows arrays only; used by
trend.py. Shapes are (rows, slots, n lines), a row for every way of going; slots hold the weeks in which the story may
have begun, oldest merged.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from progress.judging.engine.lines import Lines, result_variance
from progress.judging.engine.readings import Stories
from progress.judging.engine.stories import GAINING, GAINS, LOST, RISEN, STORY_OF_ROW, Rules

_TINY = 1e-290
# A sudden loss leaves something of a count, mostly (assumption).
LARGEST_LOSS = 0.75


@dataclass
class State:
    """Everything known of n lines at their own time; changed in place by the functions of this file."""

    rules: Rules
    lines: Lines
    weight: np.ndarray
    level: np.ndarray
    pace: np.ndarray
    level_variance: np.ndarray
    pace_variance: np.ndarray
    covariance: np.ndarray
    began: np.ndarray
    before: np.ndarray
    pace_mean: np.ndarray
    pace_sd: np.ndarray
    own_precision: np.ndarray
    own_pace: np.ndarray
    time: np.ndarray
    last_time: np.ndarray
    count: np.ndarray
    line_count: np.ndarray
    line_total: np.ndarray
    usual_level: np.ndarray
    order: list[int]

    @property
    def used(self) -> int:
        """Slots in use: they fill from the front."""
        return len(self.order)


def start(lines: Lines, rules: Rules) -> State:
    """Return the state before any result: every weight is zero, every level the prior's."""
    n, rows = lines.gain.size, rules.rows
    shape = (rows.pace_mean.size, rules.slots, n)
    return State(
        rules=rules,
        lines=lines,
        weight=np.zeros(shape),
        level=np.broadcast_to(lines.prior_level, shape).copy(),
        pace=np.zeros(shape),
        level_variance=np.broadcast_to(lines.prior_sd**2, shape).copy(),
        pace_variance=np.zeros(shape),
        covariance=np.zeros(shape),
        began=np.zeros(shape),
        before=np.zeros(shape[1:]),
        pace_mean=rows.pace_mean[:, None] * lines.gain,
        pace_sd=rows.pace_sd[:, None] * lines.gain,
        own_precision=np.zeros(n),
        own_pace=np.zeros(n),
        time=np.zeros(n),
        last_time=np.zeros(n),
        count=np.zeros(n, dtype=int),
        line_count=np.zeros(n, dtype=int),
        line_total=np.zeros(n),
        usual_level=lines.prior_level.copy(),
        order=[0],
    )


def pass_time(state: State, until: np.ndarray) -> None:
    """Move every line to class time `until` (n,): L += B d, and the variances with it."""
    used = slice(0, state.used)
    span = until - state.time
    move(
        state.level[:, used],
        state.pace[:, used],
        state.level_variance[:, used],
        state.pace_variance[:, used],
        state.covariance[:, used],
        span,
    )
    state.time = until.copy()


def move(level, pace, level_variance, pace_variance, covariance, span) -> None:
    """Move arrays of hypotheses on by `span` weeks, in place."""
    level += pace * span
    step = pace_variance * span
    level_variance += (2.0 * covariance + step) * span
    covariance += step


def collapsed(state: State) -> Stories:
    """Return the stories with their slots collapsed to two moments; the prior where nothing is."""
    used = slice(0, state.used)
    weight = state.weight[:, used]
    level, pace = state.level[:, used], state.pace[:, used]
    share = weight.sum(axis=1)
    none = share.sum(axis=0) == 0.0
    inverse = 1.0 / np.maximum(share, _TINY)
    scaled = weight * inverse[:, None]
    mean_level = (scaled * level).sum(axis=1)
    mean_pace = (scaled * pace).sum(axis=1)
    off_level, off_pace = level - mean_level[:, None], pace - mean_pace[:, None]
    level_variance = (scaled * (state.level_variance[:, used] + off_level * off_level)).sum(axis=1)
    pace_variance = (scaled * (state.pace_variance[:, used] + off_pace * off_pace)).sum(axis=1)
    covariance = (scaled * (state.covariance[:, used] + off_level * off_pace)).sum(axis=1)
    empty = share < 1e-200
    if empty.any():
        mean_level = np.where(empty, state.lines.prior_level, mean_level)
        mean_pace = np.where(empty, state.pace_mean, mean_pace)
        level_variance = np.where(empty, state.lines.prior_sd**2, level_variance)
        pace_variance = np.where(empty, state.pace_sd**2, pace_variance)
        share = np.where(none, state.rules.rows.first_weights[:, None], share)
    return Stories(share, mean_level, mean_pace, level_variance, pace_variance, covariance)


def cross_week(state: State, week: int | np.ndarray, stories: Stories, moving: np.ndarray) -> None:
    """Let the lines `moving` (n,) change story at the end of `week` (of all, or (n,)), and open the slot of the next.
    """
    hazards = state.rules.rows.hazards
    live = state.count > 0
    moving = moving & live
    _level_off(state, moving)
    spell = _mean_began(state, stories)
    newest = _open_slot(state)
    since = np.repeat(spell[:, None], len(hazards), axis=1)
    since[_begins_anew(len(hazards))] = week + 1
    flow = hazards[:, :, None] * stories.weight[:, None] * moving
    stay = 1.0 - hazards.sum(axis=1)[:, None] * moving
    state.weight[:, : state.used] *= stay[:, None]
    _fill(state, newest, flow, stories, since)
    if len(hazards) > LOST:
        _move_suddenly(state, newest)


def _begins_anew(rows: int) -> np.ndarray:
    # From gaining, and into it, a new spell begins next week, and with a sudden loss or rise; between level and
    # slipping the spell goes on. From row to row.
    gains = np.array(STORY_OF_ROW[:rows]) == GAINING
    anew = gains[:, None] | gains
    anew[:, LOST:] = True
    return anew


def _move_suddenly(state: State, slot: int) -> None:
    share, least, sd_share, least_sd = state.lines.loss
    usual = state.level[LOST, slot].copy()
    step = np.maximum(share * usual, least)
    # A count cannot lose more than there is.
    lost = np.where(share > 0.0, np.minimum(step, LARGEST_LOSS * np.maximum(usual, 0.0)), step)
    variance = np.maximum(sd_share * usual, least_sd) ** 2
    state.before[slot] = usual
    state.level[LOST, slot] -= lost
    state.level[RISEN, slot] += step
    state.level_variance[LOST:, slot] += variance


def _level_off(state: State, moving: np.ndarray) -> None:
    used = slice(0, state.used)
    kept = np.where(moving, state.rules.pace_kept_a_week, 1.0)
    for row in (row for row in GAINS if row < len(state.weight)):
        state.pace[row, used] *= kept
        state.covariance[row, used] *= kept
        state.pace_variance[row, used] *= kept * kept


def _fill(state: State, slot: int, flow: np.ndarray, stories: Stories, since: np.ndarray) -> None:
    # flow, since (rows, rows, n): from one way of going to another.
    total = flow.sum(axis=0)
    share = flow / np.maximum(total, _TINY)
    some = total > 0.0
    level = (share * stories.level[:, None]).sum(axis=0)
    off = stories.level[:, None] - level
    variance = (share * (stories.level_variance[:, None] + off * off)).sum(axis=0)
    state.weight[:, slot] = total
    state.level[:, slot] = np.where(some, level, state.lines.prior_level)
    state.level_variance[:, slot] = np.where(some, variance, state.lines.prior_sd**2)
    state.pace[:, slot] = state.pace_mean
    state.pace_variance[:, slot] = state.pace_sd**2
    state.covariance[:, slot] = 0.0
    state.began[:, slot] = (share * since).sum(axis=0)


def _mean_began(state: State, stories: Stories) -> np.ndarray:
    used = slice(0, state.used)
    total = (state.weight[:, used] * state.began[:, used]).sum(axis=1)
    return total / np.maximum(state.weight[:, used].sum(axis=1), _TINY)


def _open_slot(state: State) -> int:
    if state.used < state.rules.slots:
        state.order.append(state.used)
        return state.order[-1]
    oldest, second = state.order[0], state.order[1]
    _merge(state, oldest, second)
    state.order = [oldest, *state.order[2:], second]
    return second


def _merge(state: State, into: int, other: int) -> None:
    first, second = state.weight[:, into], state.weight[:, other]
    if len(first) > LOST:
        both = np.maximum(first[LOST] + second[LOST], _TINY)
        state.before[into] += second[LOST] / both * (state.before[other] - state.before[into])
    total = first + second
    # Where both are empty keep the first as it is.
    share = np.where(total > 0.0, second / np.maximum(total, _TINY), 0.0)
    cross = share * (1.0 - share)
    off_level = state.level[:, other] - state.level[:, into]
    off_pace = state.pace[:, other] - state.pace[:, into]
    for array, spread in (
        (state.level_variance, off_level * off_level),
        (state.pace_variance, off_pace * off_pace),
        (state.covariance, off_level * off_pace),
    ):
        array[:, into] += share * (array[:, other] - array[:, into]) + cross * spread
    for array in (state.level, state.pace, state.began):
        array[:, into] += share * (array[:, other] - array[:, into])
    state.weight[:, into] = total


def restart_after_break(state: State, week: int, returns: np.ndarray) -> None:
    """Deal most of the weight of the lines `returns` (n,) anew: a term begins."""
    at = np.flatnonzero(returns & (state.count > 0))
    if at.size == 0:
        return
    rules, newest = state.rules, state.order[-1]
    _own_pace_replaces_default(state, at)
    used = slice(0, state.used)
    weight, level = state.weight[:, used, at], state.level[:, used, at]
    mean = (weight * level).sum(axis=(0, 1))
    variance = (weight * (state.level_variance[:, used, at] + (level - mean) ** 2)).sum(axis=(0, 1))
    grown = result_variance(state.lines, at, state.lines.error[at], state.usual_level[at])
    grown = grown * rules.break_level_sd_in_sem**2
    state.weight[:, used, at] = weight * (1.0 - rules.redealt_share)
    # The slot of the week of the return is still empty: it takes what is dealt anew.
    state.weight[:, newest, at] = rules.redealt_share * rules.rows.first_weights[:, None]
    state.level[:, newest, at] = mean
    state.level_variance[:, newest, at] = variance
    state.pace[:, newest, at] = state.pace_mean[:, at]
    state.pace_variance[:, newest, at] = state.pace_sd[:, at] ** 2
    state.covariance[:, newest, at] = 0.0
    state.began[:, newest, at] = week
    state.level_variance[:, used, at] += grown


def learn_own_pace(state: State, stories: Stories, term_ends: np.ndarray) -> None:
    """Note the pace while gaining of lines whose term ends now (n,): the default of their next term."""
    counts = term_ends & (state.count >= 4)
    spread = (state.rules.term_to_term_sd * state.lines.gain) ** 2
    for row in (row for row in GAINS if row < len(stories.weight)):
        precision = np.where(counts, stories.weight[row] / (stories.pace_variance[row] + spread), 0.0)
        state.own_precision += precision
        state.own_pace += precision * state.rules.own_pace_kept * stories.pace[row]


def _own_pace_replaces_default(state: State, at: np.ndarray) -> None:
    rules, gain = state.rules, state.lines.gain[at]
    default = 1.0 / (rules.pace_sd[GAINING] * gain) ** 2
    precision = default + state.own_precision[at]
    mean = (default * rules.pace_mean[GAINING] * gain + state.own_pace[at]) / precision
    state.pace_mean[GAINING, at] = mean
    state.pace_sd[GAINING, at] = 1.0 / np.sqrt(precision)
