"""The one entry to the judgement: facts of a class in, verdicts, rates, prompts and knots out.

Pure: knows no Django, no database and no clock; `as_of` says up to when results are known.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping
from dataclasses import replace
from datetime import date, timedelta

from progress.engine.class_arrays import class_arrays
from progress.engine.facts import (
    ClassJudgement,
    ClassStall,
    Gap,
    Knot,
    Line,
    LineKey,
    MeasureFacts,
    ResultFact,
)
from progress.engine.read_line import LineReader
from progress.engine.ruling import VERDICTS
from progress.engine.school_arrays import Followed, follow_classes
from progress.measure_again import lines_to_ask

__all__ = [
    "VERDICTS",
    "ClassJudgement",
    "ClassStall",
    "Gap",
    "Knot",
    "Line",
    "LineKey",
    "MeasureFacts",
    "ResultFact",
    "judge_class",
    "judge_classes",
    "judge_weekly",
]

Targets = Mapping[tuple[Hashable, str], float]


def judge_class(
    results: Iterable[ResultFact], *, measures: Mapping[str, MeasureFacts], targets: Targets, as_of: date
) -> ClassJudgement:
    """Return everything that can be said about one class on `as_of`, from results up to that day.

    results: in any order, of all terms; targets: (student, measure) -> raw unit, for both sides. Callers
    pass the last day with a result as `as_of`; an earlier day tells what was known then. No result, no
    lines. Raises KeyError for a measure that `measures` lacks. The same facts in any order give an identical
    answer.
    """
    return judge_classes({"": results}, measures=measures, targets=targets, as_of=as_of)[""]


def judge_classes(
    classes: Mapping[Hashable, Iterable[ResultFact]],
    *,
    measures: Mapping[str, MeasureFacts],
    targets: Targets,
    as_of: date | Mapping[Hashable, date],
) -> dict[Hashable, ClassJudgement]:
    """Return `judge_class` of every class in one pass; `as_of`: one day, or one for each class."""
    return {
        key: _judgement(each, len(each.codes) - 1, targets)
        for key, each in _followed(classes, measures, targets, as_of).items()
    }


def judge_weekly(
    results: Iterable[ResultFact], *, measures: Mapping[str, MeasureFacts], targets: Targets, as_of: date
) -> list[ClassJudgement]:
    """Return what would have been said at the end of every week up to `as_of`, oldest first.

    Each answer uses only what was known then: it equals `judge_class` with that Sunday (or `as_of`).
    """
    followed = _followed({"": results}, measures, targets, as_of)[""]
    return [_judgement(followed, week, targets) for week in range(len(followed.codes))]


def _followed(classes, measures, targets, as_of) -> dict[Hashable, Followed]:
    days = as_of if isinstance(as_of, Mapping) else dict.fromkeys(classes, as_of)
    arrays = [
        class_arrays(results, measures=measures, targets=targets, as_of=days[key])
        for key, results in classes.items()
    ]
    return dict(zip(classes, follow_classes(arrays), strict=True))


def _judgement(followed: Followed, week: int, targets: Targets) -> ClassJudgement:
    monday = date.fromordinal(followed.arrays.first_monday + 7 * week)
    on = min(monday + timedelta(days=6), followed.arrays.as_of)
    reader = LineReader(followed, week, on)
    lines = {}
    for column, key in enumerate(followed.arrays.keys):
        if reader.first_week(column) <= week:
            lines[key] = reader.line(column, targets, None, with_class=False)
    asked = lines_to_ask(lines)
    for key in asked:
        lines[key] = replace(lines[key], measure_again=True)
    return ClassJudgement(as_of=on, lines=lines, class_stalls=(), measure_again=asked)
