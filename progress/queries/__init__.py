"""Reads of the judgement, one file a page; they change nothing."""
import datetime as dt
from functools import cache
from typing import Any

from django.db.models import QuerySet
from django.http import HttpRequest

from progress.models import FollowUp, PainReport
from progress.pain import STOP_SIGNS
from studio.models import User
from studio.permissions import reachable_students


def follow_ups_in_reach(user: User, *, today: dt.date) -> QuerySet[FollowUp]:
    """Follow-ups about students whom this person reaches."""
    rows = FollowUp.objects.all()
    if user.role == User.OWNER:
        return rows
    return rows.filter(student__in=reachable_students(user, today=today))


def resting_students(student_ids) -> set[int]:
    """Those with a stop sign that nobody has answered yet: they rest from rising."""
    reports = PainReport.objects.filter(student__in=student_ids, asks__in=STOP_SIGNS, answer__isnull=True)
    return set(reports.values_list("student_id", flat=True))


def navigation_context(request: HttpRequest) -> dict[str, Any]:
    """The number of open follow-ups beside their room; asked only when a template shows it."""
    user = getattr(request, "user", None)
    if user is None or not user.is_authenticated:
        return {"open_follow_ups": 0}

    @cache
    def count() -> int:
        return follow_ups_in_reach(user, today=request.today).filter(closed_at__isnull=True).count()

    return {"open_follow_ups": count}
