"""Reads the facts that the judge is given: scores, targets, and what is in force for a measure; judges nothing."""
import datetime as dt
import math
from collections.abc import Collection, Iterable
from typing import NamedTuple

from django.db.models import Exists, Max, OuterRef, QuerySet

from progress.judging import judgement
from progress.judging.reach import Reach
from progress.models import LearnedValue, PainReport
from progress.queries.learned import in_force, learned_values
from screening.models import Measure, Protocol, Result, Screening
from screening.queries import scores, targets_by_stage
from studio.models import Student, Term

SCALES = {Measure.COUNT: "count", Measure.SECONDS: "hold", Measure.GRADE: "grade", Measure.TALLY: "grade"}


def _stopped_counts() -> Exists:
    """That a report of pain that was meant stopped this attempt, or the one that it corrects."""
    where = ("student", "screening", "measure", "side", "attempt")
    same = {f"stopped_result__{name}": OuterRef(name) for name in where}
    return Exists(PainReport.objects.meant().filter(**same))


def counted(rows: QuerySet[Result]) -> QuerySet[Result]:
    """Those that are judged, drawn and learned from: neither recorded although the student should have rested, nor
    cut short by pain."""
    return rows.filter(~_stopped_counts(), despite_rest="")


def stopped_by_pain(rows: Iterable[Result]) -> set[int]:
    """The ids of those that pain cut short: they say "at least"."""
    return set(Result.objects.filter(_stopped_counts(), pk__in=[row.pk for row in rows]).values_list("pk", flat=True))


def measure_facts(measure: Measure, learned: dict | None = None) -> judgement.MeasureFacts:
    """What the judge must know of a catalogue row, with the values in force; `learned` where it was read already."""
    is_grade = SCALES[measure.kind] == "grade"
    learned = learned_values() if learned is None else learned
    error = in_force(measure, LearnedValue.ERROR, learned).value
    # Another assessor adds as much as the catalogue says, whatever the error in force.
    other = (measure.typical_error_other or measure.typical_error) / measure.typical_error
    return judgement.MeasureFacts(
        key=measure.key,
        scale=SCALES[measure.kind],
        typical_error=error,
        typical_error_other=error * max(other, 1.0),
        typical_gain=in_force(measure, LearnedValue.GAIN, learned).value,
        lowest=float(measure.hard_low) if is_grade else None,
        highest=float(measure.hard_high) if is_grade else None,
    )


def _caps(measures: Iterable[Measure]) -> dict[int, float]:
    """What each protocol can show at most; without an end it is no "at least" that somebody stopped early."""
    caps = Protocol.objects.filter(measure__in=measures).values_list("pk", "cap")
    return {pk: math.inf if cap is None else float(cap) for pk, cap in caps}


def how_far_back() -> Reach:
    """How far back results are read one by one, by the studio's terms."""
    return Reach.of(Term.objects.values_list("starts_on", flat=True))


class LastSeen(NamedTuple):
    """The day of a student's latest result, and the class in which they are judged for it."""

    on: dt.date
    class_id: int


def measured(*, since: dt.date | None = None, before: dt.date | None = None) -> QuerySet[Result]:
    """What was seen from one day on and before another one, whether or not it is judged."""
    # The few that were replaced; for every row beside every other PostgreSQL would read the whole table.
    replaced = Result.objects.filter(supersedes__isnull=False).values("supersedes")
    rows = Result.objects.exclude(pk__in=replaced).filter(value__isnull=False)
    rows = rows if since is None else rows.filter(taken_on__gte=since)
    return rows if before is None else rows.filter(taken_on__lt=before)


def last_day(class_id: int, *, before: dt.date | None = None) -> dt.date | None:
    """The last day on which anything was measured in a class."""
    days = Screening.objects.filter(class_group=class_id).order_by("-held_on")
    days = days if before is None else days.filter(held_on__lt=before)
    # Mostly the first one; asked for all at once, PostgreSQL looks for results of every day.
    for screening_id, held_on in days.values_list("pk", "held_on"):
        if measured(before=before).filter(screening=screening_id).exists():
            return held_on
    return None


def last_seen(
    student_ids: Collection[int], *, since: dt.date | None = None, before: dt.date | None = None
) -> dict[int, LastSeen]:
    """Student to their latest result within these days; students without one are left out."""
    rows = measured(since=since, before=before).filter(student__in=student_ids).order_by()
    told = rows.values_list("student", "screening__class_group", "taken_on").annotate(last=Max("pk"))
    latest = {}
    for student_id, class_id, on, _last in sorted(told, key=lambda row: (row[2], row[3])):
        latest[student_id] = LastSeen(on, class_id)
    return latest


def judged_in(
    class_id: int, *, since: dt.date | None = None, before: dt.date | None = None
) -> dict[int, LastSeen]:
    """The students judged in a class, by results of these days: each in that of the latest one."""
    days = Screening.objects.filter(class_group=class_id)
    days = days if since is None else days.filter(held_on__gte=since)
    ids = set(measured(before=before).filter(screening__in=days).order_by().values_list("student", flat=True))
    seen = last_seen(ids, since=since, before=before)
    return {student_id: each for student_id, each in seen.items() if each.class_id == class_id}


def judge_facts(
    students: Collection[int], measures: list[Measure], *, since: dt.date | None = None, before: dt.date | None = None
) -> tuple[list[judgement.ResultFact], dict[tuple[int, str], float]]:
    """The facts of these students as the judge takes them: scores, and targets by student and measure key."""
    by_id, caps = {measure.pk: measure for measure in measures}, _caps(measures)
    rows = measured(since=since, before=before).filter(student__in=students, measure__in=measures)
    rows = scores(counted(rows), measures=measures)
    facts = [
        judgement.ResultFact(
            key=row.result_id, student=row.student_id, measure=by_id[row.measure_id].key, side=row.side, on=row.on,
            value=float(row.value), capped=row.capped, protocol=row.protocol_version,
            assessor=row.assessor, confirmed=row.is_confirmed, cap=caps[row.protocol_id],
        )
        for row in rows
    ]
    targets = targets_by_stage()
    wanted = {}
    for student_id, stage_id in Student.objects.filter(pk__in=students).values_list("pk", "stage"):
        for measure in measures:
            target = targets.get((measure.pk, stage_id))
            if target is not None:
                wanted[student_id, measure.key] = float(target.value)
    return facts, wanted
