"""Which verdict the chances allow, week by week and with memory; knows arrays only, no student."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

VERDICTS = ("too_early", "at_target", "stalled", "slipping", "gaining", "not_clear", "dropped")
TOO_EARLY, AT_TARGET, STALLED, SLIPPING, GAINING, NOT_CLEAR, DROPPED = range(7)

# Fewer results or less time say nothing: with three results the smallest possible p of any trend test is
# 0.17.
FEWEST_RESULTS = 4
SHORTEST_WEEKS = 3.0
# The level may sit a quarter of a typical error under the target (assumption: smaller cannot be told).
TARGET_SLACK_IN_ERRORS = 0.25
AT_TARGET_CHANCE = 0.60
# From where "no gain" is said follows how much is known: one fixed threshold finds next to nothing where a class is
# measured every second week, and cries wolf where it is measured twice a week. Chosen in simulation, on other seeds
# than the printed one (see tests/bench). Information is in results of usual error over eight weeks, a week.
FLAG_BASE, FLAG_PER_LOG = 0.72, 0.068
FLAG_LOWEST, FLAG_HIGHEST = 0.63, 0.80
# In a later term gains are smaller: no gain in a single week says less.
FLAG_LATER = 0.02
KEPT_BELOW = 0.08
INFORMATION_WEEKS, LEAST_INFORMATION_WEEKS, LEAST_INFORMATION = 8.0, 3.0, 0.1
# The threshold at the usual rhythm of 1.25 results a week, most children present: where the bench compares.
FLAG_CHANCE = 0.72
GAINING_CHANCE = 0.65
# One result makes no gain. Over weeks without any, the chances lean towards what most children do, and that is to gain;
# the next result would then be called a gain whatever it says (our choice).
FEWEST_IN_A_GAIN = 2
# What everyone can see: no gain worth a word over six weeks, although last week alone says nothing.
STRETCH_CHANCE = {"count": 0.86, "hold": 0.90, "grade": 0.90}
STRETCH_NOW, STRETCH_KEPT, STRETCH_KEPT_BELOW = 0.50, 0.40, 0.10
# A student who may be at the target need not gain.
STRETCH_BELOW_TARGET = 0.08
STRETCH_RESULTS, STRETCH_LASTS = 6, 6.0
# Level since the term began (see whole_term), while last week does not say that it ended; kept while so much is left.
LEVEL_NOW, LEVEL_NOW_KEPT, LEVEL_KEPT = 0.53, 0.51, -0.5
# Seven weekly results span six weeks, give or take a day.
SLACK_WEEKS = 0.3
# Few results that sink clearly, and no way back so far.
SUNK_NO_GAIN = 0.5
# A sudden loss is believed from here, when it is large enough; the word stays for four weeks, while the level does.
LOST_CHANCE = {"count": 0.75, "hold": 0.66, "grade": 0.56}
LEAST_LOSS_SHARE, LEAST_LOSS_OF_HOLD, LEAST_LOSS_IN_ERRORS = 0.25, 0.29, 1.5
LOST_WEEKS = 4
# One low result asks whether it hurt; a sudden rise asks whether it was counted another way, and is no gain.
RISEN_CHANCE = SUDDEN_CHANCE = 0.5
ASKED_FROM = 0.25
# From here to the flag two more results may settle it.
ASK_CHANCE = 0.40


@dataclass(frozen=True)
class Seen:
    """What more than the last week says, (weeks, n) each, as in stretch.read_slots; lost_from (n,): from where a
    loss is believed; least_loss: smaller is no word;
    stretch_from (n,): from where a stretch is clear;
    level_margin: as in whole_term; is_steady, is_rising, has_sunk: as in plain_sight."""

    p_stretch: np.ndarray
    stretch_from: np.ndarray
    level_margin: np.ndarray
    is_steady: np.ndarray
    is_rising: np.ndarray
    has_sunk: np.ndarray
    p_lost: np.ndarray
    lost_from: np.ndarray
    loss: np.ndarray
    least_loss: np.ndarray
    late_lost: np.ndarray
    late_risen: np.ndarray
    level: np.ndarray
    loss_before: np.ndarray


def rule(
    *,
    results: np.ndarray,
    span_weeks: np.ndarray,
    p_gain: np.ndarray,
    p_flat_below: np.ndarray,
    p_slip: np.ndarray,
    p_reached: np.ndarray,
    results_in_gain: np.ndarray,
    seen: Seen,
    flag_from: float | np.ndarray = FLAG_CHANCE,
) -> np.ndarray:
    """Return verdict codes (weeks, n), indexes into VERDICTS; all arguments are (weeks, n).

    In this order: dropped (for four weeks, on 4 results); too early (fewer than 4 results or less than 3 weeks); at
    target; stalled or slipping, now or over the stretch, kept while the chance stays above; gaining (on 2 results or
    more, not after a sudden rise); not clear. p_flat_below: flat and below the target; p_reached: level at or above
    target less slack; results_in_gain: those since a gain is likely. flag_from: threshold of the flag; the kept one
    lies below it. Weeks are in order, one row each; memory starts empty.
    """
    kept_chance = np.maximum(0.0, flag_from - KEPT_BELOW)
    stands = p_flat_below + p_slip
    early = (results < FEWEST_RESULTS) | (span_weeks < SHORTEST_WEEKS)
    reached = (p_reached >= AT_TARGET_CHANCE) & (p_slip < flag_from)
    gains = (p_gain >= GAINING_CHANCE) & (results_in_gain >= FEWEST_IN_A_GAIN) | seen.is_rising
    gains &= seen.late_risen < RISEN_CHANCE
    # A sudden change that is likelier than not is asked about first.
    usual = seen.late_lost + seen.late_risen < SUDDEN_CHANCE
    now = usual & (stands >= flag_from)
    kept = stands >= kept_chance
    over, over_kept = _over_the_stretch(results, span_weeks, stands, seen)
    over = usual & (over | seen.is_steady) & (p_reached < STRETCH_BELOW_TARGET)
    sinks = (seen.late_lost < ASKED_FROM) & usual & seen.has_sunk & (p_gain < SUNK_NO_GAIN)
    dropped = _dropped(results, seen)
    flag = np.where((p_slip > p_flat_below) | sinks, SLIPPING, STALLED)
    codes = np.empty(stands.shape, dtype=np.int8)
    by_now = by_stretch = np.zeros(stands.shape[1], dtype=bool)
    for week in range(stands.shape[0]):
        may = ~early[week] & ~reached[week]
        by_now = may & (now[week] | (by_now & kept[week]))
        by_stretch = may & (over[week] | (by_stretch & over_kept[week]))
        row = np.where(by_now | by_stretch | (may & sinks[week]), flag[week], np.where(gains[week], GAINING, NOT_CLEAR))
        row = np.where(reached[week], AT_TARGET, row)
        row = np.where(early[week], TOO_EARLY, row)
        codes[week] = np.where(dropped[week], DROPPED, row)
    return codes


def flag_chance(information: np.ndarray, later: np.ndarray | bool = False) -> np.ndarray:
    """Return from where "no gain" is said, for results of usual error a week; later: in a later term of the line.

    >>> flag_chance(np.array([0.5, 1.0, 4.0])).round(3).tolist()
    [0.673, 0.72, 0.8]
    """
    told = FLAG_BASE + FLAG_PER_LOG * np.log(np.maximum(information, LEAST_INFORMATION))
    return np.clip(told, FLAG_LOWEST, FLAG_HIGHEST) + FLAG_LATER * later


def by_sight(codes: np.ndarray, stands: np.ndarray, p_slip: np.ndarray, flag_from: np.ndarray) -> np.ndarray:
    """Return (weeks, n) where slipping is said although the stories alone say something else."""
    return (codes == SLIPPING) & ~((stands >= flag_from - KEPT_BELOW) & (p_slip > 0.5 * stands))


def _over_the_stretch(results, span_weeks, stands, seen: Seen) -> tuple[np.ndarray, np.ndarray]:
    # Whether no gain is said because of the last six weeks, and whether it may go on being said.
    enough = (results >= STRETCH_RESULTS) & (span_weeks >= STRETCH_LASTS - SLACK_WEEKS)
    over = (seen.p_stretch >= seen.stretch_from) & (stands >= STRETCH_NOW)
    over |= (seen.level_margin >= 0.0) & (stands >= LEVEL_NOW)
    kept = (seen.p_stretch >= seen.stretch_from - STRETCH_KEPT_BELOW) & (stands >= STRETCH_KEPT)
    kept |= (seen.level_margin >= LEVEL_KEPT) & (stands >= LEVEL_NOW_KEPT)
    return enough & over, kept


def _dropped(results: np.ndarray, seen: Seen) -> np.ndarray:
    # (weeks, n): said from the week in which the loss is believed, for four weeks, while half of it is still missing.
    believed = (seen.p_lost >= seen.lost_from) & (seen.loss >= seen.least_loss) & (results >= FEWEST_RESULTS)
    said = np.zeros(believed.shape, dtype=bool)
    since = np.full(believed.shape[1], -np.inf)
    middle = np.full(believed.shape[1], np.inf)
    for week in range(believed.shape[0]):
        fresh = believed[week] & ~(week - since < LOST_WEEKS)
        since = np.where(fresh, week, since)
        middle = np.where(believed[week], seen.loss_before[week] - 0.5 * seen.loss[week], middle)
        said[week] = (week - since < LOST_WEEKS) & (seen.level[week] < middle)
        since = np.where(said[week] | (week - since >= LOST_WEEKS), since, -np.inf)
    return said


def results_since(count: np.ndarray, began: np.ndarray) -> np.ndarray:
    """Return (weeks, n) how many of the results so far (`count`) came in the week `began` (fractional) or later.

    >>> results_since(np.array([[1], [2], [2], [3]]), np.array([[0.0], [0.2], [1.6], [1.6]])).ravel().tolist()
    [1, 2, 0, 1]
    """
    before = np.round(began).astype(int) - 1
    earlier = np.take_along_axis(count, np.clip(before, 0, len(count) - 1), axis=0)
    return count - np.where(before >= 0, earlier, 0)


def run_began(codes: np.ndarray) -> np.ndarray:
    """Return (weeks, n) the week in which the present unbroken run of stalled, slipping or dropped began; -1 outside
    one.

    >>> run_began(np.array([[GAINING], [STALLED], [SLIPPING], [NOT_CLEAR]])).ravel().tolist()
    [-1, 1, 1, -1]
    """
    flagged = (codes == STALLED) | (codes == SLIPPING) | (codes == DROPPED)
    began = np.full(codes.shape, -1)
    before = np.full(codes.shape[1], -1)
    for week in range(codes.shape[0]):
        before = np.where(flagged[week], np.where(before >= 0, before, week), -1)
        began[week] = before
    return began
