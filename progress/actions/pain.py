"""Writes what hurts: a report, its follow-up, and a mistaken tap taken back."""
import datetime as dt
import uuid as uuids
from collections.abc import Sequence

from django.db import transaction
from django.utils.translation import gettext as _

from progress import pain
from progress.actions.follow_ups import DUE_DAYS, close_mistaken, open_follow_up
from progress.models import FollowUp, PainAnswer, PainReport
from screening.actions import Conflict
from screening.models import Measure, Screening
from studio.actions import Refused
from studio.models import ClassGroup, Student, User


def as_report(row: PainReport) -> pain.Report:
    return pain.Report(tuple(row.places), row.feels, row.intensity, row.stopped, row.reported_on)


@transaction.atomic
def report_pain(
    *, key: uuids.UUID, student: Student, class_group: ClassGroup | None, screening: Screening | None,
    measure: Measure | None, places: Sequence[str], feels: str, intensity: int | None, stopped: str, note: str,
    reported_on: dt.date, by: User,
) -> PainReport:
    """Stores a report and opens what it asks for, in one step; the same key twice gives the same report.

    A stop sign opens a stop-sign follow-up; pain of the same place within days opens or joins one for pain that
    lasts. A mistaken report is answered as such and then counts for neither.
    """
    Student.objects.select_for_update(no_key=True).get(pk=student.pk)
    report = pain.Report(tuple(places), feels, intensity, stopped, reported_on)
    there = PainReport.objects.filter(uuid=key).first()
    if there is not None:
        if there.student_id != student.pk or as_report(there) != report or there.note != note:
            raise Conflict
        return there
    asked = pain.asks(report)
    earlier = student.pain_reports.exclude(answer__kind=PainAnswer.MISTAKE).select_related("answer")
    returned = [row for row in earlier if pain.comes_back(report, [as_report(row)])]
    row = PainReport.objects.create(
        uuid=key, student=student, screening=screening, measure=measure, places=list(places), feels=feels,
        intensity=intensity, stopped=stopped, note=note, asks=asked, reported_on=reported_on, reported_by=by,
    )
    kind = _kind(asked, bool(returned))
    if kind:
        follow_up, _made = open_follow_up(
            student=student, kind=kind, class_group=class_group, opened_on=reported_on
        )
        follow_up.pain_reports.add(row, *[before for before in returned if not hasattr(before, "answer")])
        _make_due(follow_up, reported_on)
    return row


def _kind(asked: str, returned: bool) -> str:
    if pain.is_stop_sign(asked):
        return FollowUp.STOP_SIGN
    return FollowUp.PAIN_LASTS if returned else ""


def _make_due(follow_up: FollowUp, on: dt.date) -> None:
    """A new report on an open follow-up is due as if it were the first."""
    follow_up.due_on = on + dt.timedelta(days=DUE_DAYS[follow_up.kind])
    follow_up.save(update_fields=["due_on"])


@transaction.atomic
def take_back_report(*, report: PainReport, by: User, on: dt.date) -> None:
    """A mistaken tap: the report stays, answered as a mistake, and what it alone opened is closed with that note."""
    Student.objects.select_for_update(no_key=True).get(pk=report.student_id)
    if PainAnswer.objects.filter(report=report).exists():
        return
    if report.reported_on != on:
        raise Refused(_("Only today’s report can be taken back. Answer it on the follow-ups."))
    PainAnswer.objects.create(report=report, kind=PainAnswer.MISTAKE, note=_("Tapped by mistake."), answered_by=by)
    close_mistaken(report=report, on=on, by=by)
