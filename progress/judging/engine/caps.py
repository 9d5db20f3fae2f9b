"""Which lines were capped, from which week, and until which change of protocol; knows arrays only.

A cap belongs to its protocol: under a new one the same student may be asked for more.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from progress.judging.engine.lines import AT_LEAST

NEVER = np.iinfo(np.int64).max


@dataclass(frozen=True)
class Caps:
    """One entry for each line and protocol with a result at its cap.

    line (c,); value (c,): the cap in the working scale; from_week (c,): week of the first result there;
    until_week (c,): week in which another protocol begins, NEVER while none has.
    """

    line: np.ndarray
    value: np.ndarray
    from_week: np.ndarray
    until_week: np.ndarray

    def lowered(self, target: np.ndarray, week: int) -> np.ndarray:
        """What can be reached in that week: `target` (n,), or the cap where that is lower."""
        reachable = target.copy()
        known = (self.from_week <= week) & (week < self.until_week)
        np.minimum.at(reachable, self.line[known], self.value[known])
        return reachable

    def moved(self, lines: int, weeks: int) -> Caps:
        """The same, with line and week numbers moved on by `lines` and `weeks`."""
        until = np.where(self.until_week == NEVER, NEVER, self.until_week + weeks)
        return Caps(self.line + lines, self.value, self.from_week + weeks, until)


def joined(caps: Sequence[Caps]) -> Caps:
    """All entries of several."""
    names = ("line", "value", "from_week", "until_week")
    return Caps(*(np.concatenate([getattr(each, name) for each in caps]) for name in names))


def caps_of(arrays: dict[str, np.ndarray], halves: Sequence[float]) -> Caps:
    """The caps in results (m,) that are in order of line and day.

    arrays: line, week, value, bound, impossible, opens_line of lines.Results; halves (n,): what a result at
    the open end of its line's scale lies below that end.
    """
    # A number for each line and protocol: both only ever go up along the results.
    segment = np.cumsum(arrays["opens_line"]) + arrays["line"]
    at_cap = np.flatnonzero((arrays["bound"] == AT_LEAST) & ~arrays["impossible"])
    segments, number = np.unique(segment[at_cap], return_inverse=True)
    value = np.full(segments.size, math.inf)
    np.minimum.at(value, number, arrays["value"][at_cap] + np.asarray(halves, dtype=float)[arrays["line"][at_cap]])
    first = np.full(segments.size, arrays["line"].size, dtype=np.intp)
    np.minimum.at(first, number, at_cap)
    opens = {int(segment[row]): int(arrays["week"][row]) for row in np.flatnonzero(arrays["opens_line"])}
    until = np.array([opens.get(int(each) + 1, NEVER) for each in segments], dtype=np.int64)
    return Caps(arrays["line"][first], value, arrays["week"][first], until)
