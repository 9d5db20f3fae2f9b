"""Writes the review before pointe work: that it began, what each person saw, and what people decided; rows append."""
import datetime as dt
from collections.abc import Mapping
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from progress.actions.follow_ups import open_follow_up, write_closing
from progress.models import Decision, FollowUp, FollowUpNote, PointSeen, Review
from progress.queries.reviews import class_now, in_force
from studio.models import Student, User
from studio.templatetags.wording import day as write_day


@transaction.atomic
def open_review(*, student: Student, why: str, on: dt.date, by: User) -> Review:
    """Another review; one that was opened on the same day and has no decision yet is that one."""
    Student.objects.select_for_update(no_key=True).get(pk=student.pk)
    there = student.reviews.filter(opened_on=on, decisions__isnull=True).first()
    return there or Review.objects.create(student=student, why=why, opened_on=on, opened_by=by)


@transaction.atomic
def say_points(
    *, review: Review, said: Mapping[str, tuple[str, str]], whose: str, said_by: str, said_on: dt.date, by: User
) -> list[PointSeen]:
    """What one person saw: by the point's key (answer, words). What says nothing new writes nothing.

    said_by: the name of whoever has no key here; "" for the writer's own view.
    """
    Student.objects.select_for_update(no_key=True).get(pk=review.student_id)
    before = {
        row.point: (row.answer, row.words, row.said_on) for row in in_force(review.seen.select_related("by"))
        if row.whose == whose and row.said_by == said_by and (whose != PointSeen.TEACHER or row.by_id == by.pk)
    }
    return [
        PointSeen.objects.create(
            review=review, point=point, answer=answer, words=words, whose=whose, said_by=said_by, said_on=said_on, by=by
        )
        for point, (answer, words) in said.items() if before.get(point, ("", "", None))[:2] != (answer, words)
    ]


@transaction.atomic
def decide(*, review: Review, by: User, **decided: Any) -> Decision:
    """What was decided, as `Decision` keeps it; the same once more writes nothing.

    A day to look again waits on the list of follow-ups till then; a decision without one ends that waiting.
    """
    Student.objects.select_for_update(no_key=True).get(pk=review.student_id)
    last = review.decisions.last()
    if last is not None and all(getattr(last, name) == value for name, value in decided.items()):
        return last
    made = Decision.objects.create(review=review, by=by, **decided)
    _keep_look_again(made)
    return made


def _keep_look_again(decision: Decision) -> None:
    """One waiting day a student: the latest decision's."""
    student, on = decision.review.student, decision.decided_on
    decided = _("Decided on %(day)s.") % {"day": write_day(on)}
    kind = FollowUp.LOOK_AGAIN
    waiting = FollowUp.objects.select_for_update().filter(student=student, kind=kind, closed_at__isnull=True).first()
    if decision.look_again_on is None:
        if waiting is not None:
            write_closing(follow_up=waiting, note=decided, closed_on=on, by=decision.by)
        return
    if waiting is None:
        waiting, _made = open_follow_up(
            student=student, kind=kind, class_group=class_now(student), opened_on=on, acts=decision.by
        )
    else:
        FollowUpNote.objects.create(follow_up=waiting, kind=FollowUpNote.NOTE, text=decided, by=decision.by)
    waiting.due_on = decision.look_again_on
    waiting.save(update_fields=["due_on"])
