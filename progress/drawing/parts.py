"""Describes one chart of one measure over one term, in plain values and words already translated; draws
nothing.
"""

from __future__ import annotations

import math
from collections.abc import Hashable
from dataclasses import dataclass
from datetime import date

KINDS = ("count", "hold", "grade")
SIDES = ("L", "R", "")
EVENT_KINDS = ("pain", "growth")


@dataclass(frozen=True)
class Point:
    """One result that counts: ``value`` in the measure's own unit (rises, seconds, grade), ``words`` for
    the finger or mouse that rests on it ("24 March: 18 rises, heel to the string, Ottoline Brack").

    capped: the value is "at least"; bad_day: it lies far from the line and counts little; held_back: it
    waits to be confirmed and counts nothing yet.
    """

    on: date
    value: float
    capped: bool = False
    bad_day: bool = False
    held_back: bool = False
    words: str = ""


@dataclass(frozen=True)
class Knot:
    """The level at the end of one day: its own 80 % range, and the band where 8 of 10 single results
    fall.
    """

    on: date
    level: float
    level_low: float
    level_high: float
    band_low: float
    band_high: float
    protocol: Hashable = 1


@dataclass(frozen=True)
class EndLabel:
    """What stands at the end of a line: ``level`` the last count ("Right 18"), ``likely`` "level likely 17
    to 19", the verdict's key and word, ``rate`` "+0.7 a week, likely 0.0 to +1.0", ``state`` what stands in a
    verdict's place ("resting since 23 November"), ``band`` what its band is, while that is drawn ("hatched:
    single counts"). Empty words are left out. ``had`` of ``needed`` only for ``too_early``.
    """

    level: str
    likely: str = ""
    verdict: str = ""
    verdict_word: str = ""
    rate: str = ""
    had: int = 0
    needed: int = 4
    state: str = ""
    band: str = ""


@dataclass(frozen=True)
class LevelSince:
    """The stretch a line has been level (or slipping): unsure from ``dotted_from`` (None: no unsure
    part), sure from ``solid_from`` to the as-of day; ``words`` "left level since about week 7".
    """

    solid_from: date
    words: str
    dotted_from: date | None = None


@dataclass(frozen=True)
class ChartSide:
    """One side of the chart. ``side`` is "L", "R" or "" (a measure without sides); ``name`` "Left" for
    hover text.

    Knots are in order of date; a new ``protocol`` starts a new line. No knots: points without a line.
    """

    side: str
    name: str = ""
    points: tuple[Point, ...] = ()
    knots: tuple[Knot, ...] = ()
    end: EndLabel | None = None
    level_since: LevelSince | None = None

    def __post_init__(self) -> None:
        if self.side not in SIDES:
            raise ValueError(f"a side is one of {SIDES}, not {self.side!r}")


@dataclass(frozen=True)
class Holiday:
    """Whole days without class inside the term, both ends included."""

    name: str
    from_on: date
    to_on: date


@dataclass(frozen=True)
class Target:
    """What the student works towards; drawn from ``set_on`` (None: all term). ``words`` "target 20, set
    27 January".
    """

    value: float
    set_on: date | None = None
    words: str = ""


@dataclass(frozen=True)
class Break:
    """The first day of a new protocol: its words, and those of the one that ends. Either may be empty."""

    on: date
    old_words: str = ""
    new_words: str = ""


@dataclass(frozen=True)
class Cap:
    """Where the test was stopped, while that applied; ``words`` "arrow: at least 16"."""

    value: float
    from_on: date
    to_on: date
    words: str = ""


@dataclass(frozen=True)
class Event:
    """Something on the time rail: ``kind`` "pain" (also with its words in rust) or "growth"."""

    on: date
    kind: str
    words: str

    def __post_init__(self) -> None:
        if self.kind not in EVENT_KINDS:
            raise ValueError(f"an event is one of {EVENT_KINDS}, not {self.kind!r}")


@dataclass(frozen=True)
class GradeWord:
    """The word of a whole grade, used as an axis label."""

    value: float
    word: str


@dataclass(frozen=True)
class Chart:
    """One measure, one student, one term: everything a drawing needs, words in the reader's language.

    key: unique on the page (letters, digits, hyphens), the stem of the drawing's ids.
    kind: "count" (linear axis), "hold" (seconds, log axis) or "grade" (``grades`` label the axis; the
    band is cut at the first and the last of them).
    starts_on, ends_on: the term; week 1 is the week of ``starts_on``. Points and knots outside are not
    drawn.
    as_of: the day the judgement knows about, with its words ("as of 24 March").
    sentence: what a reader who sees no picture is told.
    bad_day_words, held_back_words: said once, beside the last such point.
    Raises ValueError for an unknown kind, a term that ends before it starts, or a number that is not
    finite.
    """

    key: str
    title: str
    unit: str
    kind: str
    starts_on: date
    ends_on: date
    as_of: date
    sides: tuple[ChartSide, ...]
    sentence: str
    as_of_words: str = ""
    target: Target | None = None
    holidays: tuple[Holiday, ...] = ()
    breaks: tuple[Break, ...] = ()
    caps: tuple[Cap, ...] = ()
    events: tuple[Event, ...] = ()
    grades: tuple[GradeWord, ...] = ()
    bad_day_words: str = ""
    held_back_words: str = ""

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise ValueError(f"a chart is one of {KINDS}, not {self.kind!r}")
        if self.ends_on < self.starts_on:
            raise ValueError("the term ends before it starts")
        if self.kind == "grade" and len(self.grades) < 2:  # noqa: PLR2004
            raise ValueError("a chart of grades needs at least two grade words")
        if not all(math.isfinite(number) for number in self._numbers()):
            raise ValueError("a chart holds finite numbers only")

    @property
    def shaded(self) -> str:
        """The side whose band is drawn first: whose line needs a look, else the left; one band at a time."""
        with_line = [side for side in self.sides if side.knots]
        for verdict in ("dropped", "slipping", "stalled"):
            for side in with_line:
                if side.end and side.end.verdict == verdict:
                    return side.side
        return min((side.side for side in with_line), default="")

    def _numbers(self) -> list[float]:
        found = [cap.value for cap in self.caps] + [grade.value for grade in self.grades]
        found += [self.target.value] if self.target else []
        for side in self.sides:
            found += [point.value for point in side.points]
            for knot in side.knots:
                found += [knot.level, knot.level_low, knot.level_high, knot.band_low, knot.band_high]
        return found
