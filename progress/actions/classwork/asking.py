"""Writes what a student said in class about pain that was told before: fine, or it still hurts."""
import datetime as dt

from django.db import transaction
from django.utils.translation import gettext as _

from progress.actions.answering import Answer, answer_pain
from progress.models import FollowUp, FollowUpNote, PainAnswer
from progress.queries.resting import ladder_in_force, steps_of
from studio.actions import Refused
from studio.models import Student, User
from studio.templatetags.wording import day as write_day


@transaction.atomic
def said_fine(*, follow_up: FollowUp, on: dt.date, by: User) -> FollowUpNote:
    """Asked in class and fine: a note, and where a teacher may settle it, its answer. Told twice, it is one note."""
    Student.objects.select_for_update(no_key=True).get(pk=follow_up.student_id)
    text = _("Asked in class on %(day)s: fine.") % {"day": write_day(on)}
    there = follow_up.notes.filter(text=text, by=by).first()
    if there is None and _may_settle(follow_up):
        try:
            with transaction.atomic():
                answer = Answer(kind=PainAnswer.TEACHER, note=text, step=ladder_in_force().last)
                answer_pain(follow_up=follow_up, answer=answer, closed_on=on, by=by)
        except Refused:
            # It asks for more than a teacher's word; that it was asked stays.
            pass
        there = follow_up.notes.filter(text=text, by=by).first()
    return there or FollowUpNote.objects.create(follow_up=follow_up, text=text, by=by)


def _may_settle(follow_up: FollowUp) -> bool:
    """Only what is watched, and nobody who comes back in steps: those end with a class without pain."""
    step = steps_of([follow_up.student_id]).get(follow_up.student_id)
    return follow_up.kind == FollowUp.PAIN_WATCHED and follow_up.is_open and (step is None or step.is_full_class)
