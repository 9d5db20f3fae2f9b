"""Opens follow-ups from facts, one for a cause, and writes what people did about them."""
import datetime as dt
from collections.abc import Iterable

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from progress.line_record import read_line
from progress.models import FollowUp, FollowUpNote, PainAnswer, PainReport, Standing
from studio.actions import Refused
from studio.models import ClassGroup, Enrolment, Student, User

# Days until somebody must have acted; the studio's own rule, pain first.
DUE_DAYS = {
    FollowUp.STOP_SIGN: 0, FollowUp.PAIN_LASTS: 1, FollowUp.NO_GAIN: 7, FollowUp.SIDES_APART: 7,
    FollowUp.NOT_MEASURED: 7,
}


def who_acts(class_group: ClassGroup | None) -> User | None:
    """The first teacher of the class by name, else the owner."""
    teacher = class_group.teachers.filter(is_active=True).order_by("name").first() if class_group else None
    return teacher or User.objects.filter(role=User.OWNER, is_active=True).order_by("pk").first()


def open_follow_up(
    *, student: Student | int, kind: str, class_group: ClassGroup | None, opened_on: dt.date, measure=None,
    side: str = "", acts: User | None = None,
) -> tuple[FollowUp, bool]:
    """The open follow-up of this cause, made if there is none; True where it was made now."""
    student_id = student if isinstance(student, int) else student.pk
    return FollowUp.objects.get_or_create(
        student_id=student_id, kind=kind, measure=measure, side=side, closed_at__isnull=True,
        defaults={
            "class_group": class_group, "opened_on": opened_on, "acts": acts or who_acts(class_group),
            "due_on": opened_on + dt.timedelta(days=DUE_DAYS[kind]),
        },
    )


def open_judged_follow_ups(*, class_group: ClassGroup, standings: Iterable[Standing], as_of: dt.date) -> None:
    """A follow-up for each stall or slip of a student's own, and for sides well apart.

    One that was closed within the same unbroken run of such verdicts is not opened again, nor is one for a
    stall that the whole class shares: that is a question to the programme.
    """
    # Only for who was in the class then: last year's results, brought in later, ask nobody to act today.
    here = set(Enrolment.objects.on(as_of).filter(class_group=class_group).values_list("student_id", flat=True))
    rows = [(standing, read_line(standing.line)) for standing in standings if standing.student_id in here]
    wanted = [
        (row, line, FollowUp.NO_GAIN, row.side, line.flagged_on or as_of)
        for row, line in rows
        if line.verdict in ("stalled", "slipping") and not line.with_class
    ]
    wanted += [
        (row, line, FollowUp.SIDES_APART, "", None)
        for row, line in rows
        if row.side == "L" and line.gap is not None and line.gap.is_apart
    ]
    if not wanted:
        return
    known = FollowUp.objects.filter(
        student__in={row.student_id for row, *_rest in wanted}, kind__in=[FollowUp.NO_GAIN, FollowUp.SIDES_APART]
    )
    by_cause: dict[tuple, list[FollowUp]] = {}
    for follow_up in known:
        by_cause.setdefault((follow_up.student_id, follow_up.kind, follow_up.measure_id, follow_up.side), []).append(
            follow_up
        )
    acts = who_acts(class_group)
    for row, _line, kind, side, episode_from in wanted:
        same = by_cause.get((row.student_id, kind, row.measure_id, side), [])
        if any(f.is_open or _closed_in_episode(f, episode_from, as_of) for f in same):
            continue
        open_follow_up(
            student=row.student_id, kind=kind, class_group=class_group, opened_on=as_of, measure=row.measure, side=side,
            acts=acts,
        )


# Sides that were followed up and closed are not raised again within a term's length; studio's own rule.
QUIET_AFTER_CLOSING = dt.timedelta(days=84)


def _closed_in_episode(follow_up: FollowUp, episode_from: dt.date | None, as_of: dt.date) -> bool:
    if episode_from is None:
        return as_of - follow_up.closed_on < QUIET_AFTER_CLOSING
    return follow_up.opened_on >= episode_from


@transaction.atomic
def add_note(*, follow_up: FollowUp, text: str, by: User) -> FollowUpNote:
    return FollowUpNote.objects.create(follow_up=follow_up, text=text, by=by)


@transaction.atomic
def close_follow_up(
    *, follow_up: FollowUp, note: str, answer: str, closed_on: dt.date, by: User, seen: int | None = None
) -> None:
    """Closes with a note; one about pain also answers its reports, which ends the rest from rising.

    answer: a kind of PainAnswer for follow-ups about pain, "" for the others. Refused without a note, or where
    a stop sign has no answer, or where a report came in after the newest one `seen` on the page.
    """
    Student.objects.select_for_update(no_key=True).get(pk=follow_up.student_id)
    locked = FollowUp.objects.select_for_update().get(pk=follow_up.pk)
    if not note.strip():
        raise Refused(_("Say in a few words what was done. What you typed is still here."))
    if locked.is_about_pain and answer not in dict(PainAnswer.ANSWERS):
        raise Refused(_("Say who answered it before you close it."))
    if not locked.is_open:
        if not locked.notes.filter(text=note.strip(), by=by).exists():
            raise Refused(_("It was closed meanwhile. What you typed is still here: look at it again."))
        return
    unanswered = PainReport.objects.filter(follow_ups=locked, answer__isnull=True)
    if seen is not None and unanswered.filter(pk__gt=seen).exists():
        raise Refused(_("Another report came in meanwhile. Read it before you close."))
    _close(locked, note=note.strip(), closed_on=closed_on, by=by)
    if locked.is_about_pain:
        for report in unanswered:
            PainAnswer.objects.create(report=report, kind=answer, note=note.strip(), answered_by=by)


def _close(follow_up: FollowUp, *, note: str, closed_on: dt.date, by: User) -> None:
    FollowUpNote.objects.create(follow_up=follow_up, text=note, by=by)
    follow_up.closed_on, follow_up.closed_by, follow_up.closed_at = closed_on, by, timezone.now()
    follow_up.save(update_fields=["closed_on", "closed_by", "closed_at"])


def close_measured(*, student: Student, on: dt.date, by: User) -> None:
    """A new result answers "not measured lately" by itself; the note says so."""
    for follow_up in FollowUp.objects.filter(student=student, kind=FollowUp.NOT_MEASURED, closed_at__isnull=True):
        _close(follow_up, note=_("Measured again."), closed_on=on, by=by)


def close_mistaken(*, report: PainReport, on: dt.date, by: User) -> None:
    """Closes what a report opened that was tapped by mistake, unless another unanswered one stands behind it."""
    for follow_up in FollowUp.objects.select_for_update().filter(pain_reports=report, closed_at__isnull=True):
        if not follow_up.pain_reports.filter(answer__isnull=True).exists():
            _close(follow_up, note=_("Tapped by mistake."), closed_on=on, by=by)


@transaction.atomic
def reopen_follow_up(*, follow_up: FollowUp, by: User) -> FollowUp:
    """Takes a closing back. A pain answer given with it stays; a new report opens a new follow-up."""
    locked = FollowUp.objects.select_for_update().get(pk=follow_up.pk)
    if locked.is_open:
        return locked
    if locked.is_about_pain:
        raise Refused(_("An answered pain report stays answered. If it hurts again, report it again."))
    twin = FollowUp.objects.filter(
        student=locked.student, kind=locked.kind, measure=locked.measure, side=locked.side, closed_at__isnull=True
    ).first()
    if twin is not None:
        return twin
    FollowUpNote.objects.create(follow_up=locked, text=_("Opened again."), by=by)
    locked.closed_on = locked.closed_by = locked.closed_at = None
    locked.save(update_fields=["closed_on", "closed_by", "closed_at"])
    return locked


@transaction.atomic
def hand_over(*, follow_up: FollowUp, acts: User, due_on: dt.date, by: User) -> None:
    """Who acts, and by when; a change of person is noted."""
    locked = FollowUp.objects.select_for_update().get(pk=follow_up.pk)
    if not locked.is_open:
        raise Refused(_("It is closed. Open it again first."))
    if locked.acts_id != acts.pk:
        FollowUpNote.objects.create(follow_up=locked, text=_("Handed over to %(name)s.") % {"name": acts.name}, by=by)
    locked.acts, locked.due_on = acts, due_on
    locked.save(update_fields=["acts", "due_on"])
