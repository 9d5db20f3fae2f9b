"""Reads a brought-in roster file against the studio: the columns, the dates, and what every row would change."""
import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext

from studio import roster_file
from studio.file_check import FileCheck, order_of_dates
from studio.models import ClassGroup, Enrolment, Stage, Student, Term
from studio.roster_plan import (
    IS,
    LEAVE,
    KnownGuardian,
    KnownStudent,
    PlannedRow,
    fingerprint,
    fold,
    plan_roster,
)
from studio.sheet_file import Sheet, read_sheet
from studio.templatetags.wording import full_day


@dataclass(frozen=True)
class RosterCheck(FileCheck):
    """The preview of a roster; `plan`: PlannedRow of every row.

    new_classes: what the list calls classes that are not here; makes_classes: they are made with it.
    second_class: what holds for every student who stands in another class of the term, MOVE, BOTH or "" (each row
    asks). absent: the students of the list's classes in this term whom no row means; absent_leave: they leave them.
    """

    new_classes: tuple[str, ...] = ()
    makes_classes: bool = False
    second_class: str = ""
    absent: tuple[KnownStudent, ...] = ()
    absent_leave: bool = False

    @property
    def digest(self) -> str:
        return fingerprint(self.plan, self.makes_classes, *(student.pk for student in self.leaving))

    @property
    def leaving(self) -> tuple[KnownStudent, ...]:
        return self.absent if self.absent_leave else ()

    @property
    def asks_class(self) -> int:
        """How many rows ask whether a student moves or stands in two classes."""
        return sum(row.asks_class for row in self.plan)

    @property
    def moving(self) -> int:
        return sum(bool(row.out_of) for row in self.plan)

    @property
    def staying(self) -> int:
        """Known students of whom the class stays what it is."""
        known = [row for row in self.plan if row.student_pk and row.outcome in ("change", "same")]
        return sum(not any(each.field == "class" for each in row.differences) for row in known)

    @property
    def has_second_class(self) -> bool:
        return bool(self.asks_class or self.second_class)

    @property
    def may_confirm(self) -> bool:
        return super().may_confirm or (self.may_answer and bool(self.leaving))


def open_roster(content: bytes, filename: str, wanted: str = "") -> Sheet:
    """The file as a table, of the sheets that are wanted; UnreadableFile with a sentence where it is none."""
    return read_sheet(content, filename, heading_score=roster_file.heading_score, wanted=wanted)


def guessed_columns(sheet: Sheet) -> dict[int, str]:
    """What each column is taken for; sheets that are called like classes say each row's class."""
    found = {index: name for index, name in roster_file.guess_columns(sheet.headings).items() if name}
    return found | named_by_classes(sheet, found)


def named_by_classes(sheet: Sheet, found: Mapping[int, str]) -> dict[int, str]:
    """The column of sheets' names as the class, where every one of them is a class here and no column says it."""
    if sheet.name_column is None or "class_name" in found.values():
        return {}
    classes = {fold(name) for name in ClassGroup.objects.values_list("name", flat=True)}
    return {sheet.name_column: "class_name"} if {fold(name) for name in sheet.taken_names} <= classes else {}


def check_roster(
    sheet: Sheet, *, columns: Mapping[int, str], order: str, class_group: ClassGroup, term: Term, today: dt.date,
    answers: Mapping[int, str] | None = None, second_class: str = "", absent_leave: bool = False,
    makes_classes: bool = False,
) -> RosterCheck:
    """Every row read and compared with the students there are.

    order: "day_first" or "month_first" as a person answered, "" where nobody was asked; it matters only where
    the dates themselves leave it open. answers, second_class: what a person said of single rows and of all that ask
    for a class, as `plan_roster` takes it; absent_leave: that whoever the list does not name leaves its classes;
    makes_classes: that classes of the list that are not here are made.
    """
    found, used = order_of_dates(sheet, columns, roster_file.DATE_FIELDS, order)
    stages = {str(stage): stage.key for stage in Stage.objects.all()}
    class_names = list(ClassGroup.objects.values_list("name", flat=True))
    reading = roster_file.read_roster(
        sheet, columns, date_order=used or "ambiguous", stages=stages, today=today, class_names=class_names,
        gettext=gettext,
    )
    new_classes = _new_classes(reading.rows, class_names)
    if makes_classes:
        class_names += new_classes
    known = known_students(term)
    plan = plan_roster(
        reading.rows, known, class_name=class_group.name, class_names=class_names, answers=answers,
        second_class=second_class, gettext=gettext, write_day=full_day,
    )
    return RosterCheck(
        sheet=sheet, columns=dict(columns), order_found=found, order=used,
        problems=tuple(problem for problem in reading.problems if problem.row_number is None),
        questions=tuple(question.message for question in reading.questions), plan=plan,
        new_classes=new_classes, makes_classes=makes_classes and bool(new_classes), second_class=second_class,
        absent=_absent(plan, known), absent_leave=absent_leave,
    )


def _new_classes(rows: Iterable[roster_file.RosterRow], class_names: Iterable[str]) -> tuple[str, ...]:
    """The classes that rows name and that are not here, as they are written first."""
    there = {fold(name) for name in class_names}
    named = {fold(row.class_name): row.class_name for row in reversed(list(rows)) if row.class_name and not row.no_row}
    longest = ClassGroup._meta.get_field("name").max_length
    return tuple(sorted(name for key, name in named.items() if key not in there and len(name) <= longest))


def _absent(plan: Iterable[PlannedRow], known: Iterable[KnownStudent]) -> tuple[KnownStudent, ...]:
    """The students of this term in the classes that the list fills, whom no row means or could mean, by name."""
    plan = list(plan)
    classes = {row.class_name for row in plan if row.outcome in ("add", "change", "same") or row.asks_class}
    meant = {row.student_pk for row in plan}
    could_be = {choice.key for row in plan for choice in row.choices}
    named = {fold(row.name) for row in plan}
    return tuple(sorted(
        (each for each in known
         if each.classes & classes and each.pk not in meant and f"{IS}{each.pk}" not in could_be
         and fold(each.name) not in named),
        key=lambda each: (sorted(each.classes), each.name),
    ))


def known_students(term: Term) -> list[KnownStudent]:
    classes: dict[int, set[str]] = {}
    rows = Enrolment.objects.filter(term=term, left_on__isnull=True).values_list("student_id", "class_group__name")
    for student_id, name in rows:
        classes.setdefault(student_id, set()).add(name)
    students = Student.objects.filter(is_nameless=False).select_related("stage").prefetch_related("guardians")
    return [
        KnownStudent(
            pk=s.pk, name=s.name, called=s.called, birth_on=s.birth_on, stage=s.stage.key if s.stage else "",
            training_since_year=s.training_since_year, classes_per_week=s.classes_per_week,
            dominant_foot=s.dominant_foot,
            guardians=tuple(KnownGuardian(g.name, g.email, g.phone, g.pk) for g in s.guardians.all()),
            classes=frozenset(classes.get(s.pk, ())),
        )
        for s in students
    ]


def check_draft(draft: Any, *, today: dt.date) -> tuple[RosterCheck, ClassGroup, Term]:
    """The check of a kept draft with the answers given so far."""
    answers = draft.answers
    class_group = ClassGroup.objects.get(pk=answers["class_group"])
    term = Term.objects.get(pk=answers["term"])
    sheet = open_roster(bytes(draft.content), draft.filename, answers.get("sheet", ""))
    columns = {int(index): name for index, name in answers["columns"].items()}
    check = check_roster(
        sheet, columns=columns, order=answers.get("order", ""), class_group=class_group, term=term, today=today,
        answers={int(number): said for number, said in answers.get("rows", {}).items()},
        second_class=answers.get("second_class", ""), absent_leave=answers.get("absent") == LEAVE,
        makes_classes=answers.get("makes_classes", False),
    )
    return check, class_group, term
