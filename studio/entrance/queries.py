"""Reads of the entrance: who may come in by PIN, which tablets there are; changes nothing."""
import datetime as dt

from django.db.models import Count, F, Q, QuerySet

from studio.entrance.keys import Tablet, Visit
from studio.models import User


def people_with_pin() -> QuerySet[User]:
    return User.objects.filter(is_active=True, pin__isnull=False).select_related("pin").order_by("name", "pk")


def tablets(*, now: dt.datetime) -> QuerySet[Tablet]:
    """Enrolled ones first, the one seen last on top; each knows how many people are in on it."""
    here = Count("visits", Q(visits__person__isnull=False, visits__expire_date__gt=now))
    last = F("seen_at").desc(nulls_last=True)
    return Tablet.objects.select_related("enrolled_by", "revoked_by").annotate(visit_count=here).order_by(
        F("revoked_at").asc(nulls_first=True), last, "name"
    )


def tablets_that_keep(*, now: dt.datetime) -> QuerySet[Tablet]:
    """Enrolled tablets, each with when it was last reached: it may keep pages of the barre."""
    return tablets(now=now).filter(revoked_at__isnull=True)


def visits_of(person: User, *, now: dt.datetime) -> QuerySet[Visit]:
    """Where the person is logged in, the latest first."""
    return person.visits.filter(expire_date__gt=now).select_related("tablet")
