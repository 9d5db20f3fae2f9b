"""The way back into class in steps, each a row: begun by an answer, up after a pain-free class, back on pain."""
import datetime as dt
from collections.abc import Sequence

from django.db import transaction
from django.utils.translation import gettext as _

from progress.models import Attendance, PainReport, ReturnLadder, ReturnStep
from progress.queries.pain import as_report
from progress.queries.resting import ladder_in_force, steps_of
from progress.rules.pain import STOP_SIGNS, is_expected_ache
from studio.actions import Refused
from studio.models import Student, User


def current_step(student: Student) -> ReturnStep | None:
    """Where she is on the way back; None where she is not on it."""
    step = steps_of([student.pk]).get(student.pk)
    return step if step is not None and not step.is_full_class else None


def start_return(*, student: Student, step: int, on: dt.date, note: str, by: User) -> ReturnStep | None:
    """Puts her on a step of the ladder in force; straight into full class needs no row unless she was on the way."""
    ladder = ladder_in_force()
    if not 0 <= step <= ladder.last:
        raise Refused(_("Say on which step of the way back."))
    if step == ladder.last and current_step(student) is None:
        return None
    if ladder.pk is None:
        ladder.save()
    return ReturnStep.objects.create(
        student=student, ladder=ladder, step=step, kind=ReturnStep.START, note=note, on=on, by=by
    )


@transaction.atomic
def move_up(*, student: Student, class_on: dt.date, note: str, by: User) -> ReturnStep:
    """One step up after a class without pain, one a class; refused where pain waits for an answer or came since."""
    Student.objects.select_for_update(no_key=True).get(pk=student.pk)
    now = current_step(student)
    if now is None:
        raise Refused(_("She is in full class already."))
    if class_on < now.on or (class_on == now.on and now.kind != ReturnStep.START):
        raise Refused(_("One step for one class: say the day of a class after the last step."))
    since = student.pain_reports.meant().filter(reported_on__gte=now.on, reported_at__gt=now.at)
    if PainReport.objects.unanswered().filter(student=student, asks__in=STOP_SIGNS).exists():
        raise Refused(_("A stop sign waits for an answer."))
    if not all(is_expected_ache(as_report(row)) for row in since):
        raise Refused(_("Pain was reported since the last step. Back a step, or answer it first."))
    if was_absent(student, class_on):
        raise Refused(_("The class log of that day says that she was absent."))
    return _step(now, now.step + 1, ReturnStep.UP, class_on, note, by)


@transaction.atomic
def move_back(*, student: Student, on: dt.date, note: str, by: User) -> ReturnStep:
    """One step back, by the teacher's word; from the first step there is no further back."""
    Student.objects.select_for_update(no_key=True).get(pk=student.pk)
    now = current_step(student)
    if now is None or now.step == 0:
        raise Refused(_("There is no step further back."))
    return _step(now, now.step - 1, ReturnStep.BACK, on, note, by)


def was_absent(student: Student, on: dt.date) -> bool:
    """True where that day's class logs say so, and no other one that she came."""
    came = Attendance.objects.standing().filter(student=student, log__held_on=on, is_present__isnull=False)
    found = set(came.values_list("is_present", flat=True))
    return found == {False}


def step_back(*, student: Student, on: dt.date, by: User) -> None:
    """Pain on the way back takes her one step back."""
    now = current_step(student)
    if now is not None:
        _step(now, max(0, now.step - 1), ReturnStep.BACK, on, _("Pain was reported."), by)


def step_was_mistake(*, student: Student, on: dt.date, by: User) -> None:
    """A report tapped by mistake took her back: she stands where she stood, by a new row."""
    rows = list(ReturnStep.objects.filter(student=student).select_related("ladder").order_by("-pk")[:2])
    if len(rows) == 2 and rows[0].kind == ReturnStep.BACK and rows[0].on == on:
        _step(rows[0], rows[1].step, ReturnStep.START, on, _("Tapped by mistake."), by)


def _step(now: ReturnStep, step: int, kind: str, on: dt.date, note: str, by: User) -> ReturnStep:
    return ReturnStep.objects.create(
        student=now.student, ladder=now.ladder, step=step, kind=kind, note=note, on=on, by=by
    )


@transaction.atomic
def keep_ladder(
    *, steps: Sequence[dict[str, str]], approved_by: str, approved_on: dt.date | None, by: User
) -> ReturnLadder:
    """A new version of the ladder; whoever is on the way back stays on the one she began with."""
    return ReturnLadder.objects.create(
        steps=list(steps), approved_by=approved_by.strip(), approved_on=approved_on, made_by=by
    )
