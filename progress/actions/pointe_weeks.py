"""Writes the first weeks on pointe: the owner's steps, a student's step, minutes in a class; rows append."""
import datetime as dt

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from progress.models import PointeLadder, PointeStep, PointeTime
from progress.queries.pointe_weeks import latest_steps, pointe_ladder, times_in_force
from progress.queries.resting import rests
from studio.actions import Refused
from studio.models import ClassGroup, Student, User


@transaction.atomic
def keep_pointe_ladder(*, steps: list[dict], by: User) -> PointeLadder:
    """The steps from now on; the same ones again write nothing. Whoever stands on a step keeps it as it was."""
    now = pointe_ladder()
    return now if now.pk and now.steps == steps else PointeLadder.objects.create(steps=steps, made_by=by)


@transaction.atomic
def put_on_step(*, student: Student, step: int, note: str, on: dt.date, by: User) -> PointeStep:
    """A teacher moves a student, up or back. Refused upwards while the student rests from anything."""
    Student.objects.select_for_update(no_key=True).get(pk=student.pk)
    ladder, now = pointe_ladder(), latest_steps([student.pk]).get(student.pk)
    if not 0 <= step < len(ladder.steps):
        raise Refused(_("Choose a step from the list."))
    if now is not None and (now.ladder_id, now.step, now.note) == (ladder.pk, step, note):
        return now
    _refuse_while_resting(student, is_more=now is None or step > now.step)
    if ladder.pk is None:
        ladder.save()
    return PointeStep.objects.create(student=student, ladder=ladder, step=step, note=note, on=on, by=by)


@transaction.atomic
def log_minutes(
    *, student: Student, class_group: ClassGroup, held_on: dt.date, minutes: int, said: str, by: User
) -> PointeTime | None:
    """Minutes of one class and what was said of heel and big toe; another row of the day stands in for the first."""
    Student.objects.select_for_update(no_key=True).get(pk=student.pk)
    there = times_in_force([student.pk]).get(student.pk, {}).get(held_on)
    if there is not None and (there.minutes, there.said) == (minutes, said):
        return there
    _refuse_while_resting(student, is_more=minutes > (there.minutes if there else 0))
    return PointeTime.objects.create(
        student=student, class_group=class_group, held_on=held_on, minutes=minutes, said=said, by=by
    )


def _refuse_while_resting(student: Student, *, is_more: bool) -> None:
    if is_more and student.pk in rests([student.pk], now=timezone.now()):
        raise Refused(_("%(name)s leaves pointe work out for now.") % {"name": student.first_name})
