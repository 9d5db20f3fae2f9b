"""The way back into class in steps, each a row: begun by an answer, up after a pain-free class, back on pain."""
import datetime as dt
import uuid as uuids
from collections.abc import Sequence

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from progress.actions.follow_ups import keep_see_again
from progress.models import Attendance, ClassLog, FollowUp, PainAnswer, PainReport, ReturnLadder, ReturnStep
from progress.queries.pain import as_report
from progress.queries.resting import ladder_in_force, steps_of
from progress.queries.way_back import is_on_pointe, loads_of
from progress.rules import way_back
from progress.rules.pain import STOP_SIGNS, is_expected_ache
from studio import ledger
from studio.actions import Refused
from studio.models import Student, User
from studio.templatetags.wording import day as write_day


def current_step(student: Student) -> ReturnStep | None:
    """Where the student is on the way back; None where they are not on it."""
    step = steps_of([student.pk]).get(student.pk)
    return step if step is not None and not step.is_full_class else None


def start_return(
    *, student: Student, step: int, on: dt.date, note: str, by: User, clearance: PainAnswer | None = None
) -> ReturnStep | None:
    """Puts the student on a step of the ladder in force; straight into full class needs a row only from the way back.

    Not above what the clearance allows. Without one, a student on the way already goes no further by an answer: the
    clearance of the beginning stands.
    """
    now = current_step(student)
    ladder = now.ladder if now is not None and clearance is None else ladder_in_force()
    if not 0 <= step <= ladder.last:
        raise Refused(_("Say on which step of the way back."))
    if clearance is not None:
        _refuse_above(clearance, ladder, step, student)
    elif now is not None:
        if step > now.step:
            raise Refused(_("Already on the way back: no further than step %(n)s for now.") % {"n": now.step})
        clearance = now.clearance
    if step == ladder.last and now is None:
        return None
    if ladder.pk is None:
        ladder.save()
    return ReturnStep.objects.create(
        student=student, ladder=ladder, step=step, kind=ReturnStep.START, note=note, on=on, by=by, clearance=clearance
    )


def _refuse_above(clearance: PainAnswer | None, ladder: ReturnLadder, step: int, student: Student) -> None:
    """Nobody goes past what a clinician allowed; the first step is always open."""
    load = ladder.steps[step]["loads"]
    if clearance is not None and step and not way_back.is_within(
        load, clearance.allows, on_pointe=is_on_pointe(student)
    ):
        raise Refused(_("%(who)s allowed no more than this: “%(what)s”. A further step needs a new clearance.") % {
            "who": clearance.said_by, "what": clearance.allowed})


@transaction.atomic
def move_up(*, student: Student, class_log: ClassLog, today: dt.date, note: str, by: User) -> ReturnStep:
    """One step up after a class logged with the student present, later than the last step and without pain since.

    Refused where pain waits for an answer, for a second step on one day, and above what the clinician allowed.
    """
    Student.objects.select_for_update(no_key=True).get(pk=student.pk)
    now = current_step(student)
    if now is None:
        raise Refused(_("Already in full class."))
    if not now.on < class_log.held_on <= today or not was_present(student, class_log):
        raise Refused(_("The next step up needs a logged class since the last step, with the student there."))
    if now.kind == ReturnStep.UP and timezone.localdate(now.at) >= today:
        raise Refused(_("One step a day: the next one after the next class."))
    _refuse_with_pain(student, now)
    if now.clearance is not None and now.clearance.until_on is not None and class_log.held_on > now.clearance.until_on:
        raise Refused(_("The clearance was given until %(day)s. Ask for a new one before the next step.") % {
            "day": write_day(now.clearance.until_on)})
    step = way_back.next_up(loads_of(now.ladder), now.step, on_pointe=is_on_pointe(student))
    if step is None:
        raise Refused(_("Already in full class."))
    _refuse_above(now.clearance, now.ladder, step, student)
    return _step(now, step, ReturnStep.UP, class_log.held_on, note, by, class_log=class_log)


def _refuse_with_pain(student: Student, now: ReturnStep) -> None:
    if PainReport.objects.unanswered().filter(student=student, asks__in=STOP_SIGNS).exists():
        raise Refused(_("A stop sign is still open. Close it first."))
    grave = (FollowUp.STOP_SIGN, FollowUp.PAIN_LASTS)
    if FollowUp.objects.filter(student=student, kind__in=grave, closed_at__isnull=True).exists():
        raise Refused(_("A health professional should see the pain first."))
    since = student.pain_reports.meant().filter(reported_on__gte=now.on, reported_at__gt=now.at)
    if not all(is_expected_ache(as_report(row)) for row in since):
        raise Refused(_("Pain was reported since the last step. Go back a step, or close that follow-up first."))


@transaction.atomic
def move_back(*, student: Student, on: dt.date, note: str, by: User) -> ReturnStep:
    """One step back, by the teacher's word; from the first step there is no further back."""
    Student.objects.select_for_update(no_key=True).get(pk=student.pk)
    now = current_step(student)
    if now is None or now.step == 0:
        raise Refused(_("There is no step further back."))
    return _step(now, _below(now), ReturnStep.BACK, on, note, by)


@transaction.atomic
def renew_clearance(
    *, student: Student, said_by: str, said_on: dt.date, allowed: str, allows: str, until_on: dt.date | None,
    see_again_on: dt.date | None, note: str, on: dt.date, by: User,
) -> ReturnStep:
    """A clinician saw the student again: what is allowed from now on. They stay on their step, or go back to
    the highest one that is allowed."""
    Student.objects.select_for_update(no_key=True).get(pk=student.pk)
    now = current_step(student)
    report = now.clearance.report if now and now.clearance else student.pain_reports.meant().first()
    if now is None or report is None:
        raise Refused(_("Already in full class."))
    if not (said_by.strip() and allowed.strip() and allows) or said_on > on:
        raise Refused(_("Say which clinician, on which day, and what is allowed now."))
    answer = ledger.append(
        PainAnswer, key=uuids.uuid4(), before=report.answers.in_force().last(), report=report, by=by,
        kind=PainAnswer.CLINICIAN, note=note.strip() or _("Seen again on the way back."),
        said_by=said_by.strip(), said_on=said_on, allowed=allowed.strip(), allows=allows, until_on=until_on,
        see_again_on=see_again_on,
    )
    asked = FollowUp.objects.filter(pain_reports=report).order_by("pk").last()
    keep_see_again(clearance=answer, class_group=asked.class_group if asked else None, on=on, by=by)
    loads, on_pointe = loads_of(now.ladder), is_on_pointe(student)
    open_ones = [
        at for at in way_back.steps_for(loads, on_pointe=on_pointe)
        if at <= now.step and way_back.is_within(loads[at], allows, on_pointe=on_pointe)
    ]
    now.clearance = answer
    return _step(now, max(open_ones, default=0), ReturnStep.START, on, note, by)


def was_present(student: Student, class_log: ClassLog) -> bool:
    """True where the log says that the student came."""
    return Attendance.objects.in_force().filter(student=student, log=class_log, is_present=True).exists()


def step_back(*, student: Student, on: dt.date, by: User) -> None:
    """Pain on the way back takes the student one step back."""
    now = current_step(student)
    if now is not None:
        _step(now, _below(now), ReturnStep.BACK, on, _("Pain was reported."), by)


def step_was_mistake(*, student: Student, on: dt.date, by: User) -> None:
    """A report tapped by mistake took the student back: a new row puts them where they stood."""
    rows = list(ReturnStep.objects.filter(student=student).select_related("ladder", "clearance").order_by("-pk")[:2])
    if len(rows) == 2 and rows[0].kind == ReturnStep.BACK and rows[0].on == on:
        _step(rows[0], rows[1].step, ReturnStep.START, on, _("Tapped by mistake."), by)


def _below(now: ReturnStep) -> int:
    return way_back.next_down(loads_of(now.ladder), now.step, on_pointe=is_on_pointe(now.student))


def _step(
    now: ReturnStep, step: int, kind: str, on: dt.date, note: str, by: User, class_log: ClassLog | None = None
) -> ReturnStep:
    return ReturnStep.objects.create(
        student=now.student, ladder=now.ladder, step=step, kind=kind, note=note, on=on, by=by,
        clearance=now.clearance, class_log=class_log,
    )


@transaction.atomic
def keep_ladder(
    *, steps: Sequence[dict[str, str]], approved_by: str, approved_on: dt.date | None, by: User
) -> ReturnLadder:
    """A new version of the ladder; students on the way back stay on the one they began with."""
    return ReturnLadder.objects.create(
        steps=list(steps), approved_by=approved_by.strip(), approved_on=approved_on, made_by=by
    )
