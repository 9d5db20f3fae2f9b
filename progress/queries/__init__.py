"""Reads of the judgement, one file a page; they change nothing."""
import datetime as dt
from functools import cache
from typing import Any

from django.db.models import Q, QuerySet
from django.http import HttpRequest

from progress.models import FollowUp
from progress.queries.resting import resting_students, rests
from studio.family.queries import withheld
from studio.models import Consent, User
from studio.permissions import reachable_students

__all__ = ["agreed_follow_ups", "follow_ups_in_reach", "navigation_context", "resting_students", "rests"]


def follow_ups_in_reach(user: User, *, today: dt.date, now: dt.datetime) -> QuerySet[FollowUp]:
    """Follow-ups about students whom this person reaches."""
    rows = agreed_follow_ups(FollowUp.objects.all(), at=now)
    if user.role == User.OWNER:
        return rows
    return rows.filter(student__in=reachable_students(user, today=today))


def agreed_follow_ups(rows: QuerySet[FollowUp], *, at: dt.datetime) -> QuerySet[FollowUp]:
    """Those that may be shown: pain with consent to pain notes, the others with consent to measurements."""
    is_about_health = Q(kind__in=FollowUp.ABOUT_HEALTH)
    return rows.exclude(is_about_health, student__in=withheld(Consent.PAIN, at)).exclude(
        ~is_about_health, student__in=withheld(Consent.MEASUREMENTS, at)
    )


def navigation_context(request: HttpRequest) -> dict[str, Any]:
    """The number of open follow-ups beside their room; asked only when a template shows it."""
    user = getattr(request, "user", None)
    if user is None or not user.is_authenticated:
        return {"open_follow_ups": 0}

    @cache
    def count() -> int:
        return follow_ups_in_reach(user, today=request.today, now=request.now).filter(closed_at__isnull=True).count()

    return {"open_follow_ups": count}
