"""Years: a student's in one picture and in a table, on screen and as a page across; the studio's for its owner."""
from django.http import HttpRequest, HttpResponse
from django.utils.text import slugify
from django.views.decorators.http import require_GET

from progress.actions.papers.report_pages import printed_words
from progress.drawing.years import years_svg
from progress.papers import paper
from progress.papers.page import page_html
from progress.papers.pictures import data_uri
from progress.queries.studio_years import studio_years as read_studio_years
from progress.queries.years import student_years
from progress.views.papers.student import printed
from studio.models import Consent
from studio.pages import show
from studio.permissions import only, reach_agreed_student


@require_GET
@only("teach")
def years(request: HttpRequest, student_id: int) -> HttpResponse:
    """The picture, and beneath it the same in words."""
    student = reach_agreed_student(request, student_id, Consent.MEASUREMENTS)
    view = student_years(student, now=request.now)
    return show(request, "progress/years.html", {
        "room": "classes", "student": student, "view": view, "drawing": {"years": years_svg(view.picture)},
        "sizes": paper.SIZES,
    })


@require_GET
@only("run_office")
def studio_years(request: HttpRequest) -> HttpResponse:
    """The studio's terms for its owner."""
    return show(request, "progress/office/studio_years.html", {
        "room": "office", "years": read_studio_years(today=request.today, now=request.now),
    })


@require_GET
@only("teach")
def print_years(request: HttpRequest, student_id: int) -> HttpResponse:
    """The same on one page that lies across."""
    student = reach_agreed_student(request, student_id, Consent.MEASUREMENTS)

    def page() -> str:
        view = student_years(student, now=request.now)
        drawn = years_svg(view.picture)
        return page_html(
            "years", student=student, view=view, house=request.studio, printed=printed_words(request.today),
            picture=data_uri(drawn) if drawn else "",
        )

    return printed(request, page, f"{slugify(student.name) or 'student'}-years")
