"""Pain on the follow-up list: what a report opens, who may answer it, and an answer that did not stand."""
import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.db import transaction
from django.utils.translation import gettext as _

from progress.actions.follow_ups import DUE_DAYS, may_close, open_again, open_follow_up, write_closing
from progress.actions.returning import start_return
from progress.actions.standings import judging_classes, refresh_standings
from progress.models import FollowUp, FollowUpNote, PainAnswer, PainReport
from progress.queries.pain import referral_of_follow_up, referral_words
from progress.rules import pain, pain_returns
from studio.actions import Refused
from studio.models import ClassGroup, Student, User
from studio.permissions import may

# A pain of one place that was answered and returns within this time opens its follow-up again: studio's own rule.
SAME_PAIN = dt.timedelta(days=pain_returns.STOP_COMES_BACK_DAYS)


@dataclass(frozen=True)
class Answer:
    """What answers a pain follow-up. `said_by`, `said_on`, `allowed` belong to a clinician's clearance.

    step: the step of the ladder on which she comes back; None for a report that was a mistake.
    """

    kind: str
    note: str
    step: int | None = None
    said_by: str = ""
    said_on: dt.date | None = None
    allowed: str = ""


def open_pain_follow_up(
    *, student: Student, kind: str, class_group: ClassGroup | None, reports: Sequence[PainReport], by: User
) -> FollowUp:
    """The follow-up of this pain, one for a place: open already, closed lately and opened again, or new.

    reports: the new one first, then those of the same place before it. Pain that becomes a stop sign takes its
    follow-up along; pain of a place that is a stop sign already stays with that.
    """
    opened_on = reports[0].reported_on
    same_pain = FollowUp.objects.filter(student=student, pain_reports__in=reports[1:]).distinct()
    open_one = FollowUp.objects.filter(student=student, kind=FollowUp.STOP_SIGN, closed_at__isnull=True)
    if kind == FollowUp.PAIN_LASTS and same_pain.filter(pk__in=open_one).exists():
        kind = FollowUp.STOP_SIGN
    if kind == FollowUp.STOP_SIGN and not open_one.exists():
        _become_stop_sign(same_pain.filter(kind=FollowUp.PAIN_LASTS, closed_at__isnull=True).first(), by)
    closed = same_pain.filter(kind=kind, closed_on__gte=opened_on - SAME_PAIN).order_by("closed_at").last()
    if closed and not FollowUp.objects.filter(student=student, kind=kind, closed_at__isnull=True).exists():
        open_again(follow_up=closed, on=opened_on, kind=FollowUpNote.CAME_BACK, text=_("It came back."), by=by)
    follow_up, is_new = open_follow_up(student=student, kind=kind, class_group=class_group, opened_on=opened_on)
    follow_up.pain_reports.add(*reports)
    if not is_new:
        # A new report on an open follow-up is due as if it were the first.
        follow_up.due_on = opened_on + dt.timedelta(days=DUE_DAYS[follow_up.kind])
        follow_up.save(update_fields=["due_on"])
    return follow_up


def _become_stop_sign(follow_up: FollowUp | None, by: User) -> None:
    if follow_up is None:
        return
    follow_up.kind = FollowUp.STOP_SIGN
    follow_up.save(update_fields=["kind"])
    FollowUpNote.objects.create(follow_up=follow_up, kind=FollowUpNote.CAME_BACK, text=_("Now a stop sign."), by=by)


@transaction.atomic
def answer_pain(*, follow_up: FollowUp, answer: Answer, closed_on: dt.date, by: User, seen: int | None = None) -> None:
    """Closes a follow-up about pain and answers its reports, which ends the rest or starts the return in steps.

    Refused without a note or an answer, where a report came in after the newest one `seen` on the page, and where
    a health professional should see it: then only a clinician's clearance closes it, or the owner with a reason.
    """
    Student.objects.select_for_update(no_key=True).get(pk=follow_up.student_id)
    locked = FollowUp.objects.select_for_update().get(pk=follow_up.pk)
    if answer.kind not in dict(PainAnswer.ANSWERS):
        raise Refused(_("Say who answered it before you close it."))
    if not may_close(locked, answer.note, by):
        return
    waiting = PainReport.objects.unanswered().filter(follow_ups=locked)
    if seen is not None and waiting.filter(pk__gt=seen).exists():
        raise Refused(_("Another report came in meanwhile. Read it before you close."))
    _refuse_wrong_answer(locked, answer, closed_on, by)
    write_closing(follow_up=locked, note=answer.note.strip(), closed_on=closed_on, by=by)
    for report in waiting:
        _write_answer(report, answer, by)
        judge_without(report)
    if answer.kind != PainAnswer.MISTAKE:
        start_return(student=locked.student, step=answer.step, on=closed_on, note=answer.allowed, by=by)


def _refuse_wrong_answer(follow_up: FollowUp, answer: Answer, closed_on: dt.date, by: User) -> None:
    referred = referral_of_follow_up(follow_up)
    if not pain.may_answer(answer.kind, referred=referred, may_overrule=may(by, "overrule_referral")):
        raise Refused(
            _("Only a clinician’s clearance, or the owner with a reason, closes this: %(why)s.")
            % {"why": referral_words(referred)} if referred else _("Only the owner decides this.")
        )
    if answer.kind == PainAnswer.CLINICIAN:
        if not (answer.said_by.strip() and answer.said_on and answer.allowed.strip()):
            raise Refused(_("Say which clinician, on which day, and what is allowed now."))
        if answer.said_on > closed_on:
            raise Refused(_("The clinician’s day is still to come."))
    if answer.kind != PainAnswer.MISTAKE and answer.step is None:
        raise Refused(_("Say on which step of the way back."))


def judge_without(report: PainReport) -> None:
    """A count that pain stopped is judged no more; where the report was a mistake, again."""
    if report.stopped_result_id is not None:
        refresh_standings(class_ids=judging_classes([report.student_id]))


def _write_answer(report: PainReport, answer: Answer, by: User) -> None:
    is_clearance = answer.kind == PainAnswer.CLINICIAN
    PainAnswer.objects.create(
        report=report, kind=answer.kind, note=answer.note.strip(), answered_by=by,
        said_by=answer.said_by.strip() if is_clearance else "", said_on=answer.said_on if is_clearance else None,
        allowed=answer.allowed.strip() if is_clearance else "",
    )


def close_mistaken(*, report: PainReport, on: dt.date, by: User) -> None:
    """Closes what a report opened that was tapped by mistake, unless another unanswered one stands behind it."""
    for follow_up in FollowUp.objects.select_for_update().filter(pain_reports=report, closed_at__isnull=True):
        if not PainReport.objects.unanswered().filter(follow_ups=follow_up).exists():
            write_closing(follow_up=follow_up, note=_("Tapped by mistake."), closed_on=on, by=by)


@transaction.atomic
def reopen_pain(*, follow_up: FollowUp, why: str, on: dt.date, by: User) -> FollowUp:
    """An answer that does not stand: its reports are unanswered again, by a new row each, and she rests again."""
    Student.objects.select_for_update(no_key=True).get(pk=follow_up.student_id)
    locked = FollowUp.objects.select_for_update().get(pk=follow_up.pk)
    if not why.strip():
        raise Refused(_("Say why its answer does not stand."))
    same = FollowUp.objects.filter(student=locked.student, kind=locked.kind, closed_at__isnull=True)
    opened = open_again(follow_up=locked, on=on, kind=FollowUpNote.REOPENED, text=why.strip(), by=by)
    if not opened and not locked.is_open:
        # Another pain of hers is open under the same kind: its follow-up takes these reports along.
        same.get().pain_reports.add(*locked.pain_reports.all())
    elif not opened:
        return locked
    for report in locked.pain_reports.prefetch_related("answers"):
        if report.answer is not None:
            PainAnswer.objects.create(report=report, kind=PainAnswer.REOPENED, note=why.strip(), answered_by=by)
            judge_without(report)
    return same.get()
