"""Records, corrects and closes at the barre: the screening's own action, then the judgement, in one transaction."""
import datetime as dt
import uuid as uuids

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from progress.actions.follow_ups import close_measured, open_follow_up
from progress.actions.learning import learn_values
from progress.actions.standings import judging_classes, lock_judgement, refresh_standings
from progress.models import FollowUp
from progress.queries.resting import excused, rest_words, rests
from progress.rules.resting import Rest
from screening import actions as screening_actions
from screening.models import Measure, Result, Screening
from screening.queries import battery_measures, cells_of, students_of
from studio.actions import Refused, note_stage
from studio.family.queries import consented, withheld
from studio.models import Consent, Enrolment, Student, User

# A line without a result for three weeks is asked about; the judgement's own limit.
NOT_MEASURED_AFTER = dt.timedelta(weeks=3)
_WITHDRAWN = screening_actions.Entry(reason_missing=Result.WITHDRAWN)


class ShouldRest(Refused):
    """The student rests from what was measured: it is stored only with a reason. `reasons`: (key, words) of those that
    may be offered; none where nobody is told why the student rests."""

    def __init__(self, student: Student, rest: Rest):
        about = {"name": student.first_name, "words": rest_words(rest)}
        super().__init__((_("%(name)s should rest: %(words)s") if rest.is_told else _("%(name)s: %(words)s")) % about)
        self.reasons = [(key, str(words)) for key, words in Result.DESPITE] if rest.is_told else []


def _ask_who_rests(
    key: uuids.UUID, student: Student, measure: Measure, entry: screening_actions.Entry, before: Result | None = None
) -> None:
    """Refuses a value of somebody who should rest from this measure, unless the entry names a reason. To be asked once
    the student is locked, so that no report of pain comes in between.

    What is stored already is told again; a correction that leaves the value as it was measures nothing new.
    """
    if entry.value is None or entry.despite_rest or Result.objects.filter(uuid=key).exists():
        return
    if before is not None and (before.despite_rest or before.value == entry.value):
        return
    if rest := excused(rests([student.pk], now=timezone.now()), measure).get(student.pk):
        raise ShouldRest(student, rest)


@transaction.atomic
def record_result(
    *, key: uuids.UUID, screening: Screening, student: Student, measure: Measure, side: str,
    entry: screening_actions.Entry, by: User,
) -> Result:
    lock_judgement(student=student, class_group=screening.class_group)
    _ask_who_rests(key, student, measure, entry)
    before = judging_classes([student.pk])
    result = screening_actions.record_result(
        key=key, screening=screening, student=student, measure=measure, side=side, entry=entry, by=by
    )
    if result.value is not None:
        refresh_standings(class_ids=before | judging_classes([student.pk]))
        close_measured(student=student, on=result.taken_on, by=by)
    return result


@transaction.atomic
def record_missing(
    *, key: uuids.UUID, screening: Screening, student: Student, measure: Measure, entry: screening_actions.Entry,
    by: User,
) -> list[Result]:
    """Why there is no result, for every side that has nothing yet; a second tap finds nothing left to say. Whoever is
    absent is so in every measure of the day; given back are the rows of this one.

    The first row carries the tap's own key, every other one's is made from it: sent twice, it is stored once.
    """
    lock_judgement(student=student, class_group=screening.class_group)
    told = _leave_out(key, screening, student, measure, entry, by)
    if entry.reason_missing == Result.ABSENT:
        _leave_out_all_day(key, screening, student, by)
    return told


def _leave_out_all_day(key: uuids.UUID, screening: Screening, student: Student, by: User) -> None:
    absent = screening_actions.Entry(reason_missing=Result.ABSENT)
    for measure in battery_measures(screening.battery):
        _leave_out(uuids.uuid5(key, measure.key), screening, student, measure, absent, by)


def _leave_out(
    key: uuids.UUID, screening: Screening, student: Student, measure: Measure, entry: screening_actions.Entry, by: User
) -> list[Result]:
    cells = cells_of(screening, [measure], [student], now=timezone.now())
    there = list(Result.objects.filter(uuid__in=[key, *(uuids.uuid5(key, side) for side in measure.sides)]))
    sides = [row.side for row in there] or [side for (_s, _m, side), cell in cells.items() if cell.is_empty]
    return [
        screening_actions.record_result(
            key=uuids.uuid5(key, side) if at else key, screening=screening, student=student, measure=measure,
            side=side, entry=entry, by=by,
        )
        for at, side in enumerate(sides)
    ]


@transaction.atomic
def correct_result(*, key: uuids.UUID, result: Result, entry: screening_actions.Entry, by: User) -> Result:
    lock_judgement(student=result.student, class_group=result.screening.class_group)
    _ask_who_rests(key, result.student, result.measure, entry, result)
    return _correct(key, result, entry, by)


def _correct(key: uuids.UUID, result: Result, entry: screening_actions.Entry, by: User) -> Result:
    """In the place of another row, also where undoing brings back what stood before."""
    lock_judgement(student=result.student, class_group=result.screening.class_group)
    before = judging_classes([result.student_id])
    corrected = screening_actions.correct_result(key=key, result=result, entry=entry, by=by)
    refresh_standings(class_ids=before | judging_classes([result.student_id]))
    return corrected


@transaction.atomic
def correct_entry(*, key: uuids.UUID, result: Result, entry: screening_actions.Entry, by: User) -> Result:
    """Puts an entry of the barre right, also one that stands again because a later tap was taken back. Whoever was
    absent and is measured is here: no other measure of the day says absent any more."""
    there = Result.objects.filter(uuid=key).first()
    before = there.supersedes if there is not None and there in later_rows(result) else standing_again(result)
    corrected = correct_result(key=key, result=before, entry=entry, by=by)
    if before.reason_missing == Result.ABSENT and entry.value is not None:
        _withdraw_reason(before, by=by)
    return corrected


@transaction.atomic
def take_back(*, key: uuids.UUID, result: Result, by: User) -> Result:
    """Undoes one tap: a first entry no longer counts, a correction gives way to what stood before it, and a reason
    is taken back from every side it was given for, absent from every measure. Taps made after this one must have been
    taken back before. The same key twice takes back once, and what was taken back by somebody else is so already."""
    there = Result.objects.filter(uuid=key).first()
    if there is not None:
        if there not in later_rows(result):
            raise screening_actions.Conflict
        return there
    first = _first_to_say(result)
    standing, before = standing_again(first), first.supersedes
    if (last := [first, *later_rows(first)][-1]).reason_missing == Result.WITHDRAWN:
        return last
    entry = _WITHDRAWN
    if before is not None:
        entry = screening_actions.Entry(
            value=before.value, reason_missing=before.reason_missing, fault=before.fault,
            is_confirmed=before.is_confirmed, at_least=before.reached_cap,
        )
    taken_back = _correct(key, standing, entry, by)
    if first.value is None and before is None:
        _withdraw_reason(first, by=by)
    elif entry.reason_missing == Result.ABSENT and result.screening.is_open:
        _leave_out_all_day(key, result.screening, result.student, by)
    return taken_back


def _withdraw_reason(told: Result, *, by: User) -> None:
    """The reason of this row no longer stands for any side of the measure; absent for none of the day. Nothing that
    is judged changes by it."""
    rows = Result.objects.standing().filter(
        screening=told.screening_id, student=told.student_id, reason_missing=told.reason_missing
    )
    if told.reason_missing != Result.ABSENT:
        rows = rows.filter(measure=told.measure_id, recorded_by=told.recorded_by_id)
    for row in rows.select_related("screening", "student", "measure", "protocol"):
        screening_actions.correct_result(key=uuids.uuid4(), result=row, entry=_WITHDRAWN, by=by)


def _first_to_say(result: Result) -> Result:
    """The earliest row before this one that says the same, where this one only stands for it again; else this one."""
    first, row = result, result
    while (row := row.supersedes) is not None:
        if _said(row) == _said(result):
            first = row
    return first


def later_rows(result: Result) -> list[Result]:
    """What came in the place of this row, one after the other."""
    rows = [result]
    while hasattr(rows[-1], "superseded_by"):
        rows.append(rows[-1].superseded_by)
    return rows[1:]


def standing_again(result: Result) -> Result:
    """The row that says once more what this one says, after a later correction of it was undone; else this one."""
    last = [result, *later_rows(result)][-1]
    return last if _said(last) == _said(result) else result


def _said(row: Result) -> tuple:
    return row.value, row.reason_missing, row.fault, row.reached_cap


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
    recent = Result.objects.standing().filter(value__isnull=False, taken_on__gt=since)
    asked = Student.objects.exclude(pk__in=withheld(Consent.MEASUREMENTS, timezone.now()))
    for student in asked.filter(pk__in=long_here.values("student")).exclude(pk__in=recent.values("student")):
        open_follow_up(
            student=student, kind=FollowUp.NOT_MEASURED, class_group=screening.class_group, opened_on=closed_on
        )
    learn_values(learned_on=closed_on)
    return missing


@transaction.atomic
def save_particulars(*, student: Student, by: User) -> None:
    """A student's particulars; with another stage her targets change, so her class is judged anew."""
    before = Student.objects.filter(pk=student.pk).values_list("stage_id", flat=True).first()
    student.save()
    note_stage(student=student, on=timezone.localdate(), by=by)
    if student.stage_id != before:
        refresh_standings(class_ids=judging_classes([student.pk]), over_on=timezone.localdate())
