"""The family's page about its own child, behind its link; and the same page as the staff sees it before."""
from collections.abc import Callable
from functools import wraps

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST, require_safe

from progress.queries.family import consent_words
from progress.queries.family import family_page as page_of
from studio.audit.marks import mark_person, mark_students
from studio.audit.models import AuditRow
from studio.family import actions, device
from studio.family.queries import consented, scope_states
from studio.models import Consent, Guardian, Student
from studio.permissions import reach_student
from studio.queries import term_on
from studio.views.family_entrance import closed, family_page, speaking_to


def children_of(guardian: Guardian) -> list[Student]:
    """The children whose page this guardian may see at this instant."""
    children = list(guardian.students.order_by("name"))
    shared = consented([child.pk for child in children], Consent.FAMILY, timezone.now())
    return [child for child in children if child.pk in shared]


def reach_child(request: HttpRequest, student_id: int) -> tuple[Guardian, Student] | None:
    """The guardian of this device and their child; None for any other child, as if there were none."""
    key = device.known_device(request)
    if key is None:
        return None
    mark_person(request, AuditRow.GUARDIAN, key.guardian_id)
    mark_students(request, [student_id])
    child = next((child for child in children_of(key.guardian) if child.pk == student_id), None)
    return (key.guardian, child) if child else None


def own_child(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """A view about a guardian's own child, in the guardian's language; for any other child the same closed door."""

    @wraps(view)
    def guarded(request: HttpRequest, student_id: int) -> HttpResponse:
        found = reach_child(request, student_id)
        if found is None:
            return closed(request)
        guardian, student = found
        with speaking_to(request, guardian):
            return view(request, guardian, student)

    return guarded


def _page(request: HttpRequest, student: Student, **context) -> HttpResponse:
    page = page_of(student, term_on(request.today), at=timezone.now(), today=request.today)
    return render(request, "family/page.html", {"student": student, "page": page, **context})


@family_page
@require_safe
def family(request: HttpRequest) -> HttpResponse:
    """The only child's page, or a list of the siblings behind one link."""
    key = device.known_device(request)
    if key is None:
        return closed(request)
    mark_person(request, AuditRow.GUARDIAN, key.guardian_id)
    children = children_of(key.guardian)
    if len(children) == 1:
        return redirect("progress:family-child", student_id=children[0].pk)
    with speaking_to(request, key.guardian):
        return render(request, "family/children.html", {"children": children})


@family_page
@require_safe
@own_child
def child(request: HttpRequest, guardian: Guardian, student: Student) -> HttpResponse:
    return _page(request, student, siblings=len(children_of(guardian)) > 1)


@family_page
@require_safe
@own_child
def kept(request: HttpRequest, guardian: Guardian, student: Student) -> HttpResponse:
    """What is kept about the child, who agreed to it, and how to take that back."""
    return render(request, "family/kept.html", {
        "student": student, "months": request.studio.months_kept,
        "states": [(state, consent_words(state)) for state in scope_states(student, timezone.now())],
    })


@family_page
@require_POST
@own_child
def take_back(request: HttpRequest, guardian: Guardian, student: Student) -> HttpResponse:
    """A consent taken back by the family itself; it holds from this instant, also for this page."""
    scope = request.POST.get("scope", "")
    if scope in dict(Consent.SCOPES):
        actions.record_consent(
            student=student, scopes=[scope], is_given=False, said_by=guardian.name, way=Consent.PAGE,
            at=timezone.now(), by=None,
        )
    if scope == Consent.FAMILY:
        return redirect("progress:family")
    return redirect("progress:family-kept", student_id=student.pk)


@require_GET
def preview(request: HttpRequest, student_id: int) -> HttpResponse:
    """What the family of a student would read now, in its own language, for the student's teachers."""
    student = reach_student(request, student_id)
    guardian = next((g for g in student.guardians.all() if g.language_code), None)
    with speaking_to(request, guardian):
        return _page(request, student, is_preview=True)
