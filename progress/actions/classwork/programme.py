"""Writes the programme: what is taken in, with which dose and why, what is left out, who goes up or down a step."""
import datetime as dt

from django.db import transaction
from django.db.models import Max
from django.utils import timezone
from django.utils.translation import gettext as _

from progress.models import Exercise, LadderStep, ProgrammeEntry
from progress.queries.classwork.held import no_more_load
from progress.rules.dose import Dose
from studio.actions import Refused
from studio.models import ClassGroup, Deed, Enrolment, Student, Term, User


@transaction.atomic
def plan_exercise(
    *, class_group: ClassGroup, term: Term, exercise: Exercise, dose: Dose, added_on: dt.date, by: User,
    student: Student | None = None, step: LadderStep | None = None, note: str = "", reason: str = "",
    is_spared: bool = False,
) -> ProgrammeEntry:
    """Takes an exercise into the programme of a class, or of one student of it.

    What stands there with another dose gives way and stays as history; the same again changes nothing.
    """
    ClassGroup.objects.select_for_update(no_key=True).get(pk=class_group.pk)
    rows = ProgrammeEntry.objects.filter(class_group=class_group, term=term, left_out_at__isnull=True)
    before = rows.filter(exercise=exercise, student=student).first()
    wanted = (dose, step.pk if step else None, note, is_spared)
    if before is not None:
        if (before.dose, before.step_id, before.note, before.is_spared) == wanted:
            return before
        _leave_out(before, by)
    last = rows.filter(student__isnull=True).aggregate(last=Max("position"))["last"]
    return ProgrammeEntry.objects.create(
        class_group=class_group, term=term, student=student, exercise=exercise, step=step, sets=dose.sets,
        reps=dose.reps, hold_seconds=dose.hold_seconds, note=note, reason=reason or (before.reason if before else ""),
        is_spared=is_spared, added_on=added_on, added_by=by,
        position=before.position if before else (0 if last is None else last + 1),
    )


@transaction.atomic
def leave_out(*, entry: ProgrammeEntry, by: User) -> None:
    locked = ProgrammeEntry.objects.select_for_update().get(pk=entry.pk)
    if locked.left_out_at is None:
        _leave_out(locked, by)


def _leave_out(entry: ProgrammeEntry, by: User) -> None:
    entry.left_out_by, entry.left_out_at = by, timezone.now()
    entry.save(update_fields=["left_out_by", "left_out_at"])


@transaction.atomic
def move_in_order(*, entry: ProgrammeEntry, earlier: bool, by: User) -> None:
    """Changes places with its neighbour in the class's order; at an end nothing happens."""
    ClassGroup.objects.select_for_update(no_key=True).get(pk=entry.class_group_id)
    rows = list(ProgrammeEntry.objects.filter(
        class_group=entry.class_group_id, term=entry.term_id, student__isnull=True, left_out_at__isnull=True
    ))
    at = next((at for at, row in enumerate(rows) if row.pk == entry.pk), None)
    to = None if at is None else at - 1 if earlier else at + 1
    if to is None or not 0 <= to < len(rows):
        return
    rows[at], rows[to] = rows[to], rows[at]
    for position, row in enumerate(rows):
        row.position = position
    ProgrammeEntry.objects.bulk_update(rows, ["position"])
    Deed.note(entry, Deed.CHANGED, by)


@transaction.atomic
def move_to_step(
    *, class_group: ClassGroup, term: Term, step: LadderStep, away_from: Exercise, students: list[Student] | None,
    added_on: dt.date, by: User, reason: str,
) -> None:
    """Moves students, or with None the class, to another step of a ladder.

    Where the step is another exercise, the one before it gives way: a class leaves it out, a student is spared it.
    Nobody goes up who has pain that is open or lately told (`no_more_load`): a student who was ticked is refused, and
    of a class that goes up they stay on the step they are on.
    """
    goes_up = LadderStep.objects.filter(ladder=step.ladder, exercise=away_from, position__lt=step.position).exists()
    if goes_up:
        _keep_back(class_group, term, step, away_from, students, added_on, by)
    where = {"class_group": class_group, "term": term, "added_on": added_on, "by": by, "reason": reason}
    for student in students if students is not None else [None]:
        made = plan_exercise(
            exercise=step.exercise, dose=step.dose, step=step, note=step.note, student=student, **where
        )
        if step.exercise_id == away_from.pk:
            continue
        before = ProgrammeEntry.objects.filter(
            class_group=class_group, term=term, exercise=away_from, left_out_at__isnull=True, student=student
        ).first()
        if before is not None:
            ProgrammeEntry.objects.filter(pk=made.pk).update(position=before.position)
            _leave_out(before, by)
        if student is not None:
            _spare(class_group, term, away_from, student, where)


def _keep_back(
    class_group: ClassGroup, term: Term, step: LadderStep, away_from: Exercise, students: list[Student] | None,
    on: dt.date, by: User,
) -> None:
    """Refuses ticked students who are given no more load; of a class they keep an entry of their own as it is now."""
    if students is not None:
        held = no_more_load([student.pk for student in students], on=on, now=timezone.now())
        names = [student.name for student in students if student.pk in held]
        if names:
            raise Refused(_("No more load for now: %(names)s. Nobody was moved.") % {"names": ", ".join(names)})
        return
    rows = ProgrammeEntry.objects.filter(class_group=class_group, term=term, left_out_at__isnull=True)
    now = rows.filter(exercise=away_from, student__isnull=True).first()
    own = set(rows.filter(exercise=away_from, student__isnull=False).values_list("student_id", flat=True))
    in_class = Student.objects.filter(
        pk__in=Enrolment.objects.on(on).filter(class_group=class_group, term=term).values("student")
    )
    held = no_more_load(in_class.values_list("pk", flat=True), on=on, now=timezone.now())
    for student in in_class.filter(pk__in=held.keys() - own) if now is not None else ():
        where = {"class_group": class_group, "term": term, "student": student, "added_on": on, "by": by}
        plan_exercise(exercise=away_from, dose=now.dose, step=now.step, note=now.note, **where)
        if step.exercise_id != away_from.pk:
            plan_exercise(exercise=step.exercise, dose=step.dose, is_spared=True, **where)


def _spare(class_group: ClassGroup, term: Term, exercise: Exercise, student: Student, where: dict) -> None:
    of_class = ProgrammeEntry.objects.filter(
        class_group=class_group, term=term, exercise=exercise, student__isnull=True, left_out_at__isnull=True
    ).first()
    if of_class is not None:
        plan_exercise(exercise=exercise, dose=of_class.dose, student=student, is_spared=True, **where)
