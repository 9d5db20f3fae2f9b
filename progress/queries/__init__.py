"""Reads of the judgement, one file a page; they change nothing."""
import datetime as dt
from functools import cache
from typing import Any

from django.db.models import QuerySet
from django.http import HttpRequest

from progress.models import FollowUp
from progress.queries.resting import resting_students, rests
from studio.models import User
from studio.permissions import reachable_students

__all__ = ["follow_ups_in_reach", "navigation_context", "resting_students", "rests"]


def follow_ups_in_reach(user: User, *, today: dt.date) -> QuerySet[FollowUp]:
    """Follow-ups about students whom this person reaches."""
    rows = FollowUp.objects.all()
    if user.role == User.OWNER:
        return rows
    return rows.filter(student__in=reachable_students(user, today=today))


def navigation_context(request: HttpRequest) -> dict[str, Any]:
    """The number of open follow-ups beside their room; asked only when a template shows it."""
    user = getattr(request, "user", None)
    if user is None or not user.is_authenticated:
        return {"open_follow_ups": 0}

    @cache
    def count() -> int:
        return follow_ups_in_reach(user, today=request.today).filter(closed_at__isnull=True).count()

    return {"open_follow_ups": count}
