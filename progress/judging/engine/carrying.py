"""What a followed class leaves for the next term: each line's filter, and the little else that is asked for later."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from progress.judging.engine.caps import Caps
from progress.judging.engine.class_weeks import DAYS_PER_WEEK
from progress.judging.engine.facts import Line, LineKey
from progress.judging.engine.resuming import Carried, column_of
from progress.judging.engine.school_arrays import Followed


def carried_over(followed: Followed, lines: Mapping[LineKey, Line]) -> dict[LineKey, Carried]:
    """Return what is carried of every line with a result here; lines: read at the end of the last week."""
    arrays, told = followed.arrays, {}
    last = len(followed.codes) - 1
    monday = date.fromordinal(arrays.first_monday + DAYS_PER_WEEK * last)
    for column, key in enumerate(arrays.keys):
        line = lines[key]
        told[key] = Carried(
            state=column_of(followed.state, followed.begins + column, last),
            monday=monday,
            protocol=arrays.facts[arrays.bounds_of_line[column + 1] - 1].protocol,
            cap=_cap_now(arrays.caps, column, last),
            first_on=line.first_on,
            last_on=line.last_on,
            first_level=line.first_level,
            held_back=line.held_back,
        )
    return told


def _cap_now(caps: Caps, column: int, week: int) -> float | None:
    at = (caps.line == column) & (caps.from_week <= week) & (week < caps.until_week)
    return float(caps.value[at].min()) if at.any() else None
