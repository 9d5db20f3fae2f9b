"""Writes what hurts: a report and what it opens, a mistaken tap taken back, an answer taken back."""
import datetime as dt
import uuid as uuids
from collections.abc import Sequence
from dataclasses import replace

from django.db import transaction
from django.utils.translation import gettext as _

from progress.actions.answering import close_mistaken, judge_without, open_pain_follow_up
from progress.actions.day import ClassDay, take_back
from progress.actions.returning import step_back, step_was_mistake
from progress.models import FollowUp, PainAnswer, PainReport
from progress.queries.pain import as_report, stricter_rule, told_before
from progress.rules import pain, pain_returns
from screening.models import Measure, Result, Screening
from studio import ledger
from studio.actions import Refused
from studio.ledger import Conflict
from studio.models import ClassGroup, Student, User


@transaction.atomic
def report_pain(
    *, key: uuids.UUID, student: Student, class_group: ClassGroup | None, screening: Screening | None,
    measure: Measure | None, places: Sequence[str], feels: Sequence[str], intensity: int | None, stopped: str,
    note: str, reported_on: dt.date, by: User, since: str = "", signs: Sequence[str] = (),
    not_meant: Sequence[str] = (), at_count: int | None = None,
    stopped_result: Result | None = None,
) -> PainReport:
    """Stores a report and opens what it asks for, in one step; the same key twice gives the same report.

    A stop sign opens a stop-sign follow-up, pain that came back or lasts one that is to be seen, all other pain one
    that asks in the next class; what goes with an earlier matter opens that one again. A student on the way
    back goes one step back. A mistaken report is answered as such and then counts for nothing.
    """
    Student.objects.select_for_update(no_key=True).get(pk=student.pk)
    report = pain.Report(
        tuple(places), tuple(feels), intensity, stopped, reported_on, since, tuple(signs), note, tuple(not_meant)
    )
    there = PainReport.objects.filter(uuid=key).first()
    if there is not None:
        # Not its day: a tablet that sends it again after midnight tells the same report.
        same = replace(as_report(there), on=reported_on) == report
        if there.student_id != student.pk or not same:
            raise Conflict
        return there
    asked = pain.asks(report, stricter_rule())
    report = replace(report, asked=asked)
    told = told_before(student, report)
    referred = pain_returns.referral([report, *(before for _row, before in told)])
    row = PainReport.objects.create(
        uuid=key, student=student, screening=screening, measure=measure, places=list(places), feels=list(feels),
        intensity=intensity, stopped=stopped, since=since, note=note, signs=list(signs), not_meant=list(not_meant),
        at_count=at_count, stopped_result=stopped_result, asks=asked, reported_on=reported_on, reported_by=by,
    )
    open_pain_follow_up(
        student=student, kind=_kind(asked, referred), class_group=class_group, reports=[row, *dict(told)], by=by
    )
    if not pain.is_expected_ache(report):
        step_back(student=student, on=reported_on, by=by)
    judge_without(row)
    return row


def stop_key(report: uuids.UUID) -> uuids.UUID:
    """The key of the stop in a run that a report brings: its own with the last bit turned, as static/js/hurts.js has
    it."""
    return uuids.UUID(int=report.int ^ 1)


def _kind(asked: str, referred: str) -> str:
    if pain.is_stop_sign(asked):
        return FollowUp.STOP_SIGN
    return FollowUp.PAIN_LASTS if referred else FollowUp.PAIN_WATCHED


@transaction.atomic
def take_back_report(*, report: PainReport, by: User, on: dt.date) -> None:
    """A mistaken tap: the report stays, answered as a mistake, and what it alone opened is closed with that note;
    the stop in a run that it brought goes with it.

    Only on its own day and only by who tapped it; anybody else answers it on the follow-ups.
    """
    Student.objects.select_for_update(no_key=True).get(pk=report.student_id)
    locked = PainReport.objects.get(pk=report.pk)
    if locked.answer is not None:
        return
    if locked.reported_on != on:
        raise Refused(_("Only today’s report can be taken back. Close this one on the follow-ups."))
    if locked.reported_by_id != by.pk:
        raise Refused(_("Only the person who reported it can take it back. Close it on the follow-ups."))
    mistaken = {"kind": PainAnswer.MISTAKE, "note": _("Tapped by mistake.")}
    ledger.append(
        PainAnswer, key=uuids.uuid4(), before=locked.answers.in_force().last(), report=locked, by=by, **mistaken
    )
    close_mistaken(report=locked, on=on, by=by)
    judge_without(locked)
    others = report.student.pain_reports.meant().filter(reported_on=on)
    if all(pain.is_expected_ache(as_report(row)) for row in others):
        step_was_mistake(student=report.student, on=on, by=by)
    stopped = Result.objects.filter(
        key=stop_key(report.uuid), student=report.student_id, reason_missing=Result.PAIN, screening__closed_at=None
    )
    if row := stopped.select_related("screening__class_group", "screening__term").first():
        take_back(key=uuids.uuid4(), of=row.origin, day=ClassDay.of(row.screening), by=by)
