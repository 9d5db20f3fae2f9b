"""Reads the facts that the judge is given: scores, targets, and what is in force for a measure; judges nothing."""
import math
from collections.abc import Iterable

from django.db.models import Exists, OuterRef, QuerySet

from progress.judging import judgement
from progress.models import LearnedValue, PainReport
from progress.queries.learned import in_force, learned_values
from screening.models import Measure, Protocol, Result
from screening.queries import scores, targets_by_stage
from studio.models import Student

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


def judge_facts(
    students: list[Student], measures: list[Measure]
) -> tuple[list[judgement.ResultFact], dict[tuple[int, str], float]]:
    """The facts of these students as the judge takes them: scores, and targets by student and measure key."""
    by_id, caps = {measure.pk: measure for measure in measures}, _caps(measures)
    rows = scores(counted(Result.objects.filter(student__in=students, measure__in=measures)))
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
    for student in students:
        for measure in measures:
            target = targets.get((measure.pk, student.stage_id))
            if target is not None:
                wanted[student.pk, measure.key] = float(target.value)
    return facts, wanted
