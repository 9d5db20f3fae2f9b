"""Pain on the follow-up list: what a report opens, who may answer it, and an answer that did not stand."""
import datetime as dt
import uuid as uuids
from collections.abc import Sequence
from dataclasses import dataclass

from django.db import transaction
from django.utils.translation import gettext as _

from progress.actions.follow_ups import (
    due_day,
    keep_see_again,
    may_close,
    open_again,
    open_follow_up,
    write_closing,
)
from progress.actions.returning import start_return
from progress.actions.standings import judging_classes, refresh_standings
from progress.models import FollowUp, FollowUpNote, PainAnswer, PainReport
from progress.queries.pain import (
    referral_of,
    referral_of_follow_up,
    referral_words,
    settles_from,
    was_mistake,
)
from progress.queries.resting import ladder_in_force
from progress.rules import pain
from studio import ledger
from studio.actions import Refused
from studio.models import ClassGroup, Student, User
from studio.permissions import may
from studio.templatetags.wording import day as write_day

# What nobody in a studio answers in the place of a doctor.
DOCTOR_ONLY = frozenset({pain.HEAD, pain.EMERGENCY})


@dataclass(frozen=True)
class Answer:
    """What answers a pain follow-up. `said_by`, `said_on`, `allowed` in the clinician's words, `allows` as one of
    ALLOWANCES, `until_on` and `see_again_on` belong to a clinician's clearance.

    step: the step of the ladder on which the student comes back; None for a report that was a mistake.
    """

    kind: str
    note: str
    step: int | None = None
    said_by: str = ""
    said_on: dt.date | None = None
    allowed: str = ""
    allows: str = ""
    until_on: dt.date | None = None
    see_again_on: dt.date | None = None


def open_pain_follow_up(
    *, student: Student, kind: str, class_group: ClassGroup | None, reports: Sequence[PainReport], by: User
) -> FollowUp:
    """The follow-up of this pain, one for a matter: open already, closed and opened again with its story, or new.

    kind: what the new report opens by itself. reports: the new one first, then those before it that go with it. A
    matter that was a stop sign or was to be seen stays one, however mild what came back is; one that gets worse takes
    its follow-up along; where another of that kind is open, that one takes everything over.
    """
    on = reports[0].reported_on
    same = list(FollowUp.objects.filter(
        student=student, kind__in=FollowUp.ABOUT_PAIN, pain_reports__in=reports[1:]
    ).distinct().order_by("closed_at", "pk"))
    is_back = bool(same) and not any(f.is_open for f in same)
    graver = [f.kind for f in same if f.is_open or f.kind != FollowUp.PAIN_WATCHED]
    kind = min([kind, *graver], key=FollowUp.ABOUT_PAIN.index)
    taken_on = FollowUp.objects.filter(student=student, kind=kind, closed_at__isnull=True).first()
    if taken_on is None and same:
        # The one that is open goes on, then the gravest, then the latest.
        taken_on = max(same, key=lambda f: (f.is_open, -FollowUp.ABOUT_PAIN.index(f.kind), f.closed_at or f.opened_at))
        _become(taken_on, kind, by)
    if taken_on is None:
        taken_on, _made = open_follow_up(student=student, kind=kind, class_group=class_group, opened_on=on)
    else:
        _go_on(taken_on, on, is_back=is_back, by=by)
    for other in same:
        if other.pk != taken_on.pk:
            taken_on.pain_reports.add(*other.pain_reports.all())
            if other.is_open:
                write_closing(follow_up=other, note=_("Goes on as: %(kind)s.") % {
                    "kind": taken_on.get_kind_display()}, closed_on=on, by=by)
    taken_on.pain_reports.add(*reports)
    return taken_on


def _become(follow_up: FollowUp, kind: str, by: User) -> None:
    if follow_up.kind == kind:
        return
    follow_up.kind = kind
    follow_up.save(update_fields=["kind"])
    text = _("Now a stop sign.") if kind == FollowUp.STOP_SIGN else _("Now to be seen by a health professional.")
    FollowUpNote.objects.create(follow_up=follow_up, kind=FollowUpNote.CAME_BACK, text=text, by=by)


def _go_on(follow_up: FollowUp, on: dt.date, *, is_back: bool, by: User) -> None:
    """A new report opens a follow-up that was closed; an open one is due no later than it was."""
    was_due = follow_up.due_on if follow_up.is_open else dt.date.max
    if is_back and not open_again(
        follow_up=follow_up, on=on, kind=FollowUpNote.CAME_BACK, text=_("It came back."), by=by
    ):
        FollowUpNote.objects.create(
            follow_up=follow_up, kind=FollowUpNote.CAME_BACK, text=_("It came back."), by=by
        )
    follow_up.refresh_from_db()
    follow_up.due_on = min(was_due, due_day(follow_up.kind, follow_up.class_group, on))
    follow_up.save(update_fields=["due_on"])


@transaction.atomic
def answer_pain(
    *, follow_up: FollowUp, answer: Answer, closed_on: dt.date, by: User, seen: int | None = None, by_pin: bool = False
) -> None:
    """Closes a follow-up about pain and answers its reports, which ends the rest or starts the return in steps.

    Refused without a note or an answer, where a report came in after the newest one `seen` on the page, and where
    a health professional should see it: then only a clinician's clearance closes it, or the owner with a reason, who
    came in by password (not `by_pin`).
    """
    Student.objects.select_for_update(no_key=True).get(pk=follow_up.student_id)
    locked = FollowUp.objects.select_for_update().get(pk=follow_up.pk)
    if answer.kind not in dict(PainAnswer.ANSWERS):
        raise Refused(_("Say who cleared it before you close it."))
    if not may_close(locked, answer.note, by):
        return
    waiting = PainReport.objects.unanswered().filter(follow_ups=locked)
    if seen is not None and waiting.filter(pk__gt=seen).exists():
        raise Refused(_("Another report came in meanwhile. Read it before you close."))
    _refuse_wrong_answer(locked, answer, closed_on, may(by, "overrule_referral") and not by_pin)
    _refuse_too_soon(locked, answer, closed_on)
    write_closing(follow_up=locked, note=answer.note.strip(), closed_on=closed_on, by=by)
    written = [_write_answer(report, answer, by) for report in waiting]
    for report in waiting:
        judge_without(report)
    if answer.kind != PainAnswer.MISTAKE:
        clearance = written[0] if written and answer.kind == PainAnswer.CLINICIAN else None
        start_return(
            student=locked.student, step=answer.step, on=closed_on, note=answer.allowed, by=by, clearance=clearance
        )
        if clearance is not None:
            keep_see_again(clearance=clearance, class_group=locked.class_group, on=closed_on, by=by)


def _refuse_wrong_answer(follow_up: FollowUp, answer: Answer, closed_on: dt.date, may_overrule: bool) -> None:
    referred = referral_of_follow_up(follow_up)
    if not pain.may_answer(answer.kind, referred=referred, may_overrule=may_overrule):
        raise Refused(
            _("To close this you need a clinician’s clearance, or the owner gives a reason: %(why)s.")
            % {"why": referral_words(referred)} if referred else _("Only the owner decides this.")
        )
    waiting = PainReport.objects.unanswered().filter(follow_ups=follow_up)
    if answer.kind == PainAnswer.OWNER and waiting.filter(asks__in=DOCTOR_ONLY).exists():
        raise Refused(_("After a knock to the head, or an emergency, only a doctor’s clearance closes this."))
    if answer.kind == PainAnswer.CLINICIAN:
        if not (answer.said_by.strip() and answer.said_on and answer.allowed.strip() and answer.allows):
            raise Refused(_("Say which clinician, on which day, and what is allowed now."))
        if answer.said_on > closed_on:
            raise Refused(_("The day the clinician saw them is still to come."))
        newest = PainReport.objects.unanswered().filter(follow_ups=follow_up).first()
        if newest is not None and answer.said_on < newest.reported_on:
            raise Refused(_("It hurt again after that day. You need a newer clearance."))
    if answer.kind == PainAnswer.MISTAKE:
        return
    if answer.step is None:
        raise Refused(_("Say on which step of the way back."))
    is_by_teacher = follow_up.kind == FollowUp.STOP_SIGN and answer.kind == PainAnswer.TEACHER
    if is_by_teacher and answer.step >= ladder_in_force().last:
        raise Refused(_(
            "After a stop sign, going straight back to full class needs a clinician’s clearance. Choose an earlier "
            "step. The next one follows a class without pain."
        ))


def judge_without(report: PainReport) -> None:
    """A count that pain stopped is judged no more; where the report was a mistake, again."""
    if report.stopped_result_id is not None:
        refresh_standings(
            class_ids=judging_classes([report.student_id]), since=report.stopped_result.taken_on)


def _refuse_too_soon(follow_up: FollowUp, answer: Answer, closed_on: dt.date) -> None:
    """A teacher settles pain when it was asked about again, not in the minute in which it was told."""
    from_on = settles_from(follow_up)
    if answer.kind == PainAnswer.TEACHER and from_on is not None and closed_on < from_on:
        raise Refused(_("Ask again in the next class. From %(day)s on you can close this yourself.") % {
            "day": write_day(from_on)})


def _write_answer(report: PainReport, answer: Answer, by: User) -> PainAnswer:
    is_clearance = answer.kind == PainAnswer.CLINICIAN
    return ledger.append(
        PainAnswer, key=uuids.uuid4(), before=report.answers.in_force().last(), report=report, by=by,
        kind=answer.kind, note=answer.note.strip(),
        said_by=answer.said_by.strip() if is_clearance else "", said_on=answer.said_on if is_clearance else None,
        allowed=answer.allowed.strip() if is_clearance else "", allows=answer.allows if is_clearance else "",
        until_on=answer.until_on if is_clearance else None, see_again_on=answer.see_again_on if is_clearance else None,
    )


def close_mistaken(*, report: PainReport, on: dt.date, by: User) -> None:
    """Closes what a report opened that was tapped by mistake, unless another unanswered one stands behind it."""
    for follow_up in FollowUp.objects.select_for_update().filter(pain_reports=report, closed_at__isnull=True):
        _as_if_never_told(follow_up, on, by)
        if follow_up.is_open and not PainReport.objects.unanswered().filter(follow_ups=follow_up).exists():
            write_closing(follow_up=follow_up, note=_("Tapped by mistake."), closed_on=on, by=by)


def _as_if_never_told(follow_up: FollowUp, on: dt.date, by: User) -> None:
    """A follow-up that a mistaken report made graver is what the others alone would have opened."""
    meant = [row for row in follow_up.pain_reports.prefetch_related("answers") if not was_mistake(row)]
    if not meant:
        return
    if any(pain.is_stop_sign(row.asks) for row in meant):
        kind = FollowUp.STOP_SIGN
    else:
        kind = FollowUp.PAIN_LASTS if referral_of(meant) else FollowUp.PAIN_WATCHED
    twin = FollowUp.objects.filter(student=follow_up.student, kind=kind, closed_at__isnull=True).first()
    if twin is None:
        FollowUp.objects.filter(pk=follow_up.pk).update(kind=kind)
        follow_up.kind = kind
    elif twin.pk != follow_up.pk:
        twin.pain_reports.add(*meant)
        write_closing(follow_up=follow_up, note=_("Tapped by mistake."), closed_on=on, by=by)


@transaction.atomic
def reopen_pain(*, follow_up: FollowUp, why: str, on: dt.date, by: User) -> FollowUp:
    """An answer that does not stand: its reports are unanswered again, by a new row each, and the student rests."""
    Student.objects.select_for_update(no_key=True).get(pk=follow_up.student_id)
    locked = FollowUp.objects.select_for_update().get(pk=follow_up.pk)
    if not why.strip():
        raise Refused(_("Say why you open it again."))
    same = FollowUp.objects.filter(student=locked.student, kind=locked.kind, closed_at__isnull=True)
    opened = open_again(follow_up=locked, on=on, kind=FollowUpNote.REOPENED, text=why.strip(), by=by)
    if not opened and not locked.is_open:
        # Another pain of the student is open under the same kind: its follow-up takes these reports along.
        same.get().pain_reports.add(*locked.pain_reports.all())
    elif not opened:
        return locked
    for report in locked.pain_reports.prefetch_related("answers"):
        if report.answer is not None:
            gone = PainAnswer.NOTHING | {"note": why.strip()}
            ledger.append(PainAnswer, key=uuids.uuid4(), before=report.answer, by=by, **gone)
            judge_without(report)
    return same.get()
