"""Keeps the one stored judgement in step with the facts: standings and what the whole class shares."""
import datetime as dt
from collections.abc import Iterable

from django.db import transaction
from django.db.models import OuterRef, QuerySet, Subquery
from django.utils import timezone

from progress.actions.finished_terms import keep_finished_terms, open_again_where_nothing_is_newer
from progress.actions.follow_ups import open_judged_follow_ups
from progress.judging import judgement
from progress.judging.line_record import write_line, write_stall
from progress.models import ClassStanding, Standing
from progress.queries.judged import judge_facts, measure_facts
from progress.queries.learned import learned_values
from screening.models import Measure, Result
from screening.queries import judged_measures
from studio.models import ClassGroup, Student


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


def refresh_standings(
    *, class_ids: Iterable[int], over_on: dt.date | None = None, today: dt.date | None = None
) -> None:
    """Judges whole classes anew and stores the answer; to be called in the transaction of the fact that changed it.

    over_on: today, where no result changed but what results are held to (a stage, a target, a typical error): terms
    that are over by then keep what was judged of them.
    """
    measures = judged_measures()
    with transaction.atomic():
        groups = ClassGroup.objects.filter(pk__in=set(class_ids)).order_by("pk")
        for class_group in groups.select_for_update(no_key=True):
            _refresh_class(class_group, measures, over_on, today)


def rebuild_standings(*, today: dt.date | None = None) -> int:
    """Throws every standing away and judges every class anew; follow-ups and finished terms stay as they are."""
    with transaction.atomic():
        Standing.objects.all().delete()
        ClassStanding.objects.all().delete()
        measures = judged_measures()
        groups = list(ClassGroup.objects.order_by("pk").select_for_update(no_key=True))
        for class_group in groups:
            _refresh_class(class_group, measures, today=today)
    return len(groups)


def _refresh_class(
    class_group: ClassGroup, measures: list[Measure], over_on: dt.date | None = None, today: dt.date | None = None
) -> None:
    students = students_judged_in(class_group.pk)
    facts, targets = judge_facts(students, measures)
    stale = Standing.objects.filter(class_group=class_group)
    if not facts:
        stale.delete()
        ClassStanding.objects.filter(class_group=class_group).delete()
        return
    as_of = max(fact.on for fact in facts)
    if over_on is None:
        open_again_where_nothing_is_newer(class_group=class_group, as_of=as_of)
    keep_finished_terms(facts=facts, before=over_on or as_of)
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
    today = today or timezone.localdate()
    open_judged_follow_ups(class_group=class_group, standings=rows, as_of=as_of, today=today)
