"""How far back results are read one by one: this term and the one before; knows days only.

What is older is in the state that was carried over the day from which they are read (engine/resuming.py).
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Self

# A course of a few weeks in the holidays is no term to look back over: so much lies before this term at least.
LEAST_BEFORE = timedelta(weeks=12)


@dataclass(frozen=True)
class Reach:
    """begins: the Monday of the week in which each term begins, in order."""

    begins: tuple[date, ...]

    @classmethod
    def of(cls, starts: Iterable[date]) -> Self:
        """From the first days of the terms, in any order."""
        return cls(tuple(sorted({day - timedelta(days=day.weekday()) for day in starts})))

    def reads_from(self, day: date) -> date | None:
        """Return from which Monday on results are read by who judges on `day`; None: every one of them.

        >>> reach = Reach.of([date(2030, 9, 9), date(2031, 1, 8), date(2031, 4, 28)])
        >>> reach.reads_from(date(2031, 6, 1)), reach.reads_from(date(2031, 4, 1))
        (datetime.date(2031, 1, 6), None)
        """
        now = bisect_right(self.begins, day) - 1
        before = [each for each in self.begins[: max(now, 0)] if self.begins[now] - each >= LEAST_BEFORE]
        # Whatever lies before the first term is read with it.
        return before[-1] if len(before) > 1 else None

    def next_after(self, day: date) -> date | None:
        """Return the first Monday after `day` on which a term begins."""
        at = bisect_right(self.begins, day)
        return self.begins[at] if at < len(self.begins) else None

    def term_of(self, day: date) -> date | None:
        """Return the Monday on which the term of that day began; None before the first one."""
        at = bisect_right(self.begins, day) - 1
        return self.begins[at] if at >= 0 else None
