"""Keeps the one stored judgement in step with the facts: standings and what the whole class shares."""
from collections.abc import Iterable

from django.db import transaction
from django.db.models import OuterRef, QuerySet, Subquery

from progress.actions.follow_ups import open_judged_follow_ups
from progress.judging import judgement
from progress.judging.line_record import write_line, write_stall
from progress.models import ClassStanding, LearnedValue, Standing
from progress.queries.learned import in_force, learned_values
from screening.models import Measure, Result
from screening.queries import judged_measures, scores, targets_by_stage
from studio.models import ClassGroup, Student

SCALES = {Measure.COUNT: "count", Measure.SECONDS: "hold", Measure.GRADE: "grade", Measure.TALLY: "grade"}


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


def _with_judging_class(students: QuerySet[Student]) -> QuerySet[Student]:
    """The students with `judged_in`: the class of each one's latest result, None without any."""
    latest = Result.objects.standing().filter(value__isnull=False, student=OuterRef("pk")).order_by("-taken_on", "-pk")
    return students.annotate(judged_in=Subquery(latest.values("screening__class_group")[:1]))


def judging_classes(student_ids: Iterable[int]) -> set[int]:
    """The classes these students are judged in: each in that of her latest result."""
    rows = _with_judging_class(Student.objects.filter(pk__in=list(student_ids)))
    return {pk for pk in rows.values_list("judged_in", flat=True) if pk is not None}


def students_judged_in(class_id: int) -> list[Student]:
    measured = Result.objects.filter(screening__class_group=class_id).values("student")
    return list(_with_judging_class(Student.objects.filter(pk__in=measured)).filter(judged_in=class_id))


def lock_judgement(*, student: Student, class_group: ClassGroup) -> None:
    """Keeps others from writing about this student, or judging a class the student may be judged in, meanwhile.

    Always the student first, then classes by key, so that no two writers wait for each other. Not a lock of the
    keys: whoever only refers to the student or class need not wait.
    """
    Student.objects.select_for_update(no_key=True).get(pk=student.pk)
    ids = set(Result.objects.filter(student=student).values_list("screening__class_group", flat=True))
    list(ClassGroup.objects.filter(pk__in=ids | {class_group.pk}).order_by("pk").select_for_update(no_key=True))


def judge_facts(
    students: list[Student], measures: list[Measure]
) -> tuple[list[judgement.ResultFact], dict[tuple[int, str], float]]:
    """The facts of these students as the judge takes them: scores, and targets by student and measure key."""
    by_id = {measure.pk: measure for measure in measures}
    rows = scores(Result.objects.filter(student__in=students, measure__in=measures))
    facts = [
        judgement.ResultFact(
            key=row.result_id, student=row.student_id, measure=by_id[row.measure_id].key, side=row.side, on=row.on,
            value=float(row.value), capped=row.capped, protocol=row.protocol_version,
            assessor=row.recorded_by_id or 0, confirmed=row.is_confirmed,
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


def refresh_standings(*, class_ids: Iterable[int]) -> None:
    """Judges whole classes anew and stores the answer; to be called in the transaction of the fact that changed it."""
    measures = judged_measures()
    with transaction.atomic():
        groups = ClassGroup.objects.filter(pk__in=set(class_ids)).order_by("pk")
        for class_group in groups.select_for_update(no_key=True):
            _refresh_class(class_group, measures)


def rebuild_standings() -> int:
    """Throws every standing away and judges every class anew; follow-ups stay as they are."""
    with transaction.atomic():
        Standing.objects.all().delete()
        ClassStanding.objects.all().delete()
        measures = judged_measures()
        groups = list(ClassGroup.objects.order_by("pk").select_for_update(no_key=True))
        for class_group in groups:
            _refresh_class(class_group, measures)
    return len(groups)


def _refresh_class(class_group: ClassGroup, measures: list[Measure]) -> None:
    students = students_judged_in(class_group.pk)
    facts, targets = judge_facts(students, measures)
    stale = Standing.objects.filter(class_group=class_group)
    if not facts:
        stale.delete()
        ClassStanding.objects.filter(class_group=class_group).delete()
        return
    as_of = max(fact.on for fact in facts)
    learned = learned_values()
    judged = judgement.judge_class(
        facts, measures={m.key: measure_facts(m, learned) for m in measures}, targets=targets, as_of=as_of
    )
    by_key = {measure.key: measure for measure in measures}
    again = set(judged.measure_again)
    rows = [
        Standing(
            student_id=student_id, measure=by_key[key], side=side, class_group=class_group, as_of=as_of,
            verdict=line.verdict, measure_again=(student_id, key, side) in again, line=write_line(line),
        )
        for (student_id, key, side), line in judged.lines.items()
    ]
    stale.exclude(student__in=students).delete()
    kept = {(row.student_id, row.measure_id, row.side) for row in rows}
    gone = [s.pk for s in stale.only("student", "measure", "side") if (s.student_id, s.measure_id, s.side) not in kept]
    Standing.objects.filter(pk__in=gone).delete()
    Standing.objects.bulk_create(
        rows, update_conflicts=True, unique_fields=["student", "measure", "side"],
        update_fields=["class_group", "as_of", "verdict", "measure_again", "line"],
    )
    ClassStanding.objects.update_or_create(
        class_group=class_group, defaults={"as_of": as_of, "stalls": [write_stall(s) for s in judged.class_stalls]}
    )
    open_judged_follow_ups(class_group=class_group, standings=rows, as_of=as_of)
