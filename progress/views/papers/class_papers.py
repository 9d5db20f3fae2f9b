"""Papers about classes: the sheet of one class for its teacher, the overview of a term for the owner."""
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils.text import slugify
from django.views.decorators.http import require_GET

from progress.actions.papers.report_pages import printed_words
from progress.papers.overview_page import overview_html
from progress.papers.page import page_html
from progress.queries.class_sheet import class_sheet as read_sheet
from progress.queries.papers.term_overview import term_overview
from progress.views.classwork.programme import card_rows
from progress.views.papers.student import printed
from studio.audit.marks import mark_students
from studio.family.forms_to_sign import forms_to_sign
from studio.models import ClassGroup, Term
from studio.permissions import only, reach_class
from studio.queries import term_on


@require_GET
def class_sheet(request: HttpRequest, class_id: int) -> HttpResponse:
    """What the class's sheet says on screen, as a PDF laid across."""
    group, term = reach_class(request, class_id), term_on(request.today)

    def page() -> str:
        sheet = read_sheet(group, term, today=request.today, now=request.now)
        teachers = ", ".join(group.teachers.order_by("name").values_list("name", flat=True))
        return _page(request, "class_sheet", group, term, sheet=sheet, legend=sheet.legend, teachers=teachers)

    return printed(request, page, slugify(group.name) or "class")


def _page(request: HttpRequest, name: str, group: ClassGroup, term: Term | None, **shown: object) -> str:
    return page_html(
        name, class_group=group, term=term, house=request.studio.name, printed=printed_words(request.today), **shown
    )


@require_GET
@only("teach")
def barre_card(request: HttpRequest, class_id: int) -> HttpResponse:
    """The programme to hang up at the barre, as a PDF."""
    group, term = reach_class(request, class_id), term_on(request.today)
    return printed(
        request, lambda: _page(request, "barre_card", group, term, **card_rows(request, group, term)),
        f"{slugify(group.name) or 'class'}-barre-card",
    )


@require_GET
@only("edit_roster")
def consent_forms(request: HttpRequest, class_id: int) -> HttpResponse:
    """A form to sign for every student of the class, or for one, as a PDF: a page each."""
    group, term = reach_class(request, class_id), term_on(request.today)
    sheets = forms_to_sign(
        group, term, studio=request.studio, today=request.today, only=request.GET.get("student", ""),
        language=request.GET.get("language", ""),
    )
    mark_students(request, [student.pk for student, _code in sheets])
    return printed(request, lambda: page_html(
        "consents", sheets=sheets, class_group=group, studio=request.studio, months=request.studio.months_kept,
    ), f"{slugify(group.name) or 'class'}-forms-to-sign")


@require_GET
@only("run_office")
def overview(request: HttpRequest, term_id: int) -> HttpResponse:
    """A term of the whole studio, as far as it has gone."""
    term = get_object_or_404(Term, pk=term_id)
    return printed(
        request,
        lambda: overview_html(
            term_overview(term, today=request.today, now=request.now),
            term=term,
            today=request.today,
            studio=request.studio,
            printed=printed_words(request.today),
        ),
        f"{slugify(term.name) or 'term'}-overview",
    )
