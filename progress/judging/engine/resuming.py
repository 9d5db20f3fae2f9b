"""What is carried of a line over a boundary between terms, and how the filter reads on from there; no database.

The filter's state of a line is written as one flat array of numbers, whatever rows and slots it has.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, fields
from datetime import date

import numpy as np

from progress.judging.engine.class_weeks import DAYS_PER_WEEK
from progress.judging.engine.hypotheses import State, collapsed, cross_week, learn_own_pace, pass_time, start
from progress.judging.engine.lines import Lines
from progress.judging.engine.stories import Rules

# A week without class is missed; from the second one on time stands still, as in class_weeks.
WEEKS_OF_A_BREAK = 2
_LEFT_ALONE = ("rules", "lines", "order")
_ROWS_AND_SLOTS = 2


@dataclass(frozen=True)
class Carried:
    """One line at the end of a week.

    state: its filter, as `column_of` writes it; monday: of that week; protocol: of the last result; cap: the most that
    could be reached under it (working scale), None where it was never reached; first_on, last_on, first_level,
    held_back: as in facts.Line.
    """

    state: tuple[float, ...]
    monday: date
    protocol: Hashable
    cap: float | None
    first_on: date | None
    last_on: date | None
    first_level: float | None
    held_back: tuple[Hashable, ...] = ()


def column_of(state: State, column: int, week: int) -> tuple[float, ...]:
    """Return everything the filter knows of one line after `week`, weeks and times counted from its end."""
    order, parts = state.order, []
    empty = [slot for slot in range(state.rules.slots) if slot not in order]
    for name, array in _arrays(state):
        own = array[..., column].astype(float)
        if name == "before" or own.ndim == _ROWS_AND_SLOTS:
            # From the oldest slot to the newest; one that was never used is an oldest without weight.
            own = own[..., empty + order]
        if name == "began":
            own = own - week
        elif name in ("time", "last_time"):
            own = own - state.time[column]
        parts.append(own.ravel())
    return tuple(np.concatenate(parts).tolist())


def resumed(lines: Lines, carried: Sequence[Carried | None], first_monday: int, rules: Rules) -> State:
    """Return the state at the start of the week of `first_monday` (ordinal): as carried, with the weeks between.

    Lines without anything carried are as `hypotheses.start` leaves them. The first week without class passes, then time
    stands still and the term is over: its pace is learned; `is_break` tells which lines return from such a break.
    Raises ValueError where a state is none of these rules.
    """
    state = start(lines, rules)
    known = [column for column, each in enumerate(carried) if each is not None]
    if not known:
        return state
    state.order = list(range(rules.slots))
    missed = np.zeros(lines.gain.size)
    for column in known:
        _fill(state, column, carried[column].state)
        missed[column] = weeks_missed(carried[column], first_monday)
        state.began[..., column] -= missed[column] + 1.0
    _weeks_between(state, missed, np.isin(np.arange(lines.gain.size), known))
    state.last_time -= state.time
    state.time = np.zeros(lines.gain.size)
    return state


def weeks_missed(carried: Carried, first_monday: int) -> int:
    """Return how many weeks lie between the carried one and that of `first_monday` (ordinal)."""
    return (first_monday - carried.monday.toordinal()) // DAYS_PER_WEEK - 1


def is_break(carried: Carried | None, first_monday: int) -> bool:
    """Return whether a line returns from a break in the week of `first_monday`."""
    return carried is not None and weeks_missed(carried, first_monday) >= WEEKS_OF_A_BREAK


def _weeks_between(state: State, missed: np.ndarray, known: np.ndarray) -> None:
    # The week that is about to begin is the first, or a missed one just before it.
    cross_week(state, np.where(missed > 0, -2, -1), collapsed(state), known)
    if missed.any():
        pass_time(state, state.time + (missed > 0))
        cross_week(state, -1, collapsed(state), known & (missed > 0))
    ends = known & (missed >= WEEKS_OF_A_BREAK)
    if ends.any():
        stories = collapsed(state)
        learn_own_pace(state, stories, ends)
        # An empty slot for what is dealt anew.
        cross_week(state, -1, stories, np.zeros(known.size, dtype=bool))


def _arrays(state: State) -> list[tuple[str, np.ndarray]]:
    return [(each.name, getattr(state, each.name)) for each in fields(State) if each.name not in _LEFT_ALONE]


def _fill(state: State, column: int, values: Sequence[float]) -> None:
    at = 0
    for _name, array in _arrays(state):
        own = array[..., column]
        array[..., column] = np.reshape(values[at : at + own.size], own.shape)
        at += own.size
    if at != len(values):
        raise ValueError("The state was written by another filter.")
