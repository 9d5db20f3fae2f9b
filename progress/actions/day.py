"""What a tap does to the whole day of a class, its log and its screenings: who came, and taking any tap back."""
import datetime as dt
import uuid as uuids
from collections.abc import Collection
from dataclasses import dataclass

from django.db import transaction
from django.db.models import Q

from progress.actions.together import judged_after, lock
from progress.models import Attendance, ClassLog, LogEntry
from screening import actions as screening_actions
from screening.actions import Entry
from screening.models import Battery, Measure, Result, Screening
from screening.queries import battery_measures
from studio import ledger
from studio.ledger import Conflict
from studio.models import ClassGroup, Student, Tap, Term, User


@dataclass(frozen=True)
class ClassDay:
    """Which class, on which day; its log is opened by the first tap."""

    class_group: ClassGroup
    term: Term | None
    held_on: dt.date

    @classmethod
    def of(cls, screening: Screening) -> "ClassDay":
        return cls(screening.class_group, screening.term, screening.held_on)

    @property
    def screenings(self):
        return Screening.objects.filter(class_group=self.class_group, held_on=self.held_on)


def locked_log(day: ClassDay, by: User) -> ClassLog:
    """The log of the day, opened if there is none; a second writer waits for the first."""
    _lock_class(day)
    log, _made = ClassLog.objects.get_or_create(
        class_group=day.class_group, held_on=day.held_on, defaults={"term": day.term, "opened_by": by}
    )
    return log


def _lock_class(day: ClassDay) -> None:
    ClassGroup.objects.select_for_update(no_key=True).get(pk=day.class_group.pk)


@transaction.atomic
def state_attendance(
    *, key: uuids.UUID, day: ClassDay, present: Collection[Student], absent: Collection[Student], by: User,
    tapped_at: dt.datetime | None = None, at: tuple[Screening, Measure] | None = None,
) -> list[Attendance]:
    """Who is here and who is not, for the log and for every screening of the day.

    Of a student who turns out absent, what was logged is withdrawn with the same tap, and every measure that has
    nothing yet says absent, the one that it was tapped `at` before the others; of one who is here after all, none
    says so any more.
    """
    log = locked_log(day, by)
    there = list(log.attendance.filter(key=key).select_related("supersedes", "by"))
    wanted = {**{s.pk: True for s in present}, **{s.pk: False for s in absent}}
    if there:
        if any(wanted.get(row.student_id) != row.is_present for row in there):
            raise Conflict
        return there
    tap = {"key": key, "by": by, "tapped_at": tapped_at}
    for entry in log.entries.saying().filter(student__in=absent):
        ledger.append(LogEntry, before=entry, **LogEntry.NOTHING, **tap)
    standing = {row.student_id: row for row in log.attendance.in_force()}
    made = [
        ledger.append(Attendance, before=standing.get(pk), log=log, student_id=pk, is_present=is_present, **tap)
        for pk, is_present in wanted.items() if pk not in standing or standing[pk].is_present != is_present
    ]
    origins = {pk: row.origin for pk, row in standing.items()} | {row.student_id: key for row in made}
    for screening in day.screenings.open_for(tapped_at):
        for student in absent:
            _leave_out(screening, student, tap, origins[student.pk], at)
    _are_here(day, present, tap)
    return made


def _leave_out(screening: Screening, student: Student, tap: dict, origin: uuids.UUID, at: tuple | None) -> None:
    is_here = at is not None and at[0] == screening
    measures = sorted(battery_measures(screening.battery), key=lambda measure: not is_here or measure != at[1])
    # The tablet knows its own tap again by the row that has its key.
    key = tap["key"] if is_here else uuids.uuid5(tap["key"], f"screening {screening.pk}")
    entry = Entry(reason_missing=Result.ABSENT, tapped_at=tap["tapped_at"])
    screening_actions.leave_out(
        key=key, screening=screening, student=student, measures=measures, entry=entry, by=tap["by"],
        origin=origin,
    )


def _are_here(day: ClassDay, students: Collection[Student], tap: dict) -> None:
    rows = Result.objects.saying().filter(
        screening__in=day.screenings, student__in=students, reason_missing=Result.ABSENT
    )
    for row in rows.select_related("measure", "protocol"):
        own = {"key": uuids.uuid5(tap["key"], str(row.pk)), "origin": tap["key"]}
        ledger.append(Result, before=row, **Result.NOTHING, **tap | own)


def mark_present(*, key: uuids.UUID, day: ClassDay, student: Student, by: User, tapped_at: dt.datetime | None) -> None:
    """A student who was absent and is measured is here, by the same tap."""
    away = Attendance.objects.in_force().filter(
        log__class_group=day.class_group, log__held_on=day.held_on, student=student, is_present=False
    )
    if away.exists():
        state_attendance(key=key, day=day, present=[student], absent=[], by=by, tapped_at=tapped_at)


@transaction.atomic
def take_back(
    *, key: uuids.UUID, of: uuids.UUID, day: ClassDay, by: User, tapped_at: dt.datetime | None = None
) -> list[Tap]:
    """Takes one tap back from everything that it said of this day: what stood before it stands again, and what began
    with it is withdrawn. Taps made after it must have been taken back before. Given are the rows that stand since."""
    results = Result.objects.filter(screening__in=day.screenings.values("pk"))
    measured = Student.objects.filter(
        pk__in=results.filter(Q(origin=of) | Q(key=of), value__isnull=False).values("student")
    ).first()
    if measured is not None:
        lock(measured, day.class_group)
    _lock_class(day)
    of_log = {"log__class_group": day.class_group, "log__held_on": day.held_on}
    with judged_after(measured, day.class_group, since=day.held_on):
        return ledger.take_back(
            results.select_related("student", "screening", "measure", "protocol", "supersedes", "by"),
            Attendance.objects.filter(**of_log).select_related("supersedes", "by"),
            LogEntry.objects.filter(**of_log).select_related("version", "exercise", "supersedes", "by"),
            key=key, of=of, by=by, tapped_at=tapped_at,
        )


@transaction.atomic
def open_screening(
    *, class_group: ClassGroup, term: Term | None, battery: Battery, held_on: dt.date, name: str, by: User
) -> Screening:
    """Opens a measuring day, or gives the open one back. Students who are absent in the class log are so in it, too."""
    opened = screening_actions.open_screening(
        class_group=class_group, term=term, battery=battery, held_on=held_on, name=name, by=by
    )
    away = Attendance.objects.in_force().filter(
        log__class_group=class_group, log__held_on=held_on, is_present=False
    )
    for row in () if opened.results.exists() else away.select_related("student", "by"):
        tap = {"key": row.origin, "by": row.by, "tapped_at": row.tapped_at}
        _leave_out(opened, row.student, tap, row.origin, None)
    return opened
