"""Records, corrects and closes at the barre: the screening's own action, then the judgement, in one transaction."""
import datetime as dt
import uuid as uuids

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from progress.actions.day import ClassDay, mark_present, state_attendance
from progress.actions.follow_ups import close_measured, open_follow_up
from progress.actions.learning import learn_values
from progress.actions.standings import judging_classes, refresh_standings
from progress.actions.together import judged_after, lock, read_of
from progress.models import FollowUp
from progress.queries.resting import excused, rest_words, rests
from progress.rules.resting import Rest
from screening import actions as screening_actions
from screening.models import Measure, Result, Screening
from screening.queries import battery_measures, cells_of, students_of
from studio.actions import Refused, note_stage
from studio.family.queries import consented, withheld
from studio.ledger import Conflict
from studio.models import Consent, Enrolment, Student, User

# A student without a result in any measure for so long is followed up when a screening closes; the studio's own rule.
NOT_MEASURED_AFTER = dt.timedelta(weeks=3)


class ShouldRest(Refused):
    """The student rests from what was measured: it is stored only with a reason. `reasons`: (key, words) of those that
    may be offered; none where nobody is told why the student rests."""

    def __init__(self, student: Student, rest: Rest):
        about = {"name": student.first_name, "words": rest_words(rest)}
        super().__init__((_("%(name)s should rest: %(words)s") if rest.is_told else _("%(name)s: %(words)s")) % about)
        self.reasons = [(key, str(words)) for key, words in Result.DESPITE] if rest.is_told else []


def _ask_who_rests(
    screening: Screening, student: Student, measure: Measure, entry: screening_actions.Entry,
    before: Result | None = None,
) -> None:
    """Refuses a value of somebody who should rest from this measure, unless the entry names a reason. To be asked once
    the student is locked, so that no report of pain comes in between.

    A correction that leaves the value as it was measures nothing new.
    """
    if entry.value is None or entry.despite_rest:
        return
    if before is not None and (before.despite_rest or before.value == entry.value):
        return
    resting = read_of(student, screening.class_group, "rests", lambda ids: rests(ids, now=timezone.now()))
    if rest := excused(resting, measure).get(student.pk):
        raise ShouldRest(student, rest)


@transaction.atomic
def record_result(
    *, key: uuids.UUID, screening: Screening, student: Student, measure: Measure, side: str,
    entry: screening_actions.Entry, by: User,
) -> Result:
    lock(student, screening.class_group)
    is_new, is_value = not Result.objects.filter(key=key).exists(), entry.value is not None
    if is_new:
        _ask_who_rests(screening, student, measure, entry)
    with judged_after(student if is_value else None, screening.class_group, since=screening.held_on):
        result = screening_actions.record_result(
            key=key, screening=screening, student=student, measure=measure, side=side, entry=entry, by=by
        )
        if is_value and is_new:
            _mark_present(key, screening, student, entry, by)
            close_measured(student=student, on=result.taken_on, by=by)
    return result


@transaction.atomic
def record_missing(
    *, key: uuids.UUID, screening: Screening, student: Student, measure: Measure, entry: screening_actions.Entry,
    by: User,
) -> list[Result]:
    """Why there is no result, for every side that has nothing yet; a second tap finds nothing left to say. Absent
    is absent for all of the class's day. Given are the rows of this measure."""
    lock(student, screening.class_group)
    there = Result.objects.filter(key=key).first()
    if there is not None:
        if (there.student_id, there.reason_missing) != (student.pk, entry.reason_missing):
            raise Conflict
    elif entry.reason_missing != Result.ABSENT:
        screening_actions.leave_out(
            key=key, screening=screening, student=student, measures=[measure], entry=entry, by=by
        )
    elif not Screening.objects.open_for(entry.tapped_at).filter(pk=screening.pk).exists():
        raise screening_actions.closed()
    else:
        state_attendance(
            key=key, day=ClassDay.of(screening), present=[], absent=[student], by=by, tapped_at=entry.tapped_at,
            at=(screening, measure),
        )
    rows = Result.objects.filter(origin=key, supersedes=None, screening=screening, measure=measure)
    return list(rows.order_by("pk"))


@transaction.atomic
def correct_result(*, key: uuids.UUID, result: Result, entry: screening_actions.Entry, by: User) -> Result:
    """Puts right what this result said, also where it stands again since later taps were taken back. A student
    who was absent and is measured is here."""
    student, class_group = result.student, result.screening.class_group
    lock(student, class_group)
    is_new = not Result.objects.filter(key=key).exists()
    if is_new:
        _ask_who_rests(result.screening, student, result.measure, entry, result)
    with judged_after(student, class_group, since=result.taken_on):
        corrected = screening_actions.correct_result(key=key, result=result, entry=entry, by=by)
        if entry.value is not None and is_new:
            _mark_present(key, result.screening, student, entry, by)
    return corrected


def _mark_present(key: uuids.UUID, screening: Screening, student: Student, entry: screening_actions.Entry, by) -> None:
    mark_present(key=key, day=ClassDay.of(screening), student=student, by=by, tapped_at=entry.tapped_at)


def missing_from(screening: Screening) -> dict[Student, list[Measure]]:
    """Who has no result and no reason yet, and in which of the battery's measures."""
    everyone, measures = students_of(screening), battery_measures(screening.battery)
    agreed = consented([s.pk for s in everyone], Consent.MEASUREMENTS, timezone.now())
    students = [student for student in everyone if student.pk in agreed]
    cells = cells_of(screening, measures, students, now=timezone.now())
    missing: dict[Student, list[Measure]] = {}
    for student in students:
        lacking = [m for m in measures if any(cells[student.pk, m.pk, side].is_empty for side in m.sides)]
        if lacking:
            missing[student] = lacking
    return missing


@transaction.atomic
def close_screening(*, screening: Screening, closed_on: dt.date, by: User) -> dict[Student, list[Measure]]:
    """Closes the day and names everyone missing; who has had no result for weeks is followed up."""
    missing = missing_from(screening)
    screening_actions.close_screening(screening=screening, by=by)
    since = screening.held_on - NOT_MEASURED_AFTER
    long_here = Enrolment.objects.on(screening.held_on).filter(
        class_group=screening.class_group, term=screening.term, joined_on__lte=since
    )
    recent = Result.objects.in_force().filter(value__isnull=False, taken_on__gt=since)
    asked = Student.objects.exclude(pk__in=withheld(Consent.MEASUREMENTS, timezone.now()))
    for student in asked.filter(pk__in=long_here.values("student")).exclude(pk__in=recent.values("student")):
        open_follow_up(
            student=student, kind=FollowUp.NOT_MEASURED, class_group=screening.class_group, opened_on=closed_on
        )
    learn_values(learned_on=closed_on)
    return missing


@transaction.atomic
def save_particulars(*, student: Student, by: User) -> None:
    """A student's particulars; another stage has other targets, so the class is judged anew."""
    before = Student.objects.filter(pk=student.pk).values_list("stage_id", flat=True).first()
    student.save()
    note_stage(student=student, on=timezone.localdate(), by=by)
    if student.stage_id != before:
        refresh_standings(class_ids=judging_classes([student.pk]), over_on=timezone.localdate())
