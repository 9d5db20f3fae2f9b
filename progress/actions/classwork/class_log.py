"""Writes the log of a class, tap by tap: who came, as planned, what differed, and what is taken back."""
import datetime as dt
import uuid as uuids
from collections.abc import Collection
from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from progress.models import Attendance, ClassLog, Exercise, ExerciseVersion, LogEntry, ProgrammeEntry
from progress.queries.classwork.programme import planned_exercises
from progress.queries.resting import left_out
from progress.rules.dose import AS_PLANNED, Dose, Practice, changed
from screening.actions import Conflict
from studio.actions import Refused
from studio.models import ClassGroup, Student, Term, User

TAKEN_BACK = "taken_back"


@dataclass(frozen=True)
class ClassDay:
    """Which class, on which day; its log is opened by the first tap."""

    class_group: ClassGroup
    term: Term | None
    held_on: dt.date


@transaction.atomic
def state_attendance(
    *, key: uuids.UUID, day: ClassDay, present: Collection[Student], absent: Collection[Student], by: User
) -> list[Attendance]:
    """Who is here and who is not. What was logged for a student who turns out absent is withdrawn with the same tap."""
    log = _locked_log(day, by)
    there = list(log.attendance.filter(tap=key))
    wanted = {**{s.pk: True for s in present}, **{s.pk: False for s in absent}}
    if there:
        if any(wanted.get(row.student_id) != row.is_present for row in there):
            raise Conflict
        return there
    for entry in _standing(log).filter(student__in=absent, is_withdrawn=False):
        _append(entry, tap=key, origin=key, by=by, is_withdrawn=True, change="absent")
    standing = {row.student_id: row for row in log.attendance.standing()}
    return [
        _attend(log, pk, is_present, key, key, standing.get(pk), by) for pk, is_present in wanted.items()
        if pk not in standing or standing[pk].is_present != is_present
    ]


def _attend(log, student_id: int, is_present: bool | None, tap, origin, before: Attendance | None, by) -> Attendance:
    """One row of attendance. Whoever did something was here: that stays when the tap that said so is taken back."""
    return Attendance.objects.create(
        log=log, student_id=student_id, is_present=is_present, tap=tap, origin=origin, by=by, supersedes=before
    )


@transaction.atomic
def log_as_planned(
    *, key: uuids.UUID, day: ClassDay, exercise: Exercise, students: Collection[Student], by: User
) -> list[LogEntry]:
    """The exercise as planned for these students, each with her own dose.

    Left out are those who are absent, do without it, have an entry already, or rest from it.
    """
    log = _locked_log(day, by)
    there = list(log.entries.filter(tap=key).select_related("version"))
    if there:
        if any(row.exercise_id != exercise.pk or row.change != AS_PLANNED for row in there):
            raise Conflict
        return there
    version = _version(exercise)
    planned = _planned(day, exercise, students)
    standing = {row.student_id: row for row in _standing(log).filter(exercise=exercise)}
    resting = left_out((s.pk for s in students), now=timezone.now())
    attended = {row.student_id: row for row in log.attendance.standing()}
    made = []
    for student in students:
        before, came = standing.get(student.pk), attended.get(student.pk)
        is_logged = before is not None and not before.is_withdrawn
        is_absent = came is not None and came.is_present is False
        if is_logged or is_absent or version.is_rested_from(resting.get(student.pk)) or student.pk not in planned:
            continue
        if came is None or came.is_present is None:
            _attend(log, student.pk, True, key, uuids.uuid4(), came, by)
        entry = planned[student.pk]
        made.append(_store(
            log, student, version, entry.dose, entry.step_id, Practice(entry.dose), key, AS_PLANNED, before, by
        ))
    return made


@transaction.atomic
def log_change(
    *, key: uuids.UUID, day: ClassDay, exercise: Exercise, student: Student, change: str, by: User
) -> LogEntry:
    """One tap on what one student did: control, a fault, the dose, left out. It changes what stands, in a new row."""
    log = _locked_log(day, by)
    there = log.entries.filter(tap=key).select_related("version").first()
    if there is not None:
        if (there.student_id, there.exercise_id, there.change) != (student.pk, exercise.pk, change):
            raise Conflict
        return there
    before = _standing(log).filter(exercise=exercise, student=student).select_related("version").first()
    is_logged = before is not None and not before.is_withdrawn
    version = before.version if is_logged else _version(exercise)
    came = log.attendance.standing().filter(student=student).first()
    if came is not None and came.is_present is False:
        raise Refused(_("%(name)s is down as absent.") % {"name": student.name})
    rest = left_out([student.pk], now=timezone.now()).get(student.pk)
    if rest is not None and not rest.is_told and version.is_rested_from(rest):
        raise Refused(_("%(name)s is not asked for this.") % {"name": student.name})
    if not is_logged and version.is_rested_from(rest):
        raise Refused(_("%(name)s rests from this. See the follow-ups.") % {"name": student.name})
    entry = _planned(day, exercise, [student]).get(student.pk)
    # What was planned, and on which step, stays as it was when the class was logged.
    planned = before.planned if is_logged else entry.dose if entry else version.dose
    step_id = before.step_id if is_logged else entry.step_id if entry else None
    here = before.practice if is_logged else Practice(planned)
    try:
        practice = changed(here, change, planned=planned, faults=version.faults)
    except ValueError:
        raise Refused(_("This cannot be logged for this exercise.")) from None
    if came is None or came.is_present is None:
        _attend(log, student.pk, True, key, uuids.uuid4(), came, by)
    return _store(log, student, version, planned, step_id, practice, key, change, before, by)


@transaction.atomic
def take_back(*, key: uuids.UUID, of: uuids.UUID, day: ClassDay, by: User) -> tuple[list[Attendance], list[LogEntry]]:
    """Undoes one tap: what stood before it stands again; what began with it is withdrawn. Nothing is deleted."""
    log = _locked_log(day, by)
    done = list(log.attendance.filter(tap=key)), list(log.entries.filter(tap=key).select_related("version"))
    if any(done):
        return done
    attended = list(log.attendance.standing().filter(origin=of))
    logged = list(_standing(log).filter(origin=of).select_related("version"))
    if not attended and not logged:
        if not (log.attendance.filter(tap=of).exists() or log.entries.filter(tap=of).exists()):
            raise Refused(_("The tap that this one takes back is not here."))
        raise Refused(_("It was changed meanwhile. Look at it again."))
    came, did = [], []
    for row in attended:
        first = log.attendance.get(tap=of, student=row.student_id).supersedes
        words = (first.is_present, key, first.origin) if first else (None, key, key)
        came.append(_attend(log, row.student_id, *words, row, by))
    for row in logged:
        first = log.entries.get(tap=of, student=row.student_id, exercise=row.exercise_id).supersedes
        if first is None:
            did.append(_append(row, tap=key, origin=key, by=by, is_withdrawn=True, change=TAKEN_BACK))
        else:
            words = {name: getattr(first, name) for name in CONTENTS}
            did.append(_append(row, tap=key, origin=first.origin, by=by, **{**words, "change": TAKEN_BACK}))
    return came, did


# What a row says, apart from where, who and when.
CONTENTS = (
    "version", "step", "sets", "reps", "hold_seconds", "planned_sets", "planned_reps", "planned_hold_seconds",
    "control", "faults", "is_withdrawn",
)


def _append(before: LogEntry, *, tap: uuids.UUID, origin: uuids.UUID, by: User, **changes) -> LogEntry:
    """A copy of a row with these changes in its place."""
    words = {name: getattr(before, name) for name in CONTENTS} | changes
    return LogEntry.objects.create(
        log_id=before.log_id, student_id=before.student_id, exercise_id=before.exercise_id, tap=tap, origin=origin,
        by=by, supersedes=before, **words,
    )


def _store(
    log, student, version: ExerciseVersion, planned: Dose, step_id: int | None, practice: Practice, tap, change, before,
    by,
) -> LogEntry:
    return LogEntry.objects.create(
        log=log, student=student, exercise_id=version.exercise_id, version=version,
        step_id=step_id,
        sets=practice.dose.sets, reps=practice.dose.reps, hold_seconds=practice.dose.hold_seconds,
        planned_sets=planned.sets, planned_reps=planned.reps, planned_hold_seconds=planned.hold_seconds,
        control=practice.control, faults=list(practice.faults), tap=tap, origin=tap, change=change, by=by,
        supersedes=before,
    )


def _locked_log(day: ClassDay, by: User) -> ClassLog:
    """The log of the day, opened if there is none; whoever writes in it waits for the one before her."""
    log, _made = ClassLog.objects.get_or_create(
        class_group=day.class_group, held_on=day.held_on, defaults={"term": day.term, "opened_by": by}
    )
    return ClassLog.objects.select_for_update(no_key=True).get(pk=log.pk)


def _standing(log: ClassLog):
    return log.entries.standing()


def _version(exercise: Exercise) -> ExerciseVersion:
    return exercise.versions.order_by("-version").first()


def _planned(day: ClassDay, exercise: Exercise, students: Collection[Student]) -> dict[int, ProgrammeEntry]:
    """Student id -> what she is to do of this exercise; whoever does without it is not in it."""
    version = {exercise.pk: _version(exercise)}
    for each in planned_exercises(day.class_group, day.term, students, version, only=exercise):
        found = {student.pk: each.entry_of(student.pk) for student in students}
        return {pk: entry for pk, entry in found.items() if entry is not None}
    return {}
