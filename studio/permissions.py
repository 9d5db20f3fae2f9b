"""Who may do what (403) and who reaches whom (404): roles as data, and loaders that fetch and authorise in one step."""
import datetime as dt
from collections.abc import Callable
from functools import wraps
from urllib.parse import urlencode

from django.core.exceptions import PermissionDenied
from django.db.models import Q, QuerySet
from django.http import Http404, HttpRequest
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse

from studio.audit.marks import mark_class, mark_outcome, mark_students
from studio.audit.models import AuditRow
from studio.entrance.keys import Visit
from studio.family.queries import consented
from studio.models import ClassGroup, Enrolment, Student, User

PERMISSIONS = {
    "measure": "open a screening, enter and correct results, report pain",
    "teach": "decide the programme, log the class, read the exercises",
    "follow_up": "note and close follow-ups",
    "overrule_referral": "close pain that a health professional should see without one, with a reason",
    "edit_roster": "add, move and leave students of the classes one reaches",
    "import_files": "bring in rosters and past results",
    "edit_catalogue": "edit measures, protocols, batteries and targets",
    "run_office": "edit terms, classes, people and the studio",
}
ROLES = {
    User.OWNER: frozenset(PERMISSIONS),
    User.TEACHER: frozenset({"measure", "teach", "follow_up", "edit_roster"}),
}
# A PIN is short and typed in front of children: it opens what teachers do, never the rooms that only owners have.
BY_PIN = ROLES[User.TEACHER]
# What cannot be taken back, or goes out of the house, asks for the password where it was typed longer ago than this.
# Studio's own rule.
PROVED_FOR = dt.timedelta(minutes=10)
# A term's reports are written and read in the weeks after it; then a teacher's reach ends. Studio's rule.
REACH_AFTER_TERM = dt.timedelta(days=60)


def may(user: User, permission: str) -> bool:
    """True when the person's role holds the permission; a misspelt permission is a KeyError, not a no.

    Whatever answers a request asks `visit_may`: a role says nothing of how somebody came in.
    """
    if permission not in PERMISSIONS:
        raise KeyError(permission)
    return user.is_active and permission in ROLES[user.role]


def came_by_pin(request: HttpRequest) -> bool:
    """True in a visit that a PIN began."""
    return request.session.get("way") == Visit.PIN


def visit_may(request: HttpRequest, permission: str) -> bool:
    """True when this visit may: somebody is in, in a role that holds it, and came in by a way that opens it."""
    known = getattr(request, "user", None)
    if known is None or not known.is_authenticated or not may(known, permission):
        return False
    return permission in BY_PIN or not came_by_pin(request)


def proved_lately(request: HttpRequest) -> bool:
    """True where this visit typed the password, coming in or since, no longer ago than `PROVED_FOR`."""
    proved_at = request.session.get("proved_at")
    if proved_at is None and not came_by_pin(request) and request.session.visit is not None:
        proved_at = request.session.visit.began_at.timestamp()
    return proved_at is not None and request.now.timestamp() - proved_at <= PROVED_FOR.total_seconds()


def password_page(request: HttpRequest, *, back: str = "") -> str:
    """The address that asks for the password and then leads `back`: here, or to the page that a form was sent from."""
    reads = request.method in ("GET", "HEAD")
    back = back or (request.get_full_path() if reads else request.headers.get("Referer", ""))
    return f"{reverse('studio:password-again')}?{urlencode({'next': back})}"


def only(permission: str, *, password: bool = False) -> Callable:
    """A view for visits that may; all others get 403. password: typed longer ago, it is asked for again first."""
    if permission not in PERMISSIONS:
        raise KeyError(permission)

    def guard(view):
        @wraps(view)
        def guarded(request: HttpRequest, *args, **kwargs):
            if not visit_may(request, permission):
                raise PermissionDenied
            if password and not proved_lately(request):
                mark_outcome(request, AuditRow.REFUSED)
                return redirect(password_page(request))
            return view(request, *args, **kwargs)

        guarded.permission = permission
        return guarded

    return guard


def reachable_classes(user: User) -> QuerySet[ClassGroup]:
    return ClassGroup.objects.all() if user.role == User.OWNER else user.class_groups.all()


def reachable_students(user: User, *, today: dt.date) -> QuerySet[Student]:
    """Everyone for the owner; for a teacher those enrolled in their classes now or until a short while ago."""
    if user.role == User.OWNER:
        return Student.objects.filter(is_nameless=False)
    enrolled = _giving_reach(today).filter(class_group__teachers=user)
    return Student.objects.filter(pk__in=enrolled.values("student"))


def people_reaching(student: Student, *, today: dt.date) -> QuerySet[User]:
    """Everyone who may log in and reaches the student: the owners, and the teachers of the student's classes."""
    classes = _giving_reach(today).filter(student=student).values("class_group")
    return User.objects.filter(Q(role=User.OWNER) | Q(class_groups__in=classes), is_active=True).distinct()


def _giving_reach(today: dt.date) -> QuerySet[Enrolment]:
    return Enrolment.objects.filter(
        Q(left_on__isnull=True) | Q(left_on__gt=today), term__ends_on__gte=today - REACH_AFTER_TERM
    )


def reach_class(request: HttpRequest, class_id: int) -> ClassGroup:
    """The class, if this person reaches it; otherwise 404, as if it were not there."""
    mark_class(request, class_id)
    return get_object_or_404(reachable_classes(request.user), pk=class_id)


def reach_student(request: HttpRequest, student_id: int) -> Student:
    """The student, if this person reaches them; otherwise 404, as if there were no such student."""
    mark_students(request, [student_id])
    students = reachable_students(request.user, today=request.today).select_related("stage")
    return get_object_or_404(students, pk=student_id)


def reach_agreed_student(request: HttpRequest, student_id: int, scope: str) -> Student:
    """The student, if this person reaches them and the family agreed to that; otherwise 404."""
    student = reach_student(request, student_id)
    if not consented([student.pk], scope, request.now):
        raise Http404
    return student
