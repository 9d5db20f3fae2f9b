"""Reads what one teacher hands to the next about a student: the record of the term, doses, faults, what was agreed."""
import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from progress.models import Decision, HandoverText
from progress.queries.classwork.student_work import student_work
from progress.queries.growth import gentle_note, growth_of, pace_words
from progress.queries.on_record import seen_again
from progress.queries.papers.record import StudentRecord
from progress.queries.papers.term_report import student_record
from progress.queries.pointe_weeks import latest_steps
from progress.queries.reviews import asked_words
from studio.family.queries import agreed_scopes
from studio.models import ClassGroup, Consent, Student, Studio, Term
from studio.templatetags.wording import full_day, write_number


@dataclass(frozen=True)
class Handover:
    """One page. `about`: age, stage and height in words; `works`: exercises with their doses; `agreed`: what was
    decided with the family; `own`: the teacher's words in paragraphs, by whom and when."""

    student: Student
    record: StudentRecord
    about: tuple[str, ...]
    works: tuple[str, ...]
    faults: tuple[str, ...]
    agreed: tuple[str, ...]
    own: tuple[str, ...]
    by: str

    @property
    def is_told(self) -> bool:
        return self.record.tells_measures


def handover(
    student: Student, term: Term, class_group: ClassGroup | None, *, studio: Studio, classes: QuerySet[ClassGroup],
    today: dt.date, now: dt.datetime,
) -> Handover:
    """The page as far as the family agrees; without consent to measurements only the name and what hurts.

    `classes`: those the reader reaches; `class_group`: the one whose programme is told.
    """
    agreed = agreed_scopes(student, now)
    record = student_record(student, term, studio=studio, classes=classes, now=now)
    if Consent.MEASUREMENTS not in agreed:
        return Handover(student, record, (), (), (), (), (), "")
    text = texts_of(student, term).first()
    return Handover(
        student=student, record=record, about=_about(student, today),
        works=_works(student, class_group, term, today=today, now=now),
        faults=tuple(f"{fact.words} {fact.soft}".strip() for fact in seen_again(student, today)),
        agreed=_agreed(student),
        own=tuple(line.strip() for line in text.text.splitlines() if line.strip()) if text else (),
        by=f"{text.written_by.name}, {full_day(text.written_at)}" if text and text.text else "",
    )


def texts_of(student: Student, term: Term) -> QuerySet[HandoverText]:
    """Every version of the teacher's words, the newest first."""
    return HandoverText.objects.filter(student=student, term=term).select_related("written_by")


def _about(student: Student, today: dt.date) -> tuple[str, ...]:
    told, age = [], student.age_on(today)
    if age is not None:
        told.append(_("%(n)s years old.") % {"n": age})
    if student.stage is not None:
        told.append(_("Stage: %(stage)s") % {"stage": student.stage} + ".")
    grown, last = growth_of(student, as_of=today), student.heights.saying().last()
    if grown is not None:
        told += [pace_words(grown), gentle_note(grown)]
    elif last is not None:
        told.append(_("Height %(cm)s cm on %(day)s.") % {
            "cm": write_number(last.height_cm, 1), "day": full_day(last.measured_on)})
    return tuple(filter(None, told))


def _works(
    student: Student, class_group: ClassGroup | None, term: Term, *, today: dt.date, now: dt.datetime
) -> tuple[str, ...]:
    """Exercises by their words: those with the same words share a line; what is the student's own says so."""
    work = student_work(student, class_group, term, today=today, now=now)
    by_words: dict[str, list[str]] = defaultdict(list)
    for each in work.work:
        words = _("%(dose)s (this student’s own)") % {"dose": each.dose} if each.differs else each.dose
        by_words[words].append(str(each.version))
    return tuple(f"{', '.join(names)}: {words}" for words, names in by_words.items())


def _agreed(student: Student) -> tuple[str, ...]:
    """What was decided last with the family, from when, how, when people look again; and the step on pointe."""
    made = Decision.objects.filter(review__student=student).select_related("by").last()
    step = latest_steps([student.pk]).get(student.pk)
    on_step = _("On this step since %(day)s: %(words)s, %(n)s minutes.") % {
        "day": full_day(step.on), "words": _(step.words), "n": step.minutes} if step else ""
    if made is None:
        return (on_step,) if on_step else ()
    head = _("Decided on %(day)s (%(who)s):") % {"day": full_day(made.decided_on), "who": asked_words(made)}
    return tuple(filter(None, (
        f"{head} {made.decided}",
        _("From %(day)s.") % {"day": full_day(made.from_on)} if made.from_on else "",
        _("Conditions: %(what)s") % {"what": made.conditions} if made.conditions else "",
        _("Look again on %(day)s.") % {"day": full_day(made.look_again_on)} if made.look_again_on else "", on_step,
    )))


def class_handover(
    class_group: ClassGroup, term: Term, students: Iterable[Student], *, studio: Studio, today: dt.date,
    now: dt.datetime,
) -> list[Handover]:
    """The pages of a whole class, in the order of the students."""
    classes = ClassGroup.objects.filter(pk=class_group.pk)
    return [
        handover(student, term, class_group, studio=studio, classes=classes, today=today, now=now)
        for student in students
    ]
