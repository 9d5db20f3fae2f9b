"""How fast a student grows, with its error, and when that deserves a gentle word: pure rules on heights by date.

Knows no Django, no database and no clock. No maturity offset and no weight, on purpose.
Sources: one height errs by about 0.3 cm (Voss et al. 1990, 1994), so intervals under 90 days say nothing; growth
of 0.6 cm a month or more went with more injuries in young footballers (Kemper et al. 2015), not in dancers.
"""
import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass

DAYS_A_YEAR = 365.25
# Standard deviation of one height, cm: 0.2 to 0.3 in print; the larger one is used.
HEIGHT_SD = 0.3
SHORTEST_DAYS = 90
# The pair nearest to half a year is read, none longer ago than this: studio's own rule.
USUAL_DAYS, LONGEST_DAYS = 182, 400
# 0.6 cm a month.
FAST_CM_A_YEAR = 7.2
# Unusual heights are asked back (from memory of growth charts), and so is a change outside these, cm a year
SOFT_LOW, SOFT_HIGH = 105.0, 190.0
SOFT_GROWTH = (0.0, 12.0)


@dataclass(frozen=True)
class Reading:
    """One height, shoes off, and its day."""

    height_cm: float
    on: dt.date


@dataclass(frozen=True)
class Growth:
    """From one height to another: cm grown, cm a year, and the 95 % error of that pace."""

    first: Reading
    last: Reading
    cm_a_year: float
    error: float

    @property
    def days(self) -> int:
        return (self.last.on - self.first.on).days

    @property
    def cm(self) -> float:
        return self.last.height_cm - self.first.height_cm

    @property
    def is_fast(self) -> bool:
        """True where even the lower limit is fast."""
        return self.cm_a_year - self.error >= FAST_CM_A_YEAR


def velocity_error(days: int, *, height_sd: float = HEIGHT_SD) -> float:
    """The 95 % error, cm a year, of a pace between two heights so many days apart: 1.96 * sqrt(2) * SD / years.

    days: more than 0, else ValueError. Check values: evidence of Voss and Bailey, computed.

    >>> [round(velocity_error(days), 1) for days in (30, 91, 182, 365)]
    [10.1, 3.3, 1.7, 0.8]
    """
    if days <= 0:
        raise ValueError("a pace needs two different days")
    return 1.96 * math.sqrt(2) * height_sd / (days / DAYS_A_YEAR)


def between(first: Reading, last: Reading) -> Growth:
    """The growth between two heights; ValueError for less than 90 days, which say nothing.

    >>> grown = between(Reading(138.0, dt.date(2031, 1, 6)), Reading(140.0, dt.date(2031, 7, 7)))
    >>> round(grown.cm_a_year, 3), round(grown.error, 2), grown.is_fast
    (4.014, 1.67, False)
    """
    days = (last.on - first.on).days
    if days < SHORTEST_DAYS:
        raise ValueError(f"a pace needs {SHORTEST_DAYS} days, not {days}")
    return Growth(first, last, (last.height_cm - first.height_cm) / (days / DAYS_A_YEAR), velocity_error(days))


def latest_growth(readings: Sequence[Reading], *, as_of: dt.date) -> Growth | None:
    """The growth up to the last height on or before `as_of`, over the pair nearest to half a year; None where none
    spans 90 days, or where the last height is over a year old.

    readings: in any order, one a day.
    """
    known = sorted((r for r in readings if r.on <= as_of), key=lambda r: r.on)
    if not known or (as_of - known[-1].on).days > LONGEST_DAYS:
        return None
    last = known[-1]
    pairs = [r for r in known[:-1] if SHORTEST_DAYS <= (last.on - r.on).days <= LONGEST_DAYS]
    if not pairs:
        return None
    first = min(pairs, key=lambda r: (abs((last.on - r.on).days - USUAL_DAYS), r.on))
    return between(first, last)


def is_unusual(reading: Reading, others: Sequence[Reading]) -> str:
    """What is asked back before a height is kept: "height" itself, its "change" to the next ones, or "".

    A change within the error of two heights is never odd.
    """
    if not SOFT_LOW <= reading.height_cm <= SOFT_HIGH:
        return "height"
    for other in others:
        days = (reading.on - other.on).days
        if days == 0:
            continue
        grown = (reading.height_cm - other.height_cm) / (days / DAYS_A_YEAR)
        slack = velocity_error(abs(days))
        if not SOFT_GROWTH[0] - slack <= grown <= SOFT_GROWTH[1] + slack:
            return "change"
    return ""
