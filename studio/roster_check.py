"""Reads a brought-in roster file against the studio: the columns, the dates, and what every row would change."""
import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext

from studio import roster_file
from studio.models import ClassGroup, Enrolment, Stage, Student, Term
from studio.roster_plan import KnownGuardian, KnownStudent, PlannedRow, digest, plan_roster
from studio.sheet_file import Sheet, UnreadableFile, read_sheet

OUTCOMES = ("add", "change", "same", "refuse")


@dataclass(frozen=True)
class RosterCheck:
    """What the preview shows.

    `order_found` is what the dates alone say; `order` is what is used, "" while it is asked.
    """

    sheet: Sheet
    columns: dict[int, str]
    order_found: str
    order: str
    problems: tuple[str, ...]
    questions: tuple[str, ...]
    plan: tuple[PlannedRow, ...]

    @property
    def counts(self) -> dict[str, int]:
        return {outcome: sum(row.outcome == outcome for row in self.plan) for outcome in OUTCOMES}

    @property
    def digest(self) -> str:
        return digest(self.plan)

    @property
    def asks_order(self) -> bool:
        """True while nobody has said whether the day or the month comes first; until then nothing is written."""
        return self.order_found in ("ambiguous", "mixed") and not self.order

    @property
    def may_confirm(self) -> bool:
        return not self.problems and not self.asks_order and bool(self.counts["add"] or self.counts["change"])


def open_roster(content: bytes, filename: str) -> Sheet:
    """The file as a table; UnreadableFile with a sentence where it is none."""
    return read_sheet(content, filename, heading_score=roster_file.heading_score)


def guessed_columns(sheet: Sheet) -> dict[int, str]:
    return {index: name for index, name in roster_file.guess_columns(sheet.headings).items() if name}


def dates_order(sheet: Sheet, columns: Mapping[int, str]) -> str:
    texts = [
        row.cells[index] for index, name in columns.items() if name == "birth_on"
        for row in sheet.rows if index < len(row.cells)
    ]
    return roster_file.date_order(texts)


def check_roster(
    sheet: Sheet, *, columns: Mapping[int, str], order: str, class_group: ClassGroup, term: Term, today: dt.date
) -> RosterCheck:
    """Every row read and compared with the students there are.

    order: "day_first" or "month_first" as a person answered, "" where nobody was asked; it matters only where
    the dates themselves leave it open.
    """
    found = dates_order(sheet, columns)
    used = order if found in ("ambiguous", "mixed") else found
    stages = {str(stage): stage.key for stage in Stage.objects.all()}
    reading = roster_file.read_roster(
        sheet, columns, date_order=used or "ambiguous", stages=stages, today=today, gettext=gettext
    )
    plan = plan_roster(
        reading.rows, known_students(term), class_name=class_group.name,
        class_names=list(ClassGroup.objects.values_list("name", flat=True)), gettext=gettext,
    )
    return RosterCheck(
        sheet=sheet, columns=dict(columns), order_found=found, order=used,
        problems=tuple(problem.message for problem in reading.problems if problem.row_number is None),
        questions=tuple(question.message for question in reading.questions), plan=plan,
    )


def known_students(term: Term) -> list[KnownStudent]:
    classes: dict[int, set[str]] = {}
    rows = Enrolment.objects.filter(term=term, left_on__isnull=True).values_list("student_id", "class_group__name")
    for student_id, name in rows:
        classes.setdefault(student_id, set()).add(name)
    students = Student.objects.select_related("stage").prefetch_related("guardians")
    return [
        KnownStudent(
            pk=s.pk, name=s.name, called=s.called, birth_on=s.birth_on, stage=s.stage.key if s.stage else "",
            training_since_year=s.training_since_year, classes_per_week=s.classes_per_week,
            dominant_foot=s.dominant_foot,
            guardians=tuple(KnownGuardian(g.name, g.email, g.phone) for g in s.guardians.all()),
            classes=frozenset(classes.get(s.pk, ())),
        )
        for s in students
    ]


def check_draft(draft: Any, *, today: dt.date) -> tuple[RosterCheck, ClassGroup, Term]:
    """The check of a kept draft with the answers given so far."""
    answers = draft.answers
    class_group = ClassGroup.objects.get(pk=answers["class_group"])
    term = Term.objects.get(pk=answers["term"])
    sheet = open_roster(bytes(draft.content), draft.filename)
    columns = {int(index): name for index, name in answers["columns"].items()}
    check = check_roster(
        sheet, columns=columns, order=answers.get("order", ""), class_group=class_group, term=term, today=today
    )
    return check, class_group, term


__all__ = ["RosterCheck", "UnreadableFile", "check_draft", "check_roster", "guessed_columns", "open_roster"]
