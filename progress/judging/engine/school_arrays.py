"""Runs the filter over the classes of a school in passes that fit the cache; knows arrays and classes.
classes.

Each class comes out exactly as if it had been judged alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from progress.judging.engine import ruling
from progress.judging.engine.caps import joined
from progress.judging.engine.class_arrays import ClassArrays
from progress.judging.engine.class_weeks import DAYS_PER_WEEK
from progress.judging.engine.history import History, Recorder
from progress.judging.engine.lines import Calendar, Lines, Results
from progress.judging.engine.stories import RULES, Rules
from progress.judging.engine.trend import follow

# About the number of lines whose hypotheses stay in a core's cache (measured: 256 is a quarter slower, 4096 no faster).
LINES_PER_PASS = 1024
# How far back a class-wide stall may have begun.
SINCE_WEEKS = 12
_LINE_ARRAYS = ("prior_level", "prior_sd", "gain", "error", "wobble_floor", "wobble_per_level", "rounding")
_RESULT_ARRAYS = ("value", "bound", "error", "opens_line", "confirmed", "impossible", "time")


@dataclass(frozen=True)
class Followed:
    """One class after the filter: its arrays, weekly history, verdict codes, run starts, held-back mask."""

    arrays: ClassArrays
    history: History
    codes: np.ndarray
    runs: np.ndarray
    held_back: np.ndarray


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
    lines = Lines(**{name: np.concatenate([each.columns[name] for each in group]) for name in _LINE_ARRAYS})
    results = Results(
        line=np.concatenate([each.arrays["line"] + at for each, at in zip(group, offsets, strict=False)]),
        week=np.concatenate([each.arrays["week"] + shift for each, shift in zip(group, shifts, strict=True)]),
        **{name: np.concatenate([each.arrays[name] for each in group]) for name in _RESULT_ARRAYS},
    )
    recorder = Recorder(
        target=np.concatenate([each.columns["target"] for each in group]),
        caps=joined([each.caps.moved(at, shift) for each, at, shift in zip(group, offsets, shifts, strict=False)]),
        since_weeks=SINCE_WEEKS,
        in_full=None if every_week else frozenset(ends),
    )
    calendar = _calendar(group, shifts, weeks, sizes)
    held_back = follow(results, lines, calendar, each_week=recorder, rules=rules)
    history = recorder.history()
    cuts = np.cumsum([each.arrays["line"].size for each in group])[:-1]
    held = np.split(held_back, cuts)
    return [
        _part(each, history, held[index], shifts[index], slice(offsets[index], offsets[index + 1]))
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
    return Calendar(ends[:, of_line], stands[:, of_line], returns[:, of_line])


def class_ends(each: ClassArrays) -> np.ndarray:
    """Return class time at each week's end, the last one at the end of the as-of day."""
    ends = each.calendar.ends.copy()
    if ends.size and not each.calendar.stands_still[-1]:
        ends[-1] -= (DAYS_PER_WEEK - 1 - each.as_of.weekday()) / DAYS_PER_WEEK
    return ends


def _part(each: ClassArrays, history: History, held: np.ndarray, shift: int, columns: slice) -> Followed:
    rows = slice(shift, shift + each.calendar.ends.size)
    own = History(
        **{
            name: array[rows, ..., columns] - (shift if name.startswith(("began", "earliest")) else 0)
            if array.dtype != bool
            else array[rows, ..., columns]
            for name, array in vars(history).items()
        }
    )
    codes = ruling.rule(
        results=own.count,
        span_weeks=_span_weeks(each, own, held),
        p_gain=own.p_gain,
        p_flat_below=own.p_flat_below,
        p_slip=own.p_slip,
        p_reached=own.p_reached,
        results_in_gain=ruling.results_since(own.count, own.began_gain),
    )
    return Followed(each, own, codes, ruling.run_began(codes), held)


def _span_weeks(each: ClassArrays, history: History, held: np.ndarray) -> np.ndarray:
    # From the first to the last counted result, by the calendar.
    line, week, day = (each.arrays[name][~held] for name in ("line", "week", "day"))
    first = np.full(len(each.keys), np.inf)
    np.minimum.at(first, line, day.astype(float))
    last = np.full(history.count.shape, -np.inf)
    np.maximum.at(last, (week, line), day.astype(float))
    last = np.maximum.accumulate(last, axis=0)
    span = (last - first) / DAYS_PER_WEEK
    return np.where(np.isfinite(span), span, 0.0)
