"""Reads one line of the followed arrays back into raw units and dates, nothing missing as NaN.

Knows facts and days; no database, no clock, no words for people.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterator
from datetime import date, timedelta
from functools import cached_property
from statistics import mean, median

import numpy as np

from progress.judging.engine import ruling
from progress.judging.engine.facts import Drop, Gap, Knot, Line, MeasureFacts
from progress.judging.engine.readings import LIMIT
from progress.judging.engine.school_arrays import Followed
from progress.judging.engine.stretch import STRETCH_WEEKS, WORTHWHILE_SHARE

# Nothing for three weeks of class time: the level is a guess by then.
STALE_WEEKS = 3.0
# The last two counted results at the cap: the measure has nothing more to show.
CAPPED_IN_A_ROW = 2
# The other side does not stand still with it: then it is one-sided.
OTHER_SIDE_MOVES_BELOW = 0.5
# What a sudden loss is told from: the middle of so many results before it, and of as many after it.
DROP_RESULTS = 3
# The day of a loss is looked for from so many weeks before the likeliest one.
NEAR_WEEKS = 2
# Looked back over for a stretch that has been level longer, at least so many results and one.
FEWEST_TO_LOOK_BACK = 6
# A last result so many errors below the level is asked about, however unlikely a loss of that size: measure again, and
# does it hurt.
LOW_ERRORS = 2.75
# Of what a line says, as of the readings it is read from.
DECIMALS = 9
# Of the points of the weeks that are over: finer than any pen.
KNOT_DECIMALS = 2


def raw_level(measure: MeasureFacts, level: float) -> float:
    """Return a level of the working scale in raw unit, inside the ends of the scale.

    >>> round(raw_level(MeasureFacts("balance", "hold", 0.32, 0.4, 0.06), 3.0), 2)
    20.09
    """
    if measure.scale == "hold":
        return math.exp(level)
    low = 0.0 if measure.lowest is None else measure.lowest
    high = math.inf if measure.highest is None else measure.highest
    return min(max(level, low), high)


def raw_rate(measure: MeasureFacts, rate: float) -> float:
    """Return a weekly rate as shown: repetitions or grades a week, for holds per cent a week.

    >>> round(raw_rate(MeasureFacts("balance", "hold", 0.32, 0.4, 0.06), 0.06), 2)
    6.18
    """
    return 100.0 * math.expm1(rate) if measure.scale == "hold" else rate


class LineReader:
    """Reads lines of one followed class at week `week` (its index), which ends on `on`."""

    def __init__(self, followed: Followed, week: int, on: date) -> None:
        self.followed, self.week, self.on = followed, week, on
        self._starts = followed.arrays.bounds_of_line
        self._weeks, self._topped = followed.arrays.listed["week"], followed.arrays.listed["topped"]
        self._held = followed.held_back.tolist()
        self._codes, self._runs = followed.codes[week].tolist(), followed.runs[week].tolist()
        self._rows: dict[str, list[float]] = {}

    def monday(self, week: float) -> date:
        """Return the Monday of a (fractional) week index of this class."""
        return date.fromordinal(self.followed.arrays.first_monday + 7 * int(round(week)))

    def at(self, name: str, column: int) -> float:
        """Return one reading of this week."""
        if name not in self._rows:
            self._rows[name] = getattr(self.followed.history, name)[self.week].tolist()
        return self._rows[name][column]

    def p_no_gain(self, column: int) -> float:
        """Return the chance that a line is flat below the target, or slipping."""
        return self.at("p_flat_below", column) + self.at("p_slips", column)

    def first_week(self, column: int) -> int:
        """Return the week of the first result of a line, held back or not."""
        return self._weeks[self._starts[column]]

    def line(self, column: int, targets: dict, gap: Gap | None, *, with_class: bool, with_knots: bool) -> Line:
        """Return the judgement of one line; asked-for measuring is filled in by the class."""
        class_arrays = self.followed.arrays
        student, measure_key, side = class_arrays.keys[column]
        measure = class_arrays.measures[column]
        counted, held = self._results(column)
        verdict, drop = self._verdict(column, counted)
        target = targets.get((student, measure_key))
        results = int(self.at("count", column))
        return Line(
            student=student,
            measure=measure_key,
            side=side,
            scale=measure.scale,
            verdict=verdict,
            results=results,
            results_missing=_missing(verdict, results),
            results_in_protocol=int(self.at("line_count", column)),
            **self._readings(column, measure, verdict, live=results > 0),
            **self._since(column, verdict),
            weeks_to_target=self._weeks_to_target(column) if target is not None and counted else (None,) * 3,
            target=target,
            at_cap=self._at_cap(counted),
            gap=gap,
            one_sided=self._one_sided(column, verdict),
            with_class=with_class,
            flagged_on=self._flagged_on(column) if verdict in ("stalled", "slipping", "dropped") else None,
            held_back=self._held_back(column, held),
            measure_again=False,
            **self._span(column, counted),
            first_level=self._first_level(column, measure, counted),
            knots=tuple(self._knots(column, counted)) if with_knots else (),
            has_new_protocol=len({class_arrays.facts[index].protocol for index in counted}) > 1,
            pace_if_gaining=self.at("rate_gaining", column) if results else None,
            is_stale=results > 0 and self._is_stale(column),
            drop=drop,
            asks=self._asks(column, verdict),
            easing=verdict in ("stalled", "slipping") and self._is_easing(column),
            seen=verdict in ("stalled", "slipping") and self._is_seen(column),
            flag_chance=round(float(self.followed.flag_from[self.week, column]), DECIMALS),
        )

    def _results(self, column: int) -> tuple[list[int], list[int]]:
        start, stop = self._starts[column], self._starts[column + 1]
        known = range(start, bisect_right(self._weeks, self.week, start, stop))
        return [row for row in known if not self._held[row]], [row for row in known if self._held[row]]

    def _span(self, column: int, counted: list[int]) -> dict[str, date | None]:
        # Days of the first and the last counted result, older ones than those of here included.
        facts, before = self.followed.arrays.facts, self.followed.arrays.carried[column]
        first, last = (facts[counted[at]].on if counted else None for at in (0, -1))
        if before is None:
            return {"first_on": first, "last_on": last}
        return {"first_on": before.first_on or first, "last_on": last or before.last_on}

    def _held_back(self, column: int, held: list[int]) -> tuple:
        before = self.followed.arrays.carried[column]
        here = (self.followed.arrays.facts[index].key for index in held)
        return (*(before.held_back if before else ()), *here)

    def _readings(self, column: int, measure: MeasureFacts, verdict: str, *, live: bool) -> dict:
        chances = {name: self.at(name, column) for name in ("p_gain", "p_flat", "p_slip")}
        chances["p_no_gain"] = self.p_no_gain(column)
        if not live:
            names = ("level", "level_low80", "level_high80", "rate", "rate_low80", "rate_high80")
            return chances | dict.fromkeys(names)
        level, spread = self.at("level", column), LIMIT * self.at("level_sd", column)
        chances |= {
            "level": round(raw_level(measure, level), DECIMALS),
            "level_low80": round(raw_level(measure, level - spread), DECIMALS),
            "level_high80": round(raw_level(measure, level + spread), DECIMALS),
        }
        if verdict == "dropped":
            # A loss within a week is no pace: the sentence says from where to where.
            return chances | dict.fromkeys(("rate", "rate_low80", "rate_high80"))
        return chances | {
            "rate": raw_rate(measure, self.at("rate", column)),
            "rate_low80": raw_rate(measure, self.at("rate_low", column)),
            "rate_high80": raw_rate(measure, self.at("rate_high", column)),
        }

    def _since(self, column: int, verdict: str) -> dict:
        kind = {"stalled": "stand", "slipping": "stand", "gaining": "gain"}.get(verdict)
        if kind is None:
            return {"since_on": None, "since_from": None}
        sunk = int(self.followed.sunk_since[self.week, column])
        if sunk >= 0:
            return {"since_on": self.monday(sunk), "since_from": self.monday(sunk)}
        began = min(self.at(f"began_{kind}", column), self.week)
        if verdict == "stalled":
            began = min(began, self._level_from(column, began))
        earliest = min(self.at(f"earliest_{kind}", column), began)
        return {"since_on": self.monday(began), "since_from": self.monday(earliest)}

    def _level_from(self, column: int, began: float) -> float:
        # Where it is seen the stretch, and further back as long as a straight line leaves no room for a gain.
        arrays, measure = self.followed.arrays, self.followed.arrays.measures[column]
        counted, _ = self._results(column)
        if not counted:
            return began
        stretch = max(self.week - STRETCH_WEEKS, self.first_week(column)) if self._is_seen(column) else began
        begins = int(np.flatnonzero(arrays.calendar.returns[: self.week + 1]).max(initial=0))
        protocol = arrays.facts[counted[-1]].protocol
        at = [row for row in counted if arrays.facts[row].protocol == protocol and self._weeks[row] >= begins]
        stretch = max(stretch, begins)
        time, value = (arrays.arrays[name][at] for name in ("time", "value"))
        room = WORTHWHILE_SHARE * measure.typical_gain
        for place in range(len(at) - FEWEST_TO_LOOK_BACK):
            off = time[place:] - time[place:].mean()
            width = float((off**2).sum())
            slope, error = float((off * value[place:]).sum()) / width, self.at("error", column) / math.sqrt(width)
            level = slope + error < room or (place == 0 and self.followed.level_margin[self.week, column] >= 0.0)
            if level and slope + room > -error:
                return min(stretch, self._weeks[at[place]])
        return stretch

    def _drop(self, column: int, counted: list[int]) -> Drop:
        # As of the week in which it was first said: later results move the level, not the day.
        history, said = self.followed.history, self._runs[column]
        while self.followed.codes[said, column] != ruling.DROPPED:
            said += 1
        began = int(round(float(history.lost_week[said, column])))
        facts = self.followed.arrays.facts
        known = [row for row in counted if self._weeks[row] <= said]
        # Near the week that is likeliest, where the fall is steepest.
        near = [place for place in range(1, len(known)) if began - NEAR_WEEKS <= self._weeks[known[place]]]
        values = [facts[row].value for row in known]

        def around(place: int) -> tuple[list[float], list[float]]:
            return values[max(place - DROP_RESULTS, 0) : place], values[place:][:DROP_RESULTS]

        def fall(place: int) -> float:
            before, after = around(place)
            return mean(before) - mean(after)

        place = max(near or [len(known) - 1], key=fall)
        before, after = around(place)
        return Drop(median(before), median(after), facts[known[place - 1]].on, facts[known[place]].on)

    def _verdict(self, column: int, counted: list[int]) -> tuple[str, Drop | None]:
        # A loss that cannot be shown in results is none yet.
        verdict = ruling.VERDICTS[self._codes[column]]
        if verdict != "dropped":
            return verdict, None
        drop = self._drop(column, counted) if len(counted) > 1 else None
        return ("dropped", drop) if drop and drop.after < drop.before else ("not_clear", None)

    def _asks(self, column: int, verdict: str) -> str:
        if verdict in ("dropped", "too_early"):
            return ""
        if self.at("late_lost", column) >= ruling.ASKED_FROM or self._is_low(column):
            return "low"
        return "high" if self.at("late_risen", column) >= ruling.ASKED_FROM else ""

    def _is_low(self, column: int) -> bool:
        counted, _ = self._results(column)
        last = counted[-1] if counted else None
        if last is None or len(counted) < ruling.FEWEST_RESULTS or self.at("line_count", column) < 2:
            return False
        new_term = self.followed.arrays.calendar.returns[self._weeks[last]]
        if new_term or self._weeks[last] == 0 or self.followed.arrays.measures[column].scale == "grade":
            return False
        before = float(self.followed.history.level[self._weeks[last] - 1, column])
        off = before - float(self.followed.arrays.arrays["value"][last])
        return off >= LOW_ERRORS * self.at("error", column)

    def _is_easing(self, column: int) -> bool:
        # Said only because it was said before.
        if self.followed.sunk_since[self.week, column] >= 0:
            return False
        flag_from = float(self.followed.flag_from[self.week, column])
        return self.p_no_gain(column) < flag_from and not self._is_seen(column)

    def _is_seen(self, column: int) -> bool:
        return bool(self.followed.seen[self.week, column])

    def _weeks_to_target(self, column: int) -> tuple[float | None, ...]:
        weeks = (self.at(name, column) for name in ("weeks_10", "weeks_50", "weeks_90"))
        return tuple(each if math.isfinite(each) else None for each in weeks)

    def _at_cap(self, counted: list[int]) -> bool:
        topped = [self._topped[row] for row in counted[-CAPPED_IN_A_ROW:]]
        return topped == [True] * CAPPED_IN_A_ROW

    def _one_sided(self, column: int, verdict: str) -> bool:
        other = self.other_side(column)
        if other is None or verdict not in ("stalled", "slipping", "dropped"):
            return False
        code = self._codes[other]
        if code in (ruling.TOO_EARLY, ruling.STALLED, ruling.SLIPPING, ruling.DROPPED):
            return False
        return code in (ruling.GAINING, ruling.AT_TARGET) or self.p_no_gain(other) < OTHER_SIDE_MOVES_BELOW

    def other_side(self, column: int) -> int | None:
        """Return the column of the other foot of the same student and measure, if it is measured."""
        student, measure, side = self.followed.arrays.keys[column]
        other = {"L": "R", "R": "L"}.get(side)
        for near in (column - 1, column + 1):
            inside = 0 <= near < len(self.followed.arrays.keys)
            if inside and self.followed.arrays.keys[near] == (student, measure, other):
                return near
        return None

    def _flagged_on(self, column: int) -> date | None:
        # The first class day of the week in which the run began: stable whatever is recorded later.
        began = self._runs[column]
        if began < 0:
            return None
        arrays = self.followed.arrays.arrays
        days = arrays["day"][arrays["week"] == began]
        return date.fromordinal(int(days.min())) if days.size else self.monday(began)

    def _first_level(self, column: int, measure: MeasureFacts, counted: list[int]) -> float | None:
        if not counted:
            return None
        facts, first = self.followed.arrays.facts, counted[-1]
        before = self.followed.arrays.carried[column]
        if before and all(facts[index].protocol == before.protocol for index in counted):
            return before.first_level
        for index in reversed(counted):
            if facts[index].protocol != facts[first].protocol:
                break
            first = index
        return raw_level(measure, float(self.followed.history.level[self._weeks[first], column]))

    def _is_stale(self, column: int) -> bool:
        return self.at("time", column) - self.at("last_time", column) >= STALE_WEEKS

    def _knots(self, column: int, counted: list[int]) -> Iterator[Knot]:
        if not counted:
            return iter(())
        first = self._weeks[counted[0]]
        points = (each[first:] for each in self._points[column])
        return map(Knot, self._days[first:], *points, self._protocols(counted, first), self._stale[column][first:])

    @cached_property
    def _points(self) -> list[list[list[float]]]:
        # Column -> level, its limits and those of one result, each of every week so far; raw unit, as raw_level.
        history, rows = self.followed.history, slice(0, self.week + 1)
        level = history.level[rows].T
        inner, outer = LIMIT * history.level_sd[rows].T, LIMIT * history.result_sd[rows].T
        points = np.stack((level, level - inner, level + inner, level - outer, level + outer), axis=1)
        holds = np.array([measure.scale == "hold" for measure in self.followed.arrays.measures])
        points[holds] = np.exp(points[holds])
        ends = [(each.lowest or 0.0, each.highest) for each in self.followed.arrays.measures]
        low, high = np.array([(low, math.inf if high is None else high) for low, high in ends])[~holds].T
        points[~holds] = np.clip(points[~holds], low[:, None, None], high[:, None, None])
        # A drawing shows no more of the weeks that are over; the last is the level that is said.
        points = np.round(points, DECIMALS)
        points[:, :, :-1] = np.round(points[:, :, :-1], KNOT_DECIMALS)
        return points.tolist()

    @cached_property
    def _stale(self) -> list[list[bool]]:
        history, rows = self.followed.history, slice(0, self.week + 1)
        return (history.time[rows] - history.last_time[rows] >= STALE_WEEKS).T.tolist()

    @cached_property
    def _days(self) -> list[date]:
        monday = self.monday(0)
        return [min(monday + timedelta(days=7 * week + 6), self.on) for week in range(self.week + 1)]

    def _protocols(self, counted: list[int], first: int) -> list:
        facts, weeks = self.followed.arrays.facts, self._weeks
        protocols = [None] * (self.week + 1 - first)
        for index in counted:
            protocols[weeks[index] - first] = facts[index].protocol
        for week in range(1, len(protocols)):
            if protocols[week] is None:
                protocols[week] = protocols[week - 1]
        return protocols


def _missing(verdict: str, results: int) -> int:
    # Enough results but not yet three weeks: at least one more is needed.
    return max(1, ruling.FEWEST_RESULTS - results) if verdict == "too_early" else 0
