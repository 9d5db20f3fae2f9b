"""The one entry to the judgement: facts of a class in, verdicts, rates, prompts and knots out.

Pure: knows no Django, no database and no clock; `as_of` says up to when results are known.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping
from dataclasses import replace
from datetime import date, timedelta

from progress.judging.engine.carrying import carried_over
from progress.judging.engine.class_arrays import class_arrays
from progress.judging.engine.class_reading import gap, joins, stalls
from progress.judging.engine.class_stall import Stall
from progress.judging.engine.facts import (
    ClassJudgement,
    ClassStall,
    Drop,
    Gap,
    Knot,
    Line,
    LineKey,
    MeasureFacts,
    ResultFact,
)
from progress.judging.engine.read_line import LineReader
from progress.judging.engine.resuming import Carried
from progress.judging.engine.ruling import VERDICTS
from progress.judging.engine.school_arrays import Followed, follow_classes
from progress.judging.engine.shared_losses import shared_losses, told_of_the_day
from progress.judging.measure_again import lines_to_ask

__all__ = [
    "VERDICTS",
    "Carried",
    "ClassJudgement",
    "ClassStall",
    "Drop",
    "Gap",
    "Knot",
    "Line",
    "LineKey",
    "MeasureFacts",
    "ResultFact",
    "carry_over",
    "judge_class",
    "judge_classes",
    "judge_weekly",
]

Targets = Mapping[tuple[Hashable, str], float]


def judge_class(
    results: Iterable[ResultFact],
    *,
    measures: Mapping[str, MeasureFacts],
    targets: Targets,
    as_of: date,
    carried: Mapping[LineKey, Carried] | None = None,
) -> ClassJudgement:
    """Return everything that can be said about one class on `as_of`, from results up to that day.

    results: in any order, of all terms; targets: (student, measure) -> raw unit, for both sides. Callers
    pass the last day with a result as `as_of`; an earlier day tells what was known then. No result, no
    lines. Raises KeyError for a measure that `measures` lacks. The same facts in any order give an identical
    answer. carried: of lines whose older results are left out, what `carry_over` said of them.
    """
    arrays = class_arrays(results, measures=measures, targets=targets, as_of=as_of, carried=carried)
    [followed] = follow_classes([arrays], every_week=False)
    return _judgement(followed, len(followed.codes) - 1, targets)


def carry_over(
    results: Iterable[ResultFact],
    *,
    measures: Mapping[str, MeasureFacts],
    as_of: date,
    carried: Mapping[LineKey, Carried] | None = None,
) -> dict[LineKey, Carried]:
    """Return what a class leaves, line by line, for results of later weeks to read on from.

    as_of: the last day of the last week; results, carried: as in `judge_class`. A line without a result here is carried
    on as it was.
    """
    arrays = class_arrays(results, measures=measures, targets={}, as_of=as_of, carried=carried)
    [followed] = follow_classes([arrays], every_week=False)
    lines = _judgement(followed, len(followed.codes) - 1, {}, with_knots=False).lines
    return {**(carried or {}), **carried_over(followed, lines)}


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
        for key, each in _followed(classes, measures, targets, as_of, every_week=False).items()
    }


def judge_weekly(
    results: Iterable[ResultFact],
    *,
    measures: Mapping[str, MeasureFacts],
    targets: Targets,
    as_of: date,
    with_knots: bool = True,
) -> list[ClassJudgement]:
    """Return what would have been said at the end of every week up to `as_of`, oldest first.

    Each answer uses only what was known then: it equals `judge_class` with that Sunday (or `as_of`).
    """
    followed = _followed({"": results}, measures, targets, as_of, every_week=True)[""]
    return [_judgement(followed, week, targets, with_knots=with_knots) for week in range(len(followed.codes))]


def _followed(classes, measures, targets, as_of, *, every_week) -> dict[Hashable, Followed]:
    days = as_of if isinstance(as_of, Mapping) else dict.fromkeys(classes, as_of)
    arrays = [
        class_arrays(results, measures=measures, targets=targets, as_of=days[key]) for key, results in classes.items()
    ]
    return dict(zip(classes, follow_classes(arrays, every_week=every_week), strict=True))


def _judgement(followed: Followed, week: int, targets: Targets, *, with_knots: bool = True) -> ClassJudgement:
    monday = date.fromordinal(followed.arrays.first_monday + 7 * week)
    on = min(monday + timedelta(days=6), followed.arrays.as_of)
    reader = LineReader(followed, week, on)
    found = stalls(followed, week)
    gaps = _gaps(followed, reader)
    lines = {}
    for column, key in enumerate(followed.arrays.keys):
        if reader.first_week(column) <= week:
            shared = any(joins(each, key[1], reader.p_no_gain(column)) for each in found)
            lines[key] = reader.line(column, targets, gaps.get(column), with_class=shared, with_knots=with_knots)
    lost = shared_losses(lines)
    for each in lost:
        lines |= told_of_the_day(lines, each)
    asked = lines_to_ask(lines)
    for key in asked:
        lines[key] = replace(lines[key], measure_again=True)
    return ClassJudgement(
        as_of=on,
        lines=lines,
        class_stalls=(
            *lost,
            *(_class_stall(each, reader) for each in found if each.measure not in {day.measure for day in lost}),
        ),
        measure_again=asked,
    )


def _gaps(followed: Followed, reader: LineReader) -> dict[int, Gap | None]:
    # Column -> gap, the same one for both feet of a pair.
    gaps: dict[int, Gap | None] = {}
    for column, key in enumerate(followed.arrays.keys):
        other = reader.other_side(column) if key[2] == "L" else None
        if other is not None and max(reader.first_week(column), reader.first_week(other)) <= reader.week:
            gaps[column] = gaps[other] = gap(followed, reader.week, column, other)
    return gaps


def _class_stall(stall: Stall, reader: LineReader) -> ClassStall:
    since = reader.monday(max(0, reader.week - stall.back))
    names = list(dict.fromkeys(key[0] for key in reader.followed.arrays.keys))
    members = tuple(names[index] for index in stall.members)
    return ClassStall(stall.measure, since, stall.share, members, stall.score)
