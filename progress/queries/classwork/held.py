"""Reads who is given no more load for now, and what each of them may do; never why."""
import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Max
from django.utils.translation import gettext as _

from progress.models import FollowUp, PainReport
from progress.queries.resting import rests
from progress.rules.ladder import is_quiet
from progress.rules.resting import may_do
from progress.words.speech import voice_for


@dataclass(frozen=True)
class Held:
    """may: what the student may do, in words; is_resting: who rests or comes back in steps, and goes nowhere else."""

    may: str
    is_resting: bool


def no_more_load(student_ids: Iterable[int], *, on: dt.date, now: dt.datetime) -> dict[int, Held]:
    """Who rests or comes back in steps, who has pain that is open, and who said within the last two weeks that
    something hurts. A fixed number of questions, however many students."""
    ids = list(student_ids)
    resting = {pk: Held(may_do(rest.allows, voice_for(None)), True) for pk, rest in rests(ids, now=now).items()}
    is_open = FollowUp.objects.filter(student__in=ids, kind__in=FollowUp.ABOUT_PAIN, closed_at__isnull=True)
    hurts = set(is_open.values_list("student_id", flat=True))
    last = PainReport.objects.meant().filter(student__in=ids, reported_on__lte=on).values("student_id")
    # Without the ordering, which would make a group of every report.
    for row in last.order_by().annotate(last_on=Max("reported_on")):
        if not is_quiet(row["last_on"], on=on):
            hurts.add(row["student_id"])
    return {pk: Held(_("as now, no more"), False) for pk in hurts} | resting
