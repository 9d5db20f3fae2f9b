"""What one result teaches every hypothesis about a line, or why it must wait; knows arrays only.

A result is a usual day or a bad one; at a cap it says "at least". Formulas: normal mixture collapsed to two
moments, censored normal likelihood (Tobin 1958).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from progress.judging.engine import normal
from progress.judging.engine.hypotheses import State, move
from progress.judging.engine.lines import AT_LEAST, EXACT, Results, result_variance
from progress.judging.engine.stories import Rules

_TINY = 1e-290
# A story that is as unlikely as a sudden loss does not let a typing slip through unasked.
SOME = 0.012
# From this share on it is cheaper to work on all lines in place than on copies (measured).
_WHOLE_SHARE = 0.4


@dataclass
class _Lanes:
    # The lines a pass works on: all of them in place, or copies of those with a result.
    parts: list[np.ndarray]
    of_chosen: np.ndarray
    present: np.ndarray | None

    def spread(self, values: np.ndarray, otherwise: float) -> np.ndarray:
        if self.present is None:
            return values
        wide = np.full(self.present.size, otherwise)
        wide[self.of_chosen] = values
        return wide


def take(state: State, week: int, results: Results) -> np.ndarray:
    """Take in results, at most one a line, in any order; return which of them are held back instead."""
    held = results.impossible & ~results.confirmed
    columns = results.line
    _welcome(state, week, results, ~held)
    known = state.count[columns] > 0
    lanes = _lanes(state, columns)
    span = np.where(known, results.time - state.time[columns], 0.0)
    move(*lanes.parts[1:], lanes.spread(span, 0.0))
    _open_line(state, results, known, lanes)
    first = np.array([*state.rules.first_errors, 1.0])[np.minimum(state.line_count[columns], 2)]
    variance = result_variance(state.lines, columns, first * results.error, state.usual_level[columns])
    variance += state.lines.rounding[columns]
    held |= _too_far(state, results, lanes, variance)
    _learn(lanes, results.value, results.bound, variance, ~held, state.rules)
    if lanes.present is None:
        for array, part in zip(_arrays(state), lanes.parts, strict=True):
            array[:, : state.used, columns] = part
    state.time[columns] = np.where(known, results.time, state.time[columns])
    _count(state, results, ~held)
    return held


def _arrays(state: State) -> tuple[np.ndarray, ...]:
    return state.weight, state.level, state.pace, state.level_variance, state.pace_variance, state.covariance


def _lanes(state: State, columns: np.ndarray) -> _Lanes:
    n = state.count.size
    if columns.size > _WHOLE_SHARE * n:
        present = np.zeros(n, dtype=bool)
        present[columns] = True
        return _Lanes([array[:, : state.used] for array in _arrays(state)], columns, present)
    parts = [np.take(array[:, : state.used], columns, axis=2) for array in _arrays(state)]
    return _Lanes(parts, np.arange(columns.size), None)


def _welcome(state: State, week: int, results: Results, counted: np.ndarray) -> None:
    fresh = counted & (state.count[results.line] == 0)
    if not fresh.any():
        return
    columns = results.line[fresh]
    newest = state.order[-1]
    lines, rules = state.lines, state.rules
    state.weight[:, newest, columns] = rules.rows.first_weights[:, None]
    state.level[:, newest, columns] = lines.prior_level[columns]
    state.level_variance[:, newest, columns] = lines.prior_sd[columns] ** 2
    state.pace[:, newest, columns] = state.pace_mean[:, columns]
    state.pace_variance[:, newest, columns] = state.pace_sd[:, columns] ** 2
    state.covariance[:, newest, columns] = rules.first_correlation * lines.prior_sd[columns] * state.pace_sd[:, columns]
    state.began[:, newest, columns] = week
    state.time[columns] = results.time[fresh]


def _open_line(state: State, results: Results, known: np.ndarray, lanes: _Lanes) -> None:
    # A new way of counting: the level is learned again from around the old one; weights and pace stay.
    opens = results.opens_line & known
    if not opens.any():
        return
    columns, at = results.line[opens], lanes.of_chosen[opens]
    weight, level, _, level_variance, _, covariance = lanes.parts
    level[:, :, at] = (weight[:, :, at] * level[:, :, at]).sum(axis=(0, 1))
    level_variance[:, :, at] = (state.rules.new_line_sd * state.lines.prior_sd[columns]) ** 2
    covariance[:, :, at] = 0.0
    state.line_count[columns] = 0
    state.line_total[columns] = 0.0


def _too_far(state: State, results: Results, lanes: _Lanes, variance: np.ndarray) -> np.ndarray:
    weight, level, _, level_variance, _, _ = lanes.parts
    rules = state.rules
    may = (state.count[results.line] >= rules.held_back_after) & ~results.confirmed
    may &= (results.bound == EXACT) & ~results.opens_line
    held = np.zeros(may.size, dtype=bool)
    if not may.any() or not np.isfinite(rules.held_back_sd):
        return held
    # Cheap first: only where the result is far from the mean of all stories, look at every story.
    centre = np.einsum("rkn,rkn->n", weight, level)[lanes.of_chosen]
    far = np.abs(results.value - centre) > 0.5 * rules.held_back_sd * np.sqrt(variance)
    suspect = np.flatnonzero(may & far)
    if suspect.size:
        at = lanes.of_chosen[suspect]
        spread = level_variance[:, :, at] + variance[suspect]
        distance = (results.value[suspect] - level[:, :, at]) ** 2 / spread
        nearest = np.where(weight[:, :, at] > SOME, distance, np.inf).min(axis=(0, 1))
        held[suspect] = nearest > rules.held_back_sd**2
    return held


def _learn(
    lanes: _Lanes,
    value: np.ndarray,
    bound: np.ndarray,
    variance: np.ndarray,
    counted: np.ndarray,
    rules: Rules,
) -> None:
    weight, level, pace, level_variance, pace_variance, covariance = lanes.parts
    wide = lanes.spread(value, 0.0), lanes.spread(variance, 1.0)
    likelihood, slope, bend = _exact(level, level_variance, *wide, rules)
    at = np.flatnonzero(bound != EXACT)
    if at.size:
        lane = lanes.of_chosen[at]
        told = _censored(level[:, :, lane], level_variance[:, :, lane], value[at], bound[at], variance[at], rules)
        for array, part in zip((likelihood, slope, bend), told, strict=True):
            array[:, :, lane] = part
    learns = lanes.spread(counted.astype(float), 0.0)
    everyone = bool(learns.all())
    if not everyone:
        # Lines without a result, or with a held-back one, stay as they are to the last bit.
        likelihood = likelihood * learns + (1.0 - learns)
        slope *= learns
        bend *= learns
    level += level_variance * slope
    pace += covariance * slope
    step = covariance * bend
    pace_variance -= covariance * step
    covariance -= level_variance * step
    level_variance -= level_variance**2 * bend
    weight *= likelihood
    total = weight.sum(axis=(0, 1))
    weight /= total if everyone else np.where(learns > 0.0, total, 1.0)


def _exact(level, level_variance, value, variance, rules):
    # Mixture of a usual and a bad day; constant factors of the likelihood cancel between hypotheses. A distance
    # at which both underflow is left to the bad day: its share is then one. Written in place: this is the hot spot.
    off = value - level
    square = off * off
    usual = np.reciprocal(level_variance + variance)
    bad = np.reciprocal(level_variance + rules.bad_day_variance * variance)
    share = _density(square, usual)
    share *= 1.0 - rules.bad_day_chance
    likelihood = _density(square, bad)
    likelihood *= rules.bad_day_chance
    likelihood += share
    likelihood += _TINY
    share /= likelihood
    from_usual = share * usual
    from_bad = (1.0 - share) * bad
    usual *= from_usual
    bad *= from_bad
    usual += bad
    usual *= square
    precision = from_usual + from_bad
    slope = off * precision
    precision -= usual
    precision += slope * slope
    return likelihood, slope, precision


def _density(square: np.ndarray, precision: np.ndarray) -> np.ndarray:
    density = square * precision
    density *= -0.5
    np.exp(density, out=density)
    density *= np.sqrt(precision)
    return density


def _censored(level, level_variance, value, bound, variance, rules):
    # "At least": mirrored for "at most". The same moments as above, from the normal tail.
    sign = np.where(bound == AT_LEAST, 1.0, -1.0)
    gap = sign * (value - level)
    # Usual and bad day in one pass: the first axis.
    spread = np.sqrt(level_variance + np.multiply.outer([1.0, rules.bad_day_variance], variance)[:, None, None])
    edge = gap / spread
    tail, ratio = normal.upper_mills(edge)
    p_usual, p_bad = (1.0 - rules.bad_day_chance) * tail[0], rules.bad_day_chance * tail[1]
    g_usual, g_bad = ratio / spread
    h_usual, h_bad = ratio * (ratio - edge) / spread**2
    likelihood = p_usual + p_bad + _TINY
    share = p_usual / likelihood
    rest = 1.0 - share
    slope = share * g_usual + rest * g_bad
    bend = share * (h_usual - g_usual**2) + rest * (h_bad - g_bad**2) + slope**2
    return likelihood, sign * slope, bend


def _count(state: State, results: Results, counted: np.ndarray) -> None:
    everyone = bool(counted.all())
    columns, time, value = (
        array if everyone else array[counted] for array in (results.line, results.time, results.value)
    )
    state.time[columns] = time
    state.last_time[columns] = time
    state.count[columns] += 1
    state.line_count[columns] += 1
    state.line_total[columns] += value
    state.usual_level[columns] = state.line_total[columns] / state.line_count[columns]
