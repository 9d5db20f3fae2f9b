"""Reads who is asked in this class whether it still hurts: names only, because children look on."""
import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.translation import gettext as _

from progress.models import FollowUp
from progress.queries import agreed_follow_ups
from studio.models import Student
from studio.queries import barre_names
from studio.templatetags.wording import day as write_day


@dataclass(frozen=True)
class Asked:
    """Somebody who told of pain before this day."""

    follow_up: FollowUp
    student_id: int
    name: str


def asked_in_class(students: Iterable[Student], on: dt.date, *, now: dt.datetime) -> list[Asked]:
    """Those with pain that is watched, or to be seen, since before this day, and who were not asked on it yet."""
    names = barre_names(students)
    rows = FollowUp.objects.filter(
        student__in=names, kind__in=[FollowUp.PAIN_WATCHED, FollowUp.PAIN_LASTS], closed_at__isnull=True,
        opened_on__lt=on,
    ).exclude(notes__text=_("Asked in class on %(day)s: fine.") % {"day": write_day(on)})
    found = {row.student_id: row for row in agreed_follow_ups(rows, at=now).order_by("pk")}
    return [Asked(found[pk], pk, name) for pk, name in names.items() if pk in found]
