"""The arrays that go into the judgement and come out of it; knows only numbered lines of results."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields

import numpy as np

from progress.judging.engine.readings import Stories

EXACT, AT_LEAST, AT_MOST = 0, 1, -1
# A count below three wobbles less: there is nothing below nothing (assumption).
ROOM_FROM = 4.0


@dataclass(frozen=True)
class Results:
    """Results of all lines, flat, sorted by line and then by time; arrays of one length m.

    line: index of the line; week: whole week it lies in, counted from the first week of the batch;
    time: end of its day in weeks of standing class time; value: working scale; bound: EXACT, AT_LEAST or
    AT_MOST; error: typical error at the reference level; opens_line: first result under a new protocol;
    confirmed: a person has confirmed it; impossible: above the cap of its protocol.
    """

    line: np.ndarray
    week: np.ndarray
    time: np.ndarray
    value: np.ndarray
    bound: np.ndarray
    error: np.ndarray
    opens_line: np.ndarray
    confirmed: np.ndarray
    impossible: np.ndarray


@dataclass(frozen=True)
class Lines:
    """What holds for a whole line; arrays of length n.

    prior_level, prior_sd: before the first result; gain: typical weekly gain u; error: same-assessor typical
    error; wobble_floor, wobble_per_level: shares of the error, sd^2 = error^2 (floor^2 + (per_level m)^2);
    rounding: variance added; loss (4, n): what a sudden loss takes, as in stories.Loss: share of the level, least, and
    both of its sd, working scale.
    """

    prior_level: np.ndarray
    prior_sd: np.ndarray
    gain: np.ndarray
    error: np.ndarray
    wobble_floor: np.ndarray
    wobble_per_level: np.ndarray
    rounding: np.ndarray
    loss: np.ndarray


@dataclass(frozen=True)
class Calendar:
    """Class time of each line; arrays (weeks, n).

    ends: standing class time at the end of the week (in the last one: at the end of the as-of day);
    stands_still: the class does not meet and time does not pass; returns: first week after such weeks.
    """

    ends: np.ndarray
    stands_still: np.ndarray
    returns: np.ndarray


@dataclass(frozen=True)
class Moment:
    """All n lines at the end of one week.

    stories: every way of going, (rows, n) each; live: has a counted result; count: counted results;
    line_count: those under the present protocol; error: sd of one result at the present level, without
    rounding; rounding: variance added to it; slot_weight, slot_began, slot_pace,
    slot_pace_sd (rows, slots, n): weight of each start week kept, the week (index, fractional after merging) since
    which it goes on, where a change between level and slipping does not restart the spell, and its pace; slot_before,
    slot_level (slots, n): level before a sudden loss and after it; last_time: class time of the last counted result;
    time: class time now.
    """

    week: int
    stories: Stories
    live: np.ndarray
    count: np.ndarray
    line_count: np.ndarray
    error: np.ndarray
    rounding: np.ndarray
    slot_weight: np.ndarray
    slot_began: np.ndarray
    slot_pace: np.ndarray
    slot_pace_sd: np.ndarray
    slot_before: np.ndarray
    slot_level: np.ndarray
    last_time: np.ndarray
    time: np.ndarray


def joined(moments: Sequence[Moment]) -> Moment:
    """All lines of several moments beside each other, as if they were other lines of one; start weeks left out."""
    if len(moments) == 1:
        return moments[0]

    def beside(arrays: Iterator[np.ndarray]) -> np.ndarray:
        return np.concatenate(list(arrays), axis=-1)

    stories = Stories(*(beside(getattr(each.stories, one.name) for each in moments) for one in fields(Stories)))
    none = np.zeros((len(stories.weight), 0, stories.weight.shape[1]))
    left_out = dict.fromkeys((one.name for one in fields(Moment) if one.name.startswith("slot_")), none)
    left_out |= {"week": moments[-1].week, "stories": stories}
    names = [one.name for one in fields(Moment) if one.name not in left_out]
    return Moment(**left_out, **{name: beside(getattr(each, name) for each in moments) for name in names})


def result_variance(lines: Lines, chosen: np.ndarray, error: np.ndarray, usual_level: np.ndarray) -> np.ndarray:
    """Return the variance of one result, without rounding, of the lines `chosen` at their usual level.

    error: (k,) typical error of these results at the reference level; usual_level: (k,).
    error^2 (floor^2 + (per_level usual_level)^2), units of the working scale squared; a count near nothing has no
    room to wobble in.
    """
    per_level = lines.wobble_per_level[chosen]
    room = np.where(per_level > 0.0, np.clip((usual_level + 1.0) / ROOM_FROM, 0.25, 1.0), 1.0)
    return (room * error) ** 2 * (lines.wobble_floor[chosen] ** 2 + (per_level * usual_level) ** 2)
