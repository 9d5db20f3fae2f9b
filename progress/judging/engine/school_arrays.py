"""Runs the filter over the classes of a school in passes that fit the cache; knows arrays and classes.

Each class comes out exactly as if it had been judged alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from progress.judging.engine import ruling
from progress.judging.engine.caps import joined
from progress.judging.engine.class_arrays import ClassArrays
from progress.judging.engine.class_weeks import DAYS_PER_WEEK
from progress.judging.engine.history import History, Recorder
from progress.judging.engine.hypotheses import State
from progress.judging.engine.lines import Calendar, Lines, Results
from progress.judging.engine.plain_sight import either, steady, sunk
from progress.judging.engine.points import Points, points_of
from progress.judging.engine.resuming import is_break, resumed
from progress.judging.engine.said_pace import said_pace
from progress.judging.engine.stories import DEFAULT_ERROR, DEFAULT_GAIN, RULES, Rules
from progress.judging.engine.trend import follow
from progress.judging.engine.whole_term import level_margin, rising, sinking

# About the number of lines whose hypotheses stay in a core's cache (measured: 256 is a quarter slower, 4096 no faster).
LINES_PER_PASS = 1024
# How far back a class-wide stall may have begun.
SINCE_WEEKS = 12
_LINE_ARRAYS = ("prior_level", "prior_sd", "gain", "error", "wobble_floor", "wobble_per_level", "rounding", "loss")
_RESULT_ARRAYS = ("value", "bound", "error", "opens_line", "confirmed", "impossible", "time")


@dataclass(frozen=True)
class Followed:
    """One class after the filter: its arrays, weekly history, verdict codes, run starts, held-back mask, weeks that the
    results span so far, from where no gain is said, and
    where it slips only because few results sink so clearly: the week of the first, else -1. seen:
    where no gain is seen over the last weeks, whatever the last one says; level_margin: as in whole_term; state: what
    the filter knows in the end, of the lines of every class that was followed together; begins: the number of this
    class's first one there.
    """

    arrays: ClassArrays
    history: History
    codes: np.ndarray
    runs: np.ndarray
    held_back: np.ndarray
    spans: np.ndarray
    flag_from: np.ndarray
    sunk_since: np.ndarray
    seen: np.ndarray
    level_margin: np.ndarray
    state: State
    begins: int


def follow_classes(classes: Sequence[ClassArrays], *, every_week: bool = True, rules: Rules = RULES) -> list[Followed]:
    """Return every class followed to its own as-of day, in the order given.

    every_week: read every week in full; without it only each class's last week has limits, projections and starts.
    """
    followed: list[Followed] = []
    for group in _groups(classes):
        followed.extend(_follow_together(group, every_week, rules))
    return followed


def _groups(classes: Iterable[ClassArrays]) -> Iterator[list[ClassArrays]]:
    group: list[ClassArrays] = []
    for each in classes:
        if any(each.carried):
            # Its lines are live before its first week: it is followed alone.
            if group:
                yield group
            yield [each]
            group = []
            continue
        group.append(each)
        if sum(len(one.keys) for one in group) >= LINES_PER_PASS:
            yield group
            group = []
    if group:
        yield group


def _follow_together(group: list[ClassArrays], every_week: bool, rules: Rules) -> list[Followed]:
    start = min(each.first_monday for each in group)
    shifts = [(each.first_monday - start) // DAYS_PER_WEEK for each in group]
    ends = [shift + each.calendar.ends.size - 1 for shift, each in zip(shifts, group, strict=True)]
    weeks = max(ends) + 1
    sizes = np.array([len(each.keys) for each in group])
    offsets = np.concatenate(([0], np.cumsum(sizes)))
    lines = Lines(**{name: np.concatenate([each.columns[name] for each in group], axis=-1) for name in _LINE_ARRAYS})
    results = Results(
        line=np.concatenate([each.arrays["line"] + at for each, at in zip(group, offsets, strict=False)]),
        week=np.concatenate([each.arrays["week"] + shift for each, shift in zip(group, shifts, strict=True)]),
        **{name: np.concatenate([each.arrays[name] for each in group]) for name in _RESULT_ARRAYS},
    )
    recorder = Recorder(
        target=np.concatenate([each.columns["target"] for each in group]),
        gain=lines.gain,
        caps=joined([each.caps.moved(at, shift) for each, at, shift in zip(group, offsets, shifts, strict=False)]),
        since_weeks=SINCE_WEEKS,
        in_full=None if every_week else frozenset(ends),
    )
    calendar = _calendar(group, shifts, weeks, sizes)
    state = resumed(lines, [one for each in group for one in each.carried], start, rules)
    held_back = follow(results, lines, calendar, each_week=recorder, rules=rules, state=state)
    history = recorder.history()
    cuts = np.cumsum([each.arrays["line"].size for each in group])[:-1]
    held = np.split(held_back, cuts)
    return [
        _part(each, history, held[index], shifts[index], slice(offsets[index], offsets[index + 1]), state)
        for index, each in enumerate(group)
    ]


def _calendar(group: list[ClassArrays], shifts: list[int], weeks: int, sizes: np.ndarray) -> Calendar:
    ends = np.zeros((weeks, len(group)))
    stands = np.zeros((weeks, len(group)), dtype=bool)
    returns = np.zeros((weeks, len(group)), dtype=bool)
    for index, (each, shift) in enumerate(zip(group, shifts, strict=True)):
        own = slice(shift, shift + each.calendar.ends.size)
        ends[own, index] = class_ends(each)
        ends[own.stop :, index] = ends[own.stop - 1, index]
        stands[own, index] = each.calendar.stands_still
        returns[own, index] = each.calendar.returns
    of_line = np.repeat(np.arange(len(group)), sizes)
    returns = returns[:, of_line]
    if len(group) == 1:
        returns[0] |= np.array([is_break(one, group[0].first_monday) for one in group[0].carried], dtype=bool)
    return Calendar(ends[:, of_line], stands[:, of_line], returns)


def class_ends(each: ClassArrays) -> np.ndarray:
    """Return class time at each week's end, the last one at the end of the as-of day."""
    ends = each.calendar.ends.copy()
    if ends.size and not each.calendar.stands_still[-1]:
        ends[-1] -= (DAYS_PER_WEEK - 1 - each.as_of.weekday()) / DAYS_PER_WEEK
    return ends


def _part(
    each: ClassArrays, history: History, held: np.ndarray, shift: int, columns: slice, state: State
) -> Followed:
    rows = slice(shift, shift + each.calendar.ends.size)
    own = History(
        **{
            name: array[rows, ..., columns] - (shift if name.startswith(("began", "earliest", "lost_week")) else 0)
            if array.dtype != bool
            else array[rows, ..., columns]
            for name, array in vars(history).items()
        }
    )
    spans = _span_weeks(each, own, held)
    flag_from = ruling.flag_chance(_information(each, held), _later_terms(each))
    points = _points(each, held, own)
    margin = level_margin(points, each.keys, each.columns["gain"])
    is_steady, is_rising = steady(each, held, own)
    is_rising |= rising(points, each.columns["gain"])
    seen_sinking = either(sunk(each, held, own), sinking(points, each.columns["gain"]))
    codes = ruling.rule(
        results=own.count,
        span_weeks=spans,
        p_gain=own.p_gain,
        p_flat_below=own.p_flat_below,
        p_slip=own.p_slips,
        p_reached=own.p_reached,
        results_in_gain=ruling.results_since(own.count, own.began_gain),
        flag_from=flag_from,
        seen=_seen(each, own, margin, is_steady, is_rising, seen_sinking.since >= 0),
    )
    by_sight = ruling.by_sight(codes, own.p_stand, own.p_slips, flag_from)
    seen_sinking = replace(seen_sinking, since=np.where(by_sight, seen_sinking.since, -1))
    own = replace(own, **said_pace(own, codes, seen_sinking, points, each.columns["gain"]))
    level = margin >= 0.0
    seen = is_steady | level | (own.p_stretch >= stretch_from(each))
    runs = ruling.run_began(codes)
    return Followed(
        each, own, codes, runs, held, spans, flag_from, seen_sinking.since, seen, margin, state, int(columns.start)
    )


def _points(each: ClassArrays, held: np.ndarray, own: History) -> Points:
    graded = np.array([one.scale == "grade" for one in each.measures], dtype=bool)
    rounding = each.columns["rounding"]
    return points_of(each.arrays, held, own, returns=each.calendar.returns, rounding=rounding, graded=graded)


def _seen(
    each: ClassArrays,
    own: History,
    margin: np.ndarray,
    is_steady: np.ndarray,
    is_rising: np.ndarray,
    has_sunk: np.ndarray,
) -> ruling.Seen:
    is_count = each.columns["loss"][0] > 0.0
    return ruling.Seen(
        p_stretch=own.p_stretch,
        stretch_from=stretch_from(each),
        level_margin=margin,
        is_steady=is_steady,
        is_rising=is_rising,
        has_sunk=has_sunk,
        p_lost=own.p_lost,
        lost_from=np.array([ruling.LOST_CHANCE[measure.scale] for measure in each.measures]),
        # A count cannot lose more than there was.
        loss=np.where(is_count, np.minimum(own.loss, own.loss_before), own.loss),
        least_loss=_least_loss(each, own),
        late_lost=own.late_lost,
        late_risen=own.late_risen,
        level=own.level,
        loss_before=own.loss_before,
    )


def stretch_from(each: ClassArrays) -> np.ndarray:
    """Return (n,) from where a stretch without a gain is clear."""
    return np.array([ruling.STRETCH_CHANCE[measure.scale] for measure in each.measures])


def _least_loss(each: ClassArrays, history: History) -> np.ndarray:
    # Smaller ones are no word: a quarter of the level of a count, a quarter of the seconds, half a grade; and two
    # errors.
    share, _least, _sd, _least_sd = each.columns["loss"]
    holds = np.array([measure.scale == "hold" for measure in each.measures], dtype=bool)
    least = np.where(holds, ruling.LEAST_LOSS_OF_HOLD, 0.0)
    errors = ruling.LEAST_LOSS_IN_ERRORS * np.maximum(history.error, each.columns["error"])
    return np.maximum(np.where(share > 0.0, ruling.LEAST_LOSS_SHARE * history.loss_before, least), errors)


def _information(each: ClassArrays, held: np.ndarray) -> np.ndarray:
    # (weeks, n): counted results of usual error in the last eight weeks of class time, a week.
    measures = each.measures
    usual = np.array([DEFAULT_GAIN[one.scale] / DEFAULT_ERROR[one.scale] for one in measures])
    line, week = each.arrays["line"][~held], each.arrays["week"][~held]
    told = (each.columns["gain"] / usual)[line] / each.arrays["error"][~held]
    ends = class_ends(each)
    sums = np.zeros((ends.size + 1, len(each.keys)))
    np.add.at(sums, (week + 1, line), told**2)
    sums = np.cumsum(sums, axis=0)
    from_week = np.searchsorted(ends, ends - ruling.INFORMATION_WEEKS, side="right")
    first = each.columns["first_week"]
    begins = np.where(first > 0, ends[np.maximum(first - 1, 0)], 0.0)
    weeks = np.clip(ends[:, None] - begins, ruling.LEAST_INFORMATION_WEEKS, ruling.INFORMATION_WEEKS)
    return (sums[1:] - sums[from_week]) / weeks


def _later_terms(each: ClassArrays) -> np.ndarray:
    # (weeks, n): the line was measured in an earlier term, too.
    term, first = np.cumsum(each.calendar.returns), each.columns["first_week"]
    return term[:, None] > np.where(first >= 0, term[np.maximum(first, 0)], -1)


def _span_weeks(each: ClassArrays, history: History, held: np.ndarray) -> np.ndarray:
    # From the first to the last counted result, by the calendar.
    line, week, day = (each.arrays[name][~held] for name in ("line", "week", "day"))
    began = [each.carried[column] and each.carried[column].first_on for column in range(len(each.keys))]
    first = np.array([np.inf if on is None else float(on.toordinal()) for on in began])
    np.minimum.at(first, line, day.astype(float))
    last = np.full(history.count.shape, -np.inf)
    np.maximum.at(last, (week, line), day.astype(float))
    last = np.maximum.accumulate(last, axis=0)
    span = (last - first) / DAYS_PER_WEEK
    return np.where(np.isfinite(span), span, 0.0)
