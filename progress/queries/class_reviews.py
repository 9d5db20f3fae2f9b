"""Reads how the pointe reviews of a class stand: who was reviewed and when, what waits, and what was not measured.

Students stand by name. Nothing about one is set against another, and what is missing is missing on record only.
"""
import datetime as dt
from collections import defaultdict
from dataclasses import dataclass

from django.db.models import Prefetch
from django.utils.translation import gettext as _

from progress.models import Decision, Review
from progress.queries.judged import counted
from screening.models import Measure, Result
from studio.family.queries import consented
from studio.models import ClassGroup, Consent, Student, Term
from studio.queries import roster


@dataclass(frozen=True)
class ReviewedRow:
    """One student. `review`: the latest, None where there was none; `decision`: the one in force of that review.

    missing: what others were measured in this term and this student was not, in words; not `agreed`: nobody agreed,
    so nothing is told.
    """

    student: Student
    agreed: bool
    review: Review | None
    decision: Decision | None
    missing: tuple[str, ...]


@dataclass(frozen=True)
class ToMeasure:
    """One measure and who has no result of it this term; `everybody`: nobody has one."""

    measure: Measure
    students: tuple[Student, ...]
    everybody: bool


@dataclass(frozen=True)
class ClassReviews:
    rows: tuple[ReviewedRow, ...]
    to_measure: tuple[ToMeasure, ...]


def class_reviews(class_group: ClassGroup, term: Term | None, *, today: dt.date, now: dt.datetime) -> ClassReviews:
    """The class as it is enrolled today, in a fixed number of questions."""
    students = [enrolment.student for enrolment in roster(class_group, term, today)]
    agreed = consented([student.pk for student in students], Consent.MEASUREMENTS, now)
    latest = _latest(agreed)
    done, asked = _measured(agreed, term), [student for student in students if student.pk in agreed]
    lacking = [(m, tuple(each for each in asked if m.pk not in done[each.pk])) for m in Measure.objects.all()]
    to_measure = tuple(ToMeasure(m, who, len(who) == len(asked)) for m, who in lacking if who)
    rows = tuple(
        ReviewedRow(
            student, student.pk in agreed, latest.get(student.pk), _decision(latest.get(student.pk)),
            tuple(_(e.measure.short_name) for e in to_measure if not e.everybody and student in e.students),
        )
        for student in students
    )
    return ClassReviews(rows, to_measure)


def _latest(ids: set[int]) -> dict[int, Review]:
    """A student's latest review by the student's key."""
    decisions = Prefetch("decisions", Decision.objects.select_related("by"))
    found = Review.objects.filter(student__in=ids).order_by("opened_on", "pk")
    return {row.student_id: row for row in found.select_related("opened_by").prefetch_related(decisions)}


def _decision(review: Review | None) -> Decision | None:
    decisions = list(review.decisions.all()) if review else []
    return decisions[-1] if decisions else None


def _measured(ids: set[int], term: Term | None) -> dict[int, set[int]]:
    """The keys of the measures that a student has a result of in the term, by the student's key."""
    done: dict[int, set[int]] = defaultdict(set)
    if term is not None:
        rows = counted(Result.objects.in_force()).filter(
            student__in=ids, value__isnull=False, taken_on__gte=term.starts_on, taken_on__lte=term.ends_on
        )
        for student, measure in rows.order_by().values_list("student", "measure").distinct():
            done[student].add(measure)
    return done
