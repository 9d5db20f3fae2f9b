"""Writes the log of a class, tap by tap: as planned, and what differed."""
import datetime as dt
import uuid as uuids
from collections.abc import Collection

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from progress.actions.day import ClassDay, locked_log
from progress.models import Attendance, ClassLog, Exercise, ExerciseVersion, LogEntry, ProgrammeEntry
from progress.queries.classwork.programme import planned_exercises
from progress.queries.resting import left_out
from progress.rules.dose import AS_PLANNED, Dose, Practice, changed
from studio import ledger
from studio.actions import Refused
from studio.ledger import Conflict
from studio.models import Student, User


def _note_present(log: ClassLog, student: Student, came: Attendance | None, tap: dict) -> None:
    """A student who did an exercise was here: that has a key of its own, and stays when the tap is taken back."""
    if came is None or came.is_present is None:
        own = {"key": uuids.uuid5(tap["key"], str(student.pk))}
        ledger.append(Attendance, before=came, log=log, student=student, is_present=True, **tap | own)


@transaction.atomic
def log_as_planned(
    *, key: uuids.UUID, day: ClassDay, exercise: Exercise, students: Collection[Student], by: User,
    tapped_at: dt.datetime | None = None,
) -> list[LogEntry]:
    """The exercise as planned for these students, each with their own dose.

    Left out are those who are absent, do without it, have an entry already, or rest from it.
    """
    log = locked_log(day, by)
    there = list(log.entries.filter(key=key).select_related("version"))
    if there:
        if any(row.exercise_id != exercise.pk or row.change != AS_PLANNED for row in there):
            raise Conflict
        return there
    tap = {"key": key, "by": by, "tapped_at": tapped_at}
    version = _version(exercise)
    planned = _planned(day, exercise, students)
    standing = {row.student_id: row for row in log.entries.in_force().filter(exercise=exercise)}
    resting = left_out((s.pk for s in students), now=timezone.now())
    attended = {row.student_id: row for row in log.attendance.in_force()}
    made = []
    for student in students:
        before, came = standing.get(student.pk), attended.get(student.pk)
        is_logged = before is not None and not before.is_withdrawn
        is_absent = came is not None and came.is_present is False
        if is_logged or is_absent or version.is_rested_from(resting.get(student.pk)) or student.pk not in planned:
            continue
        _note_present(log, student, came, tap)
        entry = planned[student.pk]
        practice = Practice(entry.dose)
        made.append(_store(
            log, student, version, entry.dose, entry.step_id, practice, before=before, change=AS_PLANNED, **tap
        ))
    return made


@transaction.atomic
def log_change(
    *, key: uuids.UUID, day: ClassDay, exercise: Exercise, student: Student, change: str, by: User,
    tapped_at: dt.datetime | None = None,
) -> LogEntry:
    """One tap on what one student did: control, a fault, the dose, left out. It changes what stands, in a new row."""
    log = locked_log(day, by)
    there = log.entries.filter(key=key).select_related("version").first()
    if there is not None:
        if (there.student_id, there.exercise_id, there.change) != (student.pk, exercise.pk, change):
            raise Conflict
        return there
    before = log.entries.in_force().filter(exercise=exercise, student=student).select_related("version").first()
    is_logged = before is not None and not before.is_withdrawn
    version = before.version if is_logged else _version(exercise)
    came = log.attendance.in_force().filter(student=student).first()
    if came is not None and came.is_present is False:
        raise Refused(_("%(name)s is down as absent.") % {"name": student.name})
    rest = left_out([student.pk], now=timezone.now()).get(student.pk)
    if rest is not None and not rest.is_told and version.is_rested_from(rest):
        raise Refused(_("%(name)s is not asked for this.") % {"name": student.name})
    if not is_logged and version.is_rested_from(rest):
        raise Refused(_("%(name)s leaves this out for now. See the follow-ups.") % {"name": student.name})
    entry = _planned(day, exercise, [student]).get(student.pk)
    # What was planned, and on which step, stays as it was when the class was logged.
    planned = before.planned if is_logged else entry.dose if entry else version.dose
    step_id = before.step_id if is_logged else entry.step_id if entry else None
    here = before.practice if is_logged else Practice(planned)
    try:
        practice = changed(here, change, planned=planned, faults=version.faults)
    except ValueError:
        raise Refused(_("This cannot be logged for this exercise.")) from None
    tap = {"key": key, "by": by, "tapped_at": tapped_at}
    _note_present(log, student, came, tap)
    return _store(log, student, version, planned, step_id, practice, before=before, change=change, **tap)


def _store(
    log, student, version: ExerciseVersion, planned: Dose, step_id: int | None, practice: Practice, **tap
) -> LogEntry:
    return ledger.append(
        LogEntry, log=log, student=student, exercise=version.exercise, version=version, step_id=step_id,
        sets=practice.dose.sets, reps=practice.dose.reps, hold_seconds=practice.dose.hold_seconds,
        planned_sets=planned.sets, planned_reps=planned.reps, planned_hold_seconds=planned.hold_seconds,
        control=practice.control, faults=list(practice.faults), is_withdrawn=False, **tap,
    )


def _version(exercise: Exercise) -> ExerciseVersion:
    return exercise.versions.order_by("-version").first()


def _planned(day: ClassDay, exercise: Exercise, students: Collection[Student]) -> dict[int, ProgrammeEntry]:
    """Student id -> what that student is to do of this exercise; who is spared it is left out."""
    version = {exercise.pk: _version(exercise)}
    for each in planned_exercises(day.class_group, day.term, students, version, only=exercise):
        found = {student.pk: each.entry_of(student.pk) for student in students}
        return {pk: entry for pk, entry in found.items() if entry is not None}
    return {}
