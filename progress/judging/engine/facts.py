"""The facts the judge is given and the words it answers in: frozen, raw units, dates; no database."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from typing import NamedTuple


@dataclass(frozen=True)
class MeasureFacts:
    """What the judge must know of a measure.

    scale: "count" (repetitions), "hold" (seconds) or "grade"; typical_error: SEM in the scale's unit (reps,
    ln s, grade), same assessor; typical_error_other: when another assessor measured; typical_gain: weekly
    gain when training works, same unit; lowest, highest: ends of a grade scale.
    """

    key: str
    scale: str
    typical_error: float
    typical_error_other: float
    typical_gain: float
    lowest: float | None = None
    highest: float | None = None


@dataclass(frozen=True)
class ResultFact:
    """One score that counts (attempts already reduced), in raw unit: rises, seconds, grade.

    key: id of the stored result; side: "L", "R" or ""; capped: the value is "at least"; protocol: a change
    of it starts a new line; confirmed: a held-back value that a teacher confirmed; cap: the most this
    protocol can give (infinite: no end), where known; a value above it is held back. An "at least" below it says that
    somebody stopped early: a lower bound and nothing more.
    """

    key: Hashable
    student: Hashable
    measure: str
    side: str
    on: date
    value: float
    capped: bool = False
    protocol: Hashable = 1
    assessor: Hashable = ""
    confirmed: bool = False
    cap: float | None = None


LineKey = tuple[Hashable, str, str]


class Knot(NamedTuple):
    """One point of the drawn line: level, its 80 % limits, the band where 8 of 10 single results fall.

    A named tuple: a class has a thousand of them, and frozen dataclasses are slow to make.
    """

    on: date
    level: float
    level_low80: float
    level_high80: float
    band_low: float
    band_high: float
    protocol: Hashable
    stale: bool


@dataclass(frozen=True)
class Gap:
    """Right minus left in raw unit, 80 % limits, the difference that counts, days both were measured."""

    right_minus_left: float
    low80: float
    high80: float
    limit: float
    is_apart: bool
    days_both: int


@dataclass(frozen=True)
class Drop:
    """A sudden loss: level before and after it (raw unit), last usual day and first low one."""

    before: float
    after: float
    usual_on: date
    low_on: date

    @property
    def share(self) -> float:
        """How much of the level is lost, 0 to 1."""
        return (self.before - self.after) / self.before if self.before > 0.0 else 0.0


@dataclass(frozen=True)
class Line:
    """The judgement of one student, measure and side; raw units, rates a week (holds: per cent a week).

    since_on, since_from: Monday since which it is level, slipping or gaining, and the earliest plausible
    one; flagged_on: first day of the present run of stalled or slipping; held_back: results that wait;
    first_level: under the present protocol; p_no_gain: flat below the target, or slipping; is_stale: nothing
    for three weeks. pace_if_gaining: of the working scale (reps, ln s, grade), for
    learned.learned_gain. drop: the sudden loss, where that is the verdict; asks: "low" or "high" where the last results
    are suddenly so, "class" where most of the class lost at once on that day; easing: stalled or slipping, but the
    last results are better; seen: no gain over the last weeks, whatever the last one says; flag_chance: from where
    "no gain" is said of it. Without a counted result level and rate are None and the verdict is "too_early".
    """

    student: Hashable
    measure: str
    side: str
    verdict: str
    results: int
    results_missing: int
    level: float | None
    level_low80: float | None
    level_high80: float | None
    rate: float | None
    rate_low80: float | None
    rate_high80: float | None
    p_gain: float
    p_flat: float
    p_slip: float
    since_on: date | None
    since_from: date | None
    weeks_to_target: tuple[float | None, float | None, float | None]
    target: float | None
    at_cap: bool
    gap: Gap | None
    one_sided: bool
    with_class: bool
    flagged_on: date | None
    held_back: tuple[Hashable, ...]
    measure_again: bool
    first_on: date | None
    last_on: date | None
    first_level: float | None
    knots: tuple[Knot, ...] = ()
    scale: str = "count"
    p_no_gain: float = 0.0
    results_in_protocol: int = 0
    has_new_protocol: bool = False
    is_stale: bool = False
    pace_if_gaining: float | None = None
    drop: Drop | None = None
    asks: str = ""
    easing: bool = False
    seen: bool = False
    flag_chance: float = 0.66

    @property
    def key(self) -> LineKey:
        """(student, measure, side)."""
        return self.student, self.measure, self.side

    def drawn_from(self, day: date | None) -> Line:
        """Return the line without the knots before that day, as one term draws it; None: as it is."""
        return self if day is None else replace(self, knots=tuple(knot for knot in self.knots if knot.on >= day))


@dataclass(frozen=True)
class ClassStall:
    """Most of a class stands still: measure None means several; members: who stands; share of the class.

    is_drop: most of it lost at once on that day instead: a question about the day. firm: it leaned that way two weeks
    before as well; till then one looks again first.
    """

    measure: str | None
    since_on: date
    share: float
    members: tuple[Hashable, ...]
    score: float
    is_drop: bool = False
    firm: bool = True


@dataclass(frozen=True)
class ClassJudgement:
    """Everything said about a class on one day; measure_again: likeliest to be settled first."""

    as_of: date
    lines: Mapping[LineKey, Line]
    class_stalls: tuple[ClassStall, ...] = ()
    measure_again: tuple[LineKey, ...] = field(default_factory=tuple)
