"""A loss of most of a class on one day is a question about the day, not about each child; knows judged lines only."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from progress.judging.engine.facts import ClassStall, Line, LineKey

# So many students, and so much of those measured on the day, before the day is asked about (assumption).
FEWEST_STUDENTS, DAY_SHARE = 4, 0.5


def shared_losses(lines: Mapping[LineKey, Line]) -> tuple[ClassStall, ...]:
    """Return, for each measure, the day on which most of those measured lost at once."""
    found = []
    for measure in dict.fromkeys(key[1] for key in lines):
        own = [line for key, line in lines.items() if key[1] == measure]
        days: dict = {}
        for line in own:
            if line.drop is not None:
                days.setdefault(line.drop.low_on, {})[line.student] = None
        for day, students in sorted(days.items()):
            there = {line.student for line in own if line.first_on and line.first_on < day <= line.last_on}
            share = len(students) / max(len(there), 1)
            if len(students) >= FEWEST_STUDENTS and share >= DAY_SHARE:
                found.append(ClassStall(measure, day, share, tuple(students), 0.0, is_drop=True))
    return tuple(found)


def told_of_the_day(lines: Mapping[LineKey, Line], day: ClassStall) -> dict[LineKey, Line]:
    """Return the lines that lost on that day, as not clear yet: the day comes first."""
    return {
        key: replace(line, verdict="not_clear", drop=None, asks="class", flagged_on=None, one_sided=False)
        for key, line in lines.items()
        if line.measure == day.measure and line.drop is not None and line.drop.low_on == day.since_on
    }
