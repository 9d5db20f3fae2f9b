"""Searches the audit by student, person and day, and puts names to its numbers as far as there still are any."""
import datetime as dt
from dataclasses import dataclass

from django.db.models import Q, QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from studio.audit.models import AuditRow
from studio.audit.page_words import page_words
from studio.entrance.keys import Tablet
from studio.models import ClassGroup, Enrolment, Guardian, Student, User

PAGE_ROWS = 50
# A name that more students share than this is not yet a question.
MOST_STUDENTS = 20


def refusals(role: str, person_key: int | None, *, since: dt.datetime) -> int:
    """How often this person, or all whom nobody knows, were refused since then, as far as it is written."""
    # Who is compared here, so that the index over time answers it however much a person did before.
    recent = AuditRow.objects.filter(at__gt=since, outcome=AuditRow.REFUSED).values_list("role", "person_key")
    return sum(who == (role, person_key) for who in recent)


@dataclass(frozen=True)
class AuditLine:
    """A row in words. `about`: the student, the class, or nobody in particular."""

    row: AuditRow
    who: str
    page: str
    about: str
    device: str


@dataclass(frozen=True)
class AuditPage:
    """`older`: the row after which the next page begins; None on the last one."""

    lines: tuple[AuditLine, ...]
    older: int | None


def audit_page(
    *, student: str = "", person: str = "", day: dt.date | None = None, older_than: int | None = None
) -> AuditPage:
    """The newest rows first. student: part of a name, or a number; person: "user-7", "guardian-3" or a role."""
    rows = AuditRow.objects.all()
    if student:
        rows = rows.filter(_about(student))
    if person:
        rows = rows.filter(_by(person))
    if day:
        start = timezone.make_aware(dt.datetime.combine(day, dt.time.min))
        rows = rows.filter(at__gte=start, at__lt=timezone.make_aware(dt.datetime.combine(day, dt.time.max)))
    if older_than:
        rows = rows.filter(pk__lt=older_than)
    found = list(rows[: PAGE_ROWS + 1])
    shown = found[:PAGE_ROWS]
    return AuditPage(tuple(in_words(shown)), shown[-1].pk if len(found) > PAGE_ROWS else None)


def rows_about(keys: list[int]) -> Q:
    """Rows about these students, about a class while they were in it, and copies of the whole studio."""
    about = Q(student_key__in=keys)
    for enrolment in Enrolment.objects.filter(student__in=keys).select_related("term"):
        last = enrolment.left_on or enrolment.term.ends_on
        about |= Q(class_key=enrolment.class_group_id, at__date__gte=enrolment.joined_on, at__date__lte=last)
    return about | Q(student_key=None, class_key=None, outcome=AuditRow.EXPORTED)


def _about(asked: str) -> Q:
    if asked.isdecimal() and len(asked) < 19:
        return rows_about([int(asked)])
    named = Student.objects.filter(Q(name__icontains=asked) | Q(called__icontains=asked))
    keys = list(named.values_list("pk", flat=True)[:MOST_STUDENTS])
    return rows_about(keys) if keys else Q(pk=None)


def _by(asked: str) -> Q:
    kind, _dash, key = asked.partition("-")
    number = int(key) if key.isdecimal() and len(key) < 19 else None
    if kind == "user":
        return Q(role__in=[AuditRow.OWNER, AuditRow.TEACHER, AuditRow.STUDIO, AuditRow.NOBODY], person_key=number or 0)
    return Q(role=kind) if number is None else Q(role=kind, person_key=number)


def people() -> list[tuple[str, str]]:
    """Whom one may ask about."""
    users = [(f"user-{user.pk}", user.name) for user in User.objects.order_by("name")]
    return [*users, (AuditRow.GUARDIAN, _("guardians")), (AuditRow.NOBODY, _("unknown"))]


def in_words(rows: list[AuditRow]) -> list[AuditLine]:
    """Each row with the names that there still are."""
    staff = [row.person_key for row in rows if row.role != AuditRow.GUARDIAN]
    users, guardians = _named(User, staff), _named(Guardian, [r.person_key for r in rows if r.person_key not in staff])
    students = _named(Student, [row.student_key for row in rows])
    classes, tablets = (
        _named(model, [getattr(row, name) for row in rows])
        for model, name in ((ClassGroup, "class_key"), (Tablet, "tablet_key"))
    )
    return [
        AuditLine(
            row, _who(row, guardians if row.role == AuditRow.GUARDIAN else users), page_words(row.page),
            _known(students, row.student_key) or _known(classes, row.class_key),
            _known(tablets, row.tablet_key) or row.browser,
        )
        for row in rows
    ]


def _named(model, keys) -> dict[int, str]:
    rows: QuerySet = model.objects.filter(pk__in={key for key in keys if key is not None})
    return {row.pk: row.name for row in rows}


def _known(names: dict[int, str], key: int | None) -> str:
    """The name; the bare number where nobody has it any more."""
    return "" if key is None else names.get(key) or _("number %(n)s") % {"n": key}


def _who(row: AuditRow, names: dict[int, str]) -> str:
    known = _known(names, row.person_key)
    if known and row.role == AuditRow.NOBODY:
        return _("somebody who tried to be %(name)s") % {"name": known}
    return known or str(row.get_role_display())
