"""Reads of the house: terms, classes of a day, rosters; changes nothing."""
import datetime as dt
import zoneinfo
from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Case, Count, Exists, F, OuterRef, Prefetch, Q, QuerySet, Subquery, Value, When
from django.utils import timezone
from django.utils.translation import gettext as _

from studio.models import ClassGroup, ClassMeeting, Deed, Enrolment, Student, Studio, Term, User


def term_on(day: dt.date) -> Term | None:
    """The term of that day; between terms the last one that began, before the first the next to come."""
    return (
        Term.objects.prefetch_related("holidays").filter(starts_on__lte=day).order_by("-starts_on").first()
        or Term.objects.prefetch_related("holidays").order_by("starts_on").first()
    )


def term_asked_for(key: int | None, *, today: dt.date) -> Term | None:
    """The term with this key; without one the term of today."""
    chosen = Term.objects.prefetch_related("holidays").filter(pk=key).first() if key is not None else None
    return chosen or term_on(today)


def coming_terms(class_group: ClassGroup, *, today: dt.date) -> QuerySet[Term]:
    """The terms that have not begun and in which somebody is in the class already, the next one first."""
    enrolled = class_group.enrolments.filter(left_on__isnull=True, term__starts_on__gt=today)
    return Term.objects.filter(pk__in=enrolled.values("term")).order_by("starts_on")


def studio_day(now: dt.datetime) -> dt.date:
    """Today where the studio is, for commands; pages have it on the request."""
    return timezone.localdate(now, timezone=zoneinfo.ZoneInfo(Studio.current().time_zone))


def roster(class_group: ClassGroup, term: Term | None, day: dt.date) -> QuerySet[Enrolment]:
    """Enrolments of the class on that day, by name; outside the term's days, on its nearest day."""
    if term is None:
        return Enrolment.objects.none()
    day = min(max(day, term.starts_on), term.ends_on)
    return (
        class_group.enrolments.filter(term=term)
        .on(day)
        .select_related("student", "student__stage")
        .order_by("student__name", "student__pk")
    )


def leavings(
    class_group: ClassGroup, term: Term | None, day: dt.date, *, by: User | None = None
) -> QuerySet[Enrolment]:
    """Who left the class in this term until that day; `by`: only those whose leaving this person wrote down last.

    Whom the owner took out of a class is no longer its teacher's to see, and not hers to take back.
    """
    left = class_group.enrolments.filter(term=term, left_on__lte=day).select_related("student")
    if by is None:
        return left
    deeds = Deed.objects.filter(table=Enrolment._meta.label_lower, row_key=OuterRef("pk"), what=Deed.LEFT)
    return left.annotate(left_by=Subquery(deeds.order_by("-pk").values("by")[:1])).filter(left_by=by.pk)


def barre_order(class_group: ClassGroup, term: Term | None, day: dt.date) -> list[Enrolment]:
    """Enrolments of the class on that day in the order in which they stand at the barre."""
    enrolments = roster(class_group, term, day)
    return list(enrolments.order_by(F("line_position").asc(nulls_last=True), "student__name", "student__pk"))


def groups_of(count: int, size: int) -> list[int]:
    """How many stand in each group: as few groups as `size` allows, as even as can be, larger ones first.

    >>> groups_of(16, 6), groups_of(5, 8), groups_of(0, 5)
    ([6, 5, 5], [5], [])
    """
    groups = -(-count // size)
    return [count // groups + (at < count % groups) for at in range(groups)]


def barre_names(students: Iterable[Student]) -> dict[int, str]:
    """Student id to the short name the barre uses. What two of one name are told apart by is added to both: the first
    letter of the surname, then the year of birth, then the whole surname in its place."""
    students = list(students)
    names = {student.pk: student.first_name for student in students}
    for more in (_with_letter, _with_year, _in_full):
        twice = Counter(names.values())
        names |= {s.pk: more(s, names[s.pk]) for s in students if twice[names[s.pk]] > 1}
    return names


def _with_letter(student: Student, name: str) -> str:
    rest = student.name.removeprefix(student.name.split(" ")[0]).strip()
    return f"{name} {rest[0]}." if rest else name


def _with_year(student: Student, name: str) -> str:
    return f"{name} {student.birth_on.year}" if student.birth_on else name


def _in_full(student: Student, name: str) -> str:
    return f"{student.name} {student.birth_on.year}" if student.birth_on else student.name


@dataclass(frozen=True)
class ClassToday:
    class_group: ClassGroup
    starts_at: dt.time
    student_count: int


def classes_of_day(classes: QuerySet[ClassGroup], term: Term | None, day: dt.date) -> list[ClassToday]:
    """Today's classes in the order of the clock; none outside the term and in its holidays."""
    if term is None or not term.starts_on <= day <= term.ends_on:
        return []
    if any(holiday.starts_on <= day <= holiday.ends_on for holiday in term.holidays.all()):
        return []
    meetings = (
        ClassMeeting.objects.filter(class_group__in=classes, weekday=day.weekday())
        .select_related("class_group")
        .order_by("starts_at")
    )
    counts = student_counts([m.class_group_id for m in meetings], term, day)
    return [ClassToday(m.class_group, m.starts_at, counts[m.class_group_id]) for m in meetings]


def next_class_day(classes: Iterable[ClassGroup | int | None], *, after: dt.date) -> dt.date | None:
    """The next day on which one of the classes meets: in a term, on one of its weekdays, in no holiday; None where
    no term knows of one."""
    known = [each for each in classes if each is not None]
    meetings = ClassMeeting.objects.filter(class_group__in=known)
    weekdays = set(meetings.values_list("weekday", flat=True)) if known else set()
    if not weekdays:
        return None
    for term in Term.objects.prefetch_related("holidays").filter(ends_on__gt=after).order_by("starts_on"):
        day = max(after + dt.timedelta(days=1), term.starts_on)
        while day <= term.ends_on:
            if day.weekday() in weekdays and not any(h.starts_on <= day <= h.ends_on for h in term.holidays.all()):
                return day
            day += dt.timedelta(days=1)
    return None


def student_counts(class_ids: Iterable[int], term: Term | None, day: dt.date) -> dict[int, int]:
    rows = Enrolment.objects.in_term(term, day).filter(class_group_id__in=list(class_ids)).values_list("class_group_id")
    return defaultdict(int, dict(rows.annotate(n=Count("pk"))))


DANCING, PAUSED, LEFT = "dancing", "paused", "left"


def students_by_state(term: Term | None, day: dt.date) -> QuerySet[Student]:
    """Everybody, each with a `state`: dancing, in a class of the term that day; paused, in none, though in one of this
    term before or of a later one; left, neither."""
    here = Enrolment.objects.in_term(term, day).filter(student=OuterRef("pk"))
    waits = Enrolment.objects.for_a_day_at_least().filter(student=OuterRef("pk"))
    waits = waits.filter(term__ends_on__gte=term.ends_on) if term else waits.none()
    state = Case(When(Exists(here), then=Value(DANCING)), When(Exists(waits), then=Value(PAUSED)), default=Value(LEFT))
    return Student.objects.filter(is_nameless=False).annotate(state=state)


def people_by_state(term: Term | None, day: dt.date) -> dict[str, int]:
    """How many students there are of each state, the same wherever people are counted."""
    rows = students_by_state(term, day).order_by().values_list("state").annotate(n=Count("pk"))
    return {DANCING: 0, PAUSED: 0, LEFT: 0} | dict(rows)


def people_in_words(term: Term | None, day: dt.date) -> str:
    """ "201 dancing, 3 paused, 12 left"."""
    return _("%(dancing)s dancing, %(paused)s paused, %(left)s left") % people_by_state(term, day)


def classes_with_teachers(classes: QuerySet[ClassGroup]) -> QuerySet[ClassGroup]:
    return classes.prefetch_related("meetings", Prefetch("teachers", User.objects.order_by("name")))


def students_with_enrolments(students: QuerySet[Student], *, matching: str = "") -> QuerySet[Student]:
    if matching:
        students = students.filter(Q(name__icontains=matching) | Q(called__icontains=matching))
    enrolments = Enrolment.objects.filter(left_on__isnull=True).select_related("class_group", "term")
    current = Prefetch("enrolments", enrolments, to_attr="open_enrolments")
    return students.select_related("stage").prefetch_related(current)


def has_students(term: Term | None) -> bool:
    """Whether anybody is in a class of this term; before that, the owner is led step by step."""
    return term is not None and Enrolment.objects.filter(term=term, left_on__isnull=True).exists()
