"""Opens follow-ups from facts, one for a cause, and writes what people did about them."""
import datetime as dt
from collections.abc import Iterable

from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from progress.judging.judgement import Line
from progress.judging.line_record import read_line
from progress.models import FollowUp, FollowUpNote, PainAnswer, Standing
from progress.queries.look_first import shared_stalls
from studio.actions import Refused
from studio.models import ClassGroup, Enrolment, Student, Term, User
from studio.queries import next_class_day
from studio.templatetags.wording import day as write_day

# Days until somebody must have acted; the studio's own rule, pain first.
DUE_DAYS = {
    FollowUp.STOP_SIGN: 0, FollowUp.PAIN_LASTS: 1, FollowUp.DROPPED: 0, FollowUp.PAIN_WATCHED: 7, FollowUp.NO_GAIN: 7,
    FollowUp.SIDES_APART: 7, FollowUp.NOT_MEASURED: 7, FollowUp.SEE_AGAIN: 0, FollowUp.LOOK_AGAIN: 0,
}
JUDGED = (FollowUp.DROPPED, FollowUp.NO_GAIN, FollowUp.SIDES_APART)
# Where the next class is further off than this, home is asked.
ASKED_WITHIN = dt.timedelta(days=14)
# What was closed a term's length ago or less and comes back is the same thing again; studio's own rule.
SAME_AGAIN = dt.timedelta(days=84)


def who_acts(class_group: ClassGroup | None) -> User | None:
    """The first teacher of the class by name, else the owner."""
    teacher = class_group.teachers.filter(is_active=True).order_by("name").first() if class_group else None
    return teacher or User.objects.filter(role=User.OWNER, is_active=True).order_by("pk").first()


def due_day(kind: str, class_group: ClassGroup | None, on: dt.date) -> dt.date:
    """By when somebody must have acted: what is asked about in the next class, on the day of that class."""
    if kind == FollowUp.PAIN_WATCHED and (next_class := next_class_day([class_group], after=on)):
        return min(next_class, on + ASKED_WITHIN)
    return on + dt.timedelta(days=DUE_DAYS[kind])


def open_follow_up(
    *, student: Student | int, kind: str, class_group: ClassGroup | None, opened_on: dt.date, measure=None,
    side: str = "", acts: User | None = None,
) -> tuple[FollowUp, bool]:
    """The open follow-up of this cause; True where it was made or opened again now, however many ask at once.

    One of the same cause that was closed not long ago is opened again with its whole history.
    """
    student_id = student if isinstance(student, int) else student.pk
    same = FollowUp.objects.filter(student=student_id, kind=kind, measure=measure, side=side)
    last = same.order_by("closed_at", "pk").filter(closed_at__isnull=False).last()
    is_open = same.filter(closed_at__isnull=True).exists()
    recent = last is not None and opened_on - last.closed_on <= SAME_AGAIN
    if not is_open and recent and kind not in (*FollowUp.ABOUT_HEALTH, FollowUp.LOOK_AGAIN):
        open_again(follow_up=last, on=opened_on, kind=FollowUpNote.CAME_BACK, text=_("It came back."), by=None)
        return same.get(closed_at__isnull=True), True
    return FollowUp.objects.get_or_create(
        student_id=student_id, kind=kind, measure=measure, side=side, closed_at__isnull=True,
        defaults={
            "class_group": class_group, "opened_on": opened_on, "acts": acts or who_acts(class_group),
            "due_on": due_day(kind, class_group, opened_on),
        },
    )


def open_again(*, follow_up: FollowUp, on: dt.date, kind: str, text: str, by: User | None) -> bool:
    """Opens a closed follow-up and notes why; False where it is open, or a twin is, because another was quicker."""
    try:
        with transaction.atomic():
            changed = FollowUp.objects.filter(pk=follow_up.pk, closed_at__isnull=False).update(
                closed_on=None, closed_by=None, closed_at=None,
                due_on=due_day(follow_up.kind, follow_up.class_group, on),
            )
    except IntegrityError:
        return False
    if changed:
        FollowUpNote.objects.create(follow_up=follow_up, kind=kind, text=text, by=by)
    return bool(changed)


def keep_see_again(*, clearance: PainAnswer, class_group: ClassGroup | None, on: dt.date, by: User) -> None:
    """A clearance that names a day on which the student is to be seen again waits on the list for that day; the next
    clearance answers it, or moves it to the day that it names."""
    student = clearance.report.student
    same = FollowUp.objects.filter(student=student, kind=FollowUp.SEE_AGAIN, closed_at__isnull=True)
    waiting = same.select_for_update().first()
    seen = _("Seen by %(name)s on %(day)s.") % {"name": clearance.said_by, "day": write_day(clearance.said_on)}
    if clearance.see_again_on is None:
        if waiting is not None:
            write_closing(follow_up=waiting, note=seen, closed_on=on, by=by)
        return
    if waiting is None:
        waiting, _made = open_follow_up(
            student=student, kind=FollowUp.SEE_AGAIN, class_group=class_group, opened_on=on
        )
    else:
        FollowUpNote.objects.create(follow_up=waiting, kind=FollowUpNote.NOTE, text=seen, by=by)
    waiting.due_on = clearance.see_again_on
    waiting.save(update_fields=["due_on"])


def open_judged_follow_ups(
    *, class_group: ClassGroup, standings: Iterable[Standing], as_of: dt.date, today: dt.date
) -> None:
    """A follow-up for each loss, stall or slip of a student's own, and for sides well apart.

    One that was closed within the same unbroken run of such verdicts is not opened again, nor is one for a
    stall that the whole class shares: that is a question to the programme. None is opened for a term that is over,
    as of past results that were brought in.
    """
    # Only for who was in the class then: last year's results, brought in later, ask nobody to act today.
    here = set(Enrolment.objects.on(as_of).filter(class_group=class_group).values_list("student_id", flat=True))
    rows = [(standing, read_line(standing.line)) for standing in standings if standing.student_id in here]
    wanted = _wanted(rows, as_of)
    if not wanted or not Term.objects.filter(starts_on__lte=as_of, ends_on__gte=max(as_of, today)).exists():
        return
    known = FollowUp.objects.filter(
        student__in={row.student_id for row, *_rest in wanted}, kind__in=JUDGED
    )
    by_cause: dict[tuple, list[FollowUp]] = {}
    for follow_up in known:
        by_cause.setdefault((follow_up.student_id, follow_up.kind, follow_up.measure_id, follow_up.side), []).append(
            follow_up
        )
    acts = who_acts(class_group)
    for row, _line, kind, side, episode_from in wanted:
        same = by_cause.get((row.student_id, kind, row.measure_id, side), [])
        if kind == FollowUp.NO_GAIN:
            # Level after a loss that somebody is asked about already.
            lost = by_cause.get((row.student_id, FollowUp.DROPPED, row.measure_id, side), [])
            same = same + [each for each in lost if each.is_open]
        if any(f.is_open or _closed_in_episode(f, episode_from, as_of) for f in same):
            continue
        open_follow_up(
            student=row.student_id, kind=kind, class_group=class_group, opened_on=as_of, measure=row.measure, side=side,
            acts=acts,
        )


def _wanted(rows: list[tuple[Standing, Line]], as_of: dt.date) -> list[tuple]:
    """(standing, line, kind, side, since when the verdict stands) for each cause."""
    wanted = [
        (row, line, FollowUp.DROPPED, row.side, line.flagged_on or as_of) for row, line in rows if line.drop is not None
    ]
    shared = shared_stalls(row for row, _line in rows)
    wanted += [
        (row, line, FollowUp.NO_GAIN, row.side, line.flagged_on or as_of)
        for row, line in rows
        if line.verdict == "slipping" and not line.with_class
        or line.verdict == "stalled" and not line.with_class and row.measure_id not in shared
    ]
    wanted += [
        (row, line, FollowUp.SIDES_APART, "", None)
        for row, line in rows
        if row.side == "L" and line.gap is not None and line.gap.is_apart
    ]
    return wanted


def _closed_in_episode(follow_up: FollowUp, episode_from: dt.date | None, as_of: dt.date) -> bool:
    """True where this run of verdicts was there at the closing; sides apart have no run, so they rest for a while."""
    if episode_from is None:
        return as_of - follow_up.closed_on <= SAME_AGAIN
    return follow_up.closed_on >= episode_from


@transaction.atomic
def add_note(*, follow_up: FollowUp, text: str, by: User) -> FollowUpNote:
    return FollowUpNote.objects.create(follow_up=follow_up, text=text, by=by)


@transaction.atomic
def close_follow_up(*, follow_up: FollowUp, note: str, closed_on: dt.date, by: User) -> None:
    """Closes with a note. Refused without one, and for pain, which needs an answer (progress.actions.answering)."""
    locked = FollowUp.objects.select_for_update().get(pk=follow_up.pk)
    if locked.is_about_pain:
        raise Refused(_("Say who cleared it before you close it."))
    if may_close(locked, note, by):
        write_closing(follow_up=locked, note=note.strip(), closed_on=closed_on, by=by)


def may_close(follow_up: FollowUp, note: str, by: User) -> bool:
    """False where this very closing was written before; refused without a note, or where somebody else was quicker."""
    if not note.strip():
        raise Refused(_("Say in a few words what was done. What you typed is still here."))
    if follow_up.is_open:
        return True
    if not follow_up.notes.filter(text=note.strip(), by=by).exists():
        raise Refused(_("Somebody closed it meanwhile. What you typed is still here."))
    return False


def write_closing(*, follow_up: FollowUp, note: str, closed_on: dt.date, by: User) -> None:
    FollowUpNote.objects.create(follow_up=follow_up, kind=FollowUpNote.CLOSED, text=note, by=by)
    follow_up.closed_on, follow_up.closed_by, follow_up.closed_at = closed_on, by, timezone.now()
    follow_up.save(update_fields=["closed_on", "closed_by", "closed_at"])


def close_measured(*, student: Student, on: dt.date, by: User) -> None:
    """A new result answers "not measured lately" by itself; the note says so."""
    for follow_up in FollowUp.objects.filter(student=student, kind=FollowUp.NOT_MEASURED, closed_at__isnull=True):
        write_closing(follow_up=follow_up, note=_("Measured again."), closed_on=on, by=by)


@transaction.atomic
def reopen_follow_up(*, follow_up: FollowUp, on: dt.date, by: User) -> FollowUp:
    """Takes a closing back; where the same cause has an open one meanwhile, that one."""
    locked = FollowUp.objects.select_for_update().get(pk=follow_up.pk)
    if locked.is_about_pain:
        raise Refused(_("Say why you open it again."))
    open_again(follow_up=locked, on=on, kind=FollowUpNote.REOPENED, text=_("Opened again."), by=by)
    return FollowUp.objects.get(
        student=locked.student, kind=locked.kind, measure=locked.measure, side=locked.side, closed_at__isnull=True
    )


@transaction.atomic
def hand_over(*, follow_up: FollowUp, acts: User, due_on: dt.date, by: User, why: str = "") -> None:
    """Who acts, and by when; each change is noted. The day of a stop sign is put off with a reason only."""
    locked = FollowUp.objects.select_for_update().get(pk=follow_up.pk)
    if not locked.is_open:
        raise Refused(_("It is closed. Open it again first."))
    why = why.strip()
    if locked.kind == FollowUp.STOP_SIGN and due_on > locked.due_on and not why:
        raise Refused(_("To move a stop sign to another day, give a reason."))
    if locked.acts_id != acts.pk:
        text = _("Handed over to %(name)s.") % {"name": acts.name}
        FollowUpNote.objects.create(follow_up=locked, kind=FollowUpNote.HANDED_OVER, text=text, by=by)
    if locked.due_on != due_on:
        text = " ".join(filter(None, (_("Due by %(day)s.") % {"day": write_day(due_on)}, why)))
        FollowUpNote.objects.create(follow_up=locked, kind=FollowUpNote.MOVED, text=text, by=by)
    locked.acts, locked.due_on = acts, due_on
    locked.save(update_fields=["acts", "due_on"])
