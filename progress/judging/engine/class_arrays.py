"""Lays the facts of one class out as arrays for the filter, in an order that no shuffling of rows can change.

Knows facts and days; no verdict, no Django.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from operator import attrgetter

import numpy as np

from progress.judging.engine.caps import Caps, caps_of, carried_caps, joined, topped
from progress.judging.engine.class_effects import SharedRows, shared_offsets
from progress.judging.engine.class_weeks import DAYS_PER_WEEK, ClassWeeks, class_time, class_weeks
from progress.judging.engine.facts import LineKey, MeasureFacts, ResultFact
from progress.judging.engine.lines import AT_LEAST, AT_MOST, EXACT
from progress.judging.engine.resuming import Carried
from progress.judging.engine.stories import SCALES

# A hold of nothing is "at most half a second": the logarithm has no zero.
SHORTEST_HOLD_SECONDS = 0.5
_DAY = attrgetter("on")
# A grade was seen to the nearest whole grade, so its ends are open from half a grade inside.
HALF_GRADE = 0.5
# The top grade is given from half a grade below it: a grade's target counts as reached a quarter grade lower.
GRADE_TARGET_SLACK = 0.25


@dataclass(frozen=True)
class ClassArrays:
    """One class: facts in order, their arrays (m,), and the columns of its lines (n,).

    line, week, time, value, bound, error, opens_line, confirmed, impossible: as in lines.Results, numbered
    within the class; student (n,): index of the student of each line; first_week (n,): of its first result, 0 where
    there are older ones; target (working scale, inf where none); caps: see caps.Caps; first_monday: ordinal of the
    Monday of week 0; carried (n,): what is known of each line from before it, None where nothing is.
    """

    facts: tuple[ResultFact, ...]
    keys: tuple[LineKey, ...]
    measures: tuple[MeasureFacts, ...]
    as_of: date
    first_monday: int
    calendar: ClassWeeks
    arrays: dict[str, np.ndarray]
    columns: dict[str, np.ndarray]
    caps: Caps
    carried: tuple[Carried | None, ...]

    @cached_property
    def listed(self) -> dict[str, list]:
        """The arrays (m,) as plain lists, for readers of single numbers: arrays are slow at that."""
        return {name: array.tolist() for name, array in self.arrays.items()}

    @cached_property
    def bounds_of_line(self) -> list[int]:
        """Where the results of each line begin, and where the last ones end; (n + 1,)."""
        return np.searchsorted(self.arrays["line"], np.arange(len(self.keys) + 1)).tolist()


def class_arrays(
    results: Iterable[ResultFact],
    *,
    measures: Mapping[str, MeasureFacts],
    targets: Mapping[tuple[Hashable, str], float],
    as_of: date,
    carried: Mapping[LineKey, Carried] | None = None,
) -> ClassArrays:
    """Return the facts up to `as_of` as arrays. Raises KeyError for a measure that `measures` lacks.

    carried: of lines whose older facts are left out; of lines without a fact here it says nothing.
    """
    lines: dict[LineKey, list[ResultFact]] = defaultdict(list)
    for fact in results:
        if fact.on <= as_of:
            lines[fact.student, fact.measure, fact.side].append(fact)
    keys = tuple(sorted(lines, key=_place_of_line))
    facts = tuple(fact for key in keys for fact in _in_order(lines[key]))
    of_measure = tuple(measures[key[1]] for key in keys)
    line = np.repeat(np.arange(len(keys)), [len(lines[key]) for key in keys])
    day = np.array([fact.on.toordinal() for fact in facts], dtype=np.int64)
    end = as_of.toordinal()
    first = int(day.min()) if day.size else end
    first_monday = first - (first - 1) % DAYS_PER_WEEK
    week = (day - first_monday) // DAYS_PER_WEEK
    students = {student: index for index, student in enumerate(dict.fromkeys(key[0] for key in keys))}
    student = np.array([students[key[0]] for key in keys], dtype=np.intp)
    calendar = class_weeks(student[line], week, (end - first_monday) // DAYS_PER_WEEK + 1)
    arrays = {
        "line": line,
        "day": day,
        "week": week,
        "time": class_time(calendar, week, (day - first_monday) % DAYS_PER_WEEK),
    }
    before = tuple((carried or {}).get(key) for key in keys)
    arrays |= _worked(facts, of_measure, line, before)
    columns = _columns(keys, of_measure, targets, arrays)
    columns |= {"student": student, "first_week": _began(line, week, before)}
    caps = caps_of(arrays, [HALF_GRADE if measure.scale == "grade" else 0.0 for measure in of_measure])
    caps = joined([caps, carried_caps(arrays, [each and each.cap for each in before])])
    arrays["value"] = arrays["value"] - _shared(facts, of_measure, calendar, arrays, columns)
    return ClassArrays(facts, keys, of_measure, as_of, first_monday, calendar, arrays, columns, caps, before)


def _began(line: np.ndarray, week: np.ndarray, carried: tuple[Carried | None, ...]) -> np.ndarray:
    # A line with older results is there from the first week on.
    first_week = np.where([each is None for each in carried], np.iinfo(np.int64).max, 0)
    np.minimum.at(first_week, line, week)
    return first_week


def _place_of_line(key: LineKey) -> tuple:
    student, measure, side = key
    return measure, type(student).__name__, student if isinstance(student, int) else 0, str(student), side


def _in_order(facts: list[ResultFact]) -> list[ResultFact]:
    # The day alone decides, unless two share one: then everything does, which is dearer to compare.
    days_differ = len(set(map(_DAY, facts))) == len(facts)
    return sorted(facts, key=_DAY if days_differ else _place)


def _place(fact: ResultFact) -> tuple:
    return fact.on, str(fact.protocol), fact.value, str(fact.key)


def worked_value(measure: MeasureFacts, value: float, *, capped: bool = False) -> tuple[float, int]:
    """Return a raw value on the working scale and how it bounds the level: EXACT, AT_LEAST or AT_MOST.

    Holds become ln(seconds), below half a second "at most"; the ends of a grade scale are open from half a
    grade inside.

    >>> grade = MeasureFacts("control", "grade", 0.5, 0.6, 0.11, lowest=0, highest=2)
    >>> worked_value(grade, 2.0), worked_value(grade, 0.0), worked_value(grade, 1.0)
    ((1.5, 1), (0.5, -1), (1.0, 0))
    """
    if measure.scale == "hold":
        if value < SHORTEST_HOLD_SECONDS:
            return math.log(SHORTEST_HOLD_SECONDS), AT_MOST
        return math.log(value), AT_LEAST if capped else EXACT
    if measure.scale == "grade":
        if capped or (measure.highest is not None and value >= measure.highest):
            return value - HALF_GRADE, AT_LEAST
        if measure.lowest is not None and value <= measure.lowest:
            return value + HALF_GRADE, AT_MOST
    return float(value), AT_LEAST if capped else EXACT


def _worked(
    facts: tuple[ResultFact, ...], of_measure: tuple[MeasureFacts, ...], line: np.ndarray,
    carried: tuple[Carried | None, ...],
) -> dict:
    worked, error, opens, impossible, at_cap = [], [], [], [], []
    before, protocol, seen, known = -1, None, {}, {}
    for fact, own in zip(facts, line.tolist(), strict=True):
        if own != before:
            before, seen, most = own, {}, fact.assessor
            protocol = fact.protocol if carried[own] is None else carried[own].protocol
            measure = of_measure[own]
            of_value = known.setdefault(measure.key, {})
            top = math.inf if measure.highest is None else measure.highest
        value, assessor = fact.value, fact.assessor
        opens.append(fact.protocol != protocol)
        protocol = fact.protocol
        error.append(measure.typical_error if assessor == most else measure.typical_error_other)
        seen[assessor] = seen.get(assessor, 0) + 1
        if assessor != most:
            most = max(seen, key=seen.__getitem__)
        at_cap.append(_is_at_cap(fact, top))
        impossible.append(value > top or (fact.cap is not None and value > fact.cap))
        told = of_value.get((value, fact.capped))
        if told is None:
            told = of_value[value, fact.capped] = worked_value(measure, value, capped=fact.capped)
        worked.append(told)
    value, bound = zip(*worked, strict=True) if worked else ((), ())
    arrays = {
        "line": line,
        "value": np.array(value, dtype=float),
        "bound": np.array(bound, dtype=np.int8),
        "error": np.array(error, dtype=float),
        "opens_line": np.array(opens, dtype=bool),
        "confirmed": np.array([fact.confirmed for fact in facts], dtype=bool),
        "impossible": np.array(impossible, dtype=bool),
    }
    return arrays | {"topped": topped(arrays, at_cap)}


def _is_at_cap(fact: ResultFact, top: float) -> bool | None:
    # None: "at least", and what the protocol can give is not told.
    if fact.value >= top:
        return True
    if not fact.capped:
        return False
    return None if fact.cap is None else fact.value >= fact.cap


def _shared(
    facts: tuple[ResultFact, ...],
    of_measure: tuple[MeasureFacts, ...],
    calendar: ClassWeeks,
    arrays: dict[str, np.ndarray],
    columns: dict[str, np.ndarray],
) -> np.ndarray:
    # Per measure and term: what a bad week of the class and an assessor's eye add to every result.
    offset = np.zeros(len(facts))
    term = np.cumsum(calendar.returns)[arrays["week"]] if facts else np.zeros(0)
    assessor, _ = _numbered([fact.assessor for fact in facts])
    kind, number = _numbered([each.key for each in of_measure])
    for measure in {each.key: each for each in of_measure}.values():
        graded = measure.scale == "grade"
        usable = (kind[arrays["line"]] == number[measure.key]) & (graded | (arrays["bound"] == EXACT))
        usable &= ~arrays["impossible"]
        for one_term in np.unique(term[usable]):
            at = np.flatnonzero(usable & (term == one_term))
            at = at[np.argsort(arrays["week"][at], kind="stable")]
            offset[at] = shared_offsets(
                _rows(at, arrays, columns, assessor, HALF_GRADE if graded else 0.0),
                error=measure.typical_error,
                gain=measure.typical_gain,
            )
    return offset


def _numbered(names: list[Hashable]) -> tuple[np.ndarray, dict[Hashable, int]]:
    # Each name's number, in order of first appearance.
    number = {name: index for index, name in enumerate(dict.fromkeys(names))}
    return np.array([number[name] for name in names], dtype=np.intp), number


def _rows(at: np.ndarray, arrays: dict, columns: dict, assessor: np.ndarray, half: float) -> SharedRows:
    line, week = arrays["line"][at], arrays["week"][at]
    return SharedRows(
        line=np.unique(line, return_inverse=True)[1],
        student=np.unique(columns["student"][line], return_inverse=True)[1],
        week=week - week[0],
        time=arrays["time"][at],
        assessor=np.unique(assessor[at], return_inverse=True)[1],
        value=arrays["value"][at] + half * arrays["bound"][at],
    )


def _columns(keys, of_measure, targets, arrays) -> dict[str, np.ndarray]:
    wished = [targets.get(key[:2]) for key in keys]
    target = np.array(
        [math.inf if wish is None else _target(measure, wish) for measure, wish in zip(of_measure, wished, strict=True)]
    )
    scales = [SCALES[measure.scale] for measure in of_measure]
    prior = [_prior(measure) for measure in of_measure]
    return {
        "target": target,
        "prior_level": np.array([each[0] for each in prior]),
        "prior_sd": np.array([each[1] for each in prior]),
        "gain": np.array([measure.typical_gain for measure in of_measure]),
        "error": np.array([measure.typical_error for measure in of_measure]),
        "wobble_floor": np.array([scale.wobble_floor_share for scale in scales]),
        "wobble_per_level": np.array([scale.wobble_per_level_share for scale in scales]),
        "rounding": np.array([scale.rounding_variance for scale in scales]),
        "loss": np.array([_loss(measure) for measure in of_measure]).reshape(-1, 4).T,
        "shows_wobble": np.array([scale.shows_wobble for scale in scales], dtype=bool),
    }


def _loss(measure: MeasureFacts) -> tuple[float, ...]:
    loss = SCALES[measure.scale].loss
    unit = measure.typical_error if loss.in_errors else 1.0
    if measure.scale == "grade" and measure.lowest is not None and measure.highest is not None:
        # As on the scale 0 to 2.
        unit = 0.5 * (measure.highest - measure.lowest)
    return loss.share, loss.least * unit, loss.sd_share, loss.least_sd * unit


def _target(measure: MeasureFacts, wish: float) -> float:
    if measure.scale == "grade":
        return float(wish) - GRADE_TARGET_SLACK
    return math.log(max(wish, SHORTEST_HOLD_SECONDS)) if measure.scale == "hold" else float(wish)


def _prior(measure: MeasureFacts) -> tuple[float, float]:
    scale = SCALES[measure.scale]
    if measure.scale != "grade" or measure.lowest is None or measure.highest is None:
        return scale.prior_level, scale.prior_sd
    # As on the scale 0 to 2: the middle, and 0.35 of the width.
    return 0.5 * (measure.lowest + measure.highest), 0.35 * (measure.highest - measure.lowest)
