"""Which verdict the chances allow, week by week and with memory; knows arrays only, no student."""

from __future__ import annotations

import numpy as np

VERDICTS = ("too_early", "at_target", "stalled", "slipping", "gaining", "not_clear")
TOO_EARLY, AT_TARGET, STALLED, SLIPPING, GAINING, NOT_CLEAR = range(6)

# Fewer results or less time say nothing: with three results the smallest possible p of any trend test is
# 0.17.
FEWEST_RESULTS = 4
SHORTEST_WEEKS = 3.0
# The level may sit a quarter of a typical error under the target (assumption: smaller cannot be told).
TARGET_SLACK_IN_ERRORS = 0.25
AT_TARGET_CHANCE = 0.60
# Chosen in simulation, on other seeds than the printed one: at most nine false flags in a hundred truly gaining
# terms, also where gains level off and where the measure-again list is followed (see tests/bench).
FLAG_CHANCE = 0.66
KEEP_CHANCE = 0.58
GAINING_CHANCE = 0.65
# One result makes no gain. Over weeks without any, the chances lean towards what most children do, and that is to gain;
# the next result would then be called a gain whatever it says (our choice).
FEWEST_IN_A_GAIN = 2
# From here to the flag two more results may settle it.
ASK_CHANCE = 0.40


def rule(
    *,
    results: np.ndarray,
    span_weeks: np.ndarray,
    p_gain: np.ndarray,
    p_flat_below: np.ndarray,
    p_slip: np.ndarray,
    p_reached: np.ndarray,
    results_in_gain: np.ndarray,
    flag_chance: float = FLAG_CHANCE,
) -> np.ndarray:
    """Return verdict codes (weeks, n), indexes into VERDICTS; all arguments are (weeks, n).

    In this order: too early (fewer than 4 results or less than 3 weeks); at target; stalled or slipping, kept
    while the chance stays above 0.58; gaining (on 2 results or more); not clear. p_flat_below: flat and below the
    target; p_reached: level at or above target less slack; results_in_gain: those since she likely gains.
    flag_chance: threshold of the flag; when a comparison moves it, the kept threshold moves with it. Weeks are in
    order, one row each; memory starts empty.
    """
    kept_chance = max(0.0, flag_chance - (FLAG_CHANCE - KEEP_CHANCE))
    stands = p_flat_below + p_slip
    early = (results < FEWEST_RESULTS) | (span_weeks < SHORTEST_WEEKS)
    reached = (p_reached >= AT_TARGET_CHANCE) & (p_slip < FLAG_CHANCE)
    gains = (p_gain >= GAINING_CHANCE) & (results_in_gain >= FEWEST_IN_A_GAIN)
    codes = np.empty(stands.shape, dtype=np.int8)
    flagged = np.zeros(stands.shape[1], dtype=bool)
    for week in range(stands.shape[0]):
        flagged = stands[week] >= np.where(flagged, kept_chance, flag_chance)
        flagged &= ~early[week] & ~reached[week]
        flag = np.where(p_slip[week] > p_flat_below[week], SLIPPING, STALLED)
        open_question = np.where(gains[week], GAINING, NOT_CLEAR)
        row = np.where(flagged, flag, open_question)
        row = np.where(reached[week], AT_TARGET, row)
        codes[week] = np.where(early[week], TOO_EARLY, row)
    return codes


def results_since(count: np.ndarray, began: np.ndarray) -> np.ndarray:
    """Return (weeks, n) how many of the results so far (`count`) came in the week `began` (fractional) or later.

    >>> results_since(np.array([[1], [2], [2], [3]]), np.array([[0.0], [0.2], [1.6], [1.6]])).ravel().tolist()
    [1, 2, 0, 1]
    """
    before = np.round(began).astype(int) - 1
    earlier = np.take_along_axis(count, np.clip(before, 0, len(count) - 1), axis=0)
    return count - np.where(before >= 0, earlier, 0)


def run_began(codes: np.ndarray) -> np.ndarray:
    """Return (weeks, n) the week in which the present unbroken run of stalled or slipping began; -1 outside
    one.

    >>> run_began(np.array([[GAINING], [STALLED], [SLIPPING], [NOT_CLEAR]])).ravel().tolist()
    [-1, 1, 1, -1]
    """
    flagged = (codes == STALLED) | (codes == SLIPPING)
    began = np.full(codes.shape, -1)
    before = np.full(codes.shape[1], -1)
    for week in range(codes.shape[0]):
        before = np.where(flagged[week], np.where(before >= 0, before, week), -1)
        began[week] = before
    return began
