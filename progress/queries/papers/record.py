"""What a student's record of a term says: one description, from facts and a day, printed and written anywhere.

Pure: knows no Django, no database and no clock. It describes strength and control, it never judges readiness.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from itertools import zip_longest

from progress.drawing.parts import Chart


@dataclass(frozen=True)
class Row:
    """One side of one measure, in words: at first, now, where it likely lies, the pace and the verdict.

    `first_on`: the day of `first`, None where the line is too young. `had` of `needed` results: while too early.
    `verdict`: "" where the student rests from it.
    """

    measure: str
    side: str
    side_word: str
    first: str
    first_on: date | None
    now: str
    likely: str
    rate: str
    verdict: str
    verdict_word: str
    had: int
    needed: int


@dataclass(frozen=True)
class Strand:
    """One measure with its chart and the protocol by which it was counted."""

    title: str
    protocol: str
    chart: Chart | None


@dataclass(frozen=True)
class StudentRecord:
    """Everything the record of one student and term says, in the order of the page.

    Pain comes first. `now`: what the student may do now, and since when; `is_hurt`: pain waits for an answer, or
    the student rests. Not tells_pain, not tells_measures: nobody agreed, so it is not on this paper, which is not
    the same as nothing.
    """

    studio: str
    student: str
    where: str
    now: str
    pain: tuple[str, ...]
    is_hurt: bool
    tells_pain: bool
    tells_measures: bool
    spoken: str
    as_of: date | None
    rows: tuple[Row, ...]
    strands: tuple[Strand, ...]
    practised: tuple[str, ...]
    follow_ups: tuple[str, ...]
    how_to_read: tuple[str, str]
    foot: str


def with_first_days(rows: tuple[Row, ...]) -> tuple[date | None, list[tuple[Row, date | None]]]:
    """The day on which all lines of the table begin, if it is one, to say in its head; else each row with its own.

    Two feet that began on one day say it once, beside the second.

    >>> row = Row("Rises", "L", "left", "11", date(2026, 1, 27), "12", "", "", "gaining", "gaining", 8, 8)
    >>> begins, [(_row, on)] = with_first_days((row,))
    >>> begins, on
    (datetime.date(2026, 1, 27), None)
    """
    days = {row.first_on for row in rows if row.first_on is not None}
    if len(days) == 1:
        return days.pop(), [(row, None) for row in rows]
    following = [(row.measure, row.first_on) for row in rows[1:]]
    return None, [
        (row, None if (row.measure, row.first_on) == then else row.first_on)
        for row, then in zip_longest(rows, following)
    ]
