"""Writes of the house, one function for one thing a person did; each is atomic and knows who acts."""
import datetime as dt
import secrets
from collections.abc import Collection, Sequence
from typing import Any

from axes.utils import reset
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from studio.file_check import FileCheck
from studio.locale import computers_time_zone
from studio.models import (
    ClassGroup,
    Deed,
    Enrolment,
    Guardian,
    ImportDraft,
    KeptImport,
    Stage,
    StageChange,
    Student,
    Studio,
    Term,
    User,
)
from studio.roster_guardians import KnownGuardian
from studio.roster_plan import FIELDS, KnownStudent, PlannedRow

STAGES = [
    ("foundation", "foundation"), ("pre-pointe", "pre-pointe"),
    ("first-year", "first year on pointe"), ("on-pointe", "on pointe"),
]
# A list is mended within days; a year later its rows are only more data about children. Our choice.
LEFT_OUT_KEPT = dt.timedelta(days=365)


class Refused(Exception):
    """What was asked cannot be done; the sentence says why, for the person who asked."""


@transaction.atomic
def make_stages() -> None:
    """The usual four stages; names that the owner changed stay as they are."""
    there = set(Stage.objects.values_list("key", flat=True))
    Stage.objects.bulk_create(
        Stage(key=key, name=name, position=at) for at, (key, name) in enumerate(STAGES) if key not in there
    )


@transaction.atomic
def make_owner(*, username: str, name: str) -> str | None:
    """The first owner's account; gives its password, or None where an owner is there already."""
    if User.objects.filter(role=User.OWNER).exists():
        return None
    password = "-".join(secrets.token_hex(2) for _part in range(4))
    User.objects.create_user(username=username, password=password, name=name, role=User.OWNER)
    # A studio that starts now asks for consent from its first day; one that is upgraded decides when to begin.
    Studio.objects.get_or_create(pk=1, defaults={
        "consent_asked_from": timezone.localdate(), "time_zone": computers_time_zone()})
    return password


@transaction.atomic
def new_password(*, person: User, by: User | None) -> str:
    """A password that can be read out, in the place of the old one, with which the visits of before end; so does a
    lock-out after too many tries."""
    password = "-".join(secrets.token_hex(2) for _part in range(4))
    person.set_password(password)
    person.save(update_fields=["password"])
    person.visits.all().delete()
    Deed.note(person, Deed.NEW_PASSWORD, by)
    reset(username=person.username)
    return password


@transaction.atomic
def add_student(*, student: Student, class_group: ClassGroup, term: Term, joined_on: dt.date, by: User) -> Enrolment:
    Studio.objects.select_for_update().get(pk=1)
    if Student.objects.filter(name__iexact=student.name, birth_on=student.birth_on).exists():
        raise Refused(_("This student cannot be added here. Please ask the owner."))
    student.added_by = by
    student.save()
    note_stage(student=student, on=joined_on, by=by)
    return enrol(student=student, class_group=class_group, term=term, joined_on=joined_on, by=by)


def note_stage(*, student: Student, on: dt.date, by: User | None) -> StageChange | None:
    """Appends the stage a student is on now, where it is not the one noted last; gives the row that was made."""
    last = student.stage_changes.last()
    if student.stage_id is not None and (last is None or last.stage_id != student.stage_id):
        return StageChange.objects.create(student=student, stage_id=student.stage_id, on=on, by=by)
    return None


@transaction.atomic
def enrol(*, student: Student, class_group: ClassGroup, term: Term, joined_on: dt.date, by: User) -> Enrolment:
    """Puts a student into a class; one who is in it already stays so."""
    Student.objects.select_for_update(no_key=True).get(pk=student.pk)
    joined_on = min(max(joined_on, term.starts_on), term.ends_on)
    there = Enrolment.objects.filter(student=student, class_group=class_group, term=term, left_on__isnull=True).first()
    return there or Enrolment.objects.create(
        student=student, class_group=class_group, term=term, joined_on=joined_on, enrolled_by=by
    )


@transaction.atomic
def leave_class(*, enrolment: Enrolment, left_on: dt.date, by: User) -> None:
    """Ends an enrolment on its first day of absence; the results stay."""
    enrolment.left_on = max(left_on, enrolment.joined_on)
    enrolment.save(update_fields=["left_on"])
    Deed.note(enrolment, Deed.LEFT, by)


@transaction.atomic
def move_student(*, enrolment: Enrolment, class_group: ClassGroup, moved_on: dt.date, by: User) -> Enrolment:
    leave_class(enrolment=enrolment, left_on=moved_on, by=by)
    return enrol(
        student=enrolment.student, class_group=class_group, term=enrolment.term, joined_on=moved_on, by=by
    )


@transaction.atomic
def return_to_class(*, enrolment: Enrolment, by: User) -> None:
    """Takes a leaving back; refused where the student was put into the class again meanwhile."""
    again = Enrolment.objects.filter(
        student=enrolment.student, class_group=enrolment.class_group, term=enrolment.term, left_on__isnull=True
    )
    if again.exclude(pk=enrolment.pk).exists():
        raise Refused(_("%(name)s is in the class already.") % {"name": enrolment.student})
    enrolment.left_on = None
    enrolment.save(update_fields=["left_on"])
    Deed.note(enrolment, Deed.RETURNED, by)


@transaction.atomic
def carry_over(*, term: Term, before: Term, by: User) -> int:
    """Enrols everyone who was in a class at the end of the term before into the same class of this one."""
    Term.objects.select_for_update(no_key=True).get(pk=term.pk)
    here = set(Enrolment.objects.filter(term=term).values_list("student_id", "class_group_id"))
    there = Enrolment.objects.filter(term=before).on(before.ends_on)
    new = [
        Enrolment(
            student_id=s, class_group_id=c, term=term, joined_on=term.starts_on, line_position=place, enrolled_by=by
        )
        for s, c, place in there.values_list("student_id", "class_group_id", "line_position")
        if (s, c) not in here
    ]
    Enrolment.objects.bulk_create(new)
    return len(new)


@transaction.atomic
def set_barre_order(*, enrolments: Sequence[Enrolment], by: User) -> None:
    """The class's line at the barre, in this order, from now on."""
    for place, enrolment in enumerate(enrolments):
        enrolment.line_position = place
    Enrolment.objects.bulk_update(enrolments, ["line_position"])
    if enrolments:
        Deed.note(enrolments[0].class_group, Deed.CHANGED, by)


@transaction.atomic
def set_group_size(*, class_group: ClassGroup, size: int, by: User) -> None:
    class_group.group_size = size
    class_group.save(update_fields=["group_size"])
    Deed.note(class_group, Deed.CHANGED, by)


@transaction.atomic
def save_guardian(*, guardian: Guardian, student: Student, by: User) -> Guardian:
    """Keeps a guardian of a student; a new one whom another child has under the same name and address is that very
    one, so that siblings share a card. Gives the guardian that is kept."""
    if guardian.pk is None and guardian.email:
        there = Guardian.objects.filter(name__iexact=guardian.name, email__iexact=guardian.email).first()
        if there is not None:
            there.phone = there.phone or guardian.phone
            there.language_code = there.language_code or guardian.language_code
            guardian = there
    guardian.save()
    guardian.students.add(student)
    Deed.note(guardian, Deed.CHANGED, by)
    return guardian


@transaction.atomic
def keep_draft(*, kind: str, filename: str, content: bytes, answers: dict, by: User) -> ImportDraft:
    """Keeps an uploaded file until its preview is confirmed; older ones of a day ago are thrown away."""
    old = ImportDraft.objects.filter(brought_at__lt=timezone.now() - dt.timedelta(days=1))
    # What is being written goes with its last step.
    old.filter(kept=None).delete()
    return ImportDraft.objects.create(kind=kind, filename=filename[:200], content=content, answers=answers, by=by)


@transaction.atomic
def import_roster(
    *, plan: Sequence[PlannedRow], term: Term, by: User | None, leaving: Collection[KnownStudent] = (),
) -> dict[str, Any]:
    """Writes a plan's additions and changes, all or nothing; refused rows are left out. leaving: students who leave
    their classes of this term.

    Gives what was written, for `KeptImport.written`: "classes", "students", "enrolments", "stages" and "guardians" that
    were made, "joined" (guardian, student), and "changed" as (table, key, field, value before, value now).
    """
    stages = {stage.key: stage for stage in Stage.objects.all()}
    written: dict[str, Any] = {name: [] for name in WRITTEN}
    classes = _classes_of(plan, written)
    for planned in plan:
        if planned.outcome not in ("add", "change"):
            continue
        if planned.student_pk is None:
            student = Student(name=planned.row.name, added_by=by)
        else:
            student = Student.objects.select_for_update(no_key=True).get(pk=planned.student_pk)
        _write_row(student, planned, stages, written)
        note = note_stage(student=student, on=timezone.localdate(), by=by)
        written["stages"] += [note.pk] if note else []
        for guardian in planned.guardians:
            _write_guardian(student, guardian, written)
        _write_class(student, planned, classes[planned.class_name], term, by, written)
    for student in leaving:
        for enrolment in Enrolment.objects.filter(student=student.pk, term=term, left_on=None):
            _end(enrolment, by, written)
    return written


def _classes_of(plan: Sequence[PlannedRow], written: dict[str, Any]) -> dict[str, ClassGroup]:
    """Every class by its name; those that the plan names and that are not here are made."""
    classes = {group.name: group for group in ClassGroup.objects.all()}
    for name in sorted({row.class_name for row in plan if row.outcome in ("add", "change")} - classes.keys()):
        classes[name] = ClassGroup.objects.create(name=name)
        written["classes"].append(classes[name].pk)
    return classes


def _write_class(
    student: Student, planned: PlannedRow, group: ClassGroup, term: Term, by: User | None, written: dict[str, Any]
) -> None:
    """Enrols the student; whoever moves up is in the new class from the term's first day, or from today."""
    there = set(student.enrolments.values_list("pk", flat=True))
    joined_on = term.starts_on
    for enrolment in student.enrolments.filter(term=term, left_on=None, class_group__name__in=planned.out_of):
        joined_on = max(joined_on, _end(enrolment, by, written))
    made = enrol(student=student, class_group=group, term=term, joined_on=joined_on, by=by)
    written["enrolments"] += [made.pk] if made.pk not in there else []


def _end(enrolment: Enrolment, by: User | None, written: dict[str, Any]) -> dt.date:
    """Ends an enrolment today, or, where it has not begun, on its first day; gives the day."""
    leave_class(enrolment=enrolment, left_on=timezone.localdate(), by=by)
    left_on = enrolment.left_on
    written["changed"].append(["enrolment", enrolment.pk, "left_on", None, plain(left_on)])
    return left_on


WRITTEN = ("classes", "students", "enrolments", "stages", "guardians", "joined", "changed")


def plain(value: object) -> object:
    """A field's value as JSON keeps it."""
    return value.isoformat() if isinstance(value, dt.date) else value


def _write_row(student: Student, planned: PlannedRow, stages: dict[str, Stage], written: dict[str, Any]) -> None:
    names = [f"{field}_id" if field == "stage" else field for field in FIELDS]
    before = {name: plain(getattr(student, name)) for name in names}
    for field in FIELDS:
        value = getattr(planned.row, field)
        if value not in (None, ""):
            setattr(student, field, stages[value] if field == "stage" else value)
    is_new = student.pk is None
    student.save()
    if is_new:
        written["students"].append(student.pk)
        return
    now = {name: plain(getattr(student, name)) for name in names}
    written["changed"] += [["student", student.pk, n, before[n], now[n]] for n in names if before[n] != now[n]]


def _write_guardian(student: Student, wanted: KnownGuardian, written: dict[str, Any]) -> None:
    """Writes a guardian; a new one whom another child has under the same name and address is that very one."""
    new = {"name": wanted.name, "email": wanted.email, "phone": wanted.phone}
    if wanted.pk:
        there = Guardian.objects.get(pk=wanted.pk)
    else:
        there = Guardian.objects.filter(name__iexact=wanted.name, email__iexact=wanted.email).first()
        if there is None or not wanted.email:
            there = Guardian.objects.create(**new)
            written["guardians"].append(there.pk)
        if not there.students.filter(pk=student.pk).exists():
            there.students.add(student)
            written["joined"].append([there.pk, student.pk])
        new = {"phone": there.phone or wanted.phone}
    changed = [["guardian", there.pk, n, getattr(there, n), new[n]] for n in new if getattr(there, n) != new[n]]
    Guardian.objects.filter(pk=there.pk).update(**new)
    written["changed"] += changed


@transaction.atomic
def keep_import(
    *, kind: str, filename: str, check: FileCheck, class_group: ClassGroup, term: Term | None, by: User | None,
    written: dict[str, Any],
) -> KeptImport:
    """Keeps what became of a file: the counts, what was written, and each row that was not taken with the reason.

    The rows themselves are kept for a year; then they have been mended or are no longer wanted.
    """
    old = KeptImport.objects.filter(at__lt=timezone.now() - LEFT_OUT_KEPT).exclude(left_out=[], written={})
    old.update(headings=[], left_out=[], written={})
    cells = {row.number: list(row.cells) for row in check.sheet.rows}
    return KeptImport.objects.create(
        kind=kind, filename=filename[:200], class_group=class_group, term=term, by=by, counts=check.counts,
        headings=list(check.sheet.headings), written=written,
        left_out=[
            {"row": row.number, "cells": cells.get(row.number, []), "why": " ".join(row.reasons)}
            for row in check.left_out
        ],
    )
