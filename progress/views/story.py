"""A student's story: everything that was seen and done, newest first; and the page for a clinician, to print."""
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_GET

from progress.papers import paper
from progress.queries.papers.referral import asked_words, referral_note
from progress.queries.resting import ladder_in_force
from progress.queries.story import KINDS, story
from progress.queries.term_line import line_of_term
from studio.family.queries import agreed_scopes
from studio.models import Consent, Student
from studio.pages import show
from studio.permissions import only, reach_student
from studio.queries import term_on


@require_GET
def time_line(request: HttpRequest, student_id: int) -> HttpResponse:
    """Everything, or one kind of it; the same page prints."""
    student = reach_student(request, student_id)
    kind = request.GET.get("kind", "")
    kind = kind if kind in dict(KINDS) else ""
    return show(request, "progress/story.html", {
        "room": "classes", "student": student, "kinds": KINDS, "kind": kind,
        "told": story(student, kind=kind, now=request.now), "drawing": {"line": _line(request, student)},
    })


def _line(request: HttpRequest, student: Student) -> str:
    """The present term on one line, over everything that was seen and done."""
    return line_of_term(
        student, term_on(request.today), agreed_scopes(student, request.now), now=request.now
    )


@require_GET
@only("measure")
def referral(request: HttpRequest, student_id: int) -> HttpResponse:
    """One page for a clinician, on A4 or Letter; it reports and does not diagnose."""
    student = reach_student(request, student_id)
    agreed = agreed_scopes(student, timezone.now())
    if Consent.CLINICIAN not in agreed:
        return show(request, "progress/ask_before_sharing.html", {"room": "classes", "student": student})
    note = referral_note(student, agreed=agreed, today=request.today, now=request.now)
    return show(request, "progress/referral_note.html", {
        "room": "classes", "student": student, "note": note, "asked": asked_words(), "chosen": note.places,
        "steps": ladder_in_force().steps, "sizes": paper.SIZES,
    })
