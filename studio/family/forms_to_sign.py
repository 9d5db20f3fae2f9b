"""Reads for whom a class's consent forms are, and in which language each is to be read; changes nothing."""
import datetime as dt
from collections.abc import Iterable

from studio.models import ClassGroup, Guardian, Student, Studio, Term
from studio.queries import roster


def forms_to_sign(
    class_group: ClassGroup, term: Term | None, *, studio: Studio, today: dt.date, only: str = "", language: str = ""
) -> list[tuple[Student, str]]:
    """(student, language) for each student of the class; `only`: of the one with this key. `language`: for all."""
    enrolments = roster(class_group, term, today).prefetch_related("student__guardians")
    students = [enrolment.student for enrolment in enrolments if only in ("", str(enrolment.student_id))]
    return [(student, language_of(student.guardians.all(), studio, language)) for student in students]


def language_of(guardians: Iterable[Guardian], studio: Studio, asked: str = "") -> str:
    """The one that was asked for, where it is known; else the first one a guardian chose, else the studio's."""
    known = dict(Guardian._meta.get_field("language_code").choices)
    if asked in known:
        return asked
    return next((guardian.language_code for guardian in guardians if guardian.language_code), studio.language_code)
