"""Handing over: a page a student for the teacher who goes on, with the old teacher's words; and a class together."""
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.text import slugify
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from progress.actions.papers.handover import write_handover_text
from progress.actions.papers.report_pages import printed_words
from progress.forms.handover import HandoverForm
from progress.papers import paper
from progress.papers.handover_page import handover_html
from progress.queries.papers.handover import Handover, class_handover, handover, texts_of
from progress.queries.reviews import class_now
from progress.views.papers.student import printed, term_of
from studio.audit.marks import mark_students
from studio.models import Consent, Student, Term
from studio.pages import show
from studio.permissions import only, reach_agreed_student, reach_class, reachable_classes
from studio.queries import roster


@require_http_methods(["GET", "POST"])
@only("teach")
def write(request: HttpRequest, student_id: int) -> HttpResponse:
    """What the next teacher will read, and the box for the words of this one."""
    student, term = reach_agreed_student(request, student_id, Consent.MEASUREMENTS), term_of(request)
    versions = list(texts_of(student, term))
    form = HandoverForm(request.POST or None, initial={"text": versions[0].text if versions else ""})
    if request.method == "POST" and form.is_valid():
        write_handover_text(student=student, term=term, by=request.user, **form.cleaned_data)
        messages.success(request, _("Saved."))
        return redirect(f"{reverse('progress:write-handover', args=[student.pk])}?term={term.pk}")
    return show(request, "progress/handover.html", {
        "room": "classes", "student": student, "term": term, "form": form, "versions": versions,
        "told": _told(request, student, term), "sizes": paper.SIZES,
    })


def _told(request: HttpRequest, student: Student, term: Term) -> Handover:
    return handover(
        student, term, class_now(student), studio=request.studio, classes=reachable_classes(request.user),
        today=request.today, now=request.now,
    )


@require_GET
@only("teach")
def page(request: HttpRequest, student_id: int) -> HttpResponse:
    """One student's page as a PDF."""
    student, term = reach_agreed_student(request, student_id, Consent.MEASUREMENTS), term_of(request)
    return printed(request, lambda: handover_html(
        [_told(request, student, term)], class_group=None, term=term, studio=request.studio,
        printed=printed_words(request.today),
    ), f"{slugify(student.name) or 'student'}-handover")


@require_GET
@only("teach")
def class_pages(request: HttpRequest, class_id: int) -> HttpResponse:
    """The list of a class and a page for each of its students, as one PDF."""
    group, term = reach_class(request, class_id), term_of(request)
    students = [enrolment.student for enrolment in roster(group, term, request.today)]
    mark_students(request, [student.pk for student in students])
    return printed(request, lambda: handover_html(
        class_handover(group, term, students, studio=request.studio, today=request.today, now=request.now),
        class_group=group, term=term, studio=request.studio, printed=printed_words(request.today),
    ), f"{slugify(group.name) or 'class'}-handover")
