"""Gives the demo's classes a programme and logs of their last weeks; draws everything from the demo's seed."""
import datetime as dt
import uuid
from typing import Any

from django.utils import timezone

from progress.actions.classwork.programme import plan_exercise
from progress.demo import story
from progress.demo.house import WEEK, House
from progress.models import Attendance, ClassLog, Exercise, ExerciseVersion, LadderStep, LogEntry, ProgrammeEntry
from progress.queries.classwork.programme import Planned, planned_exercises
from progress.rules.dose import Dose
from studio.models import Student

# The last weeks of the running term are logged; today's classes are still to come.
LOGGED_WEEKS = 8
# How often one child differs from plan in one exercise, and how such a day looks.
DIFFERS = 0.1
SELDOM_AWAY = 0.06


def work_in_class(house: House) -> None:
    for row in house.script["programmes"]:
        _plan(house, row)
    for class_row in house.script["classes"]:
        _log_weeks(house, class_row)


def _plan(house: House, row: dict[str, Any]) -> None:
    """The programme as the teacher decided it at the beginning of the term."""
    group, term, by = house.groups[row["class"]], house.terms[1], _teacher(house, row["class"])
    for each in row["exercises"]:
        student = house.students[each["student"]] if "student" in each else None
        step = None
        if "ladder" in each:
            step = LadderStep.objects.get(ladder__key=each["ladder"], position=each["step"])
        exercise = step.exercise if step else Exercise.objects.get(key=each["exercise"])
        given = step or exercise.versions.order_by("-version").first()
        plan_exercise(
            class_group=group, term=term, exercise=exercise, student=student, step=step,
            dose=Dose(*each["dose"]) if "dose" in each else given.dose, is_spared=each.get("is_spared", False),
            note=each.get("note", step.note if step else ""), reason=each.get("reason", ""),
            added_on=term.starts_on + (each.get("week", 1) - 1) * WEEK, by=by,
        )


def _teacher(house: House, name: str):
    return house.assessor(next(row for row in house.script["classes"] if row["name"] == name))


def _log_weeks(house: House, class_row: dict[str, Any]) -> None:
    group, term = house.groups[class_row["name"]], house.terms[1]
    days = [
        monday + dt.timedelta(days=(meeting[0] + house.today.weekday()) % 7)
        for week in range(story.TODAY_WEEK - LOGGED_WEEKS, story.TODAY_WEEK + 1) if week != story.HALF_TERM_WEEK
        for monday in [term.first_monday + (week - 1) * WEEK] for meeting in class_row["meetings"]
    ]
    by = house.assessor(class_row)
    students = [house.students[name] for name in class_row["students"]]
    planned = planned_exercises(group, term, students)
    logs = ClassLog.objects.bulk_create(
        ClassLog(class_group=group, term=term, held_on=day, opened_by=by)
        for day in sorted(days) if day < house.today
    )
    came, done = [], []
    for log in logs:
        for student in students:
            is_present = _comes(house, student, log.held_on)
            if is_present is None:
                continue
            tap = _tap(house, student, log.held_on, "came")
            came.append(
                Attendance(log=log, student=student, is_present=is_present, key=tap, origin=tap, by=by)
            )
            if is_present:
                done += [_entry(house, log, student, each, by) for each in planned if each.entry_of(student.pk)]
    _write([*came, *[each for each in done if each is not None]])


def _comes(house: House, student: Student, on: dt.date) -> bool | None:
    """None before she joined."""
    week = house.terms[1].week_number(on)
    if week < house.joins_late().get(student.name, 0):
        return None
    often = student.name in house.script["away"]
    return house.chance(student.name, "came", _days_ago(house, on)).random() >= (0.4 if often else SELDOM_AWAY)


def _entry(house: House, log: ClassLog, student: Student, planned: Planned, by) -> LogEntry | None:
    """What she did that evening; nothing of what loads the foot from a stop sign on until it was answered."""
    if planned.version.loads_foot and house.rests(student.name, log.held_on):
        return None
    entry: ProgrammeEntry = planned.entry_of(student.pk)
    version: ExerciseVersion = planned.version
    chance = house.chance(student.name, version.exercise.key, _days_ago(house, log.held_on))
    sets, control, faults = entry.sets, "clean", []
    if chance.random() < DIFFERS * (3 if student.name in house.told else 1):
        control = ["corrected", "corrected", "lost"][chance.integers(3)]
        faults = [version.faults[chance.integers(len(version.faults))]]
        sets = max(1, entry.sets - int(chance.integers(2)))
    sets += _extra_sets(house, student, version, log.held_on)
    tap = _tap(house, student, log.held_on, version.exercise.key)
    return LogEntry(
        log=log, student=student, exercise=version.exercise, version=version, step_id=entry.step_id, sets=sets,
        reps=entry.reps, hold_seconds=entry.hold_seconds, planned_sets=entry.sets, planned_reps=entry.reps,
        planned_hold_seconds=entry.hold_seconds, control=control, faults=faults, key=tap, origin=tap, by=by,
        change="as_planned" if control == "clean" else f"control:{control}",
    )


def _extra_sets(house: House, student: Student, version: ExerciseVersion, on: dt.date) -> int:
    """One student did far too much in one week; the script says who."""
    more = house.script["did_too_much"]
    same = (student.name, version.exercise.key) == (more["student"], more["exercise"])
    return more["sets"] if same and house.terms[1].week_number(on) == more["week"] else 0


def _days_ago(house: House, on: dt.date) -> int:
    return (house.today - on).days


def _tap(house: House, student: Student, on: dt.date, what: str) -> uuid.UUID:
    """A key of its own for each tap, the same every time for the same day."""
    words = f"{house.script['seed']}|{student.name}|{_days_ago(house, on)}|{what}"
    return uuid.uuid5(uuid.NAMESPACE_OID, words)


def _write(rows: list) -> None:
    """Stores the taps as if each had been made on its evening."""
    for model in (Attendance, LogEntry):
        of_model = model.objects.bulk_create(row for row in rows if isinstance(row, model))
        for row in of_model:
            row.received_at = row.tapped_at = timezone.make_aware(dt.datetime.combine(row.log.held_on, dt.time(18)))
        model.objects.bulk_update(of_model, ["received_at", "tapped_at"], batch_size=2000)
