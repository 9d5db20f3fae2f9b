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


def carried_caps(arrays: dict[str, np.ndarray], known: Sequence[float | None]) -> Caps:
    """The caps that lines were at before their first result here (None: they were not), until they are passed.

    arrays: as in `caps_of`, in order of line and day; known (n,): working scale.
    """
    lines = [line for line, cap in enumerate(known) if cap is not None]
    until = []
    for line in lines:
        rows = np.arange(*np.searchsorted(arrays["line"], [line, line + 1]))
        passed = (arrays["value"][rows] > known[line]) & ~arrays["impossible"][rows]
        over = rows[arrays["opens_line"][rows] | passed]
        until.append(int(arrays["week"][over[0]]) if over.size else NEVER)
    return Caps(
        np.array(lines, dtype=np.intp), np.array([known[line] for line in lines], dtype=float),
        np.zeros(len(lines), dtype=np.int64), np.array(until, dtype=np.int64),
    )


def caps_of(arrays: dict[str, np.ndarray], halves: Sequence[float]) -> Caps:
    """The caps in results (m,) that are in order of line and day.

    arrays: line, week, value, impossible, opens_line of lines.Results, and topped (see `topped`); halves (n,): what a
    result at the open end of its line's scale lies below that end.
    """
    # A number for each line and protocol: both only ever go up along the results.
    segment = np.cumsum(arrays["opens_line"]) + arrays["line"]
    at_cap = np.flatnonzero(arrays["topped"] & ~arrays["impossible"])
    segments, number = np.unique(segment[at_cap], return_inverse=True)
    value = np.full(segments.size, math.inf)
    np.minimum.at(value, number, arrays["value"][at_cap] + np.asarray(halves, dtype=float)[arrays["line"][at_cap]])
    first = np.full(segments.size, arrays["line"].size, dtype=np.intp)
    np.minimum.at(first, number, at_cap)
    opens = {int(segment[row]): int(arrays["week"][row]) for row in np.flatnonzero(arrays["opens_line"])}
    until = np.array([opens.get(int(each) + 1, NEVER) for each in segments], dtype=np.int64)
    for at, one in enumerate(segments.tolist()):
        rows = np.arange(first[at], np.searchsorted(segment, one + 1))
        passed = rows[(arrays["value"][rows] > value[at]) & ~arrays["impossible"][rows]]
        if passed.size:
            # A higher count under the same protocol shows that it was nobody's cap.
            until[at] = min(until[at], arrays["week"][passed[0]])
    return Caps(arrays["line"][first], value, arrays["week"][first], until)


def topped(arrays: dict[str, np.ndarray], known: Sequence[bool | None]) -> np.ndarray:
    """Return (m,) which results are the most that their protocol can show.

    known: told of the cap (None: not told, as in a file without that column). Any other "at least" is a lower bound
    and nothing more: somebody stopped early. Where no cap is told, an "at least" seen twice that was not
    passed before is one, from the second on.
    """
    told = np.array([each is True for each in known], dtype=bool)
    unknown = np.flatnonzero([each is None for each in known])
    unknown = unknown[arrays["bound"][unknown] == AT_LEAST]
    if not unknown.size:
        return told
    segment = np.cumsum(arrays["opens_line"]) + arrays["line"]
    for one in np.unique(segment[unknown]).tolist():
        rows = np.arange(*np.searchsorted(segment, [one, one + 1]))
        value, open_end = arrays["value"][rows], arrays["bound"][rows] == AT_LEAST
        best = np.maximum.accumulate(value)
        at_best = open_end & (value >= best)
        seen = np.array([int(((value[: at + 1] == value[at]) & open_end[: at + 1]).sum()) for at in range(rows.size)])
        told[rows] = at_best & (seen >= 2)
    return told
